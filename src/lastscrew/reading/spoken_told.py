"""What a spoken thought names without working on it: things brought in, numbers given afterwards, numbers asked for."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import SMALL_NUMBERS
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import tokenise

_SMALL = frozenset(["fastener", "clip", "lock", "connector", "cable", "film", "tie", "antenna"])
_PIECES = frozenset(["part", "cover", "board", "card", "drawer", "unknown"])
_NUMBER = r"(?P<number>\d{1,2}|" + "|".join(SMALL_NUMBERS) + ")"
_OF_THOSE = re.compile(
    rf"^\W*(?:(?:and|so|that's|that is|it's|there's|there are|there is|makes|that makes|it makes|which makes|we've got|you've got|okay|right|in all)\b[,\s]*)*"  # noqa: E501
    rf"{_NUMBER}(?:\s+(?:of (?:them|those|these)(?: guys)?|in (?:total|all)|altogether|all together|all told))\W*$"
    rf"|^\W*(?:(?:so|and|yeah|yes|no|it's|there's)\b[,\s]*)*(?P<placed>\d{{1,2}}|{'|'.join(SMALL_NUMBERS)})(?: of them| all)?(?= (?:round|around|along|across|down|in|on|at|under) (?:the|each|every|this|that)\b)"  # noqa: E501
    rf"|^\W*(?:and |so )*(?:that|it|which) makes (?P<sum>\d{{1,2}}|{'|'.join(SMALL_NUMBERS)})\b\W*$",
    re.IGNORECASE,
)
_COUNT_THEM = re.compile(
    r"\bcount (?:up )?(?P<thing>(?:the|these|those|your) [a-z][\w -]{1,30}?)(?: for me| up)?\W*$",
    re.IGNORECASE,
)
_HOW_MANY = re.compile(
    r"\bhow many (?P<thing>[a-z][\w -]{1,30}?)(?: are there| is it|,| do you| have)?\W*\?",
    re.IGNORECASE,
)
_ANSWER = re.compile(
    rf"^\W*(?:(?:so|er|um|just|only|there's|there are|it's|that's)\b[,\s]*)*{_NUMBER}\b(?=\s*(?:[,.!…]|$))",
    re.IGNORECASE,
)
_SHOWN_LATE = re.compile(
    r"^\W*(?:(?:and|so|now|okay|right|then)\b[,\s]*)*(?:(?:under|underneath|behind|below|beneath|inside|in) (?:that|there|it|this|here)(?: is|'s| you(?:'ve| have)? (?:got|find|see)| there's| we(?:'ve| have)? got| comes)|"  # noqa: E501
    r"that's|that is|this is|here's|here is|what you(?:'re| are) (?:looking at|seeing) (?:here |now )?is|now you can see|you can see)\s+"  # noqa: E501
    r"(?P<part>the [a-z][\w -]{1,30}?)(?=\s*(?:[,.!;]|$|\band\b|\bso\b|\bthat's\b|\bit's\b|\bwhich\b))",
    re.IGNORECASE,
)


def introduced(text: str, lexicon: Lexicon) -> list[Thing]:
    """Screws, clips, cables and the like that are brought in ("it's on clips"), or a thing named last behind a mark."""
    tokens = tokenise(text, lexicon)
    phrases = Phrases(tokens, lexicon, spoken=True)
    found: list[Thing] = []
    i = 0
    while i < len(tokens):
        opens = (
            phrases.is_det(i)
            or lexicon.is_noun(phrases.low(i))
            or phrases.low(i) in lexicon.numbers
        )
        thing, end = (
            phrases.phrase(i) if opens and phrases.kind(i) in ("word", "number") else (None, i)
        )
        if thing is None or end <= i:
            i += 1
            continue
        fresh = thing.article in ("a", "an", "some", "another", "") and (
            thing.plural or thing.article
        )
        beside = phrases.low(i - 1) == "with"
        marked = i > 0 and phrases.kind(i - 1) == "mark"
        last = all(token.kind == "mark" for token in tokens[end:])
        told = phrases.low(i - 1) in ("is", "are", "has", "have", "got", "it's", "there's")
        uncommon = thing.category in ("unknown", "part")
        counted = uncommon and isinstance(thing.count, int) and thing.plural
        if counted and told:
            found.append(thing)
        single = thing.count == 1 and thing.category == "fastener"
        small = (
            thing.category in _SMALL
            and not (
                beside
                and (thing.category not in ("fastener", "connector") or thing.head == "washer")
            )
            and (fresh or single or (thing.plural and thing.article == "the"))
        )
        if small or (thing.category in _PIECES and marked and last and thing.article == "the"):
            found.append(thing)
        i = end
    return found


def films_beside(text: str, lexicon: Lexicon) -> list[Thing]:
    """As in "one sneaky one under this sticker": what "peel that back" is said of."""
    if not _UNDER.intersection(text.lower().split()):
        return []
    phrases = Phrases(tokenise(text, lexicon), lexicon, spoken=True)
    rows = (
        phrases.phrase(k + 1)[0] for k in range(len(phrases.tokens)) if phrases.low(k) in _UNDER
    )
    return [thing for thing in rows if thing is not None and thing.category == "film"]


_UNDER = frozenset(["under", "underneath", "behind", "below", "beneath", "through"])
_BY_SIDES = re.compile(
    rf"\b(?:an?|one|a single|{_NUMBER})\s+(?P<thing>(?:[a-z-]+ ){{0,3}}?(?:screws?|bolts?|nuts?|clips?|latch|latches|tabs?|hooks?|pins?|studs?))\s+"  # noqa: E501
    r"(?:(?:at|on|in|along)\s+)?(?P<each>each|either|both|every)\s+(?P<place>ends?|sides?|corners?)\b",
    re.IGNORECASE,
)


def number_by_sides(text: str, lexicon: Lexicon) -> Thing | None:
    """As in "a screw at each end", "one bolt in every corner": how many there are in all."""
    match = _BY_SIDES.search(text)
    if match is None:
        return None
    thing, _ = Phrases(tokenise(match["thing"], lexicon), lexicon, spoken=True).phrase(0)
    if thing is None or not thing.name:
        return None
    sides = 4 if match["place"].lower().startswith("corner") else 2
    name = thing.name if thing.plural else f"{thing.name}s"
    return replace(
        thing,
        name=name,
        count=sides * (_value(match["number"]) if match["number"] else 1),
        plural=True,
    )


def bare_screws(text: str, lexicon: Lexicon) -> Thing | None:
    """As in "So, two screws, and lift the bracket away", "Three screws.": counted, and nothing said."""
    tokens = tokenise(text, lexicon)
    phrases = Phrases(tokens, lexicon, spoken=True)
    i = 0
    while i < len(tokens) and (
        tokens[i].kind == "mark" or tokens[i].low in lexicon.words["openers"]
    ):
        i += 1
    counted = phrases.kind(i) == "number" or phrases.low(i) in lexicon.numbers
    thing, end = phrases.phrase(i) if counted else (None, i)
    if thing is None or thing.category != "fastener" or not isinstance(thing.count, int):
        return None
    if phrases.low(end) in ("at", "on", "in", "along", "under", "behind", "round", "around"):
        end = max(end + 1, phrases.phrase(end + 1)[1])
    return thing if end >= len(tokens) or phrases.kind(end) == "mark" else None


def number_of_those(text: str) -> int | None:
    """As in "so six of those", "four in all": the number of what was named before."""
    match = _OF_THOSE.match(text)
    return None if match is None else _value(match["number"] or match["sum"] or match["placed"])


_ASKED_AND_TOLD = re.compile(
    r"\bhow many (?P<thing>(?:[a-z-]+ ){0,2}?(?:screws|bolts|nuts|clips|plugs|cables|wires|tabs|pins))\b(?:'s that| is that| are there| is it)?\W+(?P<rest>.*)$",  # noqa: E501
    re.IGNORECASE,
)
_PLACED_NUMBER = re.compile(
    rf"\b{_NUMBER}(?= (?:more )?(?:at|on|in|inside|along|under|behind|up|down|here|there|each|by|across)\b)",
    re.IGNORECASE,
)


def asked_and_told(text: str, lexicon: Lexicon) -> Thing | None:
    """As in "how many screws two at the top and two inside the door": asked and answered in one breath."""
    match = _ASKED_AND_TOLD.search(text)
    if match is None:
        return None
    placed = [_value(number["number"]) for number in _PLACED_NUMBER.finditer(match["rest"])]
    alone = answered_number(match["rest"].split(",")[0] + ",")
    number = sum(placed) or alone
    thing, _ = Phrases(tokenise(match["thing"], lexicon), lexicon, spoken=True).phrase(0)
    if thing is None or not number:
        return None
    return replace(thing, count=number, plural=number > 1)


def counted_behind(text: str) -> int | None:
    """As in "they're bullet connectors, three of them": how many."""
    match = re.search(rf",\s*{_NUMBER} of (?:them|those|these)\b", text, re.IGNORECASE)
    return None if match is None else _value(match["number"])


_KEPT = re.compile(
    rf"\b(?:the|those|these) (?:other )?{_NUMBER}(?: ones?| screws?| bolts?| of (?:them|those))? (?:(?:at|on|in|along|by|near|under) [\w' -]{{3,30}}? )?(?:just |only |all )?"  # noqa: E501
    r"(?:stay|are captive|remain|don't come|won't come|live|aren't meant to come)\b",
    re.IGNORECASE,
)


def number_kept(text: str) -> int | None:
    """As in "the two at the front stay with the cover, so those you just undo": how many stay in."""
    match = _KEPT.search(text)
    return None if match is None else _value(match["number"])


def asked_number(text: str, lexicon: Lexicon) -> Thing | None:
    """As in "And then how many screws?": what the number in the answer will count."""
    match = _HOW_MANY.search(text) or _COUNT_THEM.search(text)
    if match is None:
        return None
    thing, _ = Phrases(tokenise(match["thing"], lexicon), lexicon, spoken=True).phrase(0)
    return thing if thing is not None and thing.category in _SMALL else None


def answered_number(text: str) -> int | None:
    """As in "Five, with washers.": the number that was asked for."""
    match = _ANSWER.match(text)
    return None if match is None else _value(match["number"])


def shown_part(text: str, lexicon: Lexicon) -> tuple[Thing | None, int]:
    """As in "so underneath that is the inner lid": a part that comes into view, and where its name ends."""
    match = _SHOWN_LATE.match(text)
    if match is None:
        return None, 0
    tokens = tokenise(match["part"], lexicon)
    thing, end = Phrases(tokens, lexicon, spoken=True).phrase(0)
    if thing is None or end < len(tokens) or thing.category not in _PIECES - {"unknown"}:
        return None, 0
    return thing, match.end()


def _value(word: str) -> int:
    return int(word) if word.isdigit() else SMALL_NUMBERS[word.lower()]


_NUMBER_ALONE = re.compile(
    rf"^\W*(?:(?:and|so|then|now|plus|also|okay|right|first|next)\b[,\s]*)*"
    rf"(?:the (?:other )?|another |these |those )?{_NUMBER}"
    r"(?P<more> more| others?)?(?: (?:of (?:them|those|these)|ones?))?"
    r"(?P<place> (?:at|on|in|along|under|round|around|down|up|through|from) (?:the|each|this|that|your|here|there|top|bottom)\b[\w '-]*?)?"  # noqa: E501
    r"(?P<goes> (?:goes?|come|comes) (?:back )?(?:in|out|on|off))?(?: with\b.*| too| as well| first| again| next)?\W*$",
    re.IGNORECASE,
)


def number_alone(text: str) -> tuple[int, bool] | None:
    """As in "and then three more along the bottom", "the two at the top": a number, and whether it tells where they go.

    The second value is true where the words say by themselves that these are worked on: "more", "go in".
    """
    match = _NUMBER_ALONE.match(text)
    if match is None or not (match["more"] or match["place"] or match["goes"]):
        return None
    return _value(match["number"]), bool(match["more"] or match["goes"])
