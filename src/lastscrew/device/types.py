"""The types that a value in a device file can have, as data.

The table of keys (``keys``) is built from these; the validator (``values``), the JSON Schema
(``schema``) and the reference page (``reference``) each read the same table.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, TypeAlias

from lastscrew.device.diagnosis import LIKELIHOOD_WORDS
from lastscrew.saying import joined, say

IDENTIFIER: Final = "[a-z][a-z0-9_]*"
"""What an id looks like. Ids that begin with ``x_`` are extensions and not read."""
MAX_IDENTIFIER: Final = 80
MAX_NAME: Final = 200
MAX_TEXT: Final = 10_000
MAX_SECONDS: Final = 86_400
UNKNOWN_WORD: Final = "unknown"
HAND_WORD: Final = "hand"


@dataclass(frozen=True, slots=True)
class Text:
    """Text. ``line``: one line, a name; ``filled``: not empty; ``numbers``: a bare number is taken as written."""

    line: bool = False
    filled: bool = False
    numbers: bool = False

    @property
    def says(self) -> str:
        """What it is, in words."""
        return say("a line of text") if self.line else say("text")

    @property
    def longest(self) -> int:
        """Most characters."""
        return MAX_NAME if self.line else MAX_TEXT


@dataclass(frozen=True, slots=True)
class Identifier:
    """A new id: small letters, digits and ``_``, beginning with a letter."""

    says: str = say("an id (small letters, digits and _, beginning with a letter)")


@dataclass(frozen=True, slots=True)
class Flag:
    """``true`` or ``false``; ``only`` narrows it to one of the two."""

    only: bool | None = None

    @property
    def says(self) -> str:
        """What it is, in words."""
        return say("true or false") if self.only is None else str(self.only).lower()


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:
        """What it is, in words."""
        names = ", ".join(self.words[:-1])
        return (
            say("{names} or {last}", names=names, last=self.words[-1]) if names else self.words[-1]
        )


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number within limits."""

    low: int
    high: int

    @property
    def says(self) -> str:
        """What it is, in words."""
        return say("a whole number from {low} to {high}", low=self.low, high=self.high)


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number within limits; ``above``: the lower limit itself is not allowed."""

    low: float
    high: float
    above: bool = False

    @property
    def says(self) -> str:
        """What it is, in words."""
        if self.above:
            return say(
                "a number above {low}, up to {high}", low=f"{self.low:g}", high=f"{self.high:,.0f}"
            )
        return say(
            "a number from {low} to {high}", low=f"{self.low:,.0f}", high=f"{self.high:,.0f}"
        )


@dataclass(frozen=True, slots=True)
class Seconds:
    """A duration; read into whole milliseconds, exactly."""

    says: str = say("seconds, 0 to {most}, at most three decimals", most=f"{MAX_SECONDS:,}")


@dataclass(frozen=True, slots=True)
class Ref:
    """The id of an entry of one of the ``sections``; ``hand`` allows the word for no tool."""

    sections: tuple[str, ...]
    hand: bool = False

    @property
    def noun(self) -> str:
        """What is named, in the singular."""
        first, *others = (NOUNS[section] for section in self.sections)
        for other in others:
            first = say("{names} or {last}", names=first, last=other)
        return first

    @property
    def says(self) -> str:
        """What it is, in words."""
        words = say("the id of a {what}", what=self.noun)
        if self.noun[0] in "aeiou":
            words = say("the id of an {what}", what=self.noun)
        return say("{what}, or hand for none", what=words) if self.hand else words


@dataclass(frozen=True, slots=True)
class Likely:
    """A probability: a number, or one of the words for it. ``high``: the greatest number; ``above``: not 0."""

    high: float = 1
    above: bool = False

    @property
    def says(self) -> str:
        """What it is, in words."""
        number, words = Number(0, self.high, above=self.above), Choice(tuple(LIKELIHOOD_WORDS))
        return say("{what}, or {other}", what=number.says, other=words.says)


@dataclass(frozen=True, slots=True)
class Pair:
    """Two numbers in brackets, in millimetres."""

    low: float
    high: float
    above: bool = False
    says: str = say("two numbers in brackets, [x, y]")


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list; ``or_one`` allows a single value without brackets."""

    item: Type
    at_least: int = 0
    distinct: bool = True
    or_one: bool = False

    @property
    def says(self) -> str:
        """What it is, in words."""
        words = say("a list: [{what}, …]", what=self.item.says)
        if self.at_least > 1:
            words = say("a list of {n} or more: [{what}, …]", n=self.at_least, what=self.item.says)
        if self.or_one:
            return say("{what}, or {other}", what=self.item.says, other=words)
        return words


@dataclass(frozen=True, slots=True)
class MapOf:
    """A mapping from names or references to values of one type."""

    key: Text | Ref
    value: Type

    @property
    def says(self) -> str:
        """What it is, in words."""
        return joined("", ("{", self.key.says, ": ", self.value.says, "}"))


@dataclass(frozen=True, slots=True)
class Record:
    """A mapping with known keys. ``entry``: it may carry ``sources``."""

    keys: tuple[Key, ...]
    entry: bool = False
    by_name: dict[str, Key] = field(default_factory=dict, init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        """Index the keys by name."""
        self.by_name.update({key.name: key for key in self.keys})

    @property
    def says(self) -> str:
        """What it is, in words."""
        return "{" + ", ".join(key.name for key in self.keys) + "}"


@dataclass(frozen=True, slots=True)
class Entries:
    """A section: a mapping from new ids to entries."""

    record: Record
    noun: str

    @property
    def says(self) -> str:
        """What it is, in words."""
        return say("a mapping from {what} ids to entries", what=self.noun)


@dataclass(frozen=True, slots=True)
class Either:
    """One of several types; the first that fits is taken."""

    options: tuple[Type, ...]

    @property
    def says(self) -> str:
        """What it is, in words."""
        words, *others = (option.says for option in self.options)
        for other in others:
            words = say("{what}, or {other}", what=words, other=other)
        return words


@dataclass(frozen=True, slots=True)
class Raw:
    """Kept as it is and read by another package."""

    says: str = say("read elsewhere")


Type: TypeAlias = (
    Text
    | Identifier
    | Flag
    | Choice
    | Whole
    | Number
    | Seconds
    | Ref
    | Likely
    | Pair
    | ListOf
    | MapOf
    | Record
    | Entries
    | Either
    | Raw
)


@dataclass(frozen=True, slots=True)
class Key:
    """One key of an entry.

    Attributes:
        name: As written in the file.
        type: What its value may be.
        help: One sentence.
        required: Whether it must be there.
        default: What holds where it is left out, in words (empty: nothing).
        unknown: Whether the word ``unknown`` is allowed.
    """

    name: str
    type: Type
    help: str
    required: bool = False
    default: str = ""
    unknown: bool = False


NOUNS: dict[str, str] = {
    "sides": say("side", context="entry"),
    "tools": say("tool", context="entry"),
    "fasteners": say("fastener", context="entry"),
    "supplies": say("supply", context="entry"),
    "hazards": say("hazard", context="entry"),
    "functions": say("function", context="entry"),
    "options": say("option", context="entry"),
    "parts": say("part", context="entry"),
    "spares": say("spare", context="entry"),
    "joints": say("joint", context="entry"),
    "acts": say("act", context="entry"),
    "symptoms": say("symptom", context="entry"),
    "checks": say("check", context="entry"),
    "faults": say("fault", context="entry"),
}
"""Singular of every section that something can refer to."""
