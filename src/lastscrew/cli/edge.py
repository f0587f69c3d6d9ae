"""Where errors become messages: every command runs inside :func:`edge`.

Exit codes: 0 done, 1 done and something was found (audits), 2 the input can't be used.
"""

from __future__ import annotations

import errno
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from lastscrew.problems import InputError, Problem

EXIT_BAD_INPUT = 2
NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
MAKE_ROOM = "Make room on the disk, or name another place."


@contextmanager
def edge(*, as_json: bool) -> Iterator[None]:
    """Turn :class:`InputError` and file errors into messages and exit code 2."""
    try:
        yield
    except InputError as error:
        report(error.problems, as_json=as_json)
        sys.exit(EXIT_BAD_INPUT)
    except OSError as error:
        name = str(error.filename or "")
        reason = error.strerror or str(error)
        report(
            [
                Problem(
                    f"can't be read or written: {reason}",
                    MAKE_ROOM if error.errno in NO_ROOM else "Check the path and its permissions.",
                    file=name,
                )
            ],
            as_json=as_json,
        )
        sys.exit(EXIT_BAD_INPUT)


def report(problems: list[Problem] | tuple[Problem, ...], *, as_json: bool) -> None:
    """Print problems: JSON on stdout, or text on stderr."""
    if as_json:
        click.echo(json_text({"errors": [p.as_json() for p in problems]}))
        return
    for problem in problems:
        path = f" {problem.path}:" if problem.path else ""
        click.echo(f"{problem.place()}:{path} {problem.severity}: {problem.message}", err=True)
        if problem.remedy:
            click.echo(f"    {problem.remedy}", err=True)


def json_text(value: object) -> str:
    """A value as JSON that standard output can carry: escaped where its encoding lacks a character."""
    text = json.dumps(value, ensure_ascii=False, indent=1)
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        return json.dumps(value, ensure_ascii=True, indent=1)
    return text
