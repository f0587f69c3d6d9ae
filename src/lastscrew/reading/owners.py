"""Whose a plug, a latch or a tab is that the text names by one word: "the display cable has a bail; lift the bail"."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from typing import TYPE_CHECKING

from lastscrew.reading.memory import Memory
from lastscrew.reading.model import Action, Step, Thing

if TYPE_CHECKING:
    from lastscrew.reading.walk_state import Builder

_OWNED = frozenset(["lock", "clip", "button", "connector"])
_BARE_LINKS = frozenset(["lead", "cable", "wire", "ribbon", "flex", "cord"])
_ENDS = frozenset(["cable", "antenna"])
_PIECES = frozenset(["part", "board", "card", "cover", "drawer", "power"])
_SIZES = frozenset(["little", "small", "tiny", "big", "large", "thin", "long", "short"])
_NEAR = 5
_LONGEST = 3
"""Words of a name that may stand before another one."""


def owner_of(thing: Thing, memory: Memory, at: Sequence[Thing] = ()) -> str:
    """The cable, plug or piece that was named last before a bare "latch" or "plug"; "" for a name that says it."""
    link = thing.name.lower() in _BARE_LINKS and not memory.refitting
    owned = thing.category in _OWNED or link
    if not owned or thing.of or thing.article in ("a", "an"):
        return ""
    named = any(letter.isdigit() or letter.isupper() for letter in thing.name.split()[-1][1:])
    if named or not is_bare(thing.name, memory):
        return ""
    if thing.category in ("connector", "cable") and thing.plural:
        return ""  # "unplug the five connectors": of several cables
    owners = [t.of or t.name for t in at if not t.plural]  # "the two tabs at the top of the grille"
    on = [
        name for name in owners if memory.lexicon.category(tuple(name.lower().split())) in _PIECES
    ]
    if on and thing.category in ("lock", "clip", "button"):
        return on[0]
    near = [t for t in reversed(memory.mentioned[-_NEAR:]) if t.head != thing.head and not t.plural]
    links = [] if thing.category == "connector" else [t for t in near if t.category == "connector"]
    ends = [t for t in near if t.category in _ENDS and thing.category != "cable"]
    pieces = [t for t in near if t.category in _PIECES]
    for found in (*links, *ends, *pieces):
        words = found.name.lower().split()
        if len(words) <= _LONGEST and thing.head not in words:
            return found.name.removeprefix("new ").removeprefix("old ")
    return ""


def is_bare(name: str, memory: Memory) -> bool:
    """True for "latch", "the black latch": a word, and how the thing looks."""
    looks = memory.lexicon.words["colours"] | _SIZES
    return all(word.lower() in looks for word in name.split()[:-1])


def name_owners(builders: Collection[Builder]) -> None:
    """Put the owner before the bare name of what is opened, closed, plugged in or out."""
    told: dict[str, set[str]] = {}
    for builder in builders:
        builder.steps = [_with_next(step) for step in builder.steps]
    for action in (a for builder in builders for step in builder.steps for a in step.actions):
        if action.owner and action.klass != "other":
            told.setdefault(action.things[-1].head, set()).add(action.owner)
    for builder in builders:
        builder.steps = [_owned(step, told) for step in builder.steps]


def _with_next(step: Step) -> Step:
    following = (*step.actions[1:], None)
    pairs = zip(step.actions, following, strict=True)
    return replace(step, actions=tuple(_of_next(one, after) for one, after in pairs))


def _of_next(action: Action, after: Action | None) -> Action:
    """As in "Press the latch and disconnect the fan cable": the latch of the cable that follows."""
    linked = after is not None and after.klass in ("disconnect", "connect") and after.things
    if not action.owner or action.klass != "release" or after is None or not linked:
        return action
    last = after.things[-1]
    own = last.category in _ENDS and not last.plural and len(last.name.split()) <= _LONGEST
    return replace(action, owner=last.name) if own else action


def _owned(step: Step, told: Mapping[str, AbstractSet[str]]) -> Step:
    return replace(step, actions=tuple(_named(action, told) for action in step.actions))


def _named(action: Action, told: Mapping[str, AbstractSet[str]]) -> Action:
    """The action with its owner; on the way back with that of the way out, where only one was told of."""
    if action.klass == "other" or not action.things or action.object != action.things[-1].name:
        return action
    thing = action.things[-1]
    alone = thing.category in _OWNED and " " not in action.object and not thing.plural
    others = told.get(thing.head, frozenset())
    owner = next(iter(others)) if alone and len(others) == 1 else action.owner
    return replace(action, object=f"{owner} {action.object.split()[-1]}") if owner else action
