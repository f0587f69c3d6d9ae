"""Clauses: who orders what, and what the sentence merely states.

A sentence is read from left to right. At the start of a clause the reader looks for a verb in the
position of an order; everything else is a condition, a statement, a purpose or a prohibition. Each
parse function's docstring is the grammar rule that it implements.
"""

from __future__ import annotations

import re

from lastscrew.reading.clause_notes import NoteClauses
from lastscrew.reading.conditions import Parsed
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.predicates import Found
from lastscrew.reading.tokens import Token

_REMINDERS = phrase_group("clauses_reminders")
_ENABLERS = word_group("clauses_enablers")
_NEGATED = phrase_group("clauses_negated")
_MARKS = word_group("clauses_marks")
_SAYING = word_group("clauses_saying")
_STAFF = frozenset(
    [
        "person", "persons", "people", "personnel", "staff", "technician", "technicians", "electrician", "electricians",
        "engineer", "engineers", "professional", "professionals", "workshop", "specialist", "specialists", "fitter",
    ]
)  # fmt: skip
_OR_ELSE = re.compile(
    r"(?:if (?:you (?:don't|do not|forget|skip|miss) [^,]{0,60}|you (?:don't|do not)|not) ,"
    r"|otherwise ,?|or else ,?) ?(?:you(?:'ll|'d| will| would| risk| might)"
    r"|(?:it|they|(?:the|your) [\w-]+(?: [\w-]+)?)(?:'ll| will| would| might| (?!lies\b|is\b|has\b)\w+s\b))"
)
"""As in "If you don't, you'll snap it", "Otherwise the pin falls out": what goes wrong."""
_PUT_BACK = (
    "refit", "reinstall", "return", "replace", "put", "insert", "offer", "lower", "push", "slide", "place", "set", "lay", "press",  # noqa: E501
)  # fmt: skip


