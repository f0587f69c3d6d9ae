"""How wrong a number may be before another action comes first.

Priors in a small model: the strategy is searched anew for other priors, until the point is found where another
action comes first. In a large one, and for chances: the proposed strategy and the one that begins with the
runner-up are both kept as they are and weighed anew; where their costs meet, the choice flips. Each could be
bettered for the new number, so that these figures say about where it flips, not exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt
from typing import Final

from lastscrew.faults.advice import Advice, id_of, next_offer, percent, work_of
from lastscrew.faults.model import FaultModel
from lastscrew.faults.puzzle import Action, Belief, Check
from lastscrew.faults.search import Node, Offer, Search
from lastscrew.faults.strategy import costs_by_piece, costs_first

MOST_FACTOR: Final = 20.0
"""Priors that would have to be wrong by more than this do not count."""
STEPS: Final = 24
HAIR: Final = 1.05
"""A factor on a prior below it is not told as a figure."""
SEARCHED: Final = 4
"""Likeliest faults whose priors are tried in a small model."""
SAME: Final = 1e-6
"""Actions whose costs differ by less, as a share, are as good as each other."""
LADDER: Final = (1.2, 1.5, 2.0, 3.0, 5.0, 10.0, MOST_FACTOR)
"""Factors that are tried in turn, so that the nearest flip is found."""
HALVINGS: Final = 4
"""After them a flip is found to a few hundredths."""
MOST_WORK: Final = 4_000
"""Actions unfolded for all of them together."""


@dataclass(frozen=True, slots=True)
class Flip:
    """A number that would change the choice.

    Attributes:
        what: ``prior`` of a fault, or ``chance`` of an outcome of the proposed check with that fault.
        fault: The fault.
        now: The number now (a prior as the fault's chance now).
        flips_at: The number at which the runner-up becomes as good.
        factor: How far that is, as a factor on the number (prior only, else 1).
        other: The action that would come first then.
        searched: Found by searching anew, not by weighing kept strategies.
    """

    what: str
    fault: str
    now: float
    flips_at: float
    factor: float
    other: str
    searched: bool = False


def flips(model: FaultModel, advice: Advice, *, most: int = 5) -> tuple[Flip, ...]:
    """Numbers that would change the choice, those first that need change least.

    Args:
        model: The model.
        advice: What is proposed.
        most: Most flips that are told.
    """
    if advice.next is None or advice.runner_up is None:
        return ()
    search, node = advice.search, advice.node
    rival = _offer_of(model, search, node, advice.runner_up.id)
    if rival is None:
        return ()
    found = _chance_flips(model, advice, rival)
    found += _searched_flips(model, advice) if advice.proven else _prior_flips(model, advice, rival)
    found.sort(key=lambda flip: (_distance(flip), flip.what, flip.fault))
    return tuple(found[:most])


def is_hair(flip: Flip) -> bool:
    """Whether a number need change so little that no figure would show it."""
    if flip.what == "prior":
        return max(flip.factor, 1 / flip.factor) < HAIR
    return percent(flip.now) == percent(flip.flips_at)


def _distance(flip: Flip) -> float:
    if flip.what == "prior":
        return max(flip.factor, 1 / flip.factor) - 1
    return 4 * abs(flip.flips_at - flip.now)


def _offer_of(model: FaultModel, search: Search, node: Node, ident: str) -> Offer | None:
    for offer in search.all_offers(node):
        work = work_of(model, offer.action)
        if (work.id if work is not None else "stop") == ident:
            search.unfold(node, offer)
            return offer
    return None


def _prior_flips(model: FaultModel, advice: Advice, rival: Offer) -> list[Flip]:
    """Factors on the prior of single faults: weights of all causes with the fault, linear in the factor."""
    search, node = advice.search, advice.node
    own, other = costs_by_piece(search, node), costs_first(search, node, rival)
    rest = dict.fromkeys(range(len(model.faults)), 0.0)
    part = dict(rest)
    chance = dict(rest)
    total = 0.0
    for state, stale, weight in node.belief.pieces:
        differs = weight * (other[state, stale] - own[state, stale])
        total += differs
        if state < len(model.causes):
            for fault in model.causes[state]:
                part[fault] += differs
                chance[fault] += weight
    found: list[Flip] = []
    for fault, own_part in part.items():
        others = total - own_part
        if own_part * others >= 0 or not chance[fault]:
            continue
        factor = -others / own_part
        if 1 / MOST_FACTOR <= factor <= MOST_FACTOR:
            p = chance[fault]
            then = p * factor / (1 - p + p * factor)
            name = model.faults[fault].id
            found.append(
                Flip(
                    "prior", name, p, then, factor, advice.runner_up.id if advice.runner_up else ""
                )
            )
    return found


def _searched_flips(model: FaultModel, advice: Advice) -> list[Flip]:
    """Priors that bring another action first, by searching anew; the nearest of each fault, both ways."""
    trial = _Trial(model, advice)
    numbers = {fault.id: f for f, fault in enumerate(model.faults)}
    found: list[Flip] = []
    for name, p in advice.posterior[:SEARCHED]:
        for ladder in (LADDER, tuple(1 / factor for factor in LADDER)):
            factor = trial.nearest(numbers[name], ladder) if 0 < p < 1 else None
            if trial.exhausted:
                return found
            if factor is not None:
                then = p * factor / (1 - p + p * factor)
                other = id_of(model, trial.action(numbers[name], factor))
                found.append(Flip("prior", name, p, then, factor, other, searched=True))
    return found


class _Trial:
    """Searches anew for other priors, as long as there is work left."""

    def __init__(self, model: FaultModel, advice: Advice) -> None:
        self.model, self.search, self.node = model, advice.search, advice.node
        self.first = next_offer(self.search, self.node).action
        self.most = self.search.unfolded + MOST_WORK

    @property
    def exhausted(self) -> bool:
        return self.search.unfolded >= self.most

    def nearest(self, fault: int, ladder: tuple[float, ...]) -> float | None:
        """The least factor, in the order of the ladder, with which another action comes first."""
        short = 1.0
        for beyond in ladder:
            if self.action(fault, beyond) == self.first:
                short = beyond
                continue
            for _ in range(HALVINGS):
                middle = sqrt(short * beyond)
                if self.action(fault, middle) == self.first:
                    short = middle
                else:
                    beyond = middle  # noqa: PLW2901  (the loop ends here)
            return beyond
        return None

    def action(self, fault: int, factor: float) -> Action:
        """What comes first with another prior; the present choice where it is as good."""
        belief = _reweighed(self.model, self.node.belief, fault, factor)
        node = self.search.root(belief, self.node.state)
        self.search.improve(node, work=max(0, self.most - self.search.unfolded))
        action = next_offer(self.search, node).action
        for offer in node.offers or ():
            if offer.action == self.first and offer.above - node.above <= SAME * node.above:
                return self.first
        return action


def _reweighed(model: FaultModel, belief: Belief, fault: int, factor: float) -> Belief:
    """The belief as it would be with another prior of a fault."""
    pieces = [
        (
            state,
            stale,
            w * factor if state < len(model.causes) and fault in model.causes[state] else w,
        )
        for state, stale, w in belief.pieces
    ]
    total = sum(w for _, _, w in pieces)
    scaled = tuple((state, stale, w / total) for state, stale, w in pieces)
    return Belief(scaled, belief.known, belief.used)


def _chance_flips(model: FaultModel, advice: Advice, rival: Offer) -> list[Flip]:
    """Chances of the bad outcome of the proposed check, for the likeliest faults."""
    proposal, search, node = advice.next, advice.search, advice.node
    if proposal is None or proposal.kind != "check" or len(model.causes) != len(model.faults):
        return []
    ids = [work.id for work in model.checks]
    if proposal.id not in ids or len(model.checks[ids.index(proposal.id)].outcomes) != 2:
        return []
    index = ids.index(proposal.id)
    found: list[Flip] = []
    numbers = {fault.id: f for f, fault in enumerate(model.faults)}
    for fault, p in advice.posterior[:3]:
        cause = numbers[fault]
        now = search.puzzle.checks[index].likelihood[1][cause]
        if p <= 0 or node.belief.known[index] >= 0:
            continue
        at = _crossing(search, node, rival, index, cause)
        if at is not None:
            other = advice.runner_up.id if advice.runner_up else ""
            found.append(Flip("chance", fault, now, at, 1.0, other))
    return found


def _crossing(search: Search, node: Node, rival: Offer, index: int, cause: int) -> float | None:
    """Where both strategies cost the same, on the side of the present number that is nearest."""
    now = search.puzzle.checks[index].likelihood[1][cause]
    here = _difference(search, node, rival, (index, cause, now))
    for end in sorted((0.0, 1.0), key=lambda e: abs(e - now)):
        if here * _difference(search, node, rival, (index, cause, end)) < 0:
            low, high = now, end
            for _ in range(STEPS):
                middle = (low + high) / 2
                if here * _difference(search, node, rival, (index, cause, middle)) > 0:
                    low = middle
                else:
                    high = middle
            return (low + high) / 2
    return None


def _difference(search: Search, node: Node, rival: Offer, changed: tuple[int, int, float]) -> float:
    """Cost of the rival less that of the proposal, with one chance changed."""
    index, cause, value = changed
    puzzle = search.puzzle
    check = puzzle.checks[index]
    rows = [list(row) for row in check.likelihood]
    rows[0][cause], rows[1][cause] = 1 - value, value
    other = Check(check.id, check.cost, check.outcomes, tuple(tuple(row) for row in rows))
    changed_puzzle = replace(
        puzzle, checks=(*puzzle.checks[:index], other, *puzzle.checks[index + 1 :])
    )
    own = costs_by_piece(search, node, changed_puzzle)
    first = costs_first(search, node, rival, changed_puzzle)
    return sum(w * (first[s, stale] - own[s, stale]) for s, stale, w in node.belief.pieces)
