"""``lastscrew rebuild``: everything that the bench derives, made anew from its events."""

from __future__ import annotations

import click

from lastscrew.cli.bench_place import data_option, installation, json_option
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.numbers import several


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@data_option
@json_option
def command(*, data: str | None, as_json: bool) -> None:
    """Make everything that follows from the events anew, and say what was not as they say.

    Safe while people work: what they add waits only while the tables are written.
    """
    with edge(as_json=as_json):
        config = installation(data)
        from lastscrew.bench.store.starting import ready

        with ready(config):
            from lastscrew.bench.store.rebuilding import rebuild

            result = rebuild()
        if as_json:
            click.echo(
                json_text(
                    {
                        "events": result.events,
                        "units": result.units,
                        "runs": result.runs,
                        "changed": list(result.changed),
                    }
                )
            )
            return
        click.echo(
            f"{several(result.events, 'event')}: {several(result.units, 'unit')}, {several(result.runs, 'job')}."
        )
        if result.changed:
            click.echo(f"Mended: {', '.join(result.changed)}.")
        else:
            click.echo("Everything was as the events say.")
