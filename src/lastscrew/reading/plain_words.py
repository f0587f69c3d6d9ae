"""Set phrases said plainly before a sentence is read: "get rid of" is "take out" (``grammar.toml``)."""

from __future__ import annotations

import re
from functools import lru_cache

from lastscrew.reading.lexicon.groups import table_group

_CALLOUT = re.compile(
    r"\s*\((?:callouts?|items?|index|ref\.?)\s[^()]{1,30}\)|"
    r",?\s*\(?\b(?:callouts?|items?|index|ref\.?|pos\.?|position)\s+(?:\d{1,3}|[A-Z]\b)(?:(?:\s*,\s*|\s+and\s+|\s+to\s+|\s*[-–]\s*)\d{1,3})*(?:\s+in\s+(?:the\s+)?fig\w*\.?\s*[\d.-]+)?\)?,?"
    r"|\(\d{1,2}\s+in\s+(?:the\s+)?fig\w*\.?\s*[\d.-]+\)",
    re.IGNORECASE,
)
_IN_SEQUENCE = re.compile(
    r"\b(?:in accordance with|according to|as per|following|in)\s+(?:the\s+)?(?:order|sequence|numbers?)?\s*(?:of\s+)?(?:\d{1,2}\s*[-–→~]\s*){2,}\d{1,2}\b",  # noqa: E501
    re.IGNORECASE,
)
"""As in "in accordance with 4-3-2-1": an order, no number of things."""
_NOT_SO = re.compile(
    r",?\s*\bwithout (?:\w+ly )?[a-z]+ing (?:it|them|any|(?:the|its|any) [\w-]+(?: [\w-]+)?)(?=\s*(?:[,.;]|$|and (?:then )?[a-z]+ ))",  # noqa: E501
    re.IGNORECASE,
)
"""As in "set it down without sliding it, and tighten the screws": how it is not done."""
_WHERE_ASIDE = re.compile(
    r"(?<=[a-z]), (?:at|on|in|near|under|behind|to) the [\w -]{2,24},(?= (?:has|have|is|are|sits|runs)\b)"
)
"""As in "the display cable, at the top, has a bail"."""


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


def without_asides(sentence: str) -> str:
    """The sentence without numbers of a picture and without what is said aside, as long as before."""
    for aside in (_CALLOUT, _IN_SEQUENCE, _NOT_SO, _WHERE_ASIDE):
        sentence = aside.sub(lambda match: " " * len(match.group()), sentence)
    return sentence
