"""Conditions and circumstances: what stands before, beside or behind an order without being one.

The base of the sentence parser: it finds where the main clause begins behind "if …", "once …",
"before …", "while …".
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.morphology import is_designator, noun_singular
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.predicates import Found, Stated
from lastscrew.reading.statements import Predicates
from lastscrew.reading.thoughts import begins_thought
from lastscrew.reading.tokens import Token


@lru_cache(maxsize=32)
def _by_first_word(options: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for option in options:
        found.setdefault(option.split()[0], []).append(option)
    return {word: tuple(rows) for word, rows in found.items()}


@dataclass
class Parsed:
    """What one sentence says."""

    actions: list[Found] = field(default_factory=list)
    stated: list[Stated] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    mentioned: list[Thing] = field(default_factory=list)


_ON_THE_WAY = frozenset(
    [
        "reassembly",
        "assembly",
        "refitting",
        "installation",
        "reinstallation",
        "fitting",
        "assembling",
        "disassembly",
        "dismantling",
    ]
)
_WHERE = frozenset(
    [
        "on",
        "under",
        "underneath",
        "beneath",
        "behind",
        "at",
        "in",
        "below",
        "above",
        "inside",
        "beside",
        "through",
        "from",
    ]
)
_SHOWN = frozenset(
    [
        "fastener",
        "cable",
        "connector",
        "clip",
        "lock",
        "part",
        "cover",
        "board",
        "card",
        "film",
        "tie",
    ]
)
_GONE_VERBS = frozenset(
    [
        "remove",
        "take",
        "lift",
        "peel",
        "draw",
        "withdraw",
        "pull",
        "cut",
        "release",
        "open",
        "unhook",
        "unclip",
        "unscrew",
        "detach",
    ]
)
_MOVES = frozenset(
    ["came", "lifted", "lifts", "comes", "slides", "slid", "pops", "swings", "drops", "hinges"]
)
_SCREWING = frozenset(["unscrew", "undo", "loosen", "unbolt", "slacken", "tighten", "screw"])
_STAYS = frozenset(
    ["sticks", "stays", "remains", "sits", "hangs", "adheres", "clings", "stuck", "jams"]
)
_GONE = frozenset(["gone", "off", "out", "undone", "away", "free", "loose", "open"])


class Conditions:
    """Reads what is said around the orders of one sentence."""

    def __init__(self, tokens: list[Token], lexicon: Lexicon, *, spoken: bool, item: bool) -> None:
        """Keep the tokens; ``item``: the sentence opens a list item, where a gerund may order."""
        self.tokens = tokens
        self.lexicon = lexicon
        self.spoken = spoken
        self.item = item
        self.phrases = Phrases(tokens, lexicon, spoken=spoken)
        self.predicates = Predicates(self.phrases)
        self.parsed = Parsed()
        self.tool = ""
        self.tool_drive = ""
        self.condition = ""
        self.reminding = False
        self.topic: list[Thing] = []
        """What the sentence states something about."""
        self.carried: tuple[Thing, ...] = ()

    def low(self, i: int) -> str:
        """Lower-case text of token ``i``."""
        return self.phrases.low(i)

    def matches(self, i: int, phrase: str) -> int:
        """Number of tokens of ``phrase`` where it stands at ``i``, else 0."""
        words = phrase.split()
        return len(words) if all(self.low(i + k) == word for k, word in enumerate(words)) else 0

    def first_match(self, i: int, options: tuple[str, ...]) -> int:
        """Length of the longest of ``options`` that stands at ``i``, else 0."""
        first = _by_first_word(options).get(self.low(i), ())
        return max((self.matches(i, option) for option in first), default=0)

    def _certain_command(self, j: int) -> bool:
        return self.phrases.is_command(j) and (
            self.phrases.is_det(j + 1)
            or self.low(j + 1) in ("it", "them", "that", "those", "out", "off", "up", "down", "on")
        )

    def _through_chain(self, j: int) -> int:
        words = self.lexicon.words
        while (
            j < len(self.tokens)
            and (self.low(j) in words["auxiliaries"] or self.low(j) in words["adverbs"])
            and not (
                self.phrases.is_command(j)
                and self.low(j) not in ("go", "start", "begin", "come", "try")
                and self.low(j + 1) != "to"
            )
        ):
            j += 1
        return j

    def _supposed(self, i: int, end: int) -> None:
        """As in "If you have the gripper mounted, unplug its cable": what is supposed to be there is named."""
        for k in range(i, end):
            if not self.phrases.is_det(k):
                continue
            thing, after = self.phrases.phrase(k)
            if thing is not None and after <= end and thing.category in _SHOWN - {"fastener"}:
                self.parsed.mentioned.append(thing)
                return

    def subordinate(self, i: int) -> int:
        """Condition = ("if" | "when" | "once" | "before" | "while" | …) anything "," main clause."""
        low = self.low(i)
        if (low == "so" and self.low(i + 1) == "that") or (
            low == "in" and self.low(i + 1) == "order" and self.low(i + 2) == "to"
        ):
            return self._main_after(i + 1)
        if low not in self.lexicon.words["subordinators"] and low not in (
            "behind",
            "beneath",
            "underneath",
            "under",
            "through",
            "below",
            "because",
            "to",
            "for",
            "upon",
            "prior",
            "by",
            "during",
            "in",
            "on",
            "at",
            "from",
            "due",
            "depending",
            "like",
            "starting",
            "working",
        ):
            return i
        if low == "by":
            return i
        if low == "after" and self.low(i + 1) == "which":
            return i + 2
        if low == "once" and self.phrases.is_command(i + 1):
            return i
        if (
            low in ("to", "for", "in", "on", "at", "from", "during", "like")
            and self.low(i + 1) == ""
        ):
            return i
        if low == "to" and self.parsed.actions and self.predicates.base_at(i + 1):
            purpose, end = self.predicates.verb_phrase(self.predicates.skip_adverbs(i + 1))
            self.parsed.actions[-1].purpose = self.parsed.actions[-1].purpose or purpose
            return max(end, i + 1)
        after = low == "after" and self.low(i + 2) != "of" and not self.spoken
        if (low in ("on", "for", "during", "in") or after) and self.low(i + 1) in _ON_THE_WAY:
            return i + 2 + (self.low(i + 2) == ",")
        removed = self._on_removal(i)
        if removed > i:
            return removed
        located = self._located(i)
        if located > i:
            return located
        if low in ("behind", "beneath", "underneath", "under", "through", "below"):
            return i
        if low == "after" and not self.spoken and self.low(i + 2) in ("can", "could", "may"):
            lemma = self.lexicon.verb_of(self.low(i + 1), "base", "ing")
            if lemma:  # "after unscrew can take out the pump", translated
                them = Thing("them", "them", "pronoun", plural=True)
                self._keep(Found(lemma, lemma, i + 1, things=[them], weak="done"))
                return i + 2
        if low == "before" and self.parsed.actions:
            self._before(i + 1)
        if low in ("once", "when", "after") and self.spoken:
            self._done_before(i + 1)
        if low in ("once", "when", "after") and not self.spoken:
            self._done_to_it(i + 1)
        j = self._main_after(i + 1)
        text = " ".join(token.text for token in self.tokens[i : max(i, j - 1)])
        if low in ("while", "as"):
            self._while(i + 1, j)
        if low in ("if", "where", "unless", "when") and j < len(self.tokens):
            self.condition = text if low in ("if", "unless") else self.condition
            if low == "if" and not self.spoken:
                self._supposed(i + 1, j)
        if low in ("to", "for", "in", "on", "at", "from", "starting", "working"):
            self._facts_before(i + 1 if low == "to" and self.predicates.base_at(i + 1) else i)
        elif low in ("if", "when", "once", "after", "with", "where"):
            self._named_between(i + 1, j)
            self._stays_somewhere(i + 1)
        self.parsed.reasons.append(
            "condition" if low in ("if", "unless", "when", "where") else "time or place"
        )
        return j

    def _located(self, i: int) -> int:
        """As in "Under each foot hides a screw", "On the left a spring will be seen": what is where."""
        if self.low(i) not in _WHERE:
            return i
        place, end = self.phrases.phrase(i + 1)
        if place is None:
            return i
        if not self.spoken and self.phrases.is_det(end) and self.phrases.is_clause(end):
            return end
        if not self.spoken and self.low(end) in ("you", "we") and place.category == "place":
            return end
        if place.is_pronoun:
            return i
        end += self.low(end) == ","
        verb = self.lexicon.verb_of(self.low(end), "s", "base")
        if self.low(end) in (
            "is",
            "are",
            "sits",
            "sit",
            "lies",
            "lie",
            "hides",
            "hide",
            "hangs",
            "runs",
        ) or verb in ("hide", "sit", "lie"):
            stated, after = self.predicates.stated_things(end + 1)
            if stated is not None and stated.things[0].category in _SHOWN:
                self.parsed.stated.append(stated)
                self.parsed.reasons.append("description")
                return after
            return i
        thing, after = self.phrases.phrase(end)
        seen = {token.low for token in self.tokens[after : after + 5]} & {
            "seen",
            "found",
            "visible",
        }
        if thing is not None and seen and thing.category in _SHOWN:
            self.parsed.mentioned.append(thing)
            self.parsed.reasons.append("description")
            return after + 1
        return i

    def _on_removal(self, i: int) -> int:
        """As in "On removal of the bolts the cover can be lifted": done before the main clause, if nobody orders it."""
        j = i + 1 + (self.low(i + 1) == "the")
        if self.low(i) not in ("on", "upon", "after", "following") or self.low(j) not in (
            "removal",
            "withdrawal",
            "removing",
            "withdrawing",
        ):
            return i
        j += 1 + (self.low(j + 1) == "of")
        things, end = self.phrases.list_of(j)
        if not things or not all(
            thing.category in ("fastener", "clip", "lock", "cover", "part") for thing in things
        ):
            return i
        if things[-1].category == "fastener":
            behind = bool(self.parsed.actions) and not self.spoken
            weak = "done" if behind and things[-1].count else "with"
            self._keep(Found("remove", "remove", i, things=things, weak=weak))
            if behind:
                # "Remove the cover after removing the four screws": the screws come first.
                self.parsed.actions[-2:] = self.parsed.actions[:-3:-1]
        return end + (self.low(end) == ",")

    def _done_before(self, i: int) -> None:
        """As in "once you've got all three out": tells of work that no other sentence may order."""
        j = self._through_chain(i + 1) if self.low(i) in self.lexicon.words["subjects"] else i
        if j == i:
            return
        j = next((k for k in range(i + 1, j) if self.low(k) in ("got", "get")), j)
        if self.low(j) in ("got", "get", "have"):
            things, after = self.phrases.list_of(j + 1)
            if things and things[-1].name == "undone":
                things = [Thing("those", "those", "pronoun", plural=True, count=things[-1].count)]
            elif self.low(after) not in ("out", "off", "undone", "loose", "removed"):
                things = []
            if things:
                self._keep(Found("remove", "remove", i, things=things, weak="done"))
                return
        if self.lexicon.verb_of(self.low(j), "past", "base"):
            found, _ = self.predicates.verb_phrase(j)
            if found is not None and found.things:
                found.weak = "done"
                self._keep(found)

    def _done_to_it(self, i: int) -> None:
        """As in "Once the four nuts have been undone, …", "after I had taken out the screw": done, if nobody orders it."""  # noqa: E501
        subject = self.lexicon.words["subjects"]
        if (
            self.low(i) in subject
            and self.low(i + 1) in ("had", "have")
            and self.lexicon.verb_of(self.low(i + 2), "past")
        ):
            found, _ = self.predicates.verb_phrase(i + 2)
            if found is not None and found.things:
                found.weak = "done"
                self._keep(found)
            return
        things, after = self.phrases.list_of(i)
        if (
            things
            and things[-1].category in ("fastener", "clip", "lock")
            and not things[-1].is_pronoun
            and self.low(after) in self.lexicon.words["be"]
            and self.low(after + 1) in ("out", "off", "undone", "away", "gone")
        ):
            lemma = "release" if things[-1].category in ("clip", "lock") else "remove"
            things = [self._as_counted(thing) for thing in things]
            weak = "done" if things[-1].count else "with"
            self._keep(Found(lemma, lemma, i, things=things, weak=weak))
            return
        self.predicates.in_condition = True
        _, founds, _ = self.predicates.statement(i)
        self.predicates.in_condition = False
        end = i
        for found in founds:
            end = max(end, found.end)
            if found.weak == "passive" and any(
                thing.count
                or thing.is_pronoun
                or thing.category in ("fastener", "cable", "connector")
                or (thing.category in _SHOWN and found.lemma in _GONE_VERBS)
                for thing in found.things
            ):
                found.weak = "done"
                self._keep(found)
        if founds and end > i and self.low(end) == "and" and self.phrases.starts_phrase(end + 1):
            self._done_to_it(end + 1)

    def _as_counted(self, thing: Thing) -> Thing:
        """As in "It is held by two screws, so after the screws are out …": as many as the sentence has said."""
        if thing.count is not None:
            return thing
        for stated in reversed(self.parsed.stated):
            for told in stated.things:
                if told.head == thing.head and told.count is not None:
                    return replace(thing, count=told.count)
        return thing

    def _before(self, i: int) -> None:
        """As in "… before screwing in the two screws": counts only where it says how many."""
        while self.low(i) in self.lexicon.words["adverbs"]:
            i += 1
        if not self.spoken and self.phrases.is_det(i):
            _, founds, _ = self.predicates.statement(i)
            for later in founds:
                if (
                    later.weak in ("passive", "result")
                    and later.things
                    and not later.things[0].is_pronoun
                ):
                    later.weak = "done"
                    self._keep(later)
            return
        if self.spoken and self.low(i) in ("you", "we", "i"):
            found, _ = self.predicates.verb_phrase(i + 1)
            if found is not None and self.lexicon.verbs[found.key].klass == "tighten":
                found.weak = "result"
                self._keep(found)
            return
        if self.lexicon.verb_of(self.low(i), "ing"):
            found, _ = self.predicates.verb_phrase(i)
            if found is not None and any(thing.count for thing in found.things):
                found.weak = "before"
                self._keep(found)

    def _facts_before(self, i: int) -> None:
        """A place said first ("On the left side, …", "From the rear of the case, …") counts as mentioned."""
        things, _ = self.phrases.list_of(i + 1)
        self.parsed.mentioned += [
            thing for thing in things if thing.category not in ("place", "text", "tool", "pronoun")
        ]

    def _stays_somewhere(self, i: int) -> None:
        """As in "If the gasket sticks to the flange, scrape it off": what sticks is what "it" means."""
        verb = next((k for k in range(i + 1, i + 6) if self.low(k) in _STAYS), 0)
        names = [
            t.text for t in self.tokens[i:verb] if t.low not in self.lexicon.words["determiners"]
        ]
        if not verb or self.spoken or not names or len(names) > 3:
            return
        category = self.lexicon.category(tuple(name.lower() for name in names))
        if category in _SHOWN and category != "fastener":
            head = noun_singular(names[-1].lower())
            self.parsed.mentioned.append(Thing(" ".join(names), head, category, article="the"))

    def _named_between(self, i: int, end: int) -> None:
        """Things named in a condition: "If it has a camera, unplug it"."""
        k = i
        while k < end:
            thing, after = self.phrases.phrase(k)
            if (
                thing is not None
                and not thing.is_pronoun
                and thing.category not in ("unknown", "tool", "text", "place", "device", "fastener")
            ):
                self.parsed.mentioned.append(thing)
            k = max(after, k + 1)

    def _while(self, i: int, end: int) -> None:
        """As in "while pressing the latch" orders the pressing, if it opens something."""
        subject = self.low(i) in self.lexicon.words["subjects"]
        if subject:
            i += 1
        if subject and self.spoken and self.lexicon.verb_of(self.low(i), "base"):
            found, _ = self.predicates.verb_phrase(i)
            pulled = found is not None and found.lemma in ("pull", "lift", "slide", "draw", "take")
            if found is not None and pulled and found.things and found.particle:
                found.weak = "result"  # "feed the cable through as you pull the pole out"
                self._keep(found)
            return
        if subject and not self.spoken and self.lexicon.verb_of(self.low(i), "base"):
            found, _ = self.predicates.verb_phrase(i)
            if (
                found is not None
                and found.things
                and (
                    found.things[-1].category in ("fastener", "cable", "connector")
                    or (found.things[-1].is_pronoun and found.lemma in _SCREWING)
                )
            ):
                self._keep(found)
            return
        while self.low(i) in self.lexicon.words["adverbs"]:
            i += 1
        if self.lexicon.verb_of(self.low(i), "ing"):
            found, _ = self.predicates.verb_phrase(i)
            if found is not None:
                self.parsed.mentioned += [t for t in found.things if not t.is_pronoun]
            if (
                found is not None
                and found.things
                and found.position < end
                and found.lemma
                in (
                    "press",
                    "push",
                    "squeeze",
                    "pinch",
                    "depress",
                    "release",
                    "unlock",
                    "spread",
                    "pull",
                )
            ):
                found.manner = True
                self._keep(found)

    def _main_after(self, i: int) -> int:
        """Start of the main clause behind a condition that begins at ``i``."""
        commas = []
        j = i
        while j < len(self.tokens):
            low = self.low(j)
            if low in (",", ";", ":", "—", "–", ")") or (low == "then" and not self.spoken):
                if self._opens_main(j + 1):
                    return j + 1
                if low == ",":
                    commas.append(j + 1)
                if low == ";":
                    return j + 1
            elif (self.spoken and j > i + 1 and self._spoken_main(j)) or (
                j > i + 1 and not commas and self._bare_main(j)
            ):
                return j
            j += 1
        return commas[0] if commas else j

    def _opens_main(self, j: int) -> bool:
        while (
            self.low(j) in self.lexicon.words["adverbs"]
            or self.low(j) in self.lexicon.words["openers"]
        ):
            j += 1
        low = self.low(j)
        if not self.spoken and self.phrases.is_det(j) and self.phrases.is_clause(j):
            return True
        return (
            self.phrases.is_command(j)
            or low in self.lexicon.words["subjects"]
            or low
            in (
                "using",
                "use",
                "with",
                "be",
                "make",
                "do",
                "don't",
                "never",
                "by",
                "there",
                "the",
                "go",
                "it",
                "this",
                "that",
                "they",
                "let's",
            )
        )

    def _spoken_main(self, j: int) -> bool:
        if begins_thought(self.phrases, j) and self.low(j) not in (
            "it",
            "they",
            "that",
            "these",
            "those",
            "this",
        ):
            return True
        low, follow = self.low(j), self.low(j + 1)
        before = self.low(j - 1)
        if before == "and" and self._certain_command(j) and self.phrases.is_det(j + 1):
            return not self.lexicon.is_noun(low)
        if low in ("you", "we", "i") and follow in (
            "can",
            "want",
            "need",
            "will",
            "just",
            "are",
            "should",
            "have",
            "could",
        ):
            return before not in ("if", "once", "when", "after", "before", "that", "as", "and")
        if low in ("you'll", "we'll", "i'll", "we're", "i'm", "you're", "let's"):
            return before not in (
                "if",
                "once",
                "when",
                "after",
                "before",
                "that",
                "as",
                "and",
                "where",
            )
        return (
            (low == "go" and follow == "ahead")
            or (low == "just" and self.phrases.is_command(j + 1))
            or (
                self._certain_command(j)
                and before
                not in ("you", "we", "i", "to", "not", "and", "can", "they", "the", "will")
            )
        )

    def _bare_main(self, j: int) -> bool:
        """As in "If a pad is present remove it": an unmistakable order without a comma before it."""
        before = self.low(j - 1)
        done = (
            before in _GONE
            or (before == "back" and not self.spoken)
            or (before.endswith("ed") and self.lexicon.verb_of(before, "past"))
        )
        if self.phrases.is_det(j) and done:
            thing, end = self.phrases.phrase(j)
            if self.low(end) == "," and self.low(end + 1) in ("with", "together", "along"):
                end = 1 + next(
                    (
                        k
                        for k in range(end + 1, min(end + 8, len(self.tokens)))
                        if self.low(k) == ","
                    ),
                    end - 1,
                )
            told = (
                self.low(end) in self.lexicon.words["be"]
                or self.low(end) in self.lexicon.words["modals"]
            )
            if thing is not None and (told or self.low(end) in _MOVES):
                return True
        lemma = self.lexicon.verb_of(self.low(j), "base")
        goes_on = self.low(j) in ("they", "it") or (lemma and self.low(j + 1) in ("it", "them"))
        if goes_on and before in _GONE and not self.spoken:
            return True  # "after the screws are out push it aside", "while they are out they can be wiped"
        if (
            not lemma
            or self.low(j - 1)
            in (
                "to",
                "and",
                "or",
                "not",
                "the",
                "a",
                "you",
                "we",
                "they",
                "i",
                "can",
                "will",
                "must",
                "should",
                "may",
                "also",
                "then",
                "do",
                "it",
                "of",
                "that",
            )
            or self.lexicon.verbs[lemma].noun
        ):
            return False
        if (
            self.lexicon.verb_of(self.low(j - 1), "base", "ing")
            or self.low(j - 1) in self.lexicon.words["prepositions"]
        ):
            return False
        follow = self.low(j + 1)
        named = self.phrases.is_det(j + 1) or follow in ("it", "them") or is_designator(follow)
        return named and not self.lexicon.is_noun(self.low(j))

    def _note_tools(self, things: list[Thing]) -> None:
        for thing in things:
            if thing.category == "tool" or thing.drive:
                self.tool = self.tool or thing.name
                self.tool_drive = self.tool_drive or thing.drive

    def _keep(self, found: Found) -> None:
        found.condition = found.condition or self.condition
        if self.tool and not found.tool:
            found.tool, found.tool_drive = self.tool, self.tool_drive
        self.parsed.actions.append(found)
