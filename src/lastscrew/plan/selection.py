"""Joints that can matter for a question, what they cost, and what every way to them opens."""

from __future__ import annotations

import heapq
from dataclasses import dataclass

from lastscrew.plan.compiled import EVERYTHING, Option, Rules, bits, needed_by


@dataclass(frozen=True, slots=True)
class ConditionalAct:
    """An act whose cost depends on which joints are opened.

    It counts when its joint (a set with one bit; 0 for none) is open at the turning point (with
    ``opening``: is opened on the way in), and ``always`` or one of ``when_opened`` is opened on the way in.
    """

    joint: int
    opening: bool
    when_opened: int
    always: bool
    cost: int

    def counts(self, turning: int, opened_before: int) -> bool:
        """True when a plan with this turning set does the act."""
        opened = turning & ~opened_before
        if self.joint and not self.joint & (opened if self.opening else turning):
            return False
        return self.always or bool(self.when_opened & opened)


@dataclass(frozen=True, slots=True)
class Question:
    """What the search is asked, in sets of joints.

    Attributes:
        rules: The compiled device.
        required: Joints that must be open at the turning point.
        opened: Joints that are open at the start.
        banned: Joints that may not be opened.
        start_side: Index of the side that faces up at the start.
        turn_cost: Cost of a turn.
        swap_cost: Cost of taking up each tool, by tool index (0 for none).
        acts: Conditional acts.
    """

    rules: Rules
    required: int
    opened: int
    banned: int
    start_side: int
    turn_cost: int
    swap_cost: tuple[int, ...]
    acts: tuple[ConditionalAct, ...] = ()


