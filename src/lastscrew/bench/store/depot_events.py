"""Adding depot events: what happens to a unit, a stock or an account outside the work on the machine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from django.db.models import Max

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.folding import AFTER_IT_WENT
from lastscrew.bench.models import (
    Branch,
    OwnerData,
    Photo,
    Revision,
    StoredEvent,
    Unit,
    WaitingEvent,
)
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.deriving import take_depot_event
from lastscrew.bench.store.desk import Desk, is_key
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.bench.store.rules import depot_rules
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Event, Happening
from lastscrew.run.lines import event_as_json, event_from_json
from lastscrew.saying import say

WITHOUT_UNIT = (
    d.StockCounted,
    d.StockMoved,
    d.RevisionPublished,
    d.AccountChanged,
    d.RuleChanged,
)
"""Happenings that may stand without a unit."""


def take_in(
    unit: str, what: d.TakenIn, *, by: str, key: str | None = None, at_ms: int | None = None
) -> StoredEvent:
    """Take a unit in under the next free number, whatever number ``what`` says.

    Args, Returns, Raises: as :func:`add_depot_event`.
    """
    with one_at_a_time():
        if key is None or not StoredEvent.objects.filter(key=key).exists():
            what = replace(what, number=next_number())
        return add_depot_event(unit, what, by=by, key=key, at_ms=at_ms)


def next_number() -> int:
    """The next number that no unit has."""
    return int(Unit.objects.aggregate(last=Max("number"))["last"] or 0) + 1


def add_depot_event(
    unit: str, what: Happening, *, by: str, key: str | None = None, at_ms: int | None = None
) -> StoredEvent:
    """Add what happened to a unit or in the depot.

    Args:
        unit: Key of the unit; empty for stock, revisions and accounts.
        what: A depot event.
        by: Who says so.
        key: Id that the client made, so that a resend is harmless; a new one if not given.
        at_ms: When it was entered, by the client's clock; now if not given.

    Returns:
        The event as it is stored; the one that is there already where it is sent again.

    Raises:
        InputError: It makes no sense as things stand; with all problems.
    """
    stored_ms = now_ms()
    event = Event(
        id=key or new_key(), what=what, at_ms=stored_ms if at_ms is None else at_ms,
        stored_ms=stored_ms, by=by,
    )  # fmt: skip
    event = event_from_json(event_as_json(event), d.HAPPENINGS)
    with one_at_a_time():
        there = StoredEvent.objects.filter(key=event.id).first()
        if there is not None:
            return _resent(there, unit, event)
        desk = Desk()
        problems = _Sense(desk, unit).problems_of(event)
        if problems:
            raise InputError(problems)
        row = store_depot_event(desk, unit, event)
        desk.save()
        if isinstance(what, d.HandedBack):
            _set_time_of_erasure(unit, event.stored_ms or 0)
    return row


def _set_time_of_erasure(unit: str, gone_ms: int) -> None:
    """The day on which an owner's data is erased, now that the unit has left."""
    days = depot_rules().erase_after_days
    if days > 0:
        day = datetime.fromtimestamp(gone_ms / 1000, UTC).date() + timedelta(days=days)
        OwnerData.objects.get_or_create(unit=unit)
        OwnerData.objects.filter(unit=unit, erased=False).update(erase_after=day)


def store_depot_event(desk: Desk, unit: str, event: Event) -> StoredEvent:
    """Store a depot event and derive what follows. Within ``one_at_a_time``; the caller saves the desk."""
    row = StoredEvent(
        key=event.id,
        name=event.what.name,
        unit=unit,
        stored_ms=event.stored_ms or 0,
        by=event.by or "",
        body=event_as_json(event),
    )
    row.save(force_insert=True)
    take_depot_event(desk, unit, event, row.position)
    return row


def _resent(there: StoredEvent, unit: str, event: Event) -> StoredEvent:
    known = dict(there.body)
    sent: Mapping[str, object] = event_as_json(event)
    envelope = {"at", "stored", "by"}
    if isinstance(event.what, d.TakenIn):
        envelope.add("number")
    same = {k: v for k, v in known.items() if k not in envelope} == {
        k: v for k, v in sent.items() if k not in envelope
    }
    if not same or there.unit != unit or there.run:
        text = say("the id {id} was used for another event", id=event.id)
        raise InputError(
            [Problem(text, say("Give each event an id of its own."), "id", code="id_twice")]
        )
    return there


