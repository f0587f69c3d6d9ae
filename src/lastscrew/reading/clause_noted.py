"""List items that leave their verbs out: "wire under the tape", "then the 2 screws", "side cover last".

A thing and where it goes, or a thing alone, is work of the way back; what it comes off ("nuts off the studs") is
work of the way in. A hand or a tool and where it is put ("hand under the tray, slide it out") says what "it" is.
"""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.clause_subjects import SubjectClauses
from lastscrew.reading.model import Thing
from lastscrew.reading.predicates import Found

_KINDS = frozenset(["fastener", "cable", "connector", "antenna", "cover", "part", "board", "card", "drawer", "film", "lock", "clip"])  # fmt: skip  # noqa: E501
_INTO = frozenset(["in", "into", "on", "onto", "over", "through", "to", "round", "around", "behind", "under", "between"])  # fmt: skip  # noqa: E501
_ALONG = frozenset(["under", "through", "around", "round", "behind", "between"])
_LINKS = frozenset(["cable", "connector", "antenna"])
_HOW = frozenset(["last", "first", "again", "next", "loosely", "crosswise", "too", "as", "before"])  # fmt: skip
_TIGHT = frozenset(["tight", "finger-tight", "hand-tight", "snug"])
_FRESH = ("new ", "fresh ", "replacement ")


class NotedClauses(SubjectClauses):
    """Clauses of a list item that name a thing and no verb."""

    note_end = -9
    """Where the last note of the sentence ended."""

    def noted(self, i: int) -> int:
        """Noted = phrases [into place | off place] {how} at the end of a clause."""
        if self.spoken or not self._opens_note(i):
            return i
        things, j = self.phrases.list_of(i)
        if not things:
            return i
        way = self.low(j)
        if way in ("off", "from") or (way == "out" and self.low(j + 1) == "of"):
            return self._noted_off(i, things, j + (way == "out"))
        places: list[Thing] = []
        if way in _INTO and self.phrases.starts_phrase(j + 1):
            places, j = self.phrases.list_of(j + 1)
        end = self._past_how(j)
        tight = any(self.low(k) in _TIGHT for k in range(j, end))
        if not self.item and not (tight and things[-1].category == "fastener"):
            return i
        if not self._ends_note(end) or (places and places[-1].is_pronoun):
            return i
        if things[-1].category in ("tool", "body") and places:
            self.parsed.mentioned += places
            return end
        found = self._put_there(i, things, places, way)
        if found is None:
            return i
        if tight and found.lemma == "replace":
            found.lemma = found.key = "tighten"  # "collar finger tight"
        found.end = self.note_end = end
        self._keep(found)
        return end

    def _opens_note(self, i: int) -> bool:
        """At the head of the sentence, behind "then", or behind another note."""
        low = self.low(i)
        verb = self.lexicon.verb_of(low, "base")
        two = self.low(i + 1) == "and" and self.lexicon.verb_of(self.low(i + 2), "base")
        if (
            (verb and (two or not self.lexicon.is_noun(low)))
            or not self.phrases.starts_phrase(i)
            or self.phrases.is_command(i)
        ):
            return False
        before = [token.low for token in self.tokens[:i]]
        if all(
            word in self.lexicon.words["openers"] | self.lexicon.words["adverbs"] for word in before
        ):
            return True
        if not self.item:  # "the lid is placed on the rim; both thumbscrews finger-tight"
            return bool(self.parsed.actions) and before[-1] in (",", ";", "and", "then")
        noted = 0 <= i - self.note_end <= len((",", "and"))
        behind = before[-1] in (",", ";", ".", "and", "then")
        return behind and (noted or "then" in before[-2:])

    def _ends_note(self, end: int) -> bool:
        if end >= len(self.tokens) or self.low(end) in ("then", "but"):
            return True
        if self.low(end) == "and":
            return not self.phrases.is_clause(end + 1)
        return self.phrases.kind(end) == "mark" and self.low(end) not in (":", "(", "?")

    def _past_how(self, j: int) -> int:
        """Behind "last", "finger tight", "crosswise", "as before"."""
        while self.low(j) in _HOW | _TIGHT or (
            self.low(j) in ("finger", "hand") and self.low(j + 1) == "tight"
        ):
            j += 1
        return j

    def _noted_off(self, i: int, things: list[Thing], j: int) -> int:
        """As in "nuts off the four studs", "belt off the pulley": taken from there."""
        places, end = self.phrases.list_of(j + 1)
        last = things[-1]
        if not places or not self._ends_note(end) or last.category not in _KINDS | {"tie"}:
            return i
        lemma = "unplug" if last.category in _LINKS else "remove"
        found = Found(lemma, lemma, i, things=things, from_=places, end=end)
        found.weak = "more" if last.category == "fastener" else ""
        self.note_end = end
        self._keep(found)
        return end

    def _put_there(
        self, i: int, things: list[Thing], places: list[Thing], way: str
    ) -> Found | None:
        """The verb of the way back that a note leaves out, by what is named."""
        last = things[-1]
        fresh = last.name.lower().startswith(_FRESH)
        category = category_of(last)
        if category in ("supply", "residue"):
            lemma = "apply" if fresh or places else ""
        elif category not in _KINDS:
            lemma = "replace" if fresh and category == "unknown" else ""
        elif category in _LINKS:
            lemma = "route" if way in _ALONG and places else "connect"
        else:
            lemma = {"fastener": "tighten", "film": "apply", "lock": "close", "clip": "close"}.get(
                category, "replace"
            )
        if not lemma:
            return None
        named = [
            _as_named(thing, category if thing is last else thing.category) for thing in things
        ]
        return Found(
            lemma, lemma, i, things=named, to=places, to_word=way if places else "", weak="listed"
        )


def category_of(thing: Thing) -> str:
    """Category of a thing in a note: what is new is a piece, also where its name is that of a switch or a latch."""
    fresh = thing.name.lower().startswith(_FRESH)
    small = thing.category in ("lock", "clip", "button", "pronoun")
    return "part" if fresh and small else thing.category


def _as_named(thing: Thing, category: str) -> Thing:
    """As in "same screws": those that were named before."""
    first, _, rest = thing.name.partition(" ")
    same = bool(rest) and first.lower() == "same"
    return replace(
        thing,
        category=category,
        name=rest if same else thing.name,
        article="the" if same else thing.article,
    )
