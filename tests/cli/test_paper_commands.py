"""``lastscrew sheet`` and ``lastscrew draw`` as a stranger uses them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner, Result

from lastscrew.cli.main import main

RADIO = """
format: 1
device: {name: Rowan 4, revision: A, frame_mm: {bottom: [120, 80]}}
sides: [bottom, top]
tools: {driver: {name: driver, fits: [PH1]}}
fasteners: {m2x5: {thread: M2, length_mm: 5, drive: PH1, head: pan}}
hazards: {pack: {signal: warning, text: "Do not pierce the pack."}}
parts:
  chassis: {name: Chassis, fixed: true}
  cover: {name: Cover}
  pack: {name: Pack, energy: true, hazards: [pack]}
joints:
  cover_screws: {kind: screw, joins: [cover, chassis], fastener: m2x5, count: 2, tool: driver,
                 positions_mm: [[5, 5], [115, 75]]}
  pack_plug: {kind: plug, joins: [pack, chassis], under: [cover], isolates: true}
  pack_clips: {kind: clip, joins: [pack, chassis], under: [cover], after: [pack_plug]}
"""


@pytest.fixture
def radio(tmp_path: Path) -> str:
    """The radio as a file."""
    file = tmp_path / "radio.device.yaml"
    file.write_text(RADIO, encoding="utf-8")
    return str(file)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def values_of(result: Result) -> dict[str, Any]:
    found = json.loads(result.stdout)
    assert isinstance(found, dict)
    return found


# --- draw -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ("--replace", "pack"),
        ("--what", "layers"),
        ("--what", "views"),
        ("--what", "views", "--replace", "pack", "--step", "1"),
    ],
)
def test_draw_prints_a_drawing(radio: str, words: tuple[str, ...]) -> None:
    """Without a file to write to, on standard output and nothing else."""
    result = run("draw", radio, *words)
    assert result.exit_code == 0, result.stderr
    root = ET.fromstring(result.stdout.encode())
    assert root.tag.endswith("svg")
    assert "Rowan 4" in result.stdout


def test_draw_writes_a_file_and_says_so(radio: str, tmp_path: Path) -> None:
    """The file holds what would have been printed."""
    file = tmp_path / "v.svg"
    result = run("draw", radio, "--replace", "pack", "-o", str(file))
    assert result.stdout.strip() == f"{file}: drawn"
    assert file.read_text(encoding="utf-8") == run("draw", radio, "--replace", "pack").stdout


def test_draw_tells_in_json_what_it_drew(radio: str, tmp_path: Path) -> None:
    """With the drawing itself where no file is written."""
    file = tmp_path / "v.svg"
    written = values_of(run("draw", radio, "--replace", "pack", "-o", str(file), "--json"))
    assert written["written"] == str(file)
    assert written["bytes"] == file.stat().st_size
    inside = values_of(run("draw", radio, "--replace", "pack", "--json"))
    assert inside["svg"] == file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "Nothing is asked for"),
        (("--replace", "pak"), 'no part or spare "pak"'),
        (("--what", "views", "--replace", "pack", "--step", "99"), "no step 99"),
        (("--what", "views", "--joint", "cover_screw"), "no joint cover_screw"),
        (("--what", "views", "--view", "botom"), "no side botom"),
    ],
)
def test_draw_says_what_is_wrong(radio: str, words: tuple[str, ...], said: str) -> None:
    """One message that names it, exit code 2; the same as JSON."""
    result = run("draw", radio, *words)
    assert result.exit_code == 2
    assert said in result.stderr
    as_json = run("draw", radio, *words, "--json")
    assert as_json.exit_code == 2
    assert any(said in error["message"] for error in values_of(as_json)["errors"])


# --- sheet ----------------------------------------------------------------------------------------


def test_sheet_writes_a_pdf_the_same_every_time(radio: str, tmp_path: Path) -> None:
    """In processes of their own with other hash seeds: the same bytes."""
    digests = set()
    for seed in ("1", "2"):
        file = tmp_path / f"{seed}.pdf"
        command = [
            sys.executable,
            "-m",
            "lastscrew",
            "sheet",
            radio,
            "--replace",
            "pack",
            "-o",
            str(file),
            "--json",
        ]
        done = subprocess.run(
            command,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=False,
        )
        if "library of the system is missing" in done.stdout:
            pytest.skip("the system's libraries for setting type are missing")
        told = json.loads(done.stdout)
        assert told["pages"] >= 2
        assert told["bytes"] == file.stat().st_size
        assert told["kind"] == "pdf"
        digests.add(file.read_bytes())
    assert len(digests) == 1
    assert digests.pop().startswith(b"%PDF-")


@pytest.mark.parametrize(("command", "words"), [("sheet", ["--replace", "pack"]), ("write", [])])
def test_letters_that_print_as_boxes_are_told(
    radio: str, tmp_path: Path, command: str, words: list[str]
) -> None:
    """On standard error, for a PDF alone: a name with a letter that no font has."""
    Path(radio).write_text(
        RADIO.replace("name: Pack,", 'name: "Pack \\U00030000",'), encoding="utf-8"
    )
    printed = run(command, radio, *words, "-o", str(tmp_path / "x.pdf"))
    assert printed.exit_code == 0
    assert "U+30000" in printed.stderr
    assert "fonts-noto-cjk" in printed.stderr
    assert run(command, radio, *words, "-o", str(tmp_path / "x.html")).stderr == ""


def test_sheet_writes_a_page_for_browsers(radio: str, tmp_path: Path) -> None:
    """By the ending of the file; needs no library of the system."""
    file = tmp_path / "sheet.html"
    result = run(
        "sheet",
        radio,
        "--replace",
        "pack",
        "-o",
        str(file),
        "--date",
        "2026-03-31",
        "--paper",
        "letter",
    )
    assert result.exit_code == 0, result.stderr
    page = file.read_text(encoding="utf-8")
    assert "2026-03-31" in page
    assert "size:215.9mm 279.4mm" in page
    assert "Do not pierce the pack." in page
    told = values_of(run("sheet", radio, "--replace", "pack", "-o", str(file), "--json"))
    assert (told["kind"], told["pages"]) == ("html", None)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--date", "2026-02-30"), "must be a day"),
        (("--cell", "45"), "no size of a compartment"),
        (("--rows", "0"), "--rows"),
        (("--paper", "a3"), "--paper"),
        (("--replace", "lamp"), 'no part or spare "lamp"'),
    ],
)
def test_sheet_says_what_is_wrong(radio: str, words: tuple[str, ...], said: str) -> None:
    """One message that names it, exit code 2, no file written."""
    result = run("sheet", radio, "--replace", "pack", "-o", "never.html", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert not Path("never.html").exists()


def test_sheet_into_a_folder_that_is_not_there(radio: str, tmp_path: Path) -> None:
    """A message, no stack trace."""
    result = run("sheet", radio, "--replace", "pack", "-o", str(tmp_path / "no" / "s.html"))
    assert result.exit_code == 2
    assert "can't be read or written" in result.stderr