class SentenceParser(NoteClauses):
    """Reads one sentence; see :func:`parse_sentence`."""

    def parse(self) -> Parsed:
        """Sentence = clause { separator clause }; "See …" and "Refer to …" only point elsewhere."""
        if not self.spoken and (
            (self.low(0) == "see" and self.low(1) not in ("that", "if", "whether", "to"))
            or (self.low(0) == "refer" and self.low(1) == "to")
        ):
            self.parsed.reasons.append("reference")
            return self.parsed
        if not self.spoken and _OR_ELSE.match(" ".join(token.low for token in self.tokens)):
            self.parsed.reasons.append("what happens otherwise")
            return self.parsed
        i = 0
        while i < len(self.tokens):
            j = self.clause(i)
            i = j if j > i else self.next_clause(i)
        if not self.spoken:
            self._only_said()
            self._screws_with_it()
        return self.parsed

    def _screws_with_it(self) -> None:
        """As in "There is a collar with a set screw. It should be loosened": the screw is named, too."""
        if self.parsed.actions:
            return
        named = {
            t.head for stated in self.parsed.stated for t in (*stated.things, *stated.subjects)
        }
        for k in range(len(self.tokens)):
            thing = self.phrases.phrase(k + 1)[0] if self.low(k) == "with" else None
            if thing is not None and thing.category == "fastener" and thing.head not in named:
                self.parsed.mentioned.append(thing)

    def _only_said(self) -> None:
        """Not meant as work: "keep them separate", "remove it and try again"."""
        actions = self.parsed.actions
        again = any(self.matches(k, "and try again") for k in range(len(self.tokens)))
        kept = [
            found
            for k, found in enumerate(actions)
            if not (again and found.things and found.things[0].is_pronoun)
            and not (
                found.lemma == "separate"
                and not found.things
                and k
                and actions[k - 1].lemma in ("keep", "store", "leave")
            )
        ]
        self.parsed.actions[:] = kept

    def clause(self, i: int) -> int:
        """Clause = {opener} (prohibition | reminder | condition | tool | subject | order | statement)."""
        i = self._skip_openers(i)
        if i >= len(self.tokens):
            return i
        for rule in (
            self.reason,
            self.prohibition,
            self.reminder,
            self.having,
            self.carried_subject,
            self.topic_goes_on,
            self.gapped,
            self.subordinate,
            self.tool_first,
            self.starter,
            self.subject_clause,
            self.order,
            self.gerund_order,
            self.by_clause,
            self.object_first,
            self.there_is,
            self.inverted,
            self.shown,
            self.counted_alone,
            self.verbless,
            self.noted,
            self.which_you_do,
            self.which_is_done,
            self.statement,
        ):
            j = rule(i)
            if j > i:
                return j
        return self.next_clause(i)

    def _skip_openers(self, i: int) -> int:
        words = self.lexicon.words
        while i < len(self.tokens):
            low = self.low(i)
            if (
                low in _MARKS
                or self.phrases.kind(i) == "figure"
                or (low == "last" and self.phrases.is_det(i + 1))
            ):
                i += 1
            elif low == "next" and self.low(i + 1) == "to":
                return i
            elif low in words["openers"] or low in words["adverbs"]:
                if self.phrases.is_det(i) and low not in ("first", "second", "so", "all"):
                    return i
                if low in ("here", "there") and self.low(i + 1) in words["be"]:
                    return i
                i += 1
            elif (
                low in ("after", "with")
                and self.low(i + 1) in ("that", "this")
                and (self.low(i + 2) == "," or self.phrases.is_det(i + 2))
                and not self.spoken
            ):
                i += 2
            elif self.matches(i, "the next step is to") or self.matches(i, "the first step is to"):
                i += 5
            elif low in ("step", "one") and self.phrases.kind(i + 1) == "number":
                i += 2
            else:
                return i
        return i

    def having(self, i: int) -> int:
        """Having = "having" past phrase: work that is done before the main clause, where no other sentence orders it."""  # noqa: E501
        if self.low(i) != "having" or not self.lexicon.verb_of(self.low(i + 1), "past"):
            return i
        found, end = self.predicates.verb_phrase(i + 1)
        if found is None or not found.things:
            return i
        found.weak = "done"
        self._keep(found)
        return end

    def carried_subject(self, i: int) -> int:
        """As in "The dial is freed …, and then is lifted out", "the nuts are undone and set aside": the subject goes on."""  # noqa: E501
        told = self._carried_result(i)
        if told > i:
            return told
        passive = next(
            (
                found
                for found in reversed(self.parsed.actions[-1:])
                if found.weak in ("passive", "must")
            ),
            None,
        )
        before = self.low(i - 1) if i else ""
        if passive is None or (
            before not in ("and", ",", "then", "then,")
            and before not in self.lexicon.words["adverbs"]
        ):
            return i
        j = i
        while (
            self.low(j) in self.lexicon.words["be"] or self.low(j) in self.lexicon.words["adverbs"]
        ):
            j += 1
        given = self.predicates.given(Found("", "", i, things=list(passive.things)), j)
        if given is not None:
            self._keep(given)
            return given.end
        bare = j == i
        lemma = self.lexicon.verb_of(self.low(j), "past")
        if not lemma or (
            bare
            and self.phrases.starts_phrase(j + 1)
            and self.low(j + 1) not in self.lexicon.words["prepositions"]
            and self.low(j + 1) not in self.lexicon.words["adverbs"]
            and not self.low(j + 1).endswith("ly")
        ):
            return i
        found, end = self.predicates.verb_phrase(j)
        if found is None or (
            lemma in self.lexicon.words["holding"]
            and lemma not in ("plug", "screw", "bolt")
            and not (passive.lemma in _PUT_BACK and self.low(j + 1) in ("with", "by"))
        ):
            return i
        found.things, found.weak = list(passive.things), "passive"
        self._keep(found)
        return end

    def _carried_result(self, i: int) -> int:
        """As in "the board goes in first and goes back down with six screws"."""
        if not self.lexicon.verb_of(self.low(i), "s") or self.lexicon.is_noun(self.low(i)):
            return i
        earlier = self.parsed.actions[-1].things if self.parsed.actions else self.carried
        if not earlier:
            return i
        subject = Found("", "", i, things=list(earlier))
        found = self.predicates.carried_result(subject, i) or self._of_itself(subject, i)
        if found is None:
            return i
        self._keep(found)
        return max(found.end, i + 1)

    def _of_itself(self, subject: Found, i: int) -> Found | None:
        """As in "Mainboard lifts from the left side and takes out", translated."""
        if not self.item or self.spoken or not self._acts_on_itself(i):
            return None
        found, end = self.predicates.verb_phrase(i)
        if found is None or found.things:
            return None
        found.things, found.weak, found.end = list(subject.things), "result", end
        return found

    def reason(self, i: int) -> int:
        """Reason = ("because" | "otherwise") anything, behind what it gives the reason of: orders nothing."""
        if not i or self.spoken or self.low(i) not in ("because", "otherwise"):
            return i
        for k in range(i + 1, len(self.tokens)):
            if self.phrases.kind(k) == "mark" and (
                self.low(k) in (";", ".") or self.phrases.is_command(k + 1)
            ):
                return k + 1
        return len(self.tokens)

    def prohibition(self, i: int) -> int:
        """Prohibition = ("do not" | "never" | "avoid" | …) anything up to "but", "instead" or a new order."""
        if self._reserved(i) or self._reserved(i - 1):
            self.parsed.reasons.append("prohibition")
            return self._end_of_negation(i)
        length = self.first_match(i, _NEGATED)
        if not length or self.first_match(i, _REMINDERS):
            return i
        self.parsed.reasons.append("prohibition")
        return self._end_of_negation(i + length)

    def _reserved(self, i: int) -> bool:
        """As in "Only trained persons may open the cabinet": says who does the work, orders none."""
        if self.low(i) != "only":
            return False
        words = [token.low for token in self.tokens[i + 1 : i + 7]]
        modal = next((k for k, word in enumerate(words) if word in self.lexicon.words["modals"]), 0)
        return any(word in _STAFF for word in words[:modal])

    def reminder(self, i: int) -> int:
        """Reminder = ("be sure to" | "remember to" | …) order: counts only where nothing else says it."""
        length = self.first_match(i, _REMINDERS)
        if not length:
            return i
        j = i + length + (self.low(i + length) == ",")
        if self.low(j) in self.lexicon.words["adverbs"]:
            j += 1
        if self.low(j) == "not" or self.low(j) in ("don't", "never"):
            return self.prohibition_from(j)
        if self.phrases.is_command(j) or self.lexicon.verb_of(self.low(j), "base"):
            self.reminding = True
            return self._verb(j, weak="reminder")
        return i

    def prohibition_from(self, i: int) -> int:
        """Skip what is forbidden from ``i`` on."""
        self.parsed.reasons.append("prohibition")
        return self._end_of_negation(i + 1)

    def order(self, i: int) -> int:
        """Order = base verb …, also behind "is to" and "is": "all you do is remove it"."""
        if not self.phrases.is_command(i):
            return i
        if self.low(i) in _SAYING and self._says_that(i + 1):
            return self._saying(i)
        return self._verb(i)

    def _says_that(self, j: int) -> bool:
        if self.low(j) in ("that", "how", "whether", "sure"):
            return True
        return self.phrases.starts_phrase(j) and any(
            self.low(k) in ("is", "are", "has", "have")
            and not any(self.low(m) in ("that", "which", "to") for m in range(j, k))
            for k in range(j, min(j + 8, len(self.tokens)))
        )

    def _saying(self, i: int) -> int:
        """Saying = ("observe" | "note" | "ensure" …) ["that"] statement: the statement counts as one."""
        j = i + 1
        while self.low(j) in ("that", "how", "whether", "sure"):
            j += 1
        things, end = self.phrases.list_of(j)
        k = j
        while not things and k < len(self.tokens):
            k += 1
            things, end = self.phrases.list_of(k)
        lemma = self.lexicon.verb_of(self.low(i), "base")
        rest = " ".join(token.low for token in self.tokens[end : end + 16])
        key = _checked_state(things, rest) if lemma in ("ensure", "make") else ""
        found = Found(key or lemma, key or lemma, i, things=things, weak="reminder" if key else "")
        found.said = not key
        self._keep(found)
        return self._statement_from(j)

    def gerund_order(self, i: int) -> int:
        """Gerund = gerund phrase alone, opening a list item: "Unscrewing the four corners"."""
        if not self.lexicon.verb_of(self.low(i), "ing") or (
            self.lexicon.is_noun(self.low(i)) and not self.phrases.is_det(i + 1)
        ):
            return i
        found, end = self.predicates.verb_phrase(i)
        if found is None or not found.things:
            return i
        last = found.things[-1].name.lower().split()[-1:]
        if last and last[0].endswith("s") and self.phrases.is_det(end) and not self.spoken:
            if not self.lexicon.is_noun(last[0]):
                self.parsed.reasons.append("description")
                return self.next_clause(end)  # "Removing the seal voids the warranty"
        rest = [token.low for token in self.tokens[end : end + 4]]
        if (
            any(
                word in self.lexicon.words["be"] or word in self.lexicon.words["modals"]
                for word in rest[:2]
            )
            or not (self.item or self.spoken or self._whole_sentence(i, end))
            or (self.parsed.actions and not self.item)
        ):
            self.parsed.reasons.append("description")
            return self.next_clause(max(i, end - 1))
        if self.low(i - 1) == "," and self.parsed.actions:
            return end
        return self._verb(i)

    def _whole_sentence(self, i: int, end: int) -> bool:
        """As in "And unscrewing the four corners.": translated, a sentence of its own."""
        opens = not i or (i == 1 and self.low(0) in ("and", "then"))
        return opens and self.low(end) == "." and end >= len(self.tokens) - 1

    def by_clause(self, i: int) -> int:
        """By = "by" gerund phrase {("and" | ",") gerund phrase}."""
        if self.low(i) != "by":
            return i
        founds, end = self.predicates.by_phrases(i)
        for found in founds:
            self._keep(found)
        return end if founds else i


