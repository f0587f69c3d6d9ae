"""The sequencing core: in what order, when changing over from one class of work to another costs.

Operations belong to classes (for a planner: a side and a tool). Going from one class to another
costs what the setup matrix says; within a class nothing. Each operation can be done in one of several
ways, each with its class, its extra cost and its precedence (all of some operations, and at least
one of each of some sets). The search finds a cheapest order, from a start class to whichever end.

It is an A* search over closed states. Where the setups (the end among them) obey the triangle
inequality, an operation that the present class can do at its least cost is done at once: moving it to
the front of any continuation costs nothing and hinders nothing (more done never makes anything else
harder). That condition is checked, not assumed. The bound adds up, over independent attributes of the classes (side,
tool), the price of entering a value times the number of separate runs of it that the longest chain of
certain precedence still needs.
"""

from __future__ import annotations

import heapq
from bisect import insort
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest

from lastscrew.plan.assignment import dual_prices, possible_changeovers
from lastscrew.plan.compiled import bits, needed_by


@dataclass(frozen=True, slots=True)
class Way:
    """One way to do an operation.

    Attributes:
        kind: Class that it belongs to.
        extra: Cost above the cheapest way of the same operation.
        needs: Operations that must all be done before (a set as an integer).
        clauses: Sets of operations of which at least one must be done before.
        tag: Whatever the caller wants back in the result.
    """

    kind: int
    extra: int = 0
    needs: int = 0
    clauses: tuple[int, ...] = ()
    tag: int = 0


@dataclass(frozen=True, slots=True)
class Attribute:
    """A property of classes that costs its price whenever a new value is entered.

    ``value_of[c]`` is the value of class c (-1: none), ``price[v]`` the least that entering v costs
    from any class with another value. For all classes a, b: setup[a][b] must be at least the sum of
    the prices of the values that differ.
    """

    value_of: tuple[int, ...]
    price: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Setups:
    """Costs of going from class to class.

    Attributes:
        matrix: ``matrix[a][b]`` from class a to class b; 0 on the diagonal.
        attributes: See :class:`Attribute`; may be empty (a weaker bound).
        triangle: True when no detour through a third class is cheaper than going directly.
    """

    matrix: tuple[tuple[int, ...], ...]
    attributes: tuple[Attribute, ...]
    triangle: bool

    @classmethod
    def of(cls, matrix: Sequence[Sequence[int]], attributes: Iterable[Attribute] = ()) -> Setups:
        """Check the triangle inequality and drop attributes that promise too much."""
        rows = tuple(tuple(row) for row in matrix)
        count = range(len(rows))
        triangle = all(
            rows[a][c] <= rows[a][b] + rows[b][c] for a in count for b in count for c in count
        )
        attributes = tuple(attributes)
        if not _attributes_hold(rows, attributes):
            attributes = ()
        return cls(rows, attributes, triangle)


def _attributes_hold(
    matrix: tuple[tuple[int, ...], ...], attributes: tuple[Attribute, ...]
) -> bool:
    def promised(a: int, b: int) -> int:
        return sum(
            attribute.price[attribute.value_of[b]]
            for attribute in attributes
            if attribute.value_of[b] >= 0 and attribute.value_of[a] != attribute.value_of[b]
        )

    count = range(len(matrix))
    return all(matrix[a][b] >= promised(a, b) for a in count for b in count)


@dataclass(frozen=True, slots=True)
class Task:
    """A sequencing question.

    Attributes:
        ways: For each operation its ways; a number without ways is no operation (so that a caller can
            keep its own numbers).
        setups: The setup matrix and its attributes.
        start: Class in which the work begins.
        end: Cost of ending in each class.
        certain: For each operation what comes before it in every order, closed under transitivity
            (used by the bound only); empty: what all ways of an operation need is taken.
    """

    ways: tuple[tuple[Way, ...], ...]
    setups: Setups
    start: int
    end: tuple[int, ...]
    certain: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """A cheapest order, or the best bound when the search was stopped.

    Attributes:
        cost: Setups, extras and end cost together; None when no order was found.
        bound: Proven lower bound (equal to ``cost`` when proven).
        order: (operation, way) in order.
        expanded: States expanded.
        possible: False when it is proven that no order exists.
    """

    cost: int | None
    bound: int
    order: tuple[tuple[int, int], ...]
    expanded: int
    possible: bool = True

    @property
    def proven(self) -> bool:
        """True when the cost is known to be the least."""
        return self.cost is not None and self.cost == self.bound


