"""Answers beside the plan: why a joint, what a restriction costs, how far times may be wrong."""

from __future__ import annotations

from dataclasses import dataclass

from lastscrew.cli.columns import wrap
from lastscrew.device.model import Device
from lastscrew.paper.plan_json import Json, objective_value
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.explaining import chain_as_json, closing_as_json, closing_text, opening_text
from lastscrew.plan.model import STEP_WEIGHT, Plan
from lastscrew.plan.robustness import Robustness, Tolerance
from lastscrew.plan.wording import clock, joint_name, listed, marked, seconds, verb


@dataclass(frozen=True, slots=True)
class Comparison:
    """A plan under a restriction and the one without it."""

    plan: Plan
    free: Plan

    @property
    def extra(self) -> int:
        """What the restriction costs, in units of the objective."""
        return self.plan.objective_value - self.free.objective_value

    @property
    def proven(self) -> bool:
        """True when both are proven."""
        return self.plan.proven and self.free.proven


# --- why --------------------------------------------------------------------------------------


def why_as_json(briefing: Briefing, joint_id: str) -> Json:
    """Why a joint is opened and when it is closed, or that it stays closed."""
    device, plan, reasons = briefing.device, briefing.plan, briefing.reasons
    chain = reasons.opening.get(joint_id)
    if chain is None:
        return {
            "joint": joint_id,
            "opened": False,
            "why": closed_words(briefing, joint_id),
            "chain": [],
        }
    closing = reasons.closing[joint_id]
    return {
        "joint": joint_id,
        "opened": True,
        "why": opening_text(device, plan, chain),
        "chain": chain_as_json(chain),
        "closed": closing_text(device, closing),
        "place": closing_as_json(closing),
        "needs": list(reasons.needs.get(joint_id, ())),
    }


def why_words(briefing: Briefing, joint_id: str, width: int) -> list[str]:
    """The same as lines."""
    device, plan, reasons = briefing.device, briefing.plan, briefing.reasons
    name = joint_name(device, joint_id)
    chain = reasons.opening.get(joint_id)
    if chain is None:
        return wrap(f"{name}: {closed_words(briefing, joint_id)}", width, hang=2)
    is_open = joint_id in briefing.opened_before
    number = next((i for i, s in enumerate(plan.way_in, 1) if s.joint == joint_id), None)
    out = next(i for i, s in enumerate(plan.way_out, len(plan.way_in) + 1) if s.joint == joint_id)
    opened = "Open" if is_open else f"Step {number}, opened"
    lines = wrap(name, width)
    lines += wrap(f"{opened} {opening_text(device, plan, chain)}.", width, indent=2, hang=4)
    text = closing_text(device, reasons.closing[joint_id])
    lines += wrap(f"Step {out}, closed: {text}.", width, indent=2, hang=4)
    return lines


def closed_words(briefing: Briefing, joint_id: str) -> str:
    """Why a joint is not opened."""
    if joint_id not in briefing.device.joints:
        return "is not fitted to this unit"
    if joint_id in briefing.plan.request.without:
        return "stays closed: it may not be opened"
    if briefing.plan.proven:
        return "stays closed: the cheapest way to what was asked for does not need it open"
    return "stays closed: the best way found does not need it open"


# --- without ----------------------------------------------------------------------------------


def comparison_as_json(comparison: Comparison) -> Json:
    """What a restriction costs."""
    plan, free = comparison.plan, comparison.free
    avoided = sorted(set(plan.request.without) & free.open_at_turning)
    return {
        "joints": list(plan.request.without),
        "extra_s": seconds(plan.total_ms - free.total_ms),
        "total_s": seconds(plan.total_ms),
        "unrestricted_total_s": seconds(free.total_ms),
        "objective_extra": objective_value(plan, comparison.extra),
        "would_be_opened": avoided,
        "opened_instead": sorted(plan.open_at_turning - free.open_at_turning),
        "proven": comparison.proven,
    }


