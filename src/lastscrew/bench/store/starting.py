"""Making an installation ready: its folders, a lock against a second start, the shape of the database."""

from __future__ import annotations

import fcntl
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import django

from lastscrew.bench.config import Config
from lastscrew.problems import InputError, Problem


@contextmanager
def prepare(config: Config) -> Iterator[tuple[str, ...]]:
    """Make what is missing, hold the lock while the block runs, and say what was done.

    The environment must already describe ``config``: Django is set up here.

    Raises:
        InputError: Somebody else serves this folder, or the database can't be used.
    """
    config.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    config.photos.mkdir(exist_ok=True)
    config.backups.mkdir(exist_ok=True)
    with _locked(config):
        django.setup()
        yield migrate(config)


@contextmanager
def _locked(config: Config) -> Iterator[None]:
    """The lock ends with the process, however it ends."""
    file = config.data / "serving.lock"
    descriptor = os.open(file, os.O_RDWR | os.O_CREAT, 0o600)
    with os.fdopen(descriptor, "r+", encoding="ascii") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            process = held.read(20).strip() or "another process"
            raise InputError(
                [
                    Problem(
                        f"this folder is being served already (process {process})",
                        "Use the one that runs, stop it, or give another folder with --data.",
                        path="--data",
                        file=str(config.data),
                    )
                ]
            ) from None
        held.seek(0)
        held.truncate()
        held.write(f"{os.getpid()}\n")
        held.flush()
        yield


def migrate(config: Config) -> tuple[str, ...]:
    """Bring the database to the present shape, after a backup where there is something to lose."""
    from django.core.management import call_command  # noqa: PLC0415 (Django is set up by now)
    from django.db import DatabaseError, connection  # noqa: PLC0415
    from django.db.migrations.executor import MigrationExecutor  # noqa: PLC0415

    done: list[str] = []
    try:
        executor = MigrationExecutor(connection)
        steps = executor.migration_plan(executor.loader.graph.leaf_nodes())
        if not steps:
            return ()
        if executor.loader.applied_migrations and not config.database:
            done.append(f"Backed up to {_backup_before(config)}")
        call_command("migrate", verbosity=0, interactive=False)
    except DatabaseError as error:
        raise InputError(
            [
                Problem(
                    f"the database can't be used: {str(error).splitlines()[0] if str(error) else 'no answer'}",
                    "Check that it runs, that the address is right and that there is room on the disk.",
                    file=str(config.sqlite_file) if not config.database else "",
                    path="LASTSCREW_DATABASE" if config.database else "",
                )
            ]
        ) from error
    done.append("Made the database" if len(done) == 0 else "Brought the database to its new shape")
    return tuple(done)


def _backup_before(config: Config) -> Path:
    """A copy of the SQLite file, by SQLite itself, so that it is whole."""
    file = config.backups / f"before-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.sqlite3"
    with (
        closing(sqlite3.connect(config.sqlite_file)) as source,
        closing(sqlite3.connect(file)) as copy,
    ):
        source.backup(copy)
    return file
