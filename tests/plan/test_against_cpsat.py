"""The planner against an independent model in a constraint solver, on machines of 12 to 30 joints.

The solver is limited by its own measure of work, so that the test repeats; where it does not come
to an end, what it has proven must still agree. It is told that nothing dearer than the planner's
plan is wanted, since a plan that the replay has walked is one that exists: it looks for anything
better, and proves that there is nothing. ``LASTSCREW_JUDGED=5`` judges five times as many.
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
    proven = sum(agreed(machine_case(seed)) for seed in range(chunk * 5, chunk * 5 + 5))
    assert proven >= 3, "the solver proved too little for this to mean anything"


@pytest.mark.parametrize("chunk", range(2 * TIMES))
def test_plans_of_odd_middle_sized_machines_are_what_the_solver_proves(chunk: int) -> None:
    proven = sum(agreed(case_from_seed(seed, MIDDLE)) for seed in range(chunk * 8, chunk * 8 + 8))
    assert proven >= 3, "the solver proved too little for this to mean anything"
