"""Drafts of device files: uploaded, read from a procedure, edited with what `check` says beside them, published."""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.reading_forms import file_name
from lastscrew.bench.models import Draft, Revision
from lastscrew.bench.opening_tables import TableFolder
from lastscrew.bench.pages.common import sent_only, who
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.jobs import current_revision, device_of
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.bench.store.revisions import jobs_in_hand, publish, times_by_joint
from lastscrew.bench.workshop.checking import (
    KEPT_LINES,
    MOST_CHARACTERS,
    Procedure,
    answers_from,
    checked,
    corrected,
    extracted,
    is_device_file,
    read_procedure,
    shown_text,
)
from lastscrew.bench.workshop.fault_desk import DESK
from lastscrew.bench.workshop.publishing import compared, loses_history
from lastscrew.device.model import Device
from lastscrew.problems import InputError, Problem
from lastscrew.reading.device_draft import Answer
from lastscrew.reading.sources.no_text import refuse_what_is_no_text
from lastscrew.saying import told

MOST_BYTES: Final = 16 * 1024 * 1024
SHOWN_QUESTIONS: Final = 60


def new_draft(request: HttpRequest) -> HttpResponse:
    """A device file or a procedure comes in: as a file, or pasted."""
    problems: tuple[Problem, ...] = ()
    pasted = ""
    if request.method == "POST":
        pasted = request.POST.get("text", "")
        try:
            draft = _taken_in(request, pasted)
        except InputError as error:
            problems = error.problems
        else:
            place = "source/" if draft.origin == Draft.Origin.PROCEDURE else ""
            return redirect(f"/devices/draft-{draft.pk}/{place}")
    return render(
        request,
        "bench/devices/new.html",
        {"problems": problems, "pasted": pasted},
        status=422 if problems else 200,
    )


def _taken_in(request: HttpRequest, pasted: str) -> Draft:
    sent = request.FILES.get("file")
    if sent is not None:
        if (sent.size or 0) > MOST_BYTES:
            raise InputError(
                [Problem(_("The file is too large."), _("At most 16 MB are read."), path="file")]
            )
        data, name = sent.read(), file_name(sent.name or "") or "file"
    else:
        data, name = pasted.encode(), "pasted"
    if not data.strip():
        raise InputError(
            [
                Problem(
                    _("There is nothing to read."),
                    _("Choose a file, or paste a text."),
                    path="file",
                )
            ]
        )
    if is_device_file(data, name if sent is not None else ""):
        return _device_draft(request, data, name)
    return _procedure_draft(request, data, name)


def _device_draft(request: HttpRequest, data: bytes, name: str) -> Draft:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            [Problem(_("A device file is written in UTF-8."), _("Save it as UTF-8."), path="file")]
        ) from None
    refuse_what_is_no_text(data, text, name)
    _refuse_endless(text)
    result = checked(text).result
    return Draft.objects.create(
        title=result.device.name if result.device is not None else name,
        device=result.device.id if result.device is not None else "",
        origin=Draft.Origin.FILE,
        text=text.replace("\r\n", "\n").replace("\0", "\ufffd"),
        source_name=name,
        made_by=who(request),
        changed_ms=now_ms(),
    )


def _procedure_draft(request: HttpRequest, data: bytes, name: str) -> Draft:
    text, kept_name = extracted(data, name[:190])
    _refuse_endless(text)
    procedure = read_procedure(text, kept_name)
    if procedure.tells_nothing:
        raise InputError(
            [
                Problem(
                    _("No line of this text is an instruction, so no draft was made."),
                    _("Give the text of a removal: which screws, clips and plugs come out."),
                    path="file",
                    code="no_instruction",
                )
            ]
        )
    device = procedure.draft.device if procedure.draft is not None else None
    return Draft.objects.create(
        title=device.name if device is not None else name,
        device=device.id if device is not None else "",
        origin=Draft.Origin.PROCEDURE,
        text=procedure.draft.text if procedure.draft is not None else "",
        source_name=kept_name[:200],
        source_text=text.replace("\0", "\ufffd"),
        made_by=who(request),
        changed_ms=now_ms(),
    )


def _refuse_endless(text: str) -> None:
    if len(text) > MOST_CHARACTERS:
        raise InputError(
            [
                Problem(
                    _("The text is too long."),
                    _("Describe the machine in assemblies of their own."),
                    path="file",
                )
            ]
        )


def _draft(number: int) -> Draft:
    return get_object_or_404(Draft, pk=number)


def draft_page(request: HttpRequest, number: int) -> HttpResponse:
    """A draft: its text to edit, and what is said of it, line by line."""
    draft = _draft(number)
    conflict = ""
    if request.method == "POST":
        text = request.POST.get("text", "").replace("\r\n", "\n")
        if _saved(draft, text, request.POST.get("version", "")):
            return redirect(f"/devices/draft-{number}/")
        draft.refresh_from_db()
        conflict = text
    found = checked(draft.text)
    return render(
        request,
        "bench/devices/draft.html",
        {
            "draft": draft,
            "checked": found,
            "marked": sorted({one.line for one in found.said if one.line}),
            "lines": range(1, draft.text.count("\n") + 2),
            "conflict": conflict,
            "current": current_revision(draft.device) if draft.device else None,
        },
        status=409 if conflict else 200,
    )


