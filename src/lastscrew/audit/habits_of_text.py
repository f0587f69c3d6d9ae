"""What a text does everywhere but in one place: the place that stands out is most likely a slip.

Texts differ in how much they say. One never puts back what was taken off before, another always does; either is
sound. A half that does otherwise than nearly all halves of its own text is not.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from lastscrew.audit.account import (
    Account,
    Job,
    Movement,
    alike,
    goes_backwards,
    mentions,
    related,
    sentences_of,
)
from lastscrew.audit.findings import Finding
from lastscrew.audit.power import is_dead, is_store
from lastscrew.audit.prerequisites import Chain, pieces_of, resolve

MOST_DO: Final = 0.75
"""Share of the places of a text that must do a thing, so that one which does not stands out (our own figure)."""

LEAST_PLACES: Final = 3
"""Fewer places make no habit (our own figure)."""
VAGUE_NAMES: Final = frozenset(
    ("part", "piece", "component", "unit", "assembly", "half", "thing", "module", "it")
)
"""Names that stand for whatever was spoken of last."""

_PUTS_BACK: Final = re.compile(
    r"\b(?:(?:re-?)?(?:install|fit|insert|place|mount|attach|seat|assembl)\w*|put|set|hang|lay|slide|press|snap|lower|drop)\b"
)
_HOLDS: Final = re.compile(r"\b(?:hold|secur|fasten|attach|fix|retain)\w* (?:the|it)\b")
"""What is said of the screws of a part puts no part back."""


_ELECTRONICS: Final = frozenset(
    ("board", "motherboard", "mainboard", "card", "drive", "memory", "processor")
)
_DISCONNECTED: Final = re.compile(
    r"^(?:disconnect|unplug|detach)(?:ed)?\s+(?:the\s+)?(?P<thing>[\w -]+?)(?:\s+(?:from|at|on)\b.*)?\.?$",
    re.IGNORECASE,
)
_AS_A_HOST: Final = re.compile(
    r"\b(?:to|from|out of|off|into|onto)\s+(?:the|its|their)\s+(?:[\w-]+\s+){0,2}[\w-]+"
)
"""What a thing is held to, or comes out of, is not thereby off."""


_AS_A_PLACE: Final = re.compile(
    r"\b(?:to|into|onto|on|in|of|for|at)\s+(?:the|its|their)\s+(?:[\w-]+\s+){0,2}[\w-]+"
)
"""What something else is put into, and whose screws are fitted, is not thereby put back."""


@dataclass(frozen=True, slots=True)
class _Place:
    """One place where a text may follow its habit, and the finding if it does not."""

    kept: bool
    finding: Finding


def habit_findings(account: Account, chain: Chain) -> Iterator[Finding]:
    """Findings about the places that stand out."""
    jobs = [job for job in account.jobs if _has_both_halves(account, job)]
    for rule in (
        _before_goes_back,
        _parts_go_back,
        _back_came_off,
        _state_is_ended,
        _power_is_off_first,
    ):
        places = [place for job in jobs for place in rule(account, chain, job)]
        kept = sum(place.kept for place in places)
        if kept >= LEAST_PLACES and kept >= MOST_DO * len(places):
            yield from (place.finding for place in places if not place.kept)


def _has_both_halves(account: Account, job: Job) -> bool:
    half = _refit(job)
    says = any(m.procedure == half and m.direction == "back" for m in account.movements)
    return bool(job.removals) and half >= 0 and says and not goes_backwards(account, job)


def _refit(job: Job) -> int:
    """The half that only puts back, -1 where there is none."""
    return next((index for index in job.refits if index not in job.removals), -1)


def _stated(account: Account, job: Job) -> Iterator[tuple[str, int]]:
    """Parts that are taken off before a job, with the line that says so."""
    for index in job.removals:
        for item in account.reading.procedures[index].prerequisites:
            if item.kind == "part" and not item.inferred:
                for piece in pieces_of(item.text):
                    if account.names.of(piece):
                        yield account.names.of(piece), item.line


def _names(words: str, name: str) -> bool:
    """The whole name stands there: "the left shell" is not named where "the right shell" is."""
    return name in words if len(name.split()) > 1 else mentions(words, name)


def _before_goes_back(account: Account, _: Chain, job: Job) -> Iterator[_Place]:
    """What was taken off before is put back at the end."""
    words = account.back_words(job)
    half = account.reading.procedures[_refit(job)]
    backs = account.of(job.refits, "back", "part")
    for name, line in _stated(account, job):
        kept = _names(words, name) or any(alike(m.name, name) for m in backs)
        if not kept and not resolve(account, name, asking=job.removals[0]):
            continue  # that the text does not know it is told already
        yield _Place(
            kept,
            _stands_out(
                "part_not_back", half.line,
                f'"{name}" is taken off before (line {line}), and this half never puts it back; the others do.',
                f"Add the step that refits the {name}.", line,
            ),
        )  # fmt: skip


def _parts_go_back(account: Account, chain: Chain, job: Job) -> Iterator[_Place]:
    """A step of its own puts each part back: the job's own, and what comes off on the way to it."""
    yield from _own_part_goes_back(account, chain, job)
    yield from _other_parts_go_back(account, chain, job)


