"""Two procedures that others wrote, with hand labels that others made, are read as well as is asked.

The texts and their sources lie in the reference folder beside the project (its README names them); the figures that are
asked are precision and recall of the actions, counts, what is joined, and what must come before.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchmarks.reading import score
from lastscrew.reading import read
from lastscrew.reading.sources import open_source

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "reference" / "reading"
ASKED = {"precision": 0.9, "recall": 0.9, "counts": 0.9, "joins": 0.85, "prerequisites": 0.85}


@pytest.mark.parametrize("name", ["gnss-receiver", "voicebox-disassembly"])
def test_a_real_procedure_is_read_as_well_as_is_asked(name: str) -> None:
    text = FOLDER / f"{name}.txt"
    if not text.exists():
        pytest.skip("the reference folder is not here")
    gold = json.loads((FOLDER / f"{name}.gold.json").read_text("utf-8"))
    found = score(name, read(open_source(text.read_bytes(), text.name)).as_json(), gold).as_json()
    short = {key: found[key] for key, least in ASKED.items() if not _reaches(found[key], least)}
    assert short == {}


def _reaches(value: object, least: float) -> bool:
    return isinstance(value, float | int) and value >= least
