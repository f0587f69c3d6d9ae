"""A measured value stands for its outcome, whatever it was measured at."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lastscrew.device.diagnosis import Likelihood, Limits
from lastscrew.device.model import Device, Measure
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.learning import ClosedJob, learn
from lastscrew.faults.proposing import propose
from lastscrew.faults.works import FAULTY, WORKS, checks_of, outcome_read
from lastscrew.problems import InputError
from tests.faults.lantern import lantern


def measured(low: float | None = 10.0, high: float | None = 20.0) -> Device:
    """The lantern with a function that is measured and that a fault names as its check."""
    device = lantern()
    light = replace(device.functions["light"], measure=Measure("lx", low, high))
    fault = device.faults["pack_flat"]
    chances = {**fault.checks, "light": {"bad": Likelihood(0.7)}}
    return replace(
        device,
        functions={**device.functions, "light": light},
        faults={**device.faults, "pack_flat": replace(fault, checks=chances)},
    )


@pytest.mark.parametrize(
    ("value", "outcome"),
    [("9.99", "bad"), ("10", "good"), ("20", "good"), ("20.5", "bad"), ("-1e3", "bad")],
)
def test_a_value_at_a_function_counts_as_the_outcome_does(value: str, outcome: str) -> None:
    """Good from the low to the high limit, both included; else bad."""
    device = measured()
    by_value = propose(device, Evidence(("dark",), results=(("light", value),)), work=0)
    by_name = propose(device, Evidence(("dark",), results=(("light", outcome),)), work=0)
    assert by_value.posterior == by_name.posterior


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "bright"])
def test_what_is_no_finite_value_is_refused(value: str) -> None:
    """It would be within limits or outside them by chance."""
    with pytest.raises(InputError) as caught:
        propose(measured(), Evidence(results=(("light", value),)), work=0)
    assert caught.value.problems[0].path == f"results.light={value}"
    assert "the value in lx" in caught.value.problems[0].remedy


def test_a_function_without_limits_is_told_by_its_outcome_alone() -> None:
    """A value says nothing there: none of them would be bad."""
    device = measured(None, None)
    light = next(work for work in checks_of(device) if work.id == "light")
    assert light.limits is None
    with pytest.raises(InputError):
        propose(device, Evidence(results=(("light", "5"),)), work=0)


def test_closed_jobs_are_read_in_the_same_way() -> None:
    """Two values below the limit are two bad results."""
    jobs = [
        ClosedJob(f"j{n}", ("pack_flat",), {"light": v}) for n, v in enumerate(("3", "9", "15"))
    ]
    count = learn(measured(), jobs).chances["light", "pack_flat", "bad"]
    assert (count.seen, count.of) == (2, 3)


def test_the_own_check_may_be_measured() -> None:
    """Its outcomes are works and faulty, whatever the limits call them."""
    limits = Limits("V", 3.0, 4.0)
    read = [outcome_read(value, (WORKS, FAULTY), limits) for value in ("2.9", "3", "4.1", "low")]
    assert read == [FAULTY, WORKS, FAULTY, None]
