"""From nodes to values, by the table of keys: every mistake is noted, none stops the reading.

A value that can't be used becomes ``BAD`` and is left out of its entry; the problem says where it
stands. ``UNKNOWN`` stands for the word ``unknown``.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Collection, Mapping, Sequence
from decimal import Decimal
from enum import Enum
from typing import Any, Final, TypeAlias

from lastscrew.device import scalars
from lastscrew.device.diagnosis import LIKELIHOOD_WORDS, Likelihood
from lastscrew.device.kept import clean_text, is_clean_key, raw
from lastscrew.device.names import (
    Path,
    extra_key,
    is_extension,
    is_identifier,
    nearest,
    path_text,
    shown,
    to_identifier,
)
from lastscrew.device.nodes import Node
from lastscrew.device.notes import Notes
from lastscrew.device.types import (
    HAND_WORD,
    MAX_IDENTIFIER,
    MAX_SECONDS,
    NOUNS,
    UNKNOWN_WORD,
    Choice,
    Either,
    Entries,
    Flag,
    Identifier,
    Key,
    Likely,
    ListOf,
    MapOf,
    Number,
    Pair,
    Raw,
    Record,
    Ref,
    Seconds,
    Text,
    Type,
    Whole,
)
from lastscrew.saying import joined, say

Value: TypeAlias = Any
"""What a type reads: text, a number, a list, a mapping of values … or ``BAD``."""


MAX_COMPARED: Final = 200_000
"""Most names that are compared with misspelt ones in one file; a minute's worth would help nobody."""


class Mark(Enum):
    """Stand-ins for values."""

    BAD = "bad"
    UNKNOWN = "unknown"


BAD: Final = Mark.BAD
UNKNOWN: Final = Mark.UNKNOWN


