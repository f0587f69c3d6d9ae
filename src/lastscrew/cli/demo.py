"""``lastscrew demo``: list the invented machines and texts that ship with the program, or write one to a file."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

import click

from lastscrew.cli.edge import edge
from lastscrew.cli.numbers import several
from lastscrew.cli.plan_options import JsonCommand
from lastscrew.device.model import Device
from lastscrew.device.names import nearest
from lastscrew.device.reading import load_device
from lastscrew.problems import InputError, Problem

PACKAGE = "lastscrew.demo"
ENDING = ".device.yaml"
TEXT_ENDING = ".procedure.md"


@click.command(cls=JsonCommand)
@click.argument("name", required=False)
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    help="Where to write it (default: its own name here; - for standard output).",
)
@click.option("--force", is_flag=True, help="Overwrite a file that is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(*, name: str | None, output: str | None, force: bool, as_json: bool) -> None:
    """List the invented machines and texts that come with the program, or write one to a file.

    With NAME its device file is written, with all comments, to look at, to plan with and to start
    your own from; or a service text, to read and to audit. Makers, models, prices and figures are made up.
    """
    with edge(as_json=as_json):
        if name is None:
            _list(as_json=as_json)
        else:
            _write(name, output, force=force, as_json=as_json)


def demo_names() -> list[str]:
    """Names of the machines that ship with the program, in alphabetical order."""
    return _names(ENDING)


def procedure_names() -> list[str]:
    """Names of the service texts that ship with the program, in alphabetical order."""
    return _names(TEXT_ENDING)


def _names(ending: str) -> list[str]:
    files = (entry.name for entry in resources.files(PACKAGE).iterdir())
    return sorted(name.removesuffix(ending) for name in files if name.endswith(ending))


def file_name(name: str) -> str:
    """The file that a demo comes in."""
    return name + (TEXT_ENDING if name in procedure_names() else ENDING)


def demo_text(name: str) -> str:
    """The device file or service text of one of them.

    Raises:
        InputError: There is none of that name.
    """
    names = [*demo_names(), *procedure_names()]
    if name not in names:
        guess = nearest(name, names)
        remedy = f"Did you mean {guess}?" if guess else f"There are {', '.join(names)}."
        raise InputError(
            [Problem(f'no demo is called "{name}"', remedy, path="NAME", code="unknown_demo")]
        )
    return resources.files(PACKAGE).joinpath(file_name(name)).read_text(encoding="utf-8")


def _list(*, as_json: bool) -> None:
    devices = {name: load_device(demo_text(name), name + ENDING) for name in demo_names()}
    if as_json:
        demos = [_facts(name, device) for name, device in devices.items()]
        found = {"demos": demos, "texts": procedure_names()}
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
        return
    wide = max(len(name) for name in (*devices, *procedure_names()))
    for name, device in devices.items():
        click.echo(
            f"{name:{wide}}  {device.name}, {device.kind}: "
            f"{several(len(device.parts), 'part')}, {several(len(device.joints), 'joint')}"
        )
    for name in procedure_names():
        title = demo_text(name).partition("\n")[0].lstrip("# ")
        click.echo(f"{name:{wide}}  {title}, service text to read and audit")
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
    path = Path(output or file_name(name))
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
