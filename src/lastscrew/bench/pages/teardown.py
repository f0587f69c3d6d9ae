"""Record a teardown: a first unit is taken apart by taps and photos, and drafts a device file."""

from __future__ import annotations

from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.models import Draft
from lastscrew.bench.pages.common import who
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.photos import keep_photo
from lastscrew.bench.workshop.after_teardown import (
    answers_as_json,
    answers_from,
    answers_from_json,
    asked_of_joints,
    asked_of_parts,
)
from lastscrew.bench.workshop.tapping import TOOL_UNSAID, taken_from
from lastscrew.bench.workshop.teardown import (
    KIND_NAMES,
    ONE_PIECE,
    Taken,
    Teardown,
    check_step,
    draft_of,
    known_parts,
    off_before,
    steps_as_json,
    steps_from_json,
)
from lastscrew.device.model import KINDS
from lastscrew.device.names import to_identifier
from lastscrew.problems import InputError, Problem
from lastscrew.saying import told


def teardown_of(draft: Draft) -> Teardown:
    """The teardown that a draft records: the head stands first among its steps."""
    rows = list(draft.steps)
    head = rows[0] if rows else {}
    return Teardown(
        name=str(head.get("name", draft.title)),
        fixed=str(head.get("fixed", "Case")),
        kind=str(head.get("machine", "")),
        steps=steps_from_json(rows[1:]),
        answers=answers_from_json(head.get("answers", {})),
    )


def _rows(teardown: Teardown) -> list[dict[str, object]]:
    head: dict[str, object] = {
        "name": teardown.name,
        "fixed": teardown.fixed,
        "machine": teardown.kind,
    }
    if teardown.answers.said:
        head["answers"] = answers_as_json(teardown.answers)
    return [head, *steps_as_json(teardown.steps)]


def new_teardown(request: HttpRequest) -> HttpResponse:
    """Begin: what the machine is called, and what stays on the bench."""
    problems = []
    values = {"name": "", "fixed": "", "machine": ""}
    if request.method == "POST":
        values = {key: request.POST.get(key, "").strip()[:120] for key in values}
        problems += [
            Problem(_("This needs a name in Latin letters or digits."), path=key)
            for key in ("name", "fixed")
            if to_identifier(values[key]) is None
        ]
        if not problems:
            begun = Teardown(values["name"], values["fixed"], values["machine"])
            draft = Draft.objects.create(
                title=values["name"],
                device=to_identifier(values["name"]) or "",
                origin=Draft.Origin.TEARDOWN,
                steps=_rows(begun),
                made_by=who(request),
                changed_ms=now_ms(),
            )
            return redirect(f"/devices/teardown-{draft.pk}/")
    return render(
        request,
        "bench/devices/teardown_new.html",
        {"values": values, "problems": problems},
        status=422 if problems else 200,
    )


def teardown_page(request: HttpRequest, number: int) -> HttpResponse:
    """What was opened so far, and the next tap."""
    draft = get_object_or_404(Draft, pk=number, origin=Draft.Origin.TEARDOWN)
    teardown = teardown_of(draft)
    problems: tuple[Problem, ...] = ()
    step: Taken | None = None
    if request.method == "POST" and not draft.published:
        do = request.POST.get("do", "add")
        if do == "finish":
            return _finish(request, draft, teardown)
        if do == "take_back":
            changed: Teardown = teardown.without(request.POST.get("key", ""))
        else:
            changed, step, problems = _tapped(request, teardown)
        if not problems:
            if changed != teardown and not _keep(draft, changed):
                messages.error(
                    request,
                    _("Somebody else has tapped meanwhile. Look at the steps, then tap again."),
                )
            return redirect(f"/devices/teardown-{number}/#next")
    return render(
        request,
        "bench/devices/teardown.html",
        {
            **_choices(teardown),
            "draft": draft,
            "teardown": teardown,
            "step": step,
            "problems": problems,
            "key": step.key if step is not None else new_key(),
        },
        status=422 if problems else 200,
    )


