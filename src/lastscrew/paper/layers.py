"""The device in layers, as if cut through: outermost on top, the part that stays on the bench below.

Every part is a box that names what lies over it and the joints that hold it. Bands lead from a part to those
that it covers, lines from a part to those that it is joined to (joints with the fixed part are
only written, or all lines would end there). What is reached from another side hangs below the fixed part.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device, Joint
from lastscrew.device.opening import is_live
from lastscrew.paper import svg
from lastscrew.paper.strata import Strata, Stratum, keeper_of, strata_of
from lastscrew.paper.svg import Element
from lastscrew.paper.words import count_words
from lastscrew.plan.wording import joint_name, listed, part_name

BOX_WIDTH, BOX_GAP, LAYER_GAP = 50.0, 7.0, 11.0
LEFT = 16.0
"""Room for the numbers of the layers."""
TITLE_SIZE, LINE_SIZE = 2.9, 2.3
TITLE_LINE, LINE = 4.2, 3.3
MOST_IN_A_ROW = 8
SLAB_HEIGHT = 8.0
HEAD = 14.0
FOOT = 8.0


@dataclass(frozen=True, slots=True)
class _Note:
    """One line in a box. ``joint`` is None for a heading."""

    words: str
    joint: str | None = None


@dataclass(frozen=True, slots=True)
class _Box:
    """A part on the drawing."""

    part: str
    x: float
    y: float
    width: float
    height: float
    notes: tuple[_Note, ...]
    inward: int
    """1 where the inside of the machine lies below, -1 where it lies above."""

    @property
    def middle(self) -> float:
        return self.x + self.width / 2

    def nearest(self, x: float) -> float:
        """The place on its edge that is nearest to ``x``."""
        return min(max(x, self.x + 4), self.x + self.width - 4)

    @property
    def inner(self) -> float:
        """The edge that faces inwards."""
        return self.y + self.height if self.inward > 0 else self.y

    @property
    def outer(self) -> float:
        """The edge that faces outwards."""
        return self.y if self.inward > 0 else self.y + self.height


def draw_layers(
    device: Device, lit: Collection[str] = (), *, prefix: str = "layers", dark: bool = True
) -> Element:
    """Draw what lies over what and which joints hold what.

    Args:
        device: The device, whole or as fitted.
        lit: Joints to show in bold.
        prefix: Makes ids unique on a page.
        dark: Follow a dark screen.
    """
    strata = strata_of(device)
    boxes, labels, slab_y, bottom = _place(device, strata)
    width = max([box.x + box.width for box in boxes.values()] + [150.0])
    title = f"Layers of {device.name}"
    root = svg.drawing(
        width, bottom + FOOT, title, _describe(device, strata), prefix=prefix, dark=dark, pad_mm=5
    )
    revision = f"revision {device.revision}, " if device.revision else ""
    svg.text(root, 0, 4.5, title, 4.4, class_="t b", width=width)
    parts, joints = len(device.parts), len(device.joints)
    counted = f"{revision}{parts} part{'s' * (parts != 1)}, {joints} joint{'s' * (joints != 1)}"
    svg.text(root, 0, 9, counted, LINE_SIZE, class_="g", width=width)
    _draw_bands(root, strata, boxes)
    _draw_joint_lines(root, device, boxes, lit)
    _draw_slab(root, device, slab_y, width)
    for words, y in labels:
        svg.text(root, 0, y, words, LINE_SIZE, class_="g i", width=LEFT - 2)
    for box in boxes.values():
        _draw_box(root, device, box, lit)
    _draw_legend(root, bottom + 5)
    return root


def _describe(device: Device, strata: Strata) -> str:
    sentences = []
    for side, layers in strata.layers.items():
        for stratum in layers:
            names = listed([part_name(device, part) for part in stratum.parts])
            sentences.append(f"Side {side}, layer {stratum.layer}: {names}.")
    sentences.append(f"{part_name(device, device.fixed_part)} stays on the bench.")
    return " ".join(sentences)


def _place(
    device: Device, strata: Strata
) -> tuple[dict[str, _Box], list[tuple[str, float]], float, float]:
    """Boxes of all parts, labels of the layers, the slab's height, and where the drawing ends."""
    notes = _notes(device, strata)
    boxes: dict[str, _Box] = {}
    labels: list[tuple[str, float]] = []
    y = HEAD
    sides = list(strata.layers)
    first = device.sides[0]
    lids = {side: _lid_width(layers) for side, layers in strata.layers.items()}
    for stratum in strata.layers.get(first, ()):
        y = _place_layer(stratum, notes, boxes, labels, y, inward=1, lid=lids[first]) + LAYER_GAP
    slab_y = y
    y += SLAB_HEIGHT + LAYER_GAP
    for side in sides:
        if side != first:
            for stratum in reversed(strata.layers[side]):
                y = (
                    _place_layer(stratum, notes, boxes, labels, y, inward=-1, lid=lids[side])
                    + LAYER_GAP
                )
    return boxes, labels, slab_y, y - LAYER_GAP


