"""What owners say: symptoms that are meant, and what tells of several faults."""

from __future__ import annotations

import pytest

from lastscrew.device.diagnosis import LIKELIHOOD_WORDS, Symptom
from lastscrew.device.reading import load_device
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.proposing import propose
from lastscrew.faults.words import symptoms_meant, tells_of_event
from tests.faults.lantern import LANTERN, lantern


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("it does not light up any more", ["dark"]),
        ("No light at all!", ["dark"]),
        ("It doesn’t light up", ["dark"]),
        ("only a very weak light", ["dim"]),
        ("it is rather dim, and sometimes there is no light", ["dim", "dark"]),
        ("the light is fine", []),
        ("I like it", []),
        ("", []),
    ],
)
def test_words_of_owners_are_matched(said: str, meant: list[str]) -> None:
    """Endings and small words do not matter, a denial does."""
    assert sorted(m.symptom for m in symptoms_meant(lantern(), said)) == sorted(meant)


def test_the_best_match_comes_first_with_the_phrase_that_matched() -> None:
    """Whole phrases before parts of them."""
    first = symptoms_meant(lantern(), "there is no light when I press it")[0]
    assert (first.symptom, first.phrase) == ("dark", "no light")
    assert first.score == 1


@pytest.mark.parametrize(
    ("said", "event"),
    [
        ("Coffee was spilled over it", "liquid"),
        ("It got wet in the rain", "liquid"),
        ("My son dropped it", "drop"),
        ("It fell from the table.", "drop"),
        ("It has no light", None),
        ("No water comes", None),
        ("It boils without water", None),
        ("No, water got in", "liquid"),
        ("no power since coffee was spilled", "liquid"),
        ("The dropout is bad", None),
        ("steam rises from the heat", None),
    ],
)
def test_liquid_and_drops_are_heard(said: str, event: str | None) -> None:
    """Whole words only, and none that is denied."""
    assert tells_of_event(lantern(), (), said) == event


def test_whoever_hears_of_liquid_by_words_is_told_which_symptom_has_them() -> None:
    """The key to say that they are everyday words is named; not where the file says liquid itself."""
    by_words = load_device(LANTERN.replace("event: liquid}", "leak: 0.01}").encode())
    said, unsaid = (
        " ".join(propose(device, Evidence(shows=("wet",)), work=0).remarks)
        for device in (by_words, lantern())
    )
    assert 'The words of "Was wet" say so' in said
    assert "event: none" not in unsaid


def test_a_symptom_tells_of_its_event() -> None:
    """By its key, or by its own words."""
    device = lantern()
    assert tells_of_event(device, ("wet",)) == "liquid"
    assert tells_of_event(device, ("dark",)) is None
    without_key = LANTERN.replace("event: liquid}", "leak: 0.01}")
    by_words = load_device(without_key.replace("fell into water", "was in water").encode())
    assert isinstance(by_words.symptoms["wet"], Symptom)
    assert tells_of_event(by_words, ("wet",)) == "liquid"


def test_everyday_words_of_a_device_tell_of_nothing() -> None:
    """With ``event: none`` water is an everyday word, in the symptom and in a complaint; other words still tell."""
    device = load_device(
        LANTERN.replace("words: [dim, weak light]}", "words: [dim in water], event: none}").encode()
    )
    assert tells_of_event(device, ("dim",)) is None
    assert tells_of_event(device, ("dim",), "dim in the water") is None
    assert tells_of_event(device, ("dim",), "I spilled tea") == "liquid"
    assert tells_of_event(device, ("wet",)) == "liquid"


def test_words_for_probabilities_are_in_order_and_leave_room() -> None:
    """From always down to never, none of them certain."""
    values = list(LIKELIHOOD_WORDS.values())
    assert values == sorted(values, reverse=True)
    assert min(values) > 0
    assert max(values) < 1
