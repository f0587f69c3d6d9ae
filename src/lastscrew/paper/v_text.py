"""The words of the V: names, marks and figures beside each step, stages, and the legend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device
from lastscrew.paper import svg
from lastscrew.paper.look import SIGNAL_LOOKS, severity
from lastscrew.paper.marks import (
    NO_MARKS,
    TAG_GAP,
    TAG_HEIGHT,
    Marks,
    StepMarks,
    Tag,
    draw_tag,
    fitting_tags,
    tags_of,
    tags_width,
)
from lastscrew.paper.rows import Course, TimedStep
from lastscrew.paper.svg import Element
from lastscrew.paper.v_layout import GAP, Layout, Slot, text_room
from lastscrew.paper.words import count_words, joint_details, stage_words
from lastscrew.plan.model import Limb
from lastscrew.plan.wording import joint_name
from lastscrew.saying import joined, say

NAME_SIZE, DETAIL_SIZE, STAGE_SIZE, AXIS_SIZE = 2.9, 2.3, 2.3, 2.2
LIMBS: tuple[Limb, Limb] = ("in", "out")


def tall_rows(device: Device, course: Course, marks: Marks, width: float) -> frozenset[str]:
    """Joints whose name and marks do not fit on one line."""
    room = text_room(course, width)
    return frozenset(
        row.joint
        for row in course.rows
        for limb in LIMBS
        if (taken := tags_width(tags_of(device, marks.get((limb, row.joint), NO_MARKS))))
        and taken + 1.5 + svg.text_width(joint_name(device, row.joint), NAME_SIZE, bold=True) > room
    )


def draw_row_words(root: Element, device: Device, layout: Layout, slot: Slot, marks: Marks) -> None:
    """Both halves of a row."""
    for limb in LIMBS:
        timed = slot.row.opening if limb == "in" else slot.row.closing
        said = marks.get((limb, slot.row.joint), NO_MARKS)
        _Entry(root, device, layout, slot, limb, timed, said).draw()


@dataclass(frozen=True, slots=True)
class _Entry:
    """The words of one step, mirrored on the right."""

    root: Element
    device: Device
    layout: Layout
    slot: Slot
    limb: Limb
    timed: TimedStep | None
    marks: StepMarks

    def _x(self, from_field: float) -> float:
        """A place so many millimetres away from the V's own field."""
        if self.limb == "in":
            return self.layout.side - from_field
        return self.layout.width - self.layout.side + from_field

    @property
    def _anchor(self) -> str:
        return "end" if self.limb == "in" else "start"

    @property
    def _room(self) -> float:
        return self.layout.text_room

    @property
    def _baseline(self) -> float:
        return self.slot.line + 1.0

    def draw(self) -> None:
        """Number, name, tags and figures; or that there is no such step."""
        name = joint_name(self.device, self.slot.row.joint)
        if self.timed is None:
            self._draw_missing(name)
            return
        entry = svg.group(self.root, self._title(name, self.timed.number), class_="step")
        self._leader(entry, self.layout.limb_x(self.slot, self.timed, self.limb))
        svg.text(
            entry,
            self._x(1.2),
            self._baseline,
            str(self.timed.number),
            NAME_SIZE,
            class_="t b",
            anchor=self._anchor,
        )
        if self.slot.two_lines:
            self._draw_roomy(entry, name)
        else:
            self._draw_tight(entry, name)

    def _title(self, name: str, number: int) -> str:
        if self.limb == "in":
            return say("Step {number}: open {joint}", number=number, joint=name)
        return say("Step {number}: close {joint}", number=number, joint=name)

    def _draw_missing(self, name: str) -> None:
        said = say("open at the start") if self.limb == "in" else say("stays open")
        entry = svg.group(self.root, joined(": ", (name, said)), class_="missing")
        svg.text(
            entry, self._x(3.0), self._baseline, said, DETAIL_SIZE,
            class_="g i", anchor=self._anchor, width=self._room,
        )  # fmt: skip

    def _leader(self, entry: Element, limb_x: float) -> None:
        """Dots from the words to the limb, so that the eye keeps its row."""
        begin, y = self._x(0), self.slot.line
        clear = limb_x - 1.2 if self.limb == "in" else limb_x + 1.2
        if abs(clear - begin) > 1 and (clear > begin) == (self.limb == "in"):
            svg.line(entry, begin, y, clear, y, "dot")

    def _draw_roomy(self, entry: Element, name: str) -> None:
        svg.text(
            entry, self._x(self.layout.number_room), self._baseline, name, NAME_SIZE,
            class_="t b", anchor=self._anchor, width=self._room,
        )  # fmt: skip
        y = self.slot.line + 2.0
        used = self._draw_tags(entry, self.layout.number_room, y)
        details = self._details(self._room - used)
        if details:
            x = self._x(self.layout.number_room + used)
            svg.text(entry, x, y + 2.15, details, DETAIL_SIZE, class_="g", anchor=self._anchor)

    def _draw_tight(self, entry: Element, name: str) -> None:
        taken = tags_width(self._tags())
        room = self._room - (taken + 1.5 if taken else 0)
        shown = svg.fit(name, room, NAME_SIZE, bold=True)
        svg.text(
            entry, self._x(self.layout.number_room), self._baseline, name, NAME_SIZE,
            class_="t b", anchor=self._anchor, width=room,
        )  # fmt: skip
        left = room - svg.text_width(shown, NAME_SIZE, bold=True) - 2
        details = self._details(left)
        if details:
            # At the outer edge, so that figures stand in a column of their own.
            x = self._x(self.layout.number_room + room)
            outer = "start" if self.limb == "in" else "end"
            svg.text(entry, x, self._baseline, details, DETAIL_SIZE, class_="g", anchor=outer)
        self._draw_tags(
            entry, self.layout.number_room + self._room - taken, self.slot.line - TAG_HEIGHT / 2
        )

    def _details(self, room: float) -> str:
        """Figures of the joint, as many as there is room for: a cut one would mislead."""
        joint = self.slot.row.joint
        for words in (
            joint_details(self.device, joint, self.limb),
            count_words(self.device, joint),
        ):
            if svg.text_width(words, DETAIL_SIZE) <= room:
                return words
        return ""

    def _tags(self) -> tuple[Tag, ...]:
        return fitting_tags(tags_of(self.device, self.marks), self._room)

    def _draw_tags(self, entry: Element, from_field: float, y: float) -> float:
        """Draw the tags from the V outwards; returns the width used, with a gap behind."""
        used = 0.0
        for tag in self._tags():
            near = self._x(from_field + used)
            draw_tag(entry, tag, near - tag.width if self.limb == "in" else near, y)
            used += tag.width + TAG_GAP
        return used + 0.6 if used else 0.0


