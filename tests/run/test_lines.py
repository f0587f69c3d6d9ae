"""Run events as JSON Lines: what is refused, what is forgiven, and that nothing is lost."""

from __future__ import annotations

import json
from dataclasses import MISSING, fields
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from lastscrew.problems import InputError, Problem
from lastscrew.run import lines as reading
from lastscrew.run.events import HAPPENINGS, Event, Happening, envelope_fields, json_key, rule_of
from lastscrew.run.fields import Rule
from lastscrew.run.lines import event_as_json, event_schema, read_events, write_events

SCHEMA = event_schema()
VALIDATOR = Draft202012Validator(SCHEMA)

TEXTS = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Cn")), min_size=1, max_size=30
).filter(str.strip)


def _values_for(rule: Rule) -> st.SearchStrategy[Any]:  # noqa: PLR0911 - one for each sort
    """Values of ours that a rule can write."""
    schema: Any = rule.schema
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    if rule.name.startswith("moment"):
        return st.integers(0, 253_402_300_799_000)
    if schema["type"] == "boolean":
        return st.booleans()
    if schema["type"] == "integer":
        return st.integers(schema["minimum"], schema["maximum"])
    if schema["type"] == "number":
        return st.floats(schema["minimum"], schema["maximum"]).map(lambda v: v + 0.0)
    if schema["type"] == "array":
        return st.lists(_strings(schema["items"]), max_size=3).map(tuple)
    if schema["type"] == "object":
        return st.dictionaries(_strings(schema["propertyNames"]), st.integers(0, 999), max_size=3)
    return _strings(schema)


def _strings(schema: dict[str, Any]) -> st.SearchStrategy[str]:
    return _matching(schema["pattern"], schema["maxLength"])


@cache
def _matching(pattern: str, most: int) -> st.SearchStrategy[str]:
    """Made once for each pattern: taking an expression apart costs more than the example."""
    if r"\s" in pattern:
        return TEXTS
    return st.from_regex(pattern.replace("$", r"\Z"), fullmatch=True).filter(
        lambda text: len(text) <= most and text.isprintable()
    )


@st.composite
def happenings(draw: st.DrawFn) -> Happening:
    """Any happening with any fields that go together."""
    kind = draw(st.sampled_from(list(HAPPENINGS.values())))
    values: dict[str, Any] = {}
    chosen = (
        {draw(st.sampled_from(kind.one_of or kind.any_of))} if kind.one_of or kind.any_of else set()
    )
    for spec in fields(kind):
        alternative = spec.name in (*kind.one_of, *kind.any_of)
        needed = spec.default is MISSING and spec.default_factory is MISSING
        if spec.name in chosen or needed or (not alternative and draw(st.booleans())):
            values[spec.name] = draw(_values_for(rule_of(spec)))
    return kind(**values)


@st.composite
def events(draw: st.DrawFn) -> Event:
    """Any event with any envelope."""
    values = {
        spec.name: draw(_values_for(rule_of(spec)))
        for spec in envelope_fields()
        if spec.name == "id" or draw(st.booleans())
    }
    return Event(what=draw(happenings()), **values)


def problems_of(text: str | bytes) -> tuple[Problem, ...]:
    """The problems of a text that must be refused."""
    with pytest.raises(InputError) as caught:
        read_events(text, "job.jsonl")
    return caught.value.problems


@given(st.lists(events(), max_size=5, unique_by=lambda event: event.id))
def test_what_is_written_reads_back_the_same(some: list[Event]) -> None:
    assert read_events(write_events(some)).events == tuple(some)


@given(events())
def test_what_is_written_satisfies_the_schema(event: Event) -> None:
    VALIDATOR.validate(json.loads(json.dumps(event_as_json(event))))


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=6,
)


@given(events(), st.data())
def test_schema_and_reader_agree_on_damaged_events(event: Event, data: st.DataObject) -> None:
    """One value of a good event is replaced by junk: both refuse it, or both take it."""
    value = event_as_json(event)
    keys = [json_key(spec) for spec in (*envelope_fields(), *fields(event.what))]
    key = data.draw(st.sampled_from([*keys, "event", "colour"]))
    value[key] = data.draw(JUNK)
    schema_takes_it = VALIDATOR.is_valid(json.loads(json.dumps(value)))
    try:
        read_events(json.dumps(value) + "\n")
        reader_takes_it = True
    except InputError:
        reader_takes_it = False
    if schema_takes_it != reader_takes_it:
        # A schema can't say that a moment exists in the calendar or that numbers are finite.
        assert schema_takes_it
        assert "moment" in str(value) or key in ("at", "stored", "until") or "seq" in key


@given(st.binary(max_size=300) | st.text(max_size=300).map(lambda t: t.encode("utf-8", "replace")))
def test_no_bytes_crash_the_reader(raw: bytes) -> None:
    problems: tuple[Problem, ...] = ()
    try:
        assert len(read_events(raw).events) == 0
    except InputError as error:
        problems = error.problems
    assert all(problem.message and problem.line for problem in problems)


@given(st.lists(events(), min_size=1, max_size=4, unique_by=lambda event: event.id), st.data())
def test_a_log_cut_off_anywhere_keeps_every_whole_line(
    some: list[Event], data: st.DataObject
) -> None:
    raw = write_events(some).encode()
    cut = data.draw(st.integers(0, len(raw)))
    log = read_events(raw[:cut])
    whole = raw[:cut].count(b"\n")
    kept = len(log.events)
    assert log.events == tuple(some[:kept])
    # A line that only lacks its line end is whole; anything shorter is said to be cut off.
    assert kept == whole + (1 if cut < len(raw) and raw[cut : cut + 1] == b"\n" else 0)
    assert bool(log.warnings) == (raw[:cut].rpartition(b"\n")[2] != b"" and kept == whole)


