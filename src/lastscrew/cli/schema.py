"""``lastscrew schema``: the format of device files, or of run events, as a JSON Schema or as a page."""

from __future__ import annotations

import json
from pathlib import Path

import click

from lastscrew.cli.edge import edge
from lastscrew.cli.plan_options import JsonCommand
from lastscrew.device.reference import reference_page
from lastscrew.device.schema import json_schema


@click.command(cls=JsonCommand, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("-o", "--output", metavar="FILE", help="Write to FILE instead of the terminal.")
@click.option(
    "--markdown",
    is_flag=True,
    help="The reference page, every key with its meaning, instead of the schema.",
)
@click.option(
    "--events",
    is_flag=True,
    help="The format of run events (one line of a job) instead of that of device files.",
)
@click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="The schema is JSON as it is; with -o, say in JSON what was written.",
)
def command(output: str | None, markdown: bool, events: bool, as_json: bool) -> None:
    """Print the format of device files or of run events as a JSON Schema (2020-12)."""
    with edge(as_json=as_json):
        text = _events(markdown) if events else _device_files(markdown)
        if output is None:
            click.echo(text, nl=False)
            return
        Path(output).write_text(text, encoding="utf-8")
        click.echo(json.dumps({"written": output}) if as_json else f"wrote {output}")


def _device_files(markdown: bool) -> str:
    if markdown:
        return reference_page()
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _events(markdown: bool) -> str:
    from lastscrew.run.lines import event_schema
    from lastscrew.run.reference import event_reference

    if markdown:
        return event_reference()
    return json.dumps(event_schema(), indent=2, ensure_ascii=False) + "\n"
