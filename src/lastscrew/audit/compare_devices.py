"""What differs between two revisions of a device file, in the trade's words.

Entries are the same where their ids are, or where the new one says ``was: old_id``. What the difference means for
the work is told as well: for every part how much longer or shorter its way in is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Final

from lastscrew.audit.changes import Change, ChangeKind
from lastscrew.device.model import Access, Device, Joint, Part
from lastscrew.plan.model import Plan, Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.plan.wording import fastener_text, joint_name, listed, part_name, seconds, tool_name
from lastscrew.problems import InputError

MOST_WORK: Final = 20_000
"""States that each single plan may expand; a plan that needs more is not compared."""

_SECTIONS: Final = (
    "tools",
    "fasteners",
    "supplies",
    "hazards",
    "functions",
    "options",
    "spares",
    "acts",
)
_TITLES: Final = {"supplies": "supply", "functions": "function", "options": "option"}
_SKIPPED: Final = frozenset(
    ("id", "was", "sources", "joins", "accesses", "rigid", "unknown", "swap_given")
)
_WORDS: Final = {
    "count": "number of pieces", "order": "order of tightening", "torque_ncm": "torque (N cm)",
    "positions_mm": "positions", "outline_mm": "outline", "after": "joints that must be open before",
    "max_length_mm": "greatest length (mm)", "reuse": "reuse", "renew": "supplies renewed",
    "powered": "powered", "isolates": "takes the power away", "energy": "stores energy",
    "order_code": "order code", "check_ms": "time of the check (s)", "ms": "time (s)",
    "wait_open_ms": "waiting on opening (s)", "wait_close_ms": "waiting on closing (s)",
    "length_mm": "length (mm)", "swap_ms": "time to take it up (s)", "text": "words",
}  # fmt: skip


def compare_devices(one: Device, other: Device, *, ways: bool = True) -> tuple[Change, ...]:
    """Every difference that matters, from ``one`` (the old revision) to ``other``.

    Comments, order of keys and sources of values do not matter.

    Args:
        one: The old revision.
        other: The new one.
        ways: Tell for every part how much longer or shorter its way in is (two plans for each part).
    """
    if one.revision_hash and one.revision_hash == other.revision_hash:
        return ()
    return (
        *_device(one, other),
        *_parts(one, other),
        *_joints(one, other),
        *(change for section in _SECTIONS for change in _section(one, other, section)),
        *(_ways(one, other) if ways else ()),
    )


def renamed(
    old: Mapping[str, object], new: Mapping[str, Joint] | Mapping[str, Part]
) -> dict[str, str]:
    """New id to old id: where they are the same, or where ``was`` says so."""
    pairs = {}
    for key, entry in new.items():
        if key in old:
            pairs[key] = key
        elif entry.was is not None and entry.was in old and entry.was not in new:
            pairs[key] = entry.was
    return pairs


# --- the machine and its parts ----------------------------------------------------------------------


def _device(one: Device, other: Device) -> Iterator[Change]:
    for key in ("name", "kind", "revision", "sides", "turn_ms"):
        old, new = getattr(one, key), getattr(other, key)
        if old != new:
            yield _changed("Machine", other.id, f"Machine: {_key(key)}", key, old, new)


def _parts(one: Device, other: Device) -> Iterator[Change]:
    pairs = renamed(one.parts, other.parts)
    for key in other.parts:
        name = part_name(other, key)
        if key not in pairs:
            yield Change("Parts", "added", key, f"{name} is new.")
            continue
        old, new = one.parts[pairs[key]], other.parts[key]
        if old.name != new.name or pairs[key] != key:
            yield Change(
                "Parts", "renamed", key, f"{name} was called {old.name} ({pairs[key]}).", "name",
                old.name, new.name,
            )  # fmt: skip
        yield from _fields("Parts", key, name, old, new, {"name"})
    for key in one.parts:
        if key not in pairs.values():
            yield Change("Parts", "removed", key, f"{part_name(one, key)} is gone.")


# --- joints -----------------------------------------------------------------------------------------


def _joints(one: Device, other: Device) -> Iterator[Change]:
    pairs = renamed(one.joints, other.joints)
    parts = {old: new for new, old in renamed(one.parts, other.parts).items()}
    joints = {old: new for new, old in pairs.items()}
    for key in other.joints:
        name = joint_name(other, key)
        if key not in pairs:
            yield Change(
                "Joints", "added", key, f"{name} is new: {_what(other, other.joints[key])}."
            )
            continue
        if pairs[key] != key:
            old_name = joint_name(one, pairs[key])
            yield Change(
                "Joints",
                "renamed",
                key,
                f"{name} was called {old_name} ({pairs[key]}).",
                "id",
                pairs[key],
                key,
            )
        yield from _joint(one, other, one.joints[pairs[key]], other.joints[key], parts, joints)
    for key in one.joints:
        if key not in pairs.values():
            what = _what(one, one.joints[key])
            yield Change("Joints", "removed", key, f"{joint_name(one, key)} is gone: {what}.")


def _what(device: Device, joint: Joint) -> str:
    number = f"{joint.count} × " if joint.count > 1 else ""
    return f"{number}{joint.kind} between {listed([part_name(device, p) for p in joint.joins])}"


def _joint(
    one: Device,
    other: Device,
    old: Joint,
    new: Joint,
    parts: Mapping[str, str],
    joints: Mapping[str, str],
) -> Iterator[Change]:
    name = joint_name(other, new.id)
    before, now = sorted(parts.get(p, p) for p in old.joins), sorted(new.joins)
    if before != now:
        yield _changed(
            "Joints", new.id, f"{name} joins", "joins",
            listed([part_name(one, p) for p in old.joins]),
            listed([part_name(other, p) for p in new.joins]),
        )  # fmt: skip
    if old.fastener != new.fastener:
        yield _changed(
            "Joints", new.id, f"{name}: the screw is another one", "fastener",
            _fastener(one, old), _fastener(other, new),
        )  # fmt: skip
    if sorted(joints.get(j, j) for j in old.after) != sorted(new.after):
        yield _changed(
            "Joints", new.id, f"{name}: {_WORDS['after']}", "after",
            listed([joint_name(one, j) for j in old.after]),
            listed([joint_name(other, j) for j in new.after]), kind="order",
        )  # fmt: skip
    yield from _fields("Joints", new.id, name, old, new, {"fastener", "after", "name"})
    yield from _accesses(one, other, old, new, parts)


def _fastener(device: Device, joint: Joint) -> str:
    if joint.fastener is None:
        return "not said"
    known = device.fasteners.get(joint.fastener)
    return fastener_text(known) if known is not None else joint.fastener


def _accesses(
    one: Device, other: Device, old: Joint, new: Joint, parts: Mapping[str, str]
) -> Iterator[Change]:
    name = joint_name(other, new.id)
    if len(old.accesses) != len(new.accesses):
        yield _changed(
            "Joints",
            new.id,
            f"{name}: ways to reach it",
            "access",
            len(old.accesses),
            len(new.accesses),
        )
        return
    for before, now in zip(old.accesses, new.accesses, strict=True):
        if before.side != now.side:
            yield _changed(
                "Joints", new.id, f"{name}: side that faces up", "side", before.side, now.side
            )
        if sorted(parts.get(p, p) for p in before.under) != sorted(now.under):
            yield _changed(
                "Joints", new.id, f"{name}: what lies over it", "under",
                listed([part_name(one, p) for p in before.under]),
                listed([part_name(other, p) for p in now.under]), kind="order",
            )  # fmt: skip
        for key, words in (("tool", "tool"), ("close_tool", "tool for closing")):
            was, is_now = getattr(before, key), getattr(now, key)
            if was != is_now and not (key == "close_tool" and _same_both(before, now)):
                yield _changed(
                    "Joints",
                    new.id,
                    f"{name}: {words}",
                    key,
                    tool_name(one, was),
                    tool_name(other, is_now),
                )
        for key, words in (("open_ms", "time to open (s)"), ("close_ms", "time to close (s)")):
            if getattr(before, key) != getattr(now, key):
                yield _changed(
                    "Joints", new.id, f"{name}: {words}", key.replace("_ms", "_s"),
                    _time(getattr(before, key)), _time(getattr(now, key)), kind="time",
                )  # fmt: skip


def _same_both(before: Access, now: Access) -> bool:
    """Closed with the tool that opens it, in both: told once."""
    return before.close_tool == before.tool and now.close_tool == now.tool


def _time(ms: int | None) -> str:
    return "from the table" if ms is None else str(seconds(ms))


# --- everything else --------------------------------------------------------------------------------


def _section(one: Device, other: Device, section: str) -> Iterator[Change]:
    about = section.capitalize()
    old_entries, new_entries = getattr(one, section), getattr(other, section)
    for key, entry in new_entries.items():
        name = f"{_TITLES.get(section, section.removesuffix('s'))} {key}"
        if key not in old_entries:
            yield Change(about, "added", key, f"{name[0].upper()}{name[1:]} is new.")
        else:
            yield from _fields(
                about, key, name[0].upper() + name[1:], old_entries[key], entry, set()
            )
    for key in old_entries:
        if key not in new_entries:
            name = f"{_TITLES.get(section, section.removesuffix('s'))} {key}"
            yield Change(about, "removed", key, f"{name[0].upper()}{name[1:]} is gone.")


def _fields(
    about: str, key: str, name: str, old: object, new: object, told: set[str]
) -> Iterator[Change]:
    for field in fields(old):  # type: ignore[arg-type]
        if field.name in _SKIPPED or field.name in told:
            continue
        before, now = getattr(old, field.name), getattr(new, field.name)
        if before != now:
            yield _changed(
                about, key, f"{name}: {_key(field.name)}", field.name, _value(field.name, before),
                _value(field.name, now), kind="order" if field.name == "order" else "changed",
            )  # fmt: skip


def _key(name: str) -> str:
    return _WORDS.get(name, name.replace("_", " "))


def _value(key: str, value: object) -> object:
    return seconds(value) if key.endswith("ms") and isinstance(value, int) else value


def _shown(value: object) -> str:
    if value is None or value in ((), {}, ""):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return listed(
            [f"{k} {v:g}" if isinstance(v, float) else f"{k} {v}" for k, v in value.items()]
        )
    if isinstance(value, tuple):
        if value and isinstance(value[0], tuple):
            return f"{len(value)} places"
        return listed([str(item) for item in value])
    return f"{value:g}" if isinstance(value, float) else str(value)


def _changed(
    about: str,
    key: str,
    words: str,
    field: str,
    old: object,
    new: object,
    *,
    kind: ChangeKind = "changed",
) -> Change:
    before, now = _shown(old), _shown(new)
    if before == now:  # places of the same number
        return Change(about, kind, key, f"{words} changed.", field)
    return Change(about, kind, key, f"{words}: {before} → {now}.", field, before, now)


# --- what it means for the work ---------------------------------------------------------------------


def _ways(one: Device, other: Device) -> Iterator[Change]:
    """For every part that both have: the way in, the way out, and the order of opening."""
    pairs = renamed(one.parts, other.parts)
    joints = {old: new for new, old in renamed(one.joints, other.joints).items()}
    for key, part in other.parts.items():
        if key not in pairs or part.fixed or one.parts[pairs[key]].fixed:
            continue
        old, new = _plan(one, pairs[key]), _plan(other, key)
        name = part_name(other, key)
        if old is None or new is None:
            if (old is None) != (new is None):
                text = f"{name}: {'can be taken out now' if old is None else 'can no longer be taken out'}."
                yield Change("Ways", "changed", key, text, "plan")
            continue
        yield from _way(key, name, old, new, joints)


def _way(key: str, name: str, old: Plan, new: Plan, joints: Mapping[str, str]) -> Iterator[Change]:
    told = []
    for words, before, now in (
        ("way in", old.way_in_ms, new.way_in_ms),
        ("way out", old.way_out_ms, new.way_out_ms),
    ):
        if before != now:
            more = "longer" if now > before else "shorter"
            told.append(
                f"{words} {seconds(abs(now - before))} s {more} ({seconds(before)} → {seconds(now)} s)"
            )
    if told:
        was, is_now = str(seconds(old.total_ms)), str(seconds(new.total_ms))
        yield Change("Ways", "time", key, f"{name}: {', '.join(told)}.", "total_s", was, is_now)
    first = [joints.get(step.joint, step.joint) for step in old.way_in]
    second = [step.joint for step in new.way_in]
    kept = [j for j in first if j in set(second)]
    if kept != [j for j in second if j in set(first)]:
        yield Change(
            "Ways", "order", key, f"{name}: the joints are opened in another order.", "way_in"
        )
    gained, lost = len(set(second) - set(first)), len(set(first) - set(second))
    if gained or lost:
        text = (
            f"{name}: {gained} more to open, {lost} fewer."
            if gained and lost
            else (f"{name}: {gained} more to open." if gained else f"{name}: {lost} fewer to open.")
        )
        yield Change("Ways", "changed", key, text, "way_in", str(len(first)), str(len(second)))


def _plan(device: Device, part: str) -> Plan | None:
    """The plan for one part; None where there is none or the search would take too long."""
    try:
        found = plan(device, Request(replace=(part,)), StopRule(work=MOST_WORK))
    except InputError:
        return None
    return found if found.proven else None
