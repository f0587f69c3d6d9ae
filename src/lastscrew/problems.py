"""Mistakes in what a person gave us, as values: place, problem, remedy.

A reader collects every problem of its input and reports all of them at once. The command
line prints them, the web application shows them beside the text, ``--json`` lists them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, where, and what would be right.

    Attributes:
        message: What is wrong, one sentence.
        remedy: What to do about it, one sentence; may be empty where nothing can be said.
        path: Path to the value, such as ``joints.cover_screws.count`` (empty for the whole input).
        file: Name of the input as the user gave it.
        line: 1-based line, or None where there is no line.
        column: 1-based column in characters, or None.
        severity: ``error`` (the input is not used) or ``warning``.
        code: Short stable name of the rule, such as ``unknown_key``.
    """

    message: str
    remedy: str = ""
    path: str = ""
    file: str = ""
    line: int | None = None
    column: int | None = None
    severity: Severity = "error"
    code: str = ""

    def place(self) -> str:
        """``file:line:column``, as far as known."""
        parts = [self.file or "input"]
        if self.line is not None:
            parts.append(str(self.line))
            if self.column is not None:
                parts.append(str(self.column))
        return ":".join(parts)

    def as_json(self) -> dict[str, object]:
        """The shape that every ``--json`` error and finding has."""
        return {
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "path": self.path,
            "severity": self.severity,
            "code": self.code,
            "message": self.message,
            "remedy": self.remedy,
        }


class InputError(Exception):
    """Input that can't be used. Carries every problem that was found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Keep ``problems`` in the order in which they were found."""
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("; ".join(problem.message for problem in self.problems))