def _saved(draft: Draft, text: str, version: str) -> bool:
    """Save, unless somebody else has meanwhile."""
    if draft.published or not version.isdecimal():
        return False
    kept = text[:MOST_CHARACTERS].replace("\0", "\ufffd")
    device = checked(kept).result.device
    values: dict[str, object] = {"text": kept, "changed_ms": now_ms()}
    if device is not None:
        values |= {"title": device.name[:200], "device": device.id}
    changed = Draft.objects.filter(pk=draft.pk, version=int(version[:9]), published="").update(
        version=int(version[:9]) + 1, **values
    )
    return changed == 1


@sent_only("/devices/")
def throw_away(request: HttpRequest, number: int) -> HttpResponse:
    """Throw a draft away that was not published."""
    draft = _draft(number)
    if not draft.published:
        draft.delete()
        messages.success(request, _("The draft is gone."))
    return redirect("/devices/")


# --- procedures -----------------------------------------------------------------------------------


def source(request: HttpRequest, number: int) -> HttpResponse:
    """The procedure beside what was made of it, with what it leaves open; answers write the draft anew."""
    draft = _draft(number)
    if draft.origin != Draft.Origin.PROCEDURE:
        raise Http404(str(number))
    kept, apart = _kept_answers(draft)
    procedure = read_procedure(draft.source_text, draft.source_name, kept, apart)
    problems: tuple[Problem, ...] = ()
    typed: dict[str, str] = {}
    written = shown_text(draft.source_text, draft.source_name)
    corrects = request.method == "POST" and request.POST.get("do") == "text"
    if corrects and not draft.published:
        written = request.POST.get("source_text", "")
        try:
            _retell(draft, written, request.POST.get("version", ""))
        except InputError as error:
            problems = error.problems
        else:
            messages.success(request, _("The corrected text is read, the draft is written anew."))
            return redirect(f"/devices/draft-{number}/source/")
    elif request.method == "POST" and not draft.published:
        base = read_procedure(draft.source_text, draft.source_name)
        known = dict.fromkeys((*_asked(procedure), *_asked(base), *dict(kept)))
        typed = {key: request.POST.get(key, "") for key in known}
        pairs = tuple(pair[:400] for pair in request.POST.getlist("apart") if "=" in pair)
        try:
            _redraft(draft, answers_from(typed.items(), known), pairs)
        except InputError as error:
            problems = error.problems
        else:
            messages.success(request, _("The draft is written anew from the procedure."))
            return redirect(f"/devices/draft-{number}/source/")
    by_hand = procedure.draft is not None and draft.text != procedure.draft.text
    questions = [(question, typed.get(question.id, "")) for question in procedure.questions][
        :SHOWN_QUESTIONS
    ]
    shown = [(key, ", ".join(v) if isinstance(v, list) else str(v)) for key, v in kept]
    return render(
        request,
        "bench/devices/source.html",
        {
            "draft": draft,
            "file": draft.source_name.removesuffix(KEPT_LINES),
            "procedure": procedure,
            "questions": questions,
            "answered": shown,
            "sides": [(key, name, typed.get(key, "")) for key, name in procedure.sides_unknown],
            "written": written,
            "corrects": corrects,
            "merges": [
                (f"{one}={other}", one, other, why) for one, other, why in procedure.reading.merges
            ],
            "apart": [(pair, *pair.split("=", 1)) for pair in apart],
            "by_hand": by_hand,
            "problems": problems,
        },
        status=422 if problems else 200,
    )


def _asked(procedure: Procedure) -> list[str]:
    """Names of the answers that a procedure has a use for."""
    return [one.id for one in procedure.reading.questions] + [
        key for key, _name in procedure.sides_unknown
    ]


def _retell(draft: Draft, written: str, version: str) -> None:
    """Take a corrected text and write the draft anew from it; answers stay that still have a question.

    Raises:
        InputError: It is no procedure, or somebody else has changed the draft meanwhile.
    """
    if version != str(draft.version):
        raise InputError(
            [
                Problem(
                    _("The draft has changed since this page was made."),
                    _("Look at it again: your text is below, nothing is lost."),
                )
            ]
        )
    _refuse_endless(written)
    text = corrected(draft.source_text, draft.source_name, written)
    base = read_procedure(text, draft.source_name)
    if base.draft is None:
        raise InputError(
            base.problems or [Problem(_("No line of this text is an instruction."), path="text")]
        )
    kept, apart = _kept_answers(draft)
    draft.source_text = text
    names = set(_asked(base))
    _redraft(draft, tuple(each for each in kept if each[0] in names), apart)


