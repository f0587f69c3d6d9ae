"""``lastscrew demo`` lists the machines that ship with the program and writes them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lastscrew.cli.demo import command, demo_names, demo_text


def run(*arguments: str) -> Result:
    """The command as called from a terminal."""
    return CliRunner().invoke(command, list(arguments))


def test_lists_every_demo_with_its_size() -> None:
    """Without a name it says what there is."""
    result = run()
    assert result.exit_code == 0
    for name in demo_names():
        assert any(
            line.startswith(name) and "joints" in line for line in result.stdout.splitlines()
        )


def test_lists_as_json() -> None:
    """``--json`` gives the same list as values."""
    listed = json.loads(run("--json").stdout)["demos"]
    assert [demo["name"] for demo in listed] == demo_names()
    assert all(demo["joints"] >= 20 for demo in listed)


@pytest.mark.parametrize("name", demo_names())
def test_writes_the_file_as_it_ships(name: str, tmp_path: Path) -> None:
    """The written file is the shipped one, byte for byte, comments included."""
    target = tmp_path / "x.device.yaml"
    assert run(name, "-o", str(target)).exit_code == 0
    assert target.read_text(encoding="utf-8") == demo_text(name)


def test_writes_here_under_its_own_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without ``-o`` it goes to NAME.device.yaml in the present folder."""
    monkeypatch.chdir(tmp_path)
    assert run("slate").exit_code == 0
    assert (tmp_path / "slate.device.yaml").exists()


def test_writes_to_standard_output() -> None:
    """``-o -`` prints the file and nothing else."""
    assert run("notebook", "-o", "-").stdout == demo_text("notebook")


def test_never_overwrites_unasked(tmp_path: Path) -> None:
    """A file that is there stays, unless ``--force`` says otherwise."""
    target = tmp_path / "mine.yaml"
    target.write_text("mine", encoding="utf-8")
    refused = run("slate", "-o", str(target))
    assert refused.exit_code == 2
    assert "--force" in refused.stderr
    assert target.read_text(encoding="utf-8") == "mine"
    assert run("slate", "-o", str(target), "--force").exit_code == 0
    assert target.read_text(encoding="utf-8") == demo_text("slate")


def test_an_unknown_name_gets_the_nearest_one() -> None:
    """A misspelt name is answered with what was probably meant."""
    result = run("notbook")
    assert result.exit_code == 2
    assert "notebook" in result.stderr


def test_a_mistake_is_json_where_json_is_asked_for() -> None:
    """Errors have the shape that they have everywhere."""
    result = run("nothing_like_it", "--json")
    assert result.exit_code == 2
    (error,) = json.loads(result.stdout)["errors"]
    assert error["remedy"]


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    """A file that can't be written is a message, not a stack trace."""
    result = run("slate", "-o", str(tmp_path / "none" / "x.yaml"))
    assert result.exit_code == 2
    assert "can't be read or written" in result.stderr
