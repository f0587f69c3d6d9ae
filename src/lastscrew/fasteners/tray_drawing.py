"""The tray map as a drawing at true scale: one unit is one millimetre.

Every compartment shows its name, the step of the plan at which it is emptied, the joint, what lies in it,
and an outline of one piece at 1:1. A scale of 50 mm lets a person check the print with a ruler.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from lastscrew.device.model import Device
from lastscrew.fasteners.outlines import Outline, outline_of
from lastscrew.fasteners.pieces import kind_text
from lastscrew.fasteners.tray import TrayGroup, TrayMap
from lastscrew.plan.wording import joint_name, listed
from lastscrew.saying import joined, say, told

DEFAULT_CELL_MM = (45.0, 34.0)
"""Width and height of a compartment where none is given: six in a row go on A4 across (our own figure)."""

MARGIN_MM = 8.0
HEAD_MM = 15.0
FOOT_LINE_MM = 4.0
GAP_MM = 6.0
PAD_MM = 1.6
SCALE_MM = 50.0
FONT = "'Liberation Sans', Arimo, Helvetica, Arial, 'DejaVu Sans', sans-serif"
WIDE_EM = 0.62
"""Width of a letter in its own height, rather too wide than too narrow (DejaVu Sans is a wide face)."""

_CSS = "".join(
    f".tray {rule}"
    for rule in (
        "text{fill:#111}",
        ".g{fill:#555}",
        ".b{font-weight:bold}",
        ".paper{fill:#fff}",
        ".wall{fill:none;stroke:#111;stroke-width:.4}",
        ".thin{fill:none;stroke:#111;stroke-width:.15}",
        ".piece{fill:#fff;stroke:#111;stroke-width:.2;stroke-linejoin:round}",
        ".empty{fill:none;stroke:#999;stroke-width:.15}",
    )
)
"""Every rule is tied to the drawing's own class, so that it may stand inside a page."""

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

Element = ET.Element
Value = str | float


@dataclass(frozen=True, slots=True)
class _Box:
    x: float
    y: float
    width: float
    height: float


def tray_drawing(
    device: Device,
    tray: TrayMap,
    cell_mm: tuple[float, float] = DEFAULT_CELL_MM,
    *,
    title: str = "",
) -> str:
    """Draw the map.

    Args:
        device: The device.
        tray: The map.
        cell_mm: Width and height of one compartment in mm, as measured on the tray.
        title: What the work is; the device's name stands before it.

    Returns:
        An SVG document whose size is given in millimetres. Several trays lie one below the other.
    """
    return _Sheet(device, tray, cell_mm, title).svg()


def sheet_size_mm(
    tray: TrayMap, cell_mm: tuple[float, float] = DEFAULT_CELL_MM, notes: int = 3
) -> tuple[float, float]:
    """Width and height of the drawing in mm, with so many lines of notes below it."""
    width = max(tray.columns * cell_mm[0], SCALE_MM + 40) + 2 * MARGIN_MM
    body = tray.trays * (tray.rows * cell_mm[1] + GAP_MM)
    return width, HEAD_MM + body + notes * FOOT_LINE_MM + 2 * MARGIN_MM


