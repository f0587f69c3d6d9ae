"""Where everything of the V stands: rows, gaps between stages, moments."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

from lastscrew.paper.rows import Course, Row, TimedStep
from lastscrew.plan.model import Limb

MIDDLE_SHARE = 0.36
"""Share of the width that belongs to the V itself; the rest are the words on both sides."""
ROOMY_ROW, TIGHT_ROW = 8.4, 4.9
ROOMY_ROWS = 22
"""Up to this many rows each has a second line for its marks and figures."""
GAP = 4.6
"""Room between rows where a stage begins."""
LINE = 2.5
"""From the top of a row to the line that the eye follows."""
HEAD_HEIGHT, AXIS_HEIGHT, APEX_HEIGHT = 7.5, 6.0, 10.5


@dataclass(frozen=True, slots=True)
class Slot:
    """Where a row stands, in millimetres from the top."""

    row: Row
    top: float
    bottom: float

    @property
    def two_lines(self) -> bool:
        """True when marks and figures have a line of their own below the name."""
        return self.bottom - self.top > TIGHT_ROW + 0.01

    @property
    def line(self) -> float:
        """Height of the rung, the dots and the name."""
        return self.top + LINE


@dataclass(frozen=True, slots=True)
class Layout:
    """Geometry of one drawing.

    Attributes:
        width: Of the whole drawing.
        side: Of the words on each side; the V lies between.
        slots: The rows that are drawn, by joint.
        top: Height of the time axis.
        rows_bottom: Lower edge of the last row.
        bottom: Lower edge of the field, where the turning point lies.
        begins, ends: True when the first and the last row are among those drawn.
    """

    course: Course
    width: float
    side: float
    slots: dict[str, Slot]
    top: float
    rows_bottom: float
    bottom: float
    begins: bool
    ends: bool

    @property
    def field(self) -> float:
        """Width of the V's own field."""
        return self.width - 2 * self.side

    @property
    def text_room(self) -> float:
        """Width of the column of names, marks and figures."""
        return text_room(self.course, self.width)

    @property
    def number_room(self) -> float:
        """Width of the column of step numbers."""
        return number_room(self.course)

    @property
    def height(self) -> float:
        """Of the whole drawing."""
        return self.bottom + (APEX_HEIGHT if self.ends else 2.0)

    def x(self, ms: float) -> float:
        """Where a moment lies."""
        return self.side + self.field * ms / max(1, self.course.total_ms)

    def limb_x(self, slot: Slot, timed: TimedStep, limb: Limb) -> float:
        """Where the limb crosses the line of its row."""
        share = (slot.line - slot.top) / (slot.bottom - slot.top)
        share = share if limb == "in" else 1 - share
        return self.x(timed.start_ms + share * (timed.end_ms - timed.start_ms))


def number_room(course: Course) -> float:
    """Width of the column of step numbers, in millimetres."""
    return 3.2 + 1.9 * len(str(len(course.way_in) + len(course.way_out)))


def side_width(width: float) -> float:
    """Width of the words on each side of a drawing this wide, in millimetres."""
    return width * (1 - MIDDLE_SHARE) / 2


def text_room(course: Course, width: float) -> float:
    """Width of the column of names, marks and figures, in millimetres."""
    return side_width(width) - number_room(course) - 2


def lay_out(
    course: Course,
    width: float,
    rows: tuple[int, int] | None = None,
    *,
    tall: Collection[str] = (),
    offset: float = 0.0,
) -> Layout:
    """Place rows one below the other, with a gap wherever a stage begins on either side.

    Args:
        course: The job along its time.
        width: Of the drawing in millimetres.
        rows: First row and the one after the last; None for all.
        tall: Joints whose rows need a second line although there are many rows.
        offset: Room for a title above.
    """
    first, last = rows or (0, len(course.rows))
    roomy = len(course.rows) <= ROOMY_ROWS
    top = offset + HEAD_HEIGHT + AXIS_HEIGHT
    y = top + GAP
    slots: dict[str, Slot] = {}
    drawn = course.rows[first:last]
    for index, row in enumerate(drawn):
        if index and _gap_between(drawn[index - 1], row):
            y += GAP
        row_height = ROOMY_ROW if roomy or row.joint in tall else TIGHT_ROW
        slots[row.joint] = Slot(row, y, y + row_height)
        y += row_height
    return Layout(
        course=course,
        width=width,
        side=side_width(width),
        slots=slots,
        top=top,
        rows_bottom=y,
        bottom=y + GAP,
        begins=first == 0,
        ends=last >= len(course.rows),
    )


def _gap_between(above: Row, below: Row) -> bool:
    """True where one way begins a stage: going down into ``below``, going up into ``above``."""
    down = below.opening is not None and below.opening.new_stage
    up = above.closing is not None and above.closing.new_stage
    return down or up


def cut_rows(
    course: Course, most_mm: float, tall: Collection[str] = ()
) -> tuple[tuple[int, int], ...]:
    """Cut rows into pieces that are no higher than ``most_mm``, as even as can be.

    Returns:
        For each piece its first row and the one after its last.
    """
    count = len(course.rows)
    for pieces in range(1, count + 1):
        bounds = [count * piece // pieces for piece in range(pieces + 1)]
        cuts = tuple(pairwise(bounds))
        if all(lay_out(course, 1.0, cut, tall=tall).height <= most_mm for cut in cuts):
            return cuts
    return tuple((index, index + 1) for index in range(count)) or ((0, 0),)
