"""Marks of a table of screws that the text uses as their names: "fasten it with the four S2", "loosen S5"."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.model import Line, Source

_MARK = re.compile(r"^[(\[]?(?P<mark>[A-Z]{1,2}\d{1,2})[)\]]?$")
_SCREW = re.compile(
    r"\bM\d(?:[.,]\d)?\s?[x×*]\s?\d|\b(?:screws?|bolts?|nuts?|studs?|rivets?)\b", re.IGNORECASE
)
_KIND = re.compile(
    r"\b(?P<kind>grub screw|set screw|thumbscrew|bolt|nut|rivet|stud)s?\b", re.IGNORECASE
)
_CONNECTED = re.compile(
    r"\b(?:plug|connector|cable|lead|wire|socket(?! (?:head|cap|screw))|harness)s?\b", re.IGNORECASE
)


def with_marks_named(source: Source) -> Source:
    """The source, in which a bare mark of a table of screws is told as the screws of that mark.

    A mark is a letter or two with a number, at the head of a row that tells a size or a kind of screw. Lines keep their
    numbers; a text without such a table is returned as it is.
    """
    kinds = _marks(source.lines)
    if not kinds:
        return source
    names = "|".join(sorted(kinds, key=lambda mark: (-len(mark), mark)))
    named = re.compile(
        rf"(?P<noun>\b(?:grub |set |thumb)?(?:screw|bolt|nut|rivet|stud)s?\s+)?[(\[]?(?<![\w-])(?P<mark>{names})(?![\w-])[)\]]?"  # noqa: E501
    )

    def said(match: re.Match[str]) -> str:
        noun = match["noun"] or f"{kinds[match['mark']]} "
        return f"{noun}({match['mark']})"

    rows = tuple(
        line if line.kind == "table" else replace(line, text=named.sub(said, line.text))
        for line in source.lines
    )
    return replace(source, lines=rows)


def _marks(lines: tuple[Line, ...]) -> dict[str, str]:
    """The noun for each mark: in the singular where the row counts one."""
    found: dict[str, str] = {}
    for line in lines:
        cells = [cell.strip() for cell in line.text.strip(" |").split("|")]
        match = _MARK.match(cells[0]) if line.kind == "table" and len(cells) > 2 else None
        if match is None or not _SCREW.search(line.text) or _CONNECTED.search(cells[1]):
            continue
        kind = _KIND.search(line.text)
        noun = kind["kind"].lower() if kind else "screw"
        found[match["mark"]] = noun if "1" in cells else f"{noun}s"
    return found
