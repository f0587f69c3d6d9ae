"""What may be wrong, worked out by a Bayesian-network library (aGrUM) from the numbers of a device file.

The network has one node for each fault, two-valued. In the file a fault's prior is its share: the faults come with
odds in proportion to their shares, and a node that counts them is observed to be one; where two at once are asked for,
one or two, with the weights that give two its share. Symptoms are the library's noisy-or nodes with a leak. A check's
outcome is the library's maximum over what each fault that is there, and the leak, bring about by themselves.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

with warnings.catch_warnings():  # the library's wrapper warns while it is loaded
    warnings.simplefilter("ignore")
    import pyagrum

gum: Any = pyagrum
"""The library, whose wrapper has no types."""

ODDS = 0.37
"""Odds of a fault with the whole share; any will do, since the number of faults is observed."""


@dataclass(frozen=True)
class Figures:
    """The numbers of a device file.

    Attributes:
        shares: Share of each fault.
        symptoms: For each symptom its leak and its chance by fault.
        checks: For each check the chances of its outcomes, the mildest first, of the leak and by fault.
        second: Share of jobs with two faults at once.
    """

    shares: Mapping[str, float]
    symptoms: Mapping[str, tuple[float, Mapping[str, float]]]
    checks: Mapping[str, tuple[tuple[float, ...], Mapping[str, tuple[float, ...]]]] = field(
        default_factory=dict
    )
    second: float = 0.0


class Network:
    """The network of one device."""

    def __init__(self, figures: Figures) -> None:
        self.figures = figures
        self.net: Any = gum.BayesNet()
        self.faults = sorted(figures.shares)
        total = sum(figures.shares.values())
        for fault in self.faults:
            odds = ODDS * figures.shares[fault] / total
            self._variable(fault, 2)
            self.net.cpt(fault).fillWith([1 / (1 + odds), odds / (1 + odds)])
        self._add_count()
        for symptom, (leak, chances) in figures.symptoms.items():
            self.net.addNoisyORNet(gum.LabelizedVariable(symptom, symptom, 2), leak)
            for fault, chance in chances.items():
                self.net.addWeightedArc(fault, symptom, chance)
        for check, (leaks, given) in figures.checks.items():
            self._add_check(check, leaks, given)

    def chances(
        self, shown: Sequence[str], lacked: Sequence[str], outcomes: Mapping[str, int]
    ) -> tuple[dict[str, float], float]:
        """Chance of each fault after what was seen, and the chance of what was seen."""
        seen: dict[str, Any] = dict.fromkeys(shown, 1) | dict.fromkeys(lacked, 0) | dict(outcomes)
        engine = gum.LazyPropagation(self.net)
        engine.setEvidence(seen | {"count": self._count_weights()})
        engine.makeInference()
        posterior = {fault: float(engine.posterior(fault)[1]) for fault in self.faults}
        known = gum.LazyPropagation(self.net)
        known.setEvidence({"count": self._count_weights()})
        return posterior, float(engine.evidenceProbability() / known.evidenceProbability())

    def _count_weights(self) -> list[float]:
        """How much each number of faults counts: so that one and two have the shares that are asked for."""
        engine = gum.LazyPropagation(self.net)
        engine.makeInference()
        chance = engine.posterior("count").tolist()
        weights = [0.0] * len(chance)
        weights[1] = (1 - self.figures.second) / chance[1]
        weights[2] = self.figures.second / chance[2]
        return [weight / max(weights) for weight in weights]

    def _variable(self, name: str, values: int) -> None:
        self.net.add(gum.LabelizedVariable(name, name, values))

    def _add_count(self) -> None:
        """How many faults there are, counted one after the other: none, one, two, more."""
        before = ""
        for number, fault in enumerate(self.faults):
            name = "count" if number == len(self.faults) - 1 else f"count_{number}"
            self._variable(name, 4)
            self.net.addArc(fault, name)
            if before:
                self.net.addArc(before, name)
            for there in (0, 1):
                for so_far in range(4) if before else (0,):
                    case = {fault: there} | ({before: so_far} if before else {})
                    now = min(3, so_far + there)
                    self.net.cpt(name)[case] = [float(k == now) for k in range(4)]
            before = name

    def _add_check(
        self, check: str, leaks: Sequence[float], given: Mapping[str, tuple[float, ...]]
    ) -> None:
        self.net.addMAX(gum.LabelizedVariable(check, check, len(leaks)))
        leak = f"{check}_leak"
        self._variable(leak, len(leaks))
        self.net.cpt(leak).fillWith(list(leaks))
        self.net.addArc(leak, check)
        for fault, chances in given.items():
            by_itself = f"{check}_{fault}"
            self._variable(by_itself, len(leaks))
            self.net.addArc(fault, by_itself)
            self.net.cpt(by_itself)[{fault: 0}] = [1.0] + [0.0] * (len(leaks) - 1)
            self.net.cpt(by_itself)[{fault: 1}] = list(chances)
            self.net.addArc(by_itself, check)


def chances_with_repeats(
    shares: Sequence[float],
    rows: Sequence[tuple[float, float]],
    sound: tuple[float, float],
    cured: Sequence[float],
    seen: tuple[int, int],
) -> list[float]:
    """A check, a mend, the same check again, with one fault: what is the case then, the last value for sound.

    Args:
        shares: Share of each fault.
        rows: Chances of good and bad of the check for each fault.
        sound: The same for a sound machine.
        cured: Chance that the mend cures each fault.
        seen: Outcomes before and after the mend.
    """
    count = len(shares)
    net: Any = gum.BayesNet()
    for name, values in (
        ("before", count),
        ("after", count + 1),
        ("first", 2),
        ("fresh", 2),
        ("again", 2),
    ):
        net.add(gum.LabelizedVariable(name, name, values))
    for tail, head in (
        ("before", "after"), ("before", "first"), ("after", "fresh"), ("before", "again"), ("after", "again"),
        ("first", "again"), ("fresh", "again"),
    ):  # fmt: skip
        net.addArc(tail, head)
    net.cpt("before").fillWith([share / sum(shares) for share in shares])
    for cause in range(count):
        stays = [0.0] * (count + 1)
        stays[cause], stays[count] = 1 - cured[cause], cured[cause]
        net.cpt("after")[{"before": cause}] = stays
        net.cpt("first")[{"before": cause}] = list(rows[cause])
        net.cpt("fresh")[{"after": cause}] = list(rows[cause])
        for now in range(count + 1):
            changed = now == count and rows[cause] != sound
            for first in (0, 1):
                for fresh in (0, 1):
                    shown = fresh if changed else first
                    case = {"before": cause, "after": now, "first": first, "fresh": fresh}
                    net.cpt("again")[case] = [float(k == shown) for k in (0, 1)]
    net.cpt("fresh")[{"after": count}] = list(sound)
    engine = gum.LazyPropagation(net)
    engine.setEvidence({"first": seen[0], "again": seen[1]})
    engine.makeInference()
    return [float(p) for p in engine.posterior("after").tolist()]
