"""Labels for units and places: a square code, the number in large type, what it is. For paper and screen.

On a label stands nothing of the owner. The code of a unit holds its number and nothing else, the code of a
place its name: a hand scanner types either into the search field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from django.utils.translation import gettext as _

from lastscrew.paper.html import Child, el, figure, to_html
from lastscrew.paper.look import FONTS, INK, PAPER, SIGNAL_LOOKS
from lastscrew.paper.qr import draw_code
from lastscrew.paper.svg import Element

Form = Literal["roll", "sheet"]
MOST_LABELS = 480

WIDTH_MM, HEIGHT_MM = 62.0, 29.0
"""A label of the roll (a size in common use, from memory)."""

SHEET_COLUMNS, SHEET_ROWS = 3, 8
SHEET_WIDTH_MM, SHEET_HEIGHT_MM = 70.0, 37.0
"""Labels of a sheet A4, 210 × 296 of 210 × 297 mm (a size in common use, from memory)."""

CODE_MM = 22.0


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on a label.

    Attributes:
        code: What the code holds.
        large: In large type.
        lines: Below it, at most three are shown.
        warning: A hazard, in words; empty for none.
    """

    code: str
    large: str
    lines: tuple[str, ...] = ()
    warning: str = ""


def labels_page(labels: Sequence[Label], form: Form, *, skip: int = 0, for_pdf: bool) -> str:
    """A page with labels as HTML that refers to nothing outside of itself.

    Args:
        labels: At most :data:`MOST_LABELS`.
        form: A label a page (``roll``), or A4 sheets of 24.
        skip: Labels at the beginning of the first sheet that are used up.
        for_pdf: It goes into a PDF.
    """
    made = [_label(label, number, for_pdf=for_pdf) for number, label in enumerate(labels)]
    blanks = [el("div", class_="label") for _number in range(skip if form == "sheet" else 0)]
    pages: list[Element] = []
    if form == "roll":
        pages = [el("div", label, class_="page") for label in made]
    else:
        every, size = [*blanks, *made], SHEET_COLUMNS * SHEET_ROWS
        starts = range(0, len(every), size)
        pages = [el("div", *every[start : start + size], class_="page") for start in starts]
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width"),
        el("title", _("Labels")),
        el("style", _css(form)),
    )
    return to_html(el("html", head, el("body", *pages)))


def _label(label: Label, number: int, *, for_pdf: bool) -> Element:
    code, _held = draw_code(label.code, prefix=f"code{number}")
    _make_plain(code, label.large)
    words: list[Child] = [el("b", label.large, class_="large")]
    if label.warning:
        words.append(el("span", f"{SIGNAL_LOOKS['warning'].word}: {label.warning}", class_="warn"))
    shown = label.lines[: 2 if label.warning else 3]
    words += [el("span", line, class_="line") for line in shown]
    return el(
        "div",
        el("div", figure(code, texts_as_html=for_pdf), class_="code"),
        el("div", *words, class_="words"),
        class_="label",
    )


def _make_plain(code: Element, title: str) -> None:
    """Ink as attributes instead of a style sheet in every drawing: a hundred of them would take minutes."""
    for child in list(code):
        kind = child.get("class")
        if child.tag == "style":
            code.remove(child)
        elif child.tag == "title":
            child.text = title
        elif kind is not None:
            child.set("fill", INK if kind == "ink" else PAPER)


def _css(form: Form) -> str:
    width, height = (WIDTH_MM, HEIGHT_MM) if form == "roll" else (SHEET_WIDTH_MM, SHEET_HEIGHT_MM)
    page = f"{WIDTH_MM}mm {HEIGHT_MM}mm" if form == "roll" else "210mm 297mm"
    columns = 1 if form == "roll" else SHEET_COLUMNS
    warning = SIGNAL_LOOKS["warning"]
    return (
        f"@page{{size:{page};margin:0}}"
        f"html{{font-family:{FONTS};color:#111;background:#fff;color-scheme:light;"
        "print-color-adjust:exact;-webkit-print-color-adjust:exact}body{margin:0}"
        # A hair wider than its columns: rounding must not push the last one into the next row.
        f".page{{width:{width * columns + 0.1:g}mm;overflow:hidden;break-after:page}}"
        ".page:last-child{break-after:auto}"
        f".label{{float:left;box-sizing:border-box;width:{width}mm;height:{height}mm;padding:2mm;overflow:hidden}}"
        f".code{{float:left;width:{CODE_MM}mm;margin:{(height - 4 - CODE_MM) / 2:.2f}mm 1mm 0 0}}"
        f".words{{float:left;width:{width - 4 - CODE_MM - 2:.2f}mm;height:{height - 4:.2f}mm;overflow:hidden}}"
        ".large{display:block;font-size:15pt;line-height:1.15;white-space:nowrap;overflow:hidden}"
        ".line{display:block;font-size:7.5pt;line-height:1.25;max-height:2.5em;overflow:hidden;overflow-wrap:anywhere}"
        f".warn{{display:block;font-size:7.5pt;font-weight:bold;line-height:1.3;padding:0 1mm;border:.2mm solid #000;"
        f"background:{warning.ground};color:{warning.letters}}}"
        ".figure svg{display:block}"
        "@media screen{.page{margin:4mm;outline:1px dashed #999}}"
    )
