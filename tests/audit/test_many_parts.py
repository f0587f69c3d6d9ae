"""A manual of many parts: nothing is said of it while it is sound, and what is planted into it is found."""

from __future__ import annotations

import pytest

from lastscrew.audit.findings import RULES
from tests.audit.texts import audited, line_of, planted

PANELS = ("infeed guard", "drip tray", "roof panel")
PARTS = (
    "chain guard", "gear motor", "motor bracket", "cutter head", "vacuum pump", "valve block", "air filter",
    "encoder", "sensor bracket", "print head", "touch screen", "power supply", "relay board", "brake resistor",
    "cooling fan", "beacon", "door switch",
)  # fmt: skip


def manual() -> str:
    """Twenty parts of a machine that does not exist: each behind a panel, and each third behind another part too."""
    names = (*PANELS, *PARTS)
    lines = ["Film wrapper FW 12", "", "Safety: Isolate the machine at the main switch.", ""]
    for number, name in enumerate(names, start=1):
        before = [names[number % 3]] if number > len(PANELS) else []
        before += [names[number - 4]] if number > len(PANELS) + 3 and number % 3 == 0 else []
        lines += [f"{number} {name.capitalize()}", "", f"{number}.1 Removal of the {name}", ""]
        if before:
            lines += ["Prerequisites:", *(f"- {one.capitalize()} removed." for one in before), ""]
        cable = number > len(PANELS) and number % 2 == 0
        out = [f"Disconnect the {name} cable from the terminal rail."] * cable
        out.append(
            f"Remove the {number % 4 + 2} screws M4x10 that secure the {name} to the machine frame."
        )
        out.append(f"Lift the {name} off the machine frame.")
        back = [f"Place the {name} on the machine frame."]
        back.append(
            f"Install the {number % 4 + 2} screws M4x10 that secure the {name} to the machine frame."
        )
        back += [f"Connect the {name} cable to the terminal rail."] * cable
        back += [f"Install the {one}." for one in reversed(before)]
        lines += [f"{n}. {text}" for n, text in enumerate(out, start=1)]
        lines += ["", f"{number}.2 Installation of the {name}", ""]
        lines += [*(f"{n}. {text}" for n, text in enumerate(back, start=1)), ""]
    return "\n".join(lines)


SOUND = manual()


def test_a_sound_manual_of_twenty_parts_raises_no_alarm() -> None:
    """Twenty parts behind panels and each other: not one finding about its procedures."""
    found = [f for f in audited(SOUND) if RULES[f.code].subject == "procedure"]
    assert [(f.code, f.line, f.text) for f in found] == []


@pytest.mark.parametrize(
    ("old", "new", "code", "at"),
    [
        (
            "Safety: Isolate the machine at the main switch.\n",
            "",
            "not_isolated",
            "Disconnect the ",
        ),
        ("Lift the encoder off the machine frame.\n", "\n", "left_in_place", "secure the encoder"),
        ("Place the beacon on the machine frame.", "Clean it.", "part_not_back", "Lift the beacon"),
    ],
)
def test_a_slip_among_twenty_parts_is_found(old: str, new: str, code: str, at: str) -> None:
    """One slip planted: a finding of its code names its line; a switch that is lifted off switches nothing off."""
    text = planted(SOUND, old, new)
    found = [f for f in audited(text) if f.code == code]
    assert line_of(text, at) in {line for f in found for line in (f.line, *f.also)}
