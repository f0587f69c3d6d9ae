"""What is known about the fault of a unit: what people confirmed and tried, in order, as evidence.

Evidence stays with the unit (depot events), whether a job is in hand or not. What a job says counts as well: a
part that was exchanged is a mend that was tried, a function tried before or during the work is a check.
A person who does something else than proposed is followed: whatever was done is there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from lastscrew.bench.depot.events import FaultTakenBack, FaultTried, SymptomsConfirmed
from lastscrew.device.diagnosis import BAD, GOOD
from lastscrew.device.model import Device
from lastscrew.faults.evidence import DONE, Evidence
from lastscrew.faults.words import symptoms_meant
from lastscrew.faults.works import Work, function_limits, mend_works
from lastscrew.problems import Problem
from lastscrew.run.events import Checked, Event, Exchanged, FinalCheck, TakenBack
from lastscrew.run.state import parts_of

DEPOT_NAMES: Final = ("symptoms_confirmed", "fault_tried", "fault_taken_back")
RUN_NAMES: Final = ("exchanged", "checked", "final_check", "taken_back")


@dataclass(frozen=True, slots=True)
class Tried:
    """Something that was tried.

    Attributes:
        key: Id of its event; empty for what was said when the unit came in.
        what: Id of the check or mend.
        outcome: What came out.
        text: What was seen.
        by: Who.
        at_ms: When.
        from_job: It was told by the job: it is taken back there.
    """

    key: str
    what: str
    outcome: str
    text: str = ""
    by: str = ""
    at_ms: int | None = None
    from_job: bool = False


@dataclass(frozen=True, slots=True)
class Story:
    """What is known, in order.

    Attributes:
        confirmed: A person has said which symptoms show.
        shows, lacks: Symptoms that show, and that were looked for and do not.
        tried: What was tried, less what was taken back.
    """

    confirmed: bool = False
    shows: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    tried: tuple[Tried, ...] = ()

    def evidence(self, complaint: str = "") -> Evidence:
        """As the search for the fault takes it."""
        results = tuple((one.what, one.outcome) for one in self.tried)
        return Evidence(self.shows, self.lacks, results, complaint=complaint)


def story_of(
    device: Device,
    events: Iterable[Event],
    checks_before: Mapping[str, str] | None = None,
    mends: Sequence[Work] | None = None,
) -> Story:
    """The story that events tell.

    Args:
        device: The device; what it does not know is kept, and left out later with a remark.
        events: Depot events of the unit and run events of its job, in order.
        checks_before: Functions tried when the unit came in, with ``works``, ``fails`` or ``not_tried``.
        mends: All mends of the device, where the caller has them at hand.
    """
    mends = mend_works(device) if mends is None else mends
    found = list(events)
    gone = taken_back(found)
    story = Story(tried=tuple(_before(device, checks_before or {})))
    for event in found:
        if event.id in gone:
            continue
        what = event.what
        if isinstance(what, SymptomsConfirmed):
            story = replace(story, confirmed=True, shows=what.shows, lacks=what.lacks)
        else:
            story = replace(story, tried=(*story.tried, *_tried(device, event, mends)))
    return story


def taken_back(events: Sequence[Event]) -> set[str]:
    """Ids of events that no longer count; taking back a taking back brings it back."""
    gone: set[str] = set()
    for event in reversed(events):
        if isinstance(event.what, TakenBack | FaultTakenBack) and event.id not in gone:
            gone.add(event.what.about)
    return gone


def _before(device: Device, checks: Mapping[str, str]) -> Iterable[Tried]:
    for function, outcome in checks.items():
        named = _check_of(device, function, outcome)
        if named is not None:
            yield Tried("", *named)


def _tried(device: Device, event: Event, mends: Sequence[Work]) -> tuple[Tried, ...]:
    what = event.what
    by, at_ms = event.by or "", event.at_ms
    if isinstance(what, FaultTried):
        return (Tried(event.id, what.what, what.outcome, what.text or "", by, at_ms),)
    if isinstance(what, Exchanged):
        parts = set(parts_of(device, what.part))
        return tuple(
            Tried(event.id, work.id, DONE, "", by, at_ms, from_job=True)
            for work in mends
            if work.pieces and set(work.pieces) <= parts
        )
    if isinstance(what, Checked) and what.phase != "after":
        value = f"{what.value:g}" if what.value is not None else ""
        named = _check_of(device, what.function, what.outcome, value)
        if named is not None:
            return (Tried(event.id, *named, what.text or "", by, at_ms, from_job=True),)
    if isinstance(what, FinalCheck):
        return _final(device, event, what)
    return ()


def _final(device: Device, event: Event, what: FinalCheck) -> tuple[Tried, ...]:
    """The device's own check, made at the end of a job."""
    check = device.checks.get(what.check)
    if check is None or what.outcome == "not_tried":
        return ()
    if what.outcome != "works" and len(check.outcomes) != 2:
        return ()  # nobody said which of the bad ones it was
    outcome = check.outcomes[0 if what.outcome == "works" else 1]
    told = Tried(
        event.id, check.id, outcome, what.text or "", event.by or "", event.at_ms, from_job=True
    )
    return (told,)


