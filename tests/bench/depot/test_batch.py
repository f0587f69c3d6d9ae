"""Tables that strangers send: every problem by its row, nothing trusted, nothing lost."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.bench.depot import tables
from lastscrew.bench.depot.batch import Batch, read_batch, table_as_csv
from lastscrew.bench.depot.tables import MAX_ROWS, as_csv, read_csv, read_table
from lastscrew.bench.depot.taking_in import Known

KNOWN = Known({"larkmoor_13": ("boots",)}, {"larkmoor 13": "larkmoor_13"}, {})


def batch_of(data: bytes | str) -> Batch:
    return read_batch(read_table(data.encode() if isinstance(data, str) else data), KNOWN)


def told(batch: Batch) -> list[tuple[int | None, str]]:
    """(row, code) of every problem."""
    rows = [problem for row in batch.rows for problem in row.intake.problems]
    return [(problem.line, problem.code) for problem in (*batch.problems, *rows)]


def workbook(rows: list[list[object]], more_sheets: int = 0) -> bytes:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for row in rows:
        sheet.append(row)
    for number in range(more_sheets):
        book.create_sheet(f"More {number}")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


GOOD = 'Model,Serial number,Complaint,Battery,Liquid,Due\nLarkmoor 13,SN1,"hot, loud",sound,no,2026-12-01\n'


def test_a_good_table_can_be_stored() -> None:
    batch = batch_of(GOOD)
    assert told(batch) == []
    assert batch.can_be_stored
    taken = batch.rows[0].intake.taken
    assert taken is not None
    assert (taken.device, taken.serial, taken.pack) == ("larkmoor_13", "SN1", "sound")
    assert batch.rows[0].intake.owner.complaint == "hot, loud"


@pytest.mark.parametrize(
    "data",
    [
        GOOD.replace("\n", "\r\n").encode("utf-8-sig"),
        GOOD.encode("utf-16"),
        b"sep=;\r\n" + GOOD.replace("hot, loud", "hot - loud").replace(",", ";").encode(),
        GOOD.replace('"hot, loud"', "hot").replace(",", "\t").encode(),
        b"\r\n\r\n" + GOOD.encode(),
        GOOD.replace("\n", "\r").encode(),
    ],
    ids=["windows", "utf-16", "named separator", "tabs", "blank lines before", "old line ends"],
)
def test_dialects_of_csv_are_found_out(data: bytes) -> None:
    batch = batch_of(data)
    assert batch.can_be_stored, told(batch)
    assert batch.rows[0].form["serial"] == "SN1"


@pytest.mark.parametrize("sign", ['"', "\\", " ", "a", "\r"])
def test_a_named_separator_that_can_be_none_is_found_out_instead(sign: str) -> None:
    table = read_csv(f"sep={sign}\ndevice,serial\nlarkmoor_13,A1\n")
    assert [row.cells for row in table.rows][-1] == ("larkmoor_13", "A1")


def test_every_problem_is_told_with_its_row() -> None:
    batch = batch_of(
        "device,serial,due,pack,liquid,complaint\n"
        "larkmoor_13,A1,2026-12-01,sound,no,ok\n"
        "elmtop,A2,soon,fat,maybe,ok\n"
        "\n"
        "larkmoor_13,,,,,\n"
        "larkmoor_13,a1,,,,password: hunter2\n"
        "larkmoor_13,A5,,,,one,too many\n"
    )
    assert told(batch) == [
        (3, "no_truth"),
        (3, "unknown_device"),
        (3, "no_date"),
        (3, "unfit"),
        (5, "no_serial"),
        (6, "pass_code"),
        (6, "twin"),
        (7, "too_many_cells"),
    ]
    assert not batch.can_be_stored
    assert batch.wrong_rows == 4


def test_a_column_that_is_not_known_or_stands_twice_is_told_and_nothing_is_stored() -> None:
    batch = batch_of("device,serial,SN,colour\nlarkmoor_13,A1,A1,red\n")
    assert told(batch) == [(1, "twin_column"), (1, "unknown_column")]
    assert not batch.can_be_stored


@pytest.mark.parametrize("data", ["", "  \n ", "device,serial\n", "\n\n"])
def test_a_table_without_rows_is_said_to_have_none(data: str) -> None:
    batch = batch_of(data)
    assert not batch.can_be_stored
    assert {code for _, code in told(batch)} <= {"empty", "no_rows"}
    assert told(batch)


def test_a_hazard_in_a_batch_asks_who_was_told_in_its_row() -> None:
    batch = batch_of("device,serial,battery\nlarkmoor_13,A1,swollen\n")
    assert {code for line, code in told(batch) if line == 2} == {"nobody_told", "no_place", "power"}
    head = "device,serial,battery,told,put where,power off\n"
    assert batch_of(head + "larkmoor_13,A1,swollen,Mr Moss,metal box,yes\n").can_be_stored


def test_a_workbook_is_read_with_its_dates_numbers_and_truths() -> None:
    head: list[object] = ["Device", "Serial", "Due", "Liquid", "Asset tag"]
    data = workbook([head, ["larkmoor_13", 123456, date(2026, 12, 1), False, 7.5]], more_sheets=1)
    batch = batch_of(data)
    assert told(batch) == [(None, "other_sheets")]
    assert batch.can_be_stored
    assert batch.rows[0].form["serial"] == "123456"
    assert batch.rows[0].form["asset_tag"] == "7.5"
    assert batch.rows[0].form["due"] == "2026-12-01"


def test_a_serial_number_that_a_spreadsheet_has_rounded_is_refused() -> None:
    assert told(batch_of(workbook([["device", "serial"], ["larkmoor_13", 1234567890123456789]])))[
        0
    ] == (2, "rounded")
    assert told(batch_of("device,serial\nlarkmoor_13,1.23457E+18\n"))[0] == (2, "rounded")


def test_formulas_of_a_workbook_are_never_worked_out_or_kept() -> None:
    batch = batch_of(
        workbook([["device", "serial"], ["larkmoor_13", '=HYPERLINK("http://x","y")']])
    )
    assert told(batch) == [(2, "no_serial")]


def packed(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def repacked(data: bytes, change: dict[str, bytes]) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    return packed(members | change)


def test_a_workbook_that_unpacks_without_end_is_refused_unread(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tables, "MAX_UNPACKED_BYTES", 100_000)
    bomb = repacked(workbook([["device"]]), {"xl/more.xml": b" " * 200_000})
    assert len(bomb) < 20_000
    assert told(batch_of(bomb)) == [(None, "trap")]


def test_a_workbook_that_lies_about_its_size_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    data = bytearray(repacked(workbook([["device"]]), {"xl/more.xml": b" " * 200_000}))
    monkeypatch.setattr(tables, "MAX_UNPACKED_BYTES", 100_000)
    data = bytearray(
        bytes(data).replace((200_000).to_bytes(4, "little"), (100).to_bytes(4, "little"))
    )
    assert told(batch_of(bytes(data))) == [(None, "trap")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_workbook_that_defines_entities_is_refused(encoding: str) -> None:
    text = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha">]><x>&a;</x>'
    data = repacked(workbook([["device"]]), {"xl/worksheets/sheet1.xml": text.encode(encoding)})
    assert told(batch_of(data)) == [(None, "trap")]


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (packed({"word/document.xml": b"<x/>"}), "trap"),
        (b"PK\x03\x04" + b"\0" * 50, "trap"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 50, "old_workbook"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "binary"),
        (b"x" * (tables.MAX_BYTES + 1), "too_large"),
        (b'device,serial\nlarkmoor_13,"A1\n', "broken_csv"),
    ],
    ids=["no workbook", "damaged", "old kind", "picture", "too large", "open quotation"],
)
def test_what_is_no_table_is_refused_with_a_reason(data: bytes, code: str) -> None:
    batch = batch_of(data)
    assert code in {found for _, found in told(batch)}
    assert not batch.can_be_stored


def test_a_workbook_with_bits_that_turned_over_is_told_as_damaged() -> None:
    rows: list[list[object]] = [["larkmoor_13", f"S{n}"] for n in range(300)]
    whole = workbook([["device", "serial"], *rows])
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        entry = archive.getinfo("xl/worksheets/sheet1.xml")
    begin = entry.header_offset + 30 + len(entry.filename)
    for at in range(begin, begin + entry.compress_size - 8, max(1, entry.compress_size // 40)):
        data = bytearray(whole)
        data[at] ^= 0xFF
        assert told(batch_of(bytes(data))) == [(None, "trap")]


def test_more_rows_than_allowed_are_refused_not_cut() -> None:
    batch = batch_of(
        "device,serial\n" + "".join(f"larkmoor_13,S{n}\n" for n in range(MAX_ROWS + 1))
    )
    assert (None, "too_many") in told(batch)
    assert not batch.can_be_stored
    fits = batch_of("device,serial\n" + "".join(f"larkmoor_13,S{n}\n" for n in range(MAX_ROWS)))
    assert fits.can_be_stored


def test_a_row_far_down_a_workbook_is_not_lost_silently() -> None:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet.append(["device", "serial"])
    sheet.cell(row=900_000, column=1, value="larkmoor_13")
    out = io.BytesIO()
    book.save(out)
    assert (None, "too_many") in told(batch_of(out.getvalue()))


def test_western_windows_text_is_read_and_said() -> None:
    batch = batch_of("device,serial,owner\nlarkmoor_13,A1,Zoë\n".encode("cp1252"))
    assert told(batch) == [(None, "encoding")]
    assert batch.can_be_stored
    assert batch.rows[0].intake.owner.name == "Zoë"


CELLS = st.text(
    st.characters(codec="utf-8", exclude_characters="\r\0\ufeff\u00a0"), max_size=12
).map(str.strip)


@given(st.lists(st.lists(CELLS, min_size=2, max_size=5), min_size=1, max_size=8))
def test_what_is_shown_for_correction_reads_as_the_same_rows(rows: list[list[str]]) -> None:
    """Law: a table written for correction and read again is the same table."""
    table = read_csv(as_csv([["serial", "device", "due"], *rows]))
    again = read_csv(table_as_csv(table))
    if not table.problems:
        assert [row.cells for row in again.rows] == [row.cells for row in table.rows]


@given(st.binary(max_size=400))
def test_no_file_whatever_breaks_the_reader(data: bytes) -> None:
    batch = batch_of(data)
    assert batch.can_be_stored is (
        bool(batch.rows) and not [c for c in told(batch) if c[1] != "encoding"]
    )
