"""Making an installation ready: folders, one user at a time, a backup before its tables change.

Nothing here may be imported with a database at module level: commands call :func:`prepare` or
:func:`ready` first, and load what needs tables afterwards.
"""

from __future__ import annotations

import fcntl
import logging
import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from lastscrew.bench.config import Config, environment_of
from lastscrew.problems import InputError, Problem

if TYPE_CHECKING:
    from django.db.migrations.executor import MigrationExecutor

LOCK_FILE = "serve.lock"
DAY_S = 86_400.0


@contextmanager
def prepare(config: Config) -> Iterator[tuple[str, ...]]:
    """An installation made ready, and held for this process alone until the end.

    Makes missing folders, backs up before it changes tables, changes them, erases owners' data whose
    time has come.

    Args:
        config: The installation; the environment is set to it.

    Yields:
        What was done, a sentence each.

    Raises:
        InputError: Another process serves from this folder, the database can't be reached, or a newer
            version of the program made it.
    """
    is_new = not config.database and not config.sqlite_file.exists()
    made = _make_folders(config)
    with locked(config), _told_plainly(config):
        set_up(config)
        done = [*made, *_bring_up_to_date(config, is_new=is_new)]
        from lastscrew.bench.store.backup import tidy_copies  # noqa: PLC0415 (needs the settings)
        from lastscrew.bench.store.owners import erase_due  # noqa: PLC0415 (needs the tables)

        tidy_copies(config)
        _tidy_photos(config)
        if erased := erase_due():
            done.append(f"Erased the owners' data of {len(erased)} units: their time had come.")
        yield tuple(done)


def reading_ahead() -> threading.Thread:
    """Load the whole program and read device files beside the first requests.

    See :func:`lastscrew.bench.serving.whole.load_whole` and :func:`lastscrew.bench.store.jobs.read_ahead`.
    """
    from django.db import connection  # noqa: PLC0415 (Django is set up by now)

    from lastscrew.bench.serving.whole import load_rest, load_whole  # noqa: PLC0415
    from lastscrew.bench.store.jobs import read_ahead  # noqa: PLC0415

    def run() -> None:
        load_whole()
        try:
            read_ahead()
        finally:
            connection.close()
        load_rest()

    thread = threading.Thread(target=run, name="reading ahead", daemon=True)
    thread.start()
    return thread


