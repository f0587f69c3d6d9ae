"""What the form for one unit says: the event, the owner's data apart from it, and what stops the way."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from lastscrew.bench.depot.taking_in import Known, read_intake

KNOWN = Known(
    devices={"larkmoor_13": ("boots", "typing")},
    names={"larkmoor 13": "larkmoor_13"},
    here={("larkmoor_13", "sn 77"): 12},
)
FORM = {
    "device": "larkmoor_13",
    "serial": "  SN   4711 ",
    "complaint": "Does not start.\r\nSmells warm.",
    "owner_name": "Ada Quill",
    "owner_contact": "ada@example.org",
    "accessories": "charger; sleeve\nstick",
    "condition": "scratched lid",
    "pack": "sound",
    "way_to_test": "guest_account",
    "due": "2026-12-01",
    "check_boots": "fails",
    "check_typing": "",
    "place": "shelf 3",
}


def codes(form: dict[str, str]) -> set[str]:
    return {problem.code for problem in read_intake(form, KNOWN).problems}


def test_a_whole_form_is_read_and_the_owner_is_kept_apart() -> None:
    intake = read_intake(FORM, KNOWN)
    assert intake.problems == ()
    assert intake.taken is not None
    assert intake.taken.serial == "SN 4711"
    assert intake.taken.accessories == ("charger", "sleeve", "stick")
    assert intake.taken.checks == {"boots": "fails"}
    assert intake.taken.due_ms == 1796169599000  # 2026-12-01T23:59:59Z
    assert intake.owner.complaint == "Does not start.\nSmells warm."
    assert intake.place == "shelf 3"
    kept = str(asdict(intake.taken))
    assert all(word not in kept for word in ("Ada", "Quill", "example.org", "Smells"))


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"device": "", "device_words": ""}, "no_device"),
        ({"device": "alder_99"}, "unknown_device"),
        ({"serial": "", "asset_tag": ""}, "no_serial"),
        ({"due": "2026-02-30"}, "no_date"),
        ({"due": "soon"}, "no_date"),
        ({"pack": "fat"}, "unfit"),
        ({"serial": "x" * 201}, "unfit"),
        ({"condition": "password: hunter2"}, "pass_code"),
        ({"may_be_lost": "all files"}, "nobody_agreed"),
        ({"serial": "sn 77"}, "already_here"),
        ({"complaint": "x" * 4001}, "too_long"),
        ({"owner_name": "Ada\x1b"}, "unfit"),
        ({"check_boots": "perhaps"}, "unfit"),
    ],
)
def test_each_mistake_is_told(change: dict[str, str], code: str) -> None:
    assert codes({**FORM, **change}) == {code}


def test_all_mistakes_are_told_at_once() -> None:
    assert codes({"due": "soon", "device": "what"}) == {"no_date", "unknown_device", "no_serial"}


def test_a_device_may_be_called_by_its_name() -> None:
    intake = read_intake({**FORM, "device": "Larkmoor 13"}, KNOWN)
    assert intake.taken is not None
    assert intake.taken.device == "larkmoor_13"


def test_a_person_may_say_that_it_is_no_pass_code() -> None:
    assert codes({**FORM, "condition": "password: hunter2", "no_pass_code": "1"}) == set()


def test_where_the_plate_cannot_be_read_two_may_be_here() -> None:
    known = Known(KNOWN.devices, KNOWN.names, {("larkmoor_13", "not readable"): 3})
    assert read_intake({**FORM, "serial": "not readable"}, known).problems == ()


HAZARD = {
    "check_boots": "",
    "told": "Mr Moss",
    "hazard_place": "metal box outside",
    "power_off": "1",
}


@pytest.mark.parametrize(
    ("found", "kinds"),
    [
        ({"pack": "swollen"}, ["swollen_pack"]),
        ({"pack": "damaged"}, ["damaged_pack"]),
        ({"liquid": "1"}, ["liquid"]),
        ({"pack": "swollen", "liquid": "1"}, ["swollen_pack", "liquid"]),
    ],
)
def test_a_bad_pack_or_liquid_stops_the_normal_way(found: dict[str, str], kinds: list[str]) -> None:
    intake = read_intake({**FORM, **HAZARD, **found}, KNOWN)
    assert intake.problems == ()
    assert [hazard.what for hazard in intake.hazards] == kinds
    assert {hazard.told for hazard in intake.hazards} == {"Mr Moss"}


def test_a_hazard_asks_who_was_told_where_it_lies_and_that_it_is_off() -> None:
    asked = codes({**FORM, "check_boots": "", "pack": "swollen", "liquid": "1"})
    assert asked == {"nobody_told", "no_place", "power"}


def test_what_must_not_be_switched_on_was_not_tried() -> None:
    assert codes({**FORM, **HAZARD, "pack": "swollen", "check_boots": "works"}) == {"no_power"}
    assert codes({**FORM, **HAZARD, "pack": "swollen", "check_boots": "not_tried"}) == set()
