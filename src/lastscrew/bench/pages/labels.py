"""Labels to print: for units, for a whole batch, for places; as a page and as PDF."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import cast
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.labels import (
    MOST_LABELS,
    SHEET_COLUMNS,
    SHEET_ROWS,
    Form,
    Label,
    labels_page,
)
from lastscrew.bench.depot.taking_in import HAZARD_WORDS
from lastscrew.bench.models import Unit
from lastscrew.bench.pages.printing import paper
from lastscrew.bench.queries.stays import device_names

MOST_PLACE = 60


def labels_of_units(keys: list[str]) -> list[Label]:
    """Labels of units in the order asked for; what is not known is left out."""
    found = {unit.key: unit for unit in Unit.objects.filter(pk__in=keys[:MOST_LABELS])}
    names = device_names()
    return [_label(found[key], names) for key in keys if key in found]


def _label(unit: Unit, names: dict[str, str]) -> Label:
    came = datetime.fromtimestamp(unit.taken_in_ms / 1000, UTC)
    serial = unit.serial or unit.asset_tag
    hazard = str(HAZARD_WORDS.get(unit.hazard, unit.hazard)) if unit.hazard else ""
    return Label(
        str(unit),
        str(unit),
        (names.get(unit.device) or unit.device or unit.device_words, serial, f"{came:%Y-%m-%d}"),
        hazard,
    )


def _asked(request: HttpRequest) -> tuple[list[Label], Form, int]:
    keys = request.GET.getlist("unit")[:MOST_LABELS]
    batch = request.GET.get("batch", "")
    if batch:
        mine = Unit.objects.filter(pk__startswith=f"{batch}.").order_by("number")
        keys += list(mine.values_list("pk", flat=True)[:MOST_LABELS])
    labels = labels_of_units(list(dict.fromkeys(keys)))
    for place in request.GET.get("places", "").splitlines()[:MOST_LABELS]:
        name = " ".join(place.split())[:MOST_PLACE]
        if name:
            labels.append(Label(name, name, (_("Place"),)))
    form = request.GET.get("form", "")
    skip = request.GET.get("skip", "0")
    used = int(skip) if skip.isdecimal() and len(skip) < 3 else 0
    return (
        labels[:MOST_LABELS],
        cast("Form", form if form in ("roll", "sheet") else "roll"),
        min(used, SHEET_COLUMNS * SHEET_ROWS - 1),
    )


def labels(request: HttpRequest) -> HttpResponse:
    """Choose what is printed and on what; ``print`` gives the page itself."""
    found, form, skip = _asked(request)
    if found and request.GET.get("print"):
        return HttpResponse(labels_page(found, form, skip=skip, for_pdf=False))
    query = [("unit", key) for key in request.GET.getlist("unit")]
    query += [(name, request.GET[name]) for name in ("batch", "places") if request.GET.get(name)]
    context = {
        "labels": found,
        "form": form,
        "skip": skip,
        "units": request.GET.getlist("unit"),
        "batch": request.GET.get("batch", ""),
        "places": request.GET.get("places", ""),
        "query": urlencode([*query, ("form", form), ("skip", str(skip))]),
    }
    return render(request, "bench/find/labels.html", context)


def labels_pdf(request: HttpRequest) -> HttpResponse:
    """The labels as PDF."""
    found, form, skip = _asked(request)
    page = labels_page(found or [Label("", "–")], form, skip=skip, for_pdf=True)
    return paper(request, page, "labels.pdf", f"/labels/?{request.GET.urlencode()}")


ROUTES = (
    Route("labels/", labels, "labels", "guest", "lead"),
    Route("labels.pdf", labels_pdf, "labels_pdf", "guest", "lead"),
)
