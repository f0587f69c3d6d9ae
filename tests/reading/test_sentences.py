"""Single sentences: what each orders, by a table of sentences of our own (``sentences.txt``)."""

from __future__ import annotations

from pathlib import Path

import pytest

from lastscrew.reading import Action, Reading, read
from lastscrew.reading.document import numbered
from lastscrew.reading.model import Source

TABLE = Path(__file__).with_name("sentences.txt")
HEADINGS = {"removal": "Removing the unit", "refit": "Installing the unit"}


def read_text(text: str, *, spoken: bool = False) -> Reading:
    return read(Source("text", "text", numbered(text.split("\n")), spoken=spoken))


def as_row(action: Action) -> str:
    row = f"{action.klass} {action.object}"
    if action.count is not None:
        row += f" x{action.count}"
    extra = [
        f"{key}={getattr(action, key)}"
        for key in ("size", "drive", "order")
        if getattr(action, key)
    ]
    if action.optional:
        extra.append("optional")
    if len(action.joins) > 1:
        extra.append("joins=" + " + ".join(action.joins))
    return " ; ".join([row, *extra])


def table() -> list[tuple[str, str, tuple[str, ...]]]:
    rows: list[tuple[str, str, list[str]]] = []
    half = "removal"
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        if line.startswith("# ") and line[2:] in HEADINGS:
            half = line[2:]
        elif line.startswith("> "):
            rows.append((half, line[2:], []))
        elif line.startswith("  "):
            rows[-1][2].append(line.strip())
    return [(half, sentence, tuple(expected)) for half, sentence, expected in rows]


@pytest.mark.parametrize(
    ("half", "sentence", "expected"), table(), ids=lambda value: str(value)[:60]
)
def test_a_sentence_orders_what_the_table_says(
    half: str, sentence: str, expected: tuple[str, ...]
) -> None:
    reading = read_text(f"{HEADINGS[half]}\n\n1. {sentence}")
    found = [as_row(a) for p in reading.procedures for a in p.actions() if a.klass != "other"]
    assert tuple(found) == expected


def test_the_table_is_large_enough_to_mean_something() -> None:
    assert len(table()) >= 200


@pytest.mark.parametrize(
    "sentence",
    [
        "Do not remove the screws.",
        "Never pull on the wires.",
        "Avoid touching the contacts of the board.",
        "You do not need to remove the bracket.",
        "It is not necessary to disconnect the cable.",
        "DO NOT unplug the battery yet.",
        "Removing the cover is not recommended.",
        "You should never disconnect the fan while the unit is running.",
        "The screws do not have to be removed.",
        "There is no need to unscrew the feet.",
        "Removing the seal voids the warranty.",
        "If the drawer does not slide in easily, do not force it; remove it and try again.",
        "Only trained persons may open the cabinet.",
        "You can replace a sled while the others run.",
        "A failed blower can be replaced while the machine runs.",
    ],
)
def test_a_prohibition_orders_nothing(sentence: str) -> None:
    reading = read_text(f"Removing the unit\n\n1. Lift the lid.\n2. {sentence}")
    steps = [step for p in reading.procedures for step in p.steps]
    assert [step.line for step in steps] == [3]
    assert reading.lines[3].state in ("caution", "other")
    assert reading.lines[3].reason


@pytest.mark.parametrize(
    ("sentence", "count"),
    [
        ("Unplug the 20 pin connector.", 1),
        ("Disconnect the 10-way cable.", 1),
        ("Unplug the 4th connector from the left.", 1),
        ("Remove the M3 x 8 screw.", 1),
        ("Remove the screw (4).", 1),
        ("Remove the three screws (4).", 3),
        ("Remove the screws [2].", None),
        ("Remove the 12 screws.", 12),
        ("Remove the twenty-two screws.", 22),
        ("Remove the screws (x4).", 4),
        ("Remove the 6x M3 screws.", 6),
        ("Remove all of the screws.", "all"),
        ("Remove both screws.", 2),
        ("Remove a pair of screws.", 2),
        ("Remove the last two screws.", 2),
        ("Remove the two (2) screws.", 2),
        ("Remove the screws (qty 5).", 5),
    ],
)
def test_sizes_and_callouts_are_no_counts(sentence: str, count: object) -> None:
    reading = read_text(f"Removing the unit\n\n1. {sentence}")
    assert [a.count for p in reading.procedures for a in p.actions()] == [count]


def test_spoken_numbers_are_mended_only_before_fasteners() -> None:
    reading = read_text(
        "so take out the for screws and put them to the side for later", spoken=True
    )
    actions = [a for p in reading.procedures for a in p.actions() if a.klass == "remove"]
    assert [(a.object, a.count) for a in actions] == [("screws", 4)]


def test_a_speaker_who_corrects_himself_is_taken_at_his_last_word() -> None:
    reading = read_text("remove the two no sorry three screws that hold the fan", spoken=True)
    assert [(a.object, a.count) for p in reading.procedures for a in p.actions()] == [
        ("fan screws", 3)
    ]
