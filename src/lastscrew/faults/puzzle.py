"""Fault finding as a bare decision problem: causes, checks, mends, and what opening costs.

Nothing here knows a device. Causes are numbered from 0; the number after the last cause is the state
in which nothing is wrong any more (``Puzzle.sound``). A cause is one fault, or several at once.
Actions are numbered as well: first the checks, then the mends, last the device's own check.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, Protocol, TypeAlias

Kind = Literal["check", "mend", "final", "stop"]
State = int
"""How far the machine is open, as a number that only :class:`Openings` can read."""


class Openings(Protocol):
    """What it costs to get from one state of opening to where an action can be done."""

    def go(self, state: State, action: int) -> tuple[float, State]:
        """Cost of the opening and closing before and during an action, and the state after it."""
        ...

    def close(self, state: State) -> float:
        """Cost of closing everything."""
        ...

    def at_most(self, state: State, action: int) -> tuple[float, State]:
        """As :meth:`go`, quickly: the cost of some way, not always the cheapest."""
        ...

    def ready(self, state: State) -> bool:
        """Whether everything from here is worked out already; where not, :meth:`floor` does for a bound."""
        ...

    def floor(self, state: State, actions: int) -> float:
        """Least cost of opening and closing for all of these actions (a set), everything closed at the end."""
        ...


@dataclass(frozen=True, slots=True)
class Check:
    """A check or question.

    Attributes:
        id: Its name.
        cost: Its own cost, without opening.
        outcomes: Names of its outcomes.
        likelihood: ``likelihood[o][s]``: chance of outcome o when the state is s (the last: sound).
    """

    id: str
    cost: float
    outcomes: tuple[str, ...]
    likelihood: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class Effect:
    """What a mend may lead to.

    Attributes:
        state: The state after it.
        chance: Its chance; the chances of all effects on one cause sum to 1.
        stale: Checks (a set as an integer) whose earlier outcome holds no longer.
    """

    state: int
    chance: float
    stale: int = 0


@dataclass(frozen=True, slots=True)
class Mend:
    """Something that may cure.

    Attributes:
        id: Its name.
        cost: Its own cost, without opening.
        effects: By cause that it can change, what it leads to. Others it leaves as they are.
    """

    id: str
    cost: float
    effects: Mapping[int, tuple[Effect, ...]]


@dataclass(frozen=True, slots=True)
class Puzzle:
    """The whole problem.

    Attributes:
        causes: Names of the causes.
        prior: Chance of each, summing to 1.
        checks, mends: See there.
        final_cost: Cost of the device's own check, without opening.
        openings: Costs of opening and closing.
        start: State of opening at the beginning.
        worth: Cost of giving up; None: only when nothing that can mend is left.
        obliged: Mends (a set) that are tried before giving up without a price, whatever is known.
    """

    causes: tuple[str, ...]
    prior: tuple[float, ...]
    checks: tuple[Check, ...]
    mends: tuple[Mend, ...]
    final_cost: float
    openings: Openings
    start: State = 0
    worth: float | None = None
    obliged: int = 0

    @property
    def sound(self) -> int:
        """The state in which nothing is wrong."""
        return len(self.causes)

    @property
    def final(self) -> int:
        """Number of the action that is the device's own check."""
        return len(self.checks) + len(self.mends)


@dataclass(frozen=True, slots=True)
class Action:
    """What is done next. ``index`` counts within its kind."""

    kind: Kind
    index: int = 0


Piece: TypeAlias = tuple[int, int, float]
"""Part of a belief: (state, stale, weight).

The state of the machine (a cause, or sound), the checks whose earlier outcome holds no longer because
something that they depend on has changed since (a set as an integer), and the chance of all this. A
check that was done and is not stale would give the same outcome again.
"""


@dataclass(frozen=True, slots=True)
class Belief:
    """What is known: the pieces, the outcomes so far, the mends tried.

    Attributes:
        pieces: Sorted by state and staleness; weights sum to 1.
        known: Outcome of each check, -1 where it was not done; the last one counts.
        used: Mends that were tried (a set as an integer). One that failed fails again.
    """

    pieces: tuple[Piece, ...]
    known: tuple[int, ...]
    used: int = 0

    def sound_weight(self, puzzle: Puzzle) -> float:
        """Chance that nothing is wrong any more."""
        sound = puzzle.sound
        return sum(weight for state, _, weight in self.pieces if state == sound)


