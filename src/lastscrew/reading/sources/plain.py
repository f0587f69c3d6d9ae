"""Plain text: physical lines, page furniture set apart."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace

from lastscrew.reading.model import Line
from lastscrew.reading.sources.limits import MAX_LINE_CHARACTERS, MAX_LINES, refuse

_PAGE = re.compile(
    r"^\s*(?:-+\s*)?(?:page\s+)?\d{1,4}(?:-\d{1,4})?(?:\s*(?:/|of)\s*\d{1,4})?(?:\s*-+)?\s*$|^\s*(?:page|p\.)\s*\d+(?:\s*(?:/|of)\s*\d+)?\s*$",
    re.IGNORECASE,
)
_KEEP = re.compile(
    r"^\W*(?:\d+|[a-z]\b)?[\W\d]*(?:note|notes|caution|warning|danger|notice|important|attention|tip|steps?|removal|installation|replacement|prerequisites?|procedure|tools?|before|remov\w+|install\w+|disconnect\w*|unplug|lift|slide|pull|push|loosen|tighten|unscrew|replace|reconnect|connect|insert|place|turn|open|close|take|put|peel|reassembly|disassembly|refit\w*|reverse|repeat)\b|screw|bolt",
    re.IGNORECASE,
)

_BARRED = re.compile(r"^\s*\|[^|]*\|.*\|\s*$")


def plain_lines(text: str, name: str) -> tuple[Line, ...]:
    """Lines of a plain text.

    Raises:
        InputError: More lines than are read, or one line longer than any text has.
    """
    rows = text.rstrip("\n").split("\n")
    check_lines(rows, name)
    lines = [
        Line(number, row.replace("\f", "").rstrip(), "blank" if not row.strip() else "text")
        for number, row in enumerate(rows, 1)
    ]
    lines = _with_tables(lines)
    return tuple(without_furniture(lines, feeds={i for i, row in enumerate(rows) if "\f" in row}))


def _with_tables(lines: list[Line]) -> list[Line]:
    """Rows between bars, two or more in a row, are a table in a plain text too."""
    barred = [_BARRED.match(line.text) is not None for line in lines]
    return [
        replace(line, text=line.text.strip(), kind="table")
        if barred[i] and (barred[max(i - 1, 0) : i] == [True] or barred[i + 1 : i + 2] == [True])
        else line
        for i, line in enumerate(lines)
    ]


def check_lines(rows: list[str], name: str) -> None:
    """Refuse too many lines, or lines that are no text."""
    if len(rows) > MAX_LINES:
        raise refuse(
            f"The text has {len(rows)} lines; at most {MAX_LINES} are read.",
            "Split it.",
            "too_large",
            name,
        )
    for number, row in enumerate(rows, 1):
        if len(row) > MAX_LINE_CHARACTERS and len(row.split()) < len(row) / 200:
            raise refuse(
                f"Line {number} has {len(row)} characters without a space.",
                "Give text with words in it.",
                "line_too_long",
                name,
            )


def without_furniture(lines: list[Line], feeds: set[int] | None = None) -> list[Line]:
    """Mark page numbers and repeated page headers and footers.

    A line is page furniture where it is a page number, or stands at least three times (figures aside) next to a
    page number or a page break, and is no instruction or standing title.
    """
    feeds = feeds or set()
    edges = feeds | {
        i for i, line in enumerate(lines) if _PAGE.match(line.text) and _alone(lines, i)
    }
    groups: dict[str, list[int]] = defaultdict(list)
    for index, line in enumerate(lines):
        key = re.sub(r"\d+", "#", line.text.strip().lower())
        if key and len(key) < 90 and not key.endswith((".", ":")) and not _KEEP.search(line.text):
            groups[key].append(index)
    repeated: set[int] = set()
    for key, members in groups.items():
        near = [i for i in members if any(abs(i - edge) <= 3 for edge in edges)]
        numbered = (
            "#" in key
            and re.search(r"(?:page|\|)\s*#|#\s*$|^#\s", key)
            and not re.match(r"^[#(\[]+[.)\]]", key)
        )
        if len(members) >= 3 and (len(near) >= len(members) * 0.6 or (numbered and key != "#")):
            repeated.update(members)
    marked = []
    for index, line in enumerate(lines):
        if index in repeated:
            marked.append(replace(line, kind="furniture", reason="repeated page header or footer"))
        elif _PAGE.match(line.text) and index in edges and index not in feeds:
            marked.append(replace(line, kind="furniture", reason="page number"))
        else:
            marked.append(line)
    return marked


def _alone(lines: list[Line], index: int) -> bool:
    before = index == 0 or not lines[index - 1].text.strip()
    after = index + 1 >= len(lines) or not lines[index + 1].text.strip()
    return before or after or bool(re.search(r"page|-|/|of", lines[index].text, re.IGNORECASE))