class Reader:
    """Reads nodes into values by their types."""

    def __init__(self, notes: Notes, ids: Mapping[str, Mapping[str, object] | None]) -> None:
        """``ids`` gives the known ids of each section, None where they can't be known."""
        self.notes = notes
        self.ids = ids
        self.extras: dict[str, object] = {}
        """Extensions and what the model has no place for, by path."""
        self._compared = 0

    def read(self, node: Node, of: Type, path: Path) -> Value:
        """The value of ``node`` as ``of``, or ``BAD``."""
        return _READERS[type(of)](self, node, of, path)

    def nearest(self, word: str, known: Collection[str]) -> str | None:
        """The known name that was most likely meant, as long as there has not been too much to compare."""
        self._compared += len(known)
        return None if self.notes.full or self._compared > MAX_COMPARED else nearest(word, known)

    def wrong(self, node: Node, of: Type, path: Path, remedy: str = "") -> Mark:
        """Note that ``node`` is not of the type that is expected here."""
        self.notes.add(
            path,
            say("expected {what}, found {found}", what=of.says, found=_found(node)),
            remedy or _remedy(node, of),
            code="wrong_type",
            at=node,
        )
        return BAD

    def out_of_range(self, node: Node, of: Type, path: Path) -> Mark:
        """Note that a number is outside what is allowed."""
        self.notes.add(
            path,
            say("{text} is out of range", text=shown(node.text)),
            say("Write {what}.", what=of.says),
            code="out_of_range",
            at=node,
        )
        return BAD

    def record(self, node: Node, of: Record, path: Path) -> dict[str, Any] | Mark:
        """An entry as a mapping from the keys that are there (and usable) to values; empty text says nothing."""
        if node.shape != "map":
            return self.wrong(node, of, path)
        values: dict[str, Any] = {}
        for name, key_node, value_node in self.pairs(node, path):
            key = of.by_name.get(name)
            if key is None:
                self._unknown_key(name, key_node, of, path, value_node)
                continue
            value = self._value_of(key, value_node, (*path, name))
            if value is not BAD and value != "":
                values[name] = value
        present = {key.text for key, _ in node.pairs}
        for key in of.keys:
            if key.required and key.name not in present:
                self.notes.add(
                    (*path, key.name),
                    say("{key} is missing", key=key.name),
                    say("Add {key}: {what}.", key=key.name, what=key.type.says),
                    code="missing",
                )
        if of.entry and "sources" in values:
            self._check_sources(values["sources"], of, path)
        return values

    def pairs(self, node: Node, path: Path) -> list[tuple[str, Node, Node]]:
        """Keys and values of a mapping: text keys, once each, extensions put aside."""
        seen: dict[str, Node] = {}
        found: list[tuple[str, Node, Node]] = []
        for key, value in node.pairs:
            if key.shape != "scalar" or scalars.kind_of(key) != "text":
                self._bad_key(key, path, value)
                continue
            name = key.text
            if not is_clean_key(self.notes, key, path):
                continue
            if name in seen:
                first, _ = self.notes.source.place(seen[name].start)
                self.notes.add(
                    (*path, name),
                    say("{key} stands here twice", key=shown(name)),
                    say("The first is on line {first}; keep one.", first=first),
                    code="duplicate_key",
                    at=key,
                )
                continue
            seen[name] = key
            if is_extension(name):
                self.extras[extra_key((*path, name))] = raw(self.notes, value, (*path, name))
            else:
                found.append((name, key, value))
        return found

    def _bad_key(self, key: Node, path: Path, value: Node) -> None:
        if key.shape != "scalar":
            self.notes.add(
                path,
                say("a key must be a name, not a list or mapping"),
                say("Write `key: value`."),
                code="key",
                at=key,
            )
            return
        self.notes.add(
            path,
            say(
                "the key {key} is read as a {kind}, not a name",
                key=shown(key.text),
                kind=_KINDS[scalars.kind_of(key)],
            ),
            _comma_remedy(value)
            or say('Put it in quotes ("{text}"), or choose another name.', text=key.text[:40]),
            code="key",
            at=key,
        )

    def _value_of(self, key: Key, node: Node, path: Path) -> Value:
        if key.unknown and node.shape == "scalar" and node.text == UNKNOWN_WORD:
            return UNKNOWN
        return self.read(node, key.type, path)

    def _unknown_key(self, name: str, key: Node, of: Record, path: Path, value: Node) -> None:
        if name == "<<":
            self.notes.add(
                (*path, name),
                say("merge keys (<<) are not allowed"),
                say("Write the keys out."),
                code="unknown_key",
                at=key,
            )
            return
        meant = self.nearest(name, of.by_name)
        known = ", ".join(of.by_name)
        self.notes.add(
            (*path, name),
            joined("", (say("unknown key {key}", key=shown(name)), _odd_letters(name))),
            say("Did you mean {name}?", name=meant)
            if meant
            else _comma_remedy(value)
            or say("Known here: {keys}; a key of your own begins with x_.", keys=known),
            code="unknown_key",
            at=key,
        )

    def _check_sources(self, sources: Mapping[str, str], of: Record, path: Path) -> None:
        for name in sources:
            if name.split(".")[0].split("[")[0] not in of.by_name:
                meant = self.nearest(name, of.by_name)
                self.notes.warn(
                    (*path, "sources", name),
                    say("{key} is no key of this entry", key=shown(name)),
                    say("Did you mean {name}?", name=meant)
                    if meant
                    else say("Name the key whose source this is."),
                    code="source_of_nothing",
                )


def _comma_remedy(value: Node) -> str:
    """What to do about a key without a value: in braces, a text with a comma is cut there."""
    if value.shape != "scalar" or not value.plain or value.text:
        return ""
    return say(
        "A text with a comma, in braces, has to stand in quotes. If it is a key, give it a value."
    )


_KINDS = {
    "null": say("nothing"),
    "flag": say("true/false value"),
    "number": say("number"),
    "not_finite": say("number"),
    "text": say("text"),
}


def _found(node: Node) -> str:
    if node.shape == "map":
        return say("a mapping")
    if node.shape == "list":
        return say("a list")
    kind = scalars.kind_of(node)
    if kind == "null":
        return say("nothing")
    if kind == "text":
        return shown(node.text)
    return say("the {kind} {text}", kind=_KINDS[kind], text=node.text[:40])


