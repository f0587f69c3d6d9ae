"""Estimates from clocked work: robust, honest about what they rest on, and ever surer."""

from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.times.measured import Clocking, blend, student_quantile, without_outliers

times_ms = st.lists(st.integers(500, 120_000), max_size=30)


def clocked(*times: int) -> list[Clocking]:
    return [Clocking(ms) for ms in times]


@given(st.integers(100, 500_000), st.floats(0.05, 0.6))
def test_without_measurements_the_prior_stands(prior_ms: int, spread: float) -> None:
    """No clocked time: the mean and the spread are the prior's, the source too."""
    found = blend(prior_ms, spread, [])
    assert found.mean_ms == prior_ms
    assert found.spread == pytest.approx(spread)
    assert found.low_ms < prior_ms < found.high_ms
    assert found.count == 0
    assert found.source == "table"


@given(st.integers(1_000, 60_000), times_ms.filter(bool))
def test_the_centre_lies_between_prior_and_measurements(prior_ms: int, times: list[int]) -> None:
    """The estimate's middle (geometric, by its ends) lies between what was thought and what was seen."""
    found = blend(prior_ms, 0.25, clocked(*times))
    used, _ = without_outliers(times)
    seen = math.exp(sum(math.log(ms) for ms in used) / len(used))
    thought = prior_ms / math.sqrt(1 + 0.25**2)
    middle = math.sqrt(max(found.low_ms, 1) * found.high_ms)
    assert min(seen, thought) * 0.98 <= middle <= max(seen, thought) * 1.02


@given(times_ms, st.randoms(use_true_random=False))
def test_order_does_not_matter(times: list[int], rng: Random) -> None:
    """The same times in another order give the same estimate, save for the order of the outliers."""
    shuffled = times[:]
    rng.shuffle(shuffled)
    one, other = blend(9_000, 0.25, clocked(*times)), blend(9_000, 0.25, clocked(*shuffled))
    assert (one.mean_ms, one.count) == (other.mean_ms, other.count)
    assert sorted(one.outliers) == sorted(other.outliers)


def test_measurements_win_in_the_end() -> None:
    """200 times around 5 s against a table's 9.4 s: within 3 % of 5 s; the range holds eight of ten."""
    rng = Random(3)
    truth = [round(5_000 * math.exp(rng.gauss(0, 0.2))) for _ in range(200)]
    found = blend(9_400, 0.25, clocked(*truth))
    assert found.mean_ms == pytest.approx(5_000 * math.exp(0.02), rel=0.03)
    future = [5_000 * math.exp(rng.gauss(0, 0.2)) for _ in range(2_000)]
    inside = sum(found.low_ms <= ms <= found.high_ms for ms in future) / len(future)
    assert 0.75 <= inside <= 0.87
    assert found.source == "measured here, 200 times, with table"


def test_a_few_measurements_move_it_part_of_the_way() -> None:
    """Two times weigh as much as the table does."""
    found = blend(9_400, 0.25, clocked(5_000, 5_000))
    assert 6_000 < found.mean_ms < 8_000


def test_a_forgotten_pause_is_left_out_and_shown() -> None:
    """One time twelve times as long as the others is an outlier; it changes nothing but the list."""
    fair = [5_000, 5_500, 6_000, 5_200, 5_800]
    with_pause = blend(9_400, 0.25, clocked(*fair, 65_000))
    assert with_pause.outliers == (65_000,)
    assert with_pause.mean_ms == blend(9_400, 0.25, clocked(*fair)).mean_ms


def test_flagged_times_are_counted_but_not_used() -> None:
    """What a person flagged is left out, whatever its length."""
    found = blend(9_400, 0.25, [*clocked(5_000, 5_100), Clocking(5_050, "pause")])
    assert (found.count, found.flagged) == (2, 1)
    assert found.mean_ms == blend(9_400, 0.25, clocked(5_000, 5_100)).mean_ms


def test_equal_times_are_no_outliers_of_each_other() -> None:
    """Ten equal times and one 5 % longer: nobody clocks that closely, all are used."""
    used, left = without_outliers([5_000] * 10 + [5_250])
    assert len(used) == 11
    assert not left


@given(st.integers(1, 40))
def test_more_of_the_same_is_surer(count: int) -> None:
    """The range never widens when another equal time comes in."""
    few, more = (
        blend(5_000, 0.25, clocked(*[5_000] * count)),
        blend(5_000, 0.25, clocked(*[5_000] * (count + 1))),
    )
    assert more.high_ms - more.low_ms <= few.high_ms - few.low_ms


@pytest.mark.parametrize(
    ("probability", "degrees", "table"),
    [
        (0.9, 4, 1.533),
        (0.9, 10, 1.372),
        (0.95, 5, 2.015),
        (0.975, 10, 2.228),
        (0.975, 30, 2.042),
        (0.9, 120, 1.289),
    ],
)
def test_quantiles_of_students_t(probability: float, degrees: int, table: float) -> None:
    """The printed table (any textbook, from memory) to its three digits."""
    assert student_quantile(probability, degrees) == pytest.approx(table, abs=0.001)


@pytest.mark.parametrize(
    ("prior", "spread", "weight", "ms"),
    [(0, 0.2, 2, 1), (1, 0, 2, 1), (1, 0.2, 0, 1), (1, 0.2, 2, 0)],
)
def test_impossible_values_are_refused(prior: int, spread: float, weight: float, ms: int) -> None:
    """Times, spread and weight are above 0."""
    with pytest.raises(ValueError, match="above 0"):
        blend(prior, spread, clocked(ms), weight)
