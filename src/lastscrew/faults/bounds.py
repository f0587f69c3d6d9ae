"""Bounds on the cost of an undecided job: from below by knowing the cause, from above by mending in turn.

From below: whoever knew the cause would do the cheapest mends for it, from the present state of opening
(the bound that Warnquist, Nyberg and Saby use, 2009, from memory). It is linear in the belief, and no check
makes it fall, so that it never overestimates.

Without a price for giving up there is no end before every mend that may still help was tried: not even
whoever knew that the cause is past mending could stop earlier, since no check rules the other causes out
for good. What is then left to try is counted at least once, its opening and closing together; the device's own
check as well, where no other one can tell for certain that the device is faulty.

From above: the mends in a fixed order, each followed by the device's own check; cheap to work out,
linear in the belief, and so of use for every other belief in the same state.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Final

from lastscrew.faults.puzzle import Belief, Mend, Puzzle, State, may_stop
from lastscrew.plan.compiled import bits

MAX_ORDERS: Final = 12
"""Mending orders kept for one state of opening."""
SINGLES: Final = (0, 1, 2, 4)
"""How many mends of an order may be tried singly before the rest are tried together."""
QUICK_SINGLES: Final = (2,)
"""The same where it must be quick."""
INFINITE: Final = inf


@dataclass(frozen=True, slots=True)
class InTurn:
    """Mending in a fixed order, batch by batch, the device's own check after each batch.

    Attributes:
        batches: The mends, none of them empty.
        check_first: The device's own check comes before the first mend.
        costs: Expected cost by state of the machine.
    """

    batches: tuple[tuple[int, ...], ...]
    check_first: bool
    costs: tuple[float, ...]

    @property
    def first(self) -> int | None:
        """The first mend; None where none is left."""
        return self.batches[0][0] if self.batches else None

    @property
    def rest(self) -> tuple[tuple[tuple[int, ...], ...], bool]:
        """What is left after its first action: the batches, and whether the device's own check comes first."""
        if self.check_first or not self.batches:
            return self.batches, False
        begun, *others = self.batches
        left = begun[1:]
        return ((left, *others), False) if left else (tuple(others), True)


