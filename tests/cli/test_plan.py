"""``lastscrew plan`` as a stranger uses it: JSON that adds up, a V that can be read, mistakes that are explained."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import assume, given
from hypothesis import strategies as st
from rich.cells import cell_len

from lastscrew.cli.main import main
from lastscrew.cli.plan_text import plan_text
from lastscrew.device.model import Device
from lastscrew.device.reading import read_device
from lastscrew.paper.plan_json import Batch, plan_as_json
from lastscrew.plan.briefing import brief
from lastscrew.plan.model import Plan
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.proof.checks import proof_of
from tests.oracle.devices import MIDDLE, SMALL, case_from_seed
from tests.plan_support.greedy import plan_naively
from tests.plan_support.machines import BOX, LADDER

SEEDS = st.integers(0, 100_000)
Values = dict[str, Any]


@pytest.fixture
def box_file(tmp_path: Path) -> str:
    """The box as a file."""
    path = tmp_path / "box.device.yaml"
    path.write_text(BOX, encoding="utf-8")
    return str(path)


def run(*arguments: str, env: dict[str, str] | None = None) -> Result:
    """Run ``lastscrew plan`` in this process."""
    return CliRunner().invoke(main, ["plan", *arguments], env=env or {}, catch_exceptions=False)


def planned(*arguments: str) -> Values:
    """The JSON of a plan, numbers as they are written."""
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output
    values: Values = json.loads(result.stdout, parse_float=Decimal)
    return values


def refused(*arguments: str) -> list[Values]:
    """The errors of a request that can't be planned."""
    result = run(*arguments, "--json")
    assert result.exit_code == 2
    errors: list[Values] = json.loads(result.stdout)["errors"]
    for error in errors:
        assert {"file", "line", "column", "path", "message", "remedy"} <= set(error)
    return errors


# --- JSON ---------------------------------------------------------------------------------------

PROMISED = (
    "total_s", "way_in_s", "way_out_s", "final_turn_s", "lower_bound_s", "proven", "expanded", "way_in", "way_out",
    "acts", "checks_s", "elapsed_s", "tools", "fasteners_out", "supplies", "hazards", "checks", "assumed",
)  # fmt: skip


def _agrees(values: Values) -> None:
    """Every sum of the object, to the millisecond."""
    for limb, total, turn in (
        ("in", values["way_in_s"], Decimal(0)),
        ("out", values["way_out_s"], Decimal(values["final_turn_s"])),
    ):
        steps = values[f"way_{limb}"]
        work = sum((Decimal(s["setup_s"]) + Decimal(s["work_s"]) for s in steps), Decimal(0))
        loose = [a for a in values["acts"] if a["limb"] == limb and a["joint"] is None]
        assert work + turn + sum((Decimal(a["seconds"]) for a in loose), Decimal(0)) == total
    assert Decimal(values["way_in_s"]) + Decimal(values["way_out_s"]) == values["total_s"]
    assert Decimal(values["total_s"]) + Decimal(values["waits_s"]) == values["elapsed_s"]
    assert sum(Decimal(c["seconds"]) for c in values["checks"]) == values["checks_s"]


@given(SEEDS, st.booleans(), st.booleans())
def test_sums_of_the_json_agree_to_the_millisecond(seed: int, naively: bool, middle: bool) -> None:
    """On random machines, as the numbers stand in the text; and no number has more than three decimals."""
    device, request = case_from_seed(seed, MIDDLE if middle else SMALL)
    try:
        found: Plan = plan_naively(device, request) if naively else plan(device, request)
    except InputError:
        assume(False)
        raise
    briefing = brief(device, found)
    text = json.dumps(plan_as_json(briefing, proof_of(device, found), Batch(7, 0.85)))
    values = json.loads(text, parse_float=Decimal)
    assert set(PROMISED) <= set(values)
    _agrees(values)
    for number in re.findall(r'_s": ([-0-9.e]+)|"seconds": ([-0-9.e]+)', text):
        assert re.fullmatch(r"\d+(\.\d{1,3})?", number[0] or number[1])
    used = [s["tool"] for s in (*values["way_in"], *values["way_out"]) if s["tool"] is not None]
    assert values["tools"] == list(dict.fromkeys(used))
    assert all(s["why"] for s in (*values["way_in"], *values["way_out"]))
    assert values["lower_bound_s"] <= values["total_s"]
    assert not values["proven"] or values["lower_bound_s"] == values["total_s"]


