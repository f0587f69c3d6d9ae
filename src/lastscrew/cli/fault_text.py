"""A proposal, a strategy and a simulation as text for a terminal."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from lastscrew.cli.columns import Line, coloured, cut, pad, width_of, wrap
from lastscrew.device.diagnosis import LIKELIHOOD_WORDS, Fault
from lastscrew.device.model import Device
from lastscrew.faults.advice import Advice, Outcome, Proposal, opening_words, percent
from lastscrew.faults.learning import Learnt
from lastscrew.faults.sensitivity import MOST_FACTOR, Flip, is_hair
from lastscrew.faults.simulation import POLICY
from lastscrew.faults.simulation import Outcome as Simulated
from lastscrew.faults.strategy import Twig

SHOWN: Final = 8
LABEL: Final = 12
MOST_NAME: Final = 44
BAR: Final = 20
CHANCE: Final = 9
"""Columns of a chance: *under 1 %* is the widest."""
CLOSING: Final = (
    "The maker's instructions, local rules and trained people come first; this proposal does not "
    "replace them."
)
KINDS: Final = {"check": "check", "mend": "mend", "stop": "stop", "end": "works", "cut": "…"}

_GLUE: Final = "\N{LIGHT VERTICAL BAR}"  # as wide as a space, and found in no text
_KEPT: Final = re.compile(
    r"(?<=\d) (?=%|(?:min|s|h)\b)|(?<=\d min) (?=\d\d s\b)|(?<=\d h) (?=\d\d\b)"
)
"""Spaces at which no line is broken: within a share or a time."""
Words = Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Page:
    """How to write.

    Attributes:
        width: Columns.
        cost: Writes a cost.
        colour: Whether signal words are coloured.
    """

    width: int
    cost: Words
    colour: bool = False

    def entry(self, label: str, text: str) -> list[str]:
        """A label with a text beside it."""
        lines = self.wrapped(text, LABEL, LABEL) or [" " * LABEL]
        return [(pad(label, LABEL) + lines[0][LABEL:]).rstrip(), *lines[1:]]

    def short(self, cost: float) -> str:
        """A cost for a table: minutes and seconds as on a clock."""
        if not self.cost(60).endswith("min"):
            return self.cost(cost)
        minutes, seconds = divmod(round(cost), 60)
        return f"{minutes}:{seconds:02d} min"

    def wrapped(self, text: str, indent: int = 0, hang: int | None = None) -> list[str]:
        """A text broken into lines; a unit stays with its number."""
        lines = wrap(_KEPT.sub(_GLUE, text), self.width, indent=indent, hang=hang)
        return [line.replace(_GLUE, " ") for line in lines]


def cost_words(rate_per_h: float | None) -> Words:
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


# --- the proposal -------------------------------------------------------------------------------------


def advice_text(
    advice: Advice, found: Sequence[Flip], page: Page, learnt: Learnt | None = None
) -> str:
    """The proposal as text."""
    lines = [*_head(advice, page), ""]
    for remark in (*advice.doubts, *advice.remarks):
        lines += page.wrapped(f"Note: {remark}", 0, 6)
    if advice.doubts or advice.remarks:
        lines.append("")
    lines += [*_posterior(advice, page), ""]
    if advice.next is None:
        closing = page.cost(advice.expected_cost)
        what = f"close it ({closing})" if advice.expected_cost else "it is closed"
        lines += page.entry("Next", f"Nothing: the device works; {what}.")
    else:
        lines += _proposal(advice, advice.next, page)
        lines += _certainty(advice, found, page)
    lines += ["", *_sources(advice, learnt, page), "", *wrap(CLOSING, page.width)]
    return "\n".join(lines)


def _head(advice: Advice, page: Page) -> list[str]:
    device, evidence = advice.model.device, advice.standing.evidence
    shown = [device.symptoms[s].name for s in evidence.shows]
    lacking = [f"not {device.symptoms[s].name}" for s in evidence.lacks]
    revision = f", revision {device.revision}" if device.revision else ""
    lines = wrap(
        f"{device.name}{revision}: {'; '.join((*shown, *lacking)) or 'no symptom named'}",
        page.width,
        hang=2,
    )
    names = {work.id: work.name for work in advice.model.works}
    for name, outcome in evidence.results:
        doubted = " (taken back)" if name in evidence.doubtful else ""
        said = f"{names.get(name, name)}: {outcome.replace('_', ' ')}{doubted}"
        lines += wrap(said, page.width, indent=2, hang=4)
    return lines


def _posterior(advice: Advice, page: Page) -> list[str]:
    """The likeliest faults with their chances and priors."""
    model = advice.model
    likely = [(f, p) for f, p in advice.posterior if p > 0]
    rows = [(model.device.faults[f], p) for f, p in likely[:SHOWN]]
    room = page.width - 2 - 10 - 18
    wide = min(
        max((width_of(fault.name) for fault, _ in rows), default=0), MOST_NAME, max(16, room)
    )
    wide = max(wide, len("what may be wrong"))
    lines = [f"  {pad('what may be wrong', wide)} {'chance':>{CHANCE}}  frequency"]
    for fault, p in rows:
        bar = "─" * round(p * max(0, min(BAR, page.width - wide - 30)))
        named = pad(cut(fault.name, wide), wide)
        lines.append(f"  {named} {percent(p):>{CHANCE}}  {pad(_prior(fault), 9)}  {bar}".rstrip())
    rest = len(likely) - len(rows)
    if rest > 0:
        left = max(sum(p for _, p in likely[SHOWN:]), 0.0)
        others = "1 other" if rest == 1 else f"{rest} others"
        least = "" if any(model.prior[len(model.faults) :]) else f" {percent(left):>{CHANCE}}"
        lines.append(f"  {pad(f'{others} together' if least else others, wide)}{least}".rstrip())
    if advice.sound > 0:
        mended = advice.standing.belief.used
        done = pad("mended by what was done" if mended else "nothing any more", wide)
        lines.append(f"  {done} {percent(advice.sound):>{CHANCE}}")
    if any(model.prior[len(model.faults) :]) and rows:
        lines += wrap(
            "Two faults may be there at once: the chances add up to more than all.",
            page.width, indent=2,
        )  # fmt: skip
    return lines


def _prior(fault: Fault) -> str:
    """The number of the file, or the count that it was corrected by."""
    if fault.prior_word:
        return fault.prior_word.replace("_", " ")
    learnt = fault.sources.get("prior", "")
    if " here; " in learnt:
        return learnt.partition(" here; ")[0]
    return f"{fault.prior:.4g}" if fault.prior_given else "not given"


def _proposal(advice: Advice, next_: Proposal, page: Page) -> list[str]:
    if next_.kind == "stop":
        lines = page.entry("Next", "Stop: give up")
        lines += page.entry("Why", next_.why)
        return [*lines, *page.entry("Expected", f"{page.cost(advice.expected_cost)} in all")]
    kind = {"check": "Check", "mend": "Mend"}.get(next_.kind, "")
    lines = page.entry("Next", f"{kind}: {next_.name} ({next_.id})")
    if next_.text:
        lines += page.entry("", next_.text)
    lines += _needs(advice, next_, page)
    lines += _cautions(next_, page)
    opening = opening_words(advice.model, next_)
    if opening:
        lines += page.entry("Before it", f"{opening} ({page.cost(next_.opening_cost)})")
    lines += page.entry("It takes", page.cost(next_.own_cost))
    lines += page.entry("Why", next_.why)
    lines += _outcomes(advice.model.device, next_.outcomes, page)
    return [*lines, *_expected(advice, next_, page)]


def _needs(advice: Advice, next_: Proposal, page: Page) -> list[str]:
    work = next_.work
    if work is None:
        return []
    device = advice.model.device
    tool = device.tools[work.tool].name if work.tool in device.tools and work.tool else ""
    power = {"on": "power on", "off": "power off and isolated"}.get(work.power or "", "")
    words = [word for word in (tool, work.instrument, power) if word]
    if work.limits is not None:
        low = f"at least {work.limits.low:g}" if work.limits.low is not None else ""
        high = f"at most {work.limits.high:g}" if work.limits.high is not None else ""
        words.append(f"good is {' and '.join(filter(None, (low, high)))} {work.limits.unit}")
    return page.entry("With", "; ".join(words)) if words else []


def _cautions(next_: Proposal, page: Page) -> list[str]:
    lines: list[str] = []
    for hazard in next_.cautions.hazards:
        words = f"{hazard.signal.upper()} (!) {hazard.text}"
        lines += [
            coloured(Line(text, signals=(hazard.signal,)), colour=page.colour).replace(
                " (!)", "", 1
            )
            for text in wrap(words, page.width, indent=LABEL, hang=LABEL + 2)
        ]
    if next_.cautions.hold:
        lines += wrap(f"HOLD {next_.cautions.hold}", page.width, indent=LABEL, hang=LABEL + 2)
    if next_.cautions.trained:
        lines += wrap(next_.cautions.trained, page.width, indent=LABEL)
    return lines


def _outcomes(device: Device, outcomes: Sequence[Outcome], page: Page) -> list[str]:
    """A row for each outcome: chance, what comes then, cost from there; below it what it would mean."""
    names = [outcome.name.replace("_", " ") for outcome in outcomes]
    wide = max((width_of(name) for name in names), default=0)
    lines: list[str] = []
    for index, (outcome, name) in enumerate(zip(outcomes, names, strict=True)):
        then = f"then {outcome.then}" if outcome.then else "done: close it"
        chance = f"{percent(outcome.chance):>{CHANCE}}"
        head = f"{pad(name, wide)}  {chance}  {then}, {page.cost(outcome.expected_cost)} more"
        hang = LABEL + wide + CHANCE + 4
        label = pad("Outcomes" if index == 0 else "", LABEL)
        rows = wrap_kept(label + head, page, hang)
        likely = ", ".join(
            f"{device.faults[f].name} {percent(p)}" for f, p in outcome.likeliest[:2]
        )
        lines += [*rows, *(page.wrapped(likely, hang) if likely else ())]
    return lines


def wrap_kept(text: str, page: Page, hang: int) -> list[str]:
    """Break a text whose first columns are a table's: the spaces before ``hang`` are kept."""
    head, rest = text[:hang], text[hang:]
    lines = page.wrapped(rest, hang, hang)
    return [head + lines[0][hang:], *lines[1:]] if lines else [head.rstrip()]


