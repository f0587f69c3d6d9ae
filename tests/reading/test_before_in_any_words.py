"""What must come before, in whatever words and wherever a text says it; machines and sentences are our own, no source."""  # noqa: E501

from __future__ import annotations

import time

import pytest

from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.reading import Reading, load_lexicon, read
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.sources import open_source

HEAD = "Removing the fan\n\n"
STEPS = "\n\n1. Undo the two screws.\n2. Lift the fan out.\n"
LEADS = (
    ("Do the hood, the filter (if fitted) and the duct first.", ["part hood", "part filter", "part duct"]),
    ("You need the side panels off, and the skirt too.", ["part side panels", "part skirt"]),
    ("No need to take the motor out, cover only.", ["part cover"]),
    ("To reach the fan, first remove the hood (section 4.1) and the duct (section 4.2).", ["part hood", "part duct"]),
    ("Access: hood and duct off (4.1, 4.2).", ["part hood", "part duct"]),
    ("The fan comes out only after the hood and the duct.", ["part hood", "part duct"]),
    ("Is the hood off? If not, see Removing the hood.", ["part hood"]),
    ("Machine off, plug out.", ["state machine off, plug out"]),
    ("Mains off and the plug out, the supply stays charged for a while.", ["state mains off", "state the plug out"]),
    ('Before this, complete "Removing the rear cover" and "Removing the bracket".', ["part rear cover", "part bracket"]),  # noqa: E501
    ("Starting point: hood removed, unit on the bench.", ["part hood", "state unit on the bench"]),
    (
        "The fan can be taken out while the unit is in the rack, provided that the supply is switched off.",
        ["state the supply is switched off"],
    ),
    (
        "We assume the robot is switched off and standing on the bench.",
        ["state the robot is switched off", "state the robot standing on the bench"],
    ),
    ("Migrate the jobs off the blade and shut it down.", ["state shut down the blade"]),
    (
        "Unplug the adapter and let the drum come to a standstill.",
        ["state unplug the adapter", "state let the drum come to a standstill"],
    ),
    (
        "Set the node to maintenance mode, shut it down and disconnect both power cords.",
        ["state set the node to maintenance mode", "state shut down the node", "state disconnect both power cords"],
    ),
    ("Rear panel (4.5) and filter (4.6) removed.", ["part rear panel", "part filter"]),
    ("The filter need not be removed, but the rear panel must.", ["part rear panel"]),
    ("Equipment condition: power switch OFF. Rear panel removed (WP 0012).", ["state power switch off", "part rear panel"]),  # noqa: E501
    (
        "Close the gas cock and wait until the burner is cold.",
        ["state close the gas cock", "state wait until the burner is cold"],
    ),
    ("Do not start before the pressure gauge reads zero.", ["state the pressure gauge reads zero"]),
    ("Rear door and tray must already be off.", ["part rear door", "part tray"]),
    ("It is only necessary to remove the rear door.", ["part rear door"]),
    ("The pump sits behind the tray, so take the tray out first (see above).", ["part tray"]),
    (
        "This procedure assumes that you have removed the rear door and emptied the tank.",
        ["part rear door", "state the tank is emptied"],
    ),
    (
        "With the rear door removed and the tank drained, proceed as follows:",
        ["part rear door", "state the tank is drained"],
    ),
    (
        "Power off, pull out the plug, and dismount the back cover according to 2.1.",
        ["state power off", "state pull out the plug", "part back cover"],
    ),
    (
        "Switch the machine off. Unplug it. Allow the heater to cool.",
        ["state switch the machine off", "state unplugged", "state allow the heater to cool"],
    ),
    ("If you haven't done so already, switch the unit off and remove the rear door.", ["state switch the unit off", "part rear door"]),  # noqa: E501
    ("Make sure the laminator is off.", ["state the laminator is off"]),
    ("Wait until the DC LINK lamp has gone out.", ["state the dc link lamp is out"]),
)  # fmt: skip
NOTHING = (
    "Read all the steps.",
    "Back up the settings.",
    "Get a new fan and a small box for the screws ready.",
    "The other fan keeps running, and the noise increases.",
    "The outlets stay live while you work.",
    "The swap must be done within two minutes.",
    "This is normal.",
)


