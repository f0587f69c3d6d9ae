"""A draft of a device file from what was read.

Every value has a comment: the line it came from, or that it was inferred and why. What the text does
not say is ``unknown``, and is listed as an open question. The draft is a valid device file that plans.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from lastscrew.device.model import Device
from lastscrew.device.names import device_id_from_name
from lastscrew.device.reading import read_device
from lastscrew.device.writing import write_device
from lastscrew.problems import InputError, Problem
from lastscrew.reading.described import device_of_chapter, find_chapter
from lastscrew.reading.draft_circles import break_circles
from lastscrew.reading.draft_joints import gather_joints
from lastscrew.reading.draft_questions import questions_of
from lastscrew.reading.draft_values import device_of
from lastscrew.reading.draft_workshop import JointDraft, Workshop
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Finding, Question, Reading
from lastscrew.reading.naming import Names, unify


@dataclass(frozen=True, slots=True)
class Draft:
    """The text of a device file, the device that it says, and the reading with its questions."""

    text: str
    device: Device
    reading: Reading


Answer = str | int | float | bool | list[str]


def draft_device(
    reading: Reading,
    lexicon: Lexicon,
    *,
    answers: Mapping[str, Answer] | None = None,
    keep_apart: Iterable[str] = (),
) -> Draft:
    """Build the draft.

    Where the text tells the whole machine in a chapter of plain sentences, that chapter is the draft, exactly.

    Args:
        reading: What was read.
        lexicon: The word lists that were used.
        answers: Answers to open questions by their id.
        keep_apart: Pairs ``A=B`` of names that are not the same thing.

    Raises:
        InputError: The text holds no step from which a joint could be made, or an answer fits no question. A
            chapter that tells the whole machine contradicts itself.
    """
    if chapter := find_chapter(reading.source):
        if answers:
            raise InputError(_stray(name, ()) for name in sorted(answers))
        text, device = device_of_chapter(chapter, reading.source.name)
        return Draft(text, device, reading)
    given = dict(answers or {})
    names = unify(reading.procedures, _extra_names(reading), keep_apart)
    workshop = Workshop(reading, lexicon, names, given)
    joints = gather_joints(workshop)
    if not joints:
        raise InputError(
            [
                Problem(
                    "No step of this text opens a joint, so there is nothing to build a device file from.",
                    "Give the text of a removal.",
                    code="no_joint",
                    file=reading.source.name,
                )
            ]
        )
    return _finish(workshop, joints, names)


def _extra_names(reading: Reading) -> list[str]:
    names = [procedure.part for procedure in reading.procedures]
    return names + [
        item.text
        for procedure in reading.procedures
        for item in procedure.prerequisites
        if item.kind == "part" and not item.inferred
    ]


def _finish(workshop: Workshop, joints: list[JointDraft], names: Names) -> Draft:
    """Write, read back, and take away what can't be reached, until the file is valid."""
    left_out: list[Finding] = []
    for _ in range(sum(len(joint.under) + len(joint.after) for joint in joints) + 3):
        device, comments = device_of(workshop, joints)
        if workshop.problems:
            strays = sorted(set(workshop.answers) - workshop.answered)
            raise InputError([*workshop.problems, *(_stray(name, None) for name in strays)])
        text = write_device(device, comments)
        result = read_device(text, "draft")
        if result.device is not None:
            break
        broken = break_circles(joints, device, result.errors)
        if not broken:
            raise InputError(result.errors)
        left_out += broken
    assert result.device is not None
    questions = questions_of(workshop, joints, result.device)
    unknown = sorted(set(workshop.answers) - workshop.answered)
    if unknown:
        raise InputError(_stray(name, questions) for name in unknown)
    merged = [
        Finding(
            "one_name",
            "note",
            workshop.reading.procedures[0].line,
            f'"{one}" and "{other}" are read as one thing: {why}.',
            f'If they are two, say --keep-apart "{one}={other}".',
        )
        for one, other, why in names.merges
    ]
    reading = replace(
        workshop.reading,
        questions=questions,
        merges=tuple(names.merges),
        findings=(*workshop.reading.findings, *merged, *left_out),
    )
    return Draft(text, result.device, reading)


def _stray(name: str, questions: tuple[Question, ...] | None) -> Problem:
    """``questions`` is None where they are not known yet."""
    known = ", ".join(question.id for question in (questions or ())[:6])
    remedy = f"The open questions are {known} …" if known else "Nothing is left open."
    return Problem(
        f"There is no question '{name}'.",
        remedy if questions is not None else "Take it out.",
        path=name,
        code="unknown_answer",
    )


def read_answers(text: str, name: str) -> dict[str, Answer]:
    """Answers as a mapping of question ids to values.

    Raises:
        InputError: It is no YAML mapping of plain values.
    """
    try:
        data = YAML(typ="safe", pure=True).load(text)
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark is not None else None
        raise InputError(
            [
                Problem(
                    "The answers are no YAML.",
                    "Write 'question id: answer', one a line.",
                    file=name,
                    line=line,
                )
            ]
        ) from error
    if data is None:
        return {}
    if not isinstance(data, dict):
        raise InputError(
            [
                Problem(
                    "The answers are no mapping.",
                    "Write 'question id: answer', one a line.",
                    file=name,
                )
            ]
        )
    problems = []
    answers: dict[str, Answer] = {}
    for key, value in data.items():
        if isinstance(value, str | int | float | bool) or (
            isinstance(value, list) and all(isinstance(item, str) for item in value)
        ):
            answers[str(key)] = value
        else:
            problems.append(
                Problem(
                    "An answer is a text, a number or a list of texts.",
                    "Write it so.",
                    path=str(key),
                    file=name,
                )
            )
    if problems:
        raise InputError(problems)
    return answers


def draft_id(reading: Reading) -> str:
    """Id of the device that a draft describes."""
    return device_id_from_name(reading.title or reading.source.name or "device")
