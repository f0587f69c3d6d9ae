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
from lastscrew.bench.depot.event_words import OUTCOME_WORDS
from lastscrew.bench.depot.events import HandedBack
from lastscrew.bench.depot.reading_forms import happening_of, one_line, some_lines
from lastscrew.bench.models import PartLineState, Run, Unit, WaitingEvent
from lastscrew.bench.pages.common import who
from lastscrew.bench.queries.overview import name_of_line, v_of
from lastscrew.bench.queries.second_looks import lacks_second_look
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import Job, load_job
from lastscrew.bench.store.leaving import BarredError, let_leave
from lastscrew.bench.store.rules import depot_rules
from lastscrew.plan.model import DEFAULT_RATE_PER_H
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Waived

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
        )
    except BarredError:
        return _page(request, _as_now(unit), form, (), status=422)
    except InputError as error:
        return _page(request, _as_now(unit), form, error.problems, status=422)
    messages.success(request, _("%(unit)s is handed back.") % {"unit": unit})
    return redirect("record", key=unit.pk)


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
    context: dict[str, Any] = {
        "unit": unit,
        "v": v_of(unit),
        "run": job.run if job is not None else None,
        "outcome": form["outcome"],
        "outcomes": OUTCOME_WORDS,
        "settled": settled,
        # What the form itself answers is no bar to filling it in.
        "obstacles": [o for o in settled.obstacles if o.remedy != "here"],
        "here": [o for o in settled.obstacles if o.remedy == "here"],
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
