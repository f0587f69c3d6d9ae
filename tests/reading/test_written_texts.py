"""Written texts that are no plain numbered manuals: cards, essays, tables and pages, translated steps.

The wordings are our own; what each orders is what a careful person reads in it.
"""

from __future__ import annotations

import pytest

from lastscrew.reading import Reading, read
from lastscrew.reading.card_before import before_line
from lastscrew.reading.card_lines import CardLine
from lastscrew.reading.document import numbered
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.model import Source
from lastscrew.reading.sources import open_source

WORDS = load_lexicon()


def said(*lines: str) -> Reading:
    return read(Source("text", "text", numbered(list(lines))))


def rows(reading: Reading) -> list[str]:
    return [
        f"{a.klass} {a.object}" + (f" x{a.count}" if a.count is not None else "")
        for p in reading.procedures
        for a in p.actions()
        if a.klass != "other"
    ]


def asked(reading: Reading) -> list[tuple[str, str]]:
    return [(q.kind, q.text.lower()) for p in reading.procedures for q in p.prerequisites]


@pytest.mark.parametrize(
    ("line", "orders"),
    [
        (
            "Ribbon to fader board: lock up, pull",
            "Release the lock. Disconnect the ribbon to the fader board.",
        ),
        ("PSU out, mind sheet", "Remove the PSU."),
        ("5 connectors, note position", "Disconnect the 5 connectors."),
        (
            "board held by 6 clips + 1 screw",
            "Release the 6 clips. Remove the screw that holds the board.",
        ),
        (
            "2 x M3 holding encoder to plate - out",
            "Remove the 2 M3 screws that hold the encoder to the plate.",
        ),
        ("Screws: 14 x M3x6 (4 top, 5 each side)", "Remove the 14 M3x6 screws."),
        ("screws: 6 top, 2 rear", "Remove the 8 screws."),
        ("Knobs pull off (16)", "Pull off the 16 knobs."),
        ("Signal cable: small white plug", "Disconnect the signal cable."),
        ("CN1 + CN2 off main board", "Disconnect the connectors CN1 and CN2 from the main board."),
    ],
)
def test_a_line_of_a_card_is_said_as_orders(line: str, orders: str) -> None:
    assert CardLine(WORDS).read(line) == orders


@pytest.mark.parametrize(
    ("line", "orders"),
    [
        (
            "top cover, 8x T15, 1 Nm",
            "Refit the top cover. Tighten the 8 T15 screws that hold the top cover.",
        ),
        ("ribbon in, latch down", "Connect the ribbon. Close the latch."),
        (
            "PSU in, 4 bolts, P1",
            "Insert the PSU. Tighten the 4 bolts that hold the PSU. Connect the connector P1.",
        ),
    ],
)
def test_on_the_way_back_a_card_names_what_goes_in(line: str, orders: str) -> None:
    assert CardLine(WORDS, refit=True).read(line) == orders


@pytest.mark.parametrize(
    ("line", "before"),
    [
        (
            "PRE: isolator locked, door blocked open",
            "Remove first: the isolator is locked, the door is blocked open.",
        ),
        ("After A-C.", "Remove first: plate, supply, board."),
        ("Prereq: A, B", "Remove first: plate, supply."),
        ("Access: none", "Note: nothing comes first."),
        ("Needs encoder + belt out.", "Remove first: encoder, belt."),
        ("U V W off, mark first", ""),
        ("Channel out, fins first", ""),
    ],
)
def test_a_card_says_what_must_be_off(line: str, before: str) -> None:
    names = {"A": "plate", "B": "supply", "C": "board"}
    assert before_line(line, WORDS, names) == before


@pytest.mark.parametrize(
    ("sentences", "order"),
    [
        (
            "The cover is held by screws, one at each corner and one more in front, making five in all. They are undone.",  # noqa: E501
            "remove cover screws x5",
        ),
        (
            "The cover is retained by screws. Four such screws are used, and all of them must be undone.",
            "remove cover screws x4",
        ),
        (
            "The cover is fastened with screws, their number being six. They are taken out.",
            "remove cover screws x6",
        ),
        ("The screws of the cover, three on either side, are undone.", "remove cover screws x6"),
        (
            "The cover is fixed by nuts. The nuts number four and are unscrewed.",
            "remove cover nuts x4",
        ),
        (
            "Beneath it will be found three screws, by which the cover is attached to the base. These are withdrawn.",
            "remove cover screws x3",
        ),
        (
            "The cover is bolted down. When its bolts, of which there are four, have been removed, it is free.",
            "remove cover bolts x4",
        ),
    ],
)
def test_a_count_told_in_a_later_sentence_is_the_count(sentences: str, order: str) -> None:
    assert order in rows(said("Removing the cover", "", sentences))