def _choices(teardown: Teardown) -> dict[str, object]:
    """What the form offers: what was named before, so that a tap is enough."""
    last = teardown.steps[-1] if teardown.steps else None
    off = off_before(teardown, len(teardown.steps))
    parts = known_parts(teardown)
    tools = dict.fromkeys(step.tool for step in teardown.steps if step.tool)
    sizes = dict.fromkeys(step.size for step in teardown.steps if step.size)
    sides = dict.fromkeys(step.side for step in teardown.steps)
    here = [
        name
        for step in teardown.steps
        if last is not None and step.side == last.side
        for name in step.came_off
    ]
    return {
        "kinds": [(kind, KIND_NAMES[kind]) for kind in KINDS],
        "steps": [(index, one) for index, one in enumerate(teardown.steps, 1)],
        "on_machine": [name for name in parts if name not in off],
        # What lies aside may still hang on a cable: last, the latest first.
        "movable": [*(name for name in parts[1:] if name not in off), *reversed(off)],
        "parts": parts,
        "off": [(name, name in here) for name in off],
        "tools": list(tools),
        "sizes": list(sizes),
        "sides": list(dict.fromkeys(("bottom", "top", *sides))),
        "last": last,
        "asked_parts": asked_of_parts(parts[1:], teardown.answers),
        "asked_joints": asked_of_joints(teardown.steps, teardown.answers),
        "tool_unsaid": TOOL_UNSAID,
        "one_piece": ONE_PIECE,
        "isolated": any(one.isolates for one in teardown.steps),
    }


def _tapped(
    request: HttpRequest, teardown: Teardown
) -> tuple[Teardown, Taken, tuple[Problem, ...]]:
    values = {key: request.POST.getlist(key) for key in request.POST}
    step = taken_from(values)
    if any(old.key == step.key for old in teardown.steps):
        return teardown, step, ()  # sent again
    problems = check_step(teardown, step)
    if not step.key:
        problems = (*problems, Problem(_("The tap has no key."), _("Load the page again."), "key"))
    sent = request.FILES.get("photo")
    if sent is not None and not problems:
        try:
            photo = keep_photo(sent, unit="", is_owners=False)
        except InputError as error:
            problems = error.problems
        else:
            step = taken_from(values, photo.sha256)
    return (teardown if problems else teardown.with_step(step)), step, problems


def _keep(draft: Draft, teardown: Teardown) -> bool:
    """Keep the steps, unless somebody else has kept others meanwhile."""
    changed = Draft.objects.filter(pk=draft.pk, version=draft.version, published="").update(
        steps=_rows(teardown), version=draft.version + 1, changed_ms=now_ms()
    )
    return changed == 1


def _finish(request: HttpRequest, draft: Draft, teardown: Teardown) -> HttpResponse:
    """Write the device file of what was recorded so far, and keep what was said beside it."""
    if request.POST.get("asked"):
        values = {key: request.POST.getlist(key) for key in request.POST}
        parts = known_parts(teardown)[1:]
        teardown = replace(teardown, answers=answers_from(values, parts, teardown.steps))
    try:
        text, result = draft_of(teardown)
    except InputError as error:
        for problem in error.problems:
            messages.error(request, f"{told(problem.message)} {told(problem.remedy)}")
        return redirect(f"/devices/teardown-{draft.pk}/")
    device = result.device
    Draft.objects.filter(pk=draft.pk, version=draft.version, published="").update(
        text=text,
        steps=_rows(teardown),
        device=device.id if device is not None else draft.device,
        version=draft.version + 1,
        changed_ms=now_ms(),
    )
    messages.success(request, _("The device file is written. Look through what was inferred."))
    return redirect(f"/devices/draft-{draft.pk}/")


ROUTES = (
    Route("devices/new-teardown/", new_teardown, "teardown_new", "technician"),
    Route("devices/teardown-<int:number>/", teardown_page, "teardown", "technician"),
)
