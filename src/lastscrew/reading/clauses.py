"""Clauses: who orders what, and what the sentence merely states.

A sentence is read from left to right. At the start of a clause the reader looks for a verb in the
position of an order; everything else is a condition, a statement, a purpose or a prohibition. Each
parse function's docstring is the grammar rule that it implements.
"""

from __future__ import annotations

from lastscrew.reading.conditions import Conditions, Parsed
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.note_form import NOTE_WORDS, note_verb
from lastscrew.reading.predicates import Found
from lastscrew.reading.tokens import Token

_REMINDERS = phrase_group("clauses_reminders")
_STARTERS = phrase_group("clauses_starters")
_ENABLERS = word_group("clauses_enablers")
_NEGATED = phrase_group("clauses_negated")
_MARKS = word_group("clauses_marks")
_SAYING = word_group("clauses_saying")
_PUT_BACK = (
    "refit", "reinstall", "replace", "put", "insert", "offer", "lower", "push", "slide", "place", "set", "lay", "press",
)  # fmt: skip
_TOOL_WORDS = ("using", "with", "use", "by using", "take", "grab")


class SentenceParser(Conditions):
    """Reads one sentence; see :func:`parse_sentence`."""

    def parse(self) -> Parsed:
        """Sentence = clause { separator clause }."""
        i = 0
        while i < len(self.tokens):
            j = self.clause(i)
            i = j if j > i else self.next_clause(i)
        return self.parsed

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

    def clause(self, i: int) -> int:
        """Clause = {opener} (prohibition | reminder | condition | tool | subject | order | statement)."""
        i = self._skip_openers(i)
        if i >= len(self.tokens):
            return i
        for rule in (
            self.prohibition,
            self.reminder,
            self.having,
            self.carried_subject,
            self.subordinate,
            self.tool_first,
            self.starter,
            self.subject_clause,
            self.order,
            self.gerund_order,
            self.by_clause,
            self.there_is,
            self.verbless,
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
            if low in _MARKS or self.phrases.kind(i) == "figure":
                i += 1
            elif low in words["openers"] or low in words["adverbs"]:
                if self.phrases.is_det(i) and low not in ("first", "second", "so", "all"):
                    return i
                if low in ("here", "there") and self.low(i + 1) in words["be"]:
                    return i
                i += 1
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
        passive = next(
            (found for found in reversed(self.parsed.actions[-1:]) if found.weak == "passive"), None
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
        bare = j == i
        lemma = self.lexicon.verb_of(self.low(j), "past")
        if not lemma or (
            bare
            and self.phrases.starts_phrase(j + 1)
            and self.low(j + 1) not in self.lexicon.words["prepositions"]
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

    def prohibition(self, i: int) -> int:
        """Prohibition = ("do not" | "never" | "avoid" | …) anything up to "but", "instead" or a new order."""
        length = self.first_match(i, _NEGATED)
        if not length or self.first_match(i, _REMINDERS):
            return i
        self.parsed.reasons.append("prohibition")
        return self._end_of_negation(i + length)

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

    def reminder(self, i: int) -> int:
        """Reminder = ("be sure to" | "remember to" | …) order: counts only where nothing else says it."""
        length = self.first_match(i, _REMINDERS)
        if not length:
            return i
        j = i + length
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
        is_tool = any(thing.category in ("tool", "body") for thing in things) or (
            self.low(i) in ("using", "use") and things[0].category == "unknown"
        )
        if self.low(i) == "with" and not is_tool:
            return self._main_after(j)
        if self.low(i) in ("take", "grab") and not (is_tool and self.low(k) in ("and", "to")):
            return i
        if self.low(i) == "use" and not (
            self.low(k) in ("to", "and", ",", "for")
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
        if low not in self.lexicon.words["subjects"] or low == "they":
            return i
        if self.low(i - 1) in _ENABLERS and i > 0:
            return self.next_clause(i)
        chain_start = i + 1
        j = self._through_chain(chain_start)
        chain = [token.low for token in self.tokens[chain_start:j]]
        if any(word in self.lexicon.words["negations"] for word in (*chain, self.low(j))):
            self.parsed.reasons.append("prohibition")
            return self._end_of_negation(j)
        return self._subject_verb(i, j, chain)

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
        weak = (
            "may" if ("may" in chain or "might" in chain) else "result" if "able" in chain else ""
        )
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

    def _after_seeing(self, j: int) -> int:
        """As in "You will see four screws …", "We recommend removing …": a statement, or advice."""
        if self.low(j) in ("recommend", "suggest", "prefer"):
            if self.low(j + 1) == "using":
                return self.tool_first(j + 1)
            if self.lexicon.verb_of(self.low(j + 1), "ing"):
                return self._verb(j + 1, weak="advice")
            return self.next_clause(j)
        return self._statement_from(j + 1)

    def _statement_from(self, j: int) -> int:
        if self.low(j) in ("that", "how"):
            j += 1
        end = self.statement(j)
        return end if end > j else self.next_clause(j)

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
        self._keep(
            Found(key or lemma, key or lemma, i, things=things, weak="reminder" if key else "")
        )
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
        rest = [token.low for token in self.tokens[end : end + 4]]
        if (
            any(
                word in self.lexicon.words["be"] or word in self.lexicon.words["modals"]
                for word in rest[:2]
            )
            or not (self.item or self.spoken)
            or (self.parsed.actions and not self.item)
        ):
            self.parsed.reasons.append("description")
            return self.next_clause(max(i, end - 1))
        if self.low(i - 1) == "," and self.parsed.actions:
            return end
        return self._verb(i)

    def by_clause(self, i: int) -> int:
        """By = "by" gerund phrase {("and" | ",") gerund phrase}."""
        if self.low(i) != "by":
            return i
        founds, end = self.predicates.by_phrases(i)
        for found in founds:
            self._keep(found)
        return end if founds else i

    def verbless(self, i: int) -> int:
        """Verbless = phrase ("off" | "out" | "in" | "on" | "up" | "down" …) at the end: a list item in note form."""
        if not self.item or self.spoken or not self.phrases.starts_phrase(i):
            return i
        things, j = self.phrases.list_of(i)
        word = self.low(j)
        if not things or word not in NOTE_WORDS or things[-1].is_pronoun:
            return i
        after = self.low(j + 1)
        if after and after not in _MARKS and after not in ("and", "with", "by", "from"):
            return i
        key = note_verb(things[-1].category, word)
        if not key:
            return i
        found = Found(key, key, i, things=things, end=j + 1)
        end = self.predicates.after_note(j + 1, found)
        self._keep(found)
        return max(end, j + 1)

    def which_is_done(self, i: int) -> int:
        """Which = "which" be past: "held by six screws, which are then removed" tells of the work in passing."""
        if self.low(i) not in ("which", "these", "they") or self.low(i + 1) not in ("is", "are"):
            return i
        name = "it" if self.low(i + 1) == "is" else "them"
        thing = Thing(name, name, "pronoun", plural=name == "them")
        _, founds, end = self.predicates.passive_of(Found("", "", i, things=[thing]), i + 1)
        for found in founds:
            self._keep(found)
        return end if founds else i

    def there_is(self, i: int) -> int:
        """There = ("there is" | "there are" | "we've got" | "it has") phrases [holding …]."""
        low = self.low(i)
        if low in ("there", "here") and self.low(i + 1) in (
            "is",
            "are",
            "will",
            "should",
            "were",
            "was",
            "may",
        ):
            j = i + 1
            while (
                self.low(j) in self.lexicon.words["be"]
                or self.low(j) in self.lexicon.words["modals"]
                or self.low(j) in self.lexicon.words["adverbs"]
            ):
                j += 1
            stated, end = self.predicates.stated_things(j)
            if stated is not None:
                self.parsed.stated.append(stated)
                self.parsed.reasons.append("description")
                return end
        return i

    def statement(self, i: int) -> int:
        """Statement = phrases (be held | holds | has | must be removed | comes off) …."""
        if not self.phrases.starts_phrase(i):
            return i
        stated, founds, end = self.predicates.statement(i)
        if stated is not None:
            self.parsed.stated.append(stated)
        for found in founds:
            self._keep(found)
        if stated is None and not founds:
            thing, after = self.phrases.phrase(i)
            if (
                thing is not None
                and thing.article == "the"
                and thing.category
                in ("part", "card", "cover", "board", "cable", "connector", "antenna")
                and (
                    self.low(after) in self.lexicon.words["be"]
                    or self.lexicon.verb_of(self.low(after), "s")
                )
            ):
                self.parsed.mentioned.append(thing)
        if (stated is not None or founds) and end > i:
            self.parsed.reasons.append("description")
            return end
        return i

    def _listed_behind(self, found: Found, end: int) -> int:
        """As in "Disconnect the following cables: A, B and C": the list is what the verb is done to."""
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

    def _verb(self, i: int, weak: str = "") -> int:
        """Keep the verb phrase at ``i``, with its manner and purpose."""
        found, end = self.predicates.verb_phrase(i)
        if found is None:
            return i + 1
        found.weak = found.weak or weak or ("reminder" if self.reminding else "")
        end = self._listed_behind(found, end)
        self._keep(found)
        return max(end, i + 1)


_FOLLOWING = ("following", "whatever", "these", "everything", "below", "rest")


def _generic(found: Found) -> bool:
    """As in "the following cables", "whatever is still plugged in": the names come behind a colon."""
    return not found.things or any(
        word in found.things[-1].name.lower().split() for word in _FOLLOWING
    )


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
    tokens: list[Token], lexicon: Lexicon, *, spoken: bool = False, item: bool = False
) -> Parsed:
    """Orders and statements of one sentence.

    Args:
        tokens: The sentence, without its list mark.
        lexicon: Word lists.
        spoken: The text was spoken: full stops may be missing, numbers misheard.
        item: The sentence opens a list item.
    """
    return SentenceParser(tokens, lexicon, spoken=spoken, item=item).parse()
