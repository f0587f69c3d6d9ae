"""The service text that ships: what is planted in it is found, and what is read from it plans."""

from __future__ import annotations

from lastscrew.audit.text import audit_reading
from lastscrew.cli.demo import demo_text, file_name, procedure_names
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.reading import read
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.sources import open_source

NAME = "tarn_14"
LEXICON = load_lexicon()
READING = read(open_source(demo_text(NAME).encode(), file_name(NAME)), LEXICON)


def line_with(words: str, after: str = "") -> int:
    """1-based number of the first line with these words below the first with ``after``."""
    lines = demo_text(NAME).splitlines()
    start = next(i for i, line in enumerate(lines) if after in line)
    return next(i for i, line in enumerate(lines, 1) if i > start and words in line)


def test_the_text_has_a_dozen_parts_with_both_halves() -> None:
    assert procedure_names() == [NAME]
    removed = {p.part for p in READING.procedures if p.kind == "removal"}
    refitted = {p.part for p in READING.procedures if p.kind == "refit"}
    assert len(removed) >= 12
    assert removed == refitted


def test_the_audit_finds_the_three_planted_slips_and_nothing_else_that_is_wrong() -> None:
    found = audit_reading(READING, LEXICON)
    told = {(f.code, f.line) for f in found if f.severity != "note"}
    assert told == {
        ("count_differs", line_with("eight M2x5")),
        ("stays_open", line_with("Disconnect the speaker cable")),
        ("unknown_prerequisite", line_with("socket bracket")),
    }


def test_every_part_read_from_the_text_has_a_proven_plan() -> None:
    device = draft_device(READING, LEXICON).device
    movable = [part for part in device.parts.values() if not part.fixed]
    assert len(movable) >= 12
    for part in movable:
        assert plan(device, Request(replace=(part.id,))).proven
