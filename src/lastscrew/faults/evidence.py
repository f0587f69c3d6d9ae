"""What is known about a unit: symptoms, outcomes in order, mends done; and what follows from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from lastscrew.device.names import nearest
from lastscrew.faults.model import FaultModel, puzzle_of
from lastscrew.faults.puzzle import (
    Belief,
    Puzzle,
    after_check,
    after_failed_final,
    after_mend,
    first_belief,
)
from lastscrew.faults.works import FAULTY, WORKS, Work
from lastscrew.problems import InputError, Problem
from lastscrew.saying import say

DONE = "done"
ODD: Final = 0.05
"""What is likely would show a result more seldom than this: it fits nothing well. Our own figure, no source."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was seen, in order.

    Attributes:
        shows: Symptoms that show.
        lacks: Symptoms that were looked for and do not show.
        results: (check or mend, outcome) in order; a mend's outcome is ``done``. A measured value may
            stand for the outcome.
        doubtful: Checks or mends whose results are taken back: they count as if they had never been.
        complaint: Words of the owner. They only tell of liquid or a drop; symptoms are confirmed by a person.
    """

    shows: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    results: tuple[tuple[str, str], ...] = ()
    doubtful: tuple[str, ...] = ()
    complaint: str = ""

    @property
    def counted(self) -> tuple[tuple[str, str], ...]:
        """Results that were not taken back."""
        return tuple(result for result in self.results if result[0] not in self.doubtful)

    def without(self, index: int) -> Evidence:
        """Taken back: the result at ``index`` was doubtful or forgotten."""
        kept = tuple(result for i, result in enumerate(self.results) if i != index)
        return replace(self, results=kept)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a job stands.

    Attributes:
        puzzle: The decision problem, its prior that of the complaint.
        belief: What is known now; None where the device works already.
        works: The device's own check was passed.
        chance: Chance of all that was seen, by the model: a very small one says that something is odd.
        evidence: What was seen.
    """

    puzzle: Puzzle
    belief: Belief
    works: bool = False
    chance: float = 1.0
    evidence: Evidence = field(default_factory=Evidence)


def standing(
    model: FaultModel, evidence: Evidence, *, start: int = 0, worth: float | None = None
) -> Standing:
    """What follows from what was seen.

    Args:
        model: The model of the fitted device.
        evidence: What was seen.
        start: State of opening now.
        worth: Cost of giving up.

    Raises:
        InputError: Unknown names, or results that no fault of the file explains.
    """
    problems = evidence_problems(model, evidence)
    if problems:
        raise InputError(problems)
    counted = evidence.counted
    steps = [_read_result(model, name, outcome, problems) for name, outcome in counted]
    weights, total = symptom_posterior(model, evidence)
    if total <= 0:
        raise InputError([_impossible(say("The symptoms"))])
    puzzle = puzzle_of(model, weights, start=start, worth=worth)
    belief = first_belief(puzzle)
    chance, works = total, False
    for (work, outcome), (name, said) in zip(steps, counted, strict=True):
        share, belief_or_none = _step(model, puzzle, belief, work, outcome)
        works = work.kind == "final" and outcome == WORKS
        if belief_or_none is None:
            raise InputError([_impossible(f"{name}={said}")])
        belief, chance = belief_or_none, chance * share
    return Standing(puzzle, belief, works, chance, evidence)


def evidence_problems(model: FaultModel, evidence: Evidence) -> list[Problem]:
    """What can't be used of what was seen: unknown names and outcomes, contradictions.

    Paths begin with the field: ``shows.ID``, ``lacks.ID``, ``results.CHECK=OUTCOME``, ``doubtful.CHECK``.
    """
    problems = _unknown_symptoms(model, evidence)
    if not model.faults:
        problems.append(
            Problem(
                say("The device file names no faults."),
                say("Add a section faults, see the page on the device file."),
                code="no_faults",
            )
        )
        return problems
    for name, outcome in evidence.results:
        _read_result(model, name, outcome, problems)
    given = {name for name, _ in evidence.results}
    problems += [
        Problem(
            say("No result of {name} is given that could be taken back.", name=name),
            say("Results are given of {names}.", names=", ".join(sorted(given)))
            if given
            else say("Leave it out."),
            path=f"doubtful.{name}",
            code="nothing_to_take_back",
        )
        for name in evidence.doubtful
        if name not in given
    ]
    return problems


def symptom_posterior(model: FaultModel, evidence: Evidence) -> tuple[tuple[float, ...], float]:
    """Chance of each cause after the symptoms, and the chance of the symptoms."""
    weights = list(model.prior)
    for symptom in evidence.shows:
        shown = model.symptoms[symptom]
        weights = [w * shown[c] for c, w in enumerate(weights)]
    for symptom in evidence.lacks:
        shown = model.symptoms[symptom]
        weights = [w * (1 - shown[c]) for c, w in enumerate(weights)]
    total = sum(weights)
    return tuple(w / total if total else 0.0 for w in weights), total


