"""``lastscrew fault``: what is wrong, which check or mend comes next, and why."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import STDIN_NAME, read_device_file
from lastscrew.cli.plan_options import JsonCommand, Watch, watching
from lastscrew.device.model import Device
from lastscrew.problems import InputError, Problem

if TYPE_CHECKING:
    from lastscrew.device.reading import ReadResult
    from lastscrew.faults.advice import Advice
    from lastscrew.faults.model import FaultModel

MOST_JOBS = 100_000
SIMULATION_WORK = 200


@dataclass(frozen=True, slots=True)
class Wish:
    """What the command line asked for."""

    file: str
    shows: tuple[str, ...]
    lacks: tuple[str, ...]
    complaint: str
    results: tuple[str, ...]
    opened: tuple[str, ...]
    run_file: str | None
    not_fitted: tuple[str, ...]
    fitted: tuple[str, ...]
    stock: tuple[str, ...]
    two: bool
    second_fault: float | None
    rate: float | None
    worth: float | None
    pace: float
    work: int | None
    keep: bool


@click.command(cls=JsonCommand)
@click.argument("file")
@click.option("--shows", multiple=True, metavar="SYMPTOM", help="A symptom that shows. Repeatable.")
@click.option(
    "--lacks",
    multiple=True,
    metavar="SYMPTOM",
    help="A symptom that was looked for and does not show. Repeatable.",
)
@click.option(
    "--complaint",
    default="",
    metavar="TEXT",
    help="What the owner said: symptoms that it may mean are named, for you to confirm.",
)
@click.option(
    "--result",
    "results",
    multiple=True,
    metavar="CHECK=OUTCOME",
    help="What a check gave (an outcome, or the measured value), or MEND=done; in order. Repeatable.",
)
@click.option(
    "--open", "opened", multiple=True, metavar="JOINT", help="Joint that is open now. Repeatable."
)
@click.option(
    "--run",
    "run_file",
    default=None,
    metavar="FILE",
    help="Run events (JSON Lines) of a job that has begun: its open joints are taken from it.",
)
@click.option(
    "--not-fitted",
    multiple=True,
    metavar="ID",
    help="Option, part or joint that this unit lacks. Repeatable.",
)
@click.option(
    "--fitted",
    multiple=True,
    metavar="OPTION",
    help="Option that this unit has although most lack it. Repeatable.",
)
@click.option(
    "--stock",
    multiple=True,
    metavar="PART",
    help="Part of which a known-good one is at hand, for swap tests (all: of each). Repeatable.",
)
@click.option(
    "--two-faults",
    "two",
    is_flag=True,
    help="Two faults at once may be there (else only after liquid or a drop).",
)
@click.option(
    "--second-fault",
    type=click.FloatRange(min=0, max=0.9),
    default=None,
    metavar="SHARE",
    help="Share of jobs with two faults (default 0.1; after liquid or a drop 0.4). 0: never two.",
)
@click.option(
    "--rate",
    type=click.FloatRange(min=0),
    default=None,
    metavar="PRICE",
    help="Price of an hour of labour: costs are money then, prices of parts and harm included.",
)
@click.option(
    "--worth",
    type=click.FloatRange(min=0),
    default=None,
    metavar="COST",
    help="What giving up costs (money with --rate, else seconds).",
)
@click.option(
    "--pace",
    type=click.FloatRange(min=0.1, max=10),
    default=1.0,
    show_default=True,
    metavar="FACTOR",
    help="Factor on the times that come from tables (1.2: a fifth slower).",
)
@click.option("--tree", is_flag=True, help="Print the whole strategy, or draw it with -o.")
@click.option(
    "-o", "--output", default=None, metavar="OUT.svg", help="Draw the whole strategy to a file."
)
@click.option(
    "--least",
    type=click.FloatRange(min=0, max=1),
    default=0.01,
    show_default=True,
    metavar="SHARE",
    help="Leave out what is less likely than this from the strategy.",
)
@click.option(
    "--simulate",
    type=click.IntRange(1, MOST_JOBS),
    default=None,
    metavar="N",
    help="Draw N machines and play the proposal against two everyday habits.",
)
@click.option(
    "--seed", type=int, default=1, show_default=True, metavar="N", help="Seed of the draws."
)
@click.option(
    "--limit",
    type=click.FloatRange(min=0),
    default=None,
    metavar="SECONDS",
    help="Search for this long, or until proven.",
)
@click.option(
    "--work",
    type=click.IntRange(min=0),
    default=None,
    metavar="N",
    help="Unfold N actions in the search (repeats exactly; default by the size of the model).",
)
@click.option("--no-cache", is_flag=True, help="Neither read nor keep prepared opening costs.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(
    *,
    tree: bool,
    output: str | None,
    least: float,
    simulate: int | None,
    seed: int,
    limit: float | None,
    as_json: bool,
    no_cache: bool,
    **given: Any,  # noqa: ANN401  (click hands over what it parsed)
) -> None:
    """Find the fault with the least work: the next check or mend, what it costs, and why.

    FILE is a device file (- for standard input) with a section faults. Costs are seconds of work;
    with --rate they are money, and prices of parts count as well.
    """
    wish = Wish(keep=not no_cache, **given)
    with edge(as_json=as_json), watching(limit) as watch:
        model, remarks, start = _model(wish)
        if simulate is not None:
            _simulate(model, wish, simulate, seed, as_json=as_json)
            return
        advice = _advise(model, wish, watch, start)
        twig = _tree(model, advice, least) if tree or output is not None else None
        if output is not None and twig is not None:
            _draw(model, wish, twig, output)
        if as_json:
            click.echo(json_text(_as_json(model, advice, remarks, twig if tree else None)))
        elif twig is not None and tree:
            _echo(_tree_words(model, twig))
        elif output is None:
            _echo(_words(model, advice, remarks))


# --- from the command line to a model --------------------------------------------------------------


def _model(wish: Wish) -> tuple[FaultModel, list[str], int]:
    """The model of the unit, remarks on how it was understood, and what is open now."""
    from lastscrew.cli.fault_cache import prepare
    from lastscrew.device.fitting import fit
    from lastscrew.faults.model import fault_model

    result = read_device_file(wish.file)
    if result.device is None:
        raise InputError(result.problems)
    problems = _name_problems(result.device, wish)
    if problems:
        raise InputError(replace(p, file=_name(wish.file)) for p in problems)
    device = fit(result.device, wish.not_fitted, wish.fitted)
    second, remarks = _second_fault(device, wish)
    stock = tuple(device.parts) if "all" in wish.stock else wish.stock
    try:
        model = fault_model(
            device, stock=stock, second_fault=second, pace=wish.pace, rate_per_h=wish.rate
        )
    except InputError as error:
        raise InputError(
            _placed(problem, result, wish.file) for problem in error.problems
        ) from None
    start = model.openings.state(_open_joints(result.device, wish))
    _refuse_impossible_start(model, start, wish)
    prepare(model, start, wish.pace, keep=wish.keep)
    return model, [*remarks, *_remarks(model, wish)], start


def _name(file: str) -> str:
    return STDIN_NAME if file == "-" else file


def _name_problems(device: Device, wish: Wish) -> list[Problem]:
    """Unknown joints, parts and options on the command line."""
    from lastscrew.plan.asking import nearest, unknown_joints

    problems = [replace(p, path=f"--open {p.path}") for p in unknown_joints(device, wish.opened)]
    known = {
        "--stock": (wish.stock, [*device.parts, "all"]),
        "--fitted": (wish.fitted, list(device.options)),
        "--not-fitted": (wish.not_fitted, [*device.options, *device.parts, *device.joints]),
    }
    for option, (names, among) in known.items():
        for name in names:
            if name not in among:
                meant = nearest(name, among)
                problems.append(
                    Problem(
                        f'"{name}" is not known here.',
                        f'Did you mean "{meant}"?' if meant else "See the device file.",
                        path=f"{option} {name}",
                        code="unknown_name",
                    )
                )
    return problems


def _second_fault(device: Device, wish: Wish) -> tuple[float, list[str]]:
    """Share of jobs with two faults, and why."""
    from lastscrew.faults.model import SECOND_FAULT, SECOND_FAULT_AFTER_EVENT
    from lastscrew.faults.words import tells_of_event

    event = tells_of_event(device, wish.shows, wish.complaint)
    if wish.second_fault is not None:
        return wish.second_fault, []
    if event is not None:
        said = "liquid" if event == "liquid" else "a drop"
        share = f"{SECOND_FAULT_AFTER_EVENT:.0%}"
        return SECOND_FAULT_AFTER_EVENT, [
            f"The complaint tells of {said}: two faults at once are reckoned with ({share}, our own figure)."
        ]
    return (SECOND_FAULT if wish.two else 0.0), []


def _remarks(model: FaultModel, wish: Wish) -> list[str]:
    """Symptoms that the complaint may mean, swap tests without stock, prices that do not count."""
    from lastscrew.faults.words import symptoms_meant
    from lastscrew.faults.works import swap_tests_without_stock

    remarks = [
        f'"{wish.complaint}" may mean {model.device.symptoms[m.symptom].name}: confirm with --shows {m.symptom}.'
        for m in (symptoms_meant(model.device, wish.complaint) if wish.complaint else ())
        if m.symptom not in wish.shows
    ]
    stock = tuple(model.device.parts) if "all" in wish.stock else wish.stock
    missing = swap_tests_without_stock(model.device, stock)
    if missing:
        parts = ", ".join(dict.fromkeys(check.swap_test or "" for check in missing))
        remarks.append(
            f"Swap tests need a known-good part: name what is at hand with --stock ({parts})."
        )
    if wish.rate is None and any(work.price for work in model.works):
        remarks.append("Prices of parts do not count without --rate.")
    return remarks


def _open_joints(device: Device, wish: Wish) -> tuple[str, ...]:
    if wish.run_file is None:
        return wish.opened
    from lastscrew.cli.run_files import read_run
    from lastscrew.run.folding import fold

    state = fold(device, read_run(wish.run_file).events)
    return tuple(dict.fromkeys((*state.open, *wish.opened)))


def _refuse_impossible_start(model: FaultModel, start: int, wish: Wish) -> None:
    """Joints that can't be open unless others are as well."""
    changes = model.openings.changes
    isolated = start | changes.isolators
    lost = isolated & ~changes.largest_within(isolated) if changes.is_powered(start) else 0
    if lost:
        names = ", ".join(model.openings.joints(lost))
        raise InputError(
            [
                Problem(
                    f"{names} can't be open while what leads there is closed.",
                    "Name every joint that is open, from the outside in.",
                    path="--open",
                    file=_name(wish.file),
                    code="start_not_reachable",
                )
            ]
        )


