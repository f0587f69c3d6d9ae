"""A photo under the drawing: two points fix it, wherever they lie, and nothing is mirrored."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lastscrew.bench.workshop.overlay import (
    Anchor,
    anchors_as_json,
    anchors_from,
    check_anchors,
    fixed_by,
)
from lastscrew.device.model import Point
from lastscrew.problems import InputError

coordinate = st.floats(-1000, 1000)
points = st.tuples(coordinate, coordinate)


@given(points, points, points, points, points)
def test_the_mapping_is_the_least_squares_solution_of_the_four_equations(
    z1: Point, z2: Point, w1: Point, w2: Point, probe: Point
) -> None:
    """Numpy solves the same equations for a, b, shift without any complex number."""
    assume(math.dist(z1, z2) > 1 and math.dist(w1, w2) > 1)
    rows, right = [], []
    for (x, y), (u, v) in ((z1, w1), (z2, w2)):
        rows += [[x, -y, 1, 0], [y, x, 0, 1]]
        right += [u, v]
    along, across, shift_x, shift_y = np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)[
        0
    ]
    x, y = probe
    wanted = (along * x - across * y + shift_x, across * x + along * y + shift_y)
    size = 1 + max(abs(v) for v in wanted)
    assert fixed_by(((z1, w1), (z2, w2))).at(probe) == pytest.approx(wanted, abs=1e-6 * size)


def test_a_photo_taken_straight_on_is_scaled_turned_and_shifted_but_not_mirrored() -> None:
    """A quarter turn by hand: what pointed right points down, what pointed down points left."""
    turned = fixed_by((((0, 0), (10, 10)), ((4, 0), (10, 18))))
    assert turned.scale == pytest.approx(2)
    assert turned.degrees == pytest.approx(90)
    assert turned.at((0, 3)) == pytest.approx((4, 10))
    assert turned.matrix() == "matrix(0 2 -2 0 10 10)"


def test_points_that_fix_nothing_are_refused_with_a_remedy() -> None:
    """The same point twice, points at one place of the machine, points outside."""
    with pytest.raises(InputError, match="too near"):
        fixed_by((((1, 1), (0, 0)), ((1, 1), (5, 5))))
    near = (Anchor((0.5, 0.5), (10, 10)), Anchor((0.51, 0.5), (12, 10)))
    assert [p.code for p in check_anchors(near, (300, 200))] == ["too_near", "too_near"]
    outside = (Anchor((1.5, 0.5), (10, 10)), Anchor((0, math.nan), (400, 10)))
    assert [p.path for p in check_anchors(outside, (300, 200))] == ["share_1", "share_2", "mm_2"]
    good = (Anchor((0.1, 0.1), (10, 190)), Anchor((0.9, 0.9), (290, 10)))
    assert check_anchors(good, (300, 200)) == ()


@pytest.mark.parametrize("kept", [None, [], [1, 2], [{"share": [0, 0]}] * 2, {"share": 1}, "ab"])
def test_what_the_database_keeps_is_read_back_or_left_alone(kept: object) -> None:
    """Whatever else stands there is no pair of anchors, and no error either."""
    assert anchors_from(kept) is None
    good = (Anchor((0.1, 0.1), (10, 190)), Anchor((0.9, 0.9), (290, 10)))
    assert anchors_from(anchors_as_json(good)) == good
