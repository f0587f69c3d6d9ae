"""The plan that a job follows: made once, followed as long as it fits, made anew when it does not.

Whoever opens the work page, on whatever screen, gets the same steps in the same order: the plan is made from
the last event that changed what is to be done (a target added, a joint that can't be reached …), and what
has happened since is ticked off. Where what happened is not what was planned, or leaves the rest
impossible, the plan is made from where the job stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from lastscrew.bench.work.contradictions import as_found, contradictions
from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.device.opening import accesses_that_allow
from lastscrew.plan.briefing import Briefing, brief
from lastscrew.plan.model import Limb, Plan, Request, StopRule
from lastscrew.plan.planner import plan as make_plan
from lastscrew.problems import InputError, Problem
from lastscrew.run import events as e
from lastscrew.run.folding import fold, in_force
from lastscrew.run.state import JobState, parts_of, request_from
from lastscrew.saying import say

MOST_STATES = 30_000
"""The bench waits for a plan: a search that is longer gives its best plan so far. Counted in states, not
seconds, so that every screen gets the same plan; the demo machines need fewer than 1,000."""

Planner = Callable[[Device, Request], Plan]


@dataclass(frozen=True, slots=True)
class Course:
    """The plan of a job and how far it is.

    Attributes:
        device: The device as fitted, and as this job found it.
        plan, briefing: What is followed; None when nothing is left to open, close or exchange, or where
            no way leads on (``problems``).
        done: (joint, limb) of the steps that are done.
        exchanged: Pieces of ``plan.request.replace`` that were exchanged since the plan was made.
        since: How many events had happened when the plan was made.
        problems: Why there is no plan, empty where there is one or none is needed.
        notes: What a person should know about the plan, in sentences.
    """

    device: Device
    plan: Plan | None
    briefing: Briefing | None
    done: frozenset[tuple[str, Limb]]
    exchanged: frozenset[str]
    since: int
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


def plan_within_reason(device: Device, request: Request) -> Plan:
    """Plan, but not for ever."""
    return make_plan(device, request, StopRule(work=MOST_STATES))


def course_of(device: Device, state: JobState, planner: Planner = plan_within_reason) -> Course:
    """The plan that a job follows from here.

    Args:
        device: The whole device, of the revision that the job keeps.
        state: How the job stands, with its log.
        planner: Plans a request on a device (the bench keeps what it planned before).
    """
    events = in_force(state.log)
    anchor = _last_change(events)
    course = _course(device, state, events, anchor, planner)
    if anchor < len(events) and not _fits(course, state):
        course = _course(device, state, events, len(events), planner)
    return course


_CHANGES = (e.Started, e.TargetAdded, e.TargetDropped, e.Unreachable)


def _last_change(events: Sequence[e.Event]) -> int:
    """How many events there were when what is to be done last changed, that event included."""
    for number in range(len(events) - 1, -1, -1):
        what = events[number].what
        dead = isinstance(what, e.PartJudged) and what.state == "dead_on_arrival"
        if isinstance(what, _CHANGES) or dead:
            return number + 1
    return len(events)


def _course(
    device: Device, state: JobState, events: Sequence[e.Event], anchor: int, planner: Planner
) -> Course:
    before = state if anchor == len(events) else fold(device, events[:anchor])
    request = request_from(device, before)
    if before.check_on:
        request = _with_isolators(request, before)
    found = as_found(device, contradictions(device, events))
    plan, problems, notes = _planned(device, found, request, planner)
    fitted = fit(found if not notes else device, state.not_fitted, state.fitted)
    since = events[anchor:]
    return Course(
        device=fitted,
        plan=plan,
        briefing=brief(fitted, plan) if plan is not None else None,
        done=_done(plan, state, since),
        exchanged=_exchanged(device, request, since),
        since=anchor,
        problems=problems,
        notes=notes,
    )


def _with_isolators(request: Request, state: JobState) -> Request:
    """While a powered check is on its isolating joints are closed; the rest is planned as if they were open."""
    opened = dict.fromkeys((*request.opened, *state.check_isolators))
    return Request(
        replace=request.replace,
        reach=request.reach,
        opened=tuple(opened),
        side=request.side,
        not_fitted=request.not_fitted,
        fitted=request.fitted,
        without=request.without,
    )


def _planned(
    device: Device, found: Device, request: Request, planner: Planner
) -> tuple[Plan | None, tuple[Problem, ...], tuple[str, ...]]:
    if not (request.replace or request.reach or request.opened):
        return None, (), ()
    try:
        return planner(found, request), (), ()
    except InputError as error:
        if found == device:
            return None, error.problems, ()
        first = error.problems[0].message if error.problems else ""
    try:
        plan = planner(device, request)
    except InputError as error:
        return None, error.problems, ()
    return plan, (), (_no_way(first),)


def _no_way(why: str) -> str:
    return say("With what was found in this machine no way leads on: {why}", why=why)


def _done(
    plan: Plan | None, state: JobState, since: Sequence[e.Event]
) -> frozenset[tuple[str, Limb]]:
    """Steps that are done: a joint that is open, or was and is closed again."""
    if plan is None:
        return frozenset()
    closed = {event.what.joint for event in since if isinstance(event.what, e.Closed)}
    closed |= set(state.renewed_joints)
    is_open = {*state.open, *state.check_isolators}
    done: set[tuple[str, Limb]] = set()
    for step in plan.way_in:
        if step.joint in is_open or step.joint in closed:
            done.add((step.joint, "in"))
    for step in plan.way_out:
        if step.joint in closed and step.joint not in is_open:
            done.add((step.joint, "out"))
    return frozenset(done)


def _exchanged(device: Device, request: Request, since: Sequence[e.Event]) -> frozenset[str]:
    fresh: set[str] = set()
    for event in since:
        if isinstance(event.what, e.Exchanged):
            fresh.update(parts_of(device, event.what.part))
    return frozenset(
        piece
        for piece in request.replace
        if (parts := parts_of(device, piece)) and fresh.issuperset(parts)
    )


def _fits(course: Course, state: JobState) -> bool:
    """True when what is open is what the plan expects, and the rest of it can be carried out from here."""
    plan = course.plan
    if plan is None:
        return not state.open and not course.problems
    opened = {*state.open, *state.check_isolators} & set(course.device.joints)
    if not opened <= plan.open_at_turning:
        return False
    for step in plan.way_in:
        if (step.joint, "in") not in course.done:
            if step.access not in accesses_that_allow(course.device, opened, step.joint):
                return False
            opened = opened | {step.joint}
    for step in plan.way_out:
        if (step.joint, "out") not in course.done and step.joint in opened:
            rest = opened - {step.joint}
            if step.access not in accesses_that_allow(course.device, rest, step.joint):
                return False
            opened = rest
    # A joint that was closed before its piece was exchanged is opened again by a new plan.
    waits = set(plan.request.replace) - course.exchanged
    return not (waits and any(limb == "out" for _, limb in course.done))
