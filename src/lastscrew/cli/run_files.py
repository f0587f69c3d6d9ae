"""Getting the events of a job from disk, and saying what was forgiven in them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click

from lastscrew.problems import Problem
from lastscrew.run.lines import MAX_BYTES, EventLog, read_events
from lastscrew.run.state import Remark


def read_run(path: str) -> EventLog:
    """The events of the file at ``path``; never more than the limit is read.

    Raises:
        InputError: The file holds what is no run event.
        OSError: The file can't be read.
    """
    with Path(path).open("rb") as file:
        return read_events(file.read(MAX_BYTES + 1), path)


def tell_warnings(warnings: Iterable[Problem]) -> None:
    """Print what was forgiven, on standard error."""
    for warning in warnings:
        click.echo(f"{warning.place()}: {warning.severity}: {warning.message}", err=True)
        if warning.remedy:
            click.echo(f"    {warning.remedy}", err=True)


def remark_as_json(remark: Remark) -> dict[str, object]:
    """What does not fit in a job, for JSON."""
    return {"event": remark.event, "code": remark.code, "text": remark.text}
