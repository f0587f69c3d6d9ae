"""The small V beside a unit: how deep it is open, and where it stands on the way in or out.

The way in runs down the left limb, the way out up the right one. What is done is drawn in ink, what is
not done yet pale. The deeper a machine was opened, the deeper the V.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree as ET

from lastscrew.paper import svg
from lastscrew.paper.look import INK, PALE, PAPER, SIGNAL_LOOKS
from lastscrew.paper.svg import Element

Standing = Literal["before", "in", "out", "closed", "proven", "gone"]

WIDTH, HEIGHT = 64.0, 30.0
LEFT, MIDDLE, RIGHT, TOP = 5.0, 32.0, 59.0, 5.0
LEAST_DEPTH, MOST_DEPTH = 9.0, 21.0
HALF_WAY = 10.0
"""With so many joints open the V is about two thirds as deep as it can be."""

# Style sheets of a page say how it looks there; what makes PDF takes none into a drawing.
LINES = {
    "way": (PALE, 1.6),
    "done": (INK, 3.0),
    "bar": (INK, 1.6),
    "tick": (PAPER, 1.4),
    "stop-mark": (INK, 1.3),
}
FACES = {
    "place": INK,
    "dot": INK,
    "ring": PAPER,
    "wait": PAPER,
    "stop": SIGNAL_LOOKS["warning"].ground,
    "stop-dot": INK,
}
EDGES = {"ring": 1.6, "wait": 1.6, "stop": 0.8}


@dataclass(frozen=True, slots=True)
class SmallV:
    """What the small V shows.

    Attributes:
        standing: Before the work, on the way in, on the way out, closed again, proven, gone.
        open_joints: How many joints are open now.
        deepest: How many were open at once at most.
        waits: It is parked.
        stopped: A hazard stops the normal way.
    """

    standing: Standing
    open_joints: int = 0
    deepest: int = 0
    waits: bool = False
    stopped: bool = False

    @property
    def depth(self) -> float:
        """Depth of the turning point below the top, in units of the drawing."""
        share = 1 - math.exp(-max(self.deepest, self.open_joints) / HALF_WAY)
        return LEAST_DEPTH + (MOST_DEPTH - LEAST_DEPTH) * share


def standing_of(stage: str, *, opened: int, open_now: int, last_limb: str) -> Standing:
    """Where a unit stands.

    Args:
        stage: Stage of the unit.
        opened: How often a joint was opened in its job.
        open_now: How many joints are open.
        last_limb: ``in`` or ``out``: what was done last; empty for nothing yet.
    """
    if stage in ("gone", "proven"):
        return "gone" if stage == "gone" else "proven"
    if not opened and not open_now:
        return "before"
    if not open_now:
        return "closed"
    return "out" if last_limb == "out" else "in"


def draw(v: SmallV) -> Element:
    """The drawing; its words stand beside it, so that it is hidden from screen readers."""
    root = Element("svg")
    root.set("viewBox", f"0 0 {WIDTH:g} {HEIGHT:g}")
    root.set("class", "small-v")
    root.set("aria-hidden", "true")
    apex = (MIDDLE, TOP + v.depth)
    left, right = (LEFT, TOP), (RIGHT, TOP)
    svg.polyline(root, [left, apex, right], "way")
    place = _done(root, v, left, apex, right)
    _sign(root, v, place)
    for shape in root:
        _colour(shape, shape.get("class", ""))
    return root


def _colour(shape: Element, kind: str) -> None:
    shape.set("fill", FACES.get(kind, "none"))
    stroke, width = LINES.get(kind, (INK, EDGES.get(kind, 0.0)))
    if width:
        shape.set("stroke", stroke)
        shape.set("stroke-width", f"{width:g}")
        shape.set("stroke-linejoin", "round")
        shape.set("stroke-linecap", "round")


def _done(
    root: Element,
    v: SmallV,
    left: tuple[float, float],
    apex: tuple[float, float],
    right: tuple[float, float],
) -> tuple[float, float]:
    """Draw what is done; where it stands now."""
    if v.standing == "before":
        return left
    if v.standing == "in":
        svg.polyline(root, [left, apex], "done")
        return apex
    if v.standing == "out":
        share = 1 - v.open_joints / max(v.deepest, v.open_joints, 1)
        # Never quite at either end: it is on its way.
        share = min(0.85, max(0.12, share))
        place = (apex[0] + share * (right[0] - apex[0]), apex[1] + share * (right[1] - apex[1]))
        svg.polyline(root, [left, apex, place], "done")
        return place
    svg.polyline(root, [left, apex, right], "done")
    return right


def _sign(root: Element, v: SmallV, place: tuple[float, float]) -> None:
    x, y = place
    if v.stopped:
        svg.polygon(root, [(x - 5, y + 4), (x + 5, y + 4), (x, y - 4.6)], "stop")
        svg.line(root, x, y - 1.6, x, y + 1.4, "stop-mark")
        svg.circle(root, x, y + 2.8, 0.55, "stop-dot")
    elif v.waits:
        svg.circle(root, x, y, 4.4, "wait")
        svg.line(root, x - 1.3, y - 1.9, x - 1.3, y + 1.9, "bar")
        svg.line(root, x + 1.3, y - 1.9, x + 1.3, y + 1.9, "bar")
    elif v.standing == "gone":
        svg.line(root, x - 3, y - 4, x + 4, y - 4, "bar")
    elif v.standing == "proven":
        svg.circle(root, x, y, 4.2, "dot")
        svg.polyline(root, [(x - 1.9, y + 0.1), (x - 0.5, y + 1.6), (x + 2.1, y - 1.6)], "tick")
    else:
        svg.circle(root, x, y, 3.0, "place" if v.standing != "before" else "ring")


def to_markup(root: Element) -> str:
    """The drawing as markup to be set into a page."""
    return ET.tostring(root, encoding="unicode")
