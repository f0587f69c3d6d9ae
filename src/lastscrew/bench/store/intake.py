"""Storing what came in: a unit's event, its owner's data beside it, where it lies, what stops it, its photos."""

from __future__ import annotations

from collections.abc import Iterable

from lastscrew.bench.depot.events import Placed
from lastscrew.bench.depot.taking_in import Intake
from lastscrew.bench.models import Unit
from lastscrew.bench.store.depot_events import add_depot_event, take_in
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.bench.store.owners import keep_owner


def store_intake(unit: str, intake: Intake, *, by: str) -> bool:
    """Store one unit that came in, all or nothing.

    Args:
        unit: Its key, made by the page that asks: sent again, it is stored once.
        intake: What the form says, without problems.
        by: Who took it in.

    Returns:
        False when it was here already: the same form was sent again.

    Raises:
        InputError: It makes no sense as things stand.
    """
    assert intake.taken is not None
    assert not intake.problems
    with one_at_a_time():
        if Unit.objects.filter(pk=unit).exists():
            return False
        take_in(unit, intake.taken, by=by, key=f"{unit}.in")
        if intake.owner:
            keep_owner(
                unit,
                name=intake.owner.name,
                contact=intake.owner.contact,
                complaint=intake.owner.complaint,
            )
        for hazard in intake.hazards:
            add_depot_event(unit, hazard, by=by, key=f"{unit}.{hazard.what}")
        if intake.place and not intake.hazards:
            add_depot_event(unit, Placed(place=intake.place), by=by, key=f"{unit}.place")
        return True


def store_batch(batch: str, rows: Iterable[tuple[int, Intake]], *, by: str) -> list[str]:
    """Store a batch, all or nothing.

    Args:
        batch: Its key, made by the page that asks.
        rows: Row in the table, and what it says.
        by: Who took it in.

    Returns:
        The keys of its units, in the order of the table.

    Raises:
        InputError: Something makes no sense as things stand; nothing was stored.
    """
    keys = []
    with one_at_a_time():
        for line, intake in rows:
            key = f"{batch}.{line}"
            store_intake(key, intake, by=by)
            keys.append(key)
    return keys
