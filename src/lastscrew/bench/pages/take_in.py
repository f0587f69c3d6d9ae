"""Taking in one unit: which machine it is first, so that earlier work and its checks are at hand, then the rest."""

from __future__ import annotations

import re

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.reading_forms import one_line
from lastscrew.bench.depot.repeats import repeats
from lastscrew.bench.depot.taking_in import (
    AGREED_WORDS,
    CHECK_WORDS,
    PACK_WORDS,
    TEST_WORDS,
    OwnerWords,
    is_a_serial,
    read_intake,
)
from lastscrew.bench.models import Revision, Unit
from lastscrew.bench.pages.common import who
from lastscrew.bench.pages.photos import keep_sent_photos
from lastscrew.bench.queries.stays import device_names, earlier_stays, known_for
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.intake import store_intake
from lastscrew.bench.store.jobs import device_of
from lastscrew.device.model import Function
from lastscrew.problems import InputError, Problem

_OUR_KEY = re.compile(r"[0-9a-f]{32}")
WHICH = ("device", "device_words", "serial", "asset_tag")


def take_in(request: HttpRequest) -> HttpResponse:
    """Ask which machine it is, then all about it; store it and go to its page."""
    if request.method == "POST":
        return _store(request)
    form = {name: one_line(request.GET.get(name, ""))[:200] for name in WHICH}
    asked = "next" in request.GET or any(form.values())
    problems = () if not asked else _about_the_machine(form)
    shown = problems
    if "next" not in request.GET:  # a link leads here, with what is known so far
        shown = tuple(p for p in problems if p.code not in ("no_device", "no_serial"))
    return _page(request, form, shown, is_named=asked and not problems)


def _about_the_machine(form: dict[str, str]) -> tuple[Problem, ...]:
    """What is wrong with what was said about the machine itself."""
    intake = read_intake(form, known_for([form["serial"]]))
    return tuple(problem for problem in intake.problems if problem.path in WHICH)


def _store(request: HttpRequest) -> HttpResponse:
    form = {name: value for name, value in request.POST.items() if isinstance(value, str)}
    unit = form.get("key", "")
    if not _OUR_KEY.fullmatch(unit):
        unit = form["key"] = new_key()
    if Unit.objects.filter(pk=unit).exists():
        return redirect("unit", key=unit)  # the same form was sent again
    intake = read_intake(form, known_for([form.get("serial", "")], form.get("device", "")))
    problems = intake.problems
    if not problems:
        try:
            store_intake(unit, intake, by=who(request))
        except InputError as error:
            problems = error.problems
    if problems:
        return _page(request, form, problems, is_named=True, status=422)
    keep_sent_photos(request, unit)
    return redirect(f"/units/{unit}/?new=1")


def _page(
    request: HttpRequest,
    form: dict[str, str],
    problems: tuple[Problem, ...],
    *,
    is_named: bool,
    status: int = 200,
) -> HttpResponse:
    device, serial = form.get("device", ""), form.get("serial", "")
    stays = earlier_stays(device, serial) if is_a_serial(serial) else ()
    context = {
        "form": {**form, "key": form.get("key") or new_key()},
        "problems": problems,
        "is_named": is_named,
        "devices": device_names(),
        "functions": _functions(device) if is_named else (),
        "stays": stays,
        "repeats": repeats(stays, now_ms()),
        "packs": PACK_WORDS,
        "tests": TEST_WORDS,
        "agreed": AGREED_WORDS,
        "outcomes": CHECK_WORDS,
        "owner": OwnerWords(),
        "asks_about_codes": any(problem.code == "pass_code" for problem in problems),
        "field_names": field_names(),
    }
    return render(request, "bench/take_in/take_in.html", context, status=status)


def _functions(device: str) -> tuple[Function, ...]:
    current = Revision.objects.filter(device=device, is_current=True).first() if device else None
    return tuple(device_of(current.revision).functions.values()) if current else ()


def field_names() -> dict[str, str]:
    """What the fields are called on the page, for the list of what is wrong."""
    return {
        "device": _("Device"), "device_words": _("Device in words"), "serial": _("Serial number"),
        "asset_tag": _("Asset tag"), "complaint": _("What the owner says"), "condition": _("Condition"),
        "accessories": _("What came with it"), "seals": _("Seals"), "may_be_lost": _("What may be lost"),
        "agreed_by": _("Who agreed"), "way_to_test": _("How to try it"), "owner_name": _("Owner’s name"),
        "owner_contact": _("How to reach the owner"), "due": _("Ready by"), "pack": _("Battery pack"),
        "told": _("Who was told"), "hazard_place": _("Where it was put"), "power_off": _("Off, on no charger"),
        "checks": _("Checks before opening"), "liquid": _("Liquid"),
    }  # fmt: skip


ROUTES = (Route("take-in/", take_in, "take_in", "technician", "technician"),)
