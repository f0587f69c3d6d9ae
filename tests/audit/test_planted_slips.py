"""One slip at a time, planted into a sound text: each is found, and the sound text has no warning."""

from __future__ import annotations

import pytest

from lastscrew.audit.findings import Finding
from lastscrew.audit.text import audit_reading
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source

LEXICON = load_lexicon()
SOUND = """\
# Dunmere 15 service guide

## Screw list

| Mark | Screw | Quantity | Where |
|---|---|---|---|
| A | M2.5 × 6 mm | 8 | Base cover |
| B | M2 × 3 mm | 4 | Battery |
| C | M2 × 4 mm | 2 | Fan |

## Removing the base cover

1. Disconnect the AC adapter.
2. Remove the eight M2.5 × 6 mm screws (A) that secure the base cover to the palm rest.
3. Lift the base cover off the palm rest.

## Installing the base cover

1. Place the base cover on the palm rest.
2. Install the eight M2.5 × 6 mm screws (A) that secure the base cover to the palm rest.
3. Connect the AC adapter.

## Removing the battery

Prerequisites:

- Remove the base cover.

1. Pull the tab to disconnect the battery cable from the system board.
2. Remove the four M2 × 3 mm screws (B) that secure the battery to the palm rest.
3. Lift the battery out of the palm rest.

## Installing the battery

1. Align the screw holes of the battery with the palm rest and place the battery.
2. Install the four M2 × 3 mm screws (B) that secure the battery to the palm rest.
3. Connect the battery cable to the system board.
4. Install the base cover.

## Removing the WLAN card

Prerequisites:

- Remove the base cover.
- Disconnect the battery cable.

1. Unsnap the antenna cable from the WLAN card.
2. Remove the M2 × 3 mm screw that secures the WLAN card to the system board.
3. Slide the WLAN card out of its slot on the system board.

## Installing the WLAN card

1. Slide the WLAN card into its slot on the system board.
2. Install the M2 × 3 mm screw that secures the WLAN card to the system board.
3. Connect the antenna cable to the WLAN card.
4. Connect the battery cable.
5. Install the base cover.

## Removing the fan

Prerequisites:

- Remove the base cover.
- Disconnect the battery cable.

1. Press the latch and disconnect the fan cable from the system board.
2. Remove the fan cable from its guides.
3. Peel off the tape that secures the antenna cables to the fan.
4. Remove the two M2 × 4 mm screws (C) that secure the fan to the palm rest.
5. Lift the fan out of the palm rest.

## Installing the fan

1. Place the fan in the palm rest.
2. Install the two M2 × 4 mm screws (C) that secure the fan to the palm rest.
3. Apply the tape that secures the antenna cables to the fan.
4. Route the fan cable through its guides.
5. Connect the fan cable to the system board.
6. Connect the battery cable.
7. Install the base cover.

## Removing the heat sink

Prerequisites:

- Remove the base cover.
- Disconnect the battery cable.
- Remove the fan.

1. In the reverse of the order that is marked on it (4 > 3 > 2 > 1), loosen the four captive screws
   that secure the heat sink to the system board.
2. Lift the heat sink off the system board.
3. Clean the old thermal compound from the heat sink.

## Installing the heat sink

1. Apply new thermal compound to the heat sink.
2. Place the heat sink on the system board.
3. Tighten the four captive screws that secure the heat sink to the system board.
4. Install the fan.
5. Connect the battery cable.
6. Install the base cover.

## Removing the port board

Prerequisites:

- Remove the base cover.
- Disconnect the battery cable.

1. Open the latch and disconnect the port cable from the system board.
2. Remove the two M2 × 5 mm screws that secure the port bracket to the palm rest.
3. Lift the port bracket off the palm rest.
4. Lift the port board off the palm rest.

## Installing the port board

1. Place the port board on the palm rest.
2. Place the port bracket on the palm rest.
3. Install the two M2 × 5 mm screws that secure the port bracket to the palm rest.
4. Connect the port cable to the system board and close the latch.
5. Connect the battery cable.
6. Install the base cover.

## Removing the system board

Prerequisites:

- Remove the base cover.
- Remove the battery.
- Remove the fan.
- Remove the heat sink.

1. Disconnect the following cables from the system board:
   - display cable
   - speaker cable
   - touch pad cable
2. Remove the five M2 × 3 mm screws that secure the system board to the palm rest.
3. Lift the system board out of the palm rest.

## Installing the system board

1. Place the system board in the palm rest.
2. Install the five M2 × 3 mm screws that secure the system board to the palm rest.
3. Connect the following cables to the system board:
   - display cable
   - speaker cable
   - touch pad cable
4. Install the heat sink.
5. Install the fan.
6. Install the battery.
7. Install the base cover.
"""
MAINS = """\
# Cube 3

## Side cover

### Removal

1. Unplug the power cord.
2. Remove the two screws that fasten the side cover to the chassis.
3. Lift the side cover off the chassis.

### Refitting

1. Set the side cover on the chassis.
2. Install the two screws that fasten the side cover to the chassis.
3. Plug in the power cord.

## Power supply

### Removal

Before you start: remove the side cover.

1. Disconnect the power cable from the main board.
2. Remove the three screws that fasten the power supply to the chassis.
3. Lift the power supply out of the chassis.

### Refitting

1. Lower the power supply into the chassis.
2. Install the three screws that fasten the power supply to the chassis.
3. Connect the power cable to the main board.
4. Refit the side cover.
"""


