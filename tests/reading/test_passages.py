"""Whole passages in many makers' manners, each with the actions that a careful person reads in it.

In ``passages/`` a line that begins with ``|`` belongs to the line above it and is no part of the text:
``| class object xCOUNT ; part + part`` is an action, ``| before part: name`` a prerequisite. The wordings are our own.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from benchmarks.reading import Score, score
from lastscrew.problems import InputError
from lastscrew.reading import read
from lastscrew.reading.sources import open_source

FOLDER = Path(__file__).with_name("passages")
PASSAGES = sorted(path for path in FOLDER.iterdir() if path.suffix != ".toml")
_LABEL = re.compile(r"^(\w+) (.+?)(?: x=?(\d+|all))?(?: ; (.+))?$")


def split(text: str) -> tuple[str, dict[str, Any]]:
    """The text without its labels, and the labels in the shape that the benchmark takes."""
    lines: list[str] = []
    steps: list[dict[str, Any]] = []
    before: list[dict[str, Any]] = []
    for row in text.splitlines():
        if not row.startswith("| ") or row.endswith("|"):
            lines.append(row)
            continue
        label = row[2:].strip()
        if label.startswith("before "):
            kind, _, name = label[7:].partition(": ")
            before.append({"line": len(lines), "prerequisites": [{"kind": kind, "text": name}]})
            continue
        match = _LABEL.match(label)
        assert match is not None, row
        action: dict[str, Any] = {"class": match[1], "object": match[2]}
        if match[3]:
            action["count"] = int(match[3]) if match[3].isdigit() else match[3]
        if match[4]:
            action["joins"] = match[4].split(" + ")
        steps.append({"line": len(lines), "actions": [action]})
    return "\n".join(lines) + "\n", {"procedures": [{"line": 1, "steps": steps}, *before]}


def scored(path: Path) -> Score:
    """Figures of one passage."""
    text, gold = split(path.read_text(encoding="utf-8"))
    return score(path.name, read(open_source(text.encode(), path.name)).as_json(), gold)


@pytest.mark.parametrize("path", PASSAGES, ids=lambda path: str(path.name))
def test_most_of_a_passage_is_read_as_a_careful_person_reads_it(path: Path) -> None:
    result = scored(path)
    assert result.matched >= 0.66 * result.labelled, result.misses
    assert result.matched >= 0.66 * result.predicted, result.misses


def test_all_passages_together_are_read_nearly_in_full() -> None:
    results = [scored(path) for path in PASSAGES]

    def share(part: str, whole: str) -> float:
        of = sum(int(getattr(item, whole)) for item in results)
        return sum(int(getattr(item, part)) for item in results) / of

    assert share("matched", "labelled") >= 0.88
    assert share("matched", "predicted") >= 0.88
    assert share("counts_right", "counts_labelled") >= 0.9
    assert share("joins_right", "joins_labelled") >= 0.8
    assert share("prerequisites_right", "prerequisites_labelled") >= 0.8


def test_there_are_passages_of_many_kinds() -> None:
    assert len(PASSAGES) >= 15


@pytest.mark.parametrize("name", ["a.txt", "a.md", "a.srt", "a.vtt"])
@pytest.mark.parametrize(
    "text",
    [
        "screw",
        "Remove",
        "a?",
        "Remove:",
        "- a",
        "1. a",
        "**Q: how?**",
        "How do I?",
        "Legend: (1) a (2) b",
        "You need the off",
        "Before removing the ,",
        "X: off, out, in.",
        "Step 1:",
    ],
)
def test_a_scrap_of_text_is_read_without_a_fault(name: str, text: str) -> None:
    reading = read(open_source(text.encode(), name)).as_json()
    rows = reading["lines"]
    assert isinstance(rows, list)
    assert len(rows) == len(text.splitlines())


@pytest.mark.parametrize("text", ["?", "- ", "1.", ""])
def test_a_scrap_without_a_word_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(InputError, match=r"word|empty"):
        open_source(text.encode(), "a.txt")
