"""Walks a plan step by step and says everything that is wrong with it.

Reads the plan as a value or as the object that ``lastscrew plan --json`` prints. Nothing of what
the plan says about itself is believed: openings and closings are tried against the rules, and every
sum is made again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lastscrew.device.model import Device
from lastscrew.plan.model import Plan, Request, Step
from tests.oracle.rules import (
    Question,
    Times,
    Way,
    acts_at,
    acts_total_ms,
    ask,
    closable_by,
    objective_value,
    openable_by,
    reachable,
    swap_ms,
    turn_ms,
)


@dataclass(frozen=True)
class Claimed:
    """A step as the plan tells it; ``access`` None where it does not say which."""

    joint: str
    side: str
    tool: str | None
    setup_ms: int
    work_ms: int
    access: int | None = None
    turn_ms: int | None = None
    swap_ms: int | None = None


@dataclass(frozen=True)
class Told:
    """A plan as it tells itself; None where it is silent."""

    way_in: tuple[Claimed, ...]
    way_out: tuple[Claimed, ...]
    final_turn_ms: int
    way_in_ms: int
    way_out_ms: int
    total_ms: int
    lower_bound: int | None
    proven: bool
    objective_value: int | None = None
    lower_bound_ms: int | None = None


def violations(
    device: Device, request: Request, plan: Plan, times: Times | None = None
) -> list[str]:
    """Everything that is wrong with a plan; empty when it is sound."""
    question = ask(device, request, times)
    told = Told(
        way_in=tuple(_from_step(step) for step in plan.way_in),
        way_out=tuple(_from_step(step) for step in plan.way_out),
        final_turn_ms=plan.final_turn_ms,
        way_in_ms=plan.way_in_ms,
        way_out_ms=plan.way_out_ms,
        total_ms=plan.total_ms,
        lower_bound=plan.lower_bound,
        proven=plan.proven,
        objective_value=plan.objective_value,
        lower_bound_ms=plan.lower_bound_ms,
    )
    found = list(_walk(question, told))
    found += _labels(question, plan)
    return found


def violations_of_json(
    device: Device, request: Request, printed: Mapping[str, Any], times: Times | None = None
) -> list[str]:
    """Everything that is wrong with the object that the command prints; empty when it is sound."""
    question = ask(device, request, times)
    told = Told(
        way_in=tuple(_from_json(step) for step in printed["way_in"]),
        way_out=tuple(_from_json(step) for step in printed["way_out"]),
        final_turn_ms=milliseconds(printed["final_turn_s"]),
        way_in_ms=milliseconds(printed["way_in_s"]),
        way_out_ms=milliseconds(printed["way_out_s"]),
        total_ms=milliseconds(printed["total_s"]),
        lower_bound=None,
        proven=printed["proven"],
        lower_bound_ms=milliseconds(printed["lower_bound_s"]),
    )
    found = list(_walk(question, told))
    found += [f"{s['joint']}: no reason given" for s in printed["way_in"] if not s.get("why")]
    return found


def milliseconds(seconds: float) -> int:
    """Seconds as printed to whole milliseconds; anything finer is an error."""
    whole = round(seconds * 1000)
    if abs(seconds * 1000 - whole) > 1e-6:
        raise ValueError(f"{seconds} s is no whole number of milliseconds")
    return whole


def _from_step(step: Step) -> Claimed:
    return Claimed(
        step.joint, step.side, step.tool, step.setup_ms, step.work_ms, step.access,
        step.turn_ms, step.swap_ms,
    )  # fmt: skip


def _from_json(step: Mapping[str, Any]) -> Claimed:
    return Claimed(
        step["joint"],
        step["side"],
        step["tool"],
        milliseconds(step["setup_s"]),
        milliseconds(step["work_s"]),
    )


# --- the walk ---------------------------------------------------------------------------------


def _walk(question: Question, told: Told) -> Iterator[str]:
    turning = question.start | {step.joint for step in told.way_in}
    yield from _sets(question, told, turning)
    setup: tuple[str, str | None] = (question.start_side, None)
    opened = question.start
    for step in told.way_in:
        yield from _step(question, step, opened, setup, turning, limb="in")
        setup = (step.side, step.tool)
        opened |= {step.joint}
    setup = (setup[0], None)  # the exchange is done with the hands
    for step in told.way_out:
        yield from _step(question, step, opened, setup, turning, limb="out")
        setup = (step.side, step.tool)
        opened -= {step.joint}
    if opened:
        yield f"left open at the end: {sorted(opened)}"
    final = turn_ms(question, setup[0], question.first_side)
    if told.final_turn_ms != final:
        yield f"final turn is {told.final_turn_ms} ms, should be {final}"
    yield from _isolation(question, told)
    yield from _sums(question, told, turning)


def _sets(question: Question, told: Told, turning: frozenset[str]) -> Iterator[str]:
    missing = question.required - turning
    if missing:
        yield f"not open at the turning point: {sorted(missing)}"
    if not reachable(question, turning, frozenset()):
        yield "the set open at the turning point can't be reached from all closed"
    forbidden = question.forbidden & {step.joint for step in told.way_in}
    if forbidden:
        yield f"opened although forbidden: {sorted(forbidden)}"
    closed = sorted(step.joint for step in told.way_out)
    if closed != sorted(turning):
        yield f"closed {closed}, open at the turning point {sorted(turning)}"


def _step(
    question: Question,
    step: Claimed,
    opened: frozenset[str],
    setup: tuple[str, str | None],
    turning: frozenset[str],
    *,
    limb: str,
) -> Iterator[str]:
    where = f"{limb} {step.joint}"
    if step.joint not in question.bonds:
        yield f"{where}: no such joint in this unit"
        return
    if step.tool is not None and step.tool not in question.swap_ms:
        yield f"{where}: no such tool as {step.tool}"
        return
    if (step.joint in opened) == (limb == "in"):
        yield f"{where}: it is {'open' if limb == 'in' else 'closed'} already"
        return
    able = openable_by if limb == "in" else closable_by
    allowed = able(question, step.joint, opened)
    if not allowed:
        yield f"{where}: not allowed at its turn"
        return
    turn = turn_ms(question, setup[0], step.side)
    swap = swap_ms(question, setup[1], step.tool)
    if step.setup_ms != turn + swap:
        yield f"{where}: setup {step.setup_ms} ms, should be {turn + swap}"
    if step.turn_ms not in (None, turn) or step.swap_ms not in (None, swap):
        yield f"{where}: turn {step.turn_ms} and swap {step.swap_ms}, should be {turn} and {swap}"
    acts = _act_ms(question, step.joint, turning, limb)
    if not any(_fits(way, step, acts, limb) for way in allowed):
        yield f"{where}: no allowed access has side {step.side}, tool {step.tool}, work {step.work_ms} ms"


def _act_ms(question: Question, joint: str, turning: frozenset[str], limb: str) -> int:
    verb = "open" if limb == "in" else "close"
    times = (f"before_{verb}", f"after_{verb}")
    return sum(act.ms for at in times for act in acts_at(question, turning, at, joint))


def _fits(way: Way, step: Claimed, act_ms: int, limb: str) -> bool:
    tool, work = (way.tool, way.open_ms) if limb == "in" else (way.close_tool, way.close_ms)
    return (
        step.access in (None, way.index)
        and step.side == way.side
        and step.tool == tool
        and step.work_ms == work + act_ms
    )


def _isolation(question: Question, told: Told) -> Iterator[str]:
    """Isolation comes before any live joint, and goes back after the last of them."""
    live = {b.id for b in question.bonds.values() if b.live and not b.isolates}
    isolated = set(question.start)
    for step in told.way_in:
        if step.joint in live and not question.isolators <= isolated:
            yield f"in {step.joint}: opened live"
        isolated.add(step.joint)
    still_open = isolated & live
    for step in told.way_out:
        if step.joint in question.isolators and still_open - {step.joint}:
            yield f"out {step.joint}: power is back before {sorted(still_open)}"
        still_open.discard(step.joint)


def _sums(question: Question, told: Told, turning: frozenset[str]) -> Iterator[str]:
    way_in = sum(step.setup_ms + step.work_ms for step in told.way_in)
    way_in += _untied_ms(question, turning, "start") + _untied_ms(question, turning, "turning")
    way_out = sum(step.setup_ms + step.work_ms for step in told.way_out)
    way_out += told.final_turn_ms + _untied_ms(question, turning, "end")
    for name, claimed, true in (
        ("way in", told.way_in_ms, way_in),
        ("way out", told.way_out_ms, way_out),
        ("total", told.total_ms, way_in + way_out),
    ):
        if claimed != true:
            yield f"{name} is said to be {claimed} ms, the sum is {true}"
    yield from _proof(question, told, turning, way_in + way_out)


def _untied_ms(question: Question, turning: frozenset[str], at: str) -> int:
    return sum(act.ms for act in acts_at(question, turning, at))


def _proof(question: Question, told: Told, turning: frozenset[str], total: int) -> Iterator[str]:
    value = objective_value(question, turning, total)
    if told.objective_value not in (None, value):
        yield f"objective is said to be {told.objective_value}, it is {value}"
    if told.lower_bound is not None:
        if told.lower_bound > value:
            yield f"lower bound {told.lower_bound} is above the value {value}"
        if told.proven != (told.lower_bound == value):
            yield f"proven is {told.proven} with bound {told.lower_bound} and value {value}"
    if told.lower_bound_ms is not None:
        if told.lower_bound_ms > total:
            yield f"lower bound {told.lower_bound_ms} ms is above the total {total}"
        if question.objective == "time" or told.proven:
            if told.proven != (told.lower_bound_ms == total):
                yield f"proven is {told.proven} with bound {told.lower_bound_ms} ms and total {total}"


# --- what a plan says about itself besides ----------------------------------------------------


def _labels(question: Question, plan: Plan) -> Iterator[str]:
    turning = plan.open_at_turning
    if plan.start_side != question.start_side:
        yield f"start side {plan.start_side}, should be {question.start_side}"
    for name, ids, at in (
        ("start acts", plan.start_acts, "start"),
        ("turning acts", plan.turning_acts, "turning"),
        ("end acts", plan.end_acts, "end"),
    ):
        true = sorted(act.id for act in acts_at(question, turning, at))
        if sorted(ids) != true:
            yield f"{name} are {sorted(ids)}, should be {true}"
    told_ms = 0
    by_id = {act.id: act for act in question.acts}
    for step in (*plan.way_in, *plan.way_out):
        verb = "open" if step.limb == "in" else "close"
        true_ids = [
            act.id
            for at in (f"before_{verb}", f"after_{verb}")
            for act in acts_at(question, turning, at, step.joint)
        ]
        if sorted(step.act_ids) != sorted(true_ids):
            yield f"{step.limb} {step.joint}: acts {step.act_ids}, should be {true_ids}"
        if step.act_ms != sum(by_id[name].ms for name in true_ids):
            yield f"{step.limb} {step.joint}: acts are said to take {step.act_ms} ms"
        told_ms += step.act_ms
    untied = sum(_untied_ms(question, turning, at) for at in ("start", "turning", "end"))
    if told_ms + untied != acts_total_ms(question, turning):
        yield "the acts of the steps and the others do not make up all acts"
    yield from _limbs(plan.way_in, "in")
    yield from _limbs(plan.way_out, "out")
    outside = set(plan.missing_first) - {step.joint for step in plan.way_in}
    if outside:
        yield f"said to be opened first, but not on the way in: {sorted(outside)}"


def _limbs(steps: Sequence[Step], limb: str) -> Iterator[str]:
    for step in steps:
        if step.limb != limb:
            yield f"{step.joint} stands on limb {step.limb}, should be {limb}"
