"""The labels of our own procedures fit their texts: line, words, classes, counts, parts named."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).resolve().parents[2]
TEXTS = HERE / "benchmarks" / "reading_texts"
REFERENCE = HERE.parent / "shared" / "reference" / "reading" / "gnss-receiver.gold.json"

CLASSES = {
    "apply", "clean", "close", "connect", "disconnect", "insert", "lift", "loosen", "peel",
    "release", "remove", "replace", "route", "slide", "tighten", "other",
}  # fmt: skip
KINDS = {
    "removal", "refitting", "installation", "reassembly", "assembly", "closing", "replacement",
}  # fmt: skip
NUMBERS = [
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
]  # fmt: skip
HEARD_AS = {2: ("to", "both"), 4: ("for",)}
"""What speech recognition writes for a number, and *both*."""

HELD_BACK = 5
NEARBY = 8
"""Lines back and forth in which an object or a count may be named."""

Gold = dict[str, Any]
GOLDS = sorted(TEXTS.glob("*.gold.json"))


def load(path: Path) -> tuple[Gold, list[str]]:
    """A label file and the physical lines of its text, entities resolved."""
    gold: Gold = json.loads(path.read_text(encoding="utf-8"))
    text = (TEXTS / gold["text"]).read_text(encoding="utf-8")
    return gold, [html.unescape(line) for line in text.split("\n")]


def words(text: str) -> list[str]:
    """Words in lower case, the figures 1 and 0 of a bad scan read as letters, plurals cut."""
    found = re.findall(r"[a-z0-9]+", text.lower())
    return [word.rstrip("s") or word for word in (fold(word) for word in found)]


def fold(word: str) -> str:
    """A word with letters that a scan took for figures."""
    return word if word[0].isdigit() else word.replace("1", "l").replace("0", "o")


def around(lines: list[str], line: int, reach: int) -> list[str]:
    """The words on ``line`` (1-based) and up to ``reach`` lines before and after, hyphens joined."""
    block = "\n".join(lines[max(0, line - 1 - reach) : line + reach])
    return words(block) + words(re.sub(r"-\n\s*", "", block))


def actions(gold: Gold) -> Iterator[tuple[int, dict[str, Any]]]:
    """Every labelled action with its line."""
    for procedure in gold["procedures"]:
        for step in procedure["steps"]:
            for action in step["actions"]:
                yield step["line"], action


def count_is_said(count: int, block: list[str]) -> bool:
    """Whether a number stands among the words: word, digit, "x4"."""
    forms = {
        str(count),
        f"x{count}",
        f"{count}x",
        *(word.rstrip("s") for word in HEARD_AS.get(count, ())),
    }
    forms.add(NUMBERS[count].rstrip("s"))
    return count == 1 or not forms.isdisjoint(block)


def procedure_misfits(procedure: dict[str, Any], lines: list[str]) -> Iterator[str]:
    """What in a procedure's own entries does not fit the text."""
    line = procedure["line"]
    if not 1 <= line <= len(lines):
        yield f"no line {line}"
    elif not set(words(procedure["heading"])) <= set(around(lines, line, 0)):
        yield f"the heading is not on line {line}"
    if procedure["kind"] not in KINDS:
        yield f"kind {procedure['kind']}"
    for needed in procedure["prerequisites"]:
        near = around(lines, needed.get("line", line), 2)
        if needed["type"] not in {"procedure", "part", "state"}:
            yield f"type of {needed}"
        if set(words(needed["part"])).isdisjoint(near):
            yield f"{needed} is not said there"


def action_misfits(line: int, action: dict[str, Any], lines: list[str]) -> Iterator[str]:
    """What in an action does not fit the text."""
    if action["class"] not in CLASSES:
        yield f"no class {action['class']}"
    if not 1 <= line <= len(lines):
        yield "no such line"
        return
    if not set(words(action["surface"])) <= set(around(lines, line, 1)):
        yield f"{action['surface']!r} is not there"
    near = around(lines, line, NEARBY)
    if set(words(action["object"])).isdisjoint(near):
        yield "the object is not named nearby"
    count = action.get("count")
    if isinstance(count, int) and "note" not in action and not count_is_said(count, near):
        yield f"the count {count} is not said nearby"
    named = set(around(lines, 1, len(lines)))
    for joined in action.get("joins", []):
        if "(implied)" not in joined and not set(words(joined)) <= named:
            yield f"joins {joined!r}, which the text never names"