def test_zero_bytes_that_a_crash_left_at_the_end_are_forgiven_and_said() -> None:
    raw = b'{"id": "a", "event": "resumed"}\n' + b"\x00" * 40
    log = read_events(raw, "job.jsonl")
    assert len(log.events) == 1
    assert log.warnings[0].code == "cut_off"
    assert log.warnings[0].line == 2


def test_all_problems_of_all_lines_are_told_at_once() -> None:
    lines = [
        '{"id": "a", "event": "opened", "joint": "cover_screws", "sied": "bottom", "taken_out": -1}',
        '{"id": "b", "event": "opend", "joint": "cover_screws"}',
        '{"event": "closed"}',
        "[1]",
        "nonsense",
        '{"id": "a", "event": "noted", "text": "x", "text": "y"}',
    ]
    text = "".join(line + "\n" for line in lines)
    found = [(p.line, p.code, p.path) for p in problems_of(text)]
    assert found == [
        (1, "bad_value", "taken_out"),
        (1, "unknown_key", "sied"),
        (2, "unknown_event", "event"),
        (3, "missing", "id"),
        (3, "missing", "joint"),
        (4, "no_object", ""),
        (5, "no_json", ""),
        (6, "duplicate_key", '"text"'),
    ]
    remedies = [p.remedy for p in problems_of(text)]
    assert "Did you mean side?" in remedies
    assert "Did you mean opened?" in remedies


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('{"id": "a", "event": "waived", "person": "M. Roth", "reason": "x"}', "exactly one of"),
        ('{"id": "a", "event": "waived", "person": " ", "reason": "x", "joint": "j"}', "blank"),
        ('{"id": "a", "event": "lost", "count": 1}', "at least one of"),
        ('{"id": "a", "event": "noted", "text": "\\ud800"}', "broken letters"),
        (
            '{"id": "a", "event": "measured", "quantity": "q", "value": 1e999, "unit": "V"}',
            "finite",
        ),
        ('{"id": "a", "event": "measured", "quantity": "q", "value": NaN, "unit": "V"}', "no JSON"),
        ('{"id": "a", "event": "noted", "text": null}', "string"),
        ('{"id": "a", "event": "resumed", "at": "2026-02-30T10:00:00Z"}', "moment"),
        ('{"id": "a", "event": "resumed", "at": "2026-02-03 10:00"}', "moment"),
        ('{"id": "ä", "event": "resumed"}', "must look like"),
        ('{"id": "a", "event": "started", "device": "d", "revision": "r", "format": 2}', "1 to 1"),
        ('{"id": "a", "event": ' + "[" * 9_000 + "]" * 9_000 + "}", "no JSON"),
        ('{"id": "a", "event": ' + "[" * 900 + "]" * 900 + "}", "unknown event"),
        ('{"id": "a", "event": "noted", "text": "' + "x" * 5_000 + '"}', "4000 characters"),
        (
            '{"id": "a", "event": "opened", "joint": "j", "taken_out": 1' + "0" * 5_000 + "}",
            "no JSON",
        ),
    ],
)
def test_each_bad_line_is_refused_with_a_reason(line: str, words: str) -> None:
    assert words in problems_of(line + "\n")[0].message


def test_lines_and_files_beyond_their_bounds_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    long_line = '{"id": "a", "event": "noted", "text": "' + "x" * 70_000 + '"}\n'
    assert problems_of(long_line)[0].code == "line_too_long"
    monkeypatch.setattr(reading, "MAX_EVENTS", 2)
    text = "".join(f'{{"id": "e{n}", "event": "resumed"}}\n' for n in range(5))
    assert problems_of(text)[0].code == "too_many_events"
    monkeypatch.setattr(reading, "MAX_BYTES", 10)
    assert problems_of(text)[0].code == "too_large"


def test_a_file_of_nothing_but_problems_ends_the_list_with_that_many() -> None:
    found = problems_of("x\n" * 10_000)
    assert len(found) == reading.MAX_PROBLEMS
    assert found[-1].code == "too_many"


def test_the_same_event_sent_twice_is_one_and_another_under_its_id_is_refused() -> None:
    line = '{"id": "a", "event": "noted", "text": "x"}\n'
    assert len(read_events(line * 3).events) == 1
    other = line.replace('"x"', '"y"')
    assert problems_of(line + other)[0].code == "id_twice"
    assert problems_of(line + other)[0].line == 2


def test_bytes_that_are_no_utf8_are_told_with_line_and_byte() -> None:
    found = problems_of(b'{"id": "a", "event": "resumed"}\n{"id": "\xff"}\n')
    assert (found[0].line, found[0].code) == (2, "encoding")


def test_moments_of_any_offset_are_kept_in_utc_to_the_millisecond() -> None:
    log = read_events('{"id": "a", "event": "resumed", "at": "2026-03-02T10:00:00.1239+01:00"}\n')
    assert event_as_json(log.events[0])["at"] == "2026-03-02T09:00:00.123Z"


def test_every_field_has_a_rule_and_a_meaning() -> None:
    for kind in HAPPENINGS.values():
        assert kind.__doc__
        for spec in fields(kind):
            assert rule_of(spec).name
            assert str(spec.metadata["meaning"]).endswith(".")
