"""What differs between two revisions of a device file, in the trade's words.

Entries are paired as :mod:`lastscrew.audit.pairing` says. What the difference means for the work is told as well: for
every part how much longer or shorter its way in is.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import fields, replace
from typing import Final

from lastscrew.audit.changes import Change, ChangeKind
from lastscrew.audit.pairing import Entry, Renames, in_new_ids
from lastscrew.audit.telling import (
    entry_name,
    is_same,
    key_of,
    shown,
    value_of,
    without_equal,
    words_for,
)
from lastscrew.device.model import POWERED_KINDS, Access, Device, Joint
from lastscrew.plan.model import Plan, Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.plan.wording import fastener_text, joint_name, listed, part_name, seconds, tool_name
from lastscrew.problems import InputError

MOST_WORK: Final = 20_000
"""States that each single plan may expand; a plan that needs more is not compared."""

_SECTIONS: Final = (
    "tools", "fasteners", "supplies", "hazards", "functions", "options", "spares", "acts", "symptoms", "checks",
    "faults",
)  # fmt: skip
_SKIPPED: Final = frozenset(
    (
        "id",
        "was",
        "sources",
        "accesses",
        "rigid",
        "unknown",
        "swap_given",
        "prior_given",
        "shutdown",
    )
)
_NAMES: Final = frozenset(("name", "text"))


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
    old, pairs = in_new_ids(one, other)
    ids = {section: {new: was for was, new in table.items()} for section, table in pairs.items()}
    both = _Revisions(one, old, other, ids)
    return (
        *_device(one, other),
        *_entries(both, "parts"),
        *_joints(both),
        *(change for section in _SECTIONS for change in _entries(both, section)),
        *(_ways(old, other) if ways else ()),
    )


class _Revisions:
    """The two revisions: the old one as it is and in the ids of the new one.

    Attributes:
        given: The old one as it is.
        old: The same, every entry that the new one has under its new id.
        new: The new one.
        was: For every section, new id to old id of the entries that both have.
    """

    def __init__(self, given: Device, old: Device, new: Device, was: Renames) -> None:
        self.given, self.old, self.new, self.was = given, old, new, was


# --- the machine and its entries ----------------------------------------------------------------------


def _device(one: Device, other: Device) -> Iterator[Change]:
    for key in ("name", "id", "kind", "revision", "sides", "turn_ms", "frame_mm", "note"):
        old, new = getattr(one, key), getattr(other, key)
        if old != new and not (key == "id" and one.name != other.name):
            yield _changed(
                "Machine", other.id, f"Machine: {words_for(key)}", key, value_of(one, key, old),
                value_of(other, key, new),
            )  # fmt: skip


def _entries(both: _Revisions, section: str) -> Iterator[Change]:
    """What came, went, is called otherwise or says something else, in one section."""
    about = section.capitalize()
    old, new = getattr(both.old, section), getattr(both.new, section)
    for key, entry in new.items():
        if key not in both.was[section]:
            yield Change(
                about, "added", key, f"{entry_name(both.new, section, entry, whole=True)} is new."
            )
            continue
        yield from _called(both, section, entry)
        yield from _fields(both, section, old[key], entry, _NAMES)
    for key, entry in getattr(both.given, section).items():
        if key not in both.was[section].values():
            name = entry_name(both.given, section, entry, whole=True)
            yield Change(about, "removed", key, f"{name} is gone.")


def _called(both: _Revisions, section: str, entry: Entry) -> Iterator[Change]:
    """That an entry has another name or id."""
    about, was = section.capitalize(), both.was[section][entry.id]
    before = getattr(both.given, section)[was]
    name, old_name = (
        entry_name(device, section, item)
        for device, item in ((both.new, entry), (both.given, before))
    )
    if name != old_name and section != "fasteners":
        told = f"{name} was called {_lower(old_name, section)} ({was})."
        yield Change(about, "renamed", entry.id, told, "name", old_name, name)
    elif was != entry.id:
        name = entry_name(both.new, section, entry, whole=True)
        told = f"{name} stands under another id: {was} → {entry.id}."
        yield Change(about, "renamed", entry.id, told, "id", was, entry.id)


def _lower(name: str, section: str) -> str:
    """A name within a sentence: what it is (``Tool``, ``Warning``) begins small, its own name stays."""
    return name if section in ("parts", "joints") else name[0].lower() + name[1:]


def _fields(
    both: _Revisions, section: str, old: Entry, new: Entry, told: Collection[str]
) -> Iterator[Change]:
    """Each value of an entry that is another one, but for those that are told apart."""
    name = entry_name(both.new, section, new)
    for field in fields(old):
        if field.name in _SKIPPED or field.name in told:
            continue
        before, now = getattr(old, field.name), getattr(new, field.name)
        if not is_same(field.name, before, now):
            before, now = without_equal(before, now)
            yield _changed(
                section.capitalize(), new.id, f"{name}: {words_for(field.name)}", key_of(field.name),
                value_of(both.old, field.name, before), value_of(both.new, field.name, now),
                kind="order" if field.name in ("order", "after") else "changed",
            )  # fmt: skip


def _changed(
    about: str,
    key: str,
    words: str,
    field: str,
    before: str,
    now: str,
    *,
    kind: ChangeKind = "changed",
) -> Change:
    before, now = before or "nothing", now or "nothing"
    if before == now:  # places of the same number
        return Change(about, kind, key, f"{words} changed.", field)
    return Change(
        about, kind, key, f"{words}: {before.rstrip('.')} → {now.rstrip('.')}.", field, before, now
    )


# --- joints -----------------------------------------------------------------------------------------


def _joints(both: _Revisions) -> Iterator[Change]:
    for key, joint in both.new.joints.items():
        name = joint_name(both.new, key)
        if key not in both.was["joints"]:
            yield Change("Joints", "added", key, f"{name} is new: {_what(both.new, joint)}.")
            continue
        yield from _called(both, "joints", joint)
        yield from _joint(both, both.old.joints[key], joint)
    for key, joint in both.given.joints.items():
        if key not in both.was["joints"].values():
            what = _what(both.given, joint)
            yield Change(
                "Joints", "removed", key, f"{joint_name(both.given, key)} is gone: {what}."
            )


def _what(device: Device, joint: Joint) -> str:
    number = f"{joint.count} × " if joint.count > 1 else ""
    kind = joint.kind.replace("_", " ")
    return f"{number}{kind} between {listed([part_name(device, p) for p in joint.joins])}"


def _joint(both: _Revisions, old: Joint, new: Joint) -> Iterator[Change]:
    name = joint_name(both.new, new.id)
    if sorted(old.joins) != sorted(new.joins):
        yield _changed(
            "Joints", new.id, f"{name} joins", "joins", value_of(both.old, "joins", old.joins),
            value_of(both.new, "joins", new.joins),
        )  # fmt: skip
    if (old.fastener, "fastener" in old.unknown) != (new.fastener, "fastener" in new.unknown):
        yield _changed(
            "Joints", new.id, f"{name}: the screw is another one", "fastener", _fastener(both.old, old),
            _fastener(both.new, new),
        )  # fmt: skip
    if (old.count, "count" in old.unknown) != (new.count, "count" in new.unknown):
        yield _changed(
            "Joints", new.id, f"{name}: {words_for('count')}", "count",
            *("unknown" if "count" in joint.unknown else str(joint.count) for joint in (old, new)),
        )  # fmt: skip
    if (old.powered, old.shutdown) != (new.powered, new.shutdown) and not _goes_with_kind(old, new):
        yield _changed("Joints", new.id, f"{name}: live", "powered", _live(old), _live(new))
    yield from _fields(both, "joints", old, new, {"joins", "fastener", "name", "count", "powered"})
    yield from _accesses(both, old, new)


def _goes_with_kind(old: Joint, new: Joint) -> bool:
    """Another kind of joint is live or not of itself: told once, with the kind."""
    return old.kind != new.kind and all(
        joint.powered == (joint.kind in POWERED_KINDS) and not joint.shutdown
        for joint in (old, new)
    )


def _live(joint: Joint) -> str:
    return "after a shut-down only" if joint.shutdown else shown(joint.powered)


def _fastener(device: Device, joint: Joint) -> str:
    if "fastener" in joint.unknown:
        return "unknown"
    if joint.fastener is None:
        return "not said"
    known = device.fasteners.get(joint.fastener)
    if known is None:
        return joint.fastener
    text = fastener_text(known)
    twins = [f for f in device.fasteners.values() if fastener_text(f) == text]
    return f"{text} ({known.id})" if len(twins) > 1 else text


# --- ways to reach a joint --------------------------------------------------------------------------


def _accesses(both: _Revisions, old: Joint, new: Joint) -> Iterator[Change]:
    name = joint_name(both.new, new.id)
    several = len(old.accesses) > 1 or len(new.accesses) > 1
    pairs, gone, come = _paired(old.accesses, new.accesses)
    for before, now in pairs:
        about = f"{name} ({_way_words(both.new, now)})" if several else name
        yield from _access(both, new.id, about, before, now)
    for access in come:
        told = f"{name} can be reached another way now: {_way_words(both.new, access)}."
        yield Change("Joints", "added", new.id, told, "access")
    for access in gone:
        told = f"{name} can no longer be reached {_way_words(both.old, access)}."
        yield Change("Joints", "removed", new.id, told, "access")


def _paired(
    old: Sequence[Access], new: Sequence[Access]
) -> tuple[list[tuple[Access, Access]], list[Access], list[Access]]:
    """Which way is which, whatever their order: equal ones, then by what lies over and side, then as they stand."""
    gone, come = list(old), list(new)
    pairs: list[tuple[Access, Access]] = []
    marks: tuple[Callable[[Access], object], ...] = (
        lambda a: replace(a, under=tuple(sorted(a.under))),
        lambda a: (a.side, sorted(a.under)),
        lambda a: a.side,
        lambda a: sorted(a.under),
        lambda _: None,
    )
    for mark in marks:
        if mark is marks[-1] and (len(gone) != 1 or len(come) != 1):
            break
        for before in list(gone):
            now = next((a for a in come if mark(a) == mark(before)), None)
            if now is not None:
                gone.remove(before)
                come.remove(now)
                pairs.append((before, now))
    pairs.sort(key=lambda pair: new.index(pair[1]))
    return pairs, gone, come


def _way_words(device: Device, access: Access) -> str:
    side = f"from the {access.side.replace('_', ' ')}"
    return f"{side} under {value_of(device, 'under', access.under)}" if access.under else side


def _access(both: _Revisions, key: str, name: str, before: Access, now: Access) -> Iterator[Change]:
    for field, words, told in (
        ("side", "side that faces up", lambda _device, a: a.side),
        ("tool", "tool", lambda device, a: tool_name(device, a.tool)),
        ("close_tool", "tool for closing", lambda device, a: tool_name(device, a.close_tool)),
        ("open_ms", "time to open (s)", lambda _device, a: _time(a.open_ms)),
        ("close_ms", "time to close (s)", lambda _device, a: _time(a.close_ms)),
    ):
        # Closed with the tool that opens it, in both: told once.
        if (
            field == "close_tool"
            and before.close_tool == before.tool
            and now.close_tool == now.tool
        ):
            continue
        is_unknown = [key_of(field) in access.unknown for access in (before, now)]
        if getattr(before, field) != getattr(now, field) or is_unknown[0] != is_unknown[1]:
            was, is_now = (
                "unknown" if unknown else told(device, access)
                for unknown, device, access in zip(
                    is_unknown, (both.old, both.new), (before, now), strict=True
                )
            )
            kind: ChangeKind = "time" if field.endswith("_ms") else "changed"
            yield _changed("Joints", key, f"{name}: {words}", key_of(field), was, is_now, kind=kind)
    if sorted(before.under) != sorted(now.under):
        yield _changed(
            "Joints", key, f"{name}: what lies over it", "under", value_of(both.old, "under", before.under),
            value_of(both.new, "under", now.under), kind="order",
        )  # fmt: skip


def _time(ms: int | None) -> str:
    return "from the table" if ms is None else str(seconds(ms))


# --- what it means for the work ---------------------------------------------------------------------


def _ways(one: Device, other: Device) -> Iterator[Change]:
    """For every part that both have: the way in, the way out, and the order of opening."""
    for key, part in other.parts.items():
        if key not in one.parts or part.fixed or one.parts[key].fixed:
            continue
        old, new = _plan(one, key), _plan(other, key)
        name = part_name(other, key)
        if old is None or new is None:
            if (old is None) != (new is None):
                text = f"{name}: {'can be taken out now' if old is None else 'can no longer be taken out'}."
                yield Change("Ways", "changed", key, text, "plan")
            continue
        yield from _way(key, name, old, new)


def _way(key: str, name: str, old: Plan, new: Plan) -> Iterator[Change]:
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
    first, second = [step.joint for step in old.way_in], [step.joint for step in new.way_in]
    if [j for j in first if j in set(second)] != [j for j in second if j in set(first)]:
        yield Change(
            "Ways", "order", key, f"{name}: the joints are opened in another order.", "way_in"
        )
    gained, lost = len(set(second) - set(first)), len(set(first) - set(second))
    if gained or lost:
        counts = [f"{gained} more to open"] * bool(gained) + [f"{lost} fewer to open"] * bool(lost)
        yield Change(
            "Ways",
            "changed",
            key,
            f"{name}: {', '.join(counts)}.",
            "way_in",
            str(len(first)),
            str(len(second)),
        )


def _plan(device: Device, part: str) -> Plan | None:
    """The plan for one part; None where there is none or the search would take too long."""
    try:
        found = plan(device, Request(replace=(part,)), StopRule(work=MOST_WORK))
    except InputError:
        return None
    return found if found.proven else None
