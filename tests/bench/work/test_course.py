"""Whoever taps what is shown does the job: in order, out of order, with things going wrong."""

from __future__ import annotations

import pytest

from lastscrew.bench.work.course import course_of
from lastscrew.device.model import Device
from lastscrew.fasteners.ledger import hindrances, ledger_of
from lastscrew.run import events as e
from tests.bench.work.conftest import Screen, demo

# Every other part of each invented machine: the others go the same ways.
PARTS = [
    (name, part)
    for name in ("notebook", "slate", "extractor")
    for part in [p.id for p in demo(name).parts.values() if not p.fixed and not p.if_fitted][::2]
]


@pytest.mark.parametrize(("name", "part"), PARTS)
def test_tapping_everything_in_order_leaves_no_remark_and_balanced_books(
    name: str, part: str
) -> None:
    device = demo(name)
    screen = Screen.at(device, part)
    shown = [item.id for item in screen.items()]
    screen.tap_until()
    assert [item.id for item in screen.items() if item.is_done] == shown
    assert [remark.text for remark in screen.state.remarks] == []
    assert screen.state.open == ()
    ledger = ledger_of(device, screen.events)
    assert [each.text for each in hindrances(device, screen.state, ledger)] == []
    assert [x.part for x in screen.state.exchanged] == [part]


def test_the_steps_stay_the_same_whenever_the_page_is_opened(notebook: Device) -> None:
    screen = Screen.at(notebook, "keyboard")
    shown = [item.id for item in screen.items()]
    for item in screen.items()[:9]:
        screen.tap(item)
        assert [each.id for each in screen.items()] == shown


def test_another_order_within_the_plan_is_ticked_off(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:fan_plug")
    screen.tap(screen.item("in:fan_tape"))
    left = [item.id for item in screen.items() if not item.is_done]
    assert "in:fan_tape" not in left
    assert left[0] == "in:fan_plug"
    assert screen.state.remarks == ()


def test_a_joint_that_was_not_planned_is_closed_again_on_the_way_out(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:fan_plug")
    screen.happen(e.Opened(joint="speaker_plug"))
    assert "out:speaker_plug" in [item.id for item in screen.items()]
    screen.tap_until()
    assert screen.state.open == ()
    assert screen.state.remarks == ()


def test_a_joint_closed_before_the_exchange_is_opened_again(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("exchange:fan")
    screen.happen(e.Closed(joint="fan_seat"))
    assert next(item.id for item in screen.items() if not item.is_done) == "in:fan_seat"


def test_a_target_added_in_the_middle_is_planned_from_what_is_open(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("exchange:fan")
    screen.happen(e.TargetAdded(replace="keyboard"))
    items = [item.id for item in screen.items()]
    assert "in:cover_screws" not in items
    assert {"exchange:fan", "exchange:keyboard", "in:keyboard_clips"} <= set(items)
    screen.tap_until()
    assert screen.state.remarks == ()
    assert {x.part for x in screen.state.exchanged} == {"fan", "keyboard"}


def test_a_target_dropped_in_the_middle_leads_straight_out(notebook: Device) -> None:
    screen = Screen.at(notebook, "board")
    screen.tap_until("in:drive_screw")
    screen.happen(e.TargetDropped(replace="board"))
    items = screen.items()
    assert all(item.limb == "out" or item.is_done for item in items)
    screen.tap_until()
    assert screen.state.open == ()


def test_a_dead_new_part_is_asked_for_again(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("out:cover_clips")
    screen.happen(e.PartJudged(part="fan", state="dead_on_arrival"))
    left = [item.id for item in screen.items() if not item.is_done]
    assert "exchange:fan" in left
    screen.tap_until()
    assert len(screen.state.exchanged) == 2
    assert screen.state.open == ()


def test_what_is_in_the_way_is_taken_out_of_the_way_first(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:fan_screws")
    screen.happen(e.Unreachable(joint="fan_screws", reason="in_the_way", part="clock_cell"))
    left = [item.id for item in screen.items() if not item.is_done]
    assert left.index("in:clock_bond") < left.index("in:fan_screws")
    screen.tap_until()
    assert screen.state.open == ()


def test_where_no_way_leads_round_what_is_in_the_way_the_plan_stays_and_says_so(
    notebook: Device,
) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:fan_screws")
    screen.happen(e.Unreachable(joint="cover_screws", reason="in_the_way", part="board"))
    course = screen.work().course
    assert course.plan is not None
    assert "no way leads on" in course.notes[0]


def test_a_cable_too_short_to_lay_the_part_aside_holds_it(notebook: Device) -> None:
    screen = Screen.at(notebook, "keyboard")
    screen.happen(e.Unreachable(joint="keyboard_ribbon", reason="too_short"))
    assert screen.work().course.device.joints["keyboard_ribbon"].rigid


def test_a_recounted_joint_is_shown_with_its_true_number(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.happen(e.CountCorrected(joint="cover_screws", count=8))
    item = screen.item("in:cover_screws")
    assert item.pieces[0].count == 8
    screen.tap_until()
    assert hindrances(notebook, screen.state, ledger_of(notebook, screen.events)) == ()


def test_acts_of_an_exchanged_part_are_asked_for_after_the_plan_was_made_anew(
    notebook: Device,
) -> None:
    screen = Screen.at(notebook, "button_board")
    screen.tap_until("exchange:button_board")
    screen.tap(screen.item("exchange:button_board"))
    screen.happen(e.Opened(joint="speaker_plug"))
    assert "act:register" in [item.id for item in screen.items()]


def test_a_joint_to_be_reached_is_opened_and_closed_again(notebook: Device) -> None:
    screen = Screen.at(notebook, reach=("fan_plug",))
    screen.tap_until()
    assert "fan_plug" in screen.state.opened
    assert screen.state.open == ()


def test_what_lies_in_a_compartment_stays_there_when_the_plan_is_made_anew(
    notebook: Device,
) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:pack_plug")
    before = screen.work().places["cover_screws"]
    screen.happen(e.TargetAdded(replace="board"))
    after = screen.work().places
    assert after["cover_screws"] == before
    assert len(set(after.values())) == len(after)


def test_a_request_that_cannot_be_met_is_said_in_words(notebook: Device) -> None:
    screen = Screen(notebook)
    screen.happen(
        e.Started(
            device=notebook.id,
            revision=notebook.revision_hash,
            replace=("fan",),
            without=("cover_screws",),
        )
    )
    course = course_of(notebook, screen.state)
    assert course.plan is None
    assert course.problems
