"""How long a job should have taken, as it was asked for when it began."""

from __future__ import annotations

from functools import lru_cache

from lastscrew.bench.store.jobs import Job, device_of
from lastscrew.plan.briefing import brief
from lastscrew.plan.model import Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.run.events import Started

MOST_WORK = 20_000
"""States that the planner may look at: a page does not wait for more."""


def planned_range(job: Job) -> str:
    """Hands-on time planned for what a job was for, as a range in words; empty where there is none."""
    began = next((e.what for e in job.events if isinstance(e.what, Started)), None)
    if began is None:
        return ""
    time = _range(
        job.run.revision,
        job.state.replace,
        job.state.reach,
        began.opened,
        job.state.not_fitted,
        job.state.fitted,
        job.state.without,
    )
    return time or ""


def planned_for(revision: str, targets: tuple[str, ...]) -> str:
    """Hands-on time planned for parts or joints of a device, as a range in words."""
    joints = device_of(revision).joints
    replace = tuple(target for target in targets if target not in joints)
    reach = tuple(target for target in targets if target in joints)
    return _range(revision, replace, reach, (), (), (), ())


@lru_cache(maxsize=500)
def _range(revision: str, *asked: tuple[str, ...]) -> str:
    replace, reach, opened, not_fitted, fitted, without = asked
    device = device_of(revision)
    request = Request(
        replace=replace,
        reach=reach,
        opened=opened,
        not_fitted=not_fitted,
        fitted=fitted,
        without=without,
    )
    try:
        made = plan(device, request, StopRule(work=MOST_WORK))
    except InputError:
        return ""
    return brief(device, made).timing.total.words
