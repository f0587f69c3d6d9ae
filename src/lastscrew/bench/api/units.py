"""What other systems may ask about units beyond the list: take one in, its record, its label."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any, Literal, cast

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from ninja import Field, Schema, Status

from lastscrew.bench.api.entry import Caller, May
from lastscrew.bench.api.shapes import ERRORS, Key, UnitOut, router, told
from lastscrew.bench.depot.labels import labels_page
from lastscrew.bench.depot.reading_forms import one_line
from lastscrew.bench.depot.records import record_of
from lastscrew.bench.depot.taking_in import read_intake
from lastscrew.bench.models import Run, StoredEvent, Unit
from lastscrew.bench.pages.labels import labels_of_units
from lastscrew.bench.pages.records import record_pdf
from lastscrew.bench.queries.stays import known_for
from lastscrew.bench.store.intake import store_intake
from lastscrew.bench.store.jobs import load_job
from lastscrew.problems import InputError, Problem

MOST_RUNS = 10

Line = Annotated[str, Field(max_length=300)]
Text = Annotated[str, Field(max_length=4000)]


class UnitIn(Schema):
    """A unit that comes in: the fields of the form. What identifies the owner is kept apart and can be erased."""

    key: Annotated[
        str,
        Field(
            pattern=r"^[A-Za-z0-9][A-Za-z0-9._:-]{7,99}$",
            description="Made by the caller: sent again with the same key, the unit is taken in once.",
        ),
    ]
    device: Line = ""
    device_words: Line = ""
    serial: Line = ""
    asset_tag: Line = ""
    place: Line = ""
    accessories: Text = ""
    seals: Line = ""
    condition: Text = ""
    may_be_lost: Text = ""
    agreed_by: Literal["", "owner", "owner_in_writing", "nobody"] = ""
    way_to_test: Literal[
        "", "guest_account", "start_screen", "own_medium", "owner_present", "none"
    ] = ""
    pack: Literal["sound", "swollen", "damaged", "none", "unseen"] = "unseen"
    liquid: bool = False
    dropped: bool = False
    due: Annotated[str, Field(max_length=20, description="A day, as 2026-03-02.")] = ""
    complaint: Text = ""
    owner_name: Line = ""
    owner_contact: Line = ""
    told: Line = Field("", description="Where a hazard is met: who was told.")
    hazard_place: Line = Field("", description="Where a hazard is met: where it was put.")
    power_off: Annotated[bool, Field(description="Where a hazard is met: it is without power.")] = (
        False
    )


@router.post(
    "/units",
    auth=May("units:write"),
    response={200: UnitOut, 201: UnitOut, **ERRORS},
    summary="Take a unit in",
    openapi_extra=told("units:write"),
)
def take_in(request: HttpRequest, given: UnitIn) -> Status[Unit]:
    """Take one unit in, as the page does: everything that is wrong is told at once, nothing is half stored."""
    if Unit.objects.filter(pk=given.key).exists():
        return Status(200, _sent_again(given))
    form = {
        name: "1" if value is True else "" if value is False else str(value)
        for name, value in given.dict(exclude={"key"}).items()
    }
    intake = read_intake(form, known_for([given.serial], given.device))
    if intake.problems:
        raise InputError(intake.problems)
    caller = cast("Caller", request.auth)  # type: ignore[attr-defined]  # set by the interface's entry
    if not store_intake(given.key, intake, by=caller.name):
        return Status(200, _sent_again(given))
    return Status(201, Unit.objects.get(pk=given.key))


def _sent_again(given: UnitIn) -> Unit:
    """The unit that came in under this key.

    Raises:
        InputError: It is another machine.
    """
    came_in = StoredEvent.objects.filter(unit=given.key, name="taken_in").get().body
    names = ("serial", "asset_tag", "device_words")
    if any(one_line(getattr(given, name)) != came_in.get(name, "") for name in names):
        wrong = Problem(
            "this key was used for another machine",
            "Give each machine a key of its own; send the same one again only as it was.",
            "key",
            code="id_twice",
        )
        raise InputError([wrong])
    return Unit.objects.get(pk=given.key)


@router.get(
    "/units/{key}/record",
    auth=May("records:read"),
    response={200: list[dict[str, Any]], **ERRORS},
    summary="The record of a unit",
    openapi_extra=told("records:read"),
)
def record(request: HttpRequest, key: Key) -> list[dict[str, Any]]:
    """What was found, done, renewed and proven, one entry for each job, the oldest first."""
    unit = get_object_or_404(Unit, pk=key)
    found = []
    before = {str(name): str(value) for name, value in unit.checks_before.items()}
    for run in reversed(list(Run.objects.filter(unit=unit).order_by("-started_ms")[:MOST_RUNS])):
        job = load_job(run.key)
        found.append(
            {
                "run": run.key,
                "outcome": run.outcome,
                **asdict(record_of(job.device, job.state, before)),
            }
        )
    return found


@router.get(
    "/units/{key}/record.pdf",
    auth=May("records:read"),
    response=ERRORS,
    summary="The record as PDF",
    openapi_extra=told("records:read", "application/pdf", may_be_late=True),
)
def record_paper(request: HttpRequest, key: Key) -> HttpResponse:
    """The record on paper, with the owner's complaint and the photos."""
    found = record_pdf(request, key)
    if found.status_code == 200:
        return found
    # A page that looks again by itself is for people.
    if found.status_code == 202:
        problem = Problem("the paper is being set", "Ask again in two seconds.", code="being_set")
    else:
        problem = Problem("no PDF can be made here", "Ask a lead.", code="no_pdf")
    answer = JsonResponse({"problems": [problem.as_json()]}, status=found.status_code)
    if found.status_code == 202:
        answer.headers["Retry-After"] = "2"
    return answer


@router.get(
    "/units/{key}/label",
    auth=May("labels:read"),
    response=ERRORS,
    summary="The label of a unit",
    openapi_extra=told("labels:read", "text/html"),
)
def label(request: HttpRequest, key: Key, form: Literal["roll", "sheet"] = "roll") -> HttpResponse:
    """The label as a page to print, with its QR code."""
    get_object_or_404(Unit, pk=key)
    return HttpResponse(labels_page(labels_of_units([key]), form, for_pdf=False))
