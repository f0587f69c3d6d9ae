"""What is said in passing in a talk: what must be off before, turns to the next part, what holds what, how many.

``spoken.txt`` holds the sentences and what a careful listener makes of them; the wordings are our own. Each stands in
a talk between a part that was taken out before and one that comes out next.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks.reading import same_name
from lastscrew.reading import Procedure, Reading, read
from lastscrew.reading.asked_by_rule import power_states
from lastscrew.reading.document import numbered
from lastscrew.reading.model import Source

TABLE = Path(__file__).with_name("spoken.txt")
BEFORE = (
    "So first the bottom cover. There's five screws in it, take them out and lift the cover off.",
    "Next up is the battery. Unplug the battery cable from the main board and take out its two screws.",
    "Then the battery comes out.",
)
HERE = len(BEFORE) + 1
"""Line of the sentence that is asked about, or of the announcement before it."""


def heard(*lines: str) -> Reading:
    return read(Source("talk", "text", numbered([*BEFORE, *lines]), spoken=True))


def rows(kind: str) -> list[tuple[str, str, tuple[str, ...]]]:
    """Sentences of one kind: (sentence, part spoken of, what is expected)."""
    found: list[tuple[str, str, list[str]]] = []
    current = ""
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        if line.startswith("# ") and " " not in line[2:]:
            current = line[2:]
        elif current == kind and line.startswith("> "):
            sentence, _, part = (
                line[2:].rpartition(" (") if line.endswith(")") else (line[2:], "", "")
            )
            found.append((sentence, part.rstrip(")"), []))
        elif current == kind and line.startswith("  "):
            found[-1][2].append(line.strip())
    return [(sentence, part, tuple(expected)) for sentence, part, expected in found]


def asked(procedures: tuple[Procedure, ...]) -> list[tuple[str, str]]:
    return [
        (item.kind, item.text)
        for procedure in procedures
        for item in procedure.prerequisites
        if item.line >= HERE
    ]


@pytest.mark.parametrize(
    ("sentence", "part", "expected"), rows("before"), ids=lambda v: str(v)[:50]
)
def test_what_must_be_off_is_heard_in_passing(
    sentence: str, part: str, expected: tuple[str, ...]
) -> None:
    reading = heard(
        f"Next is the {part}.",
        sentence,
        f"So there are two screws holding the {part} down. Take those two out. Then lift the {part} out.",
    )
    found = asked(reading.procedures)
    wanted = [tuple(row.split(": ", 1)) for row in expected]
    assert len(found) == len(wanted), found
    for kind, name in wanted:
        assert any(kind == k and same_name(text, name) for k, text in found), found


@pytest.mark.parametrize(("sentence", "part", "expected"), rows("turns"), ids=lambda v: str(v)[:50])
def test_a_talk_turns_to_the_next_part(sentence: str, part: str, expected: tuple[str, ...]) -> None:
    assert expected == ()
    reading = heard(
        sentence, "There are two screws in here. Take those two out. Then it lifts out."
    )
    last = reading.procedures[-1]
    assert part in last.part.lower()
    assert [action.klass for action in last.actions() if action.fastener] == ["remove"]


@pytest.mark.parametrize(("sentence", "part", "expected"), rows("links"), ids=lambda v: str(v)[:50])
def test_what_holds_what_is_told_in_other_words(
    sentence: str, part: str, expected: tuple[str, ...]
) -> None:
    reading = heard(f"Okay, next is the {part}.", sentence, "Now we lift it out.")
    joins = [a.joins for p in reading.procedures for a in p.actions() if a.line == HERE + 1]
    wanted = expected[0].split(" + ")
    assert any(all(any(same_name(w, n) for n in names) for w in wanted) for names in joins), joins


@pytest.mark.parametrize(
    ("sentence", "part", "expected"), rows("counts"), ids=lambda v: str(v)[:50]
)
def test_screws_are_counted_out_over_a_sentence(
    sentence: str, part: str, expected: tuple[str, ...]
) -> None:
    reading = heard(f"Okay, next is the {part}.", sentence, "Now we lift it out.")
    counts = [
        a.count
        for p in reading.procedures
        for a in p.actions()
        if a.line == HERE + 1 and a.klass == "remove" and a.fastener
    ]
    assert counts == [int(expected[0])]


def ordered(reading: Reading, first: int) -> tuple[str, ...]:
    """Class, last noun and count of each action from a line on."""
    return tuple(
        f"{a.klass} {a.things[-1].head}" + (f" x{a.count}" if a.count is not None else "")
        for p in reading.procedures
        for a in p.actions()
        if a.line >= first and a.klass != "other"
    )


@pytest.mark.parametrize(
    ("sentence", "part", "expected"), rows("orders"), ids=lambda v: str(v)[:50]
)
def test_a_speaker_orders_in_other_words(
    sentence: str, part: str, expected: tuple[str, ...]
) -> None:
    reading = heard(f"Okay, next is the {part}.", *sentence.split(" | "))
    assert ordered(reading, HERE + 1) == expected


@pytest.mark.parametrize(("sentence", "part", "expected"), rows("back"), ids=lambda v: str(v)[:50])
def test_the_way_back_is_told_in_scraps(
    sentence: str, part: str, expected: tuple[str, ...]
) -> None:
    assert not part
    reading = heard(
        "Okay, next is the wheel. Take the bar off, that's two bolts.",
        "Undo the strap. Undo the nut and pull the wheel off.",
        "Then pull the rain sensor plug off the board.",
        "Right, now it all goes back together.",
        sentence,
    )
    assert ordered(reading, HERE + 4) == expected


@pytest.mark.parametrize(
    ("sentence", "state"),
    [
        ("So it comes off the mains.", "off the mains"),
        ("And it's not on charge?", "not on charge"),
        ("Key's out, yes?", "Key's out"),
        ("The main switch underneath here goes to off.", "main switch underneath here goes to off"),
        ("I hold the button down till the screen goes dark.", "screen goes dark"),
        ("And you've all drained the tanks, I hope.", "drained the tanks"),
        ("The breaker's off, I've checked.", "breaker's off"),
        ("So, machine off, properly off.", "machine off"),
        ("It's off at the wall, by the way.", "off at the wall"),
    ],
)
def test_a_state_of_the_machine_is_heard_before_the_work(sentence: str, state: str) -> None:
    """What takes the power away, and what is drained, in a speaker's words."""
    found = [row.text for item in power_states(sentence, later=False) for row in item.required]
    assert len(found) == 1
    assert state in found[0]


