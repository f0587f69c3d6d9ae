"""Proving: the checks that follow from the work, the books, the identity, and the look of a second person."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.gate import role_of
from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.closing import Facts, settle
from lastscrew.bench.depot.events import LookedOver
from lastscrew.bench.language import VOICE
from lastscrew.bench.models import WaitingEvent
from lastscrew.bench.pages.common import who
from lastscrew.bench.pages.entering import enter, job_or_404, key_of_form, line, number, text
from lastscrew.bench.queries.second_looks import lacks_second_look, looks_of
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import Job
from lastscrew.bench.work.second_look import workers
from lastscrew.device.fitting import fit
from lastscrew.device.model import Function
from lastscrew.fasteners.ledger import Hindrance, Ledger, hindrances, ledger_of
from lastscrew.plan.wording import joint_name, listed, part_name
from lastscrew.problems import InputError
from lastscrew.proof.checks import (
    CheckState,
    FinalState,
    because_text,
    checks_of_job,
    final_checks_of_job,
    identities_of,
)
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState, parts_of
from lastscrew.saying import told

OUTCOMES = ("works", "fails", "not_tried")
SHOWN_BELOW = ("check_open", "check_fails", "final_open", "final_fails")


@dataclass(frozen=True, slots=True)
class CheckRow:
    """A check as the page shows it.

    Attributes:
        function, name, how: What is tried and how.
        because: Why, the weightiest reason first.
        before: What came out before opening; empty where nobody said.
        verdict: How it stands.
        value: Last measured value.
        unit, limits: Of what is measured; empty where nothing is.
        open_joints: Joints that must be closed for it and are open.
        is_worse: It worked before and fails now.
        outside: The value lies outside its limits.
        stale: It was tried, and disturbed again since.
        seen: What was seen when it was tried last.
    """

    function: str
    name: str
    how: str
    because: tuple[str, ...]
    before: str
    verdict: str
    value: float | None
    unit: str
    limits: str
    open_joints: str
    is_worse: bool
    outside: bool
    stale: bool
    seen: str


def prove(request: HttpRequest, run: str) -> HttpResponse:
    """Show what is to be proven, and take in what came out."""
    job = job_or_404(run)
    if request.method == "POST":
        action = _ACTIONS.get(request.POST.get("do", ""))
        if action is not None:
            action(request, job)
        return redirect(request.get_full_path() + _next_open(request, job))
    return render(request, "bench/work/prove.html", _context(request, job))


TOP = "#main"
"""Said outright: an address without a place would keep the one that the browser has."""


def _next_open(request: HttpRequest, before: Job) -> str:
    """The place of the next check that is open, once one was said to work; else the page begins at its top."""
    names = {"check": "function", "standing": "check"}
    said = request.POST.get(names.get(request.POST.get("do", ""), ""), "")
    if request.POST.get("outcome") != "works" or not said:
        return TOP
    job = job_or_404(before.run.pk)
    every = [(f"check-{row.function}", row.function, row.verdict) for row in check_rows(job)]
    finals = final_checks_of_job(job.device, job.state)
    every += [(f"standing-{each.check}", each.check, each.verdict) for each in finals]
    works = [key for _place, key, verdict in every if verdict == "works"]
    if said not in works or job.state.version == before.state.version:
        return TOP  # it was not taken, or was outside of its limits: what is said about it stands at the top
    return next((f"#{place}" for place, _key, verdict in every if verdict == "open"), TOP)


def _context(request: HttpRequest, job: Job) -> dict[str, object]:
    state, device = job.state, job.device
    ledger = ledger_of(device, state.log)
    facts = Facts(
        "repaired",
        hazard=job.run.unit.hazard,
        is_split=job.run.is_split,
        waiting_events=WaitingEvent.objects.filter(run=job.run.pk).count(),
        second_look=lacks_second_look(job),
        is_parked=job.run.is_parked,
    )
    rows = check_rows(job)
    finals = final_checks_of_job(device, state)
    every: list[CheckRow | FinalState] = [*rows, *finals]
    settled = settle(facts, device, state)
    return {
        "job": job,
        "run": job.run,
        "unit": job.run.unit,
        "rows": rows,
        "fails": [each for each in every if each.verdict == "fails"],
        "standing": finals,
        "books": [_book(state, ledger, each) for each in hindrances(device, state, ledger)],
        "identities": _identities(job),
        "settled": settled,
        # Checks stand below, each with its buttons: here it is enough to say how many are open.
        "besides": [bar for bar in settled.obstacles if bar.code not in SHOWN_BELOW],
        "untried": sum(each.verdict == "open" for each in every),
        "lacks_look": facts.second_look,
        "looks": looks_of(job.run.pk, job.run.unit_id),
        "workers": listed(workers(state.log)),
        "may_look": settings.CONFIG.is_local or who(request) not in workers(state.log),
        "new_key": new_key,
        "ended": bool(state.outcome),
    }


def check_rows(job: Job) -> tuple[CheckRow, ...]:
    """The checks of a job in the order in which they are best tried."""
    return tuple(_row(job, check) for check in checks_of_job(job.device, job.state))


def _row(job: Job, check: CheckState) -> CheckRow:
    device = fit(job.device, job.state.not_fitted, job.state.fitted)
    key = check.disturbed.function
    function = device.functions.get(key) or Function(key, key)
    before = check.before or str(job.run.unit.checks_before.get(key, ""))
    last = job.state.checks.get((key, "after"))
    needed = [joint for joint in function.needs if joint in job.state.open]
    return CheckRow(
        function=key,
        name=function.name,
        how=function.check,
        because=tuple(because_text(device, each) for each in check.disturbed.because[:3]),
        before=before,
        verdict=check.verdict,
        value=check.value,
        unit=function.measure.unit if function.measure else "",
        limits=limits_of(function),
        open_joints=listed([joint_name(device, joint) for joint in needed]),
        is_worse=before == "works" and check.verdict == "fails",
        outside=check.outside,
        stale=check.stale,
        seen=(last.text or "") if last is not None else "",
    )


def limits_of(function: Function) -> str:
    """The limits of a measured value in words."""
    measure = function.measure
    if measure is None:
        return ""
    words = []
    if measure.low is not None:
        words.append(_("at least %(low)s") % {"low": VOICE.number(measure.low)})
    if measure.high is not None:
        words.append(_("at most %(high)s") % {"high": VOICE.number(measure.high)})
    return ", ".join(words)


@dataclass(frozen=True, slots=True)
class Book:
    """Something in the books that hinders the end, and what can be done about it here.

    ``lost`` is the event of a loss that was not searched for; ``field`` and ``value`` name what a waiver
    would let stand. ``spare``: pieces (``piece``: their kind) lie out of a joint that is closed without them.
    """

    text: str
    lost: str
    joint: str
    field: str
    value: str
    spare: bool
    piece: str


def _book(state: JobState, ledger: Ledger, each: Hindrance) -> Book:
    lost = ""
    # What lies out of an open joint still goes in there.
    spare = each.code == "still_out" and each.joint not in state.open
    if each.code == "lost_unsearched":
        losses = (x.event for x in ledger.losses if x.joint == each.joint and not x.searched)
        lost = next(losses, "")
    field, value = "", ""
    if lost:
        field, value = "about", lost
    elif each.joint is not None:
        field, value = "joint", each.joint
    elif each.kind is not None:
        field, value = "piece", each.kind.key
    piece = each.kind.key if each.kind is not None else ""
    return Book(each.text, lost, each.joint or "", field, value, spare, piece)


@dataclass(frozen=True, slots=True)
class IdentityRow:
    """What an exchanged part asks to be carried over or written down."""

    part: str
    name: str
    carry_over: bool
    is_carried: bool
    write_serial: bool
    old_serial: str
    new_serial: str
    exchange: str


def _identities(job: Job) -> tuple[IdentityRow, ...]:
    last: dict[str, e.Event] = {}
    carried: set[str] = set()
    for event in in_force(job.state.log):
        if isinstance(event.what, e.Exchanged):
            for part in parts_of(job.device, event.what.part):
                last[part] = event
                carried.discard(part)
        elif isinstance(event.what, e.CarriedOver):
            carried.add(event.what.part)
    rows = []
    for identity in identities_of(job.device, last):
        event = last[identity.part]
        assert isinstance(event.what, e.Exchanged)
        rows.append(
            IdentityRow(
                identity.part,
                part_name(job.device, identity.part),
                identity.carry_over,
                identity.part in carried,
                identity.write_serial,
                event.what.old_serial or "",
                event.what.new_serial or "",
                event.id,
            )
        )
    return tuple(rows)


# --- what is entered here ------------------------------------------------------------------------------


def _check(request: HttpRequest, job: Job) -> None:
    """What a check showed, with its value."""
    key = request.POST.get("function", "")
    function = job.device.functions.get(key)
    outcome = request.POST.get("outcome", "")
    if function is None or outcome not in OUTCOMES:
        messages.error(request, _("Choose what came out."))
        return
    try:
        value = number(request, "value")
    except ValueError:
        messages.error(request, _("%(name)s: this is no number.") % {"name": function.name})
        return
    if function.measure is not None and outcome == "works" and value is None:
        text_ = _("%(name)s: write down the value in %(unit)s.")
        messages.error(request, text_ % {"name": function.name, "unit": function.measure.unit})
        return
    unit = function.measure.unit if function.measure and value is not None else None
    said = e.Checked(
        function=key,
        outcome=outcome,
        value=value,
        unit=unit,
        text=text(request, "text") or None,
    )
    enter(request, job.run.pk, [said])


def _standing(request: HttpRequest, job: Job) -> None:
    """What a check showed that closes every job on the device."""
    key, outcome = request.POST.get("check", ""), request.POST.get("outcome", "")
    check = job.device.checks.get(key)
    if check is None or not check.final or outcome not in OUTCOMES:
        messages.error(request, _("Choose what came out."))
        return
    said = e.FinalCheck(check=key, outcome=outcome, text=text(request, "text", 400) or None)
    enter(request, job.run.pk, [said])


def _carry(request: HttpRequest, job: Job) -> None:
    """The machine's identity was carried over."""
    part, what = request.POST.get("part", ""), line(request, "what")
    if part not in job.device.parts or not what:
        messages.error(request, _("Say what was carried over."))
        return
    said = e.CarriedOver(part=part, what=what, value=line(request, "value") or None)
    enter(request, job.run.pk, [said])


