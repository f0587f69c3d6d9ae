"""The same kinds of slip in device files of several machines: found where they are, never in the sound file."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import NamedTuple

import pytest

from lastscrew.audit.device_file import audit_device
from lastscrew.audit.findings import RULES, Finding
from lastscrew.device.reading import read_device
from tests.audit.test_device_files import SOUND
from tests.audit.texts import line_of, planted

FOLDER = Path(__file__).parent / "machines"


class Slip(NamedTuple):
    """Phrases of a sound file exchanged; the code and the grade that tell it, a phrase of its line."""

    machine: str
    code: str
    grade: str
    edits: tuple[tuple[str, str], ...]
    at: str


def slips() -> list[Slip]:
    """All planted slips, in the order of their file."""
    rows = tomllib.loads((FOLDER / "slips.toml").read_text(encoding="utf-8"))["slip"]
    return [
        Slip(
            row["machine"], row["code"], row["grade"],
            tuple((old, new) for old, new in row["edits"]), row["at"],
        )
        for row in rows
    ]  # fmt: skip


SLIPS = slips()
LAMP = "lamp"


def text_of(machine: str) -> str:
    """A sound device file."""
    if machine == LAMP:
        return SOUND
    return (FOLDER / f"{machine}.device.yaml").read_text(encoding="utf-8")


def audited(text: str) -> tuple[Finding, ...]:
    """Findings about a device file."""
    return audit_device(read_device(text, "machine.device.yaml"))


def with_slip(slip: Slip) -> str:
    """The file with its slip."""
    text = text_of(slip.machine)
    for old, new in slip.edits:
        text = planted(text, old, new)
    return text


@pytest.mark.parametrize("machine", ["hand_drill", "wall_router", LAMP])
def test_a_sound_file_has_no_finding(machine: str) -> None:
    """Not even a note."""
    assert audited(text_of(machine)) == ()


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: f"{slip.machine}-{slip.code}-{slip.grade}")
def test_a_slip_is_found_where_it_is(slip: Slip) -> None:
    """One value exchanged: the finding, its grade and its line."""
    text = with_slip(slip)
    found = {(f.severity, f.line) for f in audited(text) if f.code == slip.code}
    assert (slip.grade, line_of(text, slip.at)) in found


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: f"{slip.machine}-{slip.code}-{slip.grade}")
def test_a_slip_raises_no_error_of_another_kind(slip: Slip) -> None:
    """What is wrong in one place is not called an error in another."""
    assert {f.code for f in audited(with_slip(slip)) if f.severity == "error"} <= {slip.code}


def test_every_code_has_slips_in_three_machines() -> None:
    """The lamp of the other tests counted in; what is said of fault finding has tests of its own."""
    for code in {slip.code for slip in SLIPS}:
        assert RULES[code].subject == "device"
        assert len({slip.machine for slip in SLIPS if slip.code == code} | {LAMP}) >= 3, code
