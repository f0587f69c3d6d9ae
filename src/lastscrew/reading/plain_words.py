"""Set phrases said plainly before a sentence is read: "get rid of" is "take out" (``grammar.toml``)."""

from __future__ import annotations

import re
from functools import lru_cache

from lastscrew.reading.lexicon.groups import table_group


@lru_cache(maxsize=1)
def _plain_words() -> tuple[tuple[re.Pattern[str], str], ...]:
    rows = sorted(table_group("plain_words").items(), key=lambda row: (-len(row[0]), row[0]))
    return tuple(
        (re.compile(rf"\b{re.escape(said).replace(chr(92) + ' ', ' +')}\b", re.IGNORECASE), plain)
        for said, plain in rows
    )


def in_plain_words(sentence: str) -> str:
    """Set phrases said plainly; the sentence keeps its length, so that places in it stay."""
    for pattern, plain in _plain_words():
        sentence = pattern.sub(
            lambda match, plain=plain: plain + " " * (len(match.group()) - len(plain)),  # type: ignore[misc]
            sentence,
        )
    return sentence