class _Sense:
    """Whether an event makes sense as things stand."""

    def __init__(self, desk: Desk, unit: str) -> None:
        self.desk = desk
        self.key = unit
        self.unit = desk.unit(unit) if unit else None

    def problems_of(self, event: Event) -> list[Problem]:
        """Everything that speaks against it."""
        what = event.what
        found = [*self._of_key(event.id), *self._of_unit(what)]
        match what:
            case d.TakenIn():
                found += self._of_taking_in(what)
            case d.HazardCleared():
                found += self._of_clearing()
            case d.OwnerPhoto():
                found += self._of_photo(what)
            case d.Custody():
                found += self._of_custody(what)
            case d.HandedBack():
                found += self._of_handing_back()
            case d.RevisionPublished():
                found += self._of_revision(what)
            case _:
                pass
        return found

    def _of_key(self, key: str) -> list[Problem]:
        if WaitingEvent.objects.filter(key=key).exists():
            text = say("the id {id} was used for another event", id=key)
            return [Problem(text, say("Give each event an id of its own."), "id", code="id_twice")]
        return []

    def _of_unit(self, what: Happening) -> list[Problem]:
        if isinstance(what, d.TakenIn) or (not self.key and isinstance(what, WITHOUT_UNIT)):
            return []
        if self.unit is None:
            text = (
                say("there is no unit {unit}", unit=self.key)
                if self.key
                else say("{name} needs a unit", name=what.name)
            )
            return [Problem(text, say("Take it in first."), "unit", code="unknown_unit")]
        if self.unit.gone_ms is not None and not isinstance(what, (*AFTER_IT_WENT, *WITHOUT_UNIT)):
            return [
                Problem(
                    say("{unit} has left", unit=self.unit),
                    say("Take it in again."),
                    "unit",
                    code="unit_gone",
                )
            ]
        return []

    def _of_taking_in(self, what: d.TakenIn) -> list[Problem]:
        found = []
        if not is_key(self.key):
            text = say("this is no key for a unit")
            found.append(Problem(text, say("Make a new one."), "unit", code="bad_value"))
        elif self.unit is not None:
            text = say(
                "the unit {key} was taken in already, as {unit}", key=self.key, unit=self.unit
            )
            found.append(
                Problem(text, say("Give each unit a key of its own."), "unit", code="unit_twice")
            )
        if Unit.objects.filter(number=what.number).exists():
            text = say("the number {number} is another unit's", number=what.number)
            remedy = say("Take the next free one, {number}.", number=next_number())
            found.append(Problem(text, remedy, "number", code="number_taken"))
        return found

    def _of_clearing(self) -> list[Problem]:
        if self.unit is None or self.unit.hazard:
            return []
        text = say("{unit} is not set apart", unit=self.unit)
        return [Problem(text, say("Nothing has to be cleared."), "unit", code="no_hazard")]

    def _of_photo(self, what: d.OwnerPhoto) -> list[Problem]:
        if Photo.objects.filter(pk=what.sha256, erased=False).exists():
            return []
        text = say("there is no picture {sha256}", sha256=what.sha256[:12])
        return [Problem(text, say("Send the picture first."), "sha256", code="unknown_photo")]

    def _of_custody(self, what: d.Custody) -> list[Problem]:
        if self.unit is None or what.state == "held":
            return []
        items = {str(entry["item"]): str(entry["state"]) for entry in self.unit.custody}
        if what.item not in items:
            known = ", ".join(sorted(items)) or say("nothing")
            text: str = say("“{item}” was not taken into custody", item=what.item)
            return [
                Problem(text, say("Kept here: {known}.", known=known), "item", code="unknown_item")
            ]
        if items[what.item] in {"returned", "destroyed"}:
            text = _left_already(what.item, items[what.item])
            return [Problem(text, say("It is not here any more."), "item", code="item_gone")]
        return []

    def _of_handing_back(self) -> list[Problem]:
        if self.unit is None or not self.unit.run:
            return []
        job = self.desk.run(self.unit.run)
        found = []
        if job is not None and not job.outcome:
            text = say("a job on {unit} is in hand", unit=self.unit)
            found.append(Problem(text, say("End it first."), "unit", code="job_in_hand"))
        if Branch.objects.filter(run=self.unit.run, state=Branch.State.OPEN).exists():
            text = say("two histories of {unit} wait for a decision", unit=self.unit)
            found.append(Problem(text, say("Decide first what counts."), "unit", code="undecided"))
        return found

    def _of_revision(self, what: d.RevisionPublished) -> list[Problem]:
        device = Revision.objects.filter(pk=what.revision).values_list("device", flat=True).first()
        if device is None:
            text = say("there is no revision {revision}", revision=what.revision[:12])
            return [Problem(text, say("Keep its text first."), "revision", code="unknown_revision")]
        if device != what.device:
            text = say(
                "the revision {revision} is of {device}", revision=what.revision[:12], device=device
            )
            return [Problem(text, say("Name its device."), "device", code="other_device")]
        return []


def _left_already(item: str, state: str) -> str:
    if state == "returned":
        return say("“{item}” was returned already", item=item)
    return say("“{item}” was destroyed already", item=item)
