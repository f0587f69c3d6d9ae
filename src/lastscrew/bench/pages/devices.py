"""Devices: which there are, the drawing as the map of each, its revisions, what work has found, photos below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, cast
from urllib.parse import quote, urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.folded import folded
from lastscrew.bench.models import DevicePhoto, Draft, Photo, Revision, Unit
from lastscrew.bench.pages.common import sent_only, who
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.jobs import current_revision, device_of
from lastscrew.bench.store.photos import MAX_SIDE, keep_photo, keep_straightened
from lastscrew.bench.store.revisions import contradictions, jobs_in_hand
from lastscrew.bench.workshop.asking import address_of
from lastscrew.bench.workshop.drawing import MapSide, draw_map, place_of, sides_of, to_page
from lastscrew.bench.workshop.edits import apply_edits, proposed_edits
from lastscrew.bench.workshop.overlay import (
    Anchor,
    Underlay,
    anchors_as_json,
    anchors_from,
    check_anchors,
)
from lastscrew.bench.workshop.publishing import compared, loses_history
from lastscrew.bench.workshop.straighten import (
    Corners,
    check_corners,
    straight_size,
    where_from,
)
from lastscrew.device.model import Device
from lastscrew.plan.model import Request
from lastscrew.problems import InputError, Problem

A_PAGE: Final = 50


# --- the list -------------------------------------------------------------------------------------


def devices(request: HttpRequest) -> HttpResponse:
    """Every device that jobs can be started on, and what is being written."""
    words = request.GET.get("q", "").strip()[:100]
    rows = Revision.objects.filter(is_current=True).defer("text").order_by("name", "device")
    if words:
        # Compared here: SQLite knows the case of A to Z only.
        asked = folded(words)
        told = rows.values_list("device", "name", "kind")
        rows = rows.filter(device__in=[row[0] for row in told if asked in folded("\n".join(row))])
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    here = dict(
        Unit.objects.filter(device__in=[row.device for row in page], gone_ms=None)
        .order_by()
        .values_list("device")
        .annotate(units=Count("key"))
    )
    drafts = (
        Draft.objects.filter(published="")
        .annotate(is_blank=Q(text=""))
        .defer("text", "source_text", "steps")[:A_PAGE]
    )
    listed = [(row, here.get(row.device, 0)) for row in page]
    return render(
        request,
        "bench/devices/list.html",
        {"page": page, "rows": listed, "q": words, "drafts": drafts},
    )


# --- one device -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MapWish:
    """Which side and layer of the map is looked at."""

    side: str
    layer: int


def map_wish(request: HttpRequest, sides: tuple[MapSide, ...]) -> MapWish | None:
    """The side and layer that the address names, else the outside of the first side; None without drawing."""
    if not sides:
        return None
    shown = next((one for one in sides if one.side == request.GET.get("side")), sides[0])
    asked = request.GET.get("layer", "")
    layer = int(asked) if asked.isdecimal() and len(asked) < 4 else 0
    return MapWish(shown.side, min(layer, max(0, len(shown.layers) - 1)))


def underlay_of(device: str, wish: MapWish) -> Underlay | None:
    """The depot's own photo under one side and layer, where it is fixed."""
    row = DevicePhoto.objects.filter(device=device, side=wish.side, layer=wish.layer).first()
    anchors = anchors_from(row.points) if row is not None else None
    photo = Photo.objects.filter(pk=row.photo, erased=False).first() if row is not None else None
    if row is None or anchors is None or photo is None:
        return None
    return Underlay(f"/photos/{photo.sha256}", photo.width, photo.height, anchors)


