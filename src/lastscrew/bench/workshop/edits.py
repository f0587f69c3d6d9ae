"""Proposed edits: what work has found to be otherwise than the device file says, for the lead to publish."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from lastscrew.device.document import Document
from lastscrew.device.model import Device
from lastscrew.plan.wording import fastener_text, joint_name, listed, part_name
from lastscrew.run.events import CountCorrected, Event, OtherKind, TakenBack, Unreachable

NAMES = ("count_corrected", "other_kind", "unreachable", "taken_back")
"""Events from which edits follow."""


@dataclass(frozen=True, slots=True)
class Edit:
    """One change of a device file that work speaks for.

    Attributes:
        key: Names it on a form: the same every time.
        joint: The joint that it is about.
        text: What work has found, one sentence.
        paths: What to write: path in the file and value. Empty where a person must decide how.
        jobs: Keys of the jobs that found it, in order.
        last_ms: When it was found last, None if not known.
    """

    key: str
    joint: str
    text: str
    paths: tuple[tuple[tuple[str | int, ...], Any], ...]
    jobs: tuple[str, ...]
    last_ms: int | None


def in_force_by_run(events: Iterable[tuple[str, Event]]) -> tuple[tuple[str, Event], ...]:
    """Events less those that were taken back (taking back a taking back brings it back)."""
    all_of = list(events)
    gone: set[tuple[str, str]] = set()
    for run, event in reversed(all_of):
        if isinstance(event.what, TakenBack) and (run, event.id) not in gone:
            gone.add((run, event.what.about))
    return tuple(
        (run, event)
        for run, event in all_of
        if (run, event.id) not in gone and not isinstance(event.what, TakenBack)
    )


def proposed_edits(device: Device, events: Iterable[tuple[str, Event]]) -> tuple[Edit, ...]:
    """What work contradicts in a device file, most often found first.

    Args:
        device: The device as the current revision has it; what it says already is left out.
        events: (job, event) in order, taken back ones among them.
    """
    found: dict[str, Edit] = {}
    for run, event in in_force_by_run(events):
        edit = _edit_of(device, event)
        if edit is None:
            continue
        before = found.get(edit.key)
        jobs = before.jobs if before is not None else ()
        moments = [
            at for at in (before.last_ms if before else None, event.at_ms, event.stored_ms) if at
        ]
        found[edit.key] = Edit(
            edit.key, edit.joint, edit.text, edit.paths,
            jobs if run in jobs else (*jobs, run), max(moments, default=None),
        )  # fmt: skip
    return tuple(sorted(found.values(), key=lambda e: (-len(e.jobs), -(e.last_ms or 0), e.key)))


def _edit_of(device: Device, event: Event) -> Edit | None:
    what = event.what
    if isinstance(what, CountCorrected):
        return _count(device, what)
    if isinstance(what, OtherKind):
        return _other_kind(device, what)
    if isinstance(what, Unreachable):
        return _unreachable(device, what)
    return None


def _count(device: Device, what: CountCorrected) -> Edit | None:
    joint = device.joints.get(what.joint)
    if joint is None or (joint.count == what.count and "count" not in joint.unknown):
        return None
    name = joint_name(device, joint.id)
    placed = bool(joint.positions_mm)
    said = _("not known") if "count" in joint.unknown else str(joint.count)
    return Edit(
        f"count.{joint.id}.{what.count}",
        joint.id,
        _("%(joint)s: there are %(count)d; the file says %(said)s.")
        % {"joint": name, "count": what.count, "said": said}
        + (" " + _("Its places have to be measured anew.") if placed else ""),
        () if placed else ((("joints", joint.id, "count"), what.count),),
        (), None,
    )  # fmt: skip


def _other_kind(device: Device, what: OtherKind) -> Edit | None:
    joint = device.joints.get(what.joint)
    if joint is None or what.piece == joint.fastener:
        return None
    name = joint_name(device, joint.id)
    if what.piece is not None and what.piece in device.fasteners:
        other = fastener_text(device.fasteners[what.piece])
        whole = what.count >= joint.count
        return Edit(
            f"kind.{joint.id}.{what.piece}.{what.count}",
            joint.id,
            _("%(joint)s: %(count)d of %(of)d are %(other)s.")
            % {"joint": name, "count": what.count, "of": joint.count, "other": other}
            + ("" if whole else " " + _("They have to become a joint of their own.")),
            ((("joints", joint.id, "fastener"), what.piece),) if whole else (),
            (), None,
        )  # fmt: skip
    measured = " ".join(
        words
        for words in (
            what.thread or "",
            _("%(mm)g mm long") % {"mm": what.length_mm}
            if what.length_mm is not None
            else (what.piece or ""),
        )
        if words
    )
    return Edit(
        f"kind.{joint.id}.{measured.replace(' ', '_')}.{what.count}",
        joint.id,
        _("%(joint)s: %(count)d of %(of)d are %(other)s. The file has no such fastener yet.")
        % {"joint": name, "count": what.count, "of": joint.count, "other": measured},
        (), (), None,
    )  # fmt: skip


def _unreachable(device: Device, what: Unreachable) -> Edit | None:
    joint = device.joints.get(what.joint)
    if joint is None:
        return None
    name = joint_name(device, joint.id)
    if what.reason == "too_short":
        if joint.rigid:
            return None
        return Edit(
            f"short.{joint.id}", joint.id,
            _("%(joint)s: the cable is too short to lay the part aside on it.") % {"joint": name},
            ((("joints", joint.id, "rigid"), True),), (), None,
        )  # fmt: skip
    if what.reason == "in_the_way" and what.part in device.parts:
        return _in_the_way(device, joint.id, what.part)
    return Edit(
        f"unreachable.{joint.id}", joint.id,
        _("%(joint)s: could not be reached as the file says.") % {"joint": name}
        + (f" ({what.text})" if what.text else ""),
        (), (), None,
    )  # fmt: skip


def _in_the_way(device: Device, joint_id: str, part: str | None) -> Edit | None:
    joint = device.joints[joint_id]
    assert part is not None
    if all(part in access.under for access in joint.accesses):
        return None
    paths: list[tuple[tuple[str | int, ...], Any]] = []
    if len(joint.accesses) == 1:
        paths.append((("joints", joint_id, "under"), [*joint.accesses[0].under, part]))
    said = listed([part_name(device, p) for p in joint.accesses[0].under]) or _("nothing")
    return Edit(
        f"way.{joint_id}.{part}", joint_id,
        _("%(joint)s: %(part)s is in the way; the file names %(said)s.")
        % {"joint": joint_name(device, joint_id), "part": part_name(device, part), "said": said},
        tuple(paths), (), None,
    )  # fmt: skip


def apply_edits(text: str, edits: Sequence[Edit]) -> str:
    """The text of a device file with the edits written in; everything else stays as it was.

    Raises:
        InputError: The text can't be read.
        KeyError: A path leads nowhere.
    """
    document = Document.parse(text)
    for edit in edits:
        for path, value in edit.paths:
            document.set(_where(document, path), value)
    return document.text()


def _where(document: Document, path: tuple[str | int, ...]) -> tuple[str | int, ...]:
    """``under`` stands on the joint itself or in its only access."""
    if path[-1] == "under":
        try:
            document.get((*path[:-1], "access"))
        except KeyError:
            return path
        return (*path[:-1], "access", 0, "under")
    return path
