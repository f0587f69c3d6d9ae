"""Backup, restore, export and import: everything that is kept comes through, hostile files do not."""

from __future__ import annotations

import errno
import json
import os
import shutil
import sqlite3
import subprocess
import threading
import zipfile
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from lastscrew.bench.config import Config
from lastscrew.bench.depot import events as d
from lastscrew.bench.models import (
    Draft,
    OwnerData,
    Person,
    Photo,
    Revision,
    StoredEvent,
    Token,
    Unit,
)
from lastscrew.bench.store import export_file
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.backup import backup, copy_sqlite
from lastscrew.bench.store.export_file import LATER
from lastscrew.bench.store.importing import import_from
from lastscrew.bench.store.jobs import load_job
from lastscrew.bench.store.owners import keep_owner
from lastscrew.bench.store.photos import keep_photo, path_of, read_photo
from lastscrew.bench.store.rebuilding import DERIVED
from lastscrew.bench.store.starting import prepare
from lastscrew.bench.store.transfer import TABLES, export_to, field_names
from lastscrew.problems import InputError
from lastscrew.run.events import Noted
from tests.bench.conftest import PASSWORD, using
from tests.bench.store import making
from tests.bench.store.histories import Depot
from tests.bench.store.making import BY, event
from tests.bench.store.test_photos import picture

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.bench.conftest import Bench


def kept() -> dict[str, list[dict[str, Any]]]:
    """Everything that is kept, as it would be exported."""
    return {
        name: list(model._default_manager.order_by("pk").values(*field_names(model)))
        for name, model in TABLES
    }


def fill(bench: Bench) -> str:
    """Something in every table; returns the hash of a photo."""
    Depot(11).live(90)
    lead = bench.person("lead")
    Token.objects.create(name="shop", sha256="ab" * 32, scopes=["read"], made_by=lead)
    Draft.objects.create(title="A draft", origin="file", text="format: 1\n", changed_ms=5)
    unit = Unit.objects.order_by("number")[0].key
    keep_owner(unit, name="Ottilie Quast", complaint="It hums\nat night – „brumm“ 🪛")
    return keep_photo(picture(), unit=unit, is_owners=True).sha256


def test_an_export_into_an_empty_installation_gives_the_same(both: Bench, tmp_path: Path) -> None:
    photo = fill(both)
    before, derived, content = kept(), making.derived(), read_photo(photo)
    target = tmp_path / "all.zip"
    counts = export_to(both.config, target)
    assert counts["events"] == StoredEvent.objects.count()
    assert target.stat().st_mode & 0o077 == 0
    other = Config(tmp_path / "other")
    with using(other), prepare(other):
        result = import_from(target)
        assert (result.pictures, result.missing) == (1, ())
        assert kept() == before
        assert making.derived() == derived
        assert read_photo(photo) == content
        assert Person.objects.get(username="some_lead").check_password(PASSWORD)
        add_depot_event(Unit.objects.all()[0].key, d.Described(serial="new"), by=BY)
        with pytest.raises(InputError, match="not empty"):
            import_from(target)


