"""Import of an export into an empty installation: all of it, or nothing.

See :mod:`lastscrew.bench.store.transfer` for the zip. One from a stranger can't make us write outside the
folder of photos, under a name that it chooses, or more than its own size has reason for.
"""

from __future__ import annotations

import hashlib
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import IO

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.color import no_style
from django.db import DatabaseError, connection
from django.db.models import CharField, JSONField, Model, TextField
from PIL import Image

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import Branch, Photo, Revision, StoredEvent, WaitingEvent
from lastscrew.bench.store.backup import named
from lastscrew.bench.store.depot_events import WITHOUT_UNIT
from lastscrew.bench.store.desk import is_key
from lastscrew.bench.store.export_file import (
    BREAKS_OFF,
    LATER,
    MADE_BY_EXPORT,
    MAX_PHOTO_BYTES,
    MOST_PROBLEMS,
    PHOTO_NAME,
    object_of,
    opened,
    unreadable,
)
from lastscrew.bench.store.jobs import forget_everything
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.bench.store.photos import FORMATS, MAX_PIXELS, path_of, write_photo
from lastscrew.bench.store.rebuilding import rebuild
from lastscrew.bench.store.starting import being_imported
from lastscrew.bench.store.transfer import CHUNK, MAX_LINE_BYTES, TABLES, field_names
from lastscrew.device.reading import load_device
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import HAPPENINGS, Event, Happening, Started
from lastscrew.run.lines import event_from_json

EMPTY: tuple[object, ...] = ("", [], {})


@dataclass(frozen=True, slots=True)
class Imported:
    """Rows of each table that were read, pictures that were kept, and those that the zip lacks."""

    rows: dict[str, int]
    pictures: int
    missing: tuple[str, ...]


def import_from(source: Path) -> Imported:
    """Read an export into an empty installation and make everything derived anew.

    Args:
        source: The zip.

    Raises:
        InputError: There is something here already, or the zip is not as it should be. Nothing was kept.
        OSError: It can't be read.
    """
    if not is_empty():
        text = "this installation is not empty"
        remedy = "Import into a new one: name another folder with --data."
        raise InputError([Problem(text, remedy, file=str(source), code="not_empty")])
    with opened(source) as archive, being_imported(settings.CONFIG):
        reading = _Reading(source, archive)
        try:
            with one_at_a_time():
                return reading.read_all()
        except BREAKS_OFF as error:
            reading.undo()
            raise unreadable(source) from error
        except BaseException:
            reading.undo()
            raise


def is_empty() -> bool:
    """True where nothing has happened yet; the account of the loopback default does not count."""
    return not any(
        model._default_manager.exclude(username="bench").exists()  # noqa: SLF001
        if name == "people"
        else model._default_manager.exists()  # noqa: SLF001
        for name, model in TABLES
    )