def _expected(advice: Advice, next_: Proposal, page: Page) -> list[str]:
    now, after = page.cost(advice.expected_cost), page.cost(next_.cost_after)
    lines = page.entry(
        "Expected",
        f"{now} from now until the device works and is closed; {after} once this is done",
    )
    if advice.proven:
        return [*lines, *page.entry("", "Proven: no strategy costs less by these numbers.")]
    least = page.cost(advice.lower_bound)
    if least == now:
        least = f"{percent(1 - advice.lower_bound / advice.expected_cost)} less"
        return [*lines, *page.entry("", f"Not proven: the best strategy may cost {least}.")]
    return [*lines, *page.entry("", f"Not proven: no strategy costs less than {least}.")]


def _certainty(advice: Advice, found: Sequence[Flip], page: Page) -> list[str]:
    """How close the next best is, and what would make it the best."""
    rival, next_ = advice.runner_up, advice.next
    if rival is None or next_ is None or next_.kind == "stop":
        return []
    share = rival.margin / advice.expected_cost if advice.expected_cost else 0.0
    close = f"{page.cost(rival.margin)} more ({percent(share)})" if rival.margin > 0 else "as good"
    lines = page.entry("Runner-up", f"{rival.name} ({rival.id}): {close}")
    device = advice.model.device
    names = {work.id: work.name for work in advice.model.works}
    for index, flip in enumerate(found):
        label = "It flips" if index == 0 else ""
        lines += page.entry(label, f"if {flip_words(device, flip, names)}")
    if not found:
        lines += page.entry(
            "",
            f"No likely fault changes that, were its frequency wrong by a factor of up to {MOST_FACTOR:g}.",
        )
    return lines