def _checked_state(things: list[Thing], rest: str) -> str:
    """As in "Ensure that the clips are fully in place" closes them; "that the wire is clear of …" routes it."""
    if not things:
        return ""
    category = things[-1].category
    if (
        category in ("clip", "lock")
        and any(
            word in rest
            for word in (
                "in place",
                "engaged",
                "locked",
                "closed",
                "latched",
                "seated",
                "snapped",
                "secured",
                "shut",
                "is down",
                "are down",
            )
        )
        and "not " not in rest[:12]
    ):
        return "close"
    if category == "cable" and any(
        word in rest
        for word in (
            "routed",
            "covering",
            "pinched",
            "clear of",
            "tucked",
            "trapped",
            "caught",
            "in the way",
            "in its channel",
            "in the channel",
        )
    ):
        return "route"
    return ""


def parse_sentence(
    tokens: list[Token],
    lexicon: Lexicon,
    *,
    spoken: bool = False,
    item: bool = False,
    carried: tuple[Thing, ...] = (),
) -> Parsed:
    """Orders and statements of one sentence.

    Args:
        tokens: The sentence, without its list mark.
        lexicon: Word lists.
        spoken: The text was spoken: full stops may be missing, numbers misheard.
        item: The sentence opens a list item.
        carried: What the sentence before was about, for one that goes on without a subject.
    """
    parser = SentenceParser(tokens, lexicon, spoken=spoken, item=item)
    parser.carried = carried
    return parser.parse()