def test_the_object_has_what_was_promised(box_file: str) -> None:
    """Every promised key, with the shape that was promised, in a plan that has something in each."""
    values = planned(box_file, "--replace", "board", "--replace", "keys", "--side", "top")
    assert list(values)[: len(PROMISED)] == list(PROMISED)
    _agrees(values)
    assert values["proven"] is True
    for step in (*values["way_in"], *values["way_out"]):
        assert {"joint", "side", "tool", "setup_s", "work_s", "why"} <= set(step)
    assert {
        "id": "discharge",
        "limb": "in",
        "joint": "pack_plug",
        "seconds": 12,
        "at": "after_open",
    } in values["acts"]
    assert {
        "id": "clean",
        "limb": "in",
        "joint": None,
        "seconds": Decimal("20.125"),
        "at": "turning",
    } in values["acts"]
    assert {"joint": "cover_screws", "fastener": "m2x5", "count": 9} in values["fasteners_out"]
    assert {"id": "compound", "amount": Decimal("0.3"), "unit": "g"} in values["supplies"]
    assert values["checks"][0]["function"] == "typing"
    assert values["checks"][0]["because"].startswith("*Keyboard* was exchanged")
    assert values["checks"][0]["seconds"] == 60
    assert ("pack", "pack_plug", "in") in {
        (h["id"], h["joint"], h["limb"]) for h in values["hazards"]
    }
    low, high = values["total_range"]
    assert low <= values["total_s"] <= high


def test_a_step_without_a_tool_has_a_null_tool(box_file: str) -> None:
    """The plug is pulled by hand."""
    steps = planned(box_file, "--replace", "keys")["way_in"]
    assert next(s for s in steps if s["joint"] == "pack_plug")["tool"] is None


def test_the_same_input_gives_the_same_output(box_file: str) -> None:
    """Byte for byte."""
    arguments = (box_file, "--replace", "board", "--json", "--robust", "--why", "pack_plug")
    assert run(*arguments).stdout == run(*arguments).stdout


def test_every_option_reaches_the_planner(box_file: str) -> None:
    """What was asked stands in the answer."""
    values = planned(
        box_file, "--replace", "keys + sink", "--reach", "board_screws", "--open", "cover_screws", "--side", "top",
        "--not-fitted", "plate", "--without", "pack_screws", "--objective", "risk", "--pace", "1.5", "--rate", "60",
    )  # fmt: skip
    assert values["asked"] == {
        "replace": ["keys + sink"], "reach": ["board_screws"], "open": ["cover_screws"], "side": "top",
        "not_fitted": ["plate"], "fitted": [], "without": ["pack_screws"], "objective": "risk", "pace": Decimal("1.5"),
    }  # fmt: skip
    assert values["cost"]["rate_per_h"] == Decimal("60.0")
    assert "cover_screws" not in {s["joint"] for s in values["way_in"]}
    assert "cover_screws" in {s["joint"] for s in values["way_out"]}
    assert values["pieces"] == [{"piece": "keys + sink", "parts": ["keys", "sink"]}]


def test_steps_are_counted_where_they_are_the_objective(box_file: str) -> None:
    """The value of the objective is joints worked on and seconds."""
    values = planned(box_file, "--reach", "keys_ribbon", "--objective", "steps")
    worked_on = len(values["way_in"]) + len(values["way_out"])
    assert values["objective_value"] == {"steps": worked_on, "seconds": values["total_s"]}