# --- rows -----------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Reading:
    """One import while it is made."""

    source: Path
    archive: zipfile.ZipFile
    problems: list[Problem] = field(default_factory=list)
    versions: dict[str, int] = field(default_factory=dict)
    units_of_runs: dict[str, str] = field(default_factory=dict)
    units: set[str] = field(default_factory=set)
    numbers: set[int] = field(default_factory=set)
    revisions: dict[str, str] = field(default_factory=dict)
    position: int = 0
    written: list[Path] = field(default_factory=list)

    def read_all(self) -> Imported:
        """Everything, in the transaction of the caller."""
        rows = {}
        for name, model in TABLES:
            rows[name] = self._read_table(name, model)
            self._raise_if_wrong()
        pictures, missing = self._read_photos()
        self._raise_if_wrong()
        statements = connection.ops.sequence_reset_sql(no_style(), [model for _, model in TABLES])
        with connection.cursor() as cursor:
            for statement in statements:
                cursor.execute(statement)
        forget_everything()
        rebuild()
        return Imported(rows, pictures, missing)

    def undo(self) -> None:
        """Take back what is no row; the rows go with the transaction."""
        for path in self.written:
            path.unlink(missing_ok=True)
        forget_everything()

    def _problem(self, entry: str, line: int | None, text: str, remedy: str = "") -> None:
        place = f"{self.source}/{entry}"
        remedy = remedy or MADE_BY_EXPORT
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(text, remedy, file=place, line=line, code="bad_export"))

    def _raise_if_wrong(self) -> None:
        if self.problems:
            raise InputError(self.problems)

    def _read_table(self, name: str, model: type[Model]) -> int:
        entry = f"{name}.jsonl"
        if entry not in self.archive.namelist():
            return 0
        if name == "people":
            model._default_manager.all().delete()  # noqa: SLF001 (the account of the loopback default)
        count = 0
        chunk: list[Model] = []
        with self.archive.open(entry) as file:
            for number, line in self._lines(entry, file):
                row = self._row(entry, number, line, model)
                if row is not None:
                    chunk.append(row)
                    count += 1
                if len(chunk) >= CHUNK:
                    self._store(entry, model, chunk)
                    chunk = []
                if len(self.problems) >= MOST_PROBLEMS:
                    break
            # Lines that make no sense may be those of a damaged zip: its end tells, by the checksum.
            while self.problems and file.read(2**16):
                pass
        self._store(entry, model, chunk)
        return count

    def _lines(self, entry: str, file: IO[bytes]) -> Iterator[tuple[int, bytes]]:
        number = 0
        while line := file.readline(MAX_LINE_BYTES + 1):
            number += 1
            if len(line) > MAX_LINE_BYTES:
                self._problem(entry, number, "the line is too long")
                return
            yield number, line

    def _row(self, entry: str, number: int, line: bytes, model: type[Model]) -> Model | None:
        values = object_of(line)
        if values is None:
            self._problem(entry, number, "this line is no JSON object")
            return None
        names = {*field_names(model)}
        odd = sorted({*values} ^ names)[:3]
        if {*values} - names or names - {*values} - LATER.get(entry.removesuffix(".jsonl"), set()):
            self._problem(entry, number, f"keys missing or unknown: {', '.join(odd)[:100]}")
            return None
        row = model(**values)
        try:
            _clean(row)
        except ValidationError as error:
            self._problem(entry, number, "; ".join(error.messages)[:200])
            return None
        for text in self._objections(row):
            self._problem(entry, number, text)
        return row

    def _store(self, entry: str, model: type[Model], rows: list[Model]) -> None:
        if not rows or self.problems:
            return
        try:
            _create(model, rows)
        except (DatabaseError, ValueError, OverflowError) as error:
            # After this the transaction is good for nothing but to be taken back.
            reason = str(error).strip().splitlines()[0][:200]
            self._problem(entry, None, f"rows can't be stored: {reason}")
            raise InputError(self.problems) from error

    # --- what each row must hold ----------------------------------------------------------------

    def _objections(self, row: Model) -> Iterator[str]:
        match row:
            case StoredEvent():
                yield from self._of_event(row)
            case WaitingEvent():
                yield from _event_of(row.body, row.run, row.key)[1]
            case Branch():
                for body in row.events if isinstance(row.events, list) else [None]:
                    yield from _event_of(body, row.run, None)[1]
            case Revision():
                yield from self._of_revision(row)
            case Photo():
                if not PHOTO_NAME.fullmatch(f"photos/{row.sha256}.jpg") or row.media_type not in (
                    "image/jpeg",
                    "image/png",
                    "image/webp",
                ):
                    yield "this is no hash of a picture, or no kind of picture"
            case _:
                pass

    def _of_event(self, row: StoredEvent) -> Iterator[str]:
        """An event must be as the reader wants it, and make sense behind those before it."""
        if row.position <= self.position:
            yield f"its position {row.position} does not come after {self.position}"
        self.position = max(self.position, row.position)
        if row.run:
            yield from self._of_version(row)
        event, problems = _event_of(row.body, row.run, row.key)
        yield from problems
        if event is None:
            return
        if event.what.name != row.name:
            yield f"the event says that it is {event.what.name}"
        if row.run and row.number == 1:
            yield from self._of_beginning(row, event.what)
        elif not row.run:
            yield from self._of_depot_event(row, event.what)

    def _of_version(self, row: StoredEvent) -> Iterator[str]:
        version = self.versions.get(row.run, 0) + 1
        self.versions[row.run] = version
        if row.number != version:
            yield f"the job {row.run} has no event {version}"
        if self.units_of_runs.setdefault(row.run, row.unit) != row.unit:
            yield f"the job {row.run} is on two units"

    def _of_beginning(self, row: StoredEvent, what: Happening) -> Iterator[str]:
        if not isinstance(what, Started):
            yield f"the job {row.run} does not begin with started"
        elif self.revisions.get(what.revision) != what.device:
            yield f"there is no revision {what.revision[:12]} of a device {what.device}"
        if row.unit not in self.units:
            yield f"the unit {row.unit} was not taken in before"

    def _of_depot_event(self, row: StoredEvent, what: Happening) -> Iterator[str]:
        if isinstance(what, d.TakenIn):
            if row.unit in self.units or what.number in self.numbers or not is_key(row.unit):
                yield f"the unit {row.unit} or its number {what.number} stands twice"
            self.units.add(row.unit)
            self.numbers.add(what.number)
        elif row.unit and row.unit not in self.units:
            yield f"the unit {row.unit} was not taken in before"
        elif not row.unit and not isinstance(what, WITHOUT_UNIT):
            yield f"{what.name} needs a unit"
        if isinstance(what, d.RevisionPublished) and what.revision not in self.revisions:
            yield f"there is no revision {what.revision[:12]}"

    def _of_revision(self, row: Revision) -> Iterator[str]:
        try:
            device = load_device(row.text, row.name)
        except InputError as error:
            yield f"the device file has errors: {error.problems[0].message}"
            return
        if device.revision_hash != row.revision or device.id != row.device:
            yield "the device file is another one than its hash says"
        self.revisions[row.revision] = row.device

    # --- pictures -------------------------------------------------------------------------------

    def _read_photos(self) -> tuple[int, tuple[str, ...]]:
        rows = dict(Photo.objects.filter(erased=False).values_list("sha256", "media_type"))
        count = 0
        for entry in self.archive.infolist():
            match = PHOTO_NAME.fullmatch(entry.filename)
            if match is None:
                continue
            media_type = rows.pop(match[1], None)
            if media_type is None:
                self._problem(entry.filename, None, "no row belongs to this picture")
                continue
            with self.archive.open(entry) as file:
                content = file.read(MAX_PHOTO_BYTES)
            if hashlib.sha256(content).hexdigest() != match[1] or not _is_of(content, media_type):
                self._problem(entry.filename, None, "this is not the picture that its name says")
                continue
            self._write(path_of(match[1], media_type), content)
            count += 1
        return count, tuple(sorted(rows))

    def _write(self, path: Path, content: bytes) -> None:
        if not path.exists():
            self.written.append(path)
            try:
                write_photo(path, content)
            except OSError as error:
                raise named(error, path) from error


