"""From one set of open joints to another: what must be opened and closed, with the least setups.

Between two actions the machine lies on its first side with no tool in hand. Going from the open set A
to the open set B costs the opening of B without A, the closing of A without B, and the least turns and
tool changes over all orders that are allowed. Openings and closings may take turns: a joint is opened
or closed by an access that is free at that moment.

A set may be *powered*: live joints are open although what isolates is closed, as for a check with
power on. Nothing else is touched then: whatever comes next begins by isolating, and a powered set
is reached by closing what isolates as the last step.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from lastscrew.device.model import Device
from lastscrew.plan.compiled import Option, Rules, bits, mask_of
from lastscrew.plan.sequence import Answer, Attribute, Setups, Task, Way, hasty, sequence

_FIRST, _NORMAL, _LAST = 0, 1, 2
MAX_STATES: Final = 5_000
"""States of one search where openings and closings take turns; beyond, all openings come first."""


MANY: Final = 16
"""Steps that are ordered in haste where that is enough."""
HASTY_WIDTH: Final = 3


@dataclass(frozen=True, slots=True)
class Step:
    """One opening or closing with the access used."""

    joint: int
    opening: bool
    option: Option


@dataclass(frozen=True, slots=True)
class Change:
    """The way from one open set to another.

    Attributes:
        ms: Opening, closing and setups.
        steps: In order.
    """

    ms: int
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class _Op:
    joint: int
    opening: bool
    phase: int
    options: tuple[Option, ...]
    asks: int


class Changes:
    """Ways between open sets of one fitted device; each is worked out once."""

    def __init__(self, device: Device, rules: Rules) -> None:
        """Take over the compiled rules; costs are in milliseconds."""
        self.rules = rules
        self._turn = device.turn_ms
        self._swap = [0 if tool is None else device.tools[tool].swap_ms for tool in rules.tool_ids]
        self.isolators = rules.mask(j.id for j in device.joints.values() if j.isolates)
        self._known: dict[tuple[int, int, int], Change] = {}
        self._rough: dict[tuple[int, int, int], Change] = {}
        self.hasty = False
        """True: ways of many steps are ordered in haste, and kept apart from the cheapest."""
        self._largest: dict[int, int] = {}
        self._known_setups: dict[tuple[tuple[int, int], ...], Setups] = {}
        self._answers: dict[tuple[object, ...], Answer] = {}
        self._ops_of: dict[tuple[int, int, bool], _Op] = {}
        self._turned: dict[tuple[int, int], tuple[_Op, _Op]] = {}

    # --- sets -------------------------------------------------------------------------------------

    def largest_within(self, joints: int) -> int:
        """The largest set within ``joints`` that can be open by itself."""
        found = self._largest.get(joints)
        if found is not None:
            return found
        opened, before = 0, -1
        while opened != before:
            before = opened
            for j in bits(joints & ~opened):
                if any(option.is_open(opened) for option in self.rules.options(j)):
                    opened |= 1 << j
        self._largest[joints] = opened
        return opened

    def is_powered(self, joints: int) -> bool:
        """True when live joints are open although what isolates is closed."""
        return self.largest_within(joints) != joints

    def isolated(self, joints: int) -> int:
        """The set with what isolates open as well, where it is powered."""
        return joints | self.isolators if self.is_powered(joints) else joints

    # --- ways -------------------------------------------------------------------------------------

    def between(self, start: int, end: int, again: int = 0) -> Change:
        """The cheapest way from one open set to another.

        Args:
            start: The set that is open; it can be open by itself, or with what isolates open.
            end: The set that is to be open, likewise.
            again: Joints, closed in both, that are opened and closed on the way.
        """
        key = (start, end, again)
        found = self._known.get(key)
        if found is None and self.hasty:
            found = self._rough.get(key)
            if found is None:
                found = self._rough[key] = self._work_out(start, end, again)
        elif found is None:
            found = self._known[key] = self._work_out(start, end, again)
        return found

    def _work_out(self, start: int, end: int, again: int) -> Change:
        ops = list(self._ops(start, end, again & ~(start | end)))
        if not ops:
            return Change(0, ())
        if all(op.opening for op in ops):
            return self._in_sequence(ops, start)
        if not any(op.opening for op in ops):
            return self._closed_backwards(end, ops)
        found = _Ordering(self, ops, start).run()
        return found if found is not None else self._by_stages(start, end)

    def _by_stages(self, start: int, end: int) -> Change:
        """All openings before all closings: what is left where the orders are too many."""
        stops = [start, self.isolated(start)]
        stops.append(stops[-1] | self.isolated(end))
        stops += [self.isolated(end), end]
        legs = [self.between(one, other) for one, other in pairwise(stops) if one != other]
        return Change(sum(leg.ms for leg in legs), tuple(s for leg in legs for s in leg.steps))

    def _closed_backwards(self, end: int, ops: list[_Op]) -> Change:
        """Closing alone is opening read backwards, with the tools and times of closing."""
        turned = [self._told_as_opening(op) for op in ops]
        found = self._in_sequence(turned, end)
        steps = tuple(
            Step(s.joint, opening=False, option=self.rules.options(s.joint)[s.option.access])
            for s in reversed(found.steps)
        )
        return Change(found.ms, steps)

    def _told_as_opening(self, op: _Op) -> _Op:
        of, found = self._turned.get((op.joint, op.phase), (None, op))
        if of is not op:
            phase = _NORMAL if op.phase == _NORMAL else _FIRST
            options = tuple(_turned(option) for option in op.options)
            found = replace(op, opening=True, phase=phase, options=options)
            self._turned[op.joint, op.phase] = (op, found)
        return found

    def _in_sequence(self, ops: list[_Op], opened: int) -> Change:
        """Openings alone, by the planner's sequencing core; those of the first phase before all others."""
        first = mask_of(i for i, op in enumerate(ops) if op.phase == _FIRST)
        number = {op.joint: i for i, op in enumerate(ops)}
        kinds = {(0, 0): 0}
        least = [min(option.open_cost for option in op.options) for op in ops]
        ways = tuple(
            tuple(
                Way(
                    kinds.setdefault((option.side, option.tool), len(kinds)),
                    option.open_cost - cheapest,
                    asked[0] | (0 if op.phase == _FIRST else first),
                    asked[1],
                    tag=option.access,
                )
                for option in op.options
                if (asked := _asked_of(option, number, opened)) is not None
            )
            for op, cheapest in zip(ops, least, strict=True)
        )
        answer = self._order(ways, tuple(kinds), in_haste=self.hasty and len(ops) > MANY)
        if answer.cost is None:
            answer = self._order(ways, tuple(kinds))
        if answer.cost is None and first:
            # Of two things that isolate one may lie under what only comes off after the other.
            return self._in_sequence([replace(op, phase=_NORMAL) for op in ops], opened)
        if answer.cost is None:
            # Nor is there an order where the machine was left with power on and something closed behind what is open.
            ways = tuple(tuple(replace(way, needs=0, clauses=()) for way in of) for of in ways)
            answer = self._order(ways, tuple(kinds))
        assert answer.cost is not None, "nothing asks for anything"
        steps = tuple(
            Step(ops[op].joint, opening=True, option=_by_access(ops[op], ways[op][way].tag))
            for op, way in answer.order
        )
        return Change(sum(least) + answer.cost, steps)

    def _order(
        self,
        ways: tuple[tuple[Way, ...], ...],
        kinds: tuple[tuple[int, int], ...],
        *,
        in_haste: bool = False,
    ) -> Answer:
        """An order of steps. The same ones, asking the same of each other, come up from many open sets."""
        key = (ways, kinds, in_haste)
        found = self._answers.get(key)
        if found is None:
            task = Task(ways, self._setups(kinds), 0, self._ends(kinds))
            found = hasty(task, HASTY_WIDTH) if in_haste else sequence(task)
            self._answers[key] = found
        return found

    def _ends(self, kinds: tuple[tuple[int, int], ...]) -> tuple[int, ...]:
        """What it costs to end in each class: turning back to the first side."""
        return tuple(self._turn if side else 0 for side, _ in kinds)

    def _setups(self, kinds: tuple[tuple[int, int], ...]) -> Setups:
        found = self._known_setups.get(kinds)
        if found is None:
            sides = sorted({side for side, _ in kinds})
            tools = sorted({tool for _, tool in kinds})
            by_side = Attribute(
                tuple(sides.index(side) for side, _ in kinds), (self._turn,) * len(sides)
            )
            by_tool = Attribute(
                tuple(tools.index(tool) for _, tool in kinds), tuple(self._swap[t] for t in tools)
            )
            matrix = [[self.changeover(one, other) for other in kinds] for one in kinds]
            found = self._known_setups[kinds] = Setups.of(matrix, (by_side, by_tool))
        return found

    def _ops(self, start: int, end: int, again: int) -> Iterator[_Op]:
        if start == end and not again:
            return
        powered_first, powered_last = self.is_powered(start), self.is_powered(end)
        there = start | self.isolators if powered_first else start
        goal = end | self.isolators if powered_last else end
        if powered_first:
            for j in bits(self.isolators & ~start):
                yield self._op(j, _FIRST, opening=True)
        for j in bits(goal & ~there | again):
            yield self._op(j, _NORMAL, opening=True)
        for j in bits(there & ~goal | again):
            yield self._op(j, _NORMAL, opening=False)
        if powered_last:
            for j in bits(self.isolators & ~end):
                yield self._op(j, _LAST, opening=False)

    def _op(self, joint: int, phase: int, *, opening: bool) -> _Op:
        key = (joint, phase, opening)
        found = self._ops_of.get(key)
        options = self.rules.options(joint)
        if found is None or found.options is not options:  # a chain that was missed has been added
            asks = 0
            for option in options:
                asks |= option.units
                for clause in option.clauses:
                    asks |= clause
            found = self._ops_of[key] = _Op(joint, opening, phase, options, asks)
        return found

    def setups_floor(self, joints: int, *, opening: bool) -> int:
        """A lower bound on the setups of opening, or closing, these joints in one go or in several."""
        ops = [self._op(j, _NORMAL, opening=opening) for j in bits(joints)]
        return self.least_setups(ops, (0, 0))

    def changeover(self, one: tuple[int, int], other: tuple[int, int]) -> int:
        """Setup from one (side, tool) to another."""
        turn = self._turn if one[0] != other[0] else 0
        return turn + (self._swap[other[1]] if one[1] != other[1] else 0)

    def least_setups(self, left: list[_Op], kind: tuple[int, int]) -> int:
        """A lower bound on the setups that these steps still need, the last turn included."""
        tools: set[int] = set()
        sides: set[int] = set()
        for op in left:
            if len(op.options) == 1:
                option = op.options[0]
                tools.add(option.tool if op.opening else option.close_tool)
                sides.add(option.side)
        tools.discard(kind[1])
        away = sides - {kind[0]}
        turns = len(away) or int(kind[0] != 0)
        if away and 0 not in away:
            turns += 1
        return sum(self._swap[tool] for tool in tools) + turns * self._turn


