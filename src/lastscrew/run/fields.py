"""Rules for the fields of run events: one rule reads, writes and describes a field.

A rule turns a JSON value into ours and back, says in one sentence what is wrong with a value that
does not fit, and gives its JSON Schema. Everything is bounded: a line that someone else wrote can't
make us hold more than the sizes here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

MAX_ID_CHARS = 100
MAX_TEXT_CHARS = 4_000
MAX_ITEMS = 1_000

_NAME = re.compile(r"[a-z][a-z0-9_]*")
_KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:-]*")
_PIECE = re.compile(r"[a-z][a-z0-9_]*(\+[a-z][a-z0-9_]*)*")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_MOMENT = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:[0-9]{2})(\.[0-9]{1,9})?([Zz]|[+-][0-9]{2}:[0-9]{2})"
)
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

MAX_MOMENT_MS = 253_402_300_799_999
"""Last millisecond of the year 9999."""


class UnfitError(Exception):
    """A value does not fit its rule; the message says what would."""


@dataclass(frozen=True, slots=True)
class Rule:
    """How one field is read and written.

    Attributes:
        name: What it is, in a word or two, for messages and documents.
        read: JSON value to ours; raises :class:`UnfitError`.
        schema: JSON Schema (draft 2020-12) of the JSON value.
        write: Our value to JSON.
    """

    name: str
    read: Callable[[object], object]
    schema: Mapping[str, object]
    write: Callable[[object], object] = field(default=lambda value: value)


def _string(value: object, kind: str, most: int) -> str:
    if not isinstance(value, str):
        raise UnfitError(f"must be {kind}, written as a string")
    if not 1 <= len(value) <= most:
        raise UnfitError(f"must have 1 to {most} characters")
    return value


def pattern_rule(name: str, pattern: re.Pattern[str], like: str, most: int = MAX_ID_CHARS) -> Rule:
    """A string that matches ``pattern`` as a whole; ``like`` says what it looks like."""

    def read(value: object) -> str:
        text = _string(value, name, most)
        if not pattern.fullmatch(text):
            raise UnfitError(f"must look like {like}")
        return text

    schema = {
        "type": "string",
        "minLength": 1,
        "maxLength": most,
        "pattern": f"^(?:{pattern.pattern})$",
    }
    return Rule(name, read, schema)


def text_rule(most: int = MAX_TEXT_CHARS) -> Rule:
    """Free text, with line breaks and tabs, without other control characters."""

    def read(value: object) -> str:
        text = _string(value, "a text", most)
        if not text.strip():
            raise UnfitError("must not be blank")
        if _UNPRINTABLE.search(text):
            raise UnfitError("must not hold control characters or broken letters")
        return text

    printable = r"[^\u0000-\u0008\u000b-\u001f\u007f]*"
    pattern = rf"^{printable}[^\s\u0000-\u0008\u000b-\u001f\u007f]{printable}$"
    schema = {"type": "string", "minLength": 1, "maxLength": most, "pattern": pattern}
    return Rule("text", read, schema)


def whole_rule(low: int, high: int) -> Rule:
    """A whole number from ``low`` to ``high``."""

    def read(value: object) -> int:
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise UnfitError(f"must be a whole number from {low} to {high}")
        return value

    shown = f"whole number, {low} to {high}" if high < MAX_ITEMS else "whole number"
    return Rule(shown, read, {"type": "integer", "minimum": low, "maximum": high})


def number_rule(low: float, high: float) -> Rule:
    """A finite number from ``low`` to ``high``."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise UnfitError(f"must be a number from {low:g} to {high:g}")
        if (isinstance(value, float) and not math.isfinite(value)) or not low <= value <= high:
            raise UnfitError(f"must be a finite number from {low:g} to {high:g}")
        return float(value)

    return Rule("number", read, {"type": "number", "minimum": low, "maximum": high})


def _read_truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise UnfitError("must be true or false")
    return value