def _kept_answers(draft: Draft) -> tuple[tuple[tuple[str, Answer], ...], tuple[str, ...]]:
    """Answers that were given, and pairs of names that were said to be two things."""
    answers = tuple(
        (str(row["question"]), row["answer"]) for row in draft.steps if "question" in row
    )
    return answers, tuple(str(row["apart"]) for row in draft.steps if "apart" in row)


def _redraft(draft: Draft, answers: tuple[tuple[str, Answer], ...], apart: tuple[str, ...]) -> None:
    """Write the draft anew from its procedure and the answers.

    Raises:
        InputError: An answer makes no sense.
    """
    procedure = read_procedure(draft.source_text, draft.source_name, answers, apart)
    if procedure.draft is None:
        raise InputError(procedure.problems)
    draft.text = procedure.draft.text
    draft.title = procedure.draft.device.name[:200]
    draft.device = procedure.draft.device.id
    draft.steps = [{"question": key, "answer": value} for key, value in answers]
    draft.steps += [{"apart": pair} for pair in apart]
    draft.version += 1
    draft.changed_ms = now_ms()
    draft.save()


# --- publishing -----------------------------------------------------------------------------------


def publish_page(request: HttpRequest, number: int) -> HttpResponse:
    """What publishing means: what changes, what would lose its history, which jobs keep what they have."""
    draft = _draft(number)
    found = checked(draft.text)
    device = found.result.device
    if device is None or draft.published:
        return redirect(f"/devices/draft-{number}/")
    row = current_revision(device.id)
    old = device_of(row.revision) if row is not None else None
    lost = loses_history(old, device) if old is not None else ()
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        problems = _published(request, draft, lost=bool(lost))
        if not problems:
            messages.success(request, _("Published: new jobs take this revision."))
            return redirect(f"/devices/{device.id}/")
    times = times_by_joint(device.id) if lost else {}
    return render(
        request,
        "bench/devices/publish.html",
        {
            "draft": draft,
            "device": device,
            "current": row,
            "is_same": row is not None and row.revision == device.revision_hash,
            "compared": compared(old, device) if old is not None else None,
            "lost": [(one, times.get(one.id, 0) if one.word == "joint" else 0) for one in lost],
            "in_hand": sum(jobs_in_hand(device.id).values()),
            "warnings": [one for one in found.said if one.severity == "warning"],
            "notes": sum(one.severity == "note" for one in found.said),
            "key": new_key(),
            "problems": problems,
        },
        status=422 if problems else 200,
    )


def _published(request: HttpRequest, draft: Draft, *, lost: bool) -> tuple[Problem, ...]:
    device = checked(draft.text).result.device
    if device is None or request.POST.get("version") != str(draft.version):
        return (
            Problem(
                _("The draft has changed since this page was made."),
                _("Look at it again, then publish."),
            ),
        )
    if lost and not request.POST.get("lose"):
        return (
            Problem(
                _("Some entries would lose their history."),
                _("Say `was` in the file, or tick that they may lose it."),
                path="lose",
            ),
        )
    try:
        with one_at_a_time():
            row = publish(
                device,
                draft.text,
                by=who(request),
                note=request.POST.get("note", "").strip()[:1000],
                key=request.POST.get("key", "")[:100] or None,
            )
            Draft.objects.filter(pk=draft.pk).update(published=row.revision, device=device.id)
    except InputError as error:
        return error.problems
    _look_over_ahead(device)
    return ()


def _look_over_ahead(device: Device) -> None:
    """The first unit with a fault should not have to wait for what can be worked out now."""
    DESK.warm_up(device, TableFolder(settings.CONFIG.openings))


@sent_only("/devices/{device_id}/")
def republish(request: HttpRequest, device_id: str) -> HttpResponse:
    """Make an older revision the one for new jobs again."""
    row = get_object_or_404(Revision, pk=request.POST.get("rev", ""), device=device_id)
    try:
        publish(
            device_of(row.revision),
            row.text,
            by=who(request),
            note=_("An older revision is in force again."),
            key=request.POST.get("key", "")[:100] or None,
        )
    except InputError as error:
        for problem in error.problems:
            messages.error(request, f"{told(problem.message)} {told(problem.remedy)}")
    else:
        _look_over_ahead(device_of(row.revision))
    return redirect(f"/devices/{device_id}/")


ROUTES = (
    Route("devices/new-draft/", new_draft, "draft_new", "technician"),
    Route("devices/draft-<int:number>/", draft_page, "draft", "technician"),
    Route("devices/draft-<int:number>/source/", source, "draft_source", "technician"),
    Route(
        "devices/draft-<int:number>/publish/", publish_page, "draft_publish", "technician", "lead"
    ),
    Route("devices/draft-<int:number>/throw-away/", throw_away, "draft_throw_away", "technician"),
    Route(
        "devices/<str:device_id>/republish/", republish, "device_republish", "technician", "lead"
    ),
)
