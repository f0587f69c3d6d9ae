"""Word groups of the grammar's rules, read once from ``grammar.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib import resources
from typing import Final

SMALL_NUMBERS: Final[Mapping[str, int]] = {
    word: value
    for value, word in enumerate(
        (
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
        ),
        1,
    )
}
"""Numbers as words, as far as people write them out."""


@lru_cache(maxsize=1)
def _groups() -> dict[str, list[str]]:
    text = (
        resources.files("lastscrew.reading.lexicon")
        .joinpath("grammar.toml")
        .read_text(encoding="utf-8")
    )
    return tomllib.loads(text)


def word_group(name: str) -> frozenset[str]:
    """The words of a group, for asking whether one is among them."""
    return frozenset(_groups()[name])


def phrase_group(name: str) -> tuple[str, ...]:
    """The words or phrases of a group, in the order of the file."""
    return tuple(_groups()[name])


@lru_cache(maxsize=16)
def table_group(name: str) -> dict[str, str]:
    """A table of words and what they stand for."""
    text = (
        resources.files("lastscrew.reading.lexicon")
        .joinpath("grammar.toml")
        .read_text(encoding="utf-8")
    )
    table: dict[str, str] = tomllib.loads(text)[name]
    return table