def flip_words(device: Device, flip: Flip, names: Mapping[str, str]) -> str:
    """A flip in words."""
    name, other = device.faults[flip.fault].name, names.get(flip.other, "Stop")
    more = "more" if flip.flips_at > flip.now else "less"
    if is_hair(flip):
        return (
            f"{name} were a little {more} frequent ({percent(flip.now)} now): {other} comes first"
            if flip.what == "prior"
            else f"the check failed with {name} a little {more} often than in {percent(flip.now)} of cases: "
            f"{other} comes first"
        )
    if flip.what == "prior":
        times = flip.factor if flip.factor > 1 else 1 / flip.factor
        now, then = percent(flip.now), percent(flip.flips_at)
        chances = f"{now} now" if now == then else f"{now} now, {then} then"
        return (
            f"{name} were about {times:.1f} times {more} frequent ({chances}): {other} comes first"
        )
    return (
        f"the check failed with {name} in about {percent(flip.flips_at)} of cases, not "
        f"{percent(flip.now)}: {other} comes first"
    )


def _sources(advice: Advice, learnt: Learnt | None, page: Page) -> list[str]:
    """Where the numbers come from."""
    device = advice.model.device
    said = ["Frequencies and chances: device file"]
    words = sorted(_words_used(device), key=lambda word: -LIKELIHOOD_WORDS[word])
    if words:
        listed = ", ".join(f"{word.replace('_', ' ')} {LIKELIHOOD_WORDS[word]:g}" for word in words)
        said.append(f"words stand for {listed} (our own round figures)")
    if learnt is not None:
        seen = sum(1 for count in learnt.chances.values() if count.of)
        jobs = "1 closed job" if learnt.jobs == 1 else f"{learnt.jobs} closed jobs"
        said.append(f"corrected by the counts of {jobs} (frequencies, and {seen} chances)")
        if learnt.unknown:
            said.append(f"not known to the file and passed over: {', '.join(learnt.unknown)}")
    work = advice.next.work if advice.next is not None else None
    if work is not None and work.assumed:
        said.append(f"assumed for {work.name}: {', '.join(work.assumed)} (our own figures)")
    return page.entry("Sources", "; ".join(said) + ".")


