"""Work on what only some machines have: the actions say so."""

from __future__ import annotations

import pytest

from lastscrew.reading import read
from lastscrew.reading.sources import open_source


@pytest.mark.parametrize(
    "sentence",
    [
        "If installed, remove the sensor bracket.",
        "If there is a shield, take it off.",
        "Where fitted, unplug the second lamp.",
        "Remove the dust filter, if present.",
        "If your unit has a modem, unplug the modem cable.",
        "On models with a camera, unplug the camera cable.",
    ],
)
def test_a_condition_on_what_is_there_makes_the_work_optional(sentence: str) -> None:
    """Before the work or behind it, the condition is told with the action."""
    assert [a.get("optional") for a in _actions(sentence)] == [True]


@pytest.mark.parametrize(
    "sentence",
    ["If the lid sticks, lift it with a card.", "On the left side, unplug the lamp cable."],
)
def test_other_conditions_and_places_leave_the_work_as_it_is(sentence: str) -> None:
    """A thing that sticks, or a side, is there in every machine."""
    assert [a.get("optional") for a in _actions(sentence)] == [None]


def test_how_and_with_what_may_stand_between_a_verb_and_its_object() -> None:
    """An order in numbers and what comes along are no objects."""
    first, second = _actions(
        "Unscrew, in the order 1-2-3-4, the four T10 screws that hold the lid to the base."
    ) + _actions("Lift the head, together with its cap, off the rail.")
    assert (first["object"], first["count"], first["order"]) == ("lid screws", 4, "numbered")
    assert (second["class"], second["object"], second["from"]) == ("lift", "head", "rail")


def _actions(sentence: str) -> list[dict[str, object]]:
    text = f"## Removing the fan\n\n1. {sentence}\n"
    rows = read(open_source(text.encode(), "fan.md")).as_json()["procedures"]
    assert isinstance(rows, list)
    return [
        a for row in rows for step in row["steps"] for a in step["actions"] if a["class"] != "other"
    ]