class Selection:
    """The joints that some way to the goal may ask for; all others are left out.

    Attributes:
        goal: Joints that are open at every turning point (required, or open at the start).
        banned: Joints that are never opened.
        options: By joint, its options.
        open_least, close_least: By joint, the least cost of opening and of closing it.
        mirrored: True when the best way in read backwards is a best way out.
        scale: Factor between costs and weights: what lies below it breaks ties.
        weight: By joint, least cost of opening and closing it times ``scale``, plus its share in breaking ties:
            fewest joints first, then the least list of ids.
    """

    def __init__(self, question: Question) -> None:
        """Collect what matters, beginning with the goal."""
        self.question = question
        self.goal = question.required | question.opened
        self.banned = question.banned & ~question.opened
        self.count = len(question.rules.joint_ids)
        self.options: dict[int, tuple[Option, ...]] = {}
        self._collect()
        self.open_least = {
            j: 0 if question.opened >> j & 1 else min(o.open_cost for o in options)
            for j, options in self.options.items()
        }
        self.close_least = {j: min(o.close_cost for o in os) for j, os in self.options.items()}
        self.mirrored = (
            not question.opened
            and question.start_side == 0
            and all(_one_price(options) for options in self.options.values())
        )
        self.scale, self.weight = self._weigh()

    def _collect(self) -> None:
        waiting = seen = self.goal
        while waiting:
            following = 0
            for j in bits(waiting & ~self.banned):
                self.options[j] = self.question.rules.options(j)
                for option in self.options[j]:
                    following |= option.units
                    for clause in option.clauses:
                        following |= clause
            waiting = following & ~seen
            seen |= waiting

        self._numbered = list(self.options)
        self._number_of = {j: number for number, j in enumerate(self._numbered)}
        self._asking: dict[int, list[int]] = {}
        for j, options in self.options.items():
            asked = 0
            for option in options:
                asked |= option.units
                for clause in option.clauses:
                    asked |= clause
            for k in bits(asked):
                self._asking.setdefault(k, []).append(j)

    def _weigh(self) -> tuple[int, dict[int, int]]:
        """Costs with ties broken in the low bits.

        With n joints, the joint of rank r (by id) weighs 2**(n+1) - 2**(n-1-r). A set with fewer joints
        weighs less than any with more, and among sets of one size the one whose sorted list of ids is
        least weighs least.
        """
        n = len(self.options)
        scale = 1 << (n + 2 + n.bit_length())
        weight = {
            j: (self.open_least[j] + self.close_least[j]) * scale + (2 << n) - (1 << (n - 1 - rank))
            for rank, j in enumerate(sorted(self.options))
        }
        return scale, weight

    def cost_of(self, weight: int) -> int:
        """The cost in a weight of a whole turning set."""
        return weight // self.scale

    def least_cost_above(self, bound: int) -> int:
        """The least cost of a turning set that weighs ``bound`` or more."""
        n = len(self.options)
        most_ties = n * (2 << n)
        return max(0, -((most_ties - bound) // self.scale))

    def weigh(self, joints: int) -> int:
        """Weight of a set of joints."""
        weight = self.weight
        total = 0
        while joints:
            low = joints & -joints
            total += weight[low.bit_length() - 1]
            joints ^= low
        return total

    def weigh_acts(self, turning: int) -> int:
        """Weight of the conditional acts of a turning set; grows with the set."""
        question = self.question
        return self.scale * sum(
            act.cost for act in question.acts if act.counts(turning, question.opened)
        )

    def reach(self, out: int, free: int) -> tuple[list[int], int]:
        """Joints in an order in which they can be opened, and their set (``free`` included).

        In turns through all joints, in each whatever has come free; only those are looked at again that ask for one
        which has been opened since.

        Args:
            out: Joints that stay closed.
            free: Joints that are open already.
        """
        closed = out | free
        waiting = [(0, number) for number, j in enumerate(self._numbered) if not closed >> j & 1]
        last = [0] * len(self._numbered)
        order: list[int] = []
        opened = free
        while waiting:
            turn, number = heapq.heappop(waiting)
            j = self._numbered[number]
            if opened >> j & 1 or not any(option.is_open(opened) for option in self.options[j]):
                continue
            opened |= 1 << j
            order.append(j)
            for later in self._asking.get(j, ()):
                place = self._number_of[later]
                again = turn + (place < number)
                if last[place] < again and not (closed | opened) >> later & 1:
                    last[place] = again
                    heapq.heappush(waiting, (again, place))
        return order, opened

    def complete(self, forced: int, out: int) -> int:
        """A set that holds ``forced`` and can be opened by itself, cheap but not always cheapest.

        Joints are settled in the order of what it costs to get to them (what ``forced`` holds costs
        nothing), each supported by joints settled before it, so that no support is circular
        (Knuth, "A generalization of Dijkstra's algorithm", 1977). Then whatever can be spared is dropped,
        dearest first. Every joint of ``forced`` must be reachable while ``out`` stay closed.
        """
        support = self._supports(forced, out)
        chosen, waiting = 0, forced
        while waiting:
            chosen |= waiting
            needed = 0
            for j in bits(waiting):
                needed |= support[j]
            waiting = needed & ~chosen
        spare = sorted(bits(chosen & ~forced), key=lambda j: (-self.weight[j], j))
        for j in spare:
            without = chosen & ~(1 << j)
            if self.reach(~without, 0)[1] & without == without:
                chosen = without
        return chosen

    def _supports(self, forced: int, out: int) -> dict[int, int]:
        """For every joint that can be reached the joints that its cheapest option is opened with."""
        settled = 0
        costs: dict[int, int] = {}
        support: dict[int, int] = {}
        live = [j for j in self.options if not out >> j & 1]
        heap: list[tuple[int, int, int]] = []
        fresh = live
        while True:
            for j in fresh:
                offer = self._cheapest_support(j, settled, costs)
                if offer is not None:
                    own = 0 if forced >> j & 1 else self.weight[j]
                    heapq.heappush(heap, (own + offer[0], j, offer[1]))
            while heap and settled >> heap[0][1] & 1:
                heapq.heappop(heap)
            if not heap:
                return support
            cost, j, with_them = heapq.heappop(heap)
            settled |= 1 << j
            costs[j], support[j] = cost, with_them
            fresh = [k for k in self._asking.get(j, ()) if not (settled | out) >> k & 1]

    def _cheapest_support(
        self, j: int, settled: int, costs: dict[int, int]
    ) -> tuple[int, int] | None:
        best: tuple[int, int] | None = None
        for option in self.options[j]:
            if not option.is_open(settled):
                continue
            with_them = option.units
            for clause in option.clauses:
                if not clause & with_them:
                    with_them |= 1 << min(bits(clause & settled), key=lambda k: (costs[k], k))
            offer = (sum(costs[k] for k in bits(with_them)), with_them)
            if best is None or offer < best:
                best = offer
        return best

    def landmarks(self, out: int, free: int) -> tuple[list[int], int]:
        """For every joint what every way to it opens (itself included), and what is reachable.

        The greatest fixed point over the and/or graph of options; it finds every joint that all ways
        have in common (Keyder, Richter and Helmert, "Sound and complete landmarks for and/or graphs",
        ECAI 2010; reference from memory). Joints out of reach need :data:`EVERYTHING`.
        """
        order, reached = self.reach(out, free)
        lm = [EVERYTHING] * self.count
        for j in bits(free):
            lm[j] = 0
        usable = [(j, _usable(self.options[j], reached, free)) for j in order]
        changed = True
        while changed:
            changed = False
            for j, offers in usable:
                common = EVERYTHING
                for units, clauses in offers:
                    common &= needed_by(lm, units, clauses)
                common |= 1 << j
                if common != lm[j]:
                    lm[j] = common
                    changed = True
        return lm, reached


def _usable(options: tuple[Option, ...], reached: int, free: int) -> list[tuple[int, list[int]]]:
    """(units, clauses) of the options that can ever be used, without what is open already."""
    found = []
    for option in options:
        if option.is_open(reached):
            clauses = [clause & reached for clause in option.clauses if not clause & free]
            found.append((option.units & ~free, clauses))
    return found


def _one_price(options: tuple[Option, ...]) -> bool:
    """True when a joint costs the same by every access and closes with the tool that opens it."""
    first = options[0]
    return all(
        option.tool == option.close_tool
        and option.open_cost == first.open_cost
        and option.close_cost == first.close_cost
        for option in options
    )