def _check_of(
    device: Device, function: str, outcome: str, value: str = ""
) -> tuple[str, str] | None:
    """A function that was tried, as a check of the fault finding with its outcome; None where it is none."""
    entry = device.functions.get(function)
    if entry is None or outcome not in ("works", "fails"):
        return None
    check = device.checks.get(entry.entry or function)
    is_named = any(function in fault.checks for fault in device.faults.values())
    if (check is None and not is_named) or (check is not None and check.final):
        return None  # one function does not say that everything works
    key = function if check is None else check.id
    outcomes = (GOOD, BAD) if check is None else check.outcomes
    if check is not None and check.limits is not None:
        return (key, value) if value else None
    if check is None and function_limits(entry) is not None and value:
        return key, value  # read by the limits of the function, as anywhere
    if outcome == "works":
        return key, outcomes[0]
    return (key, outcomes[1]) if len(outcomes) == 2 else None


def without_unknown(
    evidence: Evidence, problems: Iterable[Problem]
) -> tuple[Evidence, tuple[str, ...]]:
    """Evidence less what the present device file does not know, and the names that were left out.

    Args:
        evidence: What was seen.
        problems: What is wrong with it, with paths as :mod:`lastscrew.faults.evidence` writes them.
    """
    paths = {problem.path for problem in problems}
    names = {path.partition(".")[2] for path in paths}
    shows = tuple(name for name in evidence.shows if f"shows.{name}" not in paths)
    lacks = tuple(name for name in evidence.lacks if f"lacks.{name}" not in paths)
    results = tuple(
        (what, outcome)
        for what, outcome in evidence.results
        if what not in names and f"{what}={outcome}" not in names
    )  # fmt: skip
    left = replace(evidence, shows=shows, lacks=lacks, results=results)
    dropped = [name for name in (*evidence.shows, *evidence.lacks) if name not in (*shows, *lacks)]
    dropped += [what for what, outcome in evidence.results if (what, outcome) not in results]
    return left, tuple(dict.fromkeys(dropped))


def symptoms_to_confirm(
    device: Device, story: Story, complaint: str
) -> tuple[tuple[str, str, bool, bool, str], ...]:
    """Every symptom of the device: id, name, shows, lacks, and the owner's words that speak for it.

    Before anybody has confirmed, those that the complaint may mean are proposed.
    """
    meant = {match.symptom: match for match in symptoms_meant(device, complaint)}
    rows = []
    for symptom in device.symptoms.values():
        match = meant.get(symptom.id)
        shows = symptom.id in story.shows if story.confirmed else match is not None
        lacks = symptom.id in story.lacks
        rows.append((symptom.id, symptom.name, shows, lacks, match.phrase if match else ""))
    order = {match: index for index, match in enumerate(meant)}
    return tuple(sorted(rows, key=lambda row: order.get(row[0], len(order))))
