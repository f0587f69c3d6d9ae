"""By how much the times may be wrong before another way wins.

One time at a time, exactly: the time of a joint (opening and closing, whichever access) is the
parameter, all others stay as they are.

- A joint that the plan opens: the best plan that leaves it closed does not depend on its time, every plan
  that opens it grows with it. So its time may grow by the difference of the two optima.
- A joint that the plan leaves closed: the best plan that opens it falls with its time. So its time may
  shrink by the difference of the optima; where that is more than the time itself, it never pays.

The summary is the least factor over all joints: any *one* time may be wrong by less than that, and
the plan is still the best. Several wrong times at once are not covered by it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.plan.model import Plan, Request, Step
from lastscrew.plan.reasons import reasons_of
from lastscrew.problems import InputError

Solve = Callable[[Request], Plan]


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far the time of one joint may be wrong.

    Attributes:
        joint: The joint.
        opened: True when the plan opens it.
        work_ms: Its time in the plan; for a joint that stays closed its time in the best plan that opens
            it (0 where there is none).
        room_ms: By how much it may grow (opened) or shrink (not opened) before another way wins, in
            units of the objective; None when no change of this time makes another way win.
        exact: False when a search was stopped, so that ``room_ms`` is only known to be at least this.
        instead: Joints of the way that would win: opened by it and not by the plan, in id order.
    """

    joint: str
    opened: bool
    work_ms: int
    room_ms: int | None
    exact: bool = True
    instead: tuple[str, ...] = ()

    @property
    def factor(self) -> float | None:
        """Factor by which the time may be wrong, None for any."""
        if self.room_ms is None:
            return None
        if self.opened:
            return None if self.work_ms == 0 else 1 + self.room_ms / self.work_ms
        left = self.work_ms - self.room_ms
        return None if left <= 0 else self.work_ms / left


@dataclass(frozen=True, slots=True)
class Robustness:
    """How far times may be wrong.

    Attributes:
        tolerances: Joints that were asked about, those that the plan opens first.
        not_tried: Joints for which time ran out, in id order.
    """

    tolerances: tuple[Tolerance, ...]
    not_tried: tuple[str, ...]

    @property
    def critical(self) -> Tolerance | None:
        """The joint whose time may be wrong by the least factor; None when none matters."""
        bounded = [x for x in self.tolerances if x.factor is not None]
        return min(bounded, key=lambda x: (x.factor or 0.0, x.joint), default=None)

    @property
    def factor(self) -> float | None:
        """Any one time may be wrong by less than this factor; None: no single time matters."""
        critical = self.critical
        return None if critical is None else critical.factor


class _StoppedError(Exception):
    """A search was stopped before it had any plan."""


def robustness(
    device: Device, plan: Plan, solve: Solve, expired: Callable[[], bool] = lambda: False
) -> Robustness:
    """The tolerance of every joint's time, the optimum for each change found by ``solve``.

    Args:
        device: The device, whole or reduced to what is fitted.
        plan: The plan, of objective ``time`` or ``risk``.
        solve: Plans another request for the same device; raises :class:`InputError` when impossible.
        expired: Asked before each joint; True ends the work and the rest is listed as not tried.
    """
    assert plan.request.objective != "steps"
    fitted = fit(device, plan.request.not_fitted, plan.request.fitted)
    asked = tuple(_joints_to_try(fitted, plan))
    found: list[Tolerance] = []
    for number, (joint_id, opened) in enumerate(asked):
        if expired():
            rest = tuple(sorted(joint for joint, _ in asked[number:]))
            return Robustness(tuple(found), rest)
        tolerance = _if_left_closed if opened else _if_opened_too
        try:
            found.append(tolerance(plan, joint_id, solve))
        except _StoppedError:
            rest = tuple(sorted(joint for joint, _ in asked[number:]))
            return Robustness(tuple(found), rest)
    return Robustness(tuple(found), ())


def _joints_to_try(device: Device, plan: Plan) -> Iterator[tuple[str, bool]]:
    """Joints with whether the plan opens them; what was asked for has no other way and is left out."""
    reasons = reasons_of(device, plan)
    for step in plan.way_in:
        if reasons.opening[step.joint][0].kind not in ("piece", "reach"):
            yield step.joint, True
    banned = set(plan.request.without)
    for joint_id in sorted(device.joints):
        if joint_id not in plan.open_at_turning and joint_id not in banned:
            yield joint_id, False


def _if_left_closed(plan: Plan, joint_id: str, solve: Solve) -> Tolerance:
    request = replace(plan.request, without=(*plan.request.without, joint_id))
    work_ms = _work_ms(plan, joint_id)
    other = _other_way(request, solve)
    if other is None:
        return Tolerance(joint_id, opened=True, work_ms=work_ms, room_ms=None)
    return Tolerance(
        joint_id,
        opened=True,
        work_ms=work_ms,
        room_ms=max(0, other.lower_bound - plan.objective_value),
        exact=plan.proven and other.proven,
        instead=_instead(plan, other),
    )


def _if_opened_too(plan: Plan, joint_id: str, solve: Solve) -> Tolerance:
    request = replace(plan.request, reach=(*plan.request.reach, joint_id))
    other = _other_way(request, solve)
    if other is None:
        return Tolerance(joint_id, opened=False, work_ms=0, room_ms=None)
    work_ms = _work_ms(other, joint_id)
    room_ms = max(0, other.lower_bound - plan.objective_value)
    return Tolerance(
        joint_id,
        opened=False,
        work_ms=work_ms,
        room_ms=room_ms if room_ms < work_ms else None,
        exact=plan.proven and other.proven,
        instead=_instead(plan, other),
    )


def _other_way(request: Request, solve: Solve) -> Plan | None:
    """The best other plan, None where there is none."""
    try:
        return solve(request)
    except InputError as error:
        if any(problem.code == "stopped" for problem in error.problems):
            raise _StoppedError from None
        return None


def _work_ms(plan: Plan, joint_id: str) -> int:
    """Opening and closing of a joint without its acts."""
    steps: Sequence[Step] = (*plan.way_in, *plan.way_out)
    return sum(step.work_ms - step.act_ms for step in steps if step.joint == joint_id)


def _instead(plan: Plan, other: Plan) -> tuple[str, ...]:
    return tuple(sorted(other.open_at_turning - plan.open_at_turning))
