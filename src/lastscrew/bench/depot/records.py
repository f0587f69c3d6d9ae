"""The record of a job: what was found, done, renewed and proven, by whom and when, and the account of every screw.

Pure: a device, how the job stands and its events in; lines to be shown out. Page and paper show the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from lastscrew.bench.depot.event_words import say
from lastscrew.bench.depot.running import moment_of
from lastscrew.bench.language import VOICE
from lastscrew.device.model import Device, Function
from lastscrew.fasteners.ledger import KindAccount, ledger_of
from lastscrew.fasteners.pieces import kind_text
from lastscrew.plan.wording import joint_name, piece_name, unit_name
from lastscrew.proof.checks import because_text, checks_of_job, final_checks_of_job, is_outside
from lastscrew.run import events as r
from lastscrew.run.events import Event
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState
from lastscrew.saying import joined

FINDINGS = (
    r.Missing, r.CountCorrected, r.OtherKind, r.Stripped, r.Broken, r.Unreachable, r.PartJudged, r.Lost,
    r.Found, r.Searched, r.Noted, r.Measured,
)  # fmt: skip
"""What tells something about the machine that was not known before."""


@dataclass(frozen=True, slots=True)
class Line:
    """A sentence, when, and who."""

    text: str
    at_ms: int
    by: str


@dataclass(frozen=True, slots=True)
class Opening:
    """A joint that was opened: how many pieces, how often, and how it was left.

    Attributes:
        name: Its name.
        times: How often it was opened.
        left: ``closed``, ``open``, ``renewed`` (came closed inside an exchanged piece) or ``waived``.
        new, left_empty: Pieces at its last closing.
    """

    name: str
    times: int
    left: str
    new: int = 0
    left_empty: int = 0


@dataclass(frozen=True, slots=True)
class Renewal:
    """A part that was exchanged, or a supply that was used."""

    name: str
    old_serial: str = ""
    new_serial: str = ""
    order_code: str = ""
    amount: str = ""


@dataclass(frozen=True, slots=True)
class Proven:
    """A check: before opening, afterwards, with its value and limits and why it was tried.

    ``failed``: when it was tried before that and failed, with what was measured and seen.
    """

    name: str
    before: str
    after: str
    value: str = ""
    limits: str = ""
    why: str = ""
    by: str = ""
    at_ms: int = 0
    seen: str = ""
    failed: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class Account:
    """The account of one kind of piece."""

    name: str
    account: KindAccount


@dataclass(frozen=True, slots=True)
class Waiver:
    """What a named person lets stand."""

    what: str
    person: str
    reason: str


@dataclass(frozen=True, slots=True)
class Hand:
    """Somebody who worked on it: from when to when, and how many entries."""

    name: str
    first_ms: int
    last_ms: int
    entries: int


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo and what it shows."""

    sha256: str
    text: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class JobRecord:
    """The record of one job.

    Attributes:
        device: Name of the device and the revision that the job keeps.
        asked: What was to be exchanged or reached.
        found, opened, acts, renewed, supplies, carried, proven, accounts, waivers, hands, pictures: As
            their types say.
        losses: Pieces that stay lost.
        started_ms, ended_ms: First and last entry.
        remarks: Entries that did not fit, as the fold of the job tells them.
    """

    device: str
    revision: str
    asked: tuple[str, ...]
    found: tuple[Line, ...]
    opened: tuple[Opening, ...]
    acts: tuple[Line, ...]
    renewed: tuple[Renewal, ...]
    supplies: tuple[Renewal, ...]
    carried: tuple[Line, ...]
    proven: tuple[Proven, ...]
    accounts: tuple[Account, ...]
    losses: tuple[str, ...]
    waivers: tuple[Waiver, ...]
    hands: tuple[Hand, ...]
    pictures: tuple[Picture, ...]
    started_ms: int
    ended_ms: int
    remarks: tuple[str, ...] = ()


