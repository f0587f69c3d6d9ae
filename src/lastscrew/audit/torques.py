"""What a thread bears, and what recess its screws have: published values, for plausibility only.

Steel screws in steel, coarse thread. The least value is that of the lowest property class of a table (3.6 up to M4,
4.6 for M5 and M6, 4.8 or "low grade" above), the greatest that of class 12.9; published tables differ among each
other by up to 12 %, and the span takes in all that were read. A screw into
an insert or into plastic takes less; so a torque below the span proves nothing there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lastscrew.times.threads import read_thread

SOURCES: Final = (
    "pocket guide table headed ISO 898/1 (classes 3.6 to 12.9)",
    "metric-bolt-torque.com (classes 4.6 to 12.9)",
    "table for a friction of 0.14 at 90 % of yield (classes 4.6 to 12.9)",
    "operator's table for M6 to M36, dry and lubricated (classes 4.8 to 12.9)",
    "10w40.com (low grade to class 12.9)",
    "cncexpo.com, 75 % of the proof load of ISO 898-1 (classes 8.8 to 12.9)",
)
"""Tables that were read; the span is their least and greatest value for each thread."""


@dataclass(frozen=True, slots=True)
class TorqueSpan:
    """Least and greatest published torque of one thread, in newton-centimetres."""

    thread: str
    low_ncm: float
    high_ncm: float
    source: str = SOURCES[0]


TORQUE_SPANS: Final[dict[float, TorqueSpan]] = {
    1.6: TorqueSpan("M1.6", 5.0, 29.0),
    2.0: TorqueSpan("M2", 10.0, 62.8),
    2.5: TorqueSpan("M2.5", 20.0, 145.1),
    3.0: TorqueSpan("M3", 35.0, 225.6),
    4.0: TorqueSpan("M4", 81.0, 490.0),
    5.0: TorqueSpan("M5", 226.0, 1028.0, SOURCES[1]),
    6.0: TorqueSpan("M6", 384.0, 1900.0, SOURCES[1]),
    8.0: TorqueSpan("M8", 1085.0, 4700.0, SOURCES[3]),
    10.0: TorqueSpan("M10", 2034.0, 9500.0, SOURCES[3]),
    12.0: TorqueSpan("M12", 4000.0, 16500.0, SOURCES[3]),
}
"""By diameter in millimetres."""


def torque_span(thread: str | None) -> TorqueSpan | None:
    """The span of a metric coarse thread that the tables have, None for any other."""
    if thread is None or not thread.strip().upper().startswith("M"):
        return None
    read = read_thread(thread)
    return None if read.assumed else TORQUE_SPANS.get(read.diameter_mm)


RECESS_SOURCE: Final = "ISO 7045, as given by fullerfasteners.com"
USUAL_RECESS: Final[dict[float, int]] = {1.6: 0, 2.0: 0, 2.5: 1, 3.0: 1, 3.5: 2, 4.0: 2, 5.0: 2}
"""Number of the cross recess of pan head screws, by diameter in millimetres (other pages say No. 1 for M2)."""


def usual_recess(thread: str | None) -> int | None:
    """Number of the cross recess that pan heads of a metric thread have, None for any other thread."""
    if thread is None or not thread.strip().upper().startswith("M"):
        return None
    read = read_thread(thread)
    return None if read.assumed else USUAL_RECESS.get(read.diameter_mm)