def misfits(gold: Gold, lines: list[str]) -> list[str]:
    """What in a label file does not fit its text."""
    return [
        f"{procedure['id']} {procedure['part']}: {what}"
        for procedure in gold["procedures"]
        for what in procedure_misfits(procedure, lines)
    ] + [
        f"line {line} {action['object']}: {what}"
        for line, action in actions(gold)
        for what in action_misfits(line, action, lines)
    ]


def test_there_are_enough_texts_and_layouts() -> None:
    """At least ten labelled texts, each listed with its layout; five are held back."""
    listed = re.findall(r"^\| `([^`]+)` \|.*\| (tuning|\*\*held back\*\*) \|$",
                        (TEXTS / "README.md").read_text(encoding="utf-8"), re.MULTILINE)  # fmt: skip
    assert sorted(name for name, _ in listed) == sorted(load(path)[0]["text"] for path in GOLDS)
    assert len(listed) >= 10
    assert sum(use != "tuning" for _, use in listed) == HELD_BACK
    assert ("bench-talk.txt", "**held back**") in listed


@pytest.mark.parametrize("path", GOLDS, ids=lambda path: path.name.removesuffix(".gold.json"))
def test_labels_fit_their_text(path: Path) -> None:
    """Every line exists, every class is legal, every labelled word stands where the label says."""
    assert misfits(*load(path)) == []


@pytest.mark.parametrize("path", GOLDS, ids=lambda path: path.name.removesuffix(".gold.json"))
def test_steps_follow_the_text(path: Path) -> None:
    """Within a procedure labels go down the page, and procedures follow one another."""
    gold, _ = load(path)
    starts = [procedure["line"] for procedure in gold["procedures"]]
    assert starts == sorted(starts)
    for procedure in gold["procedures"]:
        rows = [procedure["line"], *(step["line"] for step in procedure["steps"])]
        assert rows == sorted(rows), procedure["id"]


@pytest.mark.parametrize("path", GOLDS, ids=lambda path: path.name.removesuffix(".gold.json"))
def test_labels_moved_by_three_lines_do_not_fit(path: Path) -> None:
    """The check above can fail: shifted labels are found out."""
    gold, lines = load(path)
    total = sum(1 for _ in actions(gold))
    for procedure in gold["procedures"]:
        for step in procedure["steps"]:
            step["line"] += 3
    assert len(misfits(gold, lines)) > total / 2


def test_label_files_have_the_shape_of_the_reference() -> None:
    """Same keys at the top, in procedures and in steps as the labels of the real texts."""
    if not REFERENCE.exists():
        pytest.skip("the reference labels do not lie beside this checkout")
    model = json.loads(REFERENCE.read_text(encoding="utf-8"))
    for path in GOLDS:
        gold, _ = load(path)
        assert set(gold) == set(model), path.name
        assert gold["verb_classes"] == model["verb_classes"]
        for procedure in gold["procedures"]:
            assert set(procedure) <= set(model["procedures"][0]), path.name


def test_planted_faults_are_those_of_the_labels() -> None:
    """The list for the audit and the labels name the same faults, on lines that exist."""
    planted = json.loads((TEXTS / "planted.json").read_text(encoding="utf-8"))
    from_labels = [
        (gold["text"], fault["kind"], fault["detail"], tuple(fault["lines"]))
        for gold, _ in map(load, GOLDS)
        for fault in gold["contradictions"]
    ]
    assert sorted(from_labels) == sorted(
        (fault["text"], fault["kind"], fault["description"], tuple(fault["lines"]))
        for fault in planted
    )
    for fault in planted:
        size = len((TEXTS / fault["text"]).read_text(encoding="utf-8").splitlines())
        assert fault["line"] == fault["lines"][0]
        assert all(1 <= line <= size for line in fault["lines"])


def test_the_talk_lasts_half_an_hour() -> None:
    """Its last line begins after 29 minutes, its times never run backwards, every line has one."""
    rows = (TEXTS / "bench-talk.txt").read_text(encoding="utf-8").splitlines()
    times = [re.match(r"\[(\d+):([0-5]\d)\] \S", row) for row in rows]
    seconds = [int(time[1]) * 60 + int(time[2]) for time in times if time]
    assert len(seconds) == len(rows)
    assert seconds == sorted(seconds)
    assert seconds[-1] >= 29 * 60
