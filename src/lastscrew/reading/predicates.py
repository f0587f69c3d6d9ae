"""Verb phrases and statements: what a verb is done to, from where, with what, holding what."""

from __future__ import annotations

from dataclasses import dataclass, field

from lastscrew.reading.asides import Asides
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.model import Thing

_TO = word_group("predicates_to")
_ON_OBJECT = frozenset(["press", "push", "pull", "lift", "depress", "squeeze", "tug"])
_PUSHED = frozenset(["push", "slide", "press", "move"])
_PASSIVE_LINKS = phrase_group("predicates_passive_links")
_RESULTS = word_group("predicates_results")
_PARTS_FROM = frozenset(["disengage", "separate", "detach", "release", "disconnect"])
_COVERING = frozenset(["cover", "close", "cap"])
_NEGATIVE_AFTER = frozenset(["not", "never", "cannot", "n't"])


@dataclass
class Found:
    """A verb with everything around it, before the context is asked."""

    lemma: str
    key: str
    position: int
    things: list[Thing] = field(default_factory=list)
    from_: list[Thing] = field(default_factory=list)
    to: list[Thing] = field(default_factory=list)
    to_word: str = ""
    means: list[Thing] = field(default_factory=list)
    holds: list[Thing] = field(default_factory=list)
    held_to: list[Thing] = field(default_factory=list)
    at: list[Thing] = field(default_factory=list)
    held_by: list[Thing] = field(default_factory=list)
    """Screws that the object is said to be held by: "the cover (six screws)"."""
    beside: list[Thing] = field(default_factory=list)
    """What something has on it: "a switch with two wires on it"."""
    tool: str = ""
    tool_drive: str = ""
    condition: str = ""
    until: Thing | None = None
    """The clip or latch whose closing ends the work."""
    weak: str = ""
    manner: bool = False
    purpose: Found | None = None
    by: list[Found] = field(default_factory=list)
    particle: str = ""
    said: bool = False
    """A statement that is only to be checked: "check that the jumper is set" names nothing to work on."""
    end: int = 0


@dataclass
class Stated:
    """A statement: ``things`` hold ``subjects`` to ``others``."""

    subjects: list[Thing]
    others: list[Thing]
    things: list[Thing]
    position: int
    respectively: bool = False


