"""Statements of a text by their lines, so that those near a line are found without going through all."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

from lastscrew.reading.model import Fact

FAR = 200
"""Lines beyond which a statement is taken to speak of something else, unless it stands in a table."""


class FactIndex:
    """Facts in the order of their lines."""

    def __init__(self, facts: Iterable[Fact]) -> None:
        """Sort the facts; equal lines keep their order."""
        self.facts = sorted(facts, key=lambda fact: fact.spot or fact.line)
        self._lines = [fact.spot or fact.line for fact in self.facts]
        self._ids = {id(fact) for fact in self.facts}

    def __contains__(self, fact: Fact) -> bool:
        """True where this very statement is in the index."""
        return id(fact) in self._ids

    def between(self, low: int, high: int) -> list[Fact]:
        """Facts of the lines ``low`` to ``high``, both included."""
        return self.facts[bisect_left(self._lines, low) : bisect_right(self._lines, high)]

    def near(self, line: int, distance: int = FAR) -> list[Fact]:
        """Facts at most ``distance`` lines away."""
        return self.between(line - distance, line + distance)
