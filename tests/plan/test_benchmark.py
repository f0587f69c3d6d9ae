"""The machines that the planner is measured on are what they are said to be, and the measuring works."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchmarks.generate import SIZES, generate, requests
from benchmarks.plan import main, percentile
from lastscrew.device.model import FLEXIBLE_KINDS
from lastscrew.device.reading import load_device
from lastscrew.device.writing import write_device
from tests.oracle.rules import ask, reachable


@pytest.mark.parametrize(("modules", "joints"), [(18, 50), (30, 80), (60, 150), (115, 300)])
def test_sizes_are_about_what_they_are_called(modules: int, joints: int) -> None:
    assert SIZES[modules] == f"about {joints}"
    counts = [len(generate(modules, seed).joints) for seed in range(60)]
    assert abs(sum(counts) / len(counts) - joints) < 0.07 * joints


def test_a_seed_repeats_its_machine_and_another_does_not() -> None:
    assert generate(18, 4) == generate(18, 4)
    assert generate(18, 4) != generate(18, 5)
    assert generate(18, 4, varied=True) != generate(18, 4)


def test_modules_are_tied_and_covered_with_the_chances_that_are_promised() -> None:
    """Screws on the board 1/3; under the pack 0.3; a second access 0.15; connector 0.8, route 0.35, tape 0.25."""
    screws = []
    ties: dict[str, int] = dict.fromkeys(FLEXIBLE_KINDS, 0)
    for seed in range(100):
        device = generate(30, seed)
        screws += [device.joints[f"m{n}_screws"] for n in range(1, 31)]
        for joint in device.joints.values():
            if joint.joins[0].startswith("m") and joint.kind in ties:
                ties[joint.kind] += 1
    count = len(screws)
    assert {screw.count for screw in screws} == {1, 2, 3, 4, 5}
    shares = {
        "on the board": sum("board" in s.joins for s in screws) / count,
        "under the pack": sum("pack" in s.accesses[0].under for s in screws) / count,
        "a second access": sum(len(s.accesses) == 2 for s in screws) / count,
        "a connector": (ties["plug"] + ties["ribbon"] + ties["coax"]) / count,
        "a route": ties["route"] / count,
        "a tape": ties["tape"] / count,
    }
    expected = (1 / 3, 0.3, 0.15, 0.8, 0.35, 0.25)
    for (name, share), chance in zip(shares.items(), expected, strict=True):
        assert abs(share - chance) < 0.04, (name, share)
    over = [len([p for p in s.accesses[0].under if p.startswith("m")]) for s in screws]
    assert set(over) == {0, 1, 2}
    assert len({s.accesses[0].tool for s in screws}) >= 3
    assert all(s.accesses[0].side != s.accesses[1].side for s in screws if len(s.accesses) == 2)


@pytest.mark.parametrize("varied", [False, True])
def test_every_request_is_possible(varied: bool) -> None:
    for seed in range(20):
        device = generate(18, seed, varied=varied)
        for request in requests(device).values():
            question = ask(device, request)
            assert reachable(question, frozenset(question.bonds), frozenset()), seed


def test_a_machine_is_a_device_file_without_errors() -> None:
    device = generate(18, 0)
    assert load_device(write_device(device)).joints == device.joints


def test_measuring_writes_figures_that_can_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = tmp_path / "plan.json"
    options = ["--sizes", "2,3", "--seeds", "0-1", "--solver-seeds", "1", "--json", str(report)]
    assert main([*options, "--solver-limit", "2"]) == 0
    shown = capsys.readouterr().out
    assert "median ms" in shown
    written = json.loads(report.read_text(encoding="utf-8"))
    assert [one["modules"] for one in written["figures"]] == [2, 3]
    assert len(written["runs"]) == 12
    assert sum(bool(run["solver"]) for run in written["runs"]) == 6
    assert all(run["proven"] and run["agrees"] and not run["faults"] for run in written["runs"])


def test_percentiles_are_by_nearest_rank() -> None:
    assert percentile(range(1, 101), 0.95) == 95
    assert percentile([3.0], 0.95) == 3.0
    assert percentile([1.0, 2.0], 0.5) == 1.0
