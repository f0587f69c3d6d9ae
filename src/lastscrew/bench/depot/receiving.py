"""What to do with events that screens send: which are in order, which wait, which go on a branch. Pure.

A screen numbers its events of a job from 0. What comes before an earlier one waits. What a screen did
without knowing what another one had done meanwhile goes on a branch, and a person decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lastscrew.run.events import Event, Noted, PartLine, Photo

BESIDE_THE_WORK = (Noted, Photo, PartLine)
"""Happenings that stand beside whatever another screen does: they change nothing on the machine."""


def in_sequence(events: Iterable[Event], expected: int) -> tuple[list[Event], list[Event]]:
    """Split the events of one screen into those that follow without a gap, and those that wait.

    Args:
        events: Events of one screen, in any order; each number once. Those without a number count as in order
            and come last.
        expected: The number that comes next.
    """
    every = list(events)
    numbered = sorted(
        (event for event in every if event.sequence is not None), key=lambda e: e.sequence or 0
    )
    ready: list[Event] = []
    waiting: list[Event] = []
    for event in numbered:
        assert event.sequence is not None
        if not waiting and event.sequence == expected + len(ready):
            ready.append(event)
        else:
            waiting.append(event)
    return [*ready, *(event for event in every if event.sequence is None)], waiting


def has_split(events: Sequence[Event], last_by_others: int) -> bool:
    """True when these events were entered without knowing what another screen had done.

    Args:
        events: Events of one screen in order.
        last_by_others: Version of the job at the last event that another screen added and that touches
            the work; 0 for none.
    """
    return any(
        event.base is not None
        and event.base < last_by_others
        and not isinstance(event.what, BESIDE_THE_WORK)
        for event in events
    )


def is_same(one: Event, other: Event) -> bool:
    """True when two events with one id are one event that was sent twice.

    What may differ is who sent it, when it was stored, and what the screen knew by then.
    """
    return (one.what, one.client, one.sequence) == (other.what, other.client, other.sequence)
