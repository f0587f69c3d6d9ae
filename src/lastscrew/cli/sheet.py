"""``lastscrew sheet``: the job sheet as PDF, or as a page to print from a browser."""

from __future__ import annotations

import datetime as dt

import click

from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import load_device_file
from lastscrew.cli.numbers import several
from lastscrew.cli.plan_options import Asked, JsonCommand, find_plan, plan_options
from lastscrew.cli.tray import cell_mm_of
from lastscrew.cli.writing_out import STDOUT, say_missing, say_written, write_out
from lastscrew.fasteners.tray import MAX_SIDE
from lastscrew.fasteners.tray_drawing import DEFAULT_CELL_MM
from lastscrew.paper.sheet_css import Paper
from lastscrew.plan.briefing import brief


def _date(_context: click.Context, option: click.Parameter, value: str | None) -> str:
    """A day as the calendar has it."""
    if value is None:
        return ""
    try:
        return dt.date.fromisoformat(value).isoformat()
    except ValueError:
        raise click.BadParameter("must be a day, such as 2026-03-31", param=option) from None


@click.command(cls=JsonCommand)
@click.argument("file")
@plan_options
@click.option(
    "-o",
    "--output",
    default=None,
    metavar="OUT",
    help="File to write, .pdf or .html; - for a PDF on standard output (default: the device's id with .pdf).",
)
@click.option(
    "--paper",
    type=click.Choice(("a4", "letter")),
    default="a4",
    show_default=True,
    help="Size of the paper.",
)
@click.option(
    "--date",
    default=None,
    callback=_date,
    metavar="YYYY-MM-DD",
    help="Date to print; without it there is a line to write it on.",
)
@click.option(
    "--rows",
    type=click.IntRange(1, MAX_SIDE),
    default=None,
    metavar="R",
    help="Compartments of your tray, one below the other (default: as many as are needed).",
)
@click.option(
    "--columns",
    type=click.IntRange(1, MAX_SIDE),
    default=None,
    metavar="C",
    help="Compartments side by side (default: as many as the paper takes).",
)
@click.option(
    "--cell",
    default=f"{DEFAULT_CELL_MM[0]:g}x{DEFAULT_CELL_MM[1]:g}",
    show_default=True,
    metavar="WxH",
    help="Width and height of a compartment in mm, as measured on the tray.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object about what was written."
)
def command(
    *,
    file: str,
    asked: Asked,
    output: str | None,
    paper: Paper,
    date: str,
    rows: int | None,
    columns: int | None,
    cell: str,
    as_json: bool,
) -> None:
    """Write the job sheet: the V, steps to tick, cautions, tray map, checks.

    FILE is a device file (- for standard input). The same input gives the same bytes.
    """
    from lastscrew.paper.pdf import print_pdf
    from lastscrew.paper.sheet import SheetOptions, sheet_html
    from lastscrew.paper.sheet_tray import TrayWish, tray_page

    with edge(as_json=as_json):
        device = load_device_file(file)
        briefing = brief(device, find_plan(device, asked, file=file))
        path = output or f"{device.id}.pdf"
        as_page = path.lower().endswith((".html", ".htm"))
        wish = TrayWish(rows, columns, cell_mm_of(cell))
        options = SheetOptions(paper=paper, date=date, for_pdf=not as_page)
        page = sheet_html(briefing, options, tray_page(briefing, wish, paper))
        pages = None
        missing = ""
        data = page.encode()
        if not as_page:
            printed = print_pdf(page)
            data, pages, missing = printed.data, printed.pages, printed.missing
        if path == STDOUT and as_json:
            raise click.UsageError("--json and the sheet can't both go to standard output.")
        write_out(path, data)
    say_missing(missing)
    if as_json:
        kind = "html" if as_page else "pdf"
        told = {"written": path, "kind": kind, "pages": pages, "bytes": len(data), "paper": paper}
        click.echo(json_text({**told, "revision": device.revision_hash}))
        return
    count = several(pages or 0, "page")
    name = {"a4": "A4", "letter": "Letter"}[paper]
    say_written(path, "page to print from a browser" if as_page else f"{count}, {name}")
