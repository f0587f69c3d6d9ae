"""The plan of a job: choose what is to be exchanged, see the way in and out, what it takes, what it costs, begin."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from typing import Final
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.models import Run, StoredEvent, Unit
from lastscrew.bench.pages.common import sent_only, who
from lastscrew.bench.pages.devices import map_parts
from lastscrew.bench.pages.printing import paper
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.jobs import current_revision, device_of, load_job
from lastscrew.bench.store.revisions import measured_times, stock_of
from lastscrew.bench.work.contradictions import as_found, contradictions
from lastscrew.bench.workshop.asking import (
    address_of,
    asks_nothing,
    parts_asked,
    request_from,
    toggled,
)
from lastscrew.bench.workshop.planning import (
    PLANNER,
    Planned,
    codes_of,
    comes_out,
    hazards_of,
    measured_here,
    tray_of,
    variants_of,
    with_stock,
)
from lastscrew.bench.workshop.showing import steps_of
from lastscrew.device.model import Device
from lastscrew.fasteners.tray_drawing import tray_drawing
from lastscrew.paper.sheet import SheetOptions, sheet_html
from lastscrew.paper.sheet_tray import TrayWish, tray_page
from lastscrew.paper.svg import to_text
from lastscrew.paper.v import draw_v
from lastscrew.plan.asking import check_request
from lastscrew.plan.materials import loss_text
from lastscrew.plan.model import Request
from lastscrew.plan.wording import joint_name, listed, part_name, piece_name, tool_name
from lastscrew.problems import InputError, Problem
from lastscrew.proof.checks import because_text
from lastscrew.run.events import Event, Started, TargetAdded, TargetDropped
from lastscrew.run.state import request_from as request_from_job
from lastscrew.saying import say

V_WIDTH_MM: Final = 186.0


@dataclass(frozen=True, slots=True)
class Place:
    """Where a plan is made: for a device in general, or for a unit, from where its job stands.

    Attributes:
        device: The device file that it is planned by.
        found: The device as the job in hand found it, None where nothing was found otherwise.
        found_words: What was found otherwise, in sentences.
        address: Address of the page.
        unit: The unit, None for a device in general.
        run: Its job in hand, None for none.
        standing: What is open, fitted and so on in that job; its targets.
    """

    device: Device
    address: str
    unit: Unit | None = None
    run: Run | None = None
    standing: Request = field(default_factory=Request)
    found: Device | None = None
    found_words: tuple[str, ...] = ()

    def plan(self, wanted: Request) -> Planned:
        """The plan for a request, by what is there; by the file alone where that leads to none.

        Raises:
            InputError: As the planner says.
        """
        if self.found is None:
            return PLANNER.plan(self.device, wanted)
        try:
            return PLANNER.plan(self.found, wanted)
        except InputError:
            return PLANNER.plan(self.device, wanted)

    def request(self, asked: Request) -> Request:
        """What is asked, from where the job stands; without targets of its own the job's are taken."""
        if self.run is None:
            return asked
        mine = bool(asked.replace or asked.reach)
        return replace(
            self.standing,
            replace=asked.replace if mine else self.standing.replace,
            reach=asked.reach if mine else self.standing.reach,
            without=tuple(dict.fromkeys((*self.standing.without, *asked.without))),
            objective=asked.objective,
        )


def device_place(device_id: str) -> Place:
    """For a device in general.

    Raises:
        Http404: There is no such device.
    """
    row = current_revision(device_id)
    if row is None:
        raise Http404(device_id)
    return Place(device_of(row.revision), f"/devices/{device_id}/plan/")


def unit_place(unit: Unit) -> Place | None:
    """For a unit; None where there is no device file for it."""
    address = f"/units/{unit.key}/plan/"
    run = Run.objects.filter(pk=unit.run, outcome="").first() if unit.run else None
    if run is not None:
        job = load_job(run.key)
        standing = request_from_job(job.device, job.state)
        otherwise = contradictions(job.device, job.state.log)
        found = as_found(job.device, otherwise) if otherwise else None
        words = tuple(each.text for each in otherwise)
        return Place(job.device, address, unit, run, standing, found, words)
    row = current_revision(unit.device) if unit.device else None
    return None if row is None else Place(device_of(row.revision), address, unit)


def asked_in(query: QueryDict) -> Request:
    """What an address asks for."""
    return request_from({key: query.getlist(key) for key in query})


# --- the page -------------------------------------------------------------------------------------


def unit_plan(request: HttpRequest, key: str) -> HttpResponse:
    """Plan a job on a unit."""
    unit = get_object_or_404(Unit, pk=key)
    place = unit_place(unit)
    if unit.hazard and unit.gone_ms is None:
        return _set_apart(request, unit, place)
    if place is None:
        return render(request, "bench/plans/no_device.html", {"unit": unit})
    return _page(request, place)


