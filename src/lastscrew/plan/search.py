"""Which joints to open: branch and bound over the sets that can be open at the turning point.

A node has decided that some joints are opened and that some stay closed. What follows is worked
out (every joint that all ways in then have in common is forced) and bounded from below by

- the forced joints themselves,
- the least that their open demands can cost (:mod:`lastscrew.plan.choices`), and
- the least setups of the forced joints alone, with the precedence that is certain
  (:mod:`lastscrew.plan.ordering`), found exactly.

A joint whose addition would lift that bound to the best plan known stays closed; this settles most of
them at the root. Nodes are taken best first, so that the bound of the next node is the bound of
all. Cost grows with the number of real choices that are left, at worst exponentially in it.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field

from lastscrew.plan.choices import cheapest, demands, least_weight
from lastscrew.plan.compiled import EVERYTHING, bits
from lastscrew.plan.model import StopRule
from lastscrew.plan.ordering import Effort, Limbs, Order, Orders
from lastscrew.plan.selection import Question, Selection

FIRST_BUDGET = 20_000
"""States that one sequencing search may expand before the node goes on with its bound."""


class UnreachableError(Exception):
    """No way in exists. ``joints`` is the set of wanted joints that can't be opened."""

    def __init__(self, joints: int) -> None:
        """Keep the joints."""
        super().__init__("no way in")
        self.joints = joints


@dataclass(frozen=True, slots=True)
class Found:
    """A turning set with its orders."""

    cost: int
    turning: int
    way_in: Order
    way_out: Order


@dataclass(frozen=True, slots=True)
class Outcome:
    """The best plan and how far it is proven, in units of the objective.

    Attributes:
        best: The best plan found; None when the search was stopped before the first.
        bound: Proven lower bound.
        proven: True when cost and bound are equal.
        expanded: States expanded.
        stopped: Why the search ended early, or "".
    """

    best: Found | None
    bound: int
    proven: bool
    expanded: int
    stopped: str = ""


@dataclass(slots=True)
class _Node:
    """Decisions and what follows from them.

    Attributes:
        taken, out: Joints decided to be opened, to stay closed.
        forced: Joints that every turning set below opens.
        landmarks: For the way out (from all closed) and for the way in.
        wanted: Open demands of the forced joints.
        budget: States that its sequencing searches may expand.
        cut: True when one of them was stopped by that.
    """

    taken: int
    out: int
    forced: int = 0
    landmarks: tuple[list[int], list[int]] = field(default_factory=lambda: ([], []))
    wanted: list[list[int]] = field(default_factory=list)
    budget: int = FIRST_BUDGET
    cut: bool = False


