"""In which order the screws of a joint are tightened and loosened.

Crosswise from the middle outwards: begin nearest the middle, then the screw opposite, then where
most room is left, and so on, ring by ring. All are started by hand first; where a torque is given
they are tightened in two rounds. Loosening runs backwards. This is common practice; for the rule as a
whole there is no source. On a ring of 4, 8, 12 or 16 bolts the order is the cross pattern that
flange makers use (ASME PCC-1, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device, Joint, Order, Point
from lastscrew.plan.wording import joint_name
from lastscrew.saying import say

FIRST_ROUND_SHARE = 0.5
"""Share of the torque in the first of two rounds (common practice, no source)."""

BASIS_CROSSWISE = say("crosswise from the middle outwards (common practice, no source)")
BASIS_NUMBERED = say("in the order of the device file")

SAME_MM = 0.05
"""Distances that differ by less count as equal: positions are measured or drawn, not exact."""


@dataclass(frozen=True, slots=True)
class Place:
    """One screw: its joint and its number in the joint's list of positions, from 0."""

    joint: str
    number: int


@dataclass(frozen=True, slots=True)
class Round:
    """One time through all screws.

    Attributes:
        text: What is done in it.
        torque_ncm: Joint to the torque of this round, N·cm; empty when it is by hand or to the stop.
    """

    text: str
    torque_ncm: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Tightening:
    """How the screws of one joint, or of a group of joints, are tightened.

    Attributes:
        joints: The joints, in id order.
        order: The screws as they are tightened.
        rounds: What is done each time through; the first is by hand.
        loosening: The screws as they are loosened.
        basis: Where the order comes from.
        without_place: Joints of the group that have no positions; they come last, as listed.
    """

    joints: tuple[str, ...]
    order: tuple[Place, ...]
    rounds: tuple[Round, ...]
    loosening: tuple[Place, ...]
    basis: str
    without_place: tuple[str, ...] = ()


def crosswise(points: Sequence[Point]) -> tuple[int, ...]:
    """Order of tightening by position.

    Args:
        points: Positions in mm.

    Returns:
        Indices into ``points``, a permutation. The first is the one nearest the middle (the mean of all
        positions); each later pair begins with the one nearest the middle, among equals with the one that
        lies farthest from all that are tight, and ends with the one opposite.
    """
    if not points:
        return ()
    middle = _mean(points)
    rest = list(range(len(points)))
    order: list[int] = []
    while rest:
        first = _next(points, middle, rest, order)
        rest.remove(first)
        order.append(first)
        opposite = _opposite(points, middle, rest, points[first])
        if opposite is not None:
            rest.remove(opposite)
            order.append(opposite)
    return tuple(order)


def _mean(points: Sequence[Point]) -> Point:
    count = len(points)
    return math.fsum(x for x, _ in points) / count, math.fsum(y for _, y in points) / count


def _steps(distance: float) -> int:
    """A distance in steps below which differences do not count."""
    return round(distance / SAME_MM)


def _next(points: Sequence[Point], middle: Point, rest: list[int], tight: list[int]) -> int:
    nearest = min(_steps(math.dist(points[index], middle)) for index in rest)
    ring = [i for i in rest if _steps(math.dist(points[i], middle)) <= nearest + 1]

    def room(index: int) -> tuple[list[int], int]:
        """Distances to what is tight, nearest first, negative: the more room, the less."""
        steps = (-_steps(math.dist(points[index], points[other])) for other in tight)
        return sorted(steps, reverse=True), index

    return min(ring, key=room)


def _opposite(points: Sequence[Point], middle: Point, rest: list[int], first: Point) -> int | None:
    """The one nearest to the mirror image of ``first``, if any lies beyond the middle."""
    image = (2 * middle[0] - first[0], 2 * middle[1] - first[1])
    beyond = [
        index
        for index in rest
        if (points[index][0] - middle[0]) * (first[0] - middle[0])
        + (points[index][1] - middle[1]) * (first[1] - middle[1])
        < -SAME_MM
    ]
    if not beyond:
        return None
    return min(beyond, key=lambda index: (_steps(math.dist(points[index], image)), index))


