"""A plan as the JSON object that other programs read; every key is described in docs/plan.md."""

from __future__ import annotations

from dataclasses import dataclass

from lastscrew.plan.briefing import Briefing
from lastscrew.plan.explaining import chain_as_json, closing_as_json, why_texts
from lastscrew.plan.materials import OrderLine
from lastscrew.plan.model import STEP_WEIGHT, Plan, Step
from lastscrew.plan.wording import listed, seconds
from lastscrew.proof.checks import Disturbed, Proof, because_text
from lastscrew.times.cost import labour_cost
from lastscrew.times.learning import batch_ms, crawford_unit
from lastscrew.times.ranges import TimeRange, time_range

Json = dict[str, object]


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch of like units with its learning rate (0.85: each doubling brings the time down by 15 %)."""

    units: int
    learning: float


def plan_as_json(briefing: Briefing, proof: Proof, batch: Batch | None) -> Json:
    """The whole object, keys in a fixed order."""
    plan = briefing.plan
    checks_ms = end_checks_ms(briefing, proof)
    return {
        **_totals(plan),
        **_limbs(briefing),
        "acts": _acts(briefing),
        "checks_s": seconds(checks_ms),
        "elapsed_s": seconds(briefing.elapsed_ms),
        "tools": list(briefing.tools),
        "fasteners_out": [
            {"joint": out.joint, "fastener": out.fastener, "count": out.count}
            for out in briefing.fasteners
        ],
        "supplies": [
            {"id": line.id, "amount": line.amount, "unit": line.unit}
            for line in briefing.order
            if line.kind == "supply"
        ],
        "hazards": [
            {
                "id": at.hazard,
                "joint": at.joint,
                "limb": at.limb,
                "cause": at.cause,
                "part": at.part,
            }
            for at in briefing.hazards
        ],
        "checks": [
            {
                "function": check.function,
                "because": check_reasons(briefing, check),
                "seconds": seconds(check_ms(briefing, check.function)),
            }
            for check in proof.checks
        ],
        "assumed": [
            {"path": x.path, "value": x.value, "kind": x.kind, "joint": x.joint, "why": x.why}
            for x in briefing.assumed
        ],
        **_asked(briefing),
        **_spread(briefing, proof),
        **_proof(proof, briefing),
        **_handling(briefing),
        "order": [_order_line(line) for line in briefing.order],
        "cost": cost_as_json(briefing, proof.check_ms),
        "batch": None if batch is None else batch_as_json(briefing, batch),
    }


def _totals(plan: Plan) -> Json:
    return {
        "total_s": seconds(plan.total_ms),
        "way_in_s": seconds(plan.way_in_ms),
        "way_out_s": seconds(plan.way_out_ms),
        "final_turn_s": seconds(plan.final_turn_ms),
        "lower_bound_s": seconds(plan.lower_bound_ms),
        "proven": plan.proven,
        "expanded": plan.expanded,
    }


def _limbs(briefing: Briefing) -> Json:
    plan, reasons = briefing.plan, briefing.reasons
    opening, closing = why_texts(briefing.device, plan, reasons)
    return {
        "way_in": [
            {
                **_step(briefing, step, opening[step.joint]),
                "chain": chain_as_json(reasons.opening[step.joint]),
            }
            for step in plan.way_in
        ],
        "way_out": [
            {
                **_step(briefing, step, closing[step.joint]),
                "place": closing_as_json(reasons.closing[step.joint]),
            }
            for step in plan.way_out
        ],
    }


def _step(briefing: Briefing, step: Step, why: str) -> Json:
    return {
        "joint": step.joint,
        "side": step.side,
        "tool": step.tool,
        "setup_s": seconds(step.setup_ms),
        "work_s": seconds(step.work_ms),
        "why": why,
        "access": step.access,
        "turn_s": seconds(step.turn_ms),
        "swap_s": seconds(step.swap_ms),
        "source": briefing.timing.sources[step.limb, step.joint],
        "still_live": (step.limb, step.joint) in briefing.still_live,
    }


def _acts(briefing: Briefing) -> list[Json]:
    acts = briefing.device.acts
    return [
        {
            "id": at.act,
            "limb": at.limb,
            "joint": at.joint,
            "seconds": seconds(acts[at.act].ms),
            "at": acts[at.act].at,
        }
        for at in briefing.acts
    ]


def _asked(briefing: Briefing) -> Json:
    plan, device = briefing.plan, briefing.device
    request = plan.request
    return {
        "device": {
            "id": device.id,
            "name": device.name,
            "revision": device.revision,
            "hash": device.revision_hash,
        },
        "asked": {
            "replace": list(request.replace),
            "reach": list(request.reach),
            "open": list(request.opened),
            "side": plan.start_side,
            "not_fitted": list(request.not_fitted),
            "fitted": list(request.fitted),
            "without": list(request.without),
            "objective": request.objective,
            "pace": request.pace,
        },
        "pieces": [
            {"piece": piece, "parts": list(parts)}
            for piece, parts in zip(request.replace, plan.pieces, strict=True)
        ],
        "objective_value": objective_value(plan, plan.objective_value),
        "objective_bound": objective_value(plan, plan.lower_bound),
        "stopped": plan.stopped,
        "missing_first": list(plan.missing_first),
    }


def objective_value(plan: Plan, value: int) -> object:
    """A value of the objective: seconds, or for the objective ``steps`` joints worked on and seconds."""
    if plan.request.objective == "steps":
        steps, ms = divmod(value, STEP_WEIGHT)
        return {"steps": steps, "seconds": seconds(ms)}
    return seconds(value)


def range_as_json(found: TimeRange) -> list[int | float]:
    """A range as two numbers of seconds."""
    return [seconds(found.low_ms), seconds(found.high_ms)]


def check_ms(briefing: Briefing, function: str) -> int:
    """How long a function's check takes, in milliseconds."""
    found = briefing.device.functions.get(function)
    return found.check_ms if found is not None else 0


