"""A bound for questions in which every operation is a class of its own: an assignment relaxation.

An order of all operations gives every operation one predecessor and every operation but the last
one successor. Dropping that they form one chain leaves an assignment problem over the changeovers
that precedence allows; its dual prices bound every part of the way that is still to go.
"""

from __future__ import annotations

from collections.abc import Sequence

INFEASIBLE = 10**12
"""Cost of a changeover that can't occur; more than any real order costs."""


def dual_prices(cost: Sequence[Sequence[int]]) -> tuple[list[int], list[int]]:
    """Prices of rows and columns of a square assignment problem.

    For every row r and column c: row[r] + column[c] <= cost[r][c], and the sum of all prices is the least
    cost of an assignment (Kuhn 1955, in the form that adds one row at a time by shortest
    augmenting paths; cubic in the size).
    """
    n = len(cost)
    row = [0] * (n + 1)
    column = [0] * (n + 1)
    matched = [0] * (n + 1)
    for r in range(1, n + 1):
        matched[0] = r
        _augment(cost, row, column, matched)
    return row[1:], column[1:]


def _augment(
    cost: Sequence[Sequence[int]], row: list[int], column: list[int], matched: list[int]
) -> None:
    """Match the row in ``matched[0]``, adjusting prices along a shortest augmenting path."""
    n = len(cost)
    slack = [INFEASIBLE * n * 2] * (n + 1)
    came = [0] * (n + 1)
    used = [False] * (n + 1)
    at = 0
    while matched[at]:
        used[at] = True
        r = matched[at]
        step, following = slack[0] * 2, 0
        for c in range(1, n + 1):
            if used[c]:
                continue
            reduced = cost[r - 1][c - 1] - row[r] - column[c]
            if reduced < slack[c]:
                slack[c], came[c] = reduced, at
            if slack[c] < step:
                step, following = slack[c], c
        for c in range(n + 1):
            if used[c]:
                row[matched[c]] += step
                column[c] -= step
            else:
                slack[c] -= step
        at = following
    while at:
        matched[at] = matched[came[at]]
        at = came[at]


def possible_changeovers(
    matrix: Sequence[Sequence[int]], end: Sequence[int], start: int, before: dict[int, int]
) -> list[list[int]]:
    """Costs of going from each class (rows: start, then the others) to each other class or to the end.

    Args:
        matrix: Setups between classes.
        end: Cost of ending in each class.
        start: The class in which the work begins.
        before: By class (the start left out) the set of classes that certainly come before it,
            closed under transitivity.

    Returns:
        A square matrix; columns are the classes of ``before`` in order, then the end. What precedence rules out
        costs :data:`INFEASIBLE`.
    """
    classes = sorted(before)
    after = {c: sum(1 << d for d in classes if before[d] >> c & 1) for c in classes}
    costs: list[list[int]] = []
    for one in (start, *classes):
        behind = -1 if one == start else after[one]
        seen = 0 if one == start else before[one]
        row = []
        for other in classes:
            ruled_out = other == one or seen >> other & 1 or behind & before[other]
            row.append(INFEASIBLE if ruled_out else matrix[one][other])
        last = one != start and not after[one]
        row.append(end[one] if last or not classes else INFEASIBLE)
        costs.append(row)
    return costs
