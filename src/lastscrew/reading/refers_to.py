"""Prerequisites that only refer: "Before: hood, lamp.", "Do 1, 2 and 3 first.", "After sections 4.1 and 4.2".

Numbers and letters are those of the headings that the text has used so far.
"""

from __future__ import annotations

import re

from lastscrew.reading.lexicon import Lexicon

_LABEL = re.compile(
    r"^\W*(?:before(?: this| you start)?|first|after|prior(?: to this)?|start (?:with|from)|requires?|needs?|depends on|off first|beforehand)\s*:\s*(?P<rest>[^.;:]{2,90}?)\W*$",  # noqa: E501
    re.IGNORECASE,
)
_DO = re.compile(
    r"^\W*(?i:(?:first,?\s+)?(?:do|complete|carry out|perform|follow|work through|finish|after|see)\s+(?:the\s+)?(?:steps?|sections?|chapters?|parts?|procedures?|tasks?|jobs?|paragraphs?|paras?\.?|nos?\.?|§+)?)\s*"  # noqa: E501
    r"(?P<rest>(?:\d+(?:[.-]\d+)*|[A-Z])(?:\s*(?:,\s*and|,|and|&|to|–|-|through)\s*(?:\d+(?:[.-]\d+)*|[A-Z]))*)\s*(?i:first|before(?:hand)?|and (?:then )?come back(?: here)?|if not (?:yet |already )?done)?\W*$",  # noqa: E501
)
_NUMBER = re.compile(r"^\W*(?P<number>\d+(?:[.-]\d+)*|[A-Z])(?:[.):]|\s[-–—])\s+\S")
_PARTS = ("part", "cover", "board", "card", "drawer", "film")


def number_of(text: str, mark: str) -> str:
    """The number or letter of a heading; ``""`` where it has none."""
    bare = mark.strip(" .)(:")
    if re.fullmatch(r"\d+(?:[.-]\d+)*|[A-Z]", bare):
        return bare
    match = _NUMBER.match(text)
    return match["number"] if match else ""


def referred(text: str, numbered: dict[str, str], lexicon: Lexicon) -> list[str]:
    """Names of the parts that a sentence of references asks to be off."""
    bare = re.sub(r"\s*\(see link\)", "", text.strip())
    done = _DO.match(bare)
    if done is not None:
        names = _of_numbers(done["rest"], numbered)
        if names:
            return names
    label = _LABEL.match(bare)
    if label is None:
        return []
    found = []
    for piece in re.split(r"\s*(?:,|\band\b|&|\+)\s*", label["rest"]):
        name = re.sub(r"^(?:the|your)\s+", "", piece.strip(), flags=re.IGNORECASE)
        known = numbered.get(name)
        words = tuple(name.lower().split())
        titled = name.lower() in {part.lower() for part in numbered.values()}
        if known:
            found.append(known)
        elif words and len(words) <= 4 and (titled or lexicon.category(words) in _PARTS):
            if not titled and lexicon.verb_of(words[0], "base") and not lexicon.is_noun(words[0]):
                return []
            found.append(name)
        else:
            return []
    return found


def _of_numbers(rest: str, numbered: dict[str, str]) -> list[str]:
    keys = list(numbered)
    ranged = re.fullmatch(r"(\S+)\s*(?:to|–|-|through)\s*(\S+)", rest.strip())
    if ranged and ranged[1] in numbered and ranged[2] in numbered:
        return [numbered[k] for k in keys[keys.index(ranged[1]) : keys.index(ranged[2]) + 1]]
    wanted = [piece for piece in re.split(r"\s*(?:,|\band\b|&)\s*", rest.strip()) if piece]
    return [numbered[k] for k in wanted] if all(k in numbered for k in wanted) else []
