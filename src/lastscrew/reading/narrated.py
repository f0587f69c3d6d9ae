"""Talks that tell what was done: "I've undone the screws and pulled the lead off, the cover's back on".

A voice note that a technician leaves gives no orders. Where a whole talk is told so, its acts are said as orders before
the grammar of speech reads it: the perfect and the past of the speaker, what goes on behind "and" or a comma in the
same sentence, and what is so by now ("both its screws are in"). What he did not do stays undone. Every line keeps its
number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import groupby

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Line, Source

_WORD = re.compile(r"[A-Za-z]+(?:['’-][A-Za-z]+)*|\d+|[.!?;,:]")
_TELLERS = frozenset(["i", "we"])
_PERFECT = frozenset(["i've", "we've", "i'd", "we'd"])
_HAVE = frozenset(["have", "had", "'ve"])
_BETWEEN = frozenset(["just", "then", "also", "now", "already", "only", "simply", "carefully", "first", "finally", "next"])  # fmt: skip  # noqa: E501
_NEGATED = frozenset(["not", "never"])
_DID_NOT = frozenset(["didn't", "haven't", "hadn't"])
_ASIDE = frozenset(["what", "that", "which", "than", "as", "where", "how", "when", "while", "if", "since", "whatever", "because", "like", "before", "until", "till"])  # fmt: skip  # noqa: E501
"""Behind these the speaker gives a circumstance and tells no act."""
_UNTOLD = frozenset(["need", "want", "like", "find", "notice", "have", "see", "say", "think", "know", "let", "go", "come", "get", "try", "make", "give", "keep", "run", "break", "mean", "feel", "hear", "wait", "bother", "forget"])  # fmt: skip  # noqa: E501
"""Acts of no work, or of work only where a thing and a particle are behind them."""
_WITH_PARTICLE = frozenset(["get", "let", "break", "have", "give"])
_PARTICLES = frozenset(["off", "out", "down", "up", "away", "apart", "back", "on", "in"])
_MORE = {"done": "do", "did": "do", "wedged": "wedge", "squared": "square", "wheeled": "wheel"}
_LEADS_IN = frozenset(["so", "then", "and", "next", "right", "okay", ",", "after", "that", "first"])
_GOES_ON = frozenset(["and", "then", ",", "just", "also"])
_LATE = {"came": "comes", "went": "goes", "lifted": "lifts"}
_SUPPLIES = frozenset(["power", "mains", "water", "gas", "air", "heating"])
_OFF = frozenset(["out", "off", "up", "away"])
_CAME = frozenset(["came", "comes", "come", "went"])
_SO_NOW = frozenset(["back", "on", "in", "off", "out", "up", "down", "home", "tight"])
_IS_NOW = {"was": "is", "were": "are", "wasn't": "isn't", "weren't": "aren't"}
_LED_TO = {
    ("managed", "to"),
    ("able", "to"),
    ("decided", "to"),
    ("started", "by"),
    ("began", "by"),
    ("finished", "by"),
    ("ended", "up"),
    ("went", "and"),
    ("went", "ahead"),
}
"""As in "I managed to get it off", "I ended up cutting it": the act stands behind."""
_FEWEST = 6
_PER_ORDER = 2


@dataclass(slots=True)
class _Word:
    """A word or stop of the talk and where it stands; ``new`` is what is said instead of it."""

    low: str
    row: int
    start: int
    end: int
    new: str | None = None


def as_orders(source: Source, lexicon: Lexicon) -> Source:
    """The source with its told acts said as orders; unchanged where the talk gives orders itself."""
    if not source.spoken:
        return source
    words = _words(source.lines)
    told = _Told(words, lexicon)
    told.rewrite()
    if told.acts < _FEWEST or told.acts < _PER_ORDER * _orders(words, lexicon):
        return source
    rows = list(source.lines)
    for row, own in groupby(words, key=lambda word: word.row):
        changed = [word for word in own if word.new is not None]
        if changed:
            rows[row] = replace(rows[row], text=_said(rows[row].text, changed))
    return replace(source, lines=tuple(rows))


def _words(lines: tuple[Line, ...]) -> list[_Word]:
    return [
        _Word(match.group().lower().replace("’", "'"), row, match.start(), match.end())
        for row, line in enumerate(lines)
        if line.kind != "furniture"
        for match in _WORD.finditer(line.text)
    ]


def _said(text: str, changed: list[_Word]) -> str:
    out, last = [], 0
    for word in changed:
        out += [text[last : word.start], word.new or ""]
        last = word.end
    return re.sub(r"  +", " ", "".join([*out, text[last:]])).strip()


def _orders(words: list[_Word], lexicon: Lexicon) -> int:
    """How many sentences and clauses open with an order."""
    opens, count = True, 0
    for index, word in enumerate(words):
        if opens and word.new is None and lexicon.verb_of(word.low, "base"):
            follow = words[index + 1].low if index + 1 < len(words) else ""
            count += follow in lexicon.words["determiners"] or follow in ("it", "them")
        opens = word.low in ".!?,;" or (opens and word.low in ("so", "then", "and", "now", "right"))
    return count


class _Told:
    """Finds the told acts from left to right."""

    def __init__(self, words: list[_Word], lexicon: Lexicon) -> None:
        self.words = words
        self.lexicon = lexicon
        self.acts = 0
        self.telling = False
        """The speaker is the subject of what goes on behind "and"."""

    def rewrite(self) -> None:
        """Every word once."""
        i = 0
        while i < len(self.words):
            low = self.low(i)
            if low in ".!?":
                self.telling = False
            i = max(
                i + 1,
                self._teller(i) or self._untold_subject(i) or self._goes_on(i) or self._state(i),
            )

    def low(self, i: int) -> str:
        """The word at ``i``, ``""`` outside."""
        return self.words[i].low if 0 <= i < len(self.words) else ""

    def _teller(self, i: int) -> int:
        """As in "I've just undone", "we then took", "I had to cut", "I didn't take"."""
        low = self.low(i)
        if low not in _TELLERS | _PERFECT:
            if low in self.lexicon.words["subjects"]:
                self.telling = False
            return 0
        j = i + 1
        if self.low(i - 1) in _ASIDE:
            return 0
        if self.low(j) in _DID_NOT:
            return self._replaced(i, j, "don't")
        perfect = low in _PERFECT
        if self.low(j) in _HAVE and (low in _TELLERS):
            perfect, j = True, j + 1
        while self.low(j) in _BETWEEN:
            j += 1
        if self.low(j) in ("was", "were") and (self.low(j + 1), self.low(j + 2)) == ("able", "to"):
            j += 1
        if (self.low(j), self.low(j + 1)) in _LED_TO:
            act = j + 2 + (self.low(j + 2) == "and")
            lemma = self.lexicon.verb_of(self.low(act), "base", "ing") or self._lemma(act)
            if lemma:
                self._act()
                return self._replaced(i, act, lemma)
        if self.low(j) in _NEGATED:
            lemma = self._lemma(j + 1)
            if not lemma:
                return 0
            self.words[j + 1].new = lemma
            return self._replaced(i, j, "don't")
        if self.low(j) in ("had", "got") or (perfect and self.low(j) == "to"):
            to = j if self.low(j) == "to" else j + 1
            if self.low(to) == "to" and self.lexicon.verb_of(self.low(to + 1), "base"):
                self._act()
                return self._replaced(i, to, "")
        if self.low(j) == "had" and self._particle_behind(j):
            self._act()
            return self._replaced(i, j, "take")
        lemma = self._lemma(j)
        if not lemma or not (perfect or self._object_behind(j)):
            return 0
        if not self.telling and self.low(i - 1) == "and" and self.low(i - 2) not in ".!?,":
            self.words[i - 1].new = "."  # "that's got a pin through it and I've pulled that out"
        self._act()
        return self._replaced(i, j, self._backed(j, lemma))

    def _backed(self, i: int, lemma: str) -> str:
        """As in "I've backed the grub screw off": "back" alone says where."""
        if lemma != "back":
            return lemma
        for j in range(i + 1, i + 6):
            if self.low(j) in ("off", "out"):
                self.words[j].new = ""
                return "loosen" if self.low(j) == "off" else "undo"
        return lemma

    def _untold_subject(self, i: int) -> int:
        """As in "Took the front panel off.": the speaker leaves himself out."""
        k = i
        while k > 0 and self.low(k - 1) in _LEADS_IN:
            k -= 1
        opens = k == 0 or self.low(k - 1) in ".!?"
        lemma = self._lemma(i) if opens and not self.lexicon.verb_of(self.low(i), "base") else ""
        if not lemma or not self._object_behind(i):
            return 0
        self._act()
        return self._replaced(i, i, lemma)

    def _act(self) -> None:
        self.acts += 1
        self.telling = True

    def _replaced(self, first: int, last: int, new: str) -> int:
        for k in range(first, last):
            if self.low(k) not in _BETWEEN:
                self.words[k].new = ""
        opens = first == 0 or self.low(first - 1) in ".!?"
        self.words[last].new = new.capitalize() if opens else new
        return last + 1

    def _lemma(self, i: int) -> str:
        """Base form of the past at ``i`` if it tells an act."""
        low = self.low(i)
        lemma = _MORE.get(low) or self.lexicon.verb_of(low, "past")
        if low == "done" and self.low(i + 1) in ("so", "far"):
            return ""
        if lemma in _UNTOLD and not (lemma in _WITH_PARTICLE and self._particle_behind(i)):
            return ""
        return lemma or ""

    def _particle_behind(self, i: int) -> bool:
        """As in "had the clamp bolts out", "got it all down"."""
        for j in range(i + 1, i + 7):
            low = self.low(j)
            if low in _PARTICLES and j > i + 1:
                return True
            verb = self.lexicon.verb_of(low, "s", "ing") and not self.lexicon.is_noun(low)
            if not low or low in ".,;!?" or verb:
                return False
        return False

    def _object_behind(self, i: int) -> bool:
        low = self.low(i + 1)
        words = self.lexicon.words
        return (
            low in words["determiners"]
            or low in words["quantifiers"]
            or low in words["pronouns"]
            or low in self.lexicon.numbers
            or low in _PARTICLES
            or low in ("everything", "each", "both", "all", "one", "new", "old")
            or low.isdigit()
            or self.lexicon.is_noun(low)
        )

    def _goes_on(self, i: int) -> int:
        """As in "… and drawn the pulley off", "…, taken the circlip off": the same speaker's next act."""
        before = self.low(i - 1)
        continues = before in _GOES_ON or (i > 0 and self.words[i - 1].row != self.words[i].row)
        loose = before in _PARTICLES or self.lexicon.is_noun(before)  # captions without stops
        if loose and self.low(i + 1) in self.lexicon.words["determiners"]:
            continues = True
        if not self.telling or not continues:
            return 0
        lemma = self._lemma(i)
        if not lemma or not self._object_behind(i):
            return 0
        self.acts += 1
        return self._replaced(i, i, self._backed(i, lemma))

    def _inverted(self, i: int) -> int:
        """As in "and out it came", "off came the fan"."""
        last = i + 1 if self.low(i + 1) in _CAME else i + 2
        between = self.low(i + 1)
        if last == i + 2 and between not in ("it", "they", "that", "she", "he"):
            return 0
        self._act()
        place = self.low(i)
        if last == i + 1:
            self.words[i].new = "take"
            return self._replaced(last, last, place)
        self.words[i].new, self.words[i + 1].new = "take", "them" if between == "they" else "it"
        return self._replaced(last, last, place)

    def _state(self, i: int) -> int:
        """As in "earth lead's on", "both its screws are in", "the belt came off", "the new motor's gone up"."""
        low = self.low(i)
        if low in _IS_NOW:
            return self._replaced(i, i, _IS_NOW[low])
        if low in _OFF and (self.low(i + 1) in _CAME or self.low(i + 2) in _CAME):
            return self._inverted(i)
        if low in _LATE and self.low(i + 1) in _PARTICLES:
            return self._replaced(i, i, _LATE[low])
        stem, mark, _ = low.partition("'s")
        if mark and stem in _SUPPLIES:
            self.words[i].new = f"the {stem} is"
            return i + 1
        if mark and self.low(i + 1) in ("gone", "come") and self.lexicon.is_noun(stem):
            self.words[i].new = stem
            self.words[i + 1].new = {"gone": "goes", "come": "comes"}[self.low(i + 1)]
            return i + 2
        if mark and self.lexicon.is_noun(stem):
            been = self.low(i + 1) == "been"
            told = i + 1 + been
            if self.low(told) in _SO_NOW and not been:
                self.words[i].new = stem
                return i + 1
            if self.lexicon.verb_of(self.low(told), "past") and self._object_behind(told):
                self.words[i].new = f"{stem} is"
                if been:
                    self.words[i + 1].new = ""
                return told + 1
        placed = self.low(i + 1) in _SO_NOW and self.lexicon.is_noun(self.low(i - 1))
        if low in ("is", "are") and placed:
            self.words[i].new = ""
        return 0
