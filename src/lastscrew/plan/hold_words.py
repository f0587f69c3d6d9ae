"""What a person confirms at a joint, in words: one source for plans, sheets and jobs at the bench."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Literal

from lastscrew.device.model import Device, Joint
from lastscrew.device.opening import isolating_joints
from lastscrew.plan.model import Limb
from lastscrew.plan.wording import how_many, joint_name, listed, marked
from lastscrew.saying import say

StandingHold = Literal["shutdown", "second_person", "inspect", "hold"]


def standing_holds(device: Device, joint: Joint, limb: Limb) -> Iterator[tuple[StandingHold, str]]:
    """Hold points that the joint itself sets before it is opened (``in``) or closed (``out``).

    ``powered: shutdown``, a second person and the device file's own ``hold`` guard both, ``reuse:
    inspect`` the closing. In the order in which they are confirmed, each with its text.
    """
    name = joint_name(device, joint.id)
    values = {"joint": marked(name), "n": how_many(name)}
    if joint.shutdown:
        yield "shutdown", _shut_down(limb, values)
    if joint.hold_by == "second_person":
        yield "second_person", _held(limb, values)
    if limb == "out" and joint.reuse == "inspect":
        yield (
            "inspect",
            say("Look {joint} over; put in new where anything is damaged.", joint=marked(name)),
        )
    if joint.hold:
        yield "hold", joint.hold


def _shut_down(limb: Limb, values: Mapping[str, object]) -> str:
    if limb == "in":
        return say(
            "Shut the machine down and take the mains away before {joint} is opened: the power stays in it.",
            "Shut the machine down and take the mains away before {joint} are opened: the power stays in it.",
            **values,
        )
    return say(
        "Shut the machine down and take the mains away before {joint} is closed: the power stays in it.",
        "Shut the machine down and take the mains away before {joint} are closed: the power stays in it.",
        **values,
    )


def _held(limb: Limb, values: Mapping[str, object]) -> str:
    if limb == "in":
        return say(
            "A second person holds the parts while {joint} is opened.",
            "A second person holds the parts while {joint} are opened.",
            **values,
        )
    return say(
        "A second person holds the parts while {joint} is closed.",
        "A second person holds the parts while {joint} are closed.",
        **values,
    )


def isolation_words(device: Device, joint_id: str, opened: Collection[str]) -> str:
    """What is confirmed once an isolating joint has been opened.

    Args:
        device: The device, reduced to what is fitted.
        joint_id: The isolating joint.
        opened: Joints that are open by then, with or without this one.
    """
    isolators = isolating_joints(device)
    closed = [j for j in isolators if j != joint_id and j not in opened]
    name = joint_name(device, joint_id)
    if closed:
        others = listed([marked(joint_name(device, j)) for j in closed])
        return say(
            "{joint} takes the power away only together with {others}: it is still on.",
            "{joint} take the power away only together with {others}: it is still on.",
            joint=marked(name),
            others=others,
            n=how_many(name),
        )
    all_of_them = listed([marked(joint_name(device, j)) for j in isolators])
    return say(
        "The power is taken away at {joints}: make sure that it is off before going on.",
        joints=all_of_them,
    )
