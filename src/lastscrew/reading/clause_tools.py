"""Tools named before the work: "Using a spudger, lift the lid", "Use the four screws to secure the fan"."""

from __future__ import annotations

from lastscrew.reading.clause_orders import Orders
from lastscrew.reading.model import Thing
from lastscrew.reading.predicates import Found

_TOOL_WORDS = ("using", "with", "use", "by using", "take", "grab")


class ToolClauses(Orders):
    """Clauses that open with a tool."""

    def tool_first(self, i: int) -> int:
        """Tool = ("using" | "with" | "use") phrase ["," | "to"] order."""
        length = self.first_match(i, _TOOL_WORDS)
        if not length:
            return i
        j = i + length
        while self.low(j) in self.lexicon.words["adverbs"]:
            j += 1
        things, k = self.phrases.list_of(j)
        if not things:
            return i
        k = self._after_tool(k)
        works = self.phrases.is_command(k) and self.phrases.is_det(k + 1)
        is_tool = any(thing.category in ("tool", "body") for thing in things) or (
            self.low(i) in ("using", "use") and (things[0].category == "unknown" or works)
        )
        if self.low(i) == "with" and not is_tool:
            self._absolute(j)
            return self._main_after(j)
        if self.low(i) in ("take", "grab") and not (is_tool and self.low(k) in ("and", "to")):
            return i
        if self.low(i) == "use" and not (
            self.low(k) in ("to", "and", ",", "for")
            or (is_tool and self.phrases.is_command(k))
            or self.low(k) in self.lexicon.words["prepositions"]
        ):
            self._note_tools(things)
            return k if is_tool else i
        if (
            not is_tool
            and things[0].category in ("fastener", "supply", "film")
            and self.low(k) == "to"
        ):
            return self._use_to(i, things, k)
        self._note_tools(things)
        return self._order_after_tool(k)

    def _absolute(self, j: int) -> None:
        """As in "With the lock opened and the bolts withdrawn, …": done, where no other sentence orders it."""
        while True:
            things, k = self.phrases.list_of(j)
            told = things and things[-1].category in (
                "fastener",
                "lock",
                "clip",
                "cable",
                "tie",
                "film",
                "connector",
            )
            if not told and not (things and things[-1].is_pronoun and not self.spoken):
                return
            lemma = self.lexicon.verb_of(self.low(k), "past")
            if lemma and self.low(k) != "gone":
                found, end = self.predicates.verb_phrase(k)
            elif self.low(k) in ("out", "off", "away", "gone"):
                found, end = Found("remove", "remove", j), k + 1
            else:
                return
            if found is None:
                return
            found.things, found.weak, found.position = things, "with", j
            self._keep(found)
            if self.low(end) not in ("and", ",") or not self.phrases.starts_phrase(end + 1):
                return
            j = end + 1

    def _use_to(self, i: int, things: list[Thing], k: int) -> int:
        """As in "Use the four screws to secure the fan": the screws are the object, the fan is what they hold."""
        found, end = self.predicates.verb_phrase(k + 1)
        if found is None:
            return i
        found.means = things + found.means
        self._keep(found)
        return end

    def _after_tool(self, k: int) -> int:
        """Skip "(also known as …)", "of the tweezers", "on the edge of the screen", "perpendicularly" behind a tool."""
        while k < len(self.tokens):
            if self.low(k) == "(":
                close = next((j for j in range(k, len(self.tokens)) if self.low(j) == ")"), k)
                if close == k:
                    return k
                k = close + 1
            elif (
                self.low(k)
                in (
                    "on",
                    "at",
                    "along",
                    "under",
                    "between",
                    "in",
                    "into",
                    "from",
                    "around",
                    "with",
                    "perpendicularly",
                    "underneath",
                    "or",
                    "and",
                )
                and self.low(k) != "and"
            ):
                things, after = self.phrases.list_of(k + 1)
                if not things:
                    return k + 1 if self.low(k) == "perpendicularly" else k
                k = after
            else:
                return k
        return k

    def _order_after_tool(self, k: int) -> int:
        low = self.low(k)
        if low in (",", "and", "then") or low == "to":
            j = k + 1
            while self.low(j) in self.lexicon.words["adverbs"] or self.low(j) == "and":
                j += 1
            if self.lexicon.verb_of(self.low(j), "base") and (
                low == "to" or self.phrases.is_command(j)
            ):
                return self._verb(j)
            if low == ",":
                return k + 1
            return k
        if self.phrases.is_command(k):
            return self._verb(k)
        if low == "for" and self.lexicon.verb_of(self.low(k + 1), "ing"):
            return self._verb(k + 1)
        return k
