"""The device file's format as a JSON Schema (2020-12), made from the table of keys.

Every valid device file is valid by the schema. The other way round the schema can't say everything:
references, reaching, decimals and texts that only look empty are left to the reader.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from lastscrew.device.diagnosis import LIKELIHOOD_WORDS
from lastscrew.device.keys import ACCESS_KEYS, SECTIONS, TOP
from lastscrew.device.reading import MAX_ENTRIES
from lastscrew.device.rules import AT_A_STEP
from lastscrew.device.types import (
    HAND_WORD,
    IDENTIFIER,
    MAX_IDENTIFIER,
    MAX_SECONDS,
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

Schema = dict[str, Any]

_EXTENSION: Final[Schema] = {"^x_": True}
_ID_PATTERN: Final = f"^{IDENTIFIER}$"
_ENTRY_ID_PATTERN: Final = f"^(?!x_|(?:{UNKNOWN_WORD}|{HAND_WORD})$){IDENTIFIER}$"


def json_schema() -> Schema:
    """The whole schema, as plain data; entries of each section are under ``$defs``."""
    definitions = {section.name: _entry_schema(section) for section in SECTIONS}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Lastscrew device file, format 1",
        "description": "One model of machine: its parts, what holds them together, what it takes to reach that.",
        **_record(TOP),
        "$defs": definitions,
    }


def schema_of(of: Type) -> Schema:
    """Schema of one type."""
    return _SCHEMAS[type(of)](of)


def _entry_schema(section: Key) -> Schema:
    assert isinstance(section.type, Entries)
    schema = {"title": section.type.noun, **_record(section.type.record)}
    return {**schema, **_CONDITIONS.get(section.name, {})}


_CONDITIONS: Final[dict[str, Schema]] = {
    "joints": {
        "if": {"properties": {"kind": {"const": "other"}}, "required": ["kind"]},
        "then": {"required": ["rigid"]},
        "dependentSchemas": {"access": {"properties": {key.name: False for key in ACCESS_KEYS}}},
    },
    "acts": {
        "if": {"properties": {"at": {"enum": list(AT_A_STEP)}}, "required": ["at"]},
        "then": {"required": ["joint"]},
    },
}
"""What depends on other keys of the same entry."""


def _record(of: Record) -> Schema:
    schema: Schema = {
        "type": "object",
        "properties": {key.name: _property(key) for key in of.keys},
        "patternProperties": _EXTENSION,
        "additionalProperties": False,
    }
    required = [key.name for key in of.keys if key.required]
    return {**schema, "required": required} if required else schema


def _property(key: Key) -> Schema:
    said = f"{key.help} Default: {key.default}." if key.default else key.help
    schema = schema_of(key.type)
    if isinstance(key.type, Entries):
        pattern = {_ENTRY_ID_PATTERN: {"$ref": f"#/$defs/{key.name}"}, **_EXTENSION}
        schema = {**schema, "patternProperties": pattern}
    if key.unknown:
        schema = {"anyOf": [{"const": UNKNOWN_WORD}, schema]}
    return {"description": said, **schema}


def _text(of: Text) -> Schema:
    schema: Schema = {
        "type": ["string", "number"] if of.numbers else "string",
        "maxLength": of.longest,
    }
    if of.filled:
        schema["minLength"] = 1
    if of.line:
        schema["pattern"] = r"^[^\n]*$"
    return schema


def _identifier(_of: Identifier) -> Schema:
    return {
        "type": "string",
        "pattern": _ID_PATTERN,
        "maxLength": MAX_IDENTIFIER,
        "not": {"enum": [UNKNOWN_WORD, HAND_WORD]},
    }


def _flag(of: Flag) -> Schema:
    return {"type": "boolean"} if of.only is None else {"const": of.only}


def _choice(of: Choice) -> Schema:
    return {"enum": list(of.words)}


def _whole(of: Whole) -> Schema:
    return (
        {"const": of.low}
        if of.low == of.high
        else {"type": "integer", "minimum": of.low, "maximum": of.high}
    )


def _number(of: Number | Pair) -> Schema:
    lowest = "exclusiveMinimum" if of.above else "minimum"
    return {"type": "number", lowest: of.low, "maximum": of.high}


def _likely(of: Likely) -> Schema:
    return {
        "anyOf": [{"enum": list(LIKELIHOOD_WORDS)}, _number(Number(0, of.high, above=of.above))]
    }


def _seconds(_of: Seconds) -> Schema:
    return {
        "type": "number",
        "minimum": 0,
        "maximum": MAX_SECONDS,
        "$comment": "at most three decimals",
    }


def _ref(of: Ref) -> Schema:
    return {"type": "string", "pattern": _ID_PATTERN, "$comment": of.says}


def _pair(of: Pair) -> Schema:
    return {"type": "array", "items": _number(of), "minItems": 2, "maxItems": 2}


def _list(of: ListOf) -> Schema:
    schema: Schema = {"type": "array", "items": schema_of(of.item)}
    if of.at_least:
        schema["minItems"] = of.at_least
    if of.distinct:
        schema["uniqueItems"] = True
    return {"anyOf": [schema_of(of.item), schema]} if of.or_one else schema


def _map(of: MapOf) -> Schema:
    if isinstance(of.key, Ref):
        pattern = {**_EXTENSION, f"^(?!x_){IDENTIFIER}$": schema_of(of.value)}
        return {"type": "object", "patternProperties": pattern, "additionalProperties": False}
    return {
        "type": "object",
        "patternProperties": _EXTENSION,
        "additionalProperties": schema_of(of.value),
    }


def _entries(_of: Entries) -> Schema:
    return {"type": "object", "maxProperties": MAX_ENTRIES, "additionalProperties": False}


def _either(of: Either) -> Schema:
    return {"anyOf": [schema_of(option) for option in of.options]}


def _raw(_of: Raw) -> Schema:
    return {}


_SCHEMAS: Final[dict[type, Callable[[Any], Schema]]] = {
    Text: _text,
    Identifier: _identifier,
    Flag: _flag,
    Choice: _choice,
    Whole: _whole,
    Number: _number,
    Seconds: _seconds,
    Likely: _likely,
    Ref: _ref,
    Pair: _pair,
    ListOf: _list,
    MapOf: _map,
    Record: _record,
    Entries: _entries,
    Either: _either,
    Raw: _raw,
}
