"""What a person answered about the joints of a draft, and what is wrong with an answer."""

from __future__ import annotations

import re
from collections.abc import Iterator

from lastscrew.device.names import to_identifier
from lastscrew.problems import Problem
from lastscrew.reading.draft_workshop import JointDraft, Workshop

_TEXTS = ("name", "fixed", "side", "isolates")
_TEXTS_OF_JOINTS = ("side.", "fastener.", "tool.")
_LISTS_OF_JOINTS = ("joins.", "under.")
_SIZE = re.compile(r"^#?M?\d", re.IGNORECASE)
_DRIVE = re.compile(
    r"^(?:ph|pz|jis|t|tx|ip|h|sl|tr)\d{1,3}$|"
    r"phillips|pozi\w*|torx|hexalobular|hex|allen|slot\w*|cross|square|robertson|spanner|tri\w*|penta\w*|socket|flat",
    re.IGNORECASE,
)


def apply_answers(workshop: Workshop, joints: list[JointDraft]) -> None:
    """Take over what was answered about single joints; an answer of the wrong kind goes to ``workshop.problems``."""
    workshop.problems += _of_the_wrong_kind(workshop, joints)
    for joint in joints:
        fastener = workshop.answer(f"fastener.{joint.id}")
        if isinstance(fastener, str):
            words = fastener.split()
            sizes = [word for word in words if _SIZE.match(word)]
            joint.size = sizes[0] if sizes else joint.size
            joint.drive = " ".join(word for word in words if word not in sizes) or joint.drive
            joint.why["fastener"] = "answered"
        tool = workshop.answer(f"tool.{joint.id}")
        if isinstance(tool, str):
            joint.tool = tool
            joint.why["tool"] = "answered"
        joins = workshop.answer(f"joins.{joint.id}")
        if isinstance(joins, list) and len(joins) >= 2:
            joint.joins = list(dict.fromkeys(workshop.part(name, "answered") for name in joins))
            joint.why["joins"] = "answered"
        under = workshop.answer(f"under.{joint.id}")
        if isinstance(under, list):
            joint.under = [workshop.part(name, "answered") for name in under]
            joint.why["under"] = "answered"


def isolating_answer(workshop: Workshop, joints: list[JointDraft]) -> str | None:
    """Id of the joint that was answered to take the power away, "none", or None where nothing was answered."""
    answer = workshop.answer("isolates")
    if not isinstance(answer, str):
        return None
    if answer != "none" and all(joint.id != answer for joint in joints):
        contacts = [j.id for j in joints if j.kind in ("plug", "ribbon", "board_link")]
        workshop.problems.append(
            _problem(
                "isolates",
                f"names no joint of this draft: {answer}.",
                f"Write the id of a joint, such as {', '.join(contacts[:6]) or 'none'}, or none.",
            )
        )
    return answer


def _of_the_wrong_kind(workshop: Workshop, joints: list[JointDraft]) -> Iterator[Problem]:
    by_id = {joint.id: joint for joint in joints}
    for question, answer in sorted(workshop.answers.items()):
        kind, _, joint = question.partition(".")
        if joint and joint not in by_id:
            continue  # no question at all, which is told by itself
        if question in _TEXTS or question.startswith(_TEXTS_OF_JOINTS):
            if not isinstance(answer, str) or not answer.strip():
                yield _problem(question, "is no text.", "Write a name, such as a side or a part.")
            elif kind == "fastener" and not any(
                _SIZE.match(word) or _DRIVE.search(word) for word in answer.split()
            ):
                yield _problem(
                    question,
                    f"gives neither a size nor a drive: {answer}.",
                    "Write it such as M2x5 PH1.",
                )
        elif question.startswith(_LISTS_OF_JOINTS):
            yield from _list(workshop, question, answer)


def _list(workshop: Workshop, question: str, answer: object) -> Iterator[Problem]:
    names = [name for name in answer if name.strip()] if isinstance(answer, list) else []
    if not isinstance(answer, list) or len(names) < len(answer):
        yield _problem(question, "is no list of parts.", "Write it such as [fan, chassis].")
        return
    if question.startswith("joins."):
        if len({to_identifier(workshop.names.of(name)) for name in names}) < 2:
            yield _problem(question, "names fewer than two parts.", "Name what it holds to what.")
        return
    for name in names:
        if not workshop.known(name):
            known = ", ".join(shown for shown, _why in list(workshop.parts.values())[:8])
            yield _problem(
                question,
                f"names a part that this draft does not have: {name}.",
                f"Its parts are {known} …",
            )


def _problem(question: str, wrong: str, remedy: str) -> Problem:
    return Problem(f"The answer to '{question}' {wrong}", remedy, path=question, code="answer_type")