def device_plan(request: HttpRequest, device_id: str) -> HttpResponse:
    """Plan a job on a device in general."""
    return _page(request, device_place(device_id))


def _page(
    request: HttpRequest,
    place: Place,
    asked: Request | None = None,
    problems: tuple[Problem, ...] = (),
) -> HttpResponse:
    if place.unit is not None and place.unit.hazard:
        return _set_apart(request, place.unit, place, problems)
    asked = asked_in(request.GET) if asked is None else asked
    if piece := request.GET.get("toggle", "")[:100]:
        shown = {name: request.GET.get(name, "")[:60] for name in ("side", "layer")}
        kept = address_of(toggled(replace(asked, side=None), piece))
        return redirect(f"{place.address}?{kept}&{urlencode(shown)}")
    asked = replace(asked, side=None)  # on this page the side is that of the drawing
    if place.run is not None and not (asked.replace or asked.reach):
        asked = replace(asked, replace=place.standing.replace, reach=place.standing.reach)
    wanted = place.request(asked)
    status = 422 if problems else 200
    planned: Planned | None = None
    if not asks_nothing(wanted):
        try:
            planned = place.plan(wanted)
        except InputError as error:
            problems, status = (*problems, *error.problems), 422
    context = {
        **_choosing(request, place, asked),
        "problems": problems,
        **({} if planned is None else _planned(place, wanted, planned)),
    }
    return render(request, "bench/plans/plan.html", context, status=status)


def _set_apart(
    request: HttpRequest, unit: Unit, place: Place | None, problems: tuple[Problem, ...] = ()
) -> HttpResponse:
    """A unit that nothing is done with: why, what protects people, and what is allowed all the same."""
    met = StoredEvent.objects.filter(unit=unit.key, name="hazard_met").order_by("position").last()
    context = {
        "unit": unit,
        "device": place.device if place is not None else None,
        "run": place.run if place is not None else None,
        "met": met,
        "problems": problems,
    }
    return render(request, "bench/plans/set_apart.html", context, status=422 if problems else 200)


def _choosing(request: HttpRequest, place: Place, asked: Request) -> dict[str, object]:
    """What can be chosen, and what is."""
    device = place.device
    simple = {*device.parts, *device.spares}
    several = [piece for piece in asked.replace if piece in device.parts]
    as_one = replace(
        asked,
        replace=tuple(dict.fromkeys(
            "+".join(several) if piece in several else piece for piece in asked.replace
        )),
    )  # fmt: skip
    return {
        "place": place,
        "device": device,
        "unit": place.unit,
        "run": place.run,
        "asked": asked,
        "asked_address": address_of(asked),
        "parts": [
            (part, part.id in asked.replace) for part in device.parts.values() if not part.fixed
        ],
        "spares": [(spare, spare.id in asked.replace) for spare in device.spares.values()],
        "other_pieces": [
            (piece, piece_name(device, piece) if _is_known(device, piece) else piece)
            for piece in asked.replace
            if piece not in simple
        ],
        "as_one": f"{place.address}?{address_of(as_one)}" if len(several) > 1 else "",
        "joints": [
            (joint.id, joint_name(device, joint.id), joint.id in asked.reach, joint.id in asked.without)
            for joint in device.joints.values()
        ],
        "options": [
            (option, option.id in (asked.not_fitted if option.fitted else asked.fitted))
            for option in device.options.values()
        ],
        **map_parts(
            request, device, chosen=parts_asked(device, asked), address=place.address, asked=asked
        ),
    }  # fmt: skip


def _is_known(device: Device, piece: str) -> bool:
    return all(word in device.parts or word in device.spares for word in piece.split("+"))


