"""What a text says is not lost on the way into the draft, and an answer that does not fit is refused."""

from __future__ import annotations

import pytest

from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.device_draft import Answer, Draft, draft_device
from lastscrew.reading.sources import open_source

VALIDATOR = """Stroma V3 ticket validator

Before you begin
- Switch off the validator and unplug the supply lead.

Removing the front door

1. Unlock the two quarter-turn fasteners.
2. Disconnect the display lead from the control board.
3. Lift the front door off the chassis.

Removing the reader

1. Remove the front door.
2. Remove the three M3x8 screws that secure the reader to the chassis.
3. Lift out the reader.

Removing the control board

1. Remove the front door.
2. Remove the reader.
3. Disconnect the supply lead from the control board.
4. Remove the five M3x6 screws that secure the control board to the chassis.
5. Lift out the control board.
"""

CIRCLE = """Removing the lid

1. Remove the base.
2. Remove the two M3x6 screws that hold the lid to the frame.
3. Lift off the lid.

Removing the base

1. Remove the lid.
2. Remove the three M3x8 screws that hold the base to the frame.
3. Lift off the base.

Removing the fan

1. Remove the base.
2. Remove the two M2x4 screws that hold the fan to the frame.
3. Lift out the fan.
"""


def draft_of(text: str, answers: dict[str, Answer] | None = None) -> Draft:
    """The draft of a text."""
    lexicon = load_lexicon()
    reading = read(open_source(text.encode(), "a.txt"), lexicon)
    return draft_device(reading, lexicon, answers=answers)


def test_fasteners_that_are_unlocked_hold_a_part() -> None:
    """A quarter-turn fastener is a joint although nothing is unscrewed."""
    device = draft_of(VALIDATOR).device
    latch = device.joints["front_door_fasteners"]
    assert (latch.kind, latch.count) == ("latch", 2)
    order = [step.joint for step in plan(device, Request(replace=("front_door",))).way_in]
    assert "front_door_fasteners" in order


def test_a_lead_with_two_ends_leaves_the_order_alone() -> None:
    """The supply lead is pulled before the reader, and its inner end lies under it: no circle, nothing dropped."""
    draft = draft_of(VALIDATOR)
    device = draft.device
    assert device.joints["reader_screws"].accesses[0].under == ("front_door",)
    assert device.joints["supply_plug"].accesses[0].under == ("front_door", "reader")
    assert [j.id for j in device.joints.values() if j.isolates] == ["supply_lead_plug"]
    assert "isolates" in [question.id for question in draft.reading.questions]


def test_a_circle_costs_one_piece_of_the_order_and_is_told() -> None:
    """Lid and base ask for each other: one of them gives way, and the fan still lies under the base."""
    draft = draft_of(CIRCLE)
    under = {j.id: j.accesses[0].under for j in draft.device.joints.values()}
    assert under["lid_screws"] == ("base",)
    assert under["base_screws"] == ()
    assert under["fan_screws"] == ("base",)
    assert [f.line for f in draft.reading.findings if f.code == "order_left_out"] == [10]


def test_a_cover_that_the_text_never_takes_off_is_told_in_the_plan() -> None:
    """The main cover is asked for, and no step says how: the plan says so before the work that needs it."""
    text = VALIDATOR.replace(
        "1. Remove the front door.\n2. Remove the three",
        "Prerequisites: main cover off.\n\n1. Remove the three",
    )
    (act,) = [a for a in draft_of(text).device.acts.values() if "main cover" in a.text]
    assert act.at == "start"
    assert set(act.when_opened) == {"reader_screws", "reader_seat"}


def test_a_door_on_pins_that_stay_has_to_come_off() -> None:
    """No step takes the hinge pins off, so they hold the door to the machine, and the plan lifts it off them."""
    text = VALIDATOR.replace("front door off the chassis", "front door off its hinge pins")
    device = draft_of(text).device
    order = [step.joint for step in plan(device, Request(replace=("reader",))).way_in]
    assert {"front_door_fasteners", "front_door_seat"} <= set(order)
    assert "hinge_pin_seat" not in order


