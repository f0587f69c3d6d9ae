"""``lastscrew ledger``: every loose piece, over a plan or over a job that has begun."""

from __future__ import annotations

import sys

import click

from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour, wrap
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import load_device_file
from lastscrew.cli.numbers import several
from lastscrew.cli.plan_options import Asked, JsonCommand, find_plan, plan_options
from lastscrew.cli.run_files import read_run, remark_as_json, tell_warnings
from lastscrew.cli.tables import Column, table
from lastscrew.device.model import Device
from lastscrew.fasteners.ledger import (
    Hindrance,
    JointAccount,
    KindAccount,
    Ledger,
    Movement,
    OutLot,
    PlanLedger,
    hindrances,
    ledger_of,
    ledger_of_plan,
)
from lastscrew.fasteners.pieces import Kind, kind_short
from lastscrew.fasteners.tray import TrayMap, tray_map
from lastscrew.plan.model import Plan
from lastscrew.plan.wording import joint_name
from lastscrew.problems import InputError, Problem
from lastscrew.run.folding import fold
from lastscrew.run.lines import EventLog
from lastscrew.run.state import JobState, Remark

Json = dict[str, object]

KIND_COLUMNS = (
    Column("kind", flexible=True), Column("taken out", number=True), Column("put back", number=True),
    Column("new", number=True), Column("scrapped", number=True), Column("lost", number=True),
    Column("out", number=True), Column("surplus", number=True), Column("unexplained", number=True),
)  # fmt: skip
MOVE_COLUMNS = (
    Column("step", number=True), Column("limb"), Column("joint", flexible=True), Column("pieces", number=True),
    Column("kind", flexible=True), Column("of it out", number=True), Column("all out", number=True),
    Column("lies in"),
)  # fmt: skip
OUT_COLUMNS = (
    Column("pieces", number=True), Column("kind", flexible=True), Column("out of", flexible=True),
    Column("lies in"),
)  # fmt: skip


@click.command(cls=JsonCommand)
@click.argument("file")
@plan_options
@click.option(
    "--rows", type=int, default=None, metavar="R", help="Rows of the tray, to say what lies where."
)
@click.option("--columns", type=int, default=None, metavar="C", help="Columns of the tray.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(
    *, file: str, asked: Asked, rows: int | None, columns: int | None, as_json: bool
) -> None:
    """Every loose piece: what comes out where, what is out at each moment, what balances.

    Over a plan (--replace, --reach, --open), or over what happened so far in a job (--run FILE of
    run events): what is out, of which kind, from where, and whether the record may be closed.
    """  # fmt: skip
    with edge(as_json=as_json):
        device = load_device_file(file)
        if asked.run_file is not None:
            log = read_run(asked.run_file)
            tell_warnings(log.warnings)
            state = fold(device, log.events)
            values, text = _of_run(device, state, log)
        else:
            plan = find_plan(device, asked, file=file)
            values, text = _of_plan(device, plan, _tray(device, plan, rows, columns))
        if as_json:
            click.echo(json_text(values))
            return
        click.echo(for_encoding("\n".join(text), sys.stdout.encoding), color=True)


def _tray(device: Device, plan: Plan, rows: int | None, columns: int | None) -> TrayMap | None:
    if rows is None and columns is None:
        return None
    if rows is None or columns is None:
        missing = "--rows" if rows is None else "--columns"
        text = "a tray has rows and columns"
        raise InputError([Problem(text, f"Give {missing} too.", path=missing, code="tray_size")])
    return tray_map(device, plan, rows, columns)


# --- a plan ---------------------------------------------------------------------------------------


def _of_plan(device: Device, plan: Plan, tray: TrayMap | None) -> tuple[Json, list[str]]:
    ledger = ledger_of_plan(device, plan)
    values: Json = {
        "device": device.id,
        "revision": device.revision_hash,
        "of": "plan",
        "movements": [_movement_as_json(move, tray) for move in ledger.movements],
        "out_at_turning": [_lot_as_json(_placed(lot, tray)) for lot in ledger.at_turning.out],
        **_accounts_as_json(ledger.at_end),
    }
    return values, _plan_text(device, ledger, tray)


def _placed(lot: OutLot, tray: TrayMap | None) -> OutLot:
    if tray is None:
        return lot
    return OutLot(lot.joint, lot.kind, lot.count, tray.compartment_of(lot.joint))


def _movement_as_json(move: Movement, tray: TrayMap | None) -> Json:
    return {
        "step": move.number,
        "limb": move.limb,
        "joint": move.joint,
        **_kind_as_json(move.kind),
        "change": move.change,
        "new": move.new,
        "out_of_kind": move.out,
        "out": move.loose,
        "compartment": tray.compartment_of(move.joint) if tray else None,
    }


def _plan_text(device: Device, ledger: PlanLedger, tray: TrayMap | None) -> list[str]:
    width, colour = terminal_width(), wants_colour()
    if not ledger.movements and not ledger.at_turning.out:
        return ["Nothing loose comes out."]
    most = sum(lot.count for lot in ledger.at_turning.out)
    rows = [
        (
            str(move.number),
            move.limb,
            joint_name(device, move.joint),
            f"{move.change:+d}" + (f" ({move.new} new)" if move.new else ""),
            kind_short(device, move.kind),
            str(move.out),
            str(move.loose),
            (tray.compartment_of(move.joint) or "") if tray else "",
        )
        for move in ledger.movements
    ]
    return [
        *wrap(
            f"{device.name}: {most} loose {'piece' if most == 1 else 'pieces'} at the turning point.",
            width,
        ),
        "",
        *table(MOVE_COLUMNS, rows, width, colour=colour),
        "",
        "When all is done as planned:",
        *_kind_table(device, ledger.at_end, width, colour=colour),
    ]