def map_parts(
    request: HttpRequest,
    device: Device,
    *,
    chosen: frozenset[str] = frozenset(),
    address: str = "",
    asked: Request | None = None,
) -> dict[str, object]:
    """What the template of the map needs.

    Args:
        request: Says which side and layer.
        device: The device.
        chosen: Parts to mark.
        address: Page that choosing a part leads to.
        asked: What is asked for already.
    """
    sides = sides_of(device)
    wish = map_wish(request, sides)
    if wish is None:
        return {"map_sides": ()}
    kept = address_of(asked) if asked is not None else ""

    def link(part: str) -> str:
        return f"{address}?{kept}&toggle={quote(part)}&side={quote(wish.side)}&layer={wish.layer}"

    drawing = draw_map(
        device,
        wish.side,
        layer=wish.layer,
        chosen=chosen,
        link=link if address else None,
        underlay=underlay_of(device.id, wish),
    )
    layers = next(one.layers for one in sides if one.side == wish.side)
    return {
        "map": to_page(drawing),
        "map_sides": [one.side for one in sides],
        "map_side": wish.side,
        "map_layer": wish.layer,
        "map_layers": range(max(1, len(layers))),
        "map_keep": f"{kept}&" if kept else "",
    }


def shown_device(device_id: str, revision: str = "") -> tuple[Revision, Device]:
    """A device by its current revision, or by the one that is asked for.

    Raises:
        Http404: There is none.
    """
    if revision:
        row: Revision | None = get_object_or_404(Revision, pk=revision, device=device_id)
    else:
        row = current_revision(device_id)
    if row is None:
        raise Http404(device_id)
    return row, device_of(row.revision)


def device_page(request: HttpRequest, device_id: str) -> HttpResponse:
    """The device: its drawing, its parts, its revisions."""
    row, device = shown_device(device_id, request.GET.get("rev", ""))
    revisions = (
        Revision.objects.filter(device=device_id).defer("text").order_by("-made_ms")[:A_PAGE]
    )
    in_hand = jobs_in_hand(device_id)
    parts = [
        (part, f"/devices/{device_id}/plan/?{urlencode({'replace': part.id})}")
        for part in device.parts.values()
        if not part.fixed
    ]
    spares = [
        (spare, f"/devices/{device_id}/plan/?{urlencode({'replace': spare.id})}")
        for spare in device.spares.values()
    ]
    return render(
        request,
        "bench/devices/device.html",
        {
            "device": device,
            "revision": row,
            "revisions": [(one, in_hand.get(one.revision, 0)) for one in revisions],
            "parts": parts,
            "spares": spares,
            "edits": len(proposed_edits(device, contradictions(device_id))),
            "units": Unit.objects.filter(device=device_id, gone_ms=None).count(),
            **map_parts(request, device, address=f"/devices/{device_id}/plan/", asked=Request()),
        },
    )


def device_text(request: HttpRequest, device_id: str) -> HttpResponse:
    """The device file of a revision, to keep."""
    row, _device = shown_device(device_id, request.GET.get("rev", ""))
    return HttpResponse(
        row.text,
        content_type="text/plain; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="{row.device}.{row.revision[:8]}.device.yaml"'
        },
    )


def compare(request: HttpRequest, device_id: str) -> HttpResponse:
    """What differs between two revisions, in the trade's words, and what the newer one has lost."""
    new_row, new = shown_device(device_id, request.GET.get("new", ""))
    old_row, old = shown_device(device_id, request.GET.get("old", ""))
    return render(
        request,
        "bench/devices/compare.html",
        {
            "device": new,
            "old": old_row,
            "new": new_row,
            "compared": compared(old, new),
            "lost": loses_history(old, new),
        },
    )


@sent_only("/devices/{device_id}/")
def edit_device(request: HttpRequest, device_id: str) -> HttpResponse:
    """Begin a draft from a revision."""
    row, device = shown_device(device_id, request.POST.get("rev", ""))
    draft = Draft.objects.create(
        title=device.name,
        device=device_id,
        origin=Draft.Origin.EDIT,
        text=row.text,
        made_by=who(request),
        changed_ms=now_ms(),
    )
    return redirect(f"/devices/draft-{draft.pk}/")


# --- what work has found --------------------------------------------------------------------------


