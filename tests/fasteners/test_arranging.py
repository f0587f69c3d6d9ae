"""Compartments: held to trying all arrangements, and to what must never happen."""

from __future__ import annotations

from itertools import combinations, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.fasteners.arranging import Arrangement, Pair, Tray, arrange

Cost = tuple[int, int, int, int]


def cost_of(cells: tuple[int, ...], alike: set[Pair], tray: Tray) -> Cost:
    """What counts, written down from the words alone: rows, columns, walls and corners."""
    size = tray.rows * tray.columns
    place = [(c // size, c % size // tray.columns, c % size % tray.columns) for c in cells]
    beside = corners = 0
    for one, other in alike:
        (t1, r1, c1), (t2, r2, c2) = place[one], place[other]
        if t1 == t2:
            beside += abs(r1 - r2) + abs(c1 - c2) == 1
            corners += abs(r1 - r2) == 1 and abs(c1 - c2) == 1
    swapped = sum(cells[one] > cells[other] for one, other in combinations(range(len(cells)), 2))
    return beside, swapped, corners, max(cells, default=-1) + 1


def cost(found: Arrangement, alike: set[Pair], tray: Tray) -> Cost:
    """The cost of an arrangement that was found."""
    return cost_of(found.cells, alike, tray)


@st.composite
def small(draw: st.DrawFn) -> tuple[int, set[Pair], Tray]:
    """Few groups in a small tray, any of them alike."""
    shapes = [
        (1, 3, 1),
        (1, 5, 1),
        (2, 2, 1),
        (2, 3, 1),
        (3, 2, 1),
        (1, 2, 3),
        (2, 1, 2),
        (3, 3, 1),
    ]
    tray = Tray(*draw(st.sampled_from(shapes)))
    groups = draw(st.integers(0, min(4 if tray.cells > 6 else 5, tray.cells)))
    pairs = list(combinations(range(groups), 2))
    return groups, set(draw(st.lists(st.sampled_from(pairs)))) if pairs else set(), tray


@given(small())
def test_no_other_arrangement_is_better(case: tuple[int, set[Pair], Tray]) -> None:
    groups, alike, tray = case
    found = arrange(groups, alike, tray)
    best = min(cost_of(cells, alike, tray) for cells in permutations(range(tray.cells), groups))
    assert found.proven
    assert cost(found, alike, tray) == best


@st.composite
def large(draw: st.DrawFn) -> tuple[int, set[Pair], Tray]:
    """Up to twenty groups of a few kinds, some of which look alike."""
    tray = Tray(draw(st.integers(2, 4)), draw(st.integers(2, 6)), draw(st.integers(1, 2)))
    groups = draw(st.integers(0, min(20, tray.cells)))
    kinds = draw(st.lists(st.integers(0, 4), min_size=groups, max_size=groups))
    confusing = draw(st.sets(st.sampled_from(list(combinations(range(5), 2)))))
    alike = {
        (a, b)
        for a, b in combinations(range(groups), 2)
        if (min(kinds[a], kinds[b]), max(kinds[a], kinds[b])) in confusing
    }
    return groups, alike, tray


@settings(max_examples=40)
@given(large())
def test_every_group_has_a_compartment_of_its_own_and_what_is_said_is_true(
    case: tuple[int, set[Pair], Tray],
) -> None:
    groups, alike, tray = case
    found = arrange(groups, alike, tray)
    assert len(set(found.cells)) == groups
    assert all(0 <= cell < tray.cells for cell in found.cells)
    beside, swapped, corners, _ = cost(found, alike, tray)
    assert (len(found.beside), found.out_of_order, len(found.corners)) == (beside, swapped, corners)
    assert set(found.beside) | set(found.corners) <= alike
    assert found == arrange(groups, alike, tray)


@given(st.integers(0, 12), st.integers(3, 6))
def test_without_look_alikes_the_tray_is_filled_in_order_without_gaps(
    groups: int, columns: int
) -> None:
    found = arrange(groups, set(), Tray(4, columns))
    assert found.cells == tuple(range(groups))


@given(st.integers(2, 6), st.integers(2, 6))
def test_as_many_look_alikes_as_a_chequerboard_has_squares_are_all_kept_apart(
    rows: int, columns: int
) -> None:
    groups = min((rows * columns + 1) // 2, 12)
    found = arrange(groups, set(combinations(range(groups), 2)), Tray(rows, columns))
    assert found.beside == ()
    assert found.out_of_order == 0


def test_order_gives_way_before_look_alikes_come_together() -> None:
    """Four groups fill a row of four; 0 and 1 look alike, and only out of order do they part."""
    found = arrange(4, {(0, 1)}, Tray(1, 4))
    assert (found.beside, found.out_of_order) == ((), 1)
    assert found.proven


def test_a_pair_that_can_not_be_kept_apart_is_named() -> None:
    found = arrange(2, {(0, 1)}, Tray(1, 2))
    assert found.beside == ((0, 1),)
    assert found.proven
    assert arrange(2, {(0, 1)}, Tray(1, 1, 2)).beside == ()


def test_too_many_groups_are_refused() -> None:
    with pytest.raises(ValueError, match="5 groups"):
        arrange(5, set(), Tray(2, 2))
