"""Finding the fault of a unit: symptoms confirmed, the next check or mend, its outcome in two taps."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.events import HAPPENINGS as DEPOT
from lastscrew.bench.depot.events import FaultTakenBack, FaultTried, SymptomsConfirmed
from lastscrew.bench.models import OwnerData, StoredEvent, Unit
from lastscrew.bench.opening_tables import TableFolder
from lastscrew.bench.pages.common import sent_only, who
from lastscrew.bench.pages.plans import Place, unit_place
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.lessons import lessons
from lastscrew.bench.store.revisions import stock_of
from lastscrew.bench.workshop.fault_desk import (
    DESK,
    Shown,
    check_tried,
    lesson_rows,
    name_tried,
    names_of,
    tried_words,
)
from lastscrew.bench.workshop.fault_lessons import Lessons
from lastscrew.bench.workshop.fault_story import (
    DEPOT_NAMES,
    RUN_NAMES,
    Story,
    story_of,
    symptoms_to_confirm,
)
from lastscrew.device.model import Device
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.learning import STRENGTH
from lastscrew.faults.proposing import Terms
from lastscrew.faults.words import tells_of_event
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import HAPPENINGS as RUN
from lastscrew.run.events import Event, Happening
from lastscrew.run.lines import event_from_json

MOST_EVENTS = 2_000
MOST_WAIT_S = 6.0
"""So long an answer that was tapped waits for the search that it belongs to (twice what one takes, and some)."""


@dataclass(frozen=True, slots=True)
class Case:
    """The fault of a unit as it stands.

    Attributes:
        unit: The unit.
        place: Its device, and its job in hand.
        complaint: The owner's words.
        story: What is known.
    """

    unit: Unit
    place: Place
    complaint: str
    story: Story

    @property
    def device(self) -> Device:
        """The device file that the unit is worked on by."""
        return self.place.device

    @property
    def is_searched(self) -> bool:
        """There is something to search with, and a person has said what shows."""
        return bool(self.device.faults) and self.story.confirmed

    @property
    def evidence(self) -> Evidence:
        """What is known, for the search: of the owner's words only liquid or a drop, seen at the counter or told.

        What else they may mean was confirmed by a person, and need not be asked again.
        """
        told = tells_of_event(self.device, (), self.complaint)
        seen = ["liquid"] if self.unit.liquid or told == "liquid" else []
        seen += ["dropped"] if self.unit.dropped or told == "drop" else []
        return self.story.evidence(" . ".join(seen))

    @property
    def opened(self) -> tuple[str, ...]:
        """Joints that are open."""
        return self.place.standing.opened


def case_of(unit: Unit) -> Case | None:
    """The fault of a unit; None where there is no device file for it."""
    place = unit_place(unit)
    if place is None:
        return None
    owner = OwnerData.objects.filter(pk=unit.key, erased=False).first()
    story = story_of(place.device, _events(unit), unit.checks_before)
    return Case(unit, place, owner.complaint if owner is not None else "", story)


def _events(unit: Unit) -> list[Event]:
    """Events of the unit and of its present job that tell of its fault, in order."""
    rows = (
        StoredEvent.objects.filter(unit=unit.key, name__in=(*DEPOT_NAMES, *RUN_NAMES))
        .filter(run__in=("", unit.run))
        .order_by("-position")
        .values_list("body", flat=True)[:MOST_EVENTS]
    )
    kinds: dict[str, type[Happening]] = {**DEPOT, **RUN}
    return [event_from_json(body, kinds) for body in reversed(list(rows))]


def terms_of(case: Case) -> Terms:
    """What else counts: what is fitted, and parts in stock that can be tried in place of others."""
    standing = case.place.standing
    wanted = {
        f"code:{part.order_code}": part.id
        for part in case.device.parts.values()
        if part.order_code
        and any(check.swap_test == part.id for check in case.device.checks.values())
    }
    there = stock_of(wanted)
    stock = sorted(wanted[code] for code, (count, _place) in there.items() if count >= 1)
    return Terms(not_fitted=standing.not_fitted, fitted=standing.fitted, stock=tuple(stock))


# --- pages ----------------------------------------------------------------------------------------


def fault_page(request: HttpRequest, key: str) -> HttpResponse:
    """What is known about the fault, and what to do next."""
    return _page(request, get_object_or_404(Unit, pk=key))


def _page(request: HttpRequest, unit: Unit, problems: tuple[Problem, ...] = ()) -> HttpResponse:
    case = case_of(unit)
    if case is None:
        return render(request, "bench/plans/no_device.html", {"unit": unit})
    learnt = lessons(case.device)
    shown, wrong = _shown(case, learnt)
    symptoms = case.device.symptoms
    waits = shown is None and not wrong and case.is_searched
    return render(
        request,
        "bench/faults/fault.html",
        {
            **_context(case, shown),
            "problems": (*problems, *wrong),
            "waits": waits,
            "lessons": learnt,
            "lesson_rows": lesson_rows(learnt),
            "strength": STRENGTH,
            "symptoms": symptoms_to_confirm(case.device, case.story, case.complaint),
            "shown_symptoms": [symptoms[s].name for s in case.story.shows if s in symptoms],
        },
        status=422 if problems else 200,
    )


def next_fragment(request: HttpRequest, key: str) -> HttpResponse:
    """The proposal alone, for the pages of the unit and of its work (``on=work``: in few words).

    204: there is none. 202: it is being worked out, look again.
    """
    unit = get_object_or_404(Unit, pk=key)
    case = case_of(unit)
    if case is None or not case.is_searched or unit.hazard:
        return HttpResponse(status=204)
    shown, wrong = _shown(case, lessons(case.device))
    if shown is None:
        return HttpResponse(status=204 if wrong else 202)
    is_compact = request.GET.get("on") == "work"
    template = "bench/faults/compact.html" if is_compact else "bench/faults/next.html"
    context = _context(case, shown)
    return render(request, template, {**context, "back": "work" if is_compact else ""})


def _shown(
    case: Case, learnt: Lessons, wait_s: float | None = None
) -> tuple[Shown | None, tuple[Problem, ...]]:
    if not case.is_searched:
        return None, ()
    try:
        shown = DESK.soon(
            learnt.device,
            case.evidence,
            case.opened,
            terms_of(case),
            mark=learnt.mark,
            folder=TableFolder(settings.CONFIG.openings),
            wait_s=wait_s,
        )
    except InputError as error:
        return None, error.problems
    return shown, ()


def _context(case: Case, shown: Shown | None) -> dict[str, object]:
    names = {**names_of(case.device), **(shown.names if shown is not None else {})}
    return {
        "unit": case.unit,
        "device": case.device,
        "run": case.place.run,
        "complaint": case.complaint,
        "story": case.story,
        "tried": [
            (one, name_tried(names, one.what), tried_words(shown, one.what, one.outcome))
            for one in case.story.tried
        ],
        "shown": shown,
        "key": new_key(),
    }


# --- what people tell -----------------------------------------------------------------------------


@sent_only("/units/{key}/fault/")
def confirm(request: HttpRequest, key: str) -> HttpResponse:
    """A person says which symptoms show."""
    unit = get_object_or_404(Unit, pk=key)
    case = case_of(unit)
    if case is None:
        return redirect("unit_fault", key=key)
    shows = [name for name in request.POST.getlist("shows") if name in case.device.symptoms]
    lacks = [
        name
        for name in request.POST.getlist("lacks")
        if name in case.device.symptoms and name not in shows
    ]
    return _tell(request, unit, SymptomsConfirmed(shows=tuple(shows), lacks=tuple(lacks)))


@sent_only("/units/{key}/fault/")
def tried(request: HttpRequest, key: str) -> HttpResponse:
    """A check was made, or a mend tried; the proposed one or another."""
    unit = get_object_or_404(Unit, pk=key)
    case = case_of(unit)
    if case is None:
        return redirect("unit_fault", key=key)
    what = request.POST.get("what", "")[:100]
    outcome = (request.POST.get("outcome") or request.POST.get("value", "")).strip()[:200]
    outcome = outcome.replace(",", ".") if request.POST.get("value") else outcome
    # What can be tried has to be known here; where it is not yet, this waits for the search.
    shown, problems = _shown(case, lessons(case.device), MOST_WAIT_S)
    if shown is not None:
        problems = check_tried(shown, what, outcome)
    elif not problems and case.is_searched:
        problems = (Problem(_("This took too long."), _("Say it once more."), path="what"),)
    elif not problems:
        problems = (Problem(_("Say first which symptoms show."), path="shows"),)
    if problems:
        return _page(request, unit, problems)
    text = request.POST.get("text", "").strip()[:4000] or None
    return _tell(request, unit, FaultTried(what=what, outcome=outcome, text=text))


@sent_only("/units/{key}/fault/")
def take_back(request: HttpRequest, key: str) -> HttpResponse:
    """A result was doubtful: it counts no more."""
    unit = get_object_or_404(Unit, pk=key)
    about = request.POST.get("about", "")[:100]
    if not StoredEvent.objects.filter(key=about, unit=key, name="fault_tried").exists():
        messages.error(request, _("There is no such result."))
        return redirect("unit_fault", key=key)
    return _tell(request, unit, FaultTakenBack(about=about))


def _tell(request: HttpRequest, unit: Unit, what: Happening) -> HttpResponse:
    try:
        add_depot_event(
            unit.key, what, by=who(request), key=request.POST.get("event", "")[:100] or None
        )
    except InputError as error:
        return _page(request, unit, error.problems)
    if request.POST.get("back") == "work" and unit.run:
        return redirect(f"/runs/{unit.run}/work/")
    return redirect("unit_fault", key=unit.key)


ROUTES = (
    Route("units/<str:key>/fault/", fault_page, "unit_fault"),
    Route("units/<str:key>/fault/next/", next_fragment, "unit_fault_next"),
    Route("units/<str:key>/fault/symptoms/", confirm, "unit_fault_symptoms", "technician"),
    Route("units/<str:key>/fault/tried/", tried, "unit_fault_tried", "technician"),
    Route("units/<str:key>/fault/back/", take_back, "unit_fault_back", "technician"),
)
