"""A closer look at the likeliest causes, held to a brute force over all strategies of small random jobs.

The brute force (``oracle``) is our own, written from the rules of a job; nothing is published that has these rules.
"""

from __future__ import annotations

from random import Random

import pytest

from lastscrew.faults.focus import Focus
from lastscrew.faults.search import Search
from tests.faults.jobs import Shape, puzzle_of_job, random_job
from tests.faults.oracle import BruteForce
from tests.faults.test_search import mean_cost_played

SHAPES = {
    "four faults": Shape(faults=4, tests=2, cures=3),
    "a mend for each": Shape(faults=4, tests=2, cures=4, joints=2),
    "several mends for one": Shape(faults=3, tests=1, cures=4),
    "much to open": Shape(faults=3, tests=2, cures=2, joints=4),
    "open at the start": Shape(faults=4, opened=True, cures=2),
    "three outcomes": Shape(faults=4, tests=1, outcomes=3),
    "few opening costs worked out": Shape(faults=4, half_ready=True, opened=True, cures=2),
}
CASES = [
    pytest.param(SHAPES[name], seed, id=f"{name}-{seed}") for name in SHAPES for seed in range(8)
]


@pytest.mark.parametrize(("shape", "seed"), CASES)
def test_a_closer_look_never_says_more_than_the_brute_force(shape: Shape, seed: int) -> None:
    """Both bounds hold after it, for all sizes of groups, and the lower one is no worse than before."""
    job, _ = random_job(shape, Random(f"focus-{shape}-{seed}"))
    least = BruteForce(job).least()
    puzzle, _ = puzzle_of_job(job)
    for sizes in ((2,), (3,), (2, 3, 4)):
        search = Search(puzzle)
        root = search.root()
        before = root.below
        Focus(search).look(root, sizes=sizes, work=2_000, all_groups=True)
        assert before - 1e-9 <= root.below <= least * (1 + 1e-9) + 1e-7
        assert root.above >= least * (1 - 1e-9) - 1e-7


@pytest.mark.parametrize(("shape", "seed"), CASES)
def test_what_follows_later_is_bounded_as_well(shape: Shape, seed: int) -> None:
    """At every node that was looked at the lower bound is no more than what the search proves for it."""
    job, _ = random_job(shape, Random(f"later-{shape}-{seed}"))
    puzzle, _ = puzzle_of_job(job)
    search = Search(puzzle)
    root = search.root()
    search.probe(root, work=20)
    looked = [node for o in root.offers or () for b in o.branches or () if (node := b.node)]
    focus = Focus(search)
    for node in looked:
        focus.look(node, sizes=(2, 3), work=500, all_groups=True)
        plain = Search(puzzle)
        alike = plain.root(node.belief, node.state)
        plain.improve(alike)
        assert alike.closed
        assert node.below <= alike.above * (1 + 1e-9) + 1e-7
        assert node.above >= alike.above * (1 - 1e-9) - 1e-7
    focus.follow(root, looks=5, work=100)
    search.improve(root)
    assert root.above == pytest.approx(BruteForce(job).least(), rel=1e-8)


@pytest.mark.parametrize("seed", range(6))
def test_a_strategy_that_was_taken_over_costs_what_it_says(seed: int) -> None:
    """Followed with every machine that there can be, it costs on average its upper bound, or less."""
    job, _ = random_job(SHAPES["four faults"], Random(f"taken-{seed}"))
    puzzle, _ = puzzle_of_job(job)
    search = Search(puzzle)
    root = search.root()
    focus = Focus(search)
    focus.look(root, sizes=(2, 3), work=500, all_groups=False)
    focus.follow(root, looks=5, work=100)
    search.straighten(root)
    said = root.above
    assert mean_cost_played(search, root, job) <= said * (1 + 1e-8)


def test_telling_less_bounds_better() -> None:
    """Over many jobs the bound gets nearer to the least cost, by a third of the way at least."""
    before = after = 0.0
    for seed in range(6):
        job, _ = random_job(SHAPES["a mend for each"], Random(f"gain-{seed}"))
        least = BruteForce(job).least()
        puzzle, _ = puzzle_of_job(job)
        search = Search(puzzle)
        root = search.root()
        before += least - root.below
        Focus(search).look(root, sizes=(2, 3, 4), work=2_000, all_groups=True)
        after += least - root.below
    assert 0 <= after < before * 2 / 3


def test_with_a_price_for_giving_up_or_two_faults_there_is_no_closer_look() -> None:
    """The bound counts on single causes and on jobs that go on until nothing is left."""
    for shape in (Shape(worth=True), Shape(second=True, tests=1, cures=2)):
        puzzle, _ = puzzle_of_job(random_job(shape, Random(3))[0])
        assert not Focus(Search(puzzle)).applies
    puzzle, _ = puzzle_of_job(random_job(Shape(), Random(3))[0])
    assert Focus(Search(puzzle)).applies
