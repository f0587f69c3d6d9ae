"""A photo under a drawing, fixed by two points: the one turn, scale and shift that takes one pair to the other.

Both planes count downwards (pixels, paper), so that a photo taken straight on is never mirrored. As complex
numbers the mapping is ``w = a z + b`` with ``a = (w2 - w1) / (z2 - z1)``: a similarity has four numbers, and two
points give four equations (plane geometry; held to a least-squares solution in the tests).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from lastscrew.device.model import Point
from lastscrew.problems import InputError, Problem

LEAST_APART: Final = 0.05
"""Two points nearer than this share of the picture's diagonal fix nothing (our own figure)."""
LEAST_APART_MM: Final = 5.0
"""Likewise on the machine."""


@dataclass(frozen=True, slots=True)
class Similarity:
    """A turn with a scale, then a shift.

    Attributes:
        along, across: Real and imaginary part of ``a``.
        shift: ``b``.
    """

    along: float
    across: float
    shift: Point

    def at(self, point: Point) -> Point:
        """Where a point goes."""
        x, y = point
        return (
            self.along * x - self.across * y + self.shift[0],
            self.across * x + self.along * y + self.shift[1],
        )

    @property
    def scale(self) -> float:
        """Length of what was one unit long."""
        return math.hypot(self.along, self.across)

    @property
    def degrees(self) -> float:
        """How far it turns, clockwise where both planes count downwards."""
        return math.degrees(math.atan2(self.across, self.along))

    def matrix(self) -> str:
        """As SVG writes a transformation."""
        numbers = (self.along, self.across, -self.across, self.along, *self.shift)
        return "matrix(" + " ".join(f"{number:.6g}" for number in numbers) + ")"


def fixed_by(pairs: tuple[tuple[Point, Point], tuple[Point, Point]]) -> Similarity:
    """The similarity that takes the first point of each pair to the second.

    Raises:
        InputError: The two points are the same on one of the planes.
    """
    (z1, w1), (z2, w2) = ((complex(*z), complex(*w)) for z, w in pairs)
    if z1 == z2 or w1 == w2:
        raise InputError([_too_near(_("photo"))])
    a = (w2 - w1) / (z2 - z1)
    b = w1 - a * z1
    return Similarity(a.real, a.imag, (b.real, b.imag))


@dataclass(frozen=True, slots=True)
class Anchor:
    """One place that is known on the photo and on the machine.

    Attributes:
        share: In the photo, as shares of width and height from its upper left corner.
        mm: On the machine, in the frame of the side from its lower left corner.
    """

    share: Point
    mm: Point


@dataclass(frozen=True, slots=True)
class Underlay:
    """A photo that lies under the drawing of one side.

    Attributes:
        address: Where the page finds it.
        width, height: In pixels.
        anchors: Two places that fix it.
    """

    address: str
    width: int
    height: int
    anchors: tuple[Anchor, Anchor]

    def pixels(self, anchor: Anchor) -> Point:
        """A place of the photo in pixels."""
        return anchor.share[0] * self.width, anchor.share[1] * self.height


def anchors_from(points: object) -> tuple[Anchor, Anchor] | None:
    """Anchors as the database keeps them, None where there are no two good ones."""
    if not isinstance(points, list) or len(points) != 2:
        return None
    found = []
    for point in points:
        try:
            share, mm = point["share"], point["mm"]
            found.append(Anchor((float(share[0]), float(share[1])), (float(mm[0]), float(mm[1]))))
        except (KeyError, TypeError, ValueError, IndexError):
            return None
    return found[0], found[1]


def anchors_as_json(anchors: tuple[Anchor, Anchor]) -> list[dict[str, list[float]]]:
    """Anchors as the database keeps them."""
    return [{"share": list(anchor.share), "mm": list(anchor.mm)} for anchor in anchors]


def check_anchors(anchors: tuple[Anchor, Anchor], frame: Point | None) -> tuple[Problem, ...]:
    """What is wrong with two anchors, empty where they fix a photo.

    Args:
        anchors: The two places.
        frame: Width and height of the side in mm, None where the device file gives none.
    """
    problems = []
    for number, anchor in enumerate(anchors, 1):
        if not all(math.isfinite(v) and 0 <= v <= 1 for v in anchor.share):
            problems.append(
                Problem(
                    _("a point lies outside of the photo"), _("Tap it again."), f"share_{number}"
                )
            )
        low, high = (-1e4, (1e4, 1e4)) if frame is None else (-1.0, (frame[0] + 1, frame[1] + 1))
        if not all(
            math.isfinite(v) and low <= v <= most for v, most in zip(anchor.mm, high, strict=True)
        ):
            problems.append(
                Problem(_("a point lies outside of this side"), _("Tap it again."), f"mm_{number}")
            )
    if problems:
        return tuple(problems)
    one, other = anchors
    if math.dist(one.share, other.share) < LEAST_APART * math.sqrt(2):
        problems.append(_too_near(_("photo")))
    if math.dist(one.mm, other.mm) < LEAST_APART_MM:
        problems.append(_too_near(_("drawing")))
    return tuple(problems)


def _too_near(where: str) -> Problem:
    return Problem(
        _("the two points are too near to each other on the %(where)s") % {"where": where},
        _("Take two that lie far apart, such as two corners."),
        path="points",
        code="too_near",
    )
