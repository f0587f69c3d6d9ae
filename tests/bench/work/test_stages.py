"""What stands at a step: what to do, where, with what, what can hurt, what is confirmed alone."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from lastscrew.bench.work.bundle import bundle_of
from lastscrew.bench.work.items import SINGLE, Stage
from lastscrew.device.model import Device
from lastscrew.plan.briefing import brief
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run import events as e
from tests.bench.work.conftest import Screen, demo


def stages(device: Device, *replace: str) -> tuple[Stage, ...]:
    return Screen.at(device, *replace).work().stages


def test_a_stage_has_one_side_and_one_tool(notebook: Device) -> None:
    for stage in stages(notebook, "board"):
        if stage.kind in ("in", "out"):
            assert {(i.side, i.tool) for i in stage.items} == {(stage.side, stage.tool)}
    kinds = [stage.kind for stage in stages(notebook, "board")]
    assert kinds == sorted(kinds, key=["before", "in", "turning", "out", "after"].index)


def test_every_hazard_stands_at_the_steps_where_it_bites(notebook: Device) -> None:
    made = brief(notebook, plan(notebook, Request(replace=("board",))))
    bites = {(f"{at.limb}:{at.joint}", made.device.hazards[at.hazard].text) for at in made.hazards}
    shown = {
        (item.id, caution.text)
        for stage in stages(notebook, "board")
        for item in stage.items
        for caution in item.cautions
    }
    assert bites
    assert bites <= shown


def test_isolation_is_confirmed_alone_and_right_after_the_plug(notebook: Device) -> None:
    item = Screen.at(notebook, "fan").item("in:pack_plug")
    kinds = [tap.kind for tap in item.taps]
    assert kinds[:2] == ["do", "hold"]
    assert "power is taken away" in item.taps[1].text
    said = dict(item.taps[1].events[0])
    assert (said["event"], said["joint"], said["limb"]) == ("confirmed", "pack_plug", "in")


@pytest.mark.parametrize("name", ["notebook", "slate", "extractor"])
def test_what_is_counted_or_guarded_is_confirmed_alone(name: str) -> None:
    device = demo(name)
    for part in list(device.parts.values())[1:6]:
        if part.fixed or part.if_fitted:
            continue
        for stage in stages(device, part.id):
            for item in stage.items:
                if item.pieces:
                    assert any(tap.kind == "count" for tap in item.taps)
                if item.joint and device.joints[item.joint].hold:
                    assert any(tap.kind == "hold" for tap in item.taps)
                if item.kind in ("exchange", "prove", "power_on", "power_off"):
                    assert all(tap.kind in SINGLE for tap in item.taps)


def test_steps_say_whether_power_is_on() -> None:
    seen = set()
    for name in ("notebook", "slate", "extractor"):
        device = demo(name)
        for part in [p for p in device.parts.values() if not p.fixed and not p.if_fitted][::4]:
            made = brief(device, plan(device, Request(replace=(part.id,))))
            for item in Screen.at(device, part.id).items():
                if item.joint is not None and item.kind in ("open", "close"):
                    joint = device.joints[item.joint]
                    # While the plug is pulled that takes the power away, inside, the power is on.
                    takes_it = joint.isolates and item.limb == "in" and joint.accesses[0].under
                    is_live = (item.limb, item.joint) in made.still_live or bool(takes_it)
                    assert (item.live == "live") == is_live
                    seen.add(item.live)
    assert seen == {"live", "isolated", ""}


def test_cable_ends_are_brought_out_before_the_part_that_would_trap_them(notebook: Device) -> None:
    lines = Screen.at(notebook, "board").item("out:board_seat").lines
    cables = [line.text for line in lines if line.kind == "cable"]
    assert len(cables) == 1
    assert "Keyboard ribbon" in cables[0]
    assert "Main board would trap them" in cables[0]


def test_a_part_is_drawn_where_it_goes_when_its_first_joint_is_closed(notebook: Device) -> None:
    screen = Screen.at(notebook, "board")
    assert "board" not in screen.item("out:board_seat").gone
    assert "board" in screen.item("out:board_seat").loose
    assert (
        "board" in screen.item("in:board_seat").loose
        or "board" not in screen.item("in:board_seat").gone
    )


def test_what_falls_or_hangs_is_said_where_the_machine_is_turned(notebook: Device) -> None:
    turned = [stage for stage in stages(notebook, "keyboard") if stage.turn_to]
    assert [stage.turn_to for stage in turned] == ["top", "bottom"]
    assert any(line.kind == "loose" for stage in turned for line in stage.lines)


def test_a_check_before_closing_stands_before_the_joint_that_waits_for_it(
    notebook: Device,
) -> None:
    keys = [item.id for item in Screen.at(notebook, "fan").items()]
    assert keys.index("prove:cover_clips:boots") == keys.index("out:cover_clips") - 1


def test_a_check_that_fails_stays_open(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("prove:cover_clips:boots")
    item = screen.item("prove:cover_clips:boots")
    assert item.taps[0].otherwise is not None
    screen.happen(item.taps[0].otherwise[1][0])
    assert not screen.item("prove:cover_clips:boots").is_done


def test_a_powered_check_names_what_stays_open_and_takes_the_power_away_again(
    notebook: Device,
) -> None:
    joints = dict(notebook.joints)
    joints["fan_screws"] = replace(joints["fan_screws"], prove_before_close=("boots",))
    screen = Screen.at(replace(notebook, joints=joints), "fan")
    screen.tap_until("power_on:fan_screws")
    hold = screen.item("power_on:fan_screws")
    assert "Cover clips" in hold.taps[0].text
    signals = {caution.signal for caution in hold.taps[0].cautions}
    assert signals == {"warning", "caution", "notice"}
    screen.tap(hold)
    assert screen.state.check_on
    left = [item.id for item in screen.items() if not item.is_done]
    assert left[:2] == ["prove:fan_screws:boots", "power_off:fan_screws"]
    screen.tap_until()
    assert not screen.state.check_on
    assert screen.state.open == ()
    assert screen.state.remarks == ()


def test_serials_are_asked_for_where_the_part_has_one(notebook: Device) -> None:
    tap = Screen.at(notebook, "board").item("exchange:board").taps[0]
    assert set(tap.fields) == {"old_serial", "new_serial"}
    assert not Screen.at(notebook, "fan").item("exchange:fan").taps[0].fields


def test_the_value_for_the_page_is_json_and_small_enough_to_keep(notebook: Device) -> None:
    screen = Screen.at(notebook, "board")
    text = json.dumps(bundle_of(notebook, screen.state, screen.work()))
    assert len(text) < 250_000
    value = json.loads(text)
    assert value["version"] == 1
    assert value["isolation"] == "live"
    assert not value["all_done"]


def test_the_ledger_of_the_page_says_what_is_out_and_where(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:cover_clips")
    value = bundle_of(notebook, screen.state, screen.work())
    ledger = value["ledger"]
    assert isinstance(ledger, dict)
    lots = {lot["joint"]: (lot["count"], lot["compartment"]) for lot in ledger["out"]}
    places = screen.work().places
    assert lots == {
        "cover_screws": (7, places["cover_screws"]),
        "cover_screws_rear": (2, places["cover_screws_rear"]),
    }


def test_the_drawing_has_every_place_of_the_device_file(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    value = bundle_of(notebook, screen.state, screen.work())
    drawing = value["drawing"]
    assert isinstance(drawing, dict)
    placed = {key for key, joint in drawing["joints"].items() if joint["places"]}
    expected = {
        key for key, joint in screen.work().course.device.joints.items() if joint.positions_mm
    }
    assert placed == expected
    seen = {joint for side in drawing["sides"] for joint in side["joints"]}
    assert seen == expected


def test_a_job_that_is_finished_shows_that_all_is_done(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until()
    screen.happen(e.Noted(text="well done"))
    assert bundle_of(notebook, screen.state, screen.work())["all_done"] is True


def test_a_hold_point_is_confirmed_by_its_words_with_or_without_stars_or_by_none(
    notebook: Device,
) -> None:
    for words in ("The power is taken away at *Pack plug*: …", None):
        screen = Screen.at(notebook, "fan")
        screen.tap_until("in:pack_plug")
        screen.happen(e.Opened(joint="pack_plug"))
        assert [tap.is_done for tap in screen.item("in:pack_plug").taps[:2]] == [True, False]
        screen.happen(e.Confirmed(joint="pack_plug", limb="in", text=words))
        assert [tap.is_done for tap in screen.item("in:pack_plug").taps[:2]] == [True, True]


def test_a_hold_point_is_asked_for_again_when_the_joint_is_opened_once_more(
    notebook: Device,
) -> None:
    screen = Screen.at(notebook, "pack")
    screen.tap_until("in:pack_seat")
    text = screen.item("in:pack_seat").taps[0].text
    screen.happen(e.Confirmed(joint="pack_seat", limb="in", text="something else"))
    assert not screen.item("in:pack_seat").taps[0].is_done
    screen.happen(e.Confirmed(joint="pack_seat", limb="in", text=text))
    assert screen.item("in:pack_seat").taps[0].is_done
    screen.happen(e.Opened(joint="pack_seat"))
    screen.happen(e.Closed(joint="pack_seat"))
    assert screen.item("in:pack_seat").taps[0].is_done is False