def test_two_parts_in_one_line_are_both_off_before() -> None:
    """As in "front door and reader removed"."""
    text = VALIDATOR.replace(
        "Removing the control board\n\n1. Remove the front door.\n2. Remove the reader.\n3.",
        "Removing the control board\n\nPrerequisites: front door and reader removed.\n\n1.",
    )
    device = draft_of(text).device
    assert device.joints["control_board_screws"].accesses[0].under == ("front_door", "reader")
    assert not any("Take off first" in act.text for act in device.acts.values())


@pytest.mark.parametrize(
    "said", ["If installed, remove the reader.", "Remove the reader, if installed."]
)
def test_what_not_every_unit_has_is_an_option(said: str) -> None:
    """Wherever in the sentence it is said."""
    text = VALIDATOR.replace("3. Lift out the reader.", f"3. {said}")
    assert draft_of(text).device.joints["reader_seat"].if_fitted == "reader"


def test_a_supply_goes_where_the_sentence_says() -> None:
    """New paste under a board is used up when the board goes back."""
    text = (
        VALIDATOR + "\nReassembly is the reverse. Use new thermal paste under the control board.\n"
    )
    renewed = {j.id: dict(j.renew) for j in draft_of(text).device.joints.values() if j.renew}
    assert renewed == {"control_board_seat": {"thermal_paste": 1.0}}


@pytest.mark.parametrize(
    ("question", "answer", "wrong"),
    [
        ("isolates", "nonsense", "no joint of this draft"),
        ("side", 7, "no text"),
        ("under.reader_screws", ["moon"], "does not have: moon"),
        ("under.reader_screws", "front door", "no list"),
        ("fastener.reader_screws", "blue", "neither a size nor a drive"),
        ("joins.reader_screws", ["reader", "Reader"], "fewer than two"),
    ],
)
def test_an_answer_of_the_wrong_kind_is_refused(question: str, answer: Answer, wrong: str) -> None:
    """It would else be taken for an answer, and its question would be gone."""
    with pytest.raises(InputError, match=wrong):
        draft_of(VALIDATOR, {question: answer})


def test_all_wrong_answers_are_told_at_once() -> None:
    """Also those that fit no question."""
    with pytest.raises(InputError) as caught:
        draft_of(VALIDATOR, {"isolates": "nix", "side": 7, "count.moon": 3})
    assert [p.path for p in caught.value.problems] == ["side", "isolates", "count.moon"]


def test_a_cord_can_be_answered_to_take_the_power_away() -> None:
    """What is assumed may also be answered, and then it is no question any more."""
    draft = draft_of(VALIDATOR, {"isolates": "supply_lead_plug"})
    assert draft.device.joints["supply_lead_plug"].isolates
    assert "isolates" not in [question.id for question in draft.reading.questions]


@pytest.mark.parametrize("part", ["X-axis motor", "hand", "unknown"])
def test_a_name_that_the_format_keeps_for_itself_is_a_part_all_the_same(part: str) -> None:
    """A name such as "X axis" would be an extension, "hand" a word of the format: the part stands in the draft."""
    text = f"# Removing the {part}\n1. Undo the two screws of the {part}.\n2. Remove the {part}.\n"
    parts = draft_of(text).device.parts.values()
    assert part.lower() in {other.name.lower() for other in parts}


def test_a_part_without_a_word_still_has_a_name() -> None:
    """A thing of which nothing but its number is left is called a part, and the draft is valid."""
    text = (
        "| a | b |\n| pump them # 99999999 99999999 |\n- peel M3 pump / |\n1. 1. is cover!\n2. them her:\n"
        "- wall has push is wipe without pull fresh:\n- and 0.6 after ; she film her is 1) halves a is."
    )
    reading = read(open_source(text.encode(), "a.vtt"), load_lexicon())
    assert "Part" in {
        part.name for part in draft_device(reading, load_lexicon()).device.parts.values()
    }
