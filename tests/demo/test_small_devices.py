"""Small machines, each special in one way (said in its first comment), against totals worked out by hand."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from ruamel.yaml import YAML

from lastscrew.device.reading import load_device, read_device
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan

FOLDER = Path(__file__).resolve().parents[1] / "devices"
FILES = sorted(FOLDER.glob("*.device.yaml"))


class Case(NamedTuple):
    """One request to one machine, and what it takes by hand."""

    file: Path
    request: Request
    joints: list[str]
    total_ms: int | None


def cases() -> list[Case]:
    """All of ``x_expect``, file by file."""
    found = []
    for file in FILES:
        expected: list[dict[str, Any]] = YAML(typ="safe").load(file)["x_expect"]
        for one in expected:
            asked: dict[str, Any] = {
                key: tuple(value) if isinstance(value, list) else value
                for key, value in one.items()
                if key not in {"joints", "total_s"}
            }
            request = Request(**asked)
            total_s = one.get("total_s")
            total_ms = None if total_s is None else round(total_s * 1000)
            found.append(Case(file, request, one["joints"], total_ms))
    return found


def case_name(case: Case) -> str:
    """Its file and what is wanted."""
    plain = Request()
    wanted = [
        f"{field.name}={value}"
        for field in fields(Request)
        for value in [getattr(case.request, field.name)]
        if value != getattr(plain, field.name)
    ]
    return f"{case.file.name.partition('.')[0]}: {' '.join(wanted)}"


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_reads_without_a_problem(file: Path) -> None:
    """A small machine has no error and no warning of its own."""
    result = read_device(file.read_bytes(), file.name)
    assert [(p.code, p.path) for p in result.errors] == []
    assert result.device is not None


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_says_what_is_special(file: Path) -> None:
    """The first comment says why the file is there."""
    assert file.read_text(encoding="utf-8").startswith("# Special: ")


@pytest.mark.parametrize("case", cases(), ids=case_name)
def test_opens_what_was_worked_out_by_hand(case: Case) -> None:
    """Exactly the joints that a careful person would open are open at the turning point."""
    found = plan(load_device(case.file.read_bytes(), case.file.name), case.request)
    assert sorted(found.open_at_turning) == case.joints
    assert found.proven


@pytest.mark.parametrize("case", [c for c in cases() if c.total_ms is not None], ids=case_name)
def test_costs_what_was_worked_out_by_hand(case: Case) -> None:
    """The total agrees with the sum in the file's comment, to the millisecond."""
    found = plan(load_device(case.file.read_bytes(), case.file.name), case.request)
    assert found.total_ms == case.total_ms
