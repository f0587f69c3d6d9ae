"""Words of field cards: fasteners, sizes, counts and details, as patterns that the reading of a line is built from."""

from __future__ import annotations

import re

from lastscrew.reading.lexicon.groups import SMALL_NUMBERS, word_group

NOUN = (
    r"(?:(?:captive|cap|thumb|hex|shoulder|pan|csk|countersunk|long|short|blue|black|silver|socket|allen|torx|self-tapping|grub|set|machine|jam|lock|wing|flange|gland|quarter-turn|plastic|push|snap|pop|[\w-]+ head)[ -]?)*"  # noqa: E501
    r"(?:screws?|bolts?|nuts?|thumbscrews?|standoffs?|studs?|self-tappers?|1/4-turns?|quarter-turns?|quarter-turn fasteners?|allens?|rivets?|circlips?|e-clips?|pillars?|spacers?|hexposts?|jackscrews?)"  # noqa: E501
)
SIZE = (
    r"(?:M\d{1,2}(?:[.,]\d)?(?:\s?[x×]\s?\d+(?:[.,]\d)?)?|T[Xx]?\d{1,2}\b|PH\d?\b|PZ\d\b|\d{1,2}-\d{2}\b(?:\s?[x×]\s?[\d/]+)?"
    r"|\d+(?:[.,]\d)? ?mm(?: A/F| hex)?|hex\b|torx\b|csk\b|pan\b|Allen\b|countersunk\b|c/sunk\b)"
)
SIZES = rf"(?:{SIZE}[ ,]*)*"
IS_NOUN = re.compile(rf"^{NOUN}$", re.IGNORECASE)
HAS_NOUN = re.compile(rf"\b{NOUN}\b", re.IGNORECASE)
IS_SIZE = re.compile(rf"^{SIZE}$", re.IGNORECASE)
METRIC = re.compile(r"\bM\d|\d-\d\d", re.IGNORECASE)
SPLIT = re.compile(r"(?:;|,(?![^(]*\))|(?<!\d)[.!](?=\s|$)|(?<=\d)\.(?=\s|$)|\s[-–—]\s)\s*")
DETAIL = re.compile(
    rf"^(?:to\s+)?(?:\d+(?:[.,]\d+)?\s?(?:n ?m|n ?cm|n·m|kgf?·?cm|in-?lbs?|kg|mm|cm|min\w*|sec\w*|s|turns?)(?: deep| travel)?|{SIZES}|(?:plug|cap|bag|cover) (?:both |all )?(?:ends|holes|ports|openings)|all round|loctite|tension\w*|heavy!?|captive|corners?|sides?|(?:on |at )?(?:each|both) (?:side|end|corner)s?|(?:and )?click\w*|thin\w*|even\w*|washers?|nil|none|in order|(?:undo |loosen |tighten )?in sequence|leave \d .*|till last|crosswise|criss-?cross|diagonal\w*|"  # noqa: E501
    r"arrow .+|label .+|labels? \w+|careful\w*|gentl\w+|hand.?tight|finger.?tight|snug\w*|note\b.*|keep .+|mark .+|mind .+|watch .+|save .+|do not .+|don't .+|no (?:force|tools?)|two persons|2 persons|\d persons?|two people|edge only|support .+|\w+ (?:edge|side|end|one|ones) (?:first|last)|\w+ first|(?:then )?body|from (?:front|rear|left|right|below|above|top|underneath|behind)|front|rear|left|right|top|bottom|hidden .+|one (?:under|behind|hidden|longer|short|long)\b.*|last one .*|(?:till|until|to) (?:it )?(?:click|stop)\w*|flush|both sides|teeth \w+|same way|as marked|tight fit|push fit|stiff|discharge .+|cap(?:s)? hot|hot|ok|(?:belt )?defl\w* .+|check .+|chk .+|torque .+|size \w+|colou?r .+|(?:\w+ )?(?:stays?|stay put)(?: .*)?)$",  # noqa: E501
    re.IGNORECASE,
)
_LABEL = r"[A-Z]{1,5}-?\d{1,3}[A-Z]?"
_JOINT = r"(?:(?:,| and| &|/|\s*\+|-| to| or)?\s+)"
DESIGNATOR = re.compile(
    rf"^(?:{_LABEL}(?:{_JOINT}(?:{_LABEL}|[A-Z]{{1,2}})|[-/,](?:[A-Z]{{0,5}}\d{{1,3}}))*|[A-Z]{{1,2}}(?:{_JOINT}[A-Z]{{1,2}})+)$"
)
"""As in "P1, P2", "CN1 + CN2", "J1-J4", "U V W and PE": connectors by their labels."""
POWER = word_group("card_power")
ORDERS = frozenset(word_group("card_orders"))
PLACES = frozenset(word_group("card_places"))
NUMBERS = {word: str(value) for word, value in SMALL_NUMBERS.items()}


def article(thing: str) -> str:
    """A thing of a card with "the" before it, "&" and "+" as "and"."""
    thing = re.sub(r"^(?:the|all|each|ea\.?)\s+", "", thing.strip(), flags=re.IGNORECASE)
    thing = thing[:1].lower() + thing[1:] if not thing[:2].isupper() else thing
    thing = thing.replace("&", "and").replace(" + ", " and ")
    return f"the {re.sub(r',(?= )', ' and', thing)}"


def is_power(thing: str) -> bool:
    """True where a thing is the mains, a breaker, a key …, whose state is no work on a part."""
    return bool({word.lower().strip(".,") for word in thing.split()} & POWER)
