"""YAML 1.2 text as a tree of nodes that know where they stand.

Only what a device file needs is accepted: one document of mappings, lists and scalars. Anchors,
aliases, merge keys and tags are refused, so a small file can't unfold into a large one and no value
can build anything. Depth and number of nodes are bounded; the tree is built without recursion.
Scalars stay text here: what type they have is decided by what is expected (see ``values``).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, Final, Literal, TypeAlias

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentEndEvent,
    DocumentStartEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceStartEvent,
    StreamEndEvent,
    StreamStartEvent,
)
from ruamel.yaml.reader import ReaderError
from ruamel.yaml.scanner import Scanner, ScannerError

from lastscrew.device.names import visible
from lastscrew.device.source import Source
from lastscrew.problems import InputError, Problem
from lastscrew.saying import joined, say

MAX_DEPTH: Final = 20
"""Deepest nesting; format 1 itself needs 7."""
MAX_NODES: Final = 400_000
"""Most values (keys included) in one file."""
MAX_TAG_LENGTH: Final = 200

Event: TypeAlias = Any
"""An event of the parser, whose classes carry no types."""
Shape = Literal["scalar", "map", "list"]


class Node:
    """A value in the text.

    Attributes:
        shape: ``scalar``, ``map`` or ``list``.
        text: Text of a scalar, after quotes and escapes are undone; else empty.
        plain: True for a scalar without quotes (only such a one can be a number).
        pairs: Keys and values of a mapping, in order, repeated keys included.
        items: Items of a list.
        start, end: Index of the first character, and of the one after the last.
        flow: True for a mapping or list in braces or brackets.
    """

    __slots__ = ("end", "flow", "items", "pairs", "plain", "shape", "start", "text")

    def __init__(self, shape: Shape, start: int, end: int) -> None:
        """An empty node; the builder fills it."""
        self.shape: Shape = shape
        self.start = start
        self.end = end
        self.text = ""
        self.plain = False
        self.flow = False
        self.pairs: list[tuple[Node, Node]] = []
        self.items: list[Node] = []


def compose(source: Source) -> Node:
    """The only document of ``source`` as a tree.

    Raises:
        InputError: Not YAML, more than one document, or something that is refused here.
    """
    try:
        return _Builder(source).build(_events(source))
    except InputError:
        raise
    except MarkedYAMLError as error:
        raise InputError([_syntax_problem(source, error)]) from None
    except ReaderError as error:
        raise InputError([_character_problem(source, error)]) from None
    except Exception as error:  # noqa: BLE001 (whatever the parser trips over is bad input, not a crash)
        raise InputError(
            [
                Problem(
                    say("the file can't be read as YAML ({error})", error=type(error).__name__),
                    say("Check quotes, brackets and indentation."),
                    file=source.name,
                    code="yaml",
                )
            ]
        ) from None


def _events(source: Source) -> Iterator[Event]:
    yaml = YAML(typ="safe", pure=True)
    yaml.Scanner = _Scanner
    events: Iterator[Event] = yaml.parse(source.text)
    return events


class _Scanner(Scanner):
    """The library's scanner; it takes a tag's text apart in quadratic time, so long ones end here."""

    def scan_tag(self) -> Any:  # noqa: ANN401 (a token of the library)
        ahead = self.reader.prefix(MAX_TAG_LENGTH)
        if len(ahead) == MAX_TAG_LENGTH and not any(char.isspace() for char in ahead):
            raise ScannerError(None, None, "found a tag that is too long", self.reader.get_mark())
        return super().scan_tag()


_COLON = re.compile(r"[ \t]*:")


class _Builder:
    """Builds the tree from parser events with a stack of open collections."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.stack: list[Node] = []
        self.keys: list[Node | None] = []
        self.root: Node | None = None
        self.documents = 0
        self.count = 0
        self.refused: list[Problem] = []

    def build(self, events: Iterator[Event]) -> Node:
        for event in events:
            kind = type(event)
            if kind is ScalarEvent:
                node = Node("scalar", event.start_mark.index, event.end_mark.index)
                node.text = event.value
                node.plain = not event.style
                self._check(event, tag=event.ctag)
                self._add(node)
            elif kind is MappingStartEvent or kind is SequenceStartEvent:
                self._open(event, "map" if kind is MappingStartEvent else "list")
            elif kind is AliasEvent:
                self._refuse_alias(event)
                self._add(Node("scalar", event.start_mark.index, event.end_mark.index))
            elif kind is DocumentStartEvent:
                self._start_document(event)
            elif kind is not DocumentEndEvent and kind is not StreamStartEvent:
                if kind is StreamEndEvent:
                    break
                self._close(event)
        if self.refused:
            raise InputError(self.refused)
        if self.root is None or self._is_empty(self.root):
            raise InputError(
                [
                    self.source.problem(
                        0, say("the file is empty"), say("Begin with `format: 1`."), "empty"
                    )
                ]
            )
        return self.root

    def _is_empty(self, root: Node) -> bool:
        return root.shape == "scalar" and root.plain and not root.text

    def _check(self, event: Event, tag: object) -> None:
        if event.anchor is not None:
            self._refuse(
                event,
                say("anchors (&{name}) are not allowed", name=visible(str(event.anchor)[:40])),
                say("Write the value out where it is needed."),
                "anchor",
            )
        if tag is not None and str(tag) != "None":
            self._refuse(
                event,
                say("tags ({name}) are not allowed", name=visible(str(tag)[:40])),
                say("Leave the tag out; quote a value to make it text."),
                "tag",
            )

    def _refuse_alias(self, event: Event) -> None:
        self._refuse(
            event,
            say("aliases (*{name}) are not allowed", name=visible(str(event.anchor)[:40])),
            say("Write the value out where it is needed."),
            "anchor",
        )

    def _refuse(self, event: Event, message: str, remedy: str, code: str) -> None:
        self.refused.append(self.source.problem(event.start_mark.index, message, remedy, code))
        if len(self.refused) >= 100:
            raise InputError(self.refused)

    def _start_document(self, event: Event) -> None:
        self.documents += 1
        if event.version is not None and str(event.version) != "(1, 2)":
            if tuple(getattr(event.version, "_version", event.version)) != (1, 2):
                self._refuse(
                    event,
                    say("the file asks for another YAML version than 1.2"),
                    say("Write %YAML 1.2, or nothing."),
                    "yaml",
                )
        if self.documents > 1:
            self._refuse(
                event,
                say("a second document begins here"),
                say("Keep one device per file."),
                "documents",
            )
            raise InputError(self.refused)

    def _open(self, event: Event, shape: Shape) -> None:
        node = Node(shape, event.start_mark.index, event.end_mark.index)
        node.flow = bool(event.flow_style)
        self._check(event, tag=event.ctag)
        self._add(node)
        self.stack.append(node)
        self.keys.append(None)
        if len(self.stack) > MAX_DEPTH:
            self._refuse(
                event,
                say("values are nested more than {most} deep", most=MAX_DEPTH),
                say("Device files need 7."),
                "too_deep",
            )
            raise InputError(self.refused)

    def _close(self, event: Event) -> None:
        node = self.stack.pop()
        self.keys.pop()
        if node.flow:
            node.end = event.end_mark.index
        elif node.pairs:
            node.end = node.pairs[-1][1].end
        elif node.items:
            node.end = node.items[-1].end

    def _add(self, node: Node) -> None:
        self.count += 1
        if self.count > MAX_NODES:
            raise InputError(
                [
                    self.source.problem(
                        node.start,
                        say(
                            "the file holds more than {most} values",
                            most=f"{MAX_NODES:,}",
                        ),
                        say("Keep one device per file."),
                        "too_large",
                    )
                ]
            )
        if not self.stack:
            self.root = node
            return
        parent = self.stack[-1]
        if parent.shape == "list":
            parent.items.append(node)
            return
        key = self.keys[-1]
        if key is None:
            self.keys[-1] = node
        else:
            if node.start == node.end and node.shape == "scalar":
                self._put_after_colon(node, key)
            parent.pairs.append((key, node))
            self.keys[-1] = None

    def _put_after_colon(self, node: Node, key: Node) -> None:
        """Place an empty value behind the colon of its key; the parser places some at what comes next."""
        colon = _COLON.match(self.source.text, key.end)
        node.start = node.end = colon.end() if colon else key.end


