"""What a job found that contradicts its device file, as edits that a lead may publish.

The technician says what is there ("there are ten", "the bracket is in the way"); here that becomes the change
of the device file that would have made it right. Nothing is changed by itself: a proposal is shown with
the jobs that ask for it, and :func:`edited` writes it into a text on request.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from lastscrew.device.document import Document
from lastscrew.device.model import Device, Joint
from lastscrew.plan.wording import fastener_text, is_plural, joint_name, marked, part_name
from lastscrew.problems import InputError
from lastscrew.run import events as e
from lastscrew.run.folding import in_force

Value = int | str | bool


@dataclass(frozen=True, slots=True)
class Contradiction:
    """One thing that a job found otherwise than the device file says.

    Attributes:
        joint: The joint.
        key: Key of the joint that would change: ``count``, ``fastener``, ``rigid``, ``under``; empty where
            no change can be read from what was said.
        value: What it would be; for ``under`` the part that is added.
        text: One sentence: what was found, what the file says.
        event: The event that says it.
        said: Its name; what was ``missing`` may have been lost before, the rest is certain.
    """

    joint: str
    key: str
    value: Value
    text: str
    event: str
    said: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """The same contradiction over all jobs that met it.

    Attributes:
        joint, key, value, text: As in :class:`Contradiction`.
        jobs: Keys of the jobs that met it, in the order given.
        is_edit: True when it can be written into the device file.
        is_certain: False where one unit alone proves little (a screw may have been lost before).
    """

    joint: str
    key: str
    value: Value
    text: str
    jobs: tuple[str, ...]
    is_edit: bool
    is_certain: bool


def contradictions(device: Device, events: Sequence[e.Event]) -> tuple[Contradiction, ...]:
    """What one job found otherwise, in the order of the events.

    Args:
        device: The whole device, of the revision that the job keeps.
        events: The events of the job.
    """
    found: dict[tuple[str, str, Value], Contradiction] = {}
    for event in in_force(events):
        for each in _of_event(device, event):
            if each.key == "count":
                # A later count of the same joint takes the place of the one before.
                for key in [k for k in found if k[:2] == (each.joint, "count")]:
                    del found[key]
            found.setdefault((each.joint, each.key, each.value), each)
    return tuple(found.values())


def _of_event(device: Device, event: e.Event) -> Iterator[Contradiction]:
    joint = device.joints.get(getattr(event.what, "joint", None) or "")
    if joint is None:
        return
    what = event.what
    name = marked(joint_name(device, joint.id))
    if isinstance(what, e.CountCorrected) and what.count != joint.count:
        text = f"{name}: {what.count} were counted, the device file says {joint.count}."
        yield Contradiction(joint.id, "count", what.count, text, event.id, what.name)
    elif isinstance(what, e.Missing) and what.count < joint.count:
        left = joint.count - what.count
        text = f"{name}: {what.count} of {joint.count} were missing when it was opened."
        yield Contradiction(joint.id, "count", left, text, event.id, what.name)
    elif isinstance(what, e.OtherKind):
        yield from _other_kind(device, joint, what, event.id)
    elif isinstance(what, e.Unreachable):
        yield from _unreachable(device, joint, what, event.id)


def _other_kind(
    device: Device, joint: Joint, what: e.OtherKind, event: str
) -> Iterator[Contradiction]:
    if what.piece is not None and what.piece == joint.fastener:
        return
    own = device.fasteners.get(joint.fastener or "")
    says = fastener_text(own) if own else "nothing about it"
    listed = device.fasteners.get(what.piece or "")
    size = " × ".join(filter(None, (what.thread, f"{what.length_mm or 0:g} mm")))
    there = fastener_text(listed) if listed else (what.piece or size)
    name = marked(joint_name(device, joint.id))
    text = f"{name}: {what.count} of {joint.count} are {there}; the device file says {says}."
    all_of_them = listed is not None and what.count >= joint.count
    key, value = ("fastener", listed.id) if listed and all_of_them else ("", there)
    yield Contradiction(joint.id, key, value, text, event, what.name)


def _unreachable(
    device: Device, joint: Joint, what: e.Unreachable, event: str
) -> Iterator[Contradiction]:
    name = joint_name(device, joint.id)
    if what.reason == "in_the_way" and what.part is not None and what.part in device.parts:
        text = f"{marked(name)}: {marked(part_name(device, what.part))} is in the way; the device file does not say so."
        if not all(what.part in access.under for access in joint.accesses):
            yield Contradiction(joint.id, "under", what.part, text, event, what.name)
    elif what.reason == "too_short":
        are = "are" if is_plural(name) else "is"
        text = f"{marked(name)} {are} too short to lay the part aside; the device file takes it as flexible."
        if not joint.rigid:
            yield Contradiction(
                joint.id, "rigid", value=True, text=text, event=event, said=what.name
            )
    else:
        said = f": {what.text}" if what.text else ""
        text = f"{marked(name)} can't be worked on as the device file says{said}."
        yield Contradiction(joint.id, "", what.text or "", text, event, what.name)


def as_found(device: Device, found: Iterable[Contradiction]) -> Device:
    """The device as a job found it, to plan the rest of that job with.

    A screw that was missing does not change the device; everything else does.
    """
    joints = dict(device.joints)
    for each in found:
        joint = joints[each.joint]
        if each.key == "under" and isinstance(each.value, str):
            joints[joint.id] = _under(joint, each.value)
        elif each.key == "rigid":
            joints[joint.id] = replace(joint, rigid=True)
        elif each.key == "count" and isinstance(each.value, int) and each.said == "count_corrected":
            joints[joint.id] = _counted(joint, each.value)
    return replace(device, joints=joints)


def _under(joint: Joint, part: str) -> Joint:
    accesses = tuple(
        access if part in access.under else replace(access, under=(*access.under, part))
        for access in joint.accesses
    )
    return replace(joint, accesses=accesses)


def _counted(joint: Joint, count: int) -> Joint:
    places = joint.positions_mm if len(joint.positions_mm) == count else ()
    return replace(joint, count=count, positions_mm=places)


def proposals(
    device: Device, jobs: Iterable[tuple[str, Sequence[e.Event]]]
) -> tuple[Proposal, ...]:
    """Contradictions of several jobs on one device, those that most jobs met first.

    Args:
        device: The revision that is in force; what it says already is left out.
        jobs: Key and events of each job.
    """
    met: dict[tuple[str, str, Value], list[tuple[str, Contradiction]]] = {}
    for key, events in jobs:
        for each in contradictions(device, events):
            met.setdefault((each.joint, each.key, each.value), []).append((key, each))
    found = [
        Proposal(
            joint=first.joint,
            key=first.key,
            value=first.value,
            text=first.text,
            jobs=tuple(dict.fromkeys(key for key, _ in rows)),
            is_edit=bool(first.key),
            is_certain=len(rows) > 1 or first.said != "missing",
        )
        for rows in met.values()
        for first in (rows[0][1],)
    ]
    return tuple(sorted(found, key=lambda each: (-len(each.jobs), each.joint, each.key)))


def edited(text: str, proposal: Proposal, name: str = "device file") -> str:
    """The device file with the proposal written into it; nothing else in it changes.

    Raises:
        InputError: The file can't be read, or would have errors afterwards; all problems at once.
        ValueError: The proposal is no edit.
    """
    if not proposal.is_edit:
        raise ValueError("this proposal says in words only what is wrong")
    document = Document.parse(text, name)
    path = f"joints.{proposal.joint}"
    entry = document.get(path)
    if proposal.key == "under":
        _add_cover(document, path, str(proposal.value))
    else:
        document.set(f"{path}.{proposal.key}", proposal.value)
        if proposal.key == "count" and len(entry.get("positions_mm", ())) not in (
            0,
            proposal.value,
        ):
            # Which of the places is wrong nobody has said.
            document.remove(f"{path}.positions_mm")
    result = document.read()
    if result.device is None:
        raise InputError(result.problems)
    return document.text()


def _add_cover(document: Document, path: str, part: str) -> None:
    entry = document.get(path)
    several = entry.get("access")
    places = [path]
    if isinstance(several, list):
        places = [f"{path}.access[{number}]" for number in range(len(several))]
    elif isinstance(several, dict):
        places = [f"{path}.access"]
    for place in places:
        under = document.get(place).get("under", [])
        under = [under] if isinstance(under, str) else list(under)
        if part not in under:
            document.set(f"{place}.under", [*under, part])
