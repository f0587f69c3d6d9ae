"""What identifies an owner: kept outside the events, and erased when asked or when its time has come.

Events, ledger and everything derived stay as they are: they refer to the unit, never to its owner.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, datetime

from django.db import OperationalError, connection, transaction
from django.db.models import Q

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import OwnerData, Photo, Unit
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.depot_events import store_depot_event
from lastscrew.bench.store.desk import Desk
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.bench.store.photos import path_of
from lastscrew.bench.store.rules import depot_rules
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Event
from lastscrew.run.lines import event_as_json, event_from_json
from lastscrew.saying import say

DAY_MS = 86_400_000
BY_TIME = "lastscrew"
"""Who erases when the time has come."""


def keep_owner(unit: str, *, name: str = "", contact: str = "", complaint: str = "") -> OwnerData:
    """Keep or correct an owner's data; what was erased may be entered anew."""
    row, _ = OwnerData.objects.update_or_create(
        unit=unit,
        defaults={
            "name": name[:200],
            "contact": contact[:300],
            "complaint": complaint,
            "erased": False,
        },
    )
    return row


def keep_caption(unit: str, sha256: str, text: str) -> None:
    """Keep what a photo of the owner's shows: not in its event, which stays, but with the owner's data."""
    with one_at_a_time():
        row, _ = OwnerData.objects.get_or_create(unit=unit)
        row.captions = {**row.captions, **({sha256: text[:200]} if text else {})}
        row.erased = False  # from now on there is something to erase again
        row.save()


def erase(unit: str, reason: str, *, by: str) -> tuple[str, ...]:
    """Erase an owner's name, contact, complaint and photos with what they show. Doing it again changes nothing.

    Args:
        unit: Key of the unit.
        reason: ``asked``, ``time`` or ``mistake``.
        by: Who does it.

    Returns:
        Hashes of the photos that are gone.

    Raises:
        InputError: There is no such unit.
    """
    hashes = _erase(unit, reason, by)
    transaction.on_commit(_empty_log)
    return hashes


def _erase(unit: str, reason: str, by: str) -> tuple[str, ...]:
    with one_at_a_time():
        desk = Desk()
        if desk.unit(unit) is None:
            raise InputError(
                [Problem(say("there is no unit {unit}", unit=unit), code="unknown_unit")]
            )
        photos = [photo for photo in _photos_of(unit) if not photo.erased]
        owner = OwnerData.objects.select_for_update().filter(pk=unit).first()
        if not photos and (owner is None or owner.erased):
            return ()
        OwnerData.objects.update_or_create(
            unit=unit,
            defaults={
                "name": "", "contact": "", "complaint": "", "captions": {}, "erase_after": None,
                "erased": True,
            },
        )  # fmt: skip
        Photo.objects.filter(pk__in=[photo.pk for photo in photos]).update(erased=True)
        hashes = tuple(sorted(photo.sha256 for photo in photos))
        _tell(desk, unit, hashes, reason, by)
        desk.save()
        # Before the commit: should the power fail in between, the row still says that there is work to do.
        remove_files(photos)
    return hashes


def _tell(desk: Desk, unit: str, hashes: tuple[str, ...], reason: str, by: str) -> None:
    """Events that say it; one names at most a hundred photos."""
    stored_ms = now_ms()
    for start in range(0, max(1, len(hashes)), 100):
        what = d.OwnerErased(reason=reason, photos=hashes[start : start + 100])
        event = Event(id=new_key(), what=what, at_ms=stored_ms, stored_ms=stored_ms, by=by)
        store_depot_event(desk, unit, event_from_json(event_as_json(event), d.HAPPENINGS))


def _photos_of(unit: str) -> list[Photo]:
    shared = Photo.objects.filter(is_owners=True).exclude(also=[])
    keys = [photo.pk for photo in shared if unit in photo.also]
    return list(Photo.objects.filter(Q(unit=unit, is_owners=True) | Q(pk__in=keys)))


def remove_files(photos: Iterable[Photo]) -> int:
    """Delete the files of pictures; returns how many there were."""
    count = 0
    for photo in photos:
        path = path_of(photo.sha256, photo.media_type)
        count += path.exists()
        path.unlink(missing_ok=True)
    return count


def _empty_log() -> None:
    if connection.in_atomic_block:
        return
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            # What was deleted is overwritten (secure_delete); what the log still holds goes with it.
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            return
        # PostgreSQL keeps the old row in the file until its place is needed: the table is written anew. Where
        # somebody reads it all the time, the next erasure does it.
        with suppress(OperationalError):
            cursor.execute("SET lock_timeout = 3000")
            try:
                table = connection.ops.quote_name(OwnerData._meta.db_table)  # noqa: SLF001
                cursor.execute(f"VACUUM (FULL) {table}")
            finally:
                cursor.execute("RESET lock_timeout")


def erase_due() -> tuple[str, ...]:
    """Erase the data of owners whose time has come; called at each start and once a day while serving.

    Returns:
        Keys of the units.
    """
    now = datetime.fromtimestamp(now_ms() / 1000, UTC)
    due = Q(erase_after__lte=now.date())
    days = depot_rules().erase_after_days
    if days > 0:
        # Data that was entered after the unit had left has no day of its own.
        left = Unit.objects.filter(gone_ms__lte=now_ms() - days * DAY_MS).values("key")
        due |= Q(erase_after=None, unit__in=left)
    units = tuple(
        OwnerData.objects.filter(due, erased=False).order_by("unit").values_list("unit", flat=True)
    )
    for unit in units:
        _erase(unit, "time", BY_TIME)
    if units:
        transaction.on_commit(_empty_log)
    return units
