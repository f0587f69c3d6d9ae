"""What differs between two revisions of a text, by what its procedures do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import SequenceMatcher

from lastscrew.audit.changes import Change
from lastscrew.plan.wording import listed
from lastscrew.reading.model import Action, Procedure, Reading
from lastscrew.reading.naming import plain

_KINDS = {"removal": "taking off", "refit": "putting back", "both": "taking off and putting back"}


def compare_readings(one: Reading, other: Reading) -> tuple[Change, ...]:
    """Every difference in what is done, from ``one`` (the old revision) to ``other``.

    Words that change nothing in what is done do not matter.
    """
    changes: list[Change] = []
    pairs = _pairs(one, other)
    for old, new in pairs:
        if old is None and new is not None:
            steps = f"{len(new.steps)} {'step' if len(new.steps) == 1 else 'steps'}"
            changes.append(
                Change(
                    "Procedures",
                    "added",
                    new.part,
                    f"{_name(new)} is new ({steps}).",
                    line=new.line,
                )
            )
        elif new is None and old is not None:
            changes.append(Change("Procedures", "removed", old.part, f"{_name(old)} is gone."))
        elif old is not None and new is not None:
            changes.extend(_procedure(old, new))
    kept_old = [_key(old) for old, new in pairs if old is not None and new is not None]
    kept_new = [_key(p) for p in other.procedures if _key(p) in set(kept_old)]
    if [k for k in (_key(p) for p in one.procedures) if k in set(kept_new)] != kept_new:
        changes.append(
            Change("Procedures", "order", "", "The procedures stand in another order.", "order")
        )
    return tuple(changes)


def _key(procedure: Procedure) -> tuple[str, str]:
    return plain(procedure.part), procedure.kind


def _name(procedure: Procedure) -> str:
    return f"{procedure.part or 'the whole machine'}, {_KINDS[procedure.kind]}"


def _pairs(one: Reading, other: Reading) -> list[tuple[Procedure | None, Procedure | None]]:
    """Procedures of the same part and half; several of one name in their order."""
    left: dict[tuple[str, str], list[Procedure]] = {}
    for procedure in one.procedures:
        left.setdefault(_key(procedure), []).append(procedure)
    pairs: list[tuple[Procedure | None, Procedure | None]] = []
    for procedure in other.procedures:
        mates = left.get(_key(procedure), [])
        pairs.append((mates.pop(0) if mates else None, procedure))
    gone = {id(p) for mates in left.values() for p in mates}
    pairs += [(p, None) for p in one.procedures if id(p) in gone]
    return pairs


def _procedure(old: Procedure, new: Procedure) -> Iterator[Change]:
    about = _name(new)[0].upper() + _name(new)[1:]
    before = [item.text for item in old.prerequisites if not item.inferred]
    now = [item.text for item in new.prerequisites if not item.inferred]
    if [_flat(text) for text in before] != [_flat(text) for text in now]:
        same = sorted(map(_flat, before)) == sorted(map(_flat, now))
        text = (
            "What is done before stands in another order."
            if same
            else f"Before it begins: {listed(before) or 'nothing'} → {listed(now) or 'nothing'}."
        )
        yield Change(
            about, "order" if same else "changed", new.part, text, "prerequisites",
            listed(before), listed(now), new.line,
        )  # fmt: skip
    yield from _actions(about, old, new)
    if _cautions(old) != _cautions(new):
        yield from _caution_changes(about, old, new)


def _flat(text: str) -> str:
    return re.sub(r"\W+", " ", text.lower()).strip()


def _doing(procedure: Procedure) -> list[Action]:
    return [a for a in procedure.actions() if a.klass != "other" and not a.weak]


def _same(action: Action) -> tuple[str, str]:
    return action.klass, plain(action.object)


def _actions(about: str, old: Procedure, new: Procedure) -> Iterator[Change]:
    first, second = _doing(old), _doing(new)
    keys_old, keys_new = [_same(a) for a in first], [_same(a) for a in second]
    matcher = SequenceMatcher(None, keys_old, keys_new, autojunk=False)
    gone: list[Action] = []
    come: list[Action] = []
    for tag, low, high, start, end in matcher.get_opcodes():
        if tag == "equal":
            for before, now in zip(first[low:high], second[start:end], strict=True):
                yield from _values(about, before, now)
            continue
        gone += first[low:high]
        come += second[start:end]
    for action in list(gone):
        twin = next((a for a in come if _same(a) == _same(action)), None)
        if twin is not None:
            gone.remove(action)
            come.remove(twin)
            yield Change(
                about, "order", twin.object, f"{_said(twin)} stands at another place in the order.", "order",
                line=twin.line,
            )  # fmt: skip
            yield from _values(about, action, twin)
    for action in gone:
        yield Change(
            about, "removed", action.object, f"No longer: {_said(action)}.", old=_said(action)
        )
    for action in come:
        yield Change(
            about,
            "added",
            action.object,
            f"New: {_said(action)}.",
            new=_said(action),
            line=action.line,
        )


def _said(action: Action) -> str:
    number = f" ({action.count})" if action.count not in (None, 1) else ""
    return f"{action.klass} {action.object}{number}"


def _values(about: str, old: Action, new: Action) -> Iterator[Change]:
    for key, words in (
        ("count", "number"),
        ("size", "size"),
        ("drive", "drive"),
        ("order", "order of tightening"),
        ("torque", "torque"),
        ("tool", "tool"),
        ("captive", "captive"),
        ("optional", "only if fitted"),
    ):
        before, now = getattr(old, key), getattr(new, key)
        if before != now:
            was, is_now = _value(before), _value(now)
            yield Change(
                about, "order" if key == "order" else "changed", new.object,
                f"{new.klass} {new.object}: {words} {was} → {is_now}.", key, was, is_now, new.line,
            )  # fmt: skip


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "not said" if value in (None, "") else str(value)


def _cautions(procedure: Procedure) -> list[tuple[str, str]]:
    every = [*procedure.cautions, *(c for step in procedure.steps for c in step.cautions)]
    return sorted({(c.signal, _flat(c.text)) for c in every})


def _caution_changes(about: str, old: Procedure, new: Procedure) -> Iterator[Change]:
    before, now = _cautions(old), _cautions(new)
    for signal, text in now:
        if (signal, text) not in before:
            yield Change(
                about, "added", signal, f"New {signal}: {text[:120]}.", "caution", new=text
            )
    for signal, text in before:
        if (signal, text) not in now:
            yield Change(
                about,
                "removed",
                signal,
                f"No longer a {signal}: {text[:120]}.",
                "caution",
                old=text,
            )
