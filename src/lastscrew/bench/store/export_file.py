"""The zip of an export as a file: which entries it may have, and of what size. Needs no database.

What is in it is told in :mod:`lastscrew.bench.store.transfer`. This much can be said of a file before anything
of an installation is made for it.
"""

from __future__ import annotations

import json
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from lastscrew.problems import InputError, Problem

FORMAT: Final = 1
HEAD: Final = "export.json"
EVENTS: Final = "events.jsonl"
TABLE_NAMES: Final = (
    "people", "tokens", "revisions", "drafts", "device_photos", "photos", "owners", "events", "waiting", "branches",
)  # fmt: skip
"""What is kept, in the order in which it is read back."""

LATER: Final[Mapping[str, frozenset[str]]] = {
    "owners": frozenset({"captions"}),
    "photos": frozenset({"also"}),
}
"""Keys of a table that older exports of this format lack; their default stands then."""

PHOTO_NAME = re.compile(r"photos/([0-9a-f]{64})\.(jpg|png|webp)")

MAX_ENTRIES = 500_000
"""Ten photos of each of 50,000 units; the list of them is held in memory."""

MAX_TABLE_BYTES = 16 * 2**30
MAX_PHOTO_BYTES = 64 * 2**20
MOST_PROBLEMS = 50

MOST_SHRUNK = 250
FREE_BYTES = 4 * 2**20
"""An entry above the second may be at most the first times as large as it is in the zip. Rows of
events shrink to a tenth or twentieth; a bomb to a thousandth."""

PACKED: Final = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})

BREAKS_OFF: Final = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError,
)  # fmt: skip
"""What a damaged zip is met with while it is read."""

MADE_BY_EXPORT = "Take the file as lastscrew export made it."


@contextmanager
def opened(source: Path) -> Iterator[zipfile.ZipFile]:
    """The zip of an export, its entries and its head checked.

    Args:
        source: The file.

    Raises:
        InputError: It is no export, or not as one should be; at most ``MOST_PROBLEMS`` problems.
        OSError: It can't be read.
    """
    try:
        archive = zipfile.ZipFile(source)
    except (zipfile.BadZipFile, ValueError, NotImplementedError, UnicodeDecodeError) as error:
        raise unreadable(source) from error
    with archive:
        _check_entries(source, archive)
        try:
            head = object_of(archive.open(HEAD).read(10_000))
        except BREAKS_OFF as error:
            raise unreadable(source) from error
        if head is None or head.get("format") != FORMAT:
            text = f"its format is not {FORMAT}"
            remedy = "Use the version of the program that made it, or a newer one."
            raise InputError([Problem(text, remedy, file=f"{source}/{HEAD}", code="bad_export")])
        yield archive


def unreadable(source: Path) -> InputError:
    """The refusal of what is no zip, or of one that breaks off."""
    text = "this is no zip that can be read to its end"
    remedy = "Take a file that lastscrew export or lastscrew backup (with PostgreSQL) made."
    return InputError([Problem(text, remedy, file=str(source), code="no_zip")])


def object_of(line: bytes) -> dict[str, object] | None:
    """The JSON object that stands in a line; None where there is none."""
    try:
        value = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def _check_entries(source: Path, archive: zipfile.ZipFile) -> None:
    """Every entry is one that we know, once, and of a size that its own size in the zip has reason for.

    Raises:
        InputError: With what is wrong, at most ``MOST_PROBLEMS``.
    """
    entries = archive.infolist()
    problems: list[Problem] = []
    if len(entries) > MAX_ENTRIES:
        text = f"{len(entries)} entries are too many"
        problems.append(Problem(text, file=str(source), code="too_many_entries"))
    seen: set[str] = set()
    for entry in entries[:MAX_ENTRIES]:
        if why := _objection(entry, seen):
            shown = ascii(entry.filename[:80])
            text = f"{shown}: {why}"
            problems.append(Problem(text, MADE_BY_EXPORT, file=str(source), code="bad_entry"))
        seen.add(entry.filename)
        if len(problems) >= MOST_PROBLEMS:
            break
    if HEAD not in seen or EVENTS not in seen:
        what = "a backup, to be unpacked into an empty folder" if "backup.json" in seen else "none"
        text = f"this is no export ({what})" if what != "none" else "this is no export"
        problems = [Problem(text, "See docs/bench-data.md.", file=str(source), code="no_export")]
    if problems:
        raise InputError(problems)


def _objection(entry: zipfile.ZipInfo, seen: set[str]) -> str:
    is_photo = PHOTO_NAME.fullmatch(entry.filename) is not None
    most = MAX_PHOTO_BYTES if is_photo else MAX_TABLE_BYTES
    if not is_photo and entry.filename not in {HEAD, *(f"{name}.jsonl" for name in TABLE_NAMES)}:
        return "no such entry belongs to an export"
    if entry.filename in seen:
        return "it stands twice"
    if entry.flag_bits & 0x1 or entry.compress_type not in PACKED:
        return "it is encrypted, or packed in a way that an export does not use"
    if entry.file_size > most:
        return "it is too large"
    if entry.file_size > max(FREE_BYTES, MOST_SHRUNK * entry.compress_size):
        return "it says that it unpacks to far more than there is"
    return ""
