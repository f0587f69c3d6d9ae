"""The audit of one text: everything that is found in its procedures and in how they are worded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from lastscrew.audit.account import Account, account_of
from lastscrew.audit.covers import cover_findings
from lastscrew.audit.fasteners_of_text import fastener_findings
from lastscrew.audit.findings import Finding, ordered
from lastscrew.audit.habits_of_text import habit_findings
from lastscrew.audit.left_in_place import counted_findings, left_in_place_findings
from lastscrew.audit.lists_of_text import list_findings
from lastscrew.audit.naming_of_text import name_findings
from lastscrew.audit.parts_of_text import part_findings
from lastscrew.audit.power import power_findings
from lastscrew.audit.prerequisites import chain_of, prerequisite_findings
from lastscrew.audit.spelling import as_written
from lastscrew.audit.wording import wording_findings
from lastscrew.reading.described import find_chapter
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Reading


def audit_reading(reading: Reading, lexicon: Lexicon, file: str = "") -> tuple[Finding, ...]:
    """All findings about a text.

    Args:
        reading: What was read from it.
        lexicon: The word lists that were used.
        file: Name of the text in the findings; that of the reading where it is empty.

    Returns:
        The findings by line; the same text gives the same findings every time.
    """
    name = file or reading.source.name
    return ordered(replace(finding, file=name) for finding in _all(reading, lexicon))


def _all(reading: Reading, lexicon: Lexicon) -> Iterator[Finding]:
    for found in reading.findings:
        yield Finding(found.code, found.severity, found.line, found.text, found.remedy)
    if not reading.procedures:
        return
    chapter = find_chapter(reading.source)
    outside = chapter.outside(reading.source) if chapter else reading.source
    account = account_of(replace(reading, source=outside))
    for finding in _of_procedures(account, lexicon, told_by_itself=chapter is not None):
        yield as_written(account, finding)
    yield from wording_findings(reading)


def _of_procedures(
    account: Account, lexicon: Lexicon, *, told_by_itself: bool
) -> Iterator[Finding]:
    """Findings about the procedures; ``told_by_itself``: a chapter of the text tells the machine."""
    chain = chain_of(account)
    told: set[int] = set()
    for job in account.jobs:
        yield from fastener_findings(account, job)
        yield from counted_findings(account, job)
        for found_part in part_findings(account, job):
            told |= {found_part.line, *found_part.also}
            yield found_part
    yield from list_findings(account)
    power = [] if told_by_itself else list(power_findings(account, chain))
    # Covers guess at the machine from the steps. A text that tells the machine itself needs no guess.
    covers = [] if told_by_itself else list(cover_findings(account, chain, lexicon))
    live = {_procedure_at(account, found.line) for found in power}
    for habit in habit_findings(account, chain):
        known = habit.code == "not_isolated" and (
            told_by_itself or _procedure_at(account, habit.line) in live
        )
        if habit.line not in told and not known and not _is_told(account, covers, habit):
            yield habit
    yield from left_in_place_findings(account)
    yield from _no_way_back(account)
    yield from prerequisite_findings(account, chain)
    yield from covers
    yield from power
    yield from name_findings(account)


def _is_told(account: Account, covers: Sequence[Finding], habit: Finding) -> bool:
    """That a part goes back and never came off, where the removal is told to name it among what comes off before."""
    name = habit.text.split('"')[1] if habit.code == "part_not_out" else ""
    return bool(name) and any(
        f'"{name}"' in cover.text and _procedure_at(account, cover.line) in habit.also
        for cover in covers
    )


def _procedure_at(account: Account, line: int) -> int:
    """Line of the procedure in which a line stands."""
    return max((p.line for p in account.reading.procedures if p.line <= line), default=0)


def _no_way_back(account: Account) -> Iterator[Finding]:
    """Jobs that have no other half: one note for the whole text if none has."""
    if account.reversed_as_a_whole:
        return
    lacking = []
    for job in account.jobs:
        back = job.reversed or any(
            m.procedure in job.refits and m.direction == "back" for m in account.movements
        )
        outs = [
            m for m in account.movements if m.procedure in job.removals and m.direction == "out"
        ]
        if outs and not back:
            lacking.append((job, outs[0]))
    taking = sum(bool(job.removals) for job in account.jobs)
    if not lacking:
        return
    if len(lacking) > 1 and len(lacking) == taking:
        yield Finding(
            "no_way_back",
            "note",
            account.reading.procedures[lacking[0][0].removals[0]].line,
            "The text takes things off and never says how they go back.",
            "Add the other half, or a sentence that says the steps are done in reverse order.",
        )
        return
    for job, _ in lacking:
        procedure = account.reading.procedures[job.removals[0]]
        yield Finding(
            "no_way_back",
            "note",
            procedure.line,
            f'The text says how "{procedure.part or "this"}" comes off, not how it goes back.',
            "Add the other half, or a sentence that says the steps are done in reverse order.",
        )