def test_what_sqlite_exports_postgresql_imports(
    bench: Bench, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    import psycopg

    from tests.bench.conftest import _named

    fill(bench)
    before, derived = kept(), making.derived()
    target = tmp_path / "all.zip"
    export_to(bench.config, target)
    address = request.getfixturevalue("postgresql")
    with psycopg.connect(address, autocommit=True) as plain:
        plain.execute('CREATE DATABASE "moved"')
    try:
        config = replace(Config(tmp_path / "moved"), database=_named(address, "moved"))
        with using(config), prepare(config):
            import_from(target)
            assert kept() == before
            assert making.derived() == derived
            add_depot_event("", d.StockCounted(item="code:X", count=2), by=BY)
            Draft.objects.create(title="next", origin="file", changed_ms=6)
            back = tmp_path / "back.zip"
            assert export_to(config, back)["drafts"] == 2
    finally:
        with psycopg.connect(address, autocommit=True) as plain:
            plain.execute('DROP DATABASE IF EXISTS "moved" WITH (FORCE)')


def test_erased_owners_and_photos_are_not_in_an_export(both: Bench, tmp_path: Path) -> None:
    from lastscrew.bench.store.owners import erase

    photo = fill(both)
    erase(OwnerData.objects.get().unit, "asked", by="Lea")
    target = tmp_path / "all.zip"
    export_to(both.config, target)
    with zipfile.ZipFile(target) as archive:
        assert not [name for name in archive.namelist() if name.startswith("photos/")]
        assert b"Ottilie" not in b"".join(archive.read(name) for name in archive.namelist())
    assert Photo.objects.get(pk=photo).erased


def test_a_backup_unpacked_into_an_empty_folder_is_the_installation(
    bench: Bench, tmp_path: Path
) -> None:
    photo = fill(bench)
    before, derived = kept(), making.derived()
    file = backup(bench.config)
    assert file.parent == bench.config.backups
    assert not list(bench.config.backups.glob(".copy*"))
    other = Config(tmp_path / "restored")
    with zipfile.ZipFile(file) as archive:
        archive.extractall(other.data)
    with using(other), prepare(other) as done:
        assert done == ()
        assert kept() == before
        assert making.derived() == derived
        assert path_of(photo, "image/jpeg").exists()


def test_a_backup_unpacked_over_a_database_that_crashed_is_what_was_backed_up(
    bench: Bench, tmp_path: Path
) -> None:
    """The log that the crash left must not be played onto the restored database."""
    making.begin()
    file = backup(bench.config, tmp_path / "mine.zip")
    crashed, database = tmp_path / "crashed", bench.config.sqlite_file
    crashed.mkdir()
    with closing(sqlite3.connect(database)) as live:
        live.execute("PRAGMA journal_mode = WAL")
        live.execute("PRAGMA wal_autocheckpoint = 0")
        live.execute("UPDATE bench_unit SET place = 'later'")
        live.commit()
        for each in database.parent.glob(f"{database.name}*"):
            shutil.copy(each, crashed)
    assert (crashed / f"{database.name}-wal").stat().st_size > 0
    with zipfile.ZipFile(file) as archive:
        archive.extractall(crashed)
    with closing(sqlite3.connect(crashed / database.name)) as restored:
        assert restored.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert restored.execute("SELECT place FROM bench_unit").fetchall() != [("later",)]


def test_a_backup_of_postgresql_is_an_export(both: Bench, tmp_path: Path) -> None:
    if connection.vendor != "postgresql":
        return
    making.begin()
    file = backup(both.config, tmp_path / "mine.zip")
    with zipfile.ZipFile(file) as archive:
        assert "events.jsonl" in archive.namelist()


def test_a_copy_without_room_says_that_there_is_none(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = sqlite3.OperationalError("database or disk is full")
    full.sqlite_errorcode = sqlite3.SQLITE_FULL

    def refuses(*_: object, **__: object) -> None:
        raise full

    monkeypatch.setattr(sqlite3, "connect", refuses)
    with pytest.raises(OSError, match="disk is full") as caught:
        copy_sqlite(bench.config.sqlite_file, tmp_path / "copy.sqlite3")
    assert caught.value.errno == errno.ENOSPC
    assert not list(tmp_path.glob("copy*"))


def test_a_backup_takes_away_what_killed_ones_left(bench: Bench, tmp_path: Path) -> None:
    bench.config.backups.mkdir()
    ended = subprocess.Popen(["true"])
    ended.wait()
    left = bench.config.backups / f".export-{ended.pid}.sqlite3-wal"
    under_way = bench.config.backups / f".copy-{os.getpid()}-1.sqlite3"
    for file in (left, under_way):
        file.write_bytes(b"all that the database holds")
    backup(bench.config, tmp_path / "mine.zip")
    assert (left.exists(), under_way.exists()) == (False, True)


@pytest.mark.parametrize("name", ["", "."])
def test_a_folder_is_no_file_to_write_to(bench: Bench, tmp_path: Path, name: str) -> None:
    for write in (backup, export_to):
        with pytest.raises(IsADirectoryError):
            write(bench.config, Path(name))
        with pytest.raises(IsADirectoryError) as caught:
            write(bench.config, tmp_path)
        assert caught.value.filename == str(tmp_path)


def test_a_copy_made_while_others_write_is_whole(bench: Bench, tmp_path: Path) -> None:
    making.begin()
    stop = threading.Event()
    count = 0

    def write() -> None:
        nonlocal count
        while not stop.is_set():
            batch = [event(f"n{count}", Noted(text="x" * 300), client="c", sequence=count)]
            add_run_events("r1", batch, by=BY)
            count += 1
        connection.close()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(5):
            copy_sqlite(bench.config.sqlite_file, tmp_path / f"{number}.sqlite3")
    finally:
        stop.set()
        writer.join()
    for number in range(5):
        with closing(sqlite3.connect(tmp_path / f"{number}.sqlite3")) as copy:
            assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            events = copy.execute("SELECT MAX(number) FROM bench_storedevent").fetchone()
            assert events == copy.execute("SELECT version FROM bench_run").fetchone()
    assert load_job("r1").run.version == count + 1


# --- hostile files --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory, migrated: Path) -> dict[str, bytes]:
    """The entries of an export that is as it should be."""
    folder = tmp_path_factory.mktemp("good")
    config = Config(folder)
    config.sqlite_file.write_bytes(migrated.read_bytes())
    with using(config) as bench:
        fill(bench)
        export_to(config, folder / "good.zip")
    with zipfile.ZipFile(folder / "good.zip") as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def zip_of(path: Path, entries: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    return path


Change: TypeAlias = "Callable[[bytes], bytes]"


def changed(content: bytes, line: int, **values: object) -> bytes:
    """A table with other values in one of its lines."""
    lines = content.splitlines(keepends=True)
    row = json.loads(lines[line])
    lines[line] = json.dumps({**row, **values}).encode() + b"\n"
    return b"".join(lines)


def without(content: bytes, name: str) -> bytes:
    """The events without those of one name; versions of jobs are closed up."""
    rows = [json.loads(line) for line in content.splitlines()]
    kept = [row for row in rows if row["name"] != name]
    for row in kept if name == "started" else []:
        row["number"] = row["number"] and row["number"] - 1
    return b"".join(json.dumps(row).encode() + b"\n" for row in kept)


def twice(content: bytes, name: str) -> bytes:
    """The first event of one name stands at the end once more, under another id."""
    row = next(row for row in map(json.loads, content.splitlines()) if row["name"] == name)
    body = {**row["body"], "id": "again"}
    again = {**row, "key": "again", "body": body, "position": 10**6}
    return content + json.dumps(again).encode() + b"\n"


def refusal(bench: Bench, file: Path) -> str:
    with pytest.raises(InputError) as caught:
        import_from(file)
    assert StoredEvent.objects.count() == 0
    assert Person.objects.count() == 0
    assert Revision.objects.count() == 0
    assert not [path for path in bench.config.photos.rglob("*") if path.is_file()]
    return str(caught.value)


def test_an_export_that_is_as_it_should_be_is_read(
    bench: Bench, good: dict[str, bytes], tmp_path: Path
) -> None:
    assert import_from(zip_of(tmp_path / "a.zip", good)).rows["events"] > 50


@pytest.mark.parametrize(
    "name",
    [
        "../evil.jsonl",
        "/etc/evil",
        "photos/../../x.jpg",
        "photos/" + "a" * 64 + ".html",
        "more.jsonl",
        "C:\\x",
    ],
)
def test_other_names_than_ours_are_refused(
    bench: Bench, good: dict[str, bytes], tmp_path: Path, name: str
) -> None:
    file = zip_of(tmp_path / "a.zip", {**good, name: b"x"})
    assert "no such entry belongs to an export" in refusal(bench, file)
    assert not (tmp_path.parent / "evil.jsonl").exists()


def test_more_entries_than_there_is_reason_for_are_refused(
    bench: Bench, good: dict[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(export_file, "MAX_ENTRIES", 200)
    many = {f"photos/{number:064x}.jpg": b"" for number in range(200)}
    assert "entries are too many" in refusal(bench, zip_of(tmp_path / "a.zip", {**good, **many}))


def test_what_was_added_to_a_table_since_may_be_missing_in_an_older_export() -> None:
    """Whoever adds a column to what is kept names it, or exports and PostgreSQL's backups can't be read any more."""
    first = MigrationLoader(None).project_state(("bench", "0001_initial")).apps
    added = {}
    for name, model in TABLES:
        before = first.get_model("bench", model.__name__)
        if new := {*field_names(model)} - {*field_names(before)}:
            added[name] = new
    assert added == LATER


def test_an_export_of_an_older_version_is_read(
    bench: Bench, good: dict[str, bytes], tmp_path: Path
) -> None:
    rows = [json.loads(line) for line in good["owners.jsonl"].splitlines()]
    assert rows
    for row in rows:
        del row["captions"]
    older = b"".join(json.dumps(row).encode() + b"\n" for row in rows)
    import_from(zip_of(tmp_path / "older.zip", {**good, "owners.jsonl": older}))
    assert {row.captions == {} for row in OwnerData.objects.all()} == {True}


def test_every_table_is_exported_or_derived_or_left_out_on_purpose() -> None:
    ours = {model.__name__ for model in apps.get_app_config("bench").get_models()}
    exported = {model.__name__ for _, model in TABLES}
    derived = {model.__name__ for model, _ in DERIVED}
    assert ours == exported | derived | {"LoginTry"}  # tries to sign in are of no use elsewhere


def test_bombs_are_refused_before_they_are_unpacked(
    bench: Bench, good: dict[str, bytes], tmp_path: Path
) -> None:
    bomb = {**good, "waiting.jsonl": b"\0" * 30_000_000}
    assert "unpacks to far more" in refusal(bench, zip_of(tmp_path / "a.zip", bomb))
    lying = zip_of(tmp_path / "b.zip", good)
    content = bytearray(lying.read_bytes())
    with zipfile.ZipFile(lying) as archive:
        entry = archive.getinfo("events.jsonl")
    at = content.rindex(b"PK\x01\x02", 0, content.rindex(b"events.jsonl"))
    content[at + 24 : at + 28] = (entry.file_size // 2).to_bytes(4, "little")
    lying.write_bytes(content)
    assert "no zip that can be read to its end" in refusal(bench, lying)


def test_bits_that_turned_over_are_told_as_a_damaged_file(
    bench: Bench, good: dict[str, bytes], tmp_path: Path
) -> None:
    whole = zip_of(tmp_path / "a.zip", good)
    with zipfile.ZipFile(whole) as archive:
        entry = archive.getinfo("events.jsonl")
    begin = entry.header_offset + 30 + len(entry.filename)
    for at in range(begin, begin + entry.compress_size - 8, entry.compress_size // 2):
        content = bytearray(whole.read_bytes())
        content[at] ^= 0xFF
        (tmp_path / "b.zip").write_bytes(content)
        assert "no zip that can be read to its end" in refusal(bench, tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "c.zip", "w", zipfile.ZIP_LZMA) as archive:
        for name, content_of in good.items():
            archive.writestr(name, content_of)
    assert "packed in a way" in refusal(bench, tmp_path / "c.zip")


def test_what_is_no_zip_or_cut_off_is_refused(
    bench: Bench, good: dict[str, bytes], tmp_path: Path
) -> None:
    whole = zip_of(tmp_path / "a.zip", good).read_bytes()
    for number, content in enumerate((b"", b"PK", whole[: len(whole) // 2], whole[:-30])):
        file = tmp_path / f"{number}.zip"
        file.write_bytes(content)
        assert "no zip" in refusal(bench, file)
    assert "no export" in refusal(bench, zip_of(tmp_path / "e.zip", {"x.txt": b"hello"}))


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        ("events.jsonl", lambda c: changed(c, 5, number=77), "has no event"),
        ("events.jsonl", lambda c: changed(c, 3, body={"id": "x"}), "missing"),
        ("events.jsonl", lambda c: changed(c, 3, more=1), "keys missing or unknown: more"),
        ("events.jsonl", lambda c: c + b"[1]\n", "no JSON object"),
        ("events.jsonl", lambda c: b"[" * 100_000, "no JSON object"),
        ("people.jsonl", lambda c: changed(c, 0, role="emperor"), "not a valid choice"),
        ("revisions.jsonl", lambda c: changed(c, 0, text="format: 1\n"), "device file has errors"),
        ("revisions.jsonl", lambda c: changed(c, 0, revision="0" * 64), "than its hash says"),
        ("revisions.jsonl", lambda c: b"", "there is no revision"),
        (
            "events.jsonl",
            lambda c: b"".join(c.splitlines(keepends=True)[:1]) * 2,
            "does not come after",
        ),
        ("events.jsonl", lambda c: without(c, "taken_in"), "was not taken in before"),
        ("events.jsonl", lambda c: without(c, "started"), "does not begin with started"),
        ("events.jsonl", lambda c: twice(c, "taken_in"), "stands twice"),
        ("events.jsonl", lambda c: changed(c, 2, name="placed"), "the event says that it is"),
        ("events.jsonl", lambda c: b"".join(reversed(c.splitlines(keepends=True))), "come after"),
        ("drafts.jsonl", lambda c: c * 2, "can't be stored"),
        ("branches.jsonl", lambda c: changed(c, 0, events=[{"id": 1}]), "event is missing"),
        ("export.json", lambda c: b'{"format": 2}', "its format is not 1"),
        ("owners.jsonl", lambda c: changed(c, 0, unit="u" * 500), "at most 100 characters"),
    ],
)
def test_rows_that_are_not_as_they_should_be_are_refused_with_their_place(
    bench: Bench, good: dict[str, bytes], tmp_path: Path, name: str, change: Change, says: str
) -> None:
    file = zip_of(tmp_path / "a.zip", {**good, name: change(good[name])})
    assert says in refusal(bench, file)


def test_a_picture_that_is_another_one_is_refused(
    bench: Bench, good: dict[str, bytes], tmp_path: Path
) -> None:
    photo = next(name for name in good if name.startswith("photos/"))
    file = zip_of(tmp_path / "a.zip", {**good, photo: b"<script>"})
    assert "not the picture that its name says" in refusal(bench, file)
    lost = {name: content for name, content in good.items() if name != photo}
    assert import_from(zip_of(tmp_path / "b.zip", lost)).missing == (photo[7:71],)
