"""Photos: sent with a form and kept for a unit, and shown again; never served as a page."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.gate import role_of
from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.events import OwnerPhoto
from lastscrew.bench.depot.pass_codes import tells_pass_code
from lastscrew.bench.depot.reading_forms import file_name, one_line
from lastscrew.bench.models import Photo, Unit
from lastscrew.bench.pages.common import who
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.owners import keep_caption
from lastscrew.bench.store.photos import keep_photo, read_photo
from lastscrew.problems import InputError
from lastscrew.saying import told

MOST_AT_ONCE = 12
LOCKED_UP = "default-src 'none'; img-src 'self'; sandbox"


def keep_sent_photos(request: HttpRequest, unit: str, *, is_owners: bool = True) -> int:
    """Keep the photos that came with a form; what is no picture is said and left out.

    Returns:
        How many were kept.
    """
    shows = one_line(request.POST.get("shows", ""))[:200]
    if tells_pass_code(shows):
        messages.warning(
            request, _("What the photos show was left out: it looks like a pass code.")
        )
        shows = ""
    sent = request.FILES.getlist("photos")
    if len(sent) > MOST_AT_ONCE:
        messages.warning(
            request,
            _("Only the first %(most)d photos were kept.") % {"most": MOST_AT_ONCE},
        )
    kept = 0
    for file in sent[:MOST_AT_ONCE]:
        try:
            photo = keep_photo(file, unit=unit, is_owners=is_owners)
            # What a photo of the owner's shows goes when the photo goes: an event could not.
            what = OwnerPhoto(sha256=photo.sha256, text=None if is_owners else shows or None)
            add_depot_event(unit, what, by=who(request), key=f"{unit[:60]}.{photo.sha256[:32]}")
            if is_owners:
                keep_caption(unit, photo.sha256, shows)
            kept += 1
        except InputError as error:
            name = file_name(file.name or "")[:60]
            messages.warning(
                request,
                f"{name}: {told(error.problems[0].message)}. {told(error.problems[0].remedy)}",
            )
    return kept


def add_photos(request: HttpRequest, key: str) -> HttpResponse:
    """Photos from the page of a unit."""
    unit = get_object_or_404(Unit, pk=key)
    if request.method == "POST":
        is_owners = request.POST.get("is_owners") == "1"
        if keep_sent_photos(request, unit.pk, is_owners=is_owners):
            messages.success(request, _("Kept."))
    return redirect("unit", key=key)


def photo(request: HttpRequest, sha256: str) -> HttpResponse:
    """A picture, as a picture and nothing else."""
    found = get_object_or_404(Photo, pk=sha256)
    if found.erased:
        return HttpResponse(_("This picture was erased."), status=410, content_type="text/plain")
    if found.is_owners and role_of(request) == "guest":
        return render(request, "bench/refused.html", status=403)
    headers = {
        "Content-Security-Policy": LOCKED_UP,
        # The name is the hash of the content: it never changes. Only this browser may keep it, and not what may
        # have to be erased.
        "Cache-Control": "no-store" if found.is_owners else "private, max-age=86400, immutable",
        "Content-Disposition": f'inline; filename="{sha256[:12]}"',
    }
    if request.headers.get("If-None-Match") == f'"{sha256}"':
        return HttpResponse(status=304, headers=headers)
    try:
        content, media_type = read_photo(sha256)
    except KeyError:
        return HttpResponse(_("This picture is gone."), status=410, content_type="text/plain")
    return HttpResponse(
        content, content_type=media_type, headers={**headers, "ETag": f'"{sha256}"'}
    )


ROUTES = (
    Route("units/<str:key>/photos/", add_photos, "add_photos", "technician", "technician"),
    Route("photos/<str:sha256>", photo, "photo", "guest", "lead"),
)
