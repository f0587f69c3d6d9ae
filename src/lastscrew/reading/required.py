"""One thing that must be done before: a part that is off, or a state of the machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["part", "state"]


@dataclass(frozen=True, slots=True)
class Required:
    """One prerequisite; ``also_step``: the sentence orders the work here and now as well."""

    kind: Kind
    text: str
    also_step: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """What a stretch of a sentence asks for, and where it stands (characters); the rest may be work."""

    required: tuple[Required, ...]
    low: int
    high: int
