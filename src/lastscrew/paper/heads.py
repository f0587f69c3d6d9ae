"""Screw heads and other joints as they look from above, for drawings to scale."""

from __future__ import annotations

import math
import re
from typing import Final, Literal

from lastscrew.device.model import Device, Joint
from lastscrew.paper import svg
from lastscrew.paper.svg import Element

Strength = Literal["lit", "plain", "pale"]
"""At work, there to be seen, or covered."""

LEAST_RADIUS_MM: Final = 1.25
"""A head is never drawn smaller than this, or its recess could not be told."""

HEAD_PER_THREAD: Final = 1.9
"""Head diameter by thread diameter, about that of a pan head (ISO 7045: 4.0 for M2, 5.6 for M3; from memory)."""

_THREAD = re.compile(r"\s*M\s*(\d+(?:[.,]\d+)?)", re.IGNORECASE)


def head_radius_mm(device: Device, joint: Joint) -> float:
    """Radius of a joint's heads, guessed from the thread; a small one where nothing is said."""
    fastener = device.fasteners.get(joint.fastener or "")
    found = _THREAD.match(fastener.thread or "") if fastener else None
    diameter = float(found.group(1).replace(",", ".")) if found else 2.0
    return max(0.5, diameter * HEAD_PER_THREAD / 2)


def recess_of(device: Device, joint: Joint) -> str:
    """``cross``, ``star``, ``hexagon``, ``square``, ``slot`` or nothing, from the drive's usual marks."""
    fastener = device.fasteners.get(joint.fastener or "")
    drive = (fastener.drive or "").strip().upper() if fastener else ""
    for recess, pattern in (
        ("hex_head", r"HEX\s*\d+|SW\s*\d+"),
        ("cross", r"(PH|PZ|JIS|J|CROSS)\s*-?\d*"),
        ("star", r"(TX|T|IP|TORX|HEXALOBULAR)\s*-?\d*"),
        ("hexagon", r"(H|HX|ALLEN)\s*\d*(\.\d+)?"),
        ("square", r"(S|SQ|R)\s*\d+"),
        ("slot", r"(SL|SLOT|FLAT).*"),
    ):
        if re.fullmatch(pattern, drive):
            return recess
    return ""


def draw_head(
    parent: Element,
    device: Device,
    joint: Joint,
    x: float,
    y: float,
    radius: float,
    strength: Strength,
) -> None:
    """Draw one piece of a joint: a head with its recess, or a mark for what is no screw."""
    edge = {"lit": "li bold", "plain": "li", "pale": "lp"}[strength]
    fill = "ink" if strength == "lit" else "paper"
    if joint.kind not in ("screw", "nut", "rivet", "pin"):
        _draw_other(parent, joint, x, y, radius, fill, edge)
        return
    recess = "hex_head" if joint.kind == "nut" else recess_of(device, joint)
    if recess == "hex_head":
        points = [_around(x, y, radius, 60 * corner) for corner in range(6)]
        svg.polygon(parent, points, fill)
        svg.polygon(parent, points, edge)
        return
    svg.circle(parent, x, y, radius, fill)
    svg.circle(parent, x, y, radius, edge)
    cut = {"lit": "cut-lit", "plain": "cut", "pale": "lp"}[strength]
    _draw_recess(parent, recess, x, y, radius * 0.55, cut)


def _draw_other(
    parent: Element, joint: Joint, x: float, y: float, radius: float, fill: str, edge: str
) -> None:
    half = radius * 0.9
    if joint.rigid:
        svg.rect(parent, x - half, y - half, 2 * half, 2 * half, fill)
        svg.rect(parent, x - half, y - half, 2 * half, 2 * half, edge)
    else:
        svg.circle(parent, x, y, half, fill)
        svg.circle(parent, x, y, half, edge)


def _draw_recess(parent: Element, recess: str, x: float, y: float, r: float, class_: str) -> None:
    if recess in ("cross", "slot"):
        svg.line(parent, x - r, y, x + r, y, class_)
        if recess == "cross":
            svg.line(parent, x, y - r, x, y + r, class_)
    elif recess == "star":
        for turn in (0, 60, 120):
            (x1, y1), (x2, y2) = _around(x, y, r, turn + 90), _around(x, y, r, turn + 270)
            svg.line(parent, x1, y1, x2, y2, class_)
    elif recess in ("hexagon", "square"):
        corners = 6 if recess == "hexagon" else 4
        points = [_around(x, y, r, 360 / corners * corner + 45) for corner in range(corners + 1)]
        svg.polyline(parent, points, class_)


def _around(x: float, y: float, radius: float, degrees: float) -> tuple[float, float]:
    angle = math.radians(degrees)
    return x + radius * math.cos(angle), y + radius * math.sin(angle)
