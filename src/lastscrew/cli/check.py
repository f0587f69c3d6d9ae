"""``lastscrew check``: what is wrong with device files, where, and what would be right."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Sequence
from typing import Any

import click

from lastscrew.cli.edge import EXIT_BAD_INPUT
from lastscrew.cli.loading import read_device_file
from lastscrew.cli.plan_options import JsonCommand
from lastscrew.device.excerpt import excerpt
from lastscrew.device.model import Device
from lastscrew.device.names import visible
from lastscrew.device.reading import ReadResult
from lastscrew.problems import Problem

_COUNTED_KINDS = frozenset(("screw", "nut", "rivet"))


@click.command(cls=JsonCommand, context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option(
    "--json", "as_json", is_flag=True, help="One JSON object: per file its problems and counts."
)
def command(files: tuple[str, ...], as_json: bool) -> None:
    """Check device files (- reads standard input).

    Prints every error and warning with its place and what would be right. Exit code 0, or 2 where there is
    an error.
    """
    results = [(file, _read(file)) for file in files]
    click.echo(_as_json(results) if as_json else _as_text(results))
    if any(result.device is None for _, result in results):
        sys.exit(EXIT_BAD_INPUT)


def _read(file: str) -> ReadResult:
    """A file that can't be opened has one problem; the others are checked all the same."""
    try:
        return read_device_file(file)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        problem = Problem(
            f"can't be read: {reason}",
            "Check the path and its permissions.",
            file=file,
            code="unreadable",
        )
        return ReadResult(None, (problem,))


def counts(device: Device) -> dict[str, int]:
    """Parts, joints, and single fasteners (screws, nuts, rivets and whatever names a kind of fastener)."""
    held = (j for j in device.joints.values() if j.fastener is not None or j.kind in _COUNTED_KINDS)
    return {
        "parts": len(device.parts),
        "joints": len(device.joints),
        "fasteners": sum(j.count for j in held),
    }


def _as_json(results: Sequence[tuple[str, ReadResult]]) -> str:
    shown = {
        "files": [_file_json(file, result) for file, result in results],
        "errors": [p.as_json() for _, result in results for p in result.errors],
    }
    return json.dumps(shown, ensure_ascii=False, indent=1)


def _file_json(file: str, result: ReadResult) -> dict[str, Any]:
    device = result.device
    return {
        "file": file,
        "ok": device is not None,
        "device": None
        if device is None
        else {"id": device.id, "name": device.name, "revision_hash": device.revision_hash},
        "counts": None if device is None else counts(device),
        "error_count": len(result.errors),
        "warning_count": len(result.warnings),
        "problems": [problem.as_json() for problem in result.problems],
    }


def _as_text(results: Sequence[tuple[str, ReadResult]]) -> str:
    width = shutil.get_terminal_size((100, 24)).columns
    lines: list[str] = []
    for file, result in results:
        for problem in result.problems:
            lines.extend((*_problem_lines(problem, result, width), ""))
        lines.append(_summary(file, result))
    return "\n".join(lines)


def _problem_lines(problem: Problem, result: ReadResult, width: int) -> list[str]:
    path = f"{problem.path}: " if problem.path else ""
    lines = [visible(f"{problem.place()}: {problem.severity}: {path}{problem.message}")]
    if problem.remedy:
        lines.append(visible(f"    {problem.remedy}"))
    if result.source is not None and problem.line is not None:
        lines.extend(excerpt(result.source, problem.line, problem.column or 1, width))
    return lines


def _summary(file: str, result: ReadResult) -> str:
    errors, warnings = len(result.errors), len(result.warnings)
    found = f"{_number(errors, 'error')}, {_number(warnings, 'warning')}"
    if result.device is None:
        return f"{visible(file)}: {found}; the file is not used"
    counted = counts(result.device)
    said = ", ".join(_number(number, noun.removesuffix("s")) for noun, number in counted.items())
    return f"{visible(file)}: {said}; {found}"


def _number(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
