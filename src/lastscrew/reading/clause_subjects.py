"""Clauses with a subject: "you can now lift it", "I took it out", "the fan is held by three screws"."""

from __future__ import annotations

from lastscrew.reading.clause_tools import ToolClauses
from lastscrew.reading.lexicon.groups import phrase_group, word_group

_STARTERS = phrase_group("clauses_starters")
_PEOPLE = frozenset(
    [
        "neighbour",
        "neighbor",
        "partner",
        "colleague",
        "helper",
        "assistant",
        "person",
        "friend",
        "mate",
    ]
)
_SERVICED = frozenset(["replace", "exchange", "swap", "service", "upgrade", "renew"])
_SEEN = frozenset(["fastener", "cable", "connector", "clip", "lock", "film", "tie", "cover", "part", "board", "card"])  # fmt: skip  # noqa: E501
_ENABLERS = word_group("clauses_enablers")
_NO_WORK = frozenset(["use", "using", "see", "find", "know", "look", "reach", "access", "have", "need", "want", "get"])  # fmt: skip  # noqa: E501
"""Behind "so you" these tell of no work: "so you can see it"."""


class SubjectClauses(ToolClauses):
    """Orders and statements behind "you", "we", "I", or behind the thing that they speak of."""

    def starter(self, i: int) -> int:
        """Starter = ("go ahead and" | "start by" | "let's" | …) order."""
        length = self.first_match(i, _STARTERS)
        if not length:
            return i
        j = self._through_chain(i + length)
        lemma = self.lexicon.verb_of(self.low(j), "base", "ing")
        return self._verb(j) if lemma else i

    def subject_clause(self, i: int) -> int:
        """Subject = ("you" | "we" | "I") {auxiliary} (base verb | gerund | past): an order in the trade's talk."""
        low = self.low(i)
        helper = self._helper(i)
        if helper > i:
            return self._verb(helper)
        if low not in self.lexicon.words["subjects"] or low == "they":
            return i
        told = self.low(self._through_chain(i + 1))
        opens = self.spoken and i == 1 and self.low(0) == "so" and told not in _NO_WORK
        if self.low(i - 1) in _ENABLERS and i > 0 and not opens:
            return self.next_clause(i)
        chain_start = i + 1
        j = self._through_chain(chain_start)
        chain = [token.low for token in self.tokens[chain_start:j]]
        if any(word in self.lexicon.words["negations"] for word in (*chain, self.low(j))):
            self.parsed.reasons.append("prohibition")
            return self._end_of_negation(j)
        return self._subject_verb(i, j, chain)

    def _topic_first(self) -> None:
        """As in "New motor or old, put it on the plate": what is named before its order is what "it" means."""
        things, end = self.phrases.list_of(0)
        known = things and things[0].category in _SEEN and not things[0].is_pronoun
        if known and self.low(end) == "," and self.phrases.is_command(end + 1):
            if self.low(end + 2) in ("it", "them"):
                self.parsed.mentioned.append(things[0])

    def _done_to_another(self, j: int) -> None:
        """As in "A spring pushes the brush out": the brush is what is spoken of next."""
        if (
            self.spoken
            or not self.lexicon.verb_of(self.low(j), "s")
            or not self.phrases.is_det(j + 1)
        ):
            return
        other, _ = self.phrases.phrase(j + 1)
        if other is not None and not other.is_pronoun and other.category in _SEEN:
            self.parsed.mentioned.append(other)

    def _helper(self, i: int) -> int:
        """As in "Your neighbour lifts the gearbox": the place of the verb behind a person; ``i`` where none speaks."""
        j = i + 1 + (self.low(i + 1) in ("second", "other"))
        if self.low(i) not in ("your", "a", "the", "one") or self.low(j) not in _PEOPLE:
            return i
        j = self._through_chain(j + 1)
        return j if self.lexicon.verb_of(self.low(j), "s", "base") else i

    def _subject_verb(self, i: int, j: int, chain: list[str]) -> int:
        low = self.low(i)
        verb = self.low(j)
        if self.lexicon.verb_of(verb, "base") in (
            "see",
            "find",
            "watch",
            "look",
            "observe",
            "note",
        ) or verb in (
            "notice",
            "hear",
            "feel",
            "see",
            "have",
            "recommend",
            "suggest",
            "seen",
            "saw",
            "prefer",
        ):
            return self._after_seeing(j)
        if verb in ("access", "reach") or (verb == "get" and self.low(j + 1) in ("at", "to")):
            seen = self._reached(j + 1 + (verb == "get"))
            if seen > j:
                return seen
        weak = (
            "may" if ("may" in chain or "might" in chain) else "result" if "able" in chain else ""
        )
        serviced = self.lexicon.verb_of(verb, "base") in _SERVICED and self.low(j + 1) in (
            "a",
            "an",
        )
        if serviced and "can" in chain and "now" not in chain and not self.spoken:
            self.parsed.reasons.append("description")
            return self.next_clause(j)  # "You can replace a sled while the others run"
        if self.lexicon.verb_of(verb, "base"):
            return self._verb(j, weak=weak)
        if self.lexicon.verb_of(verb, "ing") and (
            any(
                word in ("are", "am", "be", "re", "m", "start", "by", "begin", "started", "ahead")
                for word in chain
            )
            or "'re" in low
            or "'m" in low
        ):
            return self._verb(j)
        perfect = "have" in chain or "has" in chain or "'ve" in low or "got" in chain
        if self.lexicon.verb_of(verb, "past") and low in ("i", "we") and not perfect:
            return self._verb(j)
        if perfect and self.lexicon.verb_of(verb, "past"):
            self.parsed.reasons.append("already done")
            _, end = self.predicates.verb_phrase(j)
            return max(end, j + 1)
        if ("got" in chain or "have" in chain or verb == "have") and self.phrases.starts_phrase(j):
            stated, end = self.predicates.stated_things(j)
            if stated is not None:
                self.parsed.stated.append(stated)
                self.parsed.reasons.append("description")
                return end
        return self._statement_from(j)

    def _reached(self, j: int) -> int:
        """As in "Now you can get at the four bolts that hold the gearbox": what lies open is spoken of next."""
        stated, end = self.predicates.stated_things(j)
        if stated is None or stated.things[0].category not in ("fastener", "cable", "connector"):
            return j - 2
        self.parsed.stated.append(stated)
        self.parsed.reasons.append("description")
        return end

    def _after_seeing(self, j: int) -> int:
        """As in "You will see four screws …", "We recommend removing …": a statement, or advice."""
        if self.low(j) in ("recommend", "suggest", "prefer"):
            if self.low(j + 1) == "using":
                return self.tool_first(j + 1)
            if self.lexicon.verb_of(self.low(j + 1), "ing"):
                return self._verb(j + 1, weak="advice")
            return self.next_clause(j)
        end = self._statement_from(j + 1)
        if not self.parsed.stated:
            stated, after = self.predicates.stated_things(j + 1)
            if stated is not None and stated.things[0].category in _SEEN:
                self.parsed.stated.append(stated)
                self.parsed.reasons.append("description")
                return after
        return end

    def _statement_from(self, j: int) -> int:
        if self.low(j) in ("that", "how"):
            j += 1
        end = self.statement(j)
        return end if end > j else self.next_clause(j)

    def statement(self, i: int) -> int:
        """Statement = phrases (be held | holds | has | must be removed | comes off) …."""
        if not self.phrases.starts_phrase(i):
            return i
        stated, founds, end = self.predicates.statement(i)
        self.topic = self.phrases.list_of(i)[0]
        if stated is not None:
            self.parsed.stated.append(stated)
        for found in founds:
            self._keep(found)
        if stated is None and not founds:
            thing, after = self.phrases.phrase(i)
            if self.low(after) in ("under", "on", "behind", "beneath", "inside", "in", "at"):
                after = after if self.spoken else max(after, self.phrases.phrase(after + 1)[1])
            if (
                thing is not None
                and (
                    thing.article in ("the", "this", "that", "our", "your", "these", "those")
                    or (thing.article in ("its", "their") and not self.spoken)
                    or (thing.article in ("a", "an") and not self.spoken)
                    or (self.item and not self.spoken and not i and not thing.article)
                )
                and (
                    thing.category
                    in ("part", "card", "cover", "board", "cable", "connector", "antenna")
                    or (thing.category in ("fastener", "clip", "lock", "film") and not self.spoken)
                )
                and (
                    self.low(after) in self.lexicon.words["be"]
                    or self.low(after) in self.lexicon.words["modals"]
                    or (self.low(after) in ("need", "needs", "has", "have") and not self.spoken)
                    or self.lexicon.verb_of(self.low(after), "s")
                    or self.low(after + 1) in ("its", "their", "it", "them")
                    or (self.low(after) == "," and self.low(after + 1) in ("which", "whose"))
                )
            ):
                self.parsed.mentioned.append(thing)
                self._done_to_another(after)
        if stated is None and not founds and not i and not self.spoken:
            self._topic_first()
        seen = {token.low for token in self.tokens[i : i + 12]} & {
            "seen",
            "found",
            "visible",
            "noticed",
        }
        if stated is None and not founds and seen:
            thing, _ = self.phrases.phrase(i)
            if thing is not None and not thing.is_pronoun and thing.category in _SEEN:
                self.parsed.mentioned.append(thing)
        if (stated is not None or founds) and end > i:
            self.parsed.reasons.append("description")
            return end
        return i
