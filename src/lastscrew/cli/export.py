"""``lastscrew export``: everything of an installation as JSON Lines and photos in one zip."""

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
    """Write everything that is kept to a zip: JSON Lines and photos, as they are at one moment.

    It holds owners' data and the hashes of passwords: keep it as safe as the installation itself.
    """
    with edge(as_json=as_json):
        config = installation(data)
        from lastscrew.bench.store.starting import ready

        with ready(config):
            from lastscrew.bench.store.transfer import export_to

            counts = export_to(config, Path(file))
        if as_json:
            click.echo(json_text({"file": file, "rows": counts}))
            return
        click.echo(f"Exported to {file}: {told_rows(counts)}.")
