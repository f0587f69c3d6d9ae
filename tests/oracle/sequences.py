"""The optimum by trying literally every order of openings and closings: the judge of the brute force.

Only for machines of up to about five joints. Shares with the brute force the rule of opening but
neither its states nor its sums: it walks whole sequences and adds up their cost at the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from tests.oracle.rules import (
    Question,
    Way,
    acts_total_ms,
    closable_by,
    objective_value,
    openable_by,
)

Moves = tuple[tuple[str, Way], ...]


def best_value(question: Question) -> tuple[int, list[str]] | None:
    """Best objective and the turning set that ties prefer, None when nothing is possible."""
    wanted = question.required | question.start
    best: tuple[int, int, list[str]] | None = None
    for way_in in _openings(question, question.start):
        turning = question.start | {joint for joint, _ in way_in}
        if not wanted <= turning:
            continue
        for way_out in _closings(question, turning):
            total = _cost(question, way_in, way_out) + acts_total_ms(question, turning)
            found = (objective_value(question, turning, total), len(turning), sorted(turning))
            if best is None or found < best:
                best = found
    return None if best is None else (best[0], best[2])


def _openings(question: Question, opened: frozenset[str]) -> Iterator[Moves]:
    yield ()
    for joint in sorted(set(question.bonds) - opened - question.forbidden):
        for way in openable_by(question, joint, opened):
            for rest in _openings(question, opened | {joint}):
                yield ((joint, way), *rest)


def _closings(question: Question, opened: frozenset[str]) -> Iterator[Moves]:
    if not opened:
        yield ()
    for joint in sorted(opened):
        for way in closable_by(question, joint, opened):
            for rest in _closings(question, opened - {joint}):
                yield ((joint, way), *rest)


def _cost(question: Question, way_in: Moves, way_out: Moves) -> int:
    """Sides as one list over both limbs, tools as one list with an empty hand at the turning point."""
    sides = [question.start_side, *(w.side for _, w in way_in), *(w.side for _, w in way_out)]
    sides.append(question.first_side)
    turns = sum(1 for here, there in pairwise(sides) if here != there)
    tools = [None, *(w.tool for _, w in way_in), None, *(w.close_tool for _, w in way_out)]
    swaps = sum(
        question.swap_ms[there]
        for here, there in pairwise(tools)
        if there is not None and there != here
    )
    work = sum(w.open_ms for _, w in way_in) + sum(w.close_ms for _, w in way_out)
    return turns * question.turn_ms + swaps + work
