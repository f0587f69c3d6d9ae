"""One sentence about a planner on one case: what is wrong with it, or nothing."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from lastscrew.device.model import Device
from lastscrew.plan.model import Plan, Request
from lastscrew.problems import InputError
from tests.oracle.brute import Optimum, solve
from tests.oracle.devices import SMALL, Case, Taste, case_from_seed, shrink
from tests.oracle.replay import violations
from tests.oracle.rules import ask

Planner = Callable[[Device, Request], Plan]


def fault(planner: Planner, case: Case) -> str:
    """What the brute force or the replay finds wrong with a planner's answer; empty for nothing."""
    return fault_beside(planner, case, solve(ask(*case)))


@lru_cache(maxsize=2_500)
def judged(seed: int, taste: Taste = SMALL) -> tuple[Case, Optimum | None]:
    """A random case and its optimum, None when it is impossible; many planners are asked about the same ones."""
    case = case_from_seed(seed, taste)
    return case, solve(ask(*case))


def fault_beside(planner: Planner, case: Case, best: Optimum | None) -> str:
    """As :func:`fault`, where the optimum is known."""
    try:
        found = planner(*case)
    except InputError as error:
        return f"refused, but there is a plan: {error}" if best else ""
    if best is None:
        return "planned the impossible"
    wrong = violations(*case, found)
    return "; ".join(wrong) if wrong else _beside_the_optimum(found, best)


def _beside_the_optimum(found: Plan, best: Optimum) -> str:
    if found.lower_bound > best.value:
        return f"lower bound {found.lower_bound} is above the optimum {best.value}"
    if not found.proven:
        return "not proven although nothing stopped it"
    if found.objective_value != best.value:
        return f"says {found.objective_value} is proven, the optimum is {best.value}"
    if found.open_at_turning != best.turning:
        return f"among equals took {sorted(found.open_at_turning)}, not {sorted(best.turning)}"
    return ""


def explained(planner: Planner, case: Case) -> str:
    """The fault of a case with the least case that still shows one, to be read in a test's output."""
    first = fault(planner, case)
    least = shrink(case, lambda smaller: bool(fault(planner, smaller)))
    return f"{first}\nleast case: {fault(planner, least)}\n{least[0]!r}\n{least[1]!r}"
