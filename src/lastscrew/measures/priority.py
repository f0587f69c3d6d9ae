"""Which part of a device is which priority part of the index: as a person says, or as a proposal.

A proposal rests on names only. It is shown as one, and figures that rest on it say so.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from lastscrew.device.model import Device, Part

APPLIES_TO = (
    "smartphone",
    "phone",
    "mobile phone",
    "cordless phone",
    "slate",
    "slate tablet",
    "tablet",
)
"""Kinds of device for which the index is made; of others it is the same arithmetic, no more."""

_SAYS: Mapping[str, str] = MappingProxyType(
    {
        "BAT": r"batter(y|ies)( pack)?|(battery )?pack|accumulator",
        "DA": r"display( (assembly|unit|panel|module)|( with \w+))?|screen( assembly)?",
        "BC": r"(back|rear) (cover|glass|panel|plate)",
        "FFC": r"front([ -]facing)? camera",
        "RFC": r"(rear|back|main)([ -]facing)? camera",
        "EC": r"(charging|charge|usb|power|dock|socket|data) (port|socket|connector|board)( board)?( with ribbon)?"
        r"|port( board)?",
        "BUT": r"((power|volume|side|home) )?(buttons?|keys)( with lead| board| flex)?",
        "MIC": r"microphones?( board)?",
        "SPK": r"(pair of )?(loud)?speakers?( module| box)?",
        "FM": r"hinges?|(folding|hinge) mechanism",
    }
)
"""Code to the whole names that stand for it, the most usual ones."""


def applies(device: Device) -> bool:
    """True for the kinds of device that the index is made for."""
    return device.kind.strip().lower() in APPLIES_TO


def propose(device: Device, *, foldable: bool = False) -> dict[str, tuple[str, ...]]:
    """Priority part code to part ids that look like it, by name; codes without any are left out.

    The fixed part is never proposed: it can't be taken out.
    """
    proposed: dict[str, tuple[str, ...]] = {}
    for code, names in _SAYS.items():
        if code == "FM" and not foldable:
            continue
        parts = [p for p in device.parts.values() if not p.fixed and _is_called(p, names)]
        if code == "BAT":
            parts = [p for p in parts if p.energy] or parts
        if parts:
            proposed[code] = tuple(part.id for part in parts)
    return proposed


def _is_called(part: Part, names: str) -> bool:
    plain = part.name.strip().lower()
    return any(re.fullmatch(names, text) for text in (plain, part.id.replace("_", " ")))
