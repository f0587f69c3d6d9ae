"""Run events: everything that can happen in a job, as read-only values with one schema.

An :class:`Event` is an envelope (who, when, from which screen) around one happening. A happening is
one of the classes below; its fields carry the rule by which they are read, so that reader, writer,
JSON Schema and documents can't drift apart. Reading and writing: :mod:`lastscrew.run.lines`.

Pieces are named as the ledger names them: the id of a fastener of the device file, ``washer:NAME``,
or ``unlisted:JOINT`` for the screws of a joint whose fastener the file does not give.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from typing import Any, ClassVar

from lastscrew.run import fields as f

SCHEMA_VERSION = 1
"""Version of the event schema; a new optional key does not raise it, a changed meaning does."""

PIECE_KEY = f.pattern_rule(
    "a kind of piece",
    re.compile(r"([a-z][a-z0-9_]*|(washer|unlisted|measured):[^\x00-\x1f\x7f]{1,80})"),
    "m2x5, washer:spring or unlisted:cover_screws",
)
COUNTS = f.table_rule(PIECE_KEY, f.COUNT_OR_NONE)
WASHERS = f.table_rule(f.LINE, f.COUNT_OR_NONE)


def _of(rule: f.Rule, meaning: str) -> dict[str, object]:
    return {"rule": rule, "meaning": meaning}


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """What the happenings have in common: a name, and groups of fields of which some are needed.

    Attributes:
        name: The value of ``event`` in JSON.
        one_of: Exactly one of these fields is given.
        any_of: At least one of these fields is given.
    """

    name: ClassVar[str] = ""
    one_of: ClassVar[tuple[str, ...]] = ()
    any_of: ClassVar[tuple[str, ...]] = ()

    def wrong_together(self) -> str:
        """What is wrong with the fields taken together, or an empty text."""
        given = {spec.name for spec in fields(self) if getattr(self, spec.name) is not None}
        if self.one_of and len(given & set(self.one_of)) != 1:
            return f"needs exactly one of {', '.join(self.one_of)}"
        if self.any_of and not given & set(self.any_of):
            return f"needs at least one of {', '.join(self.any_of)}"
        return ""


# --- the job ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Started(Happening):
    """The job begins: on which device, by which revision of its file, for what."""

    name: ClassVar[str] = "started"
    device: str = field(metadata=_of(f.NAME, "Id of the device."))
    revision: str = field(metadata=_of(f.LINE, "Hash of the device file that the job keeps."))
    format: int = field(default=1, metadata=_of(f.whole_rule(1, 1), "Version of this schema."))
    unit: str | None = field(default=None, metadata=_of(f.LINE, "Serial number of the machine."))
    replace: tuple[str, ...] = field(default=(), metadata=_of(f.PIECES, "What is to be exchanged."))
    reach: tuple[str, ...] = field(default=(), metadata=_of(f.NAMES, "Joints to be opened."))
    opened: tuple[str, ...] = field(
        default=(), metadata=_of(f.NAMES, "Joints that are open already; their screws came along.")
    )
    side: str | None = field(default=None, metadata=_of(f.NAME, "Side that faces up."))
    not_fitted: tuple[str, ...] = field(default=(), metadata=_of(f.NAMES, "What the unit lacks."))
    fitted: tuple[str, ...] = field(default=(), metadata=_of(f.NAMES, "Options that it has."))
    without: tuple[str, ...] = field(
        default=(), metadata=_of(f.NAMES, "Joints that may not be opened.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetAdded(Happening):
    """One thing more is to be exchanged or reached."""

    name: ClassVar[str] = "target_added"
    one_of: ClassVar[tuple[str, ...]] = ("replace", "reach")
    replace: str | None = field(default=None, metadata=_of(f.PIECE, "What is to be exchanged."))
    reach: str | None = field(default=None, metadata=_of(f.NAME, "Joint to be opened."))


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetDropped(Happening):
    """One thing less is to be exchanged or reached."""

    name: ClassVar[str] = "target_dropped"
    one_of: ClassVar[tuple[str, ...]] = ("replace", "reach")
    replace: str | None = field(default=None, metadata=_of(f.PIECE, "What stays as it is."))
    reach: str | None = field(default=None, metadata=_of(f.NAME, "Joint that stays closed."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished(Happening):
    """The job ends."""

    name: ClassVar[str] = "finished"
    outcome: str = field(
        metadata=_of(
            f.choice_rule(
                "repaired", "no_fault_found", "returned_unrepaired", "exchanged", "kept_for_parts",
                "scrapped",
            ),
            "How it ends.",
        )
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Paused(Happening):
    """Nobody works on it for a while (its time does not count)."""

    name: ClassVar[str] = "paused"
    reason: str | None = field(default=None, metadata=_of(f.TEXT, "Why."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed(Happening):
    """Work goes on, after a pause or after parking."""

    name: ClassVar[str] = "resumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOver(Happening):
    """Somebody else goes on with it."""

    name: ClassVar[str] = "handed_over"
    to: str = field(metadata=_of(f.LINE, "Who goes on."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Parked(Happening):
    """It waits, put aside: where, for what, until when."""

    name: ClassVar[str] = "parked"
    place: str | None = field(
        default=None, metadata=_of(f.LINE, "Where machine, tray and bags lie.")
    )
    tray: str | None = field(default=None, metadata=_of(f.LINE, "Label of its tray."))
    bags: tuple[str, ...] = field(
        default=(), metadata=_of(f.many_rule(f.LINE, 20), "Labels of its bags.")
    )
    waiting_for: str | None = field(
        default=None, metadata=_of(f.TEXT, "A part, an approval, a person.")
    )
    until_ms: int | None = field(default=None, metadata=_of(f.MOMENT, "Until when."))
    isolated: bool | None = field(default=None, metadata=_of(f.TRUTH, "Power is taken away."))
    cover_laid_on: bool | None = field(default=None, metadata=_of(f.TRUTH, "The cover lies on it."))


# --- joints -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened(Happening):
    """A joint was opened."""

    name: ClassVar[str] = "opened"
    joint: str = field(metadata=_of(f.NAME, "The joint."))
    side: str | None = field(default=None, metadata=_of(f.NAME, "Side that faced up."))
    tool: str | None = field(default=None, metadata=_of(f.NAME, "Tool in hand."))
    taken_out: int | None = field(
        default=None,
        metadata=_of(f.COUNT_OR_NONE, "Pieces taken out; left out: as many as were in it."),
    )
    compartment: str | None = field(
        default=None, metadata=_of(f.LINE, "Compartment of the tray, or bag.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed(Happening):
    """A joint was closed: count = put back + new + left empty.

    Left out, ``put_back`` is what lies out from this joint, as far as it is needed beside ``new``
    and ``left_empty``. A joint with ``reuse: single_use`` takes new pieces only, unless ``put_back``
    says otherwise. A joint inside an exchanged piece stays open until it is closed: as a rule the new piece
    had to be opened there to go in. Where it came closed and stayed so, ``came_closed`` says it.
    """

    name: ClassVar[str] = "closed"
    joint: str = field(metadata=_of(f.NAME, "The joint."))
    side: str | None = field(default=None, metadata=_of(f.NAME, "Side that faced up."))
    tool: str | None = field(default=None, metadata=_of(f.NAME, "Tool in hand."))
    put_back: int | None = field(
        default=None, metadata=_of(f.COUNT_OR_NONE, "Pieces put back of those that came out.")
    )
    new: int | None = field(default=None, metadata=_of(f.COUNT_OR_NONE, "New pieces."))
    left_empty: int | None = field(
        default=None, metadata=_of(f.COUNT_OR_NONE, "Places left without a piece.")
    )
    piece: str | None = field(
        default=None, metadata=_of(PIECE_KEY, "Kind of the pieces put in, if not the joint's own.")
    )
    washers_new: Mapping[str, int] = field(
        default_factory=dict, metadata=_of(WASHERS, "New washers or sleeves, by name.")
    )
    washers_left_out: Mapping[str, int] = field(
        default_factory=dict, metadata=_of(WASHERS, "Washers or sleeves left out, by name.")
    )
    came_closed: bool = field(
        default=False,
        metadata=_of(
            f.TRUTH,
            "It came closed inside an exchanged piece; what lies out from it went away with the old one.",
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid(Happening):
    """What came out of a joint was laid somewhere else."""

    name: ClassVar[str] = "laid"
    joint: str = field(metadata=_of(f.NAME, "The joint that the pieces came from."))
    compartment: str = field(metadata=_of(f.LINE, "Compartment of the tray, or bag."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned(Happening):
    """The machine was turned."""

    name: ClassVar[str] = "turned"
    side: str = field(metadata=_of(f.NAME, "Side that faces up now."))


@dataclass(frozen=True, slots=True, kw_only=True)
class ActDone(Happening):
    """Work that is no joint was done."""

    name: ClassVar[str] = "act_done"
    act: str = field(metadata=_of(f.NAME, "The act."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmed(Happening):
    """A person confirmed a hold point."""

    name: ClassVar[str] = "confirmed"
    one_of: ClassVar[tuple[str, ...]] = ("joint", "act")
    joint: str | None = field(default=None, metadata=_of(f.NAME, "The joint that it guards."))
    act: str | None = field(default=None, metadata=_of(f.NAME, "The act that it guards."))
    limb: str | None = field(
        default=None, metadata=_of(f.choice_rule("in", "out"), "Before opening or before closing.")
    )
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What was confirmed."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Waived(Happening):
    """A named person lets something stand as it is, with a reason.

    An open or unbalanced joint, a function that was not tried or fails, a final check, a lost or found piece
    (``about``: the id of that event), or
    what is unexplained of a kind of piece.
    """

    name: ClassVar[str] = "waived"
    one_of: ClassVar[tuple[str, ...]] = ("joint", "function", "check", "about", "piece")
    person: str = field(metadata=_of(f.LINE, "Who answers for it."))
    reason: str = field(metadata=_of(f.TEXT, "Why it may stand."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "The joint."))
    function: str | None = field(default=None, metadata=_of(f.NAME, "The function to be tried."))
    check: str | None = field(default=None, metadata=_of(f.NAME, "The final check."))
    about: str | None = field(default=None, metadata=_of(f.KEY, "Id of an earlier event."))
    piece: str | None = field(default=None, metadata=_of(PIECE_KEY, "Kind of piece."))


# --- pieces -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Renewed(Happening):
    """Something that is used up was renewed: compound, adhesive, tape."""

    name: ClassVar[str] = "renewed"
    supply: str = field(metadata=_of(f.NAME, "The supply."))
    amount: float = field(metadata=_of(f.AMOUNT, "How much, in the supply's unit."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "At which joint."))
    act: str | None = field(default=None, metadata=_of(f.NAME, "By which act."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scrapped(Happening):
    """Pieces that came out were thrown away."""

    name: ClassVar[str] = "scrapped"
    any_of: ClassVar[tuple[str, ...]] = ("joint", "piece")
    count: int = field(metadata=_of(f.COUNT, "How many."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "Where they came from."))
    piece: str | None = field(
        default=None, metadata=_of(PIECE_KEY, "Kind; left out: the joint's own.")
    )
    reason: str | None = field(default=None, metadata=_of(f.TEXT, "Why."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost(Happening):
    """Pieces that came out are gone. Inside the machine or not, searched for or not."""

    name: ClassVar[str] = "lost"
    any_of: ClassVar[tuple[str, ...]] = ("joint", "piece")
    count: int = field(metadata=_of(f.COUNT, "How many."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "Where they came from."))
    piece: str | None = field(
        default=None, metadata=_of(PIECE_KEY, "Kind; left out: the joint's own.")
    )
    inside: bool | None = field(
        default=None, metadata=_of(f.TRUTH, "Inside the machine; left out: not known.")
    )
    searched: bool = field(default=False, metadata=_of(f.TRUTH, "It has been searched for."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Searched(Happening):
    """A lost piece was searched for (what turned up is an event ``found``)."""

    name: ClassVar[str] = "searched"
    about: str = field(metadata=_of(f.KEY, "Id of the event that says it was lost."))
    where: str | None = field(default=None, metadata=_of(f.TEXT, "Where."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Found(Happening):
    """Pieces turned up: lost ones, or some that belong to no joint (surplus)."""

    name: ClassVar[str] = "found"
    any_of: ClassVar[tuple[str, ...]] = ("joint", "piece", "length_mm")
    count: int = field(metadata=_of(f.COUNT, "How many."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "Where they belong."))
    piece: str | None = field(default=None, metadata=_of(PIECE_KEY, "Kind."))
    length_mm: float | None = field(default=None, metadata=_of(f.LENGTH_MM, "Length, measured."))
    thread: str | None = field(default=None, metadata=_of(f.LINE, "Thread, such as M2."))
    where: str | None = field(default=None, metadata=_of(f.TEXT, "Where they lay."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing(Happening):
    """Pieces were missing when the joint was opened."""

    name: ClassVar[str] = "missing"
    joint: str = field(metadata=_of(f.NAME, "The joint."))
    count: int = field(metadata=_of(f.COUNT, "How many were missing."))


@dataclass(frozen=True, slots=True, kw_only=True)
class CountCorrected(Happening):
    """The device file is wrong about a count: "there are ten"."""

    name: ClassVar[str] = "count_corrected"
    joint: str = field(metadata=_of(f.NAME, "The joint."))
    count: int = field(metadata=_of(f.COUNT, "How many there really are."))


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherKind(Happening):
    """Pieces of a joint are of another kind or length than the device file says."""

    name: ClassVar[str] = "other_kind"
    one_of: ClassVar[tuple[str, ...]] = ("piece", "length_mm")
    joint: str = field(metadata=_of(f.NAME, "The joint."))
    count: int = field(metadata=_of(f.COUNT, "How many of them."))
    piece: str | None = field(default=None, metadata=_of(PIECE_KEY, "What they are."))
    length_mm: float | None = field(default=None, metadata=_of(f.LENGTH_MM, "Length, measured."))
    thread: str | None = field(default=None, metadata=_of(f.LINE, "Thread, such as M2."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Recounted(Happening):
    """The loose pieces were counted."""

    name: ClassVar[str] = "recounted"
    counts: Mapping[str, int] = field(metadata=_of(COUNTS, "Kind of piece to how many lie there."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stripped(Happening):
    """A drive, a thread or its seat is worn out (the piece stays where it is)."""

    name: ClassVar[str] = "stripped"
    joint: str = field(metadata=_of(f.NAME, "The joint."))
    count: int = field(metadata=_of(f.COUNT, "How many."))
    what: str = field(metadata=_of(f.choice_rule("drive", "thread", "seat"), "What is worn out."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken(Happening):
    """Something broke: a clip, a lock, a part."""

    name: ClassVar[str] = "broken"
    any_of: ClassVar[tuple[str, ...]] = ("joint", "part")
    joint: str | None = field(default=None, metadata=_of(f.NAME, "The joint."))
    part: str | None = field(default=None, metadata=_of(f.NAME, "The part."))
    count: int = field(default=1, metadata=_of(f.COUNT, "How many."))
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What broke."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreachable(Happening):
    """A joint can't be opened or closed as the device file says."""

    name: ClassVar[str] = "unreachable"
    joint: str = field(metadata=_of(f.NAME, "The joint."))
    reason: str = field(
        metadata=_of(f.choice_rule("in_the_way", "too_short", "other"), "What is the matter.")
    )
    part: str | None = field(default=None, metadata=_of(f.NAME, "What is in the way."))
    text: str | None = field(default=None, metadata=_of(f.TEXT, "In words."))


