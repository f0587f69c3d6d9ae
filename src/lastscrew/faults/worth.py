"""Which actions can't be best, because what they cost exceeds all that they could be good for."""

from __future__ import annotations

from lastscrew.faults.puzzle import Belief, Puzzle


class Worth:
    """Which actions can't be best here, because what they cost exceeds all that they could be good for.

    What a check tells is worth at most K times the mean distance (total variation) between the belief before
    and the beliefs after it, where K is the dearest course that a job can take: the best strategy for
    the belief after the check could be followed without it. A check that tells nothing now may still be worth
    doing before a mend, to see whether doing it again gives anything else: at most K for the causes whose mend
    can change its outcome. A mend of something that is hardly the case
    saves at most K for those whom it cures, and its own later trial for those who end past mending.
    All of it is proven by following the better strategy without the action.
    """

    def __init__(self, puzzle: Puzzle) -> None:
        """Work out the dearest course."""
        self.puzzle = puzzle
        openings = puzzle.openings
        self._course: list[float] = []
        for action in range(puzzle.final + 1):
            cost, after = openings.go(0, action)
            self._course.append(cost + openings.close(after))
        tries = (len(puzzle.mends) + 1) * (puzzle.final_cost + self._course[puzzle.final])
        self.dearest = tries + openings.close(puzzle.start)
        self.dearest += sum(self._course)
        self.dearest += sum(c.cost for c in puzzle.checks) + sum(m.cost for m in puzzle.mends)
        self._hopeless: dict[int, list[float]] = {}
        self._changed: dict[tuple[int, int], int] = {}
        self._sharp = sum(
            1 << c
            for c, check in enumerate(puzzle.checks)
            if any(min(row) <= 0 < max(row) for row in check.likelihood)
        )

    def check_pays(self, belief: Belief, check: int) -> bool:
        """False when a check that was never done can't be worth its price.

        One that can rule a cause out may be what allows to give up, which is worth more than it tells.
        """
        puzzle = self.puzzle
        if belief.known[check] >= 0 or self._rules_out(belief, check):
            return True
        moved = self.tells(belief, check) + self.can_change(belief, check)
        return self.dearest * moved >= puzzle.checks[check].cost

    def _rules_out(self, belief: Belief, check: int) -> bool:
        """Whether some outcome of a check leaves some cause that is possible now, and another one not."""
        if not self._sharp >> check & 1:
            return False
        rows = self.puzzle.checks[check].likelihood
        return any(len({row[i] > 0 for i, _, _ in belief.pieces}) > 1 for row in rows)

    def can_change(self, belief: Belief, check: int) -> float:
        """Chance of the causes whose mending would let a check give another outcome."""
        return sum([w for i, _, w in belief.pieces if self._changing(i, belief.used) >> check & 1])

    def _changing(self, state: int, used: int) -> int:
        """Checks (a set) that some mend that is left, or several, would let give another outcome."""
        key = (state, used)
        found = self._changed.get(key)
        if found is None:
            found = 0
            for m, mend in enumerate(self.puzzle.mends):
                if not used >> m & 1:
                    for effect in mend.effects.get(state, ()):
                        if effect.state != state:
                            found |= effect.stale | self._changing(effect.state, used | 1 << m)
            self._changed[key] = found
        return found

    def tells(self, belief: Belief, check: int) -> float:
        """Mean distance (total variation) between the belief before a check and those after it."""
        moved = 0.0
        for row in self.puzzle.checks[check].likelihood:
            chances = [(w, row[i]) for i, _, w in belief.pieces]
            mean = sum([w * chance for w, chance in chances])
            moved += sum([w * abs(chance - mean) for w, chance in chances])
        return moved / 2

    def cures(self, belief: Belief, mend: int) -> float:
        """Chance that a mend changes what is the case."""
        effects = self.puzzle.mends[mend].effects
        return sum(
            w * sum(e.chance for e in effects[i] if e.state != i)
            for i, _, w in belief.pieces
            if i in effects
        )

    def mend_pays(self, belief: Belief, mend: int) -> bool:
        """False when a mend can't be worth its price now."""
        puzzle = self.puzzle
        effects = puzzle.mends[mend].effects
        hopeless = self.chance_past_mending(belief.used)
        past = sum([w * hopeless[i] for i, _, w in belief.pieces])
        cured = sum([w for i, _, w in belief.pieces if i in effects])
        again = self._course[len(puzzle.checks) + mend] + puzzle.mends[mend].cost
        again += self._course[puzzle.final] + puzzle.final_cost
        return past * again + cured * self.dearest >= puzzle.mends[mend].cost

    def chance_past_mending(self, used: int) -> list[float]:
        """For each state the chance that none of the mends that are left cures it."""
        found = self._hopeless.get(used)
        if found is None:
            found = [1.0] * self.puzzle.sound + [0.0]
            for m, mend in enumerate(self.puzzle.mends):
                if not used >> m & 1:
                    for cause, effects in mend.effects.items():
                        found[cause] *= sum(e.chance for e in effects if e.state == cause)
            self._hopeless[used] = found
        return found