@pytest.mark.parametrize(
    "sentence",
    [
        "You don't need the battery out for this one.",
        "If you want the battery out, watch the next part.",
        "The battery can stay where it is.",
        "There are three screws, and with those out it comes loose.",
        "Leave the battery alone.",
    ],
)
def test_what_may_stay_is_not_asked_for(sentence: str) -> None:
    reading = heard("Next is the fan.", sentence, "Take out the two screws and lift the fan out.")
    assert asked(reading.procedures) == []


def test_on_the_way_back_scraps_without_a_verb_are_orders() -> None:
    reading = heard("Right, back together. Battery in, two screws, cover on, five screws, done.")
    refit = [a for p in reading.procedures if p.kind == "refit" for a in p.actions()]
    assert [(a.klass, a.things[-1].head, a.count) for a in refit] == [
        ("replace", "battery", None),
        ("tighten", "screw", 2),
        ("replace", "cover", None),
        ("tighten", "screw", 5),
    ]


def test_slips_of_recognition_are_read_as_what_was_said() -> None:
    reading = heard(
        "Next the heat sync. There are to screws, take out both of them. Then the bored comes out."
    )
    names = [a.object.lower() for p in reading.procedures for a in p.actions() if a.line == HERE]
    assert names[-1].endswith("board")
    assert any(a.count == 2 for p in reading.procedures for a in p.actions() if a.line == HERE)


def test_the_table_is_large_enough_to_mean_something() -> None:
    assert len(rows("before")) >= 60
    assert len(rows("turns")) >= 45
    assert len(rows("links")) >= 30
    assert len(rows("orders")) >= 25
    assert len(rows("back")) >= 14
