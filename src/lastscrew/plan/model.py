"""What is asked of the planner and what it answers, as values.

``plan(device, request, stop) -> Plan`` (module ``lastscrew.plan.planner``) is pure: the same device
and request give the same plan, as long as the search was not stopped by the clock.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

Objective = Literal["time", "risk", "steps"]
Limb = Literal["in", "out"]

DEFAULT_RATE_PER_H = 45.0
"""Price of an hour of labour where none is given (our own figure, for the objective ``risk``)."""


@dataclass(frozen=True, slots=True)
class Request:
    """What a plan is asked for. All ids are of the device.

    Attributes:
        replace: Pieces to exchange: a part, a spare, or several joined by ``+`` that are exchanged
            as one piece. Every joint between a piece and the rest is open at the turning point.
        reach: Joints that must be open at the turning point.
        opened: Joints that are open already; they cost nothing on the way in and are closed on the
            way out.
        side: Side that faces up at the start; None for the device's first side.
        not_fitted: Options, parts or joints that the unit lacks.
        fitted: Options that the unit has although the device file says that most lack them.
        without: Joints that may not be opened.
        objective: ``time`` (seconds), ``risk`` (seconds + expected damage in seconds of labour) or ``steps``
            (joints opened and closed, then seconds).
        rate_per_h: Price of an hour of labour, in the currency of the device file's prices.
        pace: Factor on the times that come from tables (1.2: a fifth slower). Times that the device
            file gives are taken as they are.
    """

    replace: tuple[str, ...] = ()
    reach: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()
    side: str | None = None
    not_fitted: tuple[str, ...] = ()
    fitted: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    objective: Objective = "time"
    rate_per_h: float = DEFAULT_RATE_PER_H
    pace: float = 1.0


@dataclass(frozen=True, slots=True)
class StopRule:
    """When the search gives up and hands back its best plan with a bound.

    Attributes:
        work: Stop after this many expanded states (repeats exactly), None for no such limit.
        expired: Asked now and then; True stops (a clock or an interrupt, from outside the core).
        progress: Told now and then: (expanded, lower bound in ms, best total in ms or None).
    """

    work: int | None = None
    expired: Callable[[], bool] | None = None
    progress: Callable[[int, int, int | None], None] | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One opening or closing.

    Attributes:
        joint: The joint.
        limb: ``in`` (it is opened) or ``out`` (it is closed).
        access: Index of the access used.
        side: Side that faces up.
        tool: Tool in hand, None for none.
        turn_ms, swap_ms: Setup before the step: turning the machine, taking up the tool.
        work_ms: Opening or closing itself, with the acts tied to this step.
        act_ids: Acts done at this step, in order (before, then after).
        act_ms: Their share of ``work_ms``.
    """

    joint: str
    limb: Limb
    access: int
    side: str
    tool: str | None
    turn_ms: int
    swap_ms: int
    work_ms: int
    act_ids: tuple[str, ...] = ()
    act_ms: int = 0

    @property
    def setup_ms(self) -> int:
        """Turn and swap together."""
        return self.turn_ms + self.swap_ms


@dataclass(frozen=True, slots=True)
class Plan:
    """The way in, the way out, what they cost and how far that is proven.

    Attributes:
        request: What was asked.
        pieces: The part ids of each piece in ``request.replace``, in the same order.
        way_in: Openings in order.
        way_out: Closings in order.
        start_side: Side that faced up at the start.
        final_turn_ms: Turn at the very end to the first side (0 if it lies there already).
        start_acts, turning_acts, end_acts: Ids of acts tied to no joint, by when they are done.
        way_in_ms: Steps of the way in, with ``start_acts`` and ``turning_acts``.
        way_out_ms: Steps of the way out, with the final turn and ``end_acts``.
        total_ms: Both.
        objective_value: What was minimised, in its own unit (time and risk: ms; steps: (steps, ms)
            packed as steps * ``STEP_WEIGHT`` + ms).
        lower_bound: Proven lower bound of the same quantity.
        lower_bound_ms: Proven lower bound of the total in ms under the objective ``time``; for the other
            objectives equal to ``total_ms`` when proven, else 0.
        proven: True when objective and bound are equal.
        expanded: States expanded by the search.
        stopped: "" or why the search ended early: ``work``, ``clock``.
        missing_first: Joints that had to be opened only because the start state left them closed in
            front of joints that are open already.
    """

    request: Request
    pieces: tuple[tuple[str, ...], ...]
    way_in: tuple[Step, ...]
    way_out: tuple[Step, ...]
    start_side: str
    final_turn_ms: int
    start_acts: tuple[str, ...]
    turning_acts: tuple[str, ...]
    end_acts: tuple[str, ...]
    way_in_ms: int
    way_out_ms: int
    total_ms: int
    objective_value: int
    lower_bound: int
    lower_bound_ms: int
    proven: bool
    expanded: int
    stopped: str = ""
    missing_first: tuple[str, ...] = ()
    extra: Mapping[str, object] = field(default_factory=dict)

    @property
    def open_at_turning(self) -> frozenset[str]:
        """Joints that are open at the turning point."""
        return frozenset(step.joint for step in self.way_out)


STEP_WEIGHT = 1_000_000_000_000
"""One step in the objective ``steps``, in ms: more than any total can be."""