def choice_rule(*words: str) -> Rule:
    """One of ``words``."""

    def read(value: object) -> str:
        if not isinstance(value, str) or value not in words:
            raise UnfitError(f"must be one of {', '.join(words)}")
        return value

    return Rule("one of " + ", ".join(words), read, {"enum": list(words)})


def many_rule(rule: Rule, most: int = MAX_ITEMS) -> Rule:
    """A list of at most ``most`` values, each by ``rule``."""

    def read(value: object) -> tuple[object, ...]:
        if not isinstance(value, list) or len(value) > most:
            raise UnfitError(f"must be a list of at most {most} entries")
        return tuple(
            _read_at(rule, item, f"entry {number}") for number, item in enumerate(value, 1)
        )

    def write(value: object) -> object:
        assert isinstance(value, tuple)
        return [rule.write(item) for item in value]

    schema = {"type": "array", "items": dict(rule.schema), "maxItems": most}
    return Rule(f"list, each {rule.name}", read, schema, write)


def table_rule(key: Rule, rule: Rule, most: int = MAX_ITEMS) -> Rule:
    """A mapping of at most ``most`` keys, each value by ``rule``."""

    def read(value: object) -> dict[str, object]:
        if not isinstance(value, dict) or len(value) > most:
            raise UnfitError(f"must be a mapping of at most {most} entries")
        for name in value:
            _read_at(key, name, f"key {_short(name)}")
        return {name: _read_at(rule, item, f"{name}:") for name, item in value.items()}

    def write(value: object) -> object:
        assert isinstance(value, Mapping)
        return {name: rule.write(item) for name, item in value.items()}

    schema = {
        "type": "object",
        "propertyNames": dict(key.schema),
        "additionalProperties": dict(rule.schema),
        "maxProperties": most,
    }
    return Rule(f"mapping: {key.name} to {rule.name}", read, schema, write)


def _read_at(rule: Rule, value: object, place: str) -> object:
    try:
        return rule.read(value)
    except UnfitError as error:
        raise UnfitError(f"{place} {error}") from None


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _read_moment(value: object) -> int:
    like = 'must be a moment from 1970 on, such as "2026-03-02T09:30:00.000Z"'
    match = _MOMENT.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise UnfitError(like)
    zone = "+00:00" if match[3] in "Zz" else match[3]
    try:
        moment = datetime.fromisoformat(match[1].upper() + zone)
        whole = (moment - _EPOCH) // timedelta(milliseconds=1)
    except (ValueError, OverflowError):
        raise UnfitError(like) from None
    if not 0 <= whole <= MAX_MOMENT_MS - 999:
        raise UnfitError(like)
    return whole + int(((match[2] or ".0")[1:] + "00")[:3])


def _write_moment(value: object) -> object:
    assert isinstance(value, int)
    moment = _EPOCH + timedelta(milliseconds=value)
    return moment.replace(tzinfo=None).isoformat(timespec="milliseconds") + "Z"


NAME = pattern_rule("an id of the device file", _NAME, "cover_screws (a-z, 0-9, _)")
PIECE = pattern_rule("a part, a spare or parts joined by +", _PIECE, "keys or keys+frame", 1_000)
KEY = pattern_rule("a key", _KEY, "a4f1-0007 (letters, digits, . _ : -)")
SHA256 = pattern_rule("a content hash", _SHA256, "64 hexadecimal digits (SHA-256)", 64)
LINE = text_rule(200)
TEXT = text_rule()
TRUTH = Rule("true or false", _read_truth, {"type": "boolean"})
COUNT = whole_rule(1, 999)
COUNT_OR_NONE = whole_rule(0, 999)
SEQUENCE = whole_rule(0, 2**53 - 1)
LENGTH_MM = number_rule(0.01, 10_000)
AMOUNT = number_rule(0, 1_000_000)
VALUE = number_rule(-1e15, 1e15)
NAMES = many_rule(NAME)
PIECES = many_rule(PIECE)
MOMENT = Rule(
    "moment (RFC 3339; kept to the millisecond)",
    _read_moment,
    {"type": "string", "pattern": f"^(?:{_MOMENT.pattern})$"},
    _write_moment,
)
