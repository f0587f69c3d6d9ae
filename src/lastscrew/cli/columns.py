"""Text in columns for a terminal: widths as a terminal counts them, colour only where it is wanted."""

from __future__ import annotations

import os
import re
import shutil
import sys
from dataclasses import dataclass

from rich.cells import cell_len, chop_cells

from lastscrew.device.model import Signal

LEAST_WIDTH, MOST_WIDTH = 40, 160

# White on red, black on orange, black on yellow, white on blue, as the signal words' standard has
# them (ANSI Z535.4); the 256-colour palette gives the nearest there is.
_SGR: dict[str, str] = {
    "danger": "1;97;48;5;160",
    "warning": "1;30;48;5;208",
    "caution": "1;30;48;5;220",
    "notice": "1;3;97;48;5;25",
    "strong": "1",
    "faint": "2",
}

_PLAIN = str.maketrans(
    {
        "│": "|", "─": "-", "┼": "+", "┴": "+", "┬": "+", "·": "-", "×": "x", "–": "-", "—": "-", "≠": "#",
        "…": ".", "▼": "v", "▲": "^",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a column.

    Attributes:
        text: What it says.
        style: ``strong``, ``faint`` or empty, for the whole line.
        signals: Signal words in the text that are shown in their colours, where a letter in brackets
            follows.
    """

    text: str
    style: str = ""
    signals: tuple[Signal, ...] = ()


def terminal_width() -> int:
    """Columns of the terminal (``COLUMNS`` where it is set, 80 where nothing says), within reason."""
    return max(LEAST_WIDTH, min(MOST_WIDTH, shutil.get_terminal_size().columns))


def wants_colour() -> bool:
    """True when standard output is a terminal and ``NO_COLOR`` is not set (see no-color.org)."""
    return (
        sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    )


def clean(text: str) -> str:
    """Text from a file without what would move the cursor; line breaks become spaces."""
    return "".join(c if c.isprintable() else " " for c in text)


def width_of(text: str) -> int:
    """Columns that a text takes."""
    return cell_len(text)


def pad(text: str, width: int) -> str:
    """The text with spaces up to a width."""
    return text + " " * max(0, width - cell_len(text))


def cut(text: str, width: int) -> str:
    """The text, cut with an ellipsis where it is too wide."""
    if cell_len(text) <= width:
        return text
    return chop_cells(text, max(1, width - 1))[0] + "…" if width > 1 else "…"[:width]


def wrap(text: str, width: int, *, indent: int = 0, hang: int | None = None) -> list[str]:
    """Break a text into lines of at most ``width`` columns.

    Args:
        text: Any text; runs of spaces count as one.
        width: Columns in all, indent included.
        indent: Spaces before the first line.
        hang: Spaces before the others (default: the same).
    """
    hang = indent if hang is None else hang
    lines: list[str] = []
    line, room, empty = " " * indent, max(1, width - indent), True
    for word in clean(text).split():
        for piece in _fitting(word, max(1, width - max(indent, hang))):
            needed = cell_len(piece) + (0 if empty else 1)
            if needed > room and not empty:
                lines.append(line)
                line, room, empty = " " * hang, max(1, width - hang), True
                needed = cell_len(piece)
            line += piece if empty else f" {piece}"
            room -= needed
            empty = False
    return [*lines, line] if not empty else lines


def _fitting(word: str, width: int) -> list[str]:
    return [word] if cell_len(word) <= width else chop_cells(word, width)


def coloured(line: Line, *, colour: bool) -> str:
    """The line with its colours."""
    if not colour:
        return line.text
    text = line.text
    if not line.signals:
        return _paint(line.style, text) if line.style else text
    words = "|".join(signal.upper() for signal in line.signals)
    return re.sub(rf"({words})(?= \([a-z]+\))", lambda m: _paint(m[0].lower(), m[0]), text)


def _paint(style: str, text: str) -> str:
    return f"\x1b[{_SGR[style]}m{text}\x1b[0m"


def for_encoding(text: str, encoding: str | None) -> str:
    """The text in characters that an output encoding has: signs become plain ones where it lacks them."""
    name = encoding or "utf-8"
    try:
        text.encode(name)
    except (UnicodeEncodeError, LookupError):
        known = "ascii" if _unknown(name) else name
        return text.translate(_PLAIN).encode(known, "replace").decode(known)
    return text


def _unknown(encoding: str) -> bool:
    try:
        "".encode(encoding)
    except LookupError:
        return True
    return False
