"""A proposal as JSON. Costs are seconds, or money where an hour has a price."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lastscrew.faults.advice import Advice, Outcome, Proposal
from lastscrew.faults.learning import Count, Learnt
from lastscrew.faults.model import FaultModel
from lastscrew.faults.sensitivity import Flip
from lastscrew.faults.simulation import Outcome as Simulated
from lastscrew.faults.strategy import Twig
from lastscrew.faults.works import WORKS, Work

Json = dict[str, Any]


def cost(value: float) -> float:
    """Milliseconds or a ten-thousandth of a coin are enough."""
    return round(value, 4)


def advice_as_json(advice: Advice, found: Sequence[Flip]) -> Json:
    """The proposal with everything beside it."""
    model, rival = advice.model, advice.runner_up
    return {
        "posterior": [{"fault": f, "p": round(p, 9)} for f, p in advice.posterior],
        "mended": round(advice.sound, 9),
        "next": _next(model, advice.next) if advice.next is not None else _works(advice),
        "expected_cost": cost(advice.expected_cost),
        "lower_bound": cost(advice.lower_bound),
        "proven": advice.proven,
        "unit": "s" if model.openings.rate_per_h is None else "money",
        "runner_up": None
        if rival is None
        else {
            "kind": rival.kind,
            "id": rival.id,
            "expected_cost": cost(rival.expected_cost),
            "margin": cost(rival.margin),
        },
        "flips": [
            {
                "number": flip.what,
                "fault": flip.fault,
                "now": round(flip.now, 6),
                "flips_at": round(flip.flips_at, 6),
                "factor": round(flip.factor, 4),
                "then": flip.other,
            }
            for flip in found
        ],
        "second_fault": round(sum(model.prior[len(model.faults) :]), 6),
        "unfolded": advice.unfolded,
        "remarks": list(advice.remarks),
        "doubts": list(advice.doubts),
    }


def _works(advice: Advice) -> Json:
    """Nothing is left to find: only closing."""
    return {
        "kind": "stop",
        "id": WORKS,
        "expected_cost": cost(advice.expected_cost),
        "why": "The device's own check was passed.",
    }


def _next(model: FaultModel, proposal: Proposal) -> Json:
    ids = model.openings.rules.joint_ids
    work = proposal.work
    return {
        "kind": proposal.kind,
        "id": proposal.id,
        "expected_cost": cost(proposal.expected_cost),
        "why": proposal.why,
        "name": proposal.name,
        "text": proposal.text,
        "own_cost": cost(proposal.own_cost),
        "opening_cost": cost(proposal.opening_cost),
        "cost_after": cost(proposal.cost_after),
        "opens": [ids[s.joint] for s in proposal.steps if s.opening],
        "closes": [ids[s.joint] for s in proposal.steps if not s.opening],
        "outcomes": [_outcome(outcome) for outcome in proposal.outcomes],
        "hold": proposal.cautions.hold,
        "live": list(proposal.cautions.live),
        "hazards": [
            {"id": h.id, "signal": h.signal, "text": h.text} for h in proposal.cautions.hazards
        ],
        "trained": proposal.cautions.trained,
        "assumed": [] if work is None else list(work.assumed),
        **({} if work is None else _tools(work)),
    }


def _tools(work: Work) -> Json:
    return {"power": work.power, "tool": work.tool, "instrument": work.instrument}


def _outcome(outcome: Outcome) -> Json:
    return {
        "outcome": outcome.name,
        "chance": round(outcome.chance, 9),
        "likeliest": [{"fault": f, "p": round(p, 9)} for f, p in outcome.likeliest],
        "then": outcome.then,
        "expected_cost": cost(outcome.expected_cost),
    }


def tree_as_json(tree: Twig) -> Json:
    """The whole strategy."""
    return {
        "kind": tree.kind,
        "id": tree.id,
        "chance": round(tree.chance, 9),
        "expected_cost": cost(tree.expected_cost),
        "branches": [{"outcome": name, **tree_as_json(below)} for name, below in tree.branches],
    }


def learnt_as_json(learnt: Learnt) -> Json:
    """What closed jobs have taught, as counts."""
    return {
        "jobs": learnt.jobs,
        "priors": [{"fault": f, **_count(count)} for f, count in sorted(learnt.priors.items())],
        "chances": [
            {"check": check, "fault": fault, "outcome": outcome, **_count(count)}
            for (check, fault, outcome), count in sorted(learnt.chances.items())
        ],
        "symptoms": [
            {"symptom": symptom, "fault": fault, **_count(count)}
            for (symptom, fault), count in sorted(learnt.symptoms.items())
        ],
        "several_faults": list(learnt.several),
        "unknown": list(learnt.unknown),
    }


def _count(count: Count) -> Json:
    return {
        "given": round(count.given, 9),
        "strength": count.strength,
        "seen": count.seen,
        "of": count.of,
        "value": round(count.value, 9),
    }


def simulation_as_json(results: Sequence[Simulated], jobs: int, seed: int) -> Json:
    """Mean and spread of each strategy."""
    return {
        "jobs": jobs,
        "seed": seed,
        "strategies": [
            {
                "name": r.name,
                "mean": cost(r.mean),
                "spread": cost(r.spread),
                "error": cost(r.error),
                "works": round(r.works, 6),
            }
            for r in results
        ],
    }
