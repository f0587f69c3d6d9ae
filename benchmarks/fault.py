"""Measure fault finding on random machines, and what it saves beside everyday rules.

    python -m benchmarks.fault [--sizes 12,25,50] [--seeds 0-4] [--work N] [--jobs N] [--brute N] [--json FILE]

For each size (faults, and checks with mends) and seed: preparation, proposals for four complaints, and how far the
bounds of the first are apart when ``--work`` actions were unfolded for it. Then all rules play the same jobs. Last
the search is held to a plain expectimax on jobs small enough for that. Times are of the processor, so that what
else the machine does hardly matters. Interrupt at any time: what was measured until then is shown.
``benchmarks/README.md`` says how to read the tables.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from gc import freeze
from pathlib import Path
from random import Random
from time import process_time

if not __package__:  # started as a file: the repository is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.generate_faults import Sizes, complaint, generate_faults
from benchmarks.plan import _numbers, percentile
from lastscrew.device.model import Device
from lastscrew.faults.advice import Advice
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.model import fault_model
from lastscrew.faults.proposing import prepared, propose
from lastscrew.faults.search import Search
from lastscrew.faults.simulation import (
    CHEAPEST,
    LIKELIEST,
    POLICY,
    RATIO,
    by_ratio_closed,
    cheapest_check_first,
    likeliest_first,
    simulate,
)
from tests.faults.jobs import Shape, puzzle_of_job, random_job
from tests.faults.oracle import BruteForce

NEAR = 0.10
COMPLAINTS = 4
EXACT = 12
"""Faults up to which a strategy is to be proven."""
PREPARE_S, PROPOSE_S, EXACT_S = 5.0, 0.1, 5.0
SHARE = 0.9
HABITS = {LIKELIEST: likeliest_first, CHEAPEST: cheapest_check_first, RATIO: by_ratio_closed}


@dataclass(frozen=True, slots=True)
class Run:
    """One machine. Times in seconds of the processor; a gap is (cost - bound) / cost.

    Attributes:
        size: Faults; about half as many checks, and mends.
        proposals_s: Each proposal, in the order in which they were asked for.
        gap: Of the first proposal as it comes; ``far_gap`` after all the work.
        far_s: Time of all the work.
        costs: Mean cost of a job by rule.
        spread: Standard deviation over the jobs by rule.
    """

    size: int
    seed: int
    joints: int
    prepare_s: float
    proposals_s: tuple[float, ...]
    gap: float
    far_gap: float
    far_s: float
    proven: bool
    costs: dict[str, float] = field(default_factory=dict)
    spread: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Settings:
    """What is measured.

    Attributes:
        work: Actions to unfold for the bounds.
        jobs: Jobs that are played on each machine; 0 for none.
        brute: Small jobs for the comparison with a plain expectimax; 0 for none.
    """

    sizes: tuple[int, ...]
    seeds: tuple[int, ...]
    work: int
    jobs: int
    brute: int


def measure(settings: Settings) -> Iterator[Run]:
    """Every machine, as soon as it is done."""
    for size in settings.sizes:
        for seed in settings.seeds:
            yield _run(size, seed, settings)


def _run(size: int, seed: int, settings: Settings) -> Run:
    device = generate_faults(Sizes(size, size), seed)
    began = process_time()
    openings = prepared(device)
    prepare_s = process_time() - began
    freeze()  # as the command does
    seconds: list[float] = []
    first: Advice | None = None
    shown: tuple[str, ...] = ()
    for number in range(COMPLAINTS):
        _, symptoms = complaint(device, Random(f"{seed}-{number}"))
        began = process_time()
        advice = propose(device, Evidence(shows=symptoms), openings=openings)
        seconds.append(process_time() - began)
        first, shown = first or advice, shown or symptoms
    assert first is not None
    began = process_time()
    far = first
    if not first.proven and settings.work:
        far = propose(device, Evidence(shows=shown), openings=openings, work=settings.work)
    far_s = process_time() - began if far is not first else seconds[0]
    costs, spread = _played(device, settings.jobs, seed)
    return Run(
        size, seed, len(device.joints), prepare_s, tuple(seconds), gap_of(first), gap_of(far),
        far_s, far.proven, costs, spread,
    )  # fmt: skip


def gap_of(advice: Advice) -> float:
    """(cost - bound) / cost."""
    return max(0.0, (advice.expected_cost - advice.lower_bound) / max(advice.expected_cost, 1e-9))


def _played(device: Device, jobs: int, seed: int) -> tuple[dict[str, float], dict[str, float]]:
    if not jobs:
        return {}, {}
    outcomes = simulate(fault_model(device), jobs, seed=seed, work=60, habits=HABITS)
    return {o.name: o.mean for o in outcomes}, {o.name: o.spread for o in outcomes}


# --- a plain expectimax ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Small:
    """One job that a plain expectimax can solve."""

    faults: int
    tests: int
    mends: int
    states: int
    plain_s: float
    search_s: float
    unfolded: int
    agrees: bool


def measure_small(count: int) -> Iterator[Small]:
    """Small jobs of growing size, solved by both."""
    shapes = [Shape(3, 1, 2), Shape(3, 2, 2), Shape(4, 2, 3), Shape(5, 2, 3), Shape(3, 3, 3)]
    for shape in shapes:
        for seed in range(count):
            job, _ = random_job(shape, Random(f"{shape}-{seed}"))
            began = process_time()
            brute = BruteForce(job)
            least = brute.least()
            plain_s = process_time() - began
            puzzle, _ = puzzle_of_job(job)
            began = process_time()
            search = Search(puzzle)
            root = search.root()
            search.improve(root)
            search_s = process_time() - began
            agrees = root.closed and abs(root.above - least) <= 1e-7 * max(1.0, least)
            yield Small(
                shape.faults, shape.tests, shape.cures, brute.states, plain_s, search_s,
                search.unfolded, agrees,
            )  # fmt: skip


# --- figures ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Summary:
    """One size."""

    size: int
    machines: int
    joints: float
    prepare_median_s: float
    prepare_most_s: float
    propose_median_s: float
    propose_p95_s: float
    propose_most_s: float
    gap_median: float
    far_gap_median: float
    far_gap_p90: float
    near: float
    proven: float
    far_median_s: float
    far_most_s: float
    aims: list[tuple[str, bool]] = field(default_factory=list)


def summary(runs: Sequence[Run]) -> Summary:
    """All machines of one size in figures."""
    proposals = [s for run in runs for s in run.proposals_s]
    found = Summary(
        size=runs[0].size,
        machines=len(runs),
        joints=statistics.fmean(run.joints for run in runs),
        prepare_median_s=statistics.median(run.prepare_s for run in runs),
        prepare_most_s=max(run.prepare_s for run in runs),
        propose_median_s=statistics.median(proposals),
        propose_p95_s=percentile(proposals, 0.95),
        propose_most_s=max(proposals),
        gap_median=statistics.median(run.gap for run in runs),
        far_gap_median=statistics.median(run.far_gap for run in runs),
        far_gap_p90=percentile([run.far_gap for run in runs], 0.9),
        near=sum(run.far_gap <= NEAR for run in runs) / len(runs),
        proven=sum(run.proven for run in runs) / len(runs),
        far_median_s=statistics.median(run.far_s for run in runs),
        far_most_s=max(run.far_s for run in runs),
    )
    found.aims.extend(_aims(found))
    return found


def _aims(one: Summary) -> Iterator[tuple[str, bool]]:
    yield (
        f"preparation under {PREPARE_S:g} s: {one.prepare_most_s:.1f} s",
        one.prepare_most_s < PREPARE_S,
    )
    if one.size <= EXACT:
        proven = one.proven == 1.0 and one.far_most_s < EXACT_S
        yield f"proven within {EXACT_S:g} s: {one.proven:.0%}, {one.far_most_s:.1f} s", proven
        return
    quick = one.propose_p95_s < PROPOSE_S
    yield (
        f"proposal under {PROPOSE_S * 1000:g} ms: 95 % in {one.propose_p95_s * 1000:.0f} ms",
        quick,
    )
    yield f"{SHARE:.0%} within a gap of {NEAR:.0%}: {one.near:.0%}", one.near >= SHARE


def _table(rows: Sequence[Sequence[str]]) -> str:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    )


HEADINGS = (
    "faults", "machines", "joints", "prepare s", "longest", "propose ms", "95 %", "longest", "gap",
    "gap after work", "90 %", "within 10 %", "proven", "work s", "longest",
)  # fmt: skip


def table(summaries: Sequence[Summary]) -> str:
    """Times and gaps as aligned text."""
    return _table([HEADINGS, *(_row(one) for one in summaries)])


def _row(one: Summary) -> tuple[str, ...]:
    return (
        str(one.size), str(one.machines), f"{one.joints:.0f}",
        f"{one.prepare_median_s:.2f}", f"{one.prepare_most_s:.2f}",
        f"{one.propose_median_s * 1000:.0f}", f"{one.propose_p95_s * 1000:.0f}", f"{one.propose_most_s * 1000:.0f}",
        f"{one.gap_median:.1%}", f"{one.far_gap_median:.1%}", f"{one.far_gap_p90:.1%}",
        f"{one.near:.0%}", f"{one.proven:.0%}", f"{one.far_median_s:.1f}", f"{one.far_most_s:.1f}",
    )  # fmt: skip


def savings(runs: Sequence[Run]) -> str:
    """What the proposal saves beside each rule: mean over machines, and its spread from machine to machine."""
    rows: list[tuple[str, ...]] = [
        (
            "faults",
            "rule",
            "mean s",
            "spread of jobs s",
            "proposal saves",
            "from machine to machine",
        )
    ]
    for size in dict.fromkeys(run.size for run in runs):
        own = [run for run in runs if run.size == size and run.costs]
        for rule in (POLICY, *HABITS) if own else ():
            saved = [1 - run.costs[POLICY] / run.costs[rule] for run in own]
            between = statistics.stdev(saved) if len(saved) > 1 else 0.0
            rows.append(
                (
                    str(size), rule, f"{statistics.fmean(run.costs[rule] for run in own):.0f}",
                    f"{statistics.fmean(run.spread[rule] for run in own):.0f}",
                    f"{statistics.fmean(saved):.0%}", f"± {between:.0%}",
                )
            )  # fmt: skip
    return _table(rows)


def small_table(smalls: Sequence[Small]) -> str:
    """The plain expectimax beside the search."""
    rows: list[tuple[str, ...]] = [
        (
            "faults",
            "checks",
            "mends",
            "jobs",
            "states",
            "plain ms",
            "search ms",
            "unfolded",
            "agree",
        )
    ]
    for key in dict.fromkeys((s.faults, s.tests, s.mends) for s in smalls):
        own = [s for s in smalls if (s.faults, s.tests, s.mends) == key]
        rows.append(
            (
                *map(str, key), str(len(own)), f"{statistics.median(s.states for s in own):.0f}",
                f"{statistics.median(s.plain_s for s in own) * 1000:.1f}",
                f"{statistics.median(s.search_s for s in own) * 1000:.1f}",
                f"{statistics.median(s.unfolded for s in own):.0f}", f"{sum(s.agrees for s in own)}/{len(own)}",
            )
        )  # fmt: skip
    return _table(rows)


# --- the command --------------------------------------------------------------------------------------


def settings_of(arguments: Sequence[str] | None = None) -> tuple[Settings, str | None]:
    """Settings and the file for the JSON from the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.fault", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument(
        "--sizes", type=_numbers, default=(12, 25, 50), help="faults (default: 12,25,50)"
    )
    parser.add_argument("--seeds", type=_numbers, default=tuple(range(5)), help="default: 0-4")
    parser.add_argument(
        "--work", type=int, default=4000, help="actions to unfold for the bounds (default: 4000)"
    )
    parser.add_argument(
        "--jobs", type=int, default=20, help="jobs played on each machine (default: 20)"
    )
    parser.add_argument(
        "--brute", type=int, default=3, help="small jobs of each shape (default: 3)"
    )
    parser.add_argument("--json", metavar="FILE", help="write all figures here as well")
    given = parser.parse_args(arguments)
    settings = Settings(given.sizes, given.seeds, given.work, given.jobs, given.brute)
    return settings, given.json


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print; 1 where search and plain expectimax contradict each other."""
    settings, target = settings_of(arguments)
    runs: list[Run] = []
    smalls: list[Small] = []
    total = len(settings.sizes) * len(settings.seeds)
    try:
        for run in measure(settings):
            runs.append(run)
            print(f"\r{len(runs)} of {total} machines", end="", file=sys.stderr, flush=True)
        smalls.extend(measure_small(settings.brute))
    except KeyboardInterrupt:
        print("\ninterrupted", file=sys.stderr)
    print(file=sys.stderr)
    summaries = [
        summary([run for run in runs if run.size == size])
        for size in dict.fromkeys(run.size for run in runs)
    ]
    if summaries:
        print(table(summaries))
        for one in summaries:
            for aim, reached in one.aims:
                print(f"{one.size} faults: {aim} {'(reached)' if reached else '(not reached)'}")
    if settings.jobs and runs:
        print("\n" + savings(runs))
    if smalls:
        print("\n" + small_table(smalls))
    if target:
        figures = {
            "python": platform.python_version(),
            "machine": platform.machine(),
            "settings": asdict(settings),
            "summaries": [asdict(one) for one in summaries],
            "runs": [asdict(run) for run in runs],
            "small": [asdict(small) for small in smalls],
        }
        Path(target).write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")
    return int(not all(small.agrees for small in smalls))


if __name__ == "__main__":
    sys.exit(main())
