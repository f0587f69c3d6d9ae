"""Depot events: what happens to a unit, a stock or an account outside the work on the machine.

They have the envelope of run events (:mod:`lastscrew.run.events`) and the same strictness. Nothing in
them identifies an owner: name, contact, complaint and photos lie outside and are referred to by id, so that
they can be erased while the events stay as they are.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import ClassVar

from lastscrew.run import fields as f
from lastscrew.run.events import Happening

STOCK_CODE = f.pattern_rule(
    "what is in stock",
    re.compile(r"(code|fastener|supply):[^\x00-\x1f\x7f]{1,80}"),
    "code:AL-210, fastener:m2x5 or supply:compound",
)
LINES = f.many_rule(f.LINE, 100)
HASHES = f.many_rule(f.SHA256, 100)
FUNCTION_WORDS = f.table_rule(f.NAME, f.choice_rule("works", "fails", "not_tried"))


def _of(rule: f.Rule, meaning: str) -> dict[str, object]:
    return {"rule": rule, "meaning": meaning}


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn(Happening):
    """A unit came in. The owner's own data lies outside, under the unit's key."""

    name: ClassVar[str] = "taken_in"
    number: int = field(metadata=_of(f.whole_rule(1, 10**9), "Number of the unit on its label."))
    device: str | None = field(default=None, metadata=_of(f.NAME, "Id of the device, if known."))
    device_words: str | None = field(
        default=None, metadata=_of(f.LINE, "The device in words, where it has no file.")
    )
    serial: str | None = field(default=None, metadata=_of(f.LINE, "Serial number."))
    asset_tag: str | None = field(default=None, metadata=_of(f.LINE, "Number of the owner's own."))
    accessories: tuple[str, ...] = field(default=(), metadata=_of(LINES, "What came with it."))
    seals: str | None = field(default=None, metadata=_of(f.LINE, "State of the seals."))
    condition: str | None = field(default=None, metadata=_of(f.TEXT, "How it looks."))
    may_be_lost: str | None = field(default=None, metadata=_of(f.TEXT, "What may be lost."))
    agreed_by: str | None = field(
        default=None,
        metadata=_of(f.choice_rule("owner", "owner_in_writing", "nobody"), "Who agreed."),
    )
    way_to_test: str | None = field(
        default=None,
        metadata=_of(
            f.choice_rule("guest_account", "start_screen", "own_medium", "owner_present", "none"),
            "How it can be tried without the owner's pass code.",
        ),
    )
    pack: str = field(
        default="unseen",
        metadata=_of(f.choice_rule("sound", "swollen", "damaged", "none", "unseen"), "The pack."),
    )
    liquid: bool = field(default=False, metadata=_of(f.TRUTH, "Liquid got in."))
    dropped: bool = field(default=False, metadata=_of(f.TRUTH, "It fell or was hit."))
    due_ms: int | None = field(default=None, metadata=_of(f.MOMENT, "When it is to be ready."))
    checks: Mapping[str, str] = field(
        default_factory=dict, metadata=_of(FUNCTION_WORDS, "Checks before opening, by function.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Described(Happening):
    """Something about the unit was corrected or added; what is left out stays as it was."""

    name: ClassVar[str] = "described"
    device: str | None = field(default=None, metadata=_of(f.NAME, "Id of the device."))
    serial: str | None = field(default=None, metadata=_of(f.LINE, "Serial number."))
    asset_tag: str | None = field(default=None, metadata=_of(f.LINE, "Number of the owner's own."))
    condition: str | None = field(default=None, metadata=_of(f.TEXT, "How it looks."))
    accessories: tuple[str, ...] | None = field(
        default=None, metadata=_of(LINES, "What came with it.")
    )
    pack: str | None = field(
        default=None,
        metadata=_of(f.choice_rule("sound", "swollen", "damaged", "none", "unseen"), "The pack."),
    )
    liquid: bool | None = field(default=None, metadata=_of(f.TRUTH, "Liquid got in."))
    due_ms: int | None = field(default=None, metadata=_of(f.MOMENT, "When it is to be ready."))
    checks: Mapping[str, str] = field(
        default_factory=dict, metadata=_of(FUNCTION_WORDS, "Checks before opening, by function.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardMet(Happening):
    """A swollen or damaged pack, or liquid: the normal way stops here."""

    name: ClassVar[str] = "hazard_met"
    what: str = field(
        metadata=_of(f.choice_rule("swollen_pack", "damaged_pack", "liquid"), "What.")
    )
    told: str = field(metadata=_of(f.LINE, "Who was told."))
    place: str = field(metadata=_of(f.LINE, "Where it was put."))
    power_off: bool = field(metadata=_of(f.TRUTH, "It is without power and on no charger."))


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardCleared(Happening):
    """A named person says that the unit may go the normal way again."""

    name: ClassVar[str] = "hazard_cleared"
    person: str = field(metadata=_of(f.LINE, "Who answers for it."))
    reason: str = field(metadata=_of(f.TEXT, "What was done."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed(Happening):
    """The unit lies somewhere else now."""

    name: ClassVar[str] = "placed"
    place: str = field(metadata=_of(f.LINE, "Bench, shelf or box."))


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPhoto(Happening):
    """A picture of the unit as it came or went; it lies outside, under the hash of its content."""

    name: ClassVar[str] = "owner_photo"
    sha256: str = field(metadata=_of(f.SHA256, "SHA-256 of the picture."))
    text: str | None = field(default=None, metadata=_of(f.LINE, "What it shows."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Custody(Happening):
    """A disk or another carrier of the owner's data was taken out: where it is and whose it is."""

    name: ClassVar[str] = "custody"
    item: str = field(metadata=_of(f.LINE, "What it is, with its serial."))
    state: str = field(
        metadata=_of(
            f.choice_rule("held", "moved", "returned", "destroyed"), "What was done with it."
        )
    )
    place: str | None = field(default=None, metadata=_of(f.LINE, "Where it lies."))
    person: str = field(metadata=_of(f.LINE, "Who has it or had it done."))


