"""Forms in which texts tell prerequisites, counts and halves apart from the step itself; wordings are our own."""

from __future__ import annotations

import pytest

from lastscrew.reading import Procedure, Reading, read
from lastscrew.reading.sources import open_source
from lastscrew.reading.threads import title_of

STEPS = "\n\n1. Unplug the fan cable.\n2. Remove the two screws.\n"


def reading_of(text: str) -> Reading:
    return read(open_source(text.encode(), "text.txt"))


def before(procedure: Procedure) -> list[tuple[str, str]]:
    return [(row.kind, row.text.lower()) for row in procedure.prerequisites if not row.inferred]


@pytest.mark.parametrize(
    ("lead", "expected"),
    [
        (
            'For access, remove these units in order:\n- "1010 Base cover"\n- "1020 Built-in battery pack"',
            [("part", "base cover"), ("part", "built-in battery pack")],
        ),
        (
            "Before you begin, remove: a) bottom cover b) battery",
            [("part", "bottom cover"), ("part", "battery")],
        ),
        (
            "▶ Bottom cover removal\n▶ Battery removal",
            [("part", "bottom cover"), ("part", "battery")],
        ),
        ("Need first: bottom case takes up.", [("part", "bottom case")]),
        ("You need to have done: Lid, Battery.", [("part", "lid"), ("part", "battery")]),
        (
            "Verify that the module LED is off before you start.",
            [("state", "the module led is off")],
        ),
        ("Park the head before you start.", [("state", "park the head")]),
    ],
)
def test_what_comes_before_is_read_in_every_form(
    lead: str, expected: list[tuple[str, str]]
) -> None:
    """A list, lettered items, arrows, a translated label, a light that is out: parts and states."""
    reading = reading_of(f"Removing the fan\n\n{lead}{STEPS}")
    assert before(reading.procedures[0]) == expected


def test_a_latch_that_stands_open_is_no_prerequisite() -> None:
    """How a latch stands is part of the work."""
    reading = reading_of(
        "Installing the module\n\n1. Make sure that both ejectors are open.\n2. Push the module into the slot.\n"
    )
    assert before(reading.procedures[0]) == []


def test_a_list_of_states_is_parted() -> None:
    """Three things asked for in one sentence are three states."""
    reading = reading_of(
        "Memory\n\nBefore you begin\n"
        "Turn the computer off, disconnect the power cord, and wait until the lamp is dark.\n\n"
        "Removal\n1. Undo the two screws.\n"
    )
    assert [kind for kind, _ in before(reading.procedures[0])] == ["state"] * 3
    assert reading.procedures[0].part == "Memory"


def test_rows_of_a_table_beneath_a_step_add_up() -> None:
    """Two kinds of screws of one step are counted together; of one kind the size is taken too."""
    table = "\n\nStep   Screw (quantity)   Torque\n{}\n\n2. Lift the board.\n"
    both = table.format("1      M2 x 3, bind (4)    1.9\n1      M2 x 2, flat (2)    1.2")
    one = table.format("1      M2.5 x 6 (5)       3.0")
    for rows, count, size in ((both, 6, ""), (one, 5, "M2.5x6")):
        reading = reading_of(f"Removing the board\n\n1. Remove the screws.{rows}")
        screws = reading.procedures[0].steps[0].actions[0]
        assert (screws.count, screws.size) == (count, size)


def test_words_before_a_colon_open_the_other_half() -> None:
    """A paragraph that begins "When installing:" is the way back, a single hint is none."""
    text = "Fan removal\n\n1. Unplug the fan.\n2. Remove the two screws.\n\nWhen installing: "
    halves = reading_of(text + "Put the fan in and secure it with the two screws.").procedures
    assert [(row.part, row.kind) for row in halves] == [("Fan", "removal"), ("Fan", "refit")]
    hint = reading_of(text + "Make sure that the fan turns freely.").procedures
    assert [row.kind for row in hint] == ["removal"]


THREAD = """[#1] rowan, 3 March
My mixer rattles. I already took the foot off (2 screws). How do I get the motor out?

[#2] sorrel, 3 March
The lid has to come off first.
1) Remove the four screws.
2) Lift the motor out.

[#3] rowan, 4 March
Quote from sorrel: "Lift the motor out."
So the motor's out. How does it go back?

[#4] sorrel, 4 March
Put the motor in and tighten the four screws.
"""


def test_a_thread_tells_only_what_its_answers_say() -> None:
    """What was tried and what is quoted is no step; a question names the work of the answer behind it."""
    reading = reading_of(THREAD)
    rows = [(p.kind, [(a.klass, a.count) for a in p.actions()]) for p in reading.procedures]
    assert [kind for kind, _ in rows] == ["removal", "refit"]
    assert ("remove", 2) not in rows[0][1]
    assert ("remove", 4) in rows[0][1]
    assert ("tighten", 4) in rows[1][1]
    assert ("part", "lid") in before(reading.procedures[0])
    reasons = {row.line: row.reason for row in reading.lines}
    assert reasons[10] == "quotation"


@pytest.mark.parametrize(
    ("post", "title"),
    [
        (
            "So the baffle's off. How do I get the socket out?",
            "Removing the socket (baffle removed)",
        ),
        ("Got the new one. How does it go back?", "Reassembly"),
        ("Same machine, but I want to swap the hard disk. Is that hard?", "Hard disk replacement"),
        ("Silent now, thanks!", ""),
    ],
)
def test_a_question_becomes_a_title(post: str, title: str) -> None:
    """The work that is asked for, with what is said to be off already."""
    assert title_of(post) == title


def test_letters_between_short_heads_are_no_card() -> None:
    """A thread in running text is not rewritten as if it were a card of abbreviations."""
    line = "You take the lid off the base and then you lift the fan out of the housing with both hands.\n\n"
    heads = "".join(f"[#{k}] name{k % 3}, {k} May\n{line}" for k in range(1, 9))
    reading = reading_of(heads)
    objects = {action.object for p in reading.procedures for action in p.actions()}
    assert objects <= {"lid", "fan"}


@pytest.mark.parametrize(
    ("title", "part", "kind"),
    [
        ("Pressure cooker VK 30 – exchanging the heating element", "heating element", "both"),
        ("Coffee mill: replacing the motor", "motor", "both"),
        ("VK 30 - Removal of the pump", "pump", "removal"),
        ("Mixer KM 5, changing the belt", "belt", "both"),
        ("Fan – removal and refitting", "Fan", "both"),
        ("Fan: removal", "Fan", "removal"),
    ],
)
def test_a_title_may_name_the_machine_before_the_work(title: str, part: str, kind: str) -> None:
    """The name of the machine before a dash, a colon or a comma is no part of the part's name."""
    (procedure,) = reading_of(title + STEPS).procedures
    assert (procedure.part.lower(), procedure.kind) == (part.lower(), kind)


def test_what_kind_a_connector_is_names_no_part() -> None:
    """A spade connector is none of a "spade", a centre nut none of a "centre"."""
    text = (
        "Removing the pump\n\n1. Pull the two spade connectors off the pump.\n"
        "2. Undo the centre nut that holds the pump to the housing.\n"
    )
    joins = {
        name.lower()
        for procedure in reading_of(text).procedures
        for step in procedure.steps
        for action in step.actions
        for name in action.joins
    }
    assert not joins & {"spade", "centre"}
