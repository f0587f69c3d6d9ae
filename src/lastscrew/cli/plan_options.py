"""What every command that plans takes on the command line, and how it comes to a plan.

A command decorates its function with :func:`plan_options` and gets one keyword, ``asked``. It reads
the device itself and calls :func:`find_plan`.
"""

from __future__ import annotations

import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import wraps
from types import FrameType
from typing import Any, TypeVar

import click

from lastscrew.cli.edge import EXIT_BAD_INPUT, report
from lastscrew.cli.numbers import FiniteRange
from lastscrew.device.model import Device
from lastscrew.plan.model import DEFAULT_RATE_PER_H, STEP_WEIGHT, Plan, Request, StopRule
from lastscrew.problems import InputError, Problem

PROGRESS_AFTER_S = 1.0
"""A search that takes longer than this says how far it is, where a person watches."""

Returned = TypeVar("Returned")

OPTION_OF_FIELD = {
    "replace": "--replace",
    "reach": "--reach",
    "opened": "--open",
    "side": "--side",
    "not_fitted": "--not-fitted",
    "fitted": "--fitted",
    "without": "--without",
    "objective": "--objective",
    "rate_per_h": "--rate",
    "pace": "--pace",
    "limit": "--limit",
}
"""Which option fills which field of a request, for messages."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asked for.

    Attributes:
        request: The request itself, before a run file is taken into account.
        limit_s: Seconds after which the search gives its best plan with a bound; None for no limit.
        work: States after which it does so, the same every time; None for no limit.
        run_file: File of run events of a job that has begun; None for none.
    """

    request: Request
    limit_s: float | None = None
    work: int | None = None
    run_file: str | None = None


NOT_FITTED = click.option(
    "--not-fitted",
    multiple=True,
    metavar="ID",
    help="Option, part or joint that this unit lacks. Repeatable.",
)
FITTED = click.option(
    "--fitted",
    multiple=True,
    metavar="OPTION",
    help="Option that this unit has although most lack it. Repeatable.",
)

_OPTIONS: tuple[Callable[[Callable[..., Any]], Callable[..., Any]], ...] = (
    click.option(
        "--replace", multiple=True, metavar="PIECE",
        help="Part or spare to exchange; several joined by + are exchanged as one. Repeatable.",
    ),
    click.option(
        "--reach", multiple=True, metavar="JOINT",
        help="Joint that must be open at the turning point. Repeatable.",
    ),
    click.option(
        "--open", "opened", multiple=True, metavar="JOINT",
        help="Joint that is open already. Repeatable.",
    ),
    click.option(
        "--side", metavar="SIDE",
        help="Side that faces up at the start (default: the device's first).",
    ),
    NOT_FITTED,
    FITTED,
    click.option(
        "--without", multiple=True, metavar="JOINT",
        help="Joint that may not be opened. Repeatable.",
    ),
    click.option(
        "--objective", type=click.Choice(("time", "risk", "steps")), default="time", show_default=True,
        help="What to keep least: seconds; seconds with the expected damage; joints worked on.",
    ),
    click.option(
        "--rate", type=FiniteRange(min=0), default=DEFAULT_RATE_PER_H, show_default=True,
        metavar="PRICE",
        help="Price of an hour of labour, in the currency of the device file.",
    ),
    click.option(
        "--pace", type=FiniteRange(min=0.1, max=10), default=1.0, show_default=True,
        metavar="FACTOR",
        help="A person's pace: factor on the times that come from tables (1.2: a fifth slower).",
    ),
    click.option(
        "--allowance", type=FiniteRange(min=0, max=3), default=0.0, show_default=True,
        metavar="SHARE",
        help="Share added to the times that come from tables, for rest and small delays (0.15).",
    ),
    click.option(
        "--limit", type=FiniteRange(min=0), default=None, metavar="SECONDS",
        help="Stop searching after this long and give the best plan so far with its bound.",
    ),
    click.option(
        "--work", type=click.IntRange(min=0), default=None, metavar="N",
        help="Stop searching after N states (repeats exactly).",
    ),
    click.option(
        "--run", "run_file", default=None, metavar="FILE",
        help="Run events (JSON Lines) of a job that has begun: its open joints are taken from it.",
    ),
)  # fmt: skip


def plan_options(function: Callable[..., Returned]) -> Callable[..., Returned]:
    """Add the options that say what is asked; the command gets them as ``asked: Asked``."""

    @wraps(function)
    def with_asked(**values: Any) -> Returned:  # noqa: ANN401  (click hands over what it parsed)
        request = Request(
            replace=values.pop("replace"),
            reach=values.pop("reach"),
            opened=values.pop("opened"),
            side=values.pop("side"),
            not_fitted=values.pop("not_fitted"),
            fitted=values.pop("fitted"),
            without=values.pop("without"),
            objective=values.pop("objective"),
            rate_per_h=values.pop("rate"),
            pace=values.pop("pace") * (1 + values.pop("allowance")),
        )
        asked = Asked(request, values.pop("limit"), values.pop("work"), values.pop("run_file"))
        return function(asked=asked, **values)

    decorated: Callable[..., Returned] = with_asked
    for option in reversed(_OPTIONS):
        decorated = option(decorated)
    return decorated


class JsonCommand(click.Command):
    """A command that reports mistakes on the command line as JSON too, where JSON is asked for."""

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,  # noqa: ANN401  (handed on as it comes)
    ) -> click.Context:
        """Read the command line."""
        as_json = "--json" in args
        try:
            return super().make_context(info_name, args, parent, **extra)
        except click.UsageError as error:
            if not as_json:
                raise
            option = getattr(getattr(error, "param", None), "opts", ["command line"])
            message = error.format_message()
            report([Problem(message, "See --help.", path=option[0], code="usage")], as_json=True)
            sys.exit(EXIT_BAD_INPUT)


