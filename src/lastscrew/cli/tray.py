"""``lastscrew tray``: which screws lie in which compartment, as a list and as a map to print."""

from __future__ import annotations

import re
import sys

import click

from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour, wrap
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import load_device_file
from lastscrew.cli.plan_options import Asked, JsonCommand, find_plan, plan_options
from lastscrew.cli.tables import Column, signal_lines, table
from lastscrew.cli.writing_out import STDOUT, write_out
from lastscrew.device.model import Device
from lastscrew.fasteners.lookalikes import (
    RULE_DOUBT_MM,
    LengthCaution,
    LookAlike,
    length_cautions,
    look_alike_text,
    look_alikes_of_plan,
)
from lastscrew.fasteners.pieces import kind_short, kind_text
from lastscrew.fasteners.tray import TrayGroup, TrayMap, tray_map
from lastscrew.fasteners.tray_drawing import DEFAULT_CELL_MM, tray_drawing
from lastscrew.plan.model import Plan
from lastscrew.plan.wording import joint_name, listed, piece_name
from lastscrew.problems import InputError, Problem

Json = dict[str, object]

LEAST_CELL_MM, MOST_CELL_MM = 10.0, 300.0
COLUMNS = (
    Column("in"), Column("step", number=True), Column("joint", flexible=True), Column("pieces", flexible=True),
    Column("not the same as", flexible=True),
)  # fmt: skip


