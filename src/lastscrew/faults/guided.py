"""A good strategy for a large job, found by following a guess between the bounds.

The lower bound alone leads to whatever looks cheapest for somebody who knew the cause; the upper one to what was
tried already. Here a node is guessed to cost something between its bounds, an action that was not unfolded in the
same proportion, and the search goes where the guess is least (best-first search with a heuristic that
may overestimate; Pohl, 1970, from memory). It finds strategies and proves nothing: both bounds of every node stay true.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from lastscrew.faults.search import Node, Offer, Search

BETWEEN: Final = 0.6
"""Where between the bounds a node is guessed to be."""
MOST_IDLE: Final = 50
"""Descents one after the other that find nothing new, after which it ends."""


class Guided:
    """Guesses for the nodes of one search."""

    def __init__(self, search: Search, between: float = BETWEEN) -> None:
        """Take over the search; ``between`` is 0 for the lower bound, 1 for the upper one."""
        self.search = search
        self.between = between
        self._guesses: dict[int, float] = {}

    def go(self, root: Node, *, work: int, expired: Callable[[], bool] | None = None) -> None:
        """Better the strategy of a node.

        Args:
            root: Where to begin.
            work: Stop after unfolding this many actions.
            expired: Asked after each descent; True stops.
        """
        search = self.search
        most, idle = search.unfolded + work, 0
        while idle < MOST_IDLE and not root.closed and search.unfolded < most:
            if expired is not None and expired():
                return
            before = search.unfolded
            for node, offer in reversed(self._descent(root)):
                offers = search.carry_up(node, offer)
                self._guesses[id(node)] = min([self._of_offer(node, o) for o in offers])
            idle = 0 if search.unfolded > before else idle + 1

    def _descent(self, root: Node) -> list[tuple[Node, Offer]]:
        """The way to the first action that is not unfolded, which is unfolded then."""
        search, path, node = self.search, [], root
        while not node.closed:
            best = min(search.visit(node), key=lambda offer: self._of_offer(node, offer))
            path.append((node, best))
            if best.branches is None:
                for branch in search.unfold(node, best):
                    if branch.node is not None:
                        search.order_mends(branch.node)
                break
            left = [
                (branch.chance * (branch.node.above - branch.node.below), k, branch.node)
                for k, branch in enumerate(best.branches)
                if branch.node is not None and not branch.node.closed
            ]
            if not left:
                break
            node = max(left, key=lambda item: (item[0], -item[1]))[2]
        return path

    def _of_node(self, node: Node) -> float:
        if node.closed:
            return node.above
        guess = self._guesses.get(id(node))
        if guess is None:
            guess = node.below + self.between * (node.above - node.below)
            self._guesses[id(node)] = guess
        return min(max(guess, node.below), node.above)

    def _of_offer(self, node: Node, offer: Offer) -> float:
        if offer.branches is None:
            more = self.between * node.gap
            return offer.cost + (offer.below - offer.cost) * (1.0 + more)
        return offer.cost + sum(
            [b.chance * self._of_node(b.node) for b in offer.branches if b.node is not None]
        )
