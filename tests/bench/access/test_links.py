"""Nobody is shown a link or a button that leads them to a refusal: every page is looked at by each role."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from io import BytesIO
from urllib.parse import urljoin, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import resolve
from PIL import Image

from lastscrew.bench.access.rights import Role, may
from lastscrew.bench.invented import cast, filling
from lastscrew.bench.models import Photo, StoredEvent, Unit
from lastscrew.bench.urls import RIGHTS
from tests.bench.conftest import Bench

MOST_ALIKE = 4
"""Pages of one route that are looked at."""

_TAG = re.compile(r"<(a|form|img|link|script|button|input)\b([^>]*)>", re.IGNORECASE)
_VALUE = re.compile(r"""\b(href|src|action|method|formaction|data-fragment)="([^"]*)\"""")


def _targets(page: str, address: str) -> Iterator[tuple[str, str]]:
    """Where a page leads: method and address, whatever leads there."""
    for tag, rest in _TAG.findall(page):
        values = {name.lower(): unescape(value) for name, value in _VALUE.findall(rest)}
        if tag.lower() == "form":
            method = values.get("method", "get").lower()
            yield method, urljoin(address, values.get("action") or address)
            continue
        for name, value in values.items():
            if not value.startswith("#"):
                method = "post" if name == "formaction" else "get"
                yield method, urljoin(address, value)


def _refusals(client: Client, role: Role) -> list[str]:
    """Every link and every form on every page that can be come to, of which the other end is shut."""
    waiting, seen, alike, found = ["/"], {"/"}, dict[str, int](), list[str]()
    while waiting:
        address = waiting.pop(0)
        answer = client.get(address, follow=True)
        if answer.redirect_chain:
            address = answer.redirect_chain[-1][0]
        if answer.status_code not in {200, 202, 204}:
            found.append(f"{address}: {answer.status_code}")
            continue
        if not answer.headers.get("Content-Type", "").startswith("text/html"):
            continue
        for method, target in _targets(answer.content.decode(), address):
            parts = urlsplit(target)
            if parts.netloc or parts.path.startswith(("/static/", "/trust/")):
                continue  # how a tablet comes to trust us is told where others than this machine reach us
            name = resolve(parts.path).view_name
            route = RIGHTS.get(name)
            if route is not None and not may(
                role, route.reads if method == "get" else route.writes
            ):
                found.append(f"{address} has {method} {target}")
                continue
            full = f"{parts.path}?{parts.query}" if parts.query else parts.path
            is_paper = parts.path.endswith((".pdf", ".svg", ".crt"))
            if method != "get" or full in seen or is_paper or alike.get(name, 0) >= MOST_ALIKE:
                continue
            seen.add(full)
            alike[name] = alike.get(name, 0) + 1
            waiting.append(full)
    return found


def _picture(shade: int) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (8, 6), (shade, 90, 90)).save(out, "PNG")
    return SimpleUploadedFile("a.png", out.getvalue(), "image/png")


@pytest.fixture
def depot(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """The invented depot with a unit in every stage, one of them with photos: its owner's, an erased one, ours."""
    monkeypatch.setattr(filling, "COUNTS", dict.fromkeys(cast.COUNTS, 1))
    filling.fill()
    unit = Unit.objects.order_by("number")[0]
    lid = "a name on the lid"
    for shade, is_owners, shows in ((10, "1", lid), (20, "1", lid), (30, "0", "the lid of ours")):
        sent = {"photos": _picture(shade), "is_owners": is_owners, "shows": shows}
        bench.client("technician").post(f"/units/{unit.key}/photos/", sent)
    assert Photo.objects.count() == 3
    erased = StoredEvent.objects.filter(name="owner_photo").order_by("position")[0]
    Photo.objects.filter(pk=erased.body["sha256"]).update(erased=True)
    return bench


def test_no_link_and_no_button_leads_to_a_refusal(depot: Bench) -> None:
    roles: tuple[Role, ...] = ("guest", "technician")
    found = [f"{role}: {one}" for role in roles for one in _refusals(depot.client(role), role)]
    assert not found, "\n".join(found)
    _guest_sees_what_a_guest_may(depot)


def _guest_sees_what_a_guest_may(depot: Bench) -> None:
    """An owner's photo is told of, not what it shows."""
    unit = Unit.objects.order_by("number")[0]
    pages = {
        role: depot.client(role).get(f"/units/{unit.key}/").content.decode()
        for role in ("guest", "technician")
    }
    owners, ours = (Photo.objects.get(is_owners=each, erased=False) for each in (True, False))
    assert [f"/photos/{ours.pk}" in page for page in pages.values()] == [True, True]
    assert [f"/photos/{owners.pk}" in page for page in pages.values()] == [False, True]
    assert "the lid of ours" in pages["guest"]
    assert "a name on the lid" not in pages["guest"]
    assert "a name on the lid" in pages["technician"]
    for page in pages.values():
        assert ">Photo, erased<" in page
