"""Writing a device: nothing is lost, the revision depends on what is said and on nothing else."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from ruamel.yaml import YAML

from lastscrew.device.model import Device
from lastscrew.device.reading import load_device, read_device
from lastscrew.device.writing import device_tree, revision_of, write_device
from tests.device.machines import devices

HERE = Path(__file__).parent
ALDER = (HERE / "alder.device.yaml").read_text(encoding="utf-8")
ROOT = HERE.parent.parent
FILES = sorted(
    [*ROOT.glob("tests/devices/*.device.yaml"), *ROOT.glob("src/lastscrew/demo/*.device.yaml")]
)


@given(devices())
@settings(max_examples=150)
def test_what_was_written_reads_back_equal(device: Device) -> None:
    """Reading what was written gives an equal device, with every field, extension and revision."""
    result = read_device(write_device(device))
    assert [p.message for p in result.errors] == []
    assert result.device == device


@given(devices())
@settings(max_examples=40)
def test_another_yaml_reader_sees_what_was_written(device: Device) -> None:
    """The text means the same to a YAML 1.2 loader that is not ours."""
    loaded = YAML(typ="safe", pure=True).load(write_device(device))
    assert loaded == device_tree(device)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.partition(".")[0])
def test_real_files_survive(file: Path) -> None:
    """Every device file that is shipped or used in tests survives being read and written."""
    device = load_device(file.read_bytes(), file.name)
    assert load_device(write_device(device)) == device


def test_revision_ignores_formatting_order_comments_and_defaults() -> None:
    """Key order, comments, block or braces, spelt-out defaults and quotes do not make a new revision."""
    data = YAML(typ="safe", pure=True).load(ALDER)
    data["joints"] = dict(reversed(data["joints"].items()))
    data["joints"]["pack_plug"].update(
        {"count": 1, "order": "any", "powered": True, "side": "bottom"}
    )
    data["joints"]["cover_screws"]["access"] = [
        {key: data["joints"]["cover_screws"].pop(key) for key in ("side", "tool")}
    ]
    out = io.StringIO()
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = False
    yaml.dump(data, out)
    again = load_device("# a comment\n" + out.getvalue())
    assert again.revision_hash == load_device(ALDER).revision_hash
    assert len(again.revision_hash) == 64


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("count: 9", "count: 8"),
        ("joins: [pack, board]", "joins: [board, pack]"),
        ("revision: B", "revision: C"),
        ("turn_s: 6 ", "turn_s: 5 "),
        ("after: [cover_screws]", "after: []"),
        ("format: 1", "format: 1\nx_shop: yes"),
    ],
)
def test_revision_changes_with_what_is_said(old: str, new: str) -> None:
    """Any other value, even an extension, is another revision."""
    assert old in ALDER
    changed = load_device(ALDER.replace(old, new))
    assert changed.revision_hash != load_device(ALDER).revision_hash
    assert changed.revision_hash == revision_of(changed)


def test_comments_stand_above_what_they_are_about() -> None:
    """A writer of comments names a path; the text still reads back equal."""
    device = load_device(ALDER)
    comments = {
        "": "Made from a text.\nTwo lines.",
        "joints": "All of them",
        "joints.cover_screws": "line 4",
        "joints.cover_screws.count": "line 5: nine screws",
        "joints.keys_ribbon.access[1].open_s": "measured",
        "joints.keys_ribbon.access[1].under[0]": "seen",
    }
    text = write_device(device, comments)
    lines = text.splitlines()
    assert lines[:3] == ["# Made from a text.", "# Two lines.", "format: 1"]
    assert lines[lines.index("    # line 5: nine screws") + 1] == "    count: 9"
    assert lines[lines.index("  # line 4") + 1] == "  cover_screws:"
    assert lines[lines.index("        # measured") + 1] == "        open_s: 14"
    assert text.count("# ") == 7
    assert load_device(text) == device


def test_short_entries_stay_on_one_line() -> None:
    """A person can read what is written: short entries in braces, no line over 110 but for long texts."""
    text = write_device(load_device(ALDER))
    assert (
        "  pack_screws: {kind: screw, joins: [pack, chassis], under: [cover], tool: driver,"
        " fastener: m2x5, count: 4}\n" in text
    )
    assert max(map(len, text.splitlines())) <= 110


def test_awkward_texts_are_quoted() -> None:
    """Words that some YAML readers take for something else are put in quotes."""
    device = load_device(
        ALDER.replace("name: Alder 13", 'name: "no"').replace("kind: notebook", 'kind: "1e3"')
    )
    text = write_device(device)
    assert 'name: "no"' in text
    assert 'kind: "1e3"' in text
