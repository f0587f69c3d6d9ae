"""Every error of a device file: where it is, what it is called, what would be right."""

# ruff: noqa: E501 (tables and constructors with many keys)
from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from lastscrew.device.model import Device
from lastscrew.device.reading import load_device, read_device
from lastscrew.device.writing import write_device
from lastscrew.problems import InputError, Problem

ALDER = (Path(__file__).parent / "alder.device.yaml").read_text(encoding="utf-8")


class Slip(NamedTuple):
    """One change of the good file, and what must be said about it."""

    old: str
    new: str
    code: str
    path: str
    remedy: str = ""
    """Words that the remedy must contain."""
    at: str = ""
    """Text at which the place must point; empty for that of ``new``."""


SLIPS = [
    # Keys
    Slip("count: 9", "cuont: 9", "unknown_key", "joints.cover_screws.cuont", "count"),
    Slip("turn_s: 6", "turn: 6", "unknown_key", "turn", "turn_s"),
    Slip("kind: notebook", "Kind: notebook", "unknown_key", "device.Kind", "kind"),
    Slip("kind: notebook", "zebra: notebook", "unknown_key", "device.zebra", "x_"),
    Slip("swap_s: 4", "<<: 4", "unknown_key", 'tools.driver["<<"]', "Write the keys out"),
    Slip("name: Heat sink", "name: a, name: Heat sink", "duplicate_key", "parts.sink.name", "line 24", at="name: Heat sink"),
    Slip("  sink: {", "  cover: {", "duplicate_key", "parts.cover", "line 21", at="cover: {name: Heat"),
    Slip("swap_s: 4", "4: 4", "key", "tools.driver", "quotes", at="4: 4"),
    Slip("swap_s: 4", "null: 4", "key", "tools.driver", "quotes", at="null: 4"),
    Slip("swap_s: 4", "[a]: 4", "key", "tools.driver", "key: value", at="[a]: 4"),
    Slip("format: 1\n", "", "missing", "format", "Add format", at="device:"),
    Slip("name: Alder 13, ", "", "missing", "device.name", "Add name", at="device:"),
    Slip("kind: screw, joins: [pack", "joins: [pack", "missing", "joints.pack_screws.kind", "Add kind", at="pack_screws:"),
    Slip("joins: [pack, board], ", "", "missing", "joints.pack_plug.joins", "Add joins", at="pack_plug:"),
    Slip("signal: warning, ", "", "missing", "hazards.pack.signal", "danger, warning", at="pack: {text"),
    Slip("contains: [keys], ", "", "missing", "spares.keys_set.contains", "", at="keys_set:"),
    # Formats and ids
    Slip("format: 1\n", "format: 2\n", "newer_format", "format", "newer version", at="2\n"),
    Slip("format: 1\n", "format: 0\n", "out_of_range", "format", "", at="0\n"),
    Slip("format: 1\n", 'format: "1"\n', "wrong_type", "format", "quotes", at='"1"'),
    Slip("id: alder_13", "id: Alder-13", "identifier", "device.id", "alder_13", at="Alder-13"),
    Slip("  sink: {", "  Sink: {", "identifier", "parts.Sink", "sink", at="Sink: {"),
    Slip("  sink: {", "  1sink: {", "identifier", "parts.1sink", "", at="1sink: {"),
    Slip("  sink: {", "  s\u0456nk: {", "identifier", 'parts["s\u0456nk"]', "", at="s\u0456nk: {"),
    Slip("  pick: {", "  hand: {", "identifier", "tools.hand", "another id", at="hand: {"),
    Slip("  m2x5: {", "  unknown: {", "identifier", "fasteners.unknown", "another id", at="unknown: {"),
    Slip("sides: [bottom, top]", "sides: [bottom, top, unknown]", "identifier", "sides[2]", "another id", at="unknown]"),
    Slip("sides: [bottom, top]", "sides: [bottom, top, top]", "duplicate_item", "sides[2]", "Keep one", at="top]  "),
    Slip("sides: [bottom, top]", "sides: []", "too_few", "sides", "", at="[]"),
    # Names of things that are not there
    Slip("joins: [pack, board]", "joins: [pack, bord]", "unknown_name", "joints.pack_plug.joins[1]", "board", at="bord]"),
    Slip("tool: pick, close", "tool: pik, close", "unknown_name", "joints.cover_clips.tool", "pick", at="pik, close"),
    Slip("close_tool: hand", "close_tool: hnd", "unknown_name", "joints.cover_clips.close_tool", "", at="hnd"),
    Slip("side: top, tool", "side: Top, tool", "unknown_name", "joints.keys_clips.side", "top", at="Top"),
    Slip("under: [cover, pack]", "under: [cover, pck]", "unknown_name", "joints.keys_ribbon.access[0].under[1]", "pack", at="pck"),
    Slip("after: [cover_screws]", "after: [cover]", "unknown_name", "joints.cover_clips.after[0]", "cover_screws", at="cover]"),
    Slip("fastener: m2x5, count: 9", "fastener: m2x6, count: 9", "unknown_name", "joints.cover_screws.fastener", "m2x5", at="m2x6"),
    Slip("hazards: [pack]", "hazards: [pak]", "unknown_name", "parts.pack.hazards[0]", "pack", at="pak]"),
    Slip("functions: [boots]", "functions: [boot]", "unknown_name", "parts.board.functions[0]", "boots", at="boot]"),
    Slip("contains: [keys]", "contains: [keyz]", "unknown_name", "spares.keys_set.contains[0]", "keys", at="keyz"),
    Slip("renew: {compound: 0.3}", "renew: {paste: 0.3}", "unknown_name", "joints.sink_screws.renew.paste", "compound", at="paste"),
    Slip("joint: pack_plug,", "joint: pack_plugs,", "unknown_name", "acts.discharge.joint", "pack_plug", at="pack_plugs"),
    Slip("name: Heat sink", "if_fitted: sell", "unknown_name", "parts.sink.if_fitted", "cell", at="sell"),
    Slip("seconds: 12", "when_replaced: [pak]", "unknown_name", "acts.discharge.when_replaced[0]", "pack", at="pak]"),
    Slip("seconds: 12", "tool: driven", "unknown_name", "acts.discharge.tool", "driver", at="driven"),
    Slip("isolates: true", "damage: {x: 0.1}", "unknown_name", "joints.pack_plug.damage.x", "", at="x: 0.1"),
    # Types
    Slip("count: 9", "count: nine", "wrong_type", "joints.cover_screws.count", "whole number", at="nine"),
    Slip("count: 9", 'count: "9"', "wrong_type", "joints.cover_screws.count", "quotes", at='"9"'),
    Slip("count: 9", "count: 9.5", "wrong_type", "joints.cover_screws.count", "", at="9.5"),
    Slip("count: 9", "count: ", "wrong_type", "joints.cover_screws.count", "leave the key out", at="count: ,"),
    Slip("count: 9", "count: [9]", "wrong_type", "joints.cover_screws.count", "", at="[9]"),
    Slip("energy: true", "energy: yes", "wrong_type", "parts.pack.energy", "true or false", at="yes"),
    Slip("energy: true", "energy: 1", "wrong_type", "parts.pack.energy", "", at="1, haz"),
    Slip("powered: true,", "powered: maybe,", "wrong_type", "joints.sink_screws.powered", "shutdown", at="maybe"),
    Slip("after: [cover_screws]", "after: cover_screws", "wrong_type", "joints.cover_clips.after", "[cover_screws]", at="cover_screws}"),
    Slip("joins: [pack, board]", "joins: pack", "wrong_type", "joints.pack_plug.joins", "[pack]", at="pack, under"),
    Slip("joins: [pack, board]", "joins: [pack]", "too_few", "joints.pack_plug.joins", "2 or more", at="[pack]"),
    Slip("joins: [pack, board]", "joins: [pack, pack]", "duplicate_item", "joints.pack_plug.joins[1]", "", at="pack], und"),
    Slip("name: Heat sink", "name: 13", "wrong_type", "parts.sink.name", '"13"', at="13"),
    Slip("name: Heat sink", "name: true", "wrong_type", "parts.sink.name", '"true"', at="true}"),
    Slip("name: Heat sink", 'name: ""', "empty", "parts.sink.name", "", at='""'),
    Slip("name: Heat sink", 'name: "a\\nb"', "wrong_type", "parts.sink.name", "one line", at='"a'),
    Slip("name: Heat sink", 'name: "a\\u202eb"', "character", "parts.sink.name", "Remove", at='"a'),
    Slip("name: Heat sink", 'name: "\\ud800"', "character", "parts.sink.name", "", at='"\\ud'),
    Slip("name: Heat sink", "name: " + "x" * 201, "too_long", "parts.sink.name", "200", at="xxx"),
    Slip("{name: Heat sink}", "Heat sink", "wrong_type", "parts.sink", "", at="Heat sink"),
    Slip("{name: Heat sink}", "", "wrong_type", "parts.sink", "", at="sink:"),
    Slip("signal: warning", "signal: warn", "unknown_word", "hazards.pack.signal", "warning", at="warn,"),
    Slip("kind: plug", "kind: plugg", "unknown_word", "joints.pack_plug.kind", "plug", at="plugg"),
    Slip("order: crosswise", "order: cross", "unknown_word", "joints.sink_screws.order", "crosswise", at="cross,"),
    Slip("at: after_open", "at: after_opening", "unknown_word", "acts.discharge.at", "after_open", at="after_opening"),
    Slip("positions_mm: [[0, 0],", "positions_mm: [[0, 0, 0],", "wrong_type", "joints.sink_screws.positions_mm[0]", "[x, y]", at="[0, 0, 0]"),
    Slip("positions_mm: [[0, 0],", "positions_mm: [[0, a],", "wrong_type", "joints.sink_screws.positions_mm[0][1]", "", at="a],"),
    # Ranges
    Slip("count: 9", "count: 0", "out_of_range", "joints.cover_screws.count", "1 to 999", at="0, side"),
    Slip("count: 9", "count: 1000", "out_of_range", "joints.cover_screws.count", "1 to 999", at="1000"),
    Slip("count: 9", "count: -1", "out_of_range", "joints.cover_screws.count", "1 to 999", at="-1"),
    Slip("turn_s: 6", "turn_s: -0.001", "out_of_range", "turn_s", "86,400", at="-0.001"),
    Slip("turn_s: 6", "turn_s: 86400.001", "out_of_range", "turn_s", "86,400", at="86400.001"),
    Slip("turn_s: 6", "turn_s: 0.0001", "out_of_range", "turn_s", "", at="0.0001"),
    Slip("turn_s: 6", "turn_s: .inf", "out_of_range", "turn_s", "", at=".inf"),
    Slip("turn_s: 6", "turn_s: .nan", "out_of_range", "turn_s", "", at=".nan"),
    Slip("turn_s: 6", "turn_s: 1e999", "out_of_range", "turn_s", "", at="1e999"),
    Slip("turn_s: 6", "turn_s: 1" + "0" * 400, "out_of_range", "turn_s", "", at="1000"),
    Slip("open_s: 14", "open_s: 1:30", "wrong_type", "joints.keys_ribbon.access[1].open_s", "", at="1:30"),
    Slip("torque_ncm: 17", "torque_ncm: 0", "out_of_range", "fasteners.m2x5.torque_ncm", "above 0", at="0}"),
    Slip("length_mm: 5", "length_mm: -5", "out_of_range", "fasteners.m2x5.length_mm", "above 0", at="-5"),
    Slip("renew: {compound: 0.3}", "renew: {compound: 0}", "out_of_range", "joints.sink_screws.renew.compound", "", at="0}"),
    Slip("isolates: true", "damage: {pack: 1.1}", "out_of_range", "joints.pack_plug.damage.pack", "0 to 1", at="1.1"),
    Slip("order_code: AL-100", "price: -1", "out_of_range", "parts.cover.price", "", at="-1"),
    # Rules between keys
    Slip("fixed: true", "fixed: false", "fixed_part", "parts", "stays on the bench", at="parts:"),
    Slip("name: Heat sink", "fixed: true", "fixed_part", "parts.sink.fixed", "one part", at="true}\n  keys"),
    Slip("fixed: true", "fixed: true, if_fitted: cell", "fixed_part", "parts.chassis.if_fitted", "", at="cell}"),
    Slip("positions_mm: [[0, 0], ", "positions_mm: [", "count_positions", "joints.sink_screws.count", "count: 3", at="4, under"),
    Slip("count: 4, under: [cover], tool: driver,\n", "under: [cover], tool: driver,\n", "count_positions", "joints.sink_screws.positions_mm", "count: 4", at="[[0, 0]"),
    Slip("revision: B", "frame_mm: [20, 40]", "outside_frame", "joints.sink_screws.positions_mm[1]", "frame_mm", at="[30, 0]"),
    Slip("revision: B", "frame_mm: {bottom: [20, 40]}", "outside_frame", "joints.sink_screws.positions_mm[1]", "", at="[30, 0]"),
    Slip("revision: B", "frame_mm: {botom: [20, 40]}", "unknown_name", "device.frame_mm.botom", "bottom", at="botom"),
    Slip("revision: B", "frame_mm: [0, 40]", "out_of_range", "device.frame_mm[0]", "", at="0, 40"),
    Slip("kind: ribbon\n", "kind: ribbon\n    side: top\n", "access_twice", "joints.keys_ribbon.side", "inside each access", at="top\n"),
    Slip("kind: ribbon\n", "kind: ribbon\n    under: []\n", "access_twice", "joints.keys_ribbon.under", "", at="[]\n"),
    Slip("kind: clip, joins: [keys", "kind: other, joins: [keys", "missing", "joints.keys_clips.rigid", "rigid", at="keys_clips:"),
    Slip("joint: pack_plug, ", "", "missing", "acts.discharge.joint", "Add joint", at="discharge:"),
    Slip("check_s: 60", "measure: {unit: V, low: 2, high: 1}", "out_of_range", "functions.typing.measure.low", "", at="2, high"),
    Slip("name: Heat sink", "was: keys", "was_in_use", "parts.sink.was", "no longer used", at="keys}\n"),
    Slip("name: Heat sink", "was: sink", "was_in_use", "parts.sink.was", "", at="sink}\n"),
    Slip("count: 9", "count: 9, after: [cover_screws]", "circular_after", "joints.cover_screws.after", "", at="[cover_screws], side"),
    Slip("count: 9", "count: 9, after: [cover_clips]", "circular_after", "joints.cover_screws.after", "", at="[cover_clips], side"),
]  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: f"{slip.path}-{slip.code}")
def test_each_slip_is_named_placed_and_remedied(slip: Slip) -> None:
    """A single slip gives an error of its code, at its path, line and column, with a useful remedy."""
    assert slip.old in ALDER
    text = ALDER.replace(slip.old, slip.new, 1)
    result = read_device(text, "alder.device.yaml")
    assert result.device is None
    found = [p for p in result.errors if (p.code, p.path) == (slip.code, slip.path)]
    assert found, [(p.code, p.path, p.message) for p in result.errors]
    problem = found[0]
    assert slip.remedy in problem.remedy
    assert problem.file == "alder.device.yaml"
    pointed = _text_at(text, problem)
    assert pointed.startswith(slip.at or slip.new), pointed[:40]


