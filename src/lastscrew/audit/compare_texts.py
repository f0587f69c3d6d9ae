"""What differs between two revisions of a text, by what its procedures do."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from typing import Final

from lastscrew.audit.changes import Change, ChangeKind
from lastscrew.audit.renames import Renames, renames_between
from lastscrew.plan.wording import listed
from lastscrew.reading.model import Action, Caution, Procedure, Reading
from lastscrew.reading.naming import plain

_KINDS: Final = {
    "removal": "taking off", "refit": "putting back", "both": "taking off and putting back",
}  # fmt: skip
_VERBS: Final = {"replace": "refit"}
"""The class ``replace`` means that something goes back; "replace" alone would be read as exchange."""
_VALUES: Final = (
    ("count", "number"),
    ("size", "size"),
    ("fastener", "kind of fastener"),
    ("drive", "drive"),
    ("head_form", "head"),
    ("colour", "colour"),
    ("order", "order of tightening"),
    ("torque", "torque"),
    ("tool", "tool"),
    ("supply", "supply"),
    ("from_", "from"),
    ("to", "to"),
    ("captive", "captive"),
    ("new", "a new one"),
    ("optional", "only if fitted"),
    ("condition", "only"),
    ("joins", "holds together"),
)
_ALIKE: Final = 0.6
"""Two cautions are the same one in other words where so much of their letters is the same (our own figure)."""
_MOST_SHOWN: Final = 160
_SEVERAL: Final = 2


def compare_readings(one: Reading, other: Reading) -> tuple[Change, ...]:
    """Every difference in what is done, from ``one`` (the old revision) to ``other``.

    Words that change nothing in what is done do not matter. A thing that is called otherwise everywhere is told once.
    """
    names = renames_between(one, other)
    changes: list[Change] = [
        Change("Names", "renamed", new, f"“{old}” is called “{new}” now.", "name", old, new)
        for old, new in names.told
    ]
    pairs = _pairs(one, other, names)
    for old, new in pairs:
        if old is None and new is not None:
            steps = f"{len(new.steps)} {'step' if len(new.steps) == 1 else 'steps'}"
            text = f"{_name(new)} is new ({steps})."
            changes.append(Change("Procedures", "added", new.part, text, line=new.line))
        elif new is None and old is not None:
            changes.append(Change("Procedures", "removed", old.part, f"{_name(old)} is gone."))
        elif old is not None and new is not None:
            changes.extend(_procedure(old, new, names))
    changes.extend(_order(one, pairs))
    changes.extend(_cautions("The whole text", _general(one), _general(other)))
    changes.extend(_tools("The whole text", "", one.tools, other.tools))
    return tuple(
        {(c.about, c.text): c for c in changes}.values()
    )  # two turns of one screw: told once


# --- procedures -------------------------------------------------------------------------------------


def _name(procedure: Procedure) -> str:
    return f"{procedure.part or 'the whole machine'}, {_KINDS[procedure.kind]}"


def _pairs(
    one: Reading, other: Reading, names: Renames
) -> list[tuple[Procedure | None, Procedure | None]]:
    """Procedures of the same part and half; several of one name in their order."""
    left: dict[tuple[str, str], list[Procedure]] = {}
    for procedure in one.procedures:
        left.setdefault((names.new(plain(procedure.part)), procedure.kind), []).append(procedure)
    pairs: list[tuple[Procedure | None, Procedure | None]] = []
    for procedure in other.procedures:
        mates = left.get((plain(procedure.part), procedure.kind), [])
        pairs.append((mates.pop(0) if mates else None, procedure))
    gone = {id(p) for mates in left.values() for p in mates}
    pairs += [(p, None) for p in one.procedures if id(p) in gone]
    return pairs


def _order(
    one: Reading, pairs: Sequence[tuple[Procedure | None, Procedure | None]]
) -> Iterator[Change]:
    """Procedures that both have and that stand at another place among the others."""
    place = {id(p): n for n, p in enumerate(one.procedures)}
    both = [(place[id(old)], new) for old, new in pairs if old is not None and new is not None]
    kept = _longest_rising([number for number, _ in both])
    moved = [new for number, new in both if number not in kept]
    for new in sorted(moved, key=lambda p: p.line):
        text = f"{_name(new)} stands at another place in the text."
        yield Change("Procedures", "order", new.part, text, "order", line=new.line)


def _longest_rising(numbers: Sequence[int]) -> set[int]:
    """A longest subsequence that rises: what need not have been moved."""
    best: list[tuple[int, ...]] = []
    for number in numbers:
        before: tuple[int, ...] = max(
            (run for run in best if run[-1] < number), key=len, default=()
        )
        best.append((*before, number))
    longest: tuple[int, ...] = max(best, key=len, default=())
    return set(longest)


def _procedure(old: Procedure, new: Procedure, names: Renames) -> Iterator[Change]:
    about = _name(new)[0].upper() + _name(new)[1:]
    yield from _prerequisites(about, old, new, names)
    yield from _tools(about, new.part, old.tools, new.tools)
    yield from _actions(about, old, new, names)
    yield from _cautions(about, _every_caution(old), _every_caution(new))
    yield from _moved_cautions(about, old, new, names)


def _prerequisites(about: str, old: Procedure, new: Procedure, names: Renames) -> Iterator[Change]:
    before = [item.text for item in old.prerequisites if not item.inferred]
    now = [item.text for item in new.prerequisites if not item.inferred]
    was, is_now = [_flat(names.new(text)) for text in before], [_flat(text) for text in now]
    if was == is_now:
        return
    same = sorted(was) == sorted(is_now)
    text = (
        "What is done before stands in another order."
        if same
        else f"Before it begins: {listed(before) or 'nothing'} → {listed(now) or 'nothing'}."
    )
    kind: ChangeKind = "order" if same else "changed"
    yield Change(
        about, kind, new.part, text, "prerequisites", listed(before), listed(now), new.line
    )


def _tools(about: str, part: str, old: Sequence[str], new: Sequence[str]) -> Iterator[Change]:
    if sorted(map(_flat, old)) != sorted(map(_flat, new)):
        before, now = listed(old) or "nothing", listed(new) or "nothing"
        yield Change(about, "changed", part, f"Tools: {before} → {now}.", "tools", before, now)


def _flat(text: str) -> str:
    return re.sub(r"\W+", " ", text.lower()).strip()


# --- actions ----------------------------------------------------------------------------------------


def _doing(procedure: Procedure) -> list[Action]:
    """What is done, one action for each thing: of two cables in one sentence one may be new."""
    return [
        one
        for a in procedure.actions()
        if a.klass != "other" and not a.weak
        for one in _each_thing(a)
    ]


def _each_thing(action: Action) -> list[Action]:
    if action.fastener or len(action.things) < _SEVERAL:
        return [action]
    return [
        replace(action, object=thing.name, things=(thing,), count=thing.count)
        for thing in action.things
    ]


def _key(action: Action, names: Renames | None = None) -> tuple[str, str]:
    name = plain(action.object)
    return action.klass, names.new(name) if names is not None else name


def _actions(about: str, old: Procedure, new: Procedure, names: Renames) -> Iterator[Change]:
    first, second = _doing(old), _doing(new)
    keys_old, keys_new = [_key(a, names) for a in first], [_key(a) for a in second]
    matcher = SequenceMatcher(None, keys_old, keys_new, autojunk=False)
    gone: list[Action] = []
    come: list[Action] = []
    for tag, low, high, start, end in matcher.get_opcodes():
        if tag == "equal":
            for before, now in zip(first[low:high], second[start:end], strict=True):
                yield from _values(about, before, now, names)
            continue
        gone += first[low:high]
        come += second[start:end]
    for action in list(gone):
        twin = next((a for a in come if _key(a) == _key(action, names)), None)
        if twin is not None:
            _take(gone, action)
            _take(come, twin)
            text = f"{_said(twin)} stands at another place in the order."
            yield Change(about, "order", twin.object, text, "order", line=twin.line)
            yield from _values(about, action, twin, names)
    yield from _exchanged(about, gone, come)
    for action in gone:
        text = f"No longer: {_said(action)}."
        yield Change(about, "removed", action.object, text, old=_said(action))
    for action in come:
        text = f"New: {_said(action)}."
        yield Change(about, "added", action.object, text, new=_said(action), line=action.line)


def _exchanged(about: str, gone: list[Action], come: list[Action]) -> Iterator[Change]:
    """The same thing handled another way, told in one sentence; both are taken from their lists."""
    for action in list(gone):
        twins = [a for a in come if plain(a.object) == plain(action.object)]
        if len(twins) == 1 and action.klass != twins[0].klass:
            _take(gone, action)
            _take(come, twins[0])
            before, now = _said(action), _said(twins[0])
            text = f"{before} → {now}."
            yield Change(
                about, "changed", twins[0].object, text, "class", before, now, twins[0].line
            )


def _take(actions: list[Action], action: Action) -> None:
    """Remove this very action; another may be equal to it."""
    del actions[next(n for n, item in enumerate(actions) if item is action)]


def _said(action: Action) -> str:
    number = f" ({action.count})" if action.count not in (None, 1) else ""
    more = "".join(f", {text}" for text in (action.order, action.torque) if text)
    return f"{_VERBS.get(action.klass, action.klass)} {action.object}{number}{more}"


def _values(about: str, old: Action, new: Action, names: Renames) -> Iterator[Change]:
    said = f"{_VERBS.get(new.klass, new.klass)} {new.object}"
    for key, words in _VALUES:
        if _is_told_elsewhere(key, old, new):
            continue
        before, now = getattr(old, key), getattr(new, key)
        if _plainly(before, names) != _plainly(now):
            was, is_now = _value(before), _value(now)
            kind: ChangeKind = "order" if key == "order" else "changed"
            text = f"{said}: {words} {was} → {is_now}."
            yield Change(about, kind, new.object, text, key.rstrip("_"), was, is_now, new.line)


def _is_told_elsewhere(key: str, old: Action, new: Action) -> bool:
    """The difference follows from another one that is told."""
    if _is_inferred(old, key) and _is_inferred(new, key):
        return True
    if key == "count":
        return {old.count, new.count} <= {None, 1}
    if key == "drive":
        return old.tool != new.tool
    if key == "fastener":
        return plain(old.object) != plain(new.object)
    # What a cable joins is told by where it goes to; a half that leaves it out says nothing else.
    return key == "joins" and not (old.joins and new.joins and new.fastener)


def _is_inferred(action: Action, key: str) -> bool:
    return any(name == key.rstrip("_") or name == key for name, _ in action.inferred)


def _plainly(value: object, names: Renames | None = None) -> object:
    """A value without what is only wording: case, articles, the order of what is joined."""

    def one(text: str) -> str:
        return names.new(plain(text)) if names is not None else plain(text)

    if isinstance(value, tuple):
        return sorted(one(item) for item in value)
    return one(value) if isinstance(value, str) else value


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return listed(value) or "not said"
    return "not said" if value in (None, "") else str(value)


# --- cautions ---------------------------------------------------------------------------------------


def _every_caution(procedure: Procedure) -> tuple[Caution, ...]:
    return (*procedure.cautions, *(c for step in procedure.steps for c in step.cautions))


def _general(reading: Reading) -> list[Caution]:
    """Cautions that belong to no procedure."""
    told = {(c.signal, _flat(c.text)) for p in reading.procedures for c in _every_caution(p)}
    return [c for c in reading.cautions if (c.signal, _flat(c.text)) not in told]


def _cautions(about: str, old: Sequence[Caution], new: Sequence[Caution]) -> Iterator[Change]:
    """Cautions that came, went, or say something else; one in other words is told in one sentence."""
    gone, come = _others(old, new), _others(new, old)
    for before in list(gone):
        likeness, now = max(
            ((_likeness(before, c), c) for c in come), key=lambda pair: pair[0], default=(0.0, None)
        )
        if now is None or likeness < _ALIKE:
            continue
        gone.remove(before)
        come.remove(now)
        if _flat(before.text) == _flat(now.text):
            text = f"{before.signal} → {now.signal}: {_shown(now)}."
        else:
            text = f"{now.signal.capitalize()}: {_shown(before)} → {_shown(now)}."
        yield Change(
            about, "changed", now.signal, text, "caution", _whole(before), _whole(now), now.line
        )
    for now in come:
        text = f"New {now.signal}: {_shown(now)}."
        yield Change(about, "added", now.signal, text, "caution", new=_whole(now), line=now.line)
    for before in gone:
        text = f"No longer a {before.signal}: {_shown(before)}."
        yield Change(about, "removed", before.signal, text, "caution", old=_whole(before))


def _others(some: Sequence[Caution], rest: Sequence[Caution]) -> list[Caution]:
    """Those that the rest does not have, each once."""
    known = {(c.signal, _flat(c.text)) for c in rest}
    found: dict[tuple[str, str], Caution] = {}
    for caution in some:
        key = caution.signal, _flat(caution.text)
        if key not in known:
            found.setdefault(key, caution)
    return list(found.values())


def _likeness(one: Caution, other: Caution) -> float:
    first, second = sorted((_flat(one.text), _flat(other.text)))
    return SequenceMatcher(None, first, second, autojunk=False).ratio()


def _shown(caution: Caution) -> str:
    text = " ".join(caution.text.split()).rstrip(".")
    cut = text if len(text) <= _MOST_SHOWN else text[:_MOST_SHOWN].rsplit(" ", 1)[0] + " …"
    return f"“{cut}”"


def _whole(caution: Caution) -> str:
    return f"{caution.signal}: {' '.join(caution.text.split())}"


def _moved_cautions(about: str, old: Procedure, new: Procedure, names: Renames) -> Iterator[Change]:
    """A caution that both have, now before another of the steps that both have."""
    before, now = _bites(old, names), _bites(new, None)
    kept = {_key(a, names) for a in _doing(old)} & {_key(a) for a in _doing(new)}
    for key, (caution, place) in now.items():
        was = before.get(key)
        if was is None or was[1] == place:
            continue
        if all(spot is None or spot in kept for spot in (was[1], place)):
            text = f"{caution.signal.capitalize()} {_shown(caution)} stands at another step."
            yield Change(about, "order", caution.signal, text, "caution", line=caution.line)


def _bites(
    procedure: Procedure, names: Renames | None
) -> dict[tuple[str, str], tuple[Caution, tuple[str, str] | None]]:
    """For every caution the first thing done at its step; none where it stands above them all."""
    found: dict[tuple[str, str], tuple[Caution, tuple[str, str] | None]] = {}
    for caution in procedure.cautions:
        found.setdefault((caution.signal, _flat(caution.text)), (caution, None))
    for step in procedure.steps:
        doing = [a for a in step.actions if a.klass != "other" and not a.weak]
        if doing:
            for caution in step.cautions:
                key = caution.signal, _flat(caution.text)
                found.setdefault(key, (caution, _key(doing[0], names)))
    return found
