"""Laws of learning curves, batches, waits and cost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import Access, Act, Device, Joint, Part
from lastscrew.times.cost import labour_cost
from lastscrew.times.elapsed import waits_of
from lastscrew.times.learning import (
    MOST_UNITS,
    batch_ms,
    crawford_cumulative,
    crawford_rate,
    crawford_unit,
    midpoint,
    slope,
    wright_cumulative,
    wright_rate,
    wright_unit,
)

rates = st.floats(0.55, 1.0)


@given(rates, st.integers(1, 1_000))
def test_doubling_brings_the_time_down_to_the_rate(rate: float, unit: int) -> None:
    """Crawford on the unit, Wright on the average."""
    assert crawford_unit(60, 2 * unit, rate) == pytest.approx(rate * crawford_unit(60, unit, rate))
    average = wright_cumulative(60, unit, rate) / unit
    assert wright_cumulative(60, 2 * unit, rate) / (2 * unit) == pytest.approx(rate * average)


@given(rates, st.integers(1, 300), st.integers(1, 300))
def test_blocks_add_up(rate: float, first: int, more: int) -> None:
    """Two batches one after the other take what one batch of both takes."""
    whole = crawford_cumulative(60, 1, first + more, rate)
    split = crawford_cumulative(60, 1, first, rate) + crawford_cumulative(
        60, first + 1, first + more, rate
    )
    assert split == pytest.approx(whole)


@given(st.floats(0.6, 0.999), st.integers(2, 500))
def test_rates_are_found_again(rate: float, units: int) -> None:
    """What a rate produced gives the rate back."""
    assert wright_rate(60, units, wright_cumulative(60, units, rate)) == pytest.approx(rate)
    assert crawford_rate(60, units, crawford_unit(60, units, rate)) == pytest.approx(rate)


@given(rates | st.just(0.5), st.integers(1, 400), st.integers(0, 400))
def test_the_midpoint_takes_the_average_time(rate: float, first: int, more: int) -> None:
    """The time at the midpoint times the units is the block, nearly: to 0.5 % after the first few."""
    last = first + more
    mid = midpoint(first, last, rate)
    assert first - 0.5 <= mid <= last + 0.5
    block = crawford_cumulative(60, first, last, rate)
    nearly = crawford_unit(60, mid, rate) * (more + 1)
    assert nearly == pytest.approx(block, rel=0.1 if first < 3 else 0.005)


@given(st.integers(0, 10_000_000), st.integers(1, 200))
def test_no_learning_is_plain_multiplication(total_ms: int, units: int) -> None:
    """Rate 1.0: the batch takes its units times the one."""
    assert batch_ms(total_ms, units, 1.0) == total_ms * units


def test_a_batch_of_twelve() -> None:
    """Twelve units of 20 min at 80 %: 7.227 times the first (the published table), to its digits."""
    assert batch_ms(1_200_000, 1, 0.8) == 1_200_000
    assert batch_ms(1_200_000, 12, 0.8) / 1_200_000 == pytest.approx(7.227, abs=0.0005)
    assert batch_ms(1_200_000, 12, 0.8, first=101) < batch_ms(1_200_000, 12, 0.8)


def test_wright_falls_faster_than_crawford() -> None:
    """Under Wright the average falls at the rate, so the unit itself falls below Crawford's."""
    assert wright_unit(60, 50, 0.85) < crawford_unit(60, 50, 0.85)


@pytest.mark.parametrize("rate", [0.0, -0.5, 1.01, float("nan")])
def test_impossible_rates_are_refused(rate: float) -> None:
    """Above 0, at most 1."""
    with pytest.raises(ValueError, match="rate"):
        slope(rate)


@pytest.mark.parametrize("units", [0, -3, MOST_UNITS + 1])
def test_impossible_batches_are_refused(units: int) -> None:
    """At least one unit, and no endless sum."""
    with pytest.raises(ValueError, match="units"):
        batch_ms(1_000, units)


@pytest.mark.parametrize(
    "call",
    [lambda: wright_rate(1, 1, 1), lambda: crawford_rate(1, 1, 1), lambda: wright_rate(0, 5, 1)],
)
def test_rates_that_cannot_be_told_are_refused(call: object) -> None:
    """One unit shows no curve."""
    with pytest.raises(ValueError, match="rate needs"):
        call()  # type: ignore[operator]


def test_labour() -> None:
    """A quarter of an hour at 60 an hour is 15; rates that are none are refused."""
    assert labour_cost(900_000, 60) == 15
    assert labour_cost(0, 45) == 0
    with pytest.raises(ValueError, match="hourly rate"):
        labour_cost(1, float("inf"))
    with pytest.raises(ValueError, match="hourly rate"):
        labour_cost(1, -1)


def test_waits_are_counted_once_each_and_named() -> None:
    """Joints that are opened and closed and acts that are done, nothing else, in the order of the file."""
    joints = {
        name: Joint(
            name, "adhesive", ("base", "lid"), (Access("bottom"),), True,
            wait_open_ms=60_000, wait_close_ms=900_000,
        )
        for name in ("glue_a", "glue_b")
    }  # fmt: skip
    acts = {"dry": Act("dry", "Let it dry.", "end", wait_ms=5_000)}
    parts = {"base": Part("base", "Base", fixed=True), "lid": Part("lid", "Lid")}
    device = Device("d", "D", ("bottom",), parts, joints, acts=acts)
    waits = waits_of(device, ["glue_b"], ["glue_a", "glue_b"], (), ["dry"])
    assert (waits.in_ms, waits.out_ms, waits.total_ms) == (60_000, 1_805_000, 1_865_000)
    assert waits.because == (
        ("glue_b", 60_000), ("glue_a", 900_000), ("glue_b", 900_000), ("dry", 5_000),
    )  # fmt: skip
