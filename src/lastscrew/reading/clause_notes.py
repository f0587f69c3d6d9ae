"""What is said without a verb of work: notes ("4 screws out"), "there are four screws", "which are then removed"."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.clause_noted import NotedClauses, category_of
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.lexicon.morphology import is_plural, noun_singular
from lastscrew.reading.model import Thing
from lastscrew.reading.note_form import NOTE_WORDS, note_verb, past_aside
from lastscrew.reading.predicates import Found, Stated

_MARKS = word_group("clauses_marks")
_DONE_TO = word_group("walk_passive")
_NOT_OBJECTS = frozenset(
    [
        "has",
        "have",
        "is",
        "are",
        "was",
        "be",
        "to",
        "of",
        "in",
        "on",
        "at",
        "with",
        "for",
        "by",
        "from",
        "until",
        "when",
        "if",
        "that",
        "which",
        "and",
        "or",
        "not",
        "can",
        "must",
        "will",
        "should",
        "may",
        "before",
        "after",
        "it",
        "they",
    ]
)
_DONE_UP = frozenset(["fit", "connect", "do"])
_BEHIND = word_group("order_behind")
"""Verbs that a translated text puts behind their object."""
_ON_ITSELF = frozenset(
    ["take", "pull", "insert", "close", "press", "dismantle", "remove", "open", "put", "install", "unplug", "lift",
     "tear", "draw", "separate"]
)  # fmt: skip
_OPENING = frozenset(["loosen", "undo", "unscrew", "remove", "take", "slacken", "unbolt"])
_ENDS = frozenset([",", ".", ";", "and", ")"])
_PLACES = frozenset(
    ["behind", "under", "underneath", "below", "beneath", "above", "inside", "beside"]
)
_ONE_FINDS = frozenset([("you", "find"), ("you", "see"), ("you", "have"), ("we", "find"), ("we", "see"), ("there", "is")])  # fmt: skip  # noqa: E501
_SHOWN = frozenset(["part", "cover", "board", "card", "drawer", "cable", "connector", "unknown"])


class NoteClauses(NotedClauses):
    """Clauses in note form, and statements in passing."""

    def inverted(self, i: int) -> int:
        """As in "and out it comes", "off comes the lid"."""
        found, end = self.predicates.inverted(i)
        if found is None:
            return i
        self._keep(found)
        return end

    def shown(self, i: int) -> int:
        """Shown = place word [phrase] ("is" | "sits" | "you will find") phrase: "Behind it is the filter"."""
        if i or self.low(i) not in _PLACES or not self.phrases.starts_phrase(i + 1):
            return i
        _, j = self.phrases.phrase(i + 1)
        if self.low(j) in ("is", "are", "sits", "sit", "lies", "comes", "lives"):
            j += 1
        else:
            pair = (self.low(j), self.low(j + 1))
            if pair not in _ONE_FINDS and self.low(j) not in ("there's", "you'll"):
                return i
            j += 2 if pair in _ONE_FINDS or self.low(j) == "you'll" else 1
        thing, end = self.phrases.phrase(j)
        mark = self.phrases.kind(end) in ("", "mark")
        if thing is None or not mark or thing.category not in _SHOWN:
            return i
        self.parsed.mentioned.append(thing)
        return end

    def object_first(self, i: int) -> int:
        """Object first = phrase [count fastener] {adverb} verb [particle] {place}: "battery plug insert"."""
        before = (
            i == 0
            or self.phrases.kind(i - 1) == "mark"
            or self.low(i - 1) in ("and", "then", "afterwards", "later", "finally")
        )
        if not self.item or self.spoken or not before:
            return i
        verb = self._verb_behind(i)
        if verb < 0 or self.phrases.is_command(i):
            return i
        lemma = self.lexicon.verb_of(self.low(verb), "base")
        of_itself = not lemma
        lemma = lemma or self._acts_on_itself(verb)
        if self.phrases.is_det(i) and lemma not in _BEHIND and not of_itself:
            return i
        named = tuple(
            self.low(k)
            for k in range(i, next((m for m in range(i, verb) if self.low(m) == "of"), verb))
            if self.phrases.kind(k) == "word"
            and self.low(k) not in self.lexicon.words["adverbs"]
            and self.low(k) not in self.lexicon.numbers
        )
        category = self.lexicon.category(named)
        thing, _ = self.phrases.phrase(i)
        if thing is None or category in ("unknown", "text", "place", "tool", "body"):
            return i
        if category == "device" and len(named) < 2:
            return i
        counted = next(
            (
                k
                for k in range(i + 1, verb)
                if self.phrases.kind(k) == "number" or self.low(k) in self.lexicon.numbers
            ),
            -1,
        )
        start = i + (self.low(i) in self.lexicon.words["determiners"])
        whole = any(self.low(k) == "of" for k in range(i, verb))
        numbered = self.phrases.kind(i) == "number" or self.low(i) in self.lexicon.numbers
        things = [thing] if whole else self._named_object(start + numbered, verb, counted)
        if numbered and not whole:
            things = [
                replace(one, count=thing.count, name=re.sub(r"^(?:pcs?|pieces?)\s+", "", one.name))
                for one in things
            ]
        found, stop = self.predicates.verb_phrase(verb)
        if found is None or not things:
            return i
        if found.things and found.particle in ("on", "in", "over"):
            found.to, found.things = [*found.things, *found.to], []  # "lamp put on the pillar"
        if found.things:
            return i
        found.things, found.position = things, i
        found.weak = "result" if of_itself else ""
        ends = [*found.to, *found.at] if of_itself and lemma == "insert" else []
        if ends and things[-1].category in ("cable", "connector"):
            # "Battery plug inserts on the mainboard": where it sits.
            words = things[-1].name.split()
            own = replace(things[-1], name=" ".join(words[:-1]) or words[-1])
            self.parsed.stated.append(Stated([own], ends, things, i))
        self._keep(found)
        return max(stop, verb + 1)

    def _acts_on_itself(self, k: int) -> str:
        """As in "Battery takes out", "row line inserts to the bottom": translated, it does what is done to it."""
        low = self.low(k)
        lemma = self.lexicon.verb_of(low, "s")
        if low == "locks" and self.lexicon.category((self.low(k - 1),)) == "fastener":
            return lemma
        return lemma if lemma in _ON_ITSELF and self.low(k + 1) not in ("it", "them") else ""

    def _verb_behind(self, i: int) -> int:
        """Place of the verb that stands behind its object, before a mark or a place; -1 where none does."""
        for k in range(i + 1, min(i + 10, len(self.tokens))):
            low = self.low(k)
            if self.phrases.kind(k) == "mark":
                return -1
            lemma = self.lexicon.verb_of(low, "base") or self._acts_on_itself(k)
            if low == "back" and self.low(k + 1) in ("on", "in", "onto", "into", "together"):
                return -1  # "Belt back on the pulley"
            if low in _NOT_OBJECTS and low != "of":
                return -1
            if not lemma or not self._ends_order(k):
                continue
            follow = self.low(k + 1)
            noun = self.lexicon.is_noun(low) or self.lexicon.verbs[lemma].noun
            if noun and k == i + 1 and len(self.tokens) <= k + 2 and lemma not in _BEHIND:
                return -1  # "Felt strip."
            placed = follow in self.lexicon.words["prepositions"] and follow not in ("of", "with")
            behind = k + 1 + (follow.endswith("ly") or follow == "well")
            last = behind >= len(self.tokens) or self.phrases.kind(behind) == "mark"
            particle = follow in self.lexicon.words["particles"]
            free = not noun or lemma in _BEHIND or not self.lexicon.verb_of(low, "base")
            goes_on = follow in ("and", "then") and self.lexicon.verb_of(self.low(k + 2), "base")
            if last or particle or (placed and free) or (goes_on and self._slowly(i, k)):
                return k
        return -1

    def _slowly(self, i: int, k: int) -> bool:
        """As in "Heat radiator slowly rotate and take down": an adverb right before the verb."""
        before = self.low(k - 1)
        return k > i + 1 and (before in self.lexicon.words["adverbs"] or before.endswith("ly"))

    def _ends_order(self, k: int) -> bool:
        """True where nothing that could be an object of the verb at ``k`` stands behind it."""
        j = k + 1
        while (
            (
                self.low(j) in self.lexicon.words["particles"]
                and not (self.low(j) in ("on", "in") and self.phrases.is_det(j + 1))
            )
            or self.low(j) in self.lexicon.words["adverbs"]
            or self.low(j) in ("well", "tightly")
        ):
            j += 1
        return (
            j >= len(self.tokens)
            or self.phrases.kind(j) == "mark"
            or self.low(j) in self.lexicon.words["prepositions"]
            or self.low(j) in ("and", "then")
        )

    def _named_object(self, i: int, verb: int, counted: int) -> list[Thing]:
        """The words before a verb that stands last: "battery door 2 screws" are two screws of the battery door."""
        names = [
            token.text
            for token in self.tokens[i:verb]
            if token.low not in self.lexicon.words["adverbs"]
        ]
        if counted > i:
            thing, _ = self.phrases.phrase(counted)
            owner = " ".join(token.text for token in self.tokens[i:counted])
            if thing is None:
                return []
            owner = re.sub(
                r"\s+(?:fixing|mounting|fastening|holding)$", "", owner, flags=re.IGNORECASE
            )
            last = [
                t.text
                for t in self.tokens[counted + 1 : verb]
                if t.kind == "word" and t.low not in self.lexicon.words["adverbs"]
            ]
            if not last:
                return []
            head = noun_singular(last[-1].lower())
            category = self.lexicon.category((last[-1].lower(),))
            return [replace(thing, name=f"{owner} {' '.join(last)}", head=head, category=category)]
        head = noun_singular(names[-1].lower())
        category = self.lexicon.category(tuple(name.lower() for name in names))
        return [Thing(" ".join(names), head, category, plural=is_plural(names[-1].lower()))]

    def counted_alone(self, i: int) -> int:
        """As in "shell back on, six screws, done": counted screws between two marks; on the way back they go in."""
        opens_item = self.item and not i and not self.spoken
        if not (self.spoken or self.parsed.actions or opens_item) or not self.phrases.starts_phrase(
            i
        ):
            return i
        thing, end = self.phrases.phrase(i)
        if thing is not None and not self.spoken and self._more_named(thing, i, end):
            return self._more_of_them(thing, i, end)
        if not self.spoken and thing is not None and thing.category == "fastener" and opens_item:
            if self._torque_at(end):
                # "Motor nuts 18 Nm, crosswise.": on the way back.
                self._keep(Found("tighten", "tighten", i, things=[thing], weak="listed"))
                return end + 1
        if not self.spoken:
            end = self._past_place(end)
        alone = (
            end >= len(self.tokens) or self.phrases.kind(end) == "mark" or self.low(end) == "and"
        )
        before = (
            i == 0
            or self.phrases.kind(i - 1) == "mark"
            or (self.spoken and self.low(i - 1) in ("and", "then"))
            or (self.low(i - 1) == "then" and self.low(i - 2) in (",", "and"))
        )
        if thing is None or thing.category != "fastener" or not isinstance(thing.count, int):
            return i
        if not alone or not before:
            return i
        if self.lexicon.verb_of(self.low(end + 1), "base") in _OPENING:
            self.parsed.mentioned.append(thing)  # "four spring screws, loosen them crosswise"
            return end
        lemma, weak = ("remove", "more") if opens_item else ("tighten", "listed")
        self._keep(Found(lemma, lemma, i, things=[thing], weak=weak))
        return end

    def _torque_at(self, k: int) -> bool:
        """True where a torque stands at ``k``, a colon or comma aside."""
        k += self.low(k) in (":", ",")
        return self.phrases.kind(k) == "measure" and bool(
            re.search(r"n\W?(?:c?m)\b|in\W?lb|kgf", self.low(k))
        )

    def _more_named(self, thing: Thing, i: int, end: int) -> bool:
        """True at the head of a list item such as "Two more screws, also T8, are in the recess"."""
        more = {self.low(i), self.low(i + 1)} & {"more", "other", "further", "another"}
        if not self.item or i or not more or thing.category != "fastener" or thing.count is None:
            return False
        return any(self.low(k) in ("are", "is", "sit", "sits") for k in range(end, end + 6))

    def _more_of_them(self, thing: Thing, i: int, end: int) -> int:
        """More = phrase [aside] "are" place: an item of a list of screws that come out, or go in."""
        k = next(k for k in range(end, end + 6) if self.low(k) in ("are", "is", "sit", "sits"))
        for token in self.tokens[end:k]:
            if token.low in self.lexicon.drives or re.match(r"^(?:t|ph|pz|#)\d+$", token.low):
                thing = replace(thing, drive=thing.drive or token.text)
        found = Found("remove", "remove", i, things=[thing], weak="more")
        stop = self.predicates.after_note(k + 1, found)
        self._keep(found)
        return max(stop, k + 1)

    def _past_place(self, end: int) -> int:
        """As in "the two screws | in the recess": behind the place."""
        if self.low(end) not in ("in", "at", "on", "under", "along"):
            return end
        place, after = self.phrases.phrase(end + 1)
        return after if place is not None and place.category == "place" else end

    def verbless(self, i: int) -> int:
        """Verbless = phrase ("off" | "out" | "back" ["in" | "on"] | "in" | "up" | …) at the end: work in note form."""
        opens = i == 0 or self.phrases.kind(i - 1) == "mark" or self.low(i - 1) in ("and", "then")
        if not (self.item or self.spoken or opens) or not self.phrases.starts_phrase(i):
            return i
        things, j = self.phrases.list_of(i)
        spread = self._spread_alone(i, things, j)
        if spread:
            return spread
        both = self.spoken and bool(things) and things[-1].count is not None and i == 0
        if both and things[-1].is_pronoun and self.low(j) in ("off", "out") and self._ends_order(j):
            # "Both of them off."
            self._keep(Found("take", f"take {self.low(j)}", i, things=things, end=j + 1))
            return j + 1
        if not things or things[-1].is_pronoun or self.lexicon.verb_of(things[-1].head, "ing"):
            return i
        if self.lexicon.verb_of(self.low(j), "past") and not self.phrases.held_at(j):
            return self._noted_as_done(i, things, j)
        word = self.low(j)
        if word in ("to", "into", "onto") and self.item and not self.spoken:
            return self._plug_to(i, things, j)
        if word not in NOTE_WORDS:
            return i
        if word == "back" and self.low(j + 1) in ("in", "on", "down", "together"):
            j += 1
            word = "in" if self.low(j) == "in" and not self.spoken else word
        elif not (self.item or self.spoken):
            return i
        last = things[-1]
        if not self.spoken:
            last = replace(last, category=category_of(last))
            things = [*things[:-1], last]
        key = note_verb(last.category, word)
        if last.category == "fastener" and last.count is None and not last.plural and not self.item:
            things = [*things[:-1], replace(last, count=1)]
        after = self.low(j + 1)
        out_of = self.spoken and word in ("out", "off") and after in ("of", "the", "its")
        spread = (key == "apply" or self.low(j - 1) == "back") and self.phrases.starts_phrase(j + 1)
        if not key or (
            after
            and after not in _MARKS
            and after not in ("and", "with", "by", "from", "using", "then")
            and not (spread or out_of)
        ):
            return i
        found = Found(key, key, i, things=things, end=j + 1)
        if self.spoken and key in ("replace", "tighten", "connect", "apply"):
            found.weak = "listed"
        end = self.predicates.after_note(j if spread or out_of else j + 1, found)
        self._keep(found)
        self.note_end = max(end, j + 1)
        return self.note_end

    def _plug_to(self, i: int, things: list[Thing], j: int) -> int:
        """As in "blue plug to CN3": on the way back it is connected there."""
        ends, k = self.phrases.list_of(j + 1)
        alone = k >= len(self.tokens) or self.low(k) in _ENDS
        plugs = all(thing.category in ("cable", "connector") for thing in things)
        if not (plugs and ends and alone) or ends[-1].category not in (
            "connector",
            "board",
            "card",
        ):
            return i
        self._keep(Found("connect", "connect", i, things=things, to=ends, weak="listed", end=k))
        return k

    def _spread_alone(self, i: int, things: list[Thing], j: int) -> int:
        """As in "A drop of oil on the bearing." by itself: on the way back it is put on; 0 for anything else."""
        if i or self.spoken or not things or things[-1].category not in ("supply", "residue"):
            return 0
        if self.low(j) not in ("on", "onto", "over", "between"):
            return 0
        found = Found("apply", "apply", i, things=things, weak="listed")
        end = self.predicates.after_note(j, found)
        if self.low(end) not in ("", ".", ",", ";") or not (found.to or found.at):
            return 0
        self._keep(found)
        return end

    def _noted_as_done(self, i: int, things: list[Thing], j: int) -> int:
        """As in "hand knob tightened.", "bolts undone, cover lifted away": counts where no other sentence orders it."""
        known = things[-1].category not in ("unknown", "text", "place", "tool", "body", "device")
        lemma = self.lexicon.verb_of(self.low(j), "past")
        if not known or lemma not in _DONE_TO:
            return i
        found, end = self.predicates.verb_phrase(j)
        if found is None or found.things or not (end >= len(self.tokens) or self.low(end) in _ENDS):
            return i
        absolute = self.low(end) == "," and self.phrases.is_clause(end + 1) and not self.spoken
        if things[-1].article and not absolute:
            return i  # but "The four screws undone, the lid can be lifted"
        found.things, found.weak, found.position = things, "done", i
        self._keep(found)
        return end

    def which_you_do(self, i: int) -> int:
        """Which = "which" ("you" | "we") {auxiliary} verb: "under a sticker, which you have to peel off first"."""
        if self.low(i) not in ("which", "that") or self.low(i + 1) not in ("you", "we"):
            return i
        j = self._through_chain(i + 2)
        chain = {self.low(k) for k in range(i + 2, j)}
        if not chain & {"to", "must", "can", "should", "need", "then", "now"}:
            return i
        if not self.lexicon.verb_of(self.low(j), "base") or chain & self.lexicon.words["negations"]:
            return i
        thing = self._phrase_before(i)
        found, end = self.predicates.verb_phrase(j)
        if thing is None or found is None or found.things:
            return i
        found.things = [thing]
        self._keep(found)
        return end

    def _phrase_before(self, i: int, *, object_only: bool = False) -> Thing | None:
        """The noun phrase that ends right before ``i``, a comma aside."""
        stop = i - 1 if self.low(i - 1) == "," else i
        for k in range(max(0, stop - 6), stop):
            if not self.phrases.is_det(k):
                continue
            thing, end = self.phrases.phrase(k)
            if thing is not None and end == stop and not thing.is_pronoun:
                if object_only and self.low(k - 1) in self.lexicon.words["prepositions"] - {
                    "by",
                    "with",
                }:
                    return None  # "a plug on the board, which …": the plug
                return thing
        return None

    def which_is_done(self, i: int) -> int:
        """Which = "which" (be past | verb): "held by six screws, which are then removed" tells of the work in passing."""  # noqa: E501
        be = self.low(i + 1) in ("is", "are", "was", "were", "must", "should", "can", "may", "has")
        if not (self.low(i) == "which" or (self.low(i) in ("these", "they") and be)):
            return i
        before = self.low(i - 2) if self.low(i - 1) == "," else self.low(i - 1)
        several = self.low(i + 1) in ("must", "should", "can", "may") and is_plural(before)
        plural = self.low(i + 1) in ("are", "were", "have") or self.low(i) != "which" or several
        name = "them" if plural else "it"
        if self.low(i) == "which" and not be and not self.lexicon.verb_of(self.low(i + 1), "s"):
            return i
        thing = Thing(name, name, "pronoun", plural=name == "them")
        told = self.low(i) == "which" and not self.spoken
        before_it = self._phrase_before(i, object_only=True) if told else None
        if before_it is not None and before_it.plural == plural and be:
            thing = before_it  # "It is covered by a screen, which is unclipped"
        self.topic = [thing]
        stated, founds, end = self.predicates.said_of(Found("", "", i, things=[thing]), i + 1)
        return self._keep_told(stated, founds, end) if stated is not None or founds else i

    def gapped(self, i: int) -> int:
        """As in "the gasket is scraped away and the faces wiped clean": "are" is left out."""
        last = self.parsed.actions[-1] if self.parsed.actions else None
        before = self.low(i - 1) if i else ""
        told = ("passive", "must") if self.spoken else ("passive", "must", "listed")
        if last is None or last.weak not in told or before not in ("and", ","):
            return i
        things, j = self.phrases.list_of(i)
        j = past_aside(self.phrases, j)
        lemma = self.lexicon.verb_of(self.low(j), "past")
        done = lemma in _DONE_TO or (lemma in _DONE_UP and not self.spoken)
        if not things or things[-1].is_pronoun or not done or self.phrases.is_det(j + 1):
            return i
        found, end = self.predicates.verb_phrase(j)
        if found is None:
            return i
        found.things, found.weak, found.position = things, "passive", i
        self._keep(found)
        return end

    def topic_goes_on(self, i: int) -> int:
        """As in "the hood rests on a seal and is secured by two bolts": the subject of the statement goes on."""
        before = self.low(i - 1) if i else ""
        must = self.low(i) in self.lexicon.words["modals"] or (
            self.low(i) in ("has", "have", "need", "needs") and self.low(i + 1) == "to"
        )
        if (
            not self.topic
            or before not in ("and", ",", "but")
            or not (must or self.low(i) in self.lexicon.words["be"])
        ):
            return i
        subject = Found("", "", i, things=list(self.topic))
        earlier = self.parsed.stated[-1] if self.parsed.stated else None
        stated, founds, end = self.predicates.said_of(subject, i)
        if (
            stated is not None
            and earlier is not None
            and stated.things
            and not stated.others
            and not earlier.things
            and earlier.subjects == stated.subjects
        ):
            stated.others = list(earlier.others)
        return self._keep_told(stated, founds, end) if stated is not None or founds else i

    def _keep_told(self, stated: Stated | None, founds: list[Found], end: int) -> int:
        if stated is not None:
            self.parsed.stated.append(stated)
        for found in founds:
            self._keep(found)
        self.parsed.reasons.append("description")
        return end

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
            if stated is not None and self.low(j) == "no" and not self.spoken:
                self.parsed.reasons.append("description")
                return end  # "There are no screws under the label"
            if stated is not None:
                self.parsed.stated.append(stated)
                self.parsed.reasons.append("description")
                return end
        return i
