"""Small rules of English inflection: singular of a noun, forms of a verb."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal

_IRREGULAR = {
    "feet": "foot", "feets": "foot", "teeths": "tooth", "shcs": "shcs", "bhcs": "bhcs", "fhcs": "fhcs", "teeth": "tooth", "halves": "half", "knives": "knife", "shelves": "shelf", "men": "man",  # noqa: E501
    "batteries": "battery", "assemblies": "assembly", "assys": "assembly", "assy": "assembly", "sub-assemblies": "sub-assembly",  # noqa: E501
    "bodies": "body", "cavities": "cavity", "memories": "memory", "hands": "hand", "axes": "axis", "chassis": "chassis",
    "tweezers": "tweezers", "pliers": "pliers", "cutters": "cutters", "bus": "bus", "lens": "lens", "lenses": "lens",
    "glass": "glass", "apparatus": "apparatus", "bezels": "bezel", "wireless": "wireless", "axis": "axis", "bios": "bios",  # noqa: E501
    "dimms": "dimm", "fpcs": "fpc", "leads": "lead", "gas": "gas", "status": "status", "process": "process", "settings": "settings",  # noqa: E501
    "boss": "boss", "bosses": "boss", "forceps": "forceps", "os": "os", "radius": "radius", "basis": "basis", "harness": "harness",  # noqa: E501
    "harnesses": "harness", "bay": "bay", "access": "access", "guts": "guts", "electronics": "electronics", "scissors": "scissors",  # noqa: E501
    "dies": "die", "ties": "tie", "zip-ties": "zip-tie", "cookies": "cookie", "movies": "movie",
}  # fmt: skip
_VOWELS = "aeiou"


@lru_cache(maxsize=20_000)
def noun_singular(word: str) -> str:
    """Singular of a lower-case noun; a singular one comes back as it is."""
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    word = word.removesuffix("'s")
    if len(word) < 4 or not word.endswith("s") or word.endswith(("ss", "us", "is")):
        return word
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "xes", "sses", "zes")):
        return word[:-2]
    return word[:-1]


_SOCKET = re.compile(r"(?:cn|conn?|jp?|jst|xp)-?\d{1,3}[a-z]?")
_DESIGNATOR = re.compile(r"(?:cn|con|conn|jp|jst|[a-z])-?\d{1,3}[a-z]?")


def is_designator(word: str) -> bool:
    """As in "CN5", "J12", "p3": what a board has printed beside a connector, in small letters."""
    return bool(_DESIGNATOR.fullmatch(word))


def is_socket(word: str) -> bool:
    """As in "CN5", "J12": the letters say that it is a connector."""
    return bool(_SOCKET.fullmatch(word))


def is_plural(word: str) -> bool:
    """True where the singular differs from the word itself."""
    return noun_singular(word) != word


Form = Literal["base", "s", "ing", "past"]


def verb_forms(lemma: str, irregular: tuple[str, ...]) -> list[tuple[str, Form]]:
    """Surface forms of a verb: ``(surface, form)``, British doubling included."""
    forms: list[tuple[str, Form]] = [(lemma, "base")]
    ending = "es" if lemma.endswith(("s", "x", "z", "ch", "sh", "o")) else "s"
    stem = lemma[:-1] if _consonant_y(lemma) else lemma
    forms.append((stem + "ies" if _consonant_y(lemma) else lemma + ending, "s"))
    for base in _stems(lemma):
        forms.append((base + "ing", "ing"))
        if not irregular or irregular[0].endswith("ing") or lemma in ("fit", "pry"):
            forms.append((base + "ed", "past"))
    if _consonant_y(lemma):
        forms.append((stem + "ied", "past"))
    forms += [(word, "past") for word in irregular if not word.endswith("ing")]
    return forms


def _consonant_y(lemma: str) -> bool:
    return lemma.endswith("y") and lemma[-2] not in _VOWELS


def _stems(lemma: str) -> list[str]:
    """Stems before ``-ing`` and ``-ed``: pry, remov, clipp, unplugg."""
    if lemma.endswith("ie"):
        return [lemma[:-2] + "y"] if lemma != "tie" else ["ty", "ti"]
    if lemma.endswith("e") and not lemma.endswith(("ee", "oe", "ye")):
        return [lemma[:-1]]
    short = len(lemma) > 2 and lemma[-1] not in _VOWELS + "wxy" and lemma[-2] in _VOWELS
    if short and (len(lemma) < 4 or lemma[-3] not in _VOWELS):
        return [lemma + lemma[-1], lemma]
    return [lemma]
