"""The table of everything that a device file may say: sections, keys, types, defaults, meaning.

One table for the validator, the JSON Schema and the reference page. A new optional key does not
raise ``FORMAT``; a changed meaning does.
"""

from __future__ import annotations

from typing import Final

from lastscrew.device.diagnosis import EVENTS, MEND_KINDS, NO_EVENT
from lastscrew.device.model import (
    DEFAULT_SWAP_MS,
    DEFAULT_TURN_MS,
    KINDS,
    POWERED_KINDS,
    RIGID_KINDS,
    SIGNALS,
)
from lastscrew.device.types import (
    NOUNS,
    Choice,
    Either,
    Entries,
    Flag,
    Identifier,
    Key,
    Likely,
    ListOf,
    MapOf,
    Number,
    Pair,
    Record,
    Ref,
    Seconds,
    Text,
    Whole,
)

FORMAT: Final = 1
DEFAULT_SIDES: Final = ("top",)
"""Sides where the file lists none."""

_NAME = Text(line=True, filled=True)
_LINE = Text(line=True)
_CODE = Text(line=True, numbers=True)
_TEXT = Text()
_SENTENCE = Text(filled=True)
_PRICE = Number(0, 1_000_000_000)
_LENGTH = Number(0, 1_000, above=True)
_TORQUE = Number(0, 100_000, above=True)
_AMOUNT = Number(0, 1_000_000, above=True)
_LIMIT = Number(-1_000_000_000_000, 1_000_000_000_000)
_POINTS = Pair(-10_000, 10_000)
_SIZE = Pair(0, 10_000, above=True)
_COUNT = Whole(1, 999)
_CHANCE = Number(0, 1)
_RENEW = MapOf(Ref(("supplies",)), _AMOUNT)


def _refs(*sections: str, at_least: int = 0, or_one: bool = False) -> ListOf:
    return ListOf(Ref(sections), at_least=at_least, or_one=or_one)


_NAMED = Key("name", _NAME, "What people call it.", default="made from the id")
_ORDER_CODE = Key("order_code", _CODE, "What to order it by.")
_PRICED = Key("price", _PRICE, "Price of one, in the currency that you use throughout.")
_WAS = Key("was", Identifier(), "The id that it had in an earlier revision.")
_IF_FITTED = Key(
    "if_fitted",
    Ref(("options",)),
    "It is only there in units that have this option.",
    default="always there",
)
SOURCES = Key("sources", MapOf(_NAME, _TEXT), "Where values come from: the key, and a text.")


def _entry(*keys: Key, was: bool = True) -> Record:
    return Record((*keys, *([_WAS] if was else []), SOURCES), entry=True)


ACCESS_KEYS: Final = (
    Key("side", Ref(("sides",)), "The side that faces up.", default="the first side", unknown=True),
    Key(
        "tool", Ref(("tools",), hand=True), "The tool that opens it.", default="none", unknown=True
    ),
    Key("under", _refs("parts"), "Parts that must be out of the way.", default="nothing"),
    Key("close_tool", Ref(("tools",), hand=True), "The tool that closes it.", default="as tool"),
)
"""Keys of an access that may stand on the joint itself where there is only one access."""
_TIME_KEYS = (
    Key(
        "open_s",
        Seconds(),
        "Seconds to open all of it.",
        default="from the time tables",
        unknown=True,
    ),
    Key(
        "close_s",
        Seconds(),
        "Seconds to close all of it.",
        default="from the time tables",
        unknown=True,
    ),
)
ACCESS: Final = _entry(
    *ACCESS_KEYS,
    Key(
        "open_s",
        Seconds(),
        "Seconds to open all of it this way.",
        default="the joint's",
        unknown=True,
    ),
    Key(
        "close_s",
        Seconds(),
        "Seconds to close all of it this way.",
        default="the joint's",
        unknown=True,
    ),
    was=False,
)