def draw_stages(root: Element, device: Device, layout: Layout) -> None:
    """Say side and tool where they change, and hold the steps of a stage together by a bar."""
    for limb in LIMBS:
        steps = layout.course.way_in if limb == "in" else layout.course.way_out
        run: list[Slot] = []
        for index, timed in enumerate(steps):
            slot = layout.slots.get(timed.step.joint)
            if run and (timed.new_stage or slot is None or not _touch(run[-1], slot, limb)):
                _draw_bar(root, layout, run, limb)
                run = []
            if slot is None:
                continue
            if timed.new_stage:
                _draw_stage_words(root, device, layout, slot, timed, limb, first=index == 0)
            run.append(slot)
        if run:
            _draw_bar(root, layout, run, limb)


def _touch(before: Slot, after: Slot, limb: Limb) -> bool:
    gap = after.top - before.bottom if limb == "in" else before.top - after.bottom
    return -0.01 <= gap <= GAP + 0.01


def _draw_bar(root: Element, layout: Layout, run: Sequence[Slot], limb: Limb) -> None:
    x = 0.3 if limb == "in" else layout.width - 0.3
    top, bottom = min(slot.top for slot in run), max(slot.bottom for slot in run)
    svg.line(root, x, top + 0.4, x, bottom - 0.6, "li bold")


