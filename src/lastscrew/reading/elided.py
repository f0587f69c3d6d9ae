"""Verbs whose object is left out: "unlock and unplug the cable", "slide the tool onto the plug and pull"."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.predicates import Found
from lastscrew.reading.tokens import Token

_PIECES = frozenset(["fastener", "part", "cover", "board", "card", "cable", "connector", "film"])
_DRAWN_ALONG = frozenset(["run", "work", "slide", "move", "drag", "sweep", "go", "guide", "walk"])
_WITH_TOOL = word_group("walk_with_tool")
_SCREWING = frozenset(["unscrew", "loosen", "undo", "tighten", "unbolt", "slacken", "screw"])
_HOLDING = frozenset(["hold", "grip", "pinch", "clamp", "grasp", "clip", "squeeze"])
_PULLING = frozenset(["pull", "draw", "unplug", "lift", "take", "pry"])


def _tool_before(tokens: list[Token], lemma: str, lexicon: Lexicon) -> str:
    """As in "take a pick and run it around the edge": the noun before the pronoun is a tool."""
    for index in range(len(tokens) - 1, -1, -1):
        category = lexicon.category((tokens[index].low,))
        if category in _PIECES:
            return ""
        if category == "tool":
            before = [token.low for token in tokens[max(0, index - 3) : index]]
            held = "with" in before or "using" in before
            return "" if held and lemma not in _DRAWN_ALONG else tokens[index].low
    return ""


_GRIPPING = frozenset(["get", "put", "clip", "clamp", "lock"])
"""As in "get your pliers on it and slide that back": what is gripped is moved, not the tool."""


def fill_elided(founds: list[Found], tokens: list[Token], lexicon: Lexicon) -> None:
    """As in "unlock and unplug the cable", "slide the tool onto the plug and pull away": who is meant."""
    for first, second in pairwise(founds):
        _screwed_there(first, second)
        under = [
            thing for thing in (*first.at, *first.to) if thing.category not in ("place", "text")
        ]
        if (
            first.to_word in ("under", "underneath", "beneath", "behind")
            and first.lemma in ("slide", "insert", "push", "slip", "work", "wedge", "place", "put")
            and second.lemma in ("pry", "prise", "lift", "lever", "pop", "pull", "ease")
            and under
            and second.things
            and second.things[0].is_pronoun
        ):
            first.things = [replace(thing, category="tool") for thing in first.things]
            second.things = under[-1:]
        if (
            second.lemma in _WITH_TOOL
            and second.things
            and second.things[0].name in ("it", "that", "this")
            and (second.to or second.at or second.particle or second.manner)
            and (
                (
                    first.tool
                    and not _is_hand(first)
                    and second.particle not in ("off", "out", "away")
                )
                or (first.things and first.things[-1].category == "tool")
            )
            and not (
                first.lemma in _GRIPPING and first.to_word in ("on", "onto", "round", "around")
            )
        ):
            name = first.tool or first.things[-1].name
            second.things = [Thing(name, name.split()[-1].lower(), "tool")]
    for found in founds:
        if found.lemma in _WITH_TOOL and found.things and found.things[0].name == "it":
            tool = _tool_before(tokens[: found.position], found.lemma, lexicon)
            if tool:
                found.things = [Thing(tool, tool, "tool")]
    for index, found in enumerate(founds):
        if found.key == "plug in" and not found.things and (not index or founds[index - 1].things):
            found.things = [Thing("plug", "plug", "connector")]  # "plug in and let it run"
            continue
        if found.things or (
            lexicon.verbs[found.key].klass == "other"
            and found.lemma
            not in ("push", "press", "pull", "rotate", "turn", "flip", "swing", "fold")
        ):
            continue
        following = founds[index + 1] if index + 1 < len(founds) else None
        previous = founds[index - 1] if index else None
        screws = _screws_before(tokens, found, lexicon)
        if screws is not None and (following is None or following.things[:1] != [screws]):
            found.things = [screws]
            continue
        if (
            following is not None
            and following.things
            and following.position - found.position <= 4
            and not following.weak
            and not (
                previous is not None
                and previous.things
                and tokens[following.position - 1].low == ","
                and tokens[found.position - 1].low in ("and", "then")
            )
        ):
            found.things = list(following.things)
        elif previous is not None and previous.things:
            found.things = _goes_on(previous, found)
    for found in founds:
        purpose = found.purpose
        if purpose is not None and not purpose.things and found.lemma in _HOLDING:
            # "hold both sides to pull out": what is held by its sides is pulled.
            it = purpose.lemma in _PULLING and purpose.particle in ("out", "off", "up", "away")
            purpose.things = [Thing("it", "it", "pronoun")] if it else []


def _goes_on(previous: Found, found: Found) -> list[Thing]:
    """What a verb without an object is done to, behind one that has its own."""
    if all(thing.category in ("tool", "body") for thing in previous.things):
        return list(previous.to)
    held = all(thing.category in ("lock", "clip", "button") for thing in previous.things)
    if held and found.lemma in _PULLING and found.particle in ("out", "off", "up", "away"):
        return [Thing("it", "it", "pronoun")]  # "Press the lock and pull out."
    return list(previous.things)


_HELD_THERE = frozenset(["hold", "set", "place", "put", "lay", "position", "offer", "fit", "lower"])


def _screwed_there(first: Found, second: Found) -> None:
    """As in "Hold the box against the plate and screw it on with two bolts": they join the box and the plate."""
    screws = [thing for thing in second.means if thing.category == "fastener"]
    it = bool(second.things) and second.things[0].is_pronoun
    if screws and it and not second.to and first.to and first.lemma in _HELD_THERE:
        second.to = [thing for thing in first.to if thing.category not in ("place", "text")]


def _is_hand(found: Found) -> bool:
    """As in "hold it with one hand and slide it out": what slides is what was held."""
    return found.tool.split()[-1].lower() in ("hand", "hands", "finger", "fingers", "thumb")


def _screws_before(tokens: list[Token], found: Found, lexicon: Lexicon) -> Thing | None:
    """As in "The fan has two screws, unscrew and take it away": what is unscrewed is the screws."""
    if found.lemma not in _SCREWING or found.particle:
        return None
    phrases = Phrases(tokens, lexicon)
    for k in range(found.position - 1, -1, -1):
        thing, end = phrases.phrase(k)
        if thing is not None and end <= found.position and thing.category == "fastener":
            whole, after = phrases.phrase(max(0, k - 1)) if k else (None, 0)
            return (
                whole if whole is not None and after == end and whole.head == thing.head else thing
            )
    return None
