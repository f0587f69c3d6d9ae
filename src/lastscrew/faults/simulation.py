"""Playing strategies against drawn faults: what the proposal costs beside two everyday habits.

A machine is drawn: its fault from the priors, what it shows, and once for all the outcome of every
check, anew after what it depends on was mended: the same for every strategy. A habit decides from what
was seen so far; what it costs is counted as everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt
from random import Random
from typing import Final

from lastscrew.faults.advice import next_offer
from lastscrew.faults.evidence import Evidence, symptom_posterior
from lastscrew.faults.model import FaultModel, puzzle_of
from lastscrew.faults.puzzle import (
    Action,
    Belief,
    Puzzle,
    after_check,
    after_failed_final,
    after_mend,
    first_belief,
    useful,
)
from lastscrew.faults.search import Search

MAX_ACTIONS: Final = 400
"""Actions after which a job counts as stuck."""
POLICY: Final = "proposal"
LIKELIEST: Final = "change the likeliest part first"
CHEAPEST: Final = "cheapest check first"
RATIO: Final = "ratio rule without shared opening"


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one strategy did.

    Attributes:
        name: The strategy.
        mean, spread: Mean cost and its standard deviation over the jobs.
        error: Standard error of the mean.
        works: Share of jobs that ended in a device that works.
        costs: Cost of each job.
    """

    name: str
    mean: float
    spread: float
    error: float
    works: float
    costs: tuple[float, ...]


@dataclass(slots=True)
class _Machine:
    """One drawn machine: its state, and what its checks give until something changes."""

    state: int
    seed: str
    outcomes: dict[int, int] = field(default_factory=dict)
    mended: set[int] = field(default_factory=set)
    drawn: int = 0

    def check(self, puzzle: Puzzle, index: int) -> int:
        if index not in self.outcomes:
            chances = [row[self.state] for row in puzzle.checks[index].likelihood]
            rng = Random(f"{self.seed}-c{index}-{self.drawn}")  # noqa: S311 (a simulation, no secret)
            self.outcomes[index] = rng.choices(range(len(chances)), chances)[0]
        return self.outcomes[index]

    def mend(self, puzzle: Puzzle, index: int) -> None:
        """Try a mend; one that failed fails again."""
        effects = puzzle.mends[index].effects.get(self.state, ())
        if index in self.mended or not effects:
            return
        self.mended.add(index)
        rng = Random(f"{self.seed}-m{index}")  # noqa: S311 (a simulation, no secret)
        effect = rng.choices(effects, [e.chance for e in effects])[0]
        self.drawn += effect.state != self.state
        self.state = effect.state
        for c in list(self.outcomes):
            if effect.stale >> c & 1:
                del self.outcomes[c]


Habit = Callable[[Puzzle, Belief, int], Action]
"""Decides from the puzzle, the belief and the state of opening."""


def simulate(
    model: FaultModel,
    jobs: int,
    *,
    seed: int = 1,
    work: int = 200,
    worth: float | None = None,
    shows: Sequence[str] = (),
    habits: Mapping[str, Habit] | None = None,
) -> tuple[Outcome, ...]:
    """Play the proposal and the everyday habits against the same drawn machines.

    Args:
        model: The model.
        jobs: Number of machines.
        seed: Seed of the draws; the same jobs every time.
        work: Actions that the proposal may unfold before each step.
        worth: Cost of giving up.
        shows: Symptoms that every machine shows (none: machines show what their faults make them show).
        habits: Other strategies beside the proposal (default: two everyday habits).
    """
    habits = (
        {LIKELIEST: likeliest_first, CHEAPEST: cheapest_check_first} if habits is None else habits
    )
    costs: dict[str, list[float]] = {name: [] for name in (POLICY, *habits)}
    ends: dict[str, int] = dict.fromkeys(costs, 0)
    proposals: dict[tuple[str, ...], tuple[Puzzle, Habit]] = {}
    given, _ = symptom_posterior(model, Evidence(shows=tuple(shows)))
    for job in range(jobs):
        rng = Random(f"{seed}-{job}")  # noqa: S311 (a simulation, no secret)
        cause = rng.choices(range(len(model.causes)), given)[0]
        shown = tuple(shows) or _complaint(model, cause, rng)
        if shown not in proposals:
            weights, _ = symptom_posterior(model, Evidence(shows=shown))
            puzzle = puzzle_of(model, weights, worth=worth)
            proposals[shown] = (puzzle, _proposal(Search(puzzle), work))
        puzzle, proposal = proposals[shown]
        all_habits: dict[str, Habit] = {POLICY: proposal, **habits}
        for name, habit in all_habits.items():
            cost, works = _play(puzzle, _Machine(cause, f"{seed}-{job}"), habit)
            costs[name].append(cost)
            ends[name] += works
    return tuple(_summed(name, tuple(values), ends[name]) for name, values in costs.items())


