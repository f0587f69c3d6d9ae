"""``lastscrew fault`` and what people give it wrongly: one clear message each, all at once, exit 2."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lastscrew.cli.main import main
from lastscrew.run import events as e
from lastscrew.run.lines import write_events
from tests.faults.lantern import LANTERN, lantern

Run = Callable[..., Result]
NO_FAULTS = LANTERN[: LANTERN.index("symptoms:")]


@pytest.fixture
def lantern_file(tmp_path: Path) -> Path:
    """The lantern as a file."""
    path = tmp_path / "lantern.device.yaml"
    path.write_text(LANTERN, encoding="utf-8")
    return path


@pytest.fixture
def fault(lantern_file: Path, tmp_path: Path) -> Run:
    """Run ``lastscrew fault`` on the lantern."""

    def run(*arguments: str, file: str = str(lantern_file), given: bytes | None = None) -> Result:
        return CliRunner().invoke(
            main,
            ["fault", file, *arguments],
            env={"COLUMNS": "100", "LASTSCREW_CACHE": str(tmp_path / "cache")},
            input=given,
            catch_exceptions=False,
        )

    return run


def messages(result: Result) -> list[str]:
    """First lines of the messages on standard error."""
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert result.stdout == ""
    return [line for line in result.stderr.split("\n") if line and not line.startswith(" ")]


def test_every_wrong_name_is_told_in_one_run_with_what_was_meant(fault: Run) -> None:
    """Eight slips of eight kinds: eight messages, each with its option and, where one is near, the right name."""
    result = fault(
        "--shows", "drak", "--lacks", "dimm", "--result", "chargr=bad", "--result", "charger=broken",
        "--result", "nonsense", "--doubt", "pack_voltage", "--open", "cover_screw", "--stock", "lmap",
    )  # fmt: skip
    told = messages(result)
    assert len(told) == 8
    for option in (
        "--shows drak", "--lacks dimm", "--result chargr", "--result charger=broken", "--result:",
        "--doubt pack_voltage", "--open cover_screw", "--stock lmap",
    ):  # fmt: skip
        assert any(f" {option}" in line for line in told), option
    for meant in ("dark", "dim", "charger", "cover_screws", "lamp"):
        assert f"Did you mean {meant}?" in result.stderr.replace('"', "")


def test_errors_in_json_have_the_shape_of_all_errors(fault: Run) -> None:
    """One object with a list; each entry has file, path, code, message and remedy."""
    result = fault("--shows", "drak", "--open", "x", "--json")
    assert result.exit_code == 2
    value = json.loads(result.stdout)
    assert [error["path"] for error in value["errors"]] == ["--open x", "--shows drak"]
    assert all(error["code"] and error["message"] and error["remedy"] for error in value["errors"])


def test_a_symptom_can_not_show_and_not_show(fault: Run) -> None:
    """Named under both options: told once."""
    assert len(messages(fault("--shows", "dark", "--lacks", "dark"))) == 1


def test_joints_that_are_open_need_what_leads_there(fault: Run) -> None:
    """A plug under the cover can't be open while the cover is on, which is named."""
    result = fault("--open", "lamp_plug")
    (told,) = messages(result)
    assert "before these come cover_screws." in result.stderr
    assert "lamp_plug" in told
    assert "while what leads there is closed" in told


def test_results_that_no_fault_explains_are_told(fault: Run, lantern_file: Path) -> None:
    """Where the file rules an outcome out altogether, seeing it is a contradiction, and no crash."""
    text = LANTERN.replace(
        "charger: {name: On the charger,", "charger: {name: On the charger, leak: 0,"
    )
    for old in ("charger: seldom", "charger: rarely"):
        text = text.replace(old, "charger: 0")
    text = text.replace("charger: always", "charger: 0")
    lantern_file.write_text(text, encoding="utf-8")
    (told,) = messages(fault("--shows", "dark", "--result", "charger=bad"))
    assert "can't be" in told


def test_a_file_without_faults_says_so(fault: Run, lantern_file: Path) -> None:
    """One sentence and where to read on."""
    lantern_file.write_text(NO_FAULTS, encoding="utf-8")
    (told,) = messages(fault())
    assert "names no faults" in told


def test_a_powered_check_that_leaves_a_live_joint_open_unnamed_is_an_error_of_the_file(
    fault: Run, lantern_file: Path
) -> None:
    """The pack's seat lies behind a plug that carries power and is not named: its place in the file is told."""
    under = '  under: {name: Under it, check: Look., check_s: 5, power: "on", open: [pack_seat]}\n'
    text = LANTERN.replace("  other_lamp:", under + "  other_lamp:")
    seat = "joins: [pack, foot], under: [cover], "
    text = text.replace(seat, seat + "after: [lamp_plug], ")
    lantern_file.write_text(text, encoding="utf-8")
    result = fault("--shows", "dark")
    told = messages(result)
    assert len(told) == 1
    assert "Under it needs power on, but Lamp plug is live" in told[0]
    line = next(
        n for n, text in enumerate(lantern_file.read_text().split("\n"), 1) if "  under:" in text
    )
    assert f":{line}:" in told[0]
    assert "Name lamp_plug under may_be_open or open" in result.stderr