DEVICE: Final = _entry(
    Key(
        "id",
        Identifier(),
        "Short name of the model, kept across revisions.",
        default="made from the name",
    ),
    Key("name", _NAME, "What people call the model.", required=True),
    Key("kind", _LINE, "What kind of thing it is, in your own words."),
    Key("revision", _CODE, "Your own mark for this state of the description."),
    Key(
        "frame_mm",
        Either((_SIZE, MapOf(Ref(("sides",)), _SIZE))),
        "Width and height of each side, from its lower left corner; positions and outlines lie in it. "
        "One pair serves all sides.",
    ),
    Key("note", _TEXT, "Anything else."),
)

TOOL = _entry(
    _NAMED,
    Key("fits", ListOf(_NAME), "Screw drives that it fits."),
    Key(
        "swap_s",
        Seconds(),
        "Seconds to take it up in place of another.",
        default=f"{DEFAULT_SWAP_MS / 1000:g} (our own figure)",
    ),
)
FASTENER = _entry(
    Key("thread", _LINE, "Thread, such as M2."),
    Key("length_mm", _LENGTH, "Length, in millimetres."),
    Key("drive", _LINE, "Recess, such as PH1."),
    Key("head", _LINE, "Shape of the head."),
    Key("finish", _LINE, "Colour or coating."),
    Key("torque_ncm", _TORQUE, "Tightening torque, in newton-centimetres."),
    _ORDER_CODE,
    _PRICED,
)
SUPPLY = _entry(
    _NAMED,
    Key("unit", _LINE, "What amounts are counted in: g, ml, piece, mm."),
    _ORDER_CODE,
    _PRICED,
)
HAZARD = _entry(
    Key(
        "signal",
        Choice(SIGNALS),
        "Signal word, as ANSI Z535 and ISO 3864 define them.",
        required=True,
    ),
    Key("text", _SENTENCE, "What is dangerous and what to do about it.", required=True),
)
MEASURE = Record(
    (
        Key("unit", _NAME, "Unit of the value.", required=True),
        Key("low", _LIMIT, "Least good value.", default="no limit"),
        Key("high", _LIMIT, "Greatest good value.", default="no limit"),
    )
)
FUNCTION = _entry(
    _NAMED,
    Key("check", _TEXT, "How to try it, as an instruction."),
    Key("check_s", Seconds(), "Seconds that the check takes.", default="0"),
    Key("measure", MEASURE, "A value to measure, with its limits."),
    Key("needs", _refs("joints"), "Joints that must be closed to try it.", default="nothing"),
)
OPTION = _entry(
    _NAMED,
    Key("fitted", Flag(), "Whether most units have it.", default="true"),
)
PART = _entry(
    _NAMED,
    Key("fixed", Flag(), "It stays on the bench; exactly one part does.", default="false"),
    _ORDER_CODE,
    _PRICED,
    Key("serial", Flag(), "It has a serial number to record.", default="false"),
    Key(
        "identity",
        Flag(),
        "It carries the machine's identity, which must go over to a new one.",
        default="false",
    ),
    Key("energy", Flag(), "It stores energy: every joint that names it is live.", default="false"),
    Key("functions", _refs("functions"), "Functions to try after it was exchanged."),
    Key(
        "hazards",
        _refs("hazards"),
        "Hazards at every step whose joint names it, and at the step that uncovers it.",
    ),
    Key("loses", ListOf(_NAME, or_one=True), "What would be lost (clock, keys, settings)."),
    _IF_FITTED,
    Key(
        "outline_mm",
        ListOf(_POINTS, at_least=3, distinct=False),
        "Corners of its outline, in millimetres.",
    ),
    Key("note", _TEXT, "Anything else."),
)
SPARE = _entry(
    _NAMED,
    Key(
        "contains",
        _refs("parts", at_least=1),
        "Parts that are exchanged as one piece.",
        required=True,
    ),
    _ORDER_CODE,
    _PRICED,
    Key(
        "includes",
        _refs("supplies", "fasteners"),
        "Supplies and fasteners that come with it and need not be ordered.",
    ),
)
JOINT = _entry(
    Key("kind", Choice(KINDS), "What it is.", required=True),
    Key("joins", _refs("parts", at_least=2), "Parts that it holds together.", required=True),
    Key(
        "access",
        ListOf(ACCESS, at_least=1, distinct=False),
        "Several ways to reach it, where there is more than one.",
    ),
    *ACCESS_KEYS,
    Key("after", _refs("joints"), "Joints that must be open before it.", default="nothing"),
    Key(
        "powered",
        Either((Flag(), Choice(("shutdown",)))),
        "Whether power can be on it; shutdown: may be opened live after a shut-down with the mains off, "
        "behind a hold point.",
        default=f"true for {', '.join(POWERED_KINDS)}, else false",
    ),
    Key("isolates", Flag(), "Opening it takes the power away.", default="false"),
    Key(
        "rigid",
        Flag(),
        "Whether it holds its parts in place; a ribbon too short to lay the part aside does.",
        default=f"true for {', '.join(RIGID_KINDS)}; false for the other kinds; `other` must say",
    ),
    Key("fastener", Ref(("fasteners",)), "Kind of fastener.", unknown=True),
    Key("count", _COUNT, "How many fasteners, clips or places.", default="1", unknown=True),
    Key("captive", Flag(), "The fasteners stay in the part.", default="false"),
    Key("loosen_only", Flag(), "Loosened, not taken out.", default="false"),
    Key("with", MapOf(_NAME, _COUNT), "Washers, sleeves and the like that come out with it."),
    Key(
        "positions_mm",
        ListOf(_POINTS, at_least=1, distinct=False),
        "Where each one sits, in millimetres, as many as count.",
    ),
    Key("order", Choice(("any", "numbered", "crosswise")), "Order of tightening.", default="any"),
    Key("group", _NAME, "Joints with the same group are tightened in one order."),
    Key(
        "torque_ncm",
        _TORQUE,
        "Tightening torque here, in newton-centimetres.",
        default="the fastener's",
    ),
    Key("into", Choice(("metal", "insert", "plastic")), "What the thread is cut into."),
    Key("max_length_mm", _LENGTH, "Longest fastener that does no harm here, in millimetres."),
    Key(
        "reuse",
        Choice(("reusable", "single_use", "inspect")),
        "single_use: a new one whenever it was opened; inspect: a hold point, renewed if damaged.",
        default="reusable",
    ),
    Key("renew", _RENEW, "Supplies used up when it is closed again."),
    *_TIME_KEYS,
    Key("wait_open_s", Seconds(), "Seconds to wait before it opens (heat, solvent).", default="0"),
    Key(
        "wait_close_s", Seconds(), "Seconds to wait after it is closed (cure, drying).", default="0"
    ),
    Key(
        "damage",
        MapOf(Ref(("parts",)), _CHANCE),
        "Chance that opening or closing it damages a part.",
    ),
    Key("hold_by", Choice(("hand", "jig", "second_person")), "What must hold the part meanwhile."),
    Key("functions", _refs("functions"), "Functions to try after it was opened."),
    Key("hazards", _refs("hazards"), "Hazards at its opening and closing."),
    Key("loses", ListOf(_NAME, or_one=True), "What would be lost by opening it."),
    Key("hold", _SENTENCE, "Text of a hold point: a person confirms before it goes on."),
    Key("prove_before_close", _refs("functions"), "Functions to try before it is closed."),
    Key("note_open", _TEXT, "A note for opening it."),
    Key("note_close", _TEXT, "A note for closing it."),
    _IF_FITTED,
)
ACT = _entry(
    Key("text", _SENTENCE, "What to do.", required=True),
    Key(
        "at",
        Choice(
            ("start", "before_open", "after_open", "before_close", "after_close", "turning", "end")
        ),
        "When: at the start, around the opening or closing of a joint, at the turning point, at the end.",
        required=True,
    ),
    Key("joint", Ref(("joints",)), "The joint whose step it belongs to."),
    Key(
        "when_replaced",
        _refs("parts", "spares", or_one=True),
        "Only when one of these is exchanged.",
        default="always",
    ),
    Key(
        "when_opened",
        _refs("joints", or_one=True),
        "Only when one of these was opened.",
        default="always",
    ),
    Key("seconds", Seconds(), "Seconds of work.", default="0"),
    Key("wait_s", Seconds(), "Seconds to wait.", default="0"),
    Key("tool", Ref(("tools",), hand=True), "The tool for it.", default="none"),
    Key("renew", _RENEW, "Supplies that it uses up."),
    Key("hold", Either((Flag(only=True), _SENTENCE)), "A hold point: true, or its text."),
    Key("evidence", ListOf(Choice(("photo", "value")), or_one=True), "What to record."),
)

