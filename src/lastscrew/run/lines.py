"""Run events as JSON Lines: one event a line, read strictly, written in one fixed form.

Reading reports every problem of the text at once, with its line. One thing is forgiven and said: a
last line that was cut off when the program that wrote it crashed is left out, the rest is kept.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import MISSING, Field, dataclass, fields
from difflib import get_close_matches
from typing import Any

from lastscrew.problems import InputError, Problem
from lastscrew.run.events import (
    HAPPENINGS,
    Event,
    Happening,
    envelope_fields,
    json_key,
    rule_of,
)
from lastscrew.run.fields import UnfitError

MAX_BYTES = 64 * 2**20
MAX_LINE_BYTES = 64 * 2**10
MAX_EVENTS = 200_000
MAX_PROBLEMS = 200


@dataclass(frozen=True, slots=True)
class EventLog:
    """Events in the order of the file, and what was forgiven (a last line that is cut off)."""

    events: tuple[Event, ...]
    warnings: tuple[Problem, ...] = ()


class _TooManyProblemsError(Exception):
    """Enough problems were found to stop reading."""


class _Reader:
    """Collects the problems of one text."""

    def __init__(self, file: str, kinds: Mapping[str, type[Happening]] = HAPPENINGS) -> None:
        self.file = file
        self.kinds = kinds
        self.problems: list[Problem] = []
        self.line: int | None = None

    def problem(self, message: str, remedy: str, path: str = "", code: str = "") -> None:
        self.problems.append(
            Problem(message, remedy, path, self.file, self.line, None, "error", code)
        )
        if len(self.problems) >= MAX_PROBLEMS:
            raise _TooManyProblemsError

    def object_of(self, text: str) -> dict[str, object] | None:
        """The JSON object of one line, or None after telling what is wrong."""
        try:
            value = json.loads(text, object_pairs_hook=_without_twins, parse_constant=_no_constant)
        except _TwinKeysError as error:
            self.problem(f"the key {error} stands twice", "Keep one.", str(error), "duplicate_key")
            return None
        except (ValueError, RecursionError) as error:
            reason = error.msg if isinstance(error, json.JSONDecodeError) else "it can't be read"
            self.problem(
                f"this line is no JSON: {reason.lower()}",
                "Write one event as a JSON object on one line.",
                code="no_json",
            )
            return None
        if not isinstance(value, dict):
            self.problem(
                "this line is no JSON object", 'Write {"id": …, "event": …, …}.', code="no_object"
            )
            return None
        return value

    def event_of(self, value: dict[str, object]) -> Event | None:
        """The event of one JSON object, or None after telling everything that is wrong."""
        before = len(self.problems)
        kind = self._kind_of(value)
        envelope = self._read_fields(envelope_fields(), value)
        body_fields = fields(kind) if kind else ()
        body = self._read_fields(body_fields, value)
        if kind is not None:
            known = [json_key(spec) for spec in (*envelope_fields(), *body_fields)]
            self._refuse_unknown(value, [*known, "event"], kind.name)
        if len(self.problems) > before or kind is None:
            return None
        what = kind(**body)
        if together := what.wrong_together():
            self.problem(f"{kind.name} {together}", "See the list of events.", code="together")
            return None
        return Event(what=what, **envelope)

    def _kind_of(self, value: Mapping[str, object]) -> type[Happening] | None:
        name = value.get("event")
        if isinstance(name, str) and name in self.kinds:
            return self.kinds[name]
        if name is None:
            self.problem("event is missing", "Say what happened.", "event", "missing")
        else:
            remedy = _nearest(str(name)[:100], self.kinds) or "See the list of events."
            self.problem(f"unknown event {_shown(name)}", remedy, "event", "unknown_event")
        return None

    def _read_fields(
        self, specs: Iterable[Field[Any]], value: Mapping[str, object]
    ) -> dict[str, Any]:
        result: dict[str, Any] = {}
        for spec in specs:
            key = json_key(spec)
            if key not in value:
                if spec.default is MISSING and spec.default_factory is MISSING:
                    self.problem(f"{key} is missing", str(spec.metadata["meaning"]), key, "missing")
                continue
            try:
                result[spec.name] = rule_of(spec).read(value[key])
            except UnfitError as error:
                remedy = f"{spec.metadata['meaning']} Leave the key out where it does not apply."
                self.problem(f"{key}: {_shown(value[key])} {error}", remedy, key, "bad_value")
        return result

    def _refuse_unknown(self, value: Mapping[str, object], known: list[str], event: str) -> None:
        for key in value:
            if key not in known:
                remedy = _nearest(key[:100], known) or f"An event {event} has: {', '.join(known)}."
                self.problem(f"unknown key {_shown(key)}", remedy, key[:100], "unknown_key")


class _TwinKeysError(ValueError):
    """A key stands twice in one object."""


def _without_twins(pairs: list[tuple[str, object]]) -> dict[str, object]:
    result: dict[str, object] = {}
    for key, value in pairs:
        if key in result:
            raise _TwinKeysError(_shown(key))
        result[key] = value
    return result


def _no_constant(word: str) -> object:
    raise ValueError(word)


def _nearest(word: str, known: Iterable[str]) -> str:
    close = get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"Did you mean {close[0]}?" if close else ""


def _shown(value: object) -> str:
    try:
        text = json.dumps(value, ensure_ascii=True, default=str)
    except (ValueError, RecursionError):
        return "(a value that can't be shown)"
    return text if len(text) <= 60 else text[:57] + "..."


def read_events(data: bytes | str, file: str = "") -> EventLog:
    """Read JSON Lines.

    Args:
        data: The text, or its bytes in UTF-8.
        file: Name of the input for messages.

    Returns:
        The events in order. An event that stands twice word for word is kept once.

    Raises:
        InputError: With all problems (at most ``MAX_PROBLEMS``), each with its line.
    """
    raw = data.encode("utf-8", "surrogatepass") if isinstance(data, str) else data
    reader = _Reader(file)
    if len(raw) > MAX_BYTES:
        reader.problem(
            f"the file is larger than {MAX_BYTES // 2**20} MiB",
            "Split it by job.",
            code="too_large",
        )
        raise InputError(reader.problems)
    try:
        log = _read_lines(raw.removeprefix(b"\xef\xbb\xbf"), reader)
    except _TooManyProblemsError:
        reader.problems[-1:] = [
            Problem(
                f"more than {MAX_PROBLEMS - 1} problems; the rest is not listed",
                "Correct these first.",
                file=file,
                code="too_many",
            )
        ]
        raise InputError(reader.problems) from None
    if reader.problems:
        raise InputError(reader.problems)
    return log


def _read_lines(raw: bytes, reader: _Reader) -> EventLog:
    warnings: list[Problem] = []
    seen: dict[str, tuple[int, Event]] = {}
    for number, line, ended in _lines_of(raw):
        reader.line = number
        if not ended and _is_cut_off(line):
            warnings.append(_cut_off(reader.file, number))
            break
        event = _read_line(line.removesuffix(b"\r"), reader)
        if event is None:
            continue
        earlier = seen.setdefault(event.id, (number, event))
        if earlier[1] != event:
            reader.problem(
                f"the id {event.id} was used on line {earlier[0]} for another event",
                "Give each event an id of its own; send the same event again only word for word.",
                "id",
                "id_twice",
            )
        if len(seen) > MAX_EVENTS:
            reader.problem(
                f"more than {MAX_EVENTS} events", "Split by job.", code="too_many_events"
            )
            break
    return EventLog(tuple(event for _, event in seen.values()), tuple(warnings))


def _lines_of(raw: bytes) -> Iterator[tuple[int, bytes, bool]]:
    """Number, bytes and whether its line end is there, one line after the other."""
    start, number = 0, 0
    while start < len(raw):
        number += 1
        end = raw.find(b"\n", start)
        if end < 0:
            yield number, raw[start:], False
            return
        yield number, raw[start:end], True
        start = end + 1


def _cut_off(file: str, line: int) -> Problem:
    return Problem(
        "the last line is cut off and was left out",
        "Enter that event again; everything before it is kept.",
        file=file,
        line=line,
        severity="warning",
        code="cut_off",
    )


def _is_cut_off(last: bytes) -> bool:
    """True for a last line without its line end that is no JSON, as a crash leaves it.

    A file system may also leave zero bytes where the end of a file was not yet written.
    """
    if not last.strip(b" \t\r\x00"):
        return bool(last.strip(b" \t\r"))
    try:
        json.loads(last)
    except (ValueError, RecursionError):
        return True
    return False


def _read_line(line: bytes, reader: _Reader) -> Event | None:
    if not line.strip():
        return None
    if len(line) > MAX_LINE_BYTES:
        reader.problem(
            f"the line is longer than {MAX_LINE_BYTES // 2**10} KiB",
            "Keep pictures and long texts elsewhere and name them by their hash.",
            code="line_too_long",
        )
        return None
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError as error:
        reader.problem(
            f"byte {error.start + 1} of the line is no UTF-8",
            "Save the file as UTF-8.",
            code="encoding",
        )
        return None
    value = reader.object_of(text)
    return None if value is None else reader.event_of(value)


def event_from_json(
    value: object, kinds: Mapping[str, type[Happening]] = HAPPENINGS, file: str = ""
) -> Event:
    """One event from its JSON value, already decoded.

    Args:
        value: What stands on one line.
        kinds: The happenings that are known, by name; those of a job if not given.
        file: Name of the input for messages.

    Raises:
        InputError: With all problems of this event.
    """
    reader = _Reader(file, kinds)
    event = None
    if isinstance(value, dict):
        with suppress(_TooManyProblemsError):
            event = reader.event_of(value)
    else:
        reader.problem(
            "this is no JSON object", 'Write {"id": …, "event": …, …}.', code="no_object"
        )
    if event is None:
        raise InputError(reader.problems)
    return event


def event_as_json(event: Event) -> dict[str, object]:
    """The JSON object of an event: the envelope first, nothing that holds its default."""
    result: dict[str, object] = {"id": event.id, "event": event.what.name}
    for owner, specs in ((event, envelope_fields()), (event.what, fields(event.what))):
        for spec in specs:
            value = getattr(owner, spec.name)
            if not _is_default(spec, value):
                result[json_key(spec)] = rule_of(spec).write(value)
    return result


def _is_default(spec: Field[Any], value: object) -> bool:
    if spec.default_factory is not MISSING:
        return bool(value == spec.default_factory())
    return spec.default is not MISSING and bool(value == spec.default)


def write_events(events: Iterable[Event]) -> str:
    """The events as JSON Lines, each line ended."""
    return "".join(
        json.dumps(event_as_json(event), ensure_ascii=False, separators=(", ", ": ")) + "\n"
        for event in events
    )


def event_schema() -> dict[str, object]:
    """JSON Schema (draft 2020-12) of one event, that is of one line."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Run event",
        "description": "One thing that happened in a job; a job is a file with one event a line.",
        "type": "object",
        "required": ["id", "event"],
        "oneOf": [_schema_of(kind) for kind in HAPPENINGS.values()],
    }


def _schema_of(kind: type[Happening]) -> dict[str, object]:
    properties: dict[str, object] = {"event": {"const": kind.name}}
    required = ["event"]
    for spec in (*envelope_fields(), *fields(kind)):
        described = {**rule_of(spec).schema, "description": spec.metadata["meaning"]}
        properties[json_key(spec)] = described
        if spec.default is MISSING and spec.default_factory is MISSING:
            required.append(json_key(spec))
    schema: dict[str, object] = {
        "title": kind.name,
        "description": " ".join((kind.__doc__ or "").split()),
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }
    for word, keys in (("oneOf", kind.one_of), ("anyOf", kind.any_of)):
        if keys:
            schema[word] = [{"required": [key]} for key in keys]
    return schema
