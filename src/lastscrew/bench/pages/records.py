"""The record of a unit: what was found, done, renewed and proven; as a page and as PDF."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string

from lastscrew.bench.access.gate import role_of
from lastscrew.bench.access.rights import Route
from lastscrew.bench.assets import text_of
from lastscrew.bench.depot.event_words import say
from lastscrew.bench.depot.events import HAPPENINGS, FaultTakenBack
from lastscrew.bench.depot.records import JobRecord, record_of
from lastscrew.bench.depot.running import moment_of
from lastscrew.bench.models import OwnerData, Run, StoredEvent, Unit
from lastscrew.bench.pages.printing import paper
from lastscrew.bench.queries.overview import v_of
from lastscrew.bench.queries.planned import planned_range
from lastscrew.bench.queries.second_looks import looks_of
from lastscrew.bench.queries.stays import device_names
from lastscrew.bench.queries.story import Picture, pictures_of
from lastscrew.bench.store.jobs import current_revision, device_of, load_job
from lastscrew.bench.store.photos import read_photo
from lastscrew.bench.work.second_look import Look
from lastscrew.bench.workshop.fault_story import DEPOT_NAMES, taken_back
from lastscrew.run.lines import event_from_json

MOST_RUNS = 10
MOST_PICTURES = 24


def record(request: HttpRequest, key: str) -> HttpResponse:
    """The record as a page."""
    unit = get_object_or_404(Unit, pk=key)
    return render(request, "bench/records/record.html", _context(request, unit))


def record_pdf(request: HttpRequest, key: str) -> HttpResponse:
    """The record on paper: the same words."""
    unit = get_object_or_404(Unit, pk=key)
    context = _context(request, unit)
    context["css"] = text_of("bench/record.css")
    html = render_to_string("bench/records/paper.html", context)
    back = f"/units/{unit.key}/record/"
    return paper(request, html, f"{unit}.pdf", back, _files(context["pictures"]))


def _files(pictures: tuple[Picture, ...]) -> dict[str, tuple[str, bytes]]:
    """Type and content of the pictures, by the address at which the page shows them."""
    found = {}
    for picture in pictures:
        with suppress(KeyError):  # erased meanwhile
            content, media_type = read_photo(picture.sha256)
            found[f"photo:{picture.sha256}"] = (media_type, content)
    return found


def _context(request: HttpRequest, unit: Unit) -> dict[str, Any]:
    names = device_names()
    runs = list(Run.objects.filter(unit=unit).order_by("-started_ms")[:MOST_RUNS])
    records = [_record(run, unit) for run in reversed(runs)]
    back = StoredEvent.objects.filter(unit=unit.key, name="handed_back").first()
    hazards = StoredEvent.objects.filter(unit=unit.key, name__in=("hazard_met", "hazard_cleared"))
    return {
        "unit": unit,
        "v": v_of(unit),
        "device": names.get(unit.device) or unit.device.replace("_", " ") or unit.device_words,
        "owner": OwnerData.objects.filter(pk=unit.key, erased=False).first(),
        "records": records,
        "tried": _tried(unit) if not records else (),
        "sought": _sought(unit),
        "back": back,
        "kept": _kept(back, runs),
        "went": list(back.body.get("accessories", ())) if back is not None else [],
        "hazards": list(hazards.order_by("position")[:20]),
        "pictures": pictures_of(unit.key, with_owners=role_of(request) != "guest")[:MOST_PICTURES],
    }


def _sought(unit: Unit) -> list[tuple[str, str, int]]:
    """How the fault was sought: what, by whom, when; without what was taken back."""
    rows = StoredEvent.objects.filter(unit=unit.key, name__in=DEPOT_NAMES).order_by("position")
    events = [event_from_json(body, HAPPENINGS) for body in rows.values_list("body", flat=True)]
    gone = taken_back(events)
    current = current_revision(unit.device) if unit.device else None
    device = device_of(current.revision) if current else None
    return [
        (say(event.what, device), event.by or "", moment_of(event))
        for event in events
        if event.id not in gone and not isinstance(event.what, FaultTakenBack)
    ]


def _kept(back: StoredEvent | None, runs: list[Run]) -> list[str]:
    """Names of the parts that went into the store when the machine was given up."""
    parts = [str(part) for part in back.body.get("kept", ())] if back is not None else []
    if not parts or not runs:
        return parts
    device = device_of(runs[0].revision)  # the latest
    return [device.parts[part].name if part in device.parts else part for part in parts]


def _tried(unit: Unit) -> list[tuple[str, str]]:
    """What was tried before opening, by the names of the device file."""
    current = current_revision(unit.device) if unit.device else None
    functions = device_of(current.revision).functions if current else {}
    return [
        (functions[key].name if key in functions else str(key).replace("_", " "), str(outcome))
        for key, outcome in unit.checks_before.items()
    ]


def _record(run: Run, unit: Unit) -> tuple[Run, JobRecord, str, tuple[Look, ...]]:
    job = load_job(run.key)
    before = {str(key): str(value) for key, value in unit.checks_before.items()}
    return (
        run,
        record_of(job.device, job.state, before),
        planned_range(job),
        looks_of(run.key, unit.pk),
    )


ROUTES = (
    Route("units/<str:key>/record/", record, "record", "guest", "lead"),
    Route("units/<str:key>/record.pdf", record_pdf, "record_pdf", "guest", "lead"),
)
