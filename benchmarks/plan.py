"""Measure the planner on random machines, start-up apart.

    python -m benchmarks.plan [--sizes 18,30] [--seeds 0-19] [--limit SECONDS] [--json FILE]

For each size all seeds and the three requests of ``benchmarks.generate`` are planned; some of them
are also solved by the independent constraint model of the tests, for the ratio and as a check.
Every plan is replayed by the independent replay of the tests. Interrupt at any time: what was
measured until then is shown. ``benchmarks/README.md`` says how to read the table.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import platform
import statistics
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path

if not __package__:  # started as a file: the repository is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.generate import SIZES, generate, requests
from lastscrew.device.model import Device
from lastscrew.plan.model import Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError

GAP_AIM = 0.02


@dataclass(frozen=True, slots=True)
class Aim:
    """What a size is held to: shares within times.

    Attributes:
        proven: (share, seconds) pairs: at least this share is proven within these seconds.
        median_s: The median is below this, None for no such aim.
        near: Share that is within a gap of 2 %, None for no such aim.
    """

    proven: tuple[tuple[float, float], ...]
    median_s: float | None = None
    near: float | None = None


AIMS = {
    18: Aim(((1.0, math.inf), (0.95, 0.150)), median_s=0.015),
    30: Aim(((0.95, 2.0), (1.0, 10.0))),
    60: Aim(((0.85, 10.0),)),
    115: Aim(((0.50, 10.0),), near=0.95),
}


@dataclass(frozen=True, slots=True)
class Run:
    """One plan, measured.

    Attributes:
        opened_share: Joints open at the turning point ÷ all joints.
        gap: (value − bound) ÷ value; 1 where no plan was found.
        faults: What the replay found wrong.
        solver: What the constraint solver said, if it was asked: its status.
        solver_s: Seconds that it took, building the model included.
        agrees: False when solver and planner contradict each other.
    """

    modules: int
    seed: int
    request: str
    joints: int
    seconds: float
    proven: bool
    expanded: int
    opened_share: float
    gap: float
    total_ms: int | None
    faults: int = 0
    solver: str = ""
    solver_s: float = 0.0
    agrees: bool = True


@dataclass(frozen=True, slots=True)
class Settings:
    """What is measured.

    Attributes:
        limit_s: Seconds that one plan may take.
        solver_s: Seconds that one solution of the constraint model may take.
        solver_seeds: How many seeds of a size the constraint model is asked about.
        solver_most: Largest number of modules that it is asked about.
        varied: Use the harder machines (closed with other tools, dearer second accesses).
        replayed: Replay every plan.
    """

    sizes: tuple[int, ...]
    seeds: tuple[int, ...]
    limit_s: float
    solver_s: float
    solver_seeds: int
    solver_most: int
    varied: bool
    replayed: bool


# --- measuring ----------------------------------------------------------------------------------


def measure(settings: Settings) -> Iterator[Run]:
    """Every run, as soon as it is done."""
    plan(generate(3, 0), Request(replace=("board",)))  # what is loaded at first use is not measured
    for modules in settings.sizes:
        for seed in settings.seeds:
            device = generate(modules, seed, varied=settings.varied)
            asked = (
                modules <= settings.solver_most
                and settings.seeds.index(seed) < settings.solver_seeds
            )
            for name, request in requests(device).items():
                yield _run(settings, device, (modules, seed, name), request, solved=asked)


def _run(
    settings: Settings,
    device: Device,
    which: tuple[int, int, str],
    request: Request,
    *,
    solved: bool,
) -> Run:
    modules, seed, name = which
    begun = time.perf_counter()
    deadline = begun + settings.limit_s
    try:
        found = plan(device, request, StopRule(expired=lambda: time.perf_counter() > deadline))
    except InputError:
        return Run(modules, seed, name, len(device.joints), time.perf_counter() - begun,
                   proven=False, expanded=0, opened_share=0.0, gap=1.0, total_ms=None)  # fmt: skip
    seconds = time.perf_counter() - begun
    faults = 0
    if settings.replayed:
        from tests.oracle.replay import violations

        faults = len(violations(device, request, found))
    solver, solver_s, agrees = "", 0.0, True
    if solved:
        solver, solver_s, agrees = _solve(
            settings, device, request, found.objective_value, found.lower_bound
        )
    return Run(
        modules=modules,
        seed=seed,
        request=name,
        joints=len(device.joints),
        seconds=seconds,
        proven=found.proven,
        expanded=found.expanded,
        opened_share=len(found.way_out) / len(device.joints),
        gap=(found.objective_value - found.lower_bound) / max(1, found.objective_value),
        total_ms=found.total_ms,
        faults=faults,
        solver=solver,
        solver_s=solver_s,
        agrees=agrees,
    )


def _solve(
    settings: Settings, device: Device, request: Request, value: int, bound: int
) -> tuple[str, float, bool]:
    """Status and seconds of the constraint model, and whether it agrees with the planner."""
    from tests.oracle import cpsat

    begun = time.perf_counter()
    verdict = cpsat.optimum(device, request, effort=cpsat.Effort(seconds=settings.solver_s))
    seconds = time.perf_counter() - begun
    agrees = verdict.status != "impossible"
    if verdict.value is not None:
        agrees &= bound <= verdict.value
    if verdict.bound is not None:
        agrees &= verdict.bound <= value
    return verdict.status, seconds, agrees


# --- the table ----------------------------------------------------------------------------------


def percentile(values: Sequence[float], share: float) -> float:
    """The least value that at least this share does not exceed (nearest rank)."""
    ranked = sorted(values)
    return ranked[max(0, math.ceil(share * len(ranked)) - 1)]


@dataclass(frozen=True)
class Summary:
    """One size. Times in seconds; shares and gaps between 0 and 1."""

    modules: int
    joints: float
    runs: int
    median_s: float
    p95_s: float
    longest_s: float
    proven: float
    expanded_median: float
    expanded_p95: float
    opened_share: float
    gap_p95: float
    gap_most: float
    near: float
    faults: int
    solver_runs: int
    solver_proven: int
    solver_ratio: float | None
    solver_disagrees: int
    aims: list[tuple[str, bool]] = field(default_factory=list)


def summary(runs: Sequence[Run]) -> Summary:
    """All runs of one size in figures."""
    seconds = [run.seconds for run in runs]
    solved = [run for run in runs if run.solver]
    ratios = [run.solver_s / run.seconds for run in solved]
    gaps = [run.gap for run in runs]
    return Summary(
        modules=runs[0].modules,
        joints=statistics.fmean(run.joints for run in runs),
        runs=len(runs),
        median_s=statistics.median(seconds),
        p95_s=percentile(seconds, 0.95),
        longest_s=max(seconds),
        proven=sum(run.proven for run in runs) / len(runs),
        expanded_median=statistics.median(run.expanded for run in runs),
        expanded_p95=percentile([run.expanded for run in runs], 0.95),
        opened_share=statistics.fmean(run.opened_share for run in runs),
        gap_p95=percentile(gaps, 0.95),
        gap_most=max(gaps),
        near=sum(gap <= GAP_AIM for gap in gaps) / len(runs),
        faults=sum(run.faults for run in runs),
        solver_runs=len(solved),
        solver_proven=sum(run.solver == "optimal" for run in solved),
        solver_ratio=statistics.median(ratios) if ratios else None,
        solver_disagrees=sum(not run.agrees for run in solved),
        aims=_aims(runs),
    )


def _aims(runs: Sequence[Run]) -> list[tuple[str, bool]]:
    aim = AIMS.get(runs[0].modules)
    if aim is None:
        return []
    told = []
    for share, within in aim.proven:
        reached = sum(run.proven and run.seconds <= within for run in runs) / len(runs)
        when = "" if within == math.inf else f" within {within:g} s"
        told.append((f"{share:.0%} proven{when}: {reached:.1%}", reached >= share))
    if aim.median_s is not None:
        median = statistics.median(run.seconds for run in runs)
        told.append((f"median under {aim.median_s:g} s: {median:.4f} s", median < aim.median_s))
    if aim.near is not None:
        near = sum(run.gap <= GAP_AIM for run in runs) / len(runs)
        told.append((f"{aim.near:.0%} within a gap of {GAP_AIM:.0%}: {near:.1%}", near >= aim.near))
    return told


HEADINGS = (
    "modules", "joints", "plans", "median ms", "95 % ms", "longest ms", "proven", "states", "95 %",
    "opened", "gap 95 %", "gap most", "solver ÷ planner", "solver proved",
)  # fmt: skip


def table(summaries: Sequence[Summary]) -> str:
    """The figures as aligned text."""
    rows = [HEADINGS, *(_row(one) for one in summaries)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADINGS))]
    return "\n".join(
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    )


def _row(one: Summary) -> tuple[str, ...]:
    ratio = "–"
    if one.solver_ratio is not None:
        least = "" if one.solver_proven == one.solver_runs else "≥ "
        ratio = f"{least}{one.solver_ratio:,.0f}"
    return (
        str(one.modules),
        f"{one.joints:.0f}",
        str(one.runs),
        f"{one.median_s * 1000:,.1f}",
        f"{one.p95_s * 1000:,.0f}",
        f"{one.longest_s * 1000:,.0f}",
        f"{one.proven:.1%}",
        f"{one.expanded_median:,.0f}",
        f"{one.expanded_p95:,.0f}",
        f"{one.opened_share:.0%}",
        f"{one.gap_p95:.2%}",
        f"{one.gap_most:.2%}",
        ratio,
        f"{one.solver_proven}/{one.solver_runs}" if one.solver_runs else "–",
    )


def growth(summaries: Sequence[Summary]) -> list[str]:
    """How the cost grows from one size to the next: exponent of the number of joints."""
    told = []
    for small, large in itertools.pairwise(summaries):
        wider = math.log(large.joints / small.joints)
        median = math.log(large.median_s / small.median_s) / wider
        states = math.log(max(1, large.expanded_median) / max(1, small.expanded_median)) / wider
        told.append(
            f"from {small.joints:.0f} to {large.joints:.0f} joints: median time grows as joints^{median:.1f}, "
            f"states as joints^{states:.1f}"
        )
    return told


# --- the command --------------------------------------------------------------------------------


def _numbers(text: str) -> tuple[int, ...]:
    """``18,30`` or ``0-99``."""
    numbers: list[int] = []
    for piece in text.split(","):
        first, _, last = piece.partition("-")
        numbers.extend(range(int(first), int(last or first) + 1))
    return tuple(dict.fromkeys(numbers))


def settings_of(arguments: Sequence[str] | None = None) -> tuple[Settings, str | None]:
    """Settings and the file for the JSON from the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.plan", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument(
        "--sizes",
        type=_numbers,
        default=tuple(SIZES),
        help="modules, such as 18,30 (default: 18,30,60,115)",
    )
    parser.add_argument(
        "--seeds", type=_numbers, default=tuple(range(100)), help="such as 0-99 (the default) or 3"
    )
    parser.add_argument(
        "--limit", type=float, default=10.0, help="seconds for one plan (default: 10)"
    )
    parser.add_argument(
        "--solver-limit",
        type=float,
        default=30.0,
        help="seconds for one run of the constraint solver (default: 30)",
    )
    parser.add_argument(
        "--solver-seeds",
        type=int,
        default=3,
        help="seeds of each size that it is asked about (default: 3; 0: none)",
    )
    parser.add_argument(
        "--solver-most",
        type=int,
        default=30,
        help="most modules that it is asked about (default: 30)",
    )
    parser.add_argument(
        "--varied",
        action="store_true",
        help="harder machines: other tools for closing, dearer second accesses",
    )
    parser.add_argument(
        "--no-replay",
        action="store_true",
        help="do not replay every plan (replaying is not part of the time measured)",
    )
    parser.add_argument(
        "--json",
        metavar="FILE",
        help="write every run and the figures to FILE (- for the terminal)",
    )
    got = parser.parse_args(arguments)
    settings = Settings(
        sizes=got.sizes, seeds=got.seeds, limit_s=got.limit, solver_s=got.solver_limit,
        solver_seeds=got.solver_seeds, solver_most=got.solver_most, varied=got.varied,
        replayed=not got.no_replay,
    )  # fmt: skip
    return settings, got.json


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, show the table; 1 when a plan was unsound, 0 otherwise."""
    settings, json_file = settings_of(arguments)
    total = len(settings.sizes) * len(settings.seeds) * 3
    runs: list[Run] = []
    stopped = False
    try:
        for run in measure(settings):
            runs.append(run)
            _progress(run, len(runs), total)
    except KeyboardInterrupt:
        stopped = True
    print(file=sys.stderr)
    if not runs:
        return 1
    by_size = [[run for run in runs if run.modules == size] for size in settings.sizes]
    summaries = [summary(of_size) for of_size in by_size if of_size]
    if json_file is not None:
        _write(json_file, settings, runs, summaries)
    if json_file != "-":
        _show(settings, summaries, "interrupted: " if stopped else "")
    return 1 if any(one.faults or one.solver_disagrees for one in summaries) else 0


def _progress(run: Run, done: int, total: int) -> None:
    line = f"{done}/{total}  {run.modules} modules, seed {run.seed}, {run.request}: {run.seconds:.3f} s"
    if sys.stderr.isatty():
        print(f"\r{line:<78.78}", end="", file=sys.stderr, flush=True)
    elif done % 60 == 0 or done == total:
        print(line, file=sys.stderr, flush=True)


def _show(settings: Settings, summaries: Sequence[Summary], remark: str) -> None:
    machines = "varied machines" if settings.varied else "machines"
    print(
        f"{remark}{machines}, seeds {settings.seeds[0]} to {settings.seeds[-1]}, "
        f"limit {settings.limit_s:g} s, Python {platform.python_version()}"
    )
    print(table(summaries))
    for line in growth(summaries):
        print(line)
    for one in summaries:
        for words, reached in one.aims:
            print(f"{one.modules} modules: {words} – {'reached' if reached else 'NOT REACHED'}")
        if one.faults or one.solver_disagrees:
            print(
                f"{one.modules} modules: {one.faults} faults in plans, "
                f"{one.solver_disagrees} contradicted by the solver"
            )


def _write(
    name: str, settings: Settings, runs: Sequence[Run], summaries: Sequence[Summary]
) -> None:
    text = json.dumps(
        {
            "python": platform.python_version(),
            "settings": asdict(settings),
            "figures": [asdict(one) for one in summaries],
            "growth": growth(summaries),
            "runs": [asdict(run) for run in runs],
        },
        indent=1,
    )
    if name == "-":
        print(text)
    else:
        Path(name).write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
