"""Pieces that the job sheet is made of: boxes to tick, lines to fill in, signal panels, hold points."""

from __future__ import annotations

from collections.abc import Sequence

from lastscrew.device.model import Device, Signal
from lastscrew.paper.html import Child, el, prose
from lastscrew.paper.look import SIGNAL_LOOKS
from lastscrew.paper.marks import draw_triangle
from lastscrew.paper.svg import Element
from lastscrew.saying import say


def tick() -> Element:
    """A box to tick."""
    return el("span", class_="tick")


def fill(width_mm: float | None = None) -> Element:
    """A line to write on."""
    style = {} if width_mm is None else {"style": f"width:{width_mm:g}mm"}
    return el("span", class_="fill", **style)


def signal_word(signal: Signal) -> Element:
    """The signal word on its ground, with the alert triangle where the standard has one."""
    look = SIGNAL_LOOKS[signal]
    return el("span", _alert(signal) if look.triangle else None, look.word, class_=f"word {signal}")


def _alert(signal: Signal) -> Element:
    """The triangle as a drawing, so that it is printed whatever a browser does with grounds."""
    look = SIGNAL_LOOKS[signal]
    root = el(
        "svg",
        class_="alert",
        xmlns="http://www.w3.org/2000/svg",
        viewBox="0 0 2.1 2.1",
        aria_hidden="true",
    )
    draw_triangle(root, signal, 0, 0, 2.1)
    for shape in root.iter():
        kind = shape.get("class", "")
        if kind == f"on-{signal}":
            shape.set("fill", look.letters)
        elif kind == signal:
            shape.set("fill", look.ground)
        if shape is not root:
            del shape.attrib["class"]
    return root


def signal_panel(signal: Signal, *words: Child) -> Element:
    """A caution: signal word, then text."""
    row = el("tr", el("td", signal_word(signal), class_="sign"), el("td", *words))
    return el("table", row, class_="panel")


def hazard_panel(device: Device, hazard: str, before: str = "") -> Element:
    """A hazard of the device."""
    found = device.hazards[hazard]
    return signal_panel(found.signal, before, " " if before else None, found.text)


def hold_panel(text: str, *, ticked: bool = False, after: Sequence[Child] = ()) -> Element:
    """A hold point with room for initials; ``ticked`` puts a box before the text."""
    box: list[Child] = [tick(), " "] if ticked else []
    row = el(
        "tr",
        el("td", say("HOLD"), class_="sign"),
        el("td", *box, *prose(text), el("p", *after) if after else None),
        el("td", say("initials"), " ", fill(), class_="initials"),
    )
    return el("table", row, class_="hold")


def lines(rows: list[list[Child]], classes: tuple[str, ...] = ()) -> Element:
    """A plain table; ``classes`` are those of its columns."""
    table = el("table", class_="lines")
    for row in rows:
        made = el("tr")
        for index, child in enumerate(row):
            made.append(el("td", child, class_=classes[index] if index < len(classes) else ""))
        table.append(made)
    return table


def ticked(rows: list[Child]) -> Element:
    """A list with a box before each line."""
    return lines([[tick(), row] for row in rows], ("t",))
