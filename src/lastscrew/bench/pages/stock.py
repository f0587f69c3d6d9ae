"""Stock: how much of each order code, fastener and supply lies there; changed by events only."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from django.contrib import messages
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.folded import folded
from lastscrew.bench.depot.stock_words import plain_code, read_stock, stock_names
from lastscrew.bench.models import Item, PartLineState, Revision, StoredEvent
from lastscrew.bench.pages.common import who
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import device_of
from lastscrew.problems import InputError, Problem

PAGE = 100
MOST_DEVICES = 60
MOST_MOVES = 50
REASONS = {
    "received": gettext_lazy("came in"),
    "used": gettext_lazy("used"),
    "returned": gettext_lazy("sent back"),
    "lost": gettext_lazy("lost"),
    "harvested": gettext_lazy("taken out of another machine"),
}


def known_names() -> dict[str, str]:
    """Names of codes from the device files in use."""
    rows = Revision.objects.filter(is_current=True).order_by("device")
    hashes = rows.values_list("revision", flat=True)[:MOST_DEVICES]
    return stock_names(device_of(revision) for revision in hashes)


def stock(request: HttpRequest) -> HttpResponse:
    """The list, narrowed by words; one thing with all that was told about it."""
    return _page(request, {}, ())


def tell_stock(request: HttpRequest) -> HttpResponse:
    """Count something, or say that it came or went."""
    if request.method != "POST":
        return redirect("stock")
    form = {name: value for name, value in request.POST.items() if isinstance(value, str)}
    what, problems = read_stock(form, known_names())
    if what is not None:
        key = form.get("event", "")
        try:
            add_depot_event(
                "", what, by=who(request), key=key if len(key) == 32 and key.isalnum() else None
            )
        except InputError as error:
            problems = list(error.problems)
    if problems:
        return _page(request, form, tuple(problems), status=422)
    messages.success(request, _("Kept."))
    return redirect("stock")


def _page(
    request: HttpRequest, form: dict[str, str], problems: tuple[Problem, ...], status: int = 200
) -> HttpResponse:
    names = known_names()
    words = request.GET.get("words", "").replace("\0", "")[:200]
    item = request.GET.get("item", "").replace("\0", "")[:120]
    after = request.GET.get("after", "").replace("\0", "")[:120]
    items = Item.objects.order_by("code").filter(code__gt=after)
    if request.GET.get("short"):
        items = items.filter(count__lte=0)
    if words:
        # Compared here: SQLite knows the case of A to Z only.
        asked = folded(words)
        meant = (
            code
            for code, place in items.values_list("code", "place")
            if asked in folded(f"{code}\n{names.get(code, '')}\n{place}")
        )
        items = items.filter(code__in=list(islice(meant, PAGE + 1)))
    found = list(items[: PAGE + 1])
    codes = [row.code for row in found[:PAGE]]
    wanted = _wanted(codes)
    context = {
        "rows": [
            (row, plain_code(row.code), names.get(row.code, ""), wanted.get(row.code, {}))
            for row in found[:PAGE]
        ],
        "next": codes[-1] if len(found) > PAGE else "",
        "words": words,
        "short": bool(request.GET.get("short")),
        "names": sorted(names.items(), key=lambda pair: pair[1].casefold()),
        "item": item,
        "item_name": names.get(item, ""),
        "item_row": Item.objects.filter(pk=item).first() if item else None,
        "moves": _moves(item) if item else (),
        "form": form or {"item": item},
        "problems": problems,
        "reasons": REASONS,
        "event": new_key(),
        "other_event": new_key(),
    }
    return render(request, "bench/stock/stock.html", context, status=status)


def _wanted(codes: Sequence[str]) -> dict[str, dict[str, int]]:
    """By code: how many are to be ordered, and ordered but not here."""
    plain = {plain_code(code): code for code in codes if code.startswith("code:")}
    rows = (
        PartLineState.objects.filter(order_code__in=plain, state__in=("to_order", "ordered"))
        .order_by()
        .values_list("order_code", "state")
        .annotate(count=Sum("count"))
    )
    found: dict[str, dict[str, int]] = {}
    for code, state, count in rows:
        found.setdefault(plain[code], {})[state] = count
    return found


def _moves(item: str) -> list[StoredEvent]:
    """What people told about one thing, latest first. What jobs used stands in their records."""
    rows = StoredEvent.objects.filter(name__in=("stock_counted", "stock_moved"), body__item=item)
    return list(rows.order_by("-position")[:MOST_MOVES])


ROUTES = (
    Route("stock/", stock, "stock", "guest", "lead"),
    Route("stock/tell/", tell_stock, "tell_stock", "technician", "technician"),
)