def doubts(model: FaultModel, evidence: Evidence) -> tuple[str, ...]:
    """What was seen and fits nothing that is likely after all of it, in words: it may have been a slip.

    Each symptom and each check before the first mend is held to what may be wrong, weighed by everything that was
    seen by then. ``evidence`` is without problems.
    """
    device = model.device
    seen: list[tuple[str, Sequence[float]]] = [
        (device.symptoms[symptom].name, model.symptoms[symptom]) for symptom in evidence.shows
    ]
    seen += [
        (
            say("not {symptom}", symptom=device.symptoms[symptom].name),
            [1 - p for p in model.symptoms[symptom]],
        )
        for symptom in evidence.lacks
    ]
    tried: set[str] = set()
    for name, said in evidence.counted:
        work, outcome = _read_result(model, name, said, [])
        if work not in model.checks:
            break
        if work.id not in tried:
            tried.add(work.id)
            row = model.chances[model.checks.index(work)][work.outcomes.index(outcome)]
            told = said if said not in work.outcomes else said.replace("_", " ")
            seen.append((say("{check}: {outcome}", check=work.name, outcome=told), row))
    weights = list(model.prior)
    for _, shown in seen:
        weights = [weight * p for weight, p in zip(weights, shown, strict=False)]
    total = sum(weights)
    if not total:
        return ()
    return tuple(
        say(
            "{result} fits nothing that is likely: take it back where it is doubtful.", result=words
        )
        for words, shown in seen
        if sum(w * p for w, p in zip(weights, shown, strict=False)) < ODD * total
    )


def fault_chances(model: FaultModel, belief: Belief) -> tuple[dict[str, float], float]:
    """Chance of each fault (with two at once each counts), and that nothing is wrong any more."""
    found = dict.fromkeys((fault.id for fault in model.faults), 0.0)
    sound = 0.0
    for state, _, weight in belief.pieces:
        if state == len(model.causes):
            sound += weight
        else:
            for fault in model.causes[state]:
                found[model.faults[fault].id] += weight
    return found, sound


def _step(
    model: FaultModel, puzzle: Puzzle, belief: Belief, work: Work, outcome: str
) -> tuple[float, Belief | None]:
    """Chance of one result, and the belief after it."""
    if work.kind in ("mend", "reseat"):
        return 1.0, after_mend(puzzle, belief, model.mends.index(work))
    if work.kind == "final":
        failed, left = after_failed_final(puzzle, belief)
        if outcome == FAULTY:
            return failed, left
        sound = tuple(piece for piece in belief.pieces if piece[0] == puzzle.sound)
        total = sum(weight for _, _, weight in sound)
        if not total:
            sound, total = ((puzzle.sound, 0, 1.0),), 1.0
        kept = tuple((s, stale, w / total) for s, stale, w in sound)
        return total, Belief(kept, belief.known, belief.used)
    return after_check(puzzle, belief, model.checks.index(work))[work.outcomes.index(outcome)]


def _unknown_symptoms(model: FaultModel, evidence: Evidence) -> list[Problem]:
    problems = []
    for field_name, names in (("shows", evidence.shows), ("lacks", evidence.lacks)):
        for name in names:
            if name not in model.symptoms:
                problems.append(_unknown(field_name, name, say("symptom"), list(model.symptoms)))
            elif field_name == "lacks" and name in evidence.shows:
                problems.append(
                    Problem(
                        say('"{name}" can\'t show and not show at once.', name=name),
                        say("Name it once."),
                        path=f"lacks.{name}",
                        code="shows_and_lacks",
                    )
                )
    return problems


def _read_result(
    model: FaultModel, name: str, outcome: str, problems: list[Problem]
) -> tuple[Work, str]:
    by_id = {work.id: work for work in model.works}
    for function in model.device.functions.values():
        if function.entry in by_id:
            by_id.setdefault(function.id, by_id[function.entry])
    work = by_id.get(name)
    if work is None:
        problems.append(_unknown("results", name, say("check or mend"), list(by_id)))
        return model.final, outcome
    read = work.read(outcome)
    if read is not None:
        return work, read
    if work.kind == "final" and outcome in ("good", "bad"):
        return work, WORKS if outcome == "good" else FAULTY
    meant = nearest(outcome, work.outcomes)
    problems.append(
        Problem(
            say('"{outcome}" is no outcome of {name}.', outcome=outcome, name=name),
            say("Did you mean {name}?", name=meant) if meant else _outcomes_of(work),
            path=f"results.{name}={outcome}",
            code="unknown_outcome",
        )
    )
    return work, work.outcomes[0]


def _outcomes_of(work: Work) -> str:
    names = ", ".join(work.outcomes)
    if work.limits is None:
        return say("It has {outcomes}.", outcomes=names)
    return say("It has {outcomes}, or the value in {unit}.", outcomes=names, unit=work.limits.unit)


def _unknown(field_name: str, name: str, what: str, known: Sequence[str]) -> Problem:
    meant = nearest(name, known)
    some = ", ".join(sorted(known)[:12]) + (", …" if len(known) > 12 else "")
    return Problem(
        say('There is no {what} "{name}".', what=what, name=name),
        say("Did you mean {name}?", name=meant)
        if meant
        else say("Known: {names}.", names=some)
        if known
        else say("The file names no {what}.", what=what),
        path=f"{field_name}.{name}",
        code="unknown_name",
    )


def _impossible(what: str) -> Problem:
    return Problem(
        say("{what} can't be, by the device file, together with what else was seen.", what=what),
        say("Take back the doubtful result, or give the file a leak above 0 there."),
        code="impossible",
    )
