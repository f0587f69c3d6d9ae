"""``lastscrew plan``: the cheapest safe way in and way out, on screen or as JSON."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import click

from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import STDIN_NAME, load_device_file
from lastscrew.cli.numbers import FiniteRange
from lastscrew.cli.plan_options import (
    Asked,
    JsonCommand,
    Watch,
    find_plan,
    plan_options,
    request_of,
    solve,
    stop_rule,
    watching,
)
from lastscrew.cli.plan_text import plan_text
from lastscrew.cli.plan_whatif import (
    Comparison,
    comparison_as_json,
    comparison_words,
    robust_as_json,
    robust_words,
    why_as_json,
    why_words,
)
from lastscrew.cli.run_files import read_run
from lastscrew.device.model import Device
from lastscrew.paper.plan_json import Batch, Json, plan_as_json
from lastscrew.plan.asking import unknown_joints
from lastscrew.plan.briefing import Briefing, brief
from lastscrew.plan.model import Plan
from lastscrew.plan.robustness import Robustness, robustness
from lastscrew.problems import InputError, Problem
from lastscrew.proof.checks import Proof, proof_of
from lastscrew.run.folding import fold
from lastscrew.times.learning import DEFAULT_RATE, MOST_UNITS

COMPARING_S = 10.0
"""Seconds that the comparison with the plan without a restriction may take where no limit is given."""


@dataclass(frozen=True, slots=True)
class Extras:
    """What is asked beside the plan.

    Attributes:
        why: Joints whose reason is asked for.
        robust: Tell how far times may be wrong.
        batch: A batch of like units, None for one.
    """

    why: tuple[str, ...]
    robust: bool
    batch: Batch | None


@dataclass(frozen=True, slots=True)
class Answer:
    """The plan and everything beside it."""

    briefing: Briefing
    extras: Extras
    comparison: Comparison | None
    robust: Robustness | None
    remarks: tuple[str, ...]


@click.command(cls=JsonCommand)
@click.argument("file")
@plan_options
@click.option(
    "--why",
    multiple=True,
    metavar="JOINT",
    help="Tell why a joint is opened or left closed. Repeatable.",
)
@click.option(
    "--robust",
    is_flag=True,
    help="Tell by how much the times may be wrong before another way wins.",
)
@click.option(
    "--units",
    type=click.IntRange(1, MOST_UNITS),
    default=None,
    metavar="N",
    help="Time of a batch of N like units.",
)
@click.option(
    "--learning",
    type=FiniteRange(min=0.5, max=1),
    default=DEFAULT_RATE,
    show_default=True,
    metavar="RATE",
    help="Learning rate of a batch (Crawford): each doubling of units brings the time of one down to this share.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(
    *,
    file: str,
    asked: Asked,
    why: tuple[str, ...],
    robust: bool,
    units: int | None,
    learning: float,
    as_json: bool,
) -> None:
    """The cheapest safe way in and way out for what is to be exchanged.

    FILE is a device file (- for standard input). Name at least one part to --replace, one joint to
    --reach, one joint that is --open already, or a --run.
    """  # fmt: skip
    batch = None if units is None else Batch(units, learning)
    with edge(as_json=as_json):
        device = load_device_file(file)
        name = STDIN_NAME if file == "-" else file
        answer = _answer(device, asked, Extras(why, robust, batch), name)
    proof = proof_of(answer.briefing.device, answer.briefing.plan)
    if as_json:
        values = {**plan_as_json(answer.briefing, proof, batch), **_beside(answer)}
        click.echo(json_text(values))
    else:
        _print(answer, proof)


def _answer(device: Device, asked: Asked, extras: Extras, file: str) -> Answer:
    """Plan, and answer what is asked beside it, all under one limit."""
    request = request_of(device, asked)
    _refuse_what_cannot_be_told(device, request.objective, extras, file)
    remarks = _remarks(device, asked)
    asked = replace(asked, request=request, run_file=None)
    with watching(asked.limit_s) as watch:
        plan = find_plan(device, asked, file=file, watch=watch)
        briefing = brief(device, plan)
        comparison = _compare(device, asked, plan, watch, file)
        tolerances = None
        if extras.robust:
            rule = stop_rule(watch, asked.work)
            tolerances = robustness(
                device, plan, lambda r: solve(device, r, rule, file=file), watch.expired
            )
    return Answer(briefing, extras, comparison, tolerances, remarks)


def _refuse_what_cannot_be_told(device: Device, objective: str, extras: Extras, file: str) -> None:
    problems = [
        replace(problem, file=file, path=f"--why {problem.path}".strip())
        for problem in unknown_joints(device, extras.why)
    ]
    if extras.robust and objective == "steps":
        problems.append(
            Problem(
                "The objective steps does not depend on times alone, so that no tolerance can be told.",
                "Ask for --objective time or risk.",
                path="--robust",
                file=file,
                code="robust_steps",
            )
        )
    if problems:
        raise InputError(problems)


def _remarks(device: Device, asked: Asked) -> tuple[str, ...]:
    """What does not fit in the run so far."""
    if asked.run_file is None:
        return ()
    log = read_run(asked.run_file)
    state = fold(device, log.events)
    found = [f"{remark.event}: {remark.text}" for remark in state.remarks]
    if state.check_on:
        found.append("power is on for a check: isolate again before the next step")
    return tuple(found)


def _compare(
    device: Device, asked: Asked, plan: Plan, watch: Watch, file: str
) -> Comparison | None:
    """The plan without the restriction, where there is one."""
    request = asked.request
    if not any(joint in device.joints for joint in request.without):
        return None
    free = replace(request, without=())
    own = watch if watch.ends is not None else Watch(COMPARING_S)
    rule = stop_rule(own, asked.work)
    try:
        other = solve(
            device,
            free,
            replace(rule, expired=lambda: own.expired() or watch.interrupted),
            file=file,
        )
    except InputError:  # stopped before it had any plan: there is nothing to compare with
        return None
    return Comparison(plan, other)


def _beside(answer: Answer) -> Json:
    """Keys that are there only when they were asked for."""
    found: Json = {}
    if answer.extras.why:
        found["why"] = [why_as_json(answer.briefing, joint) for joint in answer.extras.why]
    if answer.comparison is not None:
        found["without"] = comparison_as_json(answer.comparison)
    if answer.robust is not None:
        found["robust"] = robust_as_json(answer.robust)
    if answer.remarks:
        found["run_remarks"] = list(answer.remarks)
    return found


def _print(answer: Answer, proof: Proof) -> None:
    width, colour = terminal_width(), wants_colour()
    for remark in answer.remarks:
        click.echo(f"warning: {remark}", err=True)
    if answer.extras.why:
        lines = [t for joint in answer.extras.why for t in why_words(answer.briefing, joint, width)]
        _echo("\n".join(lines))
        return
    parts = [plan_text(answer.briefing, proof, answer.extras.batch, width=width, colour=colour)]
    if answer.comparison is not None:
        parts.append("\n".join(comparison_words(answer.briefing.device, answer.comparison, width)))
    if answer.robust is not None:
        parts.append("\n".join(robust_words(answer.briefing, answer.robust, width)))
    _echo("\n\n".join(parts))


def _echo(text: str) -> None:
    click.echo(for_encoding(text, sys.stdout.encoding), color=True)
