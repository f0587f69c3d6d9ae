"""Closed jobs as text: JSON Lines, one job a line, read strictly with every problem at once.

    {"job": "J-17", "faults": ["fan_worn"], "shows": ["hot_and_loud"], "results": {"fan_sound": "rattles"}}

``faults`` says what was wrong in the end. ``results`` are outcomes of checks before anything was mended; a
measured value may stand for the outcome. ``lacks`` are symptoms that were looked for and did not show.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from math import isfinite
from typing import Any, Final

from lastscrew.device.names import nearest
from lastscrew.faults.learning import ClosedJob, without_job, without_result
from lastscrew.problems import InputError, Problem

MAX_BYTES: Final = 16 * 1024 * 1024
MAX_PROBLEMS: Final = 1_000
KEYS: Final = ("job", "faults", "shows", "lacks", "results")


def read_jobs(data: bytes, file: str) -> tuple[ClosedJob, ...]:
    """Closed jobs of a file.

    Args:
        data: Its bytes; one more than ``MAX_BYTES`` says that it is too long.
        file: Its name, for messages.

    Raises:
        InputError: It holds what is no closed job; all problems at once, each with its line.
    """
    if len(data) > MAX_BYTES:
        raise InputError(
            [Problem(f"is longer than {MAX_BYTES // 2**20} MiB", "Split it.", file=file)]
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            [Problem("is not UTF-8", "Save it as UTF-8.", file=file, line=line)]
        ) from None
    jobs: list[ClosedJob] = []
    problems: list[Problem] = []
    seen: dict[str, int] = {}
    for number, entry in enumerate(text.split("\n"), 1):
        if not entry.strip():
            continue
        found = list(_problems(entry))
        problems += [_at(problem, file, number) for problem in found]
        if found:
            continue
        value = json.loads(entry)
        if value["job"] in seen:
            again = _at(
                _wrong("job", f"{value['job']} is in line {seen[value['job']]} already"),
                file,
                number,
            )
            problems.append(again)
            continue
        seen[value["job"]] = number
        jobs.append(_job(value))
    if problems:
        raise InputError(problems[:MAX_PROBLEMS])
    return tuple(jobs)


def without(
    jobs: Sequence[ClosedJob], taken_back: Sequence[str], file: str
) -> tuple[ClosedJob, ...]:
    """The jobs without those, or the results, that are taken back (``JOB`` or ``JOB:CHECK``).

    Raises:
        InputError: There is no such job or result; all of them at once.
    """
    kept = tuple(jobs)
    problems: list[Problem] = []
    for name in taken_back:
        by_id = {job.id: job for job in jobs}
        job, _, check = (name, "", "") if name in by_id else name.rpartition(":")
        if job not in by_id:
            meant = nearest(name, list(by_id))
            problems.append(
                Problem(
                    f'There is no closed job "{name}".',
                    f"Did you mean {meant}?" if meant else "Name one of the file.",
                    path=f"--take-back {name}",
                    file=file,
                    code="unknown_name",
                )
            )
        elif check and check not in by_id[job].results:
            problems.append(
                Problem(
                    f"{job} has no result of {check}.",
                    f"It has {', '.join(sorted(by_id[job].results)) or 'none'}.",
                    path=f"--take-back {name}",
                    file=file,
                    code="unknown_name",
                )
            )
        else:
            kept = without_result(kept, job, check) if check else without_job(kept, job)
    if problems:
        raise InputError(problems)
    return kept


def _at(problem: Problem, file: str, line: int) -> Problem:
    return Problem(
        problem.message, problem.remedy, path=problem.path, file=file, line=line, code=problem.code
    )


def _wrong(key: str, message: str, remedy: str = "") -> Problem:
    return Problem(message, remedy, path=key, code="closed_job")


def _problems(line: str) -> Iterator[Problem]:
    """What is wrong with one line."""
    try:
        pairs = json.loads(line, object_pairs_hook=_Pairs)
    except (ValueError, RecursionError):
        yield _wrong("", "is no JSON", 'Write {"job": …, "faults": […], "results": {…}}.')
        return
    if not isinstance(pairs, _Pairs):
        yield _wrong("", "is no JSON object", 'Write {"job": …, "faults": […], "results": {…}}.')
        return
    names = [name for name, _ in pairs]
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            yield _wrong(name, "stands twice", "Keep one.")
        if name not in KEYS:
            meant = nearest(name, KEYS)
            remedy = f"Did you mean {meant}?" if meant else f"Known: {', '.join(KEYS)}."
            yield _wrong(name, "is unknown", remedy)
    yield from _values(dict(pairs))


class _Pairs(list[tuple[str, Any]]):
    """An object as its pairs, so that a key that stands twice is seen."""


def _values(values: dict[str, Any]) -> Iterator[Problem]:
    job = values.get("job")
    if not isinstance(job, str) or not job.strip() or len(job) > 200:
        yield _wrong("job", "needs a name of the job", 'Write "job": "…".')
    faults = values.get("faults")
    if not _names(faults) or not faults:
        yield _wrong("faults", "needs a list of what was wrong", 'Write "faults": ["…"].')
    for key in ("shows", "lacks"):
        if key in values and not _names(values[key]):
            yield _wrong(key, "is no list of symptoms", f'Write "{key}": ["…"].')
    results = values.get("results", _Pairs())
    if not isinstance(results, _Pairs) or not all(_is_outcome(outcome) for _, outcome in results):
        yield _wrong(
            "results", "is no mapping of checks to outcomes", 'Write {"check": "outcome"}.'
        )
    elif len({name for name, _ in results}) < len(results):
        yield _wrong("results", "names a check twice", "Keep one result of each.")


def _names(value: object) -> bool:
    return (
        isinstance(value, list)
        and not isinstance(value, _Pairs)
        and all(isinstance(name, str) and name for name in value)
        and len(set(value)) == len(value)
    )


def _is_outcome(value: object) -> bool:
    if isinstance(value, float) and not isfinite(value):
        return False
    return isinstance(value, (str, int, float)) and not isinstance(value, bool) and value != ""


def _job(value: dict[str, Any]) -> ClosedJob:
    return ClosedJob(
        value["job"],
        tuple(value["faults"]),
        {check: str(outcome) for check, outcome in value.get("results", {}).items()},
        tuple(value.get("shows", ())),
        tuple(value.get("lacks", ())),
    )