def test_a_powered_mend_that_leaves_a_live_joint_open_unnamed_is_told_what_a_mend_may_name(
    fault: Run, lantern_file: Path
) -> None:
    """A mend has no may_be_open: the remedy names open alone."""
    seat = "joins: [pack, foot], under: [cover], "
    text = LANTERN.replace(seat, seat + "after: [lamp_plug], ")
    text = text.replace("{do: exchange}]", "{do: update, part: board, open: [pack_seat]}]")
    lantern_file.write_text(text, encoding="utf-8")
    result = fault("--shows", "dark")
    (told,) = messages(result)
    line = next(n for n, row in enumerate(text.split("\n"), 1) if "  board_dead:" in row)
    assert f":{line}:" in told
    assert "Name lamp_plug under open, so that" in result.stderr
    assert "may_be_open" not in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("--worth", "-1"),
        ("--rate", "x"),
        ("--second-fault", "1"),
        ("--simulate", "0"),
        ("--least", "2"),
        ("--pace", "0"),
        ("--strength", "-1"),
        ("--nonsense",),
    ],
)
def test_numbers_out_of_range_are_refused(fault: Run, arguments: tuple[str, ...]) -> None:
    """By the option that they belong to, exit 2."""
    result = fault(*arguments)
    assert result.exit_code == 2
    assert arguments[0] in result.output


def test_a_missing_or_broken_file_is_told(fault: Run, lantern_file: Path, tmp_path: Path) -> None:
    """No such file; a file with errors is never half used; a missing list of jobs."""
    assert len(messages(fault(file=str(tmp_path / "none.yaml")))) == 1
    lantern_file.write_text(LANTERN.replace("prior: 8", "prior: minus"), encoding="utf-8")
    assert any("prior" in line for line in messages(fault("--shows", "dark")))
    lantern_file.write_text(LANTERN, encoding="utf-8")
    assert len(messages(fault("--learn", str(tmp_path / "none.jsonl")))) == 1


def test_broken_jobs_are_told_with_their_lines(fault: Run, tmp_path: Path) -> None:
    """Every line that is no closed job, and what may not be taken back."""
    jobs = tmp_path / "jobs.jsonl"
    jobs.write_text('{"job": 1}\nx\n', encoding="utf-8")
    told = messages(fault("--learn", str(jobs)))
    assert [line.partition("jobs.jsonl:")[2][0] for line in told] == ["1", "1", "2"]
    jobs.write_text('{"job": "a", "faults": ["lamp_dead"]}\n', encoding="utf-8")
    assert len(messages(fault("--learn", str(jobs), "--take-back", "b"))) == 1


def test_a_device_file_can_come_from_standard_input(fault: Run) -> None:
    """A single dash reads it; messages call it by that name."""
    assert fault("--shows", "dark", "--work", "5", file="-", given=LANTERN.encode()).exit_code == 0
    (told,) = messages(fault("--shows", "x", file="-", given=LANTERN.encode()))
    assert told.startswith("standard input: --shows x")


def test_what_is_open_is_taken_from_a_job_that_has_begun(fault: Run, tmp_path: Path) -> None:
    """Run events with the cover off count as --open; a spoilt list is told."""
    device = lantern()
    log = tmp_path / "job.jsonl"
    begun = e.Started(device=device.id, revision=device.revision_hash, reach=("pack_plug",))
    events = [e.Event(id="1", what=begun), e.Event(id="2", what=e.Opened(joint="cover_screws"))]
    log.write_text(write_events(events), encoding="utf-8")
    by_run = fault("--shows", "dark", "--run", str(log), "--work", "5", "--json")
    by_hand = fault("--shows", "dark", "--open", "cover_screws", "--work", "5", "--json")
    assert json.loads(by_run.stdout)["next"] == json.loads(by_hand.stdout)["next"]
    log.write_text('{"event": "flown"}\n', encoding="utf-8")
    assert messages(fault("--run", str(log)))


@pytest.mark.parametrize("option", [("--take-back", "J-1"), ("--strength", "5")])
def test_what_is_about_closed_jobs_needs_them(fault: Run, option: tuple[str, str]) -> None:
    """An option that would do nothing is told, not passed over."""
    told = messages(fault("--shows", "dark", *option))
    assert len(told) == 1
    assert option[0] in told[0]
