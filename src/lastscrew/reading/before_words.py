"""Words of what comes before that all its searches share: what is off, the things a stretch names, references left out."""  # noqa: E501

from __future__ import annotations

import re

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import tokenise

OFF = r"(?:remov\w*|detach\w*|open(?:ing|ed)?|disassembl\w*|dismantl\w*|(?:dis|de)mount\w*|withdraw\w*|tak(?:e|ing|en) (?:off|out)|uninstall\w*|extract\w*|lift\w* off|unmount\w*|pull\w* out|disengag\w*|separat\w*|unscrew\w*)"  # noqa: E501
NOUN_REMOVAL = re.compile(
    r"(?:the\s+)?(?P<part>[\w/& -]{2,50}?)[\s-](?:removal|disassembly|opening|extraction|teardown|disconnection)\b",
    re.IGNORECASE,
)


def is_state(text: str, lexicon: Lexicon) -> bool:
    """True where the text speaks of power, static, cooling and the like rather than of a part."""
    low = text.lower()
    return any(
        phrase in low and not _names_a_piece(low, phrase, lexicon)
        for phrase in lexicon.phrases["power_states"]
    )


def _names_a_piece(low: str, phrase: str, lexicon: Lexicon) -> bool:
    """As in "drain pump", "ground strap", "backup battery": everywhere the word is only the first of a name."""
    if " " in phrase or phrase in _POWER:
        return False
    behind = re.findall(rf"{re.escape(phrase)}\w* ?([a-z]*)", low)
    return all(word and lexicon.category((word,)) in _PIECES for word in behind)


_POWER = frozenset(["strap", "mains", "esd", "peripherals", "antistatic", "anti-static", "static"])
_PIECES = frozenset(["part", "board", "card", "cover", "drawer", "cable", "connector", "fastener", "clip", "lock"])  # fmt: skip  # noqa: E501


_APART = re.compile(
    r"^(?P<lead>\W*(?:(?:first|please|then|and|also)\b,?\s*)*)(?P<verb>take|lift|pull|draw)\s+(?P<thing>(?:the|your|both)\s+[\w -]{2,40}?)\s+(?P<way>off|out)\b",  # noqa: E501
    re.IGNORECASE,
)


def together(text: str) -> str:
    """As in "take the tray out" for "take out the tray"."""
    return _APART.sub(r"\g<lead>\g<verb> \g<way> \g<thing>", text)


def is_tied(name: str, lexicon: Lexicon) -> bool:
    """True of a cable, a plug or the mains: what is pulled out leaves a state behind, no part that is off."""
    return lexicon.category(tuple(name.lower().split())) in ("cable", "connector", "power")


def objects_after(text: str, pattern: str, lexicon: Lexicon) -> list[str]:
    """Names of what is named behind each match of a pattern."""
    names: list[str] = []
    for match in re.finditer(pattern, text, re.IGNORECASE):
        tokens = tokenise(text[match.end() :], lexicon)
        things, _ = Phrases(tokens, lexicon).list_of(0)
        names += [
            thing.name
            for thing in things
            if thing.name
            and not thing.is_pronoun
            and not re.fullmatch(r"[\d.-]+", thing.name)
            and thing.category not in ("text", "force")
            and (thing.category != "tool" or thing.article == "the")
        ]
    return list(dict.fromkeys(names))


def things_of(text: str, lexicon: Lexicon) -> list[Thing]:
    """Things that a stretch begins with, without tools and words of the text."""
    text = re.sub(
        r"^\W*(?:first|note that|make sure|ensure|that|if|all)\s+",
        "",
        text.strip(),
        flags=re.IGNORECASE,
    )
    things, _ = Phrases(tokenise(text, lexicon), lexicon).list_of(0)
    return [thing for thing in things if thing.name and thing.category not in ("text", "tool")]


def strip_reference(text: str) -> str:
    """The words without "(see 4.2)", "on page 12" and the like."""
    text = re.sub(
        r"\s*\((?:see|refer|p\.|pp\.|page|section|sect|chapter|steps?|cf|\d+(?:\.\d+)+|(?:FRU|CRU|unit|task|proc\w*|job|card|sheet|WP|[a-z]{2,3}-)\s*\d+)[^)]*\)",
        "",
        text,
        flags=re.IGNORECASE,
    )
    text = re.sub(
        r"[\s,;–—-]*(?:\b(?:see|refer to|as described (?:in|on|under)|as explained in|as shown in|as outlined in|according to|as per|on page|by following|following the)\b|[▶►→]).*$",  # noqa: E501
        "",
        text,
        flags=re.IGNORECASE,
    )
    text = re.sub(r"\s+\.{2,}\s*\d+$|\s+\d{1,3}$", "", text)
    return text.strip().strip(".,;:•-– ").strip()


def clean(text: str) -> str:
    """A name without its article and "steps of"."""
    return re.sub(
        r"^(?:the|a|an|steps? (?:in|of)|of|in)\s+", "", text.strip(), flags=re.IGNORECASE
    ).strip()
