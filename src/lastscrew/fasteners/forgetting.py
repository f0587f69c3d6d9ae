"""How likely a screw was forgotten where: weights of our own, and the arithmetic on them.

No figure here comes from measurement: they are assumed, and every answer that rests on them says
so. What counts is their ratios: twenty screws are more easily one short than two, a hole that lies
open at the end is seen, what was counted is seldom wrong.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device, Joint
from lastscrew.device.opening import access_is_free, clusters
from lastscrew.fasteners.lookalikes import look_alike
from lastscrew.plan.wording import joint_name, listed, marked, part_name

FORGOTTEN = 1 / 500
"""Chance that one screw that lay out is not put back."""

JOINT_SKIPPED = 1 / 1_000
"""Chance that a whole joint is passed over."""

OLD_LEFT_LYING = 1 / 10
"""Chance that an old piece that is to be thrown away is still on the bench."""

FROM_ELSEWHERE = 1 / 1_000
"""Chance, for each piece, that it never belonged to this machine."""

FELL_INSIDE = 1 / 1_000
"""Chance that one screw that was handled fell into the machine and stayed there."""

FELL_OUTSIDE = 1 / 100
"""Chance, for each job, that a piece went astray outside: floor, bench, tool, sleeve, a part laid aside."""

SEEN_IF_OPEN = 0.25
COUNTED = 0.1
SHORT_BY_RECORD = 50.0
IN_PRESCRIBED_ORDER = 0.7
IN_GROUP = 1.2
LAST_CLOSED = 0.7
CONFUSED_BY_LENGTH = 0.1
CONFUSED_WITHIN_DOUBT = 0.3
CONFUSED_BY_HEAD = 0.03
LENGTH_NOT_GIVEN = 0.2
"""Factors on the chance; see where each is used."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that makes a place more or less likely.

    Attributes:
        text: What, in a few words.
        source: ``device file``, ``plan``, ``run`` or ``assumed``.
        factor: By what it changes the chance; 1 where it only tells.
    """

    text: str
    source: str
    factor: float = 1.0


def reasons_to_forget(
    device: Device, joint: Joint, *, place: int, places: int, counted: bool
) -> tuple[Reason, ...]:
    """What makes it likely or not that a screw of this joint was left out.

    Args:
        device: The device, reduced to what is fitted.
        joint: The joint, closed again.
        place: When it was closed among the joints with loose pieces, from 0.
        places: How many of these there were.
        counted: What was put back was counted.
    """
    name = f"{joint.count} came out of {marked(joint_name(device, joint.id))}"
    found = [Reason(name, "assumed" if "count" in joint.unknown else "plan")]
    covers = covered_by(device, joint)
    if covers:
        names = listed([marked(part_name(device, part)) for part in covers])
        found.append(Reason(f"hidden under {names} once that is closed", "device file"))
    else:
        found.append(
            Reason("in sight when all is closed: an empty hole is seen", "assumed", SEEN_IF_OPEN)
        )
    if joint.order != "any" and joint.positions_mm:
        found.append(Reason("tightened in a prescribed order", "assumed", IN_PRESCRIBED_ORDER))
    if counted:
        found.append(Reason("what was put back was counted", "run", COUNTED))
    fellows = [
        other.id
        for other in device.joints.values()
        if joint.group is not None and other.group == joint.group and other.id != joint.id
    ]
    if fellows:
        names = listed([marked(joint_name(device, other)) for other in sorted(fellows)], limit=3)
        text = f"closed together with {names}: one of a larger set is more easily passed over"
        found.append(Reason(text, "assumed", IN_GROUP))
    if places > 1:
        share = place / (places - 1)
        factor = 1 - (1 - LAST_CLOSED) * share
        when = (
            "closed early on the way out"
            if share < 0.5
            else "closed late on the way out, the memory is fresh"
        )
        found.append(Reason(when, "assumed", factor))
    return tuple(found)


def covered_by(device: Device, joint: Joint) -> tuple[str, ...]:
    """Parts that lie over a joint when everything is closed; empty when it is in sight."""
    cluster_of = clusters(device, [other for other in device.joints if other != joint.id])
    if any(access_is_free(joint, access, cluster_of) for access in joint.accesses):
        return ()
    return joint.accesses[0].under


def factor_of(reasons: Sequence[Reason]) -> float:
    """All factors together."""
    return math.prod(reason.factor for reason in reasons)


def confusion(device: Device, one: str | None, other: str | None) -> float:
    """Chance that a piece of one kind goes where the other belongs; 0 where they don't look alike."""
    first, second = device.fasteners.get(one or ""), device.fasteners.get(other or "")
    if first is None or second is None:
        return 0.0
    pair = look_alike(first, second)
    if pair is None:
        return 0.0
    if "head" in pair.differs:
        return CONFUSED_BY_HEAD
    return CONFUSED_WITHIN_DOUBT if pair.within_doubt else CONFUSED_BY_LENGTH


def length_match(length_mm: float | None, measured_mm: float, doubt_mm: float) -> float:
    """How well a nominal length fits a measured one: 1 at best, 0 beyond three times the doubt.

    The doubt is taken as two standard deviations of a normal error.
    """
    if length_mm is None:
        return LENGTH_NOT_GIVEN
    apart = abs(length_mm - measured_mm)
    if apart > 3 * doubt_mm:
        return 0.0
    return math.exp(-0.5 * (apart / (doubt_mm / 2)) ** 2)


# --- how many pieces from where ------------------------------------------------------------------


def chances(count: int, each: float, all_at_once: float, most: int) -> tuple[float, ...]:
    """Relative chances that 0, 1, … ``most`` pieces of ``count`` are concerned.

    Args:
        count: How many pieces there are.
        each: Chance of each piece, on its own.
        all_at_once: Chance that all of them are concerned together.
        most: The longest that is asked for.
    """
    found = [math.comb(count, number) * each**number for number in range(min(count, most) + 1)]
    if 0 < count <= most:
        found[count] += all_at_once
    return tuple(found) + (0.0,) * (most + 1 - len(found))


def together(one: Sequence[float], other: Sequence[float]) -> tuple[float, ...]:
    """Chances of the sum of two independent numbers of pieces, up to the length that both have."""
    return tuple(
        math.fsum(one[part] * other[number - part] for part in range(number + 1))
        for number in range(len(one))
    )


def all_together(some: Sequence[Sequence[float]], most: int) -> tuple[float, ...]:
    """Chances of the sum over several places."""
    result: tuple[float, ...] = (1.0, *([0.0] * most))
    for each in some:
        result = together(result, each)
    return result
