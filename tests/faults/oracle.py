"""The least expected cost of a job by brute force over all strategies.

Written from the rules of the job alone. A machine is a hidden state: which faults it has, and which outcome each check
that was done would give again. A check gives the same outcome until a fault on which it depends is gone. A mend that
fails leaves the fault and fails again; one of a sound part changes nothing. The job ends when the device's own check
passes, with everything closed; or by giving up, which costs the worth (without one allowed only when the machine is
surely faulty and no mend is left that could cure anything that may be the case).

What is known is the set of hidden states that are possible, each with an integer as its weight: exact, so that two
histories that tell the same are one. Every action that tells or changes anything may be done at any time. Nothing is
bounded, nothing is left out, so that only very small jobs can be solved. An action that is sure to tell and change
nothing is no step of a strategy: it could be done for the sake of its opening and closing alone, which nobody would do.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import reduce
from itertools import combinations, product
from math import gcd, lcm
from typing import Protocol

Faults = frozenset[int]
Hidden = tuple[Faults, tuple[int, ...]]
"""Faults that are there; for each check the outcome that it would give again, -1 where it would be drawn."""
Known = tuple[tuple[Hidden, int], ...]
"""What may be the case, with weights; sorted, without a common factor."""


class Opening(Protocol):
    """What it costs to get at things."""

    def go(self, state: int, action: int) -> tuple[float, int]:
        """Cost up to an action, and what is open after it."""
        ...

    def close(self, state: int) -> float:
        """Cost of closing everything."""
        ...


@dataclass(frozen=True)
class Test:
    """A check. Outcomes are numbered, the mildest first.

    Attributes:
        cost: Its own cost.
        leak: Chances of the outcomes in a sound machine.
        given: By fault the chances of the outcomes that this fault by itself brings about.
    """

    __test__ = False

    cost: float
    leak: tuple[Fraction, ...]
    given: Mapping[int, tuple[Fraction, ...]]


@dataclass(frozen=True)
class Cure:
    """A mend: its own cost, and by fault the chance that it is gone after it."""

    cost: float
    success: Mapping[int, Fraction]


@dataclass(frozen=True)
class Job:
    """A job. Actions are numbered: checks, mends, the device's own check.

    Attributes:
        prior: Chance of each set of faults that may be there.
        opening: What opening costs.
        start: What is open at the start.
        worth: Cost of giving up, None where it has no price.
    """

    prior: Mapping[Faults, Fraction]
    tests: tuple[Test, ...]
    cures: tuple[Cure, ...]
    final_cost: float
    opening: Opening
    start: int = 0
    worth: float | None = None


def outcome_chances(test: Test, faults: Faults) -> tuple[Fraction, ...]:
    """Every fault that is there, and the leak, draws an outcome by itself; the worst of them shows."""
    found = [Fraction(0)] * len(test.leak)
    draws = [test.leak, *(test.given[f] for f in sorted(faults) if f in test.given)]
    for drawn in product(range(len(test.leak)), repeat=len(draws)):
        chance = Fraction(1)
        for chances, outcome in zip(draws, drawn, strict=True):
            chance *= chances[outcome]
        found[max(drawn)] += chance
    return tuple(found)


def pairs_and_singles(shares: list[Fraction], second: Fraction) -> dict[Faults, Fraction]:
    """One fault by its share; with a chance of ``second`` two, as likely as both shares together."""
    total = sum(shares)
    single = {frozenset((f,)): (1 - second) * share / total for f, share in enumerate(shares)}
    if not second:
        return single
    both = {
        frozenset(pair): shares[pair[0]] * shares[pair[1]]
        for pair in combinations(range(len(shares)), 2)
    }
    scale = second / sum(both.values())
    return single | {pair: chance * scale for pair, chance in both.items()}


class BruteForce:
    """All strategies of one job."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.final = len(job.tests) + len(job.cures)
        self._chances: dict[tuple[int, Faults], tuple[int, ...]] = {}
        self._values: dict[tuple[Known, int, int], float] = {}
        self._common: dict[int, int] = {}
        sets = {left for faults in job.prior for left in _subsets(faults)}
        for t, test in enumerate(job.tests):
            rows = {faults: outcome_chances(test, faults) for faults in sets}
            common = lcm(*(c.denominator for row in rows.values() for c in row))
            self._common[t] = common
            for faults, row in rows.items():
                self._chances[t, faults] = tuple(int(chance * common) for chance in row)
        self._cured = [
            {faults: _after_trying(cure, faults) for faults in sets} for cure in job.cures
        ]

    @property
    def start(self) -> Known:
        """What is known at the beginning."""
        undrawn = (-1,) * len(self.job.tests)
        common = lcm(*(p.denominator for p in self.job.prior.values()))
        return _known({(faults, undrawn): int(p * common) for faults, p in self.job.prior.items()})

    def least(self) -> float:
        """Least expected cost of the job."""
        return self.value(self.start, 0, self.job.start)

    def value(self, known: Known, tried: int, state: int) -> float:
        """Least expected cost from here on."""
        key = (known, tried, state)
        found = self._values.get(key)
        if found is None:
            offers = [
                self.first_of(known, tried, state, action)
                for action in range(self.final + 1)
                if self.changes(known, tried, action)
            ]
            if self._may_stop(known, tried):
                offers.append((self.job.worth or 0.0) + self.job.opening.close(state))
            found = self._values[key] = min(offers)
        return found

    def first(self, action: int) -> float:
        """Least expected cost if the job begins with an action that tells or changes anything."""
        return self.first_of(self.start, 0, self.job.start, action)

    def after_outcome(self, known: Known, test: int, outcome: int) -> Known:
        """What is known after a check gave an outcome."""
        return _known(next(then for o, then in self._after_test(known, test) if o == outcome))

    def after_mending(self, known: Known, cure: int) -> Known:
        """What is known after a mend that is tried for the first time; one that was tried changes nothing."""
        return self._after_cure(known, cure)

    def after_failing(self, known: Known) -> Known:
        """What is known after the device's own check has failed."""
        return _known({hidden: weight for hidden, weight in known if hidden[0]})

    @property
    def states(self) -> int:
        """How many states of knowledge and opening were looked at."""
        return len(self._values)

    def _own(self, action: int) -> float:
        job = self.job
        if action < len(job.tests):
            return job.tests[action].cost
        if action < self.final:
            return job.cures[action - len(job.tests)].cost
        return job.final_cost

    def _may_stop(self, known: Known, tried: int) -> bool:
        if self.job.worth is not None:
            return True
        left = [cure for m, cure in enumerate(self.job.cures) if not tried >> m & 1]
        return all(
            faults and not any(cure.success.get(f) for cure in left for f in faults)
            for (faults, _), _ in known
        )

    def changes(self, known: Known, tried: int, action: int) -> bool:
        """Whether an action tells or changes anything."""
        if action < len(self.job.tests):
            return any(held[action] < 0 for (_, held), _ in known) or (
                len({held[action] for (_, held), _ in known}) > 1
            )
        if action < self.final:
            return not tried >> action - len(self.job.tests) & 1
        return any(not faults for (faults, _), _ in known)

    def first_of(self, known: Known, tried: int, state: int, action: int) -> float:
        """Least expected cost from here on if an action comes first."""
        cost, after = self.job.opening.go(state, action)
        cost += self._own(action)
        total = sum(weight for _, weight in known)
        if action == self.final:
            sound = sum(weight for (faults, _), weight in known if not faults)
            cost += sound / total * self.job.opening.close(after)
            left = self.after_failing(known)
            if left:
                cost += (total - sound) / total * self.value(left, tried, after)
            return cost
        if action < len(self.job.tests):
            whole = total * self._common[action]
            for _, then in self._after_test(known, action):
                share = sum(then.values()) / whole
                cost += share * self.value(_known(then), tried, after)
            return cost
        m = action - len(self.job.tests)
        return cost + self.value(self._after_cure(known, m), tried | 1 << m, after)

    def _after_test(self, known: Known, test: int) -> Iterator[tuple[int, dict[Hidden, int]]]:
        """What may be the case after each outcome that can occur; weights grow by the common factor."""
        common = self._common[test]
        for outcome in range(len(self.job.tests[test].leak)):
            then: dict[Hidden, int] = {}
            for (faults, held), weight in known:
                if held[test] >= 0:
                    chance = common if held[test] == outcome else 0
                else:
                    chance = self._chances[test, faults][outcome]
                if chance:
                    now = (faults, (*held[:test], outcome, *held[test + 1 :]))
                    then[now] = then.get(now, 0) + weight * chance
            if then:
                yield outcome, then

    def _after_cure(self, known: Known, cure: int) -> Known:
        then: dict[Hidden, int] = {}
        for (faults, held), weight in known:
            for gone, chance in self._cured[cure][faults]:
                now = (faults - gone, self._undrawn(held, gone))
                then[now] = then.get(now, 0) + weight * chance
        return _known(then)

    def _undrawn(self, held: tuple[int, ...], gone: Faults) -> tuple[int, ...]:
        """Outcomes that hold on after these faults are gone."""
        return tuple(
            -1 if any(self._depends(t, f) for f in gone) else outcome
            for t, outcome in enumerate(held)
        )

    def _depends(self, test: int, fault: int) -> bool:
        given = self.job.tests[test].given.get(fault)
        return given is not None and given[0] != 1


def _after_trying(cure: Cure, faults: Faults) -> list[tuple[Faults, int]]:
    """Which faults may be gone after a mend, with weights; those of all sets of faults have the same sum."""
    common = lcm(1, *(s.denominator for s in cure.success.values())) ** 2
    at_stake = sorted(f for f in faults if cure.success.get(f))
    found = []
    for gone in _subsets(frozenset(at_stake)):
        chance = Fraction(common)
        for f in at_stake:
            chance *= cure.success[f] if f in gone else 1 - cure.success[f]
        if chance:
            found.append((gone, int(chance)))
    return found


def _subsets(faults: Faults) -> Iterator[Faults]:
    for size in range(len(faults) + 1):
        yield from map(frozenset, combinations(sorted(faults), size))


def _known(weights: Mapping[Hidden, int]) -> Known:
    common = reduce(gcd, weights.values(), 0) or 1
    return tuple(
        (hidden, weight // common)
        for hidden, weight in sorted(weights.items(), key=lambda kv: (sorted(kv[0][0]), kv[0][1]))
        if weight
    )