def record_of(
    device: Device, state: JobState, before: Mapping[str, str] | None = None
) -> JobRecord:
    """The record of a job.

    Args:
        device: The whole device, of the revision that the job keeps.
        state: How the job stands; its log is what happened.
        before: Checks at taking in, by function (those of the job itself count more).
    """
    events = in_force(state.log)
    ledger = ledger_of(device, state.log)
    moments = [moment_of(event) for event in events if moment_of(event)]
    return JobRecord(
        device=device.name,
        revision=device.revision_hash,
        asked=(
            *(piece_name(device, piece) for piece in state.replace),
            *(joint_name(device, joint) for joint in state.reach),
        ),
        found=_lines(device, events, FINDINGS),
        opened=_openings(device, state, events),
        acts=_acts(device, state, events),
        renewed=tuple(_exchange(device, exchange) for exchange in state.exchanged),
        supplies=_supplies(device, events),
        carried=_lines(device, events, (r.CarriedOver,)),
        proven=_proven(device, state, events, before or {}),
        accounts=tuple(Account(kind_text(device, a.kind), a) for a in ledger.kinds),
        losses=tuple(
            joined(" × ", (str(loss.count), kind_text(device, loss.kind))) for loss in ledger.losses
        ),
        waivers=tuple(_waiver(device, waived) for waived in state.waivers),
        hands=_hands(events),
        pictures=tuple(
            Picture(event.what.sha256, event.what.text or "", moment_of(event))
            for event in events
            if isinstance(event.what, r.Photo)
        ),
        started_ms=min(moments, default=0),
        ended_ms=max(moments, default=0),
        remarks=tuple(remark.text for remark in state.remarks),
    )


def _lines(
    device: Device, events: Iterable[Event], kinds: tuple[type[r.Happening], ...]
) -> tuple[Line, ...]:
    return tuple(
        Line(say(event.what, device), moment_of(event), event.by or "")
        for event in events
        if isinstance(event.what, kinds)
    )


def _acts(device: Device, state: JobState, events: Sequence[Event]) -> tuple[Line, ...]:
    """Acts that were done and hold points that were confirmed; an act that was both is told once."""
    done = set(state.acts_done)
    told = [
        event
        for event in events
        if not (isinstance(event.what, r.Confirmed) and event.what.act in done)
    ]
    return _lines(device, told, (r.ActDone, r.Confirmed))


def _openings(device: Device, state: JobState, events: Sequence[Event]) -> tuple[Opening, ...]:
    times: dict[str, int] = dict.fromkeys(state.opened, 0)
    last: dict[str, r.Closed] = {}
    fresh: Counter[str] = Counter()
    # Told twice (two screens told it, and both histories count), it was opened once all the same.
    again = {remark.event for remark in state.remarks if remark.code == "already_open"}
    for event in events:
        if isinstance(event.what, r.Opened):
            if event.id in again:
                continue
            times[event.what.joint] = times.get(event.what.joint, 0) + 1
        elif isinstance(event.what, r.Closed):
            last[event.what.joint] = event.what
            # New ones stay new, however often the joint was opened again; empty is what is empty now.
            fresh[event.what.joint] += event.what.new or 0
    found = []
    for joint, count in times.items():
        closing = last.get(joint)
        found.append(
            Opening(
                joint_name(device, joint),
                count,
                _left(state, joint),
                fresh[joint],
                (closing.left_empty or 0) if closing else 0,
            )
        )
    return tuple(found)


def _left(state: JobState, joint: str) -> str:
    if joint in state.open:
        return "waived" if joint in state.waived_joints else "open"
    return "renewed" if joint in state.renewed_joints else "closed"


def _exchange(device: Device, exchange: r.Exchanged) -> Renewal:
    part = device.parts.get(exchange.part) or device.spares.get(exchange.part)
    return Renewal(
        piece_name(device, exchange.part),
        exchange.old_serial or "",
        exchange.new_serial or "",
        exchange.order_code or (part.order_code if part is not None else None) or "",
    )


def _supplies(device: Device, events: Iterable[Event]) -> tuple[Renewal, ...]:
    amounts: dict[str, float] = {}
    for event in events:
        if isinstance(event.what, r.Renewed):
            key = event.what.supply
            amounts[key] = amounts.get(key, 0.0) + event.what.amount
    found = []
    for key, amount in amounts.items():
        supply = device.supplies.get(key)
        unit = supply.unit if supply else ""
        code = supply.order_code if supply else None
        name = supply.name if supply else key.replace("_", " ")
        found.append(
            Renewal(
                name,
                order_code=code or "",
                amount=_amount(amount, unit),
            )
        )
    return tuple(found)


