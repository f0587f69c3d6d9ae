"""Learning from closed jobs: priors and check chances as counts, beginning with what the file says.

A prior is a Dirichlet distribution over the faults, the chance of an outcome a Dirichlet (for two outcomes a
Beta) distribution for each fault. The file's number counts as much as ``strength`` jobs that were seen:

    learnt = (strength * file + seen) / (strength + all),

the mean of the distribution after the counts (conjugate prior; any textbook on Bayesian statistics). What was
seen is kept as it is, so that a doubtful result can be taken back and the figures are as if it had
never been.

Counted is what was seen, leak included. A file gives chances without the leak, so that they are converted
both ways: what the model then expects to see is the learnt figure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from lastscrew.device.diagnosis import Fault, Likelihood
from lastscrew.device.model import Device
from lastscrew.faults.model import (
    chances_in_order,
    leak_of,
    outcome_chances,
    symptom_chances,
    symptom_leak,
)
from lastscrew.faults.works import Work, checks_of, faults_of, is_about

STRENGTH: Final = 20.0
"""Jobs that the frequencies of the file are worth. Our own figure, no source."""
CHECK_STRENGTH: Final = 10.0
"""Results that a chance of the file is worth. Our own figure, no source."""
_LEAST: Final = 1e-9


@dataclass(frozen=True, slots=True)
class ClosedJob:
    """What a closed job has shown.

    Attributes:
        id: Name of the job, to take it back by.
        faults: What was wrong in the end.
        results: Outcomes (or measured values) of checks before anything was mended, by check.
        shown: Symptoms that showed.
        lacked: Symptoms that were looked for and did not show.
        one_of: Nobody knows which of the faults it was: together they count as one job, shared out as the
            frequencies of the file are, and teach nothing else.
    """

    id: str
    faults: tuple[str, ...]
    results: Mapping[str, str]
    shown: tuple[str, ...] = ()
    lacked: tuple[str, ...] = ()
    one_of: bool = False


@dataclass(frozen=True, slots=True)
class Count:
    """A learnt number, as counts.

    Attributes:
        given: The number of the file.
        strength: What it counts for.
        seen: How often it was so; no whole number where jobs are shared out among several faults.
        of: Out of how many.
    """

    given: float
    strength: float
    seen: float
    of: int

    @property
    def value(self) -> float:
        """Mean of the Beta or Dirichlet distribution."""
        weight = self.strength + self.of
        return (self.given * self.strength + self.seen) / weight if weight else self.given

    @property
    def seen_words(self) -> str:
        """How often, as shown: a whole number, or one decimal where jobs are shared out."""
        return f"{round(self.seen)}" if float(self.seen).is_integer() else f"{self.seen:.1f}"

    def __str__(self) -> str:
        """As shown: the counts, never the mean alone."""
        return f"{self.seen_words} of {self.of} here; the file says {self.given:.2g} (counts as {self.strength:g})"


@dataclass(frozen=True, slots=True)
class Learnt:
    """Everything that closed jobs have taught about a device.

    Attributes:
        jobs: How many jobs there were.
        priors: By fault.
        chances: By (check, fault, outcome), leak included.
        symptoms: By (symptom, fault), leak included.
        several: Jobs with several faults, which teach about frequencies only.
        unknown: Names in the jobs that the device file does not know; they teach nothing.
    """

    jobs: int
    priors: Mapping[str, Count]
    chances: Mapping[tuple[str, str, str], Count]
    symptoms: Mapping[tuple[str, str], Count]
    several: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()


def without_job(jobs: Iterable[ClosedJob], job: str) -> tuple[ClosedJob, ...]:
    """The jobs but one that is taken back."""
    return tuple(closed for closed in jobs if closed.id != job)


def without_result(jobs: Iterable[ClosedJob], job: str, check: str) -> tuple[ClosedJob, ...]:
    """The jobs with one doubtful result of one job taken back."""
    return tuple(
        replace(closed, results={c: o for c, o in closed.results.items() if c != check})
        if closed.id == job
        else closed
        for closed in jobs
    )


def learn(
    device: Device,
    jobs: Iterable[ClosedJob],
    *,
    strength: float = STRENGTH,
    check_strength: float = CHECK_STRENGTH,
) -> Learnt:
    """What closed jobs say about the numbers of a device file. The order of the jobs does not matter.

    Args:
        device: The device; names that it does not know are passed over.
        jobs: Closed jobs, each once.
        strength: Jobs that the priors of the file are worth.
        check_strength: Results that a chance of the file is worth.
    """
    listed = sorted(jobs, key=lambda job: job.id)
    faults = faults_of(device)
    ids = {fault.id for fault in faults}
    total = sum(fault.prior for fault in faults) or 1.0
    seen, of = _faults_seen({fault.id: fault.prior for fault in faults}, listed)
    priors = {
        fault.id: Count(fault.prior / total, strength, seen[fault.id], of) for fault in faults
    }
    single = [job for job in listed if len(job.faults) == 1]
    return Learnt(
        len(listed),
        priors,
        _chances(device, faults, single, check_strength),
        _symptoms(device, faults, single, check_strength),
        tuple(job.id for job in listed if len(job.faults) != 1 and not job.one_of),
        _unknown(device, ids, listed),
    )


def _faults_seen(
    prior: Mapping[str, float], jobs: Iterable[ClosedJob]
) -> tuple[dict[str, float], int]:
    """How often each fault was there, and how many there were in all."""
    seen: dict[str, float] = dict.fromkeys(prior, 0)
    of = 0
    for job in jobs:
        known = [fault for fault in job.faults if fault in prior]
        if job.one_of and len(known) > 1:
            total = sum(prior[fault] for fault in known)
            for fault in known:
                seen[fault] += prior[fault] / total if total else 1 / len(known)
            of += 1
            continue
        for fault in known:
            seen[fault] += 1
        of += len(known)
    return seen, of


def _unknown(device: Device, faults: set[str], jobs: Sequence[ClosedJob]) -> tuple[str, ...]:
    checks = {work.id for work in checks_of(device, tuple(device.parts))}
    checks |= {*device.checks, *device.functions}
    found: set[str] = set()
    for job in jobs:
        found |= set(job.faults) - faults
        found |= set(job.results) - checks
        found |= {*job.shown, *job.lacked} - set(device.symptoms)
    return tuple(sorted(found))


def _outcome_seen(job: ClosedJob, work: Work, names: Sequence[str]) -> str | None:
    """The outcome of a check in a job; a measured value is read by the limits."""
    said = next((job.results[name] for name in names if name in job.results), None)
    return None if said is None else work.read(said)


def _names_of(device: Device, work: Work) -> list[str]:
    """Ids by which faults and jobs may name a check: its own, and those of functions that use it."""
    return [work.id, *(f.id for f in device.functions.values() if f.entry == work.id)]


def _chances(
    device: Device, faults: Iterable[Fault], jobs: list[ClosedJob], strength: float
) -> dict[tuple[str, str, str], Count]:
    found: dict[tuple[str, str, str], Count] = {}
    works = checks_of(device, tuple(device.parts))
    for fault in faults:
        own = [job for job in jobs if job.faults == (fault.id,)]
        for work in works if own else ():
            names = _names_of(device, work)
            seen = [o for job in own if (o := _outcome_seen(job, work, names)) is not None]
            if not seen:
                continue
            alone = outcome_chances(
                [chances_in_order(device, fault, work)], [(0,)], leak_of(device, work)
            )
            for outcome, row in zip(work.outcomes, alone, strict=True):
                found[work.id, fault.id, outcome] = Count(
                    row[0], strength, seen.count(outcome), len(seen)
                )
    return found


def _symptoms(
    device: Device, faults: Iterable[Fault], jobs: list[ClosedJob], strength: float
) -> dict[tuple[str, str], Count]:
    found: dict[tuple[str, str], Count] = {}
    for fault in faults:
        own = [job for job in jobs if job.faults == (fault.id,)]
        for symptom_id, symptom in sorted(device.symptoms.items()):
            shown = sum(symptom_id in job.shown for job in own)
            looked = shown + sum(symptom_id in job.lacked for job in own)
            if looked:
                said = fault.symptoms.get(symptom_id, Likelihood(0.0)).value
                alone = symptom_chances([said], [(0,)], symptom_leak(symptom))[0]
                found[symptom_id, fault.id] = Count(alone, strength, shown, looked)
    return found


def with_learnt(device: Device, learnt: Learnt) -> Device:
    """The device with learnt numbers in place of the file's; a source beside each says so."""
    faults = dict(device.faults)
    for fault_id, count in learnt.priors.items():
        if count.of:
            fault = faults[fault_id]
            sources = {**fault.sources, "prior": str(count)}
            faults[fault_id] = replace(
                fault,
                prior=max(count.value, _LEAST),
                prior_given=True,
                prior_word="",
                sources=sources,
            )
    works = {work.id: work for work in checks_of(device, tuple(device.parts))}
    for check, fault_id in sorted({(check, fault) for check, fault, _ in learnt.chances}):
        faults[fault_id] = _with_chances(device, faults[fault_id], works[check], learnt)
    for (symptom_id, fault_id), count in sorted(learnt.symptoms.items()):
        fault = faults[fault_id]
        sources = {**fault.sources, f"symptoms.{symptom_id}": str(count)}
        leak = symptom_leak(device.symptoms[symptom_id])
        chance = Likelihood(_without_leak(count.value, leak))
        faults[fault_id] = replace(
            fault, symptoms={**fault.symptoms, symptom_id: chance}, sources=sources
        )
    return replace(device, faults=faults)


