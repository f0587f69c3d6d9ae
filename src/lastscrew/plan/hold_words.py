"""What a person confirms at a joint, in words: one source for plans, sheets and jobs at the bench."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Literal

from lastscrew.device.model import Device, Joint
from lastscrew.device.opening import isolating_joints
from lastscrew.plan.model import Limb
from lastscrew.plan.wording import joint_name, listed, marked, verb

StandingHold = Literal["shutdown", "second_person", "inspect", "hold"]


def standing_holds(device: Device, joint: Joint, limb: Limb) -> Iterator[tuple[StandingHold, str]]:
    """Hold points that the joint itself sets before it is opened (``in``) or closed (``out``).

    ``powered: shutdown``, a second person and the device file's own ``hold`` guard both, ``reuse:
    inspect`` the closing. In the order in which they are confirmed, each with its text.
    """
    name = joint_name(device, joint.id)
    is_are = verb(name, "are", "is")
    done = "opened" if limb == "in" else "closed"
    if joint.shutdown:
        text = (
            f"Shut the machine down and take the mains away before {marked(name)} {is_are} {done}"
        )
        yield "shutdown", f"{text}: the power stays in it."
    if joint.hold_by == "second_person":
        text = f"A second person holds the parts while {marked(name)} {is_are} {done}."
        yield "second_person", text
    if limb == "out" and joint.reuse == "inspect":
        yield "inspect", f"Look {marked(name)} over; put in new where anything is damaged."
    if joint.hold:
        yield "hold", joint.hold


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
        return (
            f"{marked(name)} {verb(name, 'take', 'takes')} the power away only together with {others}: "
            "it is still on."
        )
    all_of_them = listed([marked(joint_name(device, j)) for j in isolators])
    return f"The power is taken away at {all_of_them}: make sure that it is off before going on."
