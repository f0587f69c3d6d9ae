"""``lastscrew schema``: the format of device files as a JSON Schema or as a page."""

from __future__ import annotations

import json
from pathlib import Path

import click

from lastscrew.cli.edge import edge
from lastscrew.device.reference import reference_page
from lastscrew.device.schema import json_schema


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@click.option("-o", "--output", metavar="FILE", help="Write to FILE instead of the terminal.")
@click.option(
    "--markdown",
    is_flag=True,
    help="The reference page, every key with its meaning, instead of the schema.",
)
@click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="The schema is JSON as it is; with -o, say in JSON what was written.",
)
def command(output: str | None, markdown: bool, as_json: bool) -> None:
    """Print the format of device files as a JSON Schema (2020-12)."""
    with edge(as_json=as_json):
        text = (
            reference_page()
            if markdown
            else json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
        )
        if output is None:
            click.echo(text, nl=False)
            return
        Path(output).write_text(text, encoding="utf-8")
        click.echo(json.dumps({"written": output}) if as_json else f"wrote {output}")