def _without_leak(shown: float, leak: float) -> float:
    """The chance that the fault itself shows it, from the chance that it shows at all (noisy-or)."""
    return max(0.0, 1.0 - (1.0 - shown) / (1.0 - leak)) if leak < 1 else 0.0


def _with_chances(device: Device, fault: Fault, work: Work, learnt: Learnt) -> Fault:
    """The fault with learnt chances of one check (noisy-max taken apart: sums up to each outcome, over the leak's)."""
    leak = leak_of(device, work)
    sources, chances = dict(fault.sources), {}
    seen_up_to = leak_up_to = before = 0.0
    for outcome, leaked in zip(work.outcomes, leak, strict=True):
        count = learnt.chances[work.id, fault.id, outcome]
        seen_up_to += count.value
        leak_up_to += leaked
        up_to = min(1.0, seen_up_to / leak_up_to) if leak_up_to > 0 else 0.0
        up_to = max(up_to, before)
        if outcome != work.outcomes[0]:
            chances[outcome] = Likelihood(up_to - before)
            sources[f"checks.{work.id}.{outcome}"] = str(count)
        before = up_to
    kept = {c: v for c, v in fault.checks.items() if not is_about(device, c, work)}
    return replace(fault, checks={**kept, work.id: chances}, sources=sources)
