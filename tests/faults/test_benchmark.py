"""The measuring of fault finding works, and says what it promises."""

from __future__ import annotations

import json
from pathlib import Path
from random import Random

import pytest

from benchmarks.fault import main
from benchmarks.generate_faults import Sizes, complaint, generate_faults
from lastscrew.device.reading import load_device
from lastscrew.device.writing import write_device


def test_a_small_run_measures_everything(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Times, gaps, the rules' costs and the plain expectimax are there, and the two agree."""
    target = tmp_path / "figures.json"
    assert (
        main(["--sizes", "5", "--seeds", "0", "--jobs", "3", "--brute", "1", "--json", str(target)])
        == 0
    )
    out = capsys.readouterr().out
    assert "change the likeliest part first" in out
    assert "1/1" in out
    figures = json.loads(target.read_text(encoding="utf-8"))
    run = figures["runs"][0]
    assert run["proven"]
    assert run["far_gap"] == pytest.approx(0, abs=1e-9)
    assert len(run["proposals_s"]) == 4
    assert set(run["costs"]) == set(run["spread"])
    assert len(run["costs"]) == 4
    assert all(small["agrees"] for small in figures["small"])


def test_a_generated_machine_has_what_was_asked_for_and_is_the_same_every_time() -> None:
    """25 faults, 25 checks and mends, a valid file; a complaint shows at least one symptom."""
    device = generate_faults(Sizes(25, 25), 3)
    assert device == generate_faults(Sizes(25, 25), 3)
    assert len(device.faults) == 25
    assert len(device.checks) == 12 + 1
    assert len({repr(fault.mends) for fault in device.faults.values()}) == 13
    assert load_device(write_device(device)).faults.keys() == device.faults.keys()
    fault, shown = complaint(device, Random(1))
    assert fault in device.faults
    assert shown
