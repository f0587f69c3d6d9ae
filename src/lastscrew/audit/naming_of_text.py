"""One thing, one name: names that mean the same, and names that mean two things."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from lastscrew.audit.account import Account, Movement, cable_words, does
from lastscrew.audit.findings import Finding
from lastscrew.reading.model import Reading
from lastscrew.reading.naming import names_in, plain

_TELLING: Final = ("the same word, spelt otherwise", "two words for one thing")
"""Reasons of a merge that are worth telling; a short form of a name is plain English."""

_COMMON: Final = frozenset(
    ("cover", "lid", "door", "plate", "case", "board", "card", "drive", "screen", "display")
)
"""Words that stand for whatever was spoken of last."""

_SAME_BREATH: Final = 4
"""Lines: a step that says what is done, and the sub-steps that say how, are one removal."""

_APART: Final = re.compile(
    r"\b(?:other|second|third|remaining|next|left|right|upper|lower|front|rear|inner|outer|again|another|also|opposite|each|both|repeat|if|or)\b",
    re.IGNORECASE,
)


def name_findings(account: Account) -> Iterator[Finding]:
    """Findings about the names of one text."""
    yield from _two_names(account)
    yield from _twice_in_one_procedure(account)
    yield from _two_procedures(account)


def _two_names(account: Account) -> Iterator[Finding]:
    lines = _first_lines(account.reading)
    for one, other, why in account.names.merges:
        if why not in _TELLING or one not in lines or other not in lines:
            continue
        if _only_plainer(one, other) or not (cable_words(one) and cable_words(other)):
            continue
        yield Finding(
            "two_names",
            "note",
            lines[one],
            f'"{one}" here and "{other}" (line {lines[other]}) look like one thing under two names ({why}).',
            "Use one name throughout. If they are two things, give each a name that tells them apart.",
            also=() if lines[other] == lines[one] else (lines[other],),
        )


def _only_plainer(one: str, other: str) -> bool:
    """Hyphens, spaces and a word more are a matter of taste."""
    if len(one.split()) == len(other.split()) == 1 and {one, other} <= _COMMON:
        return True
    if set(one.split()) <= set(other.split()) or set(other.split()) <= set(one.split()):
        return True
    return re.sub(r"[\s-]", "", one) == re.sub(r"[\s-]", "", other)


def _first_lines(reading: Reading) -> dict[str, int]:
    lines: dict[str, int] = {}
    for procedure in reading.procedures:
        if plain(procedure.part):
            lines.setdefault(plain(procedure.part), procedure.line)
        for item in procedure.prerequisites:
            if item.kind == "part" and not item.inferred:
                lines.setdefault(plain(item.text), item.line)
        for step in procedure.steps:
            for action in step.actions:
                for name in names_in(action):
                    lines.setdefault(plain(name), action.line or step.line)
    return lines


def _twice_in_one_procedure(account: Account) -> Iterator[Finding]:
    """The same name is taken off twice, and nothing says that it is the other one."""
    for index, procedure in enumerate(account.reading.procedures):
        seen: dict[tuple[str, str], Movement] = {}
        for movement in account.movements:
            if (
                movement.procedure != index
                or movement.direction != "out"
                or procedure.kind == "refit"
                or movement.action.klass not in ("remove", "disconnect")
                or movement.sort not in ("part", "cable")
                or movement.action.optional
                or movement.action.condition
                or _plural(movement)
            ):
                continue
            first = seen.setdefault((movement.sort, movement.name), movement)
            if abs(first.line - movement.line) <= _SAME_BREATH or _APART.search(movement.step.text):
                continue
            if _APART.search(first.step.text) or not _differ(first, movement):
                continue
            yield Finding(
                "one_name",
                "warning",
                movement.line,
                f"{does(movement, 'is')} taken off here and in line {first.line} already. Either the step "
                "stands twice, or two things have one name.",
                "Give each a name of its own, or take one of the steps out.",
                also=(first.line,),
            )


def _plural(movement: Movement) -> bool:
    return any(thing.plural or thing.count not in (None, 1) for thing in movement.action.things)


def _differ(one: Movement, other: Movement) -> bool:
    """A second mention that says what is known already ("remove the cover completely") is no second thing."""
    if one.sort == "cable":
        if not cable_words(one.name):
            return False  # "the cable" is whatever was spoken of last
        return set(one.joined) != set(other.joined) and len(one.joined) > 1 < len(other.joined)
    return (
        re.search(r"complet|whole|entire", other.step.text.lower()) is None
        and one.action.klass == other.action.klass
    )


def _two_procedures(account: Account) -> Iterator[Finding]:
    """Two removals under one heading."""
    seen: dict[str, int] = {}
    procedures = account.reading.procedures
    for index, procedure in enumerate(procedures):
        key = plain(procedure.part)
        if procedure.kind == "refit" or not key or not _takes_off(account, index):
            continue
        first = seen.setdefault(key, index)
        if (
            first == index
            or procedure.heading.strip().lower() != procedures[first].heading.strip().lower()
        ):
            continue
        yield Finding(
            "one_name",
            "note",
            procedure.line,
            f'A second procedure for "{procedure.part}" (the first is in line {procedures[first].line}).',
            "Say in the heading what tells them apart, or make one of the two.",
            also=(procedures[first].line,),
        )


def _takes_off(account: Account, index: int) -> bool:
    return any(m.procedure == index and m.direction == "out" for m in account.movements)
