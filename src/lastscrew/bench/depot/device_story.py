"""What a depot has learnt about a device: how long its steps really take, and which joints go wrong.

Figures carry their count and a range, never false decimals. Shares have the score interval of E. B. Wilson
(1927; formula from memory), which stays sensible for few cases and for none.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from lastscrew.bench.depot.running import estimates_of
from lastscrew.device.model import Device
from lastscrew.plan.wording import joint_name, piece_name
from lastscrew.times.measured import without_outliers

ENOUGH = 5
"""From so many times on the range holds eight of ten of them; below, it is the least and the most."""

NINETY_FIVE = 1.959964
"""Standard normal quantile for 95 % on both sides."""


@dataclass(frozen=True, slots=True)
class StepTime:
    """How long one step took here.

    Attributes:
        joint, limb: The step.
        name: Name of the joint.
        planned_ms: From the device file or the tables; None for a joint that the file does not have any more.
        count: Times that were used.
        left_out: Times that lie too far from the rest.
        median_ms: The middle one.
        low_ms, high_ms: Eight of ten lie between; with fewer than :data:`ENOUGH`, all.
    """

    joint: str
    limb: str
    name: str
    planned_ms: int | None
    count: int
    left_out: int
    median_ms: int
    low_ms: int
    high_ms: int


@dataclass(frozen=True, slots=True)
class Trouble:
    """How often a joint went wrong.

    Attributes:
        joint: Its id.
        name: Its name.
        openings: How often it was opened.
        counts: Kind of trouble to how often.
        jobs: Openings that had any trouble, at most all.
        low, high: Share of openings with trouble, 95 % interval.
    """

    joint: str
    name: str
    openings: int
    counts: Mapping[str, int]
    jobs: int
    low: float
    high: float

    @property
    def total(self) -> int:
        """All of its troubles."""
        return sum(self.counts.values())


@dataclass(frozen=True, slots=True)
class JobTime:
    """How long jobs for one thing took: hands-on, planned beside it where it can be planned."""

    names: tuple[str, ...]
    count: int
    median_ms: int
    low_ms: int
    high_ms: int
    planned: str = ""


def middle_and_range(times_ms: Sequence[int]) -> tuple[int, int, int]:
    """Median, and the range that holds eight of ten (all, where they are fewer than five)."""
    ordered = sorted(times_ms)
    if len(ordered) < ENOUGH:
        return round(median(ordered)), ordered[0], ordered[-1]
    return round(median(ordered)), _quantile(ordered, 0.1), _quantile(ordered, 0.9)


def _quantile(ordered: Sequence[int], share: float) -> int:
    """Linear between the two nearest (type 7 of Hyndman and Fan, 1996; from memory)."""
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return round(ordered[below] + (place - below) * (ordered[above] - ordered[below]))


def step_times(
    device: Device, times: Mapping[tuple[str, str], Sequence[int]]
) -> tuple[StepTime, ...]:
    """How long steps took here, those that took the most time in all first.

    Args:
        device: The device as it is described now.
        times: Milliseconds by limb and joint, each above 0.
    """
    estimate = estimates_of(device)
    found = []
    for (limb, joint), measured in times.items():
        used, left = without_outliers([ms for ms in measured if ms > 0])
        if used:
            middle, low, high = middle_and_range(used)
            name, planned = joint_name(device, joint), estimate(joint, limb)
            found.append(
                StepTime(joint, limb, name, planned, len(used), len(left), middle, low, high)
            )
    return tuple(sorted(found, key=lambda s: (-s.count * s.median_ms, s.joint, s.limb)))


def troubles(
    device: Device,
    openings: Mapping[str, int],
    events: Mapping[str, Mapping[str, int]],
    jobs: Mapping[str, int],
) -> tuple[Trouble, ...]:
    """Which joints went wrong, the most frequent in proportion first.

    Args:
        device: The device.
        openings: How often each joint was opened.
        events: Troubles by joint and kind.
        jobs: In how many jobs each joint had trouble.
    """
    found = []
    for joint, counts in events.items():
        opened = max(openings.get(joint, 0), jobs.get(joint, 0), 1)
        bad = min(jobs.get(joint, 0), opened)
        low, high = share_interval(bad, opened)
        found.append(Trouble(joint, joint_name(device, joint), opened, counts, bad, low, high))
    return tuple(sorted(found, key=lambda t: (-t.low, -t.total, t.joint)))


def share_interval(cases: int, total: int) -> tuple[float, float]:
    """95 % score interval of a share.

    Args:
        cases: Of these …
        total: … so many, at least 1.
    """
    share, z2 = cases / total, NINETY_FIVE**2
    centre = share + z2 / (2 * total)
    half = NINETY_FIVE * math.sqrt(share * (1 - share) / total + z2 / (4 * total**2))
    bottom = 1 + z2 / total
    return max(0.0, (centre - half) / bottom), min(1.0, (centre + half) / bottom)


def job_times(device: Device, jobs: Sequence[tuple[tuple[str, ...], int]]) -> tuple[JobTime, ...]:
    """How long finished jobs took, by what they were for, the most frequent first.

    Args:
        device: The device.
        jobs: Targets and hands-on milliseconds of each job.
    """
    by_targets: dict[tuple[str, ...], list[int]] = {}
    for targets, hands_on_ms in jobs:
        if targets and hands_on_ms > 0:
            by_targets.setdefault(tuple(sorted(targets)), []).append(hands_on_ms)
    found = []
    for targets, times in by_targets.items():
        middle, low, high = middle_and_range(times)
        names = tuple(
            joint_name(device, target) if target in device.joints else piece_name(device, target)
            for target in targets
        )
        found.append(JobTime(names, len(times), middle, low, high))
    return tuple(sorted(found, key=lambda j: (-j.count, j.names)))
