"""Faults in a device file: what the audit says about what can't be told apart, mended, or added up."""

from __future__ import annotations

import pytest

from lastscrew.audit.device_file import audit_device
from lastscrew.audit.findings import Finding
from lastscrew.device.reading import read_device
from tests.audit.test_device_files import SOUND
from tests.audit.texts import line_of, planted

FAULTS = """\
symptoms:
  dark: {name: Stays dark, words: [no light]}
checks:
  meter: {name: Voltage, check: Measure it., check_s: 20, open: [pack_plug], power: "off", measure: {unit: V, low: 3}}
  lamp: {name: Another lamp, check: Try another lamp., check_s: 10, leak: 0.05}
  trial: {name: Works, check: Switch it on., check_s: 10, power: "on", final: true}
faults:
  pack_flat: {part: pack, prior: 20, symptoms: {dark: always}, checks: {meter: {low: always}, lamp: often}}
  board_dead: {part: board, prior: 5, symptoms: {dark: always}, checks: {lamp: always}}
  plug_loose: {joint: pack_plug, prior: 3, symptoms: {dark: usually}, checks: {lamp: seldom}}
"""


def audited(text: str) -> tuple[Finding, ...]:
    """Findings about a device file."""
    return audit_device(read_device(text.encode(), "lamp.device.yaml"))


def test_sound_faults_have_no_finding() -> None:
    """Faults that checks tell apart, on one scale, each with a mend."""
    assert audited(SOUND + FAULTS) == ()


def test_a_file_without_faults_is_not_asked_for_any() -> None:
    """The sections are optional: leaving them out is no finding."""
    assert not [f for f in audited(SOUND) if "fault" in f.code]


@pytest.mark.parametrize(
    ("old", "new", "code", "severity", "at"),
    [
        ("checks: {lamp: always}", "checks: {meter: {low: always}, lamp: often}",
         "faults_alike", "warning", "  board_dead:"),
        ("checks: {lamp: always}", "checks: {meter: {low: 0.97}, lamp: 0.68}",
         "faults_alike", "warning", "  board_dead:"),
        ("board_dead: {part: board, prior: 5, symptoms: {dark: always}, checks",
         "board_dead: {part: foot, prior: 5, symptoms: {dark: always}, checks",
         "fault_not_mended", "warning", "  board_dead:"),
        ("checks: {lamp: seldom}}", "checks: {lamp: seldom}, mends: [{do: reseat, success: sometimes}]}",
         "mend_unlikely", "note", "mends: [{do: reseat, success: sometimes}]"),
        ("symptoms: {dark: usually}, checks: {lamp: seldom}", "checks: {lamp: seldom}",
         "fault_hidden", "note", "  plug_loose:"),
        ("  trial:", "  tap: {name: Tap, check: Tap on it., check_s: 5}\n  trial:",
         "check_tells_nothing", "note", "  tap:"),
        ("words: [no light]}", "words: [no light]}\n  hot: {name: Hot}",
         "symptom_of_nothing", "note", "  hot:"),
        ("leak: 0.05", "leak: sometimes",
         "leak_high", "warning", "leak: sometimes"),
        ("joint: pack_plug, prior: 3,", "joint: pack_plug,",
         "prior_missing", "warning", "  plug_loose:"),
        ("prior: 3,", "prior: often,",
         "priors_do_not_add_up", "warning", "prior: often"),
    ],
)  # fmt: skip
def test_a_planted_slip_is_found_at_its_line(
    old: str, new: str, code: str, severity: str, at: str
) -> None:
    """One slip at a time: the finding has its code, its grade and its line, and nothing else is said."""
    text = planted(SOUND + FAULTS, old, new)
    (finding,) = audited(text)
    assert (finding.code, finding.severity) == (code, severity)
    assert finding.line == line_of(text, at)
    assert finding.text
    assert finding.remedy


def test_shares_that_sum_to_more_than_one_are_noted() -> None:
    """Priors up to 1 are read as shares: 0.9, 0.5 and 0.3 sum to 1.70."""
    text = SOUND + FAULTS
    for old, new in (
        ("prior: 20", "prior: 0.9"),
        ("prior: 5", "prior: 0.5"),
        ("prior: 3", "prior: 0.3"),
    ):
        text = planted(text, old, new)
    (finding,) = audited(text)
    assert (finding.code, finding.severity) == ("priors_do_not_add_up", "note")
    assert "1.70" in finding.text


@pytest.mark.parametrize(
    "told",
    [
        # The same mend cures both: no need to tell them apart.
        ("checks: {lamp: always}}",
         "checks: {meter: {low: always}, lamp: often}, mends: [{do: exchange, part: pack}]}"),
        # A swap test of one of the parts does.
        ("  trial:", "  swap: {name: Another board, check_s: 30, swap_test: board}\n  trial:"),
    ],
)  # fmt: skip
def test_faults_that_look_alike_are_let_be_where_it_does_no_harm(told: tuple[str, str]) -> None:
    """One mend for both, or a swap test: then nothing is left to luck."""
    text = planted(SOUND + FAULTS, *told)
    if "swap" in told[1]:
        text = planted(
            text, "checks: {lamp: always}", "checks: {meter: {low: always}, lamp: often}"
        )
    assert "faults_alike" not in {finding.code for finding in audited(text)}


def test_a_function_that_names_a_check_counts_as_that_check() -> None:
    """A fault may name the function or its entry: both are the same check."""
    text = planted(SOUND + FAULTS, "light: {name: Light, check: Switch it on., check_s: 10}",
                   "light: {name: Light, check: lamp}")  # fmt: skip
    text = planted(text, "checks: {lamp: seldom}", "checks: {light: seldom}")
    assert audited(text) == ()
