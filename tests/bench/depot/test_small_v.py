"""The small V shows where a unit stands and how deep it is open."""

from __future__ import annotations

import pytest

from lastscrew.bench.depot.small_v import MIDDLE, SmallV, Standing, draw, standing_of, to_markup


@pytest.mark.parametrize(
    ("stage", "opened", "open_now", "last", "standing"),
    [
        ("taken_in", 0, 0, "", "before"),
        ("at_work", 3, 3, "in", "in"),
        ("parked", 5, 3, "out", "out"),
        ("to_prove", 5, 0, "out", "closed"),
        ("proven", 5, 0, "out", "proven"),
        ("gone", 0, 0, "", "gone"),
        ("set_apart", 4, 2, "in", "in"),
        ("at_work", 0, 2, "", "in"),
    ],
)
def test_where_it_stands_follows_from_what_was_done_last(
    stage: str, opened: int, open_now: int, last: str, standing: str
) -> None:
    assert standing_of(stage, opened=opened, open_now=open_now, last_limb=last) == standing


def test_the_deeper_it_was_opened_the_deeper_the_v_and_never_beyond_its_field() -> None:
    depths = [SmallV("in", count, count).depth for count in (0, 1, 5, 20, 500)]
    assert depths == sorted(depths)
    assert len(set(depths)) == 5
    assert 5 + depths[-1] <= 30


def test_a_machine_on_its_way_out_stands_on_the_right_limb_higher_the_less_is_open() -> None:
    def place(open_now: int) -> tuple[float, float]:
        points = draw(SmallV("out", open_now, 10)).findall("polyline")[1].get("points", "")
        x, y = points.split()[-1].split(",")
        return float(x), float(y)

    assert MIDDLE < place(8)[0] < place(2)[0]
    assert place(8)[1] > place(2)[1]


def test_colour_is_used_for_a_hazard_only() -> None:
    assert "stop" in to_markup(draw(SmallV("in", 3, 3, stopped=True)))
    assert "stop" not in to_markup(draw(SmallV("in", 3, 3, waits=True)))


@pytest.mark.parametrize("standing", ["before", "in", "out", "closed", "proven", "gone"])
def test_every_line_and_face_has_its_colour_in_the_drawing_itself(standing: Standing) -> None:
    """Printed as PDF no style sheet reaches into it: without a fill of its own the V is a black wedge."""
    for v in (SmallV(standing, 2, 4), SmallV(standing, 2, 4, waits=True, stopped=True)):
        for shape in draw(v):
            is_line = shape.tag in ("line", "polyline")
            assert (shape.get("fill") == "none") == is_line, shape.get("class")
            assert not is_line or shape.get("stroke"), shape.get("class")
