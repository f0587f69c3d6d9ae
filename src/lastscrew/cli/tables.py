"""Tables in a terminal: aligned, as wide as they must be, one column gives way where room is short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.cli.columns import Line, clean, coloured, cut, pad, width_of
from lastscrew.device.model import Signal

GAP = "  "
LEAST_FLEXIBLE = 12


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, whether it holds numbers, whether it may be cut."""

    heading: str
    number: bool = False
    flexible: bool = False


def table(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], width: int, *, colour: bool = False
) -> list[str]:
    """Lines of a table; columns that are empty in every row are left out.

    Args:
        columns: The columns.
        rows: One text for each column.
        width: Columns of the terminal.
        colour: Show the headings strong.
    """
    shown = [n for n in range(len(columns)) if any(row[n] for row in rows)]
    cells = [[clean(row[n]) for n in shown] for row in rows]
    kept = [columns[n] for n in shown]
    widths = [
        max(width_of(column.heading), *(width_of(row[n]) for row in cells), 1)
        for n, column in enumerate(kept)
    ]
    _give_way(kept, widths, width)
    head = _row([column.heading for column in kept], kept, widths)
    return [
        coloured(Line(head, "strong"), colour=colour),
        *(_row(row, kept, widths) for row in cells),
    ]


def _give_way(columns: Sequence[Column], widths: list[int], width: int) -> None:
    """Narrow the flexible columns, the widest first, until the table fits or they are at their least."""
    while sum(widths) + len(GAP) * (len(widths) - 1) > width:
        flexible = [n for n, c in enumerate(columns) if c.flexible and widths[n] > LEAST_FLEXIBLE]
        if not flexible:
            return
        widths[max(flexible, key=lambda n: widths[n])] -= 1


def _row(cells: Sequence[str], columns: Sequence[Column], widths: Sequence[int]) -> str:
    shown = []
    for cell, column, width in zip(cells, columns, widths, strict=True):
        text = cut(cell, width) if column.flexible else cell
        shown.append(" " * (width - width_of(text)) + text if column.number else pad(text, width))
    return GAP.join(shown).rstrip()


def signal_lines(signal: Signal, lines: Sequence[str], *, colour: bool) -> list[str]:
    """Lines that begin with a signal word, the word in its colour."""
    word = signal.upper()
    first = lines[0].replace(word, coloured(Line(word, signal), colour=colour), 1)
    return [first, *lines[1:]]
