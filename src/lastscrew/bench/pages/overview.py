"""The overview: what lies on which bench, what waits for what, what is due; each unit with its small V."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy

from lastscrew.bench.access.rights import Route
from lastscrew.bench.models import Unit
from lastscrew.bench.pages.common import who
from lastscrew.bench.queries.overview import ORDERS, Asked, numbers, overview
from lastscrew.bench.store.clock import now_ms

ORDER_WORDS = {
    "place": gettext_lazy("by bench"),
    "due": gettext_lazy("by what is due"),
    "waiting": gettext_lazy("by what it waits for"),
    "changed": gettext_lazy("latest first"),
}
STATIONS = ("taken_in", "at_work", "parked", "to_prove", "proven")
"""The stages along the V, from the way in to the way out; what is set apart stands outside of it."""


def asked_for(request: HttpRequest) -> Asked:
    """What an address asks for; what makes no sense is left out."""
    order = request.GET.get("order", "")
    stage = request.GET.get("stage", "")
    text = {
        name: request.GET.get(name, "").replace("\0", "")[:200]
        for name in ("place", "worker", "device", "after")
    }
    if request.GET.get("mine"):
        text["worker"] = who(request)
    return Asked(
        order if order in ORDERS else "place",
        stage if stage in Unit.Stage.values else "",
        text["place"],
        text["worker"],
        text["device"],
        request.GET.get("words", "").replace("\0", "")[:200],
        text["after"],
        late=bool(request.GET.get("late")),
    )


def address(asked: Asked, **changes: str) -> str:
    """The address of the same list with some changes; an empty text leaves something out."""
    fields = {
        "order": "" if asked.order == "place" else asked.order, "stage": asked.stage, "place": asked.place,
        "worker": asked.worker, "device": asked.device, "words": asked.words, "late": "1" if asked.late else "",
        **changes,
    }  # fmt: skip
    query = urlencode({name: value for name, value in fields.items() if value})
    return f"/?{query}" if query else "/"


def overview_page(request: HttpRequest) -> HttpResponse:
    """The overview."""
    asked, now = asked_for(request), now_ms()
    here, found = numbers(now), overview(asked, now)
    context = {
        "asked": asked,
        "found": found,
        "here": here,
        "is_empty": not here.stages and not asked.is_narrowed,
        "stations": [
            (stage, Unit.Stage(stage).label, here.stages.get(stage, 0), address(asked, stage=stage))
            for stage in STATIONS
        ],
        "set_apart": here.stages.get("set_apart", 0),
        "orders": [
            (key, words, address(asked, order=key, after="")) for key, words in ORDER_WORDS.items()
        ],
        "first_address": address(asked),
        "all_address": address(Asked(asked.order)),
        "next_address": address(asked, after=found.next) if found.next else "",
        "stages": Unit.Stage.choices,
    }
    return render(request, "bench/overview/overview.html", context)


ROUTES = (Route("", overview_page, "home", "guest", "lead"),)