def _create(model: type[Model], rows: list[Model]) -> None:
    """Store rows as they are, those moments too that Django sets itself when a row is made."""
    own = [
        spec.attname
        for spec in model._meta.concrete_fields  # noqa: SLF001
        if getattr(spec, "auto_now_add", False)
    ]
    moments = [[getattr(row, name) for name in own] for row in rows]
    model._default_manager.bulk_create(rows, batch_size=CHUNK)  # noqa: SLF001
    if own:
        for row, values in zip(rows, moments, strict=True):
            for name, value in zip(own, values, strict=True):
                setattr(row, name, value)
        model._default_manager.bulk_update(rows, own, batch_size=CHUNK)  # noqa: SLF001


def _clean(row: Model) -> None:
    """Bring every value into its field's type; empty texts, lists and mappings are values like others.

    Raises:
        ValidationError: A value does not fit its field.
    """
    for spec in row._meta.concrete_fields:  # noqa: SLF001
        value = getattr(row, spec.attname)
        if value is None:
            if not spec.null:
                raise ValidationError(f"{spec.attname} is empty")
        elif value in EMPTY and isinstance(spec, CharField | TextField | JSONField):
            continue
        else:
            setattr(row, spec.attname, spec.clean(value, row))


def _event_of(body: object, run: str, key: str | None) -> tuple[Event | None, list[str]]:
    """The event of a row, and what is wrong with it."""
    try:
        event = event_from_json(body, HAPPENINGS if run else d.HAPPENINGS)
    except InputError as error:
        return None, [error.problems[0].message]
    problems = []
    if key is not None and event.id != key:
        problems.append(f"the event says that it is {event.id}")
    if run and event.run != run:
        problems.append(f"the event says that it is of the job {event.run}")
    return event, problems


def _is_of(content: bytes, media_type: str) -> bool:
    """True for a picture of that kind and of a size that would have been kept."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(BytesIO(content), formats=FORMATS)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False
    return image.get_format_mimetype() == media_type and image.width * image.height <= MAX_PIXELS
