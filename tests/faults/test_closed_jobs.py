"""Closed jobs as text: strict, with every problem at once."""

from __future__ import annotations

import pytest

from lastscrew.faults.closed_jobs import MAX_BYTES, read_jobs, without
from lastscrew.faults.learning import ClosedJob
from lastscrew.problems import InputError, Problem

GOOD = b"""\
{"job": "J-17", "faults": ["fan_worn"], "shows": ["hot"], "results": {"fan_sound": "rattles", "load": 91.5}}

{"job": "J-18", "faults": ["a", "b"], "lacks": ["no_charge"]}
"""


def problems_of(data: bytes) -> list[Problem]:
    """What is wrong with a file."""
    with pytest.raises(InputError) as caught:
        read_jobs(data, "jobs.jsonl")
    return list(caught.value.problems)


def test_jobs_are_read_line_by_line() -> None:
    """Blank lines are passed over; numbers stand for measured values."""
    assert read_jobs(GOOD, "jobs.jsonl") == (
        ClosedJob("J-17", ("fan_worn",), {"fan_sound": "rattles", "load": "91.5"}, ("hot",)),
        ClosedJob("J-18", ("a", "b"), {}, (), ("no_charge",)),
    )


def test_every_problem_is_told_at_once_with_its_line() -> None:
    """Ten slips, ten messages, none of them a stack trace."""
    lines = [
        b"no json",
        b'["a list"]',
        b'{"job": "", "faults": ["a"]}',
        b'{"job": "J-1", "faults": []}',
        b'{"job": "J-2", "faults": ["a"], "result": {}}',
        b'{"job": "J-3", "faults": ["a"], "results": ["x"]}',
        b'{"job": "J-4", "faults": ["a"], "results": {"c": "good", "c": "bad"}}',
        b'{"job": "J-5", "faults": ["a"], "faults": ["b"]}',
        b'{"job": "J-6", "faults": ["a"], "shows": "dark"}',
        b'{"job": "J-7", "faults": ["a", "a"]}',
        b'{"job": "J-8", "faults": ["a"]}',
        b'{"job": "J-8", "faults": ["a"]}',
        b'{"job": "J-9", "faults": ["a"], "results": {"c": true}}',
        b'{"job": null, "faults": {"a": 1}}',
    ]
    found = problems_of(b"\n".join(lines))
    assert sorted({p.line for p in found if p.line}) == [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 13, 14]
    assert all(p.file == "jobs.jsonl" and p.message for p in found)
    assert any(p.remedy == "Did you mean results?" for p in found)


@pytest.mark.parametrize(
    "data", [b"\xff\xfe", b"x" * (MAX_BYTES + 1), b'{"job": ' + b"[" * 100_000]
)
def test_hostile_files_get_one_message(data: bytes) -> None:
    """No UTF-8, too long, nested without end."""
    assert len(problems_of(data)) == 1


def test_a_job_or_a_result_is_taken_back_by_name() -> None:
    """JOB takes back all of it, JOB:CHECK one result; what is not there is told, all at once."""
    jobs = read_jobs(GOOD, "jobs.jsonl")
    assert [job.id for job in without(jobs, ("J-17",), "f")] == ["J-18"]
    assert without(jobs, ("J-17:load",), "f")[0].results == {"fan_sound": "rattles"}
    with pytest.raises(InputError) as caught:
        without(jobs, ("J-19", "J-17:lod", "x:y"), "f")
    assert [p.path for p in caught.value.problems] == [
        "--take-back J-19", "--take-back J-17:lod", "--take-back x:y",
    ]  # fmt: skip


@pytest.mark.parametrize("value", [b"NaN", b"Infinity", b"1e999", b"true", b"null"])
def test_a_measured_value_is_finite(value: bytes) -> None:
    """What is no number, or none that can be measured, is told with its line."""
    found = problems_of(b'{"job": "J-1", "faults": ["a"], "results": {"load": ' + value + b"}}")
    assert [(problem.path, problem.line) for problem in found] == [("results", 1)]