def _lid_width(layers: Sequence[Stratum]) -> float:
    """Width of the broadest layer of a side."""
    broadest = max(min(MOST_IN_A_ROW, len(stratum.parts)) for stratum in layers)
    return broadest * (BOX_WIDTH + BOX_GAP) - BOX_GAP


def _place_layer(
    stratum: Stratum,
    notes: dict[str, tuple[_Note, ...]],
    boxes: dict[str, _Box],
    labels: list[tuple[str, float]],
    y: float,
    *,
    inward: int,
    lid: float,
) -> float:
    """Place one layer, broken into rows where it is too wide; returns its lower edge."""
    labels.append((stratum.side, y + 3.2))
    labels.append((f"layer {stratum.layer}", y + 6.4))
    per_row = min(MOST_IN_A_ROW, len(stratum.parts))
    # A part alone in its layer is drawn as the lid that it mostly is.
    width = lid if len(stratum.parts) == 1 else BOX_WIDTH
    for begin in range(0, len(stratum.parts), per_row):
        row = stratum.parts[begin : begin + per_row]
        tallest = 0.0
        for index, part in enumerate(row):
            height = TITLE_LINE + 2.2 + LINE * len(notes[part])
            tallest = max(tallest, height)
            x = LEFT + index * (BOX_WIDTH + BOX_GAP)
            boxes[part] = _Box(part, x, y, width, height, notes[part], inward)
        y += tallest + 4
    return y - 4


def _notes(device: Device, strata: Strata) -> dict[str, tuple[_Note, ...]]:
    """What is written in each box: what lies over the part, then its joints by what they join it to."""
    kept: dict[str, dict[str, list[Joint]]] = {part: {} for part in strata.side_of}
    for joint in device.joints.values():
        keeper = keeper_of(device, strata, joint)
        if keeper in kept:
            others = listed([part_name(device, part) for part in joint.joins if part != keeper])
            kept[keeper].setdefault(others, []).append(joint)
    notes: dict[str, tuple[_Note, ...]] = {}
    for part, by_other in kept.items():
        lines = []
        if strata.over[part]:
            covers = listed([part_name(device, cover) for cover in strata.over[part]])
            lines.append(_Note(f"under {covers}"))
        for others, joints in by_other.items():
            lines.append(_Note(f"to {others}"))
            lines.extend(_Note(_joint_words(device, joint), joint.id) for joint in joints)
        notes[part] = tuple(lines)
    return notes


def _joint_words(device: Device, joint: Joint) -> str:
    return ", ".join(filter(None, (joint_name(device, joint.id), count_words(device, joint.id))))


def _draw_bands(root: Element, strata: Strata, boxes: dict[str, _Box]) -> None:
    """Broad pale bands from a part to those right under it."""
    for part, box in boxes.items():
        for cover in strata.over[part]:
            above = boxes[cover]
            begin = above.nearest(box.middle)
            _curve(root, begin, above.inner, box.nearest(begin), box.outer, "over")


def _draw_joint_lines(
    root: Element, device: Device, boxes: dict[str, _Box], lit: Collection[str]
) -> None:
    """Thin lines between parts that are joined, the fixed part left out; one line for each pair."""
    pairs: dict[tuple[str, str], bool] = {}
    for joint in device.joints.values():
        loose = [part for part in joint.joins if part in boxes]
        for index, part in enumerate(loose):
            for other in loose[index + 1 :]:
                pair = (min(part, other), max(part, other))
                pairs[pair] = pairs.get(pair, False) or joint.id in lit
    for (part, other), is_lit in pairs.items():
        one, two = sorted((boxes[part], boxes[other]), key=lambda box: (box.y, box.x))
        class_ = "edge bold" if is_lit else "edge"
        if abs(one.y - two.y) < one.height and abs(one.y - two.y) < two.height:
            _loop(root, one, two, class_)
        else:
            x1 = one.nearest(two.middle) + 6
            _curve(root, x1, one.y + one.height, two.nearest(x1 - 6) + 6, two.y, class_)


def _curve(root: Element, x1: float, y1: float, x2: float, y2: float, class_: str) -> None:
    bend = (y2 - y1) / 2
    numbers = [svg.number(v) for v in (x1, y1, x1, y1 + bend, x2, y2 - bend, x2, y2)]
    svg.add(root, "path", class_=class_, d="M{} {}C{} {} {} {} {} {}".format(*numbers))


