"""Basic MOST: index tables and the arithmetic of a sequence.

A sequence is written as letters with indices, ``A1 B0 G1 A1 B0 P3 A0``. Its time is ten times the
sum of its indices in TMU, times how often it is done; 1 TMU is 0.036 s.

Sources. The general and the controlled move, the TMU, finger spins and process times were read in
public source code that transcribes the data card (repository ``joshitm-plasiv/modapts-v2-demo``,
``modapts/engines/most/values.py``); a second transcription (which cites K. Zandin, *MOST Work
Measurement Systems*, 4th ed., CRC 2021) agrees except where the first is followed: ``B``, the
steps of A24 and A32, one turn of a crank. Wrist turns, wrist strokes, wrist cranks, taps, arm
strokes and power tools are from memory of the same card.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

MS_PER_TMU = 36
"""1 TMU = 0.00001 h = 0.036 s = 36 ms."""

ALLOWED_INDICES: Mapping[str, tuple[int, ...]] = MappingProxyType(
    {
        "A": (0, 1, 3, 6, 10, 16, 24, 32, 42, 54, 67, 81, 96, 113, 131, 152, 173, 196, 220, 245, 270, 300, 330),
        "B": (0, 3, 6, 10, 16),
        "G": (0, 1, 3),
        "P": (0, 1, 3, 6),
        "M": (0, 1, 3, 6, 10, 16, 24, 32, 42, 54),
        "X": (0, 1, 3, 6, 10, 16, 24, 32, 42, 54, 67, 81, 96, 113, 131, 152, 173, 196, 220, 245, 270, 300, 330),
        "I": (0, 1, 3, 6, 16),
        "F": (0, 1, 3, 6, 10, 16, 24, 32, 42, 54),
        "L": (0, 1, 3, 6, 10, 16, 24, 32, 42, 54),
        "T": (0, 1, 3, 6, 10, 16),
    }
)  # fmt: skip
"""Letter to the indices that the card has for it (``T``: those of the worked examples, the rest from memory)."""

FINGER_SPINS: Mapping[int, int] = MappingProxyType(
    {1: 1, 3: 2, 6: 3, 10: 8, 16: 16, 24: 25, 32: 35, 42: 47, 54: 61}
)
"""Index to most spins between thumb and fingers, bare or with a screwdriver (read)."""

WRIST_TURNS: Mapping[int, int] = MappingProxyType(
    {3: 1, 6: 3, 10: 5, 16: 9, 24: 13, 32: 17, 42: 23, 54: 29}
)
"""Index to most turns of the wrist (from memory)."""

WRIST_STROKES: Mapping[int, int] = MappingProxyType(
    {3: 1, 6: 2, 10: 3, 16: 5, 24: 8, 32: 10, 42: 13, 54: 17}
)
"""Index to most strokes of a spanner, taken off and put on again each time (from memory)."""

WRIST_CRANKS: Mapping[int, int] = MappingProxyType(
    {3: 1, 6: 3, 10: 5, 16: 8, 24: 11, 32: 15, 42: 20, 54: 25}
)
"""Index to most turns of a key or ratchet that stays on (from memory)."""

TAPS: Mapping[int, int] = MappingProxyType(
    {1: 1, 3: 3, 6: 6, 10: 10, 16: 16, 24: 23, 32: 30, 42: 39, 54: 50}
)
"""Index to most taps of a hand or a light hammer (from memory)."""

ARM_STROKES: Mapping[int, int] = MappingProxyType({3: 1, 10: 2, 16: 3, 24: 4, 32: 6, 42: 8, 54: 10})
"""Index to most strokes of the whole arm (from memory)."""

POWER_TOOL_DIAMETER_MM: Mapping[int, int] = MappingProxyType({3: 6, 6: 25})
"""Index to the largest screw diameter in mm, run in or out by a power tool (from memory)."""

PROCESS_S: Mapping[int, float] = MappingProxyType(
    {
        1: 0.5, 3: 1.5, 6: 2.5, 10: 4.5, 16: 7.0, 24: 9.5, 32: 13.0, 42: 17.0, 54: 21.5, 67: 26.0, 81: 31.5,
        96: 37.0, 113: 43.5, 131: 50.5, 152: 58.0, 173: 66.0, 196: 74.5, 220: 83.5, 245: 92.5, 270: 102.0,
        300: 113.0, 330: 124.0,
    }
)  # fmt: skip
"""Index to the longest process time in s that the hand waits for (read)."""

_LETTER = re.compile(r"([A-Z])(\d+)")


@dataclass(frozen=True, slots=True)
class Motion:
    """One sequence of a kind of work, how often it is done and why it is there.

    Attributes:
        sequence: Letters with indices, such as ``A1 P3 L16``. Letters with index 0 may be left out.
        times: How often it is done.
        why: Reason, one short phrase.
    """

    sequence: str
    times: int
    why: str

    @property
    def tmu(self) -> int:
        """Its time in TMU, all repetitions."""
        return sequence_tmu(self.sequence) * self.times


def sequence_tmu(sequence: str) -> int:
    """Ten times the sum of the indices.

    Raises:
        ValueError: If a word is no letter with an index that the card has.
    """
    total = 0
    for word in sequence.split():
        match = _LETTER.fullmatch(word)
        if match is None or int(match[2]) not in ALLOWED_INDICES.get(match[1], ()):
            raise ValueError(f"{word!r} is not a letter with an index of the basic MOST card")
        total += int(match[2])
    return 10 * total


def index_for(table: Mapping[int, float], amount: float) -> tuple[int, ...]:
    """The indices that cover ``amount``: the least that is enough, or the greatest several times.

    Args:
        table: Index to the most that it covers.
        amount: Spins, turns, strokes, seconds; 0 or less needs no index.

    Returns:
        One index as a rule; more where the table ends before ``amount`` does.
    """
    indices: list[int] = []
    top = max(table)
    while amount > table[top]:
        indices.append(top)
        amount -= table[top]
    if amount > 0:
        indices.append(min(index for index, most in table.items() if most >= amount))
    return tuple(indices)


def motions_tmu(motions: Sequence[Motion]) -> int:
    """The time of several motions in TMU."""
    return sum(motion.tmu for motion in motions)


def describe(motions: Sequence[Motion]) -> str:
    """The motions as one line, ``9 × [A1 P3 L16] + [A1 G3] = 2340 TMU``."""
    terms = (f"{m.times} × [{m.sequence}]" if m.times != 1 else f"[{m.sequence}]" for m in motions)
    return f"{' + '.join(terms) or 'nothing'} = {motions_tmu(motions)} TMU"
