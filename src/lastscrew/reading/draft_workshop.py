"""What all functions of a draft share: the joints under way, the parts, the answers."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from lastscrew.device.names import to_identifier
from lastscrew.problems import Problem
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Caution, Reading
from lastscrew.reading.naming import Names

PIECE = word_group("draft_joints_piece")
"""Categories of things that are parts."""

_TAKES_OFF = ("remove", "lift", "slide", "peel")


@dataclass
class JointDraft:
    """One joint under way. ``why`` holds a comment for each key that is set."""

    id: str
    kind: str
    joins: list[str]
    line: int
    why: dict[str, str] = field(default_factory=dict)
    under: list[str] = field(default_factory=list)
    after: list[str] = field(default_factory=list)
    count: int | str | None = None
    size: str = ""
    drive: str = ""
    head: str = ""
    colour: str = ""
    captive: bool = False
    loosen_only: bool = False
    order: str = ""
    tool: str = ""
    isolates: bool = False
    single_use: bool = False
    optional: str = ""
    note_open: list[str] = field(default_factory=list)
    note_close: list[str] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    torque_ncm: float | None = None
    renew: list[str] = field(default_factory=list)
    procedure: int = -1
    said: str = ""
    """Plain name of the cable, as the text calls it."""
    label: str = ""
    """Mark of the screws in a list, such as ``(a)``."""
    also: dict[int, frozenset[str]] = field(default_factory=dict)
    """Other procedures that open it, with what is off by then."""


@dataclass
class Workshop:
    """What all functions of a draft share."""

    reading: Reading
    lexicon: Lexicon
    names: Names
    answers: Mapping[str, object]
    answered: set[str] = field(default_factory=set)
    parts: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Id of a part to (name, comment)."""
    fixed: str = ""
    fixed_why: str = ""
    states: list[tuple[str, int]] = field(default_factory=list)
    cords: dict[str, tuple[str, int]] = field(default_factory=dict)
    """States that take a cord from the wall: the order, with the name of the cord and its line."""
    outer: set[str] = field(default_factory=set)
    """States that take the outer end of a lead away, not the inner one that the text opens elsewhere."""
    unmet: dict[tuple[str, int], tuple[str, ...]] = field(default_factory=dict)
    """What is to be off before and the text does not take off, with its line: ids of the joints that wait for it."""
    _optional: dict[str, bool] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    """Answers that fit no question of their kind."""

    def answer(self, question: str) -> object | None:
        """The answer to a question, noted as used."""
        if question in self.answers:
            self.answered.add(question)
            return self.answers[question]
        return None

    def part(self, name: str, comment: str) -> str:
        """Id of the part with this name, made where there is none."""
        canonical = self.names.of(name)
        identity = to_identifier(canonical) or "part"
        if identity not in self.parts:
            spelt = self.names.spelt(name) or canonical or identity
            self.parts[identity] = (spelt[:1].upper() + spelt[1:], comment)
        return identity

    def known(self, name: str) -> list[str]:
        """Ids of the parts that a name stands for: one, or several of a kind ("the speakers")."""
        canonical = self.names.of(name)
        identity = to_identifier(canonical) or ""
        if identity in self.parts:
            return [identity]
        return (
            [part for part in self.parts if identity and part.endswith(f"_{identity}")]
            if canonical not in self.pieces
            else []
        )

    def owner(self, name: str) -> list[str]:
        """Names of the parts that a cable belongs to by its name: "DC-in" is the DC-in port where that has a title.

        Empty where the text knows no such part.
        """
        canonical = self.names.of(name)
        if not canonical:
            return []
        kinds = [piece for piece in sorted(self.pieces) if piece.endswith(f" {canonical}")]
        if len(kinds) > 1 and canonical in self.titled - self.moved:
            return kinds
        if canonical in self.pieces:
            return [canonical]
        longer = [piece for piece in sorted(self.pieces) if piece.startswith(f"{canonical} ")]
        titled = [piece for piece in longer if piece not in self.moved or piece in self.titled]
        best = titled if len(titled) == 1 else longer
        return best if len(best) == 1 else []

    def is_optional(self, name: str) -> bool:
        """True where the text says of a part that not every machine has it."""
        if not name or name.lower() not in self._around_options:
            return False
        if name not in self._optional:
            self._optional[name] = self._told_optional(name)
        return self._optional[name]

    def _told_optional(self, name: str) -> bool:
        if_fitted, said = r"if (?:installed|fitted|present|equipped)", re.escape(name.lower())
        behind = rf"\b{said}s?,?\s*\(?\s*(?:{if_fitted}|optional)\b"
        before = rf"\b{if_fitted},\s+(?:\w+\s+){{1,2}}(?:the\s+)?{said}\b"
        return re.search(f"{behind}|{before}", self._around_options) is not None

    @cached_property
    def _around_options(self) -> str:
        """What stands beside each "if installed": a look at the whole text for every name is dear."""
        said = re.finditer(r"\bif (?:installed|fitted|present|equipped)|\boptional\b", self._text)
        near = 90  # more than the name of a part and the words between
        return "\n\n".join(self._text[max(0, m.start() - near) : m.end() + near] for m in said)

    @cached_property
    def speaks_of_a_battery(self) -> bool:
        """True where the text names a store of power, wherever it does; the cell of a clock is none."""
        text = re.sub(
            r"\b(?:coin|button|cmos|rtc|backup|clock)[- ](?:cell[- ])?batter\w+", "", self._text
        )
        return re.search(r"\b(?:batter(?:y|ies)|accumulator|power pack)\b", text) is not None

    @cached_property
    def _text(self) -> str:
        return self.reading.source.text().lower()

    @cached_property
    def titled(self) -> frozenset[str]:
        """Parts whose names head removals."""
        return frozenset(
            self.names.of(procedure.part)
            for procedure in self.reading.procedures
            if procedure.kind != "refit" and procedure.part
        )

    @cached_property
    def moved(self) -> frozenset[str]:
        """Parts that the text takes off."""
        return frozenset(
            self.names.of(thing.name)
            for procedure in self.reading.procedures
            if procedure.kind != "refit"
            for action in procedure.actions()
            if action.klass in _TAKES_OFF and not action.fastener
            for thing in action.things
            if thing.category in PIECE
        )

    @cached_property
    def pieces(self) -> frozenset[str]:
        """All names of parts that the text speaks of as parts."""
        return self.titled | self.moved


def free_id(joints: list[JointDraft], base: str) -> str:
    """The id with a number behind it where it is taken."""
    base = base[:54].rstrip("_")
    taken = {joint.id for joint in joints}
    if base not in taken:
        return base
    number = 2
    while f"{base}_{number}" in taken:
        number += 1
    return f"{base}_{number}"
