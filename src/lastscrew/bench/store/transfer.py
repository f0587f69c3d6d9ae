"""Export of everything, and import into an empty installation: JSON Lines and photos in one zip.

The zip holds what is kept (``events.jsonl`` and so on, one row a line) and the pictures as
``photos/HASH.SUFFIX``; what is derived is made anew at the import. A zip from somebody else is bounded in entries
and bytes, only known names are read, and everything in it is checked before anything counts.
"""

from __future__ import annotations

import json
import os
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections, transaction
from django.db.models import Model

from lastscrew import __version__
from lastscrew.bench.config import Config, database_settings
from lastscrew.bench.models import (
    Branch,
    DevicePhoto,
    Draft,
    OwnerData,
    Person,
    Photo,
    Revision,
    StoredEvent,
    Token,
    WaitingEvent,
)
from lastscrew.bench.store.backup import copy_sqlite, named, part_of, tidy_copies
from lastscrew.bench.store.export_file import FORMAT, HEAD, TABLE_NAMES
from lastscrew.bench.store.photos import SUFFIX, path_of

MAX_LINE_BYTES = 16 * 2**20
"""A row with a large device file and its procedure stays well below."""

CHUNK = 1_000

TABLES: tuple[tuple[str, type[Model]], ...] = tuple(
    zip(
        TABLE_NAMES,
        (
            Person, Token, Revision, Draft, DevicePhoto, Photo, OwnerData, StoredEvent, WaitingEvent, Branch,
        ),
        strict=True,
    )
)  # fmt: skip
"""What is kept, in the order in which it is read back."""


# --- export ---------------------------------------------------------------------------------------


def export_to(config: Config, target: Path) -> dict[str, int]:
    """Export everything that is kept, as it is at one moment, while people may go on working.

    Args:
        config: The installation.
        target: The zip to make.

    Returns:
        Rows of each table, and the photos.

    Raises:
        OSError: It can't be written.
    """
    part = part_of(target)
    counts: dict[str, int] = {}
    try:
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with (
            os.fdopen(descriptor, "wb") as file,
            _one_moment(config) as alias,
        ):
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
                head = {"format": FORMAT, "program": "lastscrew", "version": __version__}
                archive.writestr(HEAD, json.dumps(head))
                for name, model in TABLES:
                    counts[name] = _write_table(archive, name, model, alias)
                counts["pictures"] = _write_photos(archive, alias)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        raise named(error, target) from error
    finally:
        part.unlink(missing_ok=True)
    return counts


@contextmanager
def _one_moment(config: Config) -> Iterator[str]:
    """A database that stays as it is at one moment: a copy (SQLite), or a snapshot (PostgreSQL)."""
    if config.database:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield DEFAULT_DB_ALIAS
        return
    config.backups.mkdir(parents=True, exist_ok=True, mode=0o700)
    tidy_copies(config)
    copy = config.backups / f".export-{os.getpid()}.sqlite3"
    alias = "export"
    copy_sqlite(config.sqlite_file, copy)
    try:
        connections.databases[alias] = {**database_settings(config), "NAME": str(copy)}
        connections.configure_settings(connections.databases)
        yield alias
    finally:
        connections[alias].close()
        del connections[alias]
        del connections.databases[alias]
        for file in copy.parent.glob(copy.name + "*"):
            file.unlink()


def field_names(model: type[Model]) -> list[str]:
    """What a row of a table holds."""
    return [field.attname for field in model._meta.concrete_fields]  # noqa: SLF001


def _write_table(archive: zipfile.ZipFile, name: str, model: type[Model], alias: str) -> int:
    names = field_names(model)
    rows: Any = model._default_manager.using(alias).order_by("pk").values_list(*names)  # noqa: SLF001
    count = 0
    with archive.open(f"{name}.jsonl", "w", force_zip64=True) as out:
        for row in rows.iterator(chunk_size=CHUNK):
            values = dict(zip(names, row, strict=True))
            out.write(json.dumps(values, ensure_ascii=False, default=_plain).encode() + b"\n")
            count += 1
    return count


def _plain(value: Any) -> str:  # noqa: ANN401 (whatever JSON does not know)
    return str(value.isoformat())


def _write_photos(archive: zipfile.ZipFile, alias: str) -> int:
    count = 0
    photos = Photo.objects.using(alias).filter(erased=False).order_by("sha256")
    for row in photos.iterator(chunk_size=CHUNK):
        try:
            content = path_of(row.sha256, row.media_type).read_bytes()
        except FileNotFoundError:
            continue  # erased since, or lost: the import says which are missing
        name = f"photos/{row.sha256}{SUFFIX[row.media_type]}"
        archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_STORED)
        count += 1
    return count
