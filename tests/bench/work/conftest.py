"""Jobs on the invented devices, worked by tapping what the work page shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

import pytest

from lastscrew.bench.work.bundle import Work, work_of
from lastscrew.bench.work.items import Item
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.run.events import Event, Happening, Started
from lastscrew.run.folding import fold
from lastscrew.run.lines import event_from_json
from lastscrew.run.state import JobState


@cache
def demo(name: str) -> Device:
    """One of the invented devices."""
    path = files("lastscrew.demo") / f"{name}.device.yaml"
    return load_device(path.read_bytes(), path.name)


@dataclass
class Screen:
    """A screen at a job: what it shows, and what happens when it is tapped."""

    device: Device
    events: list[Event] = field(default_factory=list)
    state: JobState = field(default_factory=JobState)
    by: str = "Ada"

    @classmethod
    def at(cls, device: Device, *replace: str, reach: tuple[str, ...] = ()) -> Screen:
        """A screen at a job that has just begun."""
        screen = cls(device)
        what = Started(
            device=device.id, revision=device.revision_hash, replace=replace, reach=reach
        )
        screen.happen(what)
        return screen

    def happen(self, what: Happening | Mapping[str, object]) -> Event:
        """Something happens."""
        number = len(self.events)
        if isinstance(what, Happening):
            event = Event(id=f"e{number}", what=what, by=self.by, at_ms=number * 10_000)
        else:
            event = event_from_json({"id": f"e{number}", "by": self.by, **what})
        self.events.append(event)
        self.state = fold(self.device, [event], self.state)
        return event

    def work(self) -> Work:
        """What the page shows."""
        return work_of(self.device, self.state)

    def items(self) -> list[Item]:
        """Every step that is shown."""
        return [item for stage in self.work().stages for item in stage.items]

    def item(self, key: str) -> Item:
        """A step by its id."""
        return next(item for item in self.items() if item.id == key)

    def tap(self, item: Item) -> None:
        """Confirm everything of one step; what it asks for belongs into the first event."""
        for tap in item.taps:
            asked: dict[str, object] = {key: "X1" for key in tap.fields if "serial" in key}
            for event in tap.events:
                self.happen({**event, **asked})
                asked = {}

    def tap_until(self, key: str = "") -> None:
        """Tap what is not done, in order, up to one step; or to the end."""
        for item in self.items():
            if item.id == key:
                return
            if not item.is_done:
                self.tap(item)
        assert not key, f"there is no step {key}"


@pytest.fixture
def notebook() -> Device:
    """The invented notebook."""
    return demo("notebook")
