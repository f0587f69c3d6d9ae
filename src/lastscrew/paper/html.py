"""Pages as trees of elements: escaped by construction; and drawings set into them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from copy import deepcopy
from xml.etree import ElementTree as ET

from lastscrew.paper.svg import Element, clean
from lastscrew.saying import told

Child = Element | str | None

_MARKED = re.compile(r"\*([^*]+)\*")

ASCENT_SHARE = 0.947
"""From the top of a line 1.2 ems high to its baseline, in ems (Liberation Sans, DejaVu Sans: from their tables)."""


def el(tag: str, *children: Child, class_: str = "", **attributes: str) -> Element:
    """An element with its children; a string is text, None is left out."""
    element = Element(tag)
    if class_:
        element.set("class", class_)
    for key, value in attributes.items():
        element.set(key.rstrip("_").replace("_", "-"), clean(value))
    return put(element, children)


def put(parent: Element, children: Iterable[Child]) -> Element:
    """Append children to an element."""
    for child in children:
        if isinstance(child, str):
            _append_text(parent, clean(child))
        elif child is not None:
            parent.append(child)
    return parent


def _append_text(parent: Element, words: str) -> None:
    if len(parent):
        parent[-1].tail = (parent[-1].tail or "") + words
    else:
        parent.text = (parent.text or "") + words


def prose(words: str) -> list[Child]:
    """A sentence in which ``*names*`` are set off."""
    pieces = _MARKED.split(told(words))
    return [el("b", piece) if index % 2 else piece for index, piece in enumerate(pieces) if piece]


def figure(drawing: Element, *, texts_as_html: bool, scale: float = 1.0) -> Element:
    """A drawing set into a page, in millimetres.

    Args:
        drawing: An ``svg`` element made by this package.
        texts_as_html: Lift the texts out of the drawing and lay them over it as text of the page. A PDF
            writer that sets the letters of a drawing one by one would break up words, and scripts
            whose letters join.
        scale: Size on the page by size of the drawing.
    """
    root = deepcopy(drawing)
    left, top, width, height = (float(part) for part in (root.get("viewBox") or "0 0 1 1").split())
    size = f"{width * scale:.2f}mm", f"{height * scale:.2f}mm"
    root.set("width", size[0])
    root.set("height", size[1])
    frame = el("div", root, class_="figure", style=f"width:{size[0]};height:{size[1]}")
    if texts_as_html:
        for words in _lift_texts(root):
            frame.append(_laid_over(words, left, top, width, scale))
    return frame


def _lift_texts(root: Element) -> list[Element]:
    found: list[Element] = []
    for parent in root.iter():
        for child in list(parent):
            if child.tag == "text":
                found.append(child)
                parent.remove(child)
    return found


def _laid_over(words: Element, left: float, top: float, width: float, scale: float) -> Element:
    size = float(words.get("font-size", "3")) * scale
    x = (float(words.get("x", "0")) - left) * scale
    y = (float(words.get("y", "0")) - top) * scale
    width *= scale
    anchor = words.get("text-anchor", "start")
    if anchor == "end":
        place = f"right:{width - x:.2f}mm;text-align:right"
    elif anchor == "middle":
        place = f"left:{x - 100:.2f}mm;width:200mm;text-align:center"
    else:
        place = f"left:{x:.2f}mm"
    style = f"{place};top:{y - ASCENT_SHARE * size:.2f}mm;font-size:{size:.3f}mm"
    return el("span", words.text or "", class_=f"over-text {words.get('class', '')}", style=style)


def to_html(root: Element) -> str:
    """The page as a file of its own, in UTF-8 text."""
    return "<!DOCTYPE html>\n" + ET.tostring(root, encoding="unicode", method="html") + "\n"
