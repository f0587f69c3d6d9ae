"""Texts in typographic quotes, so that nothing of them is lost on paper.

Letters stand as they are. What print and page can't show (a second space, a line break, an invisible
character) is written visibly: ``¶`` for a line break, ``U+00A0`` in single angle quotes for a character by its
code, ``+`` in such quotes and a space where a very long word goes on.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from typing import Final

from lastscrew.reading.sources.encoding import as_read

LONGEST_WORD: Final = 45
"""Most characters without a space that are set in one piece."""

QUOTED: Final = "“((?:[^”]|””)*)”"
"""Pattern of a quoted text; its group is what stands between the quotes."""

_CODE = re.compile(r"\u2039U\+([0-9A-F]{4,6})\u203a")
_GOES_ON = "\u2039+\u203a "
_SET_ON_PAPER = (
    (0x20, 0x02B0),
    (0x0370, 0x0530),
    (0x2010, 0x2028),
    (0x20A0, 0x20C0),
    (0x2190, 0x2300),
)
"""Characters that the type of the PDF has: Latin, Greek, Cyrillic, marks, arrows, signs of mathematics."""


def quote(text: str, *, on_paper: bool = False) -> str:
    """The text in quotes.

    Args:
        text: Any text.
        on_paper: Write every character by its code that the type of the PDF may lack.
    """
    shown = _shown(text, on_paper=on_paper, ascii_only=False)
    if not _survives(shown):
        shown = _shown(text, on_paper=on_paper, ascii_only=True)
    return shown


def unquote(inside: str) -> str:
    """The text that stood between quotes, exactly."""
    text = inside.replace("””", "”").replace(_GOES_ON, "").replace("¶", "\n")
    return _CODE.sub(lambda match: _character(match[1]), text)


def _character(code: str) -> str:
    number = int(code, 16)
    return (
        chr(number)
        if number < 0x110000 and not 0xD800 <= number < 0xE000
        else f"\u2039U+{code}\u203a"
    )


def _shown(text: str, *, on_paper: bool, ascii_only: bool) -> str:
    pieces: list[str] = []
    run = 0
    for index, char in enumerate(text):
        if char == " " and pieces and index + 1 < len(text) and text[index - 1] != " ":
            pieces.append(" ")
            run = 0
            continue
        piece = _piece(char, on_paper=on_paper, ascii_only=ascii_only)
        if run and run + len(piece) > LONGEST_WORD:
            pieces.append(_GOES_ON)
            run = 0
        pieces.append(piece)
        run += len(piece)
    return "“" + "".join(pieces) + "”"


def _piece(char: str, *, on_paper: bool, ascii_only: bool) -> str:
    if char == "\n":
        return "¶"
    if char == "”" and not ascii_only:
        return "””"
    if char == " " or (not char.isascii() and ascii_only) or not _plain(char):
        return f"\u2039U+{ord(char):04X}\u203a"
    if on_paper and not any(low <= ord(char) < high for low, high in _SET_ON_PAPER):
        return f"\u2039U+{ord(char):04X}\u203a"
    return char


@cache
def _plain(char: str) -> bool:
    """Whether a character is seen, and is the same after a text was opened by the reader."""
    if char in "\u2039\u203a¶" or unicodedata.category(char)[0] in "CZ":
        return False
    return char.isascii() or _survives(char)


def _survives(shown: str) -> bool:
    return as_read(shown) == shown
