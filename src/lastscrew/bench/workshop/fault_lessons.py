"""What closed jobs say about faults: from their events to closed jobs as the learning takes them.

Nobody is asked what was wrong in the end. A job that ended as repaired tells by its mends: the fault is one
that they cure. Where that leaves several, the job is shared out among them; where it leaves none, it
teaches nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from lastscrew.bench.workshop.fault_story import Story, story_of, taken_back
from lastscrew.device.model import Device
from lastscrew.faults.evidence import DONE
from lastscrew.faults.learning import ClosedJob, Count, Learnt, learn, with_learnt
from lastscrew.faults.works import (
    FAULTY,
    Work,
    faults_of,
    final_of,
    mend_id,
    mend_works,
    mends_of,
)
from lastscrew.run.events import Event

BAD_AT_THE_END: Final = (FAULTY, "bad")


@dataclass(frozen=True, slots=True)
class Told:
    """Everything that was told about a unit: its own events and those of its repaired jobs, in order.

    Attributes:
        events: Events with the job that each belongs to; empty for those of the unit.
        repaired: Jobs that ended as repaired, oldest first.
        checks_before: Functions tried when the unit came in.
    """

    events: tuple[tuple[str, Event], ...]
    repaired: tuple[str, ...]
    checks_before: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Lessons:
    """A device with what closed jobs here have taught.

    Attributes:
        device: The device with learnt numbers.
        learnt: The counts; None where no job has told anything.
        jobs: Jobs that ended as repaired.
        shared: Those that leave several faults possible.
        untold: Those whose mends cure none of the faults of the file; they teach nothing.
        mark: Changes with what was learnt; empty for nothing.
    """

    device: Device
    learnt: Learnt | None = None
    jobs: int = 0
    shared: int = 0
    untold: int = 0
    mark: str = ""

    @property
    def told(self) -> int:
        """Jobs that have taught something."""
        return self.jobs - self.untold

    @property
    def counts(self) -> tuple[tuple[str, Count], ...]:
        """Faults that were seen here, by name, the most frequent first."""
        if self.learnt is None:
            return ()
        seen = [(fault, count) for fault, count in self.learnt.priors.items() if count.seen]
        seen.sort(key=lambda row: (-row[1].seen, row[0]))
        return tuple((self.device.faults[fault].name, count) for fault, count in seen)

    @property
    def results(self) -> int:
        """Chances of checks and symptoms that were corrected; the outcomes of a check with a fault are one."""
        if self.learnt is None:
            return 0
        return len({(c, f) for c, f, _ in self.learnt.chances}) + len(self.learnt.symptoms)


def lessons_of(device: Device, units: Iterable[Told]) -> Lessons:
    """What units teach about a device. Results that were taken back count as if they had never been.

    Args:
        device: The device file in force; what it does not know teaches nothing.
        units: What was told about each unit.
    """
    mends, final, cures = mend_works(device), final_of(device), _cures(device)
    jobs: list[ClosedJob] = []
    ended = 0
    for unit in units:
        for run, story in _stories(device, unit, mends):
            ended += 1
            job = _closed(run, story, final, cures)
            jobs += [] if job is None else [job]
    if not jobs:
        return Lessons(device, None, ended, 0, ended)
    learnt = learn(device, jobs)
    shared = sum(job.one_of for job in jobs)
    mark = sha256(repr(learnt).encode()).hexdigest()
    return Lessons(with_learnt(device, learnt), learnt, ended, shared, ended - len(jobs), mark)


def _cures(device: Device) -> dict[str, tuple[str, ...]]:
    """For each mend the faults that it can cure."""
    found: dict[str, list[str]] = {}
    for fault in faults_of(device):
        for mend in dict.fromkeys(mend_id(mend) for mend in mends_of(device, fault)):
            found.setdefault(mend, []).append(fault.id)
    return {mend: tuple(faults) for mend, faults in found.items()}


def _stories(device: Device, unit: Told, mends: Sequence[Work]) -> Iterable[tuple[str, Story]]:
    """The story of each repaired job: its own events, and those of the unit since the job before it ended."""
    gone = taken_back([event for _, event in unit.events])
    ends = {run: n for n, (run, event) in enumerate(unit.events) if event.what.name == "finished"}
    begin, checks = 0, unit.checks_before
    for run in unit.repaired:
        if run not in ends:
            continue
        events = [
            event
            for at, (of, event) in enumerate(unit.events)
            if event.id not in gone and (of == run or (not of and begin <= at < ends[run]))
        ]
        yield run, story_of(device, events, checks, mends)
        begin, checks = ends[run], {}


def _closed(
    run: str, story: Story, final: Work, cures: Mapping[str, tuple[str, ...]]
) -> ClosedJob | None:
    """What a repaired job says, None where its mends say nothing about the fault."""
    done: list[str] = []
    results: dict[str, str] = {}
    is_mended = False
    for one in story.tried:
        if one.outcome == DONE:
            is_mended = True
            done.append(one.what)
        elif one.what == final.id and _is_bad(final, one.outcome):
            done.clear()  # what was mended before has not cured it
        elif not is_mended:
            results[one.what] = one.outcome
    faults = tuple(dict.fromkeys(fault for mend in done for fault in cures.get(mend, ())))
    if not faults:
        return None
    if len(faults) > 1:
        return ClosedJob(run, faults, {}, one_of=True)
    return ClosedJob(run, faults, results, story.shows, story.lacks)


def _is_bad(final: Work, outcome: str) -> bool:
    return (final.read(outcome) or outcome) in BAD_AT_THE_END
