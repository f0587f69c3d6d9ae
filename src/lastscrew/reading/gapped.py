"""Verbs said once for two: "remove the two bolts at the front, and then the three at the back"."""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import Token

_KINDS = frozenset(["fastener", "cable", "connector", "clip", "lock", "tie", "cover", "part", "board", "card", "antenna"])  # fmt: skip  # noqa: E501
_AT = frozenset(["at", "on", "along", "in", "under", "from", "behind", "inside", "below", "above", "near", "of"])  # fmt: skip  # noqa: E501


_PLUGGING = frozenset(["connect", "reconnect", "disconnect", "unplug", "plug"])
_PLUGGED = frozenset(["cable", "connector", "antenna", "part", "board", "card", "button", "power"])


def verbs_repeated(tokens: list[Token], lexicon: Lexicon, *, spoken: bool) -> list[Token]:
    """The tokens with the verb once more behind "then", where only a thing follows it; else the same list."""
    for i in range(3, len(tokens) - 1):
        if tokens[i].low != "then" or tokens[i - 1].low not in (",", "and", ";"):
            continue
        phrases = Phrases(tokens, lexicon, spoken=spoken)
        noun = _fastener_before(phrases, i)
        number = _bare_number(phrases, i + 1)
        if number and noun is not None:
            tokens = [*tokens[:number], noun, *tokens[number:]]
            phrases = Phrases(tokens, lexicon, spoken=spoken)
        verb = _verb_before(phrases, i)
        plugging = bool(verb) and lexicon.verb_of(verb[0].low, "base") in _PLUGGING
        if verb and _only_a_thing(phrases, i, plugging=plugging and not spoken):
            first = tokens[i - 1].low == "," and tokens[i - 2].low == "first"
            if plugging and not spoken and first:  # "connect the earth first, then the plugs"
                return [*tokens[: i - 2], replace(tokens[i], low="and"), *tokens[i + 1 :]]
            again = [replace(token, start=tokens[i + 1].start) for token in verb]
            return [*tokens[: i + 1], *again, *tokens[i + 1 :]]
    return tokens


def _only_a_thing(phrases: Phrases, i: int, *, plugging: bool) -> bool:
    """A thing of the machine such as one that was named before, where it sits, and the end.

    What is plugged may be of another kind: "disconnect the battery, then the pump plug and the aerial".
    """
    j = i + 1
    if not phrases.is_det(j) and phrases.low(j) not in phrases.lexicon.numbers:
        return False
    if phrases.kind(j) != "number" and phrases.is_command(j):
        return False
    thing, end = phrases.phrase(j)
    if plugging and thing is not None:
        things, end = phrases.list_of(j)
        return all(t.category in _PLUGGED for t in things) and phrases.kind(end) in ("", "mark")
    category = phrases.lexicon.category
    alike = thing is not None and any(
        category((phrases.low(k),)) == thing.category for k in range(i)
    )
    if thing is None or thing.category not in _KINDS or not alike:
        return False
    while phrases.low(end) in _AT and phrases.starts_phrase(end + 1):
        behind = phrases.phrase(end + 1)[1]
        if behind <= end + 1:
            break
        end = behind
    return phrases.kind(end) in ("", "mark")


def _verb_before(phrases: Phrases, i: int) -> list[Token]:
    """The order that the sentence gave before, with its particle."""
    tokens = phrases.tokens
    for k in range(i - 2, -1, -1):
        if not phrases.is_command(k) or phrases.is_det(k - 1) or _ends_a_name(phrases, k):
            continue
        particles = phrases.lexicon.words["particles"]
        if phrases.low(k + 1) in particles:
            return [tokens[k], tokens[k + 1]]
        last = i - 2 if phrases.low(i - 1) == "and" and phrases.kind(i - 2) == "mark" else i - 1
        trailing = last - (phrases.kind(last) == "mark")
        if phrases.low(trailing) in ("off", "out", "up") and trailing > k + 1:
            return [tokens[k], tokens[trailing]]
        return [tokens[k]]
    return []


def _ends_a_name(phrases: Phrases, k: int) -> bool:
    """As in "the top plate first, then …": the last noun of what is named, no order."""
    noun = phrases.lexicon.is_noun(phrases.low(k)) and phrases.kind(k - 1) == "word"
    return noun and any(phrases.is_det(m) for m in range(max(0, k - 3), k))


def _bare_number(phrases: Phrases, j: int) -> int:
    """Where the noun is missing behind "the two at the lower edge"; 0 where it is not."""
    j += phrases.low(j) in ("the", "another")
    counted = phrases.low(j) in phrases.lexicon.numbers or phrases.kind(j) == "number"
    placed = phrases.low(j + 1) in _AT - {"of"}
    return j + 1 if counted and placed else 0


def _fastener_before(phrases: Phrases, i: int) -> Token | None:
    """The screws that were named before."""
    tokens = phrases.tokens[:i]
    kinds = (t for t in reversed(tokens) if phrases.lexicon.category((t.low,)) == "fastener")
    return next(kinds, None)
