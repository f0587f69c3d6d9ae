"""How long work took, from the clocks of the events: pauses left out, long gaps set apart.

Nobody starts or stops a clock. The time of a step is what passed since the event before it; a gap in
which the job was paused or parked counts for nothing, and one that is longer than work can be
(somebody was called away and did not say so) is set apart instead of being counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.run import events as e
from lastscrew.run.folding import in_force

LONGEST_GAP_MS = 15 * 60_000
"""A longer gap between two events of a job is no work (our own figure, no source)."""

_AWAY = (e.Paused, e.Parked, e.HandedOver)


@dataclass(frozen=True, slots=True)
class Worked:
    """Time of a job so far, in milliseconds.

    Attributes:
        hands_on_ms: Between events, less pauses and long gaps.
        set_apart_ms: Long gaps that nobody called a pause.
        gaps: How many of these there were.
        last_ms: When the last event was entered; None where no event has a time.
        is_running: Time runs now: the job is neither paused nor parked nor ended.
    """

    hands_on_ms: int
    set_apart_ms: int
    gaps: int
    last_ms: int | None
    is_running: bool


def worked(events: Sequence[e.Event]) -> Worked:
    """Time of a job so far.

    Args:
        events: The events of the job in order. Clocks that run backwards (another screen, a clock that was
            set) count as no time.
    """
    hands_on = apart = gaps = 0
    last: int | None = None
    away = False
    for event in in_force(events):
        if event.at_ms is not None:
            gap = 0 if last is None else max(0, event.at_ms - last)
            if not away and gap > LONGEST_GAP_MS:
                apart += gap
                gaps += 1
            elif not away:
                hands_on += gap
            last = event.at_ms if last is None else max(last, event.at_ms)
        if isinstance(event.what, _AWAY):
            away = True
        elif isinstance(event.what, e.Resumed | e.Started) or not isinstance(event.what, _QUIET):
            away = False
        if isinstance(event.what, e.Finished):
            away = True
    return Worked(hands_on, apart, gaps, last, is_running=not away)


_QUIET = (e.PartLine, e.Noted, e.Photo)
"""These may be entered while nobody works on it."""
