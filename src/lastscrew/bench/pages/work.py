"""The work page: a shell that the browser keeps, the job as one value, and the door for what happens."""

from __future__ import annotations

import json
from typing import Any

from django.db import connection
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import get_language
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET, require_POST

from lastscrew.bench import assets
from lastscrew.bench.access.gate import role_of
from lastscrew.bench.access.rights import Route
from lastscrew.bench.language import all_told
from lastscrew.bench.models import Branch, DevicePhoto, Photo, Run
from lastscrew.bench.pages.common import who
from lastscrew.bench.pages.entering import job_or_404
from lastscrew.bench.pages.work_words import work_words
from lastscrew.bench.store.adding import Added, add_run_events
from lastscrew.bench.store.jobs import Shelf, fold_of
from lastscrew.bench.store.photos import keep_photo
from lastscrew.bench.work.bundle import bundle_of, work_of
from lastscrew.bench.workshop.overlay import anchors_from
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Event
from lastscrew.run.lines import event_from_json
from lastscrew.saying import say

MAX_BODY = 1_000_000
MAX_EVENTS = 200
MOST_BUNDLES = 60

_bundles: Shelf[tuple[int, str]] = Shelf(MOST_BUNDLES)


@ensure_csrf_cookie
@require_GET
def work(request: HttpRequest, run: str) -> HttpResponse:
    """The shell of the work page: what the browser keeps for work without the network."""
    row = Run.objects.select_related("unit").filter(pk=run).first()
    if row is None:
        raise Http404(run)
    may_write = role_of(request) in ("technician", "lead")
    told = {
        "run": run,
        "unit": row.unit_id,
        "mayWrite": may_write,
        "who": who(request),
        "isBeginner": bool(getattr(request.user, "is_beginner", False)),
        "release": assets.version(),
    }
    context = {"row": row, "unit": row.unit, "told": told, "words": work_words()}
    return render(request, "bench/work/work.html", context)


@gzip_page
@require_GET
def bundle(_request: HttpRequest, run: str) -> HttpResponse:
    """Everything that the page needs to go on."""
    job = job_or_404(run)
    version = job.state.version
    place = connection.settings_dict
    key = (place["HOST"], place["NAME"], run, job.run.revision, get_language())
    kept = _bundles.get(key)
    if kept is None or kept[0] != version:
        work = work_of(job.device, job.state)
        value = bundle_of(job.device, job.state, work, fold_of(job.run).clock)
        kept = (version, json.dumps(all_told(value), ensure_ascii=False, separators=(",", ":")))
        _bundles.put(key, kept, unless=lambda there: there[0] > version)
    split = json.dumps(_split(job.run)["split"])
    photos = json.dumps(_photos_below(job.device.id))
    text = f'{{"split":{split},"photos":{photos},"bundle":{kept[1]}}}'
    return HttpResponse(text, content_type="application/json; charset=utf-8")


def _photos_below(device: str) -> list[dict[str, object]]:
    """The depot's own photos of a device, by side and layer, with the two points that fix each."""
    rows = [row for row in DevicePhoto.objects.filter(device=device) if anchors_from(row.points)]
    known = Photo.objects.filter(erased=False).in_bulk([row.photo for row in rows])
    return [
        {
            "side": row.side,
            "layer": row.layer,
            "address": f"/photos/{row.photo}",
            "width": known[row.photo].width,
            "height": known[row.photo].height,
            "points": row.points,
        }
        for row in rows
        if row.photo in known
    ]


@require_GET
def version(_request: HttpRequest, run: str) -> JsonResponse:
    """How many events the job has: asked now and then, to see whether another screen has gone on."""
    row = Run.objects.filter(pk=run).only("version", "is_split").first()
    if row is None:
        raise Http404(run)
    return JsonResponse({"version": row.version, **_split(row)})


def _split(row: Run) -> dict[str, object]:
    """Screens whose history waits for a decision."""
    if not row.is_split:
        return {"split": []}
    open_ones = Branch.objects.filter(run=row.pk, state=Branch.State.OPEN)
    return {"split": list(open_ones.values_list("client", flat=True))}