@dataclass(slots=True)
class _Compiled:
    """A task with everything that the search looks up."""

    kinds: int
    all_ops: int
    way_op: list[int] = field(default_factory=list)
    way_kind: list[int] = field(default_factory=list)
    way_extra: list[int] = field(default_factory=list)
    way_needs: list[int] = field(default_factory=list)
    way_clauses: list[tuple[int, ...]] = field(default_factory=list)
    way_number: list[int] = field(default_factory=list)
    ways_of: list[int] = field(default_factory=list)
    dependents: list[list[int]] = field(default_factory=list)
    cheap_in: list[int] = field(default_factory=list)
    dear_in: list[int] = field(default_factory=list)
    first_ways: int = 0


def _compile(task: Task) -> _Compiled:
    kinds = len(task.setups.matrix)
    count = len(task.ways)
    c = _Compiled(kinds, sum(1 << op for op, ways in enumerate(task.ways) if ways))
    c.cheap_in = [0] * kinds
    c.dear_in = [0] * kinds
    c.dependents = [[] for _ in range(count)]
    for op, ways in enumerate(task.ways):
        of_op = 0
        for number, way in enumerate(ways):
            w = len(c.way_op)
            bit = 1 << w
            of_op |= bit
            c.way_op.append(op)
            c.way_kind.append(way.kind)
            c.way_extra.append(way.extra)
            c.way_needs.append(way.needs)
            c.way_clauses.append(way.clauses)
            c.way_number.append(number)
            if way.extra == 0:
                c.cheap_in[way.kind] |= bit
            else:
                c.dear_in[way.kind] |= bit
            asked = way.needs
            for clause in way.clauses:
                asked |= clause
            for before in bits(asked):
                c.dependents[before].append(w)
            if not asked:
                c.first_ways |= bit
        c.ways_of.append(of_op)
    return c


class _Bound:
    """Setups that the operations still to be done need at the least.

    For every value of every attribute: how many separate runs of it lie on the longest chain of
    certain precedence among what is left. Levels are kept as sets, so that one state costs a few
    intersections.
    """

    def __init__(self, task: Task) -> None:
        before = list(task.certain) if task.certain else _certain_before(task)
        order = [op for op, ways in enumerate(task.ways) if ways]
        order.sort(key=lambda op: (-before[op].bit_count(), op))
        self._levels: list[tuple[int, int, int, list[tuple[int, tuple[int, int]]]]] = []
        for number, attribute in enumerate(task.setups.attributes):
            values = [_common_value(ways, attribute) if ways else None for ways in task.ways]
            for value, price in enumerate(attribute.price):
                if price and value in values:
                    levels = _run_levels(order, before, values, value)
                    self._levels.append((number, value, price, levels))
        self._value_of = [attribute.value_of for attribute in task.setups.attributes]
        self._entries = [
            [(price, value, levels) for number, value, price, levels in self._levels if number == a]
            for a in range(len(task.setups.attributes))
        ]
        self._values_of_kind, self._price_of = _value_bits(task.setups)
        self._open_ways = _ways_with_open_values(task, self._values_of_kind)
        self._known: dict[tuple[int, int], int] = {}

    def __call__(self, left: int, kind: int) -> int:
        """Least setups and extra costs for the operations in ``left``, from class ``kind``."""
        found = self._known.get((left, kind))
        if found is None:
            found = self._known[left, kind] = self._compute(left, kind)
        return found

    def _compute(self, left: int, kind: int) -> int:
        total, entered = self._runs(left, kind)
        for op_bit, ways, values in self._open_ways:
            if left & op_bit:
                least = min(extra + self._price(wanted & ~entered) for extra, wanted in ways)
                if least:
                    total += least
                    entered |= values
        return total

    def _runs(self, left: int, kind: int) -> tuple[int, int]:
        """Price of the runs on the longest chains, and the values that are entered or at hand."""
        total = 0
        entered = self._values_of_kind[kind]
        first = 0
        for value_of, entries in zip(self._value_of, self._entries, strict=True):
            here = value_of[kind]
            for price, value, levels in entries:
                for runs, (own, other) in levels:
                    if left & other or left & own:
                        spared = value == here and not left & other
                        total += price * (runs - spared)
                        entered |= 1 << (first + value)
                        break
            first += len(value_of)
        return total, entered

    def _price(self, values: int) -> int:
        found = self._price_of.get(values)
        if found is None:
            found = sum(self._price_of[1 << index] for index in bits(values))
            self._price_of[values] = found
        return found


