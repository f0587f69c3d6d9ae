"""The types that a value in a device file can have, as data.

The table of keys (``keys``) is built from these; the validator (``values``), the JSON Schema
(``schema``) and the reference page (``reference``) each read the same table.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, TypeAlias

from lastscrew.device.diagnosis import LIKELIHOOD_WORDS

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
        return "a line of text" if self.line else "text"

    @property
    def longest(self) -> int:
        """Most characters."""
        return MAX_NAME if self.line else MAX_TEXT


@dataclass(frozen=True, slots=True)
class Identifier:
    """A new id: small letters, digits and ``_``, beginning with a letter."""

    says: str = "an id (small letters, digits and _, beginning with a letter)"


@dataclass(frozen=True, slots=True)
class Flag:
    """``true`` or ``false``; ``only`` narrows it to one of the two."""

    only: bool | None = None

    @property
    def says(self) -> str:
        """What it is, in words."""
        return "true or false" if self.only is None else str(self.only).lower()


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:
        """What it is, in words."""
        return " or ".join(filter(None, [", ".join(self.words[:-1]), self.words[-1]]))


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number within limits."""

    low: int
    high: int

    @property
    def says(self) -> str:
        """What it is, in words."""
        return f"a whole number from {self.low} to {self.high}"


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
            return f"a number above {self.low:g}, up to {self.high:,.0f}"
        return f"a number from {self.low:,.0f} to {self.high:,.0f}"


@dataclass(frozen=True, slots=True)
class Seconds:
    """A duration; read into whole milliseconds, exactly."""

    says: str = f"seconds, 0 to {MAX_SECONDS:,}, at most three decimals"


@dataclass(frozen=True, slots=True)
class Ref:
    """The id of an entry of one of the ``sections``; ``hand`` allows the word for no tool."""

    sections: tuple[str, ...]
    hand: bool = False

    @property
    def noun(self) -> str:
        """What is named, in the singular."""
        return " or ".join(NOUNS[section] for section in self.sections)

    @property
    def says(self) -> str:
        """What it is, in words."""
        article = "an" if self.noun[0] in "aeiou" else "a"
        return f"the id of {article} {self.noun}" + (", or hand for none" if self.hand else "")


@dataclass(frozen=True, slots=True)
class Likely:
    """A probability: a number, or one of the words for it. ``high``: the greatest number; ``above``: not 0."""

    high: float = 1
    above: bool = False

    @property
    def says(self) -> str:
        """What it is, in words."""
        return f"{Number(0, self.high, above=self.above).says}, or {Choice(tuple(LIKELIHOOD_WORDS)).says}"


@dataclass(frozen=True, slots=True)
class Pair:
    """Two numbers in brackets, in millimetres."""

    low: float
    high: float
    above: bool = False
    says: str = "two numbers in brackets, [x, y]"


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
        one = f"{self.item.says}, or " if self.or_one else ""
        least = f" of {self.at_least} or more" if self.at_least > 1 else ""
        return f"{one}a list{least}: [{self.item.says}, …]"


@dataclass(frozen=True, slots=True)
class MapOf:
    """A mapping from names or references to values of one type."""

    key: Text | Ref
    value: Type

    @property
    def says(self) -> str:
        """What it is, in words."""
        return f"{{{self.key.says}: {self.value.says}}}"


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
        return f"a mapping from {self.noun} ids to entries"


@dataclass(frozen=True, slots=True)
class Either:
    """One of several types; the first that fits is taken."""

    options: tuple[Type, ...]

    @property
    def says(self) -> str:
        """What it is, in words."""
        return ", or ".join(option.says for option in self.options)


@dataclass(frozen=True, slots=True)
class Raw:
    """Kept as it is and read by another package."""

    says: str = "read elsewhere"


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
    "sides": "side",
    "tools": "tool",
    "fasteners": "fastener",
    "supplies": "supply",
    "hazards": "hazard",
    "functions": "function",
    "options": "option",
    "parts": "part",
    "spares": "spare",
    "joints": "joint",
    "acts": "act",
    "symptoms": "symptom",
    "checks": "check",
    "faults": "fault",
}
"""Singular of every section that something can refer to."""
