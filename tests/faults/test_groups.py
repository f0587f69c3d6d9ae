"""Bounds from groups in which the machines that no mend cures stay, held to a brute force over all strategies.

The brute force (``oracle``) is our own, written from the rules of a job; nothing is published that has these rules.
"""

from __future__ import annotations

from itertools import combinations
from random import Random

import pytest

from lastscrew.faults.focus import Focus
from lastscrew.faults.groups import gain_of_group
from lastscrew.faults.guided import Guided
from lastscrew.faults.search import Search
from tests.faults.jobs import Shape, puzzle_of_job, random_job
from tests.faults.oracle import BruteForce

SHAPES = {
    "a mend for each": Shape(faults=4, tests=1, cures=4, joints=3),
    "two checks": Shape(faults=4, tests=2, cures=3),
    "several mends for one": Shape(faults=3, tests=1, cures=4),
    "much to open": Shape(faults=3, tests=2, cures=3, joints=4),
    "open at the start": Shape(faults=4, tests=1, cures=4, opened=True),
    "mends alone": Shape(faults=5, tests=0, cures=5, joints=4),
    "few opening costs worked out": Shape(faults=4, tests=1, cures=3, half_ready=True, opened=True),
}
CASES = [
    pytest.param(SHAPES[name], seed, id=f"{name}-{seed}") for name in SHAPES for seed in range(3)
]
GUIDED = CASES + [
    pytest.param(shape, seed, id=f"{name}-{seed}")
    for name, shape in (
        ("a price for giving up", Shape(faults=3, tests=1, worth=True, opened=True)),
        ("two faults at once", Shape(faults=2, tests=1, cures=2, second=True)),
    )
    for seed in range(3)
]
WORK = 400
SLACK = 1 + 1e-9


@pytest.mark.parametrize(("shape", "seed"), CASES)
def test_no_group_says_more_than_the_brute_force(shape: Shape, seed: int) -> None:
    """Whichever causes are in the group, and however far it was searched, the bound is no more than the least cost."""
    job, _ = random_job(shape, Random(f"groups-{shape}-{seed}"))
    least = BruteForce(job).least()
    search = Search(puzzle_of_job(job)[0])
    root = search.root()
    focus = Focus(search)
    told = search.bounds.below(root.belief, root.state)
    for size in range(1, shape.faults + 1):
        for causes in combinations(range(shape.faults), size):
            kinds = focus.kinds(root.belief, causes, lost=True)
            for work in (3, WORK):
                gain, _ = gain_of_group(search, root, kinds, work=work)
                assert told + gain <= least * SLACK + 1e-7


def test_a_group_tells_more_than_the_cause_alone() -> None:
    """Over many jobs the groups raise the bound of most, and none of all causes lowers it."""
    raised = 0
    for seed in range(30):
        job, _ = random_job(SHAPES["mends alone"], Random(f"raised-{seed}"))
        search = Search(puzzle_of_job(job)[0])
        root = search.root()
        kinds = Focus(search).kinds(root.belief, range(5), lost=True)
        gain, _ = gain_of_group(search, root, kinds, work=WORK)
        raised += gain > 0.02 * root.below
    assert raised > 20


@pytest.mark.parametrize(("shape", "seed"), GUIDED)
def test_a_guess_finds_strategies_and_leaves_both_bounds_true(shape: Shape, seed: int) -> None:
    """However much is unfolded by a guess and polished, the least cost stays between the bounds."""
    job, _ = random_job(shape, Random(f"guided-{shape}-{seed}"))
    least = BruteForce(job).least()
    search = Search(puzzle_of_job(job)[0])
    root = search.root()
    before = root.above
    guided = Guided(search)
    for work in (5, 20, 60):
        guided.go(root, work=work)
        search.polish(root)
        assert root.below <= least * SLACK + 1e-7
        assert root.above >= least / SLACK - 1e-7
    assert root.above <= before