class _Sheet:
    """One drawing in the making."""

    def __init__(
        self, device: Device, tray: TrayMap, cell_mm: tuple[float, float], title: str
    ) -> None:
        self.device = device
        self.tray = tray
        self.cell_width, self.cell_height = cell_mm
        self.inner = max(tray.columns * self.cell_width, SCALE_MM + 40)
        self.title = joined(": ", filter(None, (device.name, title)))
        self.notes = [part for note in self._notes() for part in _wrapped(note, self.inner, 2.6)]
        self.width, self.height = sheet_size_mm(tray, cell_mm, len(self.notes))
        self.root = Element("svg")

    def svg(self) -> str:
        """The document."""
        root = self.root
        for key, value in {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{_number(self.width)}mm",
            "height": f"{_number(self.height)}mm",
            "viewBox": f"0 0 {_number(self.width)} {_number(self.height)}",
            "class": "tray",
            "role": "img",
            "aria-labelledby": "tray-title tray-desc",
            "font-family": FONT,
        }.items():
            root.set(key, value)
        _add(root, "title", say("Tray map: {title}", title=self.title), id="tray-title")
        _add(root, "desc", self._description(), id="tray-desc")
        _add(root, "style", _CSS)
        _add(root, "rect", x=0.0, y=0.0, width=self.width, height=self.height, class_="paper")
        self._head()
        for number in range(self.tray.trays):
            self._one_tray(number)
        self._foot()
        return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, "unicode") + "\n"

    def _description(self) -> str:
        lines = [
            say(
                "{place}: step {step}, {joint}, {pieces}",
                place=g.compartment,
                step=g.step,
                joint=joint_name(self.device, g.joint),
                pieces=self._pieces(g),
            )
            for g in self.tray.groups
        ]
        return joined("; ", lines) or say("Nothing loose comes out.")

    def _pieces(self, group: TrayGroup) -> str:
        return joined(
            ", ",
            (
                joined(" × ", (str(count), kind_text(self.device, kind)))
                for kind, count in group.pieces
            ),
        )

    def _head(self) -> None:
        _text(
            self.root,
            MARGIN_MM,
            MARGIN_MM + 4.5,
            joined(" · ", (say("Tray map"), self.title)),
            5,
            width=self.inner,
            class_="b",
        )
        revision = say("device file")
        if self.device.revision:
            revision = say("revision {revision}", revision=self.device.revision)
        mark = joined(" ", filter(None, (revision, self.device.revision_hash[:12])))
        _text(self.root, MARGIN_MM, MARGIN_MM + 9.5, mark, 2.8, class_="g")
        self._scale(self.width - MARGIN_MM - SCALE_MM, MARGIN_MM + 11)

    def _scale(self, x: float, y: float) -> None:
        scale = _add(self.root, "g")
        _add(scale, "title", say("This line is 50 mm long when printed at full size."))
        _line(scale, x, y, x + SCALE_MM, y)
        for mark in range(0, int(SCALE_MM) + 1, 10):
            _line(scale, x + mark, y - 1.2, x + mark, y)
        _text(
            scale,
            x,
            y - 1.8,
            say("50 mm: print at full size (100 %), check with a ruler"),
            2,
            class_="g",
        )

    def _one_tray(self, number: int) -> None:
        top = MARGIN_MM + HEAD_MM + number * (self.tray.rows * self.cell_height + GAP_MM)
        groups = {(g.row, g.column): g for g in self.tray.groups if g.tray == number}
        for row in range(self.tray.rows):
            for column in range(self.tray.columns):
                box = _Box(
                    MARGIN_MM + column * self.cell_width,
                    top + row * self.cell_height,
                    self.cell_width,
                    self.cell_height,
                )
                self._cell(box, groups.get((row, column)))
        outer = _Box(
            MARGIN_MM, top, self.tray.columns * self.cell_width, self.tray.rows * self.cell_height
        )
        _rect(self.root, outer, "wall")

    def _cell(self, box: _Box, group: TrayGroup | None) -> None:
        cell = _add(self.root, "g")
        _rect(cell, box, "thin" if group else "empty")
        if group is None:
            return
        name = joint_name(self.device, group.joint)
        _add(cell, "title", joined("", (group.compartment, ": ", name, ", ", self._pieces(group))))
        room = box.width - 2 * PAD_MM
        x, y = box.x + PAD_MM, box.y + PAD_MM
        step = say("step {number}", number=group.step)
        _text(cell, x, y + 2.6, group.compartment, 3, class_="b")
        _text(cell, box.x + box.width - PAD_MM, y + 2.4, step, 2.4, class_="g", anchor="end")
        lines = [(part, 2.9, "b") for part in _wrapped(name, room, 2.9)[:2]]
        for kind, count in group.pieces:
            text = joined(" × ", (str(count), kind_text(self.device, kind)))
            lines += [(part, 2.5, "") for part in _wrapped(text, room, 2.5)[:2]]
        if group.not_the_same_as:
            others = listed(group.not_the_same_as, limit=5)
            text = say("not the same as {places}", places=others)
            lines += [(part, 2.2, "g") for part in _wrapped(text, room, 2.2)[:2]]
        y += 3.4
        bottom = box.y + box.height - PAD_MM
        for text, size, class_ in lines:
            y += size * 1.18
            if y <= bottom:
                _text(cell, x, y, text, size, width=room, class_=class_)
        self._outline(cell, group, _Box(x, y + 1.2, room, bottom - y - 1.2))

    def _outline(self, cell: Element, group: TrayGroup, room: _Box) -> None:
        """The outline of one piece at 1:1, if there is room for it."""
        joint = self.device.joints[group.joint]
        fastener = self.device.fasteners.get(joint.fastener or "")
        outline = outline_of(fastener, nut=joint.kind == "nut")
        if outline is None:
            return
        height = max(outline.head_mm, outline.diameter_mm)
        if outline.overall_mm > room.width or height > room.height:
            if room.height >= 2.2:
                _text(
                    cell,
                    room.x,
                    room.y + 2,
                    say("outline larger than the compartment"),
                    1.9,
                    class_="g",
                )
            return
        draw_outline(cell, outline, room.x, room.y + room.height - height / 2)
        end = room.x + outline.overall_mm + 2
        if end + outline.head_mm <= room.x + room.width:
            draw_top_view(
                cell, outline, end + outline.head_mm / 2, room.y + room.height - height / 2
            )

    def _notes(self) -> Iterable[str]:
        tray = self.tray
        if tray.out_of_order:
            yield say(
                "To keep look-alikes apart the compartments are not all in order: go by the step numbers."
            )
        else:
            yield say(
                "Compartments are filled as one reads, in the order in which they are emptied on the way out."
            )
        for one, other in tray.beside:
            words = say(
                "{one} and {other} lie side by side and look alike: there was no room to keep them apart.",
                one=one,
                other=other,
            )
            more = say("One more tray would keep them apart.") if tray.one_more_tray_helps else ""
            yield joined(" ", filter(None, (words, more)))
        if tray.thrown_away:
            names = listed([joint_name(self.device, joint) for joint in tray.thrown_away])
            yield say("Used once, does not go back (new ones go in): {joints}.", joints=names)
        outlines = [self._outline_of(group) for group in tray.groups]
        sources = sorted({o.source for o in outlines if o is not None})
        if sources:
            yield say(
                "Outlines 1:1, heads by {sources}; what lies in the tray decides, not the drawing.",
                sources=listed(sources),
            )
        guessed = [
            g.compartment for g, o in zip(tray.groups, outlines, strict=True) if o and o.assumed
        ]
        if guessed:
            yield say("Head or thread assumed in {places}.", places=listed(guessed))

    def _outline_of(self, group: TrayGroup) -> Outline | None:
        joint = self.device.joints[group.joint]
        return outline_of(self.device.fasteners.get(joint.fastener or ""), nut=joint.kind == "nut")

    def _foot(self) -> None:
        y = self.height - MARGIN_MM - len(self.notes) * FOOT_LINE_MM
        for number, note in enumerate(self.notes, 1):
            _text(self.root, MARGIN_MM, y + number * FOOT_LINE_MM, note, 2.6, width=self.inner)


