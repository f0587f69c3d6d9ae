"""The planner against an independent model in a constraint solver, on machines of 12 to 30 joints.

The solver is limited by its own measure of work, so that the test repeats; where it does not come
to an end, what it has proven must still agree. It is told that nothing dearer than the planner's
plan is wanted, since a plan that the replay has walked is one that exists: it looks for anything
better, and proves that there is nothing. ``LASTSCREW_JUDGED=5`` judges five times as many, and those
too at which the solver is known to come to no end.
"""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from lastscrew.plan.model import Plan
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from tests.oracle import cpsat
from tests.oracle.devices import MIDDLE, Case, case_from_seed
from tests.oracle.machines import machine_case
from tests.oracle.replay import violations
from tests.oracle.rules import ask

TIMES = int(os.environ.get("LASTSCREW_JUDGED", "1"))
EFFORT = cpsat.Effort(work=3.0, stages=12)
ENDLESS = frozenset({4, 5, 9, 21, 23})
ENDLESS_ODD = frozenset({1, 4, 8, 13, 17, 22, 24})
"""At these the solver gives up: they took most of the time and proved nothing. Others stand in for them."""


def seeds(chunk: int, size: int, endless: frozenset[int]) -> list[int]:
    """The seeds of one chunk; without the endless ones, unless many are judged."""
    passed_over = endless if TIMES == 1 else frozenset()
    enough = (chunk + 1) * size
    left = [seed for seed in range(enough + len(passed_over)) if seed not in passed_over]
    return left[enough - size : enough]


def agreed(case: Case) -> bool:
    """Whether the solver came to the end; fails where it contradicts the planner."""
    found = _planned(case)
    if found is None:
        status = cpsat.solve(ask(*case), EFFORT).status
        assert status in {"impossible", "unknown"}
        return status == "impossible"
    assert violations(*case, found) == []
    assert found.proven
    ceiling = None if case[1].objective == "steps" else found.objective_value
    verdict = cpsat.solve(ask(*case), replace(EFFORT, ceiling=ceiling))
    assert verdict.status != "impossible"
    if verdict.bound is not None:
        assert verdict.bound <= found.objective_value
    if verdict.value is not None:
        assert found.objective_value <= verdict.value
    if verdict.status == "optimal":
        assert verdict.value == found.objective_value
    return verdict.status == "optimal"


def _planned(case: Case) -> Plan | None:
    try:
        return plan(*case)
    except InputError:
        return None


@pytest.mark.parametrize("chunk", range(4 * TIMES))
def test_plans_of_middle_sized_machines_are_what_the_solver_proves(chunk: int) -> None:
    proven = sum(agreed(machine_case(seed)) for seed in seeds(chunk, 5, ENDLESS))
    assert proven >= 3, "the solver proved too little for this to mean anything"


@pytest.mark.parametrize("chunk", range(2 * TIMES))
def test_plans_of_odd_middle_sized_machines_are_what_the_solver_proves(chunk: int) -> None:
    proven = sum(agreed(case_from_seed(seed, MIDDLE)) for seed in seeds(chunk, 8, ENDLESS_ODD))
    assert proven >= 3, "the solver proved too little for this to mean anything"
