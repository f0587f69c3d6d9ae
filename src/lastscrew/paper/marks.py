"""What a step carries besides its work: signal words, hold points, power that is still on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lastscrew.device.model import Device, Signal
from lastscrew.paper import svg
from lastscrew.paper.look import SIGNAL_LOOKS, severity
from lastscrew.paper.svg import Element
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.model import Limb
from lastscrew.saying import say

TAG_SIZE = 2.1
TAG_HEIGHT = 2.9
TAG_GAP = 0.8


@dataclass(frozen=True, slots=True)
class StepMarks:
    """What a step carries.

    Attributes:
        hazards: Hazard ids that bite at this step.
        hold: True when it may not be passed without a person's confirmation.
        live: True when it lies inside the machine and the power is still on.
    """

    hazards: tuple[str, ...] = ()
    hold: bool = False
    live: bool = False


Marks = Mapping[tuple[Limb, str], StepMarks]
"""Marks of every step that has any, by way and joint."""

NO_MARKS = StepMarks()


def marks_of(briefing: Briefing) -> Marks:
    """What each step of a plan carries."""
    hazards: dict[tuple[Limb, str], list[str]] = {}
    for at in briefing.hazards:
        hazards.setdefault((at.limb, at.joint), []).append(at.hazard)
    holds = {(hold.limb, hold.joint) for hold in briefing.holds if hold.joint is not None}
    steps: list[tuple[Limb, str]] = [
        (step.limb, step.joint) for step in (*briefing.plan.way_in, *briefing.plan.way_out)
    ]
    return {
        key: StepMarks(
            hazards=tuple(dict.fromkeys(hazards.get(key, ()))),
            hold=key in holds,
            live=key in briefing.still_live,
        )
        for key in steps
    }


def signals_of(device: Device, hazards: tuple[str, ...]) -> tuple[Signal, ...]:
    """The signal words of some hazards, each once, most severe first."""
    words = {device.hazards[hazard].signal for hazard in hazards if hazard in device.hazards}
    return tuple(sorted(words, key=severity))


@dataclass(frozen=True, slots=True)
class Tag:
    """A word in a box: ``hold``, ``live`` or a signal word."""

    kind: str
    word: str
    triangle: bool

    @property
    def width(self) -> float:
        """Width in millimetres."""
        return svg.text_width(self.word, TAG_SIZE, bold=True) + 1.4 + (2.6 if self.triangle else 0)


def tags_of(device: Device, marks: StepMarks) -> tuple[Tag, ...]:
    """The tags of a step: the hold point first, then the power, then signal words by severity."""
    tags = [Tag("hold", say("HOLD"), triangle=False)] if marks.hold else []
    if marks.live:
        tags.append(Tag("live", say("still live"), triangle=False))
    for signal in signals_of(device, marks.hazards):
        look = SIGNAL_LOOKS[signal]
        tags.append(Tag(signal, look.word, look.triangle))
    return tuple(tags)


def tags_width(tags: tuple[Tag, ...]) -> float:
    """Width of tags side by side, in millimetres."""
    return sum(tag.width for tag in tags) + TAG_GAP * max(0, len(tags) - 1)


def fitting_tags(tags: tuple[Tag, ...], room: float) -> tuple[Tag, ...]:
    """Tags that fit side by side; the last ones give way to their number."""
    if tags_width(tags) <= room:
        return tags
    for kept in range(len(tags) - 1, 0, -1):
        shown = (*tags[:kept], Tag("more", f"+{len(tags) - kept}", triangle=False))
        if tags_width(shown) <= room:
            return shown
    return tags[:1]


def draw_tag(parent: Element, tag: Tag, x: float, y: float) -> None:
    """Draw a tag with its upper left corner at ``(x, y)``."""
    if tag.kind in SIGNAL_LOOKS:
        svg.rect(parent, x, y, tag.width, TAG_HEIGHT, f"tag {tag.kind}")
        letters = f"on-{tag.kind}"
    elif tag.kind == "hold":
        # Two bars, as of a gate, on both ends: known in black and white and from afar.
        svg.rect(parent, x, y, tag.width, TAG_HEIGHT, "ink")
        letters = "rev"
    else:
        svg.rect(parent, x, y, tag.width, TAG_HEIGHT, "box dash" if tag.kind == "live" else "box")
        letters = "t"
    if tag.triangle:
        draw_triangle(parent, tag.kind, x + 0.6, y + 0.45, 2.1)
    x += 0.7 + (2.6 if tag.triangle else 0)
    weight = "b" if tag.kind != "live" else "i"
    style = "b i" if tag.kind == "notice" else weight
    svg.text(parent, x, y + TAG_HEIGHT - 0.75, tag.word, TAG_SIZE, class_=f"{letters} {style}")


def draw_triangle(parent: Element, signal: str, x: float, y: float, size: float) -> None:
    """The alert triangle of a signal word: letters' colour with the mark in the ground's colour."""
    middle = x + size / 2
    svg.polygon(parent, [(x, y + size), (middle, y), (x + size, y + size)], f"on-{signal}")
    svg.polygon(
        parent,
        [
            (middle - size * 0.09, y + size * 0.36),
            (middle + size * 0.09, y + size * 0.36),
            (middle + size * 0.04, y + size * 0.7),
            (middle - size * 0.04, y + size * 0.7),
        ],
        signal,
    )
    svg.circle(parent, middle, y + size * 0.83, size * 0.07, signal)
