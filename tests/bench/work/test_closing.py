"""A job can't be closed with an open joint, unbalanced books, an open check or without a second look where due."""

from __future__ import annotations

import dataclasses

from lastscrew.bench.work.clock import LONGEST_GAP_MS, worked
from lastscrew.bench.work.closing import in_the_way, last_touch_ms, needs_second_person, workers
from lastscrew.bench.work.words import event_words
from lastscrew.device.model import Device
from lastscrew.run import events as e
from lastscrew.run.lines import event_from_json
from tests.bench.work.conftest import Screen


def done(device: Device, part: str = "fan") -> Screen:
    screen = Screen.at(device, part)
    screen.tap_until()
    return screen


def prove(screen: Screen) -> None:
    for each in in_the_way(screen.device, screen.state):
        if each.function is not None:
            screen.happen(e.Checked(function=each.function, outcome="works"))


def codes(screen: Screen, **rules: object) -> set[str]:
    return {each.code for each in in_the_way(screen.device, screen.state, share=0, **rules)}  # type: ignore[arg-type]


def test_an_open_joint_and_what_lies_out_are_in_the_way(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("in:cover_clips")
    assert {"open_joint", "still_out"} <= codes(screen)


def test_open_checks_are_in_the_way_until_they_are_tried(notebook: Device) -> None:
    screen = done(notebook)
    assert codes(screen) == {"check_open"}
    prove(screen)
    assert codes(screen) == set()


def test_a_value_outside_its_limits_fails(notebook: Device) -> None:
    screen = done(notebook)
    prove(screen)
    screen.happen(e.Checked(function="cooling", outcome="works", value=95, unit="°C"))
    assert codes(screen) == {"check_fails"}


def test_the_identity_of_a_new_board_is_in_the_way_and_cannot_be_waived(notebook: Device) -> None:
    screen = done(notebook, "board")
    prove(screen)
    found = in_the_way(notebook, screen.state, share=0)
    assert [(each.code, each.part, each.can_be_waived) for each in found] == [
        ("identity", "board", False)
    ]
    screen.happen(e.CarriedOver(part="board", what="serial number"))
    assert codes(screen) == set()


def test_a_waiver_with_name_and_reason_lets_a_loss_stand(notebook: Device) -> None:
    screen = Screen.at(notebook, "fan")
    screen.tap_until("out:cover_screws")
    screen.happen(e.Lost(joint="cover_screws", count=1))
    for event in screen.item("out:cover_screws").taps[0].events:
        screen.happen({**event, "new": 1})
    screen.tap_until()
    prove(screen)
    found = in_the_way(notebook, screen.state, share=0)
    assert [each.code for each in found] == ["lost_unsearched"]
    assert found[0].about is not None
    screen.happen(e.Waived(person="Bo", reason="heard it fall", about=found[0].about))
    assert codes(screen) == set()


def test_a_beginners_work_is_always_looked_over_by_somebody_else(notebook: Device) -> None:
    screen = done(notebook)
    prove(screen)
    assert codes(screen, beginners=["Ada"]) == {"second_person"}
    assert codes(screen, beginners=["Ada"], looked_over=["Ada"]) == {"second_person"}
    assert codes(screen, beginners=["Ada"], looked_over=["Bo"]) == set()


def test_the_share_of_the_others_is_about_as_large_as_asked_and_always_the_same(
    notebook: Device,
) -> None:
    screen = done(notebook)
    drawn = [needs_second_person(screen.state, (), 20, f"run{n}") for n in range(2_000)]
    assert 320 < sum(drawn) < 480
    assert drawn == [needs_second_person(screen.state, (), 20, f"run{n}") for n in range(2_000)]
    assert not any(needs_second_person(screen.state, (), 0, f"run{n}") for n in range(100))


def test_those_who_only_wrote_notes_did_no_work(notebook: Device) -> None:
    screen = done(notebook)
    screen.by = "Cy"
    screen.happen(e.Noted(text="looked in"))
    assert workers(screen.state) == ("Ada",)


def test_the_last_touch_is_that_of_the_work(notebook: Device) -> None:
    screen = Screen(notebook)
    opened = e.Event(id="a", what=e.Opened(joint="foot_bond"), at_ms=5, stored_ms=7)
    noted = e.Event(id="b", what=e.Noted(text="x"), at_ms=9, stored_ms=11)
    assert last_touch_ms([opened, noted]) == 7
    assert last_touch_ms(screen.events) is None


def event(number: int, at_s: float, what: e.Happening) -> e.Event:
    return e.Event(id=f"t{number}", what=what, at_ms=round(at_s * 1000))


def test_time_runs_between_events_and_stands_still_in_pauses() -> None:
    found = worked(
        [
            event(1, 0, e.Started(device="d", revision="r")),
            event(2, 60, e.Opened(joint="a")),
            event(3, 70, e.Paused()),
            event(4, 3_670, e.Resumed()),
            event(5, 3_700, e.Closed(joint="a")),
        ]
    )
    assert (found.hands_on_ms, found.set_apart_ms) == (100_000, 0)


def test_a_gap_longer_than_work_can_be_is_set_apart() -> None:
    longest = LONGEST_GAP_MS / 1000
    found = worked(
        [
            event(1, 0, e.Opened(joint="a")),
            event(2, longest, e.Opened(joint="b")),
            event(3, 3 * longest, e.Opened(joint="c")),
        ]
    )
    assert (found.hands_on_ms, found.set_apart_ms, found.gaps) == (
        LONGEST_GAP_MS,
        2 * LONGEST_GAP_MS,
        1,
    )


def test_a_clock_that_runs_backwards_takes_no_time_away() -> None:
    found = worked([event(1, 50, e.Opened(joint="a")), event(2, 10, e.Opened(joint="b"))])
    assert found.hands_on_ms == 0


def test_an_event_that_nobody_called_a_resume_ends_a_pause() -> None:
    found = worked(
        [
            event(1, 0, e.Paused()),
            event(2, 500, e.Opened(joint="a")),
            event(3, 510, e.Opened(joint="b")),
        ]
    )
    assert found.hands_on_ms == 10_000
    assert found.is_running


def smallest(kind: type[e.Happening]) -> dict[str, object]:
    """An event of that kind with nothing but what it needs."""
    values: dict[str, object] = {
        "device": "d", "revision": "r", "joint": "fan_plug", "count": 1, "compartment": "A1",
        "side": "top", "act": "strap", "person": "Bo", "reason": "in_the_way" if kind is e.Unreachable else "why",
        "supply": "compound", "amount": 0.3, "about": "e1", "counts": {"m2x4": 2}, "what": "drive",
        "part": "fan", "state": "bad" if kind is e.PartJudged else "ordered", "line": "l1", "function": "boots",
        "outcome": "repaired" if kind is e.Finished else "works", "quantity": "voltage", "value": 1.5,
        "unit": "V", "text": "words", "sha256": "0" * 64, "to": "Bo", "piece": "m2x4", "replace": "fan",
        "order_code": "LM-1",
    }  # fmt: skip
    needed = [
        spec.name
        for spec in dataclasses.fields(kind)
        if spec.default is dataclasses.MISSING and spec.default_factory is dataclasses.MISSING
    ]
    groups = [group[0] for group in (kind.one_of, kind.any_of) if group]
    return {"event": kind.name, **{name: values[name] for name in (*needed, *groups)}}


def test_every_event_can_be_said_in_a_sentence(notebook: Device) -> None:
    for kind in e.HAPPENINGS.values():
        made = event_from_json({"id": "x", **smallest(kind)})
        words = event_words(notebook, made)
        assert words[:1].isupper() or words[:1].isdigit(), (kind.name, words)
        assert "None" not in words
        assert "  " not in words