def test_a_long_paragraph_on_one_line_keeps_its_screws_apart() -> None:
    """Distances count sentences there: the screws of the board are not those of the lid said again."""
    reading = said(
        "Taking the tuner apart",
        "",
        "The lid is held by four screws, which are removed. The lid is lifted off. The board is fixed to the frame"
        " by two screws. They are taken out. The board is drawn out of the frame.",
    )
    assert rows(reading) == [
        "remove lid screws x4",
        "lift lid",
        "remove board screws x2",
        "remove board",
    ]


def test_an_essay_turns_to_putting_together_by_what_it_says() -> None:
    """What is pushed home under "when it is put back" is connected, not taken off."""
    reading = said(
        "Care of the drive",
        "",
        "The plugs are pulled and the motor is lifted out.",
        "",
        "When the motor is put back, both plugs are pushed home and the four nuts are tightened.",
    )
    assert rows(reading)[-2:] == ["connect plugs x2", "tighten nuts x4"]


def test_a_bare_step_that_has_a_procedure_of_its_own_is_a_prerequisite() -> None:
    """The step "Remove the dust cover." above the work on the panel asks for the other procedure."""
    reading = said(
        "4-2. REMOVAL OF DUST COVER.",
        "",
        "  a. Remove the eight screws from the sides.",
        "  b. Slide the dust cover to the rear.",
        "",
        "4-3. REMOVAL OF FRONT PANEL.",
        "",
        "  a. Remove the dust cover.",
        "  b. Remove the ten screws around the edge.",
        "  c. Pull the front panel forward.",
    )
    assert asked(reading) == [("part", "dust cover")]
    assert rows(reading)[2] == "remove front panel screws x10"


PAGE = """<html><body><h1>Small projector</h1>
<h2>Screws</h2>
<table><tr><th>Mark</th><th>Screw</th><th>Number</th><th>Holds</th></tr>
<tr><td>A</td><td>M4 x 12</td><td>2</td><td>front panel to the frame</td></tr></table>
<h2>1. Front panel</h2>
<table><tr><th>Step</th><th>What to do</th><th>Screws</th></tr>
<tr><td>1</td><td>Loosen the screws at the bottom edge.</td><td>A</td></tr>
<tr><td>2</td><td>Swing the panel towards you and unhook it.</td><td>-</td></tr></table>
<h2>2. Board</h2>
<p>Do <a href="#p">1</a> first.</p>
<table><tr><th>&nbsp;</th><th>Out</th><th>In</th></tr>
<tr><td>Plugs</td><td>Disconnect the fan plug.</td><td>Connect it again.</td></tr>
<tr><td>Board</td><td>Lift the board off the tray.</td><td>Set the board on the tray.</td></tr></table>
</body></html>
"""


def test_tables_of_a_page_say_how_many_screws_hold_what_and_both_halves() -> None:
    """A mark leads to its row of screws; "Out" and "In" are two procedures; 1 is the first heading."""
    reading = read(open_source(PAGE.encode(), "page.html"))
    first = reading.procedures[0].steps[0].actions[0]
    assert (first.klass, first.count, first.joins) == ("loosen", 2, ("front panel", "frame"))
    assert [p.kind for p in reading.procedures if p.part == "Board"] == ["removal", "refit"]
    assert ("part", "front panel") in asked(reading)


@pytest.mark.parametrize(
    ("sentence", "orders"),
    [
        ("Wind wheel pull out along the axis.", ["remove wind wheel"]),
        (
            "Battery door close, lock 2 screws.",
            ["close battery door", "tighten battery door screws x2"],
        ),
        ("1 pcs screw lock tightly.", ["tighten screw x1"]),
    ],
)
def test_a_translated_step_names_the_thing_before_the_verb(
    sentence: str, orders: list[str]
) -> None:
    found = rows(said("Removing the motor", "", f"1. {sentence}"))
    assert [row.lower() for row in found] == orders
