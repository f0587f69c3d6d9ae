"""Jobs whose best order is known from the literature.

Mends that are independent, one fault each, no opening, and a free try after each: the order of chance over cost is best
(Kadane and Simon, "Optimal strategies for a class of constrained sequential problems", Annals of Statistics 5 (1977)
237-255; Heckerman, Breese and Rommelse, "Decision-theoretic troubleshooting", Comm. of the ACM 38 (1995) 49-57).
Mends in groups that are opened once and need not be closed to try the device: the best group or part of one, by chance
over cost with its opening, comes first (Ottosen and Jensen, "The cost of troubleshooting cost clusters with inside
information", UAI 2010; its abstract says when that is best; the rule for one level of groups is from memory).
"""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations
from random import Random

import pytest

from lastscrew.faults.advice import next_offer
from lastscrew.faults.puzzle import Puzzle
from lastscrew.faults.search import Node, Search
from tests.faults.jobs import Covers, puzzle_of_job
from tests.faults.oracle import Cure, Faults, Job


def job_of(
    shares: list[int],
    cures: list[Cure],
    *,
    groups: tuple[int, ...] = (),
    opening: tuple[int, ...] = (),
) -> Job:
    """Mends alone; mend m needs joint ``groups[m]`` open, -1 for none. Nothing need be closed, which is free."""
    joints = len(opening)
    needs = tuple(0 if g < 0 else 1 << g for g in groups) or (0,) * len(cures)
    covers = Covers(
        (0,) * joints,
        opening,
        (0,) * joints,
        (0,) * joints,
        0,
        (*needs, 0),
        (0,) * (len(cures) + 1),
    )
    total = sum(shares)
    prior: dict[Faults, Fraction] = {
        frozenset((f,)): Fraction(share, total) for f, share in enumerate(shares)
    }
    return Job(prior, (), tuple(cures), 0.0, covers)


def solved(job: Job) -> tuple[Search, Node, Puzzle]:
    """The search for a job, run to its end."""
    puzzle, _ = puzzle_of_job(job)
    search = Search(puzzle)
    root = search.root()
    search.improve(root)
    assert root.closed
    return search, root, puzzle


def order_of(search: Search, node: Node) -> list[int]:
    """The mends of the strategy in order, as long as the device does not work."""
    order: list[int] = []
    while True:
        offer = next_offer(search, node)
        if offer.action.kind == "stop":
            return order
        if offer.action.kind == "mend":
            order.append(offer.action.index)
        following = [b.node for b in offer.branches or () if b.outcome in ("done", "faulty")]
        if not following or following[0] is None:
            return order
        node = following[0]


@pytest.mark.parametrize("seed", range(10))
def test_independent_mends_come_by_chance_over_cost(seed: int) -> None:
    """Six independent mends, some of which may fail: order and cost are those of the ratio rule."""
    rng = Random(f"ratio-{seed}")
    shares = [rng.randrange(1, 30) for _ in range(6)]
    prices = rng.sample(range(1, 60), 6)
    success = [Fraction(rng.choice((20, 20, 17, 10)), 20) for _ in range(6)]
    cures = [Cure(float(prices[f]), {f: success[f]}) for f in range(6)]
    ratio = [shares[f] * success[f] / prices[f] for f in range(6)]
    by_ratio = sorted(range(6), key=lambda f: (-ratio[f], f))
    expected, left = Fraction(0), Fraction(1)
    for f in by_ratio:
        expected += left * prices[f]
        left -= Fraction(shares[f], sum(shares)) * success[f]
    search, root, _ = solved(job_of(shares, cures))
    assert root.above == pytest.approx(float(expected), rel=1e-9)
    found = order_of(search, root)
    assert [ratio[f] for f in found] == [ratio[f] for f in by_ratio[: len(found)]]
    assert len(found) >= 5


@pytest.mark.parametrize("seed", range(10))
def test_groups_that_are_opened_once_come_by_their_best_part(seed: int) -> None:
    """Six independent mends in two groups and outside: the cost is that of the rule for groups opened once."""
    rng = Random(f"groups-{seed}")
    shares = [rng.randrange(1, 30) for _ in range(6)]
    prices = [rng.randrange(1, 40) for _ in range(6)]
    groups = tuple(rng.choice((-1, 0, 0, 1, 1)) for _ in range(6))
    opening = (rng.randrange(5, 80), rng.randrange(5, 80))
    cures = [Cure(float(prices[f]), {f: Fraction(1)}) for f in range(6)]
    expected = by_groups(shares, prices, groups, opening)
    _, root, _ = solved(job_of(shares, cures, groups=groups, opening=opening))
    assert root.above == pytest.approx(float(expected), rel=1e-9)