def _is_put_back(account: Account, job: Job, name: str) -> bool:
    """A step puts the part back, or a sentence does in words that gave no step.

    Where other parts share its last word ("drive" and "drive cage") the sentence has to say its whole name.
    """
    backs = account.of(job.refits, "back", "part")
    if any(alike(m.name, name) for m in backs):
        return True
    kin = any(name.rsplit(maxsplit=1)[-1] in m.name.split() for m in backs)
    return any(
        (name in sentence if kin else mentions(_AS_A_PLACE.sub("", sentence), name))
        and _PUTS_BACK.search(sentence)
        and not _HOLDS.search(sentence)
        for sentence in sentences_of(account.back_words(job))
    )


def _own_part_goes_back(account: Account, _: Chain, job: Job) -> Iterator[_Place]:
    """A step of its own puts the part back, not only its screws."""
    name = account.names.of(job.part)
    outs = [m for m in account.of(job.removals, "out", "part") if alike(m.name, name)]
    if not name or not outs:
        return
    half = account.reading.procedures[_refit(job)]
    kept = _is_put_back(account, job, name)
    yield _Place(
        kept,
        _stands_out(
            "part_not_back", half.line,
            f'No step of this half puts "{name}" back, as the other halves do with theirs.',
            f"Add the step that refits the {name}.", outs[0].line,
        ),
    )  # fmt: skip


def _other_parts_go_back(account: Account, _: Chain, job: Job) -> Iterator[_Place]:
    """As for the part of a job, for what comes off on the way to it: a bracket, a shield."""
    own = account.names.of(job.part)
    outs = account.of(job.removals, "out", "part")
    half = account.reading.procedures[_refit(job)]
    told: set[str] = set()
    for out in outs:
        name = out.name
        away = out.action.klass in ("remove", "lift") and not out.action.optional
        if not away or name in told or name in VAGUE_NAMES or alike(name, own):
            continue
        told.add(name)
        yield _Place(
            _is_put_back(account, job, name),
            _stands_out(
                "part_not_back", out.line,
                f"The {out.shown} comes off here, and no step of the other half puts it back.",
                f"Add the step that refits the {out.shown}.", half.line,
            ),
        )  # fmt: skip


def _state_is_ended(account: Account, _: Chain, job: Job) -> Iterator[_Place]:
    """What is disconnected before the work is connected after it."""
    half = account.reading.procedures[_refit(job)]
    words = account.back_words(job)
    backs = account.of(job.refits, "back", "cable")
    for index in job.removals:
        for item in account.reading.procedures[index].prerequisites:
            found = _DISCONNECTED.match(item.text) if item.kind == "state" else None
            if found is None:
                continue
            name = account.names.of(found["thing"])
            yield _Place(
                any(alike(m.name, name) for m in backs) or _names(words, name),
                _stands_out(
                    "stays_open", half.line,
                    f'"{name}" is disconnected before (line {item.line}), and this half never connects it; the '
                    "others do.",
                    f"Add the step that connects the {name}.", item.line,
                ),
            )  # fmt: skip


def _power_is_off_first(account: Account, chain: Chain, job: Job) -> Iterator[_Place]:
    """The battery is out of power before the work, where the text asks for it nearly everywhere."""
    procedures = account.reading.procedures
    stores = {m.procedure for m in account.movements if m.direction == "out" and is_store(m)}
    before_store = {other for index in stores for other in chain.closure[index]}
    for index in job.removals:
        outs = [m for m in account.movements if m.procedure == index and m.direction == "out"]
        if index in stores or index in before_store or not any(map(_is_electric, outs)):
            continue
        yield _Place(
            is_dead(account, chain, index),
            _stands_out(
                "not_isolated", outs[0].line,
                f'"{procedures[index].part}" is opened here, and nothing before it takes the power of the battery '
                "away; the others ask for that.",
                "Ask for the battery to be disconnected first.", procedures[index].line,
            ),
        )  # fmt: skip


def _is_electric(movement: Movement) -> bool:
    """A cable, or something on a board; a magnet or a lid carries nothing."""
    named = (movement.name, *movement.joined)
    return movement.sort == "cable" or any(
        name.split()[-1] in _ELECTRONICS for name in named if name
    )


def _back_came_off(account: Account, chain: Chain, job: Job) -> Iterator[_Place]:
    """What is put back came off: by a step of the job, or by what is asked for before it."""
    off = {m.name for m in account.of(job.removals, "out", "part")} | {account.names.of(job.part)}
    off |= {name for name, _ in _stated(account, job)}
    for index in job.removals:
        for other in chain.closure[index]:
            off.add(account.names.of(account.reading.procedures[other].part))
            off |= {m.name for m in account.of([other], "out", "part")}
    told: set[str] = set()
    words = _AS_A_HOST.sub(
        "",
        "\n".join(
            account.raw(account.reading.procedures[index].line, account.end_of(index))
            for index in job.removals
        ),
    )
    for back in account.of([_refit(job)], "back", "part"):
        vague = back.name in VAGUE_NAMES
        if (
            vague
            or back.name in told
            or back.action.klass not in ("replace", "insert")
            or back.action.new
        ):
            continue
        told.add(back.name)
        yield _Place(
            _names(words, back.name) or any(related(known, back.name) for known in off if known),
            _stands_out(
                "part_not_out", back.line,
                f'"{back.name}" goes back here, but neither a step nor what is asked for before takes it off.',
                f'Name "{back.name}" among what is taken off before, or add the step.',
                account.reading.procedures[job.removals[0]].line,
            ),
        )  # fmt: skip


def _stands_out(code: str, line: int, text: str, remedy: str, also: int) -> Finding:
    return Finding(code, "warning", line, text, remedy, also=() if also == line else (also,))
