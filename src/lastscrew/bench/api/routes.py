"""What other systems may ask: units, plans, jobs, records, labels, stock."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Annotated, Literal, cast

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from ninja import Field, Query, Schema

from lastscrew.bench.api.entry import Caller, May
from lastscrew.bench.api.shapes import ERRORS, Key, UnitOut, router, told
from lastscrew.bench.models import Item, PartLineState, Revision, Run, StoredEvent, Unit
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.jobs import current_revision, device_of
from lastscrew.paper.plan_json import plan_as_json
from lastscrew.plan.briefing import brief
from lastscrew.plan.model import Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError, Problem
from lastscrew.proof.checks import proof_of
from lastscrew.run.lines import event_from_json

MOST_ROWS = 500
PLANNING_STATES = 20_000
"""States that a plan for another system may look at; the best found so far is given then, as not proven."""

PartState = Literal[
    "to_order",
    "ordered",
    "received",
    "dead_on_arrival",
    "fitted",
    "old_kept",
    "returned",
    "scrapped",
]

Ids = Annotated[list[Annotated[str, Field(max_length=1000)]], Field(max_length=100)]


class UnitsOut(Schema):
    """Units in the order of their last change, and where the next page begins."""

    units: list[UnitOut]
    next: str | None


class RunOut(Schema):
    """A job as its events leave it."""

    key: str
    unit_id: str
    device: str
    revision: str
    version: int
    targets: list[str]
    open_joints: list[str]
    is_paused: bool
    is_parked: bool
    is_split: bool
    outcome: str
    worker: str
    started_ms: int
    finished_ms: int | None
    hands_on_ms: int


class PartLineOut(Schema):
    """A line of an order. A job and a line together name it."""

    run_id: str
    line: str
    state: str
    count: int
    order_code: str
    what: str
    changed_ms: int


class ItemOut(Schema):
    """How much of something is in stock."""

    code: str
    count: float
    place: str


class DeviceOut(Schema):
    """The present revision of a device file."""

    device: str
    name: str
    kind: str
    revision: str


class UnitsAsked(Schema):
    """Which units."""

    stage: Literal[
        "", "taken_in", "set_apart", "at_work", "parked", "to_prove", "proven", "gone"
    ] = ""
    device: str = Field("", max_length=100)
    place: str = Field("", max_length=200)
    serial: str = Field("", max_length=200)
    after: str = Field("", max_length=120, pattern=r"^([0-9]{1,18}:[A-Za-z0-9._:-]{1,100})?$")
    limit: int = Field(100, ge=1, le=MOST_ROWS)


class PlanAsked(Schema):
    """What to plan."""

    replace: Ids = Field(default_factory=list)
    reach: Ids = Field(default_factory=list)
    opened: Ids = Field(default_factory=list)
    without: Ids = Field(default_factory=list)
    not_fitted: Ids = Field(default_factory=list)
    objective: Literal["time", "risk", "steps"] = "time"


class EventsIn(Schema):
    """Run events to add, as docs/run-events.md describes them."""

    events: list[dict[str, object]] = Field(min_length=1, max_length=1000)
    unit: Key | None = None


class Added(Schema):
    """What became of them."""

    version: int
    accepted: list[str]
    waiting: list[str]
    branch: str | None


@router.get(
    "/units",
    auth=May("units:read"),
    response={200: UnitsOut, **ERRORS},
    summary="Units",
    openapi_extra=told("units:read"),
)
def units(request: HttpRequest, asked: Query[UnitsAsked]) -> UnitsOut:
    """Units by stage, device, place or serial; latest change first, page by page."""
    found = Unit.objects.all()
    for name in ("stage", "device", "place", "serial"):
        if value := getattr(asked, name):
            found = found.filter(**{name: value})
    if asked.after:
        moment, _, key = asked.after.partition(":")
        found = found.filter(changed_ms__lte=int(moment)).exclude(
            changed_ms=int(moment), key__lte=key
        )
    rows = list(found.order_by("-changed_ms", "key")[: asked.limit + 1])
    more = len(rows) > asked.limit
    rows = rows[: asked.limit]
    following = f"{rows[-1].changed_ms}:{rows[-1].key}" if more else None
    return UnitsOut(units=[UnitOut.from_orm(row) for row in rows], next=following)


@router.get(
    "/units/{key}",
    auth=May("units:read"),
    response={200: UnitOut, **ERRORS},
    summary="A unit",
    openapi_extra=told("units:read"),
)
def unit(request: HttpRequest, key: Key) -> Unit:
    """One unit."""
    return get_object_or_404(Unit, key=key)


@router.get(
    "/runs/{key}",
    auth=May("runs:read"),
    response={200: RunOut, **ERRORS},
    summary="A job",
    openapi_extra=told("runs:read"),
)
def run(request: HttpRequest, key: Key) -> Run:
    """One job."""
    return get_object_or_404(Run, key=key)


@router.get(
    "/runs/{key}/events",
    auth=May("runs:read"),
    response=ERRORS,
    summary="Events of a job",
    openapi_extra=told("runs:read", "application/x-ndjson"),
)
def run_events(request: HttpRequest, key: Key) -> HttpResponse | StreamingHttpResponse:
    """The events of a job as JSON Lines, in order: what ``lastscrew ledger --run`` reads."""
    get_object_or_404(Run, key=key)
    bodies = StoredEvent.objects.filter(run=key).order_by("number").values_list("body", flat=True)

    def lines() -> Iterator[str]:
        for body in bodies.iterator():
            yield json.dumps(body, ensure_ascii=False) + "\n"

    return StreamingHttpResponse(lines(), content_type="application/x-ndjson; charset=utf-8")


@router.post(
    "/runs/{key}/events",
    auth=May("runs:write"),
    response={200: Added, **ERRORS},
    summary="Add events",
    openapi_extra=told("runs:write"),
)
def add_events(request: HttpRequest, key: Key, given: EventsIn) -> Added:
    """Add events to a job; an event that was sent before counts once."""
    caller = cast("Caller", request.auth)  # type: ignore[attr-defined]  # set by the interface's entry
    problems: list[Problem] = []
    events = []
    for at, value in enumerate(given.events):
        try:
            events.append(event_from_json(value))
        except InputError as error:
            problems += [
                Problem(p.message, p.remedy, f"events.{at}.{p.path}".rstrip("."), code=p.code)
                for p in error.problems
            ]
    if problems:
        raise InputError(problems)
    added = add_run_events(key, events, by=caller.name, unit=given.unit)
    return Added(
        version=added.version,
        accepted=list(added.accepted),
        waiting=list(added.waiting),
        branch=added.branch,
    )


@router.get(
    "/part-lines",
    auth=May("runs:read"),
    response={200: list[PartLineOut], **ERRORS},
    summary="Order lines",
    openapi_extra=told("runs:read"),
)
def part_lines(
    request: HttpRequest,
    state: PartState = "to_order",
    run_id: Annotated[str, Field(max_length=100)] = "",
    limit: Annotated[int, Field(ge=1, le=MOST_ROWS)] = 100,
    offset: Annotated[int, Field(ge=0, le=1_000_000)] = 0,
) -> list[PartLineState]:
    """Lines of orders in one state, longest waiting first; of one job, or of all; page by page."""
    lines = PartLineState.objects.filter(state=state)
    if run_id:
        lines = lines.filter(run_id=run_id)
    return list(lines.order_by("changed_ms", "pk")[offset : offset + limit])


@router.get(
    "/stock",
    auth=May("stock:read"),
    response={200: list[ItemOut], **ERRORS},
    summary="Stock",
    openapi_extra=told("stock:read"),
)
def stock(
    request: HttpRequest,
    after: Annotated[str, Field(max_length=100)] = "",
    limit: Annotated[int, Field(ge=1, le=MOST_ROWS)] = 100,
) -> list[Item]:
    """What is in stock, by code, page by page: ``after`` is the last code of the page before."""
    return list(Item.objects.filter(code__gt=after).order_by("code")[:limit])


@router.get(
    "/devices",
    auth=May("plans:read"),
    response={200: list[DeviceOut], **ERRORS},
    summary="Devices",
    openapi_extra=told("plans:read"),
)
def devices(request: HttpRequest) -> list[Revision]:
    """The present revision of each device file."""
    return list(Revision.objects.filter(is_current=True).order_by("device")[:MOST_ROWS])


@router.get(
    "/devices/{device}/plan",
    auth=May("plans:read"),
    response={200: dict[str, object], **ERRORS},
    summary="A plan",
    openapi_extra=told("plans:read"),
)
def device_plan(request: HttpRequest, device: Key, asked: Query[PlanAsked]) -> dict[str, object]:
    """The cheapest safe way in and way out, as ``lastscrew plan --json`` gives it."""
    revision = current_revision(device)
    if revision is None:
        raise KeyError(device)
    found = device_of(revision.revision)
    wanted = Request(
        replace=tuple(asked.replace),
        reach=tuple(asked.reach),
        opened=tuple(asked.opened),
        without=tuple(asked.without),
        not_fitted=tuple(asked.not_fitted),
        objective=asked.objective,
    )
    made = plan(found, wanted, StopRule(work=PLANNING_STATES))
    return plan_as_json(brief(found, made), proof_of(found, made), None)