def edits(request: HttpRequest, device_id: str) -> HttpResponse:
    """What jobs contradict in the file: for the lead to look at, and to make a draft of."""
    row, device = shown_device(device_id)
    found = proposed_edits(device, contradictions(device_id))
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        chosen = [edit for edit in found if edit.key in request.POST.getlist("edit") and edit.paths]
        if not chosen:
            problems = (Problem(_("Nothing is chosen."), _("Tick what the file should say.")),)
        else:
            try:
                text = apply_edits(row.text, chosen)
            except (InputError, KeyError) as error:
                told = error.problems if isinstance(error, InputError) else ()
                problems = told or (
                    Problem(
                        _("A change does not fit into the file as it stands."),
                        _("Edit the file by hand."),
                    ),
                )
            else:
                draft = Draft.objects.create(
                    title=device.name,
                    device=device_id,
                    origin=Draft.Origin.EDIT,
                    text=text,
                    source_text="\n".join(edit.text for edit in chosen),
                    source_name=_("what work has found"),
                    made_by=who(request),
                    changed_ms=now_ms(),
                )
                return redirect(f"/devices/draft-{draft.pk}/")
    return render(
        request,
        "bench/devices/edits.html",
        {"device": device, "found": found, "problems": problems},
        status=422 if problems else 200,
    )


# --- photos under the drawing ---------------------------------------------------------------------


def underlay(request: HttpRequest, device_id: str) -> HttpResponse:
    """Lay the depot's own photo under a side and layer: send it, then fix it by two points."""
    _row, device = shown_device(device_id)
    sides = sides_of(device)
    wish = map_wish(request, sides)
    if wish is None:
        raise Http404(device_id)
    row = DevicePhoto.objects.filter(device=device_id, side=wish.side, layer=wish.layer).first()
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        problems = _change_underlay(request, device, wish, row)
        if not problems:
            keep = urlencode({"side": wish.side, "layer": wish.layer})
            done = request.POST.get("do") == "fix"
            return redirect(f"/devices/{device_id}/{'' if done else 'photo/'}?{keep}")
    photo = Photo.objects.filter(pk=row.photo, erased=False).first() if row is not None else None
    frame = device.frame_mm.get(wish.side)
    parts = map_parts(request, device)
    return render(
        request,
        "bench/devices/photo.html",
        {
            "device": device,
            "photo": photo,
            "points": _typed(request) or _shown(row),
            "frame": frame,
            "corners": list(
                zip(
                    _corners(request),
                    (_("upper left"), _("upper right"), _("lower right"), _("lower left")),
                    strict=True,
                )
            ),
            "straightens": request.POST.get("do") == "straighten",
            "place": place_of(device, wish.side),
            "problems": problems,
            **parts,
        },
        status=422 if problems else 200,
    )


def _change_underlay(
    request: HttpRequest, device: Device, wish: MapWish, row: DevicePhoto | None
) -> tuple[Problem, ...]:
    do = request.POST.get("do")
    if do == "send":
        return _send_photo(request, device, wish)
    if row is None:
        return (Problem(_("There is no photo yet."), _("Send it first."), path="photo"),)
    if do == "remove":
        row.delete()
        return ()
    if do == "straighten":
        return _straighten(request, device, wish, row)
    return _fix_photo(request, device, wish, row)


def _straighten(
    request: HttpRequest, device: Device, wish: MapWish, row: DevicePhoto
) -> tuple[Problem, ...]:
    """The photo anew as if taken straight on, and laid below the whole side."""
    frame = device.frame_mm.get(wish.side)
    photo = Photo.objects.filter(pk=row.photo, erased=False).first()
    if frame is None or photo is None:
        return (Problem(_("There is no photo yet."), _("Send it first."), path="photo"),)
    try:
        shares = [
            tuple(float(one[name].replace(",", ".")) / 100 for name in ("x", "y"))
            for one in _corners(request)
        ]
    except ValueError:
        text = _("Four corners are needed.")
        return (Problem(text, _("Tap each on the photo, or type its numbers."), path="corners"),)
    corners = cast("Corners", tuple(shares))
    if problems := check_corners(corners):
        return problems
    pixels = cast("Corners", tuple((x * photo.width, y * photo.height) for x, y in corners))
    size = straight_size(pixels, frame, MAX_SIDE)
    row.photo = keep_straightened(photo, where_from(pixels, size), size).sha256
    whole = (Anchor((0.0, 0.0), (0.0, frame[1])), Anchor((1.0, 1.0), (frame[0], 0.0)))
    row.points = anchors_as_json(whole)
    row.save(update_fields=["photo", "points"])
    messages.success(request, _("The photo is straightened and lies below the drawing."))
    return ()


