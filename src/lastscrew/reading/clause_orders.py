"""One order of a sentence: its verb phrase, and the list behind a colon that it is done to."""

from __future__ import annotations

from lastscrew.reading.conditions import Conditions
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.predicates import Found

_MARKS = word_group("clauses_marks")
_FOLLOWING = ("following", "whatever", "these", "everything", "below", "rest")


_UNSCREWING = (
    "unscrew",
    "undo",
    "unbolt",
    "screw",
    "bolt",
    "fasten",
    "tighten",
    "remove",
    "detach",
)


class Orders(Conditions):
    """Keeps the orders that the other rules find."""

    def _verb(self, i: int, weak: str = "") -> int:
        """Keep the verb phrase at ``i``, with its manner and purpose."""
        found, end = self.predicates.verb_phrase(i)
        if found is None:
            return i + 1
        found.weak = found.weak or weak or ("reminder" if self.reminding else "")
        end = self._listed_behind(found, end)
        self._keep(found)
        return max(end, i + 1)

    def _listed_behind(self, found: Found, end: int) -> int:
        """As in "Disconnect the following cables: A, B and C": the list is what the verb is done to."""
        if found.lemma in _UNSCREWING and self.low(end) == ":" and found.things:
            after = self._screws_listed(found, end + 1)
            if after > end:
                return after
        if not _generic(found):
            return end
        colon = next(
            (k for k in range(end, min(end + 8, len(self.tokens))) if self.low(k) == ":"), -1
        )
        if colon < 0:
            return end
        things, after = self.phrases.list_of(colon + 1)
        things = [thing for thing in things if thing.name]
        if not things:
            return end
        found.things = things
        return after

    def _screws_listed(self, found: Found, i: int) -> int:
        """As in "Remove the top shell: 8 screws around, 2 screws under the plug"; 0 where no screws are counted."""
        after = 0
        while i < len(self.tokens):
            screws, end = self.phrases.phrase(i)
            counted = screws is not None and isinstance(screws.count, int)
            if screws is None or not counted or screws.category != "fastener":
                break
            found.held_by.append(screws)
            after = end
            i = next((k for k in range(end, len(self.tokens)) if self.low(k) in (",", "and")), end)
            if i == end and self.low(i) not in (",", "and"):
                break
            i += 1 + (self.low(i + 1) == "and")
        return after

    def next_clause(self, i: int) -> int:
        """The next place where a clause may begin: behind a mark or conjunction, or at a subject or subordinator."""
        j = i + 1
        words = self.lexicon.words
        while j < len(self.tokens):
            before, here = self.low(j - 1), self.low(j)
            if before in _MARKS or before in (
                "and",
                "then",
                "but",
                "so",
                "or",
                "now",
                "next",
                "okay",
                "alright",
                "instead",
                "first",
            ):
                return j
            if here in words["subjects"] or (
                here in words["subordinators"] and here not in ("as", "where", "once")
            ):
                return j
            if (
                here in ("it", "they", "that", "those", "these")
                and self.low(j + 1) in words["be"]
                and before not in ("that", "which", "if", "when", "where")
            ):
                return j
            if here == "please" and self.phrases.is_command(j + 1) and self.low(i) != "if":
                return j
            if before in ("whereupon", "whereby", "thereupon"):
                return j
            if here in ("there", "let's", "go", "using", "by", "then", "because", "start", "begin"):
                return j
            if (
                self.spoken
                and self._certain_command(j)
                and before
                not in ("to", "not", "the", "a", "can", "will", "don't", "you", "we", "they")
            ):
                return j
            j += 1
        return j

    def _end_of_negation(self, i: int) -> int:
        while i < len(self.tokens):
            if self.low(i) in (";", ".", "but", "instead", "just", ":"):
                return i + 1
            if self.low(i) == "," and (
                (
                    self.phrases.is_command(i + 1)
                    and self.low(i + 1) not in ("bend", "pull", "twist", "touch")
                )
                or self.low(i + 1) in ("then", "just", "instead")
            ):
                return i + 1
            if self.spoken and self.low(i) in ("so", "okay", "now", "then", "we're", "let's"):
                return i
            i += 1
        return i


def _generic(found: Found) -> bool:
    """As in "the following cables", "whatever is still plugged in": the names come behind a colon."""
    return not found.things or any(
        word in found.things[-1].name.lower().split() for word in _FOLLOWING
    )
