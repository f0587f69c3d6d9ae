"""How wrong a number may be before another action comes first.

The proposed strategy and the one that begins with the runner-up are both kept as they are and
weighed anew with another prior or another chance; where their costs meet, the choice flips. Each strategy
could be bettered for the new number, so that the figures say about where it flips, not exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from lastscrew.faults.advice import Advice, work_of
from lastscrew.faults.model import FaultModel
from lastscrew.faults.puzzle import Check
from lastscrew.faults.search import Node, Offer, Search
from lastscrew.faults.strategy import costs_by_piece, costs_first

MOST_FACTOR: Final = 20.0
"""Priors that would have to be wrong by more than this do not count."""
STEPS: Final = 24


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
    """

    what: str
    fault: str
    now: float
    flips_at: float
    factor: float
    other: str


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
    found = [*_prior_flips(model, advice, rival), *_chance_flips(model, advice, rival)]
    found.sort(key=lambda flip: (_distance(flip), flip.what, flip.fault))
    return tuple(found[:most])


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
