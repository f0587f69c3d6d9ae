"""Handing back: how it ends, what still stands in the way, and the last event of a unit's stay."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from lastscrew.bench.access.gate import role_of
from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.closing import (
    LEAVES_WHOLE,
    OUTCOMES,
    Facts,
    Settled,
    WayOut,
    settle,
    waivers_for,
    way_out,
)
from lastscrew.bench.depot.event_words import OUTCOME_WORDS, PACK_LEFT_WORDS, PIECES_WORDS
from lastscrew.bench.depot.events import HandedBack
from lastscrew.bench.depot.giving_up import (
    GIVEN_UP,
    OPEN_LINES,
    Left,
    LinePart,
    Told,
    into_store,
    job_ends,
    kept_of,
    left_of,
)
from lastscrew.bench.depot.reading_forms import happening_of, one_line, some_lines
from lastscrew.bench.models import PartLineState, Run, Unit, WaitingEvent
from lastscrew.bench.pages.common import who
from lastscrew.bench.queries.overview import name_of_line, v_of
from lastscrew.bench.queries.second_looks import lacks_second_look
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import Job, load_job
from lastscrew.bench.store.leaving import BarredError, let_leave
from lastscrew.bench.store.rules import depot_rules
from lastscrew.bench.work.course import course_of
from lastscrew.bench.work.needs import closing_of, lines_of_job
from lastscrew.fasteners.ledger import ledger_of
from lastscrew.plan.model import DEFAULT_RATE_PER_H
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Happening, Waived

TO_WORDS = {
    "owner": gettext_lazy("the owner"),
    "carrier": gettext_lazy("a carrier"),
    "store": gettext_lazy("the store of parts"),
    "scrap": gettext_lazy("the scrap"),
}
USUAL_TO = {"kept_for_parts": "store", "scrapped": "scrap"}


def hand_back(request: HttpRequest, key: str) -> HttpResponse:
    """Hand a unit back, or say what stands in the way."""
    unit = get_object_or_404(Unit, pk=key)
    if unit.gone_ms is not None:
        return redirect("record", key=key)
    if request.method == "POST" and request.POST.get("do") == "hand_back":
        return _hand_back(request, unit)
    return _page(request, unit, _form(request, unit), ())


def hand_back_run(_request: HttpRequest, key: str) -> HttpResponse:
    """The same by the key of the job."""
    return redirect("hand_back", key=get_object_or_404(Run, pk=key).unit_id)


def _form(request: HttpRequest, unit: Unit) -> dict[str, str]:
    asked = request.POST if request.method == "POST" else request.GET
    form = {name: value for name, value in asked.items() if isinstance(value, str)}
    form["kept"] = ",".join(asked.getlist("kept"))[:4000]
    if form.get("outcome") not in OUTCOMES:
        form["outcome"] = _likeliest(unit)
    return form


def _likeliest(unit: Unit) -> str:
    if unit.hazard:
        return "scrapped"
    return "repaired" if unit.run else "no_fault_found"


def _job(unit: Unit) -> Job | None:
    return load_job(unit.run) if unit.run else None


def _facts(unit: Unit, job: Job | None, form: dict[str, str]) -> Facts:
    """What the depot knows of a unit that wants to leave, as things stand now."""
    outcome = form["outcome"]
    evidence = some_lines(form.get("evidence", ""))
    custody = [{str(k): str(v) for k, v in item.items()} for item in unit.custody]
    if job is None:
        return Facts(outcome, evidence, unit.hazard, custody)
    lines = PartLineState.objects.filter(run=job.run).order_by("line")
    left = _left(unit, job) if outcome in GIVEN_UP and not job.run.outcome else None
    return Facts(
        outcome,
        evidence,
        unit.hazard,
        custody,
        is_split=job.run.is_split,
        waiting_events=WaitingEvent.objects.filter(run=job.run.key).count(),
        lines=[
            (name_of_line(job.run.revision, line.what) or line.order_code, line.state)
            for line in lines
        ],
        second_look=outcome in LEAVES_WHOLE and lacks_second_look(job),
        is_parked=job.run.is_parked,
        left=left,
        told=_told(form),
    )


def _left(unit: Unit, job: Job) -> Left:
    """What is left of a machine that is given up."""
    device, state = job.device, job.state
    ledger = ledger_of(device, state.log)
    rows = lines_of_job(device, course_of(device, state), state, ledger)
    lines = [
        LinePart(row.what, row.state, closing_of(row))
        for row in rows
        if row.state in OPEN_LINES and not row.is_old
    ]
    return left_of(device, state, ledger, lines, hazard=bool(unit.hazard))


def _told(form: dict[str, str]) -> Told:
    return Told(
        place=one_line(form.get("place", ""))[:200],
        pack=form.get("pack", ""),
        pieces=form.get("pieces", ""),
        kept=tuple(part for part in form.get("kept", "").split(",") if part),
        closes_lines=form.get("lines") == "1",
        identity=some_lines(form.get("identity", "")),
    )


def _settled(unit: Unit, job: Job | None, form: dict[str, str]) -> Settled:
    facts = _facts(unit, job, form)
    if job is None:
        return settle(facts)
    return settle(facts, job.device, job.state)


def _hand_back(request: HttpRequest, unit: Unit) -> HttpResponse:
    form = _form(request, unit)
    what, problems = happening_of(
        HandedBack,
        {
            "outcome": form["outcome"],
            "evidence": some_lines(form.get("evidence", "")),
            "accessories": [
                one_line(item) for item in request.POST.getlist("accessories") if one_line(item)
            ],
            "to": form.get("to", ""),
            **_given_up(_facts(unit, _job(unit), form)),
        },
    )
    waivers: tuple[Waived, ...] = ()
    if form.get("let_stand") == "1":
        settled = _settled(unit, _job(unit), form)
        person, reason = one_line(form.get("person", "")), some_lines(form.get("reason", ""))
        problems += _problems_of_waiving(request, person, reason)
        waivers = waivers_for(settled, person, reason) if not problems else ()
    key = form.get("key", "")
    if len(key) != 32 or not key.isalnum():
        key = new_key()
    if what is None or problems:
        return _page(request, unit, form, tuple(problems), status=422)
    try:
        let_leave(
            unit.pk,
            unit.run,
            what,
            waivers,
            lambda job: [o.text for o in _settled(_as_now(unit), job, form).obstacles],
            by=who(request),
            key=key,
            follows=lambda job: _follows(_as_now(unit), job, form),
        )
    except BarredError:
        return _page(request, _as_now(unit), form, (), status=422)
    except InputError as error:
        return _page(request, _as_now(unit), form, error.problems, status=422)
    messages.success(request, _("%(unit)s is handed back.") % {"unit": unit})
    return redirect("record", key=unit.pk)


def _given_up(facts: Facts) -> dict[str, object]:
    """What the event says of a machine that was given up."""
    if facts.outcome not in GIVEN_UP:
        return {}
    told, left = facts.told, facts.left or Left()
    return {
        "place": told.place,
        "pack": told.pack,
        "pieces": told.pieces,
        "kept": [spare.part for spare in kept_of(left, told)],
        "identity": told.identity,
    }


def _follows(
    unit: Unit, job: Job | None, form: dict[str, str]
) -> tuple[list[Happening], list[Happening]]:
    """What giving the machine up tells its job and the store."""
    facts = _facts(unit, job, form)
    if facts.left is None:
        return [], []
    ends = job_ends(facts.left, facts.told, is_parked=facts.is_parked)
    return list(ends), list(into_store(facts.left, facts.told))


def _as_now(unit: Unit) -> Unit:
    """The unit as it stands at this moment: another screen may have changed it."""
    return Unit.objects.get(pk=unit.pk)


def _problems_of_waiving(request: HttpRequest, person: str, reason: str) -> list[Problem]:
    if role_of(request) != "lead":
        return [Problem(_("Only a lead lets something stand."), _("Ask a lead."), code="not_lead")]
    if person and reason:
        return []
    return [
        Problem(
            _("Whoever lets something stand gives a name and a reason."),
            _("Fill in both."),
            "person",
            code="no_reason",
        )
    ]


def _page(
    request: HttpRequest,
    unit: Unit,
    form: dict[str, str],
    problems: tuple[Problem, ...],
    status: int = 200,
) -> HttpResponse:
    job = _job(unit)
    settled = _settled(unit, job, form)
    facts = _facts(unit, job, form)
    left, told = facts.left, facts.told
    context: dict[str, Any] = {
        "unit": unit,
        "v": v_of(unit),
        "run": job.run if job is not None else None,
        "outcome": form["outcome"],
        "outcomes": OUTCOME_WORDS,
        "settled": settled,
        # What the form itself answers is no bar to filling it in.
        "obstacles": [o for o in settled.obstacles if o.remedy not in ("here", "below")],
        "here": [o for o in settled.obstacles if o.remedy == "here"],
        "below": [o for o in settled.obstacles if o.remedy == "below"],
        "gives_up": form["outcome"] in GIVEN_UP,
        "left": left,
        "told": told,
        "pack_now": told.pack or (left.pack_is if left is not None else ""),
        "packs": PACK_LEFT_WORDS,
        "pieces": PIECES_WORDS,
        "way": _way_out(job, form["outcome"]),
        "form": form,
        "problems": problems,
        "tos": TO_WORDS,
        "usual_to": USUAL_TO.get(form["outcome"], "owner"),
        "key": new_key(),
        "was_sent": request.method == "POST" and request.POST.get("do") == "hand_back",
    }
    return render(request, "bench/hand_back/hand_back.html", context, status=status)


def _way_out(job: Job | None, outcome: str) -> WayOut | None:
    """What it takes to close it, where it is given back as it came."""
    if job is None or outcome != "returned_unrepaired":
        return None
    try:
        return way_out(job.device, job.state, depot_rules().labour_rate or DEFAULT_RATE_PER_H)
    except InputError:
        return None


ROUTES = (
    Route("units/<str:key>/hand-back/", hand_back, "hand_back", "technician", "technician"),
    Route("runs/<str:key>/hand-back/", hand_back_run, "hand_back_run", "technician", "lead"),
)
