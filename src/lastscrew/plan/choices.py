"""What a half-decided turning set still lacks: alternatives, and the least they can cost.

A decided set of joints may not be able to open itself: some joint in it asks for one of several
others that are not in it. Each such demand is a list of *alternatives*, sets of joints to add, of
which every way in adds at least one whole.
"""

from __future__ import annotations

from lastscrew.plan.compiled import EVERYTHING, Option, bits
from lastscrew.plan.selection import Selection

Alternatives = list[int]


def demands(selection: Selection, lm: list[int], forced: int, out: int) -> list[Alternatives]:
    """Demands of the forced joints that no option supports with forced joints alone.

    Args:
        selection: The joints that matter.
        lm: Landmarks of every joint while ``out`` stay closed.
        forced: Joints that are opened in any case, closed under landmarks.
        out: Joints that stay closed.
    """
    found: list[Alternatives] = []
    for j in bits(forced):
        offers: list[list[Alternatives]] = []
        for option in selection.options[j]:
            lacking = _lacking(option, lm, forced, out)
            if lacking is None:
                continue
            if not lacking:
                offers = []
                break
            offers.append(lacking)
        if len(offers) == 1:
            found.extend(offers[0])
        elif offers:
            found.append([one for lacking in offers for one in _dearest(selection, lacking)])
    return found


def _lacking(option: Option, lm: list[int], forced: int, out: int) -> list[Alternatives] | None:
    """What the option still asks for; None when it can't be used any more."""
    if option.units & out:
        return None
    needs = option.units & ~forced
    for u in bits(needs):
        if lm[u] == EVERYTHING:
            return None
        needs |= lm[u] & ~forced
    if needs & out:
        return None
    lacking = [[1 << j] for j in bits(needs)]
    for clause in option.clauses:
        if clause & forced:
            continue
        choices = [lm[k] & ~forced for k in bits(clause & ~out) if lm[k] != EVERYTHING]
        if not choices:
            return None
        lacking.append(choices)
    return lacking


def _dearest(selection: Selection, lacking: list[Alternatives]) -> Alternatives:
    """One demand that stands for an option: all of its certain joints, or its dearest choice."""
    certain = 0
    best: Alternatives = []
    most = -1
    for choices in lacking:
        if len(choices) == 1:
            certain |= choices[0]
            continue
        least = min(selection.weigh(choice) for choice in choices)
        if least > most:
            best, most = choices, least
    return [choice | certain for choice in best] or [certain]


def least_weight(selection: Selection, wanted: list[Alternatives]) -> int:
    """A lower bound on the weight of adding one alternative of every demand.

    Demands are taken one after the other, dearest first. Each charges its cheapest alternative, and what
    it charges is taken off the joints of all its alternatives, so that nothing is charged twice.
    """
    weight = selection.weight
    left: dict[int, int] = {}
    total = 0
    ranked = sorted(wanted, key=lambda d: (-min(selection.weigh(a) for a in d), d))
    for alternatives in ranked:
        charge = min(sum(left.get(j, weight[j]) for j in bits(a)) for a in alternatives)
        if not charge:
            continue
        total += charge
        paid: dict[int, int] = {}
        for alternative in alternatives:
            owed = charge - sum(paid.get(j, 0) for j in bits(alternative))
            for j in bits(alternative):
                if owed <= 0:
                    break
                share = min(owed, left.get(j, weight[j]) - paid.get(j, 0))
                paid[j] = paid.get(j, 0) + share
                owed -= share
        for j, amount in paid.items():
            left[j] = left.get(j, weight[j]) - amount
    return total


def cheapest(selection: Selection, wanted: list[Alternatives]) -> int:
    """The cheapest alternative of the demand that costs most: the set to add, or to decide about."""
    weigh = selection.weigh
    dearest = max(wanted, key=lambda d: (min(weigh(a) for a in d), d))
    return min(dearest, key=lambda a: (weigh(a), a))
