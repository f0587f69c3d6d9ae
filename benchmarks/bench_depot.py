"""What the load benchmark puts into a database: one fresh job for each bench, and many years of other work."""

from __future__ import annotations

from itertools import islice
from random import Random
from typing import Any

from lastscrew.bench.depot.events import TakenIn
from lastscrew.bench.invented.playing import Playing, play
from lastscrew.bench.models import Run, StoredEvent, Unit
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.depot_events import take_in
from lastscrew.bench.store.revisions import publish
from lastscrew.cli.demo import demo_text
from lastscrew.device.reading import load_device
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run.lines import event_as_json

BATCH = 2_000
DAY_MS = 86_400_000


def one_job_each(benches: int) -> tuple[tuple[str, ...], tuple[tuple[dict[str, Any], ...], ...]]:
    """A job of its own for each bench, begun; and the steps that the bench will send."""
    text = demo_text("notebook")
    device = load_device(text, "notebook")
    publish(device, text, by="load")
    made = plan(device, Request(replace=("keyboard",)))
    runs, steps = [], []
    for bench in range(benches):
        unit, run = f"load-unit-{bench}", f"load-run-{bench}"
        take_in(unit, TakenIn(number=1, device=device.id, serial=f"LOAD{bench}"), by="load")
        playing = Playing(run, f"screen-{bench}", now_ms(), Random(bench), unit=f"LOAD{bench}")
        first, *rest = play(device, made, playing)
        add_run_events(run, [first], by="load", unit=unit)
        runs.append(run)
        steps.append(tuple(event_as_json(event) for event in rest))
    return tuple(runs), tuple(steps)


def many_years(units: int, jobs: int, events: int) -> tuple[str, str]:
    """Rows as years of work leave them: units, jobs that have ended, their events.

    Returns:
        Key and serial of one unit, to ask for.
    """
    chance, now = Random(4), now_ms()
    stages = ("gone",) * 7 + ("taken_in", "parked", "at_work")
    rows = (
        Unit(
            key=f"old-{at}",
            number=100_000 + at,
            device="larkmoor_13",
            serial=f"OLD{at:07d}",
            asset_tag=f"INV-{at}",
            stage=stages[at % 10],
            place=f"Shelf {at % 30}",
            taken_in_ms=now - chance.randrange(900) * DAY_MS,
            changed_ms=now - chance.randrange(900) * DAY_MS,
            gone_ms=now - chance.randrange(300) * DAY_MS if stages[at % 10] == "gone" else None,
            search=f"u{100_000 + at} old{at:07d} inv-{at} larkmoor_13 shelf {at % 30}",
        )
        for at in range(units)
    )
    while batch := list(islice(rows, BATCH)):
        Unit.objects.bulk_create(batch)
    revision = str(Run.objects.values_list("revision", flat=True).first() or "")
    per_job = max(1, events // max(1, jobs))
    Run.objects.bulk_create(
        [
            Run(
                key=f"old-run-{at}",
                unit_id=f"old-{at * 10 % max(1, units)}",
                device="larkmoor_13",
                revision=revision,
                version=per_job,
                targets=["keyboard"],
                outcome="repaired",
                started_ms=now - at * DAY_MS,
                changed_ms=now - at * DAY_MS,
            )
            for at in range(jobs)
        ],
        batch_size=BATCH,
    )
    begun = {
        "event": "started",
        "device": "larkmoor_13",
        "revision": revision,
        "replace": ["keyboard"],
    }

    def happened(number: int) -> dict[str, Any]:
        return {"event": "noted", "text": "Work."} if number else begun

    stored = (
        StoredEvent(
            key=f"old-run-{at // per_job}-{at % per_job}",
            name="noted" if at % per_job else "started",
            run=f"old-run-{at // per_job}",
            number=at % per_job + 1,
            unit=f"old-{at // per_job * 10 % max(1, units)}",
            client="old",
            sequence=at % per_job,
            stored_ms=now - at,
            by="load",
            body={"id": f"old-run-{at // per_job}-{at % per_job}", **happened(at % per_job)},
        )
        for at in range(per_job * jobs)
    )
    while block := list(islice(stored, BATCH)):
        StoredEvent.objects.bulk_create(block)
    return "old-10", "OLD0000010"
