"""Opening costs kept in the data folder: taken up again, never trusted if damaged, bounded."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from lastscrew.bench import opening_tables
from lastscrew.bench.opening_tables import TableFolder, table_name
from lastscrew.bench.pages import faults
from lastscrew.bench.workshop.fault_desk import FaultDesk, Shown
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.proposing import Terms, model_for, prepared
from tests.bench.conftest import Bench
from tests.bench.faults.radio import radio
from tests.bench.faults.test_fault_pages import case

NAME = table_name(radio(), Terms())


def asked(folder: TableFolder | None) -> Shown:
    """What a process that has just begun proposes."""
    return FaultDesk().ask(radio(), Evidence(("silent",)), (), Terms(), 60.0, folder=folder)


def fresh() -> DeviceOpenings:
    """Opening costs of which nothing is known yet."""
    return model_for(radio(), Evidence()).openings


def test_what_was_kept_need_not_be_worked_out_again(tmp_path: Path) -> None:
    """All moves are known from the table, and they are the same."""
    folder = TableFolder(tmp_path / "openings")
    openings = prepared(radio())
    assert folder.keep(NAME, openings)
    table = folder.read(NAME)
    again = fresh()
    assert isinstance(table, dict)
    assert again.take(table)
    assert again.prepare() == 0
    assert again.table() == openings.table()


def test_a_process_that_begins_takes_up_what_another_has_kept(tmp_path: Path) -> None:
    """Proof that it is read: a sound table with other costs gives other costs."""
    folder = TableFolder(tmp_path)
    first = asked(folder)
    assert asked(folder) == first == asked(None)
    (path,) = tmp_path.iterdir()
    table = folder.read(NAME)
    assert isinstance(table, dict)
    for name in ("moves", "rough"):
        table[name] = [[*row[:2], row[2] + 600_000, *row[3:]] for row in table[name]]
    body = json.dumps(table).encode()
    path.write_bytes(sha256(body).hexdigest().encode() + b"\n" + body)
    dearer = asked(folder)
    assert dearer.next is not None
    assert first.next is not None
    assert dearer.next.before_cost != first.next.before_cost


@pytest.mark.parametrize("damage", ["digit", "cut", "empty", "other"])
def test_a_damaged_table_is_as_good_as_none(tmp_path: Path, damage: str) -> None:
    """One digit changed is enough; the proposal is the same as without, and the table is put right."""
    folder = TableFolder(tmp_path)
    first = asked(folder)
    (path,) = tmp_path.iterdir()
    sound = path.read_bytes()
    at = next(n for n in range(len(sound) - 1, 0, -1) if chr(sound[n]) in "12345678")
    path.write_bytes(
        {
            "digit": sound[:at] + bytes([sound[at] + 1]) + sound[at + 1 :],
            "cut": sound[: len(sound) // 2],
            "empty": b"",
            "other": b"\xff" * 100,
        }[damage]
    )
    assert folder.read(NAME) is None
    assert asked(folder) == first
    assert folder.read(NAME) is not None


def test_the_folder_is_bounded_and_the_longest_unused_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By number and by size; what was read lately stays, the newest always."""
    folder = TableFolder(tmp_path)
    openings = fresh()
    monkeypatch.setattr(opening_tables, "MOST_TABLES", 3)
    for number, name in enumerate("abc"):
        assert folder.keep(name, openings)
        os.utime(tmp_path / f"{name}.table", (number, number))
    assert folder.read("a") is not None
    assert folder.keep("d", openings)
    assert sorted(path.stem for path in tmp_path.iterdir()) == ["a", "c", "d"]
    monkeypatch.setattr(opening_tables, "MOST_BYTES_IN_ALL", 10)
    assert folder.keep("e", openings)
    assert [path.stem for path in tmp_path.iterdir()] == ["e"]
    monkeypatch.setattr(opening_tables, "MOST_BYTES", 10)
    assert folder.read("e") is None
    assert not folder.keep("f", openings)
    assert [path.stem for path in tmp_path.iterdir()] == ["e"]


def test_where_nothing_can_be_kept_the_search_goes_on_without(tmp_path: Path) -> None:
    """The folder is a file."""
    path = tmp_path / "openings"
    path.write_text("no folder", encoding="utf-8")
    folder = TableFolder(path)
    assert folder.read(NAME) is None
    assert not folder.keep(NAME, fresh())
    assert asked(folder).next is not None


def test_a_table_is_that_of_one_device_file_and_what_is_fitted() -> None:
    """Another revision, another part in stock, other joints open: another name."""
    other = replace(radio(), revision_hash="0" * 64)
    names = {
        NAME,
        table_name(other, Terms()),
        table_name(radio(), Terms(stock=("coil",))),
        table_name(radio(), Terms(not_fitted=("lamp",))),
        table_name(radio(), Terms(), ("back_screws",)),
    }
    assert len(names) == 5


def test_the_page_keeps_them_in_the_data_folder(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One table, whole, and nothing beside it."""
    monkeypatch.setattr(faults, "DESK", FaultDesk(wait_s=60.0))
    place = case()
    technician = bench.client("technician")
    technician.post(f"{place}symptoms/", {"shows": "silent"})
    technician.get(place)
    assert [path.name for path in bench.config.openings.iterdir()] == [f"{NAME}.table"]
    assert TableFolder(bench.config.openings).read(NAME) is not None
