"""What closed jobs on a device have taught about its faults: few questions to the database, kept until a job ends."""

from __future__ import annotations

from typing import Final

from django.db import connection
from django.db.models import Max

from lastscrew.bench.depot.events import HAPPENINGS as DEPOT
from lastscrew.bench.models import Run, StoredEvent
from lastscrew.bench.store.jobs import Shelf
from lastscrew.bench.workshop.fault_lessons import Lessons, Told, lessons_of
from lastscrew.bench.workshop.fault_story import DEPOT_NAMES, RUN_NAMES
from lastscrew.device.model import Device
from lastscrew.run.events import HAPPENINGS as RUN
from lastscrew.run.events import Event, Happening
from lastscrew.run.lines import event_from_json

MOST_CLOSED: Final = 500
"""So many closed jobs of a device are learnt from, the latest (our own figure): older ones no longer tell
how its faults are spread."""
MOST_EVENTS: Final = 20_000
MOST_KEPT: Final = 60
CHANGES: Final = ("finished", "taken_back", "fault_taken_back")
"""Events after which there may be something else to learn."""

_kept: Shelf[Lessons] = Shelf(MOST_KEPT)


def lessons(device: Device) -> Lessons:
    """A device with what its closed jobs here have taught.

    Args:
        device: The device file that is worked by.
    """
    if not device.faults:
        return Lessons(device)
    last = StoredEvent.objects.filter(name__in=CHANGES).aggregate(last=Max("position"))["last"]
    if last is None:
        return Lessons(device)
    values = connection.settings_dict
    key = (values["HOST"], values["PORT"], values["NAME"], device.id, device.revision_hash, last)
    found = _kept.get(key)
    if found is None:
        found = lessons_of(device, _told(device.id))
        _kept.put(key, found, unless=lambda _there: True)
    return found


def _told(device_id: str) -> list[Told]:
    """What was told about each unit with repaired jobs; of a unit that is read in part nothing."""
    rows = list(
        Run.objects.filter(device=device_id, outcome="repaired")
        .order_by("-finished_ms", "-key")
        .values_list("key", "unit", "unit__checks_before", "started_ms")[:MOST_CLOSED]
    )
    runs: dict[str, list[tuple[int, str]]] = {}
    before: dict[str, dict[str, str]] = {}
    for run, unit, checks, started_ms in rows:
        runs.setdefault(unit, []).append((started_ms, run))
        before[unit] = checks
    events = _events(list(runs), {run for run, *_ in rows})
    return [
        Told(tuple(events[unit]), tuple(run for _, run in sorted(own)), before[unit])
        for unit, own in sorted(runs.items())
        if unit in events
    ]


def _events(units: list[str], runs: set[str]) -> dict[str, list[tuple[str, Event]]]:
    """Events of units and of those of their jobs, by unit, in order."""
    names = (*DEPOT_NAMES, *RUN_NAMES, "finished", "taken_in")
    kinds: dict[str, type[Happening]] = {**DEPOT, **RUN}
    rows = list(
        StoredEvent.objects.filter(unit__in=units, name__in=names)
        .order_by("-position")
        .values_list("unit", "run", "body")[:MOST_EVENTS]
    )
    if len(rows) == MOST_EVENTS:  # units that came in earlier are read in part
        whole = {unit for unit, _, body in rows if body.get("event") == "taken_in"}
        rows = [row for row in rows if row[0] in whole]
    found: dict[str, list[tuple[str, Event]]] = {}
    for unit, run, body in reversed(rows):
        if not run or run in runs:
            found.setdefault(unit, []).append((run, event_from_json(body, kinds)))
    return found