def _serial(request: HttpRequest, job: Job) -> None:
    """Serial numbers that were not written down when the part was exchanged."""
    exchange, fresh = request.POST.get("exchange", ""), line(request, "new_serial")
    event = next((each for each in in_force(job.state.log) if each.id == exchange), None)
    if event is None or not isinstance(event.what, e.Exchanged) or not fresh:
        messages.error(request, _("Write down the serial number of the new part."))
        return
    again = e.Exchanged(
        part=event.what.part,
        old_serial=line(request, "old_serial") or event.what.old_serial,
        new_serial=fresh,
        order_code=event.what.order_code,
    )
    back = e.TakenBack(about=exchange, reason="serial numbers added")
    enter(request, job.run.pk, [back, again])


def _searched(request: HttpRequest, job: Job) -> None:
    """A lost piece was searched for, with or without success."""
    about = request.POST.get("about", "")
    loss = next((x for x in ledger_of(job.device, job.state.log).losses if x.event == about), None)
    if loss is None:
        return
    happened: list[e.Happening] = [
        e.Searched(about=about, where=text(request, "where", 400) or None)
    ]
    if request.POST.get("found"):
        happened.append(e.Found(count=loss.count, joint=loss.joint, piece=loss.kind.key))
    enter(request, job.run.pk, happened)


