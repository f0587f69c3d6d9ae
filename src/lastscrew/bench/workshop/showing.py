"""The steps of a plan as lines of a list: the V for those who can't see it, or whose screen is narrow."""

from __future__ import annotations

from dataclasses import dataclass

from lastscrew.device.model import Hazard
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.model import Limb
from lastscrew.plan.wording import joint_name, pieces_text, side_name, tool_name


@dataclass(frozen=True, slots=True)
class ShownStep:
    """One step.

    Attributes:
        number: In the plan, way in and way out counted through.
        joint: Its name.
        details: How many and what kind of pieces.
        side: Side that faces up, empty where it stays as it is.
        tool: Tool to take in hand, empty where it stays the same.
        seconds: Seconds that it takes, rounded.
        still_live: Power is still on.
        holds: What has to be confirmed.
        hazards: What can hurt here.
    """

    number: int
    joint: str
    details: str
    side: str
    tool: str
    seconds: int
    still_live: bool
    holds: tuple[str, ...]
    hazards: tuple[Hazard, ...]


def steps_of(briefing: Briefing, limb: Limb) -> tuple[ShownStep, ...]:
    """The steps of one limb in order."""
    device, plan = briefing.device, briefing.plan
    steps = plan.way_in if limb == "in" else plan.way_out
    first = 1 if limb == "in" else 1 + len(plan.way_in)
    side = plan.start_side if limb == "in" or not plan.way_in else plan.way_in[-1].side
    tool: str | None = None
    found = []
    for number, step in enumerate(steps, first):
        joint = device.joints[step.joint]
        hazards = dict.fromkeys(
            at.hazard for at in briefing.hazards if at.joint == step.joint and at.limb == limb
        )
        found.append(
            ShownStep(
                number=number,
                joint=joint_name(device, step.joint),
                details=pieces_text(device, joint),
                side=side_name(step.side) if step.side != side else "",
                tool=tool_name(device, step.tool) if step.tool != tool else "",
                seconds=round((step.setup_ms + step.work_ms) / 1000),
                still_live=(limb, step.joint) in briefing.still_live,
                holds=tuple(
                    hold.text for hold in briefing.holds
                    if hold.joint == step.joint and hold.limb == limb
                ),
                hazards=tuple(device.hazards[key] for key in hazards),
            )
        )  # fmt: skip
        side, tool = step.side, step.tool
    return tuple(found)
