"""``lastscrew write`` as a stranger uses it, and ``lastscrew read`` on what it wrote."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lastscrew.cli.main import main
from lastscrew.device.reading import load_device
from lastscrew.reading.described.telling import told_tree

ROOT = Path(__file__).resolve().parents[2]
SLATE = ROOT / "src/lastscrew/demo/slate.device.yaml"
SMALL = ROOT / "tests/devices/counted_apart.device.yaml"


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


@pytest.mark.parametrize("ending", ["md", "html", "pdf"])
def test_write_and_read_give_the_device_again(tmp_path: Path, ending: str) -> None:
    """A device file, written and read with the two commands, says the same but for what may be lost."""
    text, again = tmp_path / f"machine.{ending}", tmp_path / "again.device.yaml"
    assert run("write", str(SMALL), "-o", str(text)).exit_code == 0
    result = run("read", str(text), "-o", str(again))
    assert result.exit_code == 0, result.output
    before = load_device(SMALL.read_bytes())
    after = load_device(again.read_bytes())
    assert told_tree(after) == told_tree(before)
    assert "# line " in again.read_text(encoding="utf-8")


@pytest.mark.parametrize("ending", ["md", "html", "pdf"])
def test_the_same_file_gives_the_same_bytes(tmp_path: Path, ending: str) -> None:
    """Nothing of the time, the machine or chance is in the text."""
    for name in ("one", "two"):
        run("write", str(SMALL), "-o", str(tmp_path / f"{name}.{ending}"))
    assert (tmp_path / f"one.{ending}").read_bytes() == (tmp_path / f"two.{ending}").read_bytes()


def test_one_part_by_its_name(tmp_path: Path) -> None:
    """A part may be given by id or name; the answer tells what was written."""
    out = tmp_path / "cap.md"
    result = run("write", str(SLATE), "--part", "Edge cap", "-o", str(out), "--json")
    assert result.exit_code == 0
    told = json.loads(result.stdout)
    assert told["parts"] == ["edge_cap"]
    assert told["kind"] == "markdown"
    assert told["bytes"] == len(out.read_bytes())
    assert "## Removing the edge cap" in out.read_text(encoding="utf-8")


def test_standard_output_is_markdown() -> None:
    """A dash writes the text to standard output, and nothing else."""
    result = run("write", str(SMALL), "-o", "-")
    assert result.exit_code == 0
    assert result.stdout.startswith("# Removal and refitting: ")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--part", "edge_cup", "-o", "x.md"), "Did you mean edge_cap?"),
        (("-o", "x.docx"), "must end in .md, .html or .pdf"),
        (("-o", "-", "--json"), "can't both go to standard output"),
    ],
)
def test_slips_are_told(words: tuple[str, ...], said: str) -> None:
    """A misspelt part, an unknown ending, two things for one output: exit code 2 and a remedy."""
    result = run("write", str(SLATE), *words)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output


def test_the_fixed_part_has_no_procedure() -> None:
    """What stays on the bench can't be asked for."""
    device = load_device(SLATE.read_bytes())
    result = run("write", str(SLATE), "--part", device.fixed_part, "-o", "-")
    assert result.exit_code == 2
    assert "stays on the bench" in result.output


def test_a_file_with_errors_is_not_written_from(tmp_path: Path) -> None:
    """Every error of the device file is told, and nothing is written."""
    bad = tmp_path / "bad.device.yaml"
    bad.write_text("format: 1\ndevice: {}\nparts: {a: {}}\njoints: {}\n", encoding="utf-8")
    out = tmp_path / "out.md"
    result = run("write", str(bad), "-o", str(out))
    assert result.exit_code == 2
    assert not out.exists()