def _scrap(request: HttpRequest, job: Job) -> None:
    """Pieces that are left over, because new ones went in or places stayed empty, are thrown away."""
    joint, piece = request.POST.get("joint", ""), request.POST.get("piece", "")
    for lot in ledger_of(job.device, job.state.log).out:
        if (lot.joint, lot.kind.key) == (joint, piece) and joint not in job.state.open:
            enter(request, job.run.pk, [e.Scrapped(count=lot.count, joint=joint, piece=piece)])


def _waive(request: HttpRequest, job: Job) -> None:
    """A named person lets something stand, with a reason. Only leads may."""
    if role_of(request) != "lead":
        messages.error(request, _("Only a lead may let something stand."))
        return
    field, value = request.POST.get("field", ""), request.POST.get("value", "")
    person, reason = line(request, "person"), text(request, "reason")
    if field not in ("joint", "function", "check", "about", "piece") or not value:
        return
    if not person or not reason:
        messages.error(request, _("A waiver needs a name and a reason."))
        return
    said = e.Waived(
        person=person,
        reason=reason,
        joint=value if field == "joint" else None,
        function=value if field == "function" else None,
        check=value if field == "check" else None,
        about=value if field == "about" else None,
        piece=value if field == "piece" else None,
    )
    enter(request, job.run.pk, [said])


def _look(request: HttpRequest, job: Job) -> None:
    """A second person looked the finished work over."""
    person = line(request, "person") if settings.CONFIG.is_local else ""
    name = (person or who(request)).casefold()
    if name in {each.casefold() for each in workers(job.state.log)}:
        messages.error(request, _("Whoever did the work can’t look it over as well."))
        return
    said = LookedOver(
        job=job.run.pk,
        good=request.POST.get("good") == "1",
        person=person or None,
        text=text(request, "text") or None,
    )
    try:
        add_depot_event(job.run.unit_id, said, by=who(request), key=key_of_form(request))
    except InputError as error:
        messages.error(request, told(error.problems[0].message))


_ACTIONS: dict[str, Callable[[HttpRequest, Job], None]] = {
    "check": _check,
    "standing": _standing,
    "carry": _carry,
    "serial": _serial,
    "searched": _searched,
    "scrap": _scrap,
    "waive": _waive,
    "look": _look,
}

ROUTES = (Route("runs/<str:run>/prove/", prove, "prove", "guest", "technician"),)
