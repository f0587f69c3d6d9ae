"""``lastscrew ledger``, ``tray`` and ``leftover`` as a stranger uses them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner, Result
from rich.cells import cell_len

from lastscrew.cli.leftover import _chance
from lastscrew.cli.main import main
from lastscrew.device.reading import load_device
from lastscrew.run import events as e
from lastscrew.run.lines import write_events
from tests.run.machines import events_of

Values = dict[str, Any]

RADIO = """
format: 1
device: {name: Rowan 4, revision: A}
sides: [bottom, top]
tools: {driver: {name: driver, fits: [PH1]}, pick: {name: pick}}
fasteners:
  m2x5: {thread: M2, length_mm: 5, drive: PH1, head: pan}
  m2x3: {thread: M2, length_mm: 3, drive: PH1, head: pan}
hazards: {pack: {signal: warning, text: "Do not pierce the pack."}}
parts:
  chassis: {name: Chassis, fixed: true}
  cover: {name: Cover}
  pack: {name: Pack, energy: true, hazards: [pack]}
  board: {name: Board}
joints:
  cover_screws: {kind: screw, joins: [cover, chassis], fastener: m2x5, count: 8, tool: driver}
  pack_plug: {kind: plug, joins: [pack, board], under: [cover], isolates: true}
  pack_screws: {kind: screw, joins: [pack, chassis], fastener: m2x3, count: 4, under: [cover], tool: driver,
                max_length_mm: 3.5}
  board_screws: {kind: screw, joins: [board, chassis], fastener: m2x5, count: 6, under: [cover], tool: driver,
                 with: {lock washer: 2}}
  board_seat: {kind: seat, joins: [board, chassis], under: [cover], after: [board_screws]}
