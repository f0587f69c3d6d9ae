"""The way back told in scraps: "fan back in, three screws, plug in, cover on with its nine screws".

A scrap names a thing and where it goes, without a verb; what was worked on before may stand alone ("washer, disc,
bolt"). Scraps stand at the start of a thought, behind a mark, behind "and" or "then", right behind another scrap, or
behind words that are complete where nothing but a scrap can begin; what is no scrap is left to the grammar.
"""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.model import Thing
from lastscrew.reading.note_form import note_verb
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.predicates import Found
from lastscrew.reading.tokens import Token, tokenise

_HOME = {
    **dict.fromkeys(("in", "on", "back", "down", "home", "over", "through", "together"), "in"),
    **dict.fromkeys(("across", "round", "around", "into", "onto", "inside"), "in"),
    **dict.fromkeys(("closed", "shut"), "shut"),
    "tight": "tight",
    "snug": "tight",
    "up": "up",
}
_LINKS = word_group("notes_links")
_TAILS = word_group("notes_tails")
_NO_THING = frozenset(
    ["text", "place", "tool", "body", "device", "software", "force", "pronoun", "power_button"]
)
_DONE = re.compile(
    r"\b(?:and )?(?:job )?done\W*$|\b(?:and |then )?(?:you're|we're|that's|that is|you are) (?:it|off|away|done|finished|that|all done|good|good to go|ready to go|sorted|back in business|you done)\W*$",  # noqa: E501
    re.IGNORECASE,
)
_RINGS = frozenset(["circlip", "e-clip", "e-ring", "c-clip", "snap-ring", "cotter", "washer"])
_CLOSED = word_group("thoughts_closed")
_PUT_IN = frozenset(["plug", "clip", "screw", "bolt", "connect", "snap", "hook", "push", "press", "close", "tighten", "put", "fit", "slot", "click"])  # fmt: skip  # noqa: E501
_COUNTED = frozenset(["fastener", "connector"])
_TAKING = frozenset(["take", "get", "pull", "put", "these", "those", "last", "other"])
_PLACING = frozenset(["in", "into", "through", "along", "under", "round", "around", "behind", "between"])  # fmt: skip
_GUIDES = word_group("meaning_guides")
"""What a cable is led through; it is not plugged in there."""
_SOCKETS = frozenset(["slot", "socket", "connector", "rail"])
_PLAIN = frozenset(["unknown", "part", "cover", "board", "card", "drawer"])


@dataclass(frozen=True, slots=True)
class Scrap:
    """One scrap: what is done to what, and where it stands (characters)."""

    found: Found
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Done:
    """What was worked on before: last nouns, and neighbouring words of the names."""

    heads: AbstractSet[str] = frozenset()
    removed: AbstractSet[str] = frozenset()
    """Those of them that came off as a whole: a clamp that was taken off is put on, not closed."""
    unplugged: AbstractSet[str] = frozenset()
    """Those that were disconnected: a hose that was pulled off is connected."""
    pairs: AbstractSet[tuple[str, str]] = frozenset()


