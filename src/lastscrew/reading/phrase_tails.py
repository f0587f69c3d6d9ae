"""What the end of a noun phrase says: numbers without a noun, letters that share one, "the black ones"."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.morphology import is_designator
from lastscrew.reading.model import Thing
from lastscrew.reading.phrase_words import Draft, PhraseWords

_SCREW_SIZE = re.compile(r"^(?:PM|PW[AB]|M)\d", re.IGNORECASE)


def counted_only(draft: Draft) -> Thing:
    """As in "the other two" and "four M4x16": a number or a size without a noun; thread and length are a screw's."""
    count = draft.count
    if not _SCREW_SIZE.match(draft.size):
        return Thing("", "", "pronoun", count, count != 1, draft.article, draft.size)
    one = count == 1 or (count is None and draft.article in ("a", "an", "the"))
    name = "screw" if one else "screws"
    count = 1 if one else count
    return Thing(name, "screw", "fastener", count, not one, draft.article, draft.size, draft.drive)


def named_by_last(things: list[Thing]) -> list[Thing]:
    """As in "the L, N and PE wires": letters and marks are what the last of them says."""
    last = things[-1]
    if len(things) < 2 or last.category not in ("cable", "connector") or not last.plural:
        return things
    return [
        replace(thing, category=last.category)
        if thing.category == "unknown" and thing.name.isupper() and len(thing.name) < 4
        else thing
        for thing in things
    ]


def noun_of(lows: list[str], lexicon: Lexicon) -> str:
    """The noun of a phrase: the last word, or the one before a designator ("the fan plug CN5")."""
    if len(lows) > 1 and is_designator(lows[-1]) and lexicon.is_noun(lows[-2]):
        return lows[-2]
    return lows[-1] if lows else ""


def coloured_like(first: Thing, thing: Thing) -> Thing:
    """As in "the black and the white antenna cable": the first is such a cable in another colour."""
    bare = bool(first.colour) and first.name.lower() == first.colour
    other = bool(thing.colour) and thing.colour != first.colour
    if not (bare and other and thing.name.lower().startswith(f"{thing.colour} ")):
        return first
    name = f"{first.colour} {thing.name[len(thing.colour) + 1 :]}"
    return replace(thing, name=name, colour=first.colour, article=first.article)


def completes(first: Thing, second: Thing) -> bool:
    """As in "the fan and speaker cables", "SATA and power cables": the last noun belongs to both."""
    bare = second.article == "" and second.count is None and second.plural and " " in second.name
    return (
        bare
        and second.category in ("cable", "connector")
        and first.category not in ("cable", "connector", "fastener", "pronoun")
        and not first.of
    )


def shares_count(first: Thing, second: Thing) -> bool:
    """As in "three M3 nuts and bolts": the number stands for both."""
    bare = second.article == "" and second.count is None and second.plural
    return bare and first.category == second.category == "fastener" and first.plural


def coloured_ones(phrases: PhraseWords, i: int) -> tuple[Thing, int] | None:
    """As in "the 6 black ones", "the 4 silvers", "two tiny ones": of what that colour or size was said before."""
    words, count, article = phrases.lexicon.words, None, ""
    if phrases.low(i) in words["determiners"]:
        article, i = phrases.low(i), i + 1
    number = phrases.low(i)
    if number.isdigit() or number in phrases.lexicon.numbers:
        count = int(number) if number.isdigit() else phrases.lexicon.numbers[number]
        i += 1
    low, follow = phrases.low(i), phrases.low(i + 1)
    if phrases.spoken or count is None:
        return None
    several = low.endswith("s") and low[:-1] in words["colours"]
    if low in words["colours"] | _SIZED and follow in ("ones", "one"):
        bare, end = low, i + 2
    elif several and (phrases.kind(i + 1) in ("", "mark") or follow in ("and", "from")):
        bare, end = low[:-1], i + 1
    else:
        return None
    colour = bare if bare in words["colours"] else ""
    name = f"{bare} ones"
    return Thing(name, "them", "pronoun", count, count != 1, article, colour=colour), end


_SIZED = frozenset(
    [
        "tiny",
        "small",
        "little",
        "big",
        "large",
        "long",
        "longer",
        "short",
        "shorter",
        "thin",
        "thick",
    ]
)
