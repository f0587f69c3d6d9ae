"""The tray map on pages of the job sheet, at true scale."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from xml.etree import ElementTree as ET

from lastscrew.fasteners.tray import MAX_SIDE, TrayMap, tray_map
from lastscrew.fasteners.tray_drawing import DEFAULT_CELL_MM, sheet_size_mm, tray_drawing
from lastscrew.paper.sheet_css import PAGE_SIZES_MM, Paper
from lastscrew.paper.svg import Element
from lastscrew.plan.briefing import Briefing

LEAST_MARGIN_MM = 5.0
"""Most printers leave about this much blank (our own figure)."""

HEADING_MM = 17.0
"""Heading above a tray and page number below it."""

NOTE_LINES = 6
"""Lines below a tray for which room is kept."""

SVG_SPACE = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True, slots=True)
class TrayWish:
    """What tray there is.

    Attributes:
        rows, columns: Compartments; None for as many as are needed and go on the paper.
        cell_mm: Width and height of one compartment.
    """

    rows: int | None = None
    columns: int | None = None
    cell_mm: tuple[float, float] = DEFAULT_CELL_MM


@dataclass(frozen=True, slots=True)
class TrayPage:
    """The tray map: a drawing for each tray, and the page that takes them.

    Attributes:
        drawings: In millimetres.
        compartments: Where the pieces of each joint lie.
        landscape: The page lies on its side.
        too_large: The tray does not go on the paper at true scale.
    """

    drawings: tuple[Element, ...] = ()
    compartments: Mapping[str, str] = field(default_factory=dict)
    landscape: bool = False
    too_large: bool = False


def tray_page(briefing: Briefing, wish: TrayWish, paper: Paper) -> TrayPage:
    """Arrange what comes out in a tray and draw it for a page.

    Args:
        briefing: The plan and what follows from it.
        wish: The tray.
        paper: Size of the paper.

    Raises:
        InputError: A tray of that size is none.
    """
    groups = len(tray_map(briefing.device, briefing.plan, MAX_SIDE, MAX_SIDE).groups)
    if not groups:
        return TrayPage()
    rows, columns = _size(groups, wish, paper)
    found = tray_map(briefing.device, briefing.plan, rows, columns)
    trays = [_one_tray(found, number) for number in range(found.trays)]
    drawings = [_parsed(tray_drawing(briefing.device, tray, wish.cell_mm)) for tray in trays]
    landscape, too_large = _page_for(_drawn_size(found, wish), paper)
    compartments = {group.joint: group.compartment for group in found.groups}
    return TrayPage(tuple(drawings), compartments, landscape, too_large)


def _size(groups: int, wish: TrayWish, paper: Paper) -> tuple[int, int]:
    """Rows and columns: as wished, else what goes on a page on end."""
    width, height = PAGE_SIZES_MM[paper]
    room_x, room_y = width - 2 * LEAST_MARGIN_MM, height - 2 * LEAST_MARGIN_MM - HEADING_MM
    most_columns = most_rows = 1
    for number in range(1, MAX_SIDE + 1):
        size = sheet_size_mm(_tray_of(number, number), wish.cell_mm, NOTE_LINES)
        most_columns = number if size[0] <= room_x else most_columns
        most_rows = number if size[1] <= room_y else most_rows
    columns = wish.columns if wish.columns is not None else most_columns
    needed = max(1, -(-groups // max(1, columns)))
    return (wish.rows if wish.rows is not None else min(most_rows, needed)), columns


def _tray_of(rows: int, columns: int) -> TrayMap:
    return TrayMap(
        rows, columns, 1, (), (), 0, proven=True, one_more_tray_helps=False, thrown_away=()
    )


def _one_tray(found: TrayMap, number: int) -> TrayMap:
    """One of several trays as a map of its own; what concerns them all is said below the last one."""
    mine = tuple(replace(group, tray=0) for group in found.groups if group.tray == number)
    if number == found.trays - 1:
        return replace(found, trays=1, groups=mine)
    return replace(found, trays=1, groups=mine, beside=(), thrown_away=())


def _drawn_size(found: TrayMap, wish: TrayWish) -> tuple[float, float]:
    return sheet_size_mm(_tray_of(found.rows, found.columns), wish.cell_mm, NOTE_LINES)


def _page_for(size: tuple[float, float], paper: Paper) -> tuple[bool, bool]:
    """Whether the page lies on its side, and whether the drawing is too large for it either way."""
    width, height = PAGE_SIZES_MM[paper]
    for landscape in (False, True):
        page = (height, width) if landscape else (width, height)
        if (
            size[0] <= page[0] - 2 * LEAST_MARGIN_MM
            and size[1] <= page[1] - 2 * LEAST_MARGIN_MM - HEADING_MM
        ):
            return landscape, False
    return size[0] > size[1], True


def _parsed(document: str) -> Element:
    """Our own drawing as elements again, to be set into a page."""
    root = ET.fromstring(document.encode())  # noqa: S314 - written by ourselves just before
    for element in root.iter():
        element.tag = element.tag.removeprefix(SVG_SPACE)
        if element.tag == "style":
            element.text = (element.text or "").replace("@page{margin:0}", "")
    root.set("xmlns", "http://www.w3.org/2000/svg")
    return root
