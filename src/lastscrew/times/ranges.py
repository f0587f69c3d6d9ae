"""What people see: a range whose width says how sure a time is, never false decimals.

Two things make a job take other than its sum. Each step is off by its own share, by chance; what is
chance in one step evens out over many. And a whole job runs fast or slow together, because the
person, the light and the table are the same at every step; that does not even out. Both are taken
as independent and roughly normal, which is right enough for the middle of the distribution. The
range holds eight of ten jobs, if the spreads hold; those without measurements are our own
figures and say so where they are defined.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from lastscrew.saying import joined, say

COMMON_SPREAD = 0.1
"""Standard deviation of a whole job as a share of its time, over and above chance at each step (our
own figure, no source)."""

SETUP_SPREAD = 0.25
"""Standard deviation of turns, tool changes and acts, as a share of each (our own figure, no source)."""

EIGHT_OF_TEN = 1.2816
"""Standard deviations to either side that hold 80 % of a normal distribution."""

_MINUTE_MS, _HOUR_MS = 60_000, 3_600_000
_GRAINS_MS = ((20_000, 1_000), (120_000, 5_000), (600_000, 30_000), (2 * _HOUR_MS, _MINUTE_MS))
_COARSEST_MS = 5 * _MINUTE_MS


@dataclass(frozen=True, slots=True)
class TimeRange:
    """A range of time in whole milliseconds, already rounded outwards to what is worth saying."""

    low_ms: int
    high_ms: int

    def __str__(self) -> str:
        """``45–60 s``, ``4.5–6 min``, ``12–16 min``, ``58 min–2 h 05``, ``2 h 05–2 h 40``."""
        return str(self.words)

    @property
    def words(self) -> str:
        """The same, with its numbers as whoever tells it writes them."""
        low, high = self.low_ms, self.high_ms
        if high <= 0:
            return "0 s"
        if high < 2 * _MINUTE_MS:
            return joined("", (_between(low / 1000, high / 1000), " s"))
        if high < 2 * _HOUR_MS:
            return joined("", (_between(low / _MINUTE_MS, high / _MINUTE_MS), " min"))
        return _clock(high) if _clock(low) == _clock(high) else f"{_clock(low)}–{_clock(high)}"

    def scaled(self, factor: float) -> TimeRange:
        """The range of ``factor`` times as much work that is off together (a batch of like units)."""
        return _outwards(self.low_ms * factor, self.high_ms * factor)


def _between(low: float, high: float) -> str:
    first, last = (float(f"{value:.1f}") for value in (low, high))
    if first == last:
        return say("{number}", number=last)
    return say("{low}–{high}", low=first, high=last)


def _clock(ms: int) -> str:
    minutes = ms // _MINUTE_MS
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d}"


def _grain(ms: float) -> int:
    return next((grain for below, grain in _GRAINS_MS if ms < below), _COARSEST_MS)


def _outwards(low: float, high: float) -> TimeRange:
    grain = _grain(high)
    return TimeRange(math.floor(low / grain) * grain, math.ceil(high / grain) * grain)


def time_range(
    total_ms: int, spreads: Iterable[tuple[int, float]] = (), common: float = COMMON_SPREAD
) -> TimeRange:
    """The range that holds eight of ten jobs.

    Args:
        total_ms: Expected time of the whole.
        spreads: (ms, spread) of each step. What of the total they do not cover is setup, taken
            as pieces of a median step's size so that it evens out as steps do.
        common: Spread of the whole job together.

    Returns:
        Rounded outwards: to 1 s below 20 s, 5 s below 2 min, half minutes below 10 min, minutes
        below 2 h, then 5 min.
    """
    steps = [(ms, spread) for ms, spread in spreads if ms > 0]
    variance = (common * total_ms) ** 2 + sum((spread * ms) ** 2 for ms, spread in steps)
    rest = max(0, total_ms - sum(ms for ms, _ in steps))
    if rest:
        sizes = sorted(ms for ms, _ in steps)
        piece = min(rest, sizes[len(sizes) // 2]) if sizes else rest
        variance += (SETUP_SPREAD * piece) ** 2 * (rest / piece)
    half = EIGHT_OF_TEN * math.sqrt(variance)
    return _outwards(max(0.0, total_ms - half), total_ms + half)


def as_range(total_ms: int, spreads: Iterable[tuple[int, float]] = ()) -> str:
    """:func:`time_range` as text, such as ``12–16 min``."""
    return str(time_range(total_ms, spreads))
