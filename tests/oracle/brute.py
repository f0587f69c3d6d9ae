"""The exact optimum by brute force over all sets of open joints.

Time and memory grow with the number of sets that can be open, at worst 2 to the number of joints:
for machines of up to about a dozen joints, more where they depend on each other much.

A state is (open set, side that faces up, tool in hand). Every step of the way in adds one joint to
the open set and every step of the way out takes one away, so both are swept size by size; they are
coupled by the set open at the turning point and by the side that faces up there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from operator import or_

from lastscrew.device.model import Device
from lastscrew.plan.model import Request
from tests.oracle.rules import (
    Question,
    Times,
    Way,
    acts_total_ms,
    ask,
    objective_value,
    swap_ms,
    turn_ms,
)

Setup = tuple[str, str | None]
"""Side that faces up and tool in hand."""


@dataclass(frozen=True)
class Optimum:
    """The best value and what reaches it.

    Attributes:
        value: The objective, in the unit of ``Plan.objective_value``.
        total_ms: Time of a best plan with the turning set ``turning``.
        turning: Among all best sets, the one with fewest joints, then the least sorted ids.
        sets: Number of turning sets that were possible.
    """

    value: int
    total_ms: int
    turning: frozenset[str]
    sets: int


def optimum(device: Device, request: Request, times: Times | None = None) -> Optimum | None:
    """The optimum of a request, None when it is impossible.

    Raises:
        BadQuestionError: The request names something that the unit lacks.
    """
    return solve(ask(device, request, times))


def solve(question: Question) -> Optimum | None:
    """The optimum of a question, None when it is impossible."""
    names = sorted(question.bonds)
    ways = _Ways(question, names)
    way_in = _sweep_in(question, names, ways)
    way_out = _sweep_out(question, names, ways)
    required = _mask(names, question.required | question.start)
    best: tuple[int, int, list[str], int] | None = None
    sets = 0
    for mask, reached in way_in.items():
        if mask & required != required or mask not in way_out:
            continue
        turning = _names(names, mask)
        driving = min(cost + way_out[mask][side, None] for (side, _), cost in reached.items())
        total = driving + acts_total_ms(question, turning)
        sets += 1
        found = (objective_value(question, turning, total), len(turning), sorted(turning), total)
        if best is None or found < best:
            best = found
    if best is None:
        return None
    return Optimum(best[0], best[3], frozenset(best[2]), sets)


class _Ways:
    """Accesses by (joint, set of the others that are open), by bit masks and asked once each.

    The same rule as ``rules.openable_by``, which is too slow for thousands of machines; a test
    holds the two to each other.
    """

    def __init__(self, question: Question, names: list[str]) -> None:
        bonds = [question.bonds[name] for name in names]
        parts = sorted(
            frozenset().union(*(b.parts for b in bonds), *(w.under for b in bonds for w in b.ways))
        )
        isolators = _mask(names, question.isolators)
        self._parts = [_mask(parts, bond.parts) for bond in bonds]
        self._rigid = sum(1 << index for index, bond in enumerate(bonds) if bond.rigid)
        self._before = [
            _mask(names, bond.after) | (isolators if bond.live and not bond.isolates else 0)
            for bond in bonds
        ]
        self._ways = [
            [(way, [1 << parts.index(part) for part in sorted(way.under)]) for way in bond.ways]
            for bond in bonds
        ]
        self._impossible = [bool(bond.after - frozenset(names)) for bond in bonds]
        self._known: dict[tuple[int, int], tuple[Way, ...]] = {}
        self._clusters: dict[int, list[int]] = {}

    def __call__(self, index: int, mask: int) -> tuple[Way, ...]:
        """Accesses by which joint ``index`` can be opened while ``mask`` is open."""
        key = (index, mask)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._allowed(index, mask)
        return found

    def _allowed(self, index: int, mask: int) -> tuple[Way, ...]:
        if self._before[index] & ~mask or self._impossible[index]:
            return ()
        clusters = self._clustered(self._rigid & ~mask & ~(1 << index))
        joined = self._parts[index]
        return tuple(
            way
            for way, under in self._ways[index]
            if not any(joined & ~part & _cluster_of(part, clusters) for part in under)
        )

    def _clustered(self, holding: int) -> list[int]:
        """Clusters of more than one part that the joints ``holding`` make."""
        found = self._clusters.get(holding)
        if found is None:
            found = []
            for index, parts in enumerate(self._parts):
                if holding >> index & 1:
                    touching = [cluster for cluster in found if cluster & parts]
                    found = [cluster for cluster in found if not cluster & parts]
                    found.append(reduce(or_, touching, parts))
            self._clusters[holding] = found
        return found


def _cluster_of(part: int, clusters: list[int]) -> int:
    return next((cluster for cluster in clusters if cluster & part), part)


def _sweep_in(question: Question, names: list[str], ways: _Ways) -> dict[int, dict[Setup, int]]:
    """Least cost from the start to every (set, side, tool) of the way in."""
    start = _mask(names, question.start)
    barred = _mask(names, question.forbidden)
    costs: dict[int, dict[Setup, int]] = {start: {(question.start_side, None): 0}}
    layer = [start]
    while layer:  # sets of one size after the other
        following: dict[int, dict[Setup, int]] = {}
        for mask in layer:
            for index in _bits(((1 << len(names)) - 1) & ~mask & ~barred):
                for way in ways(index, mask):
                    target = following.setdefault(mask | 1 << index, {})
                    setup = (way.side, way.tool)
                    for (side, hand), cost in costs[mask].items():
                        step = turn_ms(question, side, way.side) + swap_ms(question, hand, way.tool)
                        reached = cost + step + way.open_ms
                        target[setup] = min(reached, target.get(setup, reached))
        costs |= following
        layer = list(following)
    return costs


def _sweep_out(question: Question, names: list[str], ways: _Ways) -> dict[int, dict[Setup, int]]:
    """Least cost from every (set, side, tool) of the way out to all closed, lying on the first side.

    Sets from which not everything can be closed are left out: those are the sets that cannot be
    reached from all closed.
    """
    sides = {question.start_side, question.first_side}
    sides |= {way.side for bond in question.bonds.values() for way in bond.ways}
    tools = {way.close_tool for bond in question.bonds.values() for way in bond.ways} | {None}
    setups = [(side, tool) for side in sorted(sides) for tool in tools]
    barred = _mask(names, question.forbidden - question.start)
    costs: dict[int, dict[Setup, int]] = {
        0: {(s, hand): turn_ms(question, s, question.first_side) for s, hand in setups}
    }
    layer = [0]
    while layer:
        steps: dict[int, dict[Setup, int]] = {}
        for mask in layer:
            for index in _bits(((1 << len(names)) - 1) & ~mask & ~barred):
                for way in ways(index, mask):
                    first = steps.setdefault(mask | 1 << index, {})
                    setup = (way.side, way.close_tool)
                    rest = way.close_ms + costs[mask][setup]
                    first[setup] = min(rest, first.get(setup, rest))
        for mask, first in steps.items():
            costs[mask] = {
                (side, hand): min(
                    turn_ms(question, side, to) + swap_ms(question, hand, tool) + rest
                    for (to, tool), rest in first.items()
                )
                for side, hand in setups
            }
        layer = list(steps)
    return costs


def _bits(mask: int) -> list[int]:
    return [index for index in range(mask.bit_length()) if mask >> index & 1]


def _mask(names: list[str], chosen: frozenset[str]) -> int:
    return sum(1 << index for index, name in enumerate(names) if name in chosen)


def _names(names: list[str], mask: int) -> frozenset[str]:
    return frozenset(name for index, name in enumerate(names) if mask >> index & 1)
