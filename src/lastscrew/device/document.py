"""Changing a device file without touching anything else in it.

A document is the text itself. An edit replaces the characters of one value, adds one key or takes one
away; comments, order, spacing and every other character stay as they were. After each edit the text is
read again and compared with what was meant.
"""

from __future__ import annotations

from typing import Any

from lastscrew.device.emitting import Data, flow_text, scalar_text
from lastscrew.device.kept import raw
from lastscrew.device.names import Path, path_steps, path_text
from lastscrew.device.nodes import Node, compose
from lastscrew.device.notes import Notes
from lastscrew.device.reading import ReadResult, read_device
from lastscrew.device.source import Source, decode
from lastscrew.problems import InputError


class Document:
    """A device file that can be edited in place.

    Paths are texts such as ``joints.lid.access[1].open_s`` or tuples of keys and list indices.
    """

    def __init__(self, source: Source, root: Node, data: Data) -> None:
        """Use :meth:`parse`."""
        self._source = source
        self._root = root
        self._data: Any = data

    @classmethod
    def parse(cls, text: str | bytes, name: str = "input") -> Document:
        """The document of a text; it need not be a valid device file, only sound YAML.

        Raises:
            InputError: The text can't be read as YAML, or a key stands twice in one mapping.
        """
        return cls(*_parsed(text, name))

    def text(self) -> str:
        """The whole text as it is now."""
        return self._source.text

    def read(self) -> ReadResult:
        """The text read as a device file."""
        return read_device(self._source.text, self._source.name)

    def get(self, path: str | Path) -> Any:  # noqa: ANN401 (whatever stands there)
        """Plain data at ``path``.

        Raises:
            KeyError: Nothing stands there.
        """
        value: Any = self._data
        for step in _steps(path):
            try:
                value = value[step]
            except (IndexError, KeyError, TypeError):
                raise KeyError(path if isinstance(path, str) else path_text(path)) from None
        return value

    def set(self, path: str | Path, value: Data) -> None:
        """Write ``value`` at ``path``: in place of what stands there, or as a new key or list item.

        Mappings that are missing on the way are added. A list index must exist or be the next one.

        Raises:
            KeyError: The path leads through something that is no mapping or list.
        """
        steps = _steps(path)
        for depth in range(1, len(steps)):
            if self._is_missing(steps[:depth]):
                for step in reversed(steps[depth:]):
                    value = [value] if isinstance(step, int) else {step: value}
                steps = steps[:depth]
                break
        expected = _with(self._data, steps, value)
        node = self._find(steps)
        if node is not None:
            edited = self._replaced(node, self._parent_of(steps), value)
        else:
            edited = self._added(self._parent_of(steps), steps, value)
        self._take(edited, expected, steps)

    def remove(self, path: str | Path) -> None:
        """Take the key or list item at ``path`` away.

        Raises:
            KeyError: Nothing stands there.
        """
        steps = _steps(path)
        self.get(steps)
        expected = _without(self._data, steps)
        parent = self._parent_of(steps)
        if len(parent.pairs) + len(parent.items) == 1:
            edited = self._replaced(parent, None, {} if parent.shape == "map" else [])
        elif parent.flow:
            edited = self._cut_from_flow(parent, steps[-1])
        else:
            edited = self._cut_from_block(parent, steps[-1])
        self._take(edited, expected, steps)

    def _take(self, text: str, expected: Data, steps: Path) -> None:
        """Go on with an edited text, after making sure that it says what was meant."""
        source, root, data = _parsed(text, self._source.name)
        if data != expected:
            raise RuntimeError(f"the edit at {path_text(steps)} changed something else too")
        self._source, self._root, self._data = source, root, data

    def _find(self, steps: Path) -> Node | None:
        return Notes(self._source, self._root).node(steps)

    def _is_missing(self, steps: Path) -> bool:
        try:
            return self.get(steps) is None
        except KeyError:
            return True

    def _parent_of(self, steps: Path) -> Node:
        node = self._find(steps[:-1])
        wanted = "list" if isinstance(steps[-1], int) else "map"
        if node is None or node.shape != wanted:
            raise KeyError(path_text(steps))
        return node

    def _replaced(self, node: Node, parent: Node | None, value: Data) -> str:
        text = self._source.text
        old, new = text[node.start : node.end], flow_text(value)
        if not old:
            new = f" {new}"
        elif old.endswith("\n"):
            new += "\n"
        if (
            not node.flow
            and node.shape != "scalar"
            and parent is not None
            and self._column(node) <= self._column(parent)
        ):
            new = f"  {new}"
        return text[: node.start] + new + text[node.end :]

    def _column(self, node: Node) -> int:
        return self._source.place(node.start)[1]

    def _added(self, parent: Node, steps: Path, value: Data) -> str:
        last = steps[-1]
        if isinstance(last, int) and last != len(parent.items):
            raise KeyError(path_text(steps))
        new = (
            flow_text(value)
            if isinstance(last, int)
            else f"{scalar_text(last)}: {flow_text(value)}"
        )
        text = self._source.text
        ends = [pair[1].end for pair in parent.pairs] + [item.end for item in parent.items]
        if parent.flow:
            at = ends[-1] if ends else parent.start + 1
            return text[:at] + (", " if ends else "") + new + text[at:]
        margin = " " * (self._column(parent) - 1)
        dash = "- " if isinstance(last, int) else ""
        return self._line_inserted(ends[-1], f"{margin}{dash}{new}")

    def _line_inserted(self, end: int, line: str) -> str:
        """The text with a line of its own after the line on which a value ends."""
        text = self._source.text
        newline = "\r\n" if "\r\n" in text else "\n"
        if text[:end].endswith("\n"):
            return text[:end] + line + newline + text[end:]
        at = text.find("\n", end)
        if at < 0:
            return text + newline + line + newline
        return text[: at + 1] + line + newline + text[at + 1 :]

    def _cut_from_flow(self, parent: Node, step: str | int) -> str:
        """Take a pair or item out of braces or brackets, with the comma that goes with it."""
        text = self._source.text
        spans = [(key.start, value.end) for key, value in parent.pairs] or [
            (i.start, i.end) for i in parent.items
        ]
        index = step if isinstance(step, int) else [key.text for key, _ in parent.pairs].index(step)
        start, end = spans[index]
        if index + 1 < len(spans):
            end = spans[index + 1][0]
        else:
            start = spans[index - 1][1]
        return text[:start] + text[end:]

    def _cut_from_block(self, parent: Node, step: str | int) -> str:
        """Take the lines of a pair or item out of a block mapping or list."""
        text = self._source.text
        spans = [(key.start, value.end) for key, value in parent.pairs] or [
            (i.start, i.end) for i in parent.items
        ]
        index = step if isinstance(step, int) else [key.text for key, _ in parent.pairs].index(step)
        start, end = spans[index]
        line_start = text.rfind("\n", 0, start) + 1
        before = text[line_start:start].strip()
        if before != ("-" if isinstance(step, int) else ""):
            if index + 1 < len(spans):
                return text[:start] + text[spans[index + 1][0] :]
            raise KeyError(f"{step} shares its line with something else; rewrite what is around it")
        if text[:end].endswith("\n"):
            return text[:line_start] + text[end:]
        at = text.find("\n", end)
        return text[:line_start] + ("" if at < 0 else text[at + 1 :])