class Search:
    """One search; :meth:`run` gives its outcome."""

    def __init__(self, question: Question, stop: StopRule | None = None, expanded: int = 0) -> None:
        """Prepare a search.

        Args:
            question: What is asked.
            stop: When to give up.
            expanded: States that an earlier search for the same plan has expanded.
        """
        stop = stop or StopRule()
        self.question = question
        self.selection = Selection(question)
        self.effort = Effort(stop.work, stop.expired, expanded)
        self.orders = Orders(self.selection, self.effort)
        self._progress = stop.progress
        self._best: Found | None = None
        self._best_weight: int | None = None

    def forced_by(self, goal: int) -> int:
        """Joints that every way to all of ``goal`` opens."""
        lm, _ = self.selection.landmarks(self.selection.banned, 0)
        forced = goal
        for j in bits(goal):
            forced |= lm[j]
        return forced

    def run(self) -> Outcome:
        """Search until proven or stopped.

        Raises:
            UnreachableError: No way in exists.
        """
        _, reached = self.selection.reach(self.selection.banned, 0)
        if self.selection.goal & ~reached:
            raise UnreachableError(self.selection.goal & ~reached)
        root = _Node(0, self.selection.banned)
        heap: list[tuple[int, int, int, _Node]] = []
        count = 0
        first = self._evaluate(root)
        if first is not None:
            heap.append((first, 0, count, root))
        while heap:
            bound, _, _, node = heapq.heappop(heap)
            if self._best_weight is not None and bound >= self._best_weight:
                break
            stopped = self.effort.over()
            if stopped:
                return self._outcome(bound, stopped)
            self._tell(bound)
            for child in self._children(node):
                value = self._evaluate(child)
                if value is not None:
                    count += 1
                    entry = (max(value, bound), -child.forced.bit_count(), count, child)
                    heapq.heappush(heap, entry)
        return self._outcome(None, "")

    def _outcome(self, bound: int | None, stopped: str) -> Outcome:
        best = self._best
        if bound is None:
            assert best is not None, "the root always yields a plan or a bound"
            return Outcome(best, best.cost, proven=True, expanded=self.effort.expanded)
        least = self.selection.least_cost_above(bound)
        if best is not None and least >= best.cost:
            return Outcome(best, best.cost, proven=True, expanded=self.effort.expanded)
        return Outcome(best, least, proven=False, expanded=self.effort.expanded, stopped=stopped)

    def _tell(self, bound: int) -> None:
        if self._progress is not None:
            cost = self._best.cost if self._best is not None else None
            self._progress(self.effort.expanded, self.selection.least_cost_above(bound), cost)

    def _evaluate(self, node: _Node) -> int | None:
        """Work out what follows from a node's decisions, and look for a plan.

        Returns:
            A lower bound on the weight of every turning set below the node; None when there is none, or
            none better than the best plan known.
        """
        selection = self.selection
        while True:
            self.effort.expanded += 1
            if not self._propagate(node):
                return None
            base = selection.weigh(node.forced) + selection.weigh_acts(node.forced)
            extra = least_weight(selection, node.wanted)
            if self._is_enough(base + extra):
                return None
            limbs = self.orders.limbs(
                node.forced,
                node.out,
                node.landmarks,
                most=node.budget,
                enough=self._room(base + extra),
            )
            if limbs is None:
                return None
            node.cut = limbs.cost != limbs.bound
            setups = limbs.bound * selection.scale
            if self._is_enough(base + extra + setups):
                return None
            self._look_for_plan(node, limbs)
            if self._is_enough(base + extra + setups):
                return None
            too_dear = self._too_dear(node, base + setups)
            if not too_dear:
                return base + extra + setups
            node.out |= too_dear

    def _room(self, weight: int) -> int | None:
        """Setups that may be added to a weight before the best plan known is no dearer."""
        if self._best_weight is None:
            return None
        return (self._best_weight - weight) // self.selection.scale

    def _is_enough(self, weight: int) -> bool:
        """True when the best plan known weighs no more."""
        return self._best_weight is not None and weight >= self._best_weight

    def _propagate(self, node: _Node) -> bool:
        """Find what the decisions force; False when they contradict each other."""
        selection = self.selection
        lm, reached = selection.landmarks(node.out, 0)
        goal = selection.goal | node.taken
        if goal & ~reached:
            return False
        forced = goal
        for j in bits(goal):
            forced |= lm[j]
        opened = self.question.opened
        from_start = selection.landmarks(node.out, opened)[0] if opened else lm
        node.forced, node.landmarks = forced, (lm, from_start)
        node.wanted = demands(selection, lm, forced, node.out)
        return True

    def _too_dear(self, node: _Node, floor: int) -> int:
        """Joints that no better plan below the node opens: what they force costs too much."""
        if self._best_weight is None:
            return 0
        lm = node.landmarks[0]
        room = self._best_weight - floor
        undecided = self._undecided(node)
        return sum(1 << k for k in undecided if self.selection.weigh(lm[k] & ~node.forced) >= room)

    def _undecided(self, node: _Node) -> list[int]:
        lm = node.landmarks[0]
        decided = node.forced | node.out
        return [k for k in self.selection.options if not decided >> k & 1 and lm[k] != EVERYTHING]

    def _children(self, node: _Node) -> list[_Node]:
        """The node split in two by one more decision; undivided, with a larger budget if it was cut."""
        k = self._to_decide(node)
        if k is None:
            return [_Node(node.taken, node.out, budget=node.budget * 8)] if node.cut else []
        bit = 1 << k
        return [
            _Node(node.taken | bit, node.out, budget=node.budget),
            _Node(node.taken, node.out | bit, budget=node.budget),
        ]

    def _to_decide(self, node: _Node) -> int | None:
        """The joint whose decision tells most: the deepest of the dearest demand, else the cheapest helper."""
        lm, selection = node.landmarks[0], self.selection
        if node.wanted:
            choice = cheapest(selection, node.wanted)
            return max(bits(choice), key=lambda j: ((lm[j] & ~node.forced).bit_count(), -j))
        helpers = 0
        for j in bits(node.forced):
            for option in selection.options[j]:
                helpers |= option.units
                for clause in option.clauses:
                    helpers |= clause
        open_helpers = [k for k in self._undecided(node) if helpers >> k & 1]
        return min(
            open_helpers,
            key=lambda k: (selection.weigh(lm[k] & ~node.forced), k),
            default=None,
        )

    def _look_for_plan(self, node: _Node, limbs: Limbs) -> None:
        """Complete the forced joints as cheaply as seems possible, order them, keep the best."""
        selection = self.selection
        turning = selection.complete(node.forced, node.out)
        if turning != node.forced or not limbs.exact or limbs.cost is None:
            found = self.orders.limbs(
                turning, ~turning, node.landmarks, most=node.budget, hasty_too=True
            )
            if found is None:
                return
            limbs = found
            node.cut |= limbs.cost != limbs.bound
        if limbs.cost is None:
            return
        weight = (
            selection.weigh(turning) + selection.weigh_acts(turning) + limbs.cost * selection.scale
        )
        if self._best_weight is None or weight < self._best_weight:
            self._best_weight = weight
            self._best = Found(selection.cost_of(weight), turning, limbs.way_in, limbs.way_out)
