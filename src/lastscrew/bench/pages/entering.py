"""Entries from plain forms about a job: one event or a few, made here, sent again without harm."""

from __future__ import annotations

import re
from collections.abc import Sequence

from django.contrib import messages
from django.http import Http404, HttpRequest

from lastscrew.bench.pages.common import who
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.jobs import Job, load_job
from lastscrew.problems import InputError
from lastscrew.run.events import Event, Happening
from lastscrew.saying import told

_KEY = re.compile(r"[0-9a-f]{32}")


def job_or_404(run: str) -> Job:
    """The job, or the page that says that there is none."""
    try:
        return load_job(run)
    except KeyError:
        raise Http404(run) from None


def key_of_form(request: HttpRequest) -> str:
    """The key that the form was given when it was shown; a new one where it has none."""
    key = request.POST.get("key", "")
    return key if _KEY.fullmatch(key) else new_key()


def enter(request: HttpRequest, run: str, happened: Sequence[Happening]) -> bool:
    """Add what a form says to a job; says in a message what is wrong with it.

    The ids follow from the key of the form: the same form sent twice counts once. A form names no screen:
    whoever sent it saw the job as it is.
    """
    key = key_of_form(request)
    at_ms = now_ms()
    events = [
        Event(id=f"{key}.{number}" if number else key, what=what, at_ms=at_ms)
        for number, what in enumerate(happened)
    ]
    try:
        add_run_events(run, events, by=who(request))
    except InputError as error:
        for problem in error.problems[:10]:
            messages.error(request, f"{told(problem.message)} {told(problem.remedy)}")
        return False
    return True


def line(request: HttpRequest, name: str, most: int = 200) -> str:
    """One line of text from a form."""
    return " ".join(request.POST.get(name, "").split())[:most]


def text(request: HttpRequest, name: str, most: int = 2_000) -> str:
    """Text from a form."""
    return request.POST.get(name, "").replace("\r\n", "\n").strip()[:most]


def number(request: HttpRequest, name: str) -> float | None:
    """A number from a form, with a point or a comma; None where there is none.

    Raises:
        ValueError: It is no finite number.
    """
    said = request.POST.get(name, "").strip().replace(",", ".")
    if not said:
        return None
    value = float(said)
    if value in (float("inf"), float("-inf")) or value != value:  # noqa: PLR0124 (not a number)
        raise ValueError(said)
    return value
