"""What follows for cables: an unlocked connector lets its cable go where the parts come apart; a cable has two ends.

Both are said by nobody who writes for people, and needed by everybody who counts joints. Each value that is added is
marked as inferred, with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from lastscrew.reading.model import Action, Fact, Step, Thing
from lastscrew.reading.naming import plain
from lastscrew.reading.walk_state import Builder, Document

_TIED = frozenset(["cable", "antenna"])
_APART = re.compile(
    r"\b(?:to|and|then|so (?:that )?(?:you can|they))\s+(?:carefully\s+|gently\s+|fully\s+|completely\s+)?(?:separate|part|detach|split|divide|take [\w ]{3,40} apart|pull [\w ]{3,40} apart)\b",  # noqa: E501
    re.IGNORECASE,
)
_UNLOCKED = "its connector is unlocked and the parts come apart"
_SECOND_END = "the other end came off before"


def follow_cables(document: Document) -> None:
    """Add what unlocked connectors and second ends imply, in every procedure."""
    for builder in document.builders:
        if builder.kind == "refit":
            continue
        builder.steps[:] = [_let_go(step, document.facts) for step in builder.steps]
        _second_ends(builder)


def _let_go(step: Step, facts: Sequence[Fact]) -> Step:
    """As in "Unlock the two connectors to separate the halves": the cables that the step names come out."""
    if not _APART.search(step.text):
        return step
    unlocked = [a for a in step.actions if _is_unlocking(a)]
    if len(unlocked) != 1 or not isinstance(unlocked[0].count, int):
        return step
    [lock] = unlocked
    named = [
        fact
        for fact in facts
        if fact.line == lock.line and any(t.category in _TIED for t in fact.things)
    ]
    cables = [thing for fact in named for thing in fact.things if thing.category in _TIED]
    if len(cables) != lock.count or any(_names(step.actions, cable) for cable in cables):
        return step
    at = step.actions.index(lock) + 1
    action = Action(
        "disconnect",
        "disconnect",
        " and ".join(_by_its_part(fact) for fact in named),
        things=tuple(cables),
        count=len(cables),
        joins=_parts_of(named),
        line=lock.line,
        inferred=(("class", _UNLOCKED), ("joins", "other sentences")),
    )
    return replace(step, actions=(*step.actions[:at], action, *step.actions[at:]))


def _by_its_part(fact: Fact) -> str:
    """As in "touch panel 8 pin cable": a cable that is told apart by the part that it leads from."""
    name = next(thing.name for thing in fact.things if thing.category in _TIED)
    return f"{fact.joins[0]} {name}" if fact.joins else name


def _is_unlocking(action: Action) -> bool:
    return (
        action.klass == "release"
        and bool(action.things)
        and action.things[-1].category == "connector"
    )


def _names(actions: Sequence[Action], cable: Thing) -> bool:
    return any(
        action.klass == "disconnect" and plain(cable.name) in [plain(t.name) for t in action.things]
        for action in actions
    )


def _parts_of(facts: Sequence[Fact]) -> tuple[str, ...]:
    """The parts that the cables lead from, then the one that they all lead to."""
    firsts = [fact.joins[0] for fact in facts if fact.joins]
    lasts = [name for fact in facts for name in fact.joins[1:]]
    return tuple(dict.fromkeys([*firsts, *lasts]))


def _second_ends(builder: Builder) -> None:
    """As in "unplug the cable from the small board … take it off the main board": then it joins itself to that."""
    came_off: dict[str, Action] = {}
    for index, step in enumerate(builder.steps):
        actions = list(step.actions)
        for place, action in _disconnected(step):
            key = plain(action.object)
            before = came_off.get(key)
            if (
                before is not None
                and before.joins == action.joins
                and before.line < action.line - 1
            ):
                actions[place] = _at_its_end(action, step.text)
            came_off.setdefault(key, action)
        builder.steps[index] = replace(step, actions=tuple(actions))


def _disconnected(step: Step) -> Iterator[tuple[int, Action]]:
    for place, action in enumerate(step.actions):
        if (
            action.klass == "disconnect"
            and len(action.joins) == 2
            and action.things
            and action.things[-1].category in _TIED
            and action.count in (1, None)
        ):
            yield place, action


def _at_its_end(action: Action, text: str) -> Action:
    """The cable and the part that this sentence names (the one it leads to where it names neither, or both)."""
    low = text.lower()
    named = [name for name in action.joins if name.lower() in low]
    host = named[0] if len(named) == 1 else action.joins[-1]
    others = tuple(row for row in action.inferred if row[0] != "joins")
    return replace(action, joins=(action.object, host), inferred=(*others, ("joins", _SECOND_END)))