def reading_of(text: str) -> Reading:
    return read(open_source(text.encode(), "text.txt"))


def asked(reading: Reading, index: int = 0) -> list[str]:
    return [f"{row.kind} {row.text.lower()}" for row in reading.procedures[index].prerequisites]


@pytest.mark.parametrize(("lead", "expected"), LEADS, ids=lambda v: str(v)[:40])
def test_a_sentence_ahead_of_the_steps_asks_and_is_no_step(lead: str, expected: list[str]) -> None:
    """Each sentence gives its prerequisites; the steps are those that are numbered."""
    reading = reading_of(f"{HEAD}{lead}{STEPS}")
    assert asked(reading) == expected
    assert [action.klass for action in reading.procedures[0].actions()] == ["remove", "lift"]


@pytest.mark.parametrize("line", NOTHING)
def test_a_line_of_preparation_may_ask_for_nothing(line: str) -> None:
    """Reading, keeping a copy, limits of time and what goes on by itself stand beside what is asked for."""
    lines = f"Before you begin\n\n* {line}\n* Drain the vessel.\n\nRemove the fan"
    assert asked(reading_of(f"{HEAD}{lines}{STEPS}")) == ["state drain the vessel"]


@pytest.mark.parametrize(
    "line",
    [
        "Remove the side panel (para 3-7).",
        "Remove the inverter from the rack (6.2).",
        "Follow the steps above to remove the shroud.",
        "Gain access to the lamp by removing the rear panel (4.5).",
        "Refer to section 4.5 and remove the rear panel.",
        "Take off the drip tray. See ‘Removing the drip tray’ on page 12.",
    ],
)
def test_a_first_step_that_refers_elsewhere_is_a_prerequisite(line: str) -> None:
    """As the first numbered step: no action of this procedure."""
    reading = reading_of(f"{HEAD}1. {line}\n2. Undo the two screws.\n3. Lift the fan out.\n")
    assert len(asked(reading)) == 1
    assert asked(reading)[0].startswith("part ")
    assert [action.klass for action in reading.procedures[0].actions()] == ["remove", "lift"]


def test_what_another_procedure_asks_for_is_asked_again() -> None:
    """As 4.2 a), and one part more: each with its name, in order."""
    reading = reading_of(
        "4.1 Hood\n\n1. Remove four screws.\n2. Lift the hood off.\n\n"
        "4.2 Lamp housing\n\nPreliminary steps\n\nRemove the following:\n  a)  the hood from the frame (see 4.1),\n"
        "  b)  the grille (see 4.4).\n\nRemoval\n\n1. Undo the clamp.\n2. Pull the lamp housing out.\n\n"
        "4.3 Ballast\n\nPreliminary steps: as 4.2 a). In addition remove the lamp housing (see 4.2).\n\n"
        "1. Remove two nuts.\n2. Lift the ballast out.\n"
    )
    assert [asked(reading, k) for k in range(3)] == [
        [],
        ["part hood", "part grille"],
        ["part hood", "part lamp housing"],
    ]


def test_all_previous_steps_are_the_parts_of_the_earlier_procedures() -> None:
    """A sentence that names no part asks for all that came before."""
    first = "Removing the lid\n\n1. Undo two screws.\n2. Lift the lid off.\n\n"
    second = "Removing the tray\n\n1. Undo the clip.\n2. Pull the tray out.\n\n"
    reading = reading_of(
        f"{first}{second}{HEAD}All previous steps must have been carried out.{STEPS}"
    )
    assert asked(reading, 2) == ["part lid", "part tray"]


