"""What people type into forms and tables, read by the rules of the events: all problems at once, by field."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from typing import TypeVar

from django.utils.translation import gettext as _

from lastscrew.problems import Problem
from lastscrew.run.events import Happening, json_key, rule_of
from lastscrew.run.fields import UnfitError

Kind = TypeVar("Kind", bound=Happening)

_SPACE = re.compile(r"[ \t]+")
_TURNING = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Marks of direction (Unicode Annex 9): a script written from right to left needs none of them in one line, and they
make one serial number look like another."""
_LINE_BREAKS = re.compile(r"\r\n?")


def one_line(text: str) -> str:
    """Text of one line: outer blanks away, inner ones single, no sign that turns the order of the others round."""
    return _SPACE.sub(" ", _TURNING.sub("", text.replace("\u00a0", " "))).strip()


def file_name(name: str) -> str:
    """A name that somebody's file has, as it may be shown: one line, nothing unseen in it, at most 200 signs."""
    seen = "".join(sign for sign in name if unicodedata.category(sign) not in ("Cc", "Cf", "Cs"))
    return one_line(seen)[:200]


def some_lines(text: str) -> str:
    """Text of several lines, with one kind of line end and no blank ones around it."""
    return _LINE_BREAKS.sub("\n", text.replace("\u00a0", " ")).strip()


def end_of_day(text: str) -> str:
    """A date, as browsers and spreadsheets write it, as the last second of that day in UTC.

    Raises:
        ValueError: It is no date such as ``2026-03-02`` or ``02.03.2026``.
    """
    match = re.fullmatch(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})", text)
    day = date(int(match[3]), int(match[2]), int(match[1])) if match else date.fromisoformat(text)
    if not 1970 <= day.year <= 9998:
        raise ValueError(text)
    return f"{day.isoformat()}T23:59:59Z"


def happening_of(
    kind: type[Kind], values: Mapping[str, object], line: int | None = None
) -> tuple[Kind | None, list[Problem]]:
    """A happening from JSON values by key; empty texts, lists and mappings count as not given.

    Args:
        kind: The happening.
        values: JSON values by key.
        line: Row of a table that they come from.

    Returns:
        The happening, or None with everything that is wrong.
    """
    problems: list[Problem] = []
    read: dict[str, object] = {}
    for spec in fields(kind):
        value = values.get(json_key(spec))
        if value in (None, "", [], {}):
            continue
        try:
            read[spec.name] = rule_of(spec).read(value)
        except UnfitError as error:
            problems.append(
                Problem(
                    _("“%(field)s” %(wrong)s.") % {"field": json_key(spec), "wrong": error},
                    path=json_key(spec),
                    line=line,
                    code="unfit",
                )
            )
    if problems:
        return None, problems
    try:
        return kind(**read), []
    except TypeError:
        needed = [spec.name for spec in fields(kind) if spec.name not in read]
        return None, [
            Problem(
                _("Something is missing: %(fields)s.") % {"fields": ", ".join(needed)},
                line=line,
                code="missing",
            )
        ]
