"""The JSON Schema is true: an independent validator agrees with the reader as far as a schema can say it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from lastscrew.device.keys import SECTIONS, TOP
from lastscrew.device.model import Device
from lastscrew.device.reading import read_device
from lastscrew.device.schema import json_schema
from lastscrew.device.types import Entries, Record
from lastscrew.device.writing import device_tree
from tests.device.machines import devices
from tests.device.test_errors import SLIPS, Slip

ROOT = Path(__file__).parent.parent.parent
ALDER = (Path(__file__).parent / "alder.device.yaml").read_text(encoding="utf-8")
FILES = sorted(
    [
        *ROOT.glob("tests/devices/*.device.yaml"),
        *ROOT.glob("tests/device/*.device.yaml"),
        *ROOT.glob("src/lastscrew/demo/*.device.yaml"),
    ]
)
VALIDATOR = Draft202012Validator(json_schema())


def loaded(text: str) -> Any:  # noqa: ANN401 (plain data)
    """The text by a YAML 1.2 loader that is not ours, as JSON has it."""
    return json.loads(json.dumps(YAML(typ="safe", pure=True).load(text), default=str))


def test_it_is_a_schema() -> None:
    """The schema is valid by its own meta-schema."""
    Draft202012Validator.check_schema(json_schema())


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.partition(".")[0])
def test_shipped_files_are_valid(file: Path) -> None:
    """Every demo, every device of the tests and the example of the format is valid."""
    errors = [
        error.message for error in VALIDATOR.iter_errors(loaded(file.read_text(encoding="utf-8")))
    ]
    assert errors == []


@given(devices())
@settings(max_examples=60)
def test_whatever_the_reader_takes_is_valid(device: Device) -> None:
    """Random devices with every key, as they are written, are valid."""
    assert [error.message for error in VALIDATOR.iter_errors(device_tree(device))] == []


IN_WORDS_ONLY = {
    "unknown_name", "fixed_part", "count_positions", "outside_frame", "was_in_use", "circular_after",
    "character", "duplicate_key", "key", "newer_format",
}  # fmt: skip
"""Errors that JSON Schema can't express, or that a loader has already refused."""
IN_WORDS_ONLY_PATHS = {"functions.typing.measure.low", 'tools.driver["<<"]'}
EXACT = {"0.0001"}
"""Values that are wrong by their decimals only."""


@pytest.mark.parametrize(
    "slip",
    [
        s
        for s in SLIPS
        if s.code not in IN_WORDS_ONLY and s.path not in IN_WORDS_ONLY_PATHS and s.at not in EXACT
    ],
    ids=lambda slip: f"{slip.path}-{slip.code}",
)
def test_slips_that_a_schema_can_express_are_invalid(slip: Slip) -> None:
    """What the reader refuses for its keys, types and ranges, the schema refuses too."""
    text = ALDER.replace(slip.old, slip.new, 1)
    assert not VALIDATOR.is_valid(loaded(text.replace(".nan", ".inf")))


CHANGES = [
    ("count: 9", "count: unknown"),
    ("tool: driver}\n  cover_clips", "tool: unknown}\n  cover_clips"),
    ("revision: B", "revision: 7, frame_mm: [300, 210]"),
    ("revision: B", "frame_mm: {bottom: [300, 210], x_mine: 1}"),
    ("energy: true", "energy: false, loses: Clock, x_a: {b: [1, null]}"),
    ("powered: true,", "powered: shutdown,"),
    ("seconds: 12", "hold: true, evidence: photo, when_opened: pack_plug"),
    ("seconds: 12", "hold: Count to ten., evidence: [photo, value], tool: hand"),
    ("format: 1", "format: 1\nfaults: {f: {part: keys, prior: often}}\nchecks: {}\nx_any: text"),
    (
        "under: [cover], isolates",
        "access: [{side: unknown, open_s: unknown, sources: {side: seen}}], isolates",
    ),
    ("kind: clip, joins: [keys", "kind: other, rigid: true, joins: [keys"),
    ("check_s: 60", "check_s: 59.999, measure: {unit: V}"),
    ("isolates: true", "damage: {pack: 0}, with: {any washer: 2}"),
]


@pytest.mark.parametrize(("old", "new"), CHANGES)
def test_what_is_allowed_is_allowed_by_both(old: str, new: str) -> None:
    """The less usual forms of values are taken by the reader and by the schema."""
    assert old in ALDER
    text = ALDER.replace(old, new, 1)
    assert read_device(text).errors == ()
    assert [error.message for error in VALIDATOR.iter_errors(loaded(text))] == []


def test_the_schema_has_every_key_with_its_sentence() -> None:
    """No key of the table is missing from the schema, and each is described."""
    schema = json_schema()
    assert set(schema["properties"]) == {key.name for key in TOP.keys}
    for section in SECTIONS:
        assert isinstance(section.type, Entries)
        assert isinstance(section.type.record, Record)
        described = schema["$defs"][section.name]["properties"]
        assert set(described) == {key.name for key in section.type.record.keys}
        assert all(entry["description"] for entry in described.values())
