"""The repairability index of Regulation (EU) 2023/1669 for smartphones and slates: its arithmetic.

Weights, bands and classes are as secondary sources give them (a public Rust implementation of the
index with its test values, a testing house's and an industry author's summaries); the Official Journal
text itself was not at hand. Whoever declares an index works from the legal text, not from this.

    R = 0.25 SDD + 0.15 (SF + ST + SSP + SSU + SRI)

SDD, SF and ST are sums over the priority parts of weight times score. All scores are from 1 to 5.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

PRIORITY_PARTS: Mapping[str, str] = MappingProxyType(
    {
        "BAT": "battery",
        "DA": "display assembly",
        "BC": "back cover or its assembly",
        "FFC": "front-facing camera",
        "RFC": "rear-facing camera",
        "EC": "charging port",
        "BUT": "mechanical button",
        "MIC": "microphone",
        "SPK": "loudspeaker",
        "FM": "folding mechanism",
    }
)
"""Code to name. ``FM`` counts for foldable devices only."""

_HUNDREDTHS_RIGID = {
    "BAT": 30, "DA": 30, "BC": 10, "FFC": 5, "RFC": 5, "EC": 5, "BUT": 5, "MIC": 5, "SPK": 5,
}  # fmt: skip
_HUNDREDTHS_FOLDABLE = {
    "BAT": 25, "DA": 25, "BC": 9, "FFC": 4, "RFC": 4, "EC": 4, "BUT": 4, "MIC": 4, "SPK": 4, "FM": 17,
}  # fmt: skip

PARAMETERS: Mapping[str, Fraction] = MappingProxyType(
    {
        "SDD": Fraction(25, 100),
        "SF": Fraction(15, 100),
        "ST": Fraction(15, 100),
        "SSP": Fraction(15, 100),
        "SSU": Fraction(15, 100),
        "SRI": Fraction(15, 100),
    }
)
"""Parameter to its weight: disassembly depth, fasteners, tools, spare parts, updates, information."""

LEAST, MOST = 1, 5

DEPTH_BANDS: tuple[tuple[int, int], ...] = ((2, 5), (5, 4), (10, 3), (15, 2))
"""(most steps, score); 1 beyond."""

AUTHORISATION_STEPS = 5
"""Steps added where a new part works only after its serial number is authorised from afar."""

FASTENER_SCORES: Mapping[str, int] = MappingProxyType(
    {"reusable": 5, "resupplied": 3, "removable": 1}
)
TOOL_SCORES: Mapping[str, int] = MappingProxyType(
    {"none": 5, "basic": 4, "with spare part": 3, "with product": 2, "commercial": 1}
)
UPDATE_SCORES: tuple[tuple[int, int], ...] = ((7, 5), (6, 3), (5, 1))
"""(years of operating system updates at least, score of SSU)."""

CLASSES: tuple[tuple[str, Fraction], ...] = (
    ("A", Fraction(400, 100)),
    ("B", Fraction(335, 100)),
    ("C", Fraction(255, 100)),
    ("D", Fraction(175, 100)),
    ("E", Fraction(100, 100)),
)
"""(class, least index)."""


def part_weights(*, foldable: bool = False) -> dict[str, Fraction]:
    """Weight of each priority part; they add up to 1."""
    hundredths = _HUNDREDTHS_FOLDABLE if foldable else _HUNDREDTHS_RIGID
    return {code: Fraction(weight, 100) for code, weight in hundredths.items()}


def depth_score(steps: int, *, authorisation: bool = False) -> int:
    """Score of a disassembly depth; ``authorisation`` adds the five steps."""
    counted = steps + (AUTHORISATION_STEPS if authorisation else 0)
    return next((score for most, score in DEPTH_BANDS if counted <= most), LEAST)


def update_score(years: int) -> int | None:
    """Score for years of updates; None below what the table has."""
    return next((score for least, score in UPDATE_SCORES if years >= least), None)


def weighted(scores: Mapping[str, int], *, foldable: bool = False) -> Fraction:
    """SDD, SF or ST from the scores of all priority parts.

    Raises:
        ValueError: If a part is missing or a score is not from 1 to 5.
    """
    weights = part_weights(foldable=foldable)
    missing = sorted(set(weights) - set(scores))
    if missing:
        raise ValueError(f"no score for {', '.join(missing)}")
    _check(scores)
    return sum((weight * scores[code] for code, weight in weights.items()), Fraction(0))


def index_of(parameters: Mapping[str, int | Fraction]) -> Fraction:
    """The index R from all six parameters.

    Raises:
        ValueError: If a parameter is missing or not from 1 to 5.
    """
    missing = sorted(set(PARAMETERS) - set(parameters))
    if missing:
        raise ValueError(f"no value for {', '.join(missing)}")
    _check(parameters)
    return sum((weight * parameters[name] for name, weight in PARAMETERS.items()), Fraction(0))


def class_of(index: Fraction) -> str:
    """The class of an index.

    Raises:
        ValueError: If the index is below 1: no class goes as low.
    """
    for name, least in CLASSES:
        if index >= least:
            return name
    raise ValueError(f"an index is 1 or more, not {float(index)}")


def _check(values: Mapping[str, int | Fraction]) -> None:
    for name, value in values.items():
        if not LEAST <= value <= MOST:
            raise ValueError(f"{name} is from {LEAST} to {MOST}, not {value}")