def _asked_of(
    option: Option, number: dict[int, int], opened: int
) -> tuple[int, tuple[int, ...]] | None:
    """What an access asks for among the operations (needs, clauses); None where it can never be free."""
    needs = 0
    for joint in bits(option.units & ~opened):
        if joint not in number:
            return None
        needs |= 1 << number[joint]
    clauses: list[int] = []
    for clause in option.clauses:
        if not clause & opened:
            members = mask_of(number[joint] for joint in bits(clause) if joint in number)
            if not members:
                return None
            clauses.append(members)
    return needs, tuple(clauses)


def _by_access(op: _Op, access: int) -> Option:
    return next(option for option in op.options if option.access == access)


def _turned(option: Option) -> Option:
    """An access whose closing is told as an opening."""
    return replace(
        option,
        tool=option.close_tool,
        close_tool=option.tool,
        open_cost=option.close_cost,
        close_cost=option.open_cost,
    )


def _kind(option: Option, *, opening: bool) -> tuple[int, int]:
    return (option.side, option.tool if opening else option.close_tool)


def _cost(option: Option, *, opening: bool) -> int:
    return option.open_cost if opening else option.close_cost


def _always_asks(op: _Op, joint: int) -> bool:
    """True when no access of the step is free while the joint is closed."""
    return all(option.units >> joint & 1 for option in op.options)


