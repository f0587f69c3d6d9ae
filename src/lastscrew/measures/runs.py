"""The least steps in which a fixed set of joints can be opened, over all orders.

Facts that the search rests on (the tests hold it to a search without any of them):

* Opening more joints earlier never blocks another joint, and never lets another opening take
  off less (the pieces into which a graph falls grow faster the fewer edges are left).
* So what a run can open it may as well open, save for two kinds of joint: one that is kept back to be
  the *last* of its run or of a later run with the same tool, since a run that ends with a removal
  saves a step; and one that holds three or more pieces together, which had better come late (then it
  takes several off at once).
* The number of removals is fixed by the set of joints, but for those that take off several at once.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, groupby
from operator import itemgetter

from lastscrew.measures.counting import Frame
from lastscrew.plan.compiled import bits, mask_of

NO_TOOL_YET = -1
NEVER = 1 << 30
"""More steps than any way has: from here not all can be opened."""


class OutOfWork(Exception):  # noqa: N818 (it is no error: the limit was asked for)
    """The work limit is reached."""


class Work:
    """Counts searched states against a limit, and asks now and then whether time is up."""

    def __init__(self, limit: int | None, expired: Callable[[], bool] | None = None) -> None:
        """``limit`` None for none; ``expired`` comes from outside (a clock, an interrupt)."""
        self.limit = limit
        self.expired = expired
        self.done = 0

    def step(self) -> None:
        """One more state.

        Raises:
            OutOfWork: If that is one too many, or time is up.
        """
        self.done += 1
        if self.limit is not None and self.done > self.limit:
            raise OutOfWork
        self.look_up()

    def look_up(self) -> None:
        """Is time up? Asked inside of what takes long.

        Raises:
            OutOfWork: If it is.
        """
        if self.expired is not None and self.expired():
            raise OutOfWork


@dataclass(frozen=True, slots=True)
class Run:
    """Openings with one tool, in order, with what they cost in steps."""

    tool: int
    order: tuple[int, ...]
    cost: int


class Runs:
    """The search over runs for one set of joints.

    Args of the constructor:
        frame: The device.
        wanted: Joints that must all be opened, and no others.
        undecided: Joints of which it is not yet known whether they are opened: for a lower bound
            they count as open.
    """

    def __init__(self, frame: Frame, wanted: int, work: Work, undecided: int = 0) -> None:
        """See the class."""
        self.frame = frame
        self.wanted = wanted
        self.undecided = undecided
        self.work = work
        final = wanted | undecided
        self._waiting: dict[int, int] = {}
        # Into how many pieces the parts of a joint can fall at most when it is opened: all else is
        # open then but what waits for it.
        self._spread = {
            j: frame.falls_into(j, final & ~(1 << j) & ~self._waits_for(j)) for j in bits(wanted)
        }
        self.removers = sum(1 << j for j, spread in self._spread.items() if spread > 1)
        self.several = sum(1 << j for j, spread in self._spread.items() if spread > 2)
        self._tools_of = {j: mask_of(way.tool for way in frame.ways[j]) for j in bits(final)}
        tools = 0
        for of_joint in self._tools_of.values():
            tools |= of_joint
        self.tools = list(bits(tools))
        self._with_tool = {
            tool: sum(1 << j for j in bits(wanted) if self._tools_of[j] >> tool & 1)
            for tool in self.tools
        }
        self._bounds: dict[tuple[int, int], int] = {}

    # --- lower bound ----------------------------------------------------------------------------

    def bound(self, opened: int, last: int) -> int:
        """No way from here takes fewer steps."""
        key = (opened, last)
        found = self._bounds.get(key)
        if found is None:
            removers = self.removers & ~opened
            idle = self._least_costly_runs(opened, last, removers)
            found = self._least_removals(opened) + idle
            if not opened:
                # Every run is a step at least, however it ends. (Dear to work out: once for a set.)
                found = max(found, self._least_costly_runs(opened, last, 0))
            self._bounds[key] = found
        return found

    def _least_removals(self, opened: int) -> int:
        left = self.wanted & ~opened
        now = self._pieces_decided(opened)
        then = self._pieces_decided(opened | self.wanted)
        at_once = sum(self._spread[j] - 2 for j in bits(left & self.several))
        return max(then - now - at_once, int(then > now))

    def _pieces_decided(self, opened: int) -> int:
        """Pieces while every undecided joint is closed: they only make more of them."""
        return len(self.frame.pieces(opened & ~self.undecided))

    def _least_costly_runs(self, opened: int, last: int, candidates: int) -> int:
        """Runs that can't end with the removal by a candidate, at least, in whatever order of tools.

        Every run is taken to open all that it can; more can never be open after the same tools.
        A run may end with a removal, and then costs nothing here, if a candidate of its tool would be
        apart after it; what can't be opened before that joint is then closed still. (A removal by an
        undecided joint is not among the least removals: it costs what it saves.) More open is never
        worse, unless the last tool could go on and may not: so runs that cost nothing and leave
        nothing for their tool are made at once, and of two sets that cost the same the smaller is
        forgotten.
        """
        front = [(opened, last)]
        cost = 0
        while True:
            done, following = self._same_cost(front, candidates)
            if done:
                return cost
            if not following:
                return NEVER
            front = following
            cost += 1

    def _same_cost(
        self, front: list[tuple[int, int]], candidates: int
    ) -> tuple[bool, list[tuple[int, int]]]:
        """Make all runs that cost nothing; is everything open, and what one more idle run gives."""
        waiting = sorted(front, key=lambda state: (state[0].bit_count(), state), reverse=True)
        seen: list[tuple[int, int]] = []
        following: set[tuple[int, int]] = set()
        while waiting:
            self.work.look_up()
            state = waiting.pop(0)
            if self._is_covered(state, seen):
                continue
            now, last = self._free_runs(*state, candidates)
            if not self.wanted & ~now:
                return True, []
            seen.append((now, last))
            for tool, after in self._next(now, last):
                following.add((after, tool))
                for joint in bits(candidates & self._with_tool[tool] & after):
                    left = after & ~self._waits_for(joint)
                    if self.frame.apart(left) >> joint & 1:
                        waiting.append((left, tool))
        kept: list[tuple[int, int]] = []
        for state in sorted(following, key=lambda s: (-s[0].bit_count(), s)):
            if not self._is_covered(state, kept):
                kept.append(state)
        return False, kept

    def _is_covered(self, state: tuple[int, int], others: list[tuple[int, int]]) -> bool:
        """True when another set has all of this one open and may go on as it may."""
        now, last = state
        return any(
            now & ~more == 0 and (tool in (last, NO_TOOL_YET) or self._close(more, tool) == more)
            for more, tool in others
        )

    def _next(self, now: int, last: int) -> list[tuple[int, int]]:
        """Runs with another tool than the last: (tool, what is open after it at most).

        One that opens nothing here stands for a run that opens only what is counted as open already;
        it matters where the last tool could go on.
        """
        could_go_on = last != NO_TOOL_YET and self._close(now, last) != now
        closed = ((tool, self._close(now, tool)) for tool in self.tools if tool != last)
        return [(tool, after) for tool, after in closed if could_go_on or after != now]

    def _close(self, opened: int, tool: int) -> int:
        return self.frame.closure(opened, tool, self.wanted | self.undecided)

    def _waits_for(self, joint: int) -> int:
        """Joints that can't be opened before this one, whatever else is open."""
        found = self._waiting.get(joint)
        if found is None:
            self.work.look_up()
            among = (self.wanted | self.undecided) & ~(1 << joint)
            found = self._waiting[joint] = among & ~self.frame.reachable(among)
        return found

    def _free_runs(self, now: int, last: int, candidates: int) -> tuple[int, int]:
        """Make every run that may end with a removal and leaves its tool nothing, until none is left."""
        while True:
            before = (now, last)
            for tool, after in self._next(now, last):
                for joint in bits(self.frame.apart(after) & candidates & self._with_tool[tool]):
                    left = after & ~self._waits_for(joint)
                    whole = self._close(left, tool) == left
                    if whole and not now & ~left and self.frame.apart(left) >> joint & 1:
                        now, last = left, tool
                        break
                if (now, last) != before:
                    break
            if (now, last) == before:
                return now, last

    # --- search ---------------------------------------------------------------------------------

    def dive(self) -> list[Run] | None:
        """Some way to open everything, mostly a good one: always the run that looks best.

        Where that ends with a joint kept back for a run that never comes, nothing is kept back. None
        when the set can't be opened.
        """
        opened, last = 0, NO_TOOL_YET
        way: list[Run] = []
        while self.wanted & ~opened:
            offers = [
                (run.cost + self.bound(after, run.tool), -after.bit_count(), number, run, after)
                for number, (run, after) in enumerate(self._runs(opened, last, most_kept=1))
            ]
            if not offers:
                return plain_way(self.frame, self.wanted, self.frame.all_joints & ~self.wanted)
            *_, run, opened = min(offers, key=lambda offer: offer[:3])
            last = run.tool
            way.append(run)
        return way

    def below(self, limit: int) -> list[Run] | None:
        """A way with the least steps if that is less than ``limit``, else None.

        Best first over (what is open, the last tool).

        Raises:
            OutOfWork: If the work limit is reached before that is known.
        """
        heap: list[tuple[int, int, int, int, int, int]] = []
        best: dict[tuple[int, int], int] = {(0, NO_TOOL_YET): 0}
        came: dict[tuple[int, int], tuple[tuple[int, int], Run]] = {}
        heapq.heappush(heap, (self.bound(0, NO_TOOL_YET), 0, 0, 0, NO_TOOL_YET, 0))
        number = 0
        while heap and heap[0][0] < limit:
            _, _, _, opened, last, cost = heapq.heappop(heap)
            if cost > best[opened, last]:
                continue
            if not self.wanted & ~opened:
                return _way_back(came, (opened, last))
            self.work.step()
            for run, after in self._runs(opened, last, most_kept=None):
                state, so_far = (after, run.tool), cost + run.cost
                if so_far >= best.get(state, limit):
                    continue
                bound = so_far + self.bound(*state)
                if bound < limit:
                    best[state] = so_far
                    came[state] = ((opened, last), run)
                    number += 1
                    heapq.heappush(heap, (bound, -after.bit_count(), number, *state, so_far))
        return None

    def _runs(self, opened: int, last: int, most_kept: int | None) -> Iterator[tuple[Run, int]]:
        """All runs worth trying from here that keep back at most so many joints (None: any number)."""
        offers = []
        for tool in self.tools:
            if tool != last:
                full = self.frame.closure(opened, tool, self.wanted)
                if full != opened:
                    offers.append((-(full & ~opened).bit_count(), tool, full))
        for _, tool, full in sorted(offers):
            yield from self._runs_with(opened, tool, full, most_kept)

    def _runs_with(
        self, opened: int, tool: int, full: int, most_kept: int | None
    ) -> Iterator[tuple[Run, int]]:
        """Runs of one tool: one joint kept back to be the last, none, then more for later runs."""
        here = list(bits(full & ~opened & self.removers & ~self.several))[::-1]
        seen: set[tuple[int, int]] = set()
        most = len(here) if most_kept is None else most_kept
        for size in (1, 0, *range(2, most + 1)):
            worth_more = False
            for kept in combinations(here, size):
                mask = sum(1 << j for j in kept)
                if size > 1 and self._later(opened, tool, mask) < size - 1:
                    continue
                worth_more = True
                for run, after in self._grow(opened, tool, mask, (), 0):
                    if (after, run.cost) not in seen:
                        seen.add((after, run.cost))
                        yield run, after
            if size > 1 and not worth_more:
                return

    def _later(self, opened: int, tool: int, kept: int) -> int:
        """Joints for later runs with the tools of ``kept`` when those are kept back, themselves left out.

        A later run that opens nothing but what was kept back for it saves nothing.
        """
        base, _, _ = self._plain_closure(opened, tool, kept)
        tools = 0
        for j in bits(kept):
            tools |= self._tools_of[j]
        return sum(1 for j in bits(self.wanted & ~base & ~kept) if self._tools_of[j] & tools)

    def _grow(
        self, opened: int, tool: int, kept: int, order: tuple[int, ...], removals: int
    ) -> Iterator[tuple[Run, int]]:
        """Runs that keep back ``kept`` (of which one may be the last), with all choices of the rest."""
        self.work.step()
        base, added, more = self._plain_closure(opened, tool, kept)
        order += added
        removals += more
        several = [
            j
            for j in bits(self.wanted & ~base & self.several)
            if self.frame.openable(base)[tool] >> j & 1
        ]
        for joint in (*bits(kept & ~base), *several):
            if self.frame.openable(base)[tool] >> joint & 1 and self.frame.takes_off(joint, base):
                run = Run(tool, (*order, joint), removals + 1)
                yield run, base | 1 << joint
        if order:
            yield Run(tool, order, removals + 1), base
        for joint in several:
            took = int(self.frame.takes_off(joint, base))
            yield from self._grow(base | 1 << joint, tool, kept, (*order, joint), removals + took)

    def _plain_closure(self, opened: int, tool: int, kept: int) -> tuple[int, tuple[int, ...], int]:
        """Open all that the tool can open but what is kept and what takes off several at once."""
        order: list[int] = []
        removals = 0
        among = self.wanted & ~kept & ~self.several
        while True:
            new = self.frame.openable(opened)[tool] & among
            if not new:
                return opened, tuple(order), removals
            for joint in bits(new):
                removals += self.frame.takes_off(joint, opened)
                opened |= 1 << joint
                order.append(joint)