def end_checks_ms(briefing: Briefing, proof: Proof) -> int:
    """Time of the checks at the end, those that gate a closing apart."""
    return sum(check_ms(briefing, check.function) for check in proof.checks)


def check_reasons(briefing: Briefing, check: Disturbed) -> str:
    """Why a function has to be tried, the weightiest reasons first."""
    return listed([because_text(briefing.device, x) for x in check.because], limit=3)


def _proof(proof: Proof, briefing: Briefing) -> Json:
    """What must be shown to work before a joint is closed, and identities."""
    return {
        "gates": [
            {
                "joint": gate.joint,
                "functions": list(gate.functions),
                "seconds": seconds(sum(check_ms(briefing, name) for name in gate.functions)),
                "power": None
                if gate.power is None
                else {
                    "isolators": list(gate.power.isolators),
                    "stay_open": list(gate.power.names),
                    "live": list(gate.power.live),
                    "hazards": list(gate.power.hazards),
                    "text": gate.power.text,
                },
                "in_vain": [{"function": name, "needs": joint} for name, joint in gate.in_vain],
            }
            for gate in proof.gates
        ],
        "identities": [
            {"part": x.part, "carry_over": x.carry_over, "write_serial": x.write_serial}
            for x in proof.identities
        ],
    }


def _spread(briefing: Briefing, proof: Proof) -> Json:
    timing, waits = briefing.timing, briefing.waits
    return {
        "total_range": range_as_json(timing.total),
        "way_in_range": range_as_json(timing.way_in),
        "way_out_range": range_as_json(timing.way_out),
        "elapsed_range": range_as_json(timing.elapsed),
        "waits_s": seconds(waits.total_ms),
        "waits": [{"id": key, "seconds": seconds(ms)} for key, ms in waits.because],
        "gates_s": seconds(proof.check_ms - end_checks_ms(briefing, proof)),
        "until_done_s": seconds(briefing.elapsed_ms + proof.check_ms),
        "times_from": {
            "device_file": timing.from_file,
            "table": timing.from_table,
            "assumed": timing.from_assumption,
        },
    }


