"""Screws counted out over a sentence: "one here, one here and two at the back", "two on this side, two on that"."""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import tokenise

_PLACES = word_group("counts_places")
_MORE = frozenset(["another", "a", "further", "then", "also", "and", "more", "other", "just"])
_COUNTED = frozenset(["fastener", "clip", "cable", "connector", "lock"])


def counted_out(text: str, lexicon: Lexicon) -> Thing | None:
    """The screws, clips or cables of a sentence with the sum of their numbers; None where it counts nothing out.

    "five screws, three along the front and two at the back" are five: what is told behind them is how they lie.
    """
    phrases = Phrases(tokenise(text, lexicon), lexicon, spoken=True)
    first, end = _first(phrases)
    if first is None or not isinstance(first.count, int):
        return None
    rest = _behind(phrases, end, first)
    if not rest:
        return None
    placed = phrases.low(end) in _PLACES
    if not placed and sum(rest) != first.count:
        return None
    total = first.count + sum(rest) if placed else first.count
    name = first.name if first.plural else f"{first.name}s"
    return replace(first, name=name, count=total, plural=True)


def _first(phrases: Phrases) -> tuple[Thing | None, int]:
    """The first thing that is counted, and the place behind it."""
    for i in range(len(phrases.tokens)):
        if phrases.kind(i) == "number" or phrases.low(i) in phrases.lexicon.numbers:
            thing, end = phrases.phrase(i)
            if thing is not None and thing.category in _COUNTED:
                return thing, end
            if thing is not None and thing.name and phrases.low(i) != "one":
                return None, 0
    return None, 0


def _number(phrases: Phrases, i: int) -> int | None:
    low = phrases.low(i)
    return int(low) if low.isdigit() else phrases.lexicon.numbers.get(low)


def _behind(phrases: Phrases, i: int, first: Thing) -> list[int]:
    """The numbers behind: each with a place behind it, and without another thing."""
    found: list[int] = []
    for j in range(i, len(phrases.tokens)):
        value = _number(phrases, j)
        opens = j == i or phrases.low(j - 1) in (",", *_MORE) or phrases.kind(j - 1) == "mark"
        if value is None or not opens or not 0 < value < 50:
            continue
        k = j + 1
        while phrases.low(k) in (
            "more",
            "of",
            "them",
            "these",
            "those",
            "screws",
            f"{first.head}s",
        ):
            k += 1
        if phrases.low(k) in _PLACES and phrases.low(k + 1) not in ("by", "each"):
            found.append(value)
    return found
