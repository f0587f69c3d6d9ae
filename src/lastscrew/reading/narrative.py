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
_ONE = frozenset(["one", "he", "she"])
"""Subjects of what is told in general: "one undoes the strap and withdraws the motor"."""
_HELPERS = frozenset(["partner", "assistant", "helper", "colleague", "mate"])
"""Who does a part of the work: "your partner lifts it off the rails"."""
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
    general = _first_general(tokens, lexicon)
    if general >= 0:
        return _from_general(tokens, general, lexicon)
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


def _first_general(tokens: list[Token], lexicon: Lexicon) -> int:
    """Where "one undoes", "he then takes" stands; -1 where it does not ("one screw")."""
    for index, token in enumerate(tokens[:-1]):
        if token.low not in _ONE | _HELPERS or token.kind != "word":
            continue
        follow = index + 1
        while follow < len(tokens) - 1 and tokens[follow].low in lexicon.words["adverbs"]:
            follow += 1
        word = tokens[follow].low
        behind = tokens[follow + 1].low if follow + 1 < len(tokens) else ""
        opens = (
            behind in lexicon.words["determiners"] or behind in lexicon.numbers or behind in _BEHIND
        )
        if lexicon.verb_of(word, "s") and (opens or not lexicon.is_noun(word)):
            return index
    return -1


def _from_general(tokens: list[Token], first: int, lexicon: Lexicon) -> list[Token]:
    """The subject as "you", each verb of its own in the base form."""
    rows = list(tokens)
    if tokens[first].low in _HELPERS and first:
        rows[first - 1] = replace(tokens[first - 1], low="then")
    rows[first] = replace(tokens[first], low="you")
    for index in range(first + 1, len(tokens)):
        before = tokens[index - 1].low
        lemma = lexicon.verb_of(tokens[index].low, "s")
        goes_on = before in _BEFORE or before in lexicon.words["adverbs"] or index == first + 1
        behind = tokens[index + 1].low if index + 1 < len(tokens) else ""
        opens = (
            behind in lexicon.words["determiners"]
            or behind in lexicon.words["quantifiers"]
            or behind in lexicon.numbers
            or behind in _BEHIND
            or behind in lexicon.words["pronouns"]
        )
        if lemma and goes_on and opens:
            rows[index] = replace(tokens[index], low=lemma)
    return rows
