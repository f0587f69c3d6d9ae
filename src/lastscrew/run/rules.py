"""What may happen next at the bench: openings, closings, hold points, powered checks."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from lastscrew.device.model import SIGNALS, Device, Joint
from lastscrew.device.opening import (
    access_is_free,
    accesses_that_allow,
    clusters,
    is_live,
    isolating_joints,
)
from lastscrew.plan.hold_words import standing_holds
from lastscrew.plan.model import Limb
from lastscrew.plan.wording import joint_name, listed, marked, part_name
from lastscrew.saying import say


@dataclass(frozen=True, slots=True)
class PowerHold:
    """The hold point of a powered check on an open machine.

    Attributes:
        isolators: Joints that are closed to give power.
        names: Joints that stay open while power is on, in the order given.
        live: Those of them that are live.
        hazards: Ids of the hazards of all these joints and their parts, most severe first.
        text: What is confirmed, naming each joint that stays open, and which of them are live then.
    """

    isolators: tuple[str, ...]
    names: tuple[str, ...]
    live: tuple[str, ...]
    hazards: tuple[str, ...]
    text: str


def hold_texts(device: Device, joint: Joint, limb: Limb) -> tuple[str, ...]:
    """What a person confirms before this joint is opened (``in``) or closed (``out``)."""
    return tuple(text for _, text in standing_holds(device, joint, limb))


def ways(device: Device, opened: Collection[str], joint_id: str) -> tuple[int, ...]:
    """Accesses by which a closed joint can be opened now, or an open one closed now."""
    return accesses_that_allow(device, [j for j in opened if j != joint_id], joint_id)


def what_hinders(device: Device, opened: Collection[str], joint_id: str) -> str:
    """Why a joint can't be opened (or, being open, not be closed) now; empty when it can."""
    rest = [j for j in opened if j != joint_id]
    if accesses_that_allow(device, rest, joint_id):
        return ""
    joint = device.joints[joint_id]
    reasons: list[str] = []
    if early := [j for j in joint.after if j not in rest]:
        reasons.append(say("{joints} must be open", joints=_joints(device, early)))
    closed = [j for j in isolating_joints(device) if j not in rest]
    if is_live(device, joint) and not joint.isolates and closed:
        reasons.append(
            say("it is live until {joints} has been opened", joints=_joints(device, closed))
        )
    covers = _covers(device, rest, joint)
    if covers:
        names = listed([marked(part_name(device, part)) for part in covers], word="or")
        reasons.append(say("{names} lies over it", names=names))
    return listed(reasons)


def _covers(device: Device, opened: Collection[str], joint: Joint) -> tuple[str, ...]:
    """Parts that lie over every access of ``joint``, in id order."""
    closed = [j for j in device.joints if j not in opened and j != joint.id]
    cluster_of = clusters(device, closed)
    if any(access_is_free(joint, access, cluster_of) for access in joint.accesses):
        return ()
    covers = {
        cover
        for access in joint.accesses
        for cover in access.under
        if any(cluster_of[cover] == cluster_of[part] for part in joint.joins if part != cover)
    }
    return tuple(sorted(covers))


def powered_check(device: Device, opened: Iterable[str]) -> PowerHold:
    """The hold point of a powered check while ``opened`` are open.

    Args:
        device: The device, reduced to what is fitted.
        opened: Open joints, in the order in which they are to be named.
    """
    every = list(opened)
    isolators = tuple(j for j in isolating_joints(device) if j in every)
    names = tuple(j for j in every if j not in isolators)
    known = [device.joints[j] for j in names if j in device.joints]
    live = tuple(joint.id for joint in known if is_live(device, joint))
    text = _hold_words(_joints(device, isolators) or say("Power"), [*names], _joints(device, names))
    if live:
        text = say("{text} Live then: {joints}.", text=text, joints=_joints(device, live))
    given = [device.joints[j] for j in isolators]
    return PowerHold(isolators, names, live, hazards_of(device, [*given, *known]), text)


def _hold_words(closed: str, still_open: Sequence[str], names: str) -> str:
    if not still_open:
        return say("{joints} closed for a check.", joints=closed)
    return say(
        "{joints} closed for a check while {names} stays open.",
        "{joints} closed for a check while {names} stay open.",
        joints=closed,
        names=names,
        n=len(still_open),
    )


def hazards_of(device: Device, joints: Iterable[Joint]) -> tuple[str, ...]:
    """Hazards of joints and of the parts they join, most severe first, then by id."""
    found: set[str] = set()
    for joint in joints:
        found.update(joint.hazards)
        for part in joint.joins:
            found.update(device.parts[part].hazards)
    known = [device.hazards[hazard] for hazard in found if hazard in device.hazards]
    known.sort(key=lambda hazard: (SIGNALS.index(hazard.signal), hazard.id))
    return tuple(hazard.id for hazard in known)


def _joints(device: Device, ids: Iterable[str]) -> str:
    return listed([marked(joint_name(device, joint_id)) for joint_id in ids])
