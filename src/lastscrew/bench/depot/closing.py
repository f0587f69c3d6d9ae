"""May a unit leave? Everything that stands in the way, by how the job ends.

The rules of the ledger and of the proof are those of :mod:`lastscrew.fasteners.ledger` and
:mod:`lastscrew.proof.checks`; here is which of them count for which ending, and what the depot adds.
A machine that leaves whole (repaired, no fault found, returned unrepaired) must be closed, balanced and
proven. One that is given up need be neither: there it is asked where everything is
(:mod:`lastscrew.bench.depot.giving_up`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from django.utils.translation import gettext as _

from lastscrew.bench.depot.event_words import LINE_WORDS
from lastscrew.bench.depot.giving_up import Left, Told, missing
from lastscrew.bench.depot.taking_in import HAZARD_WORDS
from lastscrew.device.model import Device
from lastscrew.fasteners.ledger import Hindrance, hindrances, ledger_of
from lastscrew.plan.briefing import brief
from lastscrew.plan.model import DEFAULT_RATE_PER_H, Plan, Request, StopRule
from lastscrew.plan.planner import MS_PER_HOUR, plan
from lastscrew.proof.checks import OpenProof, checks_of_job, open_proofs
from lastscrew.run.events import Waived
from lastscrew.run.state import JobState, request_from
from lastscrew.times.ranges import TimeRange

OUTCOMES = (
    "repaired", "no_fault_found", "returned_unrepaired", "exchanged", "kept_for_parts", "scrapped",
)  # fmt: skip
LEAVES_WHOLE = frozenset({"repaired", "no_fault_found", "returned_unrepaired"})
MAY_LEAVE_WITH_HAZARD = frozenset({"scrapped", "exchanged"})
"""A swollen pack goes to where such packs are collected, and the owner may have another machine for it."""

MOST_STATES = 50_000
"""States that the planner may look at for the way out: a page waits for no more."""

UNSETTLED_LINES = frozenset({"ordered", "received"})

Remedy = Literal["work", "prove", "histories", "unit", "here", "plan", "below"]


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something that must be settled before the unit leaves.

    Attributes:
        code: Short stable name.
        text: One sentence; names are set off by ``*``.
        remedy: Where it is settled: at work, when proving, on the page of two histories, on the unit's page,
            in the form itself, by planning, or where it is said what is given up.
        waiver: Field and value of a waiver that would let it stand; empty where nobody may.
    """

    code: str
    text: str
    remedy: Remedy
    waiver: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Facts:
    """What the depot knows of a unit that wants to leave.

    Attributes:
        outcome: How it ends.
        evidence: Why, where no fault was found.
        hazard: What stops the normal way; empty for nothing.
        custody: Carriers of data that were taken out: item, state.
        is_split: Two histories of the job wait for a decision.
        waiting_events: Entries of a screen that wait for an earlier one.
        lines: Lines of the order: (what, state).
        second_look: A second person must look at it and has not.
        is_parked: It waits.
        left: What is left of a machine that is given up; None where it is not, or was never opened.
        told: What a person says about that.
    """

    outcome: str
    evidence: str = ""
    hazard: str = ""
    custody: Sequence[Mapping[str, str]] = ()
    is_split: bool = False
    waiting_events: int = 0
    lines: Sequence[tuple[str, str]] = ()
    second_look: bool = False
    is_parked: bool = False
    left: Left | None = None
    told: Told = field(default_factory=Told)


@dataclass(frozen=True, slots=True)
class Settled:
    """What is open, and what would have to be waived to let all of it stand."""

    obstacles: tuple[Obstacle, ...] = ()
    waivers: tuple[tuple[str, str], ...] = field(default=())

    @property
    def may_leave(self) -> bool:
        """True when nothing stands in the way."""
        return not self.obstacles


def settle(facts: Facts, device: Device | None = None, state: JobState | None = None) -> Settled:
    """Everything that stands in the way of leaving.

    Args:
        facts: What the depot knows.
        device: The device by the revision of the job; None where nothing was opened.
        state: How the job stands.
    """
    found = [*_of_the_depot(facts), *_of_evidence(facts, device, state)]
    if device is not None and state is not None:
        every = hindrances(device, state, ledger_of(device, state.log))
        if facts.left is not None:
            # What lies where is asked of it as a whole; but a piece from nowhere may be another machine's.
            every = tuple(each for each in every if each.code in ("check_on", "surplus"))
            found += [
                Obstacle(one.code, one.message, "below") for one in missing(facts.left, facts.told)
            ]
        found += [_from_ledger(each, state) for each in every]
        if facts.outcome in LEAVES_WHOLE:
            found += _from_proof(facts, device, state)
    waivers = tuple(dict.fromkeys(o.waiver for o in found if o.waiver[0]))
    return Settled(tuple(found), waivers)


