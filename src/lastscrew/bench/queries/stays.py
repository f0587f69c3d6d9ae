"""Earlier stays of a machine, and what is here now."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Q

from lastscrew.bench.depot.folded import folded, folded_key
from lastscrew.bench.depot.repeats import Earlier
from lastscrew.bench.depot.taking_in import Known, is_a_serial
from lastscrew.bench.models import Revision, StoredEvent, Unit
from lastscrew.bench.store.jobs import device_of

MOST_STAYS = 50
MOST_AT_ONCE = 500
"""Serial numbers in one question to the database."""


def earlier_stays(device: str, serial: str, but: str = "") -> tuple[Earlier, ...]:
    """Stays of the machine with this serial number, latest first, at most fifty.

    Args:
        device: Id of the device; stays of which the device is not known count too.
        serial: Serial number; what only says that there is none finds nothing.
        but: Key of the unit to leave out.
    """
    if not is_a_serial(serial):
        return ()
    units = Unit.objects.filter(serial_key=folded_key(serial)).exclude(pk=but)
    units = units.order_by("-taken_in_ms")
    if device:
        units = units.filter(Q(device=device) | Q(device=""))
    found = list(units[:MOST_STAYS])
    parts: dict[str, list[str]] = {}
    bodies = StoredEvent.objects.filter(
        name="exchanged", unit__in=[unit.key for unit in found]
    ).values_list("unit", "body")
    for unit, body in bodies.order_by("position"):
        parts.setdefault(unit, []).extend(str(body.get("part", "")).split("+"))
    return tuple(
        Earlier(
            unit.key,
            unit.number,
            unit.taken_in_ms,
            unit.gone_ms,
            unit.outcome,
            tuple(dict.fromkeys(parts.get(unit.key, ()))),
        )
        for unit in found
    )


def last_stays(serials: Collection[str]) -> dict[str, Earlier]:
    """The last stay that has ended, by folded serial number, for a whole table at once."""
    wanted = sorted({folded_key(serial) for serial in serials if is_a_serial(serial)})
    found: dict[str, Earlier] = {}
    for start in range(0, len(wanted), MOST_AT_ONCE):
        rows = Unit.objects.filter(
            serial_key__in=wanted[start : start + MOST_AT_ONCE], stage=Unit.Stage.GONE
        )
        for unit in rows.order_by("gone_ms"):
            found[unit.serial_key] = Earlier(
                unit.key, unit.number, unit.taken_in_ms, unit.gone_ms, unit.outcome
            )
    return found


def device_names() -> dict[str, str]:
    """Device id to name, of what is published, by name."""
    rows = Revision.objects.filter(is_current=True).values_list("device", "name")
    return dict(sorted(rows, key=lambda row: (row[1].casefold(), row[0])))


def known_for(serials: Collection[str], checks_of: str = "") -> Known:
    """What must be known to read forms and rows.

    Args:
        serials: Serial numbers in question; only for these it is looked up what is here.
        checks_of: Id of the device of which the checks are needed.
    """
    names = device_names()
    devices: dict[str, Collection[str]] = dict.fromkeys(names, ())
    if checks_of in names:
        current = Revision.objects.filter(device=checks_of, is_current=True).first()
        if current is not None:
            devices[checks_of] = tuple(device_of(current.revision).functions)
    wanted = sorted({folded_key(serial) for serial in serials if is_a_serial(serial)})
    here: dict[tuple[str, str], int] = {}
    for start in range(0, len(wanted), MOST_AT_ONCE):
        rows = Unit.objects.exclude(stage=Unit.Stage.GONE).filter(
            serial_key__in=wanted[start : start + MOST_AT_ONCE]
        )
        for device, serial, number in rows.values_list("device", "serial_key", "number"):
            here[device, serial] = number
    return Known(devices, {folded(name): key for key, name in names.items()}, here)
