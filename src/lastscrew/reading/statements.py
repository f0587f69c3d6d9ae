"""Statements: what a sentence says is so, and the orders that hide in it ("must be removed", "lifts off")."""

from __future__ import annotations

from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.predicates import Found, Stated
from lastscrew.reading.results import Results

_TO = word_group("predicates_to")
_ON_OBJECT = frozenset(["press", "push", "pull", "lift", "depress", "squeeze", "tug"])
_PASSIVE_LINKS = phrase_group("predicates_passive_links")
_RESULTS = word_group("predicates_results")
_DONE_TO = word_group("walk_passive")
_ACCIDENTS = frozenset(
    ["fall", "fly", "jump", "shoot", "ping", "bounce", "roll", "tear", "snap", "break"]
)
"""As in "the ring may fall off": what happens, no work."""
_FASTENING = word_group("statements_fastening")
_SERVICED = frozenset(["replace", "exchange", "swap", "service", "upgrade", "renew"])
_NEGATIVE_AFTER = frozenset(["not", "never", "cannot", "n't"])


class Predicates(Results):
    """Verb phrases and statements in one sentence."""

    in_condition = False
    """True while "once the nuts have been undone" is read: work that is done, where no other sentence orders it."""

    def statement(self, i: int) -> tuple[Stated | None, list[Found], int]:
        """Statement = phrases {modifier} (be | modal be | verb) …; see the functions below."""
        subjects, j = self.phrases.list_of(i)
        if not subjects:
            return None, [], i
        subject = Found("", "", i, things=subjects)
        j = self._modifiers(j, subject) if self.low(j) not in self.lexicon.words["be"] else j
        return self.said_of(subject, self._past_aside(j))

    def _past_aside(self, j: int) -> int:
        """As in "a fresh gasket, lightly greased, goes on": behind the words between two commas."""
        if self.low(j) != ",":
            return j
        relative = self.low(j + 1) in ("which", "who", "being") or self.low(j + 2) in (
            "which",
            "whom",
        )
        span = 16 if relative else 7
        end = next(
            (k for k in range(j + 1, min(j + span, len(self.tokens))) if self.low(k) == ","), j
        )
        aside = range(j + 1, end)
        told = any(self.lexicon.verb_of(self.low(k), "past") for k in aside)
        ordered = any(self.phrases.is_command(k) for k in aside)
        follow = self.low(end + 1)
        goes_on = follow in self.lexicon.words["be"] or bool(self.lexicon.verb_of(follow, "s"))
        modal = follow in self.lexicon.words["modals"] or follow in (
            "has",
            "have",
            "needs",
            "need",
            "ought",
        )
        if relative and (goes_on or modal) and end > j:
            return end + 1
        return end + 1 if told and goes_on and not ordered else j

    def said_of(self, subject: Found, j: int) -> tuple[Stated | None, list[Found], int]:
        """What is said at ``j`` of the subject before it."""
        subjects, i = subject.things, subject.position
        while self.low(j) in self.lexicon.words["adverbs"] or self.low(j) in (
            "itself",
            "themselves",
        ):
            j += 1
        low = self.low(j)
        if low in self.lexicon.words["modals"] or (
            low in ("need", "needs", "has", "have", "wants", "want", "got", "gets")
            and self.low(j + 1) == "to"
        ):
            return self._modal(subject, j)
        if low in ("get", "gets"):
            spread = self._gets_supply(subject, j)
            if spread is not None:
                return None, [spread], spread.end
        if low in self.lexicon.words["be"]:
            return self._passive(subject, j)
        if low in ("stays", "stay", "remains", "remain") and self.lexicon.verb_of(
            self.low(j + 1), "past"
        ):
            return self._passive(subject, j)
        if self.in_condition and low in ("has", "have", "had") and self.low(j + 1) == "been":
            return self._passive(subject, j + 1)
        result = self.result(subject, j) or self.with_tool(subject, j)
        if result is not None:
            return None, [result], result.end
        if low in (
            "gets",
            "takes",
            "has",
            "have",
            "uses",
            "use",
            "contains",
            "includes",
            "comes",
            "features",
        ):
            stated, end = self.stated_things(j + 1)
            if (
                stated is not None
                and low in ("gets", "takes")
                and stated.things[0].category == "fastener"
            ):
                taken = Found("tighten", "tighten", j, things=stated.things, weak="listed")
                taken.holds = list(subject.things)
                return None, [taken], end
            if stated is not None and stated.things[0].category in (
                "fastener",
                "clip",
                "cable",
                "connector",
                "lock",
                "tie",
                "film",
            ):
                held = [*subject.things, *stated.subjects]
                linking = [*subject.holds, *subject.held_to]
                return (
                    Stated(
                        linking or held,
                        stated.others,
                        stated.things if not linking else [*subject.things, *stated.things],
                        i,
                    ),
                    [],
                    end,
                )
            if subject.holds or subject.held_to:
                plugs = self._named_until_mark(j + 1)
                return (
                    Stated(subject.holds, subject.held_to, [*subject.things, *plugs], i),
                    [],
                    j + 1,
                )
            return None, [], i
        if self.lexicon.verb_of(low, "s", "base") in self.lexicon.words["holding"] and not (
            self.lexicon.verb_of(low, "base") and self.phrases.is_command(i)
        ):
            return self._active(subject, j)
        if subject.holds or subject.held_to:
            return Stated(subject.holds, subject.held_to, subjects, i), [], j
        return None, [], i

    def _gets_supply(self, subject: Found, j: int) -> Found | None:
        """As in "each of the bolts gets a drop of thread lock": on the way back it is put on."""
        stated, end = self.stated_things(j + 1)
        if stated is None or stated.things[0].category not in ("supply", "residue"):
            return None
        spread = Found("apply", "apply", j, things=stated.things, weak="listed", end=end)
        spread.to = list(subject.things)
        return spread

    def _named_until_mark(self, i: int) -> list[Thing]:
        """Connectors and cables named up to the next mark ("uses something called a … connector")."""
        found: list[Thing] = []
        while i < len(self.tokens) and self.phrases.kind(i) != "mark":
            thing, j = self.phrases.phrase(i)
            if thing is not None and thing.category in ("connector", "cable", "fastener"):
                found.append(thing)
            i = max(j, i + 1)
        return found

    def _active(self, subject: Found, j: int) -> tuple[Stated | None, list[Found], int]:
        """As in "The screws secure the fan to the frame", "The fan connects to the board by a cable"."""
        holder = Found("", "", j, things=subject.things)
        end = self._holding(j, holder)
        tail = Found("", "", j)
        end = self._modifiers(end, tail)
        if not holder.holds and not holder.held_to:
            return None, [], end
        if holder.holds and all(thing.category == "fastener" for thing in holder.holds):
            return Stated(subject.things, holder.held_to, holder.holds, subject.position), [], end
        pronoun = self.phrases.spoken and subject.things[0].is_pronoun and bool(holder.holds)
        link = pronoun or any(
            thing.category in ("fastener", "cable", "connector", "clip", "film", "tie", "lock")
            for thing in subject.things
        )
        if link:
            return Stated(holder.holds, holder.held_to, subject.things, subject.position), [], end
        means = tail.means
        return (
            Stated(subject.things, [*holder.holds, *holder.held_to], means, subject.position),
            [],
            end,
        )

    def _modal(self, subject: Found, j: int) -> tuple[Stated | None, list[Found], int]:
        """As in "The lid must be removed", "can now be lifted off", "should come off"."""
        negative = False
        low_modal = self.low(j)
        k = j
        while (
            self.low(k) in self.lexicon.words["modals"]
            or self.low(k) in self.lexicon.words["adverbs"]
            or self.low(k)
            in ("not", "need", "needs", "to", "be", "have", "has", "first", "been", "then", "never")
            or (self.low(k) in ("all", "both", "each") and k > j and not self.phrases.spoken)
        ):
            negative = (
                negative
                or self.low(k) in _NEGATIVE_AFTER
                or self.low(k).endswith("n't")
                or self.low(k) == "cannot"
            )
            k += 1
        lemma = self.lexicon.verb_of(self.low(k), "past", "base")
        said = [token.low for token in self.tokens[j:k]]
        accident = lemma in _ACCIDENTS and not self.phrases.spoken
        done = said[:1] == ["will"] and "have" in said  # "will have been removed by then"
        if negative or not lemma or accident or done:
            return None, [], subject.position
        allowed = low_modal == "may" and lemma in _DONE_TO and lemma not in ("open", "pop")
        must = "have" in [token.low for token in self.tokens[j:k]] and "to" in [
            token.low for token in self.tokens[j:k]
        ]
        if (
            not allowed
            and not must
            and low_modal in ("will", "would", "may", "might")
            and "be" in [token.low for token in self.tokens[j:k]]
        ):
            return (
                self._held(subject, k)
                if lemma in self.lexicon.words["holding"]
                else (None, [], subject.position)
            )
        if lemma in _SERVICED and low_modal in ("can", "may", "could") and "now" not in said:
            return (
                None,
                [],
                subject.position,
            )  # "A failed fan can be replaced while the machine runs"
        found, end = self.verb_phrase(k)
        assert found is not None
        passive = "be" in (token.low for token in self.tokens[j:k])
        if not passive:
            told = (
                self.result_at(subject, k)
                if found.key not in _RESULTS
                else self._told_by(subject, found, end)
            )
            if (
                told is None
                and lemma in _DONE_TO
                and not found.things
                and found.key in self.lexicon.verbs
            ):
                told = self._without_be(subject, found, end)
            return (None, [told], told.end) if told is not None else (None, [], subject.position)
        if not allowed and any(self.low(x) in ("if", "when", "may", "might") for x in range(j, k)):
            return None, [], end
        self._place_of_passive(found)
        found.things = [*subject.things]
        found.holds += subject.holds
        found.held_to += subject.held_to
        found.at += subject.at
        found.weak = (
            "must"
            if must or low_modal in ("must", "should", "has", "have", "needs", "need")
            else "passive"
        )
        found.position = subject.position
        return None, [found], end

    def _passive(self, subject: Found, j: int) -> tuple[Stated | None, list[Found], int]:
        """As in "The fan is held to the frame by three screws", "X is removed by pulling it"."""
        k = j + 1
        negative = self.low(j).endswith("n't")
        while (
            self.low(k) in self.lexicon.words["be"]
            or self.low(k) in self.lexicon.words["adverbs"]
            or self.low(k) in ("not", "only", "both", "all", "each")
            or (self.low(k) == "to" and self.low(k + 1) == "be")
        ):
            negative = negative or self.low(k) in ("not", "still")
            k += 1
        low = self.low(k)
        if low == "able" and self.low(k + 1) == "to":
            return self._modal(subject, k + 1)
        if self.low(k - 1) == "got" or low == "got":
            return self._has(subject, k + (low == "got"))
        lemma = self.lexicon.verb_of(low, "past")
        if negative:
            return None, [], subject.position
        if self.phrases.spoken and low in ("on", "in") and not subject.things[0].is_pronoun:
            screws, end = self.phrases.phrase(k + 1)
            if screws is not None and screws.category == "fastener" and screws.count is not None:
                return Stated(subject.things, [], [screws], subject.position), [], end
        if lemma in self.lexicon.words["holding"] or low in (
            "embedded",
            "seated",
            "adhered",
            "bolted",
            "riveted",
            "screwed",
            "glued",
            "soldered",
            "snapped",
            "clipped",
            "hooked",
            "taped",
            "fitted",
            "bonded",
            "held",
        ):
            return self._held_or_done(subject, lemma, k)
        given = self.given(subject, k)
        if given is not None:
            return None, [given], given.end
        founds, end = self._by_after(k)
        itself = len(founds) == 1 and founds[0].things and founds[0].things[0].is_pronoun
        if itself and lemma in _DONE_TO:
            found, _ = self.verb_phrase(k)
            if found is not None:
                found.things, found.weak, found.position = (
                    [*subject.things],
                    "passive",
                    subject.position,
                )
                found.by, found.end = founds, end
                return None, [found], end
        if founds and self._also_told(subject, lemma, founds):
            main, _ = self.verb_phrase(k)
            if main is not None:
                if lemma in ("free", "release"):
                    main.lemma = main.key = "disconnect"
                main.things, main.weak, main.position = (
                    [*subject.things],
                    "passive",
                    subject.position,
                )
                main.holds, main.by, main.end = list(subject.holds), [], end
                main.held_to += subject.held_to
                return None, [*founds, main], end
        if founds:
            return None, founds, end
        laid = low in ("set", "put") and self.low(k + 1) in (
            "in",
            "on",
            "back",
            "into",
            "onto",
            "down",
        )
        laid = laid or (low == "closed" and self.low(k + 1) in ("with", "again"))
        if lemma in _DONE_TO and (laid or low not in ("open", "closed", "set", "put")):
            done = self._done_to(subject, k)
            if done is not None:
                return None, [done], done.end
        if subject.holds:
            held, end = self.stated_things(k)
            if held is not None:
                return (
                    Stated(subject.holds, subject.held_to, held.things, subject.position),
                    [],
                    end,
                )
        if subject.things[0].category in ("fastener", "pronoun", "cable", "connector"):
            stated, end = self.stated_things(k)
            if stated is not None and stated.things[0].category in ("fastener", "pronoun"):
                return (
                    Stated(subject.things, stated.others, stated.things, subject.position),
                    [],
                    end,
                )
        return None, [], subject.position

    def _fastened_again(self, subject: Found, lemma: str, k: int) -> Found | None:
        """As in "The motor is hung from the deck", "is secured with its nine screws": on the way back, work."""
        if lemma not in _FASTENING or self.phrases.spoken or subject.things[0].is_pronoun:
            return None
        found, _ = self.verb_phrase(k)
        if found is None or found.things:
            return None
        found.things, found.weak, found.position = [*subject.things], "listed", subject.position
        return found

    def given(self, subject: Found, k: int) -> Found | None:
        """As in "is given a thin film of grease": what it is given is spread on it."""
        if self.low(k) != "given":
            return None
        spread, end = self.phrases.list_of(k + 1)
        if not spread or not any(
            thing.category in ("supply", "residue", "film")
            or self.lexicon.category(tuple(thing.of.lower().split())) in ("supply", "residue")
            for thing in spread
        ):
            return None
        found = Found("apply", "apply", subject.position, things=spread, weak="passive", end=end)
        found.to = list(subject.things)
        return found

    def _also_told(self, subject: Found, lemma: str, founds: list[Found]) -> bool:
        """As in "the flat cable is freed by raising the bar", "the lid is removed by undoing two screws": two acts."""
        thing = subject.things[-1]
        if lemma not in ("free", "remove", "disconnect", "unplug", "detach", "withdraw", "release"):
            return False
        if lemma in ("free", "release") and thing.category not in ("cable", "connector"):
            return False
        if thing.category in ("fastener", "pronoun", "text", "device", "lock", "clip", "unknown"):
            return False
        return all(
            found.things
            and found.things[-1].category in ("fastener", "lock", "clip", "button", "tie")
            for found in founds
        )

    def _place_of_passive(self, found: Found) -> None:
        """As in "is drawn off its shaft", "can be put on the studs": what stands behind the particle is a place."""
        if not found.things or found.things[0].is_pronoun:
            return
        if found.particle in ("off", "out"):
            found.from_ += found.things
        elif found.particle in ("on", "in", "over", "down"):
            found.to += found.things

    def _held_or_done(
        self, subject: Found, lemma: str, k: int
    ) -> tuple[Stated | None, list[Found], int]:
        """As in "is held by three screws" states; "is plugged in again", "is then fitted" orders."""
        low = self.low(k)
        as_held = self._held(subject, k)
        done = None
        if as_held[0] is None and lemma in (
            "plug",
            "screw",
            "bolt",
            "clip",
            "snap",
            "hook",
            "solder",
        ):
            done = (
                self._done_to(subject, k)
                if self.low(k + 1)
                in ("in", "back", "on", "down", "up", "again", "home", "together", "off", "out")
                else None
            )
        if as_held[0] is None and low == "fitted" and self._just_fitted(subject, k):
            done = self._done_to(subject, k)
        if as_held[0] is None and done is None and self._closes_here(subject, k):
            done = self._done_to(subject, k)
            if done is not None:
                done.weak = "listed"
        if done is not None:
            return None, [done], done.end
        again = self._fastened_again(subject, lemma, k) if as_held[0] is not None else None
        return (as_held[0], [again], as_held[2]) if again is not None else as_held

    def _closes_here(self, subject: Found, k: int) -> bool:
        """As in "the leads are attached, and …", "the wires are soldered to the strip again": work on the way back."""
        if self.phrases.spoken or subject.things[0].article not in (
            "the",
            "its",
            "their",
            "both",
            "these",
            "",
        ):
            return False
        return self._ends_here(k + 1) and self.low(k + 1) not in (
            "with",
            "by",
            "to",
            "at",
            "from",
            "as",
        )

    def _just_fitted(self, subject: Found, k: int) -> bool:
        """As in "The cover is then fitted.": nothing follows, so that it is an order and no description."""
        known = bool(subject.holds) or subject.things[0].article in ("the", "this", "its")
        return known and (k + 1 >= len(self.tokens) or self.phrases.kind(k + 1) == "mark")

    def _without_be(self, subject: Found, found: Found, end: int) -> Found | None:
        """As in "then the tube can take out", "the screws must lock tight": translated, "be" is left out."""
        if subject.things[0].category in (
            "text",
            "device",
            "body",
            "software",
            "force",
            "pronoun",
            "place",
            "tool",
        ):
            return None
        if self.phrases.spoken or not self._ends_here(end):
            return None
        found.things, found.weak, found.position, found.end = (
            [*subject.things],
            "passive",
            subject.position,
            end,
        )
        return found

    def _has(self, subject: Found, k: int) -> tuple[Stated | None, list[Found], int]:
        """As in "it's got three wires going to it"."""
        stated, end = self.stated_things(k)
        if stated is None or stated.things[0].category not in (
            "fastener",
            "cable",
            "connector",
            "clip",
            "lock",
            "film",
            "tie",
        ):
            return None, [], subject.position
        return (
            Stated(
                [*subject.things, *stated.subjects], stated.others, stated.things, subject.position
            ),
            [],
            end,
        )

    def passive_of(self, subject: Found, j: int) -> tuple[Stated | None, list[Found], int]:
        """What "is", "are" at ``j`` say of ``subject``."""
        return self._passive(subject, j)

    def _done_to(self, subject: Found, k: int) -> Found | None:
        """As in "The lid is then lifted off": an order in the passive, where no other sentence gives it."""
        if subject.things[0].category in ("text", "device", "body", "software", "force"):
            return None
        found, end = self.verb_phrase(k)
        if found is None:
            return None
        found.end = end
        self._place_of_passive(found)
        found.things = [*subject.things]
        found.holds += subject.holds
        found.held_to += subject.held_to
        found.at += subject.at
        found.weak = "passive"
        found.position = subject.position
        return found

    def _held(self, subject: Found, k: int) -> tuple[Stated | None, list[Found], int]:
        holder = Found("held", "held", k)
        start = k + 1
        while self.low(start) in ("in", "on", "down", "together", "place", "up") and self.low(
            start + 1
        ) in ("by", "with", "using", "via", "place"):
            start += 1
        end = self._modifiers(start, holder)
        rest = [token.low for token in self.tokens[k : end + 3]]
        others = [
            *holder.to,
            *holder.held_to,
            *holder.from_,
            *[t for t in holder.at if t.category != "place"],
        ]
        means = list(holder.means)
        cables = [*self._means_in(k, end)]
        means += [thing for thing in cables if thing not in means]
        if self.phrases.spoken and not means and self.low(end) == ",":
            counted, after = self.phrases.phrase(end + 1)
            if counted is not None and counted.category == "fastener" and counted.count is not None:
                means, end = [counted], after
        others = [thing for thing in others if thing not in means]
        if not others and self.low(k + 1) == "with" and len(means) > 1:
            others, means = means[:1], means[1:]  # "connected with the board by the earth lead"
        if not others and not means:
            return None, [], subject.position
        link = subject.things[0].category == "fastener" and holder.holds == []
        if link:
            return Stated([], others, subject.things, subject.position), [], end
        return (
            Stated(
                [*subject.things],
                others,
                means,
                subject.position,
                respectively="respectively" in rest,
            ),
            [],
            end,
        )

    def _means_in(self, start: int, end: int) -> list[Thing]:
        """Things named behind "by", "with", "via", "through", "using" between two places."""
        means: list[Thing] = []
        for i in range(start, end):
            if self.low(i) in (
                "by",
                "with",
                "via",
                "through",
                "using",
            ) and self.phrases.starts_phrase(i + 1):
                things, _ = self.phrases.list_of(i + 1)
                means += [
                    thing for thing in things if thing.category not in ("tool", "body", "text")
                ]
        return means

    def _by_after(self, k: int) -> tuple[list[Found], int]:
        for i in range(k, min(k + 12, len(self.tokens))):
            if self.low(i) == "by" and self._gerund_at(i + 1):
                return self.by_phrases(i)
            if self.phrases.kind(i) == "mark":
                break
        return [], k