def _corners(request: HttpRequest) -> list[dict[str, str]]:
    """Corners as they were typed, in order."""
    return [
        {
            "x": request.POST.get(f"corner_x_{n}", "")[:20],
            "y": request.POST.get(f"corner_y_{n}", "")[:20],
        }
        for n in range(1, 5)
    ]


def _send_photo(request: HttpRequest, device: Device, wish: MapWish) -> tuple[Problem, ...]:
    sent = request.FILES.get("photo")
    if sent is None:
        return (Problem(_("No photo was chosen."), _("Choose one."), path="photo"),)
    try:
        photo = keep_photo(sent, unit="", is_owners=False)
    except InputError as error:
        return error.problems
    DevicePhoto.objects.update_or_create(
        device=device.id,
        side=wish.side,
        layer=wish.layer,
        defaults={"photo": photo.sha256, "points": []},
    )
    return ()


def _fix_photo(
    request: HttpRequest, device: Device, wish: MapWish, row: DevicePhoto
) -> tuple[Problem, ...]:
    anchors = _anchors(request)
    if anchors is None:
        return (
            Problem(
                _("Two points are needed, on the photo and on the drawing."),
                _("Tap each place on both, or type its numbers."),
                path="points",
            ),
        )
    problems = check_anchors(anchors, device.frame_mm.get(wish.side))
    if not problems:
        row.points = anchors_as_json(anchors)
        row.save(update_fields=["points"])
    return problems


POINT_FIELDS: Final = ("share_x", "share_y", "mm_x", "mm_y")


def _typed(request: HttpRequest) -> list[dict[str, str]]:
    """What was typed, to show it again."""
    if request.method != "POST" or request.POST.get("do") != "fix":
        return []
    return [
        {name: request.POST.get(f"{name}_{number}", "")[:20] for name in POINT_FIELDS}
        for number in (1, 2)
    ]


def _anchors(request: HttpRequest) -> tuple[Anchor, Anchor] | None:
    found = []
    for point in _typed(request):
        try:
            x, y, mm_x, mm_y = (float(point[name].replace(",", ".")) for name in POINT_FIELDS)
        except ValueError:
            return None
        found.append(Anchor((x / 100, y / 100), (mm_x, mm_y)))
    return (found[0], found[1]) if len(found) == 2 else None


def _shown(row: DevicePhoto | None) -> list[dict[str, str]]:
    """Points as the form shows them: shares in per cent, millimetres."""
    anchors = anchors_from(row.points) if row is not None else None
    if anchors is None:
        return [dict.fromkeys(POINT_FIELDS, "") for _number in (1, 2)]
    return [
        {
            "share_x": f"{anchor.share[0] * 100:.4g}",
            "share_y": f"{anchor.share[1] * 100:.4g}",
            "mm_x": f"{anchor.mm[0]:.4g}",
            "mm_y": f"{anchor.mm[1]:.4g}",
        }
        for anchor in anchors
    ]


ROUTES = (
    Route("devices/", devices, "devices"),
    Route("devices/<str:device_id>/", device_page, "device"),
    Route("devices/<str:device_id>/text/", device_text, "device_text"),
    Route("devices/<str:device_id>/compare/", compare, "device_compare"),
    Route("devices/<str:device_id>/edit/", edit_device, "device_edit", "technician"),
    Route("devices/<str:device_id>/edits/", edits, "device_edits", "guest", "lead"),
    Route("devices/<str:device_id>/photo/", underlay, "device_photo", "technician"),
)
