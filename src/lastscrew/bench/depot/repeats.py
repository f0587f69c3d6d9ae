"""Earlier work on a serial number: what was done then, and whether it came back soon and for the same part."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

DAY_MS = 24 * 3_600_000
REPEAT_DAYS = 30
"""A machine that is back within so many days is a repeat (our own rule for the depot)."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier stay of a machine.

    Attributes:
        unit: Key of the unit.
        number: Its number.
        taken_in_ms, gone_ms: When it came and when it left; None while it is still here.
        outcome: How it ended, empty while it has not.
        parts: Parts that were exchanged (ids of the device file).
    """

    unit: str
    number: int
    taken_in_ms: int
    gone_ms: int | None
    outcome: str
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Repeat:
    """An earlier stay that is too close to be chance.

    Attributes:
        earlier: That stay.
        days: Whole days between leaving and coming back.
        same_parts: Parts exchanged then that are in question again.
    """

    earlier: Earlier
    days: int
    same_parts: tuple[str, ...]

    @property
    def is_soon(self) -> bool:
        """True when it came back within :data:`REPEAT_DAYS`."""
        return 0 <= self.days <= REPEAT_DAYS


def repeats(
    earlier: Iterable[Earlier], came_ms: int, parts: Collection[str] = ()
) -> tuple[Repeat, ...]:
    """Stays that ended within 30 days before, or at which the same part was exchanged; latest first.

    Args:
        earlier: Earlier stays of the same machine.
        came_ms: When it came now.
        parts: Parts that are to be exchanged now, as far as known.
    """
    found = []
    for stay in earlier:
        if stay.gone_ms is None or stay.gone_ms > came_ms:
            continue
        same = tuple(part for part in stay.parts if part in parts)
        days = (came_ms - stay.gone_ms) // DAY_MS
        if days <= REPEAT_DAYS or same:
            found.append(Repeat(stay, days, same))
    return tuple(sorted(found, key=lambda each: (each.days, each.earlier.number)))
