"""A line of the source with a caret under the column, cut to the width of the terminal."""

from __future__ import annotations

import unicodedata

from lastscrew.device.names import visible
from lastscrew.device.source import Source

_MARGIN = 8


def excerpt(source: Source, line: int, column: int, width: int) -> list[str]:
    """Two lines: the source line with its number, and the caret.

    Args:
        source: The text.
        line: 1-based line.
        column: 1-based column in characters.
        width: Cells that fit side by side; long lines are cut around the column.
    """
    room = max(width - _MARGIN, 20)
    text = source.line(line)
    at = min(column - 1, len(text))
    start = max(0, at - room * 2 // 3) if len(text) > room else 0
    window = text[start : start + room]
    before = _shown(window[: at - start])
    after = _shown(window[at - start :])
    left, right = ("…" if start else ""), ("…" if start + room < len(text) else "")
    caret = " " * (cells(left) + cells(before)) + "^"
    return [f"{line:>6}  {left}{before}{after}{right}", f"{'':>6}  {caret}"]


def _shown(text: str) -> str:
    return visible(text.replace("\t", " "))


def cells(text: str) -> int:
    """Width of text on a terminal: wide characters take two cells, combining ones none."""
    return sum(
        0 if unicodedata.combining(char) else 2 if unicodedata.east_asian_width(char) in "WF" else 1
        for char in text
    )