def _complaint(model: FaultModel, cause: int, rng: Random) -> tuple[str, ...]:
    """What the owner tells: symptoms that show, drawn again while there is none and could be one."""
    for _ in range(100):
        shown = tuple(s for s, row in model.symptoms.items() if rng.random() < row[cause])
        if shown:
            return shown
    return ()


def _summed(name: str, costs: tuple[float, ...], works: int) -> Outcome:
    count = len(costs)
    mean = sum(costs) / count if count else 0.0
    spread = sqrt(sum((c - mean) ** 2 for c in costs) / (count - 1)) if count > 1 else 0.0
    return Outcome(
        name, mean, spread, spread / sqrt(count) if count else 0.0, works / max(count, 1), costs
    )


def _play(puzzle: Puzzle, machine: _Machine, habit: Habit) -> tuple[float, bool]:
    """Cost of one job, and whether the device works in the end."""
    belief, state, total = first_belief(puzzle), puzzle.start, 0.0
    for _ in range(MAX_ACTIONS):
        action = habit(puzzle, belief, state)
        if action.kind == "stop":
            return total + puzzle.openings.close(state) + (puzzle.worth or 0.0), False
        cost, state = puzzle.openings.go(state, _number(puzzle, action))
        total += cost
        if action.kind == "check":
            total += puzzle.checks[action.index].cost
            outcome = machine.check(puzzle, action.index)
            after = after_check(puzzle, belief, action.index)[outcome][1]
            belief = after if after is not None else belief
        elif action.kind == "mend":
            total += puzzle.mends[action.index].cost
            machine.mend(puzzle, action.index)
            belief = after_mend(puzzle, belief, action.index)
        else:
            total += puzzle.final_cost
            if machine.state == puzzle.sound:
                return total + puzzle.openings.close(state), True
            after = after_failed_final(puzzle, belief)[1]
            belief = after if after is not None else belief
    return total + puzzle.openings.close(state), False


def _number(puzzle: Puzzle, action: Action) -> int:
    if action.kind == "check":
        return action.index
    return len(puzzle.checks) + action.index if action.kind == "mend" else puzzle.final


def _proposal(search: Search, work: int) -> Habit:
    """What is proposed at a node is worked out the first time that a machine comes there."""
    decided: dict[int, Action] = {}

    def habit(_puzzle: Puzzle, belief: Belief, state: int) -> Action:
        node = search.root(belief, state)
        action = decided.get(id(node))
        if action is None:
            search.probe(node, work=work)
            action = decided[id(node)] = next_offer(search, node).action
        return action

    return habit


def likeliest_first(puzzle: Puzzle, belief: Belief, _state: int) -> Action:
    """Mend what cures the most of what may be wrong, try the device after each."""
    if belief.sound_weight(puzzle) > 0:
        return Action("final")
    chances = _cure_chances(puzzle, belief)
    if not chances:
        return Action("stop")
    return Action("mend", max(chances, key=lambda m: (chances[m], -m)))


def cheapest_check_first(puzzle: Puzzle, belief: Belief, state: int) -> Action:
    """All checks that still can tell something, the cheapest from here first; then the likeliest mend."""
    if belief.sound_weight(puzzle) > 0:
        return Action("final")
    offers = [
        (puzzle.openings.go(state, c)[0] + check.cost, c)
        for c, check in enumerate(puzzle.checks)
        if belief.known[c] < 0 and _tells(puzzle, belief, c)
    ]
    if offers and len(belief.pieces) > 1:
        return Action("check", min(offers)[1])
    return likeliest_first(puzzle, belief, state)


def by_ratio_closed(puzzle: Puzzle, belief: Belief, _state: int) -> Action:
    """The ratio rule as if every mend opened the closed machine for itself alone."""
    if belief.sound_weight(puzzle) > 0:
        return Action("final")
    chances = _cure_chances(puzzle, belief)
    if not chances:
        return Action("stop")

    def ratio(m: int) -> float:
        cost, after = puzzle.openings.go(0, len(puzzle.checks) + m)
        whole = cost + puzzle.mends[m].cost + puzzle.openings.close(after) + puzzle.final_cost
        return chances[m] / max(whole, 1e-9)

    return Action("mend", max(chances, key=lambda m: (ratio(m), -m)))


def _tells(puzzle: Puzzle, belief: Belief, check: int) -> bool:
    return any(
        max(values) - min(values) > 1e-3
        for row in puzzle.checks[check].likelihood
        if (values := [row[state] for state, _, _ in belief.pieces])
    )


def _cure_chances(puzzle: Puzzle, belief: Belief) -> dict[int, float]:
    """For each mend that is left the chance that it changes what is the case."""
    found: dict[int, float] = {}
    for m, mend in enumerate(puzzle.mends):
        if useful(puzzle, belief, m):
            found[m] = sum(
                weight * sum(e.chance for e in mend.effects[state] if e.state != state)
                for state, _, weight in belief.pieces
                if state in mend.effects
            )
    return found