_Label = tuple[int, tuple[int, int]]


class _Ordering:
    """One search for the least setups: A* over what is done and what is in hand.

    What the class in hand can open at its least cost is opened at once: more that is open hinders
    nothing. What it can close at its least cost is closed at once when nothing that is still to be done
    could ask for it to be open.
    """

    def __init__(self, changes: Changes, ops: list[_Op], start: int) -> None:
        self.changes, self.ops, self.start = changes, ops, start
        self.all = (1 << len(ops)) - 1
        self.of_phase = [mask_of(i for i, op in enumerate(ops) if op.phase == p) for p in range(3)]
        self.least = [min(_cost(o, opening=op.opening) for o in op.options) for op in ops]
        self.opening_of = {op.joint: i for i, op in enumerate(ops) if op.opening}
        self.mentions = [
            mask_of(
                i for i, other in enumerate(ops) if other.asks >> op.joint & 1 and other is not op
            )
            for op in ops
        ]
        self.blocked_by = [
            mask_of(
                i
                for i, other in enumerate(ops)
                if other is not op and _always_asks(other, op.joint)
            )
            for op in ops
        ]
        self.came: dict[_Label, tuple[_Label, tuple[Step, ...]]] = {}

    def run(self, most: int | None = MAX_STATES) -> Change | None:
        """The cheapest order; None when it took more than ``most`` states."""
        work = sum(self.least)
        begin: _Label = (0, (0, 0))
        done, steps = self._close(0, (0, 0))
        first: _Label = (done, (0, 0))
        if first != begin:
            self.came[first] = (begin, steps)
        heap = [(self._rest(first), 0, 0, first)]
        best = {first: 0}
        settled: set[_Label] = set()
        count = 0
        while heap:
            f, _, g, label = heapq.heappop(heap)
            if label in settled:
                continue
            settled.add(label)
            if label[0] == self.all:
                return Change(work + f, self._unfold(label, begin))
            for cost, following, made in self._following(label):
                total = g + cost
                if total < best.get(following, total + 1):
                    best[following] = total
                    self.came[following] = (label, made)
                    count += 1
                    heapq.heappush(heap, (total + self._rest(following), count, total, following))
            if most is not None and len(settled) > most:
                return None
        return None

    def _rest(self, label: _Label) -> int:
        done, kind = label
        left = [op for i, op in enumerate(self.ops) if not done >> i & 1]
        return self.changes.least_setups(left, kind)

    def _open_now(self, done: int) -> int:
        opened, closed = self.start, 0
        for i in bits(done):
            op = self.ops[i]
            if op.opening:
                opened |= 1 << op.joint
            else:
                closed |= 1 << op.joint
        return opened & ~closed

    def _ready(self, done: int, opened: int) -> Iterator[tuple[int, Option]]:
        """Steps that are allowed now, with each access that allows them."""
        for phase in range(3):
            waiting = self.of_phase[phase] & ~done
            if waiting:
                break
        else:
            return
        for i in bits(waiting):
            op = self.ops[i]
            bit = 1 << op.joint
            if not op.opening:
                before = self.opening_of.get(op.joint)
                if before is not None and not done >> before & 1:
                    continue
                if self.blocked_by[i] & ~done:
                    continue
            around = opened if op.opening else opened & ~bit
            for option in op.options:
                if option.is_open(around):
                    yield i, option

    def _at_once(self, i: int, option: Option, done: int) -> bool:
        op = self.ops[i]
        if _cost(option, opening=op.opening) != self.least[i]:
            return False
        return op.opening or not self.mentions[i] & ~done

    def _close(self, done: int, kind: tuple[int, int]) -> tuple[int, tuple[Step, ...]]:
        """Do everything that can be done at once with what is in hand, again and again."""
        steps: list[Step] = []
        while True:
            opened = self._open_now(done)
            found = False
            for i, option in self._ready(done, opened):
                op = self.ops[i]
                if done >> i & 1 or _kind(option, opening=op.opening) != kind:
                    continue
                if self._at_once(i, option, done):
                    done |= 1 << i
                    steps.append(Step(op.joint, op.opening, option))
                    found = True
                    if not op.opening:
                        break
            if not found:
                return done, tuple(steps)

    def _following(self, label: _Label) -> Iterator[tuple[int, _Label, tuple[Step, ...]]]:
        done, kind = label
        seen: set[tuple[int, int]] = set()
        for i, option in self._ready(done, self._open_now(done)):
            op = self.ops[i]
            new = _kind(option, opening=op.opening)
            extra = _cost(option, opening=op.opening) - self.least[i]
            if self._at_once(i, option, done):
                if new in seen:
                    continue
                seen.add(new)
                then, steps = self._close(done, new)
            else:
                then, steps = self._close(done | 1 << i, new)
                steps = (Step(op.joint, op.opening, option), *steps)
            yield self.changes.changeover(kind, new) + extra, (then, new), steps

    def _unfold(self, label: _Label, begin: _Label) -> tuple[Step, ...]:
        parts: list[tuple[Step, ...]] = []
        while label != begin and label in self.came:
            label, steps = self.came[label]
            parts.append(steps)
        return tuple(step for part in reversed(parts) for step in part)