@require_POST
def events(request: HttpRequest, run: str) -> JsonResponse:
    """Take in what happened: stored before it is acknowledged; sent again, it changes nothing."""
    try:
        client, batch = _read_batch(request)
        added = add_run_events(run, [_of_client(each, client) for each in batch], by=who(request))
    except InputError as error:
        row = Run.objects.filter(pk=run).only("version").first()
        told = {
            "version": row.version if row else 0,
            "accepted": [],
            "waiting": [],
            "branch": None,
            "problems": all_told([problem.as_json() for problem in error.problems]),
        }
        return JsonResponse(told, status=400)
    return JsonResponse(_answer(added))


def _answer(added: Added) -> dict[str, object]:
    return {
        "version": added.version,
        "accepted": added.accepted,
        "waiting": added.waiting,
        "branch": added.branch,
        "problems": [],
    }


def _read_batch(request: HttpRequest) -> tuple[str, list[Event]]:
    """The screen and its events.

    Raises:
        InputError: The body is not what it should be; all problems of all events at once.
    """
    if len(request.body) > MAX_BODY:
        raise InputError(
            [
                _bad(
                    say("this is too much at once"),
                    say("Send at most {most} bytes.", most=MAX_BODY),
                )
            ]
        )
    try:
        value: Any = json.loads(request.body)
    except (ValueError, RecursionError):
        raise InputError([_bad(say("this is no JSON"), say("Send an object."))]) from None
    if not isinstance(value, dict) or not isinstance(value.get("events"), list):
        raise InputError(
            [_bad(say("this is no batch of events"), say('Send {"client": …, "events": […]}.'))]
        )
    if len(value["events"]) > MAX_EVENTS:
        raise InputError(
            [
                _bad(
                    say("these are too many"),
                    say("Send at most {most} at a time.", most=MAX_EVENTS),
                )
            ]
        )
    client = value.get("client")
    if not isinstance(client, str) or not client:
        raise InputError(
            [_bad(say("the screen does not say who it is"), say("Name it under client."))]
        )
    found: list[Event] = []
    problems: list[Problem] = []
    for each in value["events"]:
        try:
            found.append(event_from_json(each))
        except InputError as error:
            problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    return client, found


def _of_client(event: Event, client: str) -> Event:
    if event.client is not None and event.client != client:
        text = say("the event {id} is of another screen", id=event.id)
        raise InputError([_bad(text, say("Send the events of each screen apart."))])
    if event.client is None:
        raise InputError(
            [_bad(say("the event {id} names no screen", id=event.id), say("Name it under client."))]
        )
    return event


def _bad(message: str, remedy: str) -> Problem:
    return Problem(message, remedy, code="bad_request")


@require_POST
def photo(request: HttpRequest, run: str) -> JsonResponse:
    """Keep a picture that was taken at a step; the page then says in an event what it shows."""
    row = Run.objects.filter(pk=run).only("unit_id").first()
    if row is None:
        raise Http404(run)
    file = request.FILES.get("photo")
    if file is None:
        problem = _bad(say("no picture came along"), say("Choose one."))
        return JsonResponse({"problems": all_told([problem.as_json()])}, status=400)
    try:
        kept = keep_photo(file, unit=row.unit_id, is_owners=False)
    except InputError as error:
        told = all_told([each.as_json() for each in error.problems])
        return JsonResponse({"problems": told}, status=400)
    return JsonResponse({"sha256": kept.sha256})


ROUTES = (
    Route("runs/<str:run>/work/", work, "work", "guest", "technician"),
    Route("runs/<str:run>/bundle.json", bundle, "work_bundle", "guest", "technician"),
    Route("runs/<str:run>/version.json", version, "work_version", "guest", "technician"),
    Route("runs/<str:run>/events.json", events, "work_events", "technician", "technician"),
    Route("runs/<str:run>/photo.json", photo, "work_photo", "technician", "technician"),
)
