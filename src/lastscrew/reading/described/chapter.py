"""Finding the chapter that tells a device in plain sentences, and reading it back."""

from __future__ import annotations

import itertools
import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final, TypeAlias

from lastscrew.device.keys import FORMAT
from lastscrew.device.names import device_id_from_name, name_from_id
from lastscrew.device.types import NOUNS, ListOf, MapOf
from lastscrew.problems import Problem
from lastscrew.reading.described.quoting import QUOTED, unquote
from lastscrew.reading.described.sentence_table import (
    END,
    FRAME,
    HEADING,
    INTRODUCTION,
    LEAD,
    TOLD_SECTIONS,
    WAY,
    Saying,
    key_of,
    records,
    sayings_of,
    sections_named,
    words_of,
)
from lastscrew.reading.model import Finding, Line, LineState, Source

Tree: TypeAlias = dict[str, Any]

_NUMBER = r"([-+]?\d{1,18}(?:\.\d{1,18})?(?:e[-+]?\d{1,3})?)"
_SENTENCE = re.compile(
    r"(?:“(?:[^”]|””)*+”|[^“.]|\.(?!\s|$))++\.(?=\s|$)|\S.*?(?:\.(?=\s)|$)", re.DOTALL
)
_SECTION_OF: Final = {NOUNS[section.name]: section.name for section in TOLD_SECTIONS}
_TITLES: Final = re.compile(
    rf"^(?:{'|'.join(['The machine', *(section.name.capitalize() for section in TOLD_SECTIONS)])})\s+(?=[A-Z])"
)
_MOST_PROBLEMS: Final = 100


@dataclass(frozen=True, slots=True)
class Chapter:
    """The chapter as it was read.

    Attributes:
        first, last: Lines of the text that it takes, its heading included.
        tree: What it says, in the shape of a device file.
        places: Line of every path of the tree (``joints.lid.count``).
        states: State of every line that is not blank.
        findings: Sentences that were not understood.
        problems: Contradictions, and names that nothing has; a device can't be made then.
    """

    first: int
    last: int
    tree: Tree
    places: dict[str, int]
    states: dict[int, LineState]
    findings: tuple[Finding, ...]
    problems: tuple[Problem, ...]

    def all_findings(self) -> list[Finding]:
        """What was not understood, and what contradicts itself, by line."""
        told = [
            Finding(
                problem.code,
                "error",
                problem.line or self.first,
                f"{problem.message[:1].upper()}{problem.message[1:]}.",
                problem.remedy,
            )
            for problem in self.problems
        ]
        return sorted([*self.findings, *told], key=lambda finding: finding.line)

    def outside(self, source: Source) -> Source:
        """The text with the lines of the chapter set aside."""
        return replace(
            source,
            lines=tuple(
                replace(line, kind="furniture", reason="told of the machine")
                if self.first <= line.number <= self.last and line.kind != "blank"
                else line
                for line in source.lines
            ),
        )


def find_chapter(source: Source) -> Chapter | None:
    """The chapter in a text, or None where there is none."""
    start = _start_of(source)
    if start is None:
        return None
    lines = [line for line in source.lines[start + 1 :] if _is_text(line)]
    reader = _Reader(source.name)
    last = source.lines[start].number
    for sentence, first, end in _sentences(lines):
        last = end
        if sentence == END:
            reader.mark(first, end)
            break
        reader.sentence(sentence, first, end)
    reader.finish()
    states = dict(reader.states)
    for line in source.lines[start:]:
        if (line.number <= last and line.kind == "heading") or line.number == source.lines[
            start
        ].number:
            states[line.number] = LineState(line.number, "heading")
    return Chapter(
        source.lines[start].number,
        last,
        reader.tree,
        reader.places,
        states,
        tuple(reader.findings),
        tuple(reader.problems[:_MOST_PROBLEMS]),
    )


def _is_text(line: Line) -> bool:
    """Whether a line is part of a sentence; "it takes 60", often there, only looks like a page header."""
    if line.kind == "furniture":
        return line.reason == "repeated page header or footer"
    return line.kind not in ("blank", "heading") and bool(line.text.strip())


def _start_of(source: Source) -> int | None:
    for index, line in enumerate(source.lines):
        if line.text.strip() == HEADING:
            after = itertools.islice(filter(_is_text, source.lines[index + 1 :]), 4)
            if " ".join(" ".join(other.text.split()) for other in after).startswith(LEAD):
                return index
    return None