# --- parts --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchanged(Happening):
    """A piece was exchanged for a new one."""

    name: ClassVar[str] = "exchanged"
    part: str = field(metadata=_of(f.PIECE, "A part, a spare, or parts joined by +."))
    old_serial: str | None = field(default=None, metadata=_of(f.LINE, "Serial that came out."))
    new_serial: str | None = field(default=None, metadata=_of(f.LINE, "Serial that went in."))
    order_code: str | None = field(default=None, metadata=_of(f.LINE, "Order code."))


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedOver(Happening):
    """The machine's identity was carried over to a new part."""

    name: ClassVar[str] = "carried_over"
    part: str = field(metadata=_of(f.NAME, "The part that now carries it."))
    what: str = field(metadata=_of(f.LINE, "What: serial number, address, licence."))
    value: str | None = field(default=None, metadata=_of(f.LINE, "The value."))


@dataclass(frozen=True, slots=True, kw_only=True)
class PartJudged(Happening):
    """A part turned out to be bad, or a new one was dead on arrival."""

    name: ClassVar[str] = "part_judged"
    part: str = field(metadata=_of(f.NAME, "The part."))
    state: str = field(
        metadata=_of(f.choice_rule("good", "bad", "damaged", "dead_on_arrival"), "How it is.")
    )
    serial: str | None = field(default=None, metadata=_of(f.LINE, "Its serial number."))
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What is wrong with it."))


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine(Happening):
    """How a line of the order stands."""

    name: ClassVar[str] = "part_line"
    any_of: ClassVar[tuple[str, ...]] = ("order_code", "part", "supply", "piece")
    line: str = field(metadata=_of(f.KEY, "Key of the line, ours."))
    state: str = field(
        metadata=_of(
            f.choice_rule(
                "to_order", "ordered", "received", "dead_on_arrival", "fitted", "old_kept", "returned",
                "scrapped",
            ),
            "How it stands.",
        )
    )  # fmt: skip
    count: int = field(default=1, metadata=_of(f.COUNT, "How many."))
    order_code: str | None = field(default=None, metadata=_of(f.LINE, "Order code."))
    part: str | None = field(default=None, metadata=_of(f.PIECE, "A part or a spare."))
    supply: str | None = field(default=None, metadata=_of(f.NAME, "A supply."))
    piece: str | None = field(default=None, metadata=_of(PIECE_KEY, "A kind of fastener."))


