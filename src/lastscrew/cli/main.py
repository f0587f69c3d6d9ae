"""The command ``lastscrew``: finds the subcommand and loads only what it needs."""

from __future__ import annotations

from importlib import import_module

import click

from lastscrew import __version__

COMMANDS: dict[str, str] = {
    "check": "What is wrong with device files, where, and what would be right.",
    "schema": "The format of device files, as a JSON Schema or as a page.",
    "plan": "The cheapest safe way in and way out for what is to be exchanged.",
    "sheet": "The job sheet as PDF: the V, steps to tick, cautions, tray map, checks.",
    "draw": "The V of a plan, the layers of a device, or its sides, as SVG.",
    "fault": "What is wrong: the next check or mend with the least expected work, and why.",
    "read": "A written or spoken procedure: what was made of it, and a draft of a device file.",
    "audit": "What a careful colleague would say about procedures and device files.",
    "write": "Removal and refitting procedures for every part, from a device file.",
    "ledger": "Every loose piece, over a plan or over a job that has begun.",
    "tray": "Which screws lie in which compartment, with a map to print at full size.",
    "leftover": "One screw left over or missing: where to look, and in which order.",
    "measure": "How deep each part lies, and what of the EU repairability index follows.",
    "serve": "The bench application: take in, plan, work, prove, hand back.",
    "backup": "Everything of an installation in one file, while people work.",
    "export": "Everything of an installation as JSON Lines and photos in one zip.",
    "import": "An export into an empty installation.",
    "rebuild": "What the bench derives from its events, made anew.",
    "demo": "List the invented machines that come with the program, or write one to a file.",
}
"""Subcommands and their one-line help. Each lives in ``lastscrew.cli.<name>`` as ``command``.

Kept here so that ``lastscrew --help`` imports none of them.
"""


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All names, in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the module of one command."""
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"lastscrew.cli.{cmd_name.replace('-', '_')}")
        command = module.command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="lastscrew")
def main() -> None:
    """The way into a machine, the way back out, and every screw accounted for."""
