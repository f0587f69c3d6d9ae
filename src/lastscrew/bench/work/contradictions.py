"""What a job found that contradicts its device file, and the device as that job found it.

The rest of the job is planned with what is there ("there are ten", "the bracket is in the way"). The device file
itself changes only when a lead publishes the edit that follows (:mod:`lastscrew.bench.workshop.edits`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from lastscrew.device.model import Device, Joint
from lastscrew.plan.wording import fastener_text, how_many, joint_name, marked, part_name
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.saying import say

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
    """

    joint: str
    key: str
    value: Value
    text: str
    event: str


def contradictions(device: Device, events: Sequence[e.Event]) -> tuple[Contradiction, ...]:
    """What one job found otherwise, in the order of the events.

    Args:
        device: The whole device, of the revision that the job keeps.
        events: The events of the job.
    """
    found: dict[tuple[str, str, Value], Contradiction] = {}
    there: dict[str, int] = {}
    for event in in_force(events):
        if isinstance(event.what, e.CountCorrected):
            there[event.what.joint] = event.what.count
        for each in _of_event(device, event, there):
            if each.key == "count":
                # A later count of the same joint takes the place of the one before.
                for key in [k for k in found if k[:2] == (each.joint, "count")]:
                    del found[key]
            found.setdefault((each.joint, each.key, each.value), each)
    return tuple(found.values())


def _of_event(device: Device, event: e.Event, there: Mapping[str, int]) -> Iterator[Contradiction]:
    """What one event says otherwise; ``there``: how many were counted at joints by then."""
    joint = device.joints.get(getattr(event.what, "joint", None) or "")
    if joint is None:
        return
    what = event.what
    name = marked(joint_name(device, joint.id))
    if isinstance(what, e.CountCorrected) and what.count != joint.count:
        text = say(
            "{joint}: {count} were counted, the device file says {said}.",
            joint=name,
            count=what.count,
            said=joint.count,
        )
        yield Contradiction(joint.id, "count", what.count, text, event.id)
    elif isinstance(what, e.OtherKind):
        count = there.get(joint.id, joint.count)
        yield from _other_kind(device, replace(joint, count=count, positions_mm=()), what, event.id)
    elif isinstance(what, e.Unreachable):
        yield from _unreachable(device, joint, what, event.id)


def _other_kind(
    device: Device, joint: Joint, what: e.OtherKind, event: str
) -> Iterator[Contradiction]:
    if what.piece is not None and what.piece == joint.fastener:
        return
    own = device.fasteners.get(joint.fastener or "")
    says = fastener_text(own) if own else say("nothing about it")
    listed = device.fasteners.get(what.piece or "")
    size = " × ".join(filter(None, (what.thread, f"{what.length_mm or 0:g} mm")))
    there = fastener_text(listed) if listed else (what.piece or size)
    name = marked(joint_name(device, joint.id))
    text = say(
        "{joint}: {count} of {all} is {kind}; the device file says {said}.",
        "{joint}: {count} of {all} are {kind}; the device file says {said}.",
        n=what.count,
        joint=name,
        count=what.count,
        all=joint.count,
        kind=there,
        said=says,
    )
    all_of_them = listed is not None and what.count >= joint.count
    key, value = ("fastener", listed.id) if listed and all_of_them else ("", there)
    yield Contradiction(joint.id, key, value, text, event)


def _unreachable(
    device: Device, joint: Joint, what: e.Unreachable, event: str
) -> Iterator[Contradiction]:
    name = joint_name(device, joint.id)
    if what.reason == "in_the_way" and what.part is not None and what.part in device.parts:
        text = say(
            "{joint}: {part} is in the way; the device file does not say so.",
            joint=marked(name),
            part=marked(part_name(device, what.part)),
        )
        if not all(what.part in access.under for access in joint.accesses):
            yield Contradiction(joint.id, "under", what.part, text, event)
    elif what.reason == "too_short":
        text = say(
            "{joint} is too short to lay the part aside; the device file takes it as flexible.",
            "{joint} are too short to lay the part aside; the device file takes it as flexible.",
            joint=marked(name),
            n=how_many(name),
        )
        if not joint.rigid:
            yield Contradiction(joint.id, "rigid", value=True, text=text, event=event)
    else:
        text = say("{joint} can't be worked on as the device file says.", joint=marked(name))
        if what.text:
            text = say(
                "{joint} can't be worked on as the device file says: {text}.",
                joint=marked(name),
                text=what.text,
            )
        yield Contradiction(joint.id, "", what.text or "", text, event)


def as_found(device: Device, found: Iterable[Contradiction]) -> Device:
    """The device as a job found it, to plan the rest of that job with."""
    joints = dict(device.joints)
    for each in found:
        joint = joints[each.joint]
        if each.key == "under" and isinstance(each.value, str):
            joints[joint.id] = _under(joint, each.value)
        elif each.key == "rigid":
            joints[joint.id] = replace(joint, rigid=True)
        elif each.key == "count" and isinstance(each.value, int):
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
