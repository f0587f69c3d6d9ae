"""What a depot has learnt about a device: times beside the plan, joints that go wrong, each with count and spread."""

from __future__ import annotations

import statistics

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from lastscrew.bench.depot.charts import draw_step_times, draw_troubles
from lastscrew.bench.depot.device_story import (
    job_times,
    middle_and_range,
    share_interval,
    step_times,
    troubles,
)
from lastscrew.bench.depot.running import estimates_of
from lastscrew.bench.queries.device_history import history_of
from lastscrew.bench.store.adding import add_run_events
from lastscrew.run import events as e
from tests.bench.conftest import Bench
from tests.bench.store.making import begin, demo, event
from tests.run.machines import radio

RADIO = radio()


@pytest.mark.parametrize(
    ("cases", "total", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_of_a_share_is_the_published_one(
    cases: int, total: int, low: float, high: float
) -> None:
    """R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (values from memory)."""
    assert share_interval(cases, total) == pytest.approx((low, high), abs=5e-5)


def test_the_range_holds_eight_of_ten_as_the_standard_library_has_it() -> None:
    times = [31, 12, 47, 20, 25, 90, 18, 33, 41, 28, 22, 39]
    tenths = statistics.quantiles(times, n=10, method="inclusive")
    assert middle_and_range(times) == (
        round(statistics.median(times)),
        round(tenths[0]),
        round(tenths[-1]),
    )
    assert middle_and_range([7, 3, 5]) == (5, 3, 7)


def test_steps_stand_beside_their_plan_and_far_ones_are_left_out_and_counted() -> None:
    times = {
        ("in", "cover_screws"): [60_000, 62_000, 58_000, 61_000, 900_000],
        ("out", "gone_joint"): [5_000],
    }
    steps = step_times(RADIO, times)
    screws = next(step for step in steps if step.joint == "cover_screws")
    assert (screws.count, screws.left_out, screws.median_ms) == (4, 1, 60_500)
    assert screws.planned_ms == estimates_of(RADIO)("cover_screws", "in")
    gone = next(step for step in steps if step.joint == "gone_joint")
    assert (gone.planned_ms, gone.name) == (None, "Gone joint")


def test_troubles_come_in_the_order_in_which_they_are_sure() -> None:
    found = troubles(
        RADIO,
        {"cover_screws": 100, "pack_screws": 2, "fan_screws": 50},
        {
            "cover_screws": {"stripped": 30},
            "pack_screws": {"lost": 1},
            "fan_screws": {"stripped": 1},
        },
        {"cover_screws": 28, "pack_screws": 1, "fan_screws": 1},
    )
    assert [trouble.joint for trouble in found] == ["cover_screws", "pack_screws", "fan_screws"]
    assert all(trouble.low <= trouble.jobs / trouble.openings <= trouble.high for trouble in found)


def test_jobs_for_the_same_thing_are_one_line_whatever_their_order() -> None:
    times = job_times(
        RADIO, [(("fan", "panel"), 600_000), (("panel", "fan"), 700_000), (("fan",), 1), ((), 9)]
    )
    assert [(time.names, time.count) for time in times] == [(("Fan", "Panel"), 2), (("Fan",), 1)]


def test_charts_stay_in_their_field_and_say_their_figures_in_words() -> None:
    steps = step_times(
        RADIO, {("in", j): [5_000 * n + 1_000 for n in range(1, 9)] for j in RADIO.joints}
    )
    bad = troubles(RADIO, {"cover_screws": 3}, {"cover_screws": {"lost": 3}}, {"cover_screws": 3})
    for drawing in (draw_step_times(steps), draw_troubles(bad)):
        _left, _top, width, height = map(float, (drawing.get("viewBox") or "").split())
        for line in drawing.iter("line"):
            assert 0 <= float(line.get("x1", "0")) <= width
            assert 0 <= float(line.get("x2", "0")) <= width
            assert float(line.get("y2", "0")) <= height
        assert len(drawing.findall("title")) == 1
        assert all(group.find("title") is not None for group in drawing.iter("g"))
    words = "".join(title.text or "" for title in draw_troubles(bad).iter("title"))
    assert "trouble in 3 of 3 openings" in words


def test_what_was_taken_back_did_not_go_wrong(both: Bench) -> None:
    begin("r1", "u1", replace=("fan",))
    happenings = [
        e.Opened(joint="cover_screws"),
        e.Stripped(joint="cover_screws", count=1, what="drive"),
        e.Lost(joint="cover_screws", count=1),
        e.TakenBack(about="r1-2"),
        e.Exchanged(part="fan"),
        e.PartJudged(part="fan", state="dead_on_arrival"),
    ]
    add_run_events("r1", [event(f"r1-{n}", what) for n, what in enumerate(happenings)], by="Ada")
    found = history_of(demo().id)
    assert found.openings == {"cover_screws": 1}
    assert found.troubles == {"cover_screws": {"stripped": 1}}
    assert (found.exchanged, found.dead) == ({"fan": 1}, {"fan": 1})
    page = both.client("guest").get(f"/devices/{demo().id}/history/").content.decode()
    assert "worn out 1 ×" in page
    assert "Cover screws: trouble in 1 of 1 openings" in page


def test_the_page_asks_few_questions_and_is_not_there_for_what_nobody_described(
    bench: Bench,
) -> None:
    begin("r1", "u1", replace=("fan",))
    client = bench.client("guest")
    address = f"/devices/{demo().id}/history/"
    client.get(address)
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    assert len(asked) <= 15
    assert client.get("/devices/none/history/").status_code == 404


def test_what_was_dead_in_its_box_counts_as_dead_on_arrival_and_once(both: Bench) -> None:
    """Seen before it was fitted there is a line of the order only; seen afterwards there are two entries."""
    begin("r1", "u1", replace=("fan",))
    line = e.PartLine(line="l1", part="fan", count=1, state="dead_on_arrival")
    happenings = [
        line,
        e.Exchanged(part="fan"),
        e.PartJudged(part="fan", state="dead_on_arrival"),
        line,
    ]
    add_run_events("r1", [event(f"r1-{n}", what) for n, what in enumerate(happenings)], by="Ada")
    assert history_of(demo().id).dead == {"fan": 2}