def _handling(briefing: Briefing) -> Json:
    return {
        "act_tools": list(briefing.act_tools),
        "holds": [
            {
                "limb": hold.limb,
                "joint": hold.joint,
                "when": hold.when,
                "kind": hold.kind,
                "text": hold.text,
            }
            for hold in briefing.holds
        ],
        "losses": [
            {"text": loss.text, "joint": loss.joint, "part": loss.part, "exchanged": loss.exchanged}
            for loss in briefing.losses
        ],
        "bare_hazards": list(briefing.bare_hazards),
        "turns": [
            {
                "limb": note.limb,
                "before": note.before,
                "side": note.side,
                "loose": [
                    {"parts": list(x.parts), "hangs_on": list(x.hangs_on)} for x in note.loose
                ],
            }
            for note in briefing.turns
        ],
        "cable_ends": [
            {"joint": end.joint, "parts": list(end.parts), "cable": end.cable}
            for end in briefing.cable_ends
        ],
        "moves_across": [
            {"piece": x.piece, "parts": list(x.parts), "joints": list(x.joints)}
            for x in briefing.moves_across
        ],
        "washers_out": [
            {"joint": out.joint, "name": name, "count": count}
            for out in briefing.fasteners
            for name, count in out.washers.items()
        ],
        "used_up": [
            {
                "id": use.id,
                "kind": use.kind,
                "amount": use.amount,
                "joint": use.joint,
                "act": use.act,
                "included_with": use.included_with,
            }
            for use in briefing.uses
        ],
    }


def _order_line(line: OrderLine) -> Json:
    return {
        "id": line.id,
        "kind": line.kind,
        "name": line.name,
        "amount": line.amount,
        "unit": line.unit,
        "order_code": line.order_code,
        "price": line.price,
    }


def cost_as_json(briefing: Briefing, checks_ms: int) -> Json:
    """What the job costs, in the currency of the device file; prices that are not known are listed."""
    rate = briefing.plan.request.rate_per_h
    labour = labour_cost(briefing.plan.total_ms, rate)
    checking = labour_cost(checks_ms, rate)
    material = sum(line.cost or 0.0 for line in briefing.order)
    return {
        "rate_per_h": rate,
        "labour": round(labour, 2),
        "checking": round(checking, 2),
        "material": round(material, 2),
        "total": round(labour + checking + material, 2),
        "without_price": [line.id for line in briefing.order if line.price is None],
    }


def batch_ranges(briefing: Briefing, batch: Batch) -> tuple[TimeRange, TimeRange]:
    """Hands-on time of a batch and of one unit of it on average: off as one unit is, all together."""
    first_ms = briefing.plan.total_ms
    if not first_ms:
        return time_range(0), time_range(0)
    factor = batch_ms(first_ms, batch.units, batch.learning) / first_ms
    one = briefing.timing.total
    return one.scaled(factor), one.scaled(factor / batch.units)


def batch_as_json(briefing: Briefing, batch: Batch) -> Json:
    """Hands-on time of a batch of like units by Crawford's curve."""
    first_ms = briefing.plan.total_ms
    total_ms = batch_ms(first_ms, batch.units, batch.learning)
    last_ms = round(crawford_unit(first_ms, batch.units, batch.learning))
    return {
        "units": batch.units,
        "learning": batch.learning,
        "total_s": seconds(total_ms),
        "total_range": range_as_json(batch_ranges(briefing, batch)[0]),
        "first_s": seconds(first_ms),
        "last_s": seconds(last_ms),
        "mean_s": seconds(round(total_ms / batch.units)),
    }
