"""Putting groups of pieces into compartments: in order, look-alikes never side by side.

Compartments are filled row by row, as one reads. *Side by side* is what shares a wall: left and
right, above and below. Compartments that touch at a corner only are kept apart where that costs nothing
else; trays do not touch. What counts, most important first:

1. pairs of look-alikes side by side: as few as possible;
2. pairs of groups out of order: as few as possible (0: the tray is emptied in order);
3. pairs of look-alikes at a corner: as few as possible;
4. the last compartment used: as early as possible (compartments may stay empty in between).
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterator
from dataclasses import dataclass

MAX_STATES = 20_000
"""States looked at in the exact search; beyond it a narrower one gives an unproven arrangement."""

LOOK_AHEAD = 6
"""So many groups beyond the next one in order may be drawn forward to keep look-alikes apart."""

BEAM = 200
"""Partly filled trays kept at each step of the narrower search (fewer beyond 30 groups)."""

Pair = tuple[int, int]
Cost = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Where each group lies.

    Attributes:
        cells: For each group the number of its compartment, row by row and tray by tray, from 0.
        beside: Pairs of look-alikes that lie side by side all the same.
        corners: Pairs that touch at a corner.
        out_of_order: Pairs of groups of which the later one lies before the earlier one.
        proven: No arrangement is better.
    """

    cells: tuple[int, ...]
    beside: tuple[Pair, ...]
    corners: tuple[Pair, ...]
    out_of_order: int
    proven: bool


@dataclass(frozen=True, slots=True)
class Tray:
    """The compartments: how many in a row, how many rows, how many trays."""

    rows: int
    columns: int
    trays: int = 1

    @property
    def cells(self) -> int:
        """Compartments in all."""
        return self.rows * self.columns * self.trays

    def neighbours(self, cell: int) -> Iterator[tuple[int, bool]]:
        """Earlier compartments that touch this one: number, and whether they share a wall."""
        inside = cell % (self.rows * self.columns)
        row, column = divmod(inside, self.columns)
        if column:
            yield cell - 1, True
        if row:
            yield cell - self.columns, True
            if column:
                yield cell - self.columns - 1, False
            if column + 1 < self.columns:
                yield cell - self.columns + 1, False


def arrange(groups: int, alike: Collection[Pair], tray: Tray) -> Arrangement:
    """Find the best arrangement.

    Args:
        groups: How many groups there are, numbered from 0 in the order in which they are needed.
        alike: Pairs (lower, higher number) that look alike.
        tray: The compartments.

    Raises:
        ValueError: If there are fewer compartments than groups.
    """
    if groups > tray.cells:
        raise ValueError(f"{groups} groups do not go into {tray.cells} compartments")
    search = _Search(groups, frozenset(alike), tray)
    best, proven = search.exact(look_ahead=0)
    if not proven:
        best = min(best, search.narrow(look_ahead=0), key=search.cost)
    if search.cost(best)[0]:
        found, proven = [best, search.narrow(look_ahead=LOOK_AHEAD)], False
        if groups <= LOOK_AHEAD + 1:
            exact, proven = search.exact(look_ahead=LOOK_AHEAD)
            found.append(exact)
        best = min((search.improved(cells) for cells in found), key=search.cost)
    return search.described(best, proven=proven)


@dataclass(frozen=True, slots=True, order=True)
class _Partial:
    """A partly filled tray: what it costs, and what still matters for the rest.

    Attributes:
        cost: So far.
        cell: The next compartment.
        placed: Groups that are in, as a bit set.
        window: What lies in the last row's worth of compartments and one more; -1 for nothing.
        cells: What lies in every compartment so far.
    """

    cost: Cost
    cell: int
    placed: int
    window: tuple[int, ...]
    cells: tuple[int, ...]


