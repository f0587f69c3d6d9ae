"""The planner: from a device and a request to the provably cheapest safe way in and way out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from lastscrew.device.fitting import device_parts_in, fit, joints_around
from lastscrew.device.model import Device
from lastscrew.plan.acts import (
    CLOSING_TIMES,
    OPENING_TIMES,
    ActsDone,
    acts_done,
    may_apply,
    replaced_ids,
)
from lastscrew.plan.asking import check_request
from lastscrew.plan.compiled import Rules
from lastscrew.plan.handwork import natural_way_in, natural_way_out
from lastscrew.plan.model import STEP_WEIGHT, Limb, Plan, Request, Step, StopRule
from lastscrew.plan.repair import missed_chains
from lastscrew.plan.search import Found, Outcome, Search, UnreachableError
from lastscrew.plan.selection import ConditionalAct, Question
from lastscrew.problems import InputError, Problem
from lastscrew.saying import say
from lastscrew.times.work import work_times

MS_PER_HOUR = 3_600_000

Costs = Mapping[str, tuple[tuple[int, int], ...]]


@dataclass(frozen=True, slots=True)
class _Job:
    """A request against a fitted device, with everything that both search and steps need."""

    device: Device
    request: Request
    pieces: tuple[tuple[str, ...], ...]
    work_ms: Costs
    replaced: frozenset[str]
    rules: Rules
    question: Question


def plan(device: Device, request: Request, stop: StopRule | None = None) -> Plan:
    """Find the cheapest way in and way out.

    Args:
        device: The whole device, as read from its file.
        request: What to exchange, what to reach, where the work stands.
        stop: When to give up and hand back the best plan so far with its bound.

    Returns:
        The plan. Without a stop rule it is proven; the same device and request give the same plan,
        whatever the order of keys in the file.

    Raises:
        InputError: The request names something unknown or can't be met; all problems at once.

    The search grows with the number of choices that the machine really offers (joints that only
    some ways in need), not with the number of joints: see ``lastscrew.plan.search``.
    """
    problems = check_request(device, request)
    if problems:
        raise InputError(problems)
    stop = stop or StopRule()
    job = _job(fit(device, request.not_fitted, request.fitted), request)
    expanded = floor = 0
    while True:
        search = Search(job.question, stop=stop, expanded=expanded)
        try:
            outcome = search.run()
        except UnreachableError as error:
            raise InputError(_unreachable(job, error)) from None
        expanded, floor = outcome.expanded, max(floor, outcome.bound)
        if outcome.best is None:
            raise InputError([_stopped_too_early()])
        missed = missed_chains(job.device, job.rules, outcome.best)
        if not missed:
            return _assemble(job, replace(outcome, bound=floor), outcome.best)
        for index, access, chain in missed:
            job.rules.add_chain(index, access, chain)


def _job(device: Device, request: Request) -> _Job:
    pieces = tuple(device_parts_in(device, piece) for piece in request.replace)
    times = work_times(device, request.pace)
    work_ms = {
        joint_id: tuple((time.open_ms, time.close_ms) for time in of_access)
        for joint_id, of_access in times.items()
    }
    replaced = replaced_ids(device, request)
    rules = Rules(device, _costs(device, request, work_ms, replaced))
    required = {joint for piece in pieces for joint in joints_around(device, piece)}
    question = Question(
        rules=rules,
        required=rules.mask(required | set(request.reach)),
        opened=rules.mask(request.opened),
        banned=rules.mask(j for j in request.without if j in device.joints),
        start_side=0 if request.side is None else device.sides.index(request.side),
        turn_cost=device.turn_ms,
        swap_cost=tuple(0 if t is None else device.tools[t].swap_ms for t in rules.tool_ids),
        acts=_conditional_acts(device, rules, replaced),
    )
    return _Job(device, request, pieces, work_ms, replaced, rules, question)


# --- costs ------------------------------------------------------------------------------------


def damage_ms(device: Device, request: Request, joint_id: str) -> int:
    """Expected damage of opening a joint, as milliseconds of labour of the same price."""
    if request.rate_per_h <= 0:
        return 0
    price = sum(
        chance * (device.parts[part].price or 0.0)
        for part, chance in device.joints[joint_id].damage.items()
        if part in device.parts
    )
    return round(price * MS_PER_HOUR / request.rate_per_h)


def _costs(device: Device, request: Request, work_ms: Costs, replaced: frozenset[str]) -> Costs:
    """Opening and closing of every access in units of the objective, with acts that are always done."""
    opening, closing = dict.fromkeys(device.joints, 0), dict.fromkeys(device.joints, 0)
    for act in device.acts.values():
        if act.joint is not None and may_apply(act, replaced):
            if act.at in OPENING_TIMES:
                opening[act.joint] += act.ms
            elif act.at in CLOSING_TIMES:
                closing[act.joint] += act.ms
    step = STEP_WEIGHT if request.objective == "steps" else 0
    costs: dict[str, tuple[tuple[int, int], ...]] = {}
    for joint_id, of_access in work_ms.items():
        risk = damage_ms(device, request, joint_id) if request.objective == "risk" else 0
        costs[joint_id] = tuple(
            (open_ms + opening[joint_id] + risk + step, close_ms + closing[joint_id] + step)
            for open_ms, close_ms in of_access
        )
    return costs


def _conditional_acts(
    device: Device, rules: Rules, replaced: frozenset[str]
) -> tuple[ConditionalAct, ...]:
    """Acts whose cost depends on which joints are opened beyond the one they are tied to."""
    found = []
    for act in sorted(device.acts.values(), key=lambda a: a.id):
        always = may_apply(act, replaced)
        if always and (act.joint is None or act.at in (*OPENING_TIMES, *CLOSING_TIMES)):
            continue
        found.append(
            ConditionalAct(
                joint=rules.mask([act.joint]) if act.joint else 0,
                opening=act.at in OPENING_TIMES,
                when_opened=0 if always else rules.mask(act.when_opened),
                always=always,
                cost=act.ms,
            )
        )
    return tuple(found)


# --- from the search to the plan --------------------------------------------------------------


def _assemble(job: _Job, outcome: Outcome, found: Found) -> Plan:
    device, request, rules = job.device, job.request, job.rules
    turning = set(rules.ids(found.turning))
    opened = turning - set(request.opened)
    done = acts_done(device, job.replaced, opened, turning)
    start_side = request.side or device.sides[0]
    order_in = natural_way_in(device, rules, found.way_in, job.question.opened)
    order_out = natural_way_out(rules, found.way_out, order_in)
    way_in, middle = _steps(job, done, order_in, "in", start_side)
    way_out, last = _steps(job, done, order_out, "out", middle)
    final_turn = device.turn_ms if last != device.sides[0] else 0
    in_ms = _sum(way_in) + sum(act.ms for act in (*done.start, *done.turning))
    out_ms = _sum(way_out) + final_turn + sum(act.ms for act in done.end)
    untied = _untied_always_ms(job)
    value = found.cost + untied
    bound = value if outcome.proven else min(value, outcome.bound + untied)
    total = in_ms + out_ms
    timed = request.objective == "time"
    return Plan(
        request=request,
        pieces=job.pieces,
        way_in=way_in,
        way_out=way_out,
        start_side=start_side,
        final_turn_ms=final_turn,
        start_acts=tuple(act.id for act in done.start),
        turning_acts=tuple(act.id for act in done.turning),
        end_acts=tuple(act.id for act in done.end),
        way_in_ms=in_ms,
        way_out_ms=out_ms,
        total_ms=total,
        objective_value=value,
        lower_bound=bound,
        lower_bound_ms=bound if timed else total if outcome.proven else 0,
        proven=outcome.proven,
        expanded=outcome.expanded,
        stopped=outcome.stopped,
        missing_first=_missing_first(job, found.turning),
    )


def _sum(steps: tuple[Step, ...]) -> int:
    return sum(step.setup_ms + step.work_ms for step in steps)


def _untied_always_ms(job: _Job) -> int:
    """Acts at the start, the turning point and the end that every plan for this request does."""
    return sum(
        act.ms
        for act in job.device.acts.values()
        if act.joint is None and may_apply(act, job.replaced)
    )


def _steps(
    job: _Job, done: ActsDone, order: tuple[tuple[int, int], ...], limb: Limb, side: str
) -> tuple[tuple[Step, ...], str]:
    """Steps with their setups, and the side that faces up after the last."""
    device, hand = job.device, None
    steps: list[Step] = []
    for index, number in order:
        joint = device.joints[job.rules.joint_ids[index]]
        access = joint.accesses[number]
        tool = access.tool if limb == "in" else access.close_tool
        before = done.at_step.get((joint.id, limb, True), ())
        after = done.at_step.get((joint.id, limb, False), ())
        act_ms = sum(act.ms for act in (*before, *after))
        times = job.work_ms[joint.id][number]
        steps.append(
            Step(
                joint=joint.id,
                limb=limb,
                access=number,
                side=access.side,
                tool=tool,
                turn_ms=device.turn_ms if access.side != side else 0,
                swap_ms=device.tools[tool].swap_ms if tool is not None and tool != hand else 0,
                work_ms=(times[0] if limb == "in" else times[1]) + act_ms,
                act_ids=tuple(act.id for act in (*before, *after)),
                act_ms=act_ms,
            )
        )
        side, hand = access.side, tool
    return tuple(steps), side


def _missing_first(job: _Job, turning: int) -> tuple[str, ...]:
    """Joints opened only because they lie in front of joints that are open already."""
    question = job.question
    if not question.opened:
        return ()
    search = Search(question)
    by_start = search.forced_by(question.opened) & ~search.forced_by(question.required)
    return job.rules.ids(by_start & turning & ~question.opened)


# --- when there is no plan --------------------------------------------------------------------


def _unreachable(job: _Job, error: UnreachableError) -> list[Problem]:
    problems = []
    for joint_id in job.rules.ids(error.joints):
        banned = bool(job.question.banned & job.question.required & job.rules.mask([joint_id]))
        why = say("it may not be opened") if banned else say("no order of openings reaches it")
        problems.append(
            Problem(
                say('Joint "{joint_id}" can\'t be opened: {why}.', joint_id=joint_id, why=why),
                say(
                    "Ask for less, allow the joints that were ruled out, or mend its access in the device file."
                ),
                path=f"joints.{joint_id}",
                code="unreachable",
            )
        )
    return problems


def _stopped_too_early() -> Problem:
    return Problem(
        say("The search was stopped before it found a first plan."),
        say("Give it more time."),
        path="limit",
        code="stopped",
    )
