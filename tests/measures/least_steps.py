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
Move = tuple[frozenset[str], str | None, bool]
"""What is open after it, the tool, whether something came off."""


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


class PlainSearch:
    """Plain search in one machine; what can be opened in a state is remembered for the next goal.

    A step begins with the first opening, after one that took something off, and with another tool
    than the opening before (no tool is a tool of its own).
    """

    def __init__(self, device: Device, question: Question) -> None:
        self.parts = tuple(device.parts)
        self.question = question
        self._pieces: dict[frozenset[str], int] = {}
        self._moves: dict[frozenset[str], list[Move]] = {}

    def least_steps(self, goal: frozenset[str]) -> int | None:
        """Steps to have all of ``goal`` open, None when that can't be."""
        tie = count()
        heap: list[tuple[int, int, frozenset[str], str | None]] = []
        heapq.heappush(heap, (0, next(tie), frozenset(), FRESH))
        done: set[tuple[frozenset[str], str | None]] = set()
        while heap:
            steps, _, opened, in_hand = heapq.heappop(heap)
            if (opened, in_hand) in done:
                continue
            done.add((opened, in_hand))
            if goal <= opened:
                return steps
            for after, tool, comes_off in self._moves_from(opened):
                new = FRESH if comes_off else tool
                if (after, new) not in done:
                    heapq.heappush(heap, (steps + (tool != in_hand), next(tie), after, new))
        return None

    def _moves_from(self, opened: frozenset[str]) -> list[Move]:
        """Every next opening: what is open then, the tool, and whether something comes off."""
        found = self._moves.get(opened)
        if found is None:
            found = self._moves[opened] = []
            before = self._pieces_in(opened)
            for joint in sorted(set(self.question.bonds) - opened - self.question.forbidden):
                tools = {way.tool for way in openable_by(self.question, joint, opened)}
                if tools:
                    after = opened | {joint}
                    comes_off = self._pieces_in(after) != before
                    found += [(after, tool, comes_off) for tool in tools]
        return found

    def _pieces_in(self, opened: frozenset[str]) -> int:
        found = self._pieces.get(opened)
        if found is None:
            found = self._pieces[opened] = pieces(self.question, self.parts, opened)
        return found