def audited(text: str) -> tuple[Finding, ...]:
    return audit_reading(read(open_source(text.encode(), "sample.md"), LEXICON), LEXICON)


def warnings_of(text: str) -> set[tuple[str, str]]:
    return {(f.code, f.text) for f in audited(text) if f.severity != "note"}


def changed(heading: str, old: str, new: str) -> str:
    """The sound text with one change below a heading."""
    start = SOUND.index(f"## {heading}\n")
    assert old in SOUND[start:]
    return SOUND[:start] + SOUND[start:].replace(old, new, 1)


BATTERY_SCREWS = (
    "2. Install the four M2 × 3 mm screws (B) that secure the battery to the palm rest.\n"
)
SLIPS = [
    ("fastener_not_back", "Installing the battery", BATTERY_SCREWS, ""),
    ("count_differs", "Screw list", "| 4 | Battery", "| 5 | Battery"),
    ("size_differs", "Screw list", "M2 × 4 mm", "M2 × 8 mm"),
    ("size_differs", "Installing the fan", "M2 × 4 mm", "M2 × 6 mm"),
    ("stays_open", "Installing the fan", "3. Apply the tape that secures the antenna cables to the fan.\n", ""),
    ("stays_open", "Installing the fan", "5. Connect the fan cable to the system board.\n", ""),
    ("stays_open", "Installing the fan", "4. Route the fan cable through its guides.\n", ""),
    ("stays_open", "Installing the system board", "   - touch pad cable\n", ""),
    ("stays_open", "Installing the WLAN card", "4. Connect the battery cable.\n", ""),
    ("part_not_back", "Installing the port board", "2. Place the port bracket on the palm rest.\n", ""),
    ("part_not_back", "Installing the fan", "1. Place the fan in the palm rest.\n", ""),
    ("part_not_back", "Installing the WLAN card", "5. Install the base cover.\n", ""),
    ("part_not_back", "Removing the port board", "3. Lift the port bracket off", "3. Lift the fan bracket off"),
    ("unknown_prerequisite", "Removing the battery", "cover.\n", "cover.\n- Remove the keyboard.\n"),
    ("not_isolated", "Removing the WLAN card", "- Disconnect the battery cable.\n", ""),
    ("not_isolated", "Removing the port board", "- Disconnect the battery cable.\n", ""),
]  # fmt: skip


def test_the_sound_texts_have_no_warning() -> None:
    """Neither error nor warning, whatever is noted."""
    assert warnings_of(SOUND) == set()
    assert warnings_of(MAINS) == set()


@pytest.mark.parametrize(
    ("code", "heading", "old", "new"),
    SLIPS,
    ids=[f"{s[0]}-{s[1]}-{n}" for n, s in enumerate(SLIPS)],
)
def test_a_planted_slip_is_found(code: str, heading: str, old: str, new: str) -> None:
    """A finding of its kind is raised, which the sound text has not."""
    sound = {(f.code, f.text) for f in audited(SOUND)}
    found = {(f.code, f.text) for f in audited(changed(heading, old, new))}
    assert code in {one for one, _ in found - sound}


def test_a_cord_that_is_plugged_in_was_unplugged() -> None:
    """Power cables inside the machine take no power away from it."""
    found = warnings_of(MAINS.replace("1. Unplug the power cord.\n", ""))
    assert {code for code, _ in found} == {"not_isolated"}


def test_a_drive_is_not_put_back_by_its_cage() -> None:
    """Where parts share a word, the whole name has to be said."""
    text = changed("Installing the port board", "1. Place the port board on the palm rest.\n", "")
    assert any(code == "part_not_back" and "port board" in told for code, told in warnings_of(text))
