"""A device as a value: parts, joints, accesses and everything that is said about them.

Everything here is read-only and compared by value. Mappings keep the order of the file. Times are
whole milliseconds (``*_ms``), lengths millimetres, torques newton-centimetres. ``None`` means that
the file does not say; a default that needs no table (``count`` 1, ``turn_ms`` 5000, ``swap_ms``
3000) is already filled in. Keys for which the file says ``unknown`` are listed in ``unknown`` and
carry their default, so that a plan can mark them as assumed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from lastscrew.device.diagnosis import Check, Fault, Symptom

RIGID_KINDS = (
    "screw", "nut", "clip", "latch", "hook", "magnet", "adhesive", "rivet", "solder", "pin", "seat",
    "board_link",
)  # fmt: skip
FLEXIBLE_KINDS = ("plug", "ribbon", "coax", "tape", "tie", "route")
KINDS = (*RIGID_KINDS, *FLEXIBLE_KINDS, "other")
POWERED_KINDS = ("plug", "ribbon", "coax", "board_link")
"""Kinds that are live unless the file says otherwise."""

SIGNALS = ("danger", "warning", "caution", "notice")
"""Signal words, most severe first, as ANSI Z535.4 and ISO 3864-2 define them."""

DEFAULT_TURN_MS = 5_000
DEFAULT_SWAP_MS = 3_000
"""Our own figures (no source); a plan that uses them says so."""

Reuse = Literal["reusable", "single_use", "inspect"]
Order = Literal["any", "numbered", "crosswise"]
Into = Literal["metal", "insert", "plastic"]
HoldBy = Literal["hand", "jig", "second_person"]
Signal = Literal["danger", "warning", "caution", "notice"]
ActTime = Literal[
    "start", "before_open", "after_open", "before_close", "after_close", "turning", "end"
]

Sources = Mapping[str, str]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool and the screw drives that it fits."""

    id: str
    name: str
    fits: tuple[str, ...] = ()
    swap_ms: int = DEFAULT_SWAP_MS
    swap_given: bool = False
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Fastener:
    """One kind of fastener, by its dimensions."""

    id: str
    thread: str | None = None
    length_mm: float | None = None
    drive: str | None = None
    head: str | None = None
    finish: str | None = None
    torque_ncm: float | None = None
    order_code: str | None = None
    price: float | None = None
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Supply:
    """Something that is used up: compound, adhesive, tape."""

    id: str
    name: str
    unit: str = ""
    order_code: str | None = None
    price: float | None = None
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Hazard:
    """A caution with its signal word."""

    id: str
    signal: Signal
    text: str
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Measure:
    """A measured value with its limits; either limit may be open."""

    unit: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Function:
    """Something that the machine does, and how to try it."""

    id: str
    name: str
    check: str = ""
    check_ms: int = 0
    measure: Measure | None = None
    needs: tuple[str, ...] = ()
    """Joints that must be closed to try it."""
    sources: Sources = field(default_factory=dict)
    entry: str | None = None
    """Id of the entry of ``checks`` that the file names as its check; what that says is filled in above."""