def _value_bits(setups: Setups) -> tuple[list[int], dict[int, int]]:
    """Values of all attributes as bits: those of each class, and the price of entering each."""
    kinds = len(setups.matrix)
    of_kind = [0] * kinds
    price_of: dict[int, int] = {}
    for number, attribute in enumerate(setups.attributes):
        first = number * kinds
        for kind, value in enumerate(attribute.value_of):
            if value >= 0:
                of_kind[kind] |= 1 << (first + value)
        for value, price in enumerate(attribute.price):
            price_of[1 << (first + value)] = price
    return of_kind, price_of


def _ways_with_open_values(
    task: Task, values_of_kind: list[int]
) -> list[tuple[int, list[tuple[int, int]], int]]:
    """Operations with more than one way: (set of the one, (extra, values) of each way, all values).

    At least the dearest-to-avoid of their values is entered or their extra cost paid; a value is
    charged to one operation only, so that the charges add up.
    """
    found = []
    for op, ways in enumerate(task.ways):
        offers = sorted({(way.extra, values_of_kind[way.kind]) for way in ways})
        if len(offers) > 1:
            every = 0
            for _, values in offers:
                every |= values
            found.append((1 << op, offers, every))
    found.sort(key=lambda entry: (len(entry[1]), -entry[1][-1][0], entry[0]))
    return found


def _certain_before(task: Task) -> list[int]:
    """For each operation what is certainly done before it, closed under transitivity.

    The greatest fixed point, as for the landmarks of joints: where one of several must be done before, what all of
    these ask for. What can never be done asks for everything.
    """
    every = sum(1 << op for op, ways in enumerate(task.ways) if ways)
    with_it = [every if ways else 0 for ways in task.ways]
    changed = True
    while changed:
        changed = False
        for op, ways in enumerate(task.ways):
            common = with_it[op]
            for way in ways:
                common &= needed_by(with_it, way.needs, way.clauses) | 1 << op
            if common != with_it[op]:
                with_it[op] = common
                changed = True
    return [earlier & ~(1 << op) for op, earlier in enumerate(with_it)]


def _common_value(ways: tuple[Way, ...], attribute: Attribute) -> int | None:
    """The value of the attribute that all ways share; None where they differ."""
    values = {attribute.value_of[way.kind] for way in ways}
    return values.pop() if len(values) == 1 else None


def _run_levels(
    order: list[int], before: list[int], values: list[int | None], value: int
) -> list[tuple[int, tuple[int, int]]]:
    """Levels (runs, (own, other)), most runs first.

    ``own`` holds the operations of this value from which a chain with that many runs starts,
    ``other`` those of another value. Operations without a certain value are no links of a chain.

    The longest chains come first in ``order``. What is found for an operation is handed on to all that come before
    it, one set for each number of runs; each set holds the next ones, so that a number is found from the top.
    """
    own, other = _Runs(), _Runs()
    for op in order:
        if values[op] is None:
            continue
        best_own, best_other = own.most_after(op), other.most_after(op)
        if values[op] == value:
            own.add(op, max(1, best_own, best_other + 1 if best_other else 1), before[op])
        else:
            other.add(op, max(best_own, best_other), before[op])
    levels = zip_longest(own.by_least(), other.by_least(), fillvalue=0)
    return list(enumerate(levels, start=1))[::-1]


