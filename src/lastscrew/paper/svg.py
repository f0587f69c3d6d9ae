"""Drawings as trees of elements: escaped and well formed by construction, the same bytes every time.

One user unit is one millimetre. Text stays text, told by the voice in force (:mod:`lastscrew.saying`); how wide it will
be is estimated from the advance widths of DejaVu Sans, a wide face, so that what fits here fits in the narrower
ones as well.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from xml.etree import ElementTree as ET

from lastscrew.paper.look import DARK_CSS, FONTS, LIGHT_CSS
from lastscrew.saying import told

Element = ET.Element
Value = str | float

PIXELS_PER_MM = 5.2
"""Size on screen of a drawing that is not printed to scale (a matter of taste)."""

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

_ADVANCE = dict(zip(map(chr, range(32, 127)), (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
), strict=True)) | {"—": 1000, "…": 1000, "–": 500, "×": 838, "·": 318, "→": 838}  # fmt: skip
"""Advance widths of DejaVu Sans in thousandths of an em, read from the font."""
_BEYOND_LATIN = 0x250
"""Behind Latin Extended-B; other scripts run wider."""

_BOLD = 1.12
_ELLIPSIS = "…"


def clean(text: str) -> str:
    """Text that XML allows, told by the voice in force: characters that XML forbids are replaced."""
    return _FORBIDDEN.sub("\ufffd", told(text))


def number(value: float) -> str:
    """A coordinate with at most two decimals, without a tail of zeros or a negative zero."""
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown


def _set(element: Element, attributes: Mapping[str, Value | None]) -> None:
    for key, value in attributes.items():
        if value is not None:
            name = key.rstrip("_").replace("_", "-")
            element.set(name, clean(value) if isinstance(value, str) else number(value))


def add(parent: Element, tag: str, content: str = "", **attributes: Value) -> Element:
    """Append an element. ``class_`` writes ``class``; underscores become hyphens."""
    element = ET.SubElement(parent, tag)
    _set(element, attributes)
    if content:
        element.text = clean(content)
    return element


def drawing(
    width_mm: float,
    height_mm: float,
    title: str,
    desc: str,
    *,
    prefix: str,
    dark: bool = True,
    true_scale: bool = False,
    pad_mm: float = 0.0,
) -> Element:
    """The root of a drawing with its title, description, style and sheet of paper.

    Args:
        width_mm: Size in user units of one millimetre.
        height_mm: Likewise.
        title: For screen readers and as tool tip.
        desc: For screen readers.
        prefix: Makes the ids of this drawing unique where several share one page.
        dark: Follow a dark screen (never when printed).
        true_scale: Give the size in millimetres instead of comfortable pixels.
        pad_mm: Blank border around what is drawn, outside of the given size.
    """
    root = Element("svg")
    outer_width, outer_height = width_mm + 2 * pad_mm, height_mm + 2 * pad_mm

    def unit(length_mm: float) -> str:
        return f"{number(length_mm)}mm" if true_scale else number(length_mm * PIXELS_PER_MM)

    _set(
        root,
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": unit(outer_width),
            "height": unit(outer_height),
            "viewBox": " ".join(number(v) for v in (-pad_mm, -pad_mm, outer_width, outer_height)),
            "class": "ls",
            "role": "figure",
            "aria_labelledby": f"{prefix}-title {prefix}-desc",
            "font_family": FONTS,
        },
    )
    add(root, "title", title, id=f"{prefix}-title")
    add(root, "desc", desc, id=f"{prefix}-desc")
    add(root, "style", LIGHT_CSS + (DARK_CSS if dark else ""))
    add(root, "rect", class_="paper", x=-pad_mm, y=-pad_mm, width=outer_width, height=outer_height)
    return root


def group(parent: Element, title: str = "", class_: str = "") -> Element:
    """A group; its title is read out and shown as tool tip."""
    element = add(parent, "g")
    _set(element, {"class": class_ or None})
    if title:
        add(element, "title", title)
    return element


def line(parent: Element, x1: float, y1: float, x2: float, y2: float, class_: str) -> Element:
    """A straight line."""
    return add(parent, "line", x1=x1, y1=y1, x2=x2, y2=y2, class_=class_)


def polyline(parent: Element, points: Sequence[tuple[float, float]], class_: str) -> Element:
    """An open run of straight lines."""
    shown = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return add(parent, "polyline", points=shown, class_=class_)


def polygon(parent: Element, points: Sequence[tuple[float, float]], class_: str) -> Element:
    """A closed run of straight lines."""
    shown = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return add(parent, "polygon", points=shown, class_=class_)


def rect(
    parent: Element, x: float, y: float, width: float, height: float, class_: str, r: float = 0
) -> Element:
    """A rectangle with corners rounded by ``r``."""
    made = add(parent, "rect", x=x, y=y, width=width, height=height, class_=class_)
    _set(made, {"rx": r or None})
    return made


def circle(parent: Element, x: float, y: float, r: float, class_: str) -> Element:
    """A circle."""
    return add(parent, "circle", cx=x, cy=y, r=r, class_=class_)


def text(
    parent: Element,
    x: float,
    y: float,
    content: str,
    size: float,
    *,
    class_: str = "t",
    anchor: str = "start",
    width: float | None = None,
) -> Element:
    """Text with its baseline at ``y``; cut to ``width`` with an ellipsis, whole in its title."""
    bold = "b" in class_.split()
    content = told(content)
    shown = content if width is None else fit(content, width, size, bold=bold)
    element = ET.SubElement(parent, "text")
    _set(
        element,
        {
            "x": x,
            "y": y,
            "font_size": size,
            "class_": class_,
            "text_anchor": None if anchor == "start" else anchor,
        },
    )
    element.text = clean(shown)
    if shown != content:
        # A title inside text is read by browsers as its tool tip; its text is not drawn.
        add(element, "title", content)
    return element


def advance(character: str) -> float:
    """Estimated advance width of a character in ems, at least as wide as DejaVu Sans draws it."""
    if unicodedata.combining(character):
        return 0.0
    if unicodedata.east_asian_width(character) in ("W", "F"):
        return 1.0
    # An accent does not make a letter wider: É is as wide as E.
    plain = unicodedata.normalize("NFD", character)[0]
    if plain in _ADVANCE:
        return _ADVANCE[plain] / 1000
    if ord(character) < _BEYOND_LATIN:
        return 1.0 if character.isupper() or character in "æœ" else 0.65
    return 0.8


def text_width(content: str, size: float, *, bold: bool = False) -> float:
    """Estimated width of a line of text in millimetres, rather too wide than too narrow."""
    return sum(advance(character) for character in told(content)) * size * (_BOLD if bold else 1.0)


def fit(content: str, width: float, size: float, *, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits with an ellipsis behind it."""
    content = told(content)
    if text_width(content, size, bold=bold) <= width:
        return content
    room = width - text_width(_ELLIPSIS, size, bold=bold)
    kept, used = "", 0.0
    for character in content:
        used += text_width(character, size, bold=bold)
        if used > room:
            break
        kept += character
    return kept.rstrip() + _ELLIPSIS


def wrap(
    content: str, width: float, size: float, *, bold: bool = False, most: int = 99
) -> list[str]:
    """Break text into lines of at most ``width``; what exceeds ``most`` lines ends in an ellipsis."""
    lines: list[str] = []
    current = ""
    words = told(content).split()
    for index, word in enumerate(words):
        longer = f"{current} {word}".strip()
        if current and text_width(longer, size, bold=bold) > width:
            if len(lines) == most - 1:
                lines.append(fit(" ".join([current, *words[index:]]), width, size, bold=bold))
                return lines
            lines.append(fit(current, width, size, bold=bold))
            current = word
        else:
            current = longer
    lines.append(fit(current, width, size, bold=bold))
    return lines


def to_text(root: Element) -> str:
    """The drawing as a file of its own, in UTF-8 text."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"
