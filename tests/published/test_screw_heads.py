"""Sizes of screw heads against the tables that they were read from, and against each other."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from lastscrew.fasteners.outlines import (
    BUTTON_HEADS_MM,
    FLAT_HEADS_MM,
    HEXAGON_HEADS_MM,
    NUTS_MM,
    PAN_HEADS_MM,
    SOCKET_HEADS_MM,
)

REFERENCE = Path(__file__).parents[2].parent / "shared" / "reference" / "screws" / "screws.csv"

ISO_7045 = {
    1.6: (3.2, 1.3),
    2.0: (4.0, 1.6),
    2.5: (5.0, 2.1),
    3.0: (5.6, 2.4),
    3.5: (7.0, 2.6),
    4.0: (8.0, 3.1),
    5.0: (9.5, 3.7),
}
"""Thread diameter to largest head diameter and height, mm: ISO 7045 as given by fullerfasteners.com."""

DIN_EN_ISO_7046_2 = {
    2.0: (3.8, 1.2),
    2.5: (4.7, 1.5),
    3.0: (5.5, 1.65),
    3.5: (7.3, 2.35),
    4.0: (8.4, 2.7),
    5.0: (9.3, 2.7),
    6.0: (11.3, 3.3),
    8.0: (15.8, 4.65),
    10.0: (18.3, 5.0),
}
"""The same: DIN EN ISO 7046-2 as given by fasten.it (we read ours at fullerfasteners.com)."""


@pytest.mark.parametrize("diameter", sorted(ISO_7045))
def test_pan_heads_are_those_of_iso_7045(diameter: float) -> None:
    assert PAN_HEADS_MM[diameter] == ISO_7045[diameter]


@pytest.mark.parametrize("diameter", sorted(DIN_EN_ISO_7046_2))
def test_flat_heads_are_those_of_iso_7046_2_in_a_second_source(diameter: float) -> None:
    assert FLAT_HEADS_MM[diameter] == DIN_EN_ISO_7046_2[diameter]


def test_pan_heads_agree_with_the_reference_table() -> None:
    if not REFERENCE.exists():
        pytest.skip("the reference tables are not beside this checkout")
    with REFERENCE.open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["dk_max_mm"]]
    assert len(rows) >= 7
    for row in rows:
        size = (float(row["dk_max_mm"]), float(row["k_max_mm"]))
        assert PAN_HEADS_MM[float(row["thread"].removeprefix("M"))] == size


def test_heads_grow_with_the_thread_and_are_wider_than_it() -> None:
    tables = (
        PAN_HEADS_MM,
        FLAT_HEADS_MM,
        SOCKET_HEADS_MM,
        BUTTON_HEADS_MM,
        HEXAGON_HEADS_MM,
        NUTS_MM,
    )
    for table in tables:
        sizes = [table[diameter] for diameter in sorted(table)]
        assert sizes == sorted(sizes)
        assert all(head > diameter for diameter, (head, _) in table.items())
