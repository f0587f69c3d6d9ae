"""From bytes to text: marks, guesses, and the repair of what was decoded wrongly before."""

from __future__ import annotations

import codecs
import re
import unicodedata

from lastscrew.reading.sources.limits import MAX_CHARACTERS, refuse
from lastscrew.reading.sources.no_text import refuse_what_is_no_text

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_MOJIBAKE = re.compile(
    r"â€[™˜œ\x9d“”\x93\x94¦¢]|Ã[\x80-\xbf©¨¼¶¤ŸÂ¡-¿]|Â[°·®©±²³µ«»\xa0]|â†’|Ã—|â–|ï¬"  # noqa: RUF001
)
_LIGATURES = {
    "ﬀ": "ff",
    "ﬁ": "fi",
    "ﬂ": "fl",
    "ﬃ": "ffi",
    "ﬄ": "ffl",
    "­": "",
    "\u200b": "",
    "‌": "",
    "‍": "",
    "﻿": "",
    "\xa0": " ",
    " ": " ",
    "‑": "-",  # noqa: RUF001
    "‐": "-",  # noqa: RUF001
    "′": "'",
    "″": '"',
    "\x0b": "\n",
    "\u2028": "\n",
    "\u2029": "\n",
    "\x85": "\n",
}
_TABLE = str.maketrans(_LIGATURES)
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")


def decode(data: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """Text of ``data`` and what was repaired.

    Raises:
        InputError: It is no text (pictures, programs), or too long.
    """
    text, repairs = _decode(data)
    refuse_what_is_no_text(data, text, name)
    if len(text) > MAX_CHARACTERS:
        raise refuse(
            f"The text has {len(text)} characters; at most {MAX_CHARACTERS} are read.",
            "Split it.",
            "too_large",
            name,
        )
    if _MOJIBAKE.search(text):
        repairs = (*repairs, "characters that had been decoded twice were mended")
    return as_read(text), repairs


def as_read(text: str) -> str:
    """A decoded text as it is read: one kind of line break, no control characters, mended, composed."""
    text = _CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
    if _MOJIBAKE.search(text):
        text = "\n".join(_mend(line) for line in text.split("\n"))
    return unicodedata.normalize("NFC", text.translate(_TABLE))


def _decode(data: bytes) -> tuple[str, tuple[str, ...]]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding, "replace"), (
                () if encoding == "utf-8" else (f"read as {encoding}",)
            )
    if data[:4000].count(0) > len(data[:4000]) // 4:
        even = data[:4000:2].count(0) > data[1:4000:2].count(0)
        encoding = "utf-16-be" if even else "utf-16-le"
        return data.decode(encoding, "replace"), (f"read as {encoding}",)
    try:
        return data.decode("utf-8"), ()
    except UnicodeDecodeError:
        lines = [_line(line) for line in data.split(b"\n")]
        return "\n".join(lines), ("lines that are no UTF-8 were read as Windows-1252",)


def _line(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("cp1252", "replace")


def _mend(line: str) -> str:
    """Undo UTF-8 that was read as Windows-1252, where that gives valid text."""
    if not _MOJIBAKE.search(line):
        return line
    try:
        raw = b"".join(_byte(char) for char in line)
        return raw.decode("utf-8")
    except (UnicodeDecodeError, UnicodeEncodeError):
        return line


def _byte(char: str) -> bytes:
    try:
        return char.encode("cp1252")
    except UnicodeEncodeError:
        return char.encode("latin-1")