def _way_back(
    came: Mapping[tuple[int, int], tuple[tuple[int, int], Run]], state: tuple[int, int]
) -> list[Run]:
    way: list[Run] = []
    while state in came:
        state, run = came[state]
        way.append(run)
    return way[::-1]


def plain_way(frame: Frame, goal: int, forbidden: int = 0) -> list[Run] | None:
    """Some way to open ``goal``, found without a search; None when there is none.

    Everything is opened, run after run, as far as the goal asks; then what nothing on the way to the goal
    has asked for is left out again.
    """
    runs = _as_far_as(frame.all_runs(forbidden), goal)
    if runs is None:
        return None
    order = [(joint, tool) for tool, joints in runs for joint in joints]
    needed = _needed(frame, order, goal)
    return list(_counted(frame, [(joint, tool) for joint, tool in order if needed >> joint & 1]))


def _as_far_as(
    runs: Sequence[tuple[int, tuple[int, ...]]], goal: int
) -> Sequence[tuple[int, tuple[int, ...]]] | None:
    for number, (_, joints) in enumerate(runs, 1):
        goal &= ~mask_of(joints)
        if not goal:
            return runs[:number]
    return None if goal else ()


def _needed(frame: Frame, order: Sequence[tuple[int, int]], goal: int) -> int:
    """The goal and what its joints ask for, by the first access that was open to each with its tool."""
    opened = mask_of(joint for joint, _ in order)
    needed = goal
    for joint, tool in reversed(order):
        opened &= ~(1 << joint)
        if not needed >> joint & 1:
            continue
        way = next(
            w for w in frame.ways[joint] if w.tool == tool and frame.allows(joint, w, opened)
        )
        needed |= way.units if way.complete else opened
        for path in way.paths:
            if not any(not link & ~(needed & opened) for link in path):
                needed |= next(link for link in path if not link & ~opened)
    return needed


def _counted(frame: Frame, order: Sequence[tuple[int, int]]) -> Iterator[Run]:
    """Openings in order as runs with their cost."""
    opened = 0
    for tool, openings in groupby(order, key=itemgetter(1)):
        joints = tuple(joint for joint, _ in openings)
        removals, removes = 0, False
        for joint in joints:
            removes = frame.takes_off(joint, opened)
            removals += removes
            opened |= 1 << joint
        yield Run(tool, joints, removals + (not removes))
