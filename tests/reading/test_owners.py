"""A latch, a tab or a plug that is named by one word is that of the cable or piece that was spoken of."""

from __future__ import annotations

import pytest

from lastscrew.reading import read
from lastscrew.reading.document import numbered
from lastscrew.reading.model import Source

OPENING = "So first the back cover. Undo the four screws and lift the back cover off."


@pytest.mark.parametrize(
    ("lines", "spoken", "expected"),
    [
        (("The scanner cable has a wire bail.", "Lift the bail up."), True, "scanner cable bail"),
        (("Next is the blower.", "Pull the plug out."), True, "blower plug"),
        (
            ("Next is the drum motor.", "There's a ribbon cable with a black latch, flip the latch up."),
            True,
            "ribbon cable latch",
        ),
        (("1. Unplug the lamp cable.", "2. Press the tab on the lid."), False, "lid tab"),
        (("1. Squeeze the orange tab on the ejector lever.",), False, "ejector lever orange tab"),
        (("1. Locate the panel cable.", "2. Open the latch of the panel cable."), False, "latch"),
    ],
)  # fmt: skip
def test_a_bare_latch_or_plug_takes_the_name_of_its_owner(
    lines: tuple[str, ...], spoken: bool, expected: str
) -> None:
    """The last thing that is opened or unplugged is told with what it belongs to, and twice with nothing."""
    reading = read(Source("text", "text", numbered([OPENING, *lines]), spoken=spoken))
    last = [a for p in reading.procedures for s in p.steps for a in s.actions if a.klass != "other"]
    assert last[-1].object.lower().startswith(expected)


def test_a_bare_latch_belongs_to_the_cable_that_is_unplugged_with_it() -> None:
    """The cable named in the same breath owns the latch, not the one that was named before."""
    rows = [
        OPENING,
        "1. Disconnect the battery cable.",
        "2. Press the latch and disconnect the fan cable.",
    ]
    reading = read(Source("text", "text", numbered(rows), spoken=False))
    found = [a.object for p in reading.procedures for s in p.steps for a in s.actions]
    assert found[-2:] == ["fan cable latch", "fan cable"]