def _planned(place: Place, wanted: Request, planned: Planned) -> dict[str, object]:
    """Everything that is told about a plan."""
    briefing, plan = planned.briefing, planned.plan
    device = briefing.device
    codes = [code for line in briefing.order for code in codes_of(line)]
    joints = {step.joint for step in (*plan.way_in, *plan.way_out)}
    measured = measured_here(plan, measured_times(place.device.id, joints))
    return {
        "planned": planned,
        "plan_address": address_of(wanted),
        "title": _title(device, wanted),
        "v": to_text(draw_v(briefing, width_mm=V_WIDTH_MM)).split("\n", 1)[1],
        "steps_in": steps_of(briefing, "in"),
        "steps_out": steps_of(briefing, "out"),
        "timing": briefing.timing,
        "measured": measured,
        "measured_minutes": f"{(measured.total_ms or 0) / 60_000:.0f}",
        "hazards": hazards_of(briefing),
        "losses": [loss_text(device, loss) for loss in briefing.losses],
        "tools": [tool_name(device, tool) for tool in (*briefing.tools, *briefing.act_tools)],
        "to_have": with_stock(briefing.order, stock_of(codes)),
        "checks": [
            (device.functions[check.function], because_text(device, check.because[0]))
            for check in planned.proof.checks
            if check.function in device.functions
        ],
        "identities": [
            (part_name(device, one.part), one.carry_over, one.write_serial)
            for one in planned.proof.identities
        ],
        "moves_across": [
            listed([part_name(device, part) for part in across.parts])
            for across in briefing.moves_across
        ],
        "assumed": briefing.assumed,
        "opened_before": [joint_name(device, joint) for joint in briefing.opened_before],
        "change": changes_of(place, wanted),
        "missing_first": [joint_name(device, joint) for joint in plan.missing_first],
        "variants": [
            (variant, f"{place.address}?{address_of(variant.request)}")
            for variant in variants_of(PLANNER, place.found or place.device, wanted, planned)
        ],
        "tray": comes_out(briefing),
        "run_key": new_key(),
        "event_key": new_key(),
    }


@dataclass(frozen=True, slots=True)
class Change:
    """What would be different in the job in hand.

    Attributes:
        added, dropped: Targets, as happenings.
        added_names, dropped_names: The same in words.
    """

    added: tuple[TargetAdded, ...]
    dropped: tuple[TargetDropped, ...]
    added_names: str
    dropped_names: str


def changes_of(place: Place, wanted: Request) -> Change | None:
    """What a plan asks for beyond, or short of, the job in hand; None where nothing differs."""
    if place.run is None:
        return None
    device, now = place.device, place.standing
    more = [p for p in wanted.replace if p not in now.replace]
    less = [p for p in now.replace if p not in wanted.replace]
    reach = [j for j in wanted.reach if j not in now.reach]
    leave = [j for j in now.reach if j not in wanted.reach]
    if not (more or less or reach or leave):
        return None
    return Change(
        (*(TargetAdded(replace=p) for p in more), *(TargetAdded(reach=j) for j in reach)),
        (*(TargetDropped(replace=p) for p in less), *(TargetDropped(reach=j) for j in leave)),
        listed([*(piece_name(device, p) for p in more), *(joint_name(device, j) for j in reach)]),
        listed([*(piece_name(device, p) for p in less), *(joint_name(device, j) for j in leave)]),
    )


def _title(device: Device, wanted: Request) -> str:
    pieces = [piece_name(device, piece) for piece in wanted.replace]
    if pieces:
        return say("Exchange {pieces}", pieces=listed(pieces))
    reached = [joint_name(device, joint) for joint in wanted.reach]
    if reached:
        return say("Reach {joints}", joints=listed(reached))
    return say("Close what is open")


# --- on paper -------------------------------------------------------------------------------------


def _place_of(key: str, device_id: str) -> Place:
    if device_id:
        return device_place(device_id)
    place = unit_place(get_object_or_404(Unit, pk=key))
    if place is None:
        raise Http404(key)
    return place


def _paper(
    request: HttpRequest, place: Place, make: Callable[[Place, Request], HttpResponse]
) -> HttpResponse:
    if place.unit is not None and place.unit.hazard:
        return _set_apart(request, place.unit, place)
    try:
        return make(place, place.request(replace(asked_in(request.GET), side=None)))
    except InputError as error:
        context = {"problems": error.problems, "place": place}
        return render(request, "bench/plans/no_paper.html", context, status=422)


def sheet(request: HttpRequest, key: str = "", device_id: str = "") -> HttpResponse:
    """The job sheet with its tray map, as PDF."""
    return _paper(request, _place_of(key, device_id), partial(_sheet, request))


def _sheet(request: HttpRequest, place: Place, wanted: Request) -> HttpResponse:
    briefing = place.plan(wanted).briefing
    day = datetime.fromtimestamp(now_ms() / 1000, UTC).date().isoformat()
    page = sheet_html(
        briefing,
        SheetOptions(date=day, language=get_language() or "en"),
        tray_page(briefing, TrayWish(), "a4"),
    )
    name = f"{place.unit or place.device.id}-job-sheet.pdf"
    return paper(request, page, name, f"{place.address}?{request.GET.urlencode()}")


def tray_map_page(request: HttpRequest, key: str = "", device_id: str = "") -> HttpResponse:
    """The tray map at true scale, as a drawing to print."""
    return _paper(request, _place_of(key, device_id), _tray)


