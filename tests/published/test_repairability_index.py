"""The EU repairability index: published test values, through our arithmetic.

Source: Regulation (EU) 2023/1669 as given by secondary sources (docs.rs pages of a public implementation and
its golden values, a testing house's page, an industry author's article).
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from lastscrew.measures import index

REFERENCE = (
    Path(__file__).resolve().parents[3]
    / "shared"
    / "reference"
    / "eu_2023_1669_repairability_index.json"
)
NAMES = ("SDD", "SF", "ST", "SSP", "SSU", "SRI")

# (what, the six parameters, R, class); "read" in a source, or computed by hand from the formula.
VECTORS = [
    ("all 5", (5, 5, 5, 5, 5, 5), "5", "A", "read"),
    ("all 4", (4, 4, 4, 4, 4, 4), "4", "A", "read"),
    ("all 3", (3, 3, 3, 3, 3, 3), "3", "C", "read"),
    ("all 2", (2, 2, 2, 2, 2, 2), "2", "D", "read"),
    ("all 1", (1, 1, 1, 1, 1, 1), "1", "E", "read"),
    ("parts 3, product-level 5", (3, 3, 3, 5, 5, 5), "3.9", "B", "read"),
    ("SDD 1, rest 5", (1, 5, 5, 5, 5, 5), "4", "A", "computed"),
    ("ST 1, rest 5", (5, 5, 1, 5, 5, 5), "4.4", "A", "computed"),
]


@pytest.mark.parametrize(("what", "values", "published", "letter", "status"), VECTORS)
def test_index_and_class(
    what: str, values: tuple[int, ...], published: str, letter: str, status: str
) -> None:
    """The index to the last digit, and its class."""
    result = index.index_of(dict(zip(NAMES, values, strict=True)))
    assert result == Fraction(published)
    assert index.class_of(result) == letter


def test_depth_by_part() -> None:
    """Mixed depths of a rigid device: 3.65 (computed by hand from the weights)."""
    scores = {"BAT": 5, "DA": 3, "BC": 5, "FFC": 3, "RFC": 3, "EC": 2, "BUT": 2, "MIC": 2, "SPK": 3}
    assert index.weighted(scores) == Fraction("3.65")


@pytest.mark.parametrize(
    ("steps", "score"),
    [(0, 5), (2, 5), (3, 4), (5, 4), (6, 3), (10, 3), (11, 2), (15, 2), (16, 1), (99, 1)],
)
def test_bands_of_depth(steps: int, score: int) -> None:
    """Both ends of every band."""
    assert index.depth_score(steps) == score


def test_remote_authorisation_costs_five_steps() -> None:
    """Five steps where a new part must be authorised from afar: 5 becomes 10."""
    assert index.depth_score(5, authorisation=True) == index.depth_score(10) == 3
    assert index.depth_score(0, authorisation=True) == 4


@pytest.mark.skipif(not REFERENCE.is_file(), reason="the reference is not beside the repository")
def test_all_of_the_reference() -> None:
    """Weights, bands, scores, classes and every vector of the reference."""
    reference: dict[str, Any] = json.loads(REFERENCE.read_text("utf-8"))
    for kind, weights in reference["part_weights"].items():
        ours = index.part_weights(foldable=kind == "foldable")
        assert {code: float(weight) for code, weight in ours.items()} == weights
        assert sum(ours.values()) == 1
    assert {k: float(v) for k, v in index.PARAMETERS.items()} == reference["param_weights"]
    bands = [(b["max_steps"], b["score"]) for b in reference["SDD_steps_to_score"]]
    assert bands == [*index.DEPTH_BANDS, (None, index.LEAST)]
    assert dict(index.FASTENER_SCORES) == reference["fasteners"]
    assert list(index.TOOL_SCORES.values()) == list(reference["tools"].values())
    assert {k: float(v) for k, v in index.CLASSES} == reference["classes_lower_bound"]
    assert [index.update_score(years) for years in (4, 5, 6, 7, 9)] == [None, 1, 3, 5, 5]
    for vector in reference["vectors"]:
        if "part_scores" in vector:
            assert float(index.weighted(vector["part_scores"])) == vector["SDD"]
        else:
            values = dict(zip(NAMES, vector["SDD,SF,ST,SSP,SSU,SRI"], strict=True))
            assert float(index.index_of(values)) == vector["R"], vector["name"]
            assert index.class_of(index.index_of(values)) == vector["class"], vector["name"]