# --- outlines ------------------------------------------------------------------------------------


def draw_outline(parent: Element, outline: Outline, x: float, y: float) -> None:
    """Draw a piece from the side at 1:1, head to the left, its axis at ``y``, beginning at ``x``."""
    piece = _add(parent, "g")
    _add(piece, "title", say("outline 1:1, {source}", source=outline.source))
    if outline.shape == "nut":
        _nut(piece, outline, x, y)
        return
    radius, head = outline.diameter_mm / 2, outline.head_mm / 2
    under = x + (0.0 if outline.shape == "none" else outline.height_mm)
    end = x + outline.overall_mm
    _add(piece, "rect", x=under, y=y - radius, width=end - under, height=2 * radius, class_="piece")
    pitch = max(outline.pitch_mm, 0.2)
    turns = int((end - under) / pitch)
    for turn in range(min(turns, 400)):
        left = under + turn * pitch
        _line(piece, left, y + radius, min(left + pitch, end), y - radius, "thin")
    if outline.shape == "flat":
        _polygon(piece, [(x, y - head), (under, y - radius), (under, y + radius), (x, y + head)])
    elif outline.shape in ("pan", "button"):
        curve = _dome(x, under, y, head)
        _add(piece, "path", d=curve, class_="piece")
    elif outline.shape in ("socket", "hexagon"):
        _add(
            piece, "rect", x=x, y=y - head, width=outline.height_mm, height=2 * head, class_="piece"
        )
    if outline.shape == "hexagon":
        _edges(piece, outline, x, y)


def _dome(top: float, under: float, y: float, head: float) -> str:
    """The path of a rounded head between its top and the face under it."""
    knee = top + (under - top) * 0.3
    points = [
        (under, y - head), (knee, y - head), (top, y - head * 0.6), (top, y),
        (top, y + head * 0.6), (knee, y + head), (under, y + head),
    ]  # fmt: skip
    a, b, c, d, e, f, g = (f"{_number(px)} {_number(py)}" for px, py in points)
    return f"M{a}C{b} {c} {d}C{e} {f} {g}Z"