def _text_at(text: str, problem: Problem) -> str:
    assert problem.line is not None
    assert problem.column is not None
    lines = text.splitlines(keepends=True)
    return "".join([lines[problem.line - 1][problem.column - 1 :], *lines[problem.line :]])


INDEPENDENT = [
    "cuont", "energy: yes", "turn: 6", "botom", "signal: warn,", "length_mm: -5", "Kind: notebook", "unit: g, unit: g",
]  # fmt: skip


def test_all_problems_are_told_at_once_in_file_order() -> None:
    """Eight independent slips in one file are eight errors, in the order in which they stand."""
    text = (
        ALDER.replace("count: 9", "cuont: 9")
        .replace("energy: true", "energy: yes")
        .replace("turn_s: 6", "turn: 6")
        .replace("{side: bottom, under", "{side: botom, under")
        .replace("signal: warning,", "signal: warn,")
        .replace("length_mm: 5", "length_mm: -5")
        .replace("kind: notebook", "Kind: notebook")
        .replace("unit: g", "unit: g, unit: g")
    )
    errors = read_device(text).errors
    places = [(p.line, p.column) for p in errors]
    assert len(errors) == len(INDEPENDENT)
    assert places == sorted(places)


def test_slips_do_not_breed() -> None:
    """One wrong id in a section does not make every reference to the section wrong."""
    errors = read_device(
        ALDER.replace("  sink: {name: Heat sink}", "  sink: {nam: Heat sink}")
    ).errors
    assert [p.path for p in errors] == ["parts.sink.nam"]
    errors = read_device(ALDER.replace("  driver: {name", "  driver: {nmae")).errors
    assert [p.path for p in errors] == ["tools.driver.nmae"]


