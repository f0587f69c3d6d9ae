"""Unlocked connectors let their cables go, and a cable has two ends; our own texts, no source."""

from __future__ import annotations

from lastscrew.reading import read
from lastscrew.reading.model import Action
from lastscrew.reading.sources import open_source


def disconnected(text: str) -> list[Action]:
    """What the first procedure of a text disconnects."""
    reading = read(open_source(text.encode(), "a.txt"))
    return [a for a in reading.procedures[0].actions() if a.klass == "disconnect"]


FACE = (
    "The display and the keyboard are connected to the main board by a 10 pin flat cable and a 6 pin flat cable"
    " respectively."
)


def test_unlocked_connectors_let_the_cables_go_where_the_parts_come_apart() -> None:
    text = f"Removing the face\n\n1. {FACE} Unlock the two connectors to separate the face and the base.\n"
    [found] = disconnected(text)
    assert found.count == 2
    assert found.joins == ("display", "keyboard", "main board")
    assert "10 pin" in found.object
    assert found.inferred[0][0] == "class"


def test_nothing_is_added_where_nothing_comes_apart_or_the_numbers_differ() -> None:
    for work in (
        "Unlock the two connectors.",
        "Unlock the three connectors to separate the face and the base.",
        "Unlock the connectors to separate the face and the base.",
    ):
        assert disconnected(f"Removing the face\n\n1. {FACE} {work}\n") == []


def test_what_is_disconnected_in_words_is_not_added_again() -> None:
    work = (
        "Unlock the two connectors, unplug the 10 pin flat cable to separate the face and the base."
    )
    found = disconnected(f"Removing the face\n\n1. {FACE} {work}\n")
    assert [a.object for a in found] == ["10 pin flat cable"]


SECOND = """Removing the boards

1. The sensor board is connected to the main board through a flat cable. Unplug the flat cable.

2. Remove the two screws of the sensor board and take it out.

3. Turn the main board over and unplug the flat cable from the main board.
"""


def test_the_second_end_of_a_cable_joins_the_cable_to_what_is_left() -> None:
    first, second = disconnected(SECOND)
    assert set(first.joins) == {"sensor board", "main board"}
    assert second.joins == ("flat cable", "main board")
