"""A bound from below for a few causes together with the machines that no mend cures.

Whoever is told to which group the cause belongs pays no more on average (:mod:`~lastscrew.faults.focus`). A machine
that no mend cures goes the whole way of its group, opened and closed again and again, and then through everything
else that must be tried. That is dear, and here it is not told in advance: it stays in the group. The job of a
group is the whole job with the other causes left out: the same actions, the same moves, and the same that must
be tried before giving up. Two things are given away, so that the search comes to an end:

- The first time that something is tried which cures nothing in the group, the machines past mending are told, and
  cost what the bound of the whole job counts.
- So does everything once nothing can be cured any more.

All that may be done in the whole job may still be done, and no less is known, so that the least cost of this job
bounds that of the whole one ("information relaxation", Brown, Smith and Sun, 2010, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from lastscrew.faults.puzzle import (
    NOTHING,
    Action,
    Belief,
    Check,
    Effect,
    Mend,
    Piece,
    Puzzle,
    State,
)
from lastscrew.faults.search import Branch, Node, Offer, Search

NEAR: Final = 0.005
"""Bounds of a group that are this near to each other, as a share, need no more search."""
FIRST_WORK: Final = 40
"""Actions unfolded to find a strategy of a group, before its bounds are brought together."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Machines with one cause which just these mends (a set) would cure, and their share."""

    cause: int
    mends: int
    weight: float


class GroupSearch(Search):
    """A search whose lower bounds hold for the whole job."""

    def __init__(self, puzzle: Puzzle, kinds: Sequence[Kind], used: int) -> None:
        """Prepare.

        Args:
            puzzle: The job of the group; its causes are the kinds, ``obliged`` what must be tried.
            kinds: The kinds, those without a mend past mending.
            used: Mends that were tried before.
        """
        super().__init__(puzzle)
        self._lost = frozenset(k for k, kind in enumerate(kinds) if not kind.mends)
        of_group = 0
        for kind in kinds:
            of_group |= kind.mends
        self._rest = puzzle.obliged & ~of_group & ~used

    def _node(self, belief: Belief, state: State) -> Node:
        node = super()._node(belief, state)
        if node.offers is None and all(i in self._lost for i, _, _ in belief.pieces):
            node.above = node.below
        return node

    def _pays(self, node: Node, kind: str, index: int) -> bool:
        if kind == "mend" and self._told(node.belief, index):
            return True
        return super()._pays(node, kind, index)

    def _told(self, belief: Belief, mend: int) -> list[Piece]:
        """The machines that are told when a mend is tried now."""
        if not self._rest >> mend & 1 or self._rest & belief.used:
            return []
        return [piece for piece in belief.pieces if piece[0] in self._lost]

    def _offer(self, action: Action, cost: float, after: State, belief: Belief) -> Offer:
        offer = super()._offer(action, cost, after, belief)
        if action.kind == "mend":
            told = self._told(belief, action.index)
            if told:
                row = self.bounds.row(belief.used | 1 << action.index, after)
                offer.cost += sum([weight * row[i] for i, _, weight in told])
        return offer

    def unfold(self, node: Node, offer: Offer) -> tuple[Branch, ...]:
        """The outcomes of an action; whoever is told has come to an end, and paid already."""
        action, belief = offer.action, node.belief
        told = self._told(belief, action.index) if action.kind == "mend" else []
        if offer.branches is not None or not told:
            return super().unfold(node, offer)
        left = [piece for piece in belief.pieces if piece[0] not in self._lost]
        total = sum([weight for _, _, weight in left])
        if total <= NOTHING:
            self.unfolded += 1
            offer.branches = (Branch("told", 1.0, None),)
            return offer.branches
        pieces = tuple([(i, stale, weight / total) for i, stale, weight in left])
        apart = Node(replace(belief, pieces=pieces), node.state, 0.0, 0.0, None)
        done = Offer(action, 0.0, 0.0, 0.0, offer.after)
        others = super().unfold(apart, done)[0].node
        offer.branches = (Branch("told", 1.0 - total, None), Branch("done", total, others))
        return offer.branches


def gain_of_group(
    search: Search,
    node: Node,
    kinds: Sequence[Kind],
    *,
    work: int,
    expired: Callable[[], bool] | None = None,
) -> tuple[float, int]:
    """How much more the job costs at a node at least than if the cause were known, by one group of causes.

    Args:
        search: The search of the whole job, without a price for giving up and with single causes.
        node: A node of it.
        kinds: All machines with the causes of the group. What is cured already goes with them.
        work: Actions to unfold.
        expired: Asked now and then; True stops.

    Returns:
        The gain, and the actions that were unfolded.
    """
    bounds, belief, sound = search.bounds, node.belief, search.puzzle.sound
    cured = [piece for piece in belief.pieces if piece[0] == sound]
    total = sum([kind.weight for kind in kinds]) + sum([weight for _, _, weight in cured])
    puzzle = replace(puzzle_of(search.puzzle, kinds, total), obliged=bounds.must_be_tried)
    pieces = [(k, 0, kind.weight / total) for k, kind in enumerate(kinds)]
    pieces += [(len(kinds), stale, weight / total) for _, stale, weight in cured]
    group = GroupSearch(puzzle, kinds, belief.used)
    root = group.root(Belief(tuple(pieces), belief.known, belief.used), node.state)
    group.probe(root, work=min(FIRST_WORK, work), expired=expired)
    group.improve(root, gap=NEAR, work=work, expired=expired)
    row = bounds.row(belief.used, node.state)
    told = sum([kind.weight * row[kind.cause] for kind in kinds])
    told += sum([weight * row[sound] for _, _, weight in cured])
    return max(0.0, total * root.below - told), group.unfolded


def puzzle_of(puzzle: Puzzle, kinds: Sequence[Kind], total: float) -> Puzzle:
    """The job of a group: its kinds are the causes, and what would cure one is sure to cure it."""
    sound = len(kinds)
    columns = [*(kind.cause for kind in kinds), puzzle.sound]
    checks = tuple(
        Check(
            c.id,
            c.cost,
            c.outcomes,
            tuple(tuple([row[i] for i in columns]) for row in c.likelihood),
        )
        for c in puzzle.checks
    )
    mends = []
    for m, mend in enumerate(puzzle.mends):
        effects = {}
        for k, kind in enumerate(kinds):
            if kind.mends >> m & 1:
                stale = next(e.stale for e in mend.effects[kind.cause] if e.state == puzzle.sound)
                effects[k] = (Effect(sound, 1.0, stale),)
        mends.append(Mend(mend.id, mend.cost, effects))
    return replace(
        puzzle,
        causes=tuple(f"{puzzle.causes[kind.cause]}/{kind.mends}" for kind in kinds),
        prior=tuple(kind.weight / total for kind in kinds),
        checks=checks,
        mends=tuple(mends),
        obliged=0,
    )