def _parsed(text: str | bytes, name: str) -> tuple[Source, Node, Data]:
    source = decode(text, name)
    root = compose(source)
    notes = Notes(source, root)
    data = raw(notes, root, ())
    if notes.problems:
        raise InputError(notes.in_file_order())
    return source, root, data


def _steps(path: str | Path) -> Path:
    steps = path_steps(path) if isinstance(path, str) else tuple(path)
    if not steps:
        raise KeyError("the whole document can't be set or removed")
    return steps


def _with(data: Any, steps: Path, value: Data) -> Any:  # noqa: ANN401 (plain data of any shape)
    """A copy of ``data`` with ``value`` at ``steps``."""
    if not steps:
        return _plain(value)
    first, rest = steps[0], steps[1:]
    if isinstance(first, int):
        if not isinstance(data, list) or first > len(data):
            raise KeyError(path_text(steps))
        below = _with(data[first] if first < len(data) else None, rest, value)
        return [*data[:first], below, *data[first + 1 :]]
    if not isinstance(data, dict):
        raise KeyError(path_text(steps))
    return {**data, first: _with(data.get(first), rest, value)}


def _plain(value: Any) -> Any:  # noqa: ANN401
    """Data as it is when it is read again: lists for tuples, whole numbers without a point."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return (
        int(value)
        if isinstance(value, float) and value.is_integer() and abs(value) < 1e15
        else value
    )


def _without(data: Any, steps: Path) -> Any:  # noqa: ANN401
    first, rest = steps[0], steps[1:]
    if rest:
        below = _without(data[first], rest)
        if isinstance(first, int):
            return [*data[:first], below, *data[first + 1 :]]
        return {**data, first: below}
    if isinstance(first, int):
        return [*data[:first], *data[first + 1 :]]
    return {key: value for key, value in data.items() if key != first}
