"""The text of a device file: how bytes become characters, and where a character stands."""

from __future__ import annotations

from bisect import bisect_right
from functools import cached_property

from lastscrew.problems import InputError, Problem
from lastscrew.saying import say

MAX_BYTES = 4 * 1024 * 1024
"""Largest device file that is read. A device of 1,000 joints has about 200 kB."""

_MARKS = (
    (b"\xff\xfe\x00\x00", "UTF-32"),
    (b"\x00\x00\xfe\xff", "UTF-32"),
    (b"\xff\xfe", "UTF-16"),
    (b"\xfe\xff", "UTF-16"),
)
_BYTE_ORDER_MARK = "\ufeff"


class Source:
    """Decoded text with its name; turns a character index into line and column."""

    def __init__(self, text: str, name: str) -> None:
        """Keep ``text``; ``name`` is what problems call the input."""
        self.text = text
        self.name = name

    @cached_property
    def line_starts(self) -> list[int]:
        """Index of the first character of every line (breaks: LF, CR LF, CR, as in YAML 1.2)."""
        starts = [0]
        text = self.text
        if "\r" not in text:
            at = text.find("\n")
            while at >= 0:
                starts.append(at + 1)
                at = text.find("\n", at + 1)
            return starts
        for index, char in enumerate(text):
            if char == "\n" or (char == "\r" and text[index + 1 : index + 2] != "\n"):
                starts.append(index + 1)
        return starts

    def place(self, index: int) -> tuple[int, int]:
        """1-based line and column (in characters) of the character at ``index``."""
        index = min(max(index, 0), len(self.text))
        line = bisect_right(self.line_starts, index)
        return line, index - self.line_starts[line - 1] + 1

    def line(self, number: int) -> str:
        """Text of the 1-based line ``number`` without its break; empty where there is none."""
        if not 1 <= number <= len(self.line_starts):
            return ""
        start = self.line_starts[number - 1]
        end = self.line_starts[number] if number < len(self.line_starts) else len(self.text)
        return self.text[start:end].rstrip("\r\n")

    def problem(self, index: int, message: str, remedy: str, code: str) -> Problem:
        """An error about the character at ``index``."""
        line, column = self.place(index)
        return Problem(message, remedy, file=self.name, line=line, column=column, code=code)


def decode(data: str | bytes, name: str) -> Source:
    """Turn what was given into text.

    Args:
        data: Text, or bytes in UTF-8 with or without a byte order mark.
        name: Name of the input for problems.

    Raises:
        InputError: Too large, not UTF-8, or characters that no text has.
    """
    size = len(data)
    if size > MAX_BYTES:
        raise InputError(
            [
                Problem(
                    say("the file is larger than {n} MiB", n=MAX_BYTES // 1024**2),
                    say(
                        "A device file describes one kind of machine; split it or leave out what is not one."
                    ),
                    file=name,
                    code="too_large",
                )
            ]
        )
    text = data if isinstance(data, str) else _from_bytes(data, name)
    if text.startswith(_BYTE_ORDER_MARK):
        text = text[1:]
    source = Source(text, name)
    _refuse_odd_characters(source)
    return source


def _from_bytes(data: bytes, name: str) -> str:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            raise InputError(
                [_wrong_encoding(say("the file is {encoding}, not UTF-8", encoding=encoding), name)]
            )
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        line, column = Source(before, name).place(len(before))
        byte = data[error.start]
        raise InputError(
            [
                Problem(
                    say(
                        "the byte {byte} is not UTF-8 (it looks like Latin-1 or Windows-1252)",
                        byte=f"0x{byte:02X}",
                    ),
                    say("Save the file as UTF-8."),
                    file=name,
                    line=line,
                    column=column,
                    code="encoding",
                )
            ]
        ) from None


def _wrong_encoding(message: str, name: str) -> Problem:
    return Problem(
        message, say("Save the file as UTF-8."), file=name, line=1, column=1, code="encoding"
    )


def _refuse_odd_characters(source: Source) -> None:
    text = source.text
    at = text.find("\0")
    if at >= 0:
        many = text.count("\0")
        hint = say("it is not plain text")
        if many > len(text) // 4:
            hint = say("it may be UTF-16 without its mark")
        raise InputError(
            [
                source.problem(
                    at,
                    say("the file contains a NUL character; {hint}", hint=hint),
                    say("Save the file as UTF-8 text."),
                    "encoding",
                )
            ]
        )
    if text.isascii():
        return
    for at, char in enumerate(text):
        if "\ud800" <= char <= "\udfff":
            raise InputError(
                [
                    source.problem(
                        at,
                        say(
                            "half of a surrogate pair ({code}) is no character",
                            code=f"U+{ord(char):04X}",
                        ),
                        say("Save the file as UTF-8."),
                        "encoding",
                    )
                ]
            )
