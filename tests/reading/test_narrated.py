"""Talks that tell what was done: perfect and past, counts said afterwards, what was left alone."""

from __future__ import annotations

import pytest

from lastscrew.reading import Reading, read
from lastscrew.reading.document import numbered
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.model import Source
from lastscrew.reading.narrated import as_orders

NOTE = (
    "Right, this is the water heater in the staff kitchen, for whoever fits the new element.",
    "So I've undone the four screws in the front panel and lifted that off.",
    "Then I unplugged the sensor lead and I've had the earth wire off its tag.",
    "I had to cut the cable tie, and after that I pulled the loom out of the way.",
    "I've not touched the thermostat, and I didn't take the tank out.",
    "The element's held by a big nut, so I've slackened that, taken it off and drawn the element out.",
    "Now it's going back together. I've fitted the new element and done the nut up.",
    "Sensor lead's back on, and I've put the front panel on and all four screws are in.",
)


def told(*lines: str) -> Source:
    return Source("note", "text", numbered(list(lines)), spoken=True)


def acts(reading: Reading) -> list[tuple[str, str, int]]:
    return [
        (a.klass, a.things[-1].head if a.things else a.object, a.line)
        for p in reading.procedures
        for a in p.actions()
        if a.klass != "other"
    ]


def test_what_was_done_is_read_as_the_order_to_do_it() -> None:
    """Acts told in the perfect and the past, alone or behind "and", are steps on the line of their verb."""
    found = acts(read(told(*NOTE)))
    for act in (
        ("remove", "screw", 2),
        ("lift", "panel", 2),
        ("disconnect", "lead", 3),
        ("release", "tie", 4),
        ("remove", "element", 6),
        ("replace", "panel", 8),
        ("connect", "lead", 8),
        ("tighten", "screw", 8),
    ):
        assert act in found, found


UNSTOPPED = (
    "okay so this is what i did on the bread slicer this morning",
    "first i took the crumb tray out and then i took the six screws out of the back panel and lifted it off",
    "behind that there's the belt guard that's held on with two nuts so i took those off and the guard came away",
    "then i undid the two bolts on the bearing housing and out came the shaft",
    "then it all went back together i slid the shaft in bolted the housing up with the two bolts",
    "and i put a new belt on tightened the motor bolts and put the guard back on",
)


def test_captions_without_stops_tell_what_was_done() -> None:
    """Without a full stop each past behind a particle or a thing is the next act of the same speaker."""
    found = acts(read(told(*UNSTOPPED)))
    for act in (
        ("remove", "screw", 2),
        ("lift", "panel", 2),
        ("remove", "nut", 3),
        ("remove", "bolt", 4),
        ("remove", "shaft", 4),
        ("replace", "belt", 6),
        ("tighten", "bolt", 6),
        ("replace", "guard", 6),
    ):
        assert act in found, found


def test_what_was_not_done_is_no_step() -> None:
    """What is told as not done ("I've not touched") orders nothing."""
    assert [act for act in acts(read(told(*NOTE))) if act[2] == 5] == []


@pytest.mark.parametrize(
    "line",
    [
        "Okay, take the lid off. I took one of these off last week and it was full of sand.",
        "Undo the two nuts. Then, like I said, I've marked mine with a pen. Lift the arm off.",
    ],
)
def test_a_talk_that_orders_stays_as_it_is(line: str) -> None:
    """A speaker who orders and now and then tells of himself is not rewritten."""
    source = told("Right.", line, line, line, line)
    assert as_orders(source, load_lexicon()) is source
