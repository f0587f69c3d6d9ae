"""What a writer tells that he did, read as the order to do it.

"I undid the three screws and lifted the cover off" has the past where an order has the base form. In a sentence that a
first person tells, each past behind the subject, "and", a comma or "then" is turned into the base form, so that the one
grammar reads it. The text and the places of the words stay.
"""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.tokens import Token

_TELLERS = frozenset(["i", "we"])
_BEFORE = frozenset(
    [
        "and",
        "then",
        ",",
        "but",
        ";",
        "before",
        "i",
        "we",
        "also",
        "just",
        "first",
        "next",
        "carefully",
        "gently",
        "finally",
    ]
)
_BEHIND = frozenset(
    [
        "out",
        "off",
        "up",
        "down",
        "back",
        "it",
        "them",
        "in",
        "on",
        "away",
        "apart",
        "everything",
        "both",
        "all",
        "new",
    ]
)
_UNTOLD = frozenset(
    ["need", "want", "like", "mark", "find", "notice", "have", "see", "say", "think", "know"]
)


def as_ordered(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """The tokens with the told past in its base form; unchanged where nobody tells what he did."""
    first = _first_told(tokens, lexicon)
    if first < 0:
        return tokens
    rows = list(tokens)
    for index in range(first, len(tokens)):
        lemma = _told(tokens, index, lexicon)
        if lemma:
            rows[index] = replace(tokens[index], low=lemma)
    return rows


def _first_told(tokens: list[Token], lexicon: Lexicon) -> int:
    """Where "I removed", "we then took" begins; -1 where it does not ("I have removed" tells what was before)."""
    for index, token in enumerate(tokens):
        if token.low not in _TELLERS:
            continue
        follow = index + 1
        while follow < len(tokens) and tokens[follow].low in lexicon.words["adverbs"]:
            follow += 1
        if follow < len(tokens) and _lemma(tokens[follow].low, lexicon):
            return follow
        if (
            follow + 2 < len(tokens)
            and tokens[follow].low in ("began", "started", "had")
            and tokens[follow + 1].low in ("by", "to")
        ):
            return follow
    return -1


def _lemma(word: str, lexicon: Lexicon) -> str:
    lemma = lexicon.verb_of(word, "past")
    return "" if lemma in _UNTOLD else lemma


def _told(tokens: list[Token], index: int, lexicon: Lexicon) -> str:
    """Base form of a past that goes on with what is told; ``""`` for an adjective or a passive."""
    lemma = _lemma(tokens[index].low, lexicon)
    before = tokens[index - 1].low if index else ""
    if not lemma or (before not in _BEFORE and before not in lexicon.words["adverbs"]):
        return ""
    if (
        before in lexicon.words["adverbs"]
        and index > 1
        and tokens[index - 2].low in lexicon.words["be"]
    ):
        return ""
    behind = tokens[index + 1].low if index + 1 < len(tokens) else ""
    opens_object = (
        behind in lexicon.words["determiners"]
        or behind in lexicon.words["quantifiers"]
        or behind in lexicon.numbers
        or behind[:1].isdigit()
        or behind in _BEHIND
        or lexicon.is_noun(behind)
    )
    return lemma if opens_object else ""
