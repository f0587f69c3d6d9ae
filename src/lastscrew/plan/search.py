"""Which joints to open: branch and bound over the sets that can be open at the turning point."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, field

from lastscrew.plan.compiled import Option, Rules, bits
from lastscrew.plan.model import StopRule
from lastscrew.plan.sequence import Answer, Attribute, Setups, Task, Way, sequence

EVERYTHING = -1
"""The set of all joints: what nobody can reach needs everything."""


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


class Unreachable(Exception):
    """No way in exists. ``joints`` holds the required joints that can't be opened."""

    def __init__(self, joints: int) -> None:
        super().__init__("no way in")
        self.joints = joints


@dataclass(slots=True)
class Found:
    """The best turning set with its orders."""

    cost: int
    turning: int
    way_in: tuple[tuple[int, int], ...]
    way_out: tuple[tuple[int, int], ...]


@dataclass(slots=True)
class Outcome:
    """Best plan and bound, in units of the objective (without tie-breaking weights)."""

    best: Found | None
    best_value: int
    bound: int
    proven: bool
    expanded: int
    stopped: str = ""


@dataclass(slots=True)
class _Node:
    """A node's decisions and what follows from them."""

    taken: int
    out: int
    lm: list[int] = field(default_factory=list)
    lm_in: list[int] = field(default_factory=list)
    forced: int = 0


class Selection:
    """Joints that can matter for a question, with their options, costs and landmarks."""

    def __init__(self, question: Question) -> None:
        self.q = question
        self.rules = question.rules
        self.goal = question.required | question.opened
        self.count = len(self.rules.joint_ids)
        self.options: dict[int, tuple[Option, ...]] = {}
        waiting = self.goal
        self.relevant = 0
        banned = question.banned & ~question.opened
        while waiting:
            self.relevant |= waiting
            following = 0
            for j in bits(waiting):
                if banned >> j & 1:
                    continue
                options = self.rules.options(j)
                self.options[j] = options
                for option in options:
                    following |= option.units
                    for clause in option.clauses:
                        following |= clause
            waiting = following & ~self.relevant
        self.banned = banned
        self._weigh()

    def _weigh(self) -> None:
        opened = self.q.opened
        self.open_min: dict[int, int] = {}
        self.close_min: dict[int, int] = {}
        self.symmetric = not opened and self.q.start_side == 0
        for j, options in self.options.items():
            self.open_min[j] = 0 if opened >> j & 1 else min(o.open_cost for o in options)
            self.close_min[j] = min(o.close_cost for o in options)
            first = options[0]
            if any(
                o.tool != o.close_tool
                or o.open_cost != first.open_cost
                or o.close_cost != first.close_cost
                for o in options
            ):
                self.symmetric = False
        ranks = {j: r for r, j in enumerate(bits(self.relevant))}
        n = len(ranks)
        self.scale = 1 << (n + 2 + n.bit_length())
        self.weight = {
            j: (self.open_min[j] + self.close_min[j]) * self.scale
            + (2 << n)
            - (1 << (n - 1 - ranks[j]))
            for j in self.options
        }

    def reach(self, out: int, free: int) -> tuple[list[int], int]:
        """Joints in an order in which they can be opened, and their set."""
        live = {j: o for j, o in self.options.items() if not (out | free) >> j & 1}
        order: list[int] = []
        opened = free
        changed = True
        while changed:
            changed = False
            for j in list(live):
                for option in live[j]:
                    if option.units & ~opened:
                        continue
                    for clause in option.clauses:
                        if not clause & opened:
                            break
                    else:
                        opened |= 1 << j
                        order.append(j)
                        del live[j]
                        changed = True
                        break
        return order, opened

    def landmarks(self, out: int, free: int) -> tuple[list[int], int]:
        """For every joint the joints that every way to it opens (itself included), and what is reachable.

        The greatest fixed point over the and/or graph of options, exact for single joints
        (Keyder, Richter and Helmert, ECAI 2010, from memory).
        """
        order, reached = self.reach(out, free)
        lm = [EVERYTHING] * self.count
        for j in bits(free):
            lm[j] = 0
        live: list[tuple[int, list[tuple[int, list[int]]]]] = []
        for j in order:
            usable: list[tuple[int, list[int]]] = []
            for option in self.options[j]:
                if option.units & ~reached:
                    continue
                clauses = []
                for clause in option.clauses:
                    if clause & free:
                        continue
                    members = clause & reached
                    if not members:
                        break
                    clauses.append(members)
                else:
                    usable.append((option.units & ~free, clauses))
            live.append((j, usable))
        changed = True
        while changed:
            changed = False
            for j, usable in live:
                common = EVERYTHING
                for units, clauses in usable:
                    needs = units
                    for u in bits(units):
                        needs |= lm[u]
                    for clause in clauses:
                        shared = EVERYTHING
                        for k in bits(clause):
                            shared &= lm[k]
                        needs |= shared
                    common &= needs
                common |= 1 << j
                if common != lm[j]:
                    lm[j] = common
                    changed = True
        return lm, reached