def by_groups(
    shares: list[int], prices: list[int], groups: tuple[int, ...], opening: tuple[int, ...]
) -> Fraction:
    """Cost of the rule for one level of groups: again and again the part with the best ratio, opening included."""
    left = set(range(len(shares)))
    opened = {-1}
    cost, faulty = Fraction(0), sum(shares)
    while left:
        parts = []
        for group in {groups[f] for f in left}:
            inside = sorted(
                (f for f in left if groups[f] == group),
                key=lambda f: -Fraction(shares[f], prices[f]),
            )
            first = 0 if group in opened else opening[group]
            for size in range(1, len(inside) + 1):
                chance = sum(shares[f] for f in inside[:size])
                parts.append(
                    (
                        Fraction(chance, first + sum(prices[f] for f in inside[:size])),
                        inside[:size],
                        first,
                    )
                )
        _, part, first = max(parts, key=lambda p: (p[0], -len(p[1])))
        cost += faulty * first
        for f in part:
            cost += faulty * prices[f]
            faulty -= shares[f]
            left.discard(f)
        opened.add(groups[part[0]])
    return cost / sum(shares)


def test_a_published_exercise_has_its_best_sequence() -> None:
    """A computer that misbehaves, four things to try, one of which cures two of the causes and one all of them.

    Causes, chances and costs: an exercise on troubleshooting in Jensen and Nielsen, "Bayesian Networks and Decision
    Graphs" (2nd edition, Springer 2007), as it is reprinted on the web. The sequence and its cost are worked out here:
    1 + 0.2 x 2 + (0.05 + 0.15 x 0.05) x 25 + (0.05 + 0.15 x 0.05 x 0.01) x 500 = 27.875.
    """
    program, virus, hardware = range(3)
    cures = [
        Cure(1.0, {program: Fraction(1)}),
        Cure(2.0, {virus: Fraction(19, 20)}),
        Cure(25.0, {program: Fraction(99, 100), virus: Fraction(99, 100)}),
        Cure(500.0, {program: Fraction(1), virus: Fraction(1), hardware: Fraction(1)}),
    ]
    job = job_of([80, 15, 5], cures)
    search, root, _ = solved(job)
    assert root.above == pytest.approx(27.875, rel=1e-9)
    assert root.above == pytest.approx(min(cost_of_order(job, o) for o in permutations(range(4))))
    assert order_of(search, root) == [0, 1, 2, 3]


def cost_of_order(job: Job, order: tuple[int, ...]) -> float:
    """Expected cost of mending in this order, tried after each at no cost."""
    left = {cause: float(share) for cause, share in job.prior.items()}
    cost = 0.0
    for m in order:
        cost += sum(left.values()) * job.cures[m].cost
        for cause in left:
            (fault,) = cause
            left[cause] *= 1 - float(job.cures[m].success.get(fault, 0))
    return cost


def test_shared_opening_overturns_the_ratio_rule() -> None:
    """Our own arithmetic: what is worth while on its own is not, and two cheap ones behind a cover come together.

    A (chance 0.4, cost 20) and behind a cover that costs 10 B and C (0.3 each, cost 2 each). By ratio with the whole
    cover each: A 0.02, B and C 0.025: B, C, A. Ratio of B with C: 0.6 / 14 = 0.043.
    B first: 12 + 0.7 x 2 + 0.4 x 20 = 21.4. Where the cover costs 40: A first: 20 + 0.6 x 42 + 0.3 x 2 = 45.8;
    B first: 42 + 0.7 x 2 + 0.4 x 20 = 51.4.
    """
    cures = [Cure(20.0, {0: Fraction(1)}), Cure(2.0, {1: Fraction(1)}), Cure(2.0, {2: Fraction(1)})]
    for cover, cost, first in ((10, 21.4, {1, 2}), (40, 45.8, {0})):
        job = job_of([4, 3, 3], cures, groups=(-1, 0, 0), opening=(cover,))
        search, root, _ = solved(job)
        assert root.above == pytest.approx(cost)
        assert order_of(search, root)[0] in first
