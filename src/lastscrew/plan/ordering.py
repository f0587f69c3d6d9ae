"""Orders for a turning set: the way in and the way out together, exactly or as a bound.

Both limbs are sequencing questions of their own (:mod:`lastscrew.plan.sequence`), the way out read
backwards; they meet on one side. Where the way in read backwards is a best way out, one of them is
enough.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from lastscrew.plan.compiled import EVERYTHING, Option, bits
from lastscrew.plan.selection import Question, Selection
from lastscrew.plan.sequence import Answer, Attribute, Setups, Task, Way, hasty, sequence

Order = tuple[tuple[int, int], ...]
"""(joint, access) in order."""


@dataclass(slots=True)
class Effort:
    """Work done so far, and when to stop.

    Attributes:
        work: Most states to expand, None for no limit.
        expired: Asked now and then; True stops.
        expanded: States expanded so far.
    """

    work: int | None = None
    expired: Callable[[], bool] | None = None
    expanded: int = 0

    def over(self) -> str:
        """Why to stop now: ``work``, ``clock``, or "" to go on."""
        if self.work is not None and self.expanded >= self.work:
            return "work"
        if self.expired is not None and self.expired():
            return "clock"
        return ""

    def left(self, at_most: int) -> int:
        """States that one search may expand."""
        return at_most if self.work is None else max(1, min(at_most, self.work - self.expanded))


@dataclass(frozen=True, slots=True)
class Limbs:
    """Both limbs of a turning set.

    Attributes:
        cost: Setups, dearer accesses and turns of both limbs; None where no order was found.
        bound: Proven lower bound of the same; equal to ``cost`` when the orders are best.
        way_in, way_out: The orders; empty where there is no cost.
        exact: True when the orders can be worked: nothing was taken as open that is not in the set.
    """

    cost: int | None
    bound: int
    way_in: Order = ()
    way_out: Order = ()
    exact: bool = True


class Orders:
    """Sequencing questions about turning sets, each answered once."""

    def __init__(self, selection: Selection, effort: Effort) -> None:
        """Prepare the classes (side, tool) and the setups between them."""
        self.selection = selection
        self.question = selection.question
        self.effort = effort
        self.setups, self.kind_of = _setups(self.question, selection)
        self._kinds = sorted(self.kind_of)
        self._answers: dict[tuple[object, ...], tuple[Answer, int]] = {}
        self._haste: dict[tuple[object, ...], Answer] = {}

    def limbs(
        self,
        forced: int,
        out: int,
        landmarks: tuple[list[int], list[int]],
        *,
        most: int,
        enough: int | None = None,
        hasty_too: bool = False,
    ) -> Limbs | None:
        """Best limbs for the joints in ``forced``.

        Args:
            forced: The joints.
            out: Joints that stay closed. What is neither forced nor out is taken as open wherever that
                helps, so that the bound holds for every larger turning set. With everything else out
                the result is exact.
            landmarks: Landmarks for the way out and for the way in (from the joints open at the start).
            most: States that each search may expand.
            enough: Stop as soon as the bound is above this.
            hasty_too: Give some order even when the search is stopped.

        Returns:
            None when the joints can't be ordered at all.
        """
        no_end = (0,) * len(self._kinds)
        back = self._task(forced, out, landmarks[0], opening=False, end=no_end)
        if back is None:
            return None
        if self.selection.mirrored:
            half = None if enough is None else enough // 2
            answer = self._ask(back.task, most, half, hasty_too=hasty_too)
            if not answer.possible:
                return None
            order = self._with_access(back.task, answer)
            cost = None if answer.cost is None else 2 * answer.cost
            return Limbs(cost, 2 * answer.bound, order, order[::-1], back.exact)
        there = self._task(forced, out, landmarks[1], opening=True, end=no_end)
        if there is None:
            return None
        return self._both(there, back, most, enough, hasty_too=hasty_too)

    def _both(
        self, there: _Asked, back: _Asked, most: int, enough: int | None, *, hasty_too: bool
    ) -> Limbs | None:
        """The two limbs where they differ: first apart, then, if they part on different sides, coupled."""
        exact = there.exact and back.exact
        outward = self._ask(back.task, most, enough, hasty_too=hasty_too)
        room = None if enough is None else enough - outward.bound
        inward = self._ask(there.task, most, room, hasty_too=hasty_too)
        if not (outward.possible and inward.possible):
            return None
        start = self.question.start_side
        meets = self._last_side(there.task, inward, start) == self._last_side(back.task, outward, 0)
        bound = inward.bound + outward.bound
        if inward.cost is None or outward.cost is None:
            return Limbs(None, bound, exact=exact)
        cost = inward.cost + outward.cost
        if not meets:
            backs: dict[int, Answer] = {}
            for side in sorted({side for side, _ in self._kinds}):
                turn = self.question.turn_cost
                end = tuple(0 if kind[0] == side else turn for kind in self._kinds)
                backs[side] = self._ask(
                    replace(back.task, end=end), most, None, hasty_too=hasty_too
                )
            if any(answer.cost is None for answer in backs.values()):
                return Limbs(None, bound, exact=exact)
            end = tuple(backs[kind[0]].cost or 0 for kind in self._kinds)
            coupled = replace(there.task, end=end)
            inward = self._ask(coupled, most, enough, hasty_too=hasty_too)
            if all(answer.proven for answer in backs.values()):
                bound = max(bound, inward.bound)
            if inward.cost is None:
                return Limbs(None, bound, exact=exact)
            outward = backs[self._last_side(coupled, inward, start)]
            cost = inward.cost
        return Limbs(
            cost,
            bound,
            self._with_access(there.task, inward),
            self._with_access(back.task, outward)[::-1],
            exact,
        )

    def _ask(self, task: Task, most: int, enough: int | None, *, hasty_too: bool) -> Answer:
        """The answer to a question; asked again only where more of it is wanted."""
        key = (task.ways, task.start, task.end)
        known = self._answers.get(key)
        if known is None or _too_little(known, most, enough):
            allowed = self.effort.left(most)
            answer = sequence(task, work=allowed, expired=self.effort.expired, enough=enough)
            self.effort.expanded += answer.expanded
            known = self._answers[key] = (answer, answer.expanded)
        answer = known[0]
        if answer.cost is None and answer.possible and hasty_too:
            quick = self._haste.get(key)
            if quick is None:
                quick = self._haste[key] = hasty(task)
            return replace(quick, bound=answer.bound)
        return answer

    def _last_side(self, task: Task, answer: Answer, start: int) -> int:
        """The side on which an order ends."""
        if not answer.order:
            return start
        op, way = answer.order[-1]
        return self._kinds[task.ways[op][way].kind][0]

    def _with_access(self, task: Task, answer: Answer) -> Order:
        return tuple((op, task.ways[op][way].tag) for op, way in answer.order)

    def _task(
        self, forced: int, out: int, lm: list[int], *, opening: bool, end: tuple[int, ...]
    ) -> _Asked | None:
        """The sequencing question for the forced joints in one direction; None where it has no answer."""
        free = self.question.opened if opening else 0
        ops = forced & ~free
        ways: list[tuple[Way, ...]] = [()] * self.selection.count
        certain = [0] * self.selection.count
        exact = True
        for j in bits(ops):
            usable = []
            for option in self.selection.options[j]:
                loosened = _loosened(option, ops, free, out, lm)
                if loosened is None:
                    continue
                needs, clauses, as_is = loosened
                exact &= as_is
                usable.append(self._way(j, option, needs & ~(1 << j), clauses, opening=opening))
            if not usable:
                return None
            ways[j] = tuple(usable)
            certain[j] = lm[j] & ops & ~(1 << j)
        start = self.kind_of[self.question.start_side if opening else 0, 0]
        return _Asked(Task(tuple(ways), self.setups, start, end, tuple(certain)), exact)

    def _way(
        self, j: int, option: Option, needs: int, clauses: tuple[int, ...], *, opening: bool
    ) -> Way:
        if opening:
            kind = self.kind_of[option.side, option.tool]
            extra = option.open_cost - self.selection.open_least[j]
        else:
            kind = self.kind_of[option.side, option.close_tool]
            extra = option.close_cost - self.selection.close_least[j]
        return Way(kind, extra, needs, clauses, option.access)


def _too_little(known: tuple[Answer, int], most: int, enough: int | None) -> bool:
    """True when an answer was stopped before it said what is wanted now."""
    answer, expanded = known
    if answer.proven or not answer.possible:
        return False
    if enough is not None and answer.bound > enough:
        return False
    return expanded < most


@dataclass(frozen=True, slots=True)
class _Asked:
    """A task, and whether it says exactly what the device says."""

    task: Task
    exact: bool


def _loosened(
    option: Option, ops: int, free: int, out: int, lm: list[int]
) -> tuple[int, tuple[int, ...], bool] | None:
    """What an option asks for among ``ops`` (needs, clauses, exact); None when it can't be used.

    A joint that is neither among them nor free nor out may be open or not: it is taken as open,
    but what every way to it opens is asked for.
    """
    units = option.units & ~free
    if units & out:
        return None
    maybe = units & ~ops
    exact = not maybe
    needs = units & ops
    for u in bits(maybe):
        if lm[u] == EVERYTHING:
            return None
        needs |= lm[u] & ops
    clauses: list[int] = []
    for clause in option.clauses:
        if clause & free:
            continue
        members = clause & ~out
        if not members:
            return None
        if members & ~ops:
            exact = False
            shared = EVERYTHING
            for k in bits(members):
                shared &= lm[k]
            needs |= shared & ops
        else:
            clauses.append(members)
    return needs, tuple(clauses), exact


def _setups(question: Question, selection: Selection) -> tuple[Setups, dict[tuple[int, int], int]]:
    """The setups between the classes (side, tool) that occur, and the number of each class."""
    kinds = {(question.start_side, 0), (0, 0)}
    for options in selection.options.values():
        for option in options:
            kinds.add((option.side, option.tool))
            kinds.add((option.side, option.close_tool))
    listed = sorted(kinds)
    matrix = [[changeover(question, one, other) for other in listed] for one in listed]
    sides = sorted({side for side, _ in listed})
    tools = sorted({tool for _, tool in listed})
    attributes = (
        Attribute(
            tuple(sides.index(side) for side, _ in listed), (question.turn_cost,) * len(sides)
        ),
        Attribute(
            tuple(tools.index(tool) for _, tool in listed),
            tuple(question.swap_cost[tool] for tool in tools),
        ),
    )
    return Setups.of(matrix, attributes), {kind: index for index, kind in enumerate(listed)}


def changeover(question: Question, one: tuple[int, int], other: tuple[int, int]) -> int:
    """Setup from one (side, tool) to another: a turn, and taking up the tool if it is not in hand."""
    turn = question.turn_cost if one[0] != other[0] else 0
    swap = question.swap_cost[other[1]] if one[1] != other[1] else 0
    return turn + swap