# --- a job ----------------------------------------------------------------------------------------


def _of_run(device: Device, state: JobState, log: EventLog) -> tuple[Json, list[str]]:
    ledger = ledger_of(device, log.events)
    left = hindrances(device, state, ledger)
    values: Json = {
        "device": device.id,
        "revision": device.revision_hash,
        "of": "run",
        "began_with_revision": state.revision or None,
        "events": state.version,
        "open": list(state.open),
        "out": [_lot_as_json(lot) for lot in ledger.out],
        **_accounts_as_json(ledger),
        "may_be_closed": not left,
        "hindrances": [_hindrance_as_json(each) for each in left],
        "remarks": [remark_as_json(remark) for remark in (*state.remarks, *ledger.notes)],
        "warnings": [warning.as_json() for warning in log.warnings],
    }
    return values, _run_text(device, state, ledger, left)


def _run_text(
    device: Device, state: JobState, ledger: Ledger, left: tuple[Hindrance, ...]
) -> list[str]:
    width, colour = terminal_width(), wants_colour()
    out = sum(lot.count for lot in ledger.out)
    lines = wrap(
        f"{device.name}: {several(state.version, 'event')}, {several(len(state.open), 'joint')} open, "
        f"{several(out, 'loose piece')} out.",
        width,
    )
    if ledger.out:
        rows = [
            (
                str(lot.count),
                kind_short(device, lot.kind),
                joint_name(device, lot.joint),
                lot.compartment or "",
            )
            for lot in ledger.out
        ]
        lines += ["", "What lies out:", *table(OUT_COLUMNS, rows, width, colour=colour)]
    if ledger.kinds:
        lines += [
            "",
            "The account of each kind:",
            *_kind_table(device, ledger, width, colour=colour),
        ]
    remarks: list[Remark] = [*state.remarks, *ledger.notes]
    if remarks:
        lines += ["", "What does not fit:"]
        lines += [t for r in remarks for t in wrap(f"{r.event}: {r.text}", width, indent=2, hang=4)]
    lines.append("")
    if not left:
        lines += wrap(
            "Nothing is unexplained: as far as the pieces go, the record may be closed.", width
        )
        return lines
    lines.append("The record may not be closed yet:")
    lines += [t for each in left for t in wrap(f"- {each.text}", width, indent=2, hang=4)]
    return lines


# --- both -----------------------------------------------------------------------------------------


def _kind_table(device: Device, ledger: Ledger, width: int, *, colour: bool) -> list[str]:
    rows = [
        (
            kind_short(device, account.kind),
            *(
                str(number or "")
                for number in (
                    account.taken_out, account.put_back, account.new, account.scrapped, account.lost,
                    account.out, account.surplus, account.unexplained,
                )
            ),
        )
        for account in ledger.kinds
    ]  # fmt: skip
    return table(KIND_COLUMNS, rows, width, colour=colour) if rows else ["  none"]


def _kind_as_json(kind: Kind) -> Json:
    return {"kind": kind.key, "fastener": kind.name if kind.sort == "fastener" else None}


def _lot_as_json(lot: OutLot) -> Json:
    return {
        "joint": lot.joint,
        **_kind_as_json(lot.kind),
        "count": lot.count,
        "compartment": lot.compartment,
    }


def _accounts_as_json(ledger: Ledger) -> Json:
    return {
        "kinds": [_account_as_json(account) for account in ledger.kinds],
        "joints": [_joint_as_json(account) for account in ledger.joints],
        "lost": [
            {
                "event": loss.event,
                "joint": loss.joint,
                **_kind_as_json(loss.kind),
                "count": loss.count,
                "inside": loss.inside,
                "searched": loss.searched,
            }
            for loss in ledger.losses
        ],
        "surplus": [
            {"event": each.event, **_kind_as_json(each.kind), "count": each.count}
            for each in ledger.surplus
        ],
    }


def _account_as_json(account: KindAccount) -> Json:
    return {
        **_kind_as_json(account.kind),
        "taken_out": account.taken_out,
        "put_back": account.put_back,
        "new": account.new,
        "scrapped": account.scrapped,
        "lost": account.lost,
        "out": account.out,
        "surplus": account.surplus,
        "surplus_used": account.surplus_used,
        "unexplained": account.unexplained,
        "recount_gap": account.recount_gap,
        "balances": account.balances,
    }


def _joint_as_json(account: JointAccount) -> Json:
    return {
        "joint": account.joint,
        **_kind_as_json(account.kind),
        "state": account.state,
        "count": account.count,
        "taken_out": account.taken_out,
        "missing": account.missing,
        "put_back": account.put_back,
        "new": account.new,
        "left_empty": account.left_empty,
        "balances": account.balances,
    }


def _hindrance_as_json(each: Hindrance) -> Json:
    return {
        "code": each.code,
        "text": each.text,
        "joint": each.joint,
        "kind": each.kind.key if each.kind else None,
    }
