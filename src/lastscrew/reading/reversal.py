"""Sentences that order the way in to be done backwards: "Refit in reverse order", "Same thing backwards".

Three things may make one: a word for backwards, a word for what is done so (the steps, everything, it), and the place,
a half of putting together under whose title nothing else has been said yet.
"""

from __future__ import annotations

import re

from lastscrew.reading.lexicon import Lexicon

_BACKWARDS = re.compile(
    r"\b(?:backwards?|in reverse|exact (?:opposite|reverse)|just reverse|(?:the )?other way (?:a?round|about)|"
    r"same way (?:it|they|everything) came\b|from (?:the )?(?:bottom|end|last)(?: step)? to (?:the )?(?:top|beginning|start|first))\b",  # noqa: E501
    re.IGNORECASE,
)
_DONE_SO = re.compile(
    r"\b(?:order|steps?|procedure|removal|disassembly|dismantl\w*|install\w*|assembl\w*|reassembl\w*|refit\w*|sequence|instructions|process|tutorial|put|reversing|manner)\b"
)
_ALL_OF_IT = re.compile(
    r"\b(?:same(?: thing| steps)?|everything|all(?: of (?:it|this|that))?|again|above|whole (?:thing|lot)|what you did|back together|going back)\b"  # noqa: E501
)
_OTHERWISE = re.compile(
    r"\breverse numer|\breverse order \(|\breverse sequence \(|^\W*(?:then |next,? )?(?:loosen|tighten|unscrew|remove the \w+ (?:screws|bolts))\b|\breverse (?:side|polarity|thread|face)|installed in reverse|"  # noqa: E501
    r"\b(?:plug|connector|cable|ribbon|battery|belt|label|it|wires?|blades?|fan) (?:(?:is|are|in|on|fits?|goes|does not fit|will not go) )?"  # noqa: E501
    r"(?:the )?(?:backwards|other way)\b|\bnot backwards\b|\bturn(?:ed|ing)? (?:\w+ ){0,3}backwards\b"
)
"""An order of screws, a side, a plug put in the wrong way about."""
_SCREWS_BACKWARDS = re.compile(
    r"\W*(?:\d+\W+)?in (?:the )?(?:reverse|opposite|inverse)\b[^.]{0,90}?[,)]\s*"
    r"(?:loosen|unscrew|slacken|remove|undo|release|back out|tighten)\b[^.]*\b(?:screws?|bolts?|nuts?)\b"
)
"""As in "In the reverse of the order marked on it, loosen the four screws": an order of screws, no way back."""
_SHORT = 9


def is_reversal(
    sentence: str, lexicon: Lexicon, *, spoken: bool = False, opens_refit: bool = False
) -> bool:
    """True where a sentence says that the work is done backwards.

    Args:
        sentence: One sentence.
        lexicon: Word lists (``reverse_phrases``).
        spoken: In talk "the other way round" is mostly said of a plug or a plate.
        opens_refit: The sentence is the first under a title of the way back.
    """
    low = sentence.lower()
    if _OTHERWISE.search(low) or _SCREWS_BACKWARDS.match(low):
        return False
    named = any(phrase in low for phrase in lexicon.phrases["reverse_phrases"])
    if named and _DONE_SO.search(low):
        return True
    if spoken:
        return False
    told = named or _BACKWARDS.search(low) is not None
    if not told:
        return False
    short = len(low.split()) <= _SHORT
    return short and (opens_refit or bool(_ALL_OF_IT.search(low) or _DONE_SO.search(low)))


_BUT = re.compile(
    r"(?:[,;–—-]\s*(?:but|only|except that)\s+|;\s*)(?:please |always |also |then )?(?=(?P<verb>[a-z]+)\b)",
    re.IGNORECASE,
)


def exception_behind(sentence: str, lexicon: Lexicon) -> str:
    """As in "Reassembly is the reverse, but | fit a new gasket": what is ordered behind, at its place; "" without."""
    for match in _BUT.finditer(sentence):
        if lexicon.verb_of(match["verb"].lower(), "base"):
            return " " * match.end() + sentence[match.end() :]
    return ""
