"""What a procedure says must be done before it: does it exist, does it run in a circle, is anything missing?"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from lastscrew.audit.account import Account, related
from lastscrew.audit.findings import Finding, Severity
from lastscrew.reading.model import Prerequisite, Procedure

_ELSEWHERE: Final = re.compile(
    r"\b(?:on page|page \d|p\.|section|chapter|manual|document|guide|website|video|(?:card|sheet|drawing) [\d-]+)",
    re.IGNORECASE,
)
_HERE: Final = re.compile(
    r"\b(?:above|below|earlier|previous(?:ly)?|as (?:shown|described)|in this|follow the steps)\b",
    re.IGNORECASE,
)
_NOT_A_PART: Final = re.compile(
    r"\b(?:power|mains|adapters?|cables?|cords?|peripherals?|usb(?: \w+)?|cards?|discs?|media|data|jewellery|watch|"
    r"computer|device|machine|filament|paper|cartridges?|dust|power (?:supply|plug)|charger)$|^rings?$",
    re.IGNORECASE,
)
"""Names that end in these are no part of the machine, or a state of it."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Which procedures of the text each procedure asks for, and everything that they ask for in turn.

    Attributes:
        direct: For every procedure those that its prerequisites name, with the prerequisite.
        closure: For every procedure all that are done before it, itself left out.
    """

    direct: Mapping[int, tuple[tuple[int, Prerequisite], ...]]
    closure: Mapping[int, frozenset[int]]


def chain_of(account: Account) -> Chain:
    """Resolve every prerequisite that names a part."""
    procedures = account.reading.procedures
    direct: dict[int, tuple[tuple[int, Prerequisite], ...]] = {}
    for index, procedure in enumerate(procedures):
        found: dict[int, Prerequisite] = {}
        for item in procedure.prerequisites:
            if item.kind == "part" and not item.inferred:
                for piece in pieces_of(item.text):
                    for other in resolve(account, piece, asking=index):
                        found.setdefault(other, item)
        for other, item in _by_steps(account, index):
            found.setdefault(other, item)
        direct[index] = tuple(sorted(found.items(), key=lambda pair: pair[0]))
    return Chain(direct, {index: _reached(direct, index) for index in direct})


def _by_steps(account: Account, index: int) -> Iterator[tuple[int, Prerequisite]]:
    """Steps that take off a part which has a procedure of its own ("Remove the lid (7.2)")."""
    procedures = account.reading.procedures
    own = account.names.of(procedures[index].part)
    for movement in account.of([index], "out", "part"):
        if movement.action.klass != "remove" or related(movement.name, own):
            continue
        for other, procedure in enumerate(procedures):
            if other != index and procedure.kind != "refit":
                if account.names.of(procedure.part) == movement.name:
                    yield other, Prerequisite("part", movement.shown, movement.line, "a step")


def pieces_of(text: str) -> list[str]:
    """Names in a prerequisite: ``cover / battery``, ``cover and battery``."""
    return [
        piece.strip()
        for piece in re.split(r"\s*/\s*|\s*,\s*|\s+and\s+(?:the\s+)?", text)
        if piece.strip()
    ]


def resolve(account: Account, name: str, asking: int) -> tuple[int, ...]:
    """Procedures that take a named part off: by their part, else by what their steps take off."""
    key = account.names.of(name)
    procedures = account.reading.procedures
    exact = [
        i
        for i, p in enumerate(procedures)
        if i != asking and p.kind != "refit" and account.names.of(p.part) == key
    ]
    if not exact:
        exact = [
            i
            for i, p in enumerate(procedures)
            if i != asking and p.kind != "refit" and related(account.names.of(p.part), key)
        ]
    if not exact:
        exact = [
            m.procedure
            for m in account.movements
            if m.procedure != asking
            and m.direction == "out"
            and procedures[m.procedure].kind != "refit"
            and (
                related(m.name, key)
                if m.sort in ("part", "cable")
                # The screws of a cover come out, whatever was made of the sentence that lifts it off.
                else m.sort == "fastener" and m.holder and related(m.holder, key)
            )
        ]
    return tuple(sorted(set(exact))[:1])


def _reached(
    direct: Mapping[int, tuple[tuple[int, Prerequisite], ...]], start: int
) -> frozenset[int]:
    seen: set[int] = set()
    todo = [other for other, _ in direct[start]]
    while todo:
        index = todo.pop()
        if index not in seen:
            seen.add(index)
            todo += [other for other, _ in direct.get(index, ())]
    return frozenset(seen - {start})


def prerequisite_findings(account: Account, chain: Chain) -> Iterator[Finding]:
    """Circles and dead ends."""
    yield from _circles(account, chain)
    for index, procedure in enumerate(account.reading.procedures):
        for item in procedure.prerequisites:
            if item.kind == "part" and not item.inferred:
                yield from _dead_end(account, index, procedure, item)


def _circles(account: Account, chain: Chain) -> Iterator[Finding]:
    told: set[tuple[int, int]] = set()
    for index in sorted(chain.direct):
        path = _way_back(chain, index)
        if path is None:
            continue
        edges = set(zip(path, [*path[1:], path[0]], strict=True))
        if edges & told:
            continue  # taking out the one prerequisite breaks this circle too
        told |= edges
        procedures = account.reading.procedures
        items = [
            _item(chain, one, other) for one, other in zip(path, [*path[1:], path[0]], strict=True)
        ]
        names = [f'"{procedures[i].part}"' for i in [*path, path[0]]]
        yield Finding(
            "circular_prerequisites",
            "error",
            items[0].line,
            f"Each must be done before the other: {' needs '.join(names)}. Nobody can begin.",
            "Take out the prerequisite that is not needed.",
            also=tuple(sorted({item.line for item in items[1:]} - {items[0].line})),
        )


def _item(chain: Chain, one: int, other: int) -> Prerequisite:
    return next(item for index, item in chain.direct[one] if index == other)


def _way_back(chain: Chain, start: int) -> list[int] | None:
    """The shortest circle through a procedure, None where there is none."""
    came: dict[int, int] = {}
    queue = [start]
    for index in queue:
        for other, item in chain.direct[index]:
            if item.inferred:
                continue
            if other == start:
                path = [index]
                while path[-1] != start:
                    path.append(came[path[-1]])
                return path[::-1]
            if other not in came:
                came[other] = index
                queue.append(other)
    return None


def _dead_end(
    account: Account, index: int, procedure: Procedure, item: Prerequisite
) -> Iterator[Finding]:
    removals = [
        p for i, p in enumerate(account.reading.procedures) if i != index and p.kind != "refit"
    ]
    for piece in pieces_of(item.text):
        if resolve(account, piece, asking=index) or _NOT_A_PART.search(piece.strip(" .")):
            continue
        if _done_here(account, index, piece, item.line):
            continue
        said = _line(account, item.line)
        grade: Severity = "note"
        if len(removals) >= 2 and not _ELSEWHERE.search(said):
            grade = "error" if _HERE.search(said) else "warning"
        known = {p.part.lower(): p.part for p in removals if p.part}
        near = get_close_matches(piece.lower(), sorted(known), n=1, cutoff=0.6)
        hint = f' Is "{known[near[0]]}" meant?' if near else ""
        about = f' before "{procedure.part}"' if procedure.part else ""
        yield Finding(
            "unknown_prerequisite",
            grade,
            item.line,
            f'"{piece}" is to be done{about}, but no procedure of this text says how.',
            f"Add that procedure, or name the one that is meant.{hint}",
        )


def _done_here(account: Account, index: int, piece: str, line: int) -> bool:
    """The text itself says how: a list of steps under the prerequisite, or earlier work of the same procedure."""
    key = account.names.of(piece)
    return any(
        m.procedure == index
        and m.direction == "out"
        and (related(m.name, key) or related(m.holder, key))
        and m.line <= line + 3
        for m in account.movements
    )


def _line(account: Account, number: int) -> str:
    lines = account.reading.source.lines
    return lines[number - 1].text if 1 <= number <= len(lines) else ""
