"""A plan step by step, with what is open before and after each."""

from __future__ import annotations

from dataclasses import dataclass

from lastscrew.device.model import Device
from lastscrew.device.opening import clusters
from lastscrew.plan.model import Plan, Step


@dataclass(frozen=True, slots=True)
class Moment:
    """A step and the joints that are open before and after it."""

    step: Step
    before: frozenset[str]
    after: frozenset[str]


def moments_in(plan: Plan) -> tuple[Moment, ...]:
    """The way in."""
    opened = plan.open_at_turning - {step.joint for step in plan.way_in}
    moments: list[Moment] = []
    for step in plan.way_in:
        after = opened | {step.joint}
        moments.append(Moment(step, opened, after))
        opened = after
    return tuple(moments)


def moments_out(plan: Plan) -> tuple[Moment, ...]:
    """The way out."""
    opened = plan.open_at_turning
    moments: list[Moment] = []
    for step in plan.way_out:
        after = opened - {step.joint}
        moments.append(Moment(step, opened, after))
        opened = after
    return tuple(moments)


def open_at_start(plan: Plan) -> tuple[str, ...]:
    """Joints that were open before the first step, in id order."""
    return tuple(sorted(plan.open_at_turning - {step.joint for step in plan.way_in}))


def held_together(device: Device, opened: frozenset[str]) -> dict[str, tuple[str, ...]]:
    """Parts that closed rigid joints hold together: for every part all parts of its cluster, in id order."""
    cluster_of = clusters(device, (j for j in device.joints if j not in opened))
    members: dict[str, list[str]] = {}
    for part in sorted(cluster_of):
        members.setdefault(cluster_of[part], []).append(part)
    return {part: tuple(members[leader]) for part, leader in cluster_of.items()}