class _Scraps:
    """Reads the scraps of one thought from left to right."""

    def __init__(self, text: str, lexicon: Lexicon, done: Done, *, ended: bool = False) -> None:
        self.done = done
        self.ended = ended
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
        low, follow = self.phrases.low(i), self.phrases.low(i + 1)
        it_is = low in ("it", "that") and follow in ("is", "are")
        is_of_it = low in ("is", "are") and self.phrases.low(i - 1) in ("it", "that")
        return self.phrases.kind(i) == "mark" or low in _LINKS or it_is or is_of_it

    def _next_start(self, i: int) -> int:
        i += 1
        while i < len(self.tokens) and not self._links(i) and not self._loose_start(i):
            i += 1
        return i

    def _loose_start(self, k: int) -> bool:
        """As in "until it is flush | three screws", "into its clips | wheel on | nut on": only a scrap begins here."""
        before = self.phrases.low(k - 1)
        words = self.phrases.lexicon.words
        told = self.phrases.lexicon.verb_of(self.phrases.low(k + 2), "past") in _PUT_IN
        if told and (self.phrases.low(k), self.phrases.low(k + 1)) in self.done.pairs:
            return self.phrases.low(k + 3) in ("in", "on", "back", "up")
        held = before in words["prepositions"] and before not in _HOME and before != "along"
        if held or before in words["determiners"] or self.phrases.kind(k - 1) != "word":
            return False
        worked = (self.phrases.low(k), self.phrases.low(k + 1)) in self.done.pairs
        complete = before in _CLOSED or before == "along" or self.phrases.lexicon.is_noun(before)
        if not complete and not (worked and before not in self.phrases.lexicon.forms):
            return False
        counted = self.phrases.low(k) == "both" or (
            self.phrases.kind(k) == "number" or self.phrases.low(k) in self.phrases.lexicon.numbers
        )
        if counted:
            thing, end = self.phrases.phrase(k)
            return (
                thing is not None
                and thing.category == "fastener"
                and before not in _TAKING
                and (self._ends(end) or self.phrases.low(end) in ("from", "at", "with", "along"))
            )
        if self._of_a_verb(k):
            return False
        h = k + 1 + (self.phrases.low(k) in ("the", "your", "our", "its"))
        pair = (self.phrases.low(h - 1), self.phrases.low(h))
        h += pair in self.done.pairs
        head = self.phrases.low(h - 1)
        known = (
            self.phrases.lexicon.is_noun(head)
            and (before, head) not in self.done.pairs
            and not self.phrases.lexicon.verb_of(head, "s")
        )
        if not known or self.phrases.low(h) not in _HOME:
            return False
        follow = h + 1 + (self.phrases.low(h) == "back")
        return (
            self._ends(follow)
            or self._starts_scrap(follow)
            or self.phrases.is_command(follow)
            or self.phrases.is_det(follow)
        )

    def _of_a_verb(self, k: int) -> bool:
        """As in "plug the fan | wire back in": what stands before ``k`` belongs to the object of a verb."""
        lexicon = self.phrases.lexicon
        if self.phrases.low(k - 1) in _CLOSED:
            return False
        j = k - 1
        while j >= 0 and self.phrases.kind(j) in ("word", "number"):
            low = self.phrases.low(j)
            if self.phrases.is_command(j):
                return True
            if low in lexicon.words["determiners"] or low in lexicon.numbers:
                j -= 1
                continue
            if lexicon.is_noun(low) or low in lexicon.words["colours"]:
                j -= 1
                continue
            return bool(lexicon.verb_of(low, "base", "s", "ing"))
        return False

    def _scrap(self, i: int) -> int:
        if i >= len(self.tokens) or self.phrases.kind(i) != "word" or not self._names(i):
            return i
        if self.phrases.low(i) in ("bang", "smack", "dead", "slap"):
            return i
        thing, j = self.phrases.phrase(i)
        named = "'" not in self.phrases.low(i)
        if thing is None and named and self.phrases.low(i + 1) in _HOME:
            word = self.tokens[i].text
            thing, j = Thing(word, word.lower(), "unknown"), i + 1
        if thing is None or not thing.name or thing.name.lower().startswith("old "):
            return i  # "the old glue on the bottom": that is not put on again
        fresh = thing.is_pronoun and thing.name.lower().startswith(("new ", "the new "))
        opens = i == 0 or self._links(i - 1)
        if fresh and opens and self.phrases.low(j) in ("in", "on", "back") and self._ends(j + 1):
            self._keep(Found("replace", "replace", i, things=[thing], end=j + 1), i, j + 1)
            return j + 1
        worked = thing.head in self.done.heads and (
            self.phrases.low(j) in _HOME or self.phrases.kind(j) in ("", "mark")
        )
        if (
            thing.category == "power"
            and self.phrases.low(j) in ("in", "back")
            and self._ends(j + 1)
        ):
            self._keep(Found("plug", "plug in", i, things=[thing], particle="in"), i, j + 1)
            return j + 1  # "charger in"
        if thing.category in _NO_THING and not (worked and thing.category in ("tool", "text")):
            return i
        if thing.category == "fastener" and isinstance(thing.count, int) and self._placed(j):
            return self._counted(thing, i, j)
        if thing.category in ("cable", "connector") and thing.count is not None and self._ends(j):
            self._keep(Found("connect", "connect", i, things=[thing]), i, j)
            return j
        if thing.category in ("supply", "residue") and self._ends(j):
            self._keep(Found("apply", "apply", i, things=[thing]), i, j)
            return j
        alone = self._alone(thing, i, j)
        if alone > j or (alone == j and self.phrases.low(j) not in _HOME):
            return alone
        put_in = self._put_in(thing, i, j)
        if put_in > j:
            return put_in
        while self.phrases.low(j) in ("finger", "hand", "nice", "really", "good") and "tight" in (
            self.phrases.low(j + 1),
            self.phrases.low(j + 2),
        ):
            j += 1 + (self.phrases.low(j + 1) == "and")
        back = self.phrases.low(j) == "back"
        word = self.phrases.low(j + back) if self.phrases.low(j + back) in _HOME else "back" * back
        if not word or (thing.category == "unknown" and self._is_verb(thing)):
            return i
        end = self._tail(j + back + (word != "back" or not back))
        if end < 0:
            return i
        key = note_verb(thing.category, "closed" if _HOME[word] == "shut" else "back")
        key = "replace" if thing.head in _RINGS else self._closed(thing, key)
        if thing.category in ("tool", "text"):
            key = "replace"
        if _HOME[word] == "tight":
            key = "tighten"
        up_to = self._ends(j + 1) or self.phrases.low(j + 1) in ("from", "onto", "into", "to")
        if _HOME[word] == "up" and (thing.category in ("lock", "clip", "button") or not up_to):
            return i
        if not key:
            return i
        key = self._by_place(thing, key, j, end)
        self._keep(Found(key, key, i, things=[thing], end=end), i, end)
        return self._screws_behind(thing, j, end)

    def _by_place(self, thing: Thing, key: str, start: int, end: int) -> str:
        """As in "wires back in their hooks", "card in the slot": what the place says that is done."""
        for k in range(start, end):
            place, _ = self.phrases.phrase(k + 1) if self.phrases.low(k) in _PLACING else (None, k)
            if place is None:
                continue
            if (
                key == "connect"
                and thing.category in ("cable", "antenna")
                and place.head in _GUIDES
            ):
                return "route"
            if key == "replace" and thing.category in ("card", "board") and place.head in _SOCKETS:
                return "insert"
        return key

    def _put_in(self, thing: Thing, i: int, j: int) -> int:
        """As in "rain sensor plugged in", "both latches closed": done, told without "is"; else ``j``."""
        lexicon = self.phrases.lexicon
        lemma = lexicon.verb_of(self.phrases.low(j), "past")
        if lemma not in _PUT_IN:
            return j
        end = j + 1
        while self.phrases.low(end) in ("back", "in", "on", "up", "down", "again"):
            end += 1
        if self.phrases.low(end) in ("to", "onto", "into") and self.phrases.is_det(end + 1):
            end = self.phrases.phrase(end + 1)[1]
        if not self._ends(end) or (end == j + 1 and lemma not in ("close", "tighten")):
            return j
        particle = self.phrases.low(j + 1) if end > j + 1 else ""
        key = f"{lemma} {particle}" if f"{lemma} {particle}" in lexicon.verbs else lemma
        self._keep(Found(lemma, key, i, things=[thing], particle=particle, end=end), i, end)
        return end

    def _placed(self, j: int) -> bool:
        """Nothing stands behind counted screws, or where they go and how."""
        low = self.phrases.low(j)
        if self._ends(j) or low in ("a", "an", "tight", "snug"):
            return True
        placed = low in ("from", "at", "along", "in", "on", "round", "around", "into")
        return placed and self._tail(j) > j

    def _alone(self, thing: Thing, i: int, j: int) -> int:
        """As in "washer, disc, bolt", "then your spider with four screws": alone, and worked on before; else ``i``."""
        screws = self._with_screws(j)
        counted, _ = self.phrases.phrase(j) if self.phrases.is_det(j) else (None, j)
        behind = (
            counted is not None
            and counted.category == "fastener"
            and isinstance(counted.count, int)
        )
        bare = j >= len(self.tokens) or self._links(j) or behind
        first = self.phrases.low(j) == "first" and (
            self.phrases.kind(j + 1) in ("", "mark", "number") or self._starts_scrap(j + 1)
        )
        fresh = thing.name.lower().startswith(("new ", "fresh ")) and first
        several = self._in_a_row(i, j) if bare else []
        if several:
            for start, end in several:
                self._keep_alone(self._words(start, end), start, end)
            return j
        colour = thing.head in self.phrases.lexicon.words["colours"]
        if not fresh and (thing.head not in self.done.heads or colour):
            return i
        if not (screws or bare or first):
            return i
        listed = self._followed(j) or (i > 0 and self.phrases.kind(i - 1) == "mark")
        listed = listed or (not thing.article and thing.category in ("cable", "connector"))
        listed = listed or (self.ended and i == 0)
        if not screws and not first and len(self.rows) == 0 and not listed:
            return i
        self._keep_alone(thing, i, j)
        return self._screws_behind(thing, j, j + 1) if screws else j + first

    def _closed(self, thing: Thing, key: str) -> str:
        """A lock, clip or strap closes, unless it was taken off as a whole; what was unplugged is connected."""
        if thing.head in self.done.unplugged - self.done.removed and thing.category != "fastener":
            return "connect"
        if thing.category not in ("lock", "clip", "button", "tie"):
            return key
        return "go on" if thing.head in self.done.removed else "close"

    def _keep_alone(self, thing: Thing, i: int, j: int) -> None:
        key = note_verb(thing.category, "back") or "replace"
        key = "replace" if thing.head in _RINGS else self._closed(thing, key)
        self._keep(Found(key, key, i, things=[_named_by(self.tokens[i:j], thing)], end=j), i, j)

    def _words(self, start: int, end: int) -> Thing:
        """The thing that the words from ``start`` on name."""
        lows = tuple(self.phrases.low(k) for k in range(start, end))
        head = noun_singular(lows[-1])
        category = self.phrases.lexicon.category(lows)
        name = " ".join(token.text for token in self.tokens[start:end])
        return Thing(name, head, category, plural=lows[-1] != head, article="the")

    def _in_a_row(self, i: int, j: int) -> list[tuple[int, int]]:
        """As in "washer disc bolt", "lamp plug fan plug": things worked on, one after the other without a mark."""
        tiles: list[tuple[int, int]] = []
        k = i
        while k < j:
            end = k + 1
            while end < j and (self.phrases.low(end - 1), self.phrases.low(end)) in self.done.pairs:
                end += 1
            if self.phrases.low(end - 1) not in self.done.heads:
                return []
            tiles.append((k, end))
            k = end
        return tiles if len(tiles) > 1 else []

    def _with_screws(self, j: int) -> bool:
        screws, _ = self.phrases.phrase(j + 1) if self.phrases.low(j) == "with" else (None, j)
        return (
            screws is not None and screws.category == "fastener" and isinstance(screws.count, int)
        )

    def _followed(self, j: int) -> bool:
        """More is named behind it in the same breath."""
        marked = self.phrases.kind(j) == "mark" and j + 1 < len(self.tokens)
        return marked or self.phrases.is_det(j)

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
        lexicon = self.phrases.lexicon
        lemma = lexicon.verb_of(self.phrases.low(i), "base")
        placed = self.phrases.low(i + 1) in _HOME and lexicon.is_noun(self.phrases.low(i))
        ends = i + 2 >= len(self.tokens) or self._links(i + 2) or self._starts_scrap(i + 2)
        known = f"{lemma} {self.phrases.low(i + 1)}" in lexicon.verbs
        if self.phrases.low(i + 1) == "back" and self.phrases.low(i + 2) in ("on", "in", "over"):
            return lexicon.is_noun(self.phrases.low(i)) and not self.phrases.is_det(i + 3)
        with_screws = self.phrases.low(i + 2) == "with" and self._with_screws(i + 2)
        return placed and (ends or with_screws or (self.phrases.is_det(i + 2) and not known))

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
            if (
                low in _TAILS
                or low in ("it", "them")
                or low in self.phrases.lexicon.words["adverbs"]
            ):
                j += 1
            elif low == "from" and self.phrases.low(j + 1) in (
                "below",
                "above",
                "behind",
                "inside",
            ):
                j += 2
            elif low in prepositions and self.phrases.starts_phrase(j + 1):
                j = max(self.phrases.phrase(j + 1)[1], j + 2)
            elif self.phrases.is_command(j) or low in self.phrases.lexicon.words["subjects"]:
                return j
            else:
                return -1
        return j

    def _keep(self, found: Found, i: int, end: int) -> None:
        found.things = [
            replace(thing, count=1)
            if thing.category in _COUNTED and thing.count is None and not thing.plural
            else replace(thing)
            for thing in found.things
        ]
        last = self.tokens[min(end, len(self.tokens)) - 1]
        self.rows.append(Scrap(found, self.tokens[i].start, last.end))


def _named_by(tokens: list[Token], thing: Thing) -> Thing:
    """The thing under the words of these tokens alone."""
    words = [token.text for token in tokens if token.low not in ("the", "your", "our", "its")]
    return replace(thing, name=" ".join(words)) if len(words) == 1 else thing


def scraps(text: str, lexicon: Lexicon, done: Done | None = None) -> list[Scrap]:
    """The scraps of a thought, in order; none where the thought is told with verbs."""
    ended = _DONE.search(text) is not None
    text = _DONE.sub(lambda match: " " * len(match.group()), text)
    rows = _Scraps(text, lexicon, done or Done(), ended=ended).read()
    alone = len(rows) == 1 and rows[0].found.key == "tighten"
    return [] if alone and not re.search(r"\w+\W+\w+\W*$", text[: rows[0].low]) else rows
