"""A unit leaves: what named persons let stand, the end of its job and the handing back, all or nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lastscrew.bench.depot.events import HandedBack
from lastscrew.bench.models import StoredEvent
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.jobs import Job, load_job
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.problems import InputError
from lastscrew.run.events import Event, Finished, Happening, Waived

Bars = Callable[[Job | None], Sequence[str]]
"""What stands in the way as the job stands now, in sentences."""

Follows = Callable[[Job | None], tuple[Sequence[Happening], Sequence[Happening]]]
"""What has to be told to the job before it ends, and to the store, as the job stands now."""


class BarredError(Exception):
    """Something stands in the way; nothing was stored."""


def let_leave(
    unit: str,
    run: str,
    what: HandedBack,
    waivers: Sequence[Waived],
    bars: Bars,
    *,
    by: str,
    key: str,
    follows: Follows = lambda _job: ((), ()),
) -> None:
    """Hand a unit back.

    Args:
        unit: Key of the unit.
        run: Key of the job in hand, empty for none.
        what: How it ends.
        waivers: What a named person lets stand, by events of the job.
        bars: Asked again inside the transaction, after the waivers: another screen may have gone on.
        by: Who hands it back.
        key: Made by the page: sent again, it is done once.
        follows: What else is told, with a machine that is given up.

    Raises:
        BarredError: Something stands in the way.
        InputError: It makes no sense as things stand.
    """
    with one_at_a_time():
        if StoredEvent.objects.filter(key=f"{key}.back").exists():
            return
        if run and waivers:
            _add(run, key, "let", waivers, by)
        job = load_job(run) if run else None
        if bars(job):
            raise BarredError
        to_job, to_store = follows(job)
        if job is not None and not job.run.outcome:
            _add(run, key, "end", [*to_job, Finished(outcome=what.outcome)], by)
        for number, moved in enumerate(to_store):
            add_depot_event("", moved, by=by, key=f"{key}.store.{number}")
        add_depot_event(unit, what, by=by, key=f"{key}.back")


def _add(run: str, key: str, name: str, whats: Sequence[Happening], by: str) -> None:
    """Add events of the page itself: they come as they are, in no screen's sequence."""
    events = [Event(id=f"{key}.{name}.{n}", what=what) for n, what in enumerate(whats)]
    added = add_run_events(run, events, by=by)
    if len(added.accepted) != len(events):
        raise InputError(())
