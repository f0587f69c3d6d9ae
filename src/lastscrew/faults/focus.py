"""A closer look at the likeliest causes: a better bound from below, and a strategy that is good for them.

The least expected cost is concave in the belief: whoever is told to which group the cause belongs pays no more
on average. Somebody who knows the cause is told the most; here only those causes are told that are not among the
likeliest few, and those machines which none of their mends would cure. What is left is a small job in which
some mend is sure to help, and its search comes to an end soon. Its lower bound, with what is paid for
those that were told, bounds the whole job; its strategy, followed as far as it goes, is one for the
whole job. That a bound may tell more than anybody knows is common in stochastic programming ("information
relaxation", Brown, Smith and Sun, 2010, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from lastscrew.faults.bounds import single_causes
from lastscrew.faults.groups import Kind, gain_of_group, puzzle_of
from lastscrew.faults.guided import Guided
from lastscrew.faults.puzzle import NOTHING, Belief
from lastscrew.faults.search import Node, Search

SIZES: Final = (3, 4, 5, 6, 7, 8, 9, 10, 12, 14)
"""Causes of the group that is looked at, growing as long as its search comes to an end."""
FOLLOWING: Final = 5
"""Causes of each further group."""
LATER_SIZES: Final = (4, 7)
"""Causes that are looked at where a strategy has come to."""
ENOUGH: Final = 0.005
"""A group whose bounds are this near to each other, as a share, needs no more search."""
FAR: Final = 0.04
"""A group whose bounds are farther apart than this after all its work ends the growing."""
MOST_MENDS_OF_ONE: Final = 3
"""A cause with more mends that are left is in no group."""
LEAST_CHANCE: Final = 1e-4
"""Less likely outcomes of a strategy are not taken over."""
MOST_TAKEN: Final = 3_000
"""Steps of a strategy that are taken over."""
MOST_WORK: Final = 8_000
"""Actions unfolded for each size of group at most: a few seconds."""
SHARE: Final = 0.25
"""A group at the root may take this part of all work,"""
LATER_SHARE: Final = 0.04
"""and one further on this part of that."""
LOOKS: Final = 20
"""Closer looks where the strategy leaves the most open."""
GROUPS: Final = (4, 5, 6, 8, 10, 12)
"""Causes of the groups in which the machines that no mend cures stay, growing as long as that pays."""
GROUP_SHARE: Final = 0.5
"""Each of them may take this part of all work,"""
MOST_OF_GROUP: Final = 100_000
"""and no more actions than these: half a minute."""
GUIDED_SHARE: Final = 0.05
MOST_GUIDED: Final = 600
"""Actions unfolded by a guess, before and after the closer looks."""
LEAST_WORK: Final = 40
"""Actions unfolded to find a strategy of a group, before its bounds are brought together."""


def look_closer(
    search: Search, root: Node, *, work: int, expired: Callable[[], bool] | None = None
) -> int:
    """Better both bounds of the root of a large job; returns how many actions were unfolded in groups.

    Args:
        search: The search.
        root: Where the job stands.
        work: Actions to unfold. Each group may take a part of it, all groups together somewhat more than all of it.
        expired: Asked now and then; True stops.
    """
    focus = Focus(search, expired=expired)
    if root.closed:
        return 0
    guided = Guided(search)
    steps = min(MOST_GUIDED, round(GUIDED_SHARE * work))
    guided.go(root, work=steps, expired=expired)
    search.straighten(root)
    search.polish(root)
    if focus.applies and not root.closed:
        share = min(MOST_WORK, round(SHARE * work))
        focus.look(root, sizes=SIZES, work=share, all_groups=True)
        most = min(MOST_OF_GROUP, round(GROUP_SHARE * work))
        focus.look_at_all(root, sizes=GROUPS, work=most)
        focus.follow(root, looks=LOOKS, work=round(LATER_SHARE * share))
        search.straighten(root)
        search.polish(root)
        guided.go(root, work=steps, expired=expired)
        search.polish(root)
    return focus.unfolded


class Focus:
    """Closer looks for one search, at whatever node of it."""

    def __init__(self, search: Search, *, expired: Callable[[], bool] | None = None) -> None:
        """Take over the search; ``expired`` is asked now and then, True stops."""
        self.search = search
        self._expired = expired
        self._taken = 0
        self.unfolded = 0

    @property
    def applies(self) -> bool:
        """Whether there is anything to look at: single causes, and no price for giving up."""
        return self.search.puzzle.worth is None and single_causes(self.search.puzzle)

    def look(self, node: Node, *, sizes: Sequence[int], work: int, all_groups: bool) -> None:
        """Better both bounds of a node, if that can be had so.

        Args:
            node: A node of the search.
            sizes: How many of the likeliest causes, growing.
            work: Actions to unfold for each size.
            all_groups: Look at groups of the less likely causes as well, for the bound from below.
        """
        search = self.search
        search.visit(node)
        ranked = self._ranked(node)
        gain, told = 0.0, 0
        for size in sorted({min(size, len(ranked)) for size in sizes}):
            if size < 2 or self._stopped() or node.closed:
                break
            inner, group, more = self._solved(node, ranked[:size], work, with_sound=True)
            if more > gain:
                gain, told = more, size
            self._take_over(node, inner, group)
            if group.gap > FAR or more < gain:
                break
        if told and all_groups:
            gain += self._gain_of_rest(node, ranked[told:], work // 20)
        below = search.bounds.below(node.belief, node.state) + gain
        node.below = min(max(node.below, below), node.above)

    def look_at_all(self, node: Node, *, sizes: Sequence[int], work: int) -> None:
        """Better the lower bound by groups in which those machines stay that no mend cures.

        Args:
            node: A node of the search.
            sizes: How many of the likeliest causes.
            work: Actions to unfold for each.
        """
        search, ranked, most = self.search, self._ranked(node), 0.0
        for size in sorted({min(size, len(ranked)) for size in sizes}):
            if size < 2 or self._stopped() or node.closed:
                break
            gain, unfolded = gain_of_group(
                search,
                node,
                self.kinds(node.belief, ranked[:size], lost=True),
                work=work,
                expired=self._expired,
            )
            self.unfolded += unfolded
            gain += self._gain_of_rest(node, ranked[size:], max(LEAST_WORK, work // 20))
            below = search.bounds.below(node.belief, node.state) + gain
            node.below = min(max(node.below, below), node.above)
            if unfolded >= work and gain < most:
                break
            most = max(most, gain)

    def _gain_of_rest(self, node: Node, rest: Sequence[int], work: int) -> float:
        """How much groups of the less likely causes cost more than if the cause were known."""
        gain = 0.0
        for begin in range(0, len(rest) - 1, FOLLOWING):
            if self._stopped():
                break
            group = rest[begin : begin + FOLLOWING]
            gain += max(0.0, self._solved(node, group, work, with_sound=False)[2])
        return gain

    def follow(self, root: Node, *, looks: int, work: int) -> None:
        """Look, again and again, where the present strategy leaves the most open."""
        search = self.search
        looked: set[int] = set()
        for _ in range(looks):
            path = search.most_doubtful(root, looked)
            if path is None or self._stopped():
                return
            looked.add(id(path[-1]))
            self.look(path[-1], sizes=LATER_SIZES, work=work, all_groups=False)
            for visited in reversed(path[:-1]):
                search.carry_up(visited, search.chosen(visited))

    def _stopped(self) -> bool:
        return self._expired is not None and self._expired()

    # --- a group ------------------------------------------------------------------------------

    def _ranked(self, node: Node) -> list[int]:
        """Causes that can be in a group, likeliest first."""
        weights: dict[int, float] = {}
        for cause, _, weight in node.belief.pieces:
            left = 0 if cause == self.search.puzzle.sound else len(self._left(cause, node.belief))
            if 0 < left <= MOST_MENDS_OF_ONE:
                weights[cause] = weights.get(cause, 0.0) + weight
        return sorted(weights, key=lambda cause: (-weights[cause], cause))

    def _left(self, cause: int, belief: Belief) -> list[tuple[int, float]]:
        """Mends of a cause that were not tried, with their chance to cure."""
        sound = self.search.puzzle.sound
        return [
            (m, sum([e.chance for e in mend.effects[cause] if e.state == sound]))
            for m, mend in enumerate(self.search.puzzle.mends)
            if cause in mend.effects and not belief.used >> m & 1
        ]

    def kinds(self, belief: Belief, causes: Sequence[int], *, lost: bool = False) -> list[Kind]:
        """The machines with these causes, apart by what would cure them; ``lost``: those past mending as well."""
        found: list[Kind] = []
        for cause, _, weight in belief.pieces:
            if cause in causes:
                split = [(0, weight)]
                for m, chance in self._left(cause, belief):
                    split = [
                        part
                        for mends, share in split
                        for part in (
                            (mends, share * (1 - chance)),
                            (mends | 1 << m, share * chance),
                        )
                    ]
                found += [
                    Kind(cause, mends, share)
                    for mends, share in split
                    if share > NOTHING and (mends or lost)
                ]
        return found

    def _solved(
        self, node: Node, causes: Sequence[int], work: int, *, with_sound: bool
    ) -> tuple[Search, Node, float]:
        """The search of a group, its root, and how much more it costs at least than if the cause were known."""
        puzzle, belief, bounds = self.search.puzzle, node.belief, self.search.bounds
        kinds = self.kinds(belief, causes)
        cured = [p for p in belief.pieces if p[0] == puzzle.sound] if with_sound else []
        total = sum([kind.weight for kind in kinds]) + sum([weight for _, _, weight in cured])
        pieces = [(k, 0, kind.weight / total) for k, kind in enumerate(kinds)]
        pieces += [(len(kinds), stale, weight / total) for _, stale, weight in cured]
        inner = Search(puzzle_of(puzzle, kinds, total))
        group = inner.root(Belief(tuple(pieces), belief.known, belief.used), node.state)
        inner.probe(group, work=min(LEAST_WORK, work), expired=self._expired)
        inner.improve(group, gap=ENOUGH, work=work, expired=self._expired)
        inner.straighten(group)
        self.unfolded += inner.unfolded
        row = bounds.row(belief.used, node.state)
        if_known = sum([weight * row[puzzle.sound] for _, _, weight in cured])
        for cause, _, weight in belief.pieces:
            if cause in causes:
                past = bounds.uncured(cause, belief.used, node.state)
                if_known += weight * (row[cause] - past)
        return inner, group, total * group.below - if_known

    # --- its strategy -------------------------------------------------------------------------

    def _take_over(self, node: Node, inner: Search, group: Node) -> None:
        """Follow the strategy of a group at a node of the whole job, as far as it goes."""
        self._taken = 0
        self._follow_at(node, inner, group, 1.0)

    def _follow_at(self, node: Node, inner: Search, like: Node, chance: float) -> None:
        search = self.search
        offers = search.visit(node)
        wanted = inner.chosen(like)
        if wanted is None or wanted.action.kind == "stop":
            return
        if (
            chance < LEAST_CHANCE
            or self._taken >= MOST_TAKEN
            or not search.may_be_done(node, wanted.action)
        ):
            return
        offer = next((o for o in offers if o.action == wanted.action), None)
        if offer is None:
            offer = search.offer(node, wanted.action)
            if offer.below > node.above:
                return
            offers.append(offer)
        self._taken += 1
        others = {branch.outcome: branch.node for branch in wanted.branches or ()}
        for branch in search.unfold(node, offer):
            other = others.get(branch.outcome)
            if branch.node is not None and other is not None:
                self._follow_at(branch.node, inner, other, chance * branch.chance)
            elif branch.node is not None:
                search.visit(branch.node)
        search.carry_up(node, offer)
