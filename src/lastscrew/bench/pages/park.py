"""Waiting is normal: where machine, tray and bags lie, for what, until when; and the lines of the order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.event_words import LINE_WORDS
from lastscrew.bench.depot.folding import PLACES_APART, trays_told
from lastscrew.bench.depot.reading_forms import end_of_day
from lastscrew.bench.depot.running import moment_of
from lastscrew.bench.pages.entering import enter, job_or_404, line, text
from lastscrew.bench.queries.finding import trays_of_others
from lastscrew.bench.store.clock import new_key
from lastscrew.bench.store.jobs import Job
from lastscrew.bench.work.course import course_of
from lastscrew.bench.work.needs import OLD_STATES, STATES, NeedLine, lines_of_job
from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.device.opening import isolating_joints
from lastscrew.fasteners.ledger import Ledger, ledger_of
from lastscrew.fasteners.pieces import kind_from_key, kind_text
from lastscrew.plan.wording import joint_name
from lastscrew.run import events as e
from lastscrew.run.fields import MOMENT
from lastscrew.run.folding import in_force
from lastscrew.run.state import is_isolated

MOST_PIECES = 999
MOST_LABEL = 60
"""As long as the label of a place may be."""
NEW_STATES = tuple(state for state in STATES if state not in ("old_kept", "scrapped"))
ONLY_IF_ORDERED = ("dead_on_arrival", "returned")
"""What can only be said of something that was ordered."""


def park(request: HttpRequest, run: str) -> HttpResponse:
    """Put a job aside, go on with it after a recount, keep the lines of its order."""
    job = job_or_404(run)
    if request.method == "POST":
        action = _ACTIONS.get(request.POST.get("do", ""))
        goes = action(request, job) if action is not None else ""
        return redirect(goes or request.get_full_path())
    return render(request, "bench/work/park.html", _context(job))


def _context(job: Job) -> dict[str, object]:
    state, device = job.state, job.device
    ledger = ledger_of(device, state.log)
    fitted = fit(device, state.not_fitted, state.fitted)
    rows = lines_of_job(device, course_of(device, state), state, ledger)
    return {
        "job": job,
        "run": job.run,
        "unit": job.run.unit,
        "state": state,
        "parked": state.parked,
        "last": state.parked or _last_parked(job),
        "isolated": is_isolated(device, state),
        "isolates": bool(isolating_joints(fitted)),
        "is_open": bool(state.open),
        "out": [
            {
                "place": lot.compartment or "–",
                "count": lot.count,
                "what": kind_text(device, lot.kind),
                "joint": joint_name(device, lot.joint),
            }
            for lot in ledger.out
        ],
        # Counted blind: nobody finds what they look for. The figure of the books comes afterwards.
        "counts": [(key, name) for key, (name, _) in _books(device, ledger).items()]
        if state.parked
        else [],
        "recount": None if state.parked else _last_recount(job),
        "rows": [(row, _choices(row)) for row in rows],
        "new_key": new_key,
        "line_words": LINE_WORDS,
        "ended": bool(state.outcome),
    }


def _last_parked(job: Job) -> e.Parked | None:
    """How it was put aside last: tray and bags are the same until somebody says otherwise."""
    told = [each.what for each in in_force(job.state.log) if isinstance(each.what, e.Parked)]
    return told[-1] if told else None


def _books(device: Device, ledger: Ledger) -> dict[str, tuple[str, int]]:
    """What lies out by the books: kind to its name and how many, the joints taken together."""
    found: dict[str, tuple[str, int]] = {}
    for lot in ledger.out:
        name, count = found.get(lot.kind.key, (kind_text(device, lot.kind), 0))
        found[lot.kind.key] = (name, count + lot.count)
    return found


@dataclass(frozen=True, slots=True)
class Counted:
    """One kind of piece at a recount: its name, how many were counted, how many the books had."""

    name: str
    counted: int
    books: int


@dataclass(frozen=True, slots=True)
class Recount:
    """The last recount of a job beside the books as they were then."""

    by: str
    at_ms: int
    rows: tuple[Counted, ...]

    @property
    def differs(self) -> bool:
        """True when anything was counted otherwise than the books have it."""
        return any(row.counted != row.books for row in self.rows)


def _last_recount(job: Job) -> Recount | None:
    events = in_force(job.state.log)
    last = max(
        (n for n, each in enumerate(events) if isinstance(each.what, e.Recounted)), default=-1
    )
    if last < 0:
        return None
    event = events[last]
    assert isinstance(event.what, e.Recounted)
    books = _books(job.device, ledger_of(job.device, events[:last]))
    rows = tuple(
        Counted(
            books[key][0] if key in books else kind_text(job.device, kind_from_key(key)),
            counted,
            books[key][1] if key in books else 0,
        )
        for key, counted in event.what.counts.items()
    )
    return Recount(event.by or "", moment_of(event), rows) if rows else None


def _choices(row: NeedLine) -> tuple[str, ...]:
    if row.is_old:
        return OLD_STATES
    # Compound, tape and screws are not tried before they are used: only a part can be dead on arrival.
    is_used_up = not row.names.keys().isdisjoint(("supply", "piece"))
    left_out = {"dead_on_arrival"} if is_used_up else set()
    # Of a part that nobody said anything about yet a new one may lie in the store.
    if row.state == "to_order" or (not row.state and "part" not in row.names):
        left_out.update(ONLY_IF_ORDERED)
    return tuple(state for state in NEW_STATES if state not in left_out)


# --- what is entered here ------------------------------------------------------------------------------


def _park(request: HttpRequest, job: Job) -> str:
    """It waits from now on."""
    # The machine's own place stands first and bare: under it the unit is found, by hand and by its label.
    places = [
        (line(request, "machine", 80), "%(place)s"),
        (tray := line(request, "tray", MOST_LABEL), _("tray: %(place)s")),
        (bags := line(request, "bags", MOST_LABEL), _("bags: %(place)s")),
    ]
    place = PLACES_APART.join(words % {"place": place} for place, words in places if place)
    until_ms: int | None = None
    if said := line(request, "until"):
        try:
            until_ms = cast("int", MOMENT.read(end_of_day(said)))
        except ValueError:
            messages.error(request, _("“%(day)s” is no date.") % {"day": said[:20]})
            return ""
    if not place:
        messages.error(request, _("Say where the machine lies."))
        return ""
    if not (waits_for := text(request, "waiting_for", 400)):
        messages.error(request, _("Say what it waits for."))
        return ""
    said_by_form = e.Parked(
        place=place[:200],
        tray=tray or None,
        bags=(bags,) if bags else (),
        waiting_for=waits_for,
        until_ms=until_ms,
        isolated=request.POST.get("isolated") == "1",
        cover_laid_on=request.POST.get("cover") == "1",
    )
    had = trays_of_others(trays_told(said_by_form), but=job.run.unit_id)
    if enter(request, job.run.pk, [said_by_form]):
        for label, other in had:
            words = _("%(label)s was the tray or a bag of %(unit)s. Now it leads to this machine.")
            messages.warning(request, words % {"label": label, "unit": other})
    return ""


def _resume(request: HttpRequest, job: Job) -> str:
    """Work goes on: first what lies there is counted again."""
    counts: dict[str, int] = {}
    books = _books(job.device, ledger_of(job.device, job.state.log))
    for key in books:
        said = request.POST.get(f"count_{key}", "").strip()
        if not said.isdecimal() or int(said) > MOST_PIECES:
            messages.error(request, _("Count every kind of piece before going on."))
            return ""
        counts[key] = int(said)
    happened: list[e.Happening] = [e.Recounted(counts=counts)] if counts else []
    happened.append(e.Resumed())
    if not enter(request, job.run.pk, happened):
        return ""
    if any(counts[key] != count for key, (_name, count) in books.items()):
        messages.warning(request, _("What was counted differs from the books: see below."))
        return ""
    return f"/runs/{job.run.pk}/work/"


def _line(request: HttpRequest, job: Job) -> str:
    """A line of the order stands otherwise now."""
    key, state = request.POST.get("line", ""), request.POST.get("state", "")
    ledger = ledger_of(job.device, job.state.log)
    rows = lines_of_job(job.device, course_of(job.device, job.state), job.state, ledger)
    row = next((row for row in rows if row.line == key), None)
    if row is None or state not in _choices(row):
        messages.error(request, _("Choose how this line stands."))
        return ""
    code = line(request, "order_code", 80) or row.order_code
    said = e.PartLine(
        line=row.line,
        state=state,
        count=min(MOST_PIECES, max(1, round(row.count))),
        part=row.names.get("part"),
        supply=row.names.get("supply"),
        piece=row.names.get("piece"),
        order_code=code or row.names.get("order_code"),
    )
    enter(request, job.run.pk, [said])
    return ""


def _new_line(request: HttpRequest, job: Job) -> str:
    """Something more is needed that no plan and no mishap asks for."""
    code, count = line(request, "order_code", 80), line(request, "count") or "1"
    if not code or not count.isdecimal() or not 1 <= int(count) <= MOST_PIECES:
        messages.error(request, _("Give an order code and how many."))
        return ""
    said = e.PartLine(line=new_key(), state="to_order", count=int(count), order_code=code)
    enter(request, job.run.pk, [said])
    return ""


_ACTIONS: dict[str, Callable[[HttpRequest, Job], str]] = {
    "park": _park,
    "resume": _resume,
    "line": _line,
    "new_line": _new_line,
}

ROUTES = (Route("runs/<str:run>/park/", park, "park", "guest", "technician"),)
