"""Plain data as YAML 1.2 text: one way to write every scalar, braces for short things."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Final, TypeAlias

from lastscrew.device.names import visible

Data: TypeAlias = object
"""None, bool, int, float, str, or lists and mappings of these."""

LINE_LENGTH: Final = 110

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_./+-]*(?: [A-Za-z0-9_./+-]+)*")
"""Text that is certainly text without quotes, for old and new readers, in braces and out of them."""
_WORDS_OF_YAML = frozenset(["null", "true", "false", "yes", "no", "on", "off", "y", "n"])
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r", "\0": "\\0"}


class Comments:
    """Comments by path, and the paths that have one somewhere below them."""

    def __init__(self, by_path: Mapping[str, str]) -> None:
        """``by_path``: text without ``#``; several lines allowed."""
        self.by_path = by_path
        self.above: set[str] = set()
        for path in by_path:
            ends = [at for at, char in enumerate(path) if char in ".["]
            self.above.update(path[:end] for end in ends)

    def lines(self, path: str, margin: str) -> list[str]:
        """Lines of the comment on ``path``, each with ``margin`` before it."""
        text = self.by_path.get(path, "")
        return [f"{margin}# {visible(line)}".rstrip() for line in text.splitlines()]


def scalar_text(value: Data) -> str:
    """One scalar.

    Raises:
        ValueError: A number that is not finite.
        TypeError: No scalar.
    """
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"{value} is not finite")
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, str):
        return _text(value)
    raise TypeError(f"{type(value).__name__} is no scalar")


def _text(value: str) -> str:
    if _PLAIN.fullmatch(value) and value.lower() not in _WORDS_OF_YAML:
        return value
    return '"' + "".join(_ESCAPES.get(char) or _character(char) for char in value) + '"'


def _character(char: str) -> str:
    """A character inside double quotes; invisible ones as escapes, so that they are seen."""
    if char == " " or char.isprintable():
        return char
    code = ord(char)
    return (
        f"\\x{code:02x}" if code < 256 else f"\\u{code:04x}" if code < 65536 else f"\\U{code:08x}"
    )


def flow_text(value: Data) -> str:
    """Any data on one line, with braces and brackets."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{scalar_text(k)}: {flow_text(v)}" for k, v in value.items()) + "}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(flow_text(item) for item in value) + "]"
    return scalar_text(value)


def block_lines(
    value: Data, indent: int, comments: Comments, path: str, *, open_up: bool = False
) -> list[str]:
    """Lines of a value that begins on a line of its own.

    Args:
        value: A mapping or list.
        indent: Spaces before each line.
        comments: Comments by path; a comment stands on the lines above what it belongs to.
        path: Path of ``value``.
        open_up: Write each entry of the mapping on lines of its own (for whole sections).
    """
    lines: list[str] = []
    margin = " " * indent
    if isinstance(value, Mapping):
        for key, item in value.items():
            below = f"{path}.{key}" if path else str(key)
            lines.extend(comments.lines(below, margin))
            lines.extend(
                _item_lines(
                    f"{margin}{scalar_text(key)}:", item, indent, comments, below, open_up=open_up
                )
            )
        return lines
    assert isinstance(value, Sequence)
    for index, item in enumerate(value):
        below = f"{path}[{index}]"
        lines.extend(comments.lines(below, margin))
        lines.extend(_item_lines(f"{margin}-", item, indent, comments, below))
    return lines


def _item_lines(
    head: str, item: Data, indent: int, comments: Comments, path: str, *, open_up: bool = False
) -> list[str]:
    one_line = f"{head} {flow_text(item)}"
    nested = isinstance(item, Mapping | list | tuple) and len(item) > 0
    commented = path in comments.above
    if not nested or not (
        commented or (open_up and isinstance(item, Mapping)) or len(one_line) > LINE_LENGTH
    ):
        return [one_line]
    if (
        isinstance(item, list | tuple)
        and not commented
        and not any(isinstance(i, Mapping) for i in item)
    ):
        return _wrapped_list(head, item, indent + 2)
    lines = block_lines(item, indent + 2, comments, path)
    if head.endswith("-") and not lines[0].lstrip().startswith("#"):
        return [f"{head} {lines[0].lstrip()}", *lines[1:]]
    return [head, *lines]


def _wrapped_list(head: str, items: Sequence[Data], indent: int) -> list[str]:
    """A long list of short values over several lines, in brackets."""
    lines = [f"{head} ["]
    for index, item in enumerate(items):
        word = flow_text(item) + ("," if index + 1 < len(items) else "")
        if index == 0 or len(lines[-1]) + len(word) + 1 > LINE_LENGTH:
            lines.append(" " * indent + word)
        else:
            lines[-1] += f" {word}"
    lines.append(" " * (indent - 2) + "]")
    return lines
