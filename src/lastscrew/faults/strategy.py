"""The whole strategy as a tree, and what it costs for each cause."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from lastscrew.faults.advice import name_of, next_offer, shown_kind, work_of
from lastscrew.faults.model import FaultModel
from lastscrew.faults.puzzle import Action, Kind, Puzzle
from lastscrew.faults.search import Node, Offer, Search

MAX_DEPTH: Final = 60
"""Steps after which a tree is cut."""


@dataclass(frozen=True, slots=True)
class Twig:
    """One action of a strategy.

    Attributes:
        kind, id, name: The action; kind ``end`` where the device works.
        chance: Chance that the job comes here.
        expected_cost: Expected cost from here on.
        branches: (outcome, what follows).
        cut: How much is left out below: branches that are less likely than asked for.
    """

    kind: Kind | str
    id: str
    name: str
    chance: float
    expected_cost: float
    branches: tuple[tuple[str, Twig], ...] = ()
    cut: bool = False


def strategy_tree(
    model: FaultModel, search: Search, node: Node, *, least: float = 0.005, work: int = 0
) -> Twig:
    """The strategy from a node on.

    Args:
        model: The model.
        search: The search.
        node: Where to begin.
        least: What is less likely than this is cut.
        work: Actions to unfold at each step of a strategy that is not proven, shared out by chance.
    """
    return _twig(model, search, node, 1.0, (least, work), 0)


def _twig(
    model: FaultModel,
    search: Search,
    node: Node,
    chance: float,
    limits: tuple[float, int],
    depth: int,
) -> Twig:
    least, effort = limits
    if effort and not node.closed:
        search.probe(node, work=round(effort * chance))
    offer = next_offer(search, node)
    work = work_of(model, offer.action)
    kind, name = shown_kind(offer.action), name_of(model, offer.action)
    ident = work.id if work is not None else "stop"
    branches: list[tuple[str, Twig]] = []
    for branch in offer.branches or ():
        reached = chance * branch.chance
        if branch.node is None:
            end = search.puzzle.openings.close(offer.after)
            branches.append((branch.outcome, Twig("end", "works", "Works", reached, end)))
        elif reached < least or depth >= MAX_DEPTH:
            after = branch.node.above
            branches.append((branch.outcome, Twig("cut", "", "…", reached, after, cut=True)))
        else:
            following = _twig(model, search, branch.node, reached, limits, depth + 1)
            branches.append((branch.outcome, following))
    return Twig(kind, ident, name, chance, node.above, tuple(branches))


def twigs(tree: Twig) -> Iterator[Twig]:
    """All actions of a tree."""
    yield tree
    for _, below in tree.branches:
        yield from twigs(below)


Costs = dict[tuple[int, int], float]
"""Expected cost by (state of the machine, stale checks)."""


def costs_by_piece(search: Search, node: Node, puzzle: Puzzle | None = None) -> Costs:
    """What the present strategy costs from a node on, for each piece of the belief.

    Args:
        search: The search.
        node: Where to begin.
        puzzle: A puzzle with other likelihoods to weigh the same strategy by; None for the search's own.
    """
    return _Weighing(search, puzzle or search.puzzle).of(node)


def costs_first(search: Search, node: Node, offer: Offer, puzzle: Puzzle | None = None) -> Costs:
    """The same for the strategy that begins with ``offer``."""
    return _Weighing(search, puzzle or search.puzzle).first(node, offer)


class _Weighing:
    """Follows a strategy for every piece by itself; nodes that are met again are not followed again."""

    def __init__(self, search: Search, puzzle: Puzzle) -> None:
        self.search, self.puzzle = search, puzzle
        self.own = puzzle is search.puzzle
        self.known: dict[int, Costs] = {}

    def of(self, node: Node) -> Costs:
        found = self.known.get(id(node))
        if found is None:
            if node.in_turn is not None:
                turn = node.in_turn.costs
                found = {(s, stale): turn[s] for s, stale, _ in node.belief.pieces}
            else:
                found = self.first(node, next_offer(self.search, node))
            self.known[id(node)] = found
        return found

    def first(self, node: Node, offer: Offer) -> Costs:
        return {
            (state, stale): self._cost(node, offer, state, stale)
            for state, stale, _ in node.belief.pieces
        }

    def _cost(self, node: Node, offer: Offer, state: int, stale: int) -> float:
        puzzle, action = self.puzzle, offer.action
        if action.kind == "stop":
            return offer.cost
        fixed = self._fixed(node, offer)
        after = {b.outcome: b.node for b in self.search.unfold(node, offer)}
        if action.kind == "final":
            if state == puzzle.sound:
                return fixed + puzzle.openings.close(offer.after)
            return fixed + self._below(after.get("faulty"), state, stale)
        if action.kind == "mend":
            done = sum(1 << c for c, outcome in enumerate(node.belief.known) if outcome >= 0)
            effects = puzzle.mends[action.index].effects.get(state, ())
            if not effects:
                return fixed + self._below(after["done"], state, stale)
            return fixed + sum(
                e.chance * self._below(after["done"], e.state, stale | (e.stale & done))
                for e in effects
            )
        return fixed + self._after_check(node, action, after, state, stale)

    def _fixed(self, node: Node, offer: Offer) -> float:
        """Cost of the action without the closing at its end."""
        if offer.action.kind == "final":
            return offer.cost - node.belief.sound_weight(self.puzzle) * self.puzzle.openings.close(
                offer.after
            )
        return offer.cost

    def _after_check(
        self, node: Node, action: Action, after: dict[str, Node | None], state: int, stale: int
    ) -> float:
        check, bit = self.puzzle.checks[action.index], 1 << action.index
        known = node.belief.known[action.index]
        total = 0.0
        for o, (name, row) in enumerate(zip(check.outcomes, check.likelihood, strict=True)):
            again = known >= 0 and not stale & bit
            chance = float(o == known) if again else row[state]
            if chance > 0:
                total += chance * self._below(after.get(name), state, stale & ~bit)
        return total

    def _below(self, node: Node | None, state: int, stale: int) -> float:
        """Cost from a node on; a piece that the node does not know costs as much as its dearest."""
        if node is None:
            return 0.0
        costs = self.of(node)
        found = costs.get((state, stale))
        return max(costs.values()) if found is None else found