class Bounds:
    """Bounds for one puzzle, with everything that was worked out once kept."""

    def __init__(self, puzzle: Puzzle) -> None:
        """Prepare the bounds."""
        self.puzzle = puzzle
        self.sound = puzzle.sound
        self._own = [
            sum(1 << m for m, mend in enumerate(puzzle.mends) if cause in mend.effects)
            for cause in range(puzzle.sound)
        ]
        self._alive, self._further = _reached(puzzle, self._own)
        self._rows: dict[tuple[int, State], list[float]] = {}
        self._single = single_causes(puzzle)
        self.must_be_tried = (
            _must_be_tried(puzzle, self._own) | puzzle.obliged if self._single else 0
        )
        self.is_told = any(row[self.sound] <= 0 for c in puzzle.checks for row in c.likelihood)
        self._of_used: dict[tuple[int, int], tuple[tuple[int, ...], float]] = {}
        self._tails: dict[tuple[int, State], float] = {}
        self._known: dict[tuple[int, int, State], float] = {}
        self._of_cured: dict[tuple[int, int, State], float] = {}
        self._bare: dict[tuple[int, int], float] = {}
        self._orders: dict[tuple[int, State, bool], list[InTurn]] = {}
        self._alone: dict[State, list[float]] = {}
        self._ways: dict[tuple[tuple[int, ...], State], tuple[float, tuple[int, ...]]] = {}
        own = [check.cost for check in puzzle.checks] + [mend.cost for mend in puzzle.mends]
        self._least_own = min([*own, puzzle.final_cost])
        self._mends_of = [
            [(m, mend.effects[c]) for m, mend in enumerate(puzzle.mends) if mend.effects.get(c)]
            for c in range(puzzle.sound)
        ]
        self._contains = _contained(puzzle)
        self._chance = {
            (m, cause): sum(e.chance for e in effects if e.state == puzzle.sound)
            for m, mend in enumerate(puzzle.mends)
            for cause, effects in mend.effects.items()
        }
        self._changes = [
            [
                (cause, sum(e.chance for e in effects if e.state != cause))
                for cause, effects in sorted(mend.effects.items())
            ]
            for mend in puzzle.mends
        ]

    # --- from below ---------------------------------------------------------------------------

    def row(self, used: int, state: State) -> list[float]:
        """Least cost for each state of the machine, if it were known; 0 for what can't be the case."""
        found = self._rows.get((used, state))
        if found is None:
            found = [
                self._if_known(i, used, state) if alive else 0.0
                for i, alive in enumerate(self._alive)
            ]
            self._rows[used, state] = found
        return found

    def _if_known(self, cause: int, used: int, state: State) -> float:
        """Least cost if the machine's state is known to be ``cause``."""
        relevant = used & (self._relevant(cause) | self.must_be_tried)
        key = (cause, relevant, state)
        found = self._known.get(key)
        if found is None:
            if cause == self.sound:
                found = self._if_sound(state)
            elif self._single and self.puzzle.worth is None:
                found = self._if_mended(cause, used, state)
            else:
                found = self._if_free(cause, used, state)
            self._known[key] = found
        return found

    # A straight move is not always the cheapest way: another action in between may leave the machine so that a
    # tool is taken up once instead of twice. Whoever goes round like that pays for that action as well, so that
    # the least of the straight way and of the joints alone with the cheapest action beside is a bound.

    def _if_sound(self, state: State) -> float:
        puzzle = self.puzzle
        cost, after = puzzle.openings.go(state, puzzle.final)
        least = cost + puzzle.final_cost + puzzle.openings.close(after)
        least = min(least, self._least_own + self._roughly_sound(state))
        if puzzle.worth is not None:
            least = min(least, puzzle.worth + self._closing(state))
        return least

    def _roughly_sound(self, state: State) -> float:
        """What the device's own check costs at least, by whatever way."""
        puzzle = self.puzzle
        return puzzle.openings.floor(state, 1 << puzzle.final) + puzzle.final_cost

    def _closing(self, state: State) -> float:
        """What closing everything costs at least, by whatever way."""
        openings = self.puzzle.openings
        return min(openings.close(state), self._least_own + openings.floor(state, 0))

    def _if_free(self, cause: int, used: int, state: State) -> float:
        """Least cost for a known cause where nothing else has to be tried before giving up."""
        puzzle = self.puzzle
        offers: list[float] = []
        if puzzle.worth is not None:
            offers.append(puzzle.worth + self._closing(state))
        ready = puzzle.openings.ready(state)
        for m, effects in self._mends_of[cause]:
            if used >> m & 1:
                continue
            roughly = self._roughly_first(m, cause, used, state)
            offers.append(roughly + self._least_own if ready else roughly)
            if not ready:
                continue
            cost, after = puzzle.openings.go(state, len(puzzle.checks) + m)
            cost += puzzle.mends[m].cost
            for effect in effects:
                cost += effect.chance * self._if_known(effect.state, used | 1 << m, after)
            offers.append(cost)
        return min(offers) if offers else self._closing(state)

    def _if_mended(self, cause: int, used: int, state: State) -> float:
        """Least cost for a known single cause where giving up has no price.

        Whom none of the mends cures has tried all that is left, in whatever order; the others have had at least
        the mends up to the one that cured. The two are counted apart: what must be tried in the end may be done
        first, so that the one does not add to the other.
        """
        left, failing = self._mends_left(cause, used)
        if not left or failing >= 1.0:
            return self._past_mending(cause, used, state)
        if self.puzzle.openings.ready(state):
            cured = self._until_cured(cause, used, state)
        else:
            cured = (1.0 - failing) * min(self._roughly(m, 1.0, state) for m in left)
        return cured + failing * self._past_mending(cause, used, state) if failing > 0 else cured

    def _mends_left(self, cause: int, used: int) -> tuple[tuple[int, ...], float]:
        """Mends of a cause that were not tried, and the chance that none of them cures it."""
        key = (cause, used & self._own[cause])
        found = self._of_used.get(key)
        if found is None:
            left = tuple(bits(self._own[cause] & ~used))
            failing = 1.0
            for m in left:
                failing *= 1.0 - self._cures(m, cause)
            found = self._of_used[key] = (left, failing)
        return found

    def _until_cured(self, cause: int, used: int, state: State) -> float:
        """Least cost for those of a known cause whom some mend cures, times their share."""
        key = (cause, used & self._own[cause], state)
        found = self._of_cured.get(key)
        if found is None:
            puzzle, (left, failing) = self.puzzle, self._mends_left(cause, used)
            if not left:
                return 0.0
            round_about = self._least_own + min(self._roughly(m, 1.0, state) for m in left)
            found = (1.0 - failing) * round_about
            for m in left:
                cost, after = puzzle.openings.go(state, len(puzzle.checks) + m)
                chance = self._cures(m, cause)
                offer = (1.0 - failing) * (cost + puzzle.mends[m].cost)
                offer += chance * self._if_known(self.sound, used, after)
                if chance < 1.0:
                    offer += (1.0 - chance) * self._until_cured(cause, used | 1 << m, after)
                found = min(found, offer)
            self._of_cured[key] = found
        return found

    def _cures(self, m: int, cause: int) -> float:
        return self._chance.get((m, cause), 0.0)

    def _roughly(self, m: int, chance: float, state: State) -> float:
        """A bound for one mend where the moves are not worked out; ``chance`` that the end is to be seen after it."""
        puzzle = self.puzzle
        own = 1 << len(puzzle.checks) + m
        end = puzzle.openings.floor(state, own | 1 << puzzle.final) + puzzle.final_cost
        cost = puzzle.mends[m].cost + chance * end
        return cost if puzzle.worth is None else min(cost, puzzle.worth)

    def _roughly_first(self, m: int, cause: int, used: int, state: State) -> float:
        """A bound for what begins with one mend of a known cause, where the moves are not worked out.

        Opening and closing as for this mend alone, everything else as if it lay open.
        """
        puzzle = self.puzzle
        cost = puzzle.openings.floor(state, 1 << len(puzzle.checks) + m) + puzzle.mends[m].cost
        for effect in puzzle.mends[m].effects[cause]:
            cost += effect.chance * self._if_bare(effect.state, used | 1 << m)
        return cost

    def _if_bare(self, cause: int, used: int) -> float:
        """Least cost for a known state of the machine, opening and closing left out."""
        puzzle = self.puzzle
        if cause == self.sound:
            worth = puzzle.worth
            return puzzle.final_cost if worth is None else min(puzzle.final_cost, worth)
        key = (cause, used & self._further[cause])
        found = self._bare.get(key)
        if found is None:
            offers = [] if puzzle.worth is None else [puzzle.worth]
            for m, effects in self._mends_of[cause]:
                if not used >> m & 1:
                    after = used | 1 << m
                    rest = sum(e.chance * self._if_bare(e.state, after) for e in effects)
                    offers.append(puzzle.mends[m].cost + rest)
            found = self._bare[key] = min(offers, default=0.0)
        return found

    def _past_mending(self, cause: int, used: int, state: State) -> float:
        """Least cost until nothing is left that could mend anything.

        What is left might have cured, so that the device's own check fails after it; unless some other
        check can rule out that nothing is wrong any more.
        """
        puzzle = self.puzzle
        left = (self.must_be_tried | self._own[cause]) & ~used
        if not left:
            return self._closing(state)
        key = (left, state)
        found = self._tails.get(key)
        if found is None:
            actions = left << len(puzzle.checks)
            found = 0.0 if self.is_told else puzzle.final_cost
            found += puzzle.openings.floor(
                state, actions if self.is_told else actions | 1 << puzzle.final
            )
            found += sum(mend.cost for m, mend in enumerate(puzzle.mends) if left >> m & 1)
            self._tails[key] = found
        return found

    def uncured(self, cause: int, used: int, state: State) -> float:
        """What :meth:`row` counts for those of a known single cause whom none of the mends that are left cures."""
        _, failing = self._mends_left(cause, used)
        return failing * self._past_mending(cause, used, state) if failing > 0 else 0.0

    def _relevant(self, cause: int) -> int:
        if cause == self.sound:
            return 0
        return self._own[cause] if self._single else self._further[cause]

    def below(self, belief: Belief, state: State) -> float:
        """A lower bound on the expected cost from here."""
        row = self.row(belief.used, state)
        return sum([w * row[i] for i, _, w in belief.pieces])

    # --- from above ---------------------------------------------------------------------------

    def above(self, belief: Belief, state: State, *, fresh: bool) -> tuple[float, InTurn]:
        """Cost of the best mending order known, and the order; ``fresh`` works one out for this belief."""
        check_first = any(i == self.sound for i, _, _ in belief.pieces)
        key = (belief.used, state, check_first)
        orders = self._orders.setdefault(key, [])
        if not orders or (fresh and len(orders) < MAX_ORDERS):
            made = self._in_turn(belief, state, check_first=check_first, thorough=fresh)
            if all(made.costs != known.costs for known in orders):
                orders.append(made)
        best, cost = orders[0], INFINITE
        for turn in orders:
            costs = turn.costs
            offer = sum([w * costs[i] for i, _, w in belief.pieces])
            if offer < cost:
                best, cost = turn, offer
        return cost, best

    def after(self, turn: InTurn, state: State) -> InTurn:
        """The rest of a mending order after its first action, from the state of opening that it leads to."""
        batches, check_first = turn.rest
        return InTurn(batches, check_first, self._costs(batches, state, check_first=check_first))

    def _in_turn(
        self, belief: Belief, state: State, *, check_first: bool, thorough: bool
    ) -> InTurn:
        """The mends by their ratio; how many of them singly, and how many at all, as is best for this belief."""
        order = self._by_ratio(belief, state, check_first=check_first)
        lengths = [len(order)] if self.puzzle.worth is None else range(len(order) + 1)
        best: tuple[float, InTurn] | None = None
        for length in lengths:
            singles = (*SINGLES, length) if thorough else QUICK_SINGLES
            for single in sorted({min(s, length) for s in singles}):
                batches = self._batches(order[:length], single)
                costs = self._costs(batches, state, check_first=check_first)
                offer = sum([w * costs[i] for i, _, w in belief.pieces])
                if best is None or offer < best[0]:
                    best = (offer, InTurn(batches, check_first, costs))
        assert best is not None
        return best[1]

    def _batches(self, order: tuple[int, ...], single: int) -> tuple[tuple[int, ...], ...]:
        """The first mends of an order each by itself, the rest together."""
        batches: list[tuple[int, ...]] = [(m,) for m in order[:single]]
        if single < len(order):
            batches.append(self._without_contained(order[single:]))
        return tuple(batches)

    def _without_contained(self, batch: tuple[int, ...]) -> tuple[int, ...]:
        """A batch without what another mend of it does anyhow: nobody looks in between whether it was enough."""
        inside = 0
        for m in batch:
            inside |= self._contains[m]
        kept = list(batch)
        for m in bits(inside):
            if m in kept and any(self._contains[other] >> m & 1 for other in kept):
                kept.remove(m)
        return tuple(kept)

    def polished(self, belief: Belief, state: State) -> tuple[float, InTurn]:
        """A better mending order for this very belief: split where it pays, each batch along the shortest way.

        The mends stay in the order of their ratio from batch to batch; within a batch, after which alone the device
        is tried, they are done in whatever order opens and closes the least. Slower than :meth:`above`.
        """
        check_first = any(i == self.sound for i, _, _ in belief.pieces)
        _, turn = self.above(belief, state, fresh=True)
        order = [m for batch in turn.batches for m in batch]
        begin = self._at_most(state, self.puzzle.final)[1] if check_first else state
        best = self._split(belief, order, begin)
        offers = [turn]
        for batches in (best, tuple(self._shortest(b, begin)[1] for b in turn.batches)):
            costs = self._costs(batches, state, check_first=check_first)
            offers.append(InTurn(batches, check_first, costs))
        found = [(sum([w * o.costs[i] for i, _, w in belief.pieces]), o) for o in offers]
        return min(found, key=lambda f: f[0])

    def _split(
        self, belief: Belief, order: Sequence[int], state: State
    ) -> tuple[tuple[int, ...], ...]:
        """Where the device is best tried in between, as if each batch began where the first one does."""
        alive = self._alive_after(belief, order)
        closing = self.puzzle.openings.close(state)
        count = len(order)
        best: list[tuple[float, tuple[tuple[int, ...], ...]]] = [(0.0, ())] * (count + 1)
        best[count] = (alive[count] * closing, ())
        for begin in reversed(range(count)):
            offers = []
            for end in range(begin + 1, count + 1):
                cost, way = self._shortest(tuple(order[begin:end]), state)
                rest, batches = best[end]
                offers.append((alive[begin] * cost + rest, (way, *batches)))
            best[begin] = min(offers, key=lambda o: o[0])
        return best[0][1]

    def _alive_after(self, belief: Belief, order: Sequence[int]) -> list[float]:
        """Chance that something is still wrong before each mend of an order, and after the last."""
        weights = [0.0] * (self.sound + 1)
        for i, _, weight in belief.pieces:
            weights[i] += weight
        alive = [sum(weights[: self.sound])]
        for m in order:
            for cause, effects in self.puzzle.mends[m].effects.items():
                held, weights[cause] = weights[cause], 0.0
                if held:
                    for effect in effects:
                        weights[effect.state] += held * effect.chance
            alive.append(sum(weights[: self.sound]))
        return alive

    def _shortest(self, batch: tuple[int, ...], state: State) -> tuple[float, tuple[int, ...]]:
        """A short way through a batch and to the device's own check, always to what is nearest; its cost."""
        batch = self._without_contained(batch)
        key = (tuple(sorted(batch)), state)
        found = self._ways.get(key)
        if found is None:
            puzzle, at, total = self.puzzle, state, sum([self.puzzle.mends[m].cost for m in batch])
            left, way = list(key[0]), []
            while left:
                moves = [(self._at_most(at, len(puzzle.checks) + m), m) for m in left]
                (cost, at), m = min(moves, key=lambda move: (move[0][0], move[1]))
                total += cost
                left.remove(m)
                way.append(m)
            total += self._at_most(at, puzzle.final)[0] + puzzle.final_cost
            found = self._ways[key] = (total, tuple(way))
        return found

    def _by_ratio(self, belief: Belief, state: State, *, check_first: bool) -> tuple[int, ...]:
        """All mends that are left, each time the one with the best chance for its cost."""
        puzzle = self.puzzle
        weights = [0.0] * (self.sound + 1)
        for i, _, weight in belief.pieces:
            weights[i] += weight
        if check_first:
            _, state = puzzle.openings.go(state, puzzle.final)
        done = belief.used
        for m in bits(belief.used):
            done |= self._contains[m]
        left = [m for m in range(len(puzzle.mends)) if not done >> m & 1]
        chances = {m: self._cured(m, weights) for m in left}
        order: list[int] = []
        while left:
            costs = self._costs_alone(state)
            chosen = max(left, key=lambda m: (chances[m] / costs[m], -m))
            _, there = puzzle.openings.go(state, len(puzzle.checks) + chosen)
            _, state = puzzle.openings.go(there, puzzle.final)
            done = 1 << chosen | self._contains[chosen]
            left = [m for m in left if not done >> m & 1]
            order.append(chosen)
            touched = 0
            for cause, effects in puzzle.mends[chosen].effects.items():
                held, weights[cause] = weights[cause], 0.0
                if held:
                    touched |= self._of_state(cause)
                    for effect in effects:
                        weights[effect.state] += held * effect.chance
                        touched |= self._of_state(effect.state)
            weights[self.sound] = 0.0
            for m in left:
                if touched >> m & 1:
                    chances[m] = self._cured(m, weights)
        return tuple(order)

    def _of_state(self, state: int) -> int:
        """Mends that can change a state."""
        return 0 if state == self.sound else self._own[state]

    def _cured(self, mend: int, weights: list[float]) -> float:
        """Chance that a mend changes what is the case."""
        return sum([weights[cause] * chance for cause, chance in self._changes[mend]])

    def _costs_alone(self, state: State) -> list[float]:
        """For each mend what it costs from a state with the device's own check after it."""
        found = self._alone.get(state)
        if found is not None:
            return found
        puzzle, openings = self.puzzle, self.puzzle.openings
        found = []
        for m, mend in enumerate(puzzle.mends):
            action = len(puzzle.checks) + m
            if openings.ready(state):
                cost, there = openings.go(state, action)
                cost += openings.go(there, puzzle.final)[0]
            else:
                cost = openings.floor(state, 1 << action | 1 << puzzle.final)
            found.append(max(cost + mend.cost + puzzle.final_cost, 1e-9))
        self._alone[state] = found
        return found

    def _at_most(self, state: State, action: int) -> tuple[float, State]:
        """Cost of a move; of some way where the cheapest is not worked out yet."""
        openings = self.puzzle.openings
        return (
            openings.go(state, action) if openings.ready(state) else openings.at_most(state, action)
        )

    def _costs(
        self, batches: Sequence[tuple[int, ...]], state: State, *, check_first: bool
    ) -> tuple[float, ...]:
        """Expected cost by state of the machine, worked out from the end of the order."""
        puzzle = self.puzzle
        legs: list[tuple[tuple[int, ...], float, State]] = []
        if check_first:
            cost, state = self._at_most(state, puzzle.final)
            legs.append(((), cost + puzzle.final_cost, state))
        for batch in batches:
            leg = puzzle.final_cost
            for m in batch:
                cost, state = self._at_most(state, len(puzzle.checks) + m)
                leg += cost + puzzle.mends[m].cost
            cost, state = self._at_most(state, puzzle.final)
            legs.append((batch, leg + cost, state))
        end = puzzle.openings.close(state) + (puzzle.worth or 0.0)
        costs = [end] * (self.sound + 1)
        added = 0.0  # what is to be added to all of them
        for batch, leg, after in reversed(legs):
            costs[self.sound] = puzzle.openings.close(after) - added
            for m in reversed(batch):
                changed = [
                    (cause, sum([e.chance * costs[e.state] for e in effects]))
                    for cause, effects in puzzle.mends[m].effects.items()
                ]
                for cause, cost in changed:
                    costs[cause] = cost
            added += leg
        return tuple([added + cost for cost in costs])


