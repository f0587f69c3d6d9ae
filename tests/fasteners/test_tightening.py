"""The order in which screws are tightened: laws, published patterns, groups, rounds."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lastscrew.device.model import Device, Point
from lastscrew.fasteners.tightening import (
    Place,
    crosswise,
    imbalance_mm,
    order_text,
    tightening_of,
    tightenings,
)
from tests.run.machines import radio

RADIO = radio()

POINTS = st.lists(
    st.tuples(st.integers(-200, 200), st.integers(-200, 200)).map(lambda p: (p[0] / 2, p[1] / 2)),
    max_size=14,
    unique=True,
)

CROSS_PATTERN = {
    4: (1, 3, 2, 4),
    8: (1, 5, 3, 7, 2, 6, 4, 8),
    12: (1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12),
    16: (1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16),
}
"""Bolts on a ring, numbered around it, to the order of tightening: ASME PCC-1, cross pattern (from memory)."""


def ring(count: int, radius: float = 40.0, centre: Point = (100.0, 70.0)) -> list[Point]:
    """Points on a circle, numbered around it."""
    turn = 2 * math.pi / count
    return [
        (centre[0] + radius * math.cos(turn * n), centre[1] + radius * math.sin(turn * n))
        for n in range(count)
    ]


def grid(rows: int, columns: int, pitch: float) -> list[Point]:
    """Points in rows, numbered row by row."""
    return [(pitch * column, pitch * row) for row in range(rows) for column in range(columns)]


@pytest.mark.parametrize("count", sorted(CROSS_PATTERN))
def test_a_ring_is_tightened_in_the_published_cross_pattern(count: int) -> None:
    assert tuple(index + 1 for index in crosswise(ring(count))) == CROSS_PATTERN[count]


def test_a_block_of_ten_begins_in_the_middle_and_works_outwards() -> None:
    """Two rows of five, as on a cylinder head: middle pair first, end pairs last (common practice)."""
    order = crosswise(grid(2, 5, 30.0))
    columns = [index % 5 for index in order]
    assert columns[:2] == [2, 2]
    assert set(columns[2:6]) == {1, 3}
    assert set(columns[6:]) == {0, 4}


def test_the_one_opposite_comes_before_another_one_on_the_same_side() -> None:
    """Two near ones on the right, two far ones on the left; their middle is the origin."""
    assert crosswise([(9.0, 0.0), (10.0, 1.0), (-9.5, 20.0), (-9.5, -21.0)]) == (0, 2, 1, 3)


@given(POINTS)
def test_the_order_is_a_permutation(points: list[Point]) -> None:
    assert sorted(crosswise(points)) == list(range(len(points)))


@given(POINTS)
def test_the_first_is_nearest_the_middle(points: list[Point]) -> None:
    assume(points)
    middle = (
        math.fsum(x for x, _ in points) / len(points), math.fsum(y for _, y in points) / len(points),
    )  # fmt: skip
    distances = [math.dist(point, middle) for point in points]
    assert distances[crosswise(points)[0]] <= min(distances) + 0.11


@given(st.integers(2, 5), st.integers(2, 7), st.sampled_from([7.5, 20.0, 33.3]))
def test_grids_are_clamped_more_evenly_than_row_by_row(
    rows: int, columns: int, pitch: float
) -> None:
    points = grid(rows, columns, pitch)
    assert imbalance_mm(points, crosswise(points)) < imbalance_mm(points, range(len(points)))


@given(st.integers(3, 20))
def test_rings_are_clamped_more_evenly_than_around(count: int) -> None:
    points = ring(count)
    around = imbalance_mm(points, range(count))
    assert imbalance_mm(points, crosswise(points)) <= around + 1e-9
    if count > 3:
        assert imbalance_mm(points, crosswise(points)) < around


@given(
    st.lists(
        st.tuples(st.integers(1, 100), st.integers(-100, 100)), min_size=1, max_size=6, unique=True
    )
)
def test_every_second_one_of_a_symmetrical_set_is_opposite_the_one_before(
    half: list[tuple[int, int]],
) -> None:
    """Where each screw has a mirror image, pairs are tightened one after the other."""
    points = [(float(x), float(y)) for x, y in half] + [(-float(x), -float(y)) for x, y in half]
    order = crosswise(points)
    for first, second in zip(order[::2], order[1::2], strict=True):
        assert points[second] == (-points[first][0], -points[first][1])


@given(POINTS, st.integers(-500, 500), st.integers(-500, 500))
def test_where_the_frame_begins_does_not_matter(points: list[Point], x: int, y: int) -> None:
    """Shifted by whole millimetres nothing changes but rounding at the edge of a step."""
    moved = [(px + x, py + y) for px, py in points]
    assert sorted(crosswise(moved)) == sorted(crosswise(points))
    assert imbalance_mm(moved, crosswise(points)) == pytest.approx(
        imbalance_mm(points, crosswise(points))
    )


def test_no_screws_and_one_screw() -> None:
    assert crosswise([]) == ()
    assert crosswise([(3.0, 4.0)]) == (0,)
    assert imbalance_mm([], ()) == 0.0


def with_joint(key: str, **rest: object) -> Device:
    """The radio with one joint changed."""
    changed = replace(RADIO.joints[key], **rest)  # type: ignore[arg-type]
    return replace(RADIO, joints={**RADIO.joints, key: changed})


SQUARE = ((0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0))


def test_crosswise_with_a_torque_has_a_round_by_hand_and_two_with_the_driver() -> None:
    device = with_joint("pack_screws", positions_mm=SQUARE, order="crosswise", torque_ncm=16.0)
    found = tightening_of(device, "pack_screws")
    assert found is not None
    assert [place.number for place in found.order] == [0, 2, 1, 3]
    assert found.loosening == tuple(reversed(found.order))
    assert [dict(each.torque_ncm) for each in found.rounds] == [
        {},
        {"pack_screws": 8.0},
        {"pack_screws": 16.0},
    ]
    assert "by hand" in found.rounds[0].text
    assert "no source" in found.basis
    assert order_text(device, found) == "1 · 3 · 2 · 4"


def test_without_a_torque_there_is_one_round_with_the_driver() -> None:
    device = with_joint("pack_screws", positions_mm=SQUARE, order="crosswise")
    found = tightening_of(device, "pack_screws")
    assert found is not None
    assert len(found.rounds) == 2


def test_the_torque_of_the_fastener_counts_where_the_joint_gives_none() -> None:
    device = with_joint("pack_screws", positions_mm=SQUARE, order="crosswise")
    fasteners = {**device.fasteners, "m2x3": replace(device.fasteners["m2x3"], torque_ncm=12.0)}
    found = tightening_of(replace(device, fasteners=fasteners), "pack_screws")
    assert found is not None
    assert dict(found.rounds[-1].torque_ncm) == {"pack_screws": 12.0}


def test_numbered_is_as_listed() -> None:
    device = with_joint("pack_screws", positions_mm=SQUARE, order="numbered")
    found = tightening_of(device, "pack_screws")
    assert found is not None
    assert [place.number for place in found.order] == [0, 1, 2, 3]


def test_any_order_and_a_single_screw_need_none() -> None:
    assert tightening_of(RADIO, "pack_screws") is None
    assert (
        tightening_of(with_joint("pack_screws", order="crosswise", count=1), "pack_screws") is None
    )


def test_joints_of_a_group_are_tightened_in_one_order() -> None:
    device = with_joint(
        "pack_screws", positions_mm=SQUARE[:2], count=2, order="crosswise", group="frame"
    )
    second = replace(
        device.joints["board_screws"], positions_mm=SQUARE[2:], count=2, order="crosswise", group="frame",
        torque_ncm=20.0,
    )  # fmt: skip
    third = replace(device.joints["board_nuts"], group="frame")
    device = replace(device, joints={**device.joints, second.id: second, third.id: third})
    found = tightening_of(device, "pack_screws")
    assert found is not None
    assert found.joints == ("board_nuts", "board_screws", "pack_screws")
    four = found.order[:4]
    assert {place.joint for place in four[:2]} == {"board_screws", "pack_screws"}
    assert found.order[4:] == (Place("board_nuts", 0), Place("board_nuts", 1))
    assert found.without_place == ("board_nuts",)
    assert dict(found.rounds[-1].torque_ncm) == {"board_screws": 20.0}
    assert tightenings(device, ["pack_screws", "board_screws", "cover_screws"]) == (found,)
    assert order_text(device, found).startswith("Board screws 1 · Pack screws 1")
