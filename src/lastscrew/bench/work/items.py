"""What the work page shows and what a tap on it means, as values that go to the browser as they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Happened = Mapping[str, object]
"""A run event without its envelope, as JSON; the screen adds id, time, screen and sequence."""

TapKind = Literal["do", "count", "hold", "power", "prove", "exchange", "act"]
LineKind = Literal[
    "live", "cable", "renew", "act", "note", "wait", "tighten", "length", "loose", "move", "value"
]
ItemKind = Literal["open", "close", "act", "exchange", "prove", "power_on", "power_off"]
StageKind = Literal["before", "in", "turning", "out", "after"]

SINGLE: frozenset[TapKind] = frozenset({"count", "hold", "power", "prove", "exchange"})
"""Taps that are confirmed one at a time; the others of a stage go with one tap together."""


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard with its signal word, as the standard has it."""

    signal: str
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to know or to do at a step."""

    kind: LineKind
    text: str


@dataclass(frozen=True, slots=True)
class Tap:
    """One confirmation.

    Attributes:
        kind: What is confirmed.
        text: What the button says is true.
        events: What happened, in order, when it is tapped.
        fields: Values that are asked for: name of the field to its label. A field is named as it is
            in the event (``new_serial``).
        otherwise: A second button: its text and what happened then.
        cautions: Hazards that are shown with it.
        is_done: It was confirmed.
    """

    kind: TapKind
    text: str
    events: tuple[Happened, ...] = ()
    is_done: bool = False
    fields: Mapping[str, str] = field(default_factory=dict)
    otherwise: tuple[str, tuple[Happened, ...]] | None = None
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True, slots=True)
class Pieces:
    """Loose pieces of one kind that come out of a joint or go back into it."""

    kind: str
    text: str
    count: int


@dataclass(frozen=True, slots=True)
class Item:
    """One step as a person sees it.

    Attributes:
        id: Unique in the job (``in:cover_screws``, ``act:shut_down``).
        kind, limb: What it is; the turning point belongs to the way in.
        joint: The joint, None for what is no joint.
        number: Number of the step through both ways, None for what is no step.
        verb, name, parts: What to do to what (``Take out``, ``Cover screws``, ``Bottom cover, Chassis``).
        side, tool: Side that faces up, name of the tool.
        count: How many of what (``7 M2×4 T5, 17 N·cm``).
        pieces: What comes loose, or goes back.
        compartment: Where it lies in the tray.
        live: ``live`` (power is still or again on here), ``isolated``, or empty.
        cautions, lines: What to know before the work; ``after``: what to know after it.
        taps: What is confirmed, in order.
        gone, loose: Parts that are off, and that hang loose, before the step: for the drawing.
        opened: Joints that are open before the step.
    """

    id: str
    kind: ItemKind
    limb: str
    joint: str | None
    number: int | None
    verb: str
    name: str
    parts: str
    side: str
    tool: str
    taps: tuple[Tap, ...]
    count: str = ""
    pieces: tuple[Pieces, ...] = ()
    compartment: str | None = None
    live: str = ""
    cautions: tuple[Caution, ...] = ()
    lines: tuple[Line, ...] = ()
    after: tuple[Line, ...] = ()
    gone: tuple[str, ...] = ()
    loose: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()

    @property
    def is_done(self) -> bool:
        """True when everything of it is confirmed."""
        return all(tap.is_done for tap in self.taps)


@dataclass(frozen=True, slots=True)
class Stage:
    """Steps in a row with the same side up and the same tool in hand.

    Attributes:
        id: Unique in the job.
        kind: Before the work, way in, turning point, way out, after it.
        side, tool: What holds for all of its steps.
        turn_to: The machine is turned to this side first; empty when it lies right.
        lines: What to think of at the turn: what falls, what hangs.
        items: The steps.
    """

    id: str
    kind: StageKind
    side: str
    tool: str
    turn_to: str
    lines: tuple[Line, ...]
    items: tuple[Item, ...]