def _remedy(node: Node, of: Type) -> str:
    if node.shape == "scalar":
        kind = scalars.kind_of(node)
        if kind == "null":
            return say("Write a value, or leave the key out.")
        if isinstance(of, Flag) and scalars.looks_like_old_flag(node.text):
            return say("Write true or false.")
        if isinstance(of, Text) and kind != "text":
            return say('Put it in quotes: "{text}".', text=node.text[:40])
        if isinstance(of, ListOf):
            return say("Put it in brackets: [{text}].", text=node.text[:40])
        if isinstance(of, Whole | Number | Seconds) and not node.plain:
            return say("Leave the quotes out.")
    return say("Write {what}.", what=of.says)


def _odd_letters(name: str) -> str:
    """Says which letter of a name is not the one it looks like."""
    for char in name:
        if not char.isascii():
            said = unicodedata.name(char, "unnamed").lower()
            return say(" (it contains {code}, {name})", code=f"U+{ord(char):04X}", name=said)
    return ""


def _read_text(self: Reader, node: Node, of: Text, path: Path) -> str | Mark:
    kind = scalars.kind_of(node) if node.shape == "scalar" else node.shape
    if kind != "text" and not (of.numbers and kind == "number"):
        return self.wrong(node, of, path)
    text = clean_text(self.notes, node, path)
    if text is None:
        return BAD
    if of.filled and not text.strip():
        slip = (say("the text is empty"), say("Write something, or leave the key out."), "empty")
    elif of.line and "\n" in text:
        slip = (say("this must stay on one line"), say("Write it on one line."), "wrong_type")
    elif len(text) > of.longest:
        slip = (
            say("the text is {count} characters long", count=f"{len(text):,}"),
            say("Keep it to {most}.", most=f"{of.longest:,}"),
            "too_long",
        )
    else:
        return text
    message, remedy, code = slip
    self.notes.add(path, message, remedy, code=code, at=node)
    return BAD


def _read_identifier(self: Reader, node: Node, of: Identifier, path: Path) -> str | Mark:
    if node.shape != "scalar" or scalars.kind_of(node) != "text":
        return self.wrong(node, of, path)
    return node.text if check_identifier(self.notes, node, path) else BAD


def check_identifier(notes: Notes, node: Node, path: Path) -> bool:
    """Whether a scalar is an id; notes what is wrong with it, and what would be right."""
    name = node.text
    if is_identifier(name):
        if name not in (UNKNOWN_WORD, HAND_WORD):
            return True
        notes.add(
            path,
            say("{name} is a word of the format, not an id", name=name),
            say("Choose another id."),
            code="identifier",
            at=node,
        )
        return False
    meant = to_identifier(name)
    rule = say(
        "small letters, digits and _, beginning with a letter, at most {most} characters",
        most=MAX_IDENTIFIER,
    )
    notes.add(
        path,
        joined("", (say("{name} is no id", name=shown(name)), _odd_letters(name))),
        say("Write {name} ({rule}).", name=meant, rule=rule)
        if meant and meant != name
        else say("Ids are {rule}.", rule=rule),
        code="identifier",
        at=node,
    )
    return False


def _read_flag(self: Reader, node: Node, of: Flag, path: Path) -> bool | Mark:
    if node.shape != "scalar" or scalars.kind_of(node) != "flag":
        return self.wrong(node, of, path)
    value = scalars.flag(node)
    return value if of.only in (None, value) else self.wrong(node, of, path)


def _read_choice(self: Reader, node: Node, of: Choice, path: Path) -> str | Mark:
    if node.shape != "scalar":
        return self.wrong(node, of, path)
    if node.text in of.words:
        return node.text
    meant = self.nearest(node.text, of.words)
    self.notes.add(
        path,
        say("{word} is not one of {what}", word=shown(node.text), what=of.says),
        say("Did you mean {name}?", name=meant) if meant else say("Write {what}.", what=of.says),
        code="unknown_word",
        at=node,
    )
    return BAD


def _exact(self: Reader, node: Node, of: Type, path: Path) -> Decimal | Mark:
    kind = scalars.kind_of(node) if node.shape == "scalar" else "text"
    if kind == "not_finite":
        return self.out_of_range(node, of, path)
    if kind != "number":
        return self.wrong(node, of, path)
    value = scalars.number(node)
    if value is None:
        return self.out_of_range(node, of, path)
    if scalars.has_leading_zero(node.text):
        self.notes.warn(
            path,
            say("{text} is read as {value}", text=node.text, value=str(value)),
            say("Write {value}; YAML 1.2 has no octal numbers of this kind.", value=str(value)),
            code="leading_zero",
        )
    return value


