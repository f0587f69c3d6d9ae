"""Jobs as they stand, and the device files that they keep. What was folded once is only added to."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from contextlib import suppress
from dataclasses import dataclass
from typing import Generic, TypeVar

from django.db import connection, transaction
from django.db.models import Count

from lastscrew.bench import models
from lastscrew.bench.depot.clocks import Estimates
from lastscrew.bench.depot.running import RunFold, estimates_of, take
from lastscrew.bench.store.desk import is_key
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.problems import InputError
from lastscrew.run.events import Event
from lastscrew.run.lines import event_from_json
from lastscrew.run.state import JobState

MOST_JOBS = 300
"""So many jobs stay at hand: some more than a depot works on at a time; about 1 MB each at most."""

MOST_DEVICES = 60

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class Job:
    """A job: its row, the device file that it keeps, how it stands, what happened."""

    run: models.Run
    device: Device
    state: JobState
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class KnownDevice:
    """A device file, and how long its steps should take."""

    device: Device
    estimate: Estimates


class Shelf(Generic[Value]):
    """Values that were worked out lately, by key; the longest unused one makes room. Safe between threads."""

    def __init__(self, most: int) -> None:
        """Keep at most ``most`` values."""
        self._most = most
        self._lock = threading.Lock()
        self._values: OrderedDict[Hashable, Value] = OrderedDict()

    def get(self, key: Hashable) -> Value | None:
        """The value, or None."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
            return self._values.get(key)

    def put(self, key: Hashable, value: Value, *, unless: Callable[[Value], bool]) -> None:
        """Keep a value, unless the one that is there is to stay."""
        with self._lock:
            there = self._values.get(key)
            if there is not None and unless(there):
                return
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._values.clear()


_folds: Shelf[RunFold] = Shelf(MOST_JOBS)
_devices: Shelf[KnownDevice] = Shelf(MOST_DEVICES)


def forget_everything() -> None:
    """Forget what was worked out: the database is another one than it was."""
    _folds.clear()
    _devices.clear()


def _place() -> tuple[str, str, str]:
    values = connection.settings_dict
    return str(values["HOST"]), str(values["PORT"]), str(values["NAME"])


# --- devices --------------------------------------------------------------------------------------


def known_device(revision: str) -> KnownDevice:
    """A device file by its hash, with estimates.

    Raises:
        KeyError: There is none.
    """
    key = (*_place(), revision)
    found = _devices.get(key)
    if found is None:
        row = models.Revision.objects.filter(pk=revision).only("text", "name").first()
        if row is None:
            raise KeyError(revision)
        device = load_device(row.text, row.name)
        found = KnownDevice(device, estimates_of(device))
        _devices.put(key, found, unless=lambda _there: True)
    return found


def device_of(revision: str) -> Device:
    """A device file by its hash.

    Raises:
        KeyError: There is none.
    """
    return known_device(revision).device


def read_ahead(most: int = MOST_DEVICES // 2) -> int:
    """Read the device files that jobs in hand go by, and those for new jobs, before anybody asks.

    A large file takes a second or two; without this, the first step after a start would wait for it, and all
    other steps behind that one.

    Args:
        most: So many at most, those with the most jobs in hand first.

    Returns:
        How many are at hand now.
    """
    in_hand = (
        models.Run.objects.filter(outcome="")
        .order_by()
        .values_list("revision")
        .annotate(jobs=Count("key"))
        .order_by("-jobs", "revision")[:most]
    )
    current = models.Revision.objects.filter(is_current=True).order_by("device")
    wanted = [revision for revision, _ in in_hand]
    wanted += list(current.values_list("revision", flat=True)[:most])
    read = 0
    for revision in list(dict.fromkeys(wanted))[:most]:
        # What can't be read is told to whoever asks for it.
        with suppress(KeyError, InputError):
            known_device(revision)
            read += 1
    return read


def current_revision(device_id: str) -> models.Revision | None:
    """The revision for new jobs on a device, None where none is published."""
    return models.Revision.objects.filter(device=device_id, is_current=True).first()


# --- jobs -----------------------------------------------------------------------------------------


def load_job(run: str) -> Job:
    """A job as it stands.

    Raises:
        KeyError: There is none.
    """
    row = models.Run.objects.select_related("unit").filter(pk=run).first() if is_key(run) else None
    if row is None:
        raise KeyError(run)
    device = device_of(row.revision)
    state = fold_of(row).state
    return Job(row, device, state, state.log)


def fold_of(row: models.Run) -> RunFold:
    """Everything that follows from a job's events, up to its version; only new events are read and folded."""
    known = known_device(row.revision)
    there = _folds.get((*_place(), row.key))
    fold = there if there is not None and there.state.version <= row.version else RunFold()
    if fold.state.version < row.version:
        for event in _events_after(row.key, fold.state.version, row.version):
            fold = take(known.device, fold, event, known.estimate).fold
        keep_fold(row.key, fold)
    return fold


def fold_from_start(run: str, revision: str, version: int) -> RunFold:
    """The same for a job up to some version, whatever its row says."""
    known = known_device(revision)
    fold = RunFold()
    for event in _events_after(run, 0, version):
        fold = take(known.device, fold, event, known.estimate).fold
    return fold


def keep_fold(run: str, fold: RunFold) -> None:
    """Have a job at hand, as soon as what it was folded from is certain to stay."""
    key = (*_place(), run)
    transaction.on_commit(
        lambda: _folds.put(key, fold, unless=lambda there: there.state.version > fold.state.version)
    )


def _events_after(run: str, version: int, last: int) -> list[Event]:
    rows = (
        models.StoredEvent.objects.filter(run=run, number__gt=version, number__lte=last)
        .order_by("number")
        .values_list("body", flat=True)
    )
    return [event_from_json(body) for body in rows]