def _sentences(lines: list[Line]) -> Iterator[tuple[str, int, int]]:
    """Sentences with their first and last line; a full stop in quotes ends none."""
    pieces: list[str] = []
    starts: list[int] = []
    at = 0
    for line in lines:
        text = " ".join(line.text.split())
        starts.append(at)
        pieces.append(text)
        at += len(text) + 1
    text = " ".join(pieces)
    for match in _SENTENCE.finditer(text):
        if sentence := match[0].strip():
            low = match.start() + len(match[0]) - len(match[0].lstrip())
            first = lines[bisect_right(starts, low) - 1].number
            yield sentence, first, lines[bisect_right(starts, match.end() - 1) - 1].number


@dataclass(frozen=True, slots=True)
class _Named:
    """Something that a sentence names, before it is known which entry that is."""

    name: str
    mark: str
    sections: tuple[str, ...]
    line: int


def _pattern(text: str) -> str:
    slots = {
        "ref": rf"{QUOTED}(?: \(mark {QUOTED}\))?",
        "name": QUOTED,
        "id": QUOTED,
        "text": QUOTED,
        "number": _NUMBER,
        "word": r"([a-z_ ]{1,40})",
        "noun": rf"({'|'.join(_SECTION_OF)})",
    }
    pieces = re.split(r"\{(\w+)\}", text)
    return "".join(slots[p] if i % 2 else re.escape(p) for i, p in enumerate(pieces))


@cache
def _patterns(record: str) -> tuple[tuple[re.Pattern[str], Saying], ...]:
    return tuple(
        (re.compile(_pattern(row.text)), row)
        for rows in sayings_of(record).values()
        for row in rows
    )


_INTRODUCTION = re.compile(_pattern(INTRODUCTION))
_WAY = re.compile(_pattern(WAY))


