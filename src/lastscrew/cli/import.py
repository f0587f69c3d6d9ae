# ruff: noqa: N999 (a command is called as its module is)
"""``lastscrew import``: an export into an empty installation, on either database."""

from __future__ import annotations

from pathlib import Path

import click

from lastscrew.cli.bench_place import data_option, installation, json_option, told_rows
from lastscrew.cli.edge import edge, json_text


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("file")
@data_option
@json_option
def command(*, file: str, data: str | None, as_json: bool) -> None:
    """Read an export into an empty installation; what is missing of it is made.

    Everything in the file is checked first. Either all of it is kept, or nothing.
    """
    with edge(as_json=as_json):
        config = installation(data)
        from lastscrew.bench.store.export_file import opened
        from lastscrew.bench.store.starting import prepare_or_leave

        with opened(Path(file)):
            pass  # it is an export, as far as can be said before anything is made
        with prepare_or_leave(config):
            from lastscrew.bench.store.importing import import_from

            result = import_from(Path(file))
        if as_json:
            values = {
                "data": str(config.data),
                "rows": result.rows,
                "pictures": result.pictures,
                "missing_pictures": list(result.missing),
            }
            click.echo(json_text(values))
            return
        told = told_rows({**result.rows, "pictures": result.pictures})
        click.echo(f"Imported into {config.data}: {told}.")
        if result.missing:
            lacking = told_rows({"pictures": len(result.missing)})
            click.echo(f"The file lacks {lacking} that it names.")
