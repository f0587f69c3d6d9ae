"""The commands that look after an installation's data, as a person calls them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import pytest
from django.db import connection

from lastscrew.bench.models import Unit
from lastscrew.bench.store.starting import prepare
from tests.bench.store.histories import Depot

if TYPE_CHECKING:
    from pathlib import Path

    from tests.bench.conftest import Bench


def call(*words: str, data: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    clean = {key: value for key, value in os.environ.items() if not key.startswith("LASTSCREW")}
    return subprocess.run(
        [sys.executable, "-m", "lastscrew", *words, "--data", str(data)],
        capture_output=True,
        text=True,
        check=False,
        env={**clean, **environment},
    )


def answer(*words: str, data: Path) -> dict[str, Any]:
    result = call(*words, "--json", data=data)
    assert result.returncode == 0, result.stdout + result.stderr
    values: dict[str, Any] = json.loads(result.stdout)
    return values


@pytest.fixture
def filled(bench: Bench) -> Bench:
    Depot(5).live(40)
    bench.config.photos.mkdir()
    return bench


def test_rebuild_says_what_it_mended(filled: Bench) -> None:
    data = filled.config.data
    units = Unit.objects.count()
    assert answer("rebuild", data=data)["changed"] == []
    Unit.objects.update(place="nowhere")
    connection.close()
    told = answer("rebuild", data=data)
    assert (told["changed"], told["units"]) == (["Unit"], units)
    assert not Unit.objects.filter(place="nowhere").exists()
    assert "Everything was as the events say." in call("rebuild", data=data).stdout


def test_backup_export_and_import_go_together(filled: Bench, tmp_path: Path) -> None:
    data = filled.config.data
    file = tmp_path / "backup.zip"
    assert answer("backup", "-o", str(file), data=data)["bytes"] == file.stat().st_size
    assert "Backed up to" in call("backup", data=data).stdout
    export = tmp_path / "all.zip"
    rows = answer("export", str(export), data=data)["rows"]
    other = tmp_path / "new" / "bench"
    told = answer("import", str(export), data=other)
    assert told["rows"]["events"] == rows["events"]
    again = call("import", str(export), data=other)
    assert again.returncode == 2
    assert "not empty" in again.stderr
    wrong = call("import", str(file), data=tmp_path / "third")
    assert wrong.returncode == 2
    assert "to be unpacked into an empty folder" in wrong.stderr
    assert "Traceback" not in wrong.stderr


@pytest.mark.parametrize("words", [("rebuild",), ("backup",), ("export", "x.zip")])
def test_where_there_is_no_installation_it_is_said(tmp_path: Path, words: tuple[str, ...]) -> None:
    result = call(*words, data=tmp_path / "none")
    assert result.returncode == 2
    assert "there is no installation in this folder" in result.stderr
    assert not (tmp_path / "none").exists()


def test_a_wrong_variable_or_path_is_said_without_a_trace(filled: Bench, tmp_path: Path) -> None:
    data = filled.config.data
    result = call("rebuild", data=data, LASTSCREW_PORT="soon")
    assert result.returncode == 2
    assert "“soon” is no port" in result.stderr
    result = call("export", str(tmp_path / "no" / "folder" / "x.zip"), data=data)
    assert result.returncode == 2
    assert "can't be read or written" in result.stderr
    assert "Traceback" not in result.stderr


def test_nobody_imports_into_a_folder_that_is_served(bench: Bench, tmp_path: Path) -> None:
    with prepare(bench.config):
        result = call("import", "x.zip", data=bench.config.data)
    assert result.returncode == 2
    assert "another process serves from this folder" in result.stderr
