"""The table of sentences: how each key of a device file is said, and by the same row how it is read.

A row gives the sentence of one key. In it ``{ref}`` stands for something that is named, ``{text}`` for a
text in quotes, ``{number}`` for a number, ``{word}`` for one of the key's words. A row with a ``value``
is the sentence of that value alone. A key that lists several things is said once for each.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from lastscrew.device.keys import ACCESS, DEVICE, MEASURE, SECTIONS, TOP
from lastscrew.device.types import (
    HAND_WORD,
    UNKNOWN_WORD,
    Choice,
    Either,
    Entries,
    Key,
    ListOf,
    MapOf,
    Record,
    Ref,
    Type,
)

Place = Literal["any", "first", "more"]


@dataclass(frozen=True, slots=True)
class Saying:
    """One row.

    Attributes:
        record: Section, or ``top``, ``device``, ``access``, ``measure``.
        key: The key, as in a device file.
        text: The sentence with its slots.
        value: The value that the sentence says; None where its slots say it.
        place: For lists: whether it says the first items, or those after them.
    """

    record: str
    key: str
    text: str
    value: str | bool | None = None
    place: Place = "any"


LEFT_OUT: Final = frozenset(
    ["positions_mm", "outline_mm", "frame_mm", "order_code", "price", "sources", "format"]
)
"""Keys that no sentence says: what a drawing, a parts list or a note on the source is for."""

LEFT_OUT_SECTIONS: Final = frozenset(["faults", "symptoms", "checks"])
"""Sections of fault finding, which has texts of its own."""

TOLD_SECTIONS: Final = tuple(
    section for section in SECTIONS if section.name not in LEFT_OUT_SECTIONS
)
"""Sections whose entries are told."""


def _ways(record: str, *, act: bool = False) -> list[Saying]:
    """Tool and side of a joint or of one access."""
    rows = [
        Saying(
            record, "tool", "Use no tool for it." if act else "Open it with no tool.", HAND_WORD
        ),
        Saying(record, "tool", "Use {ref} for it." if act else "Open it with {ref}."),
    ]
    if act:
        return rows
    return [
        *rows,
        Saying(record, "tool", "The tool that opens it is not known.", UNKNOWN_WORD),
        Saying(record, "close_tool", "Close it with no tool.", HAND_WORD),
        Saying(record, "close_tool", "Close it with {ref}."),
        Saying(record, "side", "The side from which to work on it is not known.", UNKNOWN_WORD),
        Saying(record, "side", "Work on it with the {ref} side up."),
        Saying(record, "under", "{ref} must be out of the way."),
        Saying(record, "open_s", "The time to open it is not known.", UNKNOWN_WORD),
        Saying(record, "open_s", "To open all of it takes {number} seconds."),
        Saying(record, "close_s", "The time to close it is not known.", UNKNOWN_WORD),
        Saying(record, "close_s", "To close all of it takes {number} seconds."),
    ]


SAYINGS: Final[tuple[Saying, ...]] = (
    Saying("top", "sides", "At the start and at the end, the {text} side is up.", place="first"),
    Saying("top", "sides", "The machine can also lie with its {text} side up.", place="more"),
    Saying("top", "turn_s", "To turn the machine takes {number} seconds."),
    Saying("device", "name", "The machine is {text}."),
    Saying("device", "id", "The mark of the machine is {text}."),
    Saying("device", "kind", "It is a machine of the kind {text}."),
    Saying("device", "revision", "This is revision {text} of its description."),
    Saying("device", "was", "In an earlier revision, the mark of the machine was {text}."),
    Saying("device", "note", "A note about the machine: {text}."),
    Saying("tools", "fits", "It fits the drive {text}."),
    Saying("tools", "swap_s", "To take it up takes {number} seconds."),
    Saying("fasteners", "thread", "Its thread is {text}."),
    Saying("fasteners", "length_mm", "It is {number} mm long."),
    Saying("fasteners", "drive", "Its drive is {text}."),
    Saying("fasteners", "head", "Its head is {text}."),
    Saying("fasteners", "finish", "Its finish is {text}."),
    Saying("fasteners", "torque_ncm", "Its tightening torque is {number} N·cm."),
    Saying("supplies", "unit", "One unit of it is one {text}."),
    Saying("hazards", "signal", "Its signal word is {word}."),
    Saying("hazards", "text", "It says: {text}."),
    Saying("functions", "check", "To try it: {text}."),
    Saying("functions", "check_s", "To try it takes {number} seconds."),
    Saying("functions", "measure", "Measure a value."),
    Saying("functions", "needs", "To try it, {ref} must be closed."),
    Saying("measure", "unit", "The unit of the value is {text}."),
    Saying("measure", "low", "The least good value is {number}."),
    Saying("measure", "high", "The greatest good value is {number}."),
    Saying("options", "fitted", "Most units have it.", value=True),
    Saying("options", "fitted", "Most units do not have it.", value=False),
    Saying("parts", "fixed", "It stays on the bench.", value=True),
    Saying("parts", "fixed", "It does not stay on the bench.", value=False),
    Saying("parts", "serial", "It has a serial number to record.", value=True),
    Saying("parts", "serial", "It has no serial number to record.", value=False),
    Saying("parts", "identity", "It carries the identity of the machine.", value=True),
    Saying("parts", "identity", "It does not carry the identity of the machine.", value=False),
    Saying("parts", "energy", "It stores energy.", value=True),
    Saying("parts", "energy", "It stores no energy.", value=False),
    Saying("parts", "functions", "After an exchange of it, try {ref}."),
    Saying("parts", "hazards", "The caution {ref} applies to it."),
    Saying("parts", "loses", "Without it, this is lost: {text}."),
    Saying("parts", "note", "A note about it: {text}."),
    Saying("spares", "contains", "It contains {ref}."),
    Saying("spares", "includes", "{ref} comes with it."),
    Saying("joints", "kind", "Its kind is {word}."),
    Saying("joints", "joins", "It holds together {ref} and {ref}.", place="first"),
    Saying("joints", "joins", "It also holds {ref}.", place="more"),
    *_ways("joints"),
    Saying("joints", "after", "First open {ref}."),
    Saying("joints", "powered", "Power can be on it.", value=True),
    Saying("joints", "powered", "Power is never on it.", value=False),
    Saying(
        "joints", "powered", "It may be opened after a shutdown with the mains off.", "shutdown"
    ),
    Saying("joints", "isolates", "It takes the power away.", value=True),
    Saying("joints", "isolates", "It does not take the power away.", value=False),
    Saying("joints", "rigid", "It holds its parts in place.", value=True),
    Saying("joints", "rigid", "It does not hold its parts in place.", value=False),
    Saying("joints", "fastener", "Its kind of fastener is not known.", UNKNOWN_WORD),
    Saying("joints", "fastener", "Its fastener is {ref}."),
    Saying("joints", "count", "The number of its pieces is not known.", UNKNOWN_WORD),
    Saying("joints", "count", "The number of its pieces is {number}."),
    Saying("joints", "captive", "Its fasteners are captive.", value=True),
    Saying("joints", "captive", "Its fasteners are not captive.", value=False),
    Saying("joints", "loosen_only", "Its fasteners are only loosened.", value=True),
    Saying("joints", "loosen_only", "Its fasteners are taken out.", value=False),
    Saying("joints", "with", "{number} of {text} come out with it."),
    Saying("joints", "order", "Its fasteners are tightened in any order.", "any"),
    Saying(
        "joints", "order", "Its fasteners are tightened in the order of their numbers.", "numbered"
    ),
    Saying("joints", "order", "Its fasteners are tightened crosswise.", "crosswise"),
    Saying("joints", "group", "It is tightened together with the group {text}."),
    Saying("joints", "torque_ncm", "The tightening torque here is {number} N·cm."),
    Saying("joints", "into", "Its thread is cut into {word}."),
    Saying("joints", "max_length_mm", "No fastener longer than {number} mm may go in here."),
    Saying("joints", "reuse", "It can be used again.", "reusable"),
    Saying("joints", "reuse", "It is used only once.", "single_use"),
    Saying("joints", "reuse", "Before it is used again, it is examined for damage.", "inspect"),
    Saying("joints", "renew", "To close it uses {number} units of {ref}."),
    Saying("joints", "wait_open_s", "Before it opens, wait {number} seconds."),
    Saying("joints", "wait_close_s", "After it is closed, wait {number} seconds."),
    Saying("joints", "damage", "The chance that work on it damages {ref} is {number}."),
    Saying("joints", "hold_by", "Meanwhile, a hand holds the part.", "hand"),
    Saying("joints", "hold_by", "Meanwhile, a jig holds the part.", "jig"),
    Saying("joints", "hold_by", "Meanwhile, a second person holds the part.", "second_person"),
    Saying("joints", "functions", "After it was open, try {ref}."),
    Saying("joints", "hazards", "The caution {ref} applies to it."),
    Saying("joints", "loses", "When it is opened, this is lost: {text}."),
    Saying("joints", "hold", "Go on only after a person confirms this: {text}."),
    Saying("joints", "prove_before_close", "Before it is closed, try {ref}."),
    Saying("joints", "note_open", "A note about its opening: {text}."),
    Saying("joints", "note_close", "A note about its closing: {text}."),
    *_ways("access"),
    Saying("acts", "text", "Do this: {text}."),
    Saying("acts", "at", "The time for it is the start of the work.", "start"),
    Saying("acts", "at", "The time for it is before the opening of the joint.", "before_open"),
    Saying("acts", "at", "The time for it is after the opening of the joint.", "after_open"),
    Saying("acts", "at", "The time for it is before the closing of the joint.", "before_close"),
    Saying("acts", "at", "The time for it is after the closing of the joint.", "after_close"),
    Saying("acts", "at", "The time for it is when everything is open.", "turning"),
    Saying("acts", "at", "The time for it is the end of the work.", "end"),
    Saying("acts", "joint", "The joint of it is {ref}."),
    Saying("acts", "when_replaced", "It applies when {ref} is exchanged."),
    Saying("acts", "when_opened", "It applies when {ref} was opened."),
    Saying("acts", "seconds", "To do it takes {number} seconds."),
    Saying("acts", "wait_s", "After it, wait {number} seconds."),
    *_ways("acts", act=True),
    Saying("acts", "renew", "To do it uses {number} units of {ref}."),
    Saying("acts", "hold", "Go on only after a person confirms it.", value=True),
    Saying("acts", "hold", "Go on only after a person confirms this: {text}."),
    Saying("acts", "evidence", "Record it with a {word}."),
    *(
        Saying(section, "if_fitted", "It is only there in units with {ref}.")
        for section in ("parts", "joints")
    ),
    *(
        Saying(section.name, "was", "In an earlier revision, its mark was {text}.")
        for section in TOLD_SECTIONS
    ),
)

INTRODUCTION: Final = "The {noun} {name} has the mark {id}."
"""First sentence about every entry."""
WAY: Final = "This is way {number} to it."
"""First sentence about each of several accesses."""
HEADING: Final = "How this machine is held together"
LEAD: Final = "This chapter tells everything about the machine in sentences of one form."
HINT: Final = "A computer or a person can make the description of the machine from them."
LOSSES: Final = "It does not tell positions, order codes, prices, sources, or fault finding."
END: Final = "This is the end of the chapter."
FRAME: Final = (LEAD, HINT, LOSSES, END)


@cache
def records() -> dict[str, Record]:
    """The record of keys behind every ``record`` of the table."""
    found = {
        "top": Record(tuple(key for key in TOP.keys if not isinstance(key.type, Entries | Record))),
        "device": DEVICE,
        "access": ACCESS,
        "measure": MEASURE,
    }
    for section in TOLD_SECTIONS:
        assert isinstance(section.type, Entries)
        found[section.name] = section.type.record
    return found


@cache
def sayings_of(record: str) -> dict[str, tuple[Saying, ...]]:
    """Rows of a record by key."""
    found: dict[str, list[Saying]] = {}
    for row in SAYINGS:
        if row.record == record:
            found.setdefault(row.key, []).append(row)
    return {key: tuple(rows) for key, rows in found.items()}


def key_of(record: str, key: str) -> Key:
    """The key of a row in the table of keys."""
    return records()[record].by_name[key]


def _inside(of: Type) -> Iterator[Type]:
    yield of
    if isinstance(of, ListOf):
        yield from _inside(of.item)
    elif isinstance(of, MapOf):
        yield from _inside(of.key)
        yield from _inside(of.value)
    elif isinstance(of, Either):
        for option in of.options:
            yield from _inside(option)


def sections_named(of: Type) -> tuple[str, ...]:
    """Sections whose entries a value of this type can name."""
    return tuple(name for kind in _inside(of) if isinstance(kind, Ref) for name in kind.sections)


def words_of(of: Type) -> tuple[str, ...]:
    """Words that a value of this type can be."""
    return tuple(word for kind in _inside(of) if isinstance(kind, Choice) for word in kind.words)
