"""From one set of open joints to another by brute force over all orders, by the rules of ``tests.oracle.rules``.

A state is (open set, side that faces up, tool in hand); a shortest way is found among all. Each joint that has to be
opened or closed is touched once, no other one is. Between actions the machine lies on its first side with no tool in
hand. While live joints are open and something that isolates is closed, nothing but what isolates is touched.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import chain, combinations, count

from lastscrew.device.model import Device
from lastscrew.plan.model import Request
from tests.oracle.rules import Question, ask, closable_by, openable_by, reachable, swap_ms, turn_ms

Open = frozenset[str]


def question_of(device: Device) -> Question:
    """The rules of a device, with everything fitted."""
    return ask(device, Request())


def is_powered(question: Question, opened: Open) -> bool:
    """Whether a set can't be open by itself: what isolates was closed over it."""
    return not reachable(question, opened, frozenset())


def walk_ms(question: Question, start: Open, end: Open, again: Open = frozenset()) -> int | None:
    """Least time from one open set to another; None where there is no way.

    Args:
        question: The rules.
        start: The set that is open.
        end: The set that is to be open.
        again: Joints, closed in both, that are opened and closed on the way.
    """
    if start == end and not again:
        return 0
    todo_open, todo_close = (end - start) | again, (start - end) | again
    if is_powered(question, start):
        todo_open |= question.isolators - start
        todo_close |= question.isolators - start - end
    if is_powered(question, end):
        todo_open |= question.isolators - end - start
        todo_close |= question.isolators - end
    tie = count()
    first: tuple[Open, Open, Open, str, str | None] = (
        start, todo_open, todo_close, question.first_side, None,
    )  # fmt: skip
    heap: list[tuple[int, int, tuple[Open, Open, Open, str, str | None]]] = [(0, next(tie), first)]
    best = {first: 0}
    ends: int | None = None
    while heap:
        cost, _, state = heapq.heappop(heap)
        if ends is not None and cost >= ends:
            return ends
        _, opening, closing, side, _ = state
        if cost > best[state]:
            continue
        if not opening and not closing:
            total = cost + turn_ms(question, side, question.first_side)
            ends = total if ends is None else min(ends, total)
            continue
        for step_ms, after in _steps(question, state):
            if cost + step_ms < best.get(after, cost + step_ms + 1):
                best[after] = cost + step_ms
                heapq.heappush(heap, (cost + step_ms, next(tie), after))
    return ends


def _steps(
    question: Question, state: tuple[Open, Open, Open, str, str | None]
) -> Iterator[tuple[int, tuple[Open, Open, Open, str, str | None]]]:
    opened, opening, closing, side, tool = state
    powered = is_powered(question, opened)
    for joint in opening:
        if joint in opened or (powered and joint not in question.isolators):
            continue
        for way in openable_by(question, joint, opened):
            ms = way.open_ms + turn_ms(question, side, way.side) + swap_ms(question, tool, way.tool)
            yield ms, (opened | {joint}, opening - {joint}, closing, way.side, way.tool)
    for joint in closing - opening:
        if joint not in opened or (powered and joint not in question.isolators):
            continue
        for way in closable_by(question, joint, opened):
            ms = way.close_ms + turn_ms(question, side, way.side)
            ms += swap_ms(question, tool, way.close_tool)
            yield ms, (opened - {joint}, opening, closing - {joint}, way.side, way.close_tool)


def sets_that_can_be_open(question: Question) -> list[Open]:
    """All of them."""
    names = sorted(question.bonds)
    every = chain.from_iterable(combinations(names, size) for size in range(len(names) + 1))
    return [s for s in map(frozenset, every) if reachable(question, s, frozenset())]