def stop_cost(puzzle: Puzzle, belief: Belief, state: State) -> float | None:
    """Cost of giving up here; None where that is not allowed."""
    if not may_stop(puzzle, belief):
        return None
    return (puzzle.worth or 0.0) + puzzle.openings.close(state)


def _contained(puzzle: Puzzle) -> list[int]:
    """For each mend those (a set) that can change nothing after it, nor before it: it does for certain what they may.

    So an exchange for which a plug comes off and goes on again contains the reseating of that plug.
    """
    found = []
    for whole in puzzle.mends:
        inside = 0
        for m, part in enumerate(puzzle.mends):
            if part is not whole and not puzzle.obliged >> m & 1 and _is_inside(part, whole):
                inside |= 1 << m
        found.append(inside)
    return found


def _is_inside(part: Mend, whole: Mend) -> bool:
    if not part.effects.keys() <= whole.effects.keys():
        return False
    for cause, effects in part.effects.items():
        done = _leads_to(whole, cause)
        if done.keys() & part.effects.keys():
            return False
        if any(e.state != cause and _leads_to(whole, e.state) != done for e in effects):
            return False
    return True


def _leads_to(mend: Mend, state: int) -> dict[int, float]:
    return {e.state: e.chance for e in mend.effects.get(state, ())} or {state: 1.0}


