"""A second device, written from the documents alone, held to aGrUM by a reading of its own (words, limits, swaps)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from lastscrew.device.reading import load_device, read_device
from lastscrew.faults.evidence import Evidence, fault_chances, standing
from lastscrew.faults.model import fault_model
from tests.faults.bayes import Figures, Network

FILE = Path(__file__).with_name("warmbrook.device.yaml")
WORDS = {
    "always": 0.98, "nearly_always": 0.92, "usually": 0.8, "often": 0.65, "sometimes": 0.3, "seldom": 0.15,
    "rarely": 0.06, "hardly_ever": 0.03, "never": 0.01,
}  # fmt: skip
"""As docs/faults.md has them."""
LEAK, SYMPTOM_LEAK = 0.01, 0.002
"""As docs/device-file.md has them."""

CASES: list[tuple[tuple[str, ...], tuple[str, ...], dict[str, tuple[str, int]], float]] = [
    (("cold",), (), {"rod_ohm": ("good", 0)}, 0),
    (("wrong_temp",), ("noisy",), {"sensor_ohm": ("14.2", 2), "heat_up": ("1", 1)}, 0),
    (("dead",), (), {"other_display": ("good", 0), "look_inside": ("wet", 1)}, 0),
    (("dead", "drowned"), (), {"fuse_led": ("bad", 1), "look_inside": ("wet", 1)}, 0.4),
    (("still",), (), {"turn_wheel": ("stiff", 1), "listen": ("rattle", 1), "heats": ("3", 0)}, 0.1),
]


def _chance(said: object) -> float:
    return WORDS[said] if isinstance(said, str) else float(str(said))


def _outcomes(check: dict[str, Any]) -> list[str]:
    if "measure" in check:
        return ["good", *(limit for limit in ("low", "high") if limit in check["measure"])]
    return list(check.get("outcomes", ("good", "bad")))


def _row(said: dict[str, object], outcomes: list[str]) -> tuple[float, ...]:
    bad = [_chance(said.get(outcome, 0)) for outcome in outcomes[1:]]
    return (1 - sum(bad), *bad)


def _figures(file: dict[str, Any], checks: list[str], second: float) -> Figures:
    """The numbers of the file as its documents say that it is read."""
    faults, told = file["faults"], {}
    for name in checks:
        check = file["checks"][name]
        outcomes = _outcomes(check)
        leak = _row(check.get("leak", dict.fromkeys(outcomes[1:], LEAK)), outcomes)
        given = {}
        for fault, entry in faults.items():
            said = entry.get("checks", {}).get(name)
            if said is None and "swap_test" in check:
                said = 0.02 if entry.get("part") == check["swap_test"] else 0.98
            if said is not None:
                given[fault] = _row(
                    said if isinstance(said, dict) else {outcomes[1]: said}, outcomes
                )
        told[name] = (leak, given)
    symptoms = {
        symptom: (
            SYMPTOM_LEAK,
            {
                f: _chance(e["symptoms"][symptom])
                for f, e in faults.items()
                if symptom in e["symptoms"]
            },
        )
        for symptom in file["symptoms"]
    }
    shares = {fault: float(entry["prior"]) for fault, entry in faults.items()}
    return Figures(shares, symptoms, told, second)


def test_the_file_is_without_errors() -> None:
    """What a stranger writes from the documents is read; three warnings are about screws that hold a part alone."""
    found = read_device(FILE.read_bytes())
    assert {problem.code for problem in found.problems} == {"screws_alone"}
    assert found.device is not None


@pytest.mark.parametrize(("shows", "lacks", "results", "second"), CASES)
def test_what_may_be_wrong_is_that_of_the_library(
    shows: tuple[str, ...],
    lacks: tuple[str, ...],
    results: dict[str, tuple[str, int]],
    second: float,
) -> None:
    """Outcomes by name, by value and by a function's id; words and numbers; single faults and pairs."""
    file = YAML(typ="safe").load(FILE)
    number = {"heats": "heat_up"}  # a function whose check is an entry of checks
    seen = {number.get(name, name): at for name, (_, at) in results.items()}
    expected, _ = Network(_figures(file, list(seen), second)).chances(shows, lacks, seen)

    model = fault_model(
        load_device(FILE.read_bytes()), stock=("display", "pump"), second_fault=second
    )
    told = tuple((name, said) for name, (said, _) in results.items())
    found, _ = fault_chances(model, standing(model, Evidence(shows, lacks, told)).belief)
    assert found == pytest.approx(expected, abs=1e-9)
