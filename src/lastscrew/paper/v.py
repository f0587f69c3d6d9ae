"""The V: time runs to the right, depth into the machine runs down.

The way in comes down as the left limb, the way out goes up as the right one, and both meet at the
turning point. Every row is one joint: its opening on the left, its closing on the right, and between the
two a rung for as long as it is open. Time is true to scale across, so a long step lies flat and a
quick one stands steep; a closing out of the mirror's order leaves the right limb and is seen at once,
and so is a rung that ends in a ring because one of its partners is missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device
from lastscrew.paper import svg
from lastscrew.paper.marks import marks_of
from lastscrew.paper.rows import Course, TimedStep, course_of, isolated_span, last_isolated
from lastscrew.paper.svg import Element
from lastscrew.paper.v_layout import GAP, HEAD_HEIGHT, Layout, Slot, lay_out
from lastscrew.paper.v_text import (
    AXIS_SIZE,
    DETAIL_SIZE,
    NAME_SIZE,
    draw_legend,
    draw_row_words,
    draw_stages,
    legend_height,
    swap_mark,
    tall_rows,
    turn_mark,
)
from lastscrew.paper.words import piece_names
from lastscrew.plan.assumptions import Timing
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.model import Limb, Plan
from lastscrew.plan.wording import joint_name, listed
from lastscrew.saying import joined, say

A4_WIDTH_MM = 186.0
"""Width between margins of 12 mm on A4."""

TITLE_HEIGHT = 12.0
RING_MM = 1.3
TICKS_S = (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)


@dataclass(frozen=True, slots=True)
class VExtras:
    """What stands around the V when it is alone on its page.

    Attributes:
        title: First line above the drawing; empty for none (the sheet has its own head).
        under_title: Second line.
        legend: Explain the marks and write out the hazards below.
    """

    title: str = ""
    under_title: str = ""
    legend: bool = False


def draw_v(
    briefing: Briefing,
    *,
    extras: VExtras | None = None,
    width_mm: float = A4_WIDTH_MM,
    rows: tuple[int, int] | None = None,
    prefix: str = "v",
    dark: bool = True,
    pad_mm: float = 0.0,
) -> Element:
    """Draw the V of a plan.

    Args:
        briefing: The plan and what follows from it.
        extras: Title and legend.
        width_mm: Width of the drawing.
        rows: First row and the one after the last, where a long V is cut for pages; None for all.
        prefix: Makes ids unique on a page.
        dark: Follow a dark screen.
        pad_mm: Blank border.

    Returns:
        An ``svg`` element in millimetres.
    """
    said = extras or VExtras()
    device, plan = briefing.device, briefing.plan
    course, marks = course_of(device, plan), marks_of(briefing)
    tall = tall_rows(device, course, marks, width_mm)
    layout = lay_out(course, width_mm, rows, tall=tall, offset=TITLE_HEIGHT if said.title else 0.0)
    title = say(
        "The V: {job}, {device}",
        job=piece_names(device, plan) or say("the way in and the way out"),
        device=device.name,
    )
    below = legend_height(device, marks, layout) if said.legend else 0.0
    root = svg.drawing(
        width_mm, layout.height + below, title, describe(device, course),
        prefix=prefix, dark=dark, pad_mm=pad_mm,
    )  # fmt: skip
    _draw_isolated(root, device, layout)
    _draw_title(root, layout, said)
    _draw_headings(root, layout, briefing.timing)
    _draw_axis(root, layout)
    for slot in layout.slots.values():
        _draw_rung(root, device, layout, slot)
    _draw_limb(root, layout, course.way_in, "in")
    _draw_limb(root, layout, course.way_out, "out")
    for slot in layout.slots.values():
        draw_row_words(root, device, layout, slot, marks)
    draw_stages(root, device, layout)
    if layout.ends:
        _draw_apex(root, device, plan, layout)
    if said.legend:
        draw_legend(root, device, marks, layout)
    return root


def describe(device: Device, course: Course) -> str:
    """The V in a few sentences, for people who do not see it."""
    opened = [joint_name(device, timed.step.joint) for timed in course.way_in]
    closed = [joint_name(device, timed.step.joint) for timed in course.way_out]
    none = say("none")
    sentences = [
        say(
            "Way in, {n} step: {joints}.",
            "Way in, {n} steps: {joints}.",
            n=len(opened),
            joints=", ".join(opened) or none,
        ),
        say(
            "Way out, {n} step: {joints}.",
            "Way out, {n} steps: {joints}.",
            n=len(closed),
            joints=", ".join(closed) or none,
        ),
    ]
    alone = [joint_name(device, row.joint) for row in course.rows if row.opening is None]
    if alone:
        sentences.append(say("Open at the start: {joints}.", joints=listed(alone)))
    left = [joint_name(device, row.joint) for row in course.rows if row.closing is None]
    if left:
        sentences.append(say("Open at the end: {joints}.", joints=listed(left)))
    return joined(" ", sentences)


def _draw_title(root: Element, layout: Layout, said: VExtras) -> None:
    if said.title:
        svg.text(root, 0, 4.5, said.title, 4.4, class_="t b", width=layout.width)
        svg.text(root, 0, 9, said.under_title, DETAIL_SIZE, class_="g", width=layout.width)


def _draw_headings(root: Element, layout: Layout, timing: Timing) -> None:
    """Number of steps and time of each way."""
    y = layout.top - HEAD_HEIGHT - 1.5
    ways: tuple[tuple[Limb, str, float, str], ...] = (
        ("in", say("WAY IN"), 16.2, timing.way_in.words),
        ("out", say("WAY OUT"), 19.5, timing.way_out.words),
    )
    for limb, head, least, figures in ways:
        wide = max(least, svg.text_width(head, 3.4, bold=True) + 1.4)
        count = len(layout.course.way_in if limb == "in" else layout.course.way_out)
        rest = joined(" · ", filter(None, (say("{n} step", "{n} steps", n=count), figures)))
        room = layout.side - max(26, wide + 6.5)
        if limb == "in":
            svg.text(root, 0, y, head, 3.4, class_="t b")
            _arrow(root, wide, y - 1.2, down=True)
            svg.text(root, wide + 2.8, y, rest, DETAIL_SIZE, class_="g", width=room)
        else:
            svg.text(root, layout.width, y, head, 3.4, class_="t b", anchor="end")
            _arrow(root, layout.width - wide, y - 1.2, down=False)
            svg.text(
                root,
                layout.width - wide - 3,
                y,
                rest,
                DETAIL_SIZE,
                class_="g",
                anchor="end",
                width=room,
            )


def _arrow(root: Element, x: float, y: float, *, down: bool) -> None:
    tip, tail = (y + 1.5, y - 1.5) if down else (y - 1.5, y + 1.5)
    back = tip - 1.2 if down else tip + 1.2
    svg.line(root, x, tail, x, tip, "li bold")
    svg.polyline(root, [(x - 1, back), (x, tip), (x + 1, back)], "li bold")


def tick_ms(total_ms: int, width_mm: float, least_mm: float = 10.5) -> int:
    """Distance of time marks: a round figure that keeps their labels apart."""
    for tick in TICKS_S:
        if tick * 1000 * width_mm / max(1, total_ms) >= least_mm:
            return tick * 1000
    return TICKS_S[-1] * 1000


def tick_word(ms: int) -> str:
    """A moment as minutes and seconds, or hours and minutes."""
    minutes, seconds = divmod(ms // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02}" if hours else f"{minutes}:{seconds:02}"


def _draw_axis(root: Element, layout: Layout) -> None:
    """Time marks above the field and their lines down through it."""
    total, y = layout.course.total_ms, layout.top
    axis = svg.group(root, say("Hands-on time since the start, in minutes and seconds"))
    for ms in range(0, total + 1, tick_ms(total, layout.field)):
        x = layout.x(ms)
        svg.line(axis, x, y, x, layout.bottom, "lp")
        svg.line(axis, x, y, x, y - 1.2, "li")
        svg.text(axis, x, y - 1.9, tick_word(ms), AXIS_SIZE, class_="g", anchor="middle")
    svg.line(axis, layout.x(0), y, layout.x(total), y, "li")


def _draw_isolated(root: Element, device: Device, layout: Layout) -> None:
    """A band under all that happens while the power is away."""
    span = isolated_span(device, layout.course)
    if span is None:
        return
    tops = [
        slot.line
        for slot in layout.slots.values()
        for timed in (slot.row.opening, slot.row.closing)
        if device.joints[slot.row.joint].isolates
        or (timed is not None and span[0] <= timed.middle_ms <= span[1])
    ]
    if not tops:
        return
    x, top = layout.x(span[0]), min(tops) if layout.begins else layout.top
    band = svg.group(root, say("While the power is away"))
    svg.rect(band, x, top, layout.x(span[1]) - x, layout.bottom - top, "wash")


def _draw_rung(root: Element, device: Device, layout: Layout, slot: Slot) -> None:
    """From the opening to the closing; a missing partner leaves a ring at the edge."""
    row, y = slot.row, slot.line
    left = layout.limb_x(slot, row.opening, "in") if row.opening else layout.x(0)
    right = (
        layout.limb_x(slot, row.closing, "out") if row.closing else layout.x(layout.course.total_ms)
    )
    isolates = device.joints[row.joint].isolates
    svg.line(root, left, y, right, y, "iso" if isolates else "rung")
    if row.joint == last_isolated(device, layout.course):
        _say_away(root, (left + right) / 2, y, right - left)
    for timed, x in ((row.opening, left), (row.closing, right)):
        if timed is None:
            svg.circle(root, x, y, RING_MM, "ring")


def _say_away(root: Element, x: float, y: float, room: float) -> None:
    words = say("power away")
    width = svg.text_width(words, DETAIL_SIZE) + 1.6
    if room > width + 8:
        svg.rect(root, x - width / 2, y - 1.5, width, 3, "wash")
        svg.text(root, x, y + 0.8, words, DETAIL_SIZE, class_="t i", anchor="middle")


def _draw_limb(root: Element, layout: Layout, steps: Sequence[TimedStep], limb: Limb) -> None:
    """Work as thick slopes through its row; setups and all between as thin broken lines."""
    down = limb == "in"
    at = _limb_begin(layout, limb)
    for timed in steps:
        slot = layout.slots.get(timed.step.joint)
        if slot is None:
            at = None
            continue
        enter, leave = (slot.top, slot.bottom) if down else (slot.bottom, slot.top)
        start, end = layout.x(timed.start_ms), layout.x(timed.end_ms)
        if at is None:
            at = (layout.x(timed.before_ms), enter - (GAP if down else -GAP) * 0.8)
        _draw_setup(root, timed, at, (start, enter))
        svg.polyline(root, [(start, enter), (end, leave)], "limb").set(
            "data-step", str(timed.number)
        )
        at = (end, leave)
    if not down and layout.begins and at is not None:
        svg.polyline(root, [at, (layout.x(layout.course.total_ms), layout.top)], "setup")


def _limb_begin(layout: Layout, limb: Limb) -> tuple[float, float] | None:
    if limb == "in" and layout.begins and layout.course.way_in:
        return layout.x(layout.course.way_in[0].before_ms), layout.top
    if limb == "out" and layout.ends:
        return layout.x(layout.course.turn_ms), layout.bottom
    return None


def _draw_setup(
    root: Element, timed: TimedStep, begin: tuple[float, float], end: tuple[float, float]
) -> None:
    """From where the step before ended to where this one begins, with its mark."""
    if begin == end:
        return
    far = abs(begin[1] - end[1]) > GAP + 0.1
    svg.polyline(root, [begin, end], "jump" if far else "setup")
    # The mark sits near the step that it belongs to, also at the end of a long jump.
    share = 0.5 if not far else 1 - GAP / 2 / abs(begin[1] - end[1])
    x, y = begin[0] + (end[0] - begin[0]) * share, begin[1] + (end[1] - begin[1]) * share
    if timed.step.turn_ms:
        turn_mark(root, x, y)
    elif timed.step.swap_ms:
        swap_mark(root, x, y)


def _draw_apex(root: Element, device: Device, plan: Plan, layout: Layout) -> None:
    """The turning point, and what is done there."""
    course, y = layout.course, layout.bottom
    left, right = layout.x(course.in_end_ms), layout.x(course.turn_ms)
    deepest = layout.rows_bottom
    if course.way_in:
        slot = layout.slots.get(course.way_in[-1].step.joint)
        deepest = slot.bottom if slot else deepest
    svg.polyline(root, [(left, deepest), (right, y)], "setup")
    svg.circle(root, right, y, 1.3, "ink")
    pieces = piece_names(device, plan)
    middle = min(max(right, layout.width * 0.3), layout.width * 0.7)
    turning = say("TURNING POINT")
    svg.text(root, middle, y + 5.0, turning, DETAIL_SIZE, class_="t b", anchor="middle")
    said = say("everything that is needed is open")
    if pieces:
        said = say("exchange {pieces}", pieces=pieces)
    room = 2 * min(middle, layout.width - middle)
    svg.text(root, middle, y + 8.6, said, NAME_SIZE, anchor="middle", width=room)
