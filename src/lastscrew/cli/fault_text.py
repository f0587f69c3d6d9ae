"""A proposal, a strategy and a simulation as text for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from lastscrew.cli.columns import Line, coloured, pad, width_of, wrap
from lastscrew.device.diagnosis import LIKELIHOOD_WORDS
from lastscrew.device.model import Device
from lastscrew.faults.advice import Advice, Outcome, Proposal, opening_words, percent
from lastscrew.faults.model import FaultModel
from lastscrew.faults.sensitivity import Flip
from lastscrew.faults.simulation import Outcome as Simulated
from lastscrew.faults.strategy import Twig

SHOWN: Final = 8
LABEL: Final = 12
CLOSING: Final = (
    "The maker's instructions, local rules and trained people come first; this proposal does not "
    "replace them."
)

Money = Callable[[float], str]


def cost_words(rate_per_h: float | None) -> Money:
    """How costs are written: time, or money where an hour has a price."""

    def words(cost: float) -> str:
        if rate_per_h is not None:
            return f"{cost:,.2f}"
        if cost < 60:
            return f"{cost:.0f} s"
        minutes, seconds = divmod(round(cost), 60)
        if minutes < 10 and seconds:
            return f"{minutes} min {seconds:02d} s"
        if minutes < 120:
            return f"{round(cost / 60)} min"
        return f"{minutes // 60} h {minutes % 60:02d}"

    return words


def _entry(label: str, text: str, width: int) -> list[str]:
    lines = wrap(text, width, indent=LABEL, hang=LABEL) or [""]
    return [pad(label, LABEL) + lines[0][LABEL:], *lines[1:]]


def advice_text(
    model: FaultModel,
    advice: Advice,
    found: Sequence[Flip],
    remarks: Sequence[str],
    *,
    width: int,
    colour: bool,
    cost: Money,
) -> str:
    """The proposal as text."""
    lines: list[str] = []
    for remark in remarks:
        lines += wrap(f"Note: {remark}", width, hang=6)
    if remarks:
        lines.append("")
    lines += _posterior(model, advice, width)
    lines.append("")
    if advice.next is None:
        lines += _entry(
            "Next", f"Nothing: the device works. Close it ({cost(advice.expected_cost)}).", width
        )
    else:
        lines += _proposal(model, advice, advice.next, width, colour=colour, cost=cost)
        lines += _certainty(model, advice, found, width, cost)
    lines += ["", *wrap(CLOSING, width)]
    return "\n".join(lines)


def _posterior(model: FaultModel, advice: Advice, width: int) -> list[str]:
    """The likeliest faults with their chances."""
    lines = []
    shown = [(f, p) for f, p in advice.posterior if p > 0][:SHOWN]
    names = [model.device.faults[f].name for f, _ in shown]
    wide = max((width_of(name) for name in names), default=0)
    for index, ((_, p), name) in enumerate(zip(shown, names, strict=True)):
        bar = "─" * round(p * max(0, min(30, width - LABEL - wide - 12)))
        label = "Likeliest" if index == 0 else ""
        lines.append(f"{pad(label, LABEL)}{pad(name, wide)}  {percent(p):>10}  {bar}".rstrip())
    rest = len([p for _, p in advice.posterior if p > 0]) - len(shown)
    if rest > 0:
        left = sum(p for _, p in advice.posterior) - sum(p for _, p in shown)
        lines.append(f"{' ' * LABEL}{rest} others together {percent(max(left, 0.0))}")
    if advice.sound > 0:
        lines.append(f"{' ' * LABEL}mended by what was done {percent(advice.sound)}")
    return lines


def _proposal(
    model: FaultModel, advice: Advice, next_: Proposal, width: int, *, colour: bool, cost: Money
) -> list[str]:
    kind = {"check": "Check", "mend": "Mend", "stop": "Stop"}[next_.kind]
    name = next_.name if next_.kind != "stop" else "give up"
    lines = _entry("Next", f"{kind}: {name} ({next_.id})", width)
    if next_.kind == "stop":
        return [*lines, *_entry("Why", next_.why, width)]
    if next_.text:
        lines += _entry("", next_.text, width)
    lines += _cautions(next_, width, colour=colour)
    opening = opening_words(model, next_)
    if opening:
        lines += _entry("Before it", f"{opening} ({cost(next_.opening_cost)})", width)
    lines += _entry("Itself", cost(next_.own_cost), width)
    lines += _entry("Why", next_.why, width)
    for index, outcome in enumerate(next_.outcomes):
        lines += _entry("It may be" if index == 0 else "", _outcome(model, outcome, cost), width)
    about = "exactly" if advice.proven else f"at least {cost(advice.lower_bound)}"
    lines += _entry(
        "Expected",
        f"{cost(advice.expected_cost)} until the device works and is closed ({about})",
        width,
    )
    return lines


def _cautions(next_: Proposal, width: int, *, colour: bool) -> list[str]:
    lines: list[str] = []
    for hazard in next_.cautions.hazards:
        words = f"{hazard.signal.upper()} (!) {hazard.text}"
        lines += [
            coloured(Line(text, signals=(hazard.signal,)), colour=colour).replace(" (!)", "", 1)
            for text in wrap(words, width, indent=LABEL, hang=LABEL + 2)
        ]
    if next_.cautions.hold:
        lines += wrap(f"HOLD {next_.cautions.hold}", width, indent=LABEL, hang=LABEL + 5)
    if next_.cautions.trained:
        lines += wrap(next_.cautions.trained, width, indent=LABEL)
    return lines


def _outcome(model: FaultModel, outcome: Outcome, cost: Money) -> str:
    name = outcome.name.replace("_", " ")
    if not outcome.likeliest:
        return f"{name} ({percent(outcome.chance)}): done, close it ({cost(outcome.expected_cost)})"
    likely = ", ".join(
        f"{model.device.faults[f].name} {percent(p)}" for f, p in outcome.likeliest[:2]
    )
    return (
        f"{name} ({percent(outcome.chance)}): {likely}; then {outcome.then}, "
        f"{cost(outcome.expected_cost)} from there"
    )


def _certainty(
    model: FaultModel, advice: Advice, found: Sequence[Flip], width: int, cost: Money
) -> list[str]:
    lines: list[str] = []
    rival = advice.runner_up
    if rival is not None:
        close = f"{cost(rival.margin)} more" if rival.margin > 0 else "as good"
        lines += _entry("Runner-up", f"{rival.name} ({rival.id}): {close}", width)
    for index, flip in enumerate(found):
        label = "It flips if" if index == 0 else ""
        lines += _entry(label, flip_words(model.device, flip), width)
    return lines


def flip_words(device: Device, flip: Flip) -> str:
    """A flip in words."""
    name = device.faults[flip.fault].name
    if flip.what == "prior":
        more = "more" if flip.factor > 1 else "less"
        times = flip.factor if flip.factor > 1 else 1 / flip.factor
        return (
            f"{name} were {times:.1f} times {more} frequent ({percent(flip.now)} now, "
            f"about {percent(flip.flips_at)} then): {flip.other} first"
        )
    return f"the check showed {name} in about {percent(flip.flips_at)}, not {percent(flip.now)}: {flip.other} first"


def tree_text(tree: Twig, *, width: int, cost: Money) -> str:
    """The whole strategy, indented; outcomes with their chances."""
    lines: list[str] = []

    def add(twig: Twig, outcome: str, depth: int, share: float) -> None:
        indent = min(2 * depth, max(0, width - 40))
        head = f"{outcome.replace('_', ' ')} ({percent(share)}): " if outcome else ""
        kinds = {"check": "check ", "mend": "mend ", "stop": "stop", "end": "works", "cut": "…"}
        name = twig.name if twig.kind in ("check", "mend") else ""
        words = f"{head}{kinds.get(twig.kind, '')}{name}"
        if twig.kind in ("check", "mend", "cut"):
            words += f" [{cost(twig.expected_cost)}]"
        lines.extend(wrap(words, width, indent=indent, hang=indent + 4))
        for name_, below in sorted(twig.branches, key=lambda b: -b[1].chance):
            add(below, name_, depth + 1, below.chance / max(twig.chance, 1e-12))

    add(tree, "", 0, 1.0)
    return "\n".join(lines)


def simulation_text(results: Sequence[Simulated], jobs: int, *, cost: Money) -> str:
    """Mean and spread of each strategy."""
    wide = max(width_of(result.name) for result in results)
    lines = [
        f"{jobs:,} machines drawn from the priors; mean cost, spread over the jobs, share that works"
    ]
    first = results[0].mean
    for result in results:
        more = "" if result is results[0] or not first else f"  ({result.mean / first - 1:+.0%})"
        lines.append(
            f"{pad(result.name, wide)}  {cost(result.mean):>12} ± {cost(result.error)}"
            f"  spread {cost(result.spread)}  {result.works:.0%}{more}"
        )
    return "\n".join(lines)


def words_table() -> str:
    """The words for probabilities, for the help."""
    return ", ".join(f"{word} {value:g}" for word, value in LIKELIHOOD_WORDS.items())