_OPEN_AND_CLOSED = (
    Key("open", _refs("joints"), "Joints that must be open for it.", default="none"),
    Key("closed", _refs("joints"), "Joints that must be closed for it.", default="none"),
    Key(
        "power",
        Choice(("on", "off")),
        "on: what isolates is closed, and only joints that it names may be open; off: what isolates is open.",
        default="does not matter; on for a swap test",
    ),
)
SYMPTOM = _entry(
    _NAMED,
    Key("words", ListOf(_NAME), "Words and phrases of owners that mean it."),
    Key(
        "leak",
        Likely(),
        "Chance that it shows without any fault that is said to show it.",
        default="0.002 (our own figure)",
    ),
    Key(
        "event",
        Choice((*EVENTS, NO_EVENT)),
        "What has happened to the device; then several faults at once are likely. none: its words tell of nothing, "
        "here and in a complaint.",
        default="found by its words",
    ),
)
HARM = Record(
    (
        Key("chance", _CHANCE, "Chance that the check spoils something.", required=True),
        Key("price", _PRICE, "Price of what is spoiled.", default="0"),
        Key("seconds", Seconds(), "Seconds of work to make it good.", default="0"),
    )
)
LIMITS = Record(
    (
        Key("unit", _NAME, "Unit of the value.", required=True),
        Key("low", _LIMIT, "Least good value; below it the outcome is `low`."),
        Key("high", _LIMIT, "Greatest good value; above it the outcome is `high`."),
    )
)
CHECK = _entry(
    _NAMED,
    Key("check", _TEXT, "What to do, as an instruction."),
    Key("check_s", Seconds(), "Seconds that it takes, without opening and closing.", default="0"),
    Key("measure", LIMITS, "A value to measure, with at least one limit."),
    Key(
        "outcomes",
        ListOf(Identifier(), at_least=2),
        "What can come of it, mildest first; the first is what a sound device shows.",
        default="[good, bad]; with a measure good, low, high as far as there are limits",
    ),
    *_OPEN_AND_CLOSED,
    Key(
        "may_be_open",
        _refs("joints"),
        "Joints that may stay open while power is on, beside those under open.",
        default="none",
    ),
    Key("tool", Ref(("tools",)), "The tool that it needs."),
    Key("instrument", _LINE, "The instrument that it needs."),
    Key(
        "swap_test",
        Ref(("parts",)),
        "A known-good one of this part is hung on its cable, and power is put on; it needs one in stock.",
    ),
    Key("harm", HARM, "What the check itself can spoil."),
    Key(
        "leak",
        Either((Likely(), MapOf(_NAME, Likely()))),
        "Chance of the outcomes other than the first in a sound device.",
        default="0.01 each (our own figure)",
    ),
    Key(
        "final",
        Flag(),
        "It is the device's own check: only its first outcome proves that the device works.",
        default="false; without any, all functions are tried in turn",
    ),
    Key("hazards", _refs("hazards"), "Hazards to show before it."),
)
MEND = Record(
    (
        Key("do", Choice(MEND_KINDS), "What is done.", required=True),
        Key("name", _NAME, "What people call it.", default="made from what is done to what"),
        Key("part", Ref(("parts", "spares")), "What it is done to.", default="the fault's part"),
        Key("joint", Ref(("joints",)), "What it is done to.", default="the fault's joint"),
        Key(
            "success",
            Likely(),
            "Chance that the fault is gone after it.",
            default="0.98 exchange, 0.9 reseat, 0.7 others (our own figures)",
        ),
        Key(
            "seconds",
            Seconds(),
            "Seconds of work beside opening and closing.",
            default="exchange 30, reseat 5, clean 60, update 300, adjust 60 (our own figures)",
        ),
        Key("price", _PRICE, "Price of what it uses.", default="the part's where one is exchanged"),
        Key("text", _TEXT, "What to do, as an instruction."),
        *_OPEN_AND_CLOSED,
    ),
    entry=True,
)
_OUTCOMES_OF_FAULT = MapOf(Ref(("checks", "functions")), Either((Likely(), MapOf(_NAME, Likely()))))
FAULT = _entry(
    _NAMED,
    Key("part", Ref(("parts",)), "The part at fault."),
    Key("joint", Ref(("joints",)), "The joint at fault: not seated, torn, worn."),
    Key(
        "prior",
        Likely(high=1_000_000_000, above=True),
        "How frequent it is beside the other faults: a count, a share, or a word.",
        default="1",
    ),
    Key("symptoms", MapOf(Ref(("symptoms",)), Likely()), "Chance that it shows each symptom."),
    Key(
        "checks",
        _OUTCOMES_OF_FAULT,
        "Chance of the outcome of a check that is not its first, or of each outcome by name.",
    ),
    Key(
        "mends",
        ListOf(MEND, at_least=1, distinct=False),
        "What can cure it.",
        default="exchange its part, or reseat its joint",
    ),
    Key("note", _TEXT, "Anything else."),
)


