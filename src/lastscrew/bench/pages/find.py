"""Finding: what was scanned or typed, from any page, leads straight to its unit."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from lastscrew.bench.access.rights import Route
from lastscrew.bench.queries.finding import MOST_FOUND, find
from lastscrew.bench.queries.stays import device_names

MOST_CHARS = 200


def find_page(request: HttpRequest) -> HttpResponse:
    """Go to the one unit, to what lies at a place, or show what it may be."""
    asked = request.GET.get("q", "")[:MOST_CHARS]
    found = find(asked.replace("\0", ""))
    if found.unit is not None:
        return redirect("unit", key=found.unit.pk)
    if found.place:
        return redirect(f"/?{urlencode({'place': found.place})}")
    context = {
        "asked": asked,
        "units": found.units,
        "names": device_names(),
        "is_cut": len(found.units) >= MOST_FOUND,
    }
    return render(request, "bench/find/find.html", context)


ROUTES = (Route("find/", find_page, "find", "guest", "lead"),)
