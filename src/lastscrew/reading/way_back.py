"""Where a talk says that things go in again: "new one", "in with the new pump", "pop the switch back in", "hose on"."""

from __future__ import annotations

import re

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import tokenise

_LINKS = r"^\W*(?:(?:okay|ok|so|now|then|right|and|alright|good|great|cool|well|yeah|there|next)\b[,.\s]*)*"
_BACK = re.compile(
    _LINKS
    + r"(?:(?:for |on |all )*(?:the )?way back\b|(?:the )?other way (?:round|around) now\b|in with the (?:new|replacement)\b|in goes\b|on goes\b|back it (?:all )?goes\b"  # noqa: E501
    r"|to (?:go|come) back\b|(?:it's |it is |the )?rebuild(?:ing)?\b|refitting\b|(?:we're |i'm )?building it (?:back )?up\b|back (?:in|on|together) (?:we|it|they) go\b"  # noqa: E501
    r"|(?:now )?(?:we're |i'm )?going back(?: in)?\W*$|(?:we|you|i)(?:'ll| can| will)? (?:just |now |then |all )?(?:go|come|work|build|start) (?:all the way |it )?back(?: now| up| again| the other way)?\W*$|it all goes back\b|back (?:in|on) (?:with|goes)\b)",  # noqa: E501
    re.IGNORECASE,
)
_THE_WAY_BACK = re.compile(
    r"(?<!\bon )\b(?:right|then|now|so|okay|alright),? (?:for )?the way back\b", re.IGNORECASE
)
_IS_THE_WAY_BACK = re.compile(
    r"^(?![^.]*\blater\b)[^.,]*\b(?:is|comes|to|with|remains) (?:only |just |now )?(?:the |our )?(?:way back|reassembly|rebuild|assembly|refitting)\b(?! (?:of|line|drawing|number|is|was|instructions?|manual)\b)\W*(?:$|[,.;:])",  # noqa: E501
    re.IGNORECASE,
)
"""As in "the last part of the morning is the way back", "so we come to the assembly"."""
_NEW = re.compile(
    _LINKS
    + r"(?:(?:here's|here is|this is|take|grab|get|fit|put in|with|on|for|i've got|we've got) )?(?:the |your |a |our |my |that )?(?:new|replacement) (?:ones?|[a-z][\w-]+(?: [a-z][\w-]+)?)(?:'s)?"  # noqa: E501
    r"(?:\W*$|\W+(?:so|and|make|put|drop|pop|slide|push|comes|goes|slots|sits|in|on|over|up|first|same|then|just|you|we|it|has|has got|is|the|before|round|around|through|onto|into|at|across|between)\b)",  # noqa: E501
    re.IGNORECASE,
)
_PUTS = frozenset(["put", "pop", "drop", "slide", "push", "set", "fit", "clip", "plug", "slot", "snap", "place", "lower", "seat", "press", "stick", "hook", "screw", "click", "feed", "offer"])  # fmt: skip  # noqa: E501
_IN = frozenset(["in", "on", "back", "into", "onto", "home"])
_ON_ITS_PLACE = frozenset(["the", "a", "an", "this", "that", "your", "its", "here", "there", "each", "either", "it", "one", "two", "both"])  # fmt: skip  # noqa: E501


def says_way_back(sentence: str) -> tuple[int, int] | None:
    """Where a sentence says by itself that the way back begins; None where it does not."""
    match = (
        _BACK.match(sentence)
        or _NEW.match(sentence)
        or _THE_WAY_BACK.search(sentence)
        or _IS_THE_WAY_BACK.match(sentence)
    )
    return None if match is None else (match.start(), match.end())


def put_in_again(sentence: str, lexicon: Lexicon) -> list[Thing]:
    """What a sentence puts in, on or back ("pop the switch back in", "hose on, clamp on"), first thing first."""
    tokens = tokenise(sentence, lexicon)
    if any(token.low in lexicon.words["negations"] for token in tokens):
        return []
    phrases = Phrases(tokens, lexicon, spoken=True)
    found: list[Thing] = []
    i = 0
    while i < len(tokens) and (
        tokens[i].kind == "mark" or tokens[i].low in lexicon.words["openers"]
    ):
        i += 1
    thing, end = phrases.phrase(i)
    if thing is not None and not thing.is_pronoun and not phrases.is_command(i):
        back = phrases.low(end) == "back"
        placed = phrases.low(end + back) in ("in", "on", "down", "together")
        if placed and (back or phrases.low(end + 1) not in _ON_ITS_PLACE):
            found.append(thing)
    for k, token in enumerate(tokens):
        if lexicon.verb_of(token.low, "base") not in _PUTS or not phrases.is_command(k):
            continue
        particle = phrases.low(k + 1) in _IN and phrases.is_det(k + 2)
        thing, end = phrases.phrase(k + 1 + particle)
        if thing is None or (thing.is_pronoun and "new" not in thing.name):
            continue
        if particle or phrases.low(end) in _IN:
            found.append(thing)
    return found