def test_a_pace_stretches_what_comes_from_tables_only(tmp_path: Path) -> None:
    """The box gives its own times; the ladder has them from the table."""
    ladder, box = tmp_path / "ladder.yaml", tmp_path / "box.yaml"
    ladder.write_text(LADDER, encoding="utf-8")
    box.write_text(BOX, encoding="utf-8")
    slow = planned(str(ladder), "--replace", "motor", "--pace", "2")
    normal = planned(str(ladder), "--replace", "motor")
    assert slow["way_in"][0]["work_s"] == 2 * normal["way_in"][0]["work_s"]
    assert (
        planned(str(box), "--replace", "keys", "--pace", "2")["total_s"]
        == planned(str(box), "--replace", "keys")["total_s"]
    )


def test_an_allowance_is_added_to_what_comes_from_tables(tmp_path: Path) -> None:
    """A quarter for rest makes 5 s of every 4, to the millisecond of rounding; each time tells its source."""
    path = tmp_path / "ladder.yaml"
    path.write_text(LADDER, encoding="utf-8")
    plain = planned(str(path), "--replace", "motor")
    rested = planned(str(path), "--replace", "motor", "--allowance", "0.25")
    for one, other in zip(plain["way_in"], rested["way_in"], strict=True):
        assert float(other["work_s"]) == pytest.approx(1.25 * float(one["work_s"]), abs=0.001)
        assert "table, basic MOST" in one["source"]
    assert plain["way_in"][0]["source"].startswith("assumed (count 1")


def test_a_batch_follows_the_curve(box_file: str) -> None:
    """With every doubling the last unit's time falls to the rate; without learning it does not fall."""
    two = planned(box_file, "--replace", "keys", "--units", "2", "--learning", "0.8")
    batch, total = two["batch"], two["total_s"]
    assert batch["first_s"] == total
    assert float(batch["last_s"]) == pytest.approx(float(total) * 0.8)
    assert float(batch["total_s"]) == pytest.approx(float(total) * 1.8)
    flat = planned(box_file, "--replace", "keys", "--units", "5", "--learning", "1")["batch"]
    assert flat["total_s"] == 5 * total
    assert planned(box_file, "--replace", "keys")["batch"] is None


def test_labour_costs_its_rate(box_file: str) -> None:
    """An hour at 36 costs a cent a second."""
    cost = planned(box_file, "--replace", "keys", "--rate", "36")
    assert float(cost["cost"]["labour"]) == pytest.approx(float(cost["total_s"]) / 100, abs=0.005)
    assert cost["cost"]["material"] == 30
    assert cost["cost"]["without_price"] == ["m2x3"]


# --- asked beside the plan ----------------------------------------------------------------------


def test_why_tells_one_joint(box_file: str) -> None:
    """For an opened joint the chain; for another that it stays closed."""
    result = run(box_file, "--replace", "keys", "--why", "pack_plug", "--why", "sink_screws")
    assert "takes the power away before *Keys ribbon*" in " ".join(result.stdout.split())
    assert "Sink screws: stays closed" in result.stdout
    told = planned(box_file, "--replace", "keys", "--why", "pack_plug", "--why", "sink_screws")[
        "why"
    ]
    assert [w["opened"] for w in told] == [True, False]
    assert [link["kind"] for link in told[0]["chain"]] == ["isolation", "piece"]


def test_without_says_what_the_restriction_costs(box_file: str) -> None:
    """The difference of the two proven plans, with what is opened instead; nothing where it is free."""
    free = planned(box_file, "--reach", "keys_ribbon")
    opened = {s["joint"] for s in free["way_in"]}
    avoid = "keys_clips" if "keys_clips" in opened else "pack_screws"
    values = planned(box_file, "--reach", "keys_ribbon", "--without", avoid)
    without = values["without"]
    assert without["extra_s"] == values["total_s"] - free["total_s"] > 0
    assert without["would_be_opened"] == [avoid]
    assert without["opened_instead"]
    assert avoid not in {s["joint"] for s in values["way_in"]}
    text = run(box_file, "--reach", "keys_ribbon", "--without", avoid).stdout
    assert f"{float(without['extra_s']):g} s more" in text
    text = run(box_file, "--reach", "keys_ribbon", "--without", "sink_screws").stdout
    assert "costs nothing" in text