def test_what_is_said_once_holds_for_every_procedure_that_follows() -> None:
    """A state is asked for where the work begins, a part before each procedure but its own."""
    reading = reading_of(
        "Operator's work\n\nUnless stated otherwise, the following holds for each section: isolator locked, "
        "air line vented, guard removed.\n\n"
        "Removing the guard\n\n1. Undo the two bolts.\n2. Take the guard off.\n\n"
        "Removing the knife\n\n1. Undo the nut.\n2. Take the knife out.\n"
    )
    assert asked(reading, 0) == ["state isolator locked", "state air line vented"]
    assert asked(reading, 1) == ["part guard"]


def test_work_that_the_sentence_itself_tells_is_no_prerequisite() -> None:
    """A colon and an order: the hose comes off here."""
    reading = reading_of(
        f"{HEAD}The hose must come off first: undo its clip and pull the hose off the spigot.{STEPS}"
    )
    assert asked(reading) == []


def test_another_way_asks_for_nothing() -> None:
    """What would have to be done if something were left in is no prerequisite."""
    reading = reading_of(
        f"{HEAD}You can leave the board in if you are careful, but then the leads have to come off anyway.{STEPS}"
    )
    assert asked(reading) == []


def test_a_check_amid_the_way_back_is_no_prerequisite() -> None:
    """As a numbered step of fitting, "make sure" is a check; power is asked for all the same."""
    steps = "2. Put the pump in.\n3. Tighten the two screws.\n"
    closed = reading_of(f"Installing the pump\n\n1. Make sure the valve is closed.\n{steps}")
    assert asked(closed) == []
    dead = reading_of(f"Installing the pump\n\n1. Make sure the power is off.\n{steps}")
    assert len(asked(dead)) == 1


def test_what_is_asked_for_by_reference_is_planned() -> None:
    """The way to the pump goes through all that its procedure asks for, and what that asks for in turn."""
    lexicon = load_lexicon()
    reading = reading_of(
        "5 Work on the cabinet\n\n"
        "Unless stated otherwise, the following holds for each section: main switch off, guard removed (5.1).\n\n"
        "5.1 Guard\n\n1. Remove four M5 screws that hold the guard to the frame.\n2. Lift the guard off.\n\n"
        "5.2 Drip tray\n\n1. Remove the two M4 screws that hold the drip tray to the frame.\n"
        "2. Pull the drip tray out.\n\n"
        "5.3 Front panel\n\nPreliminary steps: a) the drip tray from the frame (see 5.2)\n\n"
        "1. Remove six M3 screws that hold the front panel to the frame.\n2. Take the front panel off.\n\n"
        "5.4 Pump\n\nPreliminary steps: as 5.3 a). In addition remove the front panel (see 5.3).\n\n"
        "1. Undo the three M4 screws that hold the pump to the frame.\n2. Lift the pump out.\n"
    )
    way = plan(draft_device(reading, lexicon).device, Request(replace=("pump",)))
    taken = [
        joint.split("_seat")[0] for joint in (step.joint for step in way.way_in) if "_seat" in joint
    ]
    assert taken == ["guard", "drip_tray", "front_panel", "pump"]


@pytest.mark.parametrize("indent", ["", "  ", "    "])
def test_steps_below_a_list_of_preparation_stay_steps_however_they_are_indented(
    indent: str,
) -> None:
    """Numbers that begin at 1 behind a gap open the work, also where they stand further in than the bullets."""
    reading = reading_of(
        "1 Removing the fan\n\nBefore you begin:\n- Switch the unit off.\n- Remove the hood.\n\n"
        f"{indent}1. Undo the two screws.\n{indent}2. Lift the fan out.\n"
    )
    (fan,) = [procedure for procedure in reading.procedures if procedure.part == "fan"]
    assert [item.kind for item in fan.prerequisites] == ["state", "part"]
    assert [action.klass for action in fan.actions()] == ["remove", "lift"]


def test_a_long_list_before_a_cover_takes_no_time() -> None:
    """The time that a thought takes does not double with every comma in it."""
    text = (
        "WEBVTT\n\n00:00.000 --> 00:02.000\n" + "two on each side, four M3x8 at each corner, " * 40
    )
    started = time.monotonic()
    read(open_source(text.encode(), "a.vtt"))
    assert time.monotonic() - started < 10
