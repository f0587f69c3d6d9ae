"""How many turns a screw takes: thread designations, pitches, engaged length.

Coarse pitches: ISO 261 as given by fullerfasteners.com (ISO 7045 tables, M1.6 to M5) and deepri.com
(M1.4); the others and the tapping screws (ISO 1478) from memory.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from lastscrew.device.model import Fastener, Joint
from lastscrew.saying import say

COARSE_PITCH_MM: Mapping[float, float] = MappingProxyType(
    {
        1.0: 0.25, 1.2: 0.25, 1.4: 0.3, 1.6: 0.35, 1.8: 0.35, 2.0: 0.4, 2.2: 0.45, 2.5: 0.45, 3.0: 0.5,
        3.5: 0.6, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 8.0: 1.25, 10.0: 1.5, 12.0: 1.75, 16.0: 2.0, 20.0: 2.5,
    }
)  # fmt: skip
"""Nominal diameter in mm to coarse pitch in mm. Read: 1.4, 1.6, 2, 2.5, 3, 3.5, 4, 5; else from memory."""

TAPPING_PITCH_MM: Mapping[float, float] = MappingProxyType(
    {
        1.5: 0.5, 1.9: 0.6, 2.2: 0.8, 2.6: 0.9, 2.9: 1.1, 3.3: 1.3, 3.5: 1.3, 3.9: 1.4, 4.2: 1.4, 4.8: 1.6,
        5.5: 1.8, 6.3: 1.8,
    }
)  # fmt: skip
"""Tapping screw size (ST) to pitch in mm, from memory of ISO 1478."""

FORMING_PITCH_RATIO = 0.4
"""Pitch of a thread-forming screw for plastic as a share of its diameter (common practice, no source)."""

ASSUMED_DIAMETER_MM = 2.0
ASSUMED_LENGTH_MM = 4.0
"""Where the file does not say: the common small machine screw (our own figure, no source)."""

FULL_ENGAGEMENT_DIAMETERS = 2.0
"""Up to this many diameters of length all of it counts as engaged thread; of what is longer, half
(the rest lies in what is clamped). Our own rule, no source."""

NUT_HEIGHT_DIAMETERS = 0.8
"""Height of a nut as a share of its diameter (ISO 4032, from memory), where no length is given."""

_INCH_NUMBER_DIAMETER_MM = {
    number: 25.4 * (0.060 + 0.013 * number) for number in range(13)
}  # ASME B1.1: 0.060 in + 0.013 in per number (from memory)

_METRIC = re.compile(r"M\s*(\d+(?:\.\d+)?)(?:\s*[x×*]\s*(\d+(?:\.\d+)?))?", re.IGNORECASE)
_TAPPING = re.compile(r"ST\s*(\d+(?:\.\d+)?)", re.IGNORECASE)
_INCH = re.compile(r"(?:#|no\.?\s*)?(\d+)(?:/(\d+))?\s*-\s*(\d+)(?:\s*UN\w*)?", re.IGNORECASE)
_ANY_SIZE = re.compile(r"[A-Za-z]*\s*(\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True)
class Thread:
    """Diameter and pitch in mm, and whether either had to be assumed."""

    diameter_mm: float
    pitch_mm: float
    assumed: bool = False


def read_thread(designation: str | None) -> Thread:
    """Read ``M2``, ``M2x0.25``, ``ST2.9``, ``6-32 UNC``, ``1/4-20``; anything else is assumed.

    A designation with a number in it (``PT 3``) is taken as a thread-forming screw of that
    diameter, marked as assumed.
    """
    text = (designation or "").strip()
    if match := _METRIC.fullmatch(text):
        diameter = float(match[1])
        pitch = float(match[2]) if match[2] else COARSE_PITCH_MM.get(diameter, 0.0)
        if diameter > 0 and pitch > 0:
            return Thread(diameter, pitch)
        if diameter > 0:
            nearest = min(COARSE_PITCH_MM, key=lambda known: (abs(known - diameter), known))
            return Thread(diameter, COARSE_PITCH_MM[nearest], assumed=True)
    if match := _TAPPING.fullmatch(text):
        pitch = TAPPING_PITCH_MM.get(float(match[1]), 0.0)
        if pitch:
            return Thread(float(match[1]), pitch)
    if (match := _INCH.fullmatch(text)) and (thread := _inch_thread(match)):
        return thread
    if (match := _ANY_SIZE.fullmatch(text)) and 0.5 <= float(match[1]) <= 30:
        return Thread(float(match[1]), FORMING_PITCH_RATIO * float(match[1]), assumed=True)
    return Thread(ASSUMED_DIAMETER_MM, COARSE_PITCH_MM[ASSUMED_DIAMETER_MM], assumed=True)


def _inch_thread(match: re.Match[str]) -> Thread | None:
    per_inch = int(match[3])
    if match[2]:
        diameter = 25.4 * int(match[1]) / int(match[2]) if int(match[2]) else 0.0
    else:
        diameter = _INCH_NUMBER_DIAMETER_MM.get(int(match[1]), 0.0)
    return Thread(diameter, 25.4 / per_inch) if diameter and per_inch else None


def engaged_mm(length_mm: float, diameter_mm: float) -> float:
    """Length of thread that has to be turned through, in mm (see FULL_ENGAGEMENT_DIAMETERS)."""
    full = FULL_ENGAGEMENT_DIAMETERS * diameter_mm
    return length_mm if length_mm <= full else full + (length_mm - full) / 2


@dataclass(frozen=True, slots=True)
class Turns:
    """Turns from tight to free of one fastener, its thread, and what was assumed for it."""

    turns: float
    thread: Thread
    assumed: tuple[str, ...]


def turns_of(joint: Joint, fastener: Fastener | None) -> Turns:
    """Turns of one screw or nut of ``joint``."""
    assumed: list[str] = []
    thread = read_thread(fastener.thread if fastener else None)
    if thread.assumed:
        assumed.append(
            say(
                "thread {diameter} mm with pitch {pitch} mm",
                diameter=thread.diameter_mm,
                pitch=thread.pitch_mm,
            )
        )
    length = fastener.length_mm if fastener else None
    if joint.kind == "nut":
        engaged = length or NUT_HEIGHT_DIAMETERS * thread.diameter_mm
    else:
        if not length:
            length = max(ASSUMED_LENGTH_MM, 2 * thread.diameter_mm)
            assumed.append(say("length {length} mm", length=length))
        engaged = engaged_mm(length, thread.diameter_mm)
    return Turns(engaged / thread.pitch_mm, thread, tuple(assumed))
