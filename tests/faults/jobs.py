"""Random small jobs, as the brute force reads them and as the search does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from lastscrew.faults.model import outcome_chances as production_chances
from lastscrew.faults.puzzle import Check, Effect, Mend, Puzzle
from tests.faults.oracle import Cure, Faults, Job, Test, outcome_chances, pairs_and_singles

PARTS = 20
"""Chances are whole twentieths."""


@dataclass(frozen=True)
class Covers:
    """Joints that lie under each other, as both sides see them: a set of open joints is a number.

    Going to an action keeps open what may stay open, closes what must be closed with all that lies under it, and
    opens what is missing with all that lies over it. Every tool that is used on the way is taken up once.

    Attributes:
        over: For each joint those that must be open before it.
        open_costs, close_costs: By joint.
        tools: Tool of each joint.
        swap: What taking up a tool costs.
        needs: For each action the joints that must be open.
        shut: For each action the joints that must be closed.
        half_ready: The search is told that only some states are worked out, so that it uses the floor.
    """

    over: tuple[int, ...]
    open_costs: tuple[int, ...]
    close_costs: tuple[int, ...]
    tools: tuple[int, ...]
    swap: int
    needs: tuple[int, ...]
    shut: tuple[int, ...]
    half_ready: bool = False

    def with_all_over(self, joints: int) -> int:
        """These joints and all that must be open before them."""
        while True:
            more = joints
            for j, over in enumerate(self.over):
                if joints >> j & 1:
                    more |= over
            if more == joints:
                return joints
            joints = more

    def without_all_under(self, state: int, shut: int) -> int:
        """What stays open when these are closed."""
        left = state & ~shut
        while True:
            kept = sum(
                1 << j for j, over in enumerate(self.over) if left >> j & 1 and not over & ~left
            )
            if kept == left:
                return left
            left = kept

    def _price(self, opened: int, closed: int) -> int:
        joints = range(len(self.over))
        cost = sum(self.open_costs[j] for j in joints if opened >> j & 1)
        cost += sum(self.close_costs[j] for j in joints if closed >> j & 1)
        return cost + self.swap * len({self.tools[j] for j in joints if (opened | closed) >> j & 1})

    def go(self, state: int, action: int) -> tuple[float, int]:
        """See the protocol of both."""
        after = self.without_all_under(state, self.shut[action])
        after |= self.with_all_over(self.needs[action])
        return float(self._price(after & ~state, state & ~after)), after

    def close(self, state: int) -> float:
        """See the protocol of both."""
        return float(self._price(0, state))

    def at_most(self, state: int, action: int) -> tuple[float, int]:
        """See the protocol of the search."""
        return self.go(state, action)

    def ready(self, state: int) -> bool:
        """See the protocol of the search."""
        return not self.half_ready or state % 3 == 0

    def floor(self, state: int, actions: int) -> float:
        """See the protocol of the search: everything that is needed, opened and closed once; one tool each."""
        joints = 0
        for action, needed in enumerate(self.needs):
            if actions >> action & 1:
                joints |= self.with_all_over(needed)
        missing, opened = joints & ~state, joints | state
        cost = self._price(missing, 0) if missing else 0
        return float(cost + (self._price(0, opened) if opened else 0))


@dataclass(frozen=True)
class Shape:
    """Size and kind of a job."""

    faults: int = 3
    tests: int = 2
    cures: int = 3
    joints: int = 3
    second: bool = False
    worth: bool = False
    opened: bool = False
    outcomes: int = 2
    half_ready: bool = False


def random_job(shape: Shape, rng: Random) -> tuple[Job, list[Fraction]]:
    """A random job, and the shares of its faults."""
    shares = [Fraction(rng.choice((1, 2, 3, 5, 10))) for _ in range(shape.faults)]
    second = Fraction(rng.choice((2, 5)), PARTS) if shape.second else Fraction(0)
    covers = random_covers(shape, rng)
    tests = tuple(_test(shape, rng) for _ in range(shape.tests))
    start = covers.with_all_over(rng.randrange(1 << shape.joints)) if shape.opened else 0
    job = Job(
        pairs_and_singles(shares, second),
        tests,
        _cures(shape, rng),
        float(rng.choice((1, 5, 20, 60))),
        covers,
        start,
        float(rng.choice((5, 60, 200, 600))) if shape.worth else None,
    )
    return job, shares


def random_covers(shape: Shape, rng: Random) -> Covers:
    """Joints under each other, needed by the actions or in their way."""
    joints = shape.joints
    over = tuple(
        sum(1 << k for k in range(j) if rng.random() < 0.4) if joints else 0 for j in range(joints)
    )
    actions = shape.tests + shape.cures + 1
    needs, shut = [], []
    bare = Covers(over, (), (), (), 0, (), ())
    for action in range(actions):
        needed = sum(1 << j for j in range(joints) if rng.random() < 0.3)
        closed = sum(1 << j for j in range(joints) if rng.random() < 0.25)
        if action == actions - 1:
            needed, closed = 0, rng.choice((0, closed, (1 << joints) - 1))
        needs.append(needed)
        shut.append(closed & ~bare.with_all_over(needed))
    return Covers(
        over,
        tuple(rng.choice((0, 2, 10, 40)) for _ in range(joints)),
        tuple(rng.choice((1, 5, 30)) for _ in range(joints)),
        tuple(rng.randrange(2) for _ in range(joints)),
        rng.choice((0, 3)),
        tuple(needs),
        tuple(shut),
        shape.half_ready,
    )


def _chances(rng: Random, outcomes: int, first: tuple[int, ...]) -> tuple[Fraction, ...]:
    """Chances of the outcomes in whole twentieths, that of the first one of ``first``."""
    left = PARTS - rng.choice(first)
    mild = PARTS - left
    rest = []
    for _ in range(outcomes - 2):
        rest.append(rng.randrange(left + 1))
        left -= rest[-1]
    return tuple(Fraction(n, PARTS) for n in (mild, *rest, left))


def _test(shape: Shape, rng: Random) -> Test:
    given = {
        fault: _chances(rng, shape.outcomes, (0, 1, 2, 5, 10, 18))
        for fault in range(shape.faults)
        if rng.random() < 0.6
    }
    return Test(
        float(rng.choice((1, 3, 10, 30))), _chances(rng, shape.outcomes, (20, 19, 16)), given
    )


def _cures(shape: Shape, rng: Random) -> tuple[Cure, ...]:
    cures = []
    for m in range(shape.cures):
        cured = {m % shape.faults} | {f for f in range(shape.faults) if rng.random() < 0.2}
        success = {f: Fraction(rng.choice((10, 16, 19, 20)), PARTS) for f in sorted(cured)}
        cures.append(Cure(float(rng.choice((2, 8, 25, 80))), success))
    return tuple(cures)


def puzzle_of_job(job: Job, *, by_production: bool = False) -> tuple[Puzzle, list[Faults]]:
    """The same job as the search reads it, and the faults of each of its causes.

    Args:
        job: The job.
        by_production: Chances of the outcomes by the program's own formula, not by the brute force's.
    """
    singles = sorted((c for c in job.prior if len(c) == 1), key=sorted)
    pairs = sorted((c for c in job.prior if len(c) == 2), key=sorted)
    causes = [*singles, *pairs]
    number = {cause: i for i, cause in enumerate(causes)} | {frozenset(): len(causes)}
    rows = [_rows(test, causes, by_production=by_production) for test in job.tests]
    checks = tuple(
        Check(f"c{t}", test.cost, tuple(f"o{o}" for o in range(len(test.leak))), rows[t])
        for t, test in enumerate(job.tests)
    )
    mends = tuple(
        Mend(f"m{m}", cure.cost, _effects(job, cure, number)) for m, cure in enumerate(job.cures)
    )
    puzzle = Puzzle(
        tuple("+".join(map(str, sorted(c))) for c in causes),
        tuple(float(job.prior[c]) for c in causes),
        checks,
        mends,
        job.final_cost,
        job.opening,  # type: ignore[arg-type]
        job.start,
        job.worth,
    )
    return puzzle, causes


def _rows(
    test: Test, causes: list[Faults], *, by_production: bool
) -> tuple[tuple[float, ...], ...]:
    if by_production:
        nothing = (1.0, *(0.0,) * (len(test.leak) - 1))
        faults = max(f for cause in causes for f in cause) + 1
        by_fault = [
            tuple(map(float, test.given[f])) if f in test.given else nothing for f in range(faults)
        ]
        return production_chances(
            by_fault, [sorted(c) for c in causes], tuple(map(float, test.leak))
        )
    by_cause = [outcome_chances(test, cause) for cause in (*causes, frozenset[int]())]
    return tuple(tuple(float(row[o]) for row in by_cause) for o in range(len(test.leak)))


def _effects(job: Job, cure: Cure, number: dict[Faults, int]) -> dict[int, tuple[Effect, ...]]:
    found: dict[int, tuple[Effect, ...]] = {}
    for cause, index in number.items():
        at_stake = sorted(f for f in cause if cure.success.get(f))
        if not at_stake:
            continue
        effects = []
        for mask in range(1 << len(at_stake)):
            gone = frozenset(f for k, f in enumerate(at_stake) if mask >> k & 1)
            chance = 1.0
            for f in at_stake:
                chance *= float(cure.success[f] if f in gone else 1 - cure.success[f])
            stale = sum(
                1 << t
                for t, test in enumerate(job.tests)
                if any(f in test.given and test.given[f][0] != 1 for f in gone)
            )
            if chance > 0:
                effects.append(Effect(number[cause - gone], chance, stale))
        found[index] = tuple(effects)
    return found


def half_ready(job: Job) -> Job:
    """The same job where the search is told that few states are worked out."""
    assert isinstance(job.opening, Covers)
    return replace(job, opening=replace(job.opening, half_ready=True))
