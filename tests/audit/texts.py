"""Small texts for the audit, each sound as it stands; a fault is planted by exchanging a phrase."""

from __future__ import annotations

from pathlib import Path

from lastscrew.audit.findings import Finding
from lastscrew.audit.text import audit_reading
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source

WORDING = frozenset(("long_sentence", "several_instructions"))


def audited(text: str, name: str = "manual.txt") -> tuple[Finding, ...]:
    """Findings about a text."""
    lexicon = load_lexicon()
    return audit_reading(read(open_source(text.encode(), name), lexicon), lexicon)


def codes(text: str, name: str = "manual.txt") -> list[str]:
    """Codes of the findings about a text, wording aside."""
    return [f.code for f in audited(text, name) if f.code not in WORDING]


def planted(text: str, old: str, new: str) -> str:
    """The text with one phrase exchanged; the phrase must be there."""
    assert old in text
    return text.replace(old, new, 1)


def line_of(text: str, phrase: str) -> int:
    """1-based line on which a phrase stands first."""
    return text[: text.index(phrase)].count("\n") + 1


def demo(name: str) -> bytes:
    """A demo device file."""
    root = Path(__file__).resolve().parents[2]
    return (root / "src" / "lastscrew" / "demo" / f"{name}.device.yaml").read_bytes()


MANUAL = """\
Marl 14 service manual

1 Bottom cover

Removing the bottom cover

Before you begin: switch off the notebook and unplug the power adapter.

1. Remove the eight M2x5 screws that secure the bottom cover to the chassis.
2. Lift the bottom cover off the chassis.

Installing the bottom cover

1. Place the bottom cover on the chassis.
2. Install the eight M2x5 screws that secure the bottom cover to the chassis.

2 Battery

Removing the battery

Before you begin
- Remove the bottom cover.

1. Disconnect the battery cable from the main board.
2. Remove the four M2x3 screws that secure the battery to the chassis.
3. Lift the battery out of the chassis.

Installing the battery

1. Place the battery in the chassis.
2. Install the four M2x3 screws that secure the battery to the chassis.
3. Connect the battery cable to the main board.

3 Fan

Removing the fan

Before you begin
- Remove the bottom cover.
- Remove the battery.

1. Lift the locking bar of the fan connector.
2. Disconnect the fan cable from the main board.
3. Remove the three M2x3 screws that secure the fan to the chassis.
4. Remove the fan shield.
5. Lift the fan out of the chassis.

Installing the fan

1. Place the fan in the chassis.
2. Place the fan shield on the fan.
3. Install the three M2x3 screws that secure the fan to the chassis.
4. Connect the fan cable to the main board.
5. Press down the locking bar of the fan connector.

4 Heat sink

Removing the heat sink

Before you begin
- Remove the bottom cover.
- Remove the battery.

WARNING: The heat sink can be hot. It can burn you.
1. Loosen the four captive screws that secure the heat sink to the main board.
2. Lift the heat sink off the main board.
3. Clean the old thermal paste off the processor.

Installing the heat sink

1. Apply new thermal paste to the processor.
2. Place the heat sink on the main board.
3. Tighten the four captive screws that secure the heat sink to the main board.
"""
