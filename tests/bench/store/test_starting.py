"""Making an installation ready: folders, one at a time, a backup before tables change."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from lastscrew.bench.config import Config
from lastscrew.bench.models import Photo, StoredEvent
from lastscrew.bench.store.photos import keep_photo, path_of, read_photo
from lastscrew.bench.store.starting import locked, prepare, ready
from lastscrew.problems import InputError
from tests.bench.conftest import using
from tests.bench.store import making
from tests.bench.store.test_photos import picture

if TYPE_CHECKING:
    from pathlib import Path

    from tests.bench.conftest import Bench


def test_a_new_installation_is_made_and_is_its_owners_alone(tmp_path: Path) -> None:
    config = Config(tmp_path / "new" / "bench")
    with using(config), prepare(config) as done:
        assert done == (
            f"Made the folder {config.data}.",
            f"Made a new installation in {config.data}.",
        )
        assert StoredEvent.objects.count() == 0
        assert config.data.stat().st_mode & 0o077 == 0
        for file in config.data.iterdir():
            assert file.stat().st_mode & 0o077 == 0, file.name
    with using(config), prepare(config) as done:
        assert done == ()


def test_a_second_start_says_that_another_process_serves(bench: Bench) -> None:
    with (
        prepare(bench.config),
        pytest.raises(InputError, match=f"another process serves .* {os.getpid()}"),
        prepare(bench.config),
    ):
        pass
    with prepare(bench.config):
        pass


def test_the_lock_goes_with_a_process_that_was_killed(bench: Bench) -> None:
    code = (
        "import sys, time; from pathlib import Path; from lastscrew.bench.config import Config\n"
        "from lastscrew.bench.store.starting import locked\n"
        "with locked(Config(Path(sys.argv[1]))): print('in', flush=True); time.sleep(60)"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(bench.config.data)], stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"in\n"
        with pytest.raises(InputError), locked(bench.config):
            pass
        other.send_signal(signal.SIGKILL)
        other.wait()
        with locked(bench.config):
            pass


def test_before_tables_change_they_are_backed_up(both: Bench) -> None:
    making.begin()
    before = making.derived()
    call_command("migrate", "bench", "0001", verbosity=0)
    with pytest.raises(InputError, match="older version"), ready(both.config):
        pass
    with prepare(both.config) as done:
        pass
    assert len(done) == 2
    (backup,) = both.config.backups.iterdir()
    assert done[0] == f"Backed up the database to {backup}."
    assert backup.stat().st_mode & 0o077 == 0
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(backup)) as copy:
            assert copy.execute("SELECT COUNT(*) FROM bench_storedevent").fetchone() == (3,)
    else:
        with zipfile.ZipFile(backup) as archive:
            assert len(archive.read("bench_storedevent.csv").splitlines()) == 4
    assert StoredEvent.objects.count() == 3
    assert making.derived() == before


def test_a_database_of_a_newer_version_is_left_alone(both: Bench) -> None:
    MigrationRecorder(connection).record_applied("bench", "9999_the_future")
    with pytest.raises(InputError, match=r"newer version .*9999_the_future"), prepare(both.config):
        pass
    assert not list(both.config.backups.iterdir())


def test_what_is_no_database_is_said_and_left_alone(tmp_path: Path) -> None:
    config = Config(tmp_path)
    config.sqlite_file.write_bytes(b"a letter to my aunt" * 200)
    with (
        using(config),
        pytest.raises(InputError, match="can't be used: file is not a database"),
        prepare(config),
    ):
        pass
    assert config.sqlite_file.read_bytes().startswith(b"a letter to my aunt")


def test_a_database_that_does_not_answer_is_said(tmp_path: Path) -> None:
    config = replace(Config(tmp_path), database="postgresql://nobody@127.0.0.1:1/none")
    with (
        using(config),
        pytest.raises(InputError, match="can't be used: connection"),
        prepare(config),
    ):
        pass


def test_a_command_says_where_there_is_no_installation(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no installation"), ready(Config(tmp_path)):
        pass


def test_files_that_a_sudden_end_left_behind_go_at_the_next_start(bench: Bench) -> None:
    gone, stays = keep_photo(picture()), keep_photo(picture("PNG"))
    Photo.objects.filter(pk=gone.pk).update(erased=True)
    half = path_of(stays.sha256, stays.media_type).with_name(".half.part")
    half.write_bytes(b"half a picture")
    with prepare(bench.config):
        assert not path_of(gone.sha256, gone.media_type).exists()
        assert not half.exists()
        assert read_photo(stays.sha256)