class _Reader:
    """Reads sentence by sentence into a tree."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.tree: Tree = {"format": FORMAT, "device": {}}
        self.names: dict[str, dict[str, str]] = {section.name: {} for section in TOLD_SECTIONS}
        self.places: dict[str, int] = {}
        self.states: dict[int, LineState] = {}
        self.findings: list[Finding] = []
        self.problems: list[Problem] = []
        self.records: list[tuple[str, Tree, str]] = [
            ("device", self.tree["device"], "device"),
            ("top", self.tree, ""),
        ]
        """Where a sentence about "it" can belong: record, values, path."""

    def mark(self, first: int, last: int, state: str = "used") -> None:
        """Give lines their state; one that is not understood stays seen."""
        for number in range(first, last + 1):
            old = self.states.get(number)
            if state == "not_understood":
                self.states[number] = LineState(number, "not_understood")
            elif old is None:
                self.states[number] = LineState(number, "used")

    def sentence(self, text: str, first: int, last: int) -> None:
        """One sentence."""
        if self._understood(text, first) or self._understood(_TITLES.sub("", text), first):
            self.mark(first, last)
            return
        self.mark(first, last, "not_understood")
        self.findings.append(
            Finding(
                "not_understood",
                "warning",
                first,
                text[:160],
                "This chapter is read by the form of its sentences: write it as one of them, or outside of it.",
            )
        )

    def _understood(self, text: str, line: int) -> bool:
        if text in FRAME:
            return True
        if match := _INTRODUCTION.fullmatch(text):
            self._introduce(_SECTION_OF[match[1]], unquote(match[2]), unquote(match[3]), line)
            return True
        if _WAY.fullmatch(text) and self.records[-1][0] == "joints":
            self._way(line)
            return True
        for record, values, path in self.records:
            for pattern, row in _patterns(record):
                if match := pattern.fullmatch(text):
                    return self._take(row, match, values, path, line)
        return False

    def _introduce(self, section: str, name: str, entry: str, line: int) -> None:
        entries = self.tree.setdefault(section, {})
        path = f"{section}.{entry}"
        if entry in entries:
            self._problem(
                f"the mark “{entry}” stands for two things (the first on line {self.places[path]})",
                "Give one of them another mark.",
                path,
                line,
            )
        values: Tree = {}
        if "name" in records()[section].by_name and name != name_from_id(entry):
            values["name"] = name
        entries[entry] = values
        self.names[section][entry] = name
        self.places[path] = line
        self.records = [(section, values, path)]

    def _way(self, line: int) -> None:
        _, values, path = self.records[-1]
        ways = values.setdefault("access", [])
        ways.append({})
        below = f"{path}.access[{len(ways) - 1}]"
        self.places[below] = line
        self.records = [("access", ways[-1], below), ("joints", values, path)]

    def _take(self, row: Saying, match: re.Match[str], values: Tree, path: str, line: int) -> bool:
        below = f"{path}.{row.key}" if path else row.key
        kind = key_of(row.record, row.key).type
        if row.key == "measure":
            self.records.append(("measure", values.setdefault("measure", {}), below))
            self.places[below] = line
            return True
        said = self._said(row, match, line)
        if said is None:
            return False
        self.places.setdefault(below, line)
        if isinstance(kind, MapOf):
            name, amount = said
            key = name.mark or name.name if isinstance(name, _Named) else name
            self._once(values.setdefault(row.key, {}), name, amount, f"{below}.{key}", line)
        elif isinstance(kind, ListOf) and row.value is None:
            values.setdefault(row.key, []).extend(said)
        else:
            value = row.value if row.value is not None else said[0]
            self._once(values, row.key, value, below, line)
        return True

    def _said(self, row: Saying, match: re.Match[str], line: int) -> list[Any] | None:
        """Values of the slots, names before amounts; None where a word is none of the key's."""
        kind = key_of(row.record, row.key).type
        named: list[Any] = []
        numbers: list[Any] = []
        group = 1
        for slot in re.findall(r"\{(\w+)\}", row.text):
            found = match[group]
            group += 2 if slot == "ref" else 1
            if slot == "ref":
                mark = match[group - 1]
                named.append(
                    _Named(
                        unquote(found), unquote(mark) if mark else "", sections_named(kind), line
                    )
                )
            elif slot == "text":
                named.append(unquote(found))
            elif slot == "number":
                numbers.append(_number(found))
            else:
                words = {word.replace("_", " "): word for word in words_of(kind)}
                if found not in words:
                    return None
                named.append(words[found])
        return named + numbers or [row.value]

    def _once(self, values: Tree, key: Any, value: Any, path: str, line: int) -> None:  # noqa: ANN401
        if key in values and values[key] != value and not isinstance(value, _Named):
            self._problem(
                "this says something else than a sentence before it"
                f" (line {self.places.get(path, self.places.get(path.rpartition('.')[0], line))})",
                "Keep one of the two.",
                path,
                line,
            )
        values[key] = value
        self.places.setdefault(path, line)

    def _problem(self, message: str, remedy: str, path: str, line: int) -> None:
        self.problems.append(
            Problem(message, remedy, path=path, file=self.name, line=line, code="contradiction")
        )

    def finish(self) -> None:
        """Put ids where things are named."""
        header = self.tree["device"]
        if header.get("id") == device_id_from_name(header.get("name", "")):
            del header["id"]
            self.places.pop("device.id", None)
        self.names["sides"] = {side: side for side in self.tree.get("sides", ["top"])}
        self.tree = self._resolved(self.tree)

    def _resolved(self, value: Any) -> Any:  # noqa: ANN401 - plain data of any shape
        if isinstance(value, _Named):
            return self._entry_of(value)
        if isinstance(value, dict):
            return {self._resolved(key): self._resolved(item) for key, item in value.items()}
        return [self._resolved(item) for item in value] if isinstance(value, list) else value

    def _entry_of(self, named: _Named) -> str:
        known = [
            (entry, name)
            for section in named.sections
            for entry, name in self.names.get(section, {}).items()
        ]
        if named.mark:
            found = {entry for entry, _ in known if entry == named.mark}
        else:
            found = {entry for entry, name in known if name == named.name}
        if len(found) == 1:
            return found.pop()
        nouns = " or ".join(NOUNS[section] for section in named.sections)
        message = (
            f"several have the name “{named.name}”"
            if found
            else f"no {nouns} is called “{named.name}”"
        )
        remedy = (
            "Say which by its mark."
            if found
            else f"Introduce it: The {nouns} “{named.name}” has the mark “…”."
        )
        self._problem(message, remedy, "", named.line)
        return named.mark or named.name


def _number(text: str) -> int | float:
    try:
        return int(text)
    except ValueError:
        return float(text)