def _draw_stage_words(
    root: Element,
    device: Device,
    layout: Layout,
    slot: Slot,
    timed: TimedStep,
    limb: Limb,
    *,
    first: bool,
) -> None:
    words = stage_words(device, timed.step, first=first)
    y = slot.top - 1.4 if limb == "in" else slot.bottom + 2.9
    mark = turn_mark if timed.step.turn_ms else swap_mark if timed.step.swap_ms else None
    x, away = (1.2, 1) if limb == "in" else (layout.width - 1.2, -1)
    if mark is not None:
        mark(root, x, y - 0.8)
    x += away * (2.0 if mark is not None else -1.2)
    svg.text(
        root,
        x,
        y,
        words,
        STAGE_SIZE,
        class_="t i",
        anchor="start" if limb == "in" else "end",
        width=layout.side - 6,
    )


def turn_mark(root: Element, x: float, y: float) -> None:
    """A disc, half black: the machine is turned over."""
    mark = svg.group(root, say("turn the machine"))
    svg.circle(mark, x, y, 1.1, "ring thin")
    shown = f"M{svg.number(x - 1.1)} {svg.number(y)}a1.1 1.1 0 0 0 2.2 0z"
    svg.add(mark, "path", class_="ink", d=shown)


def swap_mark(root: Element, x: float, y: float) -> None:
    """A small lozenge: another tool is taken up."""
    mark = svg.group(root, say("another tool"))
    svg.polygon(mark, [(x - 0.9, y), (x, y - 0.9), (x + 0.9, y), (x, y + 0.9)], "ring thin")


def _hazard_ids(device: Device, marks: Marks, layout: Layout) -> list[str]:
    shown = {
        hazard
        for limb in LIMBS
        for joint in layout.slots
        for hazard in marks.get((limb, joint), NO_MARKS).hazards
        if hazard in device.hazards
    }
    return sorted(shown, key=lambda key: (severity(device.hazards[key].signal), key))


def _hazard_lines(device: Device, hazard: str, layout: Layout) -> list[str]:
    return svg.wrap(device.hazards[hazard].text, layout.width - 22, DETAIL_SIZE + 0.2, most=4)


LEGEND_LINE = 4.4


def legend_height(device: Device, marks: Marks, layout: Layout) -> float:
    """Height of the legend in millimetres."""
    lines = sum(len(_hazard_lines(device, h, layout)) for h in _hazard_ids(device, marks, layout))
    return LEGEND_LINE * (lines + 1) + 5


def draw_legend(root: Element, device: Device, marks: Marks, layout: Layout) -> None:
    """Write out the hazards, most severe first, and explain the marks."""
    y = layout.height + 3
    svg.line(root, 0, y, layout.width, y, "lg")
    y += LEGEND_LINE
    for hazard in _hazard_ids(device, marks, layout):
        look = SIGNAL_LOOKS[device.hazards[hazard].signal]
        tag = Tag(device.hazards[hazard].signal, look.word, look.triangle)
        draw_tag(root, tag, 0, y - 2.4)
        for shown in _hazard_lines(device, hazard, layout):
            svg.text(root, 22, y, shown, DETAIL_SIZE + 0.2)
            y += LEGEND_LINE
    _draw_mark_legend(root, y)


def _draw_mark_legend(root: Element, y: float) -> None:
    x = 0.0
    for mark, words in (
        (turn_mark, say("turn the machine")),
        (swap_mark, say("another tool")),
        (_ring_mark, say("no partner in this job")),
        (_band_mark, say("power away")),
        (_rung_mark, say("joint is open")),
        (_limb_mark, say("flat: long, steep: quick")),
    ):
        mark(root, x + 2, y - 0.8)
        svg.text(root, x + 5, y, words, DETAIL_SIZE, class_="g")
        x += 8 + svg.text_width(words, DETAIL_SIZE)


def _ring_mark(root: Element, x: float, y: float) -> None:
    svg.circle(root, x, y, 1.1, "ring")


def _band_mark(root: Element, x: float, y: float) -> None:
    svg.rect(root, x - 2, y - 1.3, 4, 2.6, "wash")
    svg.line(root, x - 2, y - 1.1, x + 2, y - 1.1, "iso")


def _rung_mark(root: Element, x: float, y: float) -> None:
    svg.line(root, x - 2, y, x + 2, y, "rung")


def _limb_mark(root: Element, x: float, y: float) -> None:
    svg.polyline(root, [(x - 1.8, y - 1.2), (x + 1, y), (x + 1.6, y + 1.2)], "limb")
