"""The way back told in scraps: "fan back in, three screws, plug in, cover on with its nine screws".

A scrap names a thing and where it goes, without a verb. Scraps stand at the start of a thought, behind a mark, behind
"and" or "then", or right behind another scrap; what is no scrap is left to the grammar.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.note_form import note_verb
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.predicates import Found
from lastscrew.reading.tokens import tokenise

_HOME = {
    **dict.fromkeys(("in", "on", "back", "down", "home", "over", "through", "together"), "in"),
    **dict.fromkeys(("closed", "shut"), "shut"),
}
_LINKS = word_group("notes_links")
_TAILS = word_group("notes_tails")
_NO_THING = frozenset(
    ["text", "place", "tool", "body", "device", "software", "force", "pronoun", "power_button"]
)
_PLAIN = frozenset(["unknown", "part", "cover", "board", "card", "drawer"])


@dataclass(frozen=True, slots=True)
class Scrap:
    """One scrap: what is done to what, and where it stands (characters)."""

    found: Found
    low: int
    high: int


class _Scraps:
    """Reads the scraps of one thought from left to right."""

    def __init__(self, text: str, lexicon: Lexicon) -> None:
        self.tokens = tokenise(text, lexicon)
        self.phrases = Phrases(self.tokens, lexicon, spoken=True)
        self.rows: list[Scrap] = []

    def read(self) -> list[Scrap]:
        i = 0
        while i < len(self.tokens):
            while i < len(self.tokens) and self._links(i):
                i += 1
            j = self._scrap(i)
            i = j if j > i else self._next_start(i)
        return self.rows

    def _links(self, i: int) -> bool:
        return self.phrases.kind(i) == "mark" or self.phrases.low(i) in _LINKS

    def _next_start(self, i: int) -> int:
        while i < len(self.tokens) and not self._links(i):
            i += 1
        return i

    def _scrap(self, i: int) -> int:
        if i >= len(self.tokens) or self.phrases.kind(i) != "word" or not self._names(i):
            return i
        thing, j = self.phrases.phrase(i)
        if thing is None and self.phrases.low(i + 1) in _HOME:
            word = self.tokens[i].text
            thing, j = Thing(word, word.lower(), "unknown"), i + 1
        if thing is None or not thing.name or thing.category in _NO_THING:
            return i
        if thing.category == "fastener" and self._ends(j):
            return self._counted(thing, i, j)
        if thing.category in ("cable", "connector") and thing.count is not None and self._ends(j):
            self._keep(Found("connect", "connect", i, things=[thing]), i, j)
            return j
        if thing.category in ("supply", "residue") and self._ends(j):
            self._keep(Found("apply", "apply", i, things=[thing]), i, j)
            return j
        back = self.phrases.low(j) == "back"
        word = self.phrases.low(j + back) if self.phrases.low(j + back) in _HOME else "back" * back
        if not word or (thing.category == "unknown" and self._is_verb(thing)):
            return i
        end = self._tail(j + back + (word != "back" or not back))
        if end < 0:
            return i
        key = note_verb(thing.category, "closed" if _HOME[word] == "shut" else "back")
        if thing.category in ("lock", "clip", "button"):
            key = "close"
        if not key:
            return i
        self._keep(Found(key, key, i, things=[thing], end=end), i, end)
        return self._screws_behind(thing, j, end)

    def _is_verb(self, thing: Thing) -> bool:
        """As in "goes back in", "going back in": no thing that nobody knows."""
        first = thing.name.lower().split()[0]
        return not thing.article and bool(
            self.phrases.lexicon.verb_of(first, "base", "s", "ing", "past")
        )

    def _names(self, i: int) -> bool:
        """A word that is an order names a thing only right before its place: "latch down", "clamp on"."""
        if self.phrases.is_det(i) or not self.phrases.is_command(i):
            return True
        placed = self.phrases.low(i + 1) in _HOME and self.phrases.lexicon.is_noun(
            self.phrases.low(i)
        )
        return placed and (
            i + 2 >= len(self.tokens) or self._links(i + 2) or self._starts_scrap(i + 2)
        )

    def _counted(self, thing: Thing, i: int, j: int) -> int:
        if not isinstance(thing.count, int):
            return i
        self._keep(Found("tighten", "tighten", i, things=[thing], holds=self._last_part()), i, j)
        return j

    def _last_part(self) -> list[Thing]:
        last = self.rows[-1].found.things[-1] if self.rows else None
        return [last] if last is not None and last.category in _PLAIN else []

    def _screws_behind(self, thing: Thing, start: int, end: int) -> int:
        """As in "plate on with its three screws"."""
        for k in range(start, end):
            if self.phrases.low(k) == "with":
                screws, after = self.phrases.phrase(k + 1)
                if screws is not None and screws.category == "fastener":
                    found = Found("tighten", "tighten", k, things=[screws], holds=[thing])
                    self._keep(found, k, max(after, end))
                    return max(after, end)
        return end

    def _ends(self, j: int) -> bool:
        return (
            j >= len(self.tokens)
            or self._links(j)
            or self.phrases.low(j) in _TAILS
            or self._starts_scrap(j)
        )

    def _starts_scrap(self, j: int) -> bool:
        """Another thing with a place behind it follows."""
        if not self.phrases.starts_phrase(j):
            return False
        if self.phrases.is_command(j) and not self.phrases.lexicon.is_noun(self.phrases.low(j)):
            return False
        thing, k = self.phrases.phrase(j)
        return thing is not None and (
            self.phrases.low(k) in _HOME
            or (thing.category == "fastener" and isinstance(thing.count, int))
        )

    def _tail(self, j: int) -> int:
        """Where a scrap ends: behind adverbs and places; -1 where it goes on as something else."""
        prepositions = self.phrases.lexicon.words["prepositions"]
        guard = 0
        if self.phrases.starts_phrase(j) and self.phrases.is_det(j) and not self._starts_scrap(j):
            j = self.phrases.phrase(j)[1]
        while j < len(self.tokens) and not self._links(j) and guard < 12:
            guard += 1
            low = self.phrases.low(j)
            if self._starts_scrap(j):
                return j
            if low in _TAILS or low in self.phrases.lexicon.words["adverbs"]:
                j += 1
            elif low in prepositions and self.phrases.starts_phrase(j + 1):
                j = max(self.phrases.phrase(j + 1)[1], j + 2)
            elif self.phrases.is_command(j) or low in self.phrases.lexicon.words["subjects"]:
                return j
            else:
                return -1
        return j

    def _keep(self, found: Found, i: int, end: int) -> None:
        found.things = [replace(thing) for thing in found.things]
        last = self.tokens[min(end, len(self.tokens)) - 1]
        self.rows.append(Scrap(found, self.tokens[i].start, last.end))


def scraps(text: str, lexicon: Lexicon) -> list[Scrap]:
    """The scraps of a thought, in order; none where the thought is told with verbs."""
    rows = _Scraps(text, lexicon).read()
    return [] if len(rows) == 1 and rows[0].found.key == "tighten" else rows