def test_robust_tells_the_touchiest_time(box_file: str) -> None:
    """The summary factor is the least of all factors, and the words name the joint."""
    values = planned(box_file, "--reach", "keys_ribbon", "--robust")["robust"]
    factors = {x["joint"]: x["factor"] for x in values["joints"] if x["factor"] is not None}
    assert values["factor"] == min(factors.values())
    assert factors[values["critical"]] == values["factor"]
    assert values["not_tried"] == []
    text = " ".join(run(box_file, "--reach", "keys_ribbon", "--robust").stdout.split())
    assert f"by a factor of {float(values['factor']):.2f}" in text


def test_a_job_that_has_begun_goes_on_from_its_events(box_file: str, tmp_path: Path) -> None:
    """Open joints, targets and what was exchanged come from the run; targets given here stand instead."""
    device = read_device(BOX).device
    assert device is not None
    moment = {"at": "2026-01-05T08:00:00Z", "by": "kim"}
    events = [
        {"id": "e1", "event": "started", "device": device.id, "revision": device.revision_hash,
         "replace": ["keys"], **moment},
        {"id": "e2", "event": "opened", "joint": "cover_screws", **moment},
        {"id": "e3", "event": "opened", "joint": "cover_clips", **moment},
    ]  # fmt: skip
    path = tmp_path / "job.jsonl"
    path.write_text("".join(json.dumps(event) + "\n" for event in events), encoding="utf-8")
    going_on = planned(box_file, "--run", str(path))
    assert going_on["asked"]["open"] == ["cover_screws", "cover_clips"]
    assert going_on["asked"]["replace"] == ["keys"]
    assert going_on["way_in"][0]["joint"] == "pack_plug"
    assert {s["joint"] for s in going_on["way_out"]} >= {"cover_screws", "cover_clips"}
    other = planned(box_file, "--run", str(path), "--replace", "pack")
    assert other["asked"]["replace"] == ["pack"]
    closing = planned(box_file, "--run", str(path), "--reach", "cover_clips")
    assert closing["way_in"] == []


def test_remarks_of_a_run_are_shown(box_file: str, tmp_path: Path) -> None:
    """Opening a plug under a closed cover is remarked on and planned from all the same."""
    path = tmp_path / "job.jsonl"
    event = {
        "id": "e1",
        "event": "opened",
        "joint": "pack_plug",
        "at": "2026-01-05T08:00:00Z",
        "by": "kim",
    }
    path.write_text(json.dumps(event) + "\n", encoding="utf-8")
    values = planned(box_file, "--run", str(path), "--replace", "pack")
    assert values["run_remarks"]
    assert "cover_screws" in {s["joint"] for s in values["way_in"]}


def test_what_was_forgiven_in_a_run_is_told_beside_the_object(
    box_file: str, tmp_path: Path
) -> None:
    """A last line that a crash cut off is named on standard error; standard output stays one object."""
    path = tmp_path / "job.jsonl"
    path.write_text('{"id": "a", "event": "opened", "joint": "cover_screws"}\n{"id": "b", "eve')
    result = run(box_file, "--run", str(path), "--replace", "pack", "--json")
    assert result.exit_code == 0
    assert "cover_screws" not in {s["joint"] for s in json.loads(result.stdout)["way_in"]}
    assert result.stderr.count("warning") == 1
    assert f"{path}:2" in result.stderr


def test_a_part_without_joints_needs_nothing_opened(tmp_path: Path) -> None:
    """An empty V is said in words."""
    path = tmp_path / "bare.device.yaml"
    path.write_text("format: 1\ndevice: {name: A}\nparts: {a: {fixed: true}, b: {}}\njoints: {}\n")
    assert "Nothing has to be opened." in run(str(path), "--replace", "b").stdout


