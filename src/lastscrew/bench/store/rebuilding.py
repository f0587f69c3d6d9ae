"""Everything derived, made anew from the events, in the order in which they were stored."""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from django.db.models import Model

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.running import RunFold
from lastscrew.bench.models import (
    Branch,
    Item,
    PartLineState,
    Revision,
    Run,
    StageTime,
    StoredEvent,
    Unit,
)
from lastscrew.bench.store.deriving import take_depot_event, take_run_event
from lastscrew.bench.store.desk import EmptyDesk
from lastscrew.bench.store.jobs import fold_from_start, known_device
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.run.events import HAPPENINGS, Started
from lastscrew.run.lines import event_from_json

DERIVED: tuple[tuple[type[Model], tuple[str, ...]], ...] = (
    (Unit, ("key",)),
    (Run, ("key",)),
    (PartLineState, ("run_id", "line")),
    (Item, ("code",)),
    (StageTime, ("event",)),
)
"""Derived tables with what their rows go by; rows without a meaning of their own (``id``) do not count."""

CHUNK = 2_000


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What a rebuild did.

    Attributes:
        events: Events read.
        units, runs: Rows made.
        changed: Names of the derived tables that were not as the events say.
    """

    events: int
    units: int
    runs: int
    changed: tuple[str, ...]


def rebuild(progress: Callable[[int], None] | None = None) -> Rebuilt:
    """Make every derived table anew, in one transaction.

    The events are replayed beside whatever others add; only what came meanwhile is replayed, and the
    tables are written, while nobody else may add.

    Args:
        progress: Called now and then with how many events were read.
    """
    desk = EmptyDesk()
    replay = _Replay(desk)
    replay.go_on(progress)
    with one_at_a_time():
        replay.go_on(progress)
        before = {model.__name__: fingerprint(model) for model, _ in DERIVED}
        for model, _ in reversed(DERIVED):
            model._default_manager.all()._raw_delete(model._default_manager.db)  # noqa: SLF001
        Revision.objects.filter(is_current=True).update(is_current=False)
        split = Branch.objects.filter(state=Branch.State.OPEN).values_list("run", flat=True)
        for key in dict.fromkeys(split):
            if (run := desk.run(key)) is not None:
                run.is_split = True
        desk.save()
        changed = tuple(
            model.__name__ for model, _ in DERIVED if fingerprint(model) != before[model.__name__]
        )
    return Rebuilt(replay.count, Unit.objects.count(), Run.objects.count(), changed)


class _Replay:
    """The events once more, one after the other."""

    MOST_FOLDS = 2_000

    def __init__(self, desk: EmptyDesk) -> None:
        self.desk = desk
        self.folds: OrderedDict[str, RunFold] = OrderedDict()
        self.last = 0
        self.count = 0

    def go_on(self, progress: Callable[[int], None] | None) -> None:
        """Replay what has not been replayed yet."""
        every = StoredEvent.objects.filter(position__gt=self.last).order_by("position")
        with closing(every.iterator(chunk_size=CHUNK)) as rows:  # type: ignore[type-var]
            for row in rows:
                self._take(row)
                self.last = row.position
                self.count += 1
                if progress is not None and self.count % CHUNK == 0:
                    progress(self.count)

    def _take(self, row: StoredEvent) -> None:
        self.desk.positions[row.key] = row.position
        if row.run:
            self._take_run_event(row)
        else:
            event = event_from_json(row.body, d.HAPPENINGS)
            take_depot_event(self.desk, row.unit, event, row.position)

    def _take_run_event(self, row: StoredEvent) -> None:
        event = event_from_json(row.body, HAPPENINGS)
        before = self._fold_before(row)
        run = self.desk.run(row.run)
        first = event.what
        if run is not None:
            known = known_device(run.revision)
        else:
            assert isinstance(first, Started)
            known = known_device(first.revision)
        fold = take_run_event(self.desk, row.run, row.unit, event, row.position, before, known)
        self.folds[row.run] = fold
        self.folds.move_to_end(row.run)
        if event.what.name == "finished":
            # As a rule nothing comes after it; if something does, it is folded anew.
            self.folds.pop(row.run)
        while len(self.folds) > self.MOST_FOLDS:
            self.folds.popitem(last=False)

    def _fold_before(self, row: StoredEvent) -> RunFold:
        if row.run in self.folds or row.number == 1:
            return self.folds.get(row.run, RunFold())
        run = self.desk.run(row.run)
        assert run is not None
        return fold_from_start(row.run, run.revision, run.version)


def fingerprint(model: type[Model]) -> str:
    """A hash over all rows of a derived table, in an order of their own."""
    digest = hashlib.sha256()
    for line in dump(model):
        digest.update(line.encode() + b"\n")
    return digest.hexdigest()


def dump(model: type[Model]) -> Iterator[str]:
    """The rows of a derived table as text, each a line of JSON, in an order of their own."""
    order = dict(DERIVED)[model]
    names = [field.attname for field in model._meta.concrete_fields if field.attname != "id"]  # noqa: SLF001
    rows: Any = model._default_manager.order_by(*order).values_list(*names)  # noqa: SLF001
    for row in rows.iterator(chunk_size=CHUNK):
        yield json.dumps(dict(zip(names, row, strict=True)), ensure_ascii=False, sort_keys=True)
