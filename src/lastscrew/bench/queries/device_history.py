"""What happened to all units of a device: times, troubles, exchanges, endings. Bounded to its last jobs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Count
from django.db.models.fields.json import KeyTextTransform

from lastscrew.bench.models import Run, StageTime, StoredEvent

MOST_JOBS = 300
MOST_TIMES = 20_000
MOST_TROUBLES = 5_000
TROUBLES = ("stripped", "broken", "missing", "lost", "unreachable", "other_kind", "count_corrected")


@dataclass(frozen=True, slots=True)
class DeviceHistory:
    """What the tables say about the last jobs on a device.

    Attributes:
        jobs: How many jobs that is.
        outcomes: Ending to jobs.
        times: Milliseconds by limb and joint, outliers of a single job left out.
        openings: How often each joint was opened.
        troubles: Joint to kind of trouble to how often.
        trouble_jobs: Joint to jobs that had trouble there.
        exchanged: Part or spare to how often it was exchanged.
        dead: Part to how often a new one was dead on arrival.
        finished: Targets and hands-on milliseconds of each job that ended as repaired.
    """

    jobs: int
    outcomes: Mapping[str, int]
    times: Mapping[tuple[str, str], list[int]]
    openings: Mapping[str, int]
    troubles: Mapping[str, Mapping[str, int]]
    trouble_jobs: Mapping[str, int]
    exchanged: Mapping[str, int]
    dead: Mapping[str, int]
    finished: tuple[tuple[tuple[str, ...], int], ...]


def history_of(device: str) -> DeviceHistory:
    """What happened in the last three hundred jobs on a device."""
    runs = list(Run.objects.filter(device=device).order_by("-started_ms")[:MOST_JOBS])
    keys = [run.key for run in runs]
    back = {
        str(body.get("about"))
        for body in StoredEvent.objects.filter(run__in=keys, name="taken_back").values_list(
            "body", flat=True
        )
    }
    troubles: dict[str, Counter[str]] = {}
    jobs: dict[str, set[str]] = {}
    for run, name, body in _bodies(keys, TROUBLES, back):
        joint = str(body.get("joint", ""))
        if joint:
            troubles.setdefault(joint, Counter())[name] += 1
            jobs.setdefault(joint, set()).add(run)
    exchanged = Counter(
        str(body.get("part")) for _r, _n, body in _bodies(keys, ("exchanged",), back)
    )
    judged, lines = Counter[str](), Counter[str]()
    for _run, name, body in _bodies(keys, ("part_judged", "part_line"), back):
        if body.get("state") == "dead_on_arrival" and body.get("part"):
            (judged if name == "part_judged" else lines)[str(body["part"])] += 1
    # One that was fitted first is told as a judgement and as a line of the order, one seen in its box as a line.
    dead = judged | lines
    return DeviceHistory(
        len(runs),
        dict(Counter(run.outcome for run in runs if run.outcome)),
        _times(device),
        _openings(keys),
        # Plain mappings: a template that asks a counter for its items is told that it counted none.
        {joint: dict(counts) for joint, counts in troubles.items()},
        {joint: len(found) for joint, found in jobs.items()},
        dict(exchanged),
        dict(dead),
        tuple(
            (tuple(map(str, run.targets)), run.hands_on_ms)
            for run in runs
            if run.outcome == "repaired"
        ),
    )


def _bodies(
    runs: list[str], names: tuple[str, ...], back: set[str]
) -> list[tuple[str, str, dict[str, object]]]:
    rows = (
        StoredEvent.objects.filter(run__in=runs, name__in=names)
        .order_by("-position")
        .values_list("key", "run", "name", "body")[:MOST_TROUBLES]
    )
    return [(run, name, body) for key, run, name, body in rows if key not in back]


def _openings(runs: list[str]) -> dict[str, int]:
    rows = (
        StoredEvent.objects.filter(run__in=runs, name="opened")
        .order_by()
        .annotate(joint=KeyTextTransform("joint", "body"))
        .values_list("joint")
        .annotate(count=Count("pk"))
    )
    return {str(joint): count for joint, count in rows}


def _times(device: str) -> dict[tuple[str, str], list[int]]:
    rows = (
        StageTime.objects.filter(device=device, is_outlier=False)
        .order_by("-at_ms")
        .values_list("limb", "joint", "taken_ms")[:MOST_TIMES]
    )
    found: dict[tuple[str, str], list[int]] = {}
    for limb, joint, taken_ms in rows:
        found.setdefault((limb, joint), []).append(taken_ms)
    return found