def _loop(root: Element, one: _Box, two: _Box, class_: str) -> None:
    """Between neighbours of one row: out of one's lower edge and into the other's."""
    left, right = sorted((one, two), key=lambda box: box.x)
    low = max(left.y + left.height, right.y + right.height) + 5
    x1, y1 = left.middle + 10, left.y + left.height
    x2, y2 = right.middle - 10, right.y + right.height
    numbers = [svg.number(v) for v in (x1, y1, x1, low, x2, low, x2, y2)]
    svg.add(root, "path", class_=class_, d="M{} {}C{} {} {} {} {} {}".format(*numbers))


def _draw_slab(root: Element, device: Device, y: float, width: float) -> None:
    svg.rect(root, LEFT, y, width - LEFT, SLAB_HEIGHT, "wash")
    svg.rect(root, LEFT, y, width - LEFT, SLAB_HEIGHT, "li bold")
    name = f"{part_name(device, device.fixed_part)} (stays on the bench)"
    svg.text(root, LEFT + 3, y + 5, name, TITLE_SIZE, class_="t b", width=width - LEFT - 6)


def _draw_box(root: Element, device: Device, box: _Box, lit: Collection[str]) -> None:
    part = device.parts[box.part]
    entry = svg.group(root, part.name, class_="part")
    svg.rect(entry, box.x, box.y, box.width, box.height, "paper")
    svg.rect(entry, box.x, box.y, box.width, box.height, "li bold")
    room = box.width - 4
    if part.energy:
        _bolt(entry, box.x + box.width - 4, box.y + 1.2)
        room -= 4
    svg.text(entry, box.x + 2, box.y + TITLE_LINE, part.name, TITLE_SIZE, class_="t b", width=room)
    y = box.y + TITLE_LINE + LINE + 0.3
    for note in box.notes:
        if note.joint is None:
            svg.text(entry, box.x + 2, y, note.words, LINE_SIZE, class_="g i", width=box.width - 4)
        else:
            _draw_note(entry, device, box.x + 2, y, note, lit=note.joint in lit)
        y += LINE


def _draw_note(
    entry: Element, device: Device, x: float, y: float, note: _Note, *, lit: bool
) -> None:
    joint = device.joints[note.joint or ""]
    _glyph(entry, joint, x + 1.1, y - 0.8)
    room = BOX_WIDTH - 8
    if is_live(device, joint):
        _bolt(entry, x + BOX_WIDTH - 6.4, y - 2.3)
        room -= 3
    class_ = "t b" if lit else "t"
    svg.text(entry, x + 3.4, y, note.words, LINE_SIZE, class_=class_, width=room)


def _glyph(parent: Element, joint: Joint, x: float, y: float) -> None:
    """Solid for what holds, open for what only ties; a bar through what takes the power away."""
    if joint.rigid:
        svg.rect(parent, x - 0.75, y - 0.75, 1.5, 1.5, "ink")
    else:
        svg.circle(parent, x, y, 0.8, "ring thin")
    if joint.isolates:
        svg.line(parent, x - 1.4, y + 1.2, x + 1.4, y - 1.2, "li bold")


def _bolt(parent: Element, x: float, y: float) -> None:
    """A flash: power, or stored energy."""
    points = [(1.4, 0.0), (0.2, 1.7), (1.0, 1.7), (0.6, 3.0), (1.9, 1.2), (1.1, 1.2), (1.6, 0.0)]
    svg.polygon(parent, [(x + dx, y + dy) for dx, dy in points], "ink")


def _draw_legend(root: Element, y: float) -> None:
    x = 0.0
    svg.rect(root, x, y - 1.6, 1.5, 1.5, "ink")
    x = _legend_words(root, x + 3, y, "holds")
    svg.circle(root, x, y - 0.8, 0.8, "ring thin")
    x = _legend_words(root, x + 2.2, y, "ties")
    svg.line(root, x - 1, y + 0.4, x + 1.8, y - 2.0, "li bold")
    x = _legend_words(root, x + 3, y, "takes the power away")
    _bolt(root, x, y - 2.4)
    x = _legend_words(root, x + 3, y, "powered or stores energy")
    svg.line(root, x, y - 0.8, x + 6, y - 0.8, "over")
    x = _legend_words(root, x + 7.5, y, "lies over")
    svg.line(root, x, y - 0.8, x + 6, y - 0.8, "edge")
    _legend_words(root, x + 7.5, y, "joined (lines to the fixed part are left out)")


def _legend_words(root: Element, x: float, y: float, words: str) -> float:
    svg.text(root, x, y, words, LINE_SIZE, class_="g")
    return x + svg.text_width(words, LINE_SIZE) + 4


def parts_in(strata: Sequence[Stratum]) -> tuple[str, ...]:
    """All parts of some layers, outermost first."""
    return tuple(part for stratum in strata for part in stratum.parts)
