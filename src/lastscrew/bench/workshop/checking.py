"""What `check` and the audit say about a text, line by line, for a page."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import lru_cache
from typing import Final

from lastscrew.audit.device_file import audit_device
from lastscrew.audit.findings import Finding, Severity
from lastscrew.audit.text import audit_reading
from lastscrew.device.reading import ReadResult, read_device
from lastscrew.plan.wording import joint_name
from lastscrew.problems import InputError, Problem
from lastscrew.reading import Line, Reading, Source, load_lexicon, read
from lastscrew.reading.device_draft import Answer, Draft, draft_device
from lastscrew.reading.model import Question
from lastscrew.reading.report import STATE_WORDS, rows_of
from lastscrew.reading.sources import open_source
from lastscrew.saying import joined, say

MOST_CHARACTERS: Final = 2_000_000
"""A device file of this length describes thousands of joints (our own figure)."""
KEPT: Final = 16
ORDER: Final[Sequence[Severity]] = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Said:
    """One thing that is said about a text.

    Attributes:
        severity: ``error``, ``warning`` or ``note``.
        line: 1-based, 0 for the whole.
        column: 1-based, 0 where it is not known.
        text: What is the matter.
        remedy: What would be right.
        path: Path to the value in a device file.
    """

    severity: Severity
    line: int
    column: int
    text: str
    remedy: str = ""
    path: str = ""


@dataclass(frozen=True, slots=True)
class Checked:
    """A device file with everything that is said about it.

    Attributes:
        result: What reading it gave.
        said: By line.
    """

    result: ReadResult
    said: tuple[Said, ...]

    @property
    def errors(self) -> int:
        """How many errors; with any there is no device."""
        return sum(one.severity == "error" for one in self.said)


@lru_cache(maxsize=KEPT)
def checked(text: str) -> Checked:
    """Read and audit the text of a device file; the same text is read once."""
    if len(text) > MOST_CHARACTERS:
        problem = Problem(
            say(
                "the text has {count} characters; at most {most} are read",
                count=f"{len(text):,}",
                most=f"{MOST_CHARACTERS:,}",
            ),
            say("Describe the machine in assemblies of their own."),
            code="too_large",
        )
        return Checked(ReadResult(None, (problem,)), said_of([problem]))
    result = read_device(text, "draft")
    if result.device is None:
        return Checked(result, said_of(result.problems))
    return Checked(result, said_of(audit_device(result, "draft")))


def said_of(found: Iterable[Problem | Finding]) -> tuple[Said, ...]:
    """Problems and findings in one shape, by line, the more severe first."""
    rows = []
    for one in found:
        text = one.message if isinstance(one, Problem) else one.text
        if isinstance(one, Problem) and one.path:
            text = joined("", (one.path, ": ", text))
        rows.append(Said(one.severity, one.line or 0, one.column or 0, text, one.remedy, one.path))
    return tuple(sorted(rows, key=lambda s: (s.line, ORDER.index(s.severity), s.column, s.text)))


# --- procedures -----------------------------------------------------------------------------------

REMEDIES_HERE: Final[Mapping[str, str]] = {
    "not_understood": say(
        "Say it as an order: verb, thing, from where. The text can be corrected below."
    ),
    "one_name": say("If they are two, tick that above."),
}
"""What can be done on the page about a finding of the reading, by its code; the reading tells of the command line."""

ONE_SIDE: Final = "side."
"""Before the id of a joint: the answer that says from which side this joint alone is reached."""


def _here(found: Iterable[Finding]) -> Iterator[Finding]:
    """The findings, with remedies that the page offers."""
    for one in found:
        remedy = REMEDIES_HERE.get(one.code)
        yield one if remedy is None else replace(one, remedy=remedy)


@dataclass(frozen=True, slots=True)
class SourceRow:
    """A line of a procedure, what was made of it, and what the audit says of it."""

    line: int
    text: str
    state: str
    state_word: str
    reason: str
    made: tuple[str, ...]
    said: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class Procedure:
    """A procedure that was read.

    Attributes:
        rows: Its lines.
        draft: The device file that follows, None where no joint is opened or the text contradicts itself.
        problems: Why there is none.
        reading: The reading, with its open questions.
        whole: What the audit says of the text as a whole.
    """

    rows: tuple[SourceRow, ...]
    draft: Draft | None
    problems: tuple[Problem, ...]
    reading: Reading
    whole: tuple[Said, ...]

    @property
    def questions(self) -> tuple[Question, ...]:
        """The open questions; of sides it is asked once, and the joints stand below."""
        text = say("From which side are the joints reached, of which the text does not say it?")
        return tuple(
            replace(one, text=text) if one.id == "side" else one for one in self.reading.questions
        )

    @property
    def sides_unknown(self) -> tuple[tuple[str, str], ...]:
        """Joints of which the text does not say the side: the name of the answer for each alone, and its own name."""
        device = self.draft.device if self.draft is not None else None
        if device is None or not any(one.id == "side" for one in self.reading.questions):
            return ()
        return tuple(
            (f"{ONE_SIDE}{joint.id}", joint_name(device, joint.id))
            for joint in device.joints.values()
            if "side" in joint.accesses[0].unknown
        )

    @property
    def tells_nothing(self) -> bool:
        """No line is an instruction, nor one that was not understood, and nothing else makes a draft."""
        states = {row.state for row in self.rows}
        return self.draft is None and not states & {"used", "not_understood"}


def read_procedure(
    text: str,
    name: str,
    answers: tuple[tuple[str, Answer], ...] = (),
    apart: tuple[str, ...] = (),
) -> Procedure:
    """Read a written procedure and draft a device file from it.

    Args:
        text: The procedure.
        name: Name of its file; the ending helps to tell what it is.
        answers: Answers to open questions.
        apart: Pairs ``A=B`` of names that are two things.

    Raises:
        InputError: The text can't be read at all.
    """
    return _read_procedure(text, name, _hashable(answers), apart)


def _hashable(answers: tuple[tuple[str, Answer], ...]) -> tuple[tuple[str, object], ...]:
    return tuple((key, tuple(v) if isinstance(v, list) else v) for key, v in sorted(answers))


@lru_cache(maxsize=KEPT)
def _read_procedure(
    text: str, name: str, answers: tuple[tuple[str, object], ...], apart: tuple[str, ...]
) -> Procedure:
    lexicon = load_lexicon()
    reading = read(_source(text, name), lexicon)
    given: dict[str, Answer] = {
        key: list(v) if isinstance(v, tuple) else v  # type: ignore[misc]
        for key, v in answers
    }
    draft: Draft | None = None
    problems: tuple[Problem, ...] = ()
    try:
        draft = draft_device(reading, lexicon, answers=given, keep_apart=apart)
        reading = draft.reading
    except InputError as error:
        problems = error.problems
    findings = said_of(_here(audit_reading(reading, lexicon, name.removesuffix(KEPT_LINES))))
    by_line: dict[int, list[Said]] = {}
    for one in findings:
        by_line.setdefault(one.line, []).append(one)
    rows = tuple(
        SourceRow(
            row.line, row.text, row.state, STATE_WORDS[row.state], row.reason, row.made,
            tuple(by_line.get(row.line, ())),
        )
        for row in rows_of(reading)
    )  # fmt: skip
    return Procedure(rows, draft, problems, reading, tuple(by_line.get(0, ())))


KEPT_LINES: Final = ".lines"
"""End of the name of a text that is kept as the lines that were found in it."""


def extracted(data: bytes, name: str) -> tuple[str, str]:
    """The text of an uploaded procedure and the name to read it by again.

    What is text stays as it is. Of a PDF or DOCX the lines are kept with what the format said of each (heading,
    table, page header), as JSON: read as plain text they would mean something else.

    Raises:
        InputError: Empty, too large, damaged, protected, or no text.
    """
    source = open_source(data, name)
    if source.format not in ("pdf", "docx") and _is_utf8(data):
        return data.decode("utf-8-sig"), name
    told = {
        "format": source.format,
        "spoken": source.spoken,
        "repairs": list(source.repairs),
        "lines": [
            [
                line.text.replace("\0", "\ufffd"),
                line.kind,
                line.level,
                line.mark,
                line.time_s,
                line.reason,
            ]
            for line in source.lines
        ],
    }
    return json.dumps(told, ensure_ascii=False), f"{name}{KEPT_LINES}"


def _source(text: str, name: str) -> Source:
    """A text as it was kept."""
    if not name.endswith(KEPT_LINES):
        return open_source(text.encode(), name)
    told = json.loads(text)
    lines = (Line(number, *values) for number, values in enumerate(told["lines"], 1))
    return Source(
        name.removesuffix(KEPT_LINES),
        told["format"],
        tuple(lines),
        told["spoken"],
        tuple(told["repairs"]),
    )


def shown_text(text: str, name: str) -> str:
    """A text as it was kept, as a person corrects it: its lines, without what the format said of each."""
    if not name.endswith(KEPT_LINES):
        return text
    return "\n".join(str(line[0]) for line in json.loads(text)["lines"])


def corrected(text: str, name: str, typed: str) -> str:
    """The text to keep when a person has corrected it.

    Of lines that were kept with what their format said of them, those that are there still keep it; so do lines that
    stand where as many others stood.

    Args:
        text: As it was kept.
        name: The name that it was kept under.
        typed: What the person wrote, by :func:`shown_text`.
    """
    written = typed.replace("\r\n", "\n").replace("\0", "\ufffd")
    if not name.endswith(KEPT_LINES):
        return written
    told = json.loads(text)
    old = told["lines"]
    lines = written.split("\n")
    matcher = SequenceMatcher(None, [str(line[0]) for line in old], lines, autojunk=False)
    kept: list[list[object]] = []
    for how, a, b, c, d in matcher.get_opcodes():
        if how == "equal" or (how == "replace" and b - a == d - c):
            kept += [[new, *line[1:]] for line, new in zip(old[a:b], lines[c:d], strict=True)]
        else:
            kept += [[new, "text", 0, "", None, ""] for new in lines[c:d]]
    return json.dumps({**told, "lines": kept}, ensure_ascii=False)


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def is_device_file(data: bytes, name: str) -> bool:
    """True for a device file: by its ending, else by lines ``format:`` and ``parts:``."""
    lower = name.lower()
    if lower.endswith((".yaml", ".yml")):
        return True
    if lower.endswith((".txt", ".md", ".html", ".htm", ".pdf", ".docx", ".srt", ".vtt")):
        return False
    keys = {line.split(b":")[0].strip() for line in data[:20_000].splitlines() if b":" in line[:20]}
    return b"format" in keys and bool(keys & {b"device", b"parts", b"joints"})


def answers_from(
    values: Iterable[tuple[str, str]], known: Iterable[str]
) -> tuple[tuple[str, Answer], ...]:
    """Answers typed into a form; lists are separated by commas where the question takes a list.

    Args:
        values: Question and what was typed; blank ones are no answer.
        known: Questions that are open.
    """
    names = set(known)
    found: list[tuple[str, Answer]] = []
    for key, typed in values:
        words = typed.strip()
        if not words or key not in names:
            continue
        if key.startswith(("joins.", "under.")):
            found.append((key, [word.strip() for word in words.split(",") if word.strip()]))
        elif key.startswith("count.") and words.isdecimal() and len(words) < 5:
            found.append((key, int(words)))
        else:
            found.append((key, words[:200]))
    return tuple(found)