class VerbPhrases(Asides):
    """Verb phrases in one sentence."""

    def verb_phrase(self, i: int) -> tuple[Found | None, int]:
        """Verb phrase = verb [adverb] [particle] [phrases] [particle] {modifier}."""
        lemma = self.lexicon.verb_of(self.low(i), "base", "ing", "past", "s")
        if not lemma:
            return None, i
        found = Found(lemma, lemma, i)
        i = self._particles(i + 1, found)
        i = self.skip_adverbs(i)
        i = self._particles(i, found)
        if (
            self.low(i) in ("on", "against", "at")
            and lemma in _ON_OBJECT
            and self.phrases.starts_phrase(i + 1)
        ):
            i += 1
        spread = lemma == "apply" and self.lexicon.category((self.low(i),)) in ("supply", "residue")
        ordered = self.phrases.is_command(i) and not self.phrases.is_det(i)
        if self.phrases.starts_phrase(i) and (spread or not ordered):
            found.things, i = self.phrases.list_of(i)
            i += self.low(i) == "flat" and any(t.category == "body" for t in found.things[-1:])
        i = self.skip_adverbs(i)
        i = self._particles(i, found)
        i = self._modifiers(i, found)
        found.end = i
        return found, i

    def after_note(self, i: int, found: Found) -> int:
        """{modifier} behind a note without a verb ("4 screws out from the frame")."""
        return self._modifiers(i, found)

    def skip_adverbs(self, i: int) -> int:
        """The first place from ``i`` on that is no adverb."""
        if self.low(i) == "a" and self.low(i + 1) in ("little", "bit", "touch", "fraction"):
            if self.low(i + 2) != "of":
                i += 2
        while self.low(i) in self.lexicon.words["adverbs"] or (
            self.low(i).endswith("ly") and len(self.low(i)) > 4
        ):
            if (
                self.low(i) in ("then", "now", "next", "first", "here", "there", "again", "finally")
                and self.low(i + 1) in self.lexicon.words["subjects"]
            ):
                return i
            if self.low(i) in ("right", "first", "second") and self.phrases.is_det(i - 1):
                return i
            if self.phrases.is_command(i) or self.low(i) in ("supply", "assembly", "family"):
                return i
            i += 1
        if self.phrases.spoken and self.low(i) in ("hard", "round", "around"):
            rest = self.low(i + 1)
            if (
                rest in ("until", "till", "til", "while", "enough", "")
                or self.phrases.kind(i + 1) == "mark"
            ):
                return i + 1
        return i

    def _particles(self, i: int, found: Found) -> int:
        """{particle}: the verb's meaning may hang on it ("pull out", "put back")."""
        while self.low(i) in self.lexicon.words["particles"]:
            low = self.low(i)
            candidate = f"{found.lemma} {low}"
            known = candidate in self.lexicon.verbs
            if low == "up" and self.low(i + 1) in ("to", "against") and found.lemma in _PUSHED:
                known = False  # "push the ring up to the drum"
            if (
                low in ("in", "on", "over", "through", "around", "together")
                and not known
                and not self._ends_here(i + 1)
                and not (self.phrases.is_command(i + 1) and self.phrases.is_det(i + 2))
            ):
                return i
            if (
                low in ("in", "on", "over")
                and known
                and found.things
                and self.phrases.starts_phrase(i + 1)
                and self.low(i + 1) not in ("first", "again", "too", "now")
                and not self.phrases.is_command(i + 1)
            ):
                return i
            if (
                low in ("in", "on")
                and found.particle == "back"
                and self.phrases.starts_phrase(i + 1)
                and not (self.phrases.is_command(i + 1) and self.phrases.is_det(i + 2))
                and found.things
            ):
                return i
            if known and (
                found.key == found.lemma
                or (found.key.endswith((" up", " back", " down")) and low in ("out", "off"))
            ):
                found.key = candidate
            found.particle = found.particle or low
            i += 1
            of_place = self.low(i) in ("of", "from") and low in (
                "out",
                "off",
                "away",
                "clear",
                "free",
            )
            if low in ("out", "off", "away", "clear") and (found.things or of_place):
                i = self._off_what(i, low, found)
            if self.low(i) == "and" and (
                self.low(i + 1) in ("out", "off", "away")
                or (
                    self.low(i + 1) in ("up", "over", "forward", "back")
                    and not self.phrases.starts_phrase(i + 2)
                )
            ):
                i += 1
            i = (
                self.skip_adverbs(i)
                if self.low(i) in ("straight", "gently", "carefully", "slightly", "slowly")
                else i
            )
        return i

    def _off_what(self, i: int, low: str, found: Found) -> int:
        """As in "out of the bay", "off the board" behind the object: where it comes from."""
        j = i + 1 if self.low(i) in ("of", "from") else i
        if (
            (j == i and low != "off")
            or not self.phrases.starts_phrase(j)
            or (self.phrases.is_command(j) and j == i)
        ):
            return i
        things, k = self.phrases.list_of(j)
        found.from_ += [thing for thing in things if thing.category != "text"]
        return k

    def _ends_here(self, i: int) -> bool:
        return self.phrases.kind(i) in ("", "mark") or self.low(i) in (
            "and",
            "until",
            "so",
            "with",
            "then",
            "by",
            "to",
            "using",
            "or",
            "at",
            "as",
            "from",
        )

    def _modifiers(self, i: int, found: Found) -> int:
        """{preposition phrases | relative clause | "by" gerund | "to" purpose | adverb | brackets}."""
        guard = 0
        while i < len(self.tokens) and guard < 60:
            guard += 1
            j = self._one_modifier(i, found)
            if j == i:
                return i
            i = j
        return i

    def _one_modifier(self, i: int, found: Found) -> int:
        low = self.low(i)
        aside = max(self._sized_aside(i, found), self._held_aside(i, found))
        if aside > i:
            return aside
        if self.phrases.kind(i) in ("figure", "callout", "times", "size", "measure", "ways"):
            self._loose_count(i, found)
            return i + 1
        if low == "(":
            return self._brackets(i, found)
        if (
            low == "and"
            and found.from_
            and self.low(i + 1) in ("from", "off")
            and self.phrases.is_det(i + 2)
        ):
            return self._preposition(i + 1, found, self.low(i + 1))
        if low in ("and", ",") and self._more_of_them(i, found):
            return self._preposition(i + 2, found, self.low(i + 2))
        if low in ("that", "which", "used", "who"):
            return self._relative(i, found)
        if (
            self.lexicon.verb_of(low, "ing") in self.lexicon.words["holding"]
            and found.things
            and self.low(i - 1) != ","
        ):
            return self._holding(i, found)
        if (
            self.lexicon.verb_of(low, "ing") in self.lexicon.words["holding"]
            and self.low(i - 1) == ","
            and found.things
        ):
            return i
        if (self.lexicon.verb_of(low, "past") and not self.lexicon.verb_of(low, "base")) or low in (
            "located",
            "marked",
            "labelled",
            "labeled",
            "highlighted",
            "shown",
            "circled",
            "indicated",
            "positioned",
            "situated",
            "found",
            "next",
            "visible",
        ):
            return self._reduced_passive(i, found)
        if low == "by" and self._gerund_at(i + 1):
            founds, j = self.by_phrases(i)
            found.by += founds
            return j if founds else i
        if low == "to" and self.base_at(i + 1):
            return self._purpose(i, found)
        if low == "for" and self._gerund_at(i + 1):
            return i
        if low in ("starting", "beginning") and self.low(i + 1) in ("at", "from", "on", "with"):
            return i + 1
        if low in ("out", "off") and self.low(i + 1) == "of":
            return self._preposition(i + 1, found, "from")
        if (
            low in self.lexicon.words["prepositions"]
            and low not in ("without", "by")
            and low != "like"
        ):
            return self._preposition(i, found, low)
        if low == "by":
            return self._preposition(i, found, "by")
        if low in self.lexicon.words["particles"]:
            j = self._particles(i, found)
            return j if j > i else i + 1 if self._ends_here(i + 1) else i
        if low in self.lexicon.words["adverbs"] and low not in (
            "then",
            "now",
            "next",
            "first",
            "finally",
            "also",
        ):
            return i + 1
        if low == "last" and self._ends_here(i + 1):
            return i + 1
        if low == "as" and self.low(i + 1) in (
            "shown",
            "indicated",
            "illustrated",
            "pictured",
            "described",
            "needed",
            "necessary",
            "far",
            "well",
            "required",
            "seen",
            "depicted",
        ):
            return i + 2
        if low == "until" and not self.phrases.spoken:
            return self._until(i, found)
        if (
            low in ("until", "till", "til")
            and self.phrases.spoken
            and found.lemma in ("press", "push")
        ):
            until = self._until(i, found)
            return until if found.until is not None else i
        return i

    def _until(self, i: int, found: Found) -> int:
        """Until = "until" phrase verb: "press down until the clips snap shut" names what closes."""
        thing, end = self.phrases.phrase(i + 1)
        if thing is not None and thing.category in ("clip", "lock"):
            end += self.low(end) in ("have", "has", "are", "is", "all")
            if self.lexicon.verb_of(self.low(end), "base", "s", "past") in (
                "snap",
                "click",
                "lock",
                "engage",
                "latch",
                "catch",
                "close",
            ):
                found.until = thing
        elif thing is not None and self.lexicon.verb_of(self.low(end), "s") in _PARTS_FROM:
            host, _ = self.phrases.phrase(end + 2) if self.low(end + 1) == "from" else (None, 0)
            if host is not None and not found.holds:
                found.holds, found.held_to = [thing], [host]
        while (
            i < len(self.tokens)
            and self.low(i) not in (",", ";", ".", "then", ")")
            and not (self.low(i) == "and" and self.phrases.is_command(i + 1))
        ):
            i += 1
        return i

    def _relative(self, i: int, found: Found) -> int:
        """Relative = ("that" | "which" | "used to") [be] (holding verb phrase | be held "to" phrase)."""
        j = i + 1
        if self.low(i) == "used" and self.low(j) in ("to", "for"):
            j += 1
        while self.low(j) in self.lexicon.words["adverbs"] or self.low(j) in ("will", "also"):
            j += 1
        if self.low(j) in self.lexicon.words["be"]:
            while (
                self.low(j) in self.lexicon.words["be"]
                or self.low(j) in self.lexicon.words["adverbs"]
            ):
                j += 1
            if self.lexicon.verb_of(self.low(j), "past"):
                return self._reduced_passive(j, found)
            if self.lexicon.verb_of(self.low(j), "ing") in self.lexicon.words["holding"]:
                return self._holding(j, found)
            return j
        if self.lexicon.verb_of(self.low(j), "s", "base", "ing") in self.lexicon.words["holding"]:
            return self._holding(j, found)
        return self._skip_relative(i)

    def _skip_relative(self, i: int) -> int:
        """A relative clause that says nothing about holding is passed over, up to the next mark."""
        j = i + 1
        while (
            j < len(self.tokens)
            and self.phrases.kind(j) != "mark"
            and not (self.low(j) in ("and", "then", "so") and self.phrases.is_command(j + 1))
        ):
            if self.low(j) in self.lexicon.words["subjects"] and self.phrases.spoken and j > i + 3:
                return j
            j += 1
        return j

    def _holding(self, i: int, found: Found) -> int:
        """Holding = holding verb phrases ["in place" | "down"] [("to" | "onto" | "and" …) phrases]."""
        things, j = self.phrases.list_of(self._skip_small(i + 1))
        found.holds += things
        while True:
            low = self.low(j)
            if low == "and" and found.held_to and self._second_host(j + 1):
                j += 1
                low = self.low(j)
            if low in ("in", "into") and self.low(j + 1) in ("place", "position"):
                j += 2
            elif (
                low in ("down", "together", "up", "securely", "firmly", "on", "off")
                and (low != "on" or self._ends_here(j + 1))
            ) or (
                low in ("across", "over", "along", "round", "around", "straight", "back")
                and (self.low(j + 1) in ("to", "onto", "into"))
            ):
                j += 1
            elif low in (
                "to",
                "onto",
                "into",
                "on",
                "in",
                "with",
                "from",
                "against",
                "under",
                "inside",
                "within",
                "over",
                "through",
                "between",
                "beneath",
            ) and not (low == "to" and self.base_at(j + 1)):
                others, k = self.phrases.list_of(j + 1)
                if not others:
                    return j
                if low == "with" and others[0].category in (
                    "tool",
                    "body",
                    "unknown",
                    "text",
                    "force",
                ):
                    return j if others[0].category in ("tool", "body") else k
                found.held_to += [other for other in others if other.category != "text"]
                j = k
            else:
                return j

    def _second_host(self, j: int) -> bool:
        """As in "that secure the fan to the pipe | and to the frame"."""
        return (
            self.low(j) in ("to", "onto", "into", "on")
            and self.phrases.is_det(j + 1)
            and not self.base_at(j + 1)
        )

    def _skip_small(self, i: int) -> int:
        while (
            self.low(i) in ("down", "together", "on", "in") and (self.phrases.starts_phrase(i + 1))
        ) or (self.low(i) in self.lexicon.words["adverbs"] and self.low(i) != "right"):
            i += 1
        return i

    def _reduced_passive(self, i: int, found: Found) -> int:
        """Passive = (attached | connected | secured | located …) ("to" | "on" | "with" …) phrases."""
        j = i + 1
        while self.low(j) in self.lexicon.words["adverbs"]:
            j += 1
        if self.low(j) in _PASSIVE_LINKS:
            linked = self.lexicon.verb_of(self.low(i), "past") in self.lexicon.words["holding"]
            things, k = self.phrases.list_of(j + 1)
            if not things:
                return j + 1
            if linked and self.low(j) in ("to", "onto", "into", "in", "on", "from", "under"):
                found.held_to += things
            elif self.low(j) in ("on", "at", "in", "under", "behind", "inside", "to", "between"):
                found.at += things
            elif self.low(j) in ("by", "with", "using") and linked:
                found.means += [thing for thing in things if thing.category == "fastener"]
            return k
        return j

    def _purpose(self, i: int, found: Found) -> int:
        """Purpose = "to" verb phrase: tells why, orders nothing by itself."""
        j = self.skip_adverbs(i + 1)
        purpose, end = self.verb_phrase(j)
        if purpose is None:
            return i + 1
        found.purpose = found.purpose or purpose
        return end

    def by_phrases(self, i: int) -> tuple[list[Found], int]:
        """Manner = "by" gerund phrase {("and" | "," | ", and" | "then") gerund phrase}."""
        founds: list[Found] = []
        j = i + 1
        while True:
            while self.low(j) in self.lexicon.words["adverbs"] or self.low(j) in (
                "then",
                "first",
                "either",
            ):
                j += 1
            if not self.lexicon.verb_of(self.low(j), "ing"):
                return founds, (j if not founds else founds[-1].end)
            if self.low(j) == "using":
                things, k = self.phrases.list_of(j + 1)
                j = k
                if not things or self.low(j) != "to":
                    return founds, j
                j = self.skip_adverbs(j + 1)
            found, j = self.verb_phrase(j)
            if found is None:
                return founds, j
            found.manner = True
            founds.append(found)
            k = j
            while self.low(k) in (",", "and", "then", "or"):
                k += 1
            if k == j or not self._gerund_at(k):
                return founds, j
            j = k

    def _preposition(self, i: int, found: Found, word: str) -> int:
        """Preposition phrases: "from" and "to" are kept, "with" is a tool or what fastens, others say where."""
        j = i + 1
        if word == "in" and self.low(j) in (
            "place",
            "position",
            "order",
            "reverse",
            "this",
            "that",
            "numerical",
            "sequence",
        ):
            return self._in_order(j)
        while (
            self.low(j) in ("both", "either")
            and self.phrases.starts_phrase(j + 1)
            and not self.phrases.is_det(j)
        ):
            j += 1
        if self.low(j) in (
            "in",
            "of",
            "on",
            "to",
            "from",
            "off",
            "under",
            "inside",
            "between",
            "behind",
        ) and word in (
            "from",
            "up",
            "down",
            "back",
            "off",
            "out",
            "away",
            "next",
            "over",
            "near",
            "past",
            "close",
        ):
            j += 1
        if self.low(j) in ("you", "yourself", "us", "me"):
            return j + 1
        if self._gerund_at(j) and word in ("before", "after", "when", "while", "for", "by"):
            return i
        if word == "from" and j > i + 1 and not self.phrases.starts_phrase(j):
            return j  # "from inside"
        things, k = self.phrases.list_of(j)
        if word == "between" and len(things) == 1 and self.low(k) == "and":
            second, after = self.phrases.phrase(k + 1)
            if second is not None:
                things, k = [*things, second], after
        if not things and word == "to" and self.phrases.kind(j) == "measure":
            return j + 1  # "to 90°"
        if not things:
            return (
                j
                if word in ("off", "out", "up", "down", "away", "next") and self._ends_here(j)
                else i
            )
        self._sort_out(found, word, self._without_more_objects(found, things))
        return k

    def _without_more_objects(self, found: Found, things: list[Thing]) -> list[Thing]:
        """As in "the screw in the centre of the case and the four screws at the corners": the list is that of the objects."""  # noqa: E501
        if not found.things or found.things[-1].category not in ("fastener", "cable", "connector"):
            return things
        own = found.things[-1].category
        for index, thing in enumerate(things[1:], 1):
            if thing.category == own and (thing.article or thing.count is not None):
                found.things += things[index:]
                return things[:index]
        return things

    def _in_order(self, j: int) -> int:
        j += 1
        while (
            self.low(j)
            in ("order", "sequence", "of", "shown", "the", "below", "above", "indicated", "removal")
            or self.phrases.kind(j) == "callout"
        ):
            j += 1
        return j

    def _sort_out(self, found: Found, word: str, things: list[Thing]) -> None:
        if word in ("from", "off"):
            found.from_ += [thing for thing in things if thing.category != "text"]
        elif word in ("with", "using", "via", "by"):
            self._with_what(found, things)
        elif word == "for" and found.lemma in ("watch", "look", "check") and not found.things:
            found.things = things
        elif word in ("of", "for"):
            if found.things and found.things[-1].category in (
                "fastener",
                "clip",
                "tie",
                "cable",
                "connector",
                "lock",
                "film",
            ):
                owned = (
                    word == "of"
                    and found.things[-1].category in ("cable", "connector")
                    and not found.holds
                )
                found.at += [] if owned else things
                found.holds += (
                    [t for t in things if t.category not in ("place", "text")] if owned else []
                )
        elif word in _TO and word not in ("toward", "towards"):
            target = (
                found.to
                if word in ("to", "into", "onto", "over", "inside", "against", "through")
                else found.at
            )
            target += [thing for thing in things if thing.category != "text"]
            found.to_word = found.to_word or word
        elif word in ("at", "near", "above", "below", "next", "beside", "outside", "within"):
            found.at += [thing for thing in things if thing.category != "text"]

    def _with_what(self, found: Found, things: list[Thing]) -> None:
        for thing in things:
            if thing.category in {"tool", "body"}:
                found.tool = found.tool or thing.name
                found.tool_drive = found.tool_drive or thing.drive
            elif thing.category in ("fastener", "tie", "film", "supply", "residue", "clip"):
                found.means.append(thing)
            elif thing.is_pronoun and (thing.size or (thing.count and self._screwed(found))):
                one = thing.count == 1 or (thing.count is None and thing.article == "the")
                name, count = ("screw", 1) if one else ("screws", thing.count)
                screws = Thing(name, "screw", "fastener", count, plural=not one, size=thing.size)
                found.means.append(screws)
            elif thing.drive and not found.tool:
                found.tool, found.tool_drive = thing.name, thing.drive
            elif thing.category in ("cable", "connector", "lock"):
                found.beside.append(thing)
            elif found.lemma in _COVERING and thing.category == "cover" and found.things:
                # "Cover the board with its lid": the lid goes on the board.
                found.to, found.things = [*found.to, *found.things], [thing]
                found.lemma = found.key = "replace"

    def _screwed(self, found: Found) -> bool:
        """As in "screw the baffle on with all eight": eight screws."""
        return found.lemma in ("screw", "bolt") and bool(found.things) and not self.phrases.spoken

    def stated_things(self, i: int) -> tuple[Stated | None, int]:
        """Stated = phrases {relative clause | preposition phrases}: "four screws holding the lid"."""
        things, j = self.phrases.list_of(i)
        if not things:
            return None, i
        holder = Found("", "", i, things=things)
        end = self._modifiers(j, holder)
        if holder.beside and not holder.holds:
            return Stated(things, [], holder.beside, i), end
        if self.phrases.spoken and holder.means and not holder.holds:
            return Stated(things, [], holder.means, i), end  # "a door with two screws"
        return Stated(
            [*holder.holds, *holder.at], [*holder.held_to, *holder.to, *holder.from_], things, i
        ), end
