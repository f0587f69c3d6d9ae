"""Lines under "Before you begin" or "Remove first": each names a part that is off, or a state of the machine."""

from __future__ import annotations

import re

from lastscrew.reading.asked_by_sense import STATES
from lastscrew.reading.before_words import (
    NOUN_REMOVAL,
    OFF,
    clean,
    is_state,
    is_tied,
    objects_after,
    strip_reference,
    things_of,
    together,
)
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.not_asked import is_not_asked
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.prerequisite_forms import made_safe
from lastscrew.reading.required import Required
from lastscrew.reading.tokens import tokenise

_IN_A_STATE = re.compile(
    r"\b(?:is|are|has been|have been)\s+(?:\w+\s+)?(?:open|closed|drained|locked|unlocked|raised|lowered|empty|emptied|blocked|cool|cold|tagged|disconnected|unplugged|isolated|parked|discharged|depressurised|depressurized|shut)\b",  # noqa: E501
    re.IGNORECASE,
)
"""As in "the tank is drained": the machine is in a state, no part is off."""
STATE_ALONE = re.compile(
    r"^\W*(?:[\w -]{1,40}\b(?:valve|tap|cock|breaker|isolator|switch|circuit|door|gate|drawer|drain)s? open(?:ed)?|"
    rf"[A-Za-z][\w /-]{{1,40}}\s(?:{'|'.join(sorted(STATES - {'open', 'opened'}, key=len, reverse=True))}|vented|pulled|depressuri[sz]ed|chocked|tagged out))\W*$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "mast lowered" in a list of what must be so."""


_UNIT = re.compile(r"^(?:(?:FRU|CRU|unit)\s+)?\d{3,4}(?:-\d+)?\s*[:–-]?\s+(?=[A-Z])")
"""As in "1010 Base cover": the number of a chapter, no part of the name."""
_FORBIDDEN = re.compile(r"^\W*(?:please\s+)?(?:do not|don't|never|avoid)\b", re.IGNORECASE)


_BY_ITSELF = re.compile(
    r"\s+(?:takes?|took|taken|comes?) (?:up|off|out|down|away)(?: (?:first|already|finished|complete[d]?))?\W*$",
    re.IGNORECASE,
)
"""As in "bottom case takes up", translated: the part is off."""
_YOU_HAVE = re.compile(
    rf"^\W*you(?:'ve| have)(?: already)? (?=(?:{OFF}|disconnected|unplugged|drained|isolated)\b)",
    re.IGNORECASE,
)
"""As in "You have removed the rear cover": asks for the same as "removed the rear cover"."""
_LIT = re.compile(
    r"\b(?:leds?|lamps?|lights?|indicators?|displays?|screens?)(?: \([^)]*\)| [a-z]?\d+)?(?: (?:on|of) (?:the|its) [\w -]{2,30}?)? (?:is|are) (?:not |both |all |now )?(?:off|on|out|dark|lit|blank|steady|green|amber|red|blue|white)\b",  # noqa: E501
    re.IGNORECASE,
)
"""As in "the Power LED (2) is off": dark, no part is off."""
_TELLS = re.compile(
    r"\b(?:is|are|has|have)\s+(?:been\s+)?(?:\w+ly\s+)?\w+\W*(?:too|as well)?\W*$", re.IGNORECASE
)
_AND = re.compile(r"\s*(?:,|&|\+|/|\band\b)\s*(?:the |both )?", re.IGNORECASE)
_PARTS = frozenset(["part", "cover", "board", "card", "drawer"])


_ADDED = r"(?:first|please|then|and|also|in addition|additionally|furthermore)"
_FROM_ITS_PLACE = re.compile(
    r"\s+(?:from|out of|off)\s+(?:the|its|their|your)\s+[\w -]{2,40}$", re.IGNORECASE
)
"""As in "the controller | from the cabinet" under "Remove the following:"."""


def _parts_alone(text: str, lexicon: Lexicon) -> list[Required]:
    """As in "Built-in battery pack": a line that names parts and says nothing else."""
    bare = _FROM_ITS_PLACE.sub("", text)
    kinds = _PARTS | {"device", "unknown"} if bare != text else _PARTS
    tokens = tokenise(bare, lexicon)
    things, end = Phrases(tokens, lexicon).list_of(0)
    if not things or end < len(tokens) or any(thing.category not in kinds for thing in things):
        return []
    return [Required("part", thing.name) for thing in things]


def listed(text: str, lexicon: Lexicon) -> list[Required]:
    """Prerequisites of one line under "Before you begin" or "Remove first"."""
    text = _UNIT.sub("", strip_reference(text).strip("\"“”'‘’ ")).strip("\"“”'‘’ ")
    if not text or _FORBIDDEN.match(text) or is_not_asked(text):
        return []
    text = together(_BY_ITSELF.sub("", _YOU_HAVE.sub("", text)))
    if _LIT.search(text):
        return [Required("state", text)]
    named = _parts_alone(text, lexicon)
    if named:
        return named
    safe = made_safe(text)
    if safe:
        return [Required("state", act) for act in safe]
    opening = things_of(text, lexicon)
    if opening and opening[0].category == "fastener":
        return []  # "The screws are of many kinds, do not mix them": advice
    if is_state(text, lexicon) and not re.match(
        rf"^\W*{OFF}\b(?!.*\bpower\b)", text, re.IGNORECASE
    ):
        return [Required("state", text)]
    if (_IN_A_STATE.search(text) or STATE_ALONE.match(text)) and not re.match(
        rf"^\W*{OFF}\b", text, re.IGNORECASE
    ):
        return [Required("state", text)]
    objects = objects_after(text, rf"^\W*(?:{_ADDED},?\s+)*{OFF}\b", lexicon)
    if not objects:
        done = re.search(
            r"\b(?:is|are|has been|have been|has|have|must be|be)\s+(?:already\s+)?(?:removed|detached|dismounted|dismantled|disassembled|unmounted|taken(?: off| out| down)?|off|opened?)\b",  # noqa: E501
            text,
            re.IGNORECASE,
        )
        if done:
            objects = [
                thing.name
                for thing in things_of(text[: done.start()], lexicon)
                if not thing.is_pronoun
            ]
    if not objects and re.match(
        r"^\W*(?:follow|perform|complete|carry out|do|see|refer)", text, re.IGNORECASE
    ):
        objects = objects_after(text, rf"\b{OFF}\b", lexicon)
    if not objects:
        bare = re.match(
            r"^\W*(?P<part>[\w/ -]{2,40}?)\s+(?:removed|off|detached)\W*$", text, re.IGNORECASE
        )
        objects = _AND.split(bare["part"]) if bare else []
    if objects and all(is_tied(name, lexicon) for name in objects):
        return [Required("state", text)]
    if objects:
        return [
            Required("part", name)
            for name in objects
            if name.lower().split()[-1]
            not in ("component", "part", "item", "parts", "components", "unit")
        ]
    noun = NOUN_REMOVAL.search(text)
    if noun:
        return [Required("part", clean(noun["part"]))]
    if re.search(
        r"\b(?:disconnect|unplug|turn|shut|switch|place|put|wear|allow|wait|discharge|back up|set|drain|press|hold|close|make sure|ensure|clear|gather|save|exit|note|read|have|prepare|obtain|follow|be|keep|use|work|attach|check|lay|connect)\b",  # noqa: E501
        text,
        re.IGNORECASE,
    ):
        return [Required("state", text)]
    tokens = tokenise(text, lexicon)
    things, end = Phrases(tokens, lexicon).list_of(0)
    if (
        things
        and end >= len(tokens) - 2
        and not _TELLS.search(text)
        and all(thing.category not in ("text", "tool", "body") for thing in things)
    ):
        return [Required("part", thing.name) for thing in things if thing.name]
    return [Required("state", text)] if things else []