class Watch:
    """Says when a search has to stop: the clock has run out, or a person has interrupted it."""

    def __init__(self, limit_s: float | None) -> None:
        """Start the clock."""
        self.begun = time.monotonic()
        self.ends = None if limit_s is None else self.begun + limit_s
        self.interrupted = False
        self._shown = False
        self._told = self.begun

    def expired(self) -> bool:
        """True when the search has to stop."""
        return self.interrupted or (self.ends is not None and time.monotonic() >= self.ends)

    def left_s(self) -> float | None:
        """Seconds that are left, None for no limit."""
        return None if self.ends is None else max(0.0, self.ends - time.monotonic())

    def interrupt(self, _signal: int = 0, _frame: FrameType | None = None) -> None:
        """Stop soon with the best plan so far; a second interrupt stops at once."""
        if self.interrupted:
            raise KeyboardInterrupt
        self.interrupted = True

    def tell(self, expanded: int, lower_bound_ms: int, best_ms: int | None) -> None:
        """Show a line of progress where a person watches and it takes long."""
        now = time.monotonic()
        if not sys.stderr.isatty() or now - self.begun < PROGRESS_AFTER_S or now - self._told < 0.2:
            return
        self._told, self._shown = now, True
        best = "none yet" if best_ms is None else _amount(best_ms)
        least = _amount(lower_bound_ms)
        line = f"searching: {expanded:,} states, best {best}, at least {least} (Ctrl-C stops)"
        click.echo(f"\r\x1b[K{line}", err=True, nl=False)

    def clear(self) -> None:
        """Take the line of progress away."""
        if self._shown:
            click.echo("\r\x1b[K", err=True, nl=False)
            self._shown = False


def _amount(value: int) -> str:
    """A value of the objective in words."""
    if value >= STEP_WEIGHT:
        return f"{value // STEP_WEIGHT:,} joints worked on"
    return f"{value / 1000:,.0f} s"


@contextmanager
def watching(limit_s: float | None) -> Iterator[Watch]:
    """Run a search under a clock that Ctrl-C can stop early."""
    watch = Watch(limit_s)
    try:
        before = signal.signal(signal.SIGINT, watch.interrupt)
    except ValueError:  # not in the main thread: no signals there
        yield watch
        return
    try:
        yield watch
    finally:
        signal.signal(signal.SIGINT, before)
        watch.clear()


def stop_rule(watch: Watch, work: int | None) -> StopRule:
    """The stopping rule of one search under a watch."""
    return StopRule(work=work, expired=watch.expired, progress=watch.tell)


def find_plan(device: Device, asked: Asked, *, file: str, watch: Watch | None = None) -> Plan:
    """Plan what the command line asks for.

    Args:
        device: The whole device, as read.
        asked: What the command line asked for.
        file: Name of the device file, for messages.
        watch: A watch that is running already (several searches under one limit).

    Raises:
        InputError: Unknown names, nothing asked for, a request that nothing can fulfil, a bad run file.
        OSError: The run file can't be read.
    """
    request = request_of(device, asked)
    if watch is None:
        with watching(asked.limit_s) as own:
            return _watched(device, request, asked, own, file)
    return _watched(device, request, asked, watch, file)


def _watched(device: Device, request: Request, asked: Asked, watch: Watch, file: str) -> Plan:
    plan = solve(device, request, stop_rule(watch, asked.work), file=file)
    stopped_by_hand = watch.interrupted and not plan.proven
    return replace(plan, stopped="interrupt") if stopped_by_hand else plan


def solve(device: Device, request: Request, stop: StopRule, *, file: str) -> Plan:
    """Plan one request; problems are placed in the file and at the option that they belong to."""
    from lastscrew.plan.planner import plan  # heavy: only when a plan is made

    try:
        return plan(device, request, stop)
    except InputError as error:
        raise InputError(placed(problem, file) for problem in error.problems) from None


def placed(problem: Problem, file: str) -> Problem:
    """The problem with the file and the option that it belongs to."""
    field, _, rest = problem.path.partition(".")
    option = OPTION_OF_FIELD.get(field)
    path = problem.path if option is None else f"{option} {rest}".strip()
    return replace(problem, file=problem.file or file, path=path)


def request_of(device: Device, asked: Asked) -> Request:
    """The request, with the state of a job that has begun if a run file is given.

    Targets of the command line stand in place of those of the job; everything else adds to it.
    """
    if asked.run_file is None:
        return asked.request
    from lastscrew.cli.run_files import read_run, tell_warnings
    from lastscrew.run.folding import fold
    from lastscrew.run.state import request_from

    request = asked.request
    log = read_run(asked.run_file)
    tell_warnings(log.warnings)
    state = fold(device, log.events)
    going_on = request_from(device, state, request)
    targets = bool(request.replace or request.reach)
    return replace(
        going_on,
        replace=request.replace if targets else going_on.replace,
        reach=request.reach if targets else going_on.reach,
        opened=_joined(going_on.opened, request.opened),
        side=request.side or going_on.side,
        not_fitted=_joined(going_on.not_fitted, request.not_fitted),
        fitted=_joined(going_on.fitted, request.fitted),
        without=_joined(going_on.without, request.without),
    )


def _joined(first: tuple[str, ...], second: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*first, *second)))