def _tray(place: Place, wanted: Request) -> HttpResponse:
    planned = place.plan(wanted)
    tray = tray_of(planned.briefing)
    if tray is None:
        raise InputError([Problem(_("Nothing loose comes out."), _("No tray is needed."))])
    device = planned.briefing.device
    drawn = tray_drawing(device, tray, title=_title(device, wanted))
    return HttpResponse(
        drawn,
        content_type="image/svg+xml",
        headers={"Content-Disposition": f'inline; filename="{device.id}-tray.svg"'},
    )


# --- beginning ------------------------------------------------------------------------------------


@sent_only("/units/{key}/plan/")
def start(request: HttpRequest, key: str) -> HttpResponse:
    """Begin the job that was planned."""
    unit = get_object_or_404(Unit, pk=key)
    place = unit_place(unit)
    if place is None:
        return redirect("unit", key=key)
    asked = asked_in(QueryDict(request.POST.get("asked", "")[:8000]))
    run_key = request.POST.get("run", "")[:100]
    if Run.objects.filter(pk=run_key, unit=unit).exists():
        return redirect(f"/runs/{run_key}/work/")  # the form was sent twice
    problems = _against_starting(request, place, asked)
    if not problems:
        event = Event(
            id=request.POST.get("event", "")[:100] or new_key(),
            what=_started(place, asked),
            at_ms=now_ms(),
        )
        try:
            add_run_events(run_key or new_key(), [event], by=who(request), unit=unit.key)
        except InputError as error:
            problems = error.problems
    if problems:
        return _page(request, place, asked, problems)
    return redirect(f"/runs/{run_key}/work/")


@sent_only("/units/{key}/plan/")
def change_job(request: HttpRequest, key: str) -> HttpResponse:
    """Add and drop targets of the job in hand, so that it is what was planned."""
    unit = get_object_or_404(Unit, pk=key)
    place = unit_place(unit)
    if place is None or place.run is None:
        return redirect("unit_plan", key=key)
    asked = asked_in(QueryDict(request.POST.get("asked", "")[:8000]))
    first = request.POST.get("event", "")[:90] or new_key()
    wanted = place.request(asked)
    change = changes_of(place, wanted)
    problems = check_request(place.device, wanted)
    if not problems and change is not None:
        happened = (*change.dropped, *change.added)
        moment = now_ms()
        events = [
            Event(id=f"{first}.{number}", what=what, at_ms=moment)
            for number, what in enumerate(happened)
        ]
        try:
            add_run_events(place.run.key, events, by=who(request))
        except InputError as error:
            problems = error.problems
    if problems:
        return _page(request, place, asked, problems)
    return redirect(f"/runs/{place.run.key}/work/")


def _started(place: Place, asked: Request) -> Started:
    unit = place.unit
    return Started(
        device=place.device.id,
        revision=place.device.revision_hash,
        unit=(unit.serial or None) if unit is not None else None,
        replace=asked.replace,
        reach=asked.reach,
        opened=asked.opened,
        not_fitted=asked.not_fitted,
        fitted=asked.fitted,
        without=asked.without,
    )


def _against_starting(request: HttpRequest, place: Place, asked: Request) -> tuple[Problem, ...]:
    """What speaks against beginning now."""
    unit = place.unit
    assert unit is not None
    if place.run is not None:
        return (
            Problem(
                _("A job on this unit is in hand already."),
                _("Go on with that one, or end it first."),
                path="run",
            ),
        )
    if unit.hazard:
        return (
            Problem(
                _("The unit is set apart because of a hazard."),
                _("A lead has to clear it first."),
                path="hazard",
            ),
        )
    if request.POST.get("revision") != place.device.revision_hash:
        return (
            Problem(
                _("Another revision of the device file is in force now."),
                _("Look at the plan again: it is made by the new one."),
                path="revision",
            ),
        )
    try:
        planned = PLANNER.plan(place.device, asked)
    except InputError as error:
        return error.problems
    if planned.briefing.losses and not request.POST.get("saved"):
        return (
            Problem(
                _("Something would be lost."),
                _("Save it, or have the owner agree, and tick that."),
                path="saved",
            ),
        )
    return ()


ROUTES = (
    Route("units/<str:key>/plan/", unit_plan, "unit_plan"),
    Route("units/<str:key>/plan/start/", start, "unit_plan_start", "technician"),
    Route("units/<str:key>/plan/change/", change_job, "unit_plan_change", "technician"),
    Route("units/<str:key>/plan/sheet.pdf", sheet, "unit_plan_sheet"),
    Route("units/<str:key>/plan/tray.svg", tray_map_page, "unit_plan_tray"),
    Route("devices/<str:device_id>/plan/", device_plan, "device_plan"),
    Route("devices/<str:device_id>/plan/sheet.pdf", sheet, "device_plan_sheet"),
    Route("devices/<str:device_id>/plan/tray.svg", tray_map_page, "device_plan_tray"),
)
