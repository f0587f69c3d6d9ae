"""Reading drawings back: elements, texts with the boxes that they take, colours."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from lastscrew.paper.svg import Element, text_width, to_text

SPACE = "{http://www.w3.org/2000/svg}"


def reread(drawing: Element) -> Element:
    """The drawing written out and parsed by another reader of XML: fails where it is not well formed."""
    return ET.fromstring(to_text(drawing).encode())


@dataclass(frozen=True)
class Words:
    """A text on a drawing and the box that it takes, rather too wide than too narrow."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def touches(self, other: Words) -> bool:
        """True when the boxes overlap."""
        return (
            self.left < other.right - 0.01
            and other.left < self.right - 0.01
            and self.top < other.bottom - 0.01
            and other.top < self.bottom - 0.01
        )


def texts(drawing: Element) -> list[Words]:
    """All texts with their boxes (capital height above the baseline, no descenders)."""
    found = []
    for element in drawing.iter("text"):
        size = float(element.get("font-size", "0"))
        x, y = float(element.get("x", "0")), float(element.get("y", "0"))
        bold = "b" in element.get("class", "").split()
        width = text_width(element.text or "", size, bold=bold)
        left = x - {"end": width, "middle": width / 2}.get(element.get("text-anchor", ""), 0.0)
        found.append(Words(element.text or "", left, y - 0.72 * size, left + width, y))
    return found


def overlaps(drawing: Element) -> Iterator[tuple[str, str]]:
    """Pairs of texts that run into each other."""
    words = texts(drawing)
    for index, one in enumerate(words):
        for other in words[index + 1 :]:
            if one.touches(other):
                yield one.text, other.text


def said(drawing: Element) -> str:
    """All texts and titles of a drawing."""
    return "\n".join(
        element.text or "" for element in drawing.iter() if element.tag in ("text", "title", "desc")
    )


def colours(text: str) -> set[str]:
    """All colours that are written in a drawing or page."""
    return {match.lower() for match in re.findall(r"#[0-9a-fA-F]{3,8}\b", text)}
