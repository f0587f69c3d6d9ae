"""A photo taken at a slant, made straight: the four corners of a side are known on it, and the side is a rectangle.

What a camera makes of a flat rectangle is a projective mapping of it (one that a pinhole camera can't leave); four
corners fix its eight numbers. The closed form for a square is that of P. S. Heckbert, Fundamentals of Texture
Mapping and Image Warping (1989), held in the tests to the solution of the eight linear equations.
"""

from __future__ import annotations

import math
from typing import Final

from django.utils.translation import gettext as _

from lastscrew.device.model import Point
from lastscrew.problems import Problem

Corners = tuple[Point, Point, Point, Point]
"""Upper left, upper right, lower right, lower left of a side, as seen on the photo."""

LEAST_AREA: Final = 0.02
"""Share of the photo that the side must fill: less shows nothing (our own figure)."""
LEAST_EDGE: Final = 0.05
"""Share of the photo's diagonal that each edge must have (our own figure)."""


def check_corners(shares: Corners) -> tuple[Problem, ...]:
    """What is wrong with four corners, empty where they are those of a side.

    Args:
        shares: The corners as shares of the photo's width and height.
    """
    for number, corner in enumerate(shares, 1):
        if not all(math.isfinite(value) and 0 <= value <= 1 for value in corner):
            return (
                Problem(
                    _("a corner lies outside of the photo"), _("Tap it again."), f"corner_{number}"
                ),
            )
    turns = [_turn(shares[at - 1], shares[at], shares[(at + 1) % 4]) for at in range(4)]
    if min(turns) <= 0:
        return (
            Problem(
                _("the four corners do not go round the side"),
                _("Tap upper left, upper right, lower right, lower left, in this order."),
                "corners",
                code="not_round",
            ),
        )
    edges = [math.dist(shares[at - 1], shares[at]) for at in range(4)]
    if _area(shares) < LEAST_AREA or min(edges) < LEAST_EDGE * math.sqrt(2):
        return (
            Problem(
                _("the side is too small on the photo"),
                _("Take it from nearer by."),
                "corners",
                code="too_small",
            ),
        )
    return ()


def _turn(one: Point, two: Point, three: Point) -> float:
    """Positive where the way over three points turns clockwise, with y downwards."""
    return (two[0] - one[0]) * (three[1] - two[1]) - (two[1] - one[1]) * (three[0] - two[0])


def _area(corners: Corners) -> float:
    pairs = [(corners[at - 1], corners[at]) for at in range(4)]
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)) / 2


def straight_size(pixels: Corners, frame: Point, most: int) -> tuple[int, int]:
    """Width and height in pixels of the straight photo: as fine as the photo is where it is finest.

    Args:
        pixels: The corners on the photo.
        frame: Width and height of the side in mm.
        most: Longest side that is kept.
    """
    upper_left, upper_right, lower_right, lower_left = pixels
    fineness = max(
        math.dist(upper_left, upper_right) / frame[0],
        math.dist(lower_left, lower_right) / frame[0],
        math.dist(upper_left, lower_left) / frame[1],
        math.dist(upper_right, lower_right) / frame[1],
    )
    fineness = min(fineness, most / max(frame))
    return max(1, round(frame[0] * fineness)), max(1, round(frame[1] * fineness))


def where_from(pixels: Corners, size: tuple[int, int]) -> tuple[float, ...]:
    """Eight numbers a…h that say from where on the photo each point of the straight one is taken.

    The point (x, y) is that at ((a x + b y + c) / (g x + h y + 1), (d x + e y + f) / (g x + h y + 1)).

    Args:
        pixels: The corners on the photo, checked.
        size: Width and height of the straight photo.
    """
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = pixels
    along, across = (x1 - x2, y1 - y2), (x3 - x2, y3 - y2)
    rest = (x0 - x1 + x2 - x3, y0 - y1 + y2 - y3)
    whole = along[0] * across[1] - across[0] * along[1]
    g = (rest[0] * across[1] - across[0] * rest[1]) / whole
    h = (along[0] * rest[1] - rest[0] * along[1]) / whole
    width, height = size
    return (
        (x1 - x0 + g * x1) / width, (x3 - x0 + h * x3) / height, x0,
        (y1 - y0 + g * y1) / width, (y3 - y0 + h * y3) / height, y0,
        g / width, h / height,
    )  # fmt: skip
