"""Everything that a technician has to know besides the steps, from a plan and its device."""

from __future__ import annotations

from dataclasses import dataclass

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.plan.assumptions import Assumed, Timing, assumed_values, timing_of
from lastscrew.plan.cautions import (
    HazardAt,
    Hold,
    bare_at_start,
    hazards_at_steps,
    holds_of,
    still_live_steps,
)
from lastscrew.plan.handling import (
    CableEnd,
    MovesAcross,
    TurnNote,
    cable_ends,
    moves_across,
    turn_notes,
)
from lastscrew.plan.materials import (
    FastenerOut,
    Loss,
    OrderLine,
    Use,
    act_tools,
    fasteners_out,
    losses_of,
    order_lines,
    tools_in_order,
    uses_of,
)
from lastscrew.plan.model import Limb, Plan
from lastscrew.plan.reasons import Reasons, reasons_of
from lastscrew.plan.walking import open_at_start
from lastscrew.times.elapsed import Waits, waits_of


@dataclass(frozen=True, slots=True)
class ActAt:
    """An act in its place.

    Attributes:
        act: Its id.
        limb: Way in or way out; the turning point belongs to the way in.
        joint: The step that it is tied to, None for none.
    """

    act: str
    limb: Limb
    joint: str | None


@dataclass(frozen=True, slots=True)
class Briefing:
    """What follows from a plan.

    Attributes:
        device: The device as the unit has it.
        plan: The plan.
        reasons: Why each step is there.
        timing: Ranges and sources of the times.
        waits: Heat, cure, drying: time that passes without hands.
        tools: Tools of the steps in order of first use; ``act_tools``: those that only acts need.
        opened_before: Joints that were open at the start.
        fasteners: What lies outside at the turning point.
        uses: What is used up, and where.
        order: What has to be there before the work begins.
        losses: What would be lost.
        hazards: Hazards at the steps where they bite; ``bare_hazards``: those of parts that lie bare
            before the first step.
        still_live: Steps inside the machine with the power on.
        holds: Hold points in the order of the work.
        acts: Acts in the order of the work.
        turns: What is loose at each turn.
        cable_ends: Cable ends to bring out before a part is seated.
        moves_across: What goes from the old part to the new one.
        assumed: What had to be assumed.
    """

    device: Device
    plan: Plan
    reasons: Reasons
    timing: Timing
    waits: Waits
    tools: tuple[str, ...]
    act_tools: tuple[str, ...]
    opened_before: tuple[str, ...]
    fasteners: tuple[FastenerOut, ...]
    uses: tuple[Use, ...]
    order: tuple[OrderLine, ...]
    losses: tuple[Loss, ...]
    hazards: tuple[HazardAt, ...]
    bare_hazards: tuple[str, ...]
    still_live: frozenset[tuple[Limb, str]]
    holds: tuple[Hold, ...]
    acts: tuple[ActAt, ...]
    turns: tuple[TurnNote, ...]
    cable_ends: tuple[CableEnd, ...]
    moves_across: tuple[MovesAcross, ...]
    assumed: tuple[Assumed, ...]

    @property
    def elapsed_ms(self) -> int:
        """Hands-on time and waiting, one after the other (checks apart)."""
        return self.plan.total_ms + self.waits.total_ms


def brief(device: Device, plan: Plan) -> Briefing:
    """Work out what follows from a plan.

    Args:
        device: The device, whole or reduced to what is fitted.
        plan: A plan that can be carried out.
    """
    fitted = fit(device, plan.request.not_fitted, plan.request.fitted)
    acts = _acts(plan)
    waits = waits_of(
        fitted,
        opened={step.joint for step in plan.way_in},
        closed=plan.open_at_turning,
        acts_in={at.act for at in acts if at.limb == "in"},
        acts_out={at.act for at in acts if at.limb == "out"},
    )
    return Briefing(
        device=fitted,
        plan=plan,
        reasons=reasons_of(fitted, plan),
        timing=timing_of(fitted, plan, waits),
        waits=waits,
        tools=tools_in_order(plan),
        act_tools=act_tools(fitted, plan),
        opened_before=open_at_start(plan),
        fasteners=fasteners_out(fitted, plan),
        uses=uses_of(fitted, plan),
        order=order_lines(fitted, plan),
        losses=losses_of(fitted, plan),
        hazards=hazards_at_steps(fitted, plan),
        bare_hazards=bare_at_start(fitted, plan),
        still_live=still_live_steps(fitted, plan),
        holds=holds_of(fitted, plan),
        acts=acts,
        turns=turn_notes(fitted, plan),
        cable_ends=cable_ends(fitted, plan),
        moves_across=moves_across(fitted, plan),
        assumed=assumed_values(fitted, plan),
    )


def _acts(plan: Plan) -> tuple[ActAt, ...]:
    """Acts in the order of the work."""
    found = [ActAt(act, "in", None) for act in plan.start_acts]
    found += [ActAt(act, "in", step.joint) for step in plan.way_in for act in step.act_ids]
    found += [ActAt(act, "in", None) for act in plan.turning_acts]
    found += [ActAt(act, "out", step.joint) for step in plan.way_out for act in step.act_ids]
    found += [ActAt(act, "out", None) for act in plan.end_acts]
    return tuple(found)
