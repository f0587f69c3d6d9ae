"""The least number of steps by plain search over sets of open joints and the tool in hand.

Knows nothing of the product's search: rules from the tests' own restatement of them, pieces by walking over
closed joints, Dijkstra over everything that can be reached. For small machines only.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection
from itertools import count

from lastscrew.device.model import Device
from tests.oracle.rules import Question, openable_by

FRESH = "(a step has just ended)"


def pieces(question: Question, parts: Collection[str], opened: frozenset[str]) -> int:
    """Into how many pieces the parts have fallen when ``opened`` are open."""
    left, number = set(parts), 0
    while left:
        piece = {min(left)}
        grown = True
        while grown:
            grown = False
            for bond in question.bonds.values():
                if bond.id not in opened and bond.parts & piece and not bond.parts <= piece:
                    piece |= bond.parts
                    grown = True
        left -= piece
        number += 1
    return number


def least_steps(device: Device, question: Question, goal: frozenset[str]) -> int | None:
    """Steps to have all of ``goal`` open, None when that can't be.

    A step begins with the first opening, after one that took something off, and with another tool
    than the opening before (no tool is a tool of its own).
    """
    parts = tuple(device.parts)
    tie = count()
    heap: list[tuple[int, int, frozenset[str], str | None]] = [(0, next(tie), frozenset(), FRESH)]
    done: set[tuple[frozenset[str], str | None]] = set()
    while heap:
        steps, _, opened, in_hand = heapq.heappop(heap)
        if (opened, in_hand) in done:
            continue
        done.add((opened, in_hand))
        if goal <= opened:
            return steps
        before = pieces(question, parts, opened)
        for joint in sorted(set(question.bonds) - opened - question.forbidden):
            after = opened | {joint}
            for tool in {way.tool for way in openable_by(question, joint, opened)}:
                new = tool if pieces(question, parts, after) == before else FRESH
                step = steps + (tool != in_hand)
                heapq.heappush(heap, (step, next(tie), after, new))
    return None
