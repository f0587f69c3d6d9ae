"""Letters that a scanner took for others: ``cab1e``, ``Rernoval``, ``l2 screws``.

A word is mended only where it is unknown, and where the exchange of letters that scanners confuse makes a word
of the lexicon or one that stands elsewhere in the text. Nothing else is touched, and a text without such words
is left as it is.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from itertools import combinations
from typing import Final

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.model import Source

_CONFUSED: Final = (
    ("rn", "m"), ("vv", "w"), ("cl", "d"), ("ii", "u"), ("li", "h"), ("nn", "m"), ("1", "l"), ("1", "i"), ("0", "o"),
    ("5", "s"), ("8", "b"), ("6", "b"), ("9", "g"), ("|", "l"), ("!", "l"), ("m", "rn"), ("d", "cl"), ("c", "e"),
    ("e", "c"), ("t", "f"), ("f", "t"), ("h", "b"), ("b", "h"), ("l", "t"), ("t", "l"), ("i", "l"), ("l", "i"),
    ("u", "n"), ("n", "u"), ("o", "a"), ("h", "li"),
)  # fmt: skip
"""What is printed, and what was meant; from memory of scanned pages, no source."""

_SURE: Final = 15
"""The first so many pairs need only one place in a text; the others are tried where the page is a scan."""

_WORD: Final = re.compile(
    r"(?<![\w|])[A-Za-z][\w|!]*[A-Za-z0-9|](?![\w|])|(?<![\w|])[0-9|!][a-z]{2}[\w|]*"
)
_PLAIN: Final = re.compile(r"[A-Za-z]+(?:-[A-Za-z]+)*")
_LEAST: Final = 4
"""Letters that a word must have: of shorter ones too many are like each other."""

_A_SCAN: Final = 2
"""So many words with a digit for a letter, or with ``rn`` for ``m``, and the text is taken for a scanned one."""

_WORDS: Final = frozenset(("modern", "burn", "corn", "clip", "clear", "born"))
"""English words that would make another word of the lexicon."""

_COMMON: Final = frozenset(
    (
        "main", "mains", "metal", "small", "mounting", "middle", "maximum", "minimum", "manual", "machine", "remaining",
        "them", "from", "then", "when", "same", "some", "more", "must", "firm", "firmly", "arm", "thermal", "terminal",
        "memory", "module", "motor", "magnet", "bottom", "frame", "home", "time", "times", "warm", "system", "number",
    )
)  # fmt: skip
"""Words with an *m*, which scanners like to take for *rn*; they are in no list of the lexicon."""

_MOST_PLACES: Final = 8
_NUMBER: Final = re.compile(
    r"(?<![\w.])(?:[lI|](?P<behind>\d)|(?P<front>\d)[lI|]|(?P<ten>\d)[oO])(?![\w.])"
)
_PARTED: Final = re.compile(r"(?<![\w'-])([A-Za-z]+) (?=([a-z]+)(?![\w'-]))")
"""A word with a gap in it, such as ``scre ws``, up to the gap."""


def mended(source: Source, lexicon: Lexicon) -> Source:
    """The source with such words put right; every line keeps its number."""
    if source.spoken:
        return source
    known = Counter(word.lower() for line in source.lines for word in _PLAIN.findall(line.text))
    mender = _Mender(lexicon, known)
    sure = {
        match.group()
        for line in source.lines
        for match in _WORD.finditer(line.text)
        if mender.mend(match.group(), _CONFUSED[:_SURE])
    }
    if not sure:
        return source
    pairs = _CONFUSED if len(sure) >= _A_SCAN else _CONFUSED[:_SURE]

    def put_right(match: re.Match[str]) -> str:
        return mender.mend(match.group(), pairs) or match.group()

    lines = []
    for line in source.lines:
        text = _WORD.sub(put_right, line.text)
        if len(sure) >= _A_SCAN:
            text = _NUMBER.sub(_digits, text)
            text = _PARTED.sub(
                lambda match: match[1] if mender.joined(match[1], match[2]) else match[0], text
            )
        lines.append(line if text == line.text else replace(line, text=text))
    return replace(source, lines=tuple(lines))


def _digits(match: re.Match[str]) -> str:
    if match["behind"]:
        return f"1{match['behind']}"
    return f"{match['front']}1" if match["front"] else f"{match['ten']}0"


class _Mender:
    """Knows the words of the lexicon and of the text."""

    def __init__(self, lexicon: Lexicon, said: Counter[str]) -> None:
        self.lexicon = lexicon
        self.said = said
        self.remembered: dict[tuple[str, int], str] = {}

    def mend(self, word: str, pairs: tuple[tuple[str, str], ...]) -> str:
        """The word that is meant, in the same case; empty where there is none or the word is a word."""
        low = word.lower()
        key = (low, len(pairs))
        if key not in self.remembered:
            self.remembered[key] = self._meant(low, pairs)
        meant = self.remembered[key]
        if not meant:
            return ""
        if word.isupper():
            return meant.upper()
        return meant.capitalize() if word[:1].isupper() else meant

    def joined(self, front: str, behind: str) -> bool:
        """True for a word that a gap parts: neither piece is a word, and both together are one of the lexicon."""
        whole = (front + behind).lower()
        pieces = front.lower(), behind
        if len(whole) < _LEAST + 1 or any(self._is_word(p) or self.said[p] > 1 for p in pieces):
            return False
        if min(map(len, pieces)) == 1 and set(pieces) & {"a", "i"}:
            return False
        return whole in self.lexicon.forms or noun_singular(whole) in self.lexicon.categories

    def _meant(self, low: str, pairs: tuple[tuple[str, str], ...]) -> str:
        letters = sum(character.isalpha() for character in low)
        if letters < _LEAST - 1 or len(low) < _LEAST or low in _WORDS or self._is_word(low):
            return ""
        if re.fullmatch(
            r"[a-z]{1,2}\d+[a-z]?|[a-z]{3}\d+|\d+[a-z]{1,3}|[a-z]*\d+x\d+|[a-z]+\d{2,}", low
        ):
            return ""  # M2x5, J4, T10, 12mm, USB3: names and sizes
        places = [
            (low.find(wrong, at), wrong, right)
            for wrong, right in pairs
            for at in _places(low, wrong)
        ][:_MOST_PLACES]
        for number in (1, 2):
            for chosen in combinations(places, number):
                candidate = _exchanged(low, chosen)
                sure = all((wrong, right) in _CONFUSED[:_SURE] for _, wrong, right in chosen)
                if candidate.isalpha() and self._is_meant(candidate, low, sure=sure):
                    return candidate
        return ""

    def _is_meant(self, candidate: str, low: str, *, sure: bool) -> bool:
        """A word of the lexicon or of the text; letters that are only now and then confused need both."""
        often = self.said[candidate] > max(self.said[low], 1)
        if sure:
            return often or self._is_word(candidate)
        return often and self.said[low] == 1 and self._is_word(candidate)

    def _is_word(self, word: str) -> bool:
        lexicon = self.lexicon
        return (
            word in _COMMON
            or word in lexicon.forms
            or lexicon.is_noun(word)
            or noun_singular(word) in lexicon.categories
            or any(word in words for words in lexicon.words.values())
            or any(word in words for words in lexicon.headings.values())
            or word in lexicon.numbers
        )


def _places(word: str, piece: str) -> list[int]:
    found, at = [], word.find(piece)
    while at >= 0:
        found.append(at)
        at = word.find(piece, at + 1)
    return found


def _exchanged(word: str, chosen: tuple[tuple[int, str, str], ...]) -> str:
    """The word with the pieces exchanged; empty where they overlap."""
    out, last = "", 0
    for at, wrong, right in sorted(chosen):
        if at < last:
            return ""
        out += word[last:at] + right
        last = at + len(wrong)
    return out + word[last:]