_PLAIN_WORDS = (
    (
        re.compile(r"could not find expected ':'"),
        say("a key without a colon and a value"),
        say("Write `key: value`."),
    ),
    (
        re.compile(r"found character '\\t'"),
        say("a tab where only spaces may stand"),
        say("Indent with spaces."),
    ),
    (
        re.compile(r"found unexpected end of stream"),
        say("a quote or bracket is never closed"),
        say("Close it."),
    ),
    (
        re.compile(r"mapping values are not allowed"),
        say("a second colon in one line"),
        say("Put the value in quotes, or begin a new line."),
    ),
    (
        re.compile(r"expected <block end>"),
        say("the indentation does not fit what is above"),
        say("Line it up with the other keys."),
    ),
    (
        re.compile(r"expected ',' or '[\]}]'"),
        say("a bracket is never closed, or a comma is missing"),
        say("Close the bracket or add the comma."),
    ),
    (
        re.compile(r"found unknown escape"),
        say("an unknown escape in double quotes"),
        say("Use single quotes, or write \\\\ for a backslash."),
    ),
)
"""What the parser says, and the same in words for somebody who never wrote a parser."""


def _syntax_problem(source: Source, error: MarkedYAMLError) -> Problem:
    mark = error.problem_mark or error.context_mark
    said = str(error.problem or error.context or "not YAML").strip().splitlines()[0]
    message: str = say("this is not YAML: {said}", said=said)
    remedy: str = say("Check quotes, brackets and indentation.")
    for pattern, plain, cure in _PLAIN_WORDS:
        if pattern.search(said):
            message, remedy = joined("", (plain, " (", said, ")")), cure
            break
    if error.context_mark is not None and error.context_mark is not mark:
        line, _ = source.place(error.context_mark.index)
        remedy = joined(" ", (remedy, say("It began on line {line}.", line=line)))
    return source.problem(mark.index if mark is not None else 0, message, remedy, "yaml")


def _character_problem(source: Source, error: ReaderError) -> Problem:
    at = min(max(int(error.position), 0), max(len(source.text) - 1, 0))
    code_point = ord(source.text[at]) if source.text else 0
    return source.problem(
        at,
        say("the control character {code} is not allowed in YAML", code=f"U+{code_point:04X}"),
        say("Remove it."),
        "encoding",
    )