class _Runs:
    """Operations by the number of runs on the chains that start at them."""

    def __init__(self) -> None:
        self._exactly: list[int] = []
        """At n - 1 the operations whose longest chain has n runs."""
        self._ahead: list[int] = []
        """At n - 1 the operations that come before one whose longest chain has n runs or more."""

    def most_after(self, op: int) -> int:
        """Most runs on a chain from an operation that comes after this one."""
        runs = len(self._ahead)
        while runs and not self._ahead[runs - 1] >> op & 1:
            runs -= 1
        return runs

    def add(self, op: int, runs: int, before: int) -> None:
        """A chain of this many runs starts at ``op``; ``before`` are all operations that come before it."""
        if not runs:
            return
        while len(self._exactly) < runs:
            self._exactly.append(0)
            self._ahead.append(0)
        self._exactly[runs - 1] |= 1 << op
        while runs and before & ~self._ahead[runs - 1]:
            runs -= 1
            self._ahead[runs] |= before

    def by_least(self) -> list[int]:
        """At n - 1 the operations from which a chain of n runs or more starts."""
        sets = list(self._exactly)
        for runs in range(len(sets) - 1, 0, -1):
            sets[runs - 1] |= sets[runs]
        return sets


class _Apart:
    """The bound where every operation is a class of its own: dual prices of an assignment."""

    def __init__(self, task: Task) -> None:
        by_op = list(task.certain) if task.certain else _certain_before(task)
        kind_of = {op: ways[0].kind for op, ways in enumerate(task.ways) if ways}
        before = {
            kind_of[op]: sum(1 << kind_of[earlier] for earlier in bits(by_op[op])) for op in kind_of
        }
        costs = possible_changeovers(task.setups.matrix, task.end, task.start, before)
        rows, columns = dual_prices(costs)
        kinds = sorted(before)
        self._leaving = dict(zip((task.start, *kinds), rows, strict=True))
        self._ending = columns[-1]
        entering = dict(zip(kinds, columns[:-1], strict=True))
        self._price = {op: self._leaving[kind] + entering[kind] for op, kind in kind_of.items()}
        self._known: dict[int, int] = {}

    def __call__(self, left: int, kind: int) -> int:
        """Least setups, end included, for the operations in ``left`` from class ``kind``."""
        found = self._known.get(left)
        if found is None:
            price = self._price
            found = self._known[left] = self._ending + sum([price[op] for op in bits(left)])
        return self._leaving[kind] + found


def _end_is_a_class(task: Task) -> bool:
    """True when ending is like one more changeover: no detour makes the end cheaper.

    Without this, doing an operation early could spoil the class in which the work ends.
    """
    matrix, end = task.setups.matrix, task.end
    kinds = range(len(end))
    return all(end[a] <= matrix[a][b] + end[b] for a in kinds for b in kinds)


def _is_apart(task: Task) -> bool:
    """True when every operation has one way, in a class that no other has and the start is not."""
    kinds = [ways[0].kind for ways in task.ways if ways]
    return (
        all(len(ways) <= 1 for ways in task.ways)
        and len(set(kinds)) == len(kinds)
        and task.start not in kinds
        and len(kinds) > 1
    )


def sequence(
    task: Task,
    *,
    work: int | None = None,
    expired: Callable[[], bool] | None = None,
    enough: int | None = None,
) -> Answer:
    """Find a cheapest order of all operations.

    Args:
        task: The question.
        work: Stop after this many expanded states.
        expired: Asked every 256 states; True stops.
        enough: Stop as soon as every order is known to cost more than this (``cost`` is then None).

    Returns:
        The order with its cost, or the bound that was reached.

    Cost grows with the number of closed states between none and all done; at worst with the
    number of down-sets of the precedence times the number of classes.
    """
    return _Search(task).run(work, expired, enough)


def hasty(task: Task, width: int = 40) -> Answer:
    """A good order without proof: the same states, only the ``width`` best of each layer kept.

    Layers are numbers of changeovers. The cost is at most cubic in the number of operations for a
    given width. ``bound`` is 0.
    """
    return _Search(task).beam(width)