class Search:
    """Best-first branch and bound over decisions "this joint is opened" and "it is not"."""

    def __init__(
        self,
        question: Question,
        *,
        stop: StopRule | None = None,
        expanded: int = 0,
    ) -> None:
        self.q = question
        self.s = Selection(question)
        stop = stop or StopRule()
        self.work, self.expired, self.progress = stop.work, stop.expired, stop.progress
        self.expanded = expanded
        self.best: Found | None = None
        self.best_value: int | None = None
        self.setups, self.kind_of = _setups(question, self.s)

    def forced_by_goal_and_start(self) -> tuple[int, int]:
        """Joints that every way to the required ones opens, and every way to those open at the start."""
        lm, _ = self.s.landmarks(self.s.banned, 0)
        by_goal, by_start = self.q.required, self.q.opened
        for j in bits(self.q.required):
            by_goal |= lm[j]
        for j in bits(self.q.opened):
            by_start |= lm[j]
        return by_goal, by_start

    # --- the tree -------------------------------------------------------------------------

    def run(self) -> Outcome:
        root = _Node(0, self.s.banned)
        bound = self.evaluate(root)
        if bound is None:
            if self.best is None:
                raise Unreachable(self.goal_out_of_reach())
            return self.outcome(self.best_value or 0, "")
        heap: list[tuple[int, int, int, _Node]] = [(bound, 0, 0, root)]
        tick = 0
        while heap:
            bound, _, _, node = heapq.heappop(heap)
            if self.best_value is not None and bound >= self.best_value:
                break
            if (self.work is not None and self.expanded > self.work) or (
                self.expired is not None and self.expired()
            ):
                return self.outcome(bound, "clock")
            k = self.branch(node)
            if k is None:
                continue
            for taken, out in ((node.taken | 1 << k, node.out), (node.taken, node.out | 1 << k)):
                child = _Node(taken, out)
                value = self.evaluate(child)
                if value is not None:
                    tick += 1
                    heapq.heappush(
                        heap, (max(value, bound), -child.forced.bit_count(), tick, child)
                    )
        return self.outcome(self.best_value or 0, "")

    def goal_out_of_reach(self) -> int:
        _, reached = self.s.reach(self.s.banned, 0)
        return self.s.goal & ~reached

    def outcome(self, bound: int, stopped: str) -> Outcome:
        value = self.best_value
        if value is not None and bound >= value:
            assert self.best is not None
            return Outcome(self.best, self.best.cost, self.best.cost, True, self.expanded, "")
        n = len(self.s.options)
        slack = (2 << n) * (n + 1)
        low = max(0, -((slack - bound) // self.s.scale)) if bound > slack else 0
        cost = self.best.cost if self.best is not None else 0
        return Outcome(self.best, cost, low, False, self.expanded, stopped)

    def evaluate(self, node: _Node) -> int | None:
        """Propagate decisions; the bound, or None where the node holds nothing better."""
        s = self.s
        while True:
            self.expanded += 1
            lm, reached = s.landmarks(node.out, 0)
            goal = s.goal | node.taken
            if goal & ~reached:
                return None
            forced = goal
            for j in bits(goal):
                forced |= lm[j]
            if forced & node.out:
                return None
            node.lm, node.forced = lm, forced
            node.lm_in = s.landmarks(node.out, self.q.opened)[0] if self.q.opened else lm
            # landmark bound
            base = self.base(forced)
            landmarks = self.open_landmarks(node)
            extra = self.pack(node, landmarks)
            if self.best_value is not None and base + extra >= self.best_value:
                return None
            setups = self.there_and_back(node, exact=False)
            if setups is None:
                return None
            node_bound = base + extra + setups[0] * s.scale
            if self.best_value is not None and node_bound >= self.best_value:
                return None
            self.improve(node, landmarks)
            assert self.best_value is not None or True
            if self.best_value is None:
                return node_bound
            if node_bound >= self.best_value:
                return None
            floor = base + setups[0] * s.scale
            room = self.best_value - floor
            newly = 0
            for k in bits(reached & ~forced & ~node.out):
                w = self.added(lm[k] & ~forced)
                if w >= room:
                    newly |= 1 << k
            if not newly:
                return node_bound
            node.out |= newly

    def added(self, mask: int) -> int:
        weight = self.s.weight
        total = 0
        for j in bits(mask):
            total += weight[j]
        return total

    def base(self, forced: int) -> int:
        total = self.added(forced)
        for act in self.q.acts:
            if act.counts(forced, self.q.opened):
                total += act.cost * self.s.scale
        return total

    def open_landmarks(self, node: _Node) -> list[list[int]]:
        """Sets of alternatives (each a set of joints to add) of which one is needed.

        For every forced joint that no option supports with forced joints alone.
        """
        s, forced, out, lm = self.s, node.forced, node.out, node.lm
        found: list[list[int]] = []
        for j in bits(forced):
            alternatives: list[int] = []
            single: list[list[int]] = []
            live = 0
            for option in s.options[j]:
                if option.units & out:
                    continue
                needs = 0
                for u in bits(option.units & ~forced):
                    needs |= lm[u]
                needs &= ~forced
                worst: list[list[int]] = []
                dead = False
                for clause in option.clauses:
                    if clause & forced:
                        continue
                    members = clause & ~out
                    choices = [lm[k] & ~forced for k in bits(members) if lm[k] != EVERYTHING]
                    if not choices:
                        dead = True
                        break
                    worst.append(choices)
                if dead or needs & out or needs == ~forced:
                    continue
                live += 1
                if not needs and not worst:
                    alternatives, single = [], []
                    break
                if not worst:
                    alternatives.append(needs)
                else:
                    best = max(worst, key=lambda c: min(self.added(x | needs) for x in c))
                    alternatives.extend(x | needs for x in best)
                    single = worst if not needs else []
            else:
                if live == 1 and single:
                    found.extend(single)
                elif alternatives:
                    found.append(alternatives)
        return found

    def pack(self, node: _Node, landmarks: list[list[int]]) -> int:
        """A lower bound on the cost of one alternative of each: costs are used up as they are counted."""
        left = {}
        total = 0
        weight = self.s.weight
        valued = sorted(
            ((min(self.added(a) for a in alts), alts) for alts in landmarks),
            key=lambda pair: (-pair[0], pair[1]),
        )
        for _, alts in valued:
            value = None
            for a in alts:
                v = 0
                for j in bits(a):
                    v += left.get(j, weight[j])
                if value is None or v < value:
                    value = v
                if not v:
                    break
            if not value:
                continue
            total += value
            paid: dict[int, int] = {}
            for a in alts:
                need = value
                for j in bits(a):
                    need -= paid.get(j, 0)
                for j in bits(a):
                    if need <= 0:
                        break
                    has = left.get(j, weight[j]) - paid.get(j, 0)
                    use = has if has < need else need
                    paid[j] = paid.get(j, 0) + use
                    need -= use
            for j, amount in paid.items():
                left[j] = left.get(j, weight[j]) - amount
        return total

    def branch(self, node: _Node) -> int | None:
        """The joint to decide next; None when nothing is left to decide."""
        landmarks = self.open_landmarks(node)
        lm, forced = node.lm, node.forced
        if landmarks:
            alts = max(landmarks, key=lambda a: (min(self.added(x) for x in a), a))
            best = min(alts, key=lambda x: (self.added(x), x))
            return max(bits(best), key=lambda j: ((lm[j] & ~forced).bit_count(), -j))
        candidates = 0
        for j in bits(forced):
            for option in self.s.options[j]:
                candidates |= option.units
                for clause in option.clauses:
                    candidates |= clause
        candidates &= ~forced & ~node.out
        reachable = [k for k in bits(candidates) if lm[k] != EVERYTHING]
        return min(reachable, key=lambda k: (self.added(lm[k] & ~forced), k), default=None)

    # --- plans ----------------------------------------------------------------------------

    def improve(self, node: _Node, landmarks: list[list[int]]) -> None:
        """Complete the forced joints to a turning set as cheaply as seems possible and sequence it."""
        s = self.s
        whole = node.forced
        trial = _Node(node.taken, node.out, node.lm, node.lm_in, whole)
        while landmarks:
            alts = max(landmarks, key=lambda a: (min(self.added(x) for x in a), a))
            trial.forced |= min(alts, key=lambda x: (self.added(x), x))
            landmarks = self.open_landmarks(trial)
        whole = trial.forced
        _, reached = s.reach(~whole, 0)
        if whole & ~reached:
            return
        result = self.there_and_back(trial, exact=True)
        if result is None:
            return
        cost, way_in, way_out = result
        value = self.base(whole) + cost * s.scale
        if self.best_value is None or value < self.best_value:
            self.best_value = value
            n = len(s.options)
            self.best = Found(value // s.scale, whole, tuple(way_in), tuple(way_out))

    def there_and_back(
        self, node: _Node, *, exact: bool
    ) -> tuple[int, list[tuple[int, int]], list[tuple[int, int]]] | None:
        """Least setups (and dearer accesses) for the forced joints, both ways."""
        s, q = self.s, self.q
        out = ~node.forced if exact else node.out
        sides = {side for side, _ in self.kind_of}
        no_end = (0,) * len(self.kind_of)
        if s.symmetric:
            task = self.task(node, out, opening=True, end=no_end)
            if task is None:
                return None
            answer = sequence(task)
            if answer.cost is None:
                return None
            order = self.with_access(task, answer)
            return 2 * answer.cost, order, order[::-1]
        back: dict[int, Answer] = {}
        back_task = self.task(node, out, opening=False, end=no_end)
        if back_task is None:
            return None
        task = back_task
        for side in sorted(sides):
            end = tuple(0 if k[0] == side else q.turn_cost for k in self.kind_of)
            back[side] = sequence(Task(task.ways, task.setups, task.start, end, task.certain))
            if back[side].cost is None:
                return None
        end = tuple(back[k[0]].cost or 0 for k in self.kind_of)
        task = self.task(node, out, opening=True, end=end)
        if task is None:
            return None
        answer = sequence(task)
        if answer.cost is None:
            return None
        last = q.start_side
        for op, way in answer.order:
            last = s.options[op][task.ways[op][way].tag].side
        outward = self.with_access(back_task, back[last])[::-1]
        return answer.cost, self.with_access(task, answer), outward

    def with_access(self, task: Task, answer: Answer) -> list[tuple[int, int]]:
        """The order as (joint, access)."""
        return [(op, task.ways[op][way].tag) for op, way in answer.order]

    def task(self, node: _Node, out: int, *, opening: bool, end: tuple[int, ...]) -> Task | None:
        """The sequencing question for the forced joints in one direction.

        Joints that are neither forced nor out are taken as open wherever that helps: the bound
        holds for every turning set below the node. With everything else out it is exact.
        """
        s, forced = self.s, node.forced
        free = self.q.opened if opening else 0
        lm = node.lm_in if opening else node.lm
        ops = forced & ~free
        maybe = ~(forced | out)
        ways: list[tuple[Way, ...]] = [()] * s.count
        certain = [0] * s.count
        for j in bits(ops):
            usable = []
            least = s.open_min[j] if opening else s.close_min[j]
            for tag, option in enumerate(s.options[j]):
                if option.units & out & ~free:
                    continue
                units = option.units & ~free
                needs = units & forced
                for u in bits(units & maybe):
                    needs |= lm[u] & ops
                clauses = []
                for clause in option.clauses:
                    if clause & free:
                        continue
                    if clause & maybe:
                        shared = EVERYTHING
                        for k in bits(clause & ~out):
                            shared &= lm[k]
                        needs |= shared & ops
                        continue
                    members = clause & forced
                    if not members:
                        break
                    clauses.append(members)
                else:
                    kind = self.kind_of[(option.side, option.tool if opening else option.close_tool)]
                    cost = option.open_cost if opening else option.close_cost
                    usable.append(Way(kind, cost - least, needs & ~(1 << j), tuple(clauses), tag))
            if not usable:
                return None
            ways[j] = tuple(usable)
            certain[j] = lm[j] & ops & ~(1 << j)
        start_side = self.q.start_side if opening else 0
        return Task(tuple(ways), self.setups, self.kind_of[(start_side, 0)], end, tuple(certain))


def _setups(q: Question, s: Selection) -> tuple[Setups, dict[tuple[int, int], int]]:
    """Classes (side, tool) that occur, and the matrix between them."""
    kinds = {(q.start_side, 0), (0, 0)}
    for options in s.options.values():
        for o in options:
            kinds.add((o.side, o.tool))
            kinds.add((o.side, o.close_tool))
    listed = sorted(kinds)
    matrix = [
        [
            (q.turn_cost if a[0] != b[0] else 0) + (q.swap_cost[b[1]] if a[1] != b[1] else 0)
            for b in listed
        ]
        for a in listed
    ]
    sides = sorted({side for side, _ in listed})
    tools = sorted({tool for _, tool in listed})
    attributes = (
        Attribute(tuple(sides.index(side) for side, _ in listed), (q.turn_cost,) * len(sides)),
        Attribute(tuple(tools.index(t) for _, t in listed), tuple(q.swap_cost[t] for t in tools)),
    )
    return Setups.of(matrix, attributes), {kind: i for i, kind in enumerate(listed)}


__all__: Sequence[str] = ("Found", "Outcome", "Question", "Search", "Unreachable")
