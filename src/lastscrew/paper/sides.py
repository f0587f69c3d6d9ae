"""The device as seen from each side: outlines to scale, and every joint whose place is known.

With a joint lit the drawing shows the machine as it is at that moment: parts that are off are gone, those that hang
loose are dashed, and the numbers at the lit screws are the order in which they are turned.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from lastscrew.device.model import Device, Joint, Part, Point
from lastscrew.device.opening import access_is_free, clusters, parts_loose, parts_off
from lastscrew.fasteners.tightening import Tightening, order_text, tightening_of
from lastscrew.paper import svg
from lastscrew.paper.heads import LEAST_RADIUS_MM, Strength, draw_head, head_radius_mm
from lastscrew.paper.strata import strata_of
from lastscrew.paper.svg import Element
from lastscrew.paper.views import WIDTH_MM, Lit, View, side_of_lit, views_of
from lastscrew.paper.words import joint_details
from lastscrew.plan.wording import joint_name, listed, part_name, side_name
from lastscrew.saying import joined, say

LABEL_SIZE, NOTE_SIZE, HEAD_SIZE = 2.3, 2.4, 3.4
NOTE_LINE = 3.6
ONE_COLUMN = 5
"""Up to this many joints are listed in one column."""


def draw_sides(
    device: Device,
    lit: Lit | None = None,
    *,
    sides: Collection[str] = (),
    away: Collection[str] = (),
    prefix: str = "sides",
    dark: bool = True,
) -> Element:
    """Draw a device from its sides.

    The groups of parts and joints carry their ids (``data-part``, ``data-joint``) for a page that lets a
    person choose on the drawing.

    Args:
        device: The device, whole or as fitted.
        lit: A joint to light; then only the side where it lies is drawn.
        sides: Sides to draw; empty for all (or for that of the lit joint).
        away: Parts that are thought away, with every joint that names one of them.
        prefix: Makes ids unique on a page.
        dark: Follow a dark screen.
    """
    views = [view for view in views_of(device) if view.side in (sides or device.sides)]
    if lit is not None and not sides:
        views = [view for view in views if view.side == side_of_lit(device, lit)]
    views = [_without(device, view, away) for view in views]
    blocks = [_Block(device, view, lit) for view in views]
    height = 12 + sum(block.height for block in blocks)
    title = _title(device, lit)
    root = svg.drawing(
        WIDTH_MM, height, title, _describe(device, views, lit), prefix=prefix, dark=dark, pad_mm=5
    )
    svg.text(root, 0, 4.5, title, 4.4, class_="t b", width=WIDTH_MM)
    y = 12.0
    for block in blocks:
        block.draw(root, y)
        y += block.height
    return root


def _without(device: Device, view: View, away: Collection[str]) -> View:
    """The view less some parts and the joints that name them; its edges stay where they are."""
    if not away:
        return view
    return replace(
        view,
        parts=tuple(part for part in view.parts if part not in away),
        joints=tuple(j for j in view.joints if not any(p in away for p in device.joints[j].joins)),
    )


def _title(device: Device, lit: Lit | None) -> str:
    if lit is None:
        return say("{device}, all views", device=device.name)
    words = _lit_words(lit, joint_name(device, lit.joint))
    if lit.number is not None:
        words = say("step {number}: {what}", number=lit.number, what=words)
    return joined(", ", (device.name, words))


def _lit_words(lit: Lit, joint: str) -> str:
    if lit.limb == "in":
        return say("open {joint}", joint=joint)
    return say("close {joint}", joint=joint) if lit.limb == "out" else joint


def _describe(device: Device, views: Sequence[View], lit: Lit | None) -> str:
    sentences = []
    for view in views:
        names = [joint_name(device, joint) for joint in view.joints]
        sentences.append(
            say(
                "View {side}: {joints}.",
                side=side_name(view.side),
                joints=listed(names) or say("no joint with a known place"),
            )
        )
    if lit is not None:
        sentences.append(say("Lit: {joint}.", joint=joint_name(device, lit.joint)))
    return joined(" ", sentences)


Box = tuple[float, float, float, float]


@dataclass(slots=True)
class _Block:
    """One side on paper: heading, drawing, notes below."""

    device: Device
    view: View
    lit: Lit | None
    taken: list[Box] = field(default_factory=list)
    edges: list[tuple[Point, Point]] = field(default_factory=list)

    @property
    def height(self) -> float:
        """On paper, in millimetres."""
        lines = -(-len(self._keyed()) // self._columns()) + len(self._notes())
        return 8 + self.view.height + 4 + NOTE_LINE * lines + 8

    def draw(self, root: Element, top: float) -> None:
        """Draw it with its upper edge at ``top``."""
        view = self.view
        block = svg.group(root, say("view: {side}", side=side_name(view.side)), "side")
        width, height = view.high[0] - view.low[0], view.high[1] - view.low[1]
        said = (
            say(
                "{width} × {height} mm, scale 1 : {scale}",
                width=float(width),
                height=float(height),
                scale=float(f"{1 / view.scale:.2g}"),
            )
            if view.parts or view.joints
            else ""
        )
        svg.text(
            block,
            0,
            top + 3.5,
            say("view: {side}", side=side_name(view.side)),
            HEAD_SIZE,
            class_="t b",
        )
        svg.text(block, WIDTH_MM, top + 3.5, said, NOTE_SIZE, class_="g", anchor="end")
        svg.line(block, 0, top + 5, WIDTH_MM, top + 5, "lg")
        field_top = top + 8
        self._reserve_heads(field_top)
        self._draw_frame(block, field_top)
        self._draw_parts(block, field_top)
        self._draw_joints(block, field_top)
        y = field_top + view.height + 5
        y = self._draw_keyed(block, y)
        for words, bold in self._notes():
            svg.text(block, 0, y, words, NOTE_SIZE, class_="t b" if bold else "t", width=WIDTH_MM)
            y += NOTE_LINE

    def _draw_frame(self, block: Element, top: float) -> None:
        """The edge of this side, where no outline of the fixed part says it."""
        view = self.view
        if view.frame is None or self.device.fixed_part in view.parts or not view.height:
            return
        corners = [(0.0, 0.0), (view.frame[0], 0.0), view.frame, (0.0, view.frame[1])]
        points = [view.at(corner, top) for corner in corners]
        self.edges += pairwise([*points, points[0]])
        entry = svg.group(block, _frame_words(view.side, view.frame), "frame")
        svg.polygon(entry, points, "lg")

    # -- parts ------------------------------------------------------------------------------------

    def _draw_parts(self, block: Element, top: float) -> None:
        opened = self.lit.opened if self.lit else frozenset()
        gone = set(parts_off(self.device, opened))
        loose = set(parts_loose(self.device, opened))
        parts = [self.device.parts[part] for part in self.view.parts if part not in gone]
        parts.sort(key=lambda part: (-_area(part.outline_mm), part.id))
        hidden = self._hidden_parts(gone | loose)
        for part in parts:
            points = [self.view.at(point, top) for point in part.outline_mm]
            self.edges += pairwise([*points, points[0]])
            entry = svg.group(block, part.name, "part")
            entry.set("data-part", part.id)
            weight = "lp" if part.id in hidden else "li bold" if part.fixed else "li"
            svg.polygon(entry, points, "lg dash" if part.id in loose else weight)
        for part in parts:
            self._label_part(block, part, top, "pale i" if part.id in hidden else "g i")

    def _hidden_parts(self, away: set[str]) -> set[str]:
        """Parts that something still lies over; none where the whole machine is shown through."""
        if self.lit is None:
            return set()
        over = strata_of(self.device).over
        return {part for part in over if any(cover not in away for cover in over[part])}

    def _hidden_joints(self) -> set[str]:
        """Joints that something still lies over by all their accesses."""
        if self.lit is None:
            return set()
        closed = [joint for joint in self.device.joints if joint not in self.lit.opened]
        cluster_of = clusters(self.device, closed)
        joints = (self.device.joints[joint] for joint in self.view.joints)
        return {
            joint.id
            for joint in joints
            if not any(access_is_free(joint, access, cluster_of) for access in joint.accesses)
        }

    def _label_part(self, block: Element, part: Part, top: float, class_: str) -> None:
        """Write the name into the outline where nothing else stands; long ones are cut."""
        points = [self.view.at(point, top) for point in part.outline_mm]
        left, right = min(x for x, _ in points), max(x for x, _ in points)
        up, down = min(y for _, y in points), max(y for _, y in points)
        name = part_name(self.device, part.id)
        room = right - left - 2
        width = min(svg.text_width(name, LABEL_SIZE), room)
        if width < 6 or down - up < LABEL_SIZE + 0.8:
            return
        places = [
            (x, y)
            for y in _spread(up + LABEL_SIZE + 0.6, down - 0.9, LABEL_SIZE / 2)
            for x in _spread(left + 1, right - 1 - width, 4.0)
        ]
        for strict in (True, False):
            for x, y in places:
                box = (x, y - LABEL_SIZE, x + width, y + 0.5)
                if self._is_free(box, strict=strict):
                    self.taken.append(box)
                    svg.text(block, x, y, name, LABEL_SIZE, class_=class_, width=width + 0.1)
                    return

    def _is_free(self, box: Box, *, strict: bool) -> bool:
        """True where no head, mark or other name stands and, if strict, no outline runs."""
        if any(
            box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3]
            for other in self.taken
        ):
            return False
        return not strict or not any(crosses(one, other, box) for one, other in self.edges)

    # -- joints -----------------------------------------------------------------------------------

    def _radius(self, joint: Joint) -> float:
        return max(LEAST_RADIUS_MM, head_radius_mm(self.device, joint) * self.view.scale)

    def _marks(self) -> dict[tuple[str, int], str]:
        """What is written at each place: a letter for each joint, or the order of the lit ones."""
        if self.lit is None:
            return {
                (joint, number): _letter(index)
                for index, joint in enumerate(self.view.joints)
                for number in range(len(self.device.joints[joint].positions_mm))
            }
        order = self._order()
        return {(place.joint, place.number): str(n) for n, place in enumerate(order, 1)}

    def _order(self) -> tuple[_PlaceOf, ...]:
        found = self._tightening()
        if found is None or self.lit is None:
            return ()
        places = found.loosening if self.lit.limb == "in" else found.order
        return tuple(_PlaceOf(place.joint, place.number) for place in places)

    def _tightening(self) -> Tightening | None:
        return tightening_of(self.device, self.lit.joint) if self.lit else None

    def _reserve_heads(self, top: float) -> None:
        marks = self._marks()
        for joint_id in self.view.joints:
            joint = self.device.joints[joint_id]
            radius = self._radius(joint) + 0.4
            for number, point in enumerate(joint.positions_mm):
                x, y = self.view.at(point, top)
                self.taken.append((x - radius, y - radius, x + radius, y + radius))
                if (joint_id, number) in marks:
                    self.taken.append(self._mark_box(x, y, radius, marks[joint_id, number]))

    def _mark_box(self, x: float, y: float, radius: float, mark: str) -> Box:
        width = svg.text_width(mark, LABEL_SIZE, bold=True)
        left = x + radius + 0.2
        if left + width > WIDTH_MM:
            left = x - radius - 0.2 - width
        return left, y - LABEL_SIZE / 2, left + width, y + LABEL_SIZE / 2

    def _draw_joints(self, block: Element, top: float) -> None:
        marks = self._marks()
        ordered = {place.joint for place in self._order()}
        hidden = self._hidden_joints() - ordered
        for joint_id in self.view.joints:
            joint = self.device.joints[joint_id]
            is_lit = self.lit is not None and joint_id == self.lit.joint
            if self.lit and joint_id in self.lit.opened and not is_lit and joint_id not in ordered:
                continue
            strength: Strength = "lit" if is_lit else "pale" if joint_id in hidden else "plain"
            entry = svg.group(
                block, joint_name(self.device, joint_id), "joint lit" if is_lit else "joint"
            )
            entry.set("data-joint", joint_id)
            radius = self._radius(joint)
            for number, point in enumerate(joint.positions_mm):
                x, y = self.view.at(point, top)
                size = radius * (1.25 if is_lit else 1)
                draw_head(entry, self.device, joint, x, y, size, strength)
                mark = marks.get((joint_id, number))
                if mark is not None:
                    box = self._mark_box(x, y, radius + 0.4, mark)
                    svg.text(entry, box[0], box[3] - 0.3, mark, LABEL_SIZE, class_="t b")

    # -- notes ------------------------------------------------------------------------------------

    def _notes(self) -> list[tuple[str, bool]]:
        if self.lit is not None:
            return self._lit_notes(self.lit)
        if not self.view.unplaced:
            return []
        names = listed([joint_name(self.device, joint) for joint in self.view.unplaced])
        words = say("Without a place in the device file: {joints}.", joints=names)
        return [(line, False) for line in svg.wrap(words, WIDTH_MM, NOTE_SIZE)]

    def _keyed(self) -> tuple[str, ...]:
        """Joints that are written below with their letter."""
        return self.view.joints if self.lit is None else ()

    def _columns(self) -> int:
        return 2 if len(self._keyed()) > ONE_COLUMN else 1

    def _draw_keyed(self, block: Element, y: float) -> float:
        """The letters and the joints that they stand for, in columns; returns the next line."""
        columns = self._columns()
        per_column = -(-len(self._keyed()) // columns)
        width = WIDTH_MM / columns
        for index, joint in enumerate(self._keyed()):
            column, row = divmod(index, per_column)
            x, line = column * width, y + row * NOTE_LINE
            svg.text(block, x, line, _letter(index), NOTE_SIZE, class_="t b")
            words = _joint_line(self.device, joint)
            svg.text(block, x + 5, line, words, NOTE_SIZE, width=width - 8)
        return y + per_column * NOTE_LINE

    def _lit_notes(self, lit: Lit) -> list[tuple[str, bool]]:
        joint = self.device.joints[lit.joint]
        notes = [(_joint_line(self.device, lit.joint), True)]
        found = self._tightening()
        if found is not None:
            lines = [_order_words(lit, found.basis)]
            if lit.limb != "in":
                lines += [one.text for one in found.rounds]
                order = order_text(self.device, found)
                lines.append(say("By place in the device file: {order}.", order=order))
            notes.extend(
                (part, False) for line in lines for part in svg.wrap(line, WIDTH_MM, NOTE_SIZE)
            )
        if not joint.positions_mm:
            notes.append((say("The device file does not say where it lies."), False))
        return notes


@dataclass(frozen=True, slots=True)
class _PlaceOf:
    joint: str
    number: int


def _joint_line(device: Device, joint: str) -> str:
    details = joint_details(device, joint, "out")
    return joined(", ", filter(None, (joint_name(device, joint), details)))


def _frame_words(side: str, frame: Point) -> str:
    return joined(", ", (side_name(side), f"{frame[0]:g} × {frame[1]:g} mm"))


def _order_words(lit: Lit, basis: str) -> str:
    if lit.limb == "in":
        return say("The numbers are the order in which they are loosened, {basis}.", basis=basis)
    return say("The numbers are the order in which they are tightened, {basis}.", basis=basis)


def _letter(index: int) -> str:
    """Letters of an index: a to z, then aa, ab and so on."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters


def crosses(one: Point, other: Point, box: Box) -> bool:
    """True when a straight line from one point to another runs through a box (Liang and Barsky)."""
    dx, dy = other[0] - one[0], other[1] - one[1]
    enter, leave = 0.0, 1.0
    for step, room in (
        (-dx, one[0] - box[0]),
        (dx, box[2] - one[0]),
        (-dy, one[1] - box[1]),
        (dy, box[3] - one[1]),
    ):
        if step == 0:
            if room < 0:
                return False
        elif step < 0:
            enter = max(enter, room / step)
        else:
            leave = min(leave, room / step)
    return enter <= leave


def _area(points: Sequence[Point]) -> float:
    """Area of an outline in square millimetres."""
    pairs = zip(points, [*points[1:], *points[:1]], strict=True)
    return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2


def _spread(low: float, high: float, step: float) -> list[float]:
    """Places from ``low`` to ``high``, at least one, at most forty."""
    if high <= low:
        return [low]
    count = min(40, max(2, int((high - low) / step) + 1))
    return [low + (high - low) * index / (count - 1) for index in range(count)]