# --- mistakes -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "path", "words"),
    [
        (("--replace", "keyz"), "--replace keyz", 'Did you mean "keys"'),
        (("--replace", "Keyboard set"), "--replace Keyboard set", "Did you mean"),
        (("--replace", "board+keyz"), "--replace board+keyz (keyz)", 'Did you mean "keys"'),
        (("--reach", "pak_plug"), "--reach pak_plug", 'Did you mean "pack_plug"'),
        (("--open", "cover_screw", "--replace", "keys"), "--open cover_screw", 'Did you mean "cover_screws"'),
        (("--without", "xyz", "--replace", "keys"), "--without xyz", "Known:"),
        (("--side", "bottum", "--replace", "keys"), "--side bottum", 'Did you mean "bottom"'),
        (("--not-fitted", "cel", "--replace", "keys"), "--not-fitted cel", ""),
        (("--fitted", "cellular", "--replace", "keys"), "--fitted cellular", "names no option"),
        (("--not-fitted", "chassis", "--replace", "keys"), "--not-fitted chassis", "Leave it out"),
        (("--not-fitted", "sink", "--replace", "sink"), "--replace sink", "fitted"),
        (("--why", "pak_plug", "--replace", "keys"), "--why pak_plug", 'Did you mean "pack_plug"'),
        ((), "--replace", "Name a part"),
        (("--objective", "speed", "--replace", "keys"), "--objective", "--help"),
        (("--limit", "nan", "--replace", "keys"), "--limit", "--help"),
        (("--units", "0", "--replace", "keys"), "--units", "--help"),
        (("--objective", "steps", "--replace", "keys", "--robust"), "--robust", "time or risk"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_its_place_and_its_remedy(
    box_file: str, arguments: tuple[str, ...], path: str, words: str
) -> None:
    """One error, at the option that it belongs to, with what would be right."""
    (error,) = refused(box_file, *arguments)
    assert error["path"] == path
    assert error["message"]
    assert words in error["remedy"]


def test_all_mistakes_are_reported_at_once(box_file: str) -> None:
    """Three wrong names, three errors."""
    errors = refused(box_file, "--replace", "keyz", "--reach", "nothing", "--side", "left")
    assert [e["path"] for e in errors] == ["--replace keyz", "--reach nothing", "--side left"]


def test_an_impossible_request_says_what_stands_in_its_way(box_file: str) -> None:
    """A forbidden target, and a forbidden joint that everything leads through."""
    (error,) = refused(box_file, "--replace", "keys", "--without", "keys_clips")
    assert error["path"] == "--without keys_clips"
    assert "may not be opened" in error["message"]
    (error,) = refused(box_file, "--reach", "pack_plug", "--without", "cover_screws")
    assert error["path"] == "--reach pack_plug"
    assert "*Cover screws*" in error["message"]
    assert 'Allow "cover_screws"' in error["remedy"]


def test_a_bad_file_is_reported_with_line_and_column(tmp_path: Path) -> None:
    """Both slips of one file, each where it stands."""
    path = tmp_path / "bad.device.yaml"
    path.write_text(
        BOX.replace("count: 9", "cuont: 9").replace("joins: [sink, board]", "joins: [sinc, board]"),
        encoding="utf-8",
    )
    errors = refused(str(path), "--replace", "keys")
    assert len(errors) >= 2
    assert all(e["file"] == str(path) and e["line"] and e["column"] for e in errors)


@pytest.mark.parametrize("content", [b"", b"\x00\x01", b"format: 1\n\ttab", "ä".encode("latin-1")])
def test_what_is_no_device_file_is_refused_without_a_stack_trace(
    tmp_path: Path, content: bytes
) -> None:
    """Empty, binary, broken, wrongly encoded."""
    path = tmp_path / "odd.yaml"
    path.write_bytes(content)
    assert refused(str(path), "--replace", "keys")


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """Device file and run file alike."""
    (error,) = refused(str(tmp_path / "none.yaml"), "--replace", "keys")
    assert error["file"].endswith("none.yaml")


def test_mistakes_go_to_stderr_as_text(box_file: str) -> None:
    """Without --json nothing is printed on standard output."""
    result = run(box_file, "--replace", "keyz")
    assert (result.exit_code, result.stdout) == (2, "")
    assert 'There is no part or spare "keyz"' in result.stderr


# --- the terminal -------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [40, 56, 60, 80, 97, 120, 160])
@pytest.mark.parametrize("piece", ["board", "keys", "pack"])
def test_no_line_is_wider_than_the_terminal(box_file: str, width: int, piece: str) -> None:
    """At every width, counted as a terminal counts."""
    text = run(box_file, "--replace", piece, env={"COLUMNS": str(width)}).stdout
    assert max(cell_len(line) for line in text.splitlines()) <= width


@given(
    SEEDS,
    st.integers(40, 160),
    st.booleans(),
    st.sampled_from(["", "主板", "e\u0301", "\x1b[31m", "a\nb"]),
)
def test_wide_letters_and_control_characters_do_no_harm(
    seed: int, width: int, naively: bool, name: str
) -> None:
    """Names in any script keep the columns, and what would move the cursor is taken out."""
    from dataclasses import replace

    device, request = case_from_seed(seed, SMALL)
    if name:
        device = replace(
            device, joints={k: replace(j, name=f"{name} {k}") for k, j in device.joints.items()}
        )
    try:
        found = plan_naively(device, request) if naively else plan(device, request)
    except InputError:
        assume(False)
        raise
    briefing, proof = brief(device, found), proof_of(device, found)
    text = plan_text(briefing, proof, None, width=width, colour=False)
    assert "\x1b" not in text
    assert max(cell_len(line) for line in text.splitlines()) <= width
    coloured = plan_text(briefing, proof, None, width=width, colour=True)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == text


def test_a_row_pairs_an_opening_with_its_closing(box_file: str) -> None:
    """Left the way in, right the way out: the same joint on one line, numbers down and up."""
    text = run(box_file, "--replace", "keys", env={"COLUMNS": "100"}).stdout
    rows = re.findall(
        r"^ *(\d+) +[\d:]+ (.+?)(?: {2,}.*)?│ *(\d+). *[\d:]+ (.+?)(?: {2,}.*)?$",
        text,
        re.MULTILINE,
    )
    assert [(int(r[0]), int(r[2])) for r in rows] == [
        (1, 12),
        (2, 11),
        (3, 10),
        (4, 9),
        (5, 8),
        (6, 7),
    ]
    assert all(r[1].strip() == r[3].strip() for r in rows)


def test_a_closing_out_of_the_mirror_is_marked_and_listed() -> None:
    """Where the way out is not the way in backwards the number carries a mark and the order is told."""
    device, found = _not_mirrored()
    shown = plan_text(brief(device, found), proof_of(device, found), None, width=100, colour=False)
    the_v, told, order = shown.partition("closings marked ≠")
    assert told
    assert re.search(r"│ *\d+≠", the_v)
    numbers = [int(n) for n in re.findall(r"^ *(\d+)  +[\d:]+ ", order, re.MULTILINE)]
    first = len(found.way_in) + 1
    assert numbers == list(range(first, first + len(found.way_out)))


def _not_mirrored() -> tuple[Device, Plan]:
    """A random machine whose best way out is not the way in backwards."""
    for seed in range(400):
        device, request = case_from_seed(seed, MIDDLE)
        try:
            found = plan(device, request)
        except InputError:
            continue
        opened = [step.joint for step in found.way_in]
        closed = [step.joint for step in reversed(found.way_out) if step.joint in opened]
        if opened != closed:
            return device, found
    raise AssertionError


def test_signal_words_holds_and_power_stand_at_their_steps(box_file: str) -> None:
    """The pack's warning is told in full where the cover comes off, and by its letter afterwards."""
    text = run(box_file, "--replace", "keys", env={"COLUMNS": "100"}).stdout
    left = [line.split("│")[0].rstrip() for line in text.splitlines() if "│" in line]
    clips = next(i for i, line in enumerate(left) if "Cover clips" in line)
    plug = next(i for i, line in enumerate(left) if "Pack plug" in line)
    assert any("WARNING (b) Lithium pack" in line for line in left[:clips])
    assert any(line.strip() == "WARNING (b)" for line in left[clips:plug])
    after = " ".join(" ".join(left[plug:]).split())
    assert "HOLD The power is taken away at *Pack plug*" in after
    assert "The maker's instructions, local rules and trained people come first" in " ".join(
        text.split()
    )


def test_the_header_says_time_proof_losses_tools_and_order(box_file: str) -> None:
    """What a technician reads before the first step."""
    text = run(box_file, "--replace", "board", env={"COLUMNS": "100"}).stdout
    assert text.startswith("Box, revision 2: replace Main board\n")
    assert re.search(
        r"\d+(\.\d)?–\d+(\.\d)? min hands-on \(in .* min, out .* min\), with waiting", text
    )
    assert "Least time: proven." in text
    assert "keys (Main board exchanged)" in text
    assert "cross-recess screwdriver, plastic opening pick" in text
    assert "thermal compound, 0.3 g (0.45)" in text
    assert "Goes on to the new Main board: Sink plate and Heat sink." in text
    right = " ".join(" ".join(line.partition("│")[2] for line in text.splitlines()).split())
    assert "before Main board is seated bring out the end of Pack plug" in right


def test_a_stopped_search_says_how_far_off_it_may_be(box_file: str) -> None:
    """The same words from the JSON's figures."""
    values = planned(box_file, "--reach", "keys_ribbon", "--reach", "sink_screws", "--work", "0")
    text = run(box_file, "--reach", "keys_ribbon", "--reach", "sink_screws", "--work", "0").stdout
    if values["proven"]:
        assert "proven" in text
    else:
        gap = 100 * (float(values["total_s"]) / float(values["lower_bound_s"]) - 1)
        assert f"at most {gap:.1f} % above the least" in text


def _python(code: str, **env: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", code],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, **env},
    )


def test_an_output_without_the_signs_gets_plain_ones(box_file: str) -> None:
    """On an ASCII-only output the V is drawn with what there is."""
    code = f"from lastscrew.cli.main import main; main(['plan', {box_file!r}, '--replace', 'keys'])"
    process = _python(code, PYTHONIOENCODING="ascii", COLUMNS="80")
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, b"")
    assert out.isascii()
    assert b"| " in out


def test_no_colour_goes_into_a_pipe(box_file: str) -> None:
    """Piped output has no escape sequence."""
    assert "\x1b" not in run(box_file, "--replace", "keys").stdout


def test_ctrl_c_gives_the_best_plan_so_far(box_file: str) -> None:
    """An interrupt in the middle of a search: exit 0, the plan, its bound, and who stopped it."""
    code = f"""
import dataclasses, sys, time
from lastscrew.plan import planner
real = planner.plan
def slow(device, request, stop):
    found = real(device, request)
    print("searching", file=sys.stderr, flush=True)
    while not stop.expired():
        time.sleep(0.01)
    return dataclasses.replace(found, proven=False, lower_bound=1, lower_bound_ms=1, stopped="clock")
planner.plan = slow
from lastscrew.cli.main import main
main(['plan', {box_file!r}, '--replace', 'keys', '--json'])
"""
    process = _python(code)
    assert process.stderr is not None
    assert process.stderr.readline() == b"searching\n"
    time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=60)
    values = json.loads(out)
    assert (process.returncode, values["proven"], values["stopped"]) == (0, False, "interrupt")
    assert values["lower_bound_s"] == 0.001


