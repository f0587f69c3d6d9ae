"""The whole strategy of finding a fault as a drawing: from left to right, a line for every outcome.

What is done in any case stands in one box, one line each; where a check has several outcomes the box ends and
a line leads from it to what comes after each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final

from lastscrew.faults.advice import percent
from lastscrew.faults.strategy import Twig
from lastscrew.paper import svg
from lastscrew.paper.svg import Element

COLUMN_MM: Final = 84.0
BOX_MM: Final = 56.0
LINE_MM: Final = 4.6
PAD_MM: Final = 1.6
GAP_MM: Final = 3.0
END_MM: Final = 6.2
MARGIN_MM: Final = 6.0
HEAD_MM: Final = 13.0
TEXT_MM: Final = 2.5
SMALL_MM: Final = 2.1
KIND_MM: Final = 9.0

_KINDS: Final = {"check": "check", "mend": "mend", "stop": "stop"}
_ENDS: Final = {"end": "works", "stop": "stop", "cut": "…"}


@dataclass(slots=True)
class _Box:
    """Actions that follow each other in any case, with their place.

    Attributes:
        outcome: Outcome that leads here.
        share: Its chance.
        twigs: The actions.
        column: From 0.
        y: Upper edge, in millimetres.
        below: What follows each outcome of the last action.
    """

    outcome: str
    share: float
    twigs: list[Twig]
    column: int
    y: float = 0.0
    below: list[_Box] = field(default_factory=list)

    @property
    def ends(self) -> bool:
        """Whether it is only an end: works, stop, or cut."""
        return self.twigs[0].kind in _ENDS

    @property
    def height(self) -> float:
        return END_MM if self.ends else 2 * PAD_MM + LINE_MM * (len(self.twigs) + 1)

    @property
    def middle(self) -> float:
        return self.y + self.height / 2


def draw_strategy(tree: Twig, title: str, cost: Callable[[float], str]) -> Element:
    """Draw a strategy.

    Args:
        tree: The strategy.
        title: What it is a strategy for.
        cost: Writes a cost.

    Returns:
        The root of an SVG drawing in millimetres.
    """
    root = _boxes(tree, "", 1.0, 0)
    bottom = _place(root, MARGIN_MM + HEAD_MM)
    columns = 1 + max(box.column for box in _all(root))
    width = 2 * MARGIN_MM + (columns - 1) * COLUMN_MM + BOX_MM
    paper = svg.drawing(
        width,
        bottom + MARGIN_MM,
        title,
        "From left to right: what to do, and a line with its chance for each outcome.",
        prefix="strategy",
    )
    room = width - 2 * MARGIN_MM
    svg.text(paper, MARGIN_MM, MARGIN_MM + 4, title, 3.6, class_="t b", width=room)
    said = "At each box: expected from there on until the device works and is closed."
    svg.text(paper, MARGIN_MM, MARGIN_MM + 9, said, SMALL_MM, class_="g", width=room)
    for box in _all(root):
        _lines(paper, box)
    for box in _all(root):
        _draw(paper, box, cost)
    return paper


def _boxes(twig: Twig, outcome: str, share: float, column: int) -> _Box:
    twigs = [twig]
    while len(twigs[-1].branches) == 1 and twigs[-1].branches[0][1].kind not in _ENDS:
        twigs.append(twigs[-1].branches[0][1])
    last = twigs[-1]
    box = _Box(outcome, share, twigs, column)
    for name, below in sorted(last.branches, key=lambda branch: -branch[1].chance):
        box.below.append(_boxes(below, name, below.chance / max(last.chance, 1e-12), column + 1))
    return box


def _place(box: _Box, y: float) -> float:
    """Give a box and all after it their height; returns the lower edge of all of them."""
    box.y = y
    bottom = y + box.height
    below = y
    for following in box.below:
        below = _place(following, below) + GAP_MM
    return max(bottom, below - GAP_MM) if box.below else bottom


def _all(box: _Box) -> Iterator[_Box]:
    yield box
    for below in box.below:
        yield from _all(below)


def _left(box: _Box) -> float:
    return MARGIN_MM + box.column * COLUMN_MM


def _lines(paper: Element, box: _Box) -> None:
    """From a box to what follows each outcome."""
    right, start = _left(box) + BOX_MM, box.y + box.height - PAD_MM - LINE_MM * 0.35
    bend = right + 3
    for below in box.below:
        x, y = _left(below), below.y + min(below.height, END_MM) / 2
        svg.polyline(paper, [(right, start), (bend, start), (bend, y), (x, y)], "lg")
        words = f"{below.outcome.replace('_', ' ')} {percent(below.share)}"
        svg.text(paper, bend + 0.8, y - 0.8, words, SMALL_MM, class_="g", width=x - bend - 1.4)


def _draw(paper: Element, box: _Box, cost: Callable[[float], str]) -> None:
    x, first = _left(box), box.twigs[0]
    if box.ends:
        words = _ENDS[first.kind]
        if first.kind == "cut":
            words += f" {cost(first.expected_cost)}"
        svg.text(paper, x + 1.4, box.y + END_MM / 2 + 0.9, words, TEXT_MM, class_="t b")
        return
    group = svg.group(paper, title="; ".join(twig.name for twig in box.twigs))
    svg.rect(group, x, box.y, BOX_MM, box.height, "paper")
    svg.rect(group, x, box.y, BOX_MM, box.height, "box")
    y = box.y + PAD_MM + LINE_MM * 0.7
    svg.text(group, x + 1.4, y, f"{cost(first.expected_cost)} from here", SMALL_MM, class_="g")
    for twig in box.twigs:
        y += LINE_MM
        mends = twig.kind == "mend"
        svg.text(group, x + 1.4, y, _KINDS.get(twig.kind, ""), SMALL_MM, class_="g")
        svg.text(
            group, x + KIND_MM + 1.4, y, twig.name, TEXT_MM,
            class_="t b" if mends else "t", width=BOX_MM - KIND_MM - 2.8,
        )  # fmt: skip
