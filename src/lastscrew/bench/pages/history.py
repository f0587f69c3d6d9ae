"""The history of a device: planned against actual, joints that go wrong, what was exchanged, how jobs ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.charts import draw_step_times, draw_troubles
from lastscrew.bench.depot.device_story import JobTime, job_times, step_times, troubles
from lastscrew.bench.depot.small_v import to_markup
from lastscrew.bench.queries.device_history import DeviceHistory, history_of
from lastscrew.bench.queries.planned import planned_for
from lastscrew.bench.store.jobs import current_revision, device_of
from lastscrew.device.model import Device
from lastscrew.plan.wording import piece_name

MOST_STEPS = 60
MOST_PLANNED = 8
"""So many kinds of jobs have their planned time beside the measured one: each is a plan of its own."""

TROUBLE_WORDS = {
    "stripped": gettext_lazy("worn out"),
    "broken": gettext_lazy("broken"),
    "missing": gettext_lazy("missing when opened"),
    "lost": gettext_lazy("lost"),
    "unreachable": gettext_lazy("not reachable"),
    "other_kind": gettext_lazy("of another kind"),
    "count_corrected": gettext_lazy("another count"),
}


def device_history(request: HttpRequest, device: str) -> HttpResponse:
    """The history of a device by its id."""
    current = current_revision(device)
    if current is None:
        raise Http404
    described, found = device_of(current.revision), history_of(device)
    steps = step_times(described, found.times)
    trouble = troubles(described, found.openings, found.troubles, found.trouble_jobs)
    context: dict[str, Any] = {
        "device": described,
        "found": found,
        "steps": steps[:MOST_STEPS],
        "more_steps": max(0, len(steps) - MOST_STEPS),
        "step_chart": mark_safe(to_markup(draw_step_times(steps))) if steps else "",  # noqa: S308
        "troubles": trouble,
        "trouble_chart": mark_safe(to_markup(draw_troubles(trouble))) if trouble else "",  # noqa: S308
        "trouble_words": TROUBLE_WORDS,
        "job_times": _job_times(described, found),
        "exchanged": _named(described, found.exchanged, found.dead),
    }
    return render(request, "bench/history/history.html", context)


def _job_times(device: Device, found: DeviceHistory) -> list[JobTime]:
    times = job_times(device, found.finished)
    by_names = {names: targets for targets, names in _targets_by_names(device, found)}
    planned = []
    for number, time in enumerate(times):
        targets = by_names.get(time.names, ())
        words = planned_for(device.revision_hash, targets) if number < MOST_PLANNED else ""
        planned.append(replace(time, planned=words))
    return planned


def _targets_by_names(
    device: Device, found: DeviceHistory
) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
    every = {tuple(sorted(targets)) for targets, _ms in found.finished if targets}
    return [(targets, job_times(device, [(targets, 1)])[0].names) for targets in sorted(every)]


def _named(
    device: Device, exchanged: Mapping[str, int], dead: Mapping[str, int]
) -> list[tuple[str, int, int]]:
    rows = [
        (piece_name(device, part), count, dead.get(part, 0)) for part, count in exchanged.items()
    ]
    return sorted(rows, key=lambda row: (-row[1], row[0]))


ROUTES = (
    Route("devices/<str:device>/history/", device_history, "device_history", "guest", "lead"),
)
