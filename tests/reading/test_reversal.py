"""The way in done backwards: which sentences order it, and which only speak of something turned round."""

from __future__ import annotations

import pytest

from lastscrew.reading import read
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.reversal import is_reversal
from lastscrew.reading.sources import open_source

TEXT = "# Fan\n\n## Removal\n\n1. Remove the two screws.\n2. Lift off the fan.\n\n## Refitting\n\n"


@pytest.mark.parametrize(
    "sentence",
    [
        "Same thing backwards.",
        "Reassembly is the same in reverse.",
        "To reassemble, work backwards through the steps.",
        "Put everything back the same way it came out.",
        "Going back together is the opposite of the above.",
        "Everything goes back the other way round.",
        "Now do it all again in reverse.",
        "Reassemble following the steps from bottom to top.",
        "To put it back, just reverse what you did.",
        "Refitting is the exact opposite.",
    ],
)
def test_a_way_back_told_in_any_words_is_the_way_in_backwards(sentence: str) -> None:
    """A short sentence under the title of the way back that says no more than "backwards" orders all of it."""
    rows = read(open_source(f"{TEXT}{sentence}\n".encode(), "fan.md")).as_json()["procedures"]
    assert isinstance(rows, list)
    verbs = [action.get("verb") for step in rows[-1]["steps"] for action in step["actions"]]
    assert (rows[-1]["kind"], verbs) == ("refit", ["reverse"])


@pytest.mark.parametrize(
    "sentence",
    [
        "The plug does not fit the other way round.",
        "Do not put the battery in backwards.",
        "The screws are turned backwards until they drop into their threads.",
        "In the reverse of the order marked on it, loosen the four screws.",
        "Tighten the screws in the reverse numerical order.",
    ],
)
def test_something_turned_round_is_no_way_back(sentence: str) -> None:
    """A plug, a battery or an order of screws the other way about orders no second half."""
    assert not is_reversal(sentence, load_lexicon(), opens_refit=True)


@pytest.mark.parametrize(
    ("sentence", "expected"),
    [
        ("Same thing backwards, but use new rubber washers.", ["new rubber washers"]),
        ("Reassembly is the reverse, but fit a new gasket.", ["new gasket"]),
        ("Reassembly is the reverse of the above, but do not overtighten the screws.", []),
        ("Reassembly is simply the reverse, but to ease it, some hints follow.", []),
    ],
)
def test_what_is_done_otherwise_on_the_way_back_is_read_too(
    sentence: str, expected: list[str]
) -> None:
    """What stands behind "but" in the sentence that orders it all backwards is work of its own, if it orders some."""
    rows = read(open_source(f"{TEXT}{sentence}\n".encode(), "fan.md")).as_json()["procedures"]
    assert isinstance(rows, list)
    acts = [action for step in rows[-1]["steps"] for action in step["actions"]]
    assert [a["object"] for a in acts if a["class"] != "other"] == expected