def _must_be_tried(puzzle: Puzzle, own: list[int]) -> int:
    """Mends (a set) that every job tries before it may give up without a price.

    A cause that no outcome of any check rules out stays possible until one of its mends is sure to have cured
    it. If none is sure, all of its mends are tried; if it has only one, that one is.
    """
    if puzzle.worth is not None:
        return 0
    must = 0
    for cause, mends in enumerate(own):
        if not puzzle.prior[cause] or any(
            row[cause] <= 0 for check in puzzle.checks for row in check.likelihood
        ):
            continue
        sure = any(
            len(puzzle.mends[m].effects[cause]) == 1
            for m in range(len(puzzle.mends))
            if mends >> m & 1
        )
        if not sure or mends & (mends - 1) == 0:
            must |= mends
    return must


def _reached(puzzle: Puzzle, own: list[int]) -> tuple[list[bool], list[int]]:
    """States that the machine can be in, and for each cause the mends that can change it or what it turns into."""
    into = [
        {e.state for mend in puzzle.mends for e in mend.effects.get(cause, ())} - {puzzle.sound}
        for cause in range(puzzle.sound)
    ]
    alive = [chance > 0 for chance in puzzle.prior]
    further = own[:]
    changed = True
    while changed:
        changed = False
        for cause, following in enumerate(into):
            for other in following:
                mends = further[cause] | further[other]
                if mends != further[cause] or (alive[cause] and not alive[other]):
                    further[cause] = mends
                    alive[other] = alive[other] or alive[cause]
                    changed = True
    return [*alive, True], further


def single_causes(puzzle: Puzzle) -> bool:
    """True when a mend leads to nothing but the same cause or to the sound state."""
    return all(
        effect.state in (cause, puzzle.sound)
        for mend in puzzle.mends
        for cause, effects in mend.effects.items()
        for effect in effects
    )
