"""The cheapest strategy: search over belief and state of opening, with bounds from both sides.

An AND/OR graph is unfolded from the root: a node is a belief with a state of opening, an action leads to
one node for each outcome. Every node keeps a lower bound and the cost of a strategy that can be
followed. Again and again the search walks down the action with the least lower bound and, there, to the
outcome with the most left open, unfolds one action more, and carries the bounds back up. When both bounds
of the root meet, the strategy is proven best. Nodes that come from different orders of the same
actions are one node. At worst the graph grows exponentially with the number of actions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from lastscrew.faults.bounds import Bounds, InTurn, single_causes, stop_cost
from lastscrew.faults.puzzle import (
    NOTHING,
    Action,
    Belief,
    Puzzle,
    State,
    after_check,
    after_failed_final,
    after_mend,
    first_belief,
    useful,
)
from lastscrew.faults.worth import Worth

CLOSED: Final = 1e-9
"""Bounds that differ by no more than this share are equal."""
MOST_CHECKS: Final = 10
MOST_MENDS: Final = 6
"""Checks and mends of the shortlist of a look ahead."""
MAX_ADOPTED: Final = 80
"""Steps of a strategy that are taken over."""
MANY_NODES: Final = 5_000
SLACK: Final = 0.002
"""Share of the cost by which work below a node may go on although another action looks better."""


@dataclass(slots=True)
class Branch:
    """One outcome of an action: its name, its chance, and the node after it (None: the job ends)."""

    outcome: str
    chance: float
    node: Node | None


@dataclass(slots=True)
class Offer:
    """An action at a node.

    Attributes:
        action: The action.
        cost: What it certainly costs, with the closing where the job ends after it.
        below, above: Bounds of the expected cost from the node on, if this is done first.
        after: State of opening after it.
        branches: Its outcomes, None until it is unfolded.
    """

    action: Action
    cost: float
    below: float
    above: float
    after: State
    branches: tuple[Branch, ...] | None = None


@dataclass(slots=True, eq=False)
class Node:
    """A belief with a state of opening.

    Attributes:
        belief, state: What it stands for.
        below, above: Bounds of the least expected cost from here.
        in_turn: The mending order that ``above`` can be had by where nothing was unfolded; None when
            an offer is better.
        offers: The actions, None until the node is visited.
    """

    belief: Belief
    state: State
    below: float
    above: float
    in_turn: InTurn | None
    offers: list[Offer] | None = None

    @property
    def closed(self) -> bool:
        """True when the bounds have met."""
        return self.above - self.below <= CLOSED * max(1.0, abs(self.above))

    @property
    def gap(self) -> float:
        """How far the bounds are apart, as a share of the lower one."""
        if self.closed:
            return 0.0
        return (self.above - self.below) / max(self.below, 1e-9)


class Search:
    """A search whose graph is kept, so that it can go on, or go on from a later node."""

    def __init__(self, puzzle: Puzzle) -> None:
        """Prepare; nothing is searched yet."""
        self.puzzle = puzzle
        self.bounds = Bounds(puzzle)
        self.worth = Worth(puzzle)
        self._weigh = puzzle.worth is None and single_causes(puzzle)
        self.unfolded = 0
        self._most: int | None = None
        self._expired: Callable[[], bool] | None = None
        self._nodes: dict[tuple[object, ...], Node] = {}

    def root(self, belief: Belief | None = None, state: State | None = None) -> Node:
        """The node of a belief and a state of opening (default: the beginning)."""
        puzzle = self.puzzle
        return self._node(belief or first_belief(puzzle), puzzle.start if state is None else state)

    def improve(
        self,
        root: Node,
        *,
        gap: float = 0.0,
        work: int | None = None,
        expired: Callable[[], bool] | None = None,
    ) -> None:
        """Search from ``root`` until its bounds are within ``gap``, or until told to stop.

        Args:
            root: Where to begin.
            gap: Stop when the bounds are no further apart than this share.
            work: Stop after unfolding this many actions.
            expired: Asked after each descent; True stops.
        """
        self._most = None if work is None else self.unfolded + work
        self._expired = expired
        while not root.closed and root.gap > gap and not self._stopped():
            self._work(root, min(root.above, root.below + max(gap, SLACK) * root.above), gap)

    def _stopped(self) -> bool:
        if self._most is not None and self.unfolded >= self._most:
            return True
        return self._expired is not None and self._expired()

    def probe(self, root: Node, *, work: int, expired: Callable[[], bool] | None = None) -> None:
        """Better the strategy that is at hand: look one step ahead where it matters most, again and again.

        At the node of the present strategy that leaves the most open, the checks that tell the most for
        their cost and the mends that cure the most are each tried as the next step, followed by what is
        known to be good after it. This finds good strategies soon, but proves little;
        :meth:`improve` proves.

        Args:
            root: Where to begin.
            work: Stop after unfolding this many actions.
            expired: Asked after each look; True stops.
        """
        most = self.unfolded + work
        probed: set[int] = set()
        while self.unfolded < most and not (expired is not None and expired()):
            path = self.most_doubtful(root, probed)
            if path is None:
                return
            node = path[-1]
            probed.add(id(node))
            for offer in self._shortlist(node):
                if offer.branches is None and offer.below < node.above:
                    for branch in self.unfold(node, offer):
                        if branch.node is not None:
                            self.order_mends(branch.node)
                    self.carry_up(node, offer)
            for visited in reversed(path[:-1]):
                self.carry_up(visited, self.chosen(visited))

    def most_doubtful(self, root: Node, probed: set[int]) -> list[Node] | None:
        """The way to the node of the present strategy, not probed yet, that leaves the most open."""
        best: tuple[float, list[Node]] | None = None
        stack: list[tuple[float, list[Node]]] = [(1.0, [root])]
        while stack:
            chance, path = stack.pop()
            node = path[-1]
            left = chance * (node.above - node.below)
            if node.closed or (best is not None and left <= best[0]):
                continue
            if id(node) not in probed:
                best = (left, path)
                continue
            offer = self.chosen(node)
            branches = (offer.branches or ()) if offer is not None else ()
            stack.extend(
                (chance * b.chance, [*path, b.node]) for b in branches if b.node is not None
            )
        return None if best is None else best[1]

    def _shortlist(self, node: Node) -> list[Offer]:
        """Actions that promise most for what they cost: some checks, some mends, the device's own check."""
        checks: list[tuple[float, int, Offer]] = []
        mends: list[tuple[float, int, Offer]] = []
        chosen: list[Offer] = []
        for offer in self.visit(node):
            action = offer.action
            if action.kind == "check":
                promise = self.worth.tells(node.belief, action.index) / max(offer.cost, 1e-9)
                checks.append((-promise, action.index, offer))
            elif action.kind == "mend":
                promise = self.worth.cures(node.belief, action.index) / max(offer.cost, 1e-9)
                mends.append((-promise, action.index, offer))
            else:
                chosen.append(offer)
        chosen += [offer for *_, offer in sorted(checks, key=lambda c: c[:2])[:MOST_CHECKS]]
        return chosen + [offer for *_, offer in sorted(mends, key=lambda c: c[:2])[:MOST_MENDS]]

    def straighten(self, root: Node, *, least: float = 0.01, most: int = 400) -> None:
        """Leave out of the present strategy what it is better without.

        The search looks first where the lower bound is least, so that its best strategy may begin with
        something that hardly tells or cures anything. At each node that the strategy comes to, what it
        does after the likeliest outcome is tried without the action before it.

        Args:
            root: Where to begin.
            least: Nodes that are less likely than this are left as they are.
            most: Stop after this many nodes.
        """
        stack = [(1.0, root)]
        looked = 0
        while stack and looked < most:
            chance, node = stack.pop()
            looked += 1
            while not node.closed:
                offer = self.chosen(node)
                if offer is None or not offer.branches:
                    break
                following = max(offer.branches, key=lambda b: b.chance).node
                before = node.above
                if (
                    following is None
                    or self._adopted(node, following, 0) >= before - CLOSED * before
                ):
                    break
            offer = self.chosen(node)
            for branch in (offer.branches or ()) if offer is not None else ():
                reached = chance * branch.chance
                if branch.node is not None and reached >= least:
                    stack.append((reached, branch.node))
        self._carry_up_all(root, set())

    def polish(self, root: Node, *, least: float = 1e-4) -> None:
        """Better the mending orders that the present strategy falls back on.

        Args:
            root: Where to begin.
            least: Nodes that are less likely than this are left as they are.
        """
        stack, seen = [(1.0, root)], {id(root)}
        while stack and len(seen) < MANY_NODES:
            chance, node = stack.pop()
            offer = self.chosen(node)
            if offer is None and not node.closed:
                cost, turn = self.bounds.polished(node.belief, node.state)
                if cost < node.above * (1 - CLOSED):
                    node.above, node.in_turn = max(cost, node.below), turn
            for branch in (offer.branches or ()) if offer is not None else ():
                reached, following = chance * branch.chance, branch.node
                if following is not None and reached >= least and id(following) not in seen:
                    seen.add(id(following))
                    stack.append((reached, following))
        self._carry_up_all(root, set())

    def _adopted(self, node: Node, like: Node, depth: int) -> float:
        """Follow at ``node`` the strategy of another node; returns what the node costs then."""
        offers = self.visit(node)
        wanted = self.chosen(like)
        if wanted is None or depth > MAX_ADOPTED or node is like:
            return node.above
        offer = next((o for o in offers if o.action == wanted.action), None)
        if offer is None:
            offer = self.offer(node, wanted.action)
            if not self.may_be_done(node, wanted.action) or offer.below > node.above:
                return node.above
            offers.append(offer)
        others = {b.outcome: b.node for b in wanted.branches or ()}
        for branch in self.unfold(node, offer):
            other = others.get(branch.outcome)
            if branch.node is not None and other is not None:
                self._adopted(branch.node, other, depth + 1)
        self.carry_up(node, offer)
        return node.above

    def hand_on(self, node: Node, offer: Offer) -> None:
        """After the first action of a mending order the rest of it is at hand: it may be better than what is known."""
        turn = node.in_turn
        if turn is None or offer.action.kind == "stop":
            return
        rest = self.bounds.after(turn, offer.after)
        for branch in self.unfold(node, offer):
            following = branch.node
            if following is not None:
                cost = sum([w * rest.costs[i] for i, _, w in following.belief.pieces])
                if cost < following.above * (1 - CLOSED):
                    following.above, following.in_turn = max(cost, following.below), rest

    def may_be_done(self, node: Node, action: Action) -> bool:
        """Whether an action is allowed and not without any effect."""
        if action.kind == "mend":
            return useful(self.puzzle, node.belief, action.index)
        if action.kind == "final":
            return node.belief.sound_weight(self.puzzle) > NOTHING
        if action.kind == "check":
            bit = 1 << action.index
            return node.belief.known[action.index] < 0 or any(
                s & bit for _, s, _ in node.belief.pieces
            )
        return stop_cost(self.puzzle, node.belief, node.state) is not None

    def _carry_up_all(self, node: Node, seen: set[int]) -> None:
        """Bounds of all nodes of the present strategy, from its ends up."""
        if id(node) in seen or len(seen) > MANY_NODES:
            return
        seen.add(id(node))
        offer = self.chosen(node)
        for branch in (offer.branches or ()) if offer is not None else ():
            if branch.node is not None:
                self._carry_up_all(branch.node, seen)
        for known in list(node.offers or ()):
            if known.branches:
                self.carry_up(node, known)

    def chosen(self, node: Node) -> Offer | None:
        """The action by which ``node.above`` can be had; None to follow ``node.in_turn``."""
        if node.in_turn is not None or not node.offers:
            return None
        return min(
            node.offers, key=lambda offer: (offer.above, offer.action.kind, offer.action.index)
        )

    def visit(self, node: Node) -> list[Offer]:
        """The offers of a node."""
        if node.offers is None:
            node.offers = self._offers(node)
            self.order_mends(node)
            self.carry_up(node)
        return node.offers

    def order_mends(self, node: Node) -> None:
        """Look for a mending order for this very belief."""
        cost, turn = self.bounds.above(node.belief, node.state, fresh=True)
        if cost < node.above:
            node.above, node.in_turn = cost, turn

    def settle(self, node: Node, offer: Offer) -> None:
        """Take over what was found out about an offer of a node since."""
        if node.offers is not None and offer not in node.offers and offer.below <= node.above:
            node.offers.append(offer)
        if node.offers is not None and offer in node.offers:
            self.carry_up(node, offer)

    # --- unfolding --------------------------------------------------------------------------

    def _node(self, belief: Belief, state: State) -> Node:
        sound = self.puzzle.sound
        alive, cured, first = 0, [], 0.0
        for i, stale, weight in belief.pieces:
            if i == sound or stale:
                cured.append((i, stale, round(weight, 9)))
            else:
                alive |= 1 << i
                first = first or weight
        key = (state, belief.used, belief.known, alive, tuple(cured), round(first, 9))
        node = self._nodes.get(key)
        if node is None:
            above, turn = self.bounds.above(belief, state, fresh=False)
            below = min(self.bounds.below(belief, state), above)
            node = self._nodes[key] = Node(belief, state, below, above, turn)
        return node

    def _offers(self, node: Node, *, every: bool = False) -> list[Offer]:
        """What may be done at a node; ``every``: what can't pay for itself as well."""
        puzzle, belief, state = self.puzzle, node.belief, node.state
        offers: list[Offer] = []
        stop = stop_cost(puzzle, belief, state)
        if stop is not None:
            offers.append(Offer(Action("stop"), stop, stop, stop, state, ()))
        some_sound = belief.sound_weight(puzzle)
        for m, mend in enumerate(puzzle.mends):
            if useful(puzzle, belief, m) and (every or self._pays(node, "mend", m)):
                cost, after = puzzle.openings.go(state, len(puzzle.checks) + m)
                offers.append(self._offer(Action("mend", m), cost + mend.cost, after, belief))
        if some_sound > NOTHING:
            cost, after = puzzle.openings.go(state, puzzle.final)
            cost += puzzle.final_cost + some_sound * puzzle.openings.close(after)
            offers.append(self._offer(Action("final"), cost, after, belief))
        for c, check in enumerate(puzzle.checks):
            if self._may_tell(belief, c) and self._pays(node, "check", c):
                cost, after = puzzle.openings.go(state, c)
                offers.append(self._offer(Action("check", c), cost + check.cost, after, belief))
        return offers

    def _may_tell(self, belief: Belief, check: int) -> bool:
        """Whether a check can tell anything, now or by being done again after a mend."""
        if belief.known[check] >= 0:
            return any(stale >> check & 1 for _, stale, _ in belief.pieces)
        return len(belief.pieces) > 1 or self.worth.can_change(belief, check) > 0

    def all_offers(self, node: Node) -> list[Offer]:
        """Every action that may be done at a node, those included that were dropped as too dear."""
        known = {offer.action: offer for offer in self.visit(node)}
        return [known.get(offer.action, offer) for offer in self._offers(node, every=True)]

    def offer(self, node: Node, action: Action) -> Offer:
        """One action at a node, whether it is the best or not."""
        if action.kind == "stop":
            cost = (self.puzzle.worth or 0.0) + self.puzzle.openings.close(node.state)
            return Offer(action, cost, cost, cost, node.state, ())
        puzzle, cost = self.puzzle, 0.0
        if action.kind == "check":
            number, cost = action.index, puzzle.checks[action.index].cost
        elif action.kind == "mend":
            number, cost = len(puzzle.checks) + action.index, puzzle.mends[action.index].cost
        else:
            number, cost = puzzle.final, puzzle.final_cost
        opening, after = puzzle.openings.go(node.state, number)
        cost += opening
        if action.kind == "final":
            cost += node.belief.sound_weight(puzzle) * puzzle.openings.close(after)
        return self._offer(action, cost, after, node.belief)

    def _pays(self, node: Node, kind: str, index: int) -> bool:
        if not self._weigh:
            return True
        if kind == "check":
            return self.worth.check_pays(node.belief, index)
        return self.worth.mend_pays(node.belief, index)

    def _offer(self, action: Action, cost: float, after: State, belief: Belief) -> Offer:
        """An action that is not unfolded yet, with the bound of somebody who knows the cause after it."""
        sound = self.puzzle.sound
        if action.kind == "mend":
            mend = self.puzzle.mends[action.index]
            row = self.bounds.row(belief.used | 1 << action.index, after)
            rest = 0.0
            for i, _, weight in belief.pieces:
                effects = mend.effects.get(i)
                if effects:
                    rest += weight * sum(e.chance * row[e.state] for e in effects)
                else:
                    rest += weight * row[i]
        else:
            row = self.bounds.row(belief.used, after)
            left = action.kind == "check"
            rest = sum([w * row[i] for i, _, w in belief.pieces if left or i != sound])
        return Offer(action, cost, cost + rest, float("inf"), after)

    def unfold(self, node: Node, offer: Offer) -> tuple[Branch, ...]:
        """The outcomes of an action, worked out once."""
        if offer.branches is not None:
            return offer.branches
        self.unfolded += 1
        puzzle, action = self.puzzle, offer.action
        branches: list[Branch] = []
        if action.kind == "check":
            names = puzzle.checks[action.index].outcomes
            for name, (chance, belief) in zip(
                names, after_check(puzzle, node.belief, action.index), strict=True
            ):
                if belief is not None:
                    branches.append(Branch(name, chance, self._node(belief, offer.after)))
        elif action.kind == "mend":
            belief = after_mend(puzzle, node.belief, action.index)
            branches.append(Branch("done", 1.0, self._node(belief, offer.after)))
        else:
            chance, belief_or_none = after_failed_final(puzzle, node.belief)
            branches.append(Branch("works", 1.0 - chance, None))
            if belief_or_none is not None:
                branches.append(Branch("faulty", chance, self._node(belief_or_none, offer.after)))
        offer.branches = tuple(branches)
        return offer.branches

    def _work(self, node: Node, limit: float, gap: float = 0.0) -> None:
        """Unfold below ``node`` until its lower bound exceeds ``limit``, its bounds meet, or the search stops.

        As long as the best action stays below the next best there is no need to look from further up.
        """
        offers = self.visit(node)
        while node.below <= limit and not node.closed and node.gap > gap:
            best, second = _two_least(offers)
            most = min(limit, second, node.above)
            if best.branches is None:
                self.unfold(node, best)
            else:
                branch = _most_open(best)
                if branch is not None and branch.node is not None:
                    room = (most - best.below) / branch.chance + SLACK * node.above
                    self._work(branch.node, branch.node.below + room)
            offers = self.carry_up(node, best)
            if self._stopped():
                return

    def carry_up(self, node: Node, changed: Offer | None = None) -> list[Offer]:
        """New bounds of a node after one of its offers has changed; offers that are too dear are dropped."""
        offers = node.offers or []
        if changed is not None:
            low = high = changed.cost
            for branch in changed.branches or ():
                if branch.node is not None:
                    low += branch.chance * branch.node.below
                    high += branch.chance * branch.node.above
            changed.below, changed.above = max(changed.below, low), high
        above = min([offer.above for offer in offers])
        if above <= node.above:
            node.above = above
            node.in_turn = None
        node.below = min(max(node.below, min([offer.below for offer in offers])), node.above)
        limit = node.above * (1 + CLOSED)
        if max([offer.below for offer in offers]) > limit:
            offers = node.offers = [offer for offer in offers if offer.below <= limit]
        return offers


def _two_least(offers: list[Offer]) -> tuple[Offer, float]:
    """The offer with the least lower bound, and the next least lower bound."""
    best, second = offers[0], float("inf")
    for offer in offers[1:]:
        if offer.below < best.below:
            best, second = offer, best.below
        elif offer.below < second:
            second = offer.below
    return best, second


def _most_open(offer: Offer) -> Branch | None:
    """The outcome that leaves the most open; None where nothing is."""
    best: Branch | None = None
    most = 0.0
    for branch in offer.branches or ():
        if branch.node is not None and not branch.node.closed:
            left = branch.chance * (branch.node.above - branch.node.below)
            if left > most:
                best, most = branch, left
    return best
