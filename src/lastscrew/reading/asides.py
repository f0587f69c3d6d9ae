"""What stands beside a verb's object without belonging to the sentence: brackets, sizes, counts, what holds it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from lastscrew.reading.phrases import Phrases

if TYPE_CHECKING:
    from lastscrew.reading.predicates import Found

_HELD = frozenset(
    ["held", "secured", "fastened", "fixed", "retained", "attached", "mounted", "screwed"]
)
_HELD_ONES = frozenset(["part", "cover", "board", "card", "drawer", "tie", "unknown"])


class Asides:
    """Reads brackets and what stands between commas behind an object."""

    def __init__(self, phrases: Phrases) -> None:
        """Work on the sentence of ``phrases``."""
        self.phrases = phrases
        self.lexicon = phrases.lexicon
        self.tokens = phrases.tokens

    def low(self, i: int) -> str:
        """Lower-case text of token ``i``."""
        return self.phrases.low(i)

    def _sized_aside(self, i: int, found: Found) -> int:
        """As in "the screws, M2 x 4, that hold the board": the size stands apart, the clause goes on."""
        if self.low(i) != "," or self.phrases.kind(i + 1) != "size" or not found.things:
            return i
        last = found.things[-1]
        found.things[-1] = replace(
            last, size=last.size or re.sub(r"\s+", "", self.tokens[i + 1].text)
        )
        return i + 3 if self.low(i + 2) == "," else i + 2

    def _more_of_them(self, i: int, found: Found) -> bool:
        """As in "one screw from the rear and two from the front": the counts add up."""
        number = self.low(i + 1)
        value = int(number) if number.isdigit() else self.lexicon.numbers.get(number)
        if (
            self.low(i) == ","
            or self.low(i + 3) == "each"
            or value is None
            or self.low(i + 2) not in ("from", "on", "at", "in", "along", "near", "under")
            or not found.things
        ):
            return False
        last = found.things[-1]
        if not isinstance(last.count, int):
            return False
        found.things[-1] = replace(last, count=last.count + value, plural=True)
        return True

    def _loose_count(self, i: int, found: Found) -> None:
        if self.phrases.kind(i) == "times" and found.things and found.things[-1].count is None:
            count = int(re.sub(r"\D", "", self.low(i)))
            found.things[-1] = replace(found.things[-1], count=count)

    def _brackets(self, i: int, found: Found) -> int:
        close = next(
            (j for j in range(i + 1, min(i + 40, len(self.tokens))) if self.low(j) == ")"), None
        )
        if close is None:
            return i + 1
        inside = " ".join(token.low for token in self.tokens[i + 1 : close])
        if (
            any(phrase in inside for phrase in self.lexicon.phrases["optional_phrases"])
            and found.things
        ):
            found.things = [replace(thing, optional=True) for thing in found.things]
        if " captive" in f" {inside}" and found.things:
            found.things = [replace(thing, captive=True) for thing in found.things]
        if found.things and found.things[-1].category in ("cable", "connector", "antenna"):
            for k in range(i + 1, close):
                thing, end = self.phrases.phrase(k)
                if thing is not None and thing.category == "board" and end <= close:
                    found.at.append(thing)
                    break
        if self._held_in(i + 1, close, found):
            return close + 1
        for token in self.tokens[i + 1 : close]:
            if token.kind == "size" and found.things:
                found.things[-1] = replace(
                    found.things[-1], size=found.things[-1].size or re.sub(r"\s+", "", token.text)
                )
        return close + 1

    def _held_in(self, i: int, end: int, found: Found) -> bool:
        """As in "the cover (six screws)", "the lid (held by 4 Torx screws)": the screws that hold it."""
        if not found.things or found.things[-1].category not in _HELD_ONES:
            return False
        if self.low(i) in _HELD and self.low(i + 1) in ("by", "with", "in", "on"):
            i += 2
        thing, after = self.phrases.phrase(i)
        if thing is not None and thing.name.endswith(" ones") and not self.phrases.spoken:
            thing = replace(thing, name="screws", head="screw", category="fastener")
        if (
            thing is None
            or thing.category != "fastener"
            or thing.count is None
            or (after < end and self.low(after) not in (",", ";", "on", "at", "in"))
        ):
            return False
        found.held_by.append(thing)
        return True

    def _held_aside(self, i: int, found: Found) -> int:
        """As in "the cover, held by four screws", "the cover, which is held in place with four screws"."""
        if self.low(i) != "," or not found.things or found.things[-1].category not in _HELD_ONES:
            return i
        j = i + 1
        if self.low(j) == "which" and self.low(j + 1) in ("is", "are"):
            j += 2
        if self.low(j) not in _HELD:
            return i
        j += 1
        while self.low(j) in ("in", "on", "down", "place", "position", "firmly", "securely"):
            j += 1
        if self.low(j) not in ("by", "with", "using"):
            return i
        things, end = self.phrases.list_of(j + 1)
        screws = [t for t in things if t.category == "fastener" and t.count is not None]
        if not screws or len(screws) < len(things):
            return i
        found.held_by += screws
        return end

    def _gerund_at(self, i: int) -> bool:
        while self.low(i) in self.lexicon.words["adverbs"] or self.low(i) in ("first", "either"):
            i += 1
        return bool(self.lexicon.verb_of(self.low(i), "ing"))

    def base_at(self, i: int) -> bool:
        """True where a verb in its base form follows, adverbs aside ("to gently lift …")."""
        while self.low(i) in self.lexicon.words["adverbs"]:
            i += 1
        lemma = self.lexicon.verb_of(self.low(i), "base")
        return bool(lemma) and (
            not self.lexicon.verbs[lemma].noun
            or self.phrases.is_det(i + 1)
            or self.low(i + 1) in ("it", "them")
        )