"""


@pytest.fixture
def radio_file(tmp_path: Path) -> str:
    """The radio as a file."""
    path = tmp_path / "rowan.device.yaml"
    path.write_text(RADIO, encoding="utf-8")
    return str(path)


def run(*arguments: str, width: int = 80) -> Result:
    """Run a command in this process."""
    return CliRunner().invoke(main, arguments, env={"COLUMNS": str(width)}, catch_exceptions=False)


def values_of(*arguments: str) -> Values:
    """The JSON that a command prints."""
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output
    values: Values = json.loads(result.stdout)
    return values


def refused(*arguments: str) -> list[str]:
    """Paths of the errors of a command that must be refused, as JSON; never a stack trace."""
    result = run(*arguments, "--json")
    assert result.exit_code == 2
    return [error["path"] for error in json.loads(result.stdout)["errors"]]


def job_file(folder: Path, *happenings: e.Happening, cut: int = 0) -> str:
    """A file of run events, begun properly; ``cut`` bytes are missing at its end."""
    device = load_device(RADIO, "rowan")
    first = e.Started(device=device.id, revision=device.revision_hash, replace=("board",))
    raw = write_events(events_of(first, *happenings, by="Ada")).encode()
    path = folder / "job.jsonl"
    path.write_bytes(raw[: len(raw) - cut])
    return str(path)


IN = [e.Opened(joint=j) for j in ("cover_screws", "pack_plug", "board_screws", "board_seat")]
OUT = [e.Closed(joint=what.joint) for what in reversed(IN)]


# --- ledger ---------------------------------------------------------------------------------------


def test_the_ledger_of_a_plan_says_what_is_out_at_each_moment(radio_file: str) -> None:
    values = values_of("ledger", radio_file, "--replace", "board", "--rows", "2", "--columns", "3")
    assert values["of"] == "plan"
    moves = values["movements"]
    for move in moves:
        assert move["out"] == sum(m["change"] for m in moves if m["step"] <= move["step"])
        assert move["compartment"]
    assert moves[-1]["out"] == 0
    assert {lot["joint"]: lot["count"] for lot in values["out_at_turning"] if lot["fastener"]} == {
        "cover_screws": 8, "board_screws": 6,
    }  # fmt: skip
    assert all(
        kind["balances"] and kind["taken_out"] == kind["put_back"] for kind in values["kinds"]
    )
    assert {kind["kind"] for kind in values["kinds"]} == {"m2x5", "washer:lock washer"}


def test_the_ledger_of_a_half_done_job_says_what_is_out_and_why_it_can_not_be_closed(
    radio_file: str, tmp_path: Path
) -> None:
    lost = e.Lost(count=1, joint="board_screws", inside=True)
    laid = e.Laid(joint="cover_screws", compartment="A1")
    path = job_file(tmp_path, *IN, laid, lost, *OUT[:2])
    values = values_of("ledger", radio_file, "--run", path)
    assert values["of"] == "run"
    assert values["may_be_closed"] is False
    assert values["open"] == ["cover_screws", "pack_plug"]
    assert values["out"] == [
        {
            "joint": "cover_screws",
            "kind": "m2x5",
            "fastener": "m2x5",
            "count": 8,
            "compartment": "A1",
        }
    ]
    codes = [each["code"] for each in values["hindrances"]]
    assert codes == ["open_joint", "open_joint", "unbalanced_joint", "still_out", "lost_unsearched"]
    assert values["remarks"] == []


def test_an_orderly_job_may_be_closed(radio_file: str, tmp_path: Path) -> None:
    path = job_file(tmp_path, *IN, *OUT)
    assert values_of("ledger", radio_file, "--run", path)["may_be_closed"] is True
    shown = run("ledger", radio_file, "--run", path)
    assert "may be closed" in shown.output


def test_a_log_cut_off_by_a_crash_is_used_and_said(radio_file: str, tmp_path: Path) -> None:
    path = job_file(tmp_path, *IN, cut=20)
    result = run("ledger", radio_file, "--run", path, "--json")
    values = json.loads(result.stdout)
    assert values["events"] == 4
    assert [warning["code"] for warning in values["warnings"]] == ["cut_off"]
    assert "cut off" in result.stderr


def test_another_revision_of_the_file_is_remarked(radio_file: str, tmp_path: Path) -> None:
    path = tmp_path / "job.jsonl"
    path.write_text('{"id": "a", "event": "started", "device": "rowan_4", "revision": "older"}\n')
    values = values_of("ledger", radio_file, "--run", str(path))
    assert [remark["code"] for remark in values["remarks"]] == ["other_revision"]
    assert values["began_with_revision"] == "older"


def test_a_bad_log_is_refused_with_every_line(radio_file: str, tmp_path: Path) -> None:
    path = tmp_path / "job.jsonl"
    path.write_text('{"id": "a"}\nnonsense\n{"id": "b", "event": "opened"}\n')
    assert refused("ledger", radio_file, "--run", str(path)) == ["event", "", "joint"]
    result = run("ledger", radio_file, "--run", str(path))
    assert f"{path}:2:" in result.stderr


def test_mistakes_on_the_command_line_are_told_with_their_option(
    radio_file: str, tmp_path: Path
) -> None:
    work = ("--replace", "board")
    assert refused("ledger", radio_file, *work, "--rows", "2") == ["--columns"]
    assert refused("ledger", radio_file, "--replace", "bord") == ["--replace bord"]
    assert refused("ledger", radio_file, "--run", str(tmp_path / "none.jsonl")) == [""]
    assert refused("tray", radio_file, *work, "--rows", "0", "--columns", "99") == [
        "--rows",
        "--columns",
    ]
    assert refused("tray", radio_file, *work, "--rows", "2", "--columns", "2", "--cell", "big") == [
        "--cell"
    ]
    assert refused("tray", radio_file, *work, "--rows", "1", "--columns", "1", "--trays", "1") == [
        "--trays"
    ]
    assert refused("leftover", radio_file, *work) == ["--found"]
    assert refused("leftover", radio_file, *work, "--found", "m2x5", "--missing", "m2x5") == [
        "--found"
    ]
    assert refused("leftover", radio_file, *work, "--found", "m2x55") == ["--found"]
    assert refused("leftover", radio_file, *work, "--measured", "long") == ["--measured"]
    assert refused("leftover", radio_file, *work, "--found", "m2x5", "--thread", "M2") == [
        "--thread"
    ]
    assert refused("leftover", radio_file, *work, "--measured", "5", "--doubt", "nan") == [
        "--doubt"
    ]
    assert refused("leftover", radio_file, *work, "--found", "m2x5:12") == ["--found"]


# --- tray -----------------------------------------------------------------------------------------


def test_the_tray_map_is_told_and_drawn(radio_file: str, tmp_path: Path) -> None:
    target = tmp_path / "tray.svg"
    values = values_of(
        "tray", radio_file, "--replace", "board", "--reach", "pack_screws", "--rows", "2", "--columns", "3",
        "-o", str(target),
    )  # fmt: skip
    groups = {group["joint"]: group for group in values["groups"]}
    assert set(groups) == {"cover_screws", "pack_screws", "board_screws"}
    assert values["beside"] == []
    assert groups["pack_screws"]["compartment"] in groups["board_screws"]["not_the_same_as"]
    assert [c["joint"] for c in values["cautions"]] == ["pack_screws"]
    assert values["cautions"][0]["signal"] == "caution"
    root = ET.fromstring(target.read_text(encoding="utf-8"))
    assert root.attrib["width"].endswith("mm")


def test_steps_of_the_tray_are_those_of_the_plan(radio_file: str) -> None:
    work = ("--replace", "board")
    plan = values_of("plan", radio_file, *work)
    order = [step["joint"] for step in (*plan["way_in"], *plan["way_out"])]
    groups = values_of("tray", radio_file, *work, "--rows", "2", "--columns", "3")["groups"]
    assert [order[group["step"] - 1] for group in groups] == [group["joint"] for group in groups]


def test_a_map_that_can_not_be_written_is_told(radio_file: str, tmp_path: Path) -> None:
    target = str(tmp_path / "none" / "tray.svg")
    work = ("--replace", "board", "--rows", "2", "--columns", "3")
    result = run("tray", radio_file, *work, "-o", target)
    assert result.exit_code == 2
    assert "can't be read or written" in result.stderr


# --- leftover -------------------------------------------------------------------------------------


def test_a_screw_left_over_is_answered_with_places_and_a_search(radio_file: str) -> None:
    values = values_of("leftover", radio_file, "--replace", "board", "--found", "m2x5:1")
    assert [place["id"] for place in values["places"]] == ["board_screws", "cover_screws"]
    chances = sum(place["chance"] for place in values["places"]) + values["elsewhere"]
    assert chances == pytest.approx(1, abs=0.01)
    for place in values["places"]:
        assert {reason["source"] for reason in place["reasons"]} <= {
            "plan",
            "device file",
            "assumed",
        }
    steps = values["search"]["steps"]
    assert steps[0]["opens"] == []
    assert values["search"]["exact"]
    assert values["search"]["worst_s"] == steps[-1]["settled_s"]
    assert values["search"]["hazards"] == []
    assert values["assumed"]


def test_a_measured_piece_and_a_missing_one(radio_file: str) -> None:
    work = ("--replace", "board", "--reach", "pack_screws")
    for measure in ("4.8mm", "4,8", "M2x4.8mm:1", "4.8 mm:1"):
        values = values_of("leftover", radio_file, *work, "--measured", measure)
        assert {place["id"] for place in values["places"]} == {"board_screws", "cover_screws"}
    short = values_of("leftover", radio_file, *work, "--measured", "3mm", "--thread", "M2")
    assert [place["id"] for place in short["places"]] == ["pack_screws"]
    assert short["search"]["hazards"] == ["pack"]
    missing = values_of("leftover", radio_file, *work, "--missing", "m2x5")
    assert missing["places"][0]["id"] == "outside"


def test_what_was_written_down_in_the_job_is_used(radio_file: str, tmp_path: Path) -> None:
    short = e.Closed(joint="board_screws", put_back=5)
    path = job_file(tmp_path, *IN, OUT[0], short, *OUT[2:])
    values = values_of("leftover", radio_file, "--run", path, "--found", "m2x5")
    place = next(p for p in values["places"] if p["id"] == "board_screws")
    assert "1 of 6 are not accounted for" in " ".join(r["text"] for r in place["reasons"])
    assert place["chance"] > 0.9


def test_joints_that_are_still_open_in_the_job_are_no_places(
    radio_file: str, tmp_path: Path
) -> None:
    path = job_file(tmp_path, *IN, *OUT[:2])
    values = values_of("leftover", radio_file, "--run", path, "--found", "m2x5")
    assert [place["id"] for place in values["places"]] == ["board_screws"]
    assert values["search"]["steps"][0]["opens"] == []


def test_what_the_record_knows_to_be_away_is_said_before_anything_is_opened_again(
    radio_file: str, tmp_path: Path
) -> None:
    """A screw noted as lost, and screws that still lie out, are the first thing to think of."""
    lost = e.Lost(count=1, joint="board_screws", inside=True)
    path = job_file(tmp_path, *IN, lost)
    values = values_of("leftover", radio_file, "--run", path, "--found", "m2x5")
    assert any("noted as lost" in text for text in values["record"])
    assert any(
        "5 × " in text and "still out of *Board screws*" in text for text in values["record"]
    )
    text = run("leftover", radio_file, "--run", path, "--found", "m2x5", width=160).output
    assert "By the record: 1 × " in text
    assert "Nothing that was opened" not in text


@pytest.mark.parametrize("width", [40, 80, 160])
@pytest.mark.parametrize(
    "arguments",
    [
        ("ledger", "--replace", "board"),
        ("tray", "--replace", "board", "--rows", "2", "--columns", "3"),
        ("leftover", "--replace", "board", "--found", "m2x5"),
        ("leftover", "--replace", "board", "--missing", "m2x5"),
        ("leftover", "--replace", "board", "--found", "m2x3"),
    ],
)
def test_text_keeps_to_the_width_of_the_terminal(
    radio_file: str, arguments: tuple[str, ...], width: int
) -> None:
    """Tables with many numbers need their room; everything else is wrapped."""
    result = run(arguments[0], radio_file, *arguments[1:], width=width)
    assert result.exit_code == 0
    assert "\x1b" not in result.output
    for line in result.output.splitlines():
        assert cell_len(line) <= max(width, 76 if arguments[0] == "ledger" else 0)


def test_the_same_question_has_the_same_answer(radio_file: str) -> None:
    for arguments in (
        ("ledger", radio_file, "--replace", "board", "--json"),
        ("tray", radio_file, "--replace", "board", "--rows", "2", "--columns", "2", "--json"),
        ("leftover", radio_file, "--replace", "board", "--found", "m2x5", "--json"),
    ):
        assert run(*arguments).stdout == run(*arguments).stdout


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.0004, "under 1 %"), (0.012, "about 1 %"), (0.094, "about 9 %"), (0.33, "about 35 %"),
     (0.999, "about 99 %"), (1.0, "about 99 %")],
)  # fmt: skip
def test_chances_are_shown_no_finer_than_they_are_known(chance: float, words: str) -> None:
    assert _chance(chance) == words
