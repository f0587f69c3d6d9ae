"""Revisions of device files: kept by content, published by an event; what work has said about them."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Count

from lastscrew.bench.depot.events import RevisionPublished
from lastscrew.bench.models import Item, Revision, Run, StageTime, StoredEvent
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.workshop.edits import NAMES
from lastscrew.device.model import Device
from lastscrew.run.events import Event
from lastscrew.run.lines import event_from_json

MOST_EVENTS = 2_000
"""So many contradictions of one device are looked at, the latest."""
MOST_TIMES = 5_000


def keep_revision(device: Device, text: str, *, by: str, note: str = "") -> Revision:
    """Keep the text of a device file; one that says the same is there already and stays as it is.

    Args:
        device: What the text says.
        text: The text.
        by: Who made it.
        note: What changed and why.
    """
    row, _ = Revision.objects.get_or_create(
        revision=device.revision_hash,
        defaults={
            "device": device.id,
            "name": device.name,
            "kind": device.kind[:80],
            "text": text,
            "made_ms": now_ms(),
            "made_by": by,
            "note": note,
        },
    )
    return row


def publish(
    device: Device, text: str, *, by: str, note: str = "", key: str | None = None
) -> Revision:
    """Make a text the revision for new jobs. Work in hand keeps the one that it began with.

    Args:
        device: What the text says.
        text: The text.
        by: Who publishes it.
        note: What changed and why.
        key: Id of the event, made by the page.

    Raises:
        InputError: It makes no sense as things stand.
    """
    row = keep_revision(device, text, by=by, note=note)
    what = RevisionPublished(device=device.id, revision=row.revision, note=note or None)
    add_depot_event("", what, by=by, key=key)
    return row


def contradictions(device_id: str) -> tuple[tuple[str, Event], ...]:
    """What jobs on a device have found to be otherwise than its file says, with the job, in order."""
    jobs = Run.objects.filter(device=device_id).values("key")
    rows = (
        StoredEvent.objects.filter(name__in=NAMES, run__in=jobs)
        .order_by("-position")
        .values_list("run", "body")[:MOST_EVENTS]
    )
    return tuple((run, event_from_json(body)) for run, body in reversed(list(rows)))


def jobs_in_hand(device_id: str) -> dict[str, int]:
    """Jobs that have not ended, by the revision that they keep."""
    rows = (
        Run.objects.filter(device=device_id, outcome="")
        .order_by()
        .values_list("revision")
        .annotate(jobs=Count("key"))
    )
    return dict(rows)


def times_by_joint(device_id: str) -> dict[str, int]:
    """How many times have been measured, by joint."""
    rows = (
        StageTime.objects.filter(device=device_id)
        .order_by()
        .values_list("joint")
        .annotate(count=Count("joint"))
    )
    return dict(rows)


def measured_times(device_id: str, joints: Iterable[str]) -> dict[tuple[str, str], list[int]]:
    """Milliseconds that steps took here, outliers left out, by limb and joint."""
    rows = (
        StageTime.objects.filter(device=device_id, joint__in=list(joints), is_outlier=False)
        .order_by("-at_ms")
        .values_list("limb", "joint", "taken_ms")[:MOST_TIMES]
    )
    found: dict[tuple[str, str], list[int]] = {}
    for limb, joint, taken_ms in rows:
        found.setdefault((limb, joint), []).append(taken_ms)
    return found


def stock_of(codes: Iterable[str]) -> dict[str, tuple[float, str]]:
    """How much lies there and where, by code; what was never counted or moved is left out."""
    rows = Item.objects.filter(code__in=list(codes)).values_list("code", "count", "place")
    return {code: (count, place) for code, count, place in rows}
