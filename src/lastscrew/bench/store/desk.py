"""The rows at hand while events are taken in: fetched once, changed in memory, saved together.

:class:`Desk` reads from the tables what it does not have yet. :class:`EmptyDesk` begins with nothing, and
never asks the tables: on it everything derived is made anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from lastscrew.bench.models import Item, PartLineState, Revision, Run, StageTime, StoredEvent, Unit
from lastscrew.run.fields import KEY, UnfitError

BATCH = 500
Row = TypeVar("Row", Unit, Run, Item)


def is_key(text: str) -> bool:
    """True for what can be a key: PostgreSQL does not even look for a text that holds a zero byte."""
    try:
        KEY.read(text)
    except UnfitError:
        return False
    return True


class Desk:
    """Rows by key; what was changed is written by :meth:`save`, in as many statements as there are tables."""

    def __init__(self) -> None:
        """Begin with nothing at hand."""
        self._units: dict[str, Unit | None] = {}
        self._runs: dict[str, Run | None] = {}
        self._items: dict[str, Item | None] = {}
        self._lines: dict[str, dict[str, PartLineState]] = {}
        self._times: dict[str, dict[str, StageTime]] = {}
        self._published: dict[str, str] = {}
        self._changed: dict[tuple[str, str], Unit | Run | Item] = {}
        self._new: set[tuple[str, str]] = set()
        self._anew: set[str] = set()

    # --- fetching -------------------------------------------------------------------------------

    def unit(self, key: str) -> Unit | None:
        """A unit, or None."""
        if key not in self._units:
            self._units[key] = self._fetch_unit(key)
        return self._units[key]

    def run(self, key: str) -> Run | None:
        """A job, or None."""
        if key not in self._runs:
            self._runs[key] = self._fetch_run(key)
        return self._runs[key]

    def item(self, code: str, moment_ms: int) -> Item:
        """What lies in stock under a code; nothing yet where it was never heard of."""
        if code not in self._items:
            self._items[code] = self._fetch_item(code)
        found = self._items[code]
        if found is None:
            found = Item(code=code, changed_ms=moment_ms)
            self._items[code] = found
            self._new.add(("Item", code))
        return found

    def position_of(self, event: str) -> int:
        """Position of a stored event."""
        return StoredEvent.objects.values_list("position", flat=True).get(key=event)

    def _fetch_unit(self, key: str) -> Unit | None:
        return Unit.objects.filter(pk=key).first() if is_key(key) else None

    def _fetch_run(self, key: str) -> Run | None:
        return Run.objects.filter(pk=key).first() if is_key(key) else None

    def _fetch_item(self, code: str) -> Item | None:
        return Item.objects.filter(pk=code).first()

    # --- changing -------------------------------------------------------------------------------

    def add_unit(self, unit: Unit) -> None:
        """A unit that came in."""
        self._units[unit.key] = unit
        self._new.add(("Unit", unit.key))
        self.touch(unit)

    def add_run(self, run: Run) -> None:
        """A job that begins."""
        self._runs[run.key] = run
        self._new.add(("Run", run.key))
        self.touch(run)

    def touch(self, row: Unit | Run | Item) -> None:
        """Remember to write a row."""
        self._changed[type(row).__name__, row.pk] = row

    def set_lines(self, run: str, rows: Iterable[PartLineState]) -> None:
        """Lines of an order that are new or that changed."""
        self._lines.setdefault(run, {}).update((row.line, row) for row in rows)

    def set_times(self, run: str, rows: Iterable[StageTime]) -> None:
        """Times that are new or that changed."""
        self._times.setdefault(run, {}).update((row.event, row) for row in rows)

    def forget_run(self, run: str) -> None:
        """Lines and times of a job are made anew: what is not set again goes."""
        self._anew.add(run)
        self._lines.pop(run, None)
        self._times.pop(run, None)

    def publish(self, device: str, revision: str) -> None:
        """A revision is the one for new jobs."""
        self._published[device] = revision

    # --- saving ---------------------------------------------------------------------------------

    def save(self) -> None:
        """Write what changed."""
        if self._anew:
            PartLineState.objects.filter(run_id__in=self._anew).delete()
            StageTime.objects.filter(run_id__in=self._anew).delete()
        self._save_rows(Unit)
        self._save_rows(Run)
        self._save_rows(Item)
        if lines := [row for rows in self._lines.values() for row in rows.values()]:
            PartLineState.objects.bulk_create(
                lines,
                batch_size=BATCH,
                update_conflicts=True,
                unique_fields=["run", "line"],
                update_fields=["state", "count", "order_code", "what", "changed_ms"],
            )
        if times := [row for rows in self._times.values() for row in rows.values()]:
            StageTime.objects.bulk_create(
                times,
                batch_size=BATCH,
                update_conflicts=True,
                unique_fields=["event"],
                update_fields=["taken_ms", "is_outlier"],
            )
        for device, revision in self._published.items():
            Revision.objects.filter(device=device, is_current=True).update(is_current=False)
            Revision.objects.filter(pk=revision).update(is_current=True)
        for kept in (self._changed, self._new, self._anew, self._lines, self._times):
            kept.clear()
        self._published.clear()

    def _save_rows(self, model: type[Row]) -> None:
        name = model.__name__
        rows = {row.pk: row for row in self._changed.values() if isinstance(row, model)}
        if new := [row for key, row in rows.items() if (name, key) in self._new]:
            model.objects.bulk_create(new, batch_size=BATCH)
        for key, row in rows.items():
            if (name, key) not in self._new:
                row.save(force_update=True)


class EmptyDesk(Desk):
    """A desk for making everything anew: it knows only what was put on it."""

    def __init__(self) -> None:
        """Begin with nothing."""
        super().__init__()
        self.positions: dict[str, int] = {}

    def position_of(self, event: str) -> int:
        """Position of an event that was replayed."""
        return self.positions[event]

    def _fetch_unit(self, key: str) -> None:  # noqa: ARG002 (nothing is asked)
        return None

    def _fetch_run(self, key: str) -> None:  # noqa: ARG002 (nothing is asked)
        return None

    def _fetch_item(self, code: str) -> None:  # noqa: ARG002 (nothing is asked)
        return None
