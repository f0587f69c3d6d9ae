"""Reading a device file: text in, a device or every problem out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from lastscrew.device import scalars
from lastscrew.device.building import build_device, with_stand_ins
from lastscrew.device.keys import DEFAULT_SIDES, FORMAT, SECTIONS, TOP
from lastscrew.device.model import Device
from lastscrew.device.names import is_extension
from lastscrew.device.nodes import Node, compose
from lastscrew.device.notes import Notes
from lastscrew.device.rules import check_rules
from lastscrew.device.source import Source, decode
from lastscrew.device.values import Mark, Reader
from lastscrew.device.writing import revision_of
from lastscrew.problems import InputError, Problem
from lastscrew.saying import say

MAX_ENTRIES: Final = 10_000
"""Most entries in one section (parts, joints, …)."""


@dataclass(frozen=True, slots=True)
class ReadResult:
    """What came of reading a device file.

    Attributes:
        device: The device, or None where there is any error.
        problems: Errors and warnings, in the order of the file.
        source: The text, for showing lines; None where the bytes are no text.
        root: The tree, for finding places; None where the text is not YAML.
    """

    device: Device | None
    problems: tuple[Problem, ...]
    source: Source | None = None
    root: Node | None = None

    @property
    def errors(self) -> tuple[Problem, ...]:
        """Only the errors."""
        return tuple(p for p in self.problems if p.severity == "error")

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """Only the warnings."""
        return tuple(p for p in self.problems if p.severity == "warning")

    def place(self, *path: str | int) -> tuple[int, int] | None:
        """1-based line and column of a value, such as ``place("joints", "lid", "access", 0, "side")``.

        The nearest thing above it where it is not written; None where there is no tree.
        """
        if self.source is None or self.root is None:
            return None
        node = Notes(self.source, self.root).find(path)
        return self.source.place(node.start if node is not None else 0)


def read_device(text: str | bytes, name: str = "input") -> ReadResult:
    """Read and check a device file of format 1.

    Args:
        text: The file's text, or its bytes (UTF-8).
        name: What problems call the file.

    Returns:
        The device and its warnings, or no device and every problem.
    """
    source: Source | None = None
    try:
        source = decode(text, name)
        root = compose(source)
    except InputError as error:
        return ReadResult(None, error.problems, source)
    notes = Notes(source, root)
    device = _read_tree(notes, root)
    problems = notes.in_file_order()
    if any(problem.severity == "error" for problem in problems):
        device = None
    if device is not None:
        device = replace(device, revision_hash=revision_of(device))
    return ReadResult(device, problems, source, root)


def load_device(text: str | bytes, name: str = "input") -> Device:
    """The device of a file without errors.

    Raises:
        InputError: With every error of the file (its warnings are for :func:`read_device`).
    """
    result = read_device(text, name)
    if result.device is None:
        raise InputError(result.errors)
    return result.device


def _read_tree(notes: Notes, root: Node) -> Device | None:
    if root.shape != "map":
        notes.add(
            (),
            say("a device file is a mapping of keys"),
            say("Begin with `format: 1`."),
            code="wrong_type",
            at=root,
        )
        return None
    if not _format_is_ours(notes, root):
        return None
    ids: dict[str, Mapping[str, object] | None] = {
        name: _ids(notes, root, name) for name in (section.name for section in SECTIONS)
    }
    if any(found is not None and len(found) > MAX_ENTRIES for found in ids.values()):
        return None
    ids["sides"] = _side_ids(root)
    reader = Reader(notes, ids)
    top = reader.record(root, TOP, ())
    if isinstance(top, Mark):
        return None
    device = build_device(with_stand_ins(top, ids["parts"] or ()), reader.extras)
    check_rules(device, top, notes)
    return device


def _value(root: Node, name: str) -> Node | None:
    return next((value for key, value in root.pairs if key.text == name), None)


def _format_is_ours(notes: Notes, root: Node) -> bool:
    """False for a file of a later format: then nothing else can be said about it."""
    node = _value(root, "format")
    if node is None or node.shape != "scalar" or scalars.kind_of(node) != "number":
        return True
    number = scalars.number(node)
    if number is None or number != number.to_integral_value() or number <= FORMAT:
        return True
    notes.add(
        ("format",),
        say(
            "the file is of format {text}, this program reads format {format}",
            text=node.text,
            format=FORMAT,
        ),
        say("Use a newer version of the program."),
        code="newer_format",
        at=node,
    )
    return False


def _ids(notes: Notes, root: Node, name: str) -> dict[str, object] | None:
    """Ids of a section, from its keys alone, so that one bad entry does not make its name unknown."""
    node = _value(root, name)
    if node is None:
        return {}
    if node.shape != "map":
        return None
    if len(node.pairs) > MAX_ENTRIES:
        notes.add(
            (name,),
            say("{name} has {n} entries", name=name, n=f"{len(node.pairs):,}"),
            say("At most {most} are read; split the device.", most=f"{MAX_ENTRIES:,}"),
            code="too_large",
            at=node,
        )
    return {k.text: None for k, _ in node.pairs if k.shape == "scalar" and not is_extension(k.text)}


def _side_ids(root: Node) -> Mapping[str, object] | None:
    node = _value(root, "sides")
    if node is None:
        return dict.fromkeys(DEFAULT_SIDES)
    if node.shape != "list":
        return None
    return {item.text: None for item in node.items if item.shape == "scalar"} or None
