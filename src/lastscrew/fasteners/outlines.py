"""Outlines of screws and nuts from their dimensions, for drawings at true scale.

Plain outlines of our own drawing: a rectangle for the shank with its thread, and the head by its
largest diameter and height. What is not known is assumed and said.

Sources. Pan heads: ISO 7045, and flat (countersunk) heads: ISO 7046-2, both as given by
fullerfasteners.com. Socket heads (ISO 4762), button heads (ISO 7380), hexagon heads (ISO 4017) and nuts
(ISO 4032): from memory. That a length is measured from under the head, of a countersunk screw over
all: the convention of these standards.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from lastscrew.device.model import Fastener
from lastscrew.saying import say
from lastscrew.times.threads import read_thread

HeadShape = Literal["pan", "flat", "socket", "button", "hexagon", "none", "nut"]
Recess = Literal["cross", "hex", "star", "slot", "none"]

Sizes = Mapping[float, tuple[float, float]]

PAN_HEADS_MM: Sizes = MappingProxyType(
    {
        1.6: (3.2, 1.3), 2.0: (4.0, 1.6), 2.5: (5.0, 2.1), 3.0: (5.6, 2.4), 3.5: (7.0, 2.6), 4.0: (8.0, 3.1),
        5.0: (9.5, 3.7), 6.0: (12.0, 4.6), 8.0: (16.0, 6.0), 10.0: (20.0, 7.5),
    }
)  # fmt: skip
"""Thread diameter to largest head diameter and height (ISO 7045, read)."""

FLAT_HEADS_MM: Sizes = MappingProxyType(
    {
        2.0: (3.8, 1.2), 2.5: (4.7, 1.5), 3.0: (5.5, 1.65), 3.5: (7.3, 2.35), 4.0: (8.4, 2.7), 5.0: (9.3, 2.7),
        6.0: (11.3, 3.3), 8.0: (15.8, 4.65), 10.0: (18.3, 5.0),
    }
)  # fmt: skip
"""Thread diameter to largest head diameter and height (ISO 7046-2, read)."""

SOCKET_HEADS_MM: Sizes = MappingProxyType(
    {
        1.6: (3.0, 1.6), 2.0: (3.8, 2.0), 2.5: (4.5, 2.5), 3.0: (5.5, 3.0), 4.0: (7.0, 4.0), 5.0: (8.5, 5.0),
        6.0: (10.0, 6.0), 8.0: (13.0, 8.0), 10.0: (16.0, 10.0),
    }
)  # fmt: skip
"""Thread diameter to head diameter and height (ISO 4762, from memory)."""

BUTTON_HEADS_MM: Sizes = MappingProxyType(
    {
        3.0: (5.7, 1.65),
        4.0: (7.6, 2.2),
        5.0: (9.5, 2.75),
        6.0: (10.5, 3.3),
        8.0: (14.0, 4.4),
        10.0: (17.5, 5.5),
    }
)
"""Thread diameter to head diameter and height (ISO 7380, from memory)."""

HEXAGON_HEADS_MM: Sizes = MappingProxyType(
    {
        2.0: (4.0, 1.4), 2.5: (5.0, 1.7), 3.0: (5.5, 2.0), 4.0: (7.0, 2.8), 5.0: (8.0, 3.5), 6.0: (10.0, 4.0),
        8.0: (13.0, 5.3), 10.0: (16.0, 6.4),
    }
)  # fmt: skip
"""Thread diameter to width across flats and height (ISO 4017, from memory)."""

NUTS_MM: Sizes = MappingProxyType(
    {
        1.6: (3.2, 1.3), 2.0: (4.0, 1.6), 2.5: (5.0, 2.0), 3.0: (5.5, 2.4), 4.0: (7.0, 3.2), 5.0: (8.0, 4.7),
        6.0: (10.0, 5.2), 8.0: (13.0, 6.8), 10.0: (16.0, 8.4),
    }
)  # fmt: skip
"""Thread diameter to width across flats and height (ISO 4032, from memory)."""

_TABLES: Mapping[HeadShape, tuple[Sizes, str]] = MappingProxyType(
    {
        "pan": (PAN_HEADS_MM, "ISO 7045"),
        "flat": (FLAT_HEADS_MM, "ISO 7046-2"),
        "socket": (SOCKET_HEADS_MM, say("{norm} (from memory)", norm="ISO 4762")),
        "button": (BUTTON_HEADS_MM, say("{norm} (from memory)", norm="ISO 7380")),
        "hexagon": (HEXAGON_HEADS_MM, say("{norm} (from memory)", norm="ISO 4017")),
        "nut": (NUTS_MM, say("{norm} (from memory)", norm="ISO 4032")),
    }
)

HEAD_PER_DIAMETER = 2.0
HEIGHT_PER_DIAMETER = 0.8
"""Head diameter and height in thread diameters where no table has the size: about what ISO 7045
has for the sizes around (our own rule)."""

_WORDS: tuple[tuple[HeadShape, tuple[str, ...]], ...] = (
    ("nut", ("nut",)),
    ("none", ("grub", "set screw", "setscrew", "headless", "none")),
    ("flat", ("flat", "countersunk", "csk", "oval", "bugle")),
    ("button", ("button",)),
    ("socket", ("socket", "cap", "cylinder", "cheese", "fillister")),
    ("hexagon", ("hex",)),
    ("pan", ("pan",)),
)

_RECESSES: tuple[tuple[Recess, tuple[str, ...]], ...] = (
    ("cross", ("PH", "PZ", "JIS", "CROSS", "+")),
    ("star", ("TR", "TX", "T", "STAR", "P5", "P2", "P6", "PL")),
    ("hex", ("HEX", "H", "ALLEN", "SW")),
    ("slot", ("SL", "SLOT", "-")),
)


@dataclass(frozen=True, slots=True)
class Outline:
    """What a drawing of one piece needs, in mm.

    Attributes:
        shape: Shape of the head; ``hexagon`` is driven from outside, ``none`` is a screw without a head.
        recess: What the driver goes into.
        head_mm: Largest diameter of the head, or width across flats.
        height_mm: Height of the head, or of the nut.
        diameter_mm, pitch_mm: Thread.
        length_mm: Nominal length; 0 for a nut.
        source: Where the size of the head comes from.
        assumed: What the device file does not give or no table has.
    """

    shape: HeadShape
    recess: Recess
    head_mm: float
    height_mm: float
    diameter_mm: float
    pitch_mm: float
    length_mm: float
    source: str
    assumed: tuple[str, ...]

    @property
    def overall_mm(self) -> float:
        """From end to end."""
        if self.shape == "nut":
            return self.height_mm
        return self.length_mm if self.shape in ("flat", "none") else self.length_mm + self.height_mm


def outline_of(fastener: Fastener | None, *, nut: bool = False) -> Outline | None:
    """The outline of a fastener, None where thread or length are not given.

    Args:
        fastener: The kind.
        nut: It is the piece of a nut joint.
    """
    if fastener is None or not fastener.thread:
        return None
    shape, known = _shape_of(fastener, nut=nut)
    if shape != "nut" and fastener.length_mm is None:
        return None
    thread = read_thread(fastener.thread)
    assumed = [] if known else ["head"]
    if thread.assumed:
        assumed.append("thread")
    table, source = _TABLES.get(shape, ({}, ""))
    if thread.diameter_mm in table:
        head, height = table[thread.diameter_mm]
    else:
        head, height = (
            HEAD_PER_DIAMETER * thread.diameter_mm,
            HEIGHT_PER_DIAMETER * thread.diameter_mm,
        )
        source = say("our own rule")
        assumed.append("head size")
    if shape == "none":
        head, height, source = thread.diameter_mm, 0.0, "no head"
        assumed = [key for key in assumed if key != "head size"]
    return Outline(
        shape=shape,
        recess=_recess_of(fastener.drive),
        head_mm=head,
        height_mm=height,
        diameter_mm=thread.diameter_mm,
        pitch_mm=thread.pitch_mm,
        length_mm=0.0 if shape == "nut" else fastener.length_mm or 0.0,
        source=source,
        assumed=tuple(dict.fromkeys(assumed)),
    )


def _shape_of(fastener: Fastener, *, nut: bool) -> tuple[HeadShape, bool]:
    if nut:
        return "nut", True
    words = (fastener.head or "").casefold()
    for shape, known in _WORDS:
        if any(word in words for word in known):
            return shape, True
    return "pan", False


def _recess_of(drive: str | None) -> Recess:
    word = (drive or "").strip().upper()
    for recess, begins in _RECESSES:
        if word.startswith(begins):
            return recess
    return "none"
