"""Two screens worked on one job without knowing of each other: both histories, and a person decides."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.event_words import say
from lastscrew.bench.depot.running import moment_of
from lastscrew.bench.models import Branch, StoredEvent, WaitingEvent
from lastscrew.bench.pages.common import who
from lastscrew.bench.pages.entering import job_or_404, text
from lastscrew.bench.store.branches import decide_branch, give_up_waiting
from lastscrew.bench.store.jobs import Job
from lastscrew.plan.wording import joint_name
from lastscrew.problems import InputError
from lastscrew.run.events import Event
from lastscrew.run.folding import fold
from lastscrew.run.lines import event_from_json
from lastscrew.saying import told

MOST_SHOWN = 300


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that happened."""

    text: str
    by: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class History:
    """What a screen did apart from the others, beside what the record says.

    Attributes:
        key: Key of the branch.
        base: Events that both have.
        record: What the record has since; ``apart``: what this screen sent.
        only_record, only_apart: Joints open by the one and not by the other.
        remarks: What would not fit if it were taken over.
    """

    key: str
    base: int
    record: tuple[Line, ...]
    apart: tuple[Line, ...]
    only_record: tuple[str, ...]
    only_apart: tuple[str, ...]
    remarks: tuple[str, ...]
    made_ms: int


def histories(request: HttpRequest, run: str) -> HttpResponse:
    """Show both histories; take in the decision."""
    job = job_or_404(run)
    if request.method == "POST":
        _decide(request, job)
        return redirect(request.get_full_path())
    branches = Branch.objects.filter(run=run, state=Branch.State.OPEN)
    context = {
        "job": job,
        "run": job.run,
        "unit": job.run.unit,
        "histories": [history_of(job, branch) for branch in branches[:10]],
        "given_up": [
            row
            for row in _told(job, "waiting_given_up").values()
            if row.body.get("job") == job.run.pk
        ],
        "decided": _decided(job),
        "waiting": _waiting(run),
    }
    return render(request, "bench/work/histories.html", context)


def history_of(job: Job, branch: Branch) -> History:
    """Both histories of one branch."""
    events = [event_from_json(body) for body in branch.events]
    since = job.state.log[branch.base :]
    common = fold(job.device, job.state.log[: branch.base])
    apart = fold(job.device, events, common)
    taken = fold(job.device, events, job.state)
    ids = {event.id for event in events}
    mine, theirs = set(apart.open), set(job.state.open)
    return History(
        key=branch.key,
        base=branch.base,
        record=_lines(job, since),
        apart=_lines(job, events),
        only_record=_names(job, theirs - mine),
        only_apart=_names(job, mine - theirs),
        remarks=tuple(
            dict.fromkeys(remark.text for remark in taken.remarks if remark.event in ids)
        ),
        made_ms=branch.made_ms,
    )


def _lines(job: Job, events: list[Event] | tuple[Event, ...]) -> tuple[Line, ...]:
    return tuple(
        Line(say(event.what, job.device), event.by or "", moment_of(event))
        for event in events[:MOST_SHOWN]
    )


def _names(job: Job, joints: set[str]) -> tuple[str, ...]:
    return tuple(sorted(joint_name(job.device, joint) for joint in joints))


def _waiting(run: str) -> list[dict[str, object]]:
    found: dict[str, int] = {}
    for client in WaitingEvent.objects.filter(run=run).values_list("client", flat=True):
        found[client] = found.get(client, 0) + 1
    return [{"client": client, "count": count} for client, count in found.items()]


@dataclass(frozen=True, slots=True)
class Decision:
    """Who decided what about a branch, when and why; ``by`` is empty where that was not kept."""

    is_taken: bool
    count: int
    by: str
    at_ms: int
    reason: str


def _told(job: Job, name: str) -> dict[str, StoredEvent]:
    """What persons told about branches of a job, by the branch."""
    rows = StoredEvent.objects.filter(unit=job.run.unit_id, name=name).order_by("position")
    return {str(row.body.get("branch", "")): row for row in rows[:MOST_SHOWN]}


def _decided(job: Job) -> list[Decision]:
    told = _told(job, "branch_decided")
    branches = Branch.objects.filter(run=job.run.pk).exclude(state=Branch.State.OPEN)[:20]
    found = []
    for branch in branches:
        row = told.get(branch.key)
        found.append(
            Decision(
                branch.state == Branch.State.TAKEN,
                len(branch.events),
                row.by if row else "",
                row.stored_ms if row else branch.made_ms,
                str(row.body.get("reason", "")) if row else "",
            )
        )
    return found


def _decide(request: HttpRequest, job: Job) -> None:
    what = request.POST.get("do", "")
    try:
        if what == "give_up":
            give_up_waiting(job.run.pk, request.POST.get("client", "")[:100], who(request))
            return
        if what not in ("take", "set_aside"):
            return
        reason = text(request, "reason")
        key = request.POST.get("branch", "")
        if not Branch.objects.filter(key=key, run=job.run.pk).exists():
            messages.error(request, _("This history is not one of this job."))
            return
        if not reason:
            messages.error(request, _("Say why."))
            return
        decide_branch(key, what == "take", who(request), reason)
    except InputError as error:
        for problem in error.problems:
            messages.error(request, f"{told(problem.message)} {told(problem.remedy)}")
        return
    messages.success(request, _("Decided. Both histories are kept."))


ROUTES = (Route("runs/<str:run>/histories/", histories, "histories", "guest", "technician"),)