def _amount(amount: float, unit: str) -> str:
    # Pieces are counted: what is counted is said before.
    return joined(" ", filter(None, (f"{amount:g}", "×" if unit == "piece" else unit_name(unit))))


def _proven(
    device: Device, state: JobState, events: Sequence[Event], before: Mapping[str, str]
) -> tuple[Proven, ...]:
    tried = {
        event.what.function: event
        for event in events
        if isinstance(event.what, r.Checked) and event.what.phase == "after"
    }
    found = []
    for check in checks_of_job(device, state):
        name = check.disturbed.function
        function, event = device.functions.get(name), tried.get(name)
        earlier = [
            each
            for each in events
            if isinstance(each.what, r.Checked)
            and (each.what.function, each.what.phase) == (name, "after")
            and (each is not event or check.stale)
            and (each.what.outcome == "fails" or is_outside(function, each.what))
        ]
        found.append(
            Proven(
                function.name if function else name,
                check.before or before.get(name, ""),
                check.verdict,
                _value(check.value, function),
                _limits(function),
                joined("; ", (because_text(device, b) for b in check.disturbed.because[:2])),
                (event.by or "") if event else "",
                moment_of(event) if event else 0,
                (event.what.text or "") if event and isinstance(event.what, r.Checked) else "",
                _lines(device, earlier, (r.Checked,)),
            )
        )
    return (*found, *_final(device, state, events))


def _final(device: Device, state: JobState, events: Sequence[Event]) -> Iterator[Proven]:
    """The checks that close every job on the device."""
    tried = {event.what.check: event for event in events if isinstance(event.what, r.FinalCheck)}
    for check in final_checks_of_job(device, state):
        event = tried.get(check.check) if check.verdict != "open" else None
        by, at_ms = (event.by or "", moment_of(event)) if event else ("", 0)
        seen = (event.what.text or "") if event and isinstance(event.what, r.FinalCheck) else ""
        why = _("after every job on this device")
        last = tried.get(check.check)
        earlier = [
            each
            for each in events
            if isinstance(each.what, r.FinalCheck)
            and (each.what.check, each.what.outcome) == (check.check, "fails")
            and (each is not last or event is None)
        ]
        failed = _lines(device, earlier, (r.FinalCheck,))
        yield Proven(
            check.name, "", check.verdict, why=why, by=by, at_ms=at_ms, seen=seen, failed=failed
        )


def _value(value: float | None, function: Function | None) -> str:
    if value is None:
        return ""
    unit = function.measure.unit if function and function.measure else ""
    return f"{VOICE.number(value)} {unit}".strip()


def _limits(function: Function | None) -> str:
    measure = function.measure if function else None
    if measure is None:
        return ""
    if measure.low is not None and measure.high is not None:
        low, high = VOICE.number(measure.low), VOICE.number(measure.high)
        return f"{low} – {high} {measure.unit}".strip()
    if measure.low is not None:
        return f"≥ {VOICE.number(measure.low)} {measure.unit}".strip()
    if measure.high is not None:
        return f"≤ {VOICE.number(measure.high)} {measure.unit}".strip()
    return ""


def _waiver(device: Device, waived: r.Waived) -> Waiver:
    if waived.joint is not None:
        what = joint_name(device, waived.joint)
    elif waived.function is not None:
        function = device.functions.get(waived.function)
        what = function.name if function else waived.function
    elif waived.check is not None:
        check = device.checks.get(waived.check)
        what = check.name if check else waived.check
    else:
        what = waived.piece or waived.about or ""
    return Waiver(what, waived.person, waived.reason)


def _hands(events: Iterable[Event]) -> tuple[Hand, ...]:
    found: dict[str, Hand] = {}
    for event in events:
        name, at = event.by or "", moment_of(event)
        if not name:
            continue
        old = found.get(name)
        if old is None:
            found[name] = Hand(name, at, at, 1)
        else:
            found[name] = Hand(name, min(old.first_ms, at), max(old.last_ms, at), old.entries + 1)
    return tuple(sorted(found.values(), key=lambda hand: (hand.first_ms, hand.name)))