@dataclass(frozen=True, slots=True, kw_only=True)
class SymptomsConfirmed(Happening):
    """A person says which symptoms of the device file the unit shows; the last word counts."""

    name: ClassVar[str] = "symptoms_confirmed"
    shows: tuple[str, ...] = field(default=(), metadata=_of(f.NAMES, "Symptoms that it shows."))
    lacks: tuple[str, ...] = field(
        default=(), metadata=_of(f.NAMES, "Symptoms that were looked for and do not show.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultTried(Happening):
    """A check of the fault finding was made, or a mend tried; evidence that stays with the unit."""

    name: ClassVar[str] = "fault_tried"
    what: str = field(metadata=_of(f.NAME, "Id of the check or mend."))
    outcome: str = field(metadata=_of(f.LINE, "What came out, or the measured value."))
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What was seen."))


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultTakenBack(Happening):
    """A result of the fault finding was doubtful or a mistake; it stays in the list and counts no more."""

    name: ClassVar[str] = "fault_taken_back"
    about: str = field(metadata=_of(f.KEY, "Id of the event."))


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedBack(Happening):
    """The unit left: to its owner, to the store of parts, to the scrap."""

    name: ClassVar[str] = "handed_back"
    outcome: str = field(
        metadata=_of(
            f.choice_rule(
                "repaired", "no_fault_found", "returned_unrepaired", "exchanged", "kept_for_parts",
                "scrapped",
            ),
            "How it ended.",
        )
    )  # fmt: skip
    evidence: str | None = field(
        default=None, metadata=_of(f.TEXT, "Why, where nothing was found.")
    )
    accessories: tuple[str, ...] = field(default=(), metadata=_of(LINES, "What went with it."))
    to: str | None = field(
        default=None, metadata=_of(f.choice_rule("owner", "carrier", "store", "scrap"), "To whom.")
    )
    place: str | None = field(
        default=None, metadata=_of(f.LINE, "Where a machine that was given up is.")
    )
    pack: str | None = field(
        default=None,
        metadata=_of(
            f.choice_rule("out", "unplugged", "connected", "none"), "Its pack, if it was given up."
        ),
    )
    pieces: str | None = field(
        default=None,
        metadata=_of(
            f.choice_rule("thrown_away", "with_it"), "Pieces that lay out, if it was given up."
        ),
    )
    kept: tuple[str, ...] = field(
        default=(), metadata=_of(f.NAMES, "Parts that went into the store.")
    )
    identity: str | None = field(
        default=None, metadata=_of(f.TEXT, "What became of its identity, if it was given up.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerErased(Happening):
    """The owner's name, contact, complaint and photos were erased."""

    name: ClassVar[str] = "owner_erased"
    reason: str = field(metadata=_of(f.choice_rule("asked", "time", "mistake"), "Why."))
    photos: tuple[str, ...] = field(default=(), metadata=_of(HASHES, "Pictures that are gone."))


@dataclass(frozen=True, slots=True, kw_only=True)
class StockCounted(Happening):
    """A stock was counted: so many are there now."""

    name: ClassVar[str] = "stock_counted"
    item: str = field(metadata=_of(STOCK_CODE, "What."))
    count: float = field(metadata=_of(f.AMOUNT, "How much lies there."))
    place: str | None = field(default=None, metadata=_of(f.LINE, "Where."))


@dataclass(frozen=True, slots=True, kw_only=True)
class StockMoved(Happening):
    """Something came into stock or went out of it."""

    name: ClassVar[str] = "stock_moved"
    item: str = field(metadata=_of(STOCK_CODE, "What."))
    change: float = field(metadata=_of(f.VALUE, "How much came (positive) or went (negative)."))
    reason: str = field(
        metadata=_of(f.choice_rule("received", "used", "returned", "lost", "harvested"), "Why.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionPublished(Happening):
    """A revision of a device file is the one for new jobs from now on."""

    name: ClassVar[str] = "revision_published"
    device: str = field(metadata=_of(f.NAME, "Id of the device."))
    revision: str = field(metadata=_of(f.LINE, "Hash of the device file."))
    note: str | None = field(default=None, metadata=_of(f.TEXT, "What changed and why."))


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountChanged(Happening):
    """An account or a token was made, changed or shut."""

    name: ClassVar[str] = "account_changed"
    account: str = field(metadata=_of(f.LINE, "Name of the account or token."))
    what: str = field(
        metadata=_of(
            f.choice_rule("made", "role", "password", "shut", "opened", "token_made", "token_shut"),
            "What.",
        )
    )
    role: str | None = field(
        default=None, metadata=_of(f.choice_rule("technician", "lead", "guest"), "Its role now.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchDecided(Happening):
    """Two screens worked on one job without knowing of each other; a person decided what counts."""

    name: ClassVar[str] = "branch_decided"
    branch: str = field(metadata=_of(f.KEY, "Key of the branch."))
    decision: str = field(metadata=_of(f.choice_rule("taken", "set_aside"), "What became of it."))
    reason: str = field(metadata=_of(f.TEXT, "Why."))


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingGivenUp(Happening):
    """A person no longer waits for what a screen never sent; what came after the gap is decided on as a branch."""

    name: ClassVar[str] = "waiting_given_up"
    job: str = field(metadata=_of(f.KEY, "Key of the job."))
    client: str = field(metadata=_of(f.KEY, "Key of the screen."))
    branch: str = field(metadata=_of(f.KEY, "Key of the branch that holds what came."))
    count: int = field(metadata=_of(f.whole_rule(1, 10**6), "How many entries waited."))
    missing: int | None = field(
        default=None, metadata=_of(f.SEQUENCE, "Number of the first entry that never came.")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedOver(Happening):
    """A second person looked the finished work of a job over."""

    name: ClassVar[str] = "looked_over"
    job: str = field(metadata=_of(f.KEY, "Key of the job."))
    good: bool = field(metadata=_of(f.TRUTH, "They found it good."))
    person: str | None = field(
        default=None, metadata=_of(f.LINE, "Who looked; left out: who entered it.")
    )
    text: str | None = field(default=None, metadata=_of(f.TEXT, "What they saw."))


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleChanged(Happening):
    """A rule of the depot is another one from now on."""

    name: ClassVar[str] = "rule_changed"
    rule: str = field(
        metadata=_of(
            f.choice_rule("second_check_share", "erase_after_days", "labour_rate"), "Which rule."
        )
    )
    value: float = field(metadata=_of(f.AMOUNT, "Its value now."))


HAPPENINGS: Mapping[str, type[Happening]] = {
    kind.name: kind
    for kind in (
        TakenIn, Described, HazardMet, HazardCleared, Placed, OwnerPhoto, Custody, SymptomsConfirmed,
        FaultTried, FaultTakenBack, HandedBack, OwnerErased,
        StockCounted, StockMoved, RevisionPublished, AccountChanged, BranchDecided, WaitingGivenUp,
        LookedOver, RuleChanged,
    )
}  # fmt: skip
"""Every depot event by its name in JSON."""
