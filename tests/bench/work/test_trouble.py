"""Things go wrong, each in two taps; plan, books, order and checks follow."""

from __future__ import annotations

import pytest

from lastscrew.bench.depot.stocking import moves_of_job
from lastscrew.bench.work.needs import NeedLine, lines_of_job
from lastscrew.bench.work.trouble import (
    Choice,
    missing_pieces,
    troubles_at,
    troubles_with,
    worn_pieces,
)
from lastscrew.device.model import Device
from lastscrew.fasteners.ledger import hindrances, ledger_of
from lastscrew.run import events as e
from tests.bench.work.conftest import Screen, demo


def filled(choice: Choice) -> list[list[dict[str, object]]]:
    """The events of a choice, with something filled in where something is asked."""
    kinds: dict[str, object] = {"whole": 3, "number": 4.5, "text": "stuck"}
    asked = {key: kinds[kind] for key, _, kind in choice.asks}
    first, *rest = [dict(event) for event in choice.events]
    if not choice.parts:
        return [[{**first, **asked}, *rest]]
    # The first and the last stand for all parts.
    ends = dict.fromkeys((choice.parts[0], choice.parts[-1]))
    return [[{**first, "part": part}, *rest] for part in ends]


@pytest.mark.parametrize("name", ["notebook", "slate", "extractor"])
def test_whatever_is_said_in_two_taps_is_understood_by_everything_behind_it(name: str) -> None:
    device = demo(name)
    screen = Screen.at(device)
    for joint in device.joints:
        for trouble in troubles_at(device, joint, screen.state):
            assert trouble.choices
            for choice in trouble.choices:
                for events in filled(choice):
                    said = Screen(device)
                    for event in events:
                        said.happen(event)
                    codes = {remark.code for remark in said.state.remarks}
                    assert codes <= {"not_started"}


def say(screen: Screen, joint: str, trouble: str, number: int = 0) -> None:
    found = next(t for t in troubles_at(screen.device, joint, screen.state) if t.id == trouble)
    for event in filled(found.choices[number])[0]:
        screen.happen(event)


def lines(screen: Screen) -> dict[str, NeedLine]:
    ledger = ledger_of(screen.device, screen.events)
    found = lines_of_job(screen.device, screen.work().course, screen.state, ledger)
    return {line.line: line for line in found}


