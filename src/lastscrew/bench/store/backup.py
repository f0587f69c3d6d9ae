"""Backups that are safe while people work: of the tables before they change, and of everything.

With SQLite, a backup of everything is a zip that holds the folder of the installation as it is: unpacked into an
empty folder it is an installation again. With PostgreSQL it is an export
(:mod:`lastscrew.bench.store.transfer`), which ``lastscrew import`` reads.
"""

from __future__ import annotations

import errno
import json
import os
import re
import sqlite3
import time
import zipfile
from contextlib import closing
from pathlib import Path

from django.db import connection

from lastscrew import __version__
from lastscrew.bench.config import Config


def copy_sqlite(source: Path, target: Path) -> None:
    """A copy of a database that is in use: of one moment, complete, and on the disk when this returns.

    Args:
        source: The database.
        target: The copy; there is none yet, or it is replaced.

    Raises:
        OSError: It can't be read or written to its end; nothing is left of the copy.
    """
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    try:
        # Nobody else may look at it while it grows.
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        with (
            closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True, timeout=60)) as live,
            closing(sqlite3.connect(part)) as copy,
        ):
            # All pages in one go: with a log beside the file others may write meanwhile.
            live.backup(copy, pages=-1)
            copy.execute("PRAGMA journal_mode = DELETE")
        _settle(part, target)
    except sqlite3.Error as error:
        full = getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL
        number = errno.ENOSPC if full else errno.EIO
        raise OSError(number, str(error), str(target)) from error
    finally:
        for left in part.parent.glob(f"{part.name}*"):
            left.unlink()


def _settle(part: Path, target: Path) -> None:
    """Give a finished file its name once it is on the disk."""
    with part.open("rb") as file:
        os.fsync(file.fileno())
    part.chmod(0o600)
    part.replace(target)


def stamp() -> str:
    """The moment, for the name of a file."""
    return time.strftime("%Y%m%d-%H%M%S", time.gmtime())


def backup_tables(config: Config) -> Path:
    """The tables as they are, before they change; photos are not touched then.

    Returns:
        An SQLite file, or a zip with one CSV for each table of PostgreSQL.
    """
    config.backups.mkdir(parents=True, exist_ok=True, mode=0o700)
    if not config.database:
        target = _unused(config.backups / f"before-change-{stamp()}.sqlite3")
        copy_sqlite(config.sqlite_file, target)
        return target
    target = _unused(config.backups / f"before-change-{stamp()}.zip")
    part = target.with_name(target.name + ".part")
    with (
        zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive,
        connection.cursor() as cursor,
    ):
        for table in sorted(connection.introspection.table_names(cursor)):
            quoted = connection.ops.quote_name(table)
            with archive.open(f"{table}.csv", "w", force_zip64=True) as out:
                statement = f"COPY {quoted} TO STDOUT WITH (FORMAT csv, HEADER)"
                with cursor.copy(statement) as rows:
                    for row in rows:
                        out.write(row)
    _settle(part, target)
    return target


def backup(config: Config, target: Path | None = None) -> Path:
    """A backup of everything, while people may go on working.

    Args:
        config: The installation.
        target: The file to make; one in the folder of backups if not given.

    Returns:
        The file.

    Raises:
        OSError: It can't be written.
    """
    from lastscrew.bench.store.transfer import export_to  # noqa: PLC0415 (it uses what is here)

    config.backups.mkdir(parents=True, exist_ok=True, mode=0o700)
    target = target or _unused(config.backups / f"bench-{stamp()}.zip")
    part = part_of(target)
    if config.database:
        export_to(config, target)
        return target
    tidy_copies(config)
    copy = config.backups / f".copy-{os.getpid()}-{time.time_ns()}.sqlite3"
    try:
        copy_sqlite(config.sqlite_file, copy)
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
            told = {
                "program": "lastscrew",
                "version": __version__,
                "made": stamp(),
                "kind": "folder",
            }
            archive.writestr("backup.json", json.dumps(told))
            archive.write(copy, config.sqlite_file.name)
            # Unpacked where a database has crashed, its log must not be played onto this one.
            for log in ("-wal", "-shm"):
                archive.writestr(_own(config.sqlite_file.name + log), b"")
            for photo in sorted(config.photos.rglob("*")):
                _add_photo(archive, config, photo)
        _settle(part, target)
    except OSError as error:
        raise named(error, target) from error
    finally:
        copy.unlink(missing_ok=True)
        part.unlink(missing_ok=True)
    return target


def named(error: OSError, file: Path) -> OSError:
    """The error with the name of the file that it is about: a full disk says none, and nobody knows the part."""
    about = str(error.filename or "")
    if about and about != str(part_of(file)):
        return error
    return OSError(error.errno, error.strerror, str(file))


def part_of(file: Path) -> Path:
    """What a file is called while it is written.

    Raises:
        OSError: The file is a folder, or has no name.
    """
    if not file.name or file.is_dir():
        raise OSError(errno.EISDIR, os.strerror(errno.EISDIR), str(file))
    return file.with_name(f"{file.name}.part")


_COPY = re.compile(r"\.(?:copy|export)-(\d+)[-.].*")
"""A copy of the database that a backup or an export by that process is made from."""


def tidy_copies(config: Config) -> None:
    """Remove copies of processes that ended at once: they hold all that the database holds."""
    for file in config.backups.glob(".*"):
        if (match := _COPY.fullmatch(file.name)) and not _is_running(int(match[1])):
            file.unlink(missing_ok=True)


def _is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def _add_photo(archive: zipfile.ZipFile, config: Config, photo: Path) -> None:
    if photo.is_symlink() or not photo.is_file() or photo.suffix == ".part":
        return
    try:
        content = photo.read_bytes()
    except FileNotFoundError:
        return  # erased a moment ago
    name = photo.relative_to(config.data).as_posix()
    archive.writestr(_own(name), content, zipfile.ZIP_STORED)


def _own(name: str) -> zipfile.ZipInfo:
    """An entry that is its owner's alone once it is unpacked."""
    entry = zipfile.ZipInfo(name)
    entry.external_attr = 0o100600 << 16
    return entry


def _unused(target: Path) -> Path:
    """The name, or the name with a number where a file of the same second is there already."""
    number, found = 1, target
    while found.exists():
        number += 1
        found = target.with_name(f"{target.stem}-{number}{target.suffix}")
    return found