def _placed(problem: Problem, result: ReadResult, file: str) -> Problem:
    """The problem with its place in the device file."""
    steps = problem.path.split(".") if problem.path.startswith("checks.") else ["faults"]
    place = result.place(*steps)
    line, column = place if place is not None else (None, None)
    return replace(problem, file=_name(file), line=line, column=column)


# --- answers ------------------------------------------------------------------------------------------


def _advise(model: FaultModel, wish: Wish, watch: Watch, start: int) -> Advice:
    from lastscrew.faults.advice import EXACT_WORK, advise
    from lastscrew.faults.evidence import Evidence, standing

    try:
        evidence = Evidence(wish.shows, wish.lacks, _results(wish))
        where = standing(model, evidence, start=start, worth=wish.worth)
    except InputError as error:
        raise InputError(replace(p, file=_name(wish.file)) for p in error.problems) from None
    work = wish.work
    if work is None and watch.ends is not None:
        work = 100 * EXACT_WORK
    return advise(model, where, work=work, expired=watch.expired)


def _results(wish: Wish) -> tuple[tuple[str, str], ...]:
    """Pairs of check and outcome."""
    pairs, problems = [], []
    for result in wish.results:
        name, equals, outcome = result.partition("=")
        if not equals or not name or not outcome:
            problems.append(
                Problem(
                    f'"{result}" is no result.',
                    "Write CHECK=OUTCOME.",
                    path=f"--result {result}",
                    code="result",
                )
            )
        pairs.append((name.strip(), outcome.strip()))
    if problems:
        raise InputError(problems)
    return tuple(pairs)