def test_a_missing_screw_is_expected_no_more_and_is_to_be_ordered(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:cover_screws")
    say(screen, "cover_screws", "missing")
    screen.tap(screen.item("in:cover_screws"))
    ledger = ledger_of(notebook, screen.events)
    assert [(lot.joint, lot.count) for lot in ledger.out] == [("cover_screws", 6)]
    found = [line for line in lines(screen).values() if line.why.startswith("missing")]
    assert [(line.count, line.order_code) for line in found] == [(1, "LM-S245")]


def test_a_thread_in_a_part_that_wears_out_is_not_mended_by_a_new_screw(notebook: Device) -> None:
    """What was told decides what is ordered: drive or thread of the screw, or what it goes into."""
    screen = Screen.at(notebook, "fan")
    for number in (0, 1, 2):  # the drive, the thread, the thread in the part
        say(screen, "fan_screws", "stripped", number)
    ordered = [line for line in lines(screen).values() if "Fan screws" in line.why]
    assert [(line.what, dict(line.names), line.why) for line in ordered[-1:]] == [
        (
            "threaded insert M2",
            {"order_code": "threaded insert M2, Fan screws"},
            "thread in the part worn out: Fan screws",
        )
    ]
    assert [dict(line.names) for line in ordered[:-1]] == [{"piece": "m2x4"}] * 2
    assert worn_pieces(screen.state) == {"fan_screws": 2}


@pytest.mark.parametrize("name", ["notebook", "extractor"])
def test_another_kind_is_one_that_can_sit_there(name: str) -> None:
    """No sleeve, washer, ring or nut is offered where a screw belongs, nor a screw for a nut."""
    device = demo(name)
    screen = Screen.at(device)
    listed = {
        joint.id: {
            str(event["piece"])
            for trouble in troubles_at(device, joint.id, screen.state)
            if trouble.id == "other_kind"
            for choice in trouble.choices
            for event in choice.events
            if "piece" in event
        }
        for joint in device.joints.values()
    }
    for joint, pieces in listed.items():
        kinds = {
            other.kind
            for piece in pieces
            for other in device.joints.values()
            if other.fastener == piece
        }
        assert kinds <= {device.joints[joint].kind}
        with_others = {name for other in device.joints.values() for name in other.washers}
        assert not pieces & with_others
    if name == "notebook":
        assert "grommet" not in listed["cover_screws"]
        assert {"m2x4", "m2x8_t5"} <= listed["cover_screws"]
    else:
        assert listed["gauge_nuts"] <= {"m4_brass_nut", "m10_lock_nut", "gland_m20"}
        said = {t.id: t.text for t in troubles_at(device, "gauge_nuts", screen.state)}
        assert (said["missing"], said["other_kind"]) == ("A nut is missing", "Another kind")


def test_a_lost_screw_hinders_the_end_until_it_is_searched_for(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:cover_clips")
    say(screen, "cover_screws", "lost", 1)
    ledger = ledger_of(notebook, screen.events)
    codes = {each.code for each in hindrances(notebook, screen.state, ledger)}
    assert "lost_unsearched" in codes
    screen.happen(e.Searched(about=ledger.losses[0].event))
    ledger = ledger_of(notebook, screen.events)
    codes = {each.code for each in hindrances(notebook, screen.state, ledger)}
    assert "lost_unsearched" not in codes


def test_a_part_that_turns_out_bad_joins_the_job_with_one_choice(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("exchange:fan")
    say(screen, "sink_screws", "bad")
    assert screen.state.replace == ("fan", "sink")
    assert "exchange:sink" in [item.id for item in screen.items()]
    assert "part:sink" in lines(screen)
    screen.tap_until()
    checked = {function for function in ("cooling",) if function in notebook.functions}
    assert checked


def test_a_new_part_can_be_dead_only_after_it_was_fitted(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("exchange:fan")
    ids = [t.id for t in troubles_at(notebook, "fan_screws", screen.state)]
    assert "dead" not in ids
    screen.tap(screen.item("exchange:fan"))
    say(screen, "fan_screws", "dead")
    assert screen.state.judged["fan"] == "dead_on_arrival"
    assert lines(screen)["part:fan"].state == "dead_on_arrival"


@pytest.mark.parametrize(
    ("trouble", "number"), [("missing", 0), ("stripped", 0), ("lost", 0), ("lost", 1)]
)
def test_several_screws_at_once_are_one_line_of_the_order_and_the_books_follow(
    notebook: Device, trouble: str, number: int
) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:cover_screws" if trouble == "missing" else "in:cover_clips")
    found = next(t for t in troubles_at(notebook, "cover_screws", screen.state) if t.id == trouble)
    choice = found.choices[number]
    assert choice.counted == notebook.joints["cover_screws"].count == 7
    assert "{count}" in choice.text
    first, *rest = choice.events
    for event in ({**first, "count": 3}, *rest):
        screen.happen(event)
    if trouble == "missing":
        screen.tap(screen.item("in:cover_screws"))
    ordered = [line for line in lines(screen).values() if line.line.startswith("piece:")]
    assert [line.count for line in ordered] == [3]
    books = ledger_of(notebook, screen.events)
    (lot,) = (lot for lot in books.out if lot.joint == "cover_screws")
    assert lot.count == (7 if trouble == "stripped" else 4)
    assert [loss.count for loss in books.losses] == ([3] if trouble == "lost" else [])
    assert worn_pieces(screen.state) == ({"cover_screws": 3} if trouble == "stripped" else {})


def test_a_new_part_that_is_dead_after_fitting_is_a_line_of_the_spare_that_brought_it(
    notebook: Device,
) -> None:
    screen = Screen.at(notebook, "cooler")
    screen.happen(e.PartLine(line="part:cooler", state="received", part="cooler"))
    screen.tap_until("exchange:cooler")
    screen.tap(screen.item("exchange:cooler"))
    assert lines(screen)["part:cooler"].state == "fitted"
    (dead,) = (
        trouble
        for trouble in troubles_with(notebook, ("fan",), screen.state)
        if trouble.id == "dead"
    )
    assert "came with" in dead.choices[0].text
    for event in filled(dead.choices[0])[0]:
        screen.happen(event)
    assert screen.state.judged == {"fan": "dead_on_arrival"}
    now = lines(screen)
    assert now["part:cooler"].state == "dead_on_arrival"
    assert "part:fan" not in now
    assert not screen.item("exchange:cooler").is_done
    screen.happen(e.PartLine(line="part:cooler", state="received", part="cooler"))
    screen.tap_until()
    assert lines(screen)["part:cooler"].state == "fitted"
    assert screen.state.remarks == ()
    code = f"code:{notebook.spares['cooler'].order_code}"
    moved = [dict(moves).get(code, 0) for moves in moves_of_job(notebook, screen.events).values()]
    assert [change for change in moved if change] == [1, -1, 1, -1]


def test_parts_exchanged_as_one_piece_have_a_line_of_the_order_each(notebook: Device) -> None:
    screen = Screen.at(notebook, "sink+fan")
    wanted = {key for key in lines(screen) if key.startswith("part:")}
    assert wanted == {"part:sink", "part:fan"}
    screen.tap_until("exchange:sink+fan")
    screen.tap(screen.item("exchange:sink+fan"))
    told = lines(screen)
    assert {key for key in told if key.startswith("part:")} == wanted
    assert {told[key].state for key in wanted} == {"fitted"}
    (dead,) = (
        trouble
        for trouble in troubles_with(notebook, ("fan",), screen.state)
        if trouble.id == "dead"
    )
    for event in filled(dead.choices[0])[0]:
        screen.happen(event)
    assert (lines(screen)["part:fan"].state, lines(screen)["part:sink"].state) == (
        "dead_on_arrival",
        "fitted",
    )


@pytest.mark.parametrize(("asked", "line"), [("fan", "part:fan"), ("cooler", "part:cooler")])
def test_a_new_part_that_is_dead_in_its_box_is_ordered_again_and_the_job_stays_as_it_was(
    notebook: Device, asked: str, line: str
) -> None:
    screen = Screen.at(notebook, asked)
    screen.tap_until(f"exchange:{asked}")
    steps = [item.id for item in screen.items()]
    (dead,) = (
        trouble
        for trouble in troubles_with(notebook, ("fan",), screen.state)
        if trouble.id == "dead_new"
    )
    (events,) = filled(dead.choices[0])
    for event in events:
        screen.happen(event)
    assert lines(screen)[line].state == "dead_on_arrival"
    assert [item.id for item in screen.items()] == steps
    screen.tap(screen.item(f"exchange:{asked}"))
    assert lines(screen)[line].state == "fitted"
    again = troubles_with(notebook, ("fan",), screen.state)
    assert [trouble.id for trouble in again] == ["dead"]


def test_the_old_part_is_a_line_of_its_own(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("out:fan_seat")
    found = lines(screen)
    assert found["part:fan"].state == "fitted"
    assert found["old:fan"].is_old
    screen.happen(e.PartLine(line="old:fan", state="returned", part="fan"))
    assert lines(screen)["old:fan"].state == "returned"


def test_supplies_of_the_plan_are_lines(notebook: Device) -> None:
    found = lines(Screen.at(notebook, "fan"))
    assert found["supply:fan_tape"].count == 1
    assert found["supply:fan_tape"].names == {"supply": "fan_tape"}


def test_a_line_told_by_somebody_else_is_shown_too(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.happen(e.PartLine(line="x1", state="ordered", order_code="Q-7"))
    assert lines(screen)["x1"].what == "Q-7"


def test_worn_pieces_are_known_until_they_are_thrown_away_and_the_books_balance(
    notebook: Device,
) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("out:cover_screws")
    say(screen, "cover_screws", "stripped")
    assert worn_pieces(screen.state) == {"cover_screws": 1}
    screen.happen({"event": "closed", "joint": "cover_screws", "new": 1})
    screen.happen({"event": "scrapped", "joint": "cover_screws", "count": 1, "reason": "worn"})
    assert worn_pieces(screen.state) == {}
    screen.tap_until()
    assert hindrances(notebook, screen.state, ledger_of(notebook, screen.events)) == ()


def test_missing_pieces_are_known_until_the_joint_is_opened_and_the_ledger_says_it(
    notebook: Device,
) -> None:
    screen = Screen.at(notebook, "fan")
    assert missing_pieces(screen.state) == {}
    screen.happen({"event": "missing", "joint": "cover_screws", "count": 1})
    screen.happen({"event": "missing", "joint": "cover_screws", "count": 1})
    assert missing_pieces(screen.state) == {"cover_screws": 2}
    screen.happen({"event": "opened", "joint": "cover_screws"})
    assert missing_pieces(screen.state) == {}
    full = notebook.joints["cover_screws"].count
    [lot] = ledger_of(notebook, screen.events).out
    assert lot.count == full - 2
