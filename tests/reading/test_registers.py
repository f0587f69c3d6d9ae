"""Registers that say work otherwise than as an order: speech, cards, essays, first person, translated text."""

from __future__ import annotations

import pytest

from lastscrew.reading import Reading, read
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.sources import open_source
from lastscrew.reading.thoughts import thoughts


def said(name: str, *lines: str) -> Reading:
    """A reading of a short text."""
    return read(open_source(("\n".join(lines) + "\n").encode(), name))


def rows(reading: Reading) -> list[str]:
    """Class and object of each action."""
    return [
        f"{action.klass} {action.object}"
        for procedure in reading.procedures
        for action in procedure.actions()
        if action.klass != "other"
    ]


def before(reading: Reading) -> list[str]:
    """What the procedures ask for."""
    return [f"{item.kind} {item.text}" for p in reading.procedures for item in p.prerequisites]


@pytest.mark.parametrize(
    ("speech", "parted"),
    [
        (
            "pull on that tab and the connector comes straight out the battery is held in by five screws",
            [
                "pull on that tab",
                "and the connector comes straight out",
                "the battery is held in by five screws",
            ],
        ),
        (
            "the fan goes back in two screws plug it back in",
            ["the fan goes back in", "two screws", "plug it back in"],
        ),
        (
            "make sure it is shut down and the charger is not plugged in flip it over on its lid",
            [
                "make sure it is shut down and the charger is not plugged in",
                "flip it over on its lid",
            ],
        ),
        ("don't pull it all the way out yet", ["don't pull it all the way out yet"]),
    ],
)
def test_speech_without_stops_is_parted_into_thoughts(speech: str, parted: list[str]) -> None:
    """Each order or statement stands alone, a reminder and a prohibition stay whole."""
    spans = thoughts(speech, 0, len(speech), load_lexicon())
    assert [speech[low:high].strip() for low, high in spans] == parted


def test_a_result_counts_as_the_order_that_brings_it_about() -> None:
    """What comes off, goes back on or comes out was taken off, put back, taken out."""
    reading = said(
        "clip.txt",
        "[0:01] okay the fan there's two screws here and these two come out",
        "[0:05] and the fan lifts right up",
        "[0:09] now let's put it back together",
        "[0:12] the fan goes back in with the two screws",
    )
    assert rows(reading) == ["remove fan screws", "lift fan", "replace fan", "tighten fan screws"]


def test_the_same_thing_again_is_the_last_work_on_another_thing() -> None:
    """What is done again with the fan cable is what was done with the cable before."""
    reading = said(
        "clip.txt",
        "[0:01] first unplug the speaker cable",
        "[0:04] and then same thing with the fan cable",
    )
    assert rows(reading) == ["disconnect speaker cable", "disconnect fan cable"]


def test_a_card_says_its_halves_and_what_must_be_off() -> None:
    """What a card calls access, out and in are a prerequisite and two halves, not steps."""
    reading = said(
        "card.txt",
        "CARD 3  FAN UNIT",
        "",
        "Access: cover off",
        "OUT",
        "- fan conn. P7, unplug",
        "- 4 scr M4x35",
        "- fan out",
        "IN",
        "- fan in",
        "- 4 scr M4x35, crosswise",
        "- fan conn. P7, plug in",
    )
    assert before(reading)[0] == "part cover"
    assert rows(reading) == [
        "disconnect fan connector P7",
        "remove fan unit screws",
        "remove fan",
        "insert fan",
        "tighten fan unit screws",
        "connect fan connector P7",
    ]
    assert [p.kind for p in reading.procedures if p.steps] == ["removal", "refit"]


@pytest.mark.parametrize(
    ("sentence", "asked"),
    [
        ("The fan has to come out before you can get at this.", "part fan"),
        ("Before you can remove the display, the hinge cap must come off.", "part hinge cap"),
        ("The board can only be removed once the fan is out.", "part fan"),
        ("You can't get to it unless the fan is off.", "part fan"),
        ("Assuming the cover is already off, start here.", "part cover"),
        ("You'll want the bottom cover off for this.", "part bottom cover"),
        ("If the rear cover is still on, take it off first.", "part rear cover"),
        ("It is assumed that the tank has been drained.", "state the tank is drained"),
    ],
)
def test_prerequisites_of_a_running_text(sentence: str, asked: str) -> None:
    """Each way of asking for a part that is off, or for a state, gives one prerequisite and no step."""
    reading = said("text.md", "## Removing the board", "", sentence, "", "1. Lift the board out.")
    assert before(reading) == [asked]
    assert rows(reading) == ["lift board"]


@pytest.mark.parametrize(
    ("sentence", "told"),
    [
        (
            "One undoes the strap, unplugs the lead and withdraws the motor.",
            "release strap|disconnect lead|remove motor",
        ),
        (
            "The old gasket is scraped away and the motor put back.",
            "remove old gasket|replace motor",
        ),
        (
            "Once the four nuts are out, the cover may be lifted off.",
            "remove cover nuts|lift cover",
        ),
        (
            "The drive is held by one screw; undo it and slide it out.",
            "remove drive screw|slide drive",
        ),
        ("Mainboard fixing 5 screws screw out.", "remove Mainboard screws"),
        ("Then can take up the bottom shell.", "remove bottom shell"),
    ],
)
def test_work_that_is_told_and_not_ordered(sentence: str, told: str) -> None:
    """Passive, general and translated sentences give the work in its order."""
    reading = said("text.md", "## Removal", "", f"1. {sentence}")
    assert "|".join(rows(reading)) == told


def test_waiting_is_understood_and_moves_nothing() -> None:
    """A line that only says to wait is used, and no step of the device file."""
    reading = said(
        "text.md",
        "## Removal of the fan",
        "",
        "1. Wait until the blower stands still.",
        "2. Remove the fan.",
    )
    assert rows(reading) == ["remove fan"]
    assert reading.lines[2].state == "used"


@pytest.mark.parametrize(
    ("heading", "part", "kind"),
    [
        ("4.2 R/R: Hinge", "Hinge", "both"),
        ("Hinge – remove and refit", "Hinge", "both"),
        ("FRU 1050 - Fan removal", "Fan", "removal"),
        ("Hinge - Removal", "Hinge", "removal"),
        ("Removal/Installation: Hinge", "Hinge", "both"),
    ],
)
def test_headings_of_workshops(heading: str, part: str, kind: str) -> None:
    """Numbers of units are no names, and R/R is both halves."""
    reading = said(
        "manual.txt",
        "Alder 13: service manual",
        "",
        heading,
        "",
        "1. Remove the two screws.",
        "2. Lift it off.",
    )
    assert [(p.part, p.kind) for p in reading.procedures] == [(part, kind)]
    assert reading.title == "Alder 13: service manual"


@pytest.mark.parametrize(
    "told",
    [
        "four M4x10 screws (two on each side)",
        "four screws, two on each side",
        "screws, two on each side",
    ],
)
def test_screws_on_each_side_are_counted_without_an_article(told: str) -> None:
    """As in "Remove four screws, two on each side": the sum, and the order is kept."""
    reading = said("text.md", "## Removing the lid", "", f"1. Remove {told}.")
    assert [(a.klass, a.count) for a in reading.procedures[0].actions()] == [("remove", 4)]
