"""What holds what, as it is told in passing: "they go through the fan into the frame", "it plugs into the board".

The grammar knows "screws that hold the fan to the frame". A speaker says it in other words: where screws, cables and
tapes go through, from or across, what sits on what with how many of them, or which plug is on the board. Only the
things of one sentence and the words between them count.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from lastscrew.reading.joining import own_side
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import tokenise

_CABLES = frozenset(["cable", "connector", "antenna"])
_LINKS = _CABLES | {"fastener", "film"}
_ENDS = frozenset(
    ["part", "cover", "board", "card", "drawer", "antenna", "cable", "device", "unknown", "power"]
)
_PIECES = frozenset(["part", "cover", "board", "card", "drawer"])
_SMALL = r"(?:down|in place|straight|right|over|across|on|up|all the way|there|here|just|both|back|tight)"
_BETWEEN = re.compile(
    r"\b(?:through|from|between|across|over|(?:hold|fix|secur|keep|fasten|clamp|attach|screw|bolt|tie|stick|join)\w*)$"
)
_ONTO = re.compile(rf"^(?:{_SMALL} )*(?:to|into|onto|on|and|against|in|on to|down to|over to)$")
_INTO = re.compile(
    r"\b(?:plug|plugs|plugged|goes|go|connects?|connected|clipped|hooked|pushed|going|leads?|leading|runs?|running|sits?|fixed|screwed)\b"
    rf"(?: {_SMALL}| in)* (?:to|into|onto|on|on to)$"
)
_SITS = re.compile(
    r"^(?:just )?(?:is|are|sits?|hangs?|stays?|'s)\b[\w ]*?\b(?:on|to|onto|in|into|from)$"
)
_WITH = re.compile(rf"^(?:(?:{_SMALL}|just|only) )*(?:with|by|using)(?: just| only)?$")
_FOUND = re.compile(
    r"^(?:,? ?(?:there is|there are|there's|you've got|you have|we've got|we have|you'll find|you find|you see|is|are|sits|comes))$"  # noqa: E501
)
_ON = re.compile(r"(?:^|\b(?:now|so|and|then|okay|here) )(?:here )?(?:on|at)$")


@dataclass(frozen=True, slots=True)
class Link:
    """Screws, a cable or a tape, and the names of what it joins."""

    thing: Thing
    joins: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Named:
    thing: Thing
    start: int
    end: int


def links(text: str, lexicon: Lexicon, part: str) -> list[Link]:
    """What the links of a spoken sentence join; ``part``: what "it" is, and whose cables are meant."""
    phrases = Phrases(tokenise(text, lexicon), lexicon, spoken=True)
    named = _named(phrases)
    found = []
    for k, row in enumerate(named):
        if row.thing.category in _LINKS:
            spoken_of = [r.thing.name for r in named[:k] if r.thing.category in _PIECES]
            joins = _behind(phrases, named, k, (spoken_of or [part])[-1]) or _before(
                phrases, named, k
            )
            if len(joins) > 1:
                found.append(Link(row.thing, joins))
    return found


def _named(phrases: Phrases) -> list[_Named]:
    rows = []
    i = 0
    while i < len(phrases.tokens):
        low = phrases.low(i)
        relative = low == "that" and phrases.lexicon.verb_of(phrases.low(i + 1), "s", "base")
        opens = not relative and (
            phrases.is_det(i)
            or low in ("it", "them")
            or low in phrases.lexicon.numbers
            or phrases.kind(i) == "number"
            or (phrases.lexicon.is_noun(low) and not phrases.lexicon.verb_of(low, "s", "base"))
        )
        thing, end = phrases.phrase(i) if opens else (None, i)
        if thing is not None and end > i and thing.name:
            rows.append(_Named(thing, i, end))
            i = end
        else:
            i += 1
    return rows


def _words(phrases: Phrases, start: int, end: int) -> str:
    return " ".join(phrases.low(k) for k in range(start, end) if phrases.low(k) != ",").strip()


def _name(row: _Named, part: str) -> str:
    """Name of an end; "it" is the part that is spoken of."""
    if row.thing.is_pronoun:
        return part if row.thing.name in ("it", "that", "this") else ""
    return row.thing.name if row.thing.category in _ENDS else ""


def _behind(phrases: Phrases, named: list[_Named], k: int, part: str) -> tuple[str, ...]:
    """As in "screws … through the fan into the frame", "the cable plugs into the board"."""
    link = named[k]
    start = link.end
    for n in range(k + 1, min(k + 3, len(named))):
        first = named[n]
        lead = _words(phrases, start, first.start)
        one = _name(first, part)
        if one and n + 1 < len(named) and _BETWEEN.search(lead):
            second = named[n + 1]
            two = _name(second, "")
            if two and two != one and _ONTO.match(_words(phrases, first.end, second.start)):
                return (one, two)
        if one and _INTO.search(lead) and not first.thing.is_pronoun:
            own = own_side(link.thing.name) if link.thing.category in _CABLES else ""
            mine = own if own and own != link.thing.name else part
            return (mine, one) if mine and mine.lower() != one.lower() else ()
        if not first.thing.is_pronoun:
            break
    return ()


def _before(phrases: Phrases, named: list[_Named], k: int) -> tuple[str, ...]:
    """As in "the drive is on the board with one screw", "on the board there's the fan plug"."""
    link = named[k]
    if not k:
        return ()
    last = named[k - 1]
    told = _words(phrases, last.end, link.start)
    two = _name(last, "")
    if k > 1 and two and _WITH.match(told):
        one = _name(named[k - 2], "")
        if one and one != two and _SITS.match(_words(phrases, named[k - 2].end, last.start)):
            return (one, two)
    opens = _ON.search(_words(phrases, 0, last.start))
    if two and link.thing.category in _CABLES and opens and _FOUND.match(told):
        own = own_side(link.thing.name)
        return (own, two) if own != link.thing.name else ()
    return ()
