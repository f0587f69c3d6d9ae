"""Counts that a running text tells beside or behind what it counts, in plain order.

"Four such bolts are used", "their number being five", "the nuts number four", "three will be seen in front and three
more behind", "a screw in each corner": each is read as "there are … of them". Tokens keep their places in the text.
"""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.tokens import Token

_SEEN = frozenset(
    [
        "hold",
        "holds",
        "sit",
        "sits",
        "secure",
        "fasten",
        "lie",
        "are",
        "will",
        "can",
        "is",
        "stand",
        "go",
        "belong",
    ]
)
_SIDES = {"side": 2, "end": 2, "corner": 4}


def value_of(token: Token, lexicon: Lexicon) -> int:
    """The number that a token is; 0 for other tokens and for numbers that are no counts."""
    if token.low in lexicon.numbers:
        return lexicon.numbers[token.low]
    if token.kind == "number" and token.low.isdigit() and int(token.low) < 100:
        return int(token.low)
    return 0


def counts_told(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """The tokens with such counts as "there are … of them" or before their noun; the same list without one."""
    tokens = _sits_there(tokens, lexicon)
    for rule in (
        _do_this,
        _at_the_other,
        _sum_of_places,
        _such,
        _number_being,
        _nouns_number,
        _one_in_each,
    ):
        rows = rule(tokens, lexicon)
        if rows is not tokens:
            return rows
    return _one_and_one(tokens)


def times_of_places(tokens: list[Token], i: int, lexicon: Lexicon) -> tuple[int, int]:
    """As in "three on either side": six, and where it ends; (0, i) where no such count stands at ``i``."""
    if i + 3 >= len(tokens):
        return 0, i
    number = value_of(tokens[i], lexicon)
    if (
        number
        and tokens[i + 1].low in ("on", "at", "in", "to", "along", "per")
        and tokens[i + 2].low in ("each", "either", "every")
    ):
        place = i + 3 + (tokens[i + 3].low in ("long", "short", "narrow", "wide"))
        if place < len(tokens) and tokens[place].low in _SIDES:
            return number * _SIDES[tokens[place].low], place + 1
    return 0, i


def _there(tokens: list[Token], first: int, number: int, rest: list[Token]) -> list[Token]:
    base = tokens[first]
    said = [replace(base, low=word, kind="word") for word in ("there", "are")]
    return [
        *tokens[:first],
        *said,
        replace(base, low=str(number), kind="number", text=str(number)),
        *[replace(base, low=word, kind="word") for word in ("of", "them")],
        *rest,
    ]


def _sum_of_places(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "Eight hold the sides and two the rear", "Three will be seen in front and three more at the back"."""
    first = value_of(tokens[0], lexicon)
    if not first or len(tokens) < 6 or tokens[1].low not in _SEEN:
        return tokens
    for k in range(3, min(18, len(tokens) - 1)):
        if tokens[k].low in (";", ".", ":"):
            break
        second = value_of(tokens[k + 1], lexicon)
        if tokens[k].low == "and" and second and tokens[k + 2 : k + 3]:
            follow = tokens[k + 2].low
            if follow in (
                "more",
                "the",
                "at",
                "on",
                "in",
                "of",
                "along",
                "others",
                "under",
                "hold",
            ):
                end = next(
                    (m for m in range(k, len(tokens)) if tokens[m].low in (";", ".")), len(tokens)
                )
                return _there(tokens, 0, first + second, tokens[end:])
    return tokens


def _do_this(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "It is fixed to the hub. Four small bolts do this": the bolts hold it."""
    for i in range(1, min(8, len(tokens) - 1)):
        if (
            tokens[i].low in ("do", "does", "serve", "serves")
            and tokens[i + 1].low in ("this", "so", "it", "that")
            and lexicon.category((tokens[i - 1].low,)) in ("fastener", "clip", "lock")
        ):
            rows = list(tokens)
            rows[i] = replace(tokens[i], low="hold")
            rows[i + 1] = replace(tokens[i + 1], low="it")
            return rows
    return tokens


def _at_the_other(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "A bracket holds it at one end and two screws at the other": the screws hold it too."""
    for i in range(2, len(tokens) - 4):
        if (
            tokens[i].low == "and"
            and value_of(tokens[i + 1], lexicon)
            and lexicon.category((tokens[i + 2].low,)) == "fastener"
            and tokens[i + 3].low in ("at", "on", "in")
            and tokens[i + 4].low == "the"
        ):
            hold = replace(tokens[i + 3], low="hold", kind="word")
            it = replace(tokens[i + 4], low="it", kind="word")
            return [
                *tokens[:i],
                replace(tokens[i], low=";", kind="mark"),
                *tokens[i + 1 : i + 3],
                hold,
                it,
            ]
    return tokens


def _such(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "Four such bolts are used": there are four bolts."""
    for i in range(len(tokens) - 3):
        number = value_of(tokens[i], lexicon)
        if (
            number
            and tokens[i + 1].low in ("such", "similar", "identical")
            and tokens[i + 3].low in ("are", "will")
        ):
            there = [replace(tokens[i], low=word, kind="word") for word in ("there", "are")]
            end = next(
                (
                    m
                    for m in range(i + 3, len(tokens))
                    if tokens[m].kind == "mark" or tokens[m].low == "and"
                ),
                len(tokens),
            )
            rest = (
                [replace(tokens[end], low=";", kind="mark"), *tokens[end + 1 :]]
                if end < len(tokens)
                else []
            )
            return [*tokens[:i], *there, tokens[i], tokens[i + 2], *rest]
    return tokens


def _number_being(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "with screws, their number being five", "there being two on each side": there are … of them."""
    for i in range(len(tokens) - 2):
        being = tokens[i + 1].low == "being" and tokens[i].low in ("there", "number")
        if not being:
            continue
        number, end = times_of_places(tokens, i + 2, lexicon)
        if not number:
            number, end = value_of(tokens[i + 2], lexicon), i + 3
        if number:
            start = i - 1 if tokens[i].low == "number" and i else i
            rows = _there(tokens, start, number, tokens[end:])
            if start and rows[start - 1].low == ",":
                rows[start - 1] = replace(rows[start - 1], low=";", kind="mark")
            return rows
    return tokens


def _nouns_number(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "The nuts number four and are unscrewed": the four nuts are unscrewed."""
    for i in range(1, min(6, len(tokens) - 2)):
        if (
            tokens[i].low == "number"
            and value_of(tokens[i + 1], lexicon)
            and tokens[i - 1].kind == "word"
        ):
            if tokens[i + 2].low == "and":
                return [*tokens[: i - 1], tokens[i + 1], tokens[i - 1], *tokens[i + 3 :]]
            return _there(tokens, 0, value_of(tokens[i + 1], lexicon), tokens[i + 2 :])
    return tokens


def _one_in_each(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "A screw in each corner secures the plate", "two black M3x8 on either side": four screws."""
    for i in range(len(tokens) - 4):
        number = 1 if tokens[i].low in ("a", "an") else value_of(tokens[i], lexicon)
        last = _named_screw(tokens, i + 1, lexicon) if number else i
        known = i > 0 and tokens[i - 1].low == "the"  # "the two tabs on each side": two in all
        places = _places(tokens, last + 1) if last > i and not known else None
        if places is None:
            continue
        count, end = number * places[0], places[1]
        many = tokens[last]
        if many.kind == "word" and not many.low.endswith("s"):
            many = replace(many, low=f"{many.low}s", text=f"{many.text}s")
        told = replace(tokens[i], low=str(count), kind="number", text=str(count))
        rest = tokens[end:]
        if rest and rest[0].low == "of":
            rest = [replace(rest[0], low="in"), *rest[1:]]
        return [*tokens[:i], told, *tokens[i + 1 : last], many, *rest]
    return tokens


def _named_screw(tokens: list[Token], i: int, lexicon: Lexicon) -> int:
    """Where a phrase for screws or clips ends that begins at ``i`` (its last token); ``i - 1`` where none does."""
    for k in range(i, min(i + 4, len(tokens))):
        if tokens[k].kind == "mark" or tokens[k].low in _PREPOSITIONS:
            break
        follow = tokens[k + 1].low if k + 1 < len(tokens) else ""
        named = lexicon.category((tokens[k].low,)) in ("fastener", "clip")
        sized = tokens[k].kind == "size" and lexicon.category((follow,)) != "fastener"
        if (named or sized) and follow in _PREPOSITIONS:
            return k
    return i - 1


def _places(tokens: list[Token], i: int) -> tuple[int, int] | None:
    """As in "at each corner", "on either long side", "per side": how many places, and where the words end."""
    if i >= len(tokens):
        return None
    k = i + 1 if tokens[i].low in _PREPOSITIONS else i
    if tokens[i].low != "per":
        if k == i or k >= len(tokens) or tokens[k].low not in ("each", "every", "either"):
            return None
        k += 1
    k += k < len(tokens) and tokens[k].low in ("of", "the", "long", "short", "narrow", "wide")
    if k < len(tokens) and tokens[k].low in _SIDES:
        return _SIDES[tokens[k].low], k + 1
    return None


_PREPOSITIONS = frozenset(["in", "at", "on", "near", "along", "to", "per", "under", "behind"])
_LIES = frozenset(["sits", "sit", "lies", "lie", "hides", "hide", "is", "are", "stands", "lives", "live"])  # fmt: skip


def _sits_there(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "At each end of the rail sits a T20 screw": there is a T20 screw at each end of the rail."""
    if len(tokens) < 6 or tokens[0].low not in _PREPOSITIONS - {"per"}:
        return tokens
    verb = next((k for k in range(2, min(9, len(tokens) - 2)) if tokens[k].low in _LIES), 0)
    if not verb or any(token.kind == "mark" for token in tokens[:verb]):
        return tokens
    first = verb + 1
    if tokens[first].low not in ("a", "an", "another") and not value_of(tokens[first], lexicon):
        return tokens
    end = next((k for k in range(first, len(tokens)) if tokens[k].kind == "mark"), len(tokens))
    kinds = (lexicon.category((token.low,)) for token in tokens[first:end])
    if not any(kind in ("fastener", "clip", "connector", "cable") for kind in kinds):
        return tokens
    there = [replace(tokens[verb], low=word, kind="word") for word in ("there", "is")]
    return [*there, *tokens[first:end], *tokens[:verb], *tokens[end:]]


_AT = frozenset(["at", "on", "in", "under", "near", "behind", "beside"])


def _one_and_one(tokens: list[Token]) -> list[Token]:
    """As in "loosen the clamps, one at the inlet and one at the outlet": two of them."""
    for i in range(1, len(tokens) - 6):
        if (tokens[i].low, tokens[i + 1].low) != (",", "one") or tokens[i + 2].low not in _AT:
            continue
        for k in range(i + 4, min(i + 10, len(tokens) - 2)):
            joined = tokens[k].low == "and" and tokens[k + 1].low in ("one", "another")
            if joined and tokens[k + 2].low in _AT:
                marks = (m for m in range(k, len(tokens)) if tokens[m].low in (",", ";", ".", ":"))
                end = next(marks, len(tokens))
                return _there(tokens, i + 1, 2, tokens[end:])
    return tokens
