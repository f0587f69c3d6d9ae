"""Torques of a text: in one unit, and on to the draft."""

from __future__ import annotations

import pytest

from lastscrew.reading import load_lexicon, read
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.sources import open_source
from lastscrew.reading.torques_said import torque_in


@pytest.mark.parametrize(
    ("text", "ncm"),
    [
        ("Tighten them to 0.6 N m.", 60),
        ("Torque: 17 N·cm", 17),
        ("4 scr M4x35, 1.5 Nm", 150),
        ("Tighten to 0,8 Nm (8 screws)", 80),
        ("Tighten to 5 kgf·cm.", 49),
        ("Torque 4 in-lb.", 45.2),
        ("Tighten to 20-24 Ncm.", 22),
        ("60 cN m", 60),
        ("Remove the four M3x8 screws with a 5 mm bit.", None),
        ("Tighten the long ones to 1 Nm and the short ones to 0.5 Nm.", None),
        ("", None),
    ],
)
def test_a_torque_is_read_in_newton_centimetres(text: str, ncm: float | None) -> None:
    """Units of the trade; two torques in one step are none."""
    assert torque_in(text) == ncm


def test_a_torque_that_the_text_gives_stands_in_the_draft() -> None:
    """The screws that the step tightens have it, with the line; other screws have none."""
    text = (
        "Removing the lid\n\n1. Remove the four M3x8 screws that hold the lid to the base.\n"
        "2. Remove the two M2x4 screws that hold the fan to the base.\n3. Lift off the lid.\n\n"
        "Installing the lid\n\n1. Place the lid on the base.\n"
        "2. Install the four M3x8 screws that hold the lid to the base. Tighten them to 0.6 N m.\n"
        "3. Install the two M2x4 screws that hold the fan to the base.\n"
    )
    lexicon = load_lexicon()
    drafted = draft_device(read(open_source(text.encode(), "lid.txt"), lexicon), lexicon)
    torques = {j.id: j.torque_ncm for j in drafted.device.joints.values() if j.kind == "screw"}
    assert torques == {"lid_screws": 60, "fan_screws": None}


def test_a_torque_stands_beside_the_screws_that_it_is_for() -> None:
    """In the reading and its JSON, as the text writes it; not where the step gives two."""
    text = (
        "Installing the lid\n\n1. Install the four M3x8 screws. Tighten them to 0.6 N·m.\n"
        "2. Tighten the two M2x4 screws to 20 N cm and the M4x8 screw to 2 N m.\n"
    )
    one, two = read(open_source(text.encode(), "lid.txt")).procedures[0].steps
    assert {action.as_json().get("torque") for action in one.actions} == {"0.6 N·m"}
    assert {action.as_json().get("torque") for action in two.actions} == {None}
