"""What publishing a revision means: which entries would lose their history, and what ``was`` would save."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lastscrew.audit.changes import Change
from lastscrew.audit.compare_devices import compare_devices
from lastscrew.device.model import Device
from lastscrew.device.names import name_from_id, nearest

SECTIONS: Final[Mapping[str, str]] = {
    "parts": "part", "joints": "joint", "functions": "function", "spares": "spare",
    "symptoms": "symptom", "checks": "check", "faults": "fault",
}  # fmt: skip
"""Sections whose entries events, measured times and outcomes refer to by id."""


MOST_PARTS: Final = 60
"""So many parts are planned for a comparison on a page: two plans each, some hundredths of a second."""
MOST_COMPARED: Final = 50
_COMPARED: OrderedDict[tuple[str, str], Compared] = OrderedDict()
_LOCK: Final = threading.Lock()


@dataclass(frozen=True, slots=True)
class Lost:
    """An id of the old revision that the new one no longer has.

    Attributes:
        section: Section of the device file.
        word: What one entry of it is called.
        id: The id.
        name: What people call it.
        meant: An id that is new and looks like it: perhaps it was renamed; None for none.
        can_say_was: The file can say ``was`` for it.
    """

    section: str
    word: str
    id: str
    name: str
    meant: str | None
    can_say_was: bool


@dataclass(frozen=True, slots=True)
class Compared:
    """What differs between two revisions.

    Attributes:
        changes: In the trade's words.
        without_ways: The device has so many parts that the ways in were not planned and compared.
    """

    changes: tuple[Change, ...]
    without_ways: bool


def compared(old: Device, new: Device) -> Compared:
    """What differs from an old revision to a new one; the same two are compared once."""
    key = (old.revision_hash, new.revision_hash)
    with _LOCK:
        kept = _COMPARED.get(key)
    if kept is not None:
        return kept
    without = max(len(old.parts), len(new.parts)) > MOST_PARTS
    found = Compared(compare_devices(old, new, ways=not without), without)
    with _LOCK:
        _COMPARED[key] = found
        while len(_COMPARED) > MOST_COMPARED:
            _COMPARED.popitem(last=False)
    return found


def loses_history(old: Device, new: Device) -> tuple[Lost, ...]:
    """Entries of the old revision that the new one neither has nor names in ``was``."""
    found = []
    for section, word in SECTIONS.items():
        before, after = getattr(old, section), getattr(new, section)
        said = {getattr(entry, "was", None) for entry in after.values()}
        fresh = [key for key in after if key not in before and not _was(after[key])]
        for key, entry in before.items():
            if key not in after and key not in said:
                found.append(
                    Lost(
                        section, word, key, getattr(entry, "name", None) or name_from_id(key),
                        _renamed(entry, fresh, after), hasattr(entry, "was"),
                    )
                )  # fmt: skip
    return tuple(found)


def _was(entry: object) -> str | None:
    return getattr(entry, "was", None)


def _renamed(entry: object, fresh: list[str], after: Mapping[str, object]) -> str | None:
    """A new entry of the same name or the same make, else one whose id looks alike."""
    name = getattr(entry, "name", None)
    for key in fresh:
        if name and getattr(after[key], "name", None) == name:
            return key
    joins = getattr(entry, "joins", None)
    if joins is not None:
        like = [
            key
            for key in fresh
            if set(getattr(after[key], "joins", ())) == set(joins)
            and getattr(after[key], "kind", None) == getattr(entry, "kind", None)
        ]
        if len(like) == 1:
            return like[0]
    return nearest(str(getattr(entry, "id", "")), fresh)
