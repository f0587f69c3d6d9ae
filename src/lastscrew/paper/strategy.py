"""The whole strategy of finding a fault as a drawing: actions from left to right, a line for every outcome."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from lastscrew.faults.advice import percent
from lastscrew.faults.strategy import Twig
from lastscrew.paper import svg
from lastscrew.paper.svg import Element

COLUMN_MM: Final = 62.0
ROW_MM: Final = 13.0
BOX_MM: Final = 46.0
BOX_HEIGHT_MM: Final = 9.5
MARGIN_MM: Final = 6.0
HEAD_MM: Final = 12.0
TEXT_MM: Final = 2.5
SMALL_MM: Final = 2.1

_KINDS: Final = {"check": "check", "mend": "mend", "stop": "stop", "end": "works", "cut": "…"}


@dataclass(slots=True)
class _Placed:
    """A twig with its place."""

    twig: Twig
    outcome: str
    column: int
    row: int = 0
    below: list[_Placed] = field(default_factory=list)


def draw_strategy(tree: Twig, title: str, cost: Callable[[float], str]) -> Element:
    """Draw a strategy.

    Args:
        tree: The strategy.
        title: What it is a strategy for.
        cost: Writes a cost.

    Returns:
        The root of an SVG drawing in millimetres.
    """
    root, rows, columns = _place(tree)
    width = 2 * MARGIN_MM + (columns - 1) * COLUMN_MM + BOX_MM
    height = 2 * MARGIN_MM + HEAD_MM + rows * ROW_MM
    paper = svg.drawing(
        width,
        height,
        title,
        "Actions from left to right; each line is an outcome with its chance.",
        prefix="strategy",
    )
    svg.text(paper, MARGIN_MM, MARGIN_MM + 4, title, 3.6, class_="t b", width=width - 2 * MARGIN_MM)
    _draw(paper, root, cost)
    return paper


def _place(tree: Twig) -> tuple[_Placed, int, int]:
    """Rows from the leaves, columns from the depth."""
    rows = 0
    deepest = 0

    def place(twig: Twig, outcome: str, column: int) -> _Placed:
        nonlocal rows, deepest
        deepest = max(deepest, column)
        placed = _Placed(twig, outcome, column)
        likely_first = sorted(twig.branches, key=lambda branch: -branch[1].chance)
        placed.below = [place(below, name, column + 1) for name, below in likely_first]
        if placed.below:
            placed.row = placed.below[0].row
        else:
            placed.row = rows
            rows += 1
        return placed

    root = place(tree, "", 0)
    return root, rows, deepest + 1


def _corner(placed: _Placed) -> tuple[float, float]:
    x = MARGIN_MM + placed.column * COLUMN_MM
    return x, MARGIN_MM + HEAD_MM + placed.row * ROW_MM


def _draw(paper: Element, placed: _Placed, cost: Callable[[float], str]) -> None:
    x, y = _corner(placed)
    twig = placed.twig
    middle = y + BOX_HEIGHT_MM / 2
    for below in placed.below:
        to_x, to_y = _corner(below)
        to_middle = to_y + BOX_HEIGHT_MM / 2
        bend = x + BOX_MM + 3
        points = [(x + BOX_MM, middle), (bend, middle), (bend, to_middle), (to_x, to_middle)]
        svg.polyline(paper, points, "lg")
        words = f"{below.outcome.replace('_', ' ')} {percent(below.twig.chance / max(twig.chance, 1e-12))}"
        svg.text(
            paper, bend + 0.6, to_middle - 0.8, words, SMALL_MM, class_="g", width=to_x - bend - 1
        )
    box = svg.group(paper, title=f"{_KINDS.get(twig.kind, '')} {twig.name}".strip())
    if twig.kind in ("check", "mend"):
        svg.rect(box, x, y, BOX_MM, BOX_HEIGHT_MM, "wash" if twig.kind == "mend" else "paper")
        svg.rect(box, x, y, BOX_MM, BOX_HEIGHT_MM, "box" + (" bold" if twig.kind == "mend" else ""))
        kind = f"{_KINDS[twig.kind]}, {cost(twig.expected_cost)} from here"
        svg.text(box, x + 1.2, y + 3.6, twig.name, TEXT_MM, class_="t", width=BOX_MM - 2.4)
        svg.text(box, x + 1.2, y + 7.6, kind, SMALL_MM, class_="g", width=BOX_MM - 2.4)
    else:
        name = twig.name if twig.kind != "cut" else f"… {cost(twig.expected_cost)} from here"
        svg.text(box, x + 1.2, y + 5.6, name, TEXT_MM, class_="t b" if twig.kind == "end" else "t")
    for below in placed.below:
        _draw(paper, below, cost)
