"""Units, devices and jobs to test with, made in as few words as a test has."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Any

from django.db import connection

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import (
    Branch,
    Item,
    OwnerData,
    PartLineState,
    Photo,
    Revision,
    Run,
    StageTime,
    StoredEvent,
    Unit,
    WaitingEvent,
)
from lastscrew.bench.store.adding import Added, add_depot_event, add_run_events, take_in
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.jobs import forget_everything
from lastscrew.bench.store.rebuilding import DERIVED, dump
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.run.events import Event, Happening, Started

BY = "Ada"


@cache
def demo_text(name: str = "notebook") -> str:
    """The text of a demo device file."""
    return resources.files("lastscrew.demo").joinpath(f"{name}.device.yaml").read_text("utf-8")


@cache
def demo(name: str = "notebook") -> Device:
    """A demo device."""
    return load_device(demo_text(name), name)


def publish(name: str = "notebook") -> Device:
    """Have a demo device published."""
    device = demo(name)
    Revision.objects.get_or_create(
        revision=device.revision_hash,
        defaults={
            "device": device.id,
            "name": device.name,
            "text": demo_text(name),
            "made_ms": now_ms(),
        },
    )
    what = d.RevisionPublished(device=device.id, revision=device.revision_hash)
    add_depot_event("", what, by=BY)
    return device


def unit(key: str = "u1", **values: Any) -> str:  # noqa: ANN401 (fields of the event)
    """Take a unit in."""
    what = d.TakenIn(**{"number": 1, "device": demo().id, "serial": f"SN-{key}", **values})
    take_in(key, what, by=BY)
    return key


def started(device: Device | None = None, **values: Any) -> Started:  # noqa: ANN401
    """The first happening of a job."""
    known = device or demo()
    return Started(device=known.id, revision=known.revision_hash, **values)


def event(key: str, what: Happening, **envelope: Any) -> Event:  # noqa: ANN401
    """An event."""
    return Event(id=key, what=what, **envelope)


def begin(run: str = "r1", unit_key: str = "u1", **values: Any) -> Added:  # noqa: ANN401
    """Publish the device, take a unit in and begin a job on it."""
    device = publish()
    unit(unit_key)
    return add_run_events(run, [event(f"{run}-s", started(device, **values))], by=BY, unit=unit_key)


def empty() -> None:
    """Take every row away that a test may have made: as good as a new installation, and quicker."""
    for model in (
        StageTime, PartLineState, Run, Item, Unit, StoredEvent, WaitingEvent, Branch, OwnerData, Photo, Revision,
    ):  # fmt: skip
        model.objects.all().delete()
    if connection.vendor == "sqlite":
        connection.cursor().execute(
            "PRAGMA synchronous = OFF"
        )  # no power cut is part of these tests
    forget_everything()


def derived() -> dict[str, list[str]]:
    """Every derived table as text."""
    return {model.__name__: list(dump(model)) for model, _ in DERIVED}