def _words_used(device: Device) -> set[str]:
    found: set[str] = set()
    for fault in device.faults.values():
        chances = [
            *fault.symptoms.values(),
            *(c for by in fault.checks.values() for c in by.values()),
        ]
        chances += [mend.success for mend in fault.mends if mend.success is not None]
        found |= {word for word in (fault.prior_word, *(c.word for c in chances)) if word}
    leaks = [symptom.leak for symptom in device.symptoms.values() if symptom.leak is not None]
    leaks += [chance for check in device.checks.values() for chance in check.leak.values()]
    return found | {leak.word for leak in leaks if leak.word}


# --- the whole strategy -------------------------------------------------------------------------------


def tree_text(advice: Advice, tree: Twig, page: Page) -> str:
    """The whole strategy, indented by outcome; their chances, and at the right the cost from there on."""
    lines = [*_head(advice, page), ""]
    rows = list(_rows(tree, "", 0))
    costs = [page.cost(twig.expected_cost) if twig.expected_cost else "" for twig, _, _ in rows]
    right = max(len(cost) for cost in costs)
    room = page.width - right - 2
    for (twig, outcome, depth), cost in zip(rows, costs, strict=True):
        indent = min(2 * depth, max(0, room - 40))
        name = f" {twig.name} ({twig.id})" if twig.kind in ("check", "mend") else ""
        text = f"{outcome}{KINDS.get(twig.kind, '')}{name}"
        own = Page(room, page.cost).wrapped(text, indent, indent + 4)
        lines += [f"{pad(own[0], room)}  {cost:>{right}}".rstrip(), *own[1:]]
    said = "At the right: what is expected from there on until the device works and is closed."
    if any(twig.cut for twig, _, _ in rows):
        said += " …: less likely than --least."
    if not advice.proven:
        said += f" Not proven: no strategy costs less than {page.cost(advice.lower_bound)}."
    return "\n".join([*lines, "", *page.wrapped(said), "", *wrap(CLOSING, page.width)])


def _rows(twig: Twig, outcome: str, depth: int) -> Iterator[tuple[Twig, str, int]]:
    """Actions in order: what follows in any case stands below, each of several outcomes further in."""
    yield twig, outcome, depth
    if len(twig.branches) == 1:
        yield from _rows(twig.branches[0][1], "", depth)
        return
    for name, below in sorted(twig.branches, key=lambda b: -b[1].chance):
        share = percent(below.chance / max(twig.chance, 1e-12))
        yield from _rows(below, f"{name.replace('_', ' ')} {share}: ", depth + 1)


# --- a simulation -------------------------------------------------------------------------------------


def simulation_text(results: Sequence[Simulated], jobs: int, *, seed: int, page: Page) -> str:
    """Mean and spread of each strategy."""
    wide = max(width_of(result.name) for result in results)
    drawn = "1 machine" if jobs == 1 else f"{jobs:,} machines"
    lines = wrap(f"{drawn} drawn from the frequencies of the file (seed {seed})", page.width)
    heads = ("mean", "± error", "spread", "works")
    rows = [
        (
            page.short(r.mean), page.short(r.error), page.short(r.spread), percent(r.works),
            _beside(r, results[0]),
        )
        for r in results
    ]  # fmt: skip
    columns = [max(len(heads[c]), *(width_of(row[c]) for row in rows)) for c in range(4)]
    titles = "  ".join(f"{head:>{w}}" for head, w in zip(heads, columns, strict=True))
    lines += ["", f"{pad('', wide)}  {titles}"]
    for result, row in zip(results, rows, strict=True):
        cells = "  ".join(f"{cell:>{w}}" for cell, w in zip(row, columns, strict=False))
        lines.append(f"{pad(result.name, wide)}  {cells}  {row[4]}".rstrip())
    lines += ["", *wrap(
        "Error: standard error of the mean. Spread: standard deviation over the machines. All strategies "
        "played the same machines. The figures are as good as the file's.",
        page.width,
    )]  # fmt: skip
    return "\n".join(lines)


def _beside(result: Simulated, first: Simulated) -> str:
    if result.name == POLICY or not first.mean:
        return ""
    return f"{result.mean / first.mean - 1:+.0%}".replace("%", " %")
