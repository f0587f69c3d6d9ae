"""Disassembly depth: the least number of steps that take a part out, over all ways in.

Regulation (EU) 2023/1669, as given by secondary sources, counts a step as an operation that ends with
the removal of a part or with a change of tool. How that is counted here: see
:mod:`lastscrew.measures.counting`. The depth is an objective of its own; the cheapest way in seconds
may take more steps.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass

from lastscrew.device.fitting import device_parts_in, joints_around
from lastscrew.device.model import Device
from lastscrew.measures.counting import Frame
from lastscrew.measures.runs import OutOfWork, Run, Runs, Work, plain_way
from lastscrew.measures.ways import Way, least_masks
from lastscrew.plan.compiled import bits

DEFAULT_WORK = 10_000
"""States searched for one part before the best count so far is given with its bound."""


@dataclass(frozen=True, slots=True)
class DepthStep:
    """One step: openings with one tool, ended by a removal or by the next tool.

    Attributes:
        tool: Tool id, None for the bare hand.
        joints: Joints opened, in order.
        removed: What comes off at its end: pieces as part ids, empty where only the tool changes.
    """

    tool: str | None
    joints: tuple[str, ...]
    removed: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Depth:
    """How deep a part (or a piece of several) lies.

    Attributes:
        piece: Part ids of the piece.
        steps: The steps of one way with the least number found; empty for a part that nothing holds.
        at_least: Proven lower bound on the number of steps.
        reachable: False when no way takes it out at all (then ``steps`` is empty).
        searched: States searched.
    """

    piece: tuple[str, ...]
    steps: tuple[DepthStep, ...]
    at_least: int
    reachable: bool
    searched: int

    @property
    def count(self) -> int:
        """Number of steps found: the depth when proven, else at most this."""
        return len(self.steps)

    @property
    def proven(self) -> bool:
        """True when no way with fewer steps exists (or no way at all)."""
        return not self.reachable or self.count == self.at_least


def disassembly_depth(
    device: Device,
    piece: str,
    work: int | None = DEFAULT_WORK,
    without: Collection[str] = (),
    frame: Frame | None = None,
    expired: Callable[[], bool] | None = None,
) -> Depth:
    """The least number of steps that take ``piece`` out.

    Args:
        device: The device, reduced to what is fitted.
        piece: A part, a spare, or several joined by ``+`` that come out as one piece.
        work: Stop after so many states (repeats exactly); None to go on to the end.
        without: Joints that may not be opened.
        frame: The compiled device, where several pieces are asked for.
        expired: Asked now and then; True stops as the work limit does.

    Raises:
        KeyError: With the name of an unknown part.
    """
    parts = device_parts_in(device, piece)
    frame = frame or Frame(device)
    goal = frame.mask(joints_around(device, parts))
    search = _Sets(frame, goal, frame.mask(without), Work(work, expired))
    return search.solve(parts)


def all_depths(device: Device, work: int | None = DEFAULT_WORK) -> dict[str, Depth]:
    """The depth of every part but the fixed one, in the order of the device file."""
    frame = Frame(device)
    return {
        part.id: disassembly_depth(device, part.id, work, frame=frame)
        for part in device.parts.values()
        if not part.fixed
    }


Must = tuple[int, ...]
"""Sets of joints of which one has to be open as a whole."""


@dataclass(frozen=True, slots=True, order=True)
class _Node:
    """A part of all sets of joints: those that hold ``wanted``, nothing of ``banned``, and satisfy ``must``.

    Attributes:
        bound: No way with such a set takes fewer steps.
        size: Minus the joints wanted (of two nodes with equal bounds the larger is nearer to an answer).
        wanted, banned: Sets of joints.
        must: What else has to be opened, nothing of it decided yet.
    """

    bound: int
    size: int
    wanted: int
    banned: int
    must: tuple[Must, ...]


class _Sets:
    """Best-first search over which joints to open; the runs of each set are searched exactly.

    Joints are decided where something wanted can't be reached yet, or could be reached otherwise:
    sooner, or with another tool. A joint that serves neither is left out, since leaving out an
    opening never costs a step.
    """

    def __init__(self, frame: Frame, goal: int, forbidden: int, work: Work) -> None:
        self._frame = frame
        self._goal = goal
        self._forbidden = forbidden
        self._work = work
        self._relevant = self._asked_for_at_all(goal)
        frame.focus(self._relevant)
        self._heap: list[_Node] = []
        self._pushed: set[tuple[int, int, tuple[Must, ...]]] = set()
        self._waiting: dict[int, int] = {}
        self._best = plain_way(frame, goal, forbidden) if goal else None
        self._best_cost = sum(run.cost for run in self._best or ())

    def solve(self, parts: tuple[str, ...]) -> Depth:
        """Search until the bound meets the best, or the work runs out."""
        if not self._goal:
            return Depth(parts, (), 0, reachable=True, searched=0)
        if not self._best:
            return Depth(parts, (), 0, reachable=False, searched=0)
        bound = 1
        try:
            self._push(self._goal, self._forbidden, ())
            while self._heap and self._heap[0].bound < self._best_cost:
                bound = self._heap[0].bound
                self._work.step()
                self._expand(heapq.heappop(self._heap))
            bound = self._best_cost
        except OutOfWork:
            pass
        return Depth(
            parts, _steps(self._frame, self._best), bound, reachable=True, searched=self._work.done
        )

    def _asked_for_at_all(self, goal: int) -> int:
        """Joints that any access asks for of the goal, of these joints, and so on."""
        relevant, new = goal, goal
        while new:
            asked = 0
            for joint in bits(new):
                for way in self._frame.ways[joint]:
                    asked |= way.units | _union(_union(path) for path in way.paths)
                    if not way.complete:  # a path that is not listed may run over any joint
                        return self._frame.all_joints
            new = asked & ~relevant
            relevant |= new
        return relevant

    # --- branching ------------------------------------------------------------------------------

    def _push(self, wanted: int, banned: int, must: Iterable[Must]) -> None:
        certain = self._with_certain(wanted, banned, must)
        if certain is None:
            return
        wanted, left = certain
        if wanted & banned:
            return
        key = (wanted, banned, left)
        if key in self._pushed:
            return
        self._pushed.add(key)
        undecided = self._relevant & ~wanted & ~banned
        bound = Runs(self._frame, wanted, self._work, undecided).bound(0, -1)
        if bound < self._best_cost:
            heapq.heappush(self._heap, _Node(bound, -wanted.bit_count(), *key))

    def _with_certain(
        self, wanted: int, banned: int, must: Iterable[Must]
    ) -> tuple[int, tuple[Must, ...]] | None:
        """Add what is needed in any case; with what is left to choose, None where nothing is."""
        left: Iterable[Must] = must
        while True:
            before = wanted
            open_choices: set[Must] = set()
            for choice in left:
                possible = _choices(choice, wanted, banned)
                if not possible:
                    return None
                wanted |= _common(possible)
                if possible[0]:
                    open_choices.add(possible)
            for joint in bits(wanted):
                needed = self._needed_in_any_case(joint, banned)
                if needed is None:
                    return None
                wanted |= needed
            left = open_choices
            if wanted == before:
                return wanted, tuple(sorted(open_choices, key=lambda c: (len(c), c)))

    def _needed_in_any_case(self, joint: int, banned: int) -> int | None:
        """What all ways to open a joint have in common; None when there is no way left."""
        common: int | None = None
        for way in self._frame.ways[joint]:
            if way.units & banned:
                continue
            needed = way.units
            for path in way.paths:
                possible = _choices(path, needed, banned)
                if not possible:
                    break
                needed |= _common(possible)
            else:
                common = needed if common is None else common & needed
        return common

    def _expand(self, node: _Node) -> None:
        wanted, banned = node.wanted, node.banned
        if node.must:
            for choice in node.must[0]:
                self._push(wanted | choice, banned, node.must[1:])
            return
        within = self._frame.reachable(wanted)
        if within != wanted:
            self._unblock(wanted, banned, within)
            return
        self._solve_set(wanted, node.bound)
        if node.bound < self._best_cost:
            for units, must in self._other_ways(wanted):
                self._push(wanted | units, banned, must)

    def _unblock(self, wanted: int, banned: int, within: int) -> None:
        """Go on where not all that is wanted can be reached: any way takes one of these."""
        helpful = 0
        best: list[tuple[int, tuple[Must, ...]]] | None = None
        for joint in bits(wanted & ~within):
            ways: list[tuple[int, tuple[Must, ...]]] = []
            stuck = False
            for way in self._frame.ways[joint]:
                if way.units & banned:
                    continue
                units, must = self._missing(joint, way, wanted)
                if units or must:
                    ways.append((units, must))
                    helpful |= units | _union(_union(choice) for choice in must)
                else:
                    stuck = True  # all it asks for is wanted, only not reachable yet
                    uncut = [p for p in way.paths if all(link & ~within for link in p)]
                    if not uncut and not way.complete:
                        uncut.append(self._frame.uncut_path(joint, way, within) or ())
                    helpful |= _union(_union(path) for path in uncut)
            if not stuck and (best is None or len(ways) < len(best)):
                best = ways
        if best is not None:
            for units, must in best:
                self._push(wanted | units, banned, must)
            return
        before = banned
        for joint in bits(helpful & ~wanted & ~banned):
            self._push(wanted | 1 << joint, before, ())
            before |= 1 << joint

    def _missing(self, joint: int, way: Way, wanted: int) -> tuple[int, tuple[Must, ...]]:
        """What a way asks for beyond ``wanted``: joints needed all, and choices."""
        units = way.units & ~wanted
        must = [path for path in way.paths if all(link & ~wanted for link in path)]
        if not units and not must and not way.complete:
            unlisted = self._frame.uncut_path(joint, way, wanted)
            must = [] if unlisted is None else [unlisted]
        return units, tuple(must)

    def _other_ways(self, wanted: int) -> list[tuple[int, tuple[Must, ...]]]:
        """What could be opened besides a set that is enough, to reach some joint of it otherwise.

        Either by an access for which the set is not enough. Or by one for which it is, before
        some joints of it are open, and so before all that waits for them: then other joints cut
        every path that is left.
        """
        found: set[tuple[int, tuple[Must, ...]]] = set()
        for joint in bits(wanted):
            for way in self._frame.ways[joint]:
                units, must = self._missing(joint, way, wanted)
                if units or must:
                    found.add((units, must))
                    continue
                if not way.complete:  # a path that is not listed may run over any joint
                    found.update((1 << j, ()) for j in bits(self._relevant & ~wanted))
                for late in self._late_sets(way, wanted):
                    if late & (way.units | 1 << joint):
                        continue
                    early = wanted & ~late
                    uncut = (p for p in way.paths if all(link & ~early for link in p))
                    found.add((0, tuple(tuple(x for x in p if not x & late) for p in uncut)))
        return sorted(found)

    def _late_sets(self, way: Way, wanted: int) -> tuple[int, ...]:
        """Least sets of joints without which, as long as they are closed, ``wanted`` leaves a path uncut."""
        late_sets: set[int] = set()
        for path in way.paths:
            late_of_path = {0}
            for link in path:
                if not link & ~wanted:
                    late_of_link = least_masks([1 << j | self._waits_for(j) for j in bits(link)])
                    late_of_path = {one | other for one in late_of_path for other in late_of_link}
            late_sets.update(late_of_path)
        return least_masks(list(late_sets))

    def _waits_for(self, joint: int) -> int:
        """Joints that can't be opened before this one, whatever else is open."""
        found = self._waiting.get(joint)
        if found is None:
            self._work.look_up()
            among = self._relevant & ~(1 << joint)
            found = self._waiting[joint] = among & ~self._frame.reachable(among)
        return found

    # --- one set --------------------------------------------------------------------------------

    def _solve_set(self, wanted: int, bound: int) -> None:
        runs = Runs(self._frame, wanted, self._work)
        if runs.bound(0, -1) < self._best_cost:
            self._keep(runs.dive())
        if bound < self._best_cost:
            self._keep(runs.below(self._best_cost))

    def _keep(self, found: list[Run] | None) -> None:
        cost = sum(run.cost for run in found or ())
        if found is not None and cost < self._best_cost:
            self._best, self._best_cost = found, cost


def _union(masks: Iterable[int]) -> int:
    union = 0
    for mask in masks:
        union |= mask
    return union


def _choices(choice: Must, wanted: int, banned: int) -> Must:
    """What is left of a choice: least sets to be opened still; (0,) where it is satisfied."""
    return least_masks([mask & ~wanted for mask in choice if not mask & banned])


def _common(masks: Must) -> int:
    common = masks[0]
    for mask in masks:
        common &= mask
    return common


def _steps(frame: Frame, runs: Sequence[Run]) -> tuple[DepthStep, ...]:
    """Cut runs into steps."""
    steps: list[DepthStep] = []
    opened = 0
    for run in runs:
        tool = frame.tool_ids[run.tool]
        joints: list[str] = []
        for joint in run.order:
            removed = frame.taken_off(joint, opened)
            opened |= 1 << joint
            joints.append(frame.joint_ids[joint])
            if removed:
                steps.append(DepthStep(tool, tuple(joints), removed))
                joints = []
        if joints:
            steps.append(DepthStep(tool, tuple(joints), ()))
    return tuple(steps)