def imbalance_mm(points: Sequence[Point], order: Sequence[int]) -> float:
    """How far the clamping strays from the middle while an order is carried out, in mm.

    The mean over all moments of the distance between the centre of what is tight and the centre of
    all: 0 would be perfect balance at every moment.
    """
    if not points:
        return 0.0
    middle = _mean(points)
    strays = [
        math.dist(_mean([points[index] for index in order[:number]]), middle)
        for number in range(1, len(order) + 1)
    ]
    return math.fsum(strays) / len(strays)


def tightening_of(device: Device, joint_id: str) -> Tightening | None:
    """How a joint is tightened, together with the others of its group.

    Args:
        device: The device.
        joint_id: The joint.

    Returns:
        None where any order will do: ``order: any``, or a single screw.
    """
    joint = device.joints[joint_id]
    members = [joint]
    if joint.group is not None:
        members = [j for j in device.joints.values() if j.group == joint.group]
        members.sort(key=lambda member: member.id)
    orders = {member.order for member in members}
    if orders == {"any"} or sum(member.count for member in members) < 2:
        return None
    order: Order = "crosswise" if "crosswise" in orders else "numbered"
    return _tightening(device, members, order)


def tightenings(device: Device, joint_ids: Sequence[str]) -> tuple[Tightening, ...]:
    """How several joints are tightened, each group once, in the order of ``joint_ids``."""
    found: dict[tuple[str, ...], Tightening] = {}
    for joint_id in joint_ids:
        one = tightening_of(device, joint_id)
        if one is not None:
            found.setdefault(one.joints, one)
    return tuple(found.values())


def _tightening(device: Device, members: Sequence[Joint], order: Order) -> Tightening:
    placed = [member for member in members if member.positions_mm]
    unplaced = [member for member in members if not member.positions_mm]
    places = [Place(m.id, number) for m in placed for number in range(len(m.positions_mm))]
    points = [point for member in placed for point in member.positions_mm]
    if order == "crosswise" and points:
        places = [places[index] for index in crosswise(points)]
        basis = BASIS_CROSSWISE
    else:
        basis = BASIS_NUMBERED
    places += [Place(m.id, number) for m in unplaced for number in range(m.count)]
    return Tightening(
        joints=tuple(member.id for member in members),
        order=tuple(places),
        rounds=_rounds(device, members),
        loosening=tuple(reversed(places)),
        basis=basis,
        without_place=tuple(m.id for m in unplaced) if order == "crosswise" else (),
    )


def _rounds(device: Device, members: Sequence[Joint]) -> tuple[Round, ...]:
    torques = [(m.id, torque) for m in members if (torque := torque_of(device, m)) is not None]
    by_hand = Round(say("Start all of them by hand, a few turns, before any is tightened."))
    if not torques:
        return by_hand, Round(say("Tighten in this order."))
    half = tuple((joint_id, torque * FIRST_ROUND_SHARE) for joint_id, torque in torques)
    return (
        by_hand,
        Round(say("Tighten in this order to about half the torque."), half),
        Round(say("Tighten in the same order to the full torque."), tuple(torques)),
    )


def torque_of(device: Device, joint: Joint) -> float | None:
    """Torque in N·cm: the joint's own, else its fastener's, else None."""
    if joint.torque_ncm is not None:
        return joint.torque_ncm
    fastener = device.fasteners.get(joint.fastener or "")
    return fastener.torque_ncm if fastener is not None else None


def order_text(device: Device, tightening: Tightening) -> str:
    """The order as people read it: numbers of the positions, from 1 (``1 · 3 · 2 · 4``).

    In a group of joints each number follows the joint's name where the joint changes.
    """
    if len(tightening.joints) == 1:
        return " · ".join(str(place.number + 1) for place in tightening.order)
    words: list[str] = []
    before = ""
    for place in tightening.order:
        name = f"{joint_name(device, place.joint)} " if place.joint != before else ""
        words.append(f"{name}{place.number + 1}")
        before = place.joint
    return " · ".join(words)
