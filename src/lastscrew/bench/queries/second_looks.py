"""Whether a job still lacks the look of a second person."""

from __future__ import annotations

from lastscrew.bench.models import Person, StoredEvent
from lastscrew.bench.store.jobs import Job
from lastscrew.bench.store.rules import depot_rules
from lastscrew.bench.work.second_look import Look, is_done, is_due

NAME = "looked_over"


def beginners() -> frozenset[str]:
    """Names, as events have them, of people whose work is always looked over."""
    return frozenset(str(person) for person in Person.objects.filter(is_beginner=True))


def looks_of(run: str, unit: str) -> tuple[Look, ...]:
    """Who looked the work of a job over, in order."""
    rows = StoredEvent.objects.filter(unit=unit, name=NAME).order_by("position")
    return tuple(
        Look(
            str(row.body.get("person") or row.by),
            bool(row.body.get("good", False)),
            row.stored_ms,
            str(row.body.get("text", "")),
        )
        for row in rows
        if row.body.get("job") == run
    )


def lacks_second_look(job: Job) -> bool:
    """True where a second person has to look at the finished work and has not found it good."""
    share = depot_rules().second_check_share
    if not is_due(job.events, beginners(), share, job.run.key):
        return False
    return not is_done(job.events, looks_of(job.run.key, job.run.unit_id))