def test_a_later_format_is_not_picked_to_pieces() -> None:
    """A file of a later format has one error, whatever else is new in it."""
    errors = read_device(
        ALDER.replace("format: 1", "format: 2").replace("kind: plug", "kind: teleport")
    ).errors
    assert [p.code for p in errors] == ["newer_format"]


def test_loading_a_bad_file_raises_with_its_errors() -> None:
    """Loading gives no device; what is raised carries the errors, without the warnings."""
    with pytest.raises(InputError) as caught:
        load_device(ALDER.replace("count: 9", "count: 0"), "bad.yaml")
    assert [p.place() for p in caught.value.problems] == ["bad.yaml:29:79"]


def test_many_problems_are_cut_with_a_word_about_the_rest() -> None:
    """A file with thousands of slips lists a thousand and says how many more there are."""
    text = ALDER + "".join(f"wrong_{i}: 1\n" for i in range(1_500))
    problems = read_device(text).problems
    assert len(problems) == 1_001
    assert "500 more" in problems[-1].message


def test_a_file_that_is_good_has_no_errors() -> None:
    """The base of all slips is itself without error, so that each slip is the only cause."""
    device = load_device(ALDER)
    assert isinstance(device, Device)
    assert load_device(write_device(device)) == device


def test_a_text_cut_at_its_comma_is_told_to_go_in_quotes() -> None:
    """In braces a comma ends a text; what follows looks like a key without a value."""
    for rest in ("do not touch", "10"):
        text = f"format: 1\ndevice: {{name: A, note: Hot, {rest}}}\nparts: {{a: {{fixed: true}}, b: {{}}}}\njoints: {{}}\n"
        remedies = [p.remedy for p in read_device(text).problems if p.path.startswith("device")]
        assert len(remedies) == 1
        assert "in quotes" in remedies[0]
        assert "comma" in remedies[0]


def test_errors_within_a_bad_joint_are_told_in_the_same_run() -> None:
    """A bad kind or a bad name hides neither the count against the positions nor keys beside access."""
    text = """\
format: 1
device: {name: A}
parts: {a: {fixed: true}, b: {}}
joints:
  one: {kind: scrw, joins: [a, b], count: 3, positions_mm: [[0, 0]]}
  two: {kind: clip, joins: [a, b], tool: nothing, access: [{side: top}]}
"""
    codes = {p.code for p in read_device(text).problems}
    assert {"unknown_word", "count_positions", "unknown_name", "access_twice"} <= codes


def test_a_name_of_another_section_has_its_article() -> None:
    """An act, an option; a part."""
    text = """\
format: 1
device: {name: A}
parts: {a: {fixed: true}, b: {}}
joints: {one: {kind: clip, joins: [a, b], tool: wipe}}
acts: {wipe: {text: Wipe it, at: end}}
"""
    assert "there is an act of that id" in read_device(text).problems[0].message