def _section(name: str, help_text: str, record: Record, *, required: bool = False) -> Key:
    return Key(name, Entries(record, NOUNS[name]), help_text, required=required)


SECTIONS: Final = (
    _section("tools", "What the work is done with.", TOOL),
    _section("fasteners", "Kinds of fastener, by their dimensions.", FASTENER),
    _section("supplies", "What is used up.", SUPPLY),
    _section("hazards", "Cautions, shown where they bite.", HAZARD),
    _section("functions", "What the machine does, and how to try it.", FUNCTION),
    _section("options", "What some units have and others lack.", OPTION),
    _section("parts", "Pieces that come off in one piece.", PART, required=True),
    _section("spares", "Parts that are exchanged as one piece.", SPARE),
    _section(
        "joints", "What holds parts together, opened and closed as one.", JOINT, required=True
    ),
    _section("acts", "Work that is no joint.", ACT),
    _section("symptoms", "What a faulty device shows and its owner tells.", SYMPTOM),
    _section("checks", "Tests that tell faults apart, beyond those of functions.", CHECK),
    _section("faults", "What can be wrong, what it shows, and what cures it.", FAULT),
)
"""Top-level sections that map ids to entries."""

_TURN_DEFAULT = f"{DEFAULT_TURN_MS / 1000:g} (our own figure)"
TOP: Final = Record(
    (
        Key("format", Whole(FORMAT, FORMAT), "Version of this format.", required=True),
        Key("device", DEVICE, "What this is a model of.", required=True),
        Key(
            "sides",
            ListOf(Identifier(), at_least=1),
            "Working positions; the first is how it lies at the start and at the end.",
            default="[top]",
        ),
        Key(
            "turn_s",
            Seconds(),
            "Seconds to turn it from any side to any other.",
            default=_TURN_DEFAULT,
        ),
        *SECTIONS,
    )
)
"""The whole file."""
