"""Parts whose fasteners come out and that no step takes off, and counted pieces that do not go up."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from lastscrew.audit.account import Account, Job, Movement, alike, goes_backwards, mentions
from lastscrew.audit.findings import Finding
from lastscrew.audit.habits_of_text import LEAST_PLACES, MOST_DO
from lastscrew.reading.model import Step

_AWAY: Final = re.compile(r"\b(?:out|off|away|up|aside|free|apart|down|over)\b")
_HELD: Final = re.compile(
    r"\b(?:that|which)\s+(?:hold|secur|fasten|attach|fix|retain|clamp|mount|connect)\w*\b[^.;,]*"
)
_OF_IT: Final = re.compile(
    r"\b(?:of|in|on|at|to|from|off|into|onto|under|over|beneath|behind|with|through)\s+(?:the|its|their)\s+(?:[\w-]+\s+){0,2}[\w-]+"
)
_STAYS: Final = re.compile(
    r"\b(?:stay|remain|leave|keep|hang|swing|fold|tilt|turn|hinge|loose|push|move|shift)\w*\b",
    re.IGNORECASE,
)
_NO_PARTS: Final = re.compile(
    r"\b(?:chassis|frame|housing|case|body|base|machine|bench|wall|door|cable|lead|wire|lug|"
    r"ground|earth|strap|clamp|terminal|hinge|hole|corner|edge|side|screw|part|unit|device|thing|piece|it)s?$",
    re.IGNORECASE,
)
"""What screws also hold without coming off with them, and words that say too little."""


@dataclass(frozen=True, slots=True)
class _Held:
    """A part whose fasteners come out in a procedure; ``taken`` where something says that it moves.

    Attributes:
        screws: The fasteners.
        taken: A step lifts it off, or a sentence speaks of it as more than what screws hold.
        under: The first part that a later step takes off, or None.
        back: The step of the other half that puts it back, or None.
    """

    screws: Movement
    taken: bool
    under: Movement | None
    back: Movement | None


def left_in_place_findings(account: Account) -> Iterator[Finding]:
    """Brackets and the like that stay where they are although their screws are out.

    A warning where the other half puts the part back, so that it must have come off, or where the text lifts nearly
    everything off that it unscrews; a text that is silent everywhere is not judged.
    """
    held = [one for job in account.jobs for one in _held_of(account, job)]
    lifted = sum(one.taken for one in held)
    habit = lifted >= LEAST_PLACES and lifted >= MOST_DO * len(held)
    for one in held:
        known = habit and one.back if one.under is None else habit or one.back
        if one.taken or not known:
            continue
        screws = one.screws
        others = {m.line for m in (one.under, one.back) if m is not None}
        name = screws.action.joins[0] if screws.action.joins else screws.holder
        back = f", although line {one.back.line} puts it back" if one.back else ""
        goes_on = f"; line {one.under.line} goes on with the {one.under.shown}" if one.under else ""
        yield Finding(
            "left_in_place",
            "warning",
            screws.line,
            f'The fasteners of "{name}" come out here, and no step takes it off{back}{goes_on}.',
            f"Add the step that takes the {name} off, or say that it stays.",
            also=tuple(sorted(others - {screws.line})),
        )


def _held_of(account: Account, job: Job) -> Iterator[_Held]:
    """Parts of one job whose fasteners are taken out, each once."""
    backs = [] if goes_backwards(account, job) else account.of(job.refits, "back", "part")
    told: list[str] = []
    for screws in account.of(job.removals, "out", "fastener"):
        name = screws.holder
        if not name or screws.action.klass != "remove" or screws.action.optional:
            continue
        said = mentions(screws.step.text.lower(), name)
        if not said or _NO_PARTS.search(name) or any(alike(name, other) for other in told):
            continue
        told.append(name)
        after = [
            m
            for m in account.of([screws.procedure], "out", "part")
            if m.line > screws.line and not alike(m.name, name)
        ]
        guessed = bool(dict(screws.action.inferred).get("joins"))
        taken = _is_taken(account, screws, name)
        if guessed and not taken:
            continue
        yield _Held(
            screws,
            taken,
            next((m for m in after if m.action.klass in ("remove", "lift")), None),
            next((m for m in backs if m.name == name and not m.action.weak), None),
        )


def _is_taken(account: Account, screws: Movement, name: str) -> bool:
    """A step takes the part off, here or in another procedure, or a sentence says something of it itself."""
    outs = account.of(range(len(account.reading.procedures)), "out", "part")
    if any(alike(m.name, name) for m in outs):
        return True
    return any(_speaks(step, name) for step in _after(account, screws))


def _after(account: Account, screws: Movement) -> Sequence[Step]:
    steps = account.reading.procedures[screws.procedure].steps
    return [step for step in steps if step.line >= screws.line]


def _speaks(step: Step, name: str) -> bool:
    """The step speaks of the part other than as of what screws hold or something else lies at."""
    words = _OF_IT.sub("", _HELD.sub("", step.text.lower()))
    if mentions(words, name):
        return True
    return bool(_STAYS.search(step.text)) and mentions(step.text.lower(), name)


# --- pieces that are counted ------------------------------------------------------------------------


def counted_findings(account: Account, job: Job) -> Iterator[Finding]:
    """Feet, springs, cables of which both halves say how many, and say it differently."""
    if goes_backwards(account, job) or account.reading.source.spoken:
        return
    for sort in ("part", "cable"):
        outs = account.of(job.removals, "out", sort)
        backs = account.of(job.refits, "back", sort)
        for out in outs:
            mates = [back for back in backs if back.name == out.name]
            kin = [m for m in outs if m.name == out.name]
            if len(mates) != 1 or len(kin) != 1:
                continue
            back = mates[0]
            if not _is_number(out) or not _is_number(back) or out.count == back.count:
                continue
            yield Finding(
                "count_differs",
                "error",
                back.line,
                f"{out.count} {out.shown} come off (line {out.line}), but {back.count} go back (line {back.line}).",
                "Count them on the machine and give both halves the same number.",
                also=(out.line,) if out.line != back.line else (),
            )


def _is_number(movement: Movement) -> bool:
    """The text itself says a number, and of nothing else in that step."""
    [*_, thing] = movement.action.things
    return (
        isinstance(movement.count, int)
        and thing.plural
        and len(movement.action.things) == 1
        and not movement.each
        and not movement.action.weak
        and not movement.action.optional
    )