def first_belief(puzzle: Puzzle) -> Belief:
    """Before anything was done."""
    pieces = tuple((i, 0, p) for i, p in enumerate(puzzle.prior) if p > 0)
    return Belief(_scaled(pieces, sum(p for _, _, p in pieces)), (-1,) * len(puzzle.checks))


def after_check(puzzle: Puzzle, belief: Belief, check: int) -> list[tuple[float, Belief | None]]:
    """For each outcome of a check its chance and the belief after it; None where it can't occur.

    A check that was done gives the same outcome again, unless something that it depends on has changed.
    """
    bit, known = 1 << check, belief.known[check]
    found: list[tuple[float, Belief | None]] = []
    for outcome, likelihood in enumerate(puzzle.checks[check].likelihood):
        if known < 0:
            kept = tuple(
                (state, stale, weight * likelihood[state])
                for state, stale, weight in belief.pieces
                if likelihood[state] > 0
            )
        else:
            kept = _again(belief.pieces, bit, likelihood, same=outcome == known)
        total = sum([weight for _, _, weight in kept])
        if total <= NOTHING:
            found.append((0.0, None))
            continue
        now = (*belief.known[:check], outcome, *belief.known[check + 1 :])
        found.append((total, Belief(_scaled(kept, total), now, belief.used)))
    return found


NOTHING: Final = 1e-12
"""A chance below this is taken as none: rounding, not knowledge."""


def _again(
    pieces: tuple[Piece, ...], bit: int, likelihood: tuple[float, ...], *, same: bool
) -> tuple[Piece, ...]:
    """Pieces after a check that was done before."""
    kept: dict[tuple[int, int], float] = {}
    for state, stale, weight in pieces:
        chance = likelihood[state] if stale & bit else float(same)
        if chance > 0:
            key = (state, stale & ~bit)
            kept[key] = kept.get(key, 0.0) + weight * chance
    return tuple((state, stale, weight) for (state, stale), weight in sorted(kept.items()))


def _scaled(pieces: tuple[Piece, ...], total: float) -> tuple[Piece, ...]:
    if total == 1.0:
        return pieces
    least = NOTHING * total
    return tuple([(s, stale, w / total) for s, stale, w in pieces if w > least])


def after_mend(puzzle: Puzzle, belief: Belief, mend: int) -> Belief:
    """The belief after a mend was tried; whether it worked is not known yet."""
    bit = 1 << mend
    effects = {} if belief.used & bit else puzzle.mends[mend].effects
    done = sum([1 << check for check, outcome in enumerate(belief.known) if outcome >= 0])
    kept: dict[tuple[int, int], float] = {}
    for state, stale, weight in belief.pieces:
        for effect in effects.get(state) or (Effect(state, 1.0),):
            key = (effect.state, stale | (effect.stale & done))
            kept[key] = kept.get(key, 0.0) + weight * effect.chance
    pieces = tuple((state, stale, weight) for (state, stale), weight in sorted(kept.items()))
    return Belief(tuple(p for p in pieces if p[2] > 0), belief.known, belief.used | bit)


def after_failed_final(puzzle: Puzzle, belief: Belief) -> tuple[float, Belief | None]:
    """Chance that the device's own check fails, and the belief after that."""
    sound = puzzle.sound
    kept = tuple(piece for piece in belief.pieces if piece[0] != sound)
    total = sum(weight for _, _, weight in kept)
    if total <= NOTHING:
        return 0.0, None
    return total, Belief(_scaled(kept, total), belief.known, belief.used)


def may_stop(puzzle: Puzzle, belief: Belief) -> bool:
    """Whether giving up is allowed: it has a price, or the machine is faulty and nothing can mend it."""
    if puzzle.worth is not None:
        return True
    if any(state == puzzle.sound for state, _, _ in belief.pieces):
        return False
    return not any(useful(puzzle, belief, mend) for mend in range(len(puzzle.mends)))


def useful(puzzle: Puzzle, belief: Belief, mend: int) -> bool:
    """Whether a mend was not tried yet and can change something that may be the case."""
    if puzzle.obliged >> mend & 1:
        return not belief.used >> mend & 1
    effects = puzzle.mends[mend].effects
    return not belief.used >> mend & 1 and any(state in effects for state, _, _ in belief.pieces)