def _read_whole(self: Reader, node: Node, of: Whole, path: Path) -> int | Mark:
    value = _exact(self, node, of, path)
    if isinstance(value, Mark):
        return value
    if not of.low <= value <= of.high:
        return self.out_of_range(node, of, path)
    if value != value.to_integral_value():
        return self.wrong(node, of, path)
    return int(value)


def _read_number(self: Reader, node: Node, of: Number, path: Path) -> float | Mark:
    exact = _exact(self, node, of, path)
    if isinstance(exact, Mark):
        return exact
    value = float(exact)
    if not of.low <= value <= of.high or (of.above and value == of.low):
        return self.out_of_range(node, of, path)
    return value


def _read_seconds(self: Reader, node: Node, of: Seconds, path: Path) -> int | Mark:
    value = _exact(self, node, of, path)
    if isinstance(value, Mark):
        return value
    if not 0 <= value <= MAX_SECONDS:
        return self.out_of_range(node, of, path)
    ms = value * 1000
    if ms != ms.to_integral_value():
        self.notes.add(
            path,
            say("{text} has more than three decimals", text=node.text[:40]),
            say("Write {value}: times are whole milliseconds.", value=f"{value:.3f}"),
            code="out_of_range",
            at=node,
        )
        return BAD
    return int(ms)


def _read_likely(self: Reader, node: Node, of: Likely, path: Path) -> Likelihood | Mark:
    """A number, or a word for one; the nearest word is named where it is none of them."""
    kind = scalars.kind_of(node) if node.shape == "scalar" else node.shape
    if kind != "text":
        value = _read_number(self, node, Number(0, of.high, above=of.above), path)
        return value if isinstance(value, Mark) else Likelihood(value)
    if node.text in LIKELIHOOD_WORDS:
        return Likelihood(LIKELIHOOD_WORDS[node.text], node.text)
    meant = nearest(node.text, LIKELIHOOD_WORDS)
    self.notes.add(
        path,
        say("{word} is no word for a probability", word=shown(node.text)),
        say("Did you mean {name}?", name=meant) if meant else say("Write {what}.", what=of.says),
        code="unknown_likelihood",
        at=node,
    )
    return BAD


def _read_ref(self: Reader, node: Node, of: Ref, path: Path) -> str | Mark | None:
    if node.shape != "scalar" or scalars.kind_of(node) != "text":
        return self.wrong(node, of, path)
    name = node.text
    if of.hand and name == HAND_WORD:
        return None
    known: list[str] = []
    for section in of.sections:
        ids = self.ids.get(section)
        if ids is None or name in ids:
            return name
        known.extend(ids)
    meant = self.nearest(name, known)
    where = _either(of.sections)
    remedy = (
        say("Did you mean {name}?", name=meant)
        if meant
        else say(
            "Add it under {sections}, or name one of: {names}.",
            sections=where,
            names=_some(known),
        )
    )
    if is_extension(name):
        remedy = say("Ids that begin with x_ are ignored; choose another one.")
    self.notes.add(
        path,
        joined(
            "",
            (
                say("there is no {what} {name}", what=of.noun, name=shown(name)),
                _odd_letters(name),
                _elsewhere(self, name, of),
            ),
        ),
        remedy,
        code="unknown_name",
        at=node,
    )
    return BAD


def _some(names: list[str]) -> str:
    shortened = ", ".join(names[:8]) or say("none yet")
    return f"{shortened}, …" if len(names) > 8 else shortened


def _either(names: Sequence[str]) -> str:
    """A few words as an alternative: ``parts or spares``."""
    words = names[0]
    for name in names[1:]:
        words = say("{names} or {last}", names=words, last=name)
    return words


