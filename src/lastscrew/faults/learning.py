"""Learning from closed jobs: priors and check chances as counts, beginning with what the file says.

A prior is a Dirichlet distribution over the faults, the chance of an outcome a Dirichlet (for two outcomes a
Beta) distribution for each fault. The file's number counts as much as ``strength`` jobs that were seen. What was
seen is kept as it is, so that a doubtful result can be taken back and the figures are as if it had
never been.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from lastscrew.device.diagnosis import Fault, Likelihood
from lastscrew.device.model import Device
from lastscrew.faults.model import LEAK, SYMPTOM_LEAK, chances_given
from lastscrew.faults.works import checks_of, faults_of

STRENGTH: Final = 20.0
"""Jobs that the frequencies of the file are worth. Our own figure, no source."""
CHECK_STRENGTH: Final = 10.0
"""Results that a chance of the file is worth. Our own figure, no source."""


@dataclass(frozen=True, slots=True)
class ClosedJob:
    """What a closed job has shown.

    Attributes:
        id: Name of the job, to take it back by.
        faults: What was wrong in the end.
        results: Outcomes of checks before anything was mended, by check.
        shown: Symptoms that showed.
        lacked: Symptoms that were looked for and did not show.
    """

    id: str
    faults: tuple[str, ...]
    results: Mapping[str, str]
    shown: tuple[str, ...] = ()
    lacked: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Count:
    """A learnt number, as counts.

    Attributes:
        given: The number of the file.
        strength: What it counts for.
        seen: How often it was so.
        of: Out of how many.
    """

    given: float
    strength: float
    seen: int
    of: int

    @property
    def value(self) -> float:
        """Mean of the Beta or Dirichlet distribution."""
        weight = self.strength + self.of
        return (self.given * self.strength + self.seen) / weight if weight else self.given

    def __str__(self) -> str:
        """As shown: the counts, never the mean alone."""
        return f"{self.seen} of {self.of} here; the file says {self.given:.2g} (counted as {self.strength:g})"


@dataclass(frozen=True, slots=True)
class Learnt:
    """Everything that closed jobs have taught about a device.

    Attributes:
        priors: By fault.
        chances: By (check, fault, outcome).
        symptoms: By (symptom, fault).
        skipped: Jobs with several faults, which teach about frequencies only.
    """

    priors: Mapping[str, Count]
    chances: Mapping[tuple[str, str, str], Count]
    symptoms: Mapping[tuple[str, str], Count]
    skipped: tuple[str, ...] = ()


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
    total = sum(fault.prior for fault in faults) or 1.0
    named = [fault for job in listed for fault in job.faults if fault in device.faults]
    priors = {
        fault.id: Count(fault.prior / total, strength, named.count(fault.id), len(named))
        for fault in faults
    }
    single = [job for job in listed if len(job.faults) == 1]
    return Learnt(
        priors,
        _chances(device, faults, single, check_strength),
        _symptoms(device, faults, single, check_strength),
        tuple(job.id for job in listed if len(job.faults) != 1),
    )


def _chances(
    device: Device, faults: Iterable[Fault], jobs: list[ClosedJob], strength: float
) -> dict[tuple[str, str, str], Count]:
    found: dict[tuple[str, str, str], Count] = {}
    works = checks_of(device, tuple(device.parts))
    for fault in faults:
        own = [job for job in jobs if job.faults == (fault.id,)]
        for work in works:
            seen = [
                job.results[work.id] for job in own if job.results.get(work.id) in work.outcomes
            ]
            if not seen:
                continue
            given = chances_given(device, fault, work)
            for outcome in work.outcomes[1:]:
                said = given.get(outcome, LEAK)
                found[work.id, fault.id, outcome] = Count(
                    said, strength, seen.count(outcome), len(seen)
                )
    return found


def _symptoms(
    device: Device, faults: Iterable[Fault], jobs: list[ClosedJob], strength: float
) -> dict[tuple[str, str], Count]:
    found: dict[tuple[str, str], Count] = {}
    for fault in faults:
        own = [job for job in jobs if job.faults == (fault.id,)]
        for symptom in sorted(device.symptoms):
            shown = sum(symptom in job.shown for job in own)
            looked = shown + sum(symptom in job.lacked for job in own)
            if looked:
                said = fault.symptoms.get(symptom, Likelihood(SYMPTOM_LEAK)).value
                found[symptom, fault.id] = Count(said, strength, shown, looked)
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
                prior=max(count.value, 1e-9),
                prior_given=True,
                prior_word="",
                sources=sources,
            )
    for (check, fault_id, outcome), count in sorted(learnt.chances.items()):
        fault = faults[fault_id]
        old = {k: v for k, v in fault.checks.get(check, {}).items() if k}
        changed = {**old, outcome: Likelihood(count.value)}
        sources = {**fault.sources, f"checks.{check}.{outcome}": str(count)}
        faults[fault_id] = replace(fault, checks={**fault.checks, check: changed}, sources=sources)
    for (symptom, fault_id), count in sorted(learnt.symptoms.items()):
        fault = faults[fault_id]
        sources = {**fault.sources, f"symptoms.{symptom}": str(count)}
        shown = {**fault.symptoms, symptom: Likelihood(count.value)}
        faults[fault_id] = replace(fault, symptoms=shown, sources=sources)
    return replace(device, faults=faults)