def _simulate(model: FaultModel, wish: Wish, jobs: int, seed: int, *, as_json: bool) -> None:
    from lastscrew.cli.fault_json import simulation_as_json
    from lastscrew.cli.fault_text import cost_words, simulation_text
    from lastscrew.faults.simulation import simulate

    work = SIMULATION_WORK if wish.work is None else wish.work
    results = simulate(model, jobs, seed=seed, work=work, worth=wish.worth)
    if as_json:
        click.echo(json_text(simulation_as_json(results, jobs, seed)))
    else:
        _echo(simulation_text(results, jobs, cost=cost_words(wish.rate)))


def _tree(model: FaultModel, advice: Advice, least: float) -> Any:  # noqa: ANN401  (a Twig)
    from lastscrew.faults.strategy import strategy_tree

    return strategy_tree(
        model, advice.search, advice.node, least=least, work=0 if advice.proven else 50
    )


def _draw(model: FaultModel, wish: Wish, twig: Any, output: str) -> None:  # noqa: ANN401  (a Twig)
    from lastscrew.cli.fault_text import cost_words
    from lastscrew.cli.writing_out import say_written, write_out
    from lastscrew.paper.strategy import draw_strategy
    from lastscrew.paper.svg import to_text

    shown = ", ".join(model.device.symptoms[s].name for s in wish.shows)
    title = f"{model.device.name}: {shown or 'what to try, in order'}"
    write_out(output, to_text(draw_strategy(twig, title, cost_words(wish.rate))).encode())
    say_written(output, "the whole strategy")


def _as_json(
    model: FaultModel,
    advice: Advice,
    remarks: Sequence[str],
    twig: Any,  # noqa: ANN401  (a Twig)
) -> dict[str, Any]:
    from lastscrew.cli.fault_json import advice_as_json, tree_as_json
    from lastscrew.faults.sensitivity import flips

    values = advice_as_json(model, advice, flips(model, advice))
    values["remarks"] = list(remarks)
    values["prepared_moves"] = model.openings.prepared
    if twig is not None:
        values["tree"] = tree_as_json(twig)
    return values


def _words(model: FaultModel, advice: Advice, remarks: Sequence[str]) -> str:
    from lastscrew.cli.fault_text import advice_text, cost_words
    from lastscrew.faults.sensitivity import flips

    return advice_text(
        model,
        advice,
        flips(model, advice, most=3),
        remarks,
        width=terminal_width(),
        colour=wants_colour(),
        cost=cost_words(model.openings.rate_per_h),
    )


def _tree_words(model: FaultModel, twig: Any) -> str:  # noqa: ANN401  (a Twig)
    from lastscrew.cli.fault_text import cost_words, tree_text

    return tree_text(twig, width=terminal_width(), cost=cost_words(model.openings.rate_per_h))


def _echo(text: str) -> None:
    click.echo(for_encoding(text, sys.stdout.encoding), color=True)
