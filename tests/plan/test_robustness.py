"""By how much times may be wrong, held to planning again with just these times changed."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lastscrew.device.model import Device
from lastscrew.plan.model import Plan, Request
from lastscrew.plan.planner import plan
from lastscrew.plan.robustness import Tolerance, robustness
from lastscrew.problems import InputError
from tests.oracle.devices import SMALL, case_from_seed
from tests.plan_support.machines import box


def _with_longer(device: Device, joint_id: str, more_ms: int) -> Device:
    """The device with one joint's opening (or, where it would fall below 0, closing too) changed."""
    joint = device.joints[joint_id]
    accesses = []
    for access in joint.accesses:
        assert access.open_ms is not None
        assert access.close_ms is not None
        opening = max(0, access.open_ms + more_ms)
        rest = more_ms - (opening - access.open_ms)
        accesses.append(replace(access, open_ms=opening, close_ms=max(0, access.close_ms + rest)))
    changed = replace(joint, accesses=tuple(accesses))
    return replace(device, joints={**device.joints, joint_id: changed})


def _wins(device: Device, request: Request, tolerance: Tolerance, change_ms: int) -> bool:
    """True when the best plan still treats the joint as it did before."""
    sign = 1 if tolerance.opened else -1
    after = plan(_with_longer(device, tolerance.joint, sign * change_ms), request)
    return (tolerance.joint in after.open_at_turning) == tolerance.opened


@settings(max_examples=60)
@given(st.integers(0, 100_000))
def test_within_its_room_a_time_changes_nothing_and_beyond_it_another_way_wins(seed: int) -> None:
    """One millisecond less than the room: the same treatment; one more: the other."""
    device, request = case_from_seed(seed, SMALL)
    request = replace(request, objective="time")
    try:
        found = plan(device, request)
    except InputError:
        assume(False)
        raise
    for tolerance in robustness(device, found, partial(plan, device)).tolerances:
        least = min(
            (a.open_ms or 0) + (a.close_ms or 0) for a in device.joints[tolerance.joint].accesses
        )
        if tolerance.room_ms is None:
            if tolerance.opened:  # whatever it takes, there is no other way
                assert _wins(device, request, tolerance, 10_000_000)
            continue
        assert tolerance.exact
        if tolerance.room_ms > 0 and (tolerance.opened or tolerance.room_ms - 1 <= least):
            assert _wins(device, request, tolerance, tolerance.room_ms - 1)
        if tolerance.opened or tolerance.room_ms + 1 <= least:
            assert not _wins(device, request, tolerance, tolerance.room_ms + 1)


def test_the_ribbon_may_be_reached_another_way_once_the_clips_take_too_long() -> None:
    """The keyboard's clips are 78.5 s ahead of the pack's screws, by hand count of both ways."""
    device = box()
    request = Request(reach=("keys_ribbon",))
    found = plan(device, request)
    result = robustness(device, found, partial(plan, device))
    by_joint = {x.joint: x for x in result.tolerances}
    other = plan(device, replace(request, without=("keys_clips",)))
    opened = by_joint.get("keys_clips")
    if opened is not None and opened.opened:
        assert opened.room_ms == other.total_ms - found.total_ms
        assert "pack_screws" in opened.instead
    assert by_joint["cover_screws"].room_ms is None
    assert result.critical is not None
    assert result.factor == min(x.factor for x in result.tolerances if x.factor is not None)


def test_what_was_asked_for_is_not_tried() -> None:
    """A target has no other way, so that its time can't matter for the choice."""
    device = box()
    found = plan(device, Request(replace=("keys",)))
    tried = {x.joint for x in robustness(device, found, partial(plan, device)).tolerances}
    assert "keys_ribbon" not in tried
    assert "keys_clips" not in tried


@pytest.mark.parametrize("calls", [0, 1, 4])
def test_when_time_runs_out_the_rest_is_listed(calls: int) -> None:
    """Joints that were not tried are named, none is lost."""
    device = box()
    found = plan(device, Request(replace=("keys",)))
    whole = robustness(device, found, partial(plan, device))
    count = iter(range(1_000))
    part = robustness(device, found, partial(plan, device), lambda: next(count) >= calls)
    assert len(part.tolerances) == calls
    assert sorted([*(x.joint for x in part.tolerances), *part.not_tried]) == sorted(
        x.joint for x in whole.tolerances
    )


def test_a_search_that_is_stopped_says_at_least() -> None:
    """An unproven other plan gives a bound, not a false exact figure."""
    device = box()
    found = plan(device, Request(reach=("keys_ribbon",)))

    def unproven(request: Request) -> Plan:
        return replace(plan(device, request), proven=False, lower_bound=found.objective_value + 1)

    for tolerance in robustness(device, found, unproven).tolerances:
        if tolerance.room_ms is not None:
            assert not tolerance.exact
            assert tolerance.room_ms == 1
