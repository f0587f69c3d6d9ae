"""Learning curves: the examples of the R package learningCurve 1.1.2, and a published 80 % table."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from lastscrew.times.learning import (
    crawford_cumulative,
    crawford_unit,
    midpoint,
    slope,
    wright_block,
    wright_rate,
    wright_unit,
)

REFERENCE = Path(__file__).resolve().parents[3] / "shared" / "reference"

# What is computed, and the figure in the package's manual pages (read; CRAN learningCurve 1.1.2, 2018-03-30).
EXAMPLES = [
    ("Crawford unit 125, t1=100, r=.85", crawford_unit(100, 125, 0.85), "32.23647"),
    ("r=.80", crawford_unit(100, 125, 0.80), "21.13225"),
    ("r=.90", crawford_unit(100, 125, 0.90), "48.00243"),
    ("r=.95", crawford_unit(100, 125, 0.95), "69.9564"),
    ("unit 125 given unit 100 = 100, r=.85", crawford_unit(100, 125, 0.85, 100), "94.90257"),
    ("Crawford cumulative 1..125, r=.85", crawford_cumulative(100, 1, 125, 0.85), "5201.085"),
    ("Wright block 201..250, t1=75, r=.85", wright_block(75, 201, 250, 0.85), "806.772"),
    ("natural slope r=.80", slope(0.80), "-0.3219281"),
    ("slope r=.85", slope(0.85), "-0.2344653"),
    ("slope r=.90", slope(0.90), "-0.1520031"),
    ("rate from T=8250,t=80,n=250 (Wright)", wright_rate(80, 250, 8250), "0.8947908"),
    ("Wright unit 2200, t1=110, r=.885", wright_unit(110, 2200, 0.885), "23.34001"),
    ("midpoint 201..500 r=.75", midpoint(201, 500, 0.75), "334.6103"),
]


@pytest.mark.parametrize(("what", "computed", "published"), EXAMPLES)
def test_published_examples(what: str, computed: float, published: str) -> None:
    """Every example agrees to the last digit that is printed."""
    digits = len(published.split(".")[1])
    assert f"{computed:.{digits}f}" == published


@pytest.mark.skipif(not REFERENCE.is_dir(), reason="the reference is not beside the repository")
def test_every_listed_example_is_here() -> None:
    """No listed example is left out, and our copies are the listed figures."""
    listed = json.loads((REFERENCE / "times" / "learning_curve_examples.json").read_text("utf-8"))
    ours = {what: float(published) for what, _, published in EXAMPLES}
    assert ours == {e["case"]: e["published"] for e in listed["examples"]}


# Unit: Crawford unit time, Crawford cumulative, Wright unit time, first unit 1, rate 80 %.
EIGHTY_PERCENT = {
    1: (1.0, 1.0, 1.0),
    2: (0.8, 1.8, 0.6),
    5: (0.5956, 3.738, 0.4182),
    10: (0.4765, 6.315, 0.3286),
    20: (0.3812, 10.485, 0.2606),
    50: (0.2838, 20.122, 0.1931),
    100: (0.2271, 32.651, 0.1542),
    128: (0.2097, 38.744, 0.1424),
}


def _row(unit: int) -> tuple[float, float, float]:
    return (
        round(crawford_unit(1, unit, 0.8), 4),
        round(crawford_cumulative(1, 1, unit, 0.8), 3),
        round(wright_unit(1, unit, 0.8), 4),
    )


@pytest.mark.parametrize("unit", EIGHTY_PERCENT)
def test_eighty_percent_table(unit: int) -> None:
    """Unit, cumulative and Wright's unit time of the 80 % table, to its printed digits."""
    assert _row(unit) == EIGHTY_PERCENT[unit]


@pytest.mark.skipif(not REFERENCE.is_dir(), reason="the reference is not beside the repository")
def test_whole_eighty_percent_table() -> None:
    """Every row of the table in the reference."""
    with (REFERENCE / "times" / "learning_curve_80pct.csv").open(encoding="utf-8") as file:
        rows = [[float(cell) for cell in row] for row in list(csv.reader(file))[1:]]
    assert len(rows) > 20
    for unit, *published in rows:
        assert list(_row(int(unit))) == published
