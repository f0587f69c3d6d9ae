"""The same kinds of slip in texts of several registers: found where they are, and never in the sound twin."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet

from lastscrew.audit.findings import RULES, Finding
from tests.audit.texts import audited, line_of, planted

FOLDER = Path(__file__).parent / "registers"


@dataclass(frozen=True)
class Slip:
    """A slip planted into one of the texts: exchanged phrases, the code that tells it, a phrase of its line.

    ``open`` says why it is not found yet.
    """

    text: str
    code: str
    edits: tuple[tuple[str, str], ...]
    at: str
    open: str = ""


def slips() -> list[Slip]:
    """All planted slips, in the order of their file."""
    table = tomllib.loads((FOLDER / "slips.toml").read_text(encoding="utf-8"))
    return [
        Slip(
            row["text"],
            row["code"],
            tuple((old, new) for old, new in row["edits"]),
            row["at"],
            row.get("open", ""),
        )
        for row in table["slip"]
    ]


def text_of(name: str) -> str:
    """A sound text."""
    return (FOLDER / name).read_text(encoding="utf-8")


def with_slip(slip: Slip) -> str:
    """The text with its slip."""
    text = text_of(slip.text)
    for old, new in slip.edits:
        text = planted(text, old, new)
    return text


def named(finding: Finding) -> set[int]:
    """Lines that a finding names."""
    return {finding.line, *finding.also}


@cache
def told(text: str, name: str) -> tuple[Finding, ...]:
    """Findings about the procedures of a text; what the reader did not understand is its own matter."""
    return tuple(
        f
        for f in audited(text, name)
        if RULES[f.code].subject == "procedure" or f.code in ("late_caution", "no_procedure")
    )


@pytest.mark.parametrize("name", sorted({slip.text for slip in slips()}))
def test_a_sound_text_has_no_finding(name: str) -> None:
    """A text without a slip, in whatever register: not even a note on its procedures."""
    assert told(text_of(name), name) == ()


def _as_parameter(slip: Slip) -> ParameterSet:
    marks = [pytest.mark.xfail(reason=slip.open, strict=True)] if slip.open else []
    return pytest.param(
        slip, id=f"{slip.code}-{slip.text.split('.')[0]}-{slip.at[:24]}", marks=marks
    )


@pytest.mark.parametrize("slip", [_as_parameter(slip) for slip in slips()])
def test_a_slip_is_found_where_it_is(slip: Slip) -> None:
    """One slip planted: a finding of its code names its line."""
    text = with_slip(slip)
    found = [f for f in audited(text, slip.text) if f.code == slip.code]
    assert line_of(text, slip.at) in {line for f in found for line in named(f)}
