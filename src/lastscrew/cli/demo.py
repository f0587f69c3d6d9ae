"""``lastscrew demo``: list the invented machines that ship with the program, or write one to a file."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

import click

from lastscrew.cli.edge import edge
from lastscrew.cli.plan_options import JsonCommand
from lastscrew.device.model import Device
from lastscrew.device.names import nearest
from lastscrew.device.reading import load_device
from lastscrew.problems import InputError, Problem

PACKAGE = "lastscrew.demo"
ENDING = ".device.yaml"


@click.command(cls=JsonCommand)
@click.argument("name", required=False)
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    help="Where to write it (default: NAME.device.yaml here; - for standard output).",
)
@click.option("--force", is_flag=True, help="Overwrite a file that is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(*, name: str | None, output: str | None, force: bool, as_json: bool) -> None:
    """List the invented machines that come with the program, or write one to a file.

    With NAME its device file is written, with all comments, to look at, to plan with and to start
    your own from. Makers, models, prices and figures are made up.
    """
    with edge(as_json=as_json):
        if name is None:
            _list(as_json=as_json)
        else:
            _write(name, output, force=force, as_json=as_json)


def demo_names() -> list[str]:
    """Names of the machines that ship with the program, in alphabetical order."""
    files = (entry.name for entry in resources.files(PACKAGE).iterdir())
    return sorted(name.removesuffix(ENDING) for name in files if name.endswith(ENDING))


def demo_text(name: str) -> str:
    """The device file of one of them.

    Raises:
        InputError: There is none of that name.
    """
    names = demo_names()
    if name not in names:
        guess = nearest(name, names)
        remedy = f"Did you mean {guess}?" if guess else f"There are {', '.join(names)}."
        raise InputError(
            [Problem(f'no demo is called "{name}"', remedy, path="NAME", code="unknown_demo")]
        )
    return resources.files(PACKAGE).joinpath(name + ENDING).read_text(encoding="utf-8")


def _list(*, as_json: bool) -> None:
    devices = {name: load_device(demo_text(name), name + ENDING) for name in demo_names()}
    if as_json:
        demos = [_facts(name, device) for name, device in devices.items()]
        click.echo(json.dumps({"demos": demos}, ensure_ascii=False, indent=1))
        return
    wide = max(len(name) for name in devices)
    for name, device in devices.items():
        click.echo(
            f"{name:{wide}}  {device.name}, {device.kind}: "
            f"{len(device.parts)} parts, {len(device.joints)} joints"
        )
    click.echo("\nWrite one to a file: lastscrew demo NAME")


def _facts(name: str, device: Device) -> dict[str, object]:
    return {
        "name": name,
        "device": device.name,
        "kind": device.kind,
        "parts": len(device.parts),
        "joints": len(device.joints),
    }


def _write(name: str, output: str | None, *, force: bool, as_json: bool) -> None:
    text = demo_text(name)
    if output == "-":
        click.echo(text, nl=False)
        return
    path = Path(output or name + ENDING)
    if path.exists() and not force:
        raise InputError(
            [
                Problem(
                    "there is a file of this name already",
                    "Choose another with -o, or overwrite it with --force.",
                    file=str(path),
                    code="file_exists",
                )
            ]
        )
    path.write_text(text, encoding="utf-8")
    if as_json:
        click.echo(json.dumps({"written": str(path)}, ensure_ascii=False))
    else:
        click.echo(f"Written: {path}")
