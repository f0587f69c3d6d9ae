"""The page of a unit: how it stands, what to do next, what happened; and what a person tells about it there."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.gate import role_of
from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.next_steps import Standing, next_steps
from lastscrew.bench.depot.repeats import repeats
from lastscrew.bench.depot.taking_in import PACK_WORDS
from lastscrew.bench.depot.telling import changed_only, follows_from, read_tale
from lastscrew.bench.models import OwnerData, PartLineState, Run, Unit
from lastscrew.bench.pages.common import who
from lastscrew.bench.queries.overview import name_of_line, target_names, v_of
from lastscrew.bench.queries.stays import device_names, earlier_stays
from lastscrew.bench.queries.story import pictures_of, story_of
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import current_revision, device_of
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.bench.store.owners import erase
from lastscrew.problems import InputError, Problem

TELLS = ("placed", "described", "hazard_met", "custody")
MOST_RUNS = 20


def unit_page(request: HttpRequest, key: str) -> HttpResponse:
    """The page of a unit."""
    return _page(request, get_object_or_404(Unit, pk=key), {}, ())


def tell(request: HttpRequest, key: str) -> HttpResponse:
    """Tell something about a unit."""
    return _tell(request, key, TELLS)


def clear_hazard(request: HttpRequest, key: str) -> HttpResponse:
    """A lead says that the unit may go the normal way again."""
    return _tell(request, key, ("hazard_cleared",))


def _tell(request: HttpRequest, key: str, names: tuple[str, ...]) -> HttpResponse:
    unit = get_object_or_404(Unit, pk=key)
    form = {name: value for name, value in request.POST.items() if isinstance(value, str)}
    name = form.get("tell", "")
    if request.method != "POST" or name not in names:
        return redirect("unit", key=key)
    told = changed_only(form, _as_it_is(unit)) if name == "described" else form
    what, problems = read_tale(name, told)
    if what is not None:
        try:
            with one_at_a_time():
                told_as = add_depot_event(key, what, by=who(request), key=_event_key(form))
                follows = follows_from(what)
                if follows is not None:
                    add_depot_event(key, follows, by=who(request), key=f"{told_as.key}.so")
        except InputError as error:
            problems = list(error.problems)
    if problems:
        return _page(request, unit, form, tuple(problems), status=422)
    messages.success(request, _("Kept."))
    return redirect("unit", key=key)


def erase_owner(request: HttpRequest, key: str) -> HttpResponse:
    """Erase what identifies the owner, for good."""
    unit = get_object_or_404(Unit, pk=key)
    reason = request.POST.get("reason", "")
    if request.method == "POST" and reason in ("asked", "mistake"):
        erase(unit.pk, reason, by=who(request))
        messages.success(request, _("The owner’s data is erased."))
    return redirect("unit", key=key)


def _event_key(form: dict[str, str]) -> str | None:
    """The key that the form was made with, so that sending it twice tells it once."""
    key = form.get("event", "")
    return key if len(key) == 32 and key.isalnum() else None


def _as_it_is(unit: Unit) -> dict[str, str]:
    """What the form for corrections shows."""
    due = datetime.fromtimestamp(unit.due_ms / 1000, UTC).date().isoformat() if unit.due_ms else ""
    return {
        "device": unit.device,
        "serial": unit.serial,
        "asset_tag": unit.asset_tag,
        "condition": unit.condition,
        "accessories": "\n".join(map(str, unit.accessories)),
        "pack": unit.pack,
        "liquid": "1" if unit.liquid else "",
        "due": due,
    }


def _page(
    request: HttpRequest,
    unit: Unit,
    form: dict[str, str],
    problems: tuple[Problem, ...],
    status: int = 200,
) -> HttpResponse:
    runs = list(Run.objects.filter(unit=unit).order_by("-started_ms")[:MOST_RUNS])
    now = next((run for run in runs if run.key == unit.run), None)
    stays = earlier_stays(unit.device, unit.serial, unit.key)
    parts = [part for target in (now.targets if now else []) for part in str(target).split("+")]
    names = device_names()
    revisions = {run.key: run.revision for run in runs}
    current = current_revision(unit.device) if unit.device else None
    standing = _standing(unit, now)
    context: dict[str, Any] = {
        "unit": unit,
        "v": v_of(unit),
        "device": names.get(unit.device) or unit.device.replace("_", " ") or unit.device_words,
        "devices": names,
        "is_described": current is not None,
        "owner": OwnerData.objects.filter(pk=unit.key).first(),
        "run": now,
        "runs": [(run, target_names(run)) for run in runs],
        "lines": [
            (line, name_of_line(revisions.get(line.run_id, ""), line.what))
            for line in PartLineState.objects.filter(run__in=runs).order_by("run_id", "line")[:200]
        ],
        "stays": stays,
        "repeats": repeats(stays, unit.taken_in_ms, parts),
        "checks": _checks(unit, now),
        "story": story_of(
            unit.key,
            revisions,
            present=device_of(current.revision) if current else None,
            everything=request.GET.get("all") == "1",
            with_owners=role_of(request) != "guest",
        ),
        "pictures": pictures_of(unit.key, with_owners=role_of(request) != "guest"),
        "steps": next_steps(standing),
        "searches": standing.has_faults and unit.stage in ("taken_in", "at_work", "to_prove"),
        "is_new": request.GET.get("new") == "1",
        "form": form or _as_it_is(unit),
        "tells": form.get("tell", "") or request.GET.get("tell", ""),
        "problems": problems,
        "event": new_key(),
        "packs": PACK_WORDS,
        "asks_about_codes": any(problem.code == "pass_code" for problem in problems),
    }
    return render(request, "bench/units/unit.html", context, status=status)


def _standing(unit: Unit, run: Run | None) -> Standing:
    current = current_revision(unit.device) if unit.device else None
    return Standing(
        unit=unit.key,
        stage=unit.stage,
        has_device=current is not None,
        run=run.key if run is not None and not run.outcome else "",
        is_split=run is not None and run.is_split,
        waits_for=unit.waiting_for,
        open_joints=len(run.open_joints) if run is not None else 0,
        has_gone=unit.gone_ms is not None,
        has_faults=current is not None and bool(device_of(current.revision).faults),
    )


def _checks(unit: Unit, run: Run | None) -> list[tuple[str, str]]:
    """Name and outcome of the checks before opening."""
    if not unit.checks_before:
        return []
    current = current_revision(unit.device) if run is None and unit.device else None
    revision = run.revision if run is not None else (current.revision if current else "")
    try:
        functions = device_of(revision).functions if revision else {}
    except KeyError:
        functions = {}
    return [
        (functions[key].name if key in functions else key.replace("_", " "), str(outcome))
        for key, outcome in unit.checks_before.items()
    ]


ROUTES = (
    Route("units/<str:key>/", unit_page, "unit", "guest", "lead"),
    Route("units/<str:key>/tell/", tell, "tell", "technician", "technician"),
    Route("units/<str:key>/erase/", erase_owner, "erase_owner", "lead", "lead"),
    Route("units/<str:key>/clear-hazard/", clear_hazard, "clear_hazard", "lead", "lead"),
)