def _nut(piece: Element, outline: Outline, x: float, y: float) -> None:
    half = outline.head_mm / 2
    _add(piece, "rect", x=x, y=y - half, width=outline.height_mm, height=2 * half, class_="piece")
    _edges(piece, outline, x, y)


def _edges(piece: Element, outline: Outline, x: float, y: float) -> None:
    """The two edges that a hexagon shows from the side."""
    for part in (-outline.head_mm / 4, outline.head_mm / 4):
        _line(piece, x, y + part, x + outline.height_mm, y + part)


def draw_top_view(parent: Element, outline: Outline, x: float, y: float) -> None:
    """Draw the head (or the nut) from above at 1:1 with its centre at ``x``, ``y``."""
    head = outline.head_mm / 2
    if outline.shape in ("nut", "hexagon"):
        across = head / 0.8660254
        corners = [
            (0.5, 0.8660254),
            (1, 0),
            (0.5, -0.8660254),
            (-0.5, -0.8660254),
            (-1, 0),
            (-0.5, 0.8660254),
        ]
        _polygon(parent, [(x + a * across, y + b * across) for a, b in corners])
        inner = outline.diameter_mm / 2 if outline.shape == "nut" else head * 0.9
        _add(parent, "circle", cx=x, cy=y, r=inner, class_="piece")
        return
    _add(parent, "circle", cx=x, cy=y, r=head, class_="piece")
    reach = min(head * 0.62, outline.diameter_mm * 0.55)
    if outline.recess in ("cross", "slot"):
        _line(parent, x - reach, y, x + reach, y)
    if outline.recess == "cross":
        _line(parent, x, y - reach, x, y + reach)
    if outline.recess in ("hex", "star"):
        points = _HEX if outline.recess == "hex" else _STAR
        _polygon(parent, [(x + a * reach, y + b * reach) for a, b in points])


_HEX = ((1.0, 0.0), (0.5, 0.866), (-0.5, 0.866), (-1.0, 0.0), (-0.5, -0.866), (0.5, -0.866))
_STAR = (
    (1.0, 0.0), (0.52, 0.3), (0.5, 0.866), (0.0, 0.6), (-0.5, 0.866), (-0.52, 0.3), (-1.0, 0.0), (-0.52, -0.3),
    (-0.5, -0.866), (0.0, -0.6), (0.5, -0.866), (0.52, -0.3),
)  # fmt: skip


# --- elements ------------------------------------------------------------------------------------


def _number(value: float) -> str:
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown


def _add(parent: Element, tag: str, content: str = "", **attributes: Value) -> Element:
    element = ET.SubElement(parent, tag)
    for key, value in attributes.items():
        shown = _FORBIDDEN.sub("\ufffd", value) if isinstance(value, str) else _number(value)
        element.set(key.rstrip("_").replace("_", "-"), shown)
    if content:
        element.text = _FORBIDDEN.sub("\ufffd", told(content))
    return element


def _rect(parent: Element, box: _Box, class_: str) -> None:
    _add(parent, "rect", x=box.x, y=box.y, width=box.width, height=box.height, class_=class_)


def _line(
    parent: Element, x1: float, y1: float, x2: float, y2: float, class_: str = "thin"
) -> None:
    _add(parent, "line", x1=x1, y1=y1, x2=x2, y2=y2, class_=class_)


def _polygon(parent: Element, points: Sequence[tuple[float, float]]) -> None:
    _add(
        parent,
        "polygon",
        points=" ".join(f"{_number(a)},{_number(b)}" for a, b in points),
        class_="piece",
    )


def _text(
    parent: Element,
    x: float,
    y: float,
    content: str,
    size: float,
    *,
    width: float | None = None,
    class_: str = "",
    anchor: str = "start",
) -> None:
    shown = content if width is None else _fitted(content, width, size)
    element = _add(parent, "text", shown, x=x, y=y, font_size=size, text_anchor=anchor)
    if class_:
        element.set("class", class_)


def _fitted(content: str, width: float, size: float) -> str:
    content = told(content)
    room = max(1, int(width / (size * WIDE_EM)))
    return content if len(content) <= room else content[: room - 1].rstrip() + "…"


def _wrapped(content: str, width: float, size: float) -> list[str]:
    room = max(4, int(width / (size * WIDE_EM)))
    lines, current = [], ""
    for word in told(content).split():
        longer = f"{current} {word}".strip()
        if current and len(longer) > room:
            lines.append(current)
            current = word
        else:
            current = longer
    return [*lines, current]
