"""Putting what was made where the person wants it: a file, or standard output."""

from __future__ import annotations

import sys
from pathlib import Path

import click

STDOUT = "-"


def write_out(path: str, data: bytes) -> None:
    """Write bytes to a file, or to standard output for ``-``.

    Raises:
        OSError: The file can't be written.
    """
    if path == STDOUT:
        sys.stdout.buffer.write(data)
        sys.stdout.flush()
        return
    Path(path).write_bytes(data)


def say_written(path: str, words: str) -> None:
    """Tell what was written where, unless it went to standard output itself."""
    if path != STDOUT:
        click.echo(f"{path}: {words}")


def say_missing(missing: str) -> None:
    """Warn on standard error of letters that the PDF shows as boxes."""
    from lastscrew.cli.columns import for_encoding
    from lastscrew.paper.pdf import missing_letters_text

    if missing:
        text = f"warning: {missing_letters_text(missing)}"
        click.echo(for_encoding(text, sys.stderr.encoding), err=True)