def _of_the_depot(facts: Facts) -> list[Obstacle]:
    found = []
    if facts.hazard and facts.outcome not in MAY_LEAVE_WITH_HAZARD:
        name = HAZARD_WORDS.get(facts.hazard, facts.hazard)
        text = _("It is set apart because of a hazard: %(hazard)s. A lead has not cleared it.")
        found.append(Obstacle("hazard", text % {"hazard": name}, "unit"))
    if facts.is_split:
        text = _("Two screens worked on it; which history counts has not been decided.")
        found.append(Obstacle("split", text, "histories"))
    if facts.waiting_events:
        text = _(
            "Entries of another screen wait for earlier ones of that screen that are not here yet."
        )
        found.append(Obstacle("waiting", text, "work"))
    if facts.is_parked and facts.left is None:
        found.append(Obstacle("parked", _("It is put aside: go on with it first."), "work"))
    for item in facts.custody:
        if item.get("state") in ("held", "moved"):
            text = _("*%(item)s* was taken out and is neither returned nor destroyed.")
            found.append(Obstacle("custody", text % {"item": item.get("item", "")}, "unit"))
    for what, state in facts.lines if facts.left is None else ():
        if state in UNSETTLED_LINES:
            text = _("*%(what)s* is %(state)s: neither fitted nor sent back.")
            found.append(
                Obstacle("part_line", text % {"what": what, "state": LINE_WORDS[state]}, "work")
            )
    if facts.second_look:
        text = _("A second person must look at this work, and has not yet.")
        found.append(Obstacle("second_look", text, "prove"))
    return found


def _of_evidence(facts: Facts, device: Device | None, state: JobState | None) -> list[Obstacle]:
    if facts.outcome == "no_fault_found":
        found = []
        if not facts.evidence.strip():
            text = _("Nothing says why no fault was found: what was tried, how long, with what.")
            found.append(Obstacle("no_evidence", text, "here"))
        if state is not None and state.exchanged:
            text = _("Something was exchanged: then it was repaired, or the old part goes back in.")
            found.append(Obstacle("exchanged", text, "here"))
        return found
    if facts.outcome != "repaired":
        return []
    if state is None or device is None:
        text = _("No work is recorded: a repair without work is “no fault found”.")
        return [Obstacle("no_work", text, "plan")]
    rest = request_from(device, state)
    return [
        Obstacle(
            "target",
            _("Not yet exchanged: *%(piece)s*.") % {"piece": _piece(device, piece)},
            "work",
        )
        for piece in rest.replace
    ]


def _piece(device: Device, piece: str) -> str:
    part = device.parts.get(piece) or device.spares.get(piece)
    return part.name if part is not None else piece


def _from_ledger(hindrance: Hindrance, state: JobState) -> Obstacle:
    waiver = ("", "")
    if hindrance.joint is not None and hindrance.code in (
        "open_joint",
        "unbalanced_joint",
        "still_out",
    ):
        waiver = ("joint", hindrance.joint)
    elif hindrance.kind is not None:
        waiver = ("piece", hindrance.kind.key)
    # What no step of the work settles is settled where the books are shown, beside the checks.
    is_left_over = hindrance.code == "still_out" and hindrance.joint not in state.open
    in_the_books = is_left_over or hindrance.code in ("lost_unsearched", "surplus")
    remedy: Remedy = "prove" if in_the_books else "work"
    return Obstacle(hindrance.code, hindrance.text, remedy, waiver)


def _from_proof(facts: Facts, device: Device, state: JobState) -> list[Obstacle]:
    """Checks that are open or fail. What failed before and still does is no bar to giving it back unrepaired."""
    failed_before = {
        check.disturbed.function
        for check in checks_of_job(device, state)
        if check.verdict == "fails" and check.before == "fails"
    }
    return [
        _of_proof(proof)
        for proof in open_proofs(device, state)
        if facts.outcome != "returned_unrepaired"
        or not (
            # A machine that is given back unrepaired need not pass; it must have been tried.
            proof.code == "final_fails"
            or (proof.code == "check_fails" and proof.function in failed_before)
        )
    ]


def _of_proof(proof: OpenProof) -> Obstacle:
    waiver = ("", "")
    if proof.function:
        waiver = ("function", proof.function)
    elif proof.check:
        waiver = ("check", proof.check)
    return Obstacle(proof.code, proof.text, "prove", waiver)


def waivers_for(settled: Settled, person: str, reason: str) -> tuple[Waived, ...]:
    """One waiver for each thing that may be let stand, by one person with one reason."""
    return tuple(
        Waived(person=person, reason=reason, **{name: value}) for name, value in settled.waivers
    )


# --- the way out, planned and priced from where it stands ----------------------------------------


@dataclass(frozen=True, slots=True)
class WayOut:
    """What it still takes to close a machine that is given back as it came.

    Attributes:
        plan: The way out from here.
        time: Hands-on time as a range.
        low, high: Price of that time, in the currency of the rate.
        rate_per_h: Labour rate that it is reckoned with.
    """

    plan: Plan
    time: TimeRange
    low: float
    high: float
    rate_per_h: float


def way_out(
    device: Device, state: JobState, rate_per_h: float = DEFAULT_RATE_PER_H
) -> WayOut | None:
    """The way out from where a job stands, without exchanging anything more; None when all is closed."""
    if not state.open:
        return None
    asked = request_from(device, state, Request(rate_per_h=rate_per_h))
    request = Request(
        opened=asked.opened,
        side=asked.side,
        not_fitted=asked.not_fitted,
        fitted=asked.fitted,
        without=asked.without,
        rate_per_h=rate_per_h,
    )
    made = plan(device, request, StopRule(work=MOST_STATES))
    time = brief(device, made).timing.total
    low, high = (ms / MS_PER_HOUR * rate_per_h for ms in (time.low_ms, time.high_ms))
    return WayOut(made, time, low, high, rate_per_h)
