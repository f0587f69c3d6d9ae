"""``lastscrew backup``: everything of an installation in one file, while people work."""

from __future__ import annotations

from pathlib import Path

import click

from lastscrew.cli.bench_place import data_option, installation, json_option
from lastscrew.cli.edge import edge, json_text


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@data_option
@click.option(
    "-o", "--output", metavar="FILE", help="The file to make. [default: one in DIR/backups]"
)
@json_option
def command(*, data: str | None, output: str | None, as_json: bool) -> None:
    """Back up everything, while people may go on working.

    With SQLite the file is a zip of the folder: unpacked into an empty folder it is the installation
    again. With PostgreSQL it is an export, which `lastscrew import` reads.
    """
    with edge(as_json=as_json):
        config = installation(data)
        from lastscrew.bench.store.starting import ready

        with ready(config):
            from lastscrew.bench.store.backup import backup

            file = backup(config, Path(output) if output else None)
        size = file.stat().st_size
        if as_json:
            kind = "export" if config.database else "folder"
            click.echo(json_text({"file": str(file), "bytes": size, "kind": kind}))
        else:
            click.echo(f"Backed up to {file} ({size / 1e6:.1f} MB).")
