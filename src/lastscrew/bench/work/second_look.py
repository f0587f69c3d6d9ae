"""Whose finished work a second person looks over before the job is closed: all of a beginner's, a share of the rest."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from lastscrew.run import events as e
from lastscrew.run.folding import in_force

WORK = (e.Opened, e.Closed, e.Exchanged, e.ActDone, e.PowerOn)


@dataclass(frozen=True, slots=True)
class Look:
    """Somebody looked the finished work over.

    Attributes:
        person: Who.
        is_good: What they found.
        at_ms: When it was stored.
        text: What they said.
    """

    person: str
    is_good: bool
    at_ms: int
    text: str = ""


def workers(events: Sequence[e.Event]) -> tuple[str, ...]:
    """Everybody who opened, closed or exchanged something, in the order of their first step."""
    names = (event.by for event in in_force(events) if isinstance(event.what, WORK))
    return tuple(dict.fromkeys(name for name in names if name))


def is_due(events: Sequence[e.Event], beginners: Collection[str], share: float, run: str) -> bool:
    """True for all jobs in which a beginner had a hand, and for a share of the others.

    Which of the others is decided by the key of the job, so that nobody can choose, and asking twice
    gives the same.

    Args:
        events: The events of the job.
        beginners: Names of people whose work is always looked over.
        share: Share of the other jobs, 0 to 1.
        run: Key of the job.
    """
    hands = workers(events)
    if any(name in beginners for name in hands):
        return True
    drawn = int(hashlib.sha256(run.encode()).hexdigest()[:8], 16) / 0x1_0000_0000
    return bool(hands) and drawn < share


def is_done(events: Sequence[e.Event], looks: Iterable[Look]) -> bool:
    """True when somebody who did none of the work has found it good since it was last touched."""
    hands = {name.casefold() for name in workers(events)}
    touched = _last_touch_ms(events)
    last: dict[str, Look] = {}
    for look in looks:
        if look.person.casefold() not in hands and look.at_ms >= touched:
            last[look.person.casefold()] = look
    return bool(last) and all(look.is_good for look in last.values())


def _last_touch_ms(events: Sequence[e.Event]) -> int:
    """When the machine was last worked on: who looked before has not seen how it is now."""
    times = (
        event.stored_ms or event.at_ms or 0
        for event in in_force(events)
        if isinstance(event.what, WORK)
    )
    return max(times, default=0)
