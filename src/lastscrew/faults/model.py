"""From the faults of a device to a puzzle: causes, chances, checks and mends in numbers.

Chances. A fault shows a symptom with the chance that the file gives; several causes act by themselves
(noisy-or), a leak stands for everything that the file does not name:

    P(not shown | faults) = (1 - leak) * product of (1 - p[fault]).

A check with more than two outcomes, mildest first, takes the worst that any cause brings about
(noisy-max; with two outcomes the same as noisy-or):

    P(outcome at most k | faults) = leak up to k * product of p[fault] up to k.

Frequencies. One fault at a time: the priors, scaled to 1. Two at once: every pair as well, as if faults came
independently with odds proportional to their priors and one or two had come, the scale set so that
pairs have the share that is asked for.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from lastscrew.device.diagnosis import Fault, Likelihood, Symptom
from lastscrew.device.model import Device
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.puzzle import Check, Effect, Mend, Puzzle
from lastscrew.faults.works import (
    Work,
    checks_of,
    cures_of,
    faults_of,
    final_of,
    is_about,
    mend_works,
)

LEAK: Final = 0.01
"""Chance that a check gives a bad outcome without any fault that is said to do so. Our own figure, no source."""
SYMPTOM_LEAK: Final = 0.002
"""Chance that an owner tells of a symptom that none of the faults that are there shows. Our own figure, no source."""
SWAP_BAD_OTHER: Final = 0.98
"""Chance that a swap test shows no cure where the part on trial is sound."""
SWAP_BAD_OWN: Final = 0.02
"""The same where it is at fault. Our own figures, no source."""
SECOND_FAULT: Final = 0.1
"""Share of jobs with two faults at once, where two are asked for without a reason."""
SECOND_FAULT_AFTER_EVENT: Final = 0.4
"""The same after liquid or a drop. Our own figures, no source."""


@dataclass(frozen=True, slots=True)
class FaultModel:
    """Everything that a job needs to know about the faults of a (fitted) device.

    Attributes:
        device: The fitted device.
        faults: Faults in id order.
        causes: For each cause its faults, by number; first all single ones.
        prior: Chance of each cause before anything is known, summing to 1.
        checks, mends, final: The work that can be done.
        chances: For each check, for each outcome, the chance by state (causes, then sound).
        symptoms: For each symptom the chance that it shows, by state.
        openings: What opening costs.
        cures: For each mend the faults that it can cure, by number, with their chances.
    """

    device: Device
    faults: tuple[Fault, ...]
    causes: tuple[tuple[int, ...], ...]
    prior: tuple[float, ...]
    checks: tuple[Work, ...]
    mends: tuple[Work, ...]
    final: Work
    chances: tuple[tuple[tuple[float, ...], ...], ...]
    symptoms: Mapping[str, tuple[float, ...]]
    openings: DeviceOpenings
    cures: tuple[Mapping[int, float], ...]

    @property
    def works(self) -> tuple[Work, ...]:
        """All work, numbered as the actions of the puzzle."""
        return (*self.checks, *self.mends, self.final)

    def cause_name(self, cause: int) -> str:
        """Ids of the faults of a cause, joined by ``+``."""
        return "+".join(self.faults[f].id for f in self.causes[cause])


def fault_model(
    device: Device,
    *,
    stock: Collection[str] = (),
    second_fault: float = 0.0,
    pace: float = 1.0,
    rate_per_h: float | None = None,
    openings: DeviceOpenings | None = None,
) -> FaultModel:
    """The model of a fitted device.

    Args:
        device: The device, reduced to what the unit has (``lastscrew.device.fitting.fit``).
        stock: Parts of which a known-good one is at hand, for swap tests.
        second_fault: Share of jobs with two faults at once; 0: always one.
        pace: Factor on times from tables.
        rate_per_h: Price of an hour; None: costs are seconds and prices do not count.
        openings: What opening costs, from a model of the same device, stock and pace; None to begin anew.

    Raises:
        InputError: A check or mend needs what can't be had.
    """
    faults = faults_of(device)
    causes, prior = _causes([fault.prior for fault in faults], second_fault)
    checks, mends, final = checks_of(device, stock), mend_works(device), final_of(device)
    chances = tuple(_check_chances(device, faults, causes, work) for work in checks)
    symptoms = {
        symptom.id: symptom_chances(
            [_value(fault.symptoms.get(symptom.id)) for fault in faults],
            causes,
            symptom_leak(symptom),
        )
        for _, symptom in sorted(device.symptoms.items())
    }
    works = (*checks, *mends, final)
    if openings is None or openings.works != works:
        openings = DeviceOpenings(device, works, pace=pace, rate_per_h=rate_per_h)
    elif openings.rate_per_h != rate_per_h:
        openings = openings.priced(rate_per_h)
    cures = cures_of(device, faults, mends)
    return FaultModel(
        device, faults, causes, prior, checks, mends, final, chances, symptoms, openings, cures
    )


def _value(chance: Likelihood | None) -> float:
    return 0.0 if chance is None else chance.value


def _causes(
    priors: Sequence[float], second_fault: float
) -> tuple[tuple[tuple[int, ...], ...], tuple[float, ...]]:
    """Causes and their chances; pairs after single faults."""
    single = [(f,) for f in range(len(priors))]
    total = sum(priors)
    if not total:
        return (), ()
    share = [p / total for p in priors]
    pairs = list(combinations(range(len(priors)), 2)) if second_fault > 0 else []
    together = [share[f] * share[g] for f, g in pairs]
    if not sum(together):
        return tuple(single), tuple(share)
    scale = second_fault / sum(together)
    weights = [p * (1 - second_fault) for p in share] + [w * scale for w in together]
    return (*single, *pairs), tuple(weights)


def symptom_chances(
    shown: Sequence[float], causes: Sequence[Sequence[int]], leak: float
) -> tuple[float, ...]:
    """Chance that a symptom shows, for each cause and for a sound device (noisy-or with a leak)."""
    found = []
    for cause in (*causes, ()):
        hidden = 1.0 - leak
        for fault in cause:
            hidden *= 1.0 - shown[fault]
        found.append(1.0 - hidden)
    return tuple(found)


def outcome_chances(
    by_fault: Sequence[Sequence[float]], causes: Sequence[Sequence[int]], leak: Sequence[float]
) -> tuple[tuple[float, ...], ...]:
    """For each outcome its chance, for each cause and for a sound device (noisy-max with a leak).

    Args:
        by_fault: For each fault the chances of the outcomes, mildest first.
        causes: For each cause its faults.
        leak: Chances of the outcomes in a sound device.
    """
    count = len(leak)
    rows: list[list[float]] = [[] for _ in range(count)]
    for cause in (*causes, ()):
        before, up_to = 0.0, [0.0] * count
        for fault_chances in (leak, *(by_fault[f] for f in cause)):
            running = 0.0
            for k in range(count):
                running += fault_chances[k]
                up_to[k] = running if fault_chances is leak else up_to[k] * running
        up_to[-1] = 1.0
        for k in range(count):
            rows[k].append(max(0.0, up_to[k] - before))
            before = up_to[k]
    return tuple(tuple(row) for row in rows)


def _check_chances(
    device: Device, faults: Sequence[Fault], causes: Sequence[Sequence[int]], work: Work
) -> tuple[tuple[float, ...], ...]:
    by_fault = [chances_in_order(device, fault, work) for fault in faults]
    return outcome_chances(by_fault, causes, leak_of(device, work))


def chances_in_order(device: Device, fault: Fault, work: Work) -> tuple[float, ...]:
    """What a fault by itself makes of a check: the chance of each outcome, without the leak."""
    return _by_outcome(chances_given(device, fault, work), work.outcomes)


def leak_of(device: Device, work: Work) -> tuple[float, ...]:
    """Chance of each outcome of a check in a sound device."""
    check = device.checks.get(work.id)
    given = {} if check is None else check.leak
    leak = {o: given[o].value if o in given else 0.0 if given else LEAK for o in work.outcomes[1:]}
    if work.outcomes[0] in given:
        leak[work.outcomes[0]] = given[work.outcomes[0]].value
    return _by_outcome(leak, work.outcomes)


def symptom_leak(symptom: Symptom) -> float:
    """Chance that a symptom is told of without a fault that shows it."""
    return SYMPTOM_LEAK if symptom.leak is None else symptom.leak.value


def chances_given(device: Device, fault: Fault, work: Work) -> dict[str, float]:
    """What a fault makes of a check: chances of outcomes, the rest belongs to the first."""
    for name, chances in fault.checks.items():
        if is_about(device, name, work):
            if "" in chances:
                return dict.fromkeys(work.outcomes[1:2], chances[""].value)
            return {outcome: chance.value for outcome, chance in chances.items()}
    if work.kind != "swap":
        return {}
    own = fault.part == work.part or fault.joint in work.hung
    return {work.outcomes[1]: SWAP_BAD_OWN if own else SWAP_BAD_OTHER}


def _by_outcome(chances: Mapping[str, float], outcomes: Sequence[str]) -> tuple[float, ...]:
    """Chances in the order of the outcomes; what is not given away belongs to the first."""
    listed = [chances.get(outcome, 0.0) for outcome in outcomes]
    if outcomes[0] not in chances:
        listed[0] = max(0.0, 1.0 - sum(listed))
    total = sum(listed)
    return tuple(value / total for value in listed)


def puzzle_of(
    model: FaultModel, chances: Sequence[float], *, start: int = 0, worth: float | None = None
) -> Puzzle:
    """The decision problem of a job.

    Args:
        model: The model.
        chances: Chance of each cause now, summing to 1; causes without any are left in place.
        start: State of opening.
        worth: Cost of giving up, None for not before nothing that can mend is left.
    """
    to_cost = model.openings.cost
    checks = tuple(
        Check(work.id, to_cost(work.ms, work.price), work.outcomes, rows)
        for work, rows in zip(model.checks, model.chances, strict=True)
    )
    stale = [_stale(model, f) for f in range(len(model.faults))]
    number = {cause: index for index, cause in enumerate(model.causes)}
    number[()] = len(model.causes)
    mends = tuple(
        Mend(work.id, to_cost(work.ms, work.price), _effects(model, success, stale, number))
        for work, success in zip(model.mends, model.cures, strict=True)
    )
    return Puzzle(
        causes=tuple(model.cause_name(c) for c in range(len(model.causes))),
        prior=tuple(chances),
        checks=checks,
        mends=mends,
        final_cost=to_cost(model.final.ms, model.final.price),
        openings=model.openings,
        start=start,
        worth=worth,
    )


def _effects(
    model: FaultModel,
    success: Mapping[int, float],
    stale: Sequence[int],
    number: Mapping[tuple[int, ...], int],
) -> dict[int, tuple[Effect, ...]]:
    """What one mend does to each cause that it can change; ``success``: its chance with each fault."""
    found: dict[int, tuple[Effect, ...]] = {}
    for index, cause in enumerate(model.causes):
        cured = [f for f in cause if success.get(f, 0.0) > 0]
        if not cured:
            continue
        effects: list[Effect] = []
        for gone in (set(c) for size in range(len(cured) + 1) for c in combinations(cured, size)):
            chance = 1.0
            for f in cured:
                chance *= success[f] if f in gone else 1.0 - success[f]
            if chance > 0:
                left = tuple(f for f in cause if f not in gone)
                mask = 0
                for f in gone:
                    mask |= stale[f]
                effects.append(Effect(number[left], chance, mask))
        found[index] = tuple(effects)
    return found


def _stale(model: FaultModel, fault: int) -> int:
    """Checks whose outcome depends on a fault: they must be done anew once it is gone."""
    sound = len(model.causes)
    return sum(
        1 << c
        for c, rows in enumerate(model.chances)
        if any(abs(row[fault] - row[sound]) > 1e-12 for row in rows)
    )
