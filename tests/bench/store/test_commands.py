"""The commands that look after an installation's data, as a person calls them."""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.db import connection

from lastscrew.bench.models import Unit
from lastscrew.bench.store.photos import keep_photo
from lastscrew.bench.store.starting import IMPORTING, prepare
from tests.bench.store.histories import Depot
from tests.bench.store.test_photos import picture

if TYPE_CHECKING:
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


def test_nobody_imports_into_a_folder_that_is_served(filled: Bench, tmp_path: Path) -> None:
    export = str(tmp_path / "all.zip")
    answer("export", export, data=filled.config.data)
    with prepare(filled.config):
        result = call("import", export, data=filled.config.data)
    assert result.returncode == 2
    assert "another process serves from this folder" in result.stderr


def cut(source: Path, target: Path) -> Path:
    """An export of which the events break off in the middle of a line."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, content[: len(content) // 2] if name == "events.jsonl" else content)
    return target


def test_an_import_that_is_refused_leaves_nothing_behind(filled: Bench, tmp_path: Path) -> None:
    whole, backup = tmp_path / "all.zip", tmp_path / "backup.zip"
    answer("export", str(whole), data=filled.config.data)
    answer("backup", "-o", str(backup), data=filled.config.data)
    broken, none = cut(whole, tmp_path / "cut.zip"), tmp_path / "none.zip"
    none.write_bytes(b"hello")
    own = tmp_path / "own"
    own.mkdir()
    (own / "notes.txt").write_text("mine")
    new = tmp_path / "new" / "bench"
    for file, data in ((broken, new), (broken, own), (backup, new), (none, own)):
        result = call("import", str(file), data=data)
        assert (result.returncode, result.stdout) == (2, ""), result.stderr
        assert "Traceback" not in result.stderr
        assert not (tmp_path / "new").exists()
        assert [each.name for each in own.iterdir()] == ["notes.txt"]
    assert call("import", str(whole), data=own).returncode == 0


def test_a_refused_import_leaves_no_tables_in_postgresql(
    filled: Bench, tmp_path: Path, postgresql: str
) -> None:
    import psycopg

    whole = tmp_path / "all.zip"
    answer("export", str(whole), data=filled.config.data)
    broken = cut(whole, tmp_path / "cut.zip")
    name = f"refused_{os.getpid()}"
    address = postgresql.replace("/postgres?", f"/{name}?")
    with psycopg.connect(postgresql, autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}"')
        for file, tables in ((broken, 0), (whole, 10)):
            done = call("import", str(file), data=tmp_path / "pg", LASTSCREW_DATABASE=address)
            assert done.returncode == (0 if tables else 2), done.stderr
            assert (tmp_path / "pg").exists() == bool(tables)
            with psycopg.connect(address) as connected:
                found = connected.execute(
                    "SELECT count(*) FROM information_schema.tables WHERE table_schema = 'public'"
                ).fetchone()
            assert found is not None
            assert found[0] >= tables
            assert bool(found[0]) == bool(tables)
        server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


KILLED = """
import os, signal
from pathlib import Path
from lastscrew.bench.config import Config
from lastscrew.bench.store.starting import prepare
with prepare(Config(Path({data!r}))):
    from lastscrew.bench.store import importing
    write = importing.write_photo
    def write_and_die(path, content):
        write(path, content)
        os.kill(os.getpid(), signal.SIGKILL)
    importing.write_photo = write_and_die
    importing.import_from(Path({file!r}))
"""


def test_an_import_that_was_killed_leaves_no_picture_and_can_be_made_again(
    filled: Bench, tmp_path: Path
) -> None:
    for width in (60, 70):
        keep_photo(picture(size=(width, 40)), unit=Unit.objects.first().key, is_owners=True)  # type: ignore[union-attr]
    file, data = tmp_path / "all.zip", tmp_path / "killed"
    answer("export", str(file), data=filled.config.data)
    script = KILLED.format(data=str(data), file=str(file))
    clean = {key: value for key, value in os.environ.items() if not key.startswith("LASTSCREW")}
    done = subprocess.run([sys.executable, "-c", script], env=clean, check=False)
    assert done.returncode == -signal.SIGKILL
    left = [each for each in (data / "photos").rglob("*") if each.is_file()]
    assert len(left) == 1
    assert (data / IMPORTING).exists()
    (data / "backups" / f".export-{2**22 + 1}.sqlite3").write_bytes(b"all of it")
    wrong = call("import", str(cut(file, tmp_path / "cut.zip")), data=data)
    assert wrong.returncode == 2
    assert [each for each in (data / "photos").rglob("*") if each.is_file()] == []
    assert list((data / "backups").iterdir()) == []
    assert not (data / IMPORTING).exists()
    assert answer("import", str(file), data=data)["pictures"] == 2


def test_a_full_disk_is_said_and_leaves_no_half_of_a_file(filled: Bench, tmp_path: Path) -> None:
    whole = tmp_path / "all.zip"
    answer("export", str(whole), data=filled.config.data)
    clean = {key: value for key, value in os.environ.items() if not key.startswith("LASTSCREW")}
    new, data = tmp_path / "new", filled.config.data
    before = {each.name for each in tmp_path.iterdir()}
    for words in (
        ["import", str(whole), "--data", str(new)],
        ["export", str(tmp_path / "b.zip"), "--data", str(data)],
        ["backup", "--data", str(data)],
    ):
        done = subprocess.run(
            [sys.executable, "-m", "lastscrew", *words],
            capture_output=True,
            text=True,
            check=False,
            env=clean,
            # No file may grow beyond this: what a disk without room does to one that writes.
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000)),
        )
        assert done.returncode == 2, done.stderr
        assert "Traceback" not in done.stderr
        assert {each.name for each in tmp_path.iterdir()} == before
        assert list(filled.config.backups.iterdir()) == []


def test_counted_rows_are_told_in_words(filled: Bench, tmp_path: Path) -> None:
    filled.person("lead")
    told = call("export", str(tmp_path / "all.zip"), data=filled.config.data).stdout
    assert "1 account, " in told
    assert "1 people" not in told


def test_what_is_unpacked_from_a_backup_is_its_owners_alone(filled: Bench, tmp_path: Path) -> None:
    keep_photo(picture(), unit=Unit.objects.first().key, is_owners=True)  # type: ignore[union-attr]
    file, data = tmp_path / "backup.zip", tmp_path / "restored"
    answer("backup", "-o", str(file), data=filled.config.data)
    with zipfile.ZipFile(file) as archive:
        assert {
            entry.external_attr >> 16 & 0o077
            for entry in archive.infolist()
            if entry.filename != "backup.json"
        } == {0}
        archive.extractall(data)
    (data / "photos").chmod(0o755)
    with prepare(replace(filled.config, data=data)):
        assert (data / "photos").stat().st_mode & 0o007 == 0
        assert (data / "bench.sqlite3").stat().st_mode & 0o007 == 0