# --- power and proof ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerOn(Happening):
    """A powered check begins: the isolating joints are closed, the joints named here stay open.

    The event is itself the confirmation of the hold point that names each open joint and shows the
    hazards; ``by`` in the envelope is who confirmed it.
    """

    name: ClassVar[str] = "power_on"
    functions: tuple[str, ...] = field(default=(), metadata=_of(f.NAMES, "What is to be tried."))
    names: tuple[str, ...] = field(
        default=(), metadata=_of(f.NAMES, "Every joint that stays open while power is on.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerOff(Happening):
    """A powered check ends: power is taken away again, the isolating joints are open."""

    name: ClassVar[str] = "power_off"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked(Happening):
    """A function was tried."""

    name: ClassVar[str] = "checked"
    function: str = field(metadata=_of(f.NAME, "The function."))
    outcome: str = field(
        metadata=_of(f.choice_rule("works", "fails", "not_tried"), "What came out.")
    )
    phase: str = field(
        default="after",
        metadata=_of(
            f.choice_rule("before", "during", "after"),
            "Before opening, on the way (powered check), or at the end.",
        ),
    )
    value: float | None = field(default=None, metadata=_of(f.VALUE, "Measured value."))
    unit: str | None = field(default=None, metadata=_of(f.LINE, "Its unit."))
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What was seen."))


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalCheck(Happening):
    """A check that the device file wants after every job (``final: true``) was made; work after it makes it stale."""

    name: ClassVar[str] = "final_check"
    check: str = field(metadata=_of(f.NAME, "The check."))
    outcome: str = field(
        metadata=_of(f.choice_rule("works", "fails", "not_tried"), "What came out.")
    )
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What was seen."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(Happening):
    """A value was measured."""

    name: ClassVar[str] = "measured"
    quantity: str = field(metadata=_of(f.LINE, "What was measured."))
    value: float = field(metadata=_of(f.VALUE, "The value."))
    unit: str = field(metadata=_of(f.LINE, "Its unit."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "At which joint."))
    function: str | None = field(default=None, metadata=_of(f.NAME, "For which function."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted(Happening):
    """Something worth knowing."""

    name: ClassVar[str] = "noted"
    text: str = field(metadata=_of(f.TEXT, "The note."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "At which joint."))
    part: str | None = field(default=None, metadata=_of(f.NAME, "About which part."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo(Happening):
    """A picture was taken; it lies elsewhere, under the hash of its content."""

    name: ClassVar[str] = "photo"
    sha256: str = field(metadata=_of(f.SHA256, "SHA-256 of the picture, hexadecimal."))
    joint: str | None = field(default=None, metadata=_of(f.NAME, "At which joint."))
    part: str | None = field(default=None, metadata=_of(f.NAME, "Of which part."))
    act: str | None = field(default=None, metadata=_of(f.NAME, "Evidence for which act."))
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What it shows."))


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBack(Happening):
    """An earlier event was a mistake; it stays in the list and counts no more."""

    name: ClassVar[str] = "taken_back"
    about: str = field(metadata=_of(f.KEY, "Id of that event."))
    reason: str | None = field(default=None, metadata=_of(f.TEXT, "Why."))


HAPPENINGS: Mapping[str, type[Happening]] = {
    kind.name: kind
    for kind in (
        Started, TargetAdded, TargetDropped, Opened, Closed, Laid, Turned, ActDone, Confirmed, Waived,
        Renewed, Scrapped, Lost, Searched, Found, Missing, CountCorrected, OtherKind, Recounted,
        Stripped, Broken, Unreachable, Exchanged, CarriedOver, PartJudged, PartLine, PowerOn, PowerOff,
        Checked, FinalCheck, Measured, Noted, Photo, Paused, Resumed, HandedOver, Parked, TakenBack, Finished,
    )
}  # fmt: skip
"""Every happening by its name in JSON."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One happening with its envelope.

    Attributes:
        id: Made by whoever enters it; the same id again is the same event (a resend is harmless).
        what: What happened.
        at_ms: When, by the clock of the screen it was entered on: ms since 1970, UTC.
        stored_ms: When it was stored, by the clock of the machine that keeps the record.
        by: Who.
        run: Key of the job.
        client: Key of the screen; ``sequence`` counts its events, from 0.
        base: How many events of the job that screen knew of.
    """

    id: str = field(metadata=_of(f.KEY, "Key of the event, made by whoever enters it."))
    what: Happening
    at_ms: int | None = field(default=None, metadata=_of(f.MOMENT, "When it was entered."))
    stored_ms: int | None = field(default=None, metadata=_of(f.MOMENT, "When it was stored."))
    by: str | None = field(default=None, metadata=_of(f.LINE, "Who."))
    run: str | None = field(default=None, metadata=_of(f.KEY, "Key of the job."))
    client: str | None = field(default=None, metadata=_of(f.KEY, "Key of the screen."))
    sequence: int | None = field(
        default=None, metadata=_of(f.SEQUENCE, "Number of the event on that screen, from 0.")
    )
    base: int | None = field(
        default=None, metadata=_of(f.SEQUENCE, "How many events of the job the screen knew.")
    )


def json_key(spec: Field[Any]) -> str:
    """The key of a field in JSON: without ``_ms``, since moments are written as text there."""
    return spec.name.removesuffix("_ms")


def rule_of(spec: Field[Any]) -> f.Rule:
    """The rule of a field."""
    rule = spec.metadata["rule"]
    assert isinstance(rule, f.Rule)
    return rule


def envelope_fields() -> tuple[Field[Any], ...]:
    """The fields of the envelope, without the happening itself."""
    return tuple(spec for spec in fields(Event) if spec.name != "what")
