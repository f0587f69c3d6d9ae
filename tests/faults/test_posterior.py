"""What may be wrong, held to a Bayesian-network library: aGrUM, by its Python wrapper pyAgrum."""

from __future__ import annotations

from random import Random

import pytest

from lastscrew.device.reading import load_device
from lastscrew.faults.evidence import Evidence, fault_chances, standing
from lastscrew.faults.model import fault_model, puzzle_of
from lastscrew.faults.puzzle import after_check, after_mend, first_belief
from tests.faults.bayes import Figures, Network, chances_with_repeats

DEVICE = """
format: 1
device: {{name: Trial}}
functions: {{starts: {{name: Starts, check: Try it., check_s: 30}}}}
parts:
  frame: {{name: Frame, fixed: true}}
{parts}
joints:
{joints}
symptoms:
{symptoms}
checks:
{checks}
faults:
{faults}
"""


def random_figures(rng: Random, *, second: float = 0.0, faults: int = 6) -> Figures:
    """Random numbers as a device file may have them, to two decimals."""
    names = [f"f{n}" for n in range(faults)]
    shares = {name: float(rng.choice((1, 2, 4, 9, 25))) for name in names}
    symptoms = {
        f"s{k}": (
            rng.choice((0.01, 0.05, 0.2)),
            {name: rng.choice((0.1, 0.3, 0.8, 0.98)) for name in names if rng.random() < 0.6},
        )
        for k in range(3)
    }
    checks = {}
    for k in range(3):
        outcomes = rng.choice((2, 2, 3))
        given = {name: chances(rng, outcomes) for name in names if rng.random() < 0.6}
        leak = (0.96, 0.04) if outcomes == 2 else (0.95, 0.02, 0.03)
        checks[f"c{k}"] = (leak, given)
    return Figures(shares, symptoms, checks, second)


def chances(rng: Random, outcomes: int) -> tuple[float, ...]:
    """Chances of outcomes that sum to 1."""
    bad = [rng.choice((0.1, 0.25, 0.4)) for _ in range(outcomes - 1)]
    return (1 - sum(bad), *bad)


def device_text(figures: Figures) -> str:
    """A device file with these numbers."""
    names = sorted(figures.shares)

    def lines(entries: dict[str, str]) -> str:
        return "\n".join(f"  {key}: {{{value}}}" for key, value in entries.items())

    def outcome_list(values: tuple[float, ...]) -> str:
        return ", ".join(f"o{k}: {value}" for k, value in enumerate(values) if k)

    faults = {}
    for n, name in enumerate(names):
        shown = ", ".join(f"{s}: {c[name]}" for s, (_, c) in figures.symptoms.items() if name in c)
        told = ", ".join(
            f"{check}: {{{outcome_list(given[name])}}}"
            for check, (_, given) in figures.checks.items()
            if name in given
        )
        faults[name] = (
            f"name: Fault {n}, part: p{n}, prior: {figures.shares[name]:g}, "
            f"symptoms: {{{shown}}}, checks: {{{told}}}"
        )
    return DEVICE.format(
        parts=lines({f"p{n}": f"name: Part {n}" for n in range(len(names))}),
        joints=lines({f"j{n}": f"kind: clip, joins: [p{n}, frame]" for n in range(len(names))}),
        symptoms=lines(
            {s: f"name: Symptom {s}, leak: {leak}" for s, (leak, _) in figures.symptoms.items()}
        ),
        checks=lines(
            {
                c: f"name: Check {c}, check: Look., check_s: 10, "
                f"outcomes: [{', '.join(f'o{k}' for k in range(len(leak)))}], leak: {{{outcome_list(leak)}}}"
                for c, (leak, _) in figures.checks.items()
            }
        ),
        faults=lines(faults),
    )


@pytest.mark.parametrize("second", [0.0, 0.1, 0.4])
@pytest.mark.parametrize("seed", range(8))
def test_chances_of_faults_are_those_of_the_library(seed: int, second: float) -> None:
    """Symptoms that show and that lack, and outcomes, give each fault the chance that the library gives it."""
    rng = Random(f"{seed}-{second}")
    figures = random_figures(rng, second=second)
    model = fault_model(load_device(device_text(figures)), second_fault=second)
    network = Network(figures)
    for _ in range(3):
        symptoms = rng.sample(sorted(figures.symptoms), 2)
        cut = rng.choice((0, 1, 2))
        seen = {
            check: rng.randrange(len(figures.checks[check][0]))
            for check in rng.sample(sorted(figures.checks), rng.choice((0, 1, 3)))
        }
        evidence = Evidence(
            tuple(symptoms[:cut]),
            tuple(symptoms[cut:]),
            tuple((check, f"o{outcome}") for check, outcome in seen.items()),
        )
        expected, chance = network.chances(symptoms[:cut], symptoms[cut:], seen)
        stands = standing(model, evidence)
        found, sound = fault_chances(model, stands.belief)
        assert found == pytest.approx(expected, abs=1e-10)
        assert sound == 0
        assert stands.chance == pytest.approx(chance, rel=1e-8)


def test_hundreds_of_faults_are_exact_under_one_at_a_time() -> None:
    """With 200 faults the chances are still those of the library."""
    figures = random_figures(Random("many"), faults=200)
    few = {s: (leak, dict(list(c.items())[:12])) for s, (leak, c) in figures.symptoms.items()}
    checks = {c: (leak, dict(list(g.items())[-5:])) for c, (leak, g) in figures.checks.items()}
    figures = Figures(figures.shares, few, checks)
    model = fault_model(load_device(device_text(figures)))
    expected, _ = Network(figures).chances(["s0"], ["s1"], {"c0": 1})
    stands = standing(model, Evidence(("s0",), ("s1",), (("c0", "o1"),)))
    assert fault_chances(model, stands.belief)[0] == pytest.approx(expected, abs=1e-10)


@pytest.mark.parametrize("seen", [(0, 0), (0, 1), (1, 0), (1, 1)])
@pytest.mark.parametrize("seed", range(4))
def test_a_check_done_again_after_a_mend_tells_what_the_library_says(
    seed: int, seen: tuple[int, int]
) -> None:
    """The same outcome while nothing has changed, a new one once the fault is gone, on which it depends."""
    rng = Random(seed)
    figures = Figures(
        {"f0": 3.0, "f1": 5.0, "f2": 2.0},
        {"s0": (0.1, {"f0": 0.5})},
        {"c0": ((0.96, 0.04), {"f0": chances(rng, 2), "f1": chances(rng, 2)})},
    )
    device = load_device(device_text(figures))
    model = fault_model(device)
    puzzle = puzzle_of(model, model.prior)
    good, bad = puzzle.checks[0].likelihood
    mend = [m.id for m in puzzle.mends].index("exchange_p0")
    belief = after_check(puzzle, first_belief(puzzle), 0)[seen[0]][1]
    assert belief is not None
    belief = after_check(puzzle, after_mend(puzzle, belief, mend), 0)[seen[1]][1]
    assert belief is not None
    found = [0.0] * 4
    for state, _, weight in belief.pieces:
        found[state] += weight
    cured = sum(e.chance for e in puzzle.mends[mend].effects[0] if e.state == puzzle.sound)
    expected = chances_with_repeats(
        [3.0, 5.0, 2.0],
        list(zip(good, bad, strict=True))[:3],
        (good[3], bad[3]),
        [cured, 0, 0],
        seen,
    )
    assert found == pytest.approx(expected, abs=1e-10)
