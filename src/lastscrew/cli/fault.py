"""``lastscrew fault``: what is wrong, which check or mend comes next, and why."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from gc import freeze
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import STDIN_NAME, read_device_file
from lastscrew.cli.numbers import FiniteRange
from lastscrew.cli.plan_options import FITTED, NOT_FITTED, JsonCommand, Watch, watching
from lastscrew.device.model import Device
from lastscrew.problems import InputError, Problem

if TYPE_CHECKING:
    from lastscrew.cli.fault_cache import Prepared
    from lastscrew.device.reading import ReadResult
    from lastscrew.faults.advice import Advice
    from lastscrew.faults.evidence import Evidence
    from lastscrew.faults.learning import Learnt
    from lastscrew.faults.proposing import Terms
    from lastscrew.faults.strategy import Twig

MOST_JOBS = 100_000
SIMULATION_WORK = 60
TREE_WORK = 50
REPORT_AFTER_S = 1.0
"""Preparing that takes longer is told, where a person watches."""
OPTION_OF_FIELD = {
    "shows": "--shows", "lacks": "--lacks", "results": "--result", "doubtful": "--doubt", "opened": "--open",
    "stock": "--stock", "fitted": "--fitted", "not_fitted": "--not-fitted",
}  # fmt: skip
"""Which option fills which field of a question, for messages."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What the command line asked for."""

    file: str
    shows: tuple[str, ...]
    lacks: tuple[str, ...]
    complaint: str
    results: tuple[str, ...]
    doubtful: tuple[str, ...]
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
    learn: str | None
    strength: float | None
    take_back: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """The wish in the words of the package that answers it."""

    device: Device
    terms: Terms
    evidence: Evidence
    opened: tuple[str, ...]
    learnt: Learnt | None
    problems: tuple[Problem, ...] = ()


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
    "--doubt",
    "doubtful",
    multiple=True,
    metavar="CHECK",
    help="A check (or mend) whose result is doubtful: it counts as if it had never been. Repeatable.",
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
@NOT_FITTED
@FITTED
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
    type=FiniteRange(min=0, max=0.9),
    default=None,
    metavar="SHARE",
    help="Share of jobs with two faults (default 0.1; after liquid or a drop 0.4). 0: never two.",
)
@click.option(
    "--rate",
    type=FiniteRange(min=0),
    default=None,
    metavar="PRICE",
    help="Price of an hour of labour: costs are money then, prices of parts and harm included.",
)
@click.option(
    "--worth",
    type=FiniteRange(min=0),
    default=None,
    metavar="COST",
    help="What giving up costs (money with --rate, else seconds).",
)
@click.option(
    "--pace",
    type=FiniteRange(min=0.1, max=10),
    default=1.0,
    show_default=True,
    metavar="FACTOR",
    help="Factor on the times that come from tables (1.2: a fifth slower).",
)
@click.option(
    "--learn",
    default=None,
    metavar="JOBS.jsonl",
    help="Closed jobs to learn from: frequencies and chances are corrected by their counts.",
)
@click.option(
    "--strength",
    type=FiniteRange(min=0, max=1_000_000),
    default=None,
    metavar="N",
    help="Closed jobs that the frequencies of the file count for (default 20; a chance: half as many results).",
)
@click.option(
    "--take-back",
    multiple=True,
    metavar="JOB[:CHECK]",
    help="A closed job, or one result of it, that is not to be learnt from. Repeatable.",
)
@click.option("--tree", is_flag=True, help="Print the whole strategy, or draw it with -o.")
@click.option(
    "-o", "--output", default=None, metavar="OUT.svg", help="Draw the whole strategy to a file."
)
@click.option(
    "--least",
    type=FiniteRange(min=0, max=1),
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
    type=FiniteRange(min=0),
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
        question, read = _question(wish)
        with _placing(wish, read):
            ready = _prepare(question, keep=wish.keep)
            freeze()  # what is prepared stays to the end: no collection of garbage looks at it again
            if simulate is not None:
                _simulate(question, ready, wish, (simulate, seed), as_json=as_json)
                return
            advice = _advise(question, ready, wish, watch)
        twig = _tree(advice, least) if tree or output is not None else None
        _put(ready)
        if output is not None and twig is not None:
            _draw(advice, twig, output)
        if as_json:
            click.echo(json_text(_as_json(advice, question, ready, twig if tree else None)))
        elif twig is not None and tree:
            _echo(_tree_words(advice, twig))
        elif output is None:
            _echo(_words(advice, question))


# --- from the command line to a question -----------------------------------------------------------


def _question(wish: Wish) -> tuple[Question, ReadResult]:
    """What is asked, in the words of the package that answers it; and the file as it was read.

    Raises:
        InputError: The device file has errors, or results and closed jobs can't be read.
    """
    from lastscrew.faults.evidence import Evidence
    from lastscrew.faults.proposing import Terms

    read = read_device_file(wish.file)
    if read.device is None:
        raise InputError(read.errors)
    device, learnt = _learnt(read.device, wish)
    terms = Terms(
        wish.not_fitted, wish.fitted, wish.stock, wish.two, wish.second_fault, wish.rate, wish.worth, wish.pace
    )  # fmt: skip
    results, problems = _results(wish)
    evidence = Evidence(wish.shows, wish.lacks, results, wish.doubtful, wish.complaint)
    opened = _open_joints(read.device, wish)
    return Question(device, terms, evidence, opened, learnt, tuple(problems)), read


def _learnt(device: Device, wish: Wish) -> tuple[Device, Learnt | None]:
    """The device with what closed jobs teach."""
    if wish.learn is None:
        if wish.take_back or wish.strength is not None:
            option = "--take-back" if wish.take_back else "--strength"
            raise InputError(
                [
                    Problem(
                        "No closed jobs are given.",
                        "Name their file with --learn.",
                        path=option,
                        file=_name(wish.file),
                    )
                ]
            )
        return device, None
    from lastscrew.faults.closed_jobs import MAX_BYTES, read_jobs, without
    from lastscrew.faults.learning import learn, with_learnt

    with Path(wish.learn).open("rb") as file:
        jobs = read_jobs(file.read(MAX_BYTES + 1), wish.learn)
    jobs = without(jobs, wish.take_back, wish.learn)
    learnt = learn(device, jobs) if wish.strength is None else learn(
        device, jobs, strength=wish.strength, check_strength=wish.strength / 2
    )  # fmt: skip
    return with_learnt(device, learnt), learnt


def _open_joints(device: Device, wish: Wish) -> tuple[str, ...]:
    if wish.run_file is None:
        return wish.opened
    from lastscrew.cli.run_files import read_run, tell_warnings
    from lastscrew.run.folding import fold

    log = read_run(wish.run_file)
    tell_warnings(log.warnings)
    state = fold(device, log.events)
    return tuple(dict.fromkeys((*state.open, *wish.opened)))


def _results(wish: Wish) -> tuple[tuple[tuple[str, str], ...], list[Problem]]:
    """Pairs of check and outcome, and what is none."""
    pairs: list[tuple[str, str]] = []
    problems: list[Problem] = []
    for result in wish.results:
        name, _, outcome = (word.strip() for word in result.partition("="))
        if name and outcome:
            pairs.append((name, outcome))
        else:
            problems.append(
                Problem(
                    f'"{result}" is no result.',
                    "Write CHECK=OUTCOME, or MEND=done.",
                    path="results",
                    code="result",
                )
            )
    return tuple(pairs), problems


def _name(file: str) -> str:
    return STDIN_NAME if file == "-" else file


@contextmanager
def _placing(wish: Wish, read: ReadResult) -> Iterator[None]:
    """Problems get their option, or their place in the device file."""
    try:
        yield
    except InputError as error:
        raise InputError(_placed(problem, read, wish.file) for problem in error.problems) from None


def _placed(problem: Problem, read: ReadResult, file: str) -> Problem:
    field, _, value = problem.path.partition(".")
    if field in OPTION_OF_FIELD:
        return replace(problem, file=_name(file), path=f"{OPTION_OF_FIELD[field]} {value}".strip())
    if not problem.path:
        return replace(problem, file=_name(file))
    place = read.place(*(problem.path.split(".") if field in ("checks", "faults") else ["faults"]))
    line, column = place if place is not None else (None, None)
    return replace(problem, file=_name(file), line=line, column=column)


# --- answers ------------------------------------------------------------------------------------------


def _prepare(question: Question, *, keep: bool) -> Prepared:
    """Opening costs; what is wrong with the question is told before they are worked out."""
    from lastscrew.cli.fault_cache import prepare
    from lastscrew.faults.proposing import model_for

    problems = list(question.problems)
    try:
        model_for(question.device, question.evidence, question.opened, terms=question.terms)
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError(problems)
    ready = prepare(question.device, question.opened, question.terms, keep=keep)
    if ready.seconds > REPORT_AFTER_S and sys.stderr.isatty():
        kept = ", kept for the next time" if ready.folder is not None else ""
        moves = f"{ready.openings.prepared:,} ways"
        click.echo(f"Opening costs worked out: {moves} in {ready.seconds:.1f} s{kept}.", err=True)
    return ready


def _advise(question: Question, ready: Prepared, wish: Wish, watch: Watch) -> Advice:
    from lastscrew.faults.advice import EXACT_WORK, THOROUGH_WORK
    from lastscrew.faults.proposing import propose

    search_work = 100 * EXACT_WORK if watch.ends is not None else wish.work
    return propose(
        question.device,
        question.evidence,
        question.opened,
        terms=question.terms,
        openings=ready.openings,
        work=search_work,
        probes=THOROUGH_WORK if wish.work is None else wish.work,
        expired=watch.expired,
    )


def _put(ready: Prepared) -> None:
    """Keep what is known of opening costs now."""
    from lastscrew.cli.fault_cache import put as keep

    keep(ready)


def _simulate(
    question: Question, ready: Prepared, wish: Wish, draws: tuple[int, int], *, as_json: bool
) -> None:
    from lastscrew.cli.fault_json import simulation_as_json
    from lastscrew.cli.fault_text import Page, cost_words, simulation_text
    from lastscrew.faults.evidence import Evidence
    from lastscrew.faults.proposing import model_for
    from lastscrew.faults.simulation import simulate

    evidence = Evidence(shows=question.evidence.shows, complaint=question.evidence.complaint)
    model = model_for(
        question.device, evidence, question.opened, terms=question.terms, openings=ready.openings
    )
    work = SIMULATION_WORK if wish.work is None else wish.work
    jobs, seed = draws
    results = simulate(model, jobs, seed=seed, work=work, worth=wish.worth, shows=evidence.shows)
    _put(ready)
    if as_json:
        click.echo(json_text(simulation_as_json(results, jobs, seed)))
    else:
        page = Page(terminal_width(), cost_words(wish.rate))
        _echo(simulation_text(results, jobs, seed=seed, page=page))


def _tree(advice: Advice, least: float) -> Twig:
    from lastscrew.faults.strategy import strategy_tree

    work = 0 if advice.proven else TREE_WORK
    return strategy_tree(advice.model, advice.search, advice.node, least=least, work=work)


def _draw(advice: Advice, twig: Twig, output: str) -> None:
    from lastscrew.cli.fault_text import cost_words
    from lastscrew.cli.writing_out import say_written, write_out
    from lastscrew.paper.strategy import draw_strategy
    from lastscrew.paper.svg import to_text

    device = advice.model.device
    shown = ", ".join(device.symptoms[s].name for s in advice.standing.evidence.shows)
    title = f"{device.name}: {shown or 'what to try, in order'}"
    cost = cost_words(advice.model.openings.rate_per_h)
    write_out(output, to_text(draw_strategy(twig, title, cost)).encode())
    say_written(output, "the whole strategy")


def _as_json(
    advice: Advice, question: Question, ready: Prepared, twig: Twig | None
) -> dict[str, Any]:
    from lastscrew.cli.fault_json import advice_as_json, learnt_as_json, tree_as_json
    from lastscrew.faults.sensitivity import flips

    values = advice_as_json(advice, flips(advice.model, advice))
    values["prepared"] = {
        "moves": ready.openings.prepared,
        "from_cache": ready.taken,
        "seconds": round(ready.seconds, 3),
    }
    if question.learnt is not None:
        values["learnt"] = learnt_as_json(question.learnt)
    if twig is not None:
        values["tree"] = tree_as_json(twig)
    return values


def _words(advice: Advice, question: Question) -> str:
    from lastscrew.cli.fault_text import Page, advice_text, cost_words
    from lastscrew.faults.sensitivity import flips

    page = Page(
        terminal_width(), cost_words(advice.model.openings.rate_per_h), colour=wants_colour()
    )
    return advice_text(advice, flips(advice.model, advice, most=3), page, question.learnt)


def _tree_words(advice: Advice, twig: Twig) -> str:
    from lastscrew.cli.fault_text import Page, cost_words, tree_text

    page = Page(
        terminal_width(), cost_words(advice.model.openings.rate_per_h), colour=wants_colour()
    )
    return tree_text(advice, twig, page)


def _echo(text: str) -> None:
    click.echo(for_encoding(text, sys.stdout.encoding), color=True)
