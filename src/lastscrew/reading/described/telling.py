"""A device as paragraphs of plain sentences, by the table of sentences."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from lastscrew.device.emitting import scalar_text
from lastscrew.device.model import Device
from lastscrew.device.names import device_id_from_name, is_extension, name_from_id
from lastscrew.device.types import NOUNS
from lastscrew.device.writing import device_tree
from lastscrew.reading.described.sentence_table import (
    END,
    HINT,
    INTRODUCTION,
    LEAD,
    LEFT_OUT,
    LEFT_OUT_SECTIONS,
    LOSSES,
    TOLD_SECTIONS,
    WAY,
    Saying,
    key_of,
    sayings_of,
    sections_named,
)

Tree: TypeAlias = dict[str, Any]
Quote: TypeAlias = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Sentences about one thing; ``heading`` opens a section before it."""

    sentences: tuple[str, ...]
    heading: str = ""


def tell_device(device: Device, quoted: Quote) -> tuple[Paragraph, ...]:
    """Everything that the file says, but for what :data:`LEFT_OUT` names.

    Args:
        device: The device.
        quoted: How a text is set in quotes (``quoting.quote``).
    """
    tree = told_tree(device)
    return (
        Paragraph((LEAD, HINT, LOSSES)),
        *Teller(tree, quoted).paragraphs(),
        Paragraph((END,)),
    )


def told_tree(device: Device) -> Tree:
    """The device as plain data in the shape of the file, without what the sentences leave out.

    A function that names an entry of ``checks`` says for itself what that entry says. The mark of the machine is
    always there.
    """
    functions = {i: replace(function, entry=None) for i, function in device.functions.items()}
    tree = device_tree(replace(device, functions=functions))
    kept: Tree = _kept(tree)
    kept["format"] = tree["format"]
    kept["device"].setdefault("id", device_id_from_name(device.name))
    for key in LEFT_OUT_SECTIONS:
        kept.pop(key, None)
    return kept


def _kept(value: Any) -> Any:  # noqa: ANN401 - plain data of any shape
    if isinstance(value, Mapping):
        return {
            key: _kept(item)
            for key, item in value.items()
            if key not in LEFT_OUT and not is_extension(key)
        }
    return [_kept(item) for item in value] if isinstance(value, list) else value


class Teller:
    """Says one tree."""

    def __init__(self, tree: Tree, quoted: Quote) -> None:
        """``tree`` holds only what is said."""
        self.tree = tree
        self.quoted = quoted
        self.names = {
            section.name: {
                entry: value.get("name") or name_from_id(entry)
                for entry, value in tree.get(section.name, {}).items()
            }
            for section in TOLD_SECTIONS
        }
        self.names["sides"] = {side: side for side in tree.get("sides", ["top"])}

    def paragraphs(self) -> Iterator[Paragraph]:
        """The machine itself, then section by section, each entry in a paragraph of its own."""
        machine = [*self.record("device", self.tree["device"]), *self.record("top", self.tree)]
        yield Paragraph(tuple(machine), "The machine")
        for section in TOLD_SECTIONS:
            heading = section.name.capitalize()
            for entry, value in self.tree.get(section.name, {}).items():
                yield Paragraph(tuple(self._entry(section.name, entry, value)), heading)
                heading = ""

    def _entry(self, section: str, entry: str, value: Tree) -> Iterator[str]:
        name = self.quoted(self.names[section][entry])
        yield _filled(
            INTRODUCTION, {"noun": [NOUNS[section]], "name": [name], "id": [self.quoted(entry)]}
        )
        yield from self.record(section, value)
        for number, access in enumerate(value.get("access", []), 1):
            yield _filled(WAY, {"number": [str(number)]})
            yield from self.record("access", access)

    def record(self, record: str, values: Tree) -> Iterator[str]:
        """Sentences of the keys that are there, in the order of the table."""
        for key, rows in sayings_of(record).items():
            if key == "measure" and key in values:
                yield rows[0].text
                yield from self.record("measure", values[key])
            elif key in values:
                yield from self._key(rows, values[key])

    def _key(self, rows: tuple[Saying, ...], value: Any) -> Iterator[str]:  # noqa: ANN401
        if isinstance(value, dict):
            for name, amount in value.items():
                yield self._said(rows, [name], amount)
        elif isinstance(value, list):
            yield from self._list(rows, value)
        else:
            yield self._said(rows, [value])

    def _list(self, rows: tuple[Saying, ...], items: list[Any]) -> Iterator[str]:
        first = next((row for row in rows if row.place == "first"), None)
        taken = first.text.count("{") if first else 0
        if first:
            yield self._fill(first, items[:taken])
        for item in items[taken:]:
            yield self._said([row for row in rows if row.place != "first"], [item])

    def _said(
        self,
        rows: tuple[Saying, ...] | list[Saying],
        values: list[Any],
        amount: float | None = None,
    ) -> str:
        for row in rows:
            if (
                row.value is not None
                and type(row.value) is type(values[0])
                and row.value == values[0]
            ):
                return row.text
        row = next(row for row in rows if row.value is None)
        return self._fill(row, values, amount)

    def _fill(self, row: Saying, values: list[Any], amount: float | None = None) -> str:
        sections = sections_named(key_of(row.record, row.key).type)
        slots = {
            "ref": [self.named(value, sections) for value in values] if "{ref}" in row.text else [],
            "text": [self.quoted(str(value)) for value in values],
            "word": [str(value).replace("_", " ") for value in values],
            "number": [scalar_text(values[0] if amount is None else amount)]
            if _numeric(row)
            else [],
        }
        return _filled(row.text, slots)

    def named(self, entry: str, sections: tuple[str, ...]) -> str:
        """An entry by its name; with its mark where another has the same name."""
        known = [(i, n) for section in sections for i, n in self.names[section].items()]
        names = dict(known)
        same = Counter(name for i, name in dict.fromkeys(known))
        shown = self.quoted(names[entry])
        return shown if same[names[entry]] == 1 else f"{shown} (mark {self.quoted(entry)})"


def _numeric(row: Saying) -> bool:
    return "{number}" in row.text


def _filled(text: str, slots: Mapping[str, list[str]]) -> str:
    """The sentence with its slots filled, one after another for the same slot."""
    queues = {name: iter(values) for name, values in slots.items()}
    return re.sub(r"\{(\w+)\}", lambda match: next(queues[match[1]]), text)
