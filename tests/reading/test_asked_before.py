"""What a text asks to be off before the work, in whatever form it says it; our own sentences, no source."""

from __future__ import annotations

import pytest

from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.prerequisites import of_sentence

ASKED = (
    ("First of all switch the thing off and take out the filter.", ["state switch the thing off"]),
    ("You can reach it when the core is out.", ["part core"]),
    ("First: take off the front panel (see link).", ["part front panel"]),
    ("Needed beforehand: front panel, core.", ["part front panel", "part core"]),
    ("Off first: lid; pack; reader head not nec.", ["part lid", "part pack"]),
    ("the fan so before we can get at the fan you'll want the battery out", ["part battery"]),
    (
        "for this one cover off and battery unplugged that's all",
        ["part cover", "state battery unplugged"],
    ),
    ("But the housing's off, obviously.", ["part housing"]),
    ("No, you just need the plugs off it.", ["state plugs off"]),
    (
        "You can only do this with the liner out and the water tap closed.",
        ["part liner", "state water tap closed"],
    ),
    (
        "As long as the mixer is still in its place you will not get a screwdriver in there.",
        ["part mixer"],
    ),
    ("It is reached from below, and for that the bottom plate has to go.", ["part bottom plate"]),
    ("Before anything else the rotor has to be at rest.", ["state rotor at rest"]),
    ("Remove the dust cover (para. 4-2).", ["part dust cover"]),
    (
        "Preliminary: dust cover and front panel removed; shield removed.",
        ["part dust cover", "part front panel", "part shield"],
    ),
)
NOT_ASKED = (
    "The fans can stay.",
    "You don't need the fan out, whatever they say.",
    "the battery doesn't have to come out",
    "Take the cover off.",
    "With a knife cut the tape round the edge.",
    "Pull the plug out.",
    "Then the lid comes off.",
    "So the first thing we need to do is get the side panel off.",
    "The four screws of the lid must be removed.",
    "Now the cable is out of its guides.",
    "Once the screws are out, lift the board.",
)


def asked(text: str, after: str = "") -> list[str]:
    """Kind and words of what a sentence before the first step asks for."""
    found = of_sentence(text, after, load_lexicon(), first=True, ahead=True)
    return [f"{one.kind} {one.text}" for one in found]


@pytest.mark.parametrize(("text", "expected"), ASKED)
def test_what_is_asked_for_is_found_by_its_sense(text: str, expected: list[str]) -> None:
    """A thing, a word for gone or for its state, and a word that asks for it: in any form."""
    assert asked(text) == expected


@pytest.mark.parametrize("text", NOT_ASKED)
def test_work_and_its_contrary_ask_for_nothing(text: str) -> None:
    """An order is a step, and what may stay is no prerequisite."""
    assert asked(text) == []


def test_a_question_asks_only_with_its_answer() -> None:
    """A trainee asks, the trainer says yes, or names the part; without an answer nothing is asked for."""
    question = "Do I need the pan and the spider off for that?"
    assert asked(question, "You do. It won't come out otherwise.") == ["part pan", "part spider"]
    assert asked(question, "No, they can stay.") == []
    assert asked("What's got to be off for the printer?", "The top housing.") == [
        "part top housing"
    ]
