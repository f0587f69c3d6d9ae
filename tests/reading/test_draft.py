"""The draft of a device file: valid, plans, says where every value came from, keeps answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from lastscrew.device.reading import read_device
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.device_draft import Answer, Draft, draft_device, read_answers
from lastscrew.reading.naming import plain, unify
from lastscrew.reading.sources import open_source

TEXTS = sorted(Path(__file__).with_name("texts").iterdir())
SAMPLE = """Opening the unit

1. Remove the seven M2x5 Phillips #1 screws that secure the bottom cover to the chassis.
2. Lift the bottom cover off.
3. Unplug the battery cable from the main board.

Removing the fan

Prerequisites
- Remove the bottom cover.

1. Unplug the fan cable from the main board.
2. Remove the screws that hold the fan to the chassis.
3. Lift out the blower.
"""


def draft_of(
    text: str, answers: dict[str, Answer] | None = None, keep: tuple[str, ...] = ()
) -> Draft:
    lexicon = load_lexicon()
    return draft_device(
        read(open_source(text.encode(), "sample.txt"), lexicon),
        lexicon,
        answers=answers,
        keep_apart=keep,
    )


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.name)
def test_every_draft_is_valid_and_plans(path: Path) -> None:
    lexicon = load_lexicon()
    draft = draft_device(read(open_source(path.read_bytes(), path.name), lexicon), lexicon)
    assert read_device(draft.text).errors == ()
    for part in draft.device.parts.values():
        if not part.fixed:
            assert plan(draft.device, Request(replace=(part.id,))).proven


def test_what_is_said_stands_there_with_its_line() -> None:
    device = draft_of(SAMPLE).device
    cover = device.joints["bottom_cover_screws"]
    assert (cover.count, cover.joins) == (7, ("bottom_cover", "chassis"))
    fastener = device.fasteners[cover.fastener or ""]
    assert (fastener.thread, fastener.length_mm, fastener.drive) == ("M2", 5.0, "PH1")
    assert device.fixed_part == "chassis"
    text = draft_of(SAMPLE).text
    assert "# line 3" in text


def test_what_is_not_said_is_unknown_and_asked() -> None:
    draft = draft_of(SAMPLE)
    fan = draft.device.joints["fan_screws"]
    assert {"count", "fastener"} <= set(fan.unknown)
    asked = [question.id for question in draft.reading.questions]
    assert "count.fan_screws" in asked
    assert (
        asked.index("fixed") < asked.index("count.fan_screws") < asked.index("fastener.fan_screws")
    )


def test_the_battery_plug_isolates() -> None:
    device = draft_of(SAMPLE).device
    assert [joint.id for joint in device.joints.values() if joint.isolates] == ["battery_plug"]
    assert device.parts["battery"].energy


def test_prerequisites_lie_over_what_they_cover() -> None:
    device = draft_of(SAMPLE).device
    assert "bottom_cover" in device.joints["fan_screws"].accesses[0].under


def test_one_name_for_one_thing_and_its_refusal() -> None:
    merged = draft_of(SAMPLE)
    assert "blower" not in merged.device.parts
    assert ("blower", "fan") in [(one, other) for one, other, _ in merged.reading.merges]
    apart = draft_of(SAMPLE, keep=("blower=fan",))
    assert "blower" in apart.device.parts


def test_answers_are_kept_and_their_questions_gone() -> None:
    answers: dict[str, Answer] = {
        "count.fan_screws": 3,
        "fastener.fan_screws": "M2.5x8 PH0",
        "side": "top",
        "fixed": "chassis",
    }
    draft = draft_of(SAMPLE, answers)
    fan = draft.device.joints["fan_screws"]
    assert (fan.count, fan.unknown, fan.accesses[0].side) == (3, (), "top")
    assert draft.device.fasteners[fan.fastener or ""].length_mm == 8
    asked = {question.id for question in draft.reading.questions}
    assert not asked & set(answers)


def test_an_answer_to_no_question_is_refused() -> None:
    with pytest.raises(InputError, match="no question"):
        draft_of(SAMPLE, {"count.nothing": 4})
    with pytest.raises(InputError, match="whole number"):
        draft_of(SAMPLE, {"count.fan_screws": "many"})


@pytest.mark.parametrize("text", ["- a\n- b\n", "a: [1, {b: 2}]\n", "a: {b\n"])
def test_answers_that_are_no_mapping_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_answers(text, "answers.yaml")


def test_a_text_without_joints_gives_no_draft() -> None:
    with pytest.raises(InputError, match="opens a joint"):
        draft_of("Cleaning the unit\n\n1. Wipe the glass.\n")


def test_plain_names() -> None:
    assert plain("the old Fan assemblies") == "fan"
    assert plain("New display boards") == "display board"


def test_things_named_in_one_breath_are_never_merged() -> None:
    text = "Removing it\n\n1. Remove the cover and the lid.\n2. Unplug the fan and the blower.\n"
    reading = read(open_source(text.encode(), "a.txt"))
    assert unify(reading.procedures).merges == []


def test_the_same_text_gives_the_same_draft() -> None:
    assert draft_of(SAMPLE).text == draft_of(SAMPLE).text