class _Search:
    """Searches arrangements as orders of groups with gaps, from the first compartment on."""

    def __init__(self, groups: int, alike: frozenset[Pair], tray: Tray) -> None:
        self.groups = groups
        self.tray = tray
        self.reach = tray.columns + 1
        self.all_in = (1 << groups) - 1
        self.before = [tuple(tray.neighbours(cell)) for cell in range(tray.cells)]
        # The last entry of each row answers for the number -1, an empty compartment.
        self.is_alike = [
            [(min(one, other), max(one, other)) in alike for other in range(groups)] + [False]
            for one in range(groups)
        ]

    def exact(self, *, look_ahead: int) -> tuple[tuple[int, ...], bool]:
        """Cheapest first; with ``look_ahead`` 0 the groups stay in order.

        Returns:
            The arrangement and whether it is the best; a plain filling when there are too many states.
        """
        queue = [_Partial((0, 0, 0, 0), 0, 0, (), ())]
        seen: set[tuple[int, int, tuple[int, ...]]] = set()
        while queue and len(seen) < MAX_STATES:
            state = heapq.heappop(queue)
            if state.placed == self.all_in:
                return self._by_group(state.cells), True
            key = (state.cell, state.placed, state.window)
            if key in seen:
                continue
            seen.add(key)
            if self.tray.cells - state.cell > self.groups - state.placed.bit_count():
                heapq.heappush(queue, self._skipped(state))
            for group in self._candidates(state.placed, look_ahead):
                heapq.heappush(queue, self._filled(state, group))
        return tuple(range(self.groups)), False

    def narrow(self, *, look_ahead: int) -> tuple[int, ...]:
        """Group after group, keeping the cheapest few partly filled trays each time."""
        width = max(BEAM // 5, min(BEAM, BEAM * 30 // max(1, self.groups)))
        layer = [_Partial((0, 0, 0, 0), 0, 0, (), ())]
        for placed in range(self.groups):
            kept: dict[tuple[int, int, tuple[int, ...]], _Partial] = {}
            for start in layer:
                for state in self._with_gaps(start, self.groups - placed):
                    for group in self._candidates(state.placed, look_ahead):
                        grown = self._filled(state, group)
                        key = (grown.cell, grown.placed, grown.window)
                        kept[key] = min(kept.get(key, grown), grown)
            layer = heapq.nsmallest(width, kept.values())
        return self._by_group(layer[0].cells)

    def _with_gaps(self, state: _Partial, left: int) -> Iterator[_Partial]:
        """The state, and with one, two … compartments left empty, as long as the rest finds room."""
        yield state
        while self.tray.cells - state.cell > left:
            state = self._skipped(state)
            yield state

    def _skipped(self, state: _Partial) -> _Partial:
        """One compartment left empty."""
        cost = (*state.cost[:3], state.cell + 1)
        window = (*state.window, -1)[-self.reach :]
        return _Partial(cost, state.cell + 1, state.placed, window, (*state.cells, -1))

    def _filled(self, state: _Partial, group: int) -> _Partial:
        """One more group put in."""
        beside = corners = 0
        for other_cell, shares_wall in self.before[state.cell]:
            back = state.cell - other_cell
            if back <= len(state.window) and self.is_alike[group][state.window[-back]]:
                beside += shares_wall
                corners += not shares_wall
        waiting = group - (state.placed & ((1 << group) - 1)).bit_count()
        before = state.cost
        cost = (before[0] + beside, before[1] + waiting, before[2] + corners, state.cell + 1)
        return _Partial(
            cost,
            state.cell + 1,
            state.placed | 1 << group,
            (*state.window, group)[-self.reach :],
            (*state.cells, group),
        )

    def _candidates(self, placed: int, look_ahead: int) -> Iterator[int]:
        found = 0
        for group in range(self.groups):
            if not placed >> group & 1:
                yield group
                found += 1
                if found > look_ahead:
                    return

    def _by_group(self, cells: tuple[int, ...]) -> tuple[int, ...]:
        where = {group: cell for cell, group in enumerate(cells) if group >= 0}
        return tuple(where[group] for group in range(self.groups))

    def improved(self, cells: tuple[int, ...]) -> tuple[int, ...]:
        """Moves of groups that lie beside a look-alike, as long as one helps."""
        best = cells
        while True:
            better = min(self._moved(best), key=self.cost, default=best)
            if self.cost(better) >= self.cost(best):
                return best
            best = better

    def _moved(self, cells: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        empty = [cell for cell in range(self.tray.cells) if cell not in cells]
        beside, _ = self._touching(cells)
        for group in sorted({group for pair in beside for group in pair}):
            for other in range(self.groups):
                changed = list(cells)
                changed[group], changed[other] = changed[other], changed[group]
                yield tuple(changed)
            for cell in empty:
                yield (*cells[:group], cell, *cells[group + 1 :])

    def cost(self, cells: tuple[int, ...]) -> Cost:
        """What an arrangement costs, written out plainly."""
        beside, corners = self._touching(cells)
        return len(beside), self._out_of_order(cells), len(corners), max(cells, default=-1) + 1

    def _touching(self, cells: tuple[int, ...]) -> tuple[list[Pair], list[Pair]]:
        at = {cell: group for group, cell in enumerate(cells)}
        beside: list[Pair] = []
        corners: list[Pair] = []
        for cell, group in at.items():
            for other_cell, shares_wall in self.before[cell]:
                other = at.get(other_cell)
                if other is not None and self.is_alike[group][other]:
                    pair = (min(group, other), max(group, other))
                    (beside if shares_wall else corners).append(pair)
        return sorted(beside), sorted(corners)

    def _out_of_order(self, cells: tuple[int, ...]) -> int:
        return sum(
            cells[one] > cells[other]
            for one in range(self.groups)
            for other in range(one + 1, self.groups)
        )

    def described(self, cells: tuple[int, ...], *, proven: bool) -> Arrangement:
        beside, corners = self._touching(cells)
        return Arrangement(cells, tuple(beside), tuple(corners), self._out_of_order(cells), proven)