@click.command(cls=JsonCommand)
@click.argument("file")
@plan_options
@click.option(
    "--rows", type=int, required=True, metavar="R", help="Compartments one below the other."
)
@click.option("--columns", type=int, required=True, metavar="C", help="Compartments side by side.")
@click.option(
    "--trays",
    type=int,
    default=None,
    metavar="N",
    help="How many trays (default: as many as needed).",
)
@click.option(
    "--cell", default=f"{DEFAULT_CELL_MM[0]:g}x{DEFAULT_CELL_MM[1]:g}", show_default=True, metavar="WxH",
    help="Width and height of a compartment in mm, as measured on the tray.",
)  # fmt: skip
@click.option(
    "-o",
    "--output",
    default=None,
    metavar="FILE.svg",
    help="Write the map to print at full size (- for standard output).",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(
    *,
    file: str,
    asked: Asked,
    rows: int,
    columns: int,
    trays: int | None,
    cell: str,
    output: str | None,
    as_json: bool,
) -> None:
    """Which screws lie in which compartment while the machine is open.

    Groups lie in the order in which they go back; kinds that look alike are not put side by side.
    Print the map at full size and lay it under a clear tray, or beside it.
    """  # fmt: skip
    with edge(as_json=as_json):
        cell_mm = cell_mm_of(cell)
        device = load_device_file(file)
        plan = find_plan(device, asked, file=file)
        tray = tray_map(device, plan, rows, columns, trays=trays)
        drawn = tray_drawing(device, tray, cell_mm, title=_title(device, plan))
        if output is not None and not (as_json and output == STDOUT):
            write_out(output, drawn.encode())
        if as_json:
            values = _as_json(device, plan, tray, output)
            if output == STDOUT:
                values["svg"] = drawn
            click.echo(json_text(values))
            return
        if output == STDOUT:
            return
        text = "\n".join(_text(device, plan, tray, output))
        click.echo(for_encoding(text, sys.stdout.encoding), color=True)


def cell_mm_of(text: str) -> tuple[float, float]:
    """Read ``45x34``."""
    match = re.fullmatch(r"\s*(\d{1,4}(?:\.\d+)?)\s*[x×X]\s*(\d{1,4}(?:\.\d+)?)\s*(?:mm)?\s*", text)
    sizes = (float(match[1]), float(match[2])) if match else (0.0, 0.0)
    if not all(LEAST_CELL_MM <= size <= MOST_CELL_MM for size in sizes):
        raise InputError(
            [
                Problem(
                    f'"{text}" is no size of a compartment',
                    f"Give width x height in mm, {LEAST_CELL_MM:g} to {MOST_CELL_MM:g} each, such as 45x34.",
                    path="--cell",
                    code="cell_size",
                )
            ]
        )
    return sizes


def _title(device: Device, plan: Plan) -> str:
    pieces = [piece_name(device, piece) for piece in plan.request.replace]
    if pieces:
        return f"replace {listed(pieces, limit=4)}"
    reached = [joint_name(device, joint) for joint in plan.request.reach]
    return f"reach {listed(reached, limit=4)}" if reached else "close again"


def _as_json(device: Device, plan: Plan, tray: TrayMap, output: str | None) -> Json:
    return {
        "device": device.id,
        "revision": device.revision_hash,
        "rows": tray.rows,
        "columns": tray.columns,
        "trays": tray.trays,
        "groups": [_group_as_json(device, group) for group in tray.groups],
        "beside": [list(pair) for pair in tray.beside],
        "out_of_order": tray.out_of_order,
        "proven": tray.proven,
        "one_more_tray_helps": tray.one_more_tray_helps,
        "thrown_away": list(tray.thrown_away),
        "look_alikes": [_pair_as_json(device, pair) for pair in look_alikes_of_plan(device, plan)],
        "cautions": [_caution_as_json(each) for each in length_cautions(device, plan)],
        "written": None if output == STDOUT else output,
    }


def _group_as_json(device: Device, group: TrayGroup) -> Json:
    return {
        "compartment": group.compartment,
        "tray": group.tray + 1,
        "row": group.row + 1,
        "column": group.column + 1,
        "joint": group.joint,
        "step": group.step,
        "pieces": [
            {"kind": kind.key, "name": kind_text(device, kind), "count": count}
            for kind, count in group.pieces
        ],
        "not_the_same_as": list(group.not_the_same_as),
    }


def _pair_as_json(device: Device, pair: LookAlike) -> Json:
    return {
        "kinds": [pair.one, pair.other],
        "differs": list(pair.differs),
        "apart_mm": pair.apart_mm,
        "within_doubt": pair.within_doubt,
        "doubt_mm": RULE_DOUBT_MM,
        "assumed": list(pair.assumed),
        "text": look_alike_text(device, pair),
    }


def _caution_as_json(caution: LengthCaution) -> Json:
    return {
        "joint": caution.joint,
        "signal": caution.signal,
        "text": caution.text,
        "too_long": list(caution.too_long),
    }


def _text(device: Device, plan: Plan, tray: TrayMap, output: str | None) -> list[str]:
    width, colour = terminal_width(), wants_colour()
    trays = "one tray" if tray.trays == 1 else f"{tray.trays} trays"
    lines = wrap(
        f"{device.name}, {_title(device, plan)}: {trays} of {tray.rows} × {tray.columns}", width
    )
    if not tray.groups:
        return [*lines, "Nothing loose comes out that goes back."]
    rows = [
        (
            group.compartment,
            str(group.step),
            joint_name(device, group.joint),
            ", ".join(f"{count} {kind_short(device, kind)}" for kind, count in group.pieces),
            ", ".join(group.not_the_same_as),
        )
        for group in tray.groups
    ]
    lines += ["", *table(COLUMNS, rows, width, colour=colour), ""]
    for note in _notes(device, plan, tray):
        lines += wrap(note, width, hang=2)
    for caution in length_cautions(device, plan):
        text = wrap(f"{caution.signal.upper()}: {caution.text}", width, hang=2)
        lines += signal_lines(caution.signal, text, colour=colour)
    if output is not None:
        lines += ["", f"The map to print is in {output}."]
    return lines


def _notes(device: Device, plan: Plan, tray: TrayMap) -> list[str]:
    notes = ["Steps are numbered as in the plan; the compartments are emptied in that order."]
    if tray.out_of_order:
        notes.append(
            "To keep look-alikes apart the compartments are not all in order: go by the steps."
        )
    for one, other in tray.beside:
        more = " One more tray would keep them apart." if tray.one_more_tray_helps else ""
        notes.append(f"{one} and {other} lie side by side and look alike: there was no room.{more}")
    if tray.thrown_away:
        names = listed([joint_name(device, joint) for joint in tray.thrown_away])
        notes.append(f"Used once, do not go back: {names}.")
    notes += [look_alike_text(device, pair) for pair in look_alikes_of_plan(device, plan)]
    return notes
