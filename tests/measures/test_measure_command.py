"""``lastscrew measure`` as a person and as a program sees it."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from lastscrew.cli.main import main

MACHINE = """
format: 1
device: {name: Pocket set, kind: smartphone}
tools: {driver: {name: cross-recess screwdriver, fits: [PH0]}, card: {name: thin plastic card}}
supplies: {strip: {name: adhesive strip, unit: piece}}
options: {modem: {name: Modem, fitted: false}}
parts:
  housing: {name: Housing, fixed: true}
  lid: {name: Back cover}
  pack: {name: Battery pack, energy: true}
  board: {name: Main board}
  modem_card: {name: Modem card, if_fitted: modem}
spares: {pack_kit: {name: Pack with strips, contains: [pack], includes: [strip]}}
joints:
  lid_screws: {kind: screw, joins: [lid, housing], count: 4, tool: driver}
  plug: {kind: plug, joins: [pack, board], under: [lid], isolates: true}
  strip_bond: {kind: adhesive, joins: [pack, housing], under: [lid], tool: card, renew: {strip: 2}}
  board_screws: {kind: screw, joins: [board, housing], under: [lid], tool: driver}
  modem_screw: {kind: screw, joins: [modem_card, board], under: [lid], tool: driver}
"""


@pytest.fixture
def machine(tmp_path: Path) -> str:
    path = tmp_path / "pocket.device.yaml"
    path.write_text(MACHINE, encoding="utf-8")
    return str(path)


def run(*words: str, width: int = 100) -> Result:
    return CliRunner().invoke(main, ["measure", *words], env={"COLUMNS": str(width)})


def run_json(*words: str) -> dict[str, Any]:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    found: dict[str, Any] = json.loads(result.output)
    return found


def test_json_holds_depth_way_grades_and_index(machine: str) -> None:
    """Every part with its steps; the index with what is known, proposed, given and not to be had."""
    found = run_json(machine, "--part", "DA=none", "--score", "SSU=5")
    by_piece = {part["piece"]: part for part in found["parts"]}
    assert set(by_piece) == {"lid", "pack", "board"}
    pack = by_piece["pack"]
    assert (pack["depth"], pack["at_least"], pack["proven"]) == (3, 3, True)
    assert [step["tool"] for step in pack["steps"]] == ["driver", None, "card"]
    assert pack["steps"][-1]["removed"] == [["pack"]]
    assert {g["joint"]: g["grade"] for g in pack["fasteners"]}["strip_bond"] == "resupplied"
    index = found["index"]
    assert index["applies"] is True
    parts = {part["code"]: part for part in index["priority_parts"]}
    assert (parts["BAT"]["pieces"], parts["BAT"]["proposed"]) == (["pack"], True)
    assert parts["DA"]["absent"] is True
    assert parts["MIC"]["known"] is False
    assert index["parameters"]["SSU"] == {"weight": 0.15, "low": 5.0, "high": 5.0, "from": "given"}
    assert [entry["name"] for entry in index["not_from_a_device_file"]] == ["SSP", "SRI"]
    assert index["R"]["low"] < index["R"]["high"]


def test_a_settled_part_is_no_proposal(machine: str) -> None:
    """--part stands in place of the proposal, spares and pieces of several parts too."""
    found = run_json(machine, "--part", "bat=pack_kit", "--part", "BC=lid+board")
    parts = {part["code"]: part for part in found["index"]["priority_parts"]}
    assert (parts["BAT"]["pieces"], parts["BAT"]["proposed"]) == (["pack_kit"], False)
    assert parts["BC"]["pieces"] == ["lid+board"]


def test_what_is_not_fitted_is_left_out(machine: str) -> None:
    """A part of an option that most lack is measured only where it is fitted."""
    assert "modem_card" not in {part["piece"] for part in run_json(machine)["parts"]}
    fitted = run_json(machine, "--fitted", "modem")
    assert "modem_card" in {part["piece"] for part in fitted["parts"]}


@pytest.mark.parametrize("width", [40, 80, 200])
def test_text_fits_the_terminal(machine: str, width: int) -> None:
    """Steps, index, what can't be had and the cautions; no line wider than the terminal."""
    result = run(machine, "--way", "pack", width=width)
    assert result.exit_code == 0
    assert "Battery pack: 3 steps" in result.output
    assert "SSP" in result.output
    assert "legal text" in " ".join(result.output.split())
    if width >= 80:
        assert max(len(line) for line in result.output.splitlines()) <= width


def test_all_ways(machine: str) -> None:
    """--way all shows the steps of every part that comes off."""
    output = run(machine, "--way", "all").output
    for name in ("Back cover: 1 step", "Battery pack: 3 steps", "Main board: "):
        assert name in output


def test_other_kinds_are_no_declaration() -> None:
    """A notebook gets the arithmetic and is told that it is no more than that."""
    path = files("lastscrew.demo") / "notebook.device.yaml"
    assert "not a declaration" in " ".join(run(str(path)).output.split())


def test_stopped_early_says_between_what_it_lies() -> None:
    """Hardly any work: counts with their bounds, the same every time."""
    path = str(files("lastscrew.demo") / "notebook.device.yaml")
    found = run_json(path, "--work", "3")
    board = next(part for part in found["parts"] if part["piece"] == "board")
    assert board["at_least"] < board["depth"]
    assert board["proven"] is False
    assert found == run_json(path, "--work", "3")
    assert "not proven" in " ".join(run(path, "--work", "3").output.lower().split())
    assert run_json(path, "--limit", "0")["parts"]


BAD = [
    (["--part", "BAT=pock"], "--part pock", 'Did you mean "pack"?'),
    (["--part", "BAT=housing"], "--part housing", "comes off"),
    (["--part", "XX=pack"], "--part XX", "BAT (battery)"),
    (["--part", "FM=lid"], "--part FM", "--foldable"),
    (["--part", "BAT"], "--part", "CODE=PIECE"),
    (["--part", "BAT=pack", "--part", "BAT=none"], "--part BAT", "one or the other"),
    (["--part", "BAT=modem_card"], "--part modem_card", "fitted"),
    (["--way", "lidd"], "--way lidd", 'Did you mean "lid"?'),
    (["--way", "housing"], "--way housing", "comes off"),
    (["--tool", "dirver=basic"], "--tool dirver", 'Did you mean "driver"?'),
    (["--tool", "driver=good"], "--tool driver", "basic"),
    (["--score", "SDD=4"], "--score SDD", "SSP"),
    (["--score", "SSP=6"], "--score SSP", "1 to 5"),
    (["--authorised", "PACK"], "--authorised PACK", "BAT (battery)"),
    (["--fitted", "modum"], "--fitted modum", 'Did you mean "modem"?'),
]


@pytest.mark.parametrize(("words", "path", "remedy"), BAD)
def test_wrong_names_are_told_with_a_remedy(
    machine: str, words: list[str], path: str, remedy: str
) -> None:
    """Exit code 2; the option, what is wrong, what would be right."""
    result = run(machine, *words, "--json")
    assert result.exit_code == 2
    errors = json.loads(result.output)["errors"]
    assert [error["path"] for error in errors] == [path]
    assert remedy in errors[0]["remedy"]


def test_all_mistakes_at_once(machine: str) -> None:
    """Five wrong names, five messages."""
    words = [
        word
        for option, _, _ in BAD[:1] + BAD[2:3] + BAD[7:8] + BAD[9:10] + BAD[12:13]
        for word in option
    ]
    result = run(machine, *words, "--json")
    assert len(json.loads(result.output)["errors"]) == 5