class _Search:
    """One run of A* over closed states."""

    def __init__(self, task: Task) -> None:
        self.task, self.c = task, _compile(task)
        self.apart = _is_apart(task)
        self.bound: Callable[[int, int], int] = _Apart(task) if self.apart else _Bound(task)
        self.matrix = task.setups.matrix
        self.noted: list[list[tuple[int, int]]] = [[] for _ in self.matrix]
        self.into = list(zip(*self.matrix, strict=True))
        self.free_closure = task.setups.triangle and _end_is_a_class(task)
        self.least_end = 0 if self.apart else min(task.end)

    def run(
        self, work: int | None, expired: Callable[[], bool] | None, enough: int | None
    ) -> Answer:
        c, task, kinds = self.c, self.task, self.c.kinds
        done, ready = (0, c.first_ways)
        if self.free_closure:
            done, ready = self.close(0, c.first_ways, task.start)
        start = done * kinds + task.start
        best: dict[int, int] = {start: 0}
        came: dict[int, tuple[int, int, int]] = {}
        heap = [(self.estimate(done, task.start), -done.bit_count(), start, 0, ready)]
        expanded = 0
        reached = 0
        while heap:
            f, _, key, g, ready = heapq.heappop(heap)
            if g > best[key]:
                continue  # found again, cheaper: the bound is not consistent, so that this happens
            reached = max(reached, f)
            if enough is not None and reached > enough:
                return Answer(None, reached, (), expanded)
            done, kind = divmod(key, kinds)
            if done == c.all_ops:
                order = self.unfold(key, came, start)
                return Answer(f, f, tuple(order), expanded)
            if self.free_closure and self.dominated(done, kind, g):
                continue
            expanded += 1
            if (work is not None and expanded > work) or (
                expired is not None and expanded & 255 == 0 and expired()
            ):
                return Answer(None, reached, (), expanded)
            for new_done, new_ready, new_kind, cost, way in self.following(done, ready, kind):
                new_key = new_done * kinds + new_kind
                new_g = g + cost
                old = best.get(new_key)
                if old is None or new_g < old:
                    best[new_key] = new_g
                    came[new_key] = (key, new_kind, way)
                    estimate = new_g + self.estimate(new_done, new_kind)
                    heapq.heappush(
                        heap, (estimate, -new_done.bit_count(), new_key, new_g, new_ready)
                    )
        return Answer(None, reached, (), expanded, possible=False)

    def dominated(self, done: int, kind: int, g: int) -> bool:
        """True when an expanded state has done all of this at no more cost, the changeover included.

        Whatever follows from here could follow from there. If not, the state is noted.
        """
        column = self.into[kind]
        for other_kind, noted in enumerate(self.noted):
            room = g - column[other_kind]
            for other_g, other_done in noted:
                if other_g > room:
                    break
                if done & other_done == done:
                    return True
        insort(self.noted[kind], (g, done))
        return False

    def beam(self, width: int) -> Answer:
        """As :meth:`run`, layer by layer, keeping only the most promising states."""
        c, task, kinds = self.c, self.task, self.c.kinds
        done, ready = (0, c.first_ways)
        if self.free_closure:
            done, ready = self.close(0, c.first_ways, task.start)
        start = done * kinds + task.start
        came: dict[int, tuple[int, int, int]] = {}
        layer = [(self.estimate(done, task.start), start, 0, ready)]
        best: tuple[int, int, dict[int, tuple[int, int, int]]] | None = None
        seen: dict[int, int] = {start: 0}
        expanded = 0
        while layer:
            following: dict[int, tuple[int, int, int, int]] = {}
            for f, key, g, ready in layer:
                done, kind = divmod(key, kinds)
                if done == c.all_ops:
                    if best is None or f < best[0]:
                        best = (f, key, dict(came))
                    continue
                if best is not None and f >= best[0]:
                    continue
                expanded += 1
                for new_done, new_ready, new_kind, cost, way in self.following(done, ready, kind):
                    new_key, new_g = new_done * kinds + new_kind, g + cost
                    if new_g < seen.get(new_key, new_g + 1):
                        seen[new_key] = new_g
                        came[new_key] = (key, new_kind, way)
                        f_new = new_g + self.estimate(new_done, new_kind)
                        following[new_key] = (f_new, new_key, new_g, new_ready)
            ranked = sorted(
                following.values(), key=lambda s: (s[0], -(s[1] // kinds).bit_count(), s[1])
            )
            layer = ranked[:width]
        if best is None:
            return Answer(None, 0, (), expanded, possible=False)
        cost, key, links = best
        return Answer(cost, 0, tuple(self.unfold(key, links, start)), expanded)

    def estimate(self, done: int, kind: int) -> int:
        left = self.c.all_ops & ~done
        if not left:
            return self.task.end[kind]
        return self.bound(left, kind) + self.least_end

    def following(
        self, done: int, ready: int, kind: int
    ) -> Iterable[tuple[int, int, int, int, int]]:
        """Next states: (done, ready, class, cost, way); way -1 where a whole class was closed."""
        c, row = self.c, self.matrix[kind]
        if not self.free_closure:
            for w in bits(ready):
                new_done, new_ready = self.do(done, ready, 1 << c.way_op[w])
                yield new_done, new_ready, c.way_kind[w], row[c.way_kind[w]] + c.way_extra[w], w
            return
        for new_kind in range(c.kinds):
            if ready & c.cheap_in[new_kind]:
                new_done, new_ready = self.close(done, ready, new_kind)
                yield new_done, new_ready, new_kind, row[new_kind], -1
            for w in bits(ready & c.dear_in[new_kind]):
                if self.detour_is_cheaper(w, ready, kind, new_kind):
                    continue
                new_done, new_ready = self.do(done, ready, 1 << c.way_op[w])
                new_done, new_ready = self.close(new_done, new_ready, new_kind)
                yield new_done, new_ready, new_kind, row[new_kind] + c.way_extra[w], w

    def detour_is_cheaper(self, w: int, ready: int, kind: int, new_kind: int) -> bool:
        """True when another way of the same operation, ready now, costs no more than way ``w``.

        Going through its class to the class of ``w`` leads to the same state.
        """
        c, direct = self.c, self.matrix[kind][new_kind]
        for other in bits(c.ways_of[c.way_op[w]] & ready & ~(1 << w)):
            through = c.way_kind[other]
            detour = self.matrix[kind][through] + self.matrix[through][new_kind] - direct
            if detour + c.way_extra[other] < c.way_extra[w]:
                return True
        return False

    def close(self, done: int, ready: int, kind: int) -> tuple[int, int]:
        """Do everything that this class can do at its least cost, again and again."""
        cheap, way_op = self.c.cheap_in[kind], self.c.way_op
        while now := ready & cheap:
            ops = 0
            for w in bits(now):
                ops |= 1 << way_op[w]
            done, ready = self.do(done, ready, ops)
        return done, ready

    def do(self, done: int, ready: int, ops: int) -> tuple[int, int]:
        """Mark operations as done and find the ways that this makes ready."""
        c = self.c
        done |= ops
        for op in bits(ops):
            ready &= ~c.ways_of[op]
            for w in c.dependents[op]:
                if done >> c.way_op[w] & 1 or c.way_needs[w] & ~done:
                    continue
                for clause in c.way_clauses[w]:
                    if not clause & done:
                        break
                else:
                    ready |= 1 << w
        return done, ready

    def unfold(
        self, key: int, came: dict[int, tuple[int, int, int]], start: int
    ) -> list[tuple[int, int]]:
        """The order of single operations behind the chain of closed states."""
        links: list[tuple[int, int]] = []
        while key != start:
            key, kind, way = came[key]
            links.append((kind, way))
        order: list[tuple[int, int]] = []
        done, ready = 0, self.c.first_ways
        if self.free_closure:
            done, ready = self.note(done, ready, self.task.start, order)
        for kind, way in reversed(links):
            if way >= 0:
                op = self.c.way_op[way]
                order.append((op, self.c.way_number[way]))
                done, ready = self.do(done, ready, 1 << op)
            if self.free_closure:
                done, ready = self.note(done, ready, kind, order)
        return order

    def note(
        self, done: int, ready: int, kind: int, order: list[tuple[int, int]]
    ) -> tuple[int, int]:
        """As :meth:`close`, one operation after the other, noting them."""
        c = self.c
        while now := ready & c.cheap_in[kind]:
            w = next(bits(now))
            order.append((c.way_op[w], c.way_number[w]))
            done, ready = self.do(done, ready, 1 << c.way_op[w])
        return done, ready