@contextmanager
def erasing_daily() -> Iterator[None]:
    """Erase owners' data whose time has come once a day, beside whatever else this process does."""
    stop = threading.Event()

    def run() -> None:
        from django.db import connection  # noqa: PLC0415 (needs the settings)

        from lastscrew.bench.store.owners import erase_due  # noqa: PLC0415 (needs the tables)

        while not stop.wait(DAY_S):
            try:
                erase_due()
            except Exception:  # tomorrow is another day; serving goes on
                logging.getLogger(__name__).exception("owners' data could not be erased")
            finally:
                connection.close()

    thread = threading.Thread(target=run, name="erasing", daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop.set()


NEW = "Made a new installation in {}."
IMPORTING = "importing"
"""A file of this name says that an import is under way, or that the process that made it has ended at once."""


@contextmanager
def being_imported(config: Config) -> Iterator[None]:
    """While it lasts, the folder says that pictures without a row may lie in it."""
    mark = config.data / IMPORTING
    mark.touch(0o600)
    try:
        yield
    finally:
        mark.unlink(missing_ok=True)


@contextmanager
def prepare_or_leave(config: Config) -> Iterator[tuple[str, ...]]:
    """As :func:`prepare`; what was made of a new installation goes again where the block fails.

    An installation that was there before stays, and so does whatever else lies in the folder. With PostgreSQL
    the tables go too where there were none.
    """
    is_new = not (config.data if config.database else config.sqlite_file).exists()
    made = [each for each in (config.data, *config.data.parents) if not each.exists()]
    there = set() if made else {each.name for each in config.data.iterdir()}
    done: tuple[str, ...] = ()
    try:
        with prepare(config) as done:
            yield done
    except BaseException:
        if is_new and config.data.exists():
            _take_away(config, there, with_tables=NEW.format(config.data) in done)
        for folder in made:
            with suppress(OSError):  # something else lies in it
                folder.rmdir()
        raise


def _take_away(config: Config, there: set[str], *, with_tables: bool) -> None:
    """Remove what :func:`prepare` and an import make, unless somebody has begun to use it."""
    ours = {LOCK_FILE, IMPORTING, "secret.key", "photos", "backups", "openings"}
    try:
        with locked(config):
            if with_tables and config.database:
                _drop_tables()
            _close_database()
            ours |= {file.name for file in config.data.glob(f"{config.sqlite_file.name}*")}
            for name in sorted(ours - there):
                path = config.data / name
                if path.is_dir():
                    shutil.rmtree(path)
                else:
                    path.unlink(missing_ok=True)
    except InputError:
        return


def _drop_tables() -> None:
    from django.core.management import call_command  # noqa: PLC0415 (needs the settings)
    from django.db import connection  # noqa: PLC0415 (needs the settings)

    for app in ("bench", "sessions", "auth", "contenttypes"):
        call_command("migrate", app, "zero", verbosity=0, interactive=False)
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE django_migrations")


def _close_database() -> None:
    from django.db import connections  # noqa: PLC0415 (needs the settings)

    connections.close_all()


@contextmanager
def ready(config: Config, *, changes: bool = False) -> Iterator[None]:
    """An installation for a command that does not serve: its tables must be as this version needs them.

    Args:
        config: The installation; the environment is set to it.
        changes: Hold it for this process alone; nobody may serve from it meanwhile.

    Raises:
        InputError: There is no installation, its tables are older or newer, or somebody serves.
    """
    if not config.database and not config.sqlite_file.exists():
        text = "there is no installation in this folder"
        remedy = "Name its folder with --data, or start one with lastscrew serve."
        raise InputError([Problem(text, remedy, file=str(config.data), code="no_installation")])
    if changes:
        with locked(config), _told_plainly(config):
            set_up(config)
            _refuse_other_shape(config)
            yield
        return
    with _told_plainly(config):
        set_up(config)
        _refuse_other_shape(config)
        yield


@contextmanager
def _told_plainly(config: Config) -> Iterator[None]:
    """Say what a database says that can't go on: a full disk, one that can't be written, a server that is gone.

    Raises:
        InputError: That.
    """
    try:
        yield
    except Exception as error:
        if type(error).__name__ != "OperationalError":  # Django need not be there yet
            raise
        raise _unusable(config, error) from error


def _unusable(config: Config, error: Exception) -> InputError:
    place = "the database named by LASTSCREW_DATABASE" if config.database else config.sqlite_file
    said = (str(error).strip().splitlines() or [type(error).__name__])[0]
    text = f"the database can't be used: {said}"
    remedy = "Check that it runs and may be written, that the disk has room, or put a backup in its place."
    return InputError([Problem(text, remedy, file=str(place), code="no_database")])


@contextmanager
def locked(config: Config) -> Iterator[None]:
    """The folder for this process alone. The lock goes with the process, however it ends.

    Raises:
        InputError: Another process has it.
    """
    descriptor = os.open(config.data / LOCK_FILE, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            other = os.pread(descriptor, 20, 0).decode("ascii", "replace").strip()
            text = "another process serves from this folder" + (
                f" (process {other})" if other else ""
            )
            remedy = "Stop that one first, or name another folder with --data."
            raise InputError(
                [Problem(text, remedy, file=str(config.data), code="in_use")]
            ) from None
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)
        yield
        os.ftruncate(descriptor, 0)
    finally:
        os.close(descriptor)


def set_up(config: Config) -> None:
    """Have Django know this installation; once in a process."""
    os.environ.update(environment_of(config))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lastscrew.bench.settings")
    import django  # noqa: PLC0415 (reads the environment that was just set)

    django.setup()


def _make_folders(config: Config) -> list[str]:
    done = []
    if not config.data.exists():
        # What lies here is somebody's own: nobody else on the machine may look.
        config.data.mkdir(parents=True, mode=0o700)
        done.append(f"Made the folder {config.data}.")
    if not config.database and not config.sqlite_file.exists():
        # An empty file is an empty database; the log beside it gets the same rights.
        os.close(os.open(config.sqlite_file, os.O_WRONLY | os.O_CREAT, 0o600))
    for folder in (config.photos, config.backups):
        folder.mkdir(exist_ok=True, mode=0o700)
    _shut(config)
    return done


def _shut(config: Config) -> None:
    """Keep others on this machine out, also of what somebody has unpacked from a backup."""
    for path in (config.photos, config.backups, config.data / "secret.key", config.sqlite_file):
        with suppress(FileNotFoundError, PermissionError):
            mode = path.stat().st_mode
            if mode & 0o007:
                path.chmod(mode & 0o770)


def _tidy_photos(config: Config) -> None:
    """Files that were being written or erased when the process before this one ended at once."""
    from lastscrew.bench.models import Photo  # noqa: PLC0415 (needs the tables)
    from lastscrew.bench.store.owners import remove_files  # noqa: PLC0415 (needs the tables)

    for part in config.photos.glob("*/.*.part"):
        part.unlink(missing_ok=True)
    if (config.data / IMPORTING).exists():
        known = set(Photo.objects.values_list("sha256", flat=True))
        for picture in config.photos.glob("*/*"):
            if picture.stem not in known:
                picture.unlink(missing_ok=True)
        (config.data / IMPORTING).unlink()
    remove_files(Photo.objects.filter(erased=True).iterator(chunk_size=1_000))


def _bring_up_to_date(config: Config, *, is_new: bool) -> list[str]:
    from django.core.management import call_command  # noqa: PLC0415 (needs the settings)

    steps, is_empty = _missing_steps(config)
    if not steps:
        return []
    done = []
    if not is_empty:
        from lastscrew.bench.store.backup import backup_tables  # noqa: PLC0415 (needs the settings)

        done.append(f"Backed up the database to {backup_tables(config)}.")
    call_command("migrate", verbosity=0, interactive=False)
    if is_new or is_empty:
        done.append(NEW.format(config.data))
    else:
        from lastscrew.bench.store.rebuilding import rebuild  # noqa: PLC0415 (needs the tables)

        # A new column of a derived table is empty until it is worked out.
        events = rebuild().events
        text = f"Brought the database to its present shape ({len(steps)} steps, {events} events)."
        done.append(text)
    return done


def _refuse_other_shape(config: Config) -> None:
    steps, _ = _missing_steps(config)
    if steps:
        text = "the database is of an older version of the program"
        remedy = "Start lastscrew serve once: it backs it up and brings it up to date."
        raise InputError([Problem(text, remedy, file=str(config.data), code="old_database")])


def _missing_steps(config: Config) -> tuple[list[str], bool]:
    """Steps that the tables lack, and whether there are no tables at all.

    Raises:
        InputError: The database can't be reached or is none, or a newer version made it.
    """
    from django.db import DatabaseError, connection  # noqa: PLC0415 (needs the settings)
    from django.db.migrations.executor import MigrationExecutor  # noqa: PLC0415

    try:
        executor = MigrationExecutor(connection)
        plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError as error:
        raise _unusable(config, error) from error
    if newer := _unknown_steps(executor):
        text = f"a newer version of the program made this database ({newer[0]})"
        remedy = "Install that version, or restore the backup made before the change."
        place = config.database and "the database named by LASTSCREW_DATABASE"
        place = place or str(config.sqlite_file)
        raise InputError([Problem(text, remedy, file=place, code="new_database")])
    return [str(migration) for migration, _ in plan], not executor.loader.applied_migrations


def _unknown_steps(executor: MigrationExecutor) -> list[str]:
    loader = executor.loader
    return sorted(
        name
        for app, name in loader.applied_migrations
        if app == "bench" and (app, name) not in loader.disk_migrations
    )
