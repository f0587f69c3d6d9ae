"""A plan that can be carried out and nothing more: opens naively, closes in reverse.

It lets what follows from a plan be tested on plans that are far from the best ones.
"""

from __future__ import annotations

from collections.abc import Collection

from lastscrew.device.fitting import device_parts_in, fit, joints_around
from lastscrew.device.model import Act, Device
from lastscrew.device.opening import accesses_that_allow
from lastscrew.plan.model import Limb, Plan, Request, Step, StopRule
from lastscrew.problems import InputError, Problem
from lastscrew.times.work import work_times


def plan_naively(device: Device, request: Request, _stop: StopRule | None = None) -> Plan:
    """A sound plan: first what can be opened, pruned to what is needed when taken one by one.

    Raises:
        InputError: Something that is asked for can't be reached.
    """
    return _Naive(device, request).plan()


class _Naive:
    def __init__(self, device: Device, request: Request) -> None:
        self.device = fit(device, request.not_fitted, request.fitted)
        self.request = request
        self.pieces = tuple(
            tuple(p for p in device_parts_in(device, piece) if p in self.device.parts)
            for piece in request.replace
        )
        self.times = work_times(self.device, request.pace)
        wanted = {j for parts in self.pieces for j in joints_around(self.device, parts)}
        self.wanted = wanted | set(request.reach) | set(request.opened)
        self.forbidden = set(request.without) - set(request.opened)

    def plan(self) -> Plan:
        everything = self._order(self._allowed(), start=())
        if not self.wanted <= set(everything):
            raise InputError([Problem("can't be reached", path="reach")])
        turning = set(everything)
        for joint in reversed(everything):
            smaller = turning - {joint}
            if joint not in self.wanted and len(self._order(smaller, start=())) == len(smaller):
                turning = smaller
        start = set(self.request.opened)
        side = self.request.side or self.device.sides[0]
        way_in = self._steps("in", self._order(turning, start=start), turning, side)
        turned = way_in[-1].side if way_in else side
        closing = list(reversed(self._order(turning, start=())))
        way_out = self._steps("out", closing, turning, turned)
        ends_on = way_out[-1].side if way_out else turned
        final = 0 if ends_on == self.device.sides[0] else self.device.turn_ms
        acts = {at: self._untied(at, turning) for at in ("start", "turning", "end")}
        in_ms = sum(s.setup_ms + s.work_ms for s in way_in)
        in_ms += sum(act.ms for at in ("start", "turning") for act in acts[at])
        out_ms = sum(s.setup_ms + s.work_ms for s in way_out) + final
        out_ms += sum(act.ms for act in acts["end"])
        return Plan(
            request=self.request,
            pieces=self.pieces,
            way_in=tuple(way_in),
            way_out=tuple(way_out),
            start_side=side,
            final_turn_ms=final,
            start_acts=tuple(act.id for act in acts["start"]),
            turning_acts=tuple(act.id for act in acts["turning"]),
            end_acts=tuple(act.id for act in acts["end"]),
            way_in_ms=in_ms,
            way_out_ms=out_ms,
            total_ms=in_ms + out_ms,
            objective_value=in_ms + out_ms,
            lower_bound=0,
            lower_bound_ms=0,
            proven=False,
            expanded=0,
            stopped="work",
        )

    def _allowed(self) -> set[str]:
        return set(self.device.joints) - self.forbidden

    def _order(self, joints: Collection[str], start: Collection[str]) -> list[str]:
        """As many of ``joints`` as can be opened after ``start``, in an order in which they can."""
        opened, order = set(start), []
        waiting = [j for j in sorted(joints) if j not in opened]
        moved = True
        while moved:
            moved = False
            for joint in list(waiting):
                if accesses_that_allow(self.device, opened, joint):
                    opened.add(joint)
                    order.append(joint)
                    waiting.remove(joint)
                    moved = True
        return order

    def _steps(self, limb: Limb, order: list[str], turning: set[str], side: str) -> list[Step]:
        opened = set(self.request.opened) if limb == "in" else set(turning)
        tool: str | None = None
        steps: list[Step] = []
        for joint_id in order:
            opened.discard(joint_id)
            number = accesses_that_allow(self.device, opened, joint_id)[0]
            access = self.device.joints[joint_id].accesses[number]
            needed = access.tool if limb == "in" else access.close_tool
            time = self.times[joint_id][number]
            acts = [
                *self._tied(joint_id, limb, "before", turning),
                *self._tied(joint_id, limb, "after", turning),
            ]
            act_ms = sum(act.ms for act in acts)
            swap = self.device.tools[needed].swap_ms if needed and needed != tool else 0
            steps.append(
                Step(
                    joint=joint_id,
                    limb=limb,
                    access=number,
                    side=access.side,
                    tool=needed,
                    turn_ms=0 if access.side == side else self.device.turn_ms,
                    swap_ms=swap,
                    work_ms=(time.open_ms if limb == "in" else time.close_ms) + act_ms,
                    act_ids=tuple(act.id for act in acts),
                    act_ms=act_ms,
                )
            )
            side, tool = access.side, needed
            if limb == "in":
                opened.add(joint_id)
        return steps

    def _done(self, act: Act, turning: set[str]) -> bool:
        if not act.when_replaced and not act.when_opened:
            return True
        named = {word.strip() for piece in self.request.replace for word in piece.split("+")}
        replaced = named | {part for parts in self.pieces for part in parts}
        opened = turning - set(self.request.opened)
        return bool(replaced & set(act.when_replaced)) or bool(opened & set(act.when_opened))

    def _tied(self, joint: str, limb: Limb, when: str, turning: set[str]) -> list[Act]:
        at = f"{when}_{'open' if limb == 'in' else 'close'}"
        acts = (act for _, act in sorted(self.device.acts.items()))
        return [a for a in acts if a.joint == joint and a.at == at and self._done(a, turning)]

    def _untied(self, at: str, turning: set[str]) -> list[Act]:
        acts = (act for _, act in sorted(self.device.acts.items()))
        return [a for a in acts if a.joint is None and a.at == at and self._done(a, turning)]