@dataclass(frozen=True, slots=True)
class Option:
    """Something that some units have and others lack."""

    id: str
    name: str
    fitted: bool = True
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Part:
    """A piece that comes off in one piece."""

    id: str
    name: str
    fixed: bool = False
    order_code: str | None = None
    price: float | None = None
    serial: bool = False
    identity: bool = False
    energy: bool = False
    functions: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    loses: tuple[str, ...] = ()
    if_fitted: str | None = None
    outline_mm: tuple[Point, ...] = ()
    note: str | None = None
    was: str | None = None
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Spare:
    """Parts that are exchanged as one piece."""

    id: str
    name: str
    contains: tuple[str, ...]
    order_code: str | None = None
    price: float | None = None
    includes: tuple[str, ...] = ()
    """Ids of supplies and fasteners that come with it."""
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Access:
    """One way to reach a joint.

    Attributes:
        side: Side that faces up.
        tool: Tool id for opening, None for the bare hand.
        under: Parts that must be out of the way.
        close_tool: Tool id for closing, None for the bare hand (already resolved: the same as
            ``tool`` where the file gives no ``close_tool``).
        open_ms: Milliseconds to open the whole joint by this access; the joint's own where the access gives none;
            None where the file says nothing (then the time tables are asked).
        close_ms: As ``open_ms``, for closing.
        unknown: Keys for which the file says ``unknown``.
    """

    side: str
    tool: str | None = None
    under: tuple[str, ...] = ()
    close_tool: str | None = None
    open_ms: int | None = None
    close_ms: int | None = None
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Joint:
    """One thing that holds parts together and is opened and closed as one.

    ``accesses`` is never empty. ``powered`` is False for ``powered: shutdown``; then ``shutdown``
    is True. ``rigid`` is already resolved from the kind. ``washers`` is the file's ``with``.
    """

    id: str
    kind: str
    joins: tuple[str, ...]
    accesses: tuple[Access, ...]
    rigid: bool
    after: tuple[str, ...] = ()
    powered: bool = False
    shutdown: bool = False
    isolates: bool = False
    name: str | None = None
    fastener: str | None = None
    count: int = 1
    captive: bool = False
    loosen_only: bool = False
    washers: Mapping[str, int] = field(default_factory=dict)
    positions_mm: tuple[Point, ...] = ()
    order: Order = "any"
    group: str | None = None
    torque_ncm: float | None = None
    into: Into | None = None
    max_length_mm: float | None = None
    reuse: Reuse = "reusable"
    renew: Mapping[str, float] = field(default_factory=dict)
    wait_open_ms: int = 0
    wait_close_ms: int = 0
    damage: Mapping[str, float] = field(default_factory=dict)
    hold_by: HoldBy | None = None
    functions: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    loses: tuple[str, ...] = ()
    hold: str | None = None
    prove_before_close: tuple[str, ...] = ()
    note_open: str | None = None
    note_close: str | None = None
    if_fitted: str | None = None
    was: str | None = None
    unknown: tuple[str, ...] = ()
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Act:
    """Work that is no joint.

    ``joint`` ties it to a step; ``when_replaced`` (part or spare ids) and ``when_opened`` (joint ids)
    say when it is done at all: without either, always (tied to a joint: whenever that joint is
    opened or closed). With several ids, any one of them is enough.
    """

    id: str
    text: str
    at: ActTime
    joint: str | None = None
    when_replaced: tuple[str, ...] = ()
    when_opened: tuple[str, ...] = ()
    ms: int = 0
    wait_ms: int = 0
    tool: str | None = None
    renew: Mapping[str, float] = field(default_factory=dict)
    hold: str | None = None
    """Text of a hold point (the act's own text where the file says ``hold: true``)."""
    evidence: tuple[str, ...] = ()
    sources: Sources = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Device:
    """A model of machine.

    Attributes:
        sides: Working positions; the first is how it lies at the start and at the end.
        turn_ms: Milliseconds to turn it from any side to any other.
        revision_hash: SHA-256 (hex) of the normalised file; with ``id`` it names a revision.
        extra: Sections that this version keeps but does not read (keys beginning ``x_`` and
            optional sections of later packages), by key.
    """

    id: str
    name: str
    sides: tuple[str, ...]
    parts: Mapping[str, Part]
    joints: Mapping[str, Joint]
    turn_ms: int = DEFAULT_TURN_MS
    turn_given: bool = False
    kind: str = ""
    revision: str = ""
    frame_mm: Mapping[str, Point] = field(default_factory=dict)
    note: str | None = None
    tools: Mapping[str, Tool] = field(default_factory=dict)
    fasteners: Mapping[str, Fastener] = field(default_factory=dict)
    supplies: Mapping[str, Supply] = field(default_factory=dict)
    hazards: Mapping[str, Hazard] = field(default_factory=dict)
    functions: Mapping[str, Function] = field(default_factory=dict)
    options: Mapping[str, Option] = field(default_factory=dict)
    spares: Mapping[str, Spare] = field(default_factory=dict)
    acts: Mapping[str, Act] = field(default_factory=dict)
    symptoms: Mapping[str, Symptom] = field(default_factory=dict)
    checks: Mapping[str, Check] = field(default_factory=dict)
    faults: Mapping[str, Fault] = field(default_factory=dict)
    revision_hash: str = ""
    extra: Mapping[str, object] = field(default_factory=dict)
    lacks: frozenset[str] = frozenset()
    """Names that fitting has taken away already: they mean nothing else of the same name now."""

    @property
    def fixed_part(self) -> str:
        """Id of the one part that stays on the bench."""
        return next(part.id for part in self.parts.values() if part.fixed)
