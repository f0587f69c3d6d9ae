"""A plan as rows: each pairs the opening of a joint with its closing, both with their time.

Steps are numbered through: the way in from 1, the way out goes on. Time is hands-on time since the start.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device
from lastscrew.plan.model import Plan, Step


@dataclass(frozen=True, slots=True)
class TimedStep:
    """A step with its number and when it happens.

    Attributes:
        step: The step.
        number: 1-based, through both ways.
        before_ms: When its setup begins (end of the step before it, or of the acts before).
        start_ms: When its work begins.
        end_ms: When its work ends.
        new_stage: True when side or tool differ from the step before on the same way, and for the
            first one.
    """

    step: Step
    number: int
    before_ms: int
    start_ms: int
    end_ms: int
    new_stage: bool

    @property
    def middle_ms(self) -> float:
        """The middle of its work."""
        return (self.start_ms + self.end_ms) / 2


@dataclass(frozen=True, slots=True)
class Row:
    """One joint: how it is opened and how it is closed. Either may be missing."""

    joint: str
    opening: TimedStep | None
    closing: TimedStep | None


@dataclass(frozen=True, slots=True)
class Course:
    """A whole job along its time.

    Attributes:
        rows: From the outside of the machine inwards.
        way_in, way_out: The same steps in the order of work.
        in_end_ms: When the last joint is open.
        turn_ms: When the way in is over, acts at the turning point included.
        out_end_ms: When the last joint is closed.
        total_ms: When all is done, final turn and last acts included.
    """

    rows: tuple[Row, ...]
    way_in: tuple[TimedStep, ...]
    way_out: tuple[TimedStep, ...]
    in_end_ms: int
    turn_ms: int
    out_end_ms: int
    total_ms: int


def course_of(device: Device, plan: Plan) -> Course:
    """Lay a plan out in rows and along its time."""
    start = sum(device.acts[act].ms for act in plan.start_acts)
    way_in = _timed(plan.way_in, start, 1)
    in_end = way_in[-1].end_ms if way_in else start
    turn = in_end + sum(device.acts[act].ms for act in plan.turning_acts)
    way_out = _timed(plan.way_out, turn, len(way_in) + 1)
    out_end = way_out[-1].end_ms if way_out else turn
    end = out_end + plan.final_turn_ms + sum(device.acts[act].ms for act in plan.end_acts)
    return Course(
        rows=_rows(way_in, way_out),
        way_in=way_in,
        way_out=way_out,
        in_end_ms=in_end,
        turn_ms=turn,
        out_end_ms=out_end,
        total_ms=end,
    )


def _timed(steps: Sequence[Step], start_ms: int, first_number: int) -> tuple[TimedStep, ...]:
    timed: list[TimedStep] = []
    now = start_ms
    before: Step | None = None
    for number, step in enumerate(steps, first_number):
        start = now + step.setup_ms
        end = start + step.work_ms
        same = before is not None and (before.side, before.tool) == (step.side, step.tool)
        timed.append(TimedStep(step, number, now, start, end, new_stage=not same))
        now, before = end, step
    return tuple(timed)


def _rows(way_in: Sequence[TimedStep], way_out: Sequence[TimedStep]) -> tuple[Row, ...]:
    """Rows in the order of opening; a joint that is only closed stands where its closing belongs."""
    openings = {timed.step.joint: timed for timed in way_in}
    closings = {timed.step.joint: timed for timed in way_out}
    order = list(openings)
    above = -1
    for timed in reversed(way_out):
        joint = timed.step.joint
        if joint in openings:
            above = order.index(joint)
        else:
            above += 1
            order.insert(above, joint)
    return tuple(Row(joint, openings.get(joint), closings.get(joint)) for joint in order)


@dataclass(frozen=True, slots=True)
class Stage:
    """Steps in a row with the same side up and the same tool in hand."""

    side: str
    tool: str | None
    steps: tuple[TimedStep, ...]


def stages_of(steps: Sequence[TimedStep]) -> tuple[Stage, ...]:
    """Cut one way into its stages."""
    stages: list[Stage] = []
    for timed in steps:
        if timed.new_stage or not stages:
            stages.append(Stage(timed.step.side, timed.step.tool, (timed,)))
        else:
            last = stages[-1]
            stages[-1] = Stage(last.side, last.tool, (*last.steps, timed))
    return tuple(stages)


def last_isolated(device: Device, course: Course) -> str | None:
    """The isolating joint whose opening takes the power away; None where it stays on somewhere.

    With several isolating joints that is the last of them to be opened, or any if all were open before.
    """
    isolators = {joint.id for joint in device.joints.values() if joint.isolates}
    rows = [row for row in course.rows if row.joint in isolators]
    if not isolators or len(rows) < len(isolators):
        return None
    return max(rows, key=lambda row: row.opening.end_ms if row.opening else 0).joint


def isolated_span(device: Device, course: Course) -> tuple[int, int] | None:
    """From when to when the power is away, in milliseconds since the start; None where it never is."""
    isolators = {joint.id for joint in device.joints.values() if joint.isolates}
    rows = [row for row in course.rows if row.joint in isolators]
    if not isolators or len(rows) < len(isolators):
        return None
    begin = max((row.opening.end_ms if row.opening else 0) for row in rows)
    ends = [row.closing.start_ms for row in rows if row.closing]
    return begin, min(ends, default=course.total_ms)
