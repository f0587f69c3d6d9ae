"""Ranges for people: rounded outwards, as wide as the spread says."""

from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.times.ranges import COMMON_SPREAD, TimeRange, as_range, time_range

steps = st.lists(st.tuples(st.integers(0, 200_000), st.floats(0, 0.5)), max_size=40)


@pytest.mark.parametrize(
    ("low_ms", "high_ms", "text"),
    [
        (0, 0, "0 s"),
        (0, 5_000, "0–5 s"),
        (45_000, 60_000, "45–60 s"),
        (270_000, 360_000, "4.5–6 min"),
        (720_000, 960_000, "12–16 min"),
        (300_000, 300_000, "5 min"),
        (3_480_000, 7_500_000, "58 min–2 h 05"),
        (7_500_000, 9_600_000, "2 h 05–2 h 40"),
    ],
)
def test_text(low_ms: int, high_ms: int, text: str) -> None:
    """Seconds, minutes, hours and minutes; one figure where both ends are equal."""
    assert str(TimeRange(low_ms, high_ms)) == text


def test_a_job_of_a_quarter_of_an_hour() -> None:
    """150 steps of 5.6 s: chance evens out, what is common to all stays: 12–16 min."""
    assert as_range(840_000, [(5_600, 0.25)] * 150) == "12–16 min"


@given(steps, st.integers(0, 500_000))
def test_the_range_holds_the_total(spreads: list[tuple[int, float]], setup_ms: int) -> None:
    """Never does a range leave out the sum it stands for; it never starts below 0."""
    total = sum(ms for ms, _ in spreads) + setup_ms
    found = time_range(total, spreads)
    assert 0 <= found.low_ms <= total <= found.high_ms


@given(steps.filter(bool), st.floats(0, 0.3))
def test_less_sure_is_wider(spreads: list[tuple[int, float]], more: float) -> None:
    """Raising every spread never narrows the range."""
    total = sum(ms for ms, _ in spreads)
    sure = time_range(total, spreads)
    unsure = time_range(total, [(ms, spread + more) for ms, spread in spreads])
    assert unsure.low_ms <= sure.low_ms
    assert unsure.high_ms >= sure.high_ms


def test_eight_of_ten_simulated_jobs_lie_in_it() -> None:
    """2,000 simulated jobs with the stated spreads: eight of ten in the range, a few more by rounding."""
    rng = Random(7)
    spreads = [(9_000, 0.25)] * 20 + [(4_000, 0.5)] * 15 + [(30_000, 0.15)] * 3
    total = sum(ms for ms, _ in spreads)
    found = time_range(total, spreads)
    jobs = [
        total * rng.gauss(0, COMMON_SPREAD)
        + sum(rng.gauss(ms, spread * ms) for ms, spread in spreads)
        for _ in range(2_000)
    ]
    inside = sum(found.low_ms <= job <= found.high_ms for job in jobs) / len(jobs)
    assert 0.78 <= inside <= 0.93
    assert math.isclose(sum(jobs) / len(jobs), total, rel_tol=0.02)


@given(st.integers(0, 3_600_000), st.integers(0, 3_600_000), st.floats(0.1, 100))
def test_scaled_ranges_hold_what_they_stand_for(one: int, other: int, factor: float) -> None:
    """A batch's range holds the scaled range of one unit, rounded outwards."""
    low, high = sorted((one, other))
    scaled = TimeRange(low, high).scaled(factor)
    assert scaled.low_ms <= low * factor <= high * factor <= scaled.high_ms + 1e-6
