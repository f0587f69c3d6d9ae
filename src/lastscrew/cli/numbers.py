"""Numbers on the command line."""

from __future__ import annotations

import math
from typing import Any

import click


class FiniteRange(click.FloatRange):
    """A finite number within limits; a range check alone lets ``nan`` and ``inf`` through."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401 (click's signature)
        """The number, or a usage error."""
        number = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail("must be a finite number", param, ctx)
        return number


def several(number: int, noun: str) -> str:
    """``1 page``, ``2 pages``: a number with a noun that takes an s."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
