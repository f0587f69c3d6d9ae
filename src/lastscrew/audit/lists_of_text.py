"""Do the steps agree with the list of screws that the text itself gives?"""

from __future__ import annotations

import re
from collections.abc import Iterator

from lastscrew.audit.account import Account, Movement, alike
from lastscrew.audit.findings import Finding
from lastscrew.reading.model import Fact


def list_findings(account: Account) -> Iterator[Finding]:
    """Numbers and sizes that differ between a list of screws and the steps that take these screws out.

    A row is compared where its mark stands in the steps, else where one part alone is named in it and the size fits.
    """
    rows = [fact for fact in account.reading.facts if fact.kind == "table" and fact.things]
    outs = [m for m in account.movements if m.direction == "out" and m.sort == "fastener"]
    for row in rows:
        listed = row.things[0]
        marks = [other.things[0].label for other in rows]
        if listed.label and marks.count(listed.label) == 1:
            steps = [m for m in outs if m.action.things[-1].label == listed.label]
        else:
            steps = [m for m in outs if _of_row(account, m, row)]
        if steps:
            yield from _number(row, steps)
            yield from _size(row, steps)


def _of_row(account: Account, movement: Movement, row: Fact) -> bool:
    owner = account.names.of(row.joins[0]) if row.joins else ""
    same_size = not movement.size or _flat(movement.size) == _flat(row.things[0].size)
    return (
        bool(owner)
        and not movement.action.things[-1].label
        and same_size
        and alike(movement.holder, owner)
    )


def _number(row: Fact, steps: list[Movement]) -> Iterator[Finding]:
    count = row.things[0].count
    told = {(m.holder, m.joined): m for m in steps if isinstance(m.count, int)}
    numbers = [m.count for m in told.values() if isinstance(m.count, int)]
    if (
        not isinstance(count, int)
        or not numbers
        or len(told) != len({(m.holder, m.joined) for m in steps})
    ):
        return
    if count in (sum(numbers), *numbers) or any(m.each for m in steps):
        return
    first = next(iter(told.values()))
    yield Finding(
        "count_differs",
        "error",
        row.line,
        f"The list says {count}, but the steps take {sum(numbers)} out (line {first.line}).",
        "Count them on the machine and give the list and the steps the same number.",
        also=tuple(sorted({m.line for m in steps} - {row.line})),
    )


def _size(row: Fact, steps: list[Movement]) -> Iterator[Finding]:
    listed = row.things[0].size
    other = next((m for m in steps if m.size and listed and not _agree(m.size, listed)), None)
    if other is not None:
        yield Finding(
            "size_differs",
            "warning",
            row.line,
            f"The list says {listed}, but these screws come out as {other.size} (line {other.line}).",
            "Look which size it is, and give the list and the steps the same.",
            also=(other.line,) if other.line != row.line else (),
        )


def _agree(one: str, other: str) -> bool:
    """True for ``M2`` and ``M2x4`` too: one only says less."""
    a, b = _flat(one), _flat(other)
    return a.startswith(b) or b.startswith(a)


def _flat(size: str) -> str:
    return re.sub(r"\s|mm", "", size.lower()).replace("×", "x")
