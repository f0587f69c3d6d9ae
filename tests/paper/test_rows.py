"""Rows pair each opening with its closing, and time runs through without gaps."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import Device
from lastscrew.paper.rows import course_of, isolated_span, stages_of
from lastscrew.plan.model import Plan, Request
from tests.paper.machines import greedy, notebook, tower

BOARD = Request(replace=("board",))


def a_plan(shuffled: bool = False, opened: tuple[str, ...] = ()) -> tuple[Device, Plan]:
    device = notebook()
    return device, greedy(device, Request(replace=("board",), opened=opened), shuffled=shuffled)


@given(st.integers(2, 9), st.booleans(), st.data())
def test_every_step_stands_in_just_one_row(
    floors: int, shuffled: bool, data: st.DataObject
) -> None:
    """Rows hold each opening and each closing once, both of the same joint, in the order of opening."""
    device = tower(floors)
    opened = data.draw(st.sampled_from([(), ("m0_screws",), ("m0_screws", "m0_plug")]))
    plan = greedy(device, Request(reach=tuple(device.joints), opened=opened), shuffled=shuffled)
    rows = course_of(device, plan).rows
    assert [row.opening.step.joint for row in rows if row.opening] == [s.joint for s in plan.way_in]
    assert sorted(row.joint for row in rows) == sorted(s.joint for s in plan.way_out)
    assert all(row.closing and row.closing.step.joint == row.joint for row in rows)
    assert sum(row.opening is None for row in rows) == len(opened)


@pytest.mark.parametrize("shuffled", [False, True])
def test_times_add_up_to_those_of_the_plan(shuffled: bool) -> None:
    """Acts, setups, work and the final turn fill the time without gaps, to the millisecond."""
    device, plan = a_plan(shuffled)
    course = course_of(device, plan)
    assert course.turn_ms == plan.way_in_ms
    assert course.total_ms == plan.total_ms
    for steps in (course.way_in, course.way_out):
        for before, after in pairwise(steps):
            assert before.end_ms == after.before_ms <= after.start_ms <= after.end_ms


def test_steps_are_numbered_through() -> None:
    """The way out goes on where the way in ended."""
    device, plan = a_plan()
    course = course_of(device, plan)
    numbers = [timed.number for timed in (*course.way_in, *course.way_out)]
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_joint_open_at_the_start_stands_where_its_closing_belongs() -> None:
    """The cover, open already, is the outermost row although it has no opening."""
    device, plan = a_plan(opened=("cover_screws", "cover_clips"))
    rows = course_of(device, plan).rows
    assert [row.joint for row in rows[:2]] == ["cover_screws", "cover_clips"]
    assert [row.opening for row in rows[:2]] == [None, None]


def test_stages_change_just_where_side_or_tool_do() -> None:
    """All steps of a stage share side and tool, neighbours differ."""
    device, plan = a_plan()
    stages = stages_of(course_of(device, plan).way_in)
    for stage in stages:
        assert {(t.step.side, t.step.tool) for t in stage.steps} == {(stage.side, stage.tool)}
    for one, other in pairwise(stages):
        assert (one.side, one.tool) != (other.side, other.tool)


def test_the_power_is_away_from_the_end_of_isolation_to_its_return() -> None:
    """Between opening and closing of the pack's plug, and never where nothing isolates."""
    device, plan = a_plan()
    course = course_of(device, plan)
    span = isolated_span(device, course)
    row = next(row for row in course.rows if row.joint == "pack_plug")
    assert row.opening is not None
    assert row.closing is not None
    assert span == (row.opening.end_ms, row.closing.start_ms)
    stack = tower(3)
    assert isolated_span(stack, course_of(stack, greedy(stack, Request(replace=("m2",))))) is None
