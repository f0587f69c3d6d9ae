"""What can be wrong with a device, what it shows, how it is found and mended, as values.

The sections ``faults``, ``symptoms`` and ``checks`` of a device file. All of it is read-only and
compared by value, times are whole milliseconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

Power = Literal["on", "off"]
MendKind = Literal["exchange", "reseat", "clean", "update", "adjust"]
Event = Literal["liquid", "drop"]

MEND_KINDS: Final = ("exchange", "reseat", "clean", "update", "adjust")
EVENTS: Final = ("liquid", "drop")
NO_EVENT: Final = "none"
"""A symptom whose words tell of no event, although they would elsewhere: water in a machine that is made for it."""
GOOD: Final = "good"
BAD: Final = "bad"

LIKELIHOOD_WORDS: Final[Mapping[str, float]] = {
    "always": 0.98,
    "nearly_always": 0.92,
    "usually": 0.8,
    "often": 0.65,
    "sometimes": 0.3,
    "seldom": 0.15,
    "rarely": 0.06,
    "hardly_ever": 0.03,
    "never": 0.01,
}
"""Words for probabilities and what they stand for.

Round figures of our own, near the averages over many surveys that Mosteller and Youtz report
("Quantifying probabilistic expressions", Statistical Science 5 (1990) 2-12; from memory, not looked up).
``always`` and ``never`` leave room for the unexpected: a result that a word rules out wholly would be one
that no fault explains.
"""


@dataclass(frozen=True, slots=True)
class Likelihood:
    """A probability, with the word by which the file gives it (empty: a number)."""

    value: float
    word: str = ""


@dataclass(frozen=True, slots=True)
class Harm:
    """What a check can spoil: the chance, and the price and work that it costs then."""

    chance: float
    price: float = 0.0
    ms: int = 0


@dataclass(frozen=True, slots=True)
class Limits:
    """A measured value with its limits; at least one is there."""

    unit: str
    low: float | None = None
    high: float | None = None

    @property
    def outcomes(self) -> tuple[str, ...]:
        """Names of what can be read: ``good`` first, then ``low`` and ``high`` as far as there are limits."""
        low = () if self.low is None else ("low",)
        return (GOOD, *low, *(() if self.high is None else ("high",)))

    def outcome(self, value: float) -> str:
        """The outcome that a reading stands for."""
        if self.low is not None and value < self.low:
            return "low"
        return "high" if self.high is not None and value > self.high else GOOD


@dataclass(frozen=True, slots=True)
class Symptom:
    """Something that a faulty device shows and its owner tells.

    Attributes:
        id, name: As everywhere.
        words: Words or phrases of owners that mean it.
        leak: Chance that it shows without any of the faults that are said to show it; None: not given.
        event: What it tells about the past, ``liquid`` or ``drop``: then several faults are likely. ``none``:
            nothing, and its words tell nothing in a complaint; None: what its words tell.
    """

    id: str
    name: str
    words: tuple[str, ...] = ()
    leak: Likelihood | None = None
    event: Event | Literal["none"] | None = None
    was: str | None = None
    sources: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Check:
    """A test or question that tells faults apart.

    Attributes:
        id, name: As everywhere.
        check: Instruction.
        check_ms: Milliseconds that it takes, without opening.
        limits: A value to measure.
        outcomes: Names of its outcomes; the first is what a sound device shows.
        open, closed: Joints that must be open, closed.
        may_be_open: Joints that may be open while power is on, beside those that must.
        power: ``on``, ``off`` (the isolating joints are open), or None where it does not matter.
        tool: Tool id; ``instrument`` is free text.
        swap_test: Part in whose place a known-good one is hung on its cable.
        harm: What it can spoil.
        leak: Chance of each outcome but the first in a sound device; empty: not given.
        final: It is the device's own check: only its first outcome proves that the device works.
        hazards: Hazards shown before it.
    """

    id: str
    name: str
    check: str = ""
    check_ms: int = 0
    limits: Limits | None = None
    outcomes: tuple[str, ...] = (GOOD, BAD)
    open: tuple[str, ...] = ()
    closed: tuple[str, ...] = ()
    may_be_open: tuple[str, ...] = ()
    power: Power | None = None
    tool: str | None = None
    instrument: str = ""
    swap_test: str | None = None
    harm: Harm | None = None
    leak: Mapping[str, Likelihood] = field(default_factory=dict)
    final: bool = False
    hazards: tuple[str, ...] = ()
    was: str | None = None
    sources: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Mend:
    """One way to cure a fault.

    Attributes:
        do: What is done.
        part: Part or spare that it is done to (``exchange``; else optional), None for a joint.
        joint: Joint that it is done to.
        success: Chance that the fault is gone after it; None: not given.
        ms: Milliseconds beside opening and closing; None: not given.
        price: Price of what it uses; None: the part's where one is exchanged, else nothing.
        text: Instruction.
        open, closed: Further joints that must be open, closed.
        power: As for a check.
        name: What people call it, "" where it is made from what is done to what.
    """

    do: MendKind
    part: str | None = None
    joint: str | None = None
    success: Likelihood | None = None
    ms: int | None = None
    price: float | None = None
    text: str = ""
    open: tuple[str, ...] = ()
    closed: tuple[str, ...] = ()
    power: Power | None = None
    name: str = ""
    sources: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that can be wrong.

    Attributes:
        id, name: As everywhere.
        part, joint: What is at fault; one of the two.
        prior: Relative frequency or count among the faults of the device.
        prior_word: The word by which the file gives it, or "".
        symptoms: Chance that it shows each symptom.
        checks: Chance of each outcome but the first of a check or function, by its id.
        mends: What can cure it, empty where the file leaves it out.
    """

    id: str
    name: str
    part: str | None = None
    joint: str | None = None
    prior: float = 1.0
    prior_word: str = ""
    prior_given: bool = False
    symptoms: Mapping[str, Likelihood] = field(default_factory=dict)
    checks: Mapping[str, Mapping[str, Likelihood]] = field(default_factory=dict)
    mends: tuple[Mend, ...] = ()
    note: str | None = None
    was: str | None = None
    sources: Mapping[str, str] = field(default_factory=dict)