# --- the documentation --------------------------------------------------------------------------

DOCS = Path(__file__).parents[2] / "docs" / "plan.md"


def test_every_option_is_documented() -> None:
    """Each option of the command has its place in docs/plan.md."""
    text = DOCS.read_text(encoding="utf-8")
    options = set(re.findall(r"(--[a-z-]+)", run("--help").output)) - {"--help"}
    assert {option for option in options if f"`{option}" not in text} == set()


def test_every_key_is_documented(box_file: str) -> None:
    """Each key of the JSON, at every depth, has its place in docs/plan.md."""
    values = planned(
        box_file, "--replace", "board", "--reach", "keys_ribbon", "--without", "pack_screws", "--robust",
        "--why", "pack_plug", "--units", "3",
    )  # fmt: skip
    text = DOCS.read_text(encoding="utf-8")
    keys: set[str] = set()

    def walk(value: object) -> None:
        if isinstance(value, dict):
            keys.update(value)
            for inner in value.values():
                walk(inner)
        elif isinstance(value, list):
            for inner in value:
                walk(inner)

    walk(values)
    assert {key for key in keys if f"`{key}`" not in text} == set()


CONFIRMED = """\
format: 1
device: {name: Kettle}
sides: [top]
tools: {driver: {fits: [PH1]}, meter: {name: volt meter}}
fasteners:
  short: {thread: M3, length_mm: 6, drive: PH1}
  long: {thread: M3, length_mm: 12, drive: PH1}
parts: {base: {fixed: true}, lid: {}, pot: {}}
joints:
  lid_screws:
    {kind: screw, joins: [lid, base], fastener: long, count: 4, tool: driver, torque_ncm: 50, order: crosswise,
     positions_mm: [[0, 0], [10, 0], [10, 10], [0, 10]]}
  pot_screws: {kind: screw, joins: [pot, base], fastener: short, count: 2, tool: driver, under: [lid], max_length_mm: 8}
acts:
  volts:
    {text: Measure at the pot., at: after_open, joint: lid_screws, seconds: 9, wait_s: 60, tool: meter,
     hold: Below 30 V., evidence: value}
  snap: {text: Look at the seal., at: turning, evidence: photo}
"""