def _elsewhere(self: Reader, name: str, of: Ref) -> str:
    for section, ids in self.ids.items():
        if ids and name in ids and section not in of.sections:
            noun = NOUNS[section]
            if noun[0] in "aeiou":
                return say(" (there is an {what} of that id)", what=noun)
            return say(" (there is a {what} of that id)", what=noun)
    return ""


def _read_list(self: Reader, node: Node, of: ListOf, path: Path) -> list[Any] | Mark:
    if node.shape != "list":
        if of.or_one and node.shape == "scalar" and scalars.kind_of(node) != "null":
            value = self.read(node, of.item, path)
            return BAD if value is BAD else [value]
        return self.wrong(node, of, path)
    values: list[Any] = []
    seen: set[object] = set()
    for index, item in enumerate(node.items):
        value = self.read(item, of.item, (*path, index))
        if value is BAD:
            continue
        if of.distinct and value in seen:
            self.notes.add(
                (*path, index),
                say("{value} stands in the list twice", value=shown(str(value))),
                say("Keep one."),
                code="duplicate_item",
                at=item,
            )
            continue
        if of.distinct:
            seen.add(value)
        values.append(value)
    if len(node.items) < of.at_least:
        self.notes.add(
            path,
            say(
                "the list has {count} of at least {least} values",
                count=len(node.items),
                least=of.at_least,
            ),
            say("Write {what}.", what=of.says),
            code="too_few",
            at=node,
        )
        return BAD
    return values


def _read_map(self: Reader, node: Node, of: MapOf, path: Path) -> dict[str, Any] | Mark:
    if node.shape != "map":
        return self.wrong(node, of, path)
    values: dict[str, Any] = {}
    for name, key_node, value_node in self.pairs(node, path):
        key = self.read(key_node, of.key, (*path, name))
        value = self.read(value_node, of.value, (*path, name))
        if key is not BAD and value is not BAD:
            values[name] = value
    return values


def _read_entries(self: Reader, node: Node, of: Entries, path: Path) -> dict[str, Any] | Mark:
    if node.shape != "map":
        return self.wrong(node, of, path)
    values: dict[str, Any] = {}
    for name, key_node, value_node in self.pairs(node, path):
        known = check_identifier(self.notes, key_node, (*path, name))
        value = self.record(value_node, of.record, (*path, name))
        if known and not isinstance(value, Mark):
            values[name] = value
    return values


def _read_pair(self: Reader, node: Node, of: Pair, path: Path) -> tuple[float, float] | Mark:
    if node.shape != "list" or len(node.items) != 2:
        return self.wrong(node, of, path)
    limits = Number(of.low, of.high, above=of.above)
    first, second = (
        self.read(item, limits, (*path, index)) for index, item in enumerate(node.items)
    )
    return BAD if first is BAD or second is BAD else (first, second)


_NOT_THIS_TYPE: Final = ("wrong_type", "unknown_word")


def _read_either(self: Reader, node: Node, of: Either, path: Path) -> Value:
    notes = self.notes
    attempts: list[Notes] = []
    for option in of.options:
        self.notes = Notes(notes.source, notes.root)
        value = self.read(node, option, path)
        attempts.append(self.notes)
        self.notes = notes
        if value is not BAD and not attempts[-1].touched:
            return value
    here = path_text(path)
    deepest = [
        a
        for a in attempts
        if not any(p.code in _NOT_THIS_TYPE and p.path == here for p in a.problems)
    ]
    if len(deepest) != 1:
        return self.wrong(node, of, path)
    notes.problems.extend(deepest[0].problems)
    notes.touched |= deepest[0].touched
    return BAD


def _read_raw(self: Reader, node: Node, _of: Raw, path: Path) -> object:
    return raw(self.notes, node, path)


_READERS: dict[type, Callable[[Reader, Node, Any, Path], Any]] = {
    Text: _read_text,
    Identifier: _read_identifier,
    Flag: _read_flag,
    Choice: _read_choice,
    Whole: _read_whole,
    Number: _read_number,
    Seconds: _read_seconds,
    Ref: _read_ref,
    Likely: _read_likely,
    ListOf: _read_list,
    MapOf: _read_map,
    Pair: _read_pair,
    Record: Reader.record,
    Entries: _read_entries,
    Either: _read_either,
    Raw: _read_raw,
}
