"""``lastscrew write``: a removal and refitting procedure for every part, from a device file."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

import click

from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import load_device_file
from lastscrew.cli.numbers import several
from lastscrew.cli.plan_options import JsonCommand
from lastscrew.cli.writing_out import STDOUT, say_missing, say_written, write_out
from lastscrew.paper.sheet_css import Paper

if TYPE_CHECKING:
    from lastscrew.device.model import Device
    from lastscrew.paper.procedure import WrittenProcedure

_PROGRESS_AFTER_S = 1.0
_KINDS = {"md": "markdown", "markdown": "markdown", "html": "html", "htm": "html", "pdf": "pdf"}


@click.command(cls=JsonCommand)
@click.argument("file")
@click.option(
    "--part",
    "parts",
    metavar="PART",
    multiple=True,
    help="Only this part (its id or name), and what must come off before it. Repeatable.",
)
@click.option(
    "-o",
    "--output",
    metavar="OUT",
    required=True,
    help="File to write: .md, .html or .pdf; - for Markdown on standard output.",
)
@click.option(
    "--paper",
    type=click.Choice(("a4", "letter")),
    default="a4",
    show_default=True,
    help="Size of the paper.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object about what was written."
)
def command(*, file: str, parts: tuple[str, ...], output: str, paper: Paper, as_json: bool) -> None:
    """Write a complete removal and refitting procedure for every part, in controlled English.

    FILE is a device file (- for standard input). A chapter at the end tells the whole machine in plain sentences,
    from which `lastscrew read OUT -o FILE` makes the device file again; only positions, order codes, prices,
    sources and fault finding are lost. The same input gives the same bytes.
    """
    from lastscrew.paper.procedure import procedures_of

    kind = _kind_of(output)
    if output == STDOUT and as_json:
        raise click.UsageError("--json and the text can't both go to standard output.")
    with edge(as_json=as_json):
        device = load_device_file(file)
        procedures = procedures_of(device, _part_ids(device, parts), _Progress())
        data, pages, missing = _made(device, procedures, kind, paper)
        write_out(output, data)
    say_missing(missing)
    if as_json:
        told = {"written": output, "kind": kind, "pages": pages, "bytes": len(data)}
        written = [procedure.part for procedure in procedures if not procedure.refused]
        refused = {p.part: p.refused for p in procedures if p.refused}
        rest = {"parts": written, "refused": refused, "revision": device.revision_hash}
        click.echo(json_text({**told, **rest}))
        return
    size = f", {several(pages, 'page')}" if pages else ""
    say_written(output, f"{several(len(procedures), 'part')}{size}")


class _Progress:
    """Tells on standard error how far the planning of a large machine is, where a person watches."""

    def __init__(self) -> None:
        self.told = time.monotonic()

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if now - self.told > _PROGRESS_AFTER_S and sys.stderr.isatty():
            self.told = now
            click.echo(f"\rplanned {done} of {total} parts …", err=True, nl=False)


def _kind_of(output: str) -> str:
    if output == STDOUT:
        return "markdown"
    ending = output.lower().rsplit(".", 1)[-1] if "." in output else ""
    if ending not in _KINDS:
        raise click.BadParameter(
            "the name of the file must end in .md, .html or .pdf", param_hint="-o"
        )
    return _KINDS[ending]


def _part_ids(device: Device, wanted: tuple[str, ...]) -> tuple[str, ...]:
    """Parts by id or name.

    Raises:
        InputError: No such part, or it stays on the bench.
    """
    from lastscrew.device.names import nearest
    from lastscrew.problems import InputError, Problem

    by_name = {part.name.lower(): part.id for part in device.parts.values()}
    found: list[str] = []
    problems: list[Problem] = []
    for name in wanted:
        part = name if name in device.parts else by_name.get(name.lower())
        if part is None:
            meant = nearest(name, device.parts)
            hint = f"Did you mean {meant}?" if meant else f"Parts: {', '.join(device.parts)}."
            problems.append(
                Problem(f"There is no part '{name}'.", hint, "--part", code="unknown_part")
            )
        elif device.parts[part].fixed:
            problems.append(
                Problem(
                    f"'{name}' stays on the bench; nothing takes it off.",
                    "Name a part that comes off.",
                    "--part",
                    code="fixed_part",
                )
            )
        else:
            found.append(part)
    if problems:
        raise InputError(problems)
    return tuple(found)


def _made(
    device: Device, written: tuple[WrittenProcedure, ...], kind: str, paper: Paper
) -> tuple[bytes, int | None, str]:
    """The file; where it is a PDF its pages and the letters that no font has."""
    from lastscrew.paper.procedure_page import markdown, page

    if kind == "markdown":
        return markdown(device, written).encode(), None, ""
    html = page(device, written, paper=paper, for_pdf=kind == "pdf")
    if kind == "html":
        return html.encode(), None, ""
    from lastscrew.paper.pdf import print_pdf

    printed = print_pdf(html)
    return printed.data, printed.pages, printed.missing
