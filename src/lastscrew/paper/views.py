"""Which side of the device shows what: places, outlines and the state of the machine at a step."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device, Joint, Part, Point
from lastscrew.paper.rows import course_of
from lastscrew.paper.strata import strata_of
from lastscrew.plan.model import Limb, Plan

WIDTH_MM = 186.0
TALLEST_MM = 200.0
LARGEST_SCALE = 2.0
MARGIN_MM = 6.0
"""Around what is drawn where the device file gives no frame."""


@dataclass(frozen=True, slots=True)
class Lit:
    """What is shown at work.

    Attributes:
        joint: The joint.
        limb: Opened or closed; None when it is only shown.
        number: Step number, None outside of a plan.
        side: Side that faces up at that step; None when not known.
        opened: Joints that are open at that moment.
    """

    joint: str
    limb: Limb | None = None
    number: int | None = None
    side: str | None = None
    opened: frozenset[str] = frozenset()


def lit_step(device: Device, plan: Plan, number: int) -> Lit | None:
    """The step of that number with the state of the machine before it; None when there is no such step."""
    course = course_of(device, plan)
    steps = (*course.way_in, *course.way_out)
    if not 1 <= number <= len(steps):
        return None
    openings = {step.joint for step in plan.way_in}
    opened = {step.joint for step in plan.way_out if step.joint not in openings}
    for timed in steps[: number - 1]:
        joint = timed.step.joint
        opened = opened | {joint} if timed.step.limb == "in" else opened - {joint}
    step = steps[number - 1].step
    return Lit(step.joint, step.limb, number, step.side, frozenset(opened))


@dataclass(frozen=True, slots=True)
class View:
    """One side of the device and what is known to lie there."""

    side: str
    parts: tuple[str, ...]
    joints: tuple[str, ...]
    unplaced: tuple[str, ...]
    low: Point
    high: Point
    frame: Point | None = None

    @property
    def scale(self) -> float:
        """Millimetres on paper for each of the machine's."""
        width, height = self.high[0] - self.low[0], self.high[1] - self.low[1]
        return min(LARGEST_SCALE, WIDTH_MM / width, TALLEST_MM / height)

    @property
    def height(self) -> float:
        """On paper, in millimetres."""
        return (self.high[1] - self.low[1]) * self.scale if self.parts or self.joints else 0.0

    def at(self, point: Point, top: float) -> Point:
        """A place on paper; the frame counts upwards, paper downwards."""
        scale = self.scale
        return (point[0] - self.low[0]) * scale, top + (self.high[1] - point[1]) * scale


def side_of_lit(device: Device, lit: Lit) -> str:
    """Where the lit joint is to be seen: where its places lie, else the side that faces up."""
    joint = device.joints[lit.joint]
    if joint.positions_mm:
        return _side_of_joint(device, joint)
    return lit.side or joint.accesses[0].side


def _fits(device: Device, side: str, points: Iterable[Point]) -> bool:
    frame = device.frame_mm.get(side)
    if frame is None:
        return False
    return all(-1 <= x <= frame[0] + 1 and -1 <= y <= frame[1] + 1 for x, y in points)


def _side_of_joint(device: Device, joint: Joint) -> str:
    """The first side of its accesses in whose frame its places lie, else the first side."""
    named = [access.side for access in joint.accesses]
    fitting = (side for side in named if _fits(device, side, joint.positions_mm))
    return next(fitting, named[0])


def _side_of_part(device: Device, part: Part, home: str) -> str:
    """Its own side if its outline fits there, else another from which one of its joints is reached."""
    reached = {
        access.side
        for joint in device.joints.values()
        if part.id in joint.joins
        for access in joint.accesses
    }
    candidates = [home, *(side for side in device.sides if side in reached and side != home)]
    fitting = (side for side in candidates if _fits(device, side, part.outline_mm))
    return next(fitting, home)


def views_of(device: Device) -> list[View]:
    """All sides on which something lies, in the order of the device file."""
    home = strata_of(device).side_of
    drawn = [part for part in device.parts.values() if part.outline_mm]
    where = {
        part.id: _side_of_part(device, part, home.get(part.id, device.sides[0])) for part in drawn
    }
    views = []
    for side in device.sides:
        parts = [part for part in drawn if where[part.id] == side or part.fixed]
        mine = [
            joint
            for joint in device.joints.values()
            if joint.positions_mm and _side_of_joint(device, joint) == side
        ]
        unplaced = [
            joint.id
            for joint in device.joints.values()
            if not joint.positions_mm and joint.accesses[0].side == side
        ]
        parts = [p for p in parts if not p.fixed or _fits(device, side, p.outline_mm) or mine]
        points = [point for joint in mine for point in joint.positions_mm]
        points += [point for part in parts for point in part.outline_mm]
        if not points and not unplaced:
            continue
        low, high = _bounds(points, device.frame_mm.get(side))
        joints = tuple(joint.id for joint in mine)
        views.append(
            View(
                side,
                tuple(part.id for part in parts),
                joints,
                tuple(unplaced),
                low,
                high,
                device.frame_mm.get(side),
            )
        )
    return views


def _bounds(points: Sequence[Point], frame: Point | None) -> tuple[Point, Point]:
    """What has to be seen: the frame, and what lies beyond it."""
    xs = [x for x, _ in points] + ([0.0, frame[0]] if frame else [])
    ys = [y for _, y in points] + ([0.0, frame[1]] if frame else [])
    if not xs:
        return (0.0, 0.0), (100.0, 10.0)
    margin = 0.0 if frame else MARGIN_MM
    low = (min(xs) - margin, min(ys) - margin)
    return low, (max(max(xs) + margin, low[0] + 1), max(max(ys) + margin, low[1] + 1))
