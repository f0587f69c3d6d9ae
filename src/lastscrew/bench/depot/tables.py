"""Tables that strangers send, as rows of text: CSV in its many dialects, and workbooks (XLSX).

Nothing of a file is trusted. Sizes are bounded before anything is unpacked; formulas, macros, links
and pictures are never looked at; a workbook that unpacks to more than it should is refused unread.
CSV: RFC 4180 with the separators and encodings that spreadsheets write in practice.
"""

from __future__ import annotations

import csv
import io
import lzma
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django.utils.translation import gettext as _

from lastscrew.problems import Problem

MAX_BYTES = 4 * 2**20
MAX_UNPACKED_BYTES = 64 * 2**20
MAX_MEMBERS = 500
MAX_ROWS = 1_000
MAX_LINES = 2 * MAX_ROWS
"""Rows with those that are blank."""
MAX_COLUMNS = 60
MAX_CELL = 4_000
EXACT_DIGITS = 15
"""Spreadsheets keep numbers as binary64: beyond 15 digits they are rounded (IEEE 754: 15 decimal digits hold)."""

_SEPARATORS = (";", ",", "\t", "|")
_NAMED_SEPARATORS = ";,\t|:^~#"
_ROUNDED = re.compile(r"[0-9](?:[.,][0-9]+)?E\+[0-9]+", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its number in the file (from 1) and its cells as text."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The rows that are not blank, and what is wrong with the file."""

    rows: tuple[Row, ...] = ()
    problems: tuple[Problem, ...] = ()


def read_table(data: bytes) -> Table:
    """Read a file by its content, whatever it is called.

    Args:
        data: The file.
    """
    if len(data) > MAX_BYTES:
        return _refused(
            _("The file is larger than %(most)d MiB.") % {"most": MAX_BYTES // 2**20},
            _("Send it in several files of at most %(rows)d rows.") % {"rows": MAX_ROWS},
            "too_large",
        )
    if not data.strip():
        return _refused(_("The file is empty."), _("Choose the file again."), "empty")
    if data[:4] == b"PK\x03\x04":
        return _workbook(data)
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        return _refused(
            _("This is a workbook of the old kind, or one that is locked by a password."),
            _("Save it as .xlsx without a password, or as .csv."),
            "old_workbook",
        )
    return read_csv(data)


def _refused(message: str, remedy: str, code: str, line: int | None = None) -> Table:
    return Table(problems=(Problem(message, remedy, line=line, code=code),))


# --- CSV ------------------------------------------------------------------------------------------


def read_csv(data: bytes | str) -> Table:
    """Read CSV: encoding, separator and line ends are found out."""
    problems: list[Problem] = []
    text = data if isinstance(data, str) else _decoded(data, problems)
    if "\0" in text:
        problems.append(
            Problem(
                _("This is no table: it holds zero bytes."),
                _("Save it as .csv or .xlsx."),
                code="binary",
            )
        )
        return Table(problems=tuple(problems))
    lines_before = 0
    first, end, rest = text.partition("\n")
    said = re.fullmatch(r"\s*sep=(.)\s*", first, re.IGNORECASE)
    if said:
        text, lines_before = rest, 1
    named = said[1] if said is not None and said[1] in _NAMED_SEPARATORS else ""
    separator = named or _separator(first + end + rest[:4_000])
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    begin = lines_before + 1
    try:
        for cells in reader:
            if len(rows) > MAX_ROWS:
                problems.append(_too_many())
                break
            row = _row(begin, cells, problems)
            rows += [row] if row is not None else []
            begin = lines_before + reader.line_num + 1
    except csv.Error:
        problems.append(
            Problem(
                _("The quotation marks of this row do not match, or a cell is too long."),
                _("Look at the quotation marks in this row and the rows before it."),
                line=begin,
                code="broken_csv",
            )
        )
    return Table(tuple(rows), tuple(problems))


def _decoded(data: bytes, problems: list[Problem]) -> str:
    """UTF-8, UTF-16 where it says so, else the one that spreadsheets in the west write (windows-1252)."""
    encoding = "utf-8-sig"
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        problems.append(
            Problem(
                _("The file is no UTF-8; it was read as windows-1252."),
                _("Look at letters with accents before you store it."),
                severity="warning",
                code="encoding",
            )
        )
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _separator(sample: str) -> str:
    """The sign that stands most often outside of quotation marks in the first line that has any."""
    for line in re.sub(r'"[^"]*"', "", sample).split("\n"):
        counts = {sign: line.count(sign) for sign in _SEPARATORS}
        best = max(_SEPARATORS, key=lambda sign: counts[sign])
        if counts[best]:
            return best
    return ","


def _row(line: int, cells: Sequence[str], problems: list[Problem]) -> Row | None:
    kept = [cell.replace("\u00a0", " ").strip() for cell in cells]
    while kept and not kept[-1]:
        kept.pop()
    if not kept:
        return None
    if len(kept) > MAX_COLUMNS:
        problems.append(
            Problem(
                _("This row has more than %(most)d columns.") % {"most": MAX_COLUMNS},
                _("Take out the columns that are not needed."),
                line=line,
                code="too_wide",
            )
        )
        kept = kept[:MAX_COLUMNS]
    if any(len(cell) > MAX_CELL for cell in kept):
        problems.append(
            Problem(
                _("A cell of this row has more than %(most)d characters.") % {"most": MAX_CELL},
                _("Shorten it."),
                line=line,
                code="too_long",
            )
        )
        kept = [cell[:MAX_CELL] for cell in kept]
    if any(_ROUNDED.fullmatch(cell) for cell in kept):
        problems.append(_rounded(line))
    return Row(line, tuple(kept))


def _too_many() -> Problem:
    return Problem(
        _("The file has more than %(most)d rows.") % {"most": MAX_ROWS},
        _("Send it in several files."),
        code="too_many",
    )


def _rounded(line: int) -> Problem:
    return Problem(
        _("A spreadsheet has rounded a long number in this row."),
        _("Format the column of serial numbers as text and type the number again."),
        line=line,
        code="rounded",
    )


# --- workbooks ------------------------------------------------------------------------------------


def _workbook(data: bytes) -> Table:
    """The first sheet of a workbook that is no trap."""
    trap = _trap_in(data)
    if trap:
        return _refused(
            trap, _("Save the table as .csv and send that, or copy it into a new workbook."), "trap"
        )
    import openpyxl  # noqa: PLC0415 - slow to load, and needed for workbooks only

    problems: list[Problem] = []
    rows: list[Row] = []
    try:
        book = openpyxl.load_workbook(
            io.BytesIO(data), read_only=True, data_only=True, keep_links=False
        )
        try:
            for line, cells in enumerate(_cells(book.worksheets[0]), 1):
                row = _row(line, [_text(cell, line, problems) for cell in cells], problems)
                rows += [row] if row is not None else []
                if len(rows) > MAX_ROWS + 1 or line > MAX_LINES:
                    problems.append(_too_many())
                    break
            if len(book.worksheets) > 1:
                problems.append(_other_sheets(book.worksheets[0].title))
        finally:
            book.close()
    except Exception:  # noqa: BLE001 - whatever a library finds wrong with a stranger's file
        return _refused(
            _("The workbook can’t be read."), _("Save it again, or save it as .csv."), "broken"
        )
    return Table(tuple(rows), tuple(problems))


def _cells(sheet: Any) -> Iterator[tuple[object, ...]]:  # noqa: ANN401 - a library without types
    sheet.reset_dimensions()  # what the file says of its own size may be untrue
    # Blank rows count too, or one row far down would cost as many; one more than allowed, so that it shows.
    yield from sheet.iter_rows(max_row=MAX_LINES + 1, max_col=MAX_COLUMNS + 1, values_only=True)


_DAMAGED = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, OSError, ValueError,
    RuntimeError,
)  # fmt: skip
"""What a packed file with bits that turned over is met with."""


def _trap_in(data: bytes) -> str:
    """What is wrong with the packed file before anything of it is read; empty when nothing is."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            members = packed.infolist()
            if len(members) > MAX_MEMBERS or sum(m.file_size for m in members) > MAX_UNPACKED_BYTES:
                return _("The workbook unpacks to more than it may.")
            if any(member.flag_bits & 1 for member in members):
                return _("The workbook is locked by a password.")
            if "xl/workbook.xml" not in {member.filename for member in members}:
                return _("This packed file is no workbook.")
            return _trap_in_members(packed, members)
    except _DoctypeError:
        return _("The workbook defines entities, which no spreadsheet does.")
    except _DAMAGED:
        return _("The workbook is damaged.")


def _trap_in_members(packed: zipfile.ZipFile, members: Sequence[zipfile.ZipInfo]) -> str:
    """Unpack everything once without keeping it: sizes that the file gives may be untrue."""
    total = 0
    for member in members:
        total += _unpacked(packed, member, MAX_UNPACKED_BYTES - total)
        if total > MAX_UNPACKED_BYTES:
            return _("The workbook unpacks to more than it may.")
    return ""


class _DoctypeError(Exception):
    """A part of the workbook has a document type declaration."""


def _unpacked(packed: zipfile.ZipFile, member: zipfile.ZipInfo, most: int) -> int:
    """How large a member really is, never reading more than ``most`` and a bit."""
    size, before = 0, b""
    is_markup = member.filename.endswith((".xml", ".rels", ".vml"))
    with packed.open(member) as stream:
        while size <= most and (piece := stream.read(2**16)):
            size += len(piece)
            # Zero bytes away: the same words in UTF-16.
            if is_markup and b"<!doctype" in (before + piece).replace(b"\0", b"").lower():
                raise _DoctypeError
            before = piece[-40:]
    return size


def _other_sheets(title: str) -> Problem:
    return Problem(
        _("The workbook has several sheets; only the first one, “%(title)s”, was read.")
        % {"title": title[:60]},
        severity="warning",
        code="other_sheets",
    )


def _text(value: object, line: int, problems: list[Problem]) -> str:
    """A cell as a person sees it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return _number(value, line, problems)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value)


def _number(value: float, line: int, problems: list[Problem]) -> str:
    if abs(value) >= 10**EXACT_DIGITS:
        problems.append(_rounded(line))
    return str(int(value)) if float(value).is_integer() else repr(value)


def as_csv(rows: Iterable[Sequence[str]]) -> str:
    """Rows as CSV of one fixed form: commas, LF."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
