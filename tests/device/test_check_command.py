"""``lastscrew check`` and ``lastscrew schema`` as a person or a script uses them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lastscrew.cli.loading import load_device_file, read_device_file
from lastscrew.cli.main import main
from lastscrew.device.reading import load_device
from lastscrew.device.reference import reference_page
from lastscrew.device.schema import json_schema
from lastscrew.problems import InputError

ALDER_FILE = Path(__file__).parent / "alder.device.yaml"
ALDER = ALDER_FILE.read_text(encoding="utf-8")


def run(*arguments: str, stdin: str | None = None, columns: int = 100) -> Result:
    """Run the program inside this process."""
    return CliRunner().invoke(main, list(arguments), input=stdin, env={"COLUMNS": str(columns)})


@pytest.fixture
def bad_file(tmp_path: Path) -> str:
    """A file with two errors."""
    file = tmp_path / "bad.device.yaml"
    file.write_text(
        ALDER.replace("count: 9", "cuont: 9").replace("energy: true", "energy: yes"),
        encoding="utf-8",
    )
    return str(file)


def test_a_good_file_gives_its_counts_and_zero() -> None:
    """A file without errors: its warnings, a line with parts, joints and fasteners, exit code 0."""
    result = run("check", str(ALDER_FILE))
    assert result.exit_code == 0
    last = result.output.splitlines()[-1]
    assert last == f"{ALDER_FILE}: 6 parts, 8 joints, 23 fasteners; 0 errors, 3 warnings"


def test_errors_are_shown_with_line_and_caret(bad_file: str) -> None:
    """Each error: place, path, message; remedy; the line itself with a caret below the column. Exit code 2."""
    result = run("check", bad_file)
    assert result.exit_code == 2
    lines = result.output.splitlines()
    first = lines.index(
        f'{bad_file}:22:58: error: parts.pack.energy: expected true or false, found "yes"'
    )
    assert lines[first + 1] == "    Write true or false."
    assert lines[first + 2][lines[first + 3].index("^") :].startswith("yes, hazards")
    assert lines[-1] == f"{bad_file}: 2 errors, 3 warnings; the file is not used"


@pytest.mark.parametrize("columns", [40, 60, 80, 200])
def test_long_lines_are_cut_around_the_column(bad_file: str, columns: int) -> None:
    """On narrow and wide terminals the excerpt fits and the caret stands under the slip."""
    lines = run("check", bad_file, columns=columns).output.splitlines()
    found = [i + 2 for i, line in enumerate(lines) if ": error: " in line]
    assert len(found) == 2
    for at, word in zip(found, ("yes", "cuont"), strict=True):
        assert lines[at + 1].strip() == "^"
        assert lines[at][lines[at + 1].index("^") :].startswith(word)
        assert len(lines[at]) <= columns + 2


def test_wide_letters_do_not_move_the_caret(tmp_path: Path) -> None:
    """Letters that take two cells on a terminal are counted as two."""
    file = tmp_path / "wide.device.yaml"
    file.write_text(
        ALDER.replace("{name: Heat sink}", "{name: 放熱器, ordre_code: 1}"), encoding="utf-8"
    )
    lines = run("check", str(file)).output.splitlines()
    at = next(i for i, line in enumerate(lines) if "unknown key" in line) + 2
    before = lines[at].split("ordre_code")[0]
    assert len(lines[at + 1]) - 1 == len(before) + 3


def test_control_characters_do_not_reach_the_terminal(tmp_path: Path) -> None:
    """What would move the cursor or turn text around is shown as an escape."""
    file = tmp_path / "odd.device.yaml"
    file.write_text(ALDER.replace("Heat sink", "Heat \u202e sink\u0085"), encoding="utf-8")
    output = run("check", str(file)).output
    assert "\u202e" not in output
    assert "\\u202e" in output


def test_json_is_one_object(bad_file: str) -> None:
    """Per file its problems, counts and revision; all errors once more in the shape that every command has."""
    result = run("check", "--json", str(ALDER_FILE), bad_file)
    assert result.exit_code == 2
    shown = json.loads(result.output)
    good, bad = shown["files"]
    assert good["ok"]
    assert good["counts"] == {"parts": 6, "joints": 8, "fasteners": 23}
    assert good["device"] == {
        "id": "alder_13",
        "name": "Alder 13",
        "revision_hash": load_device(ALDER).revision_hash,
    }
    assert (bad["ok"], bad["device"], bad["counts"], bad["error_count"]) == (False, None, None, 2)
    assert [set(error) for error in shown["errors"]] == [
        {"file", "line", "column", "path", "severity", "code", "message", "remedy"}
    ] * 2


def test_standard_input(bad_file: str) -> None:
    """``-`` reads standard input, as a real program."""
    for text, code in ((ALDER, 0), (Path(bad_file).read_text(encoding="utf-8"), 2)):
        done = subprocess.run(
            [sys.executable, "-m", "lastscrew", "check", "-"],
            input=text.encode(),
            capture_output=True,
            check=False,
        )
        assert done.returncode == code
        assert b"standard input" in done.stdout or b"-: " in done.stdout
        assert done.stderr == b""


def test_a_file_that_can_not_be_opened_does_not_hide_the_others(tmp_path: Path) -> None:
    """A missing file and a folder are errors of their own; the good file is checked all the same."""
    result = run("check", str(tmp_path / "missing.yaml"), str(tmp_path), str(ALDER_FILE))
    assert result.exit_code == 2
    assert "can't be read: No such file or directory" in result.output
    assert "can't be read: Is a directory" in result.output
    assert "6 parts, 8 joints" in result.output


def test_schema_prints_and_writes(tmp_path: Path) -> None:
    """The schema goes to the terminal or into a file; the page is the one in docs/."""
    assert json.loads(run("schema").output) == json_schema()
    target = tmp_path / "schema.json"
    assert run("schema", "-o", str(target)).output == f"wrote {target}\n"
    assert json.loads(target.read_text(encoding="utf-8")) == json_schema()
    assert json.loads(run("schema", "--json", "-o", str(target)).output) == {"written": str(target)}
    assert run("schema", "--markdown").output == reference_page()
    assert run("schema", "-o", str(tmp_path / "no" / "folder.json")).exit_code == 2


def test_every_command_loads_files_alike(bad_file: str) -> None:
    """The loader of all commands gives the device, or raises with every error and the file's name."""
    assert load_device_file(str(ALDER_FILE)) == load_device(ALDER)
    assert read_device_file(bad_file).device is None
    with pytest.raises(InputError) as caught:
        load_device_file(bad_file)
    assert [(p.file, p.severity) for p in caught.value.problems] == [(bad_file, "error")] * 2


@pytest.mark.parametrize("arguments", [("check", "--json"), ("schema", "--nothing", "--json")])
def test_a_wrong_command_line_is_told_as_json_too(arguments: tuple[str, ...]) -> None:
    """A script that asked for JSON gets JSON, whatever it did wrong."""
    result = run(*arguments)
    assert result.exit_code == 2
    assert json.loads(result.stdout)["errors"][0]["code"] == "usage"