def test_an_act_says_what_is_confirmed_with_what_and_what_is_kept(tmp_path: Path) -> None:
    """The hold point's own sentence, tool, waiting and evidence of an act stand at its step."""
    path = tmp_path / "kettle.device.yaml"
    path.write_text(CONFIRMED, encoding="utf-8")
    text = run(str(path), "--replace", "pot", env={"COLUMNS": "50"}).stdout
    words = " ".join(text.split())
    assert "do: Measure at the pot. (volt meter, 9 s, then wait 1:00)" in words
    assert "HOLD Below 30 V. (write the value down)" in words
    assert "do: Look at the seal. (take a photo)" in words


def test_screws_have_their_order_and_lengths_that_do_harm_their_caution(tmp_path: Path) -> None:
    """Crosswise on the way out, backwards on the way in; the longer look-alike is named where it harms."""
    path = tmp_path / "kettle.device.yaml"
    path.write_text(CONFIRMED, encoding="utf-8")
    words = " ".join(run(str(path), "--replace", "pot", env={"COLUMNS": "50"}).stdout.split())
    assert "loosen in the order 4 · 2 · 3 · 1" in words
    assert "start all by hand, then tighten in two rounds in the order 1 · 3 · 2 · 4" in words
    assert "NOTICE *Pot screws* take at most 8 mm. A screw of 12 mm (from *Lid screws*)" in words


def test_several_parts_in_one_piece_are_not_said_to_replace_each_other(box_file: str) -> None:
    """``a+b`` is called a piece of both."""
    text = run(box_file, "--replace", "board+sink").stdout
    assert "replace Main board + Heat sink in one piece" in text.splitlines()[0]