def comparison_words(device: Device, comparison: Comparison, width: int) -> list[str]:
    """The same as lines."""
    plan, free = comparison.plan, comparison.free
    names = [marked(joint_name(device, j)) for j in plan.request.without if j in device.joints]
    avoided = set(plan.request.without) & free.open_at_turning
    if not avoided:
        stay = verb(names[0].strip("*"), "stay", "stays") if len(names) == 1 else "stay"
        return wrap(f"Without {listed(names)}: costs nothing, {stay} closed anyway.", width, hang=2)
    instead = sorted(plan.open_at_turning - free.open_at_turning)
    words = (
        f"Without {listed(names)}: {_difference(comparison)} "
        f"({clock(plan.total_ms)} instead of {clock(free.total_ms)})"
    )
    if instead:
        words += f"; opened instead: {listed([joint_name(device, j) for j in instead])}"
    if not comparison.proven:
        words += "; one of the two is not proven to be the least"
    return wrap(words + ".", width, hang=2)


def _difference(comparison: Comparison) -> str:
    extra_ms = comparison.plan.total_ms - comparison.free.total_ms
    words = f"{abs(extra_ms) / 1000:g} s {'more' if extra_ms >= 0 else 'less'}"
    if comparison.plan.request.objective == "steps":
        words += f", {comparison.extra // STEP_WEIGHT} more joints worked on"
    return words


# --- robust -----------------------------------------------------------------------------------


def robust_as_json(found: Robustness) -> Json:
    """How far each time may be wrong; ``room_s`` null: no change of this time makes another way win."""
    critical = found.critical
    return {
        "factor": None if found.factor is None else round(found.factor, 3),
        "critical": None if critical is None else critical.joint,
        "joints": [
            {
                "joint": x.joint,
                "opened": x.opened,
                "work_s": seconds(x.work_ms),
                "room_s": None if x.room_ms is None else seconds(x.room_ms),
                "factor": None if x.factor is None else round(x.factor, 3),
                "instead": list(x.instead),
                "exact": x.exact,
            }
            for x in found.tolerances
        ],
        "not_tried": list(found.not_tried),
    }


def robust_words(briefing: Briefing, found: Robustness, width: int) -> list[str]:
    """The same as lines: the summary, then the joints that matter, the touchiest first."""
    lines = wrap(_summary(briefing, found), width, hang=2)
    touchy = [x for x in found.tolerances if x.factor is not None]
    for x in sorted(touchy, key=lambda x: (x.factor or 0.0, x.joint)):
        lines.extend(wrap(_tolerance_words(briefing, x), width, indent=2, hang=4))
    others = sum(x.factor is None for x in found.tolerances)
    if others:
        lines.extend(
            wrap(
                f"{others} {'other ' if touchy else ''}{'joint' if others == 1 else 'joints'}: "
                "no change of its own time alone matters.",
                width,
                indent=2,
            )
        )
    if found.not_tried:
        names = [joint_name(briefing.device, j) for j in found.not_tried]
        lines.extend(
            wrap(f"Not tried, time ran out: {listed(names, limit=8)}.", width, indent=2, hang=4)
        )
    return lines


def _summary(briefing: Briefing, found: Robustness) -> str:
    critical = found.critical
    if critical is None or found.factor is None:
        return "Times: no single one changes which way is best."
    name = marked(joint_name(briefing.device, critical.joint))
    return (
        f"Times: any one of them may be wrong by a factor of {found.factor:.2f} before another way wins "
        f"(first {name}). Several wrong at once are not covered by this."
    )


def _tolerance_words(briefing: Briefing, x: Tolerance) -> str:
    device = briefing.device
    name = joint_name(device, x.joint)
    least = "" if x.exact else "at least "
    room = (x.room_ms or 0) / 1000
    if x.opened:
        words = f"{name}, {x.work_ms / 1000:g} s: may take {least}{room:g} s more"
    else:
        words = f"{name}, left closed, {x.work_ms / 1000:g} s: would have to take {least}{room:g} s less"
    others = [joint_name(device, j) for j in x.instead if j != x.joint]
    return words + (f"; then opened instead: {listed(others, limit=4)}" if others else "")
