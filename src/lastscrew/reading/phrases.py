"""Noun phrases: what is named, how many of it, and what is said about it.

Each parse function takes a position in the tokens and gives back what it found and the position
after it; its docstring is the grammar rule.
"""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.lexicon.morphology import is_designator, is_plural, noun_singular
from lastscrew.reading.model import Count, Thing
from lastscrew.reading.note_form import past_aside
from lastscrew.reading.phrase_tails import (
    coloured_like,
    coloured_ones,
    completes,
    counted_only,
    named_by_last,
    noun_of,
    shares_count,
)
from lastscrew.reading.phrase_words import (
    FELLOWS,
    ONE_OF_THEM,
    SIDES,
    Draft,
    PhraseWords,
)

_UNIT_LIKE = word_group("phrases_unit_like")
_DRIVE_NUMBER = re.compile(r"^(?:ph|pz|t|tx|jis|p|h|torx-?t?|#)(\d+(?:\.\d+)?h?)$|^#(\d+)$|^(\d)#$")
_OF_HEADS = word_group("phrases_of_heads")
_ONE_ADJECTIVES = word_group("phrases_one_adjectives")
_PAIRED = word_group("phrases_paired")
_SURFACES = word_group("phrases_surfaces")
_PLAIN_VERBS = word_group("phrases_plain_verbs")
_RESULTING = word_group("results_verbs")
_PIECES = word_group("phrases_pieces")
_SPREAD = frozenset(["supply", "residue", "film", "cable", "unknown"])
_PLAIN = frozenset(["word", "number", "ways", "size"])
_GENERIC_LIST = frozenset(["following", "rest"])

_SHORT_SCREWS = frozenset(
    ["phillips", "phillip", "torx", "hex", "allen", "tri-wing", "cross-head", "crosshead"]
)
"""Said for screws: "three tiny phillips"."""

_LONGEST_LIST = 24
"""Things of one list: a text without an end to its commas is read piece by piece, or each piece would look at all."""


class Phrases(PhraseWords):
    """Noun phrases in one sentence."""

    def list_of(self, i: int) -> tuple[list[Thing], int]:
        """Phrases = phrase ["both" | "all"] { ("," | "and" | "or" | "," "and" | "as well as" | "along with") phrase }."""  # noqa: E501
        opens = self.kind(i - 1) in ("", "mark") and not self.spoken
        first, i = self.phrase(i)
        if first is None:
            return [], i
        if first.is_pronoun and first.name and self.low(i) in ("both", "all"):
            return [replace(first, count=2 if self.low(i) == "both" else "all")], i + 1
        things = [first]
        if first.is_pronoun and first.count is not None and self.low(i) == "," and not self.spoken:
            return things, i
        while True:
            j = self._after_list_mark(i, len(things), opens=opens)
            if j is None or len(things) >= _LONGEST_LIST:
                return named_by_last(things), i
            if self.low(i) in ("along", "together") and self.low(j) in ("its", "their"):
                return things, self.phrase(j)[1]
            thing, k = self.phrase(j)
            if thing is None:
                return things, i
            things[-1] = coloured_like(things[-1], thing)
            if is_designator(thing.name.lower()):
                thing = replace(thing, category=things[-1].category)  # "plugs CN2, CN4 and X6"
            if shares_count(things[-1], thing):
                thing = replace(thing, count=things[-1].count, size=thing.size or things[-1].size)
            if self.low(j - 1) == "and" and completes(things[-1], thing):
                things[-1] = replace(
                    thing,
                    name=f"{things[-1].name} and {thing.name}",
                    article=things[-1].article,
                    count=things[-1].count,
                )
            else:
                things.append(thing)
            i = k

    def _after_list_mark(self, i: int, had: int, *, opens: bool = False) -> int | None:
        low = self.low(i)
        j = i
        if low == ",":
            j = i + 1
            if self.low(j) in ("and", "or", "&"):
                j += 1
            elif not self._comma_continues_list(j) and not (had > 1 and self._last_plug(j)):
                return None
        elif low in ("and", "&", "or", "/", "plus"):
            j = i + 1
        elif low == "as" and self.low(i + 1) == "well" and self.low(i + 2) == "as":
            j = i + 3
        elif low in ("along", "together") and self.low(i + 1) == "with":
            j = i + 2
        else:
            return None
        if self.kind(j) == "size" and not self._more_words(j + 1):
            return None
        if self.lexicon.verb_of(self.low(j), "s") in ("take", "pull", "lift", "put") and (
            self.low(j + 1) in self.lexicon.words["particles"]
        ):
            return None
        if self.low(j) in ("then", "also", "both") and self.is_det(j + 1) and low != ",":
            j += 1
        if self.low(j) in self.lexicon.words["adverbs"] and self.lexicon.verb_of(
            self.low(j + 1), "base"
        ):
            return None
        if (self.kind(j) == "number" or self.low(j) in self.lexicon.numbers) and self.low(
            j + 1
        ) in ("from", "on", "at", "in", "along", "near", "under", "to"):
            return None
        if (
            not self.starts_phrase(j)
            or self._past_alone(j)
            or self._is_pronoun(j)
            or self.is_command(j)
            or (not (low == "," and had > 1) and self.is_clause(j, of_both=opens and had == 1))
        ):
            return None
        return j

    def _past_alone(self, j: int) -> bool:
        """As in "pressed into its guides and plugged in": a verb that goes on, not one more thing."""
        return bool(
            self.lexicon.verb_of(self.low(j), "past")
            and not self.lexicon.verb_of(self.low(j), "base")
            and not self.lexicon.is_noun(self.low(j))
            and (not self._more_words(j + 1) or self.low(j + 1) in self.lexicon.words["particles"])
        )

    def is_clause(self, j: int, *, of_both: bool = False) -> bool:
        """Phrase (be | modal): a new sentence without a full stop, not one more thing.

        "The display and the keyboard are" is one subject, as are "the spring and the cap go back" (``of_both``).
        """
        k = j
        while k < min(j + 6, len(self.tokens)) and self.kind(k := past_aside(self, k)) in _PLAIN:
            if of_both and k > j and self.low(k) in ("go", "come") and self.low(j - 1) == "and":
                return False
            if self.low(k) in ("are", "were") and k > j and self.low(j - 1) == "and":
                return is_plural(self.low(k - 1)) or self.low(j - 2) == ","
            if (
                self.low(k) in self.lexicon.words["be"]
                or self.low(k) in self.lexicon.words["modals"]
                or (
                    k > j
                    and self.low(k) in ("went", "came", "fell", "goes", "comes", "go", "come")
                    and self._goes_somewhere(k)
                )
            ):
                return True
            if k > j and (self._gapped_at(k) or self._holds_at(k) or self._moves_to(k)):
                return True
            both = self.low(k) == "and" and self.low(j - 1) == "and" and self.low(j - 2) == ","
            if both and k > j and self.is_det(k + 1) and not self.spoken:
                k += 1
                continue
            if self.low(k) in ("and", "or", "that", "which") or (
                self.low(k) in self.lexicon.words["prepositions"] and self.low(k) != "of"
            ):
                return False
            k += 1
        return False

    def _last_plug(self, j: int) -> bool:
        """As in "the display lead, the motor leads, the lamp lead.": the last of a list without "and"."""
        thing, end = self.phrase(j) if self.is_det(j) else (None, j)
        plug = thing is not None and thing.category in ("cable", "connector")
        return plug and (end >= len(self.tokens) or self.low(end) == ".")

    def _comma_continues_list(self, j: int) -> bool:
        """After "A ," another thing follows only where a later comma or "and" closes the list."""
        if (self.kind(j) == "number" or self.low(j) in self.lexicon.numbers) and self.low(
            j + 1
        ) in ("from", "on", "at", "in", "along", "near", "under", "to"):
            return False
        if not self.starts_phrase(j) or self._is_pronoun(j) or self.is_command(j):
            return False
        if self.low(j) in ("leaving", "keeping", "making", "taking"):
            return False
        if is_designator(self.low(j)) and is_designator(self.low(j - 2)):
            return True
        if self.is_clause(j) and not self.spoken:
            return False
        k = j
        while k < min(j + 8, len(self.tokens)):
            if self.low(k) == "back" and self.low(k + 1) in ("on", "in"):
                return False
            if self._paired(k - 1):  # "the left and right motor leads"
                k += 1
                continue
            if self.low(k) in (",", "and", "or", "&"):
                after = (
                    k + 1 if self.low(k) != "," or self.low(k + 1) not in ("and", "or") else k + 2
                )
                return self.starts_phrase(after) and not self.is_command(after)
            if self.kind(k) not in (
                "word",
                "number",
                "ways",
                "callout",
                "figure",
                "size",
                "ordinal",
                "times",
            ):
                return False
            k += 1
        return False

    def phrase(self, i: int) -> tuple[Thing | None, int]:
        """Phrase = [predeterminer] [article] [count] {modifier} head [count in brackets] ["of" phrase] | pronoun."""
        if (
            self.low(i) in ("each", "every")
            and self.low(i + 1) == "one"
            and self.low(i + 2) == "of"
        ):
            return self.phrase(i + 3)
        if self.low(i) == "each" and self.low(i + 1) == "of" and self.low(i + 2) != "them":
            return self.phrase(i + 2)
        other = self.spoken and self.low(i) == "the" and self.low(i + 1) == "other"
        if other and (
            self.kind(i + 2) in ("", "mark")
            or self.low(i + 2) in ("right", "out", "off", "one", "up", "in", "on", "away", "and")
        ):
            return Thing("", "", "pronoun", count=1, article="the"), i + 2 + (
                self.low(i + 2) == "one"
            )
        ones = coloured_ones(self, i)
        if ones is not None:
            return ones
        start = i
        draft = Draft()
        if (
            self.low(i + 1) == "of"
            and self.low(i + 2) in ("them", "these", "those")
            and not self._more_words(i + 3)
            and not self.spoken
            and (self.low(i) in ("all", "both", "each") or self.low(i) in self.lexicon.numbers)
        ):
            low = self.low(i)
            several: Count = (
                "all"
                if low in ("all", "each")
                else 2
                if low == "both"
                else self.lexicon.numbers[low]
            )
            return Thing("them", "them", "pronoun", count=several, plural=True), i + 3
        if self._is_pronoun(i):
            low = self.low(i)
            count: Count = "all" if low in ("all", "everything") else 2 if low == "both" else None
            return Thing(
                low, low, "pronoun", count=count, plural=low not in ("it", "this", "that")
            ), i + 1
        i = self._opening(i, draft)
        i = self._words(i, draft)
        if (
            draft.lows
            and self.low(i) in ("one", "ones")
            and all(
                word in _ONE_ADJECTIVES or (self.spoken and word in ONE_OF_THEM)
                for word in draft.lows
            )
        ):
            return Thing(
                " ".join([*draft.words, self.low(i)]),
                "it" if self.low(i) == "one" else "them",
                "pronoun",
                article=draft.article,
                count=draft.count,
            ), i + 1
        if not draft.lows and self.kind(i) == "ways":
            shared = self._shared_plug(i)
            if shared is not None:
                return replace(shared, article=draft.article, count=draft.count), i + 1
        if not draft.lows and draft.article and self.low(i) in _GENERIC_LIST:
            return Thing("following", "following", "unknown", plural=True, article="the"), i + 1
        if not draft.lows:
            if (draft.count is not None or draft.size) and i > start and self.low(i) != "of":
                return counted_only(draft), i
            if not (draft.count is not None and self.low(i) == "of"):
                return None, start
        if self.spoken and draft.lows == ["same"]:
            return None, start  # "they go in exactly the same"
        i = self._closing(i, draft)
        thing = self._thing(draft)
        if self.spoken and thing.head in FELLOWS and thing.article:
            name = "them" if thing.plural else "it"
            return Thing(name, name, "pronoun", count=thing.count, plural=thing.plural), i
        if self.spoken and thing.name.lower() in ("lot", "whole lot") and thing.article == "the":
            if self.kind(i) in ("", "mark") or self.low(i) in ("and", "out", "off", "away"):
                return Thing("them", "them", "pronoun", count="all", plural=True), i
        if self.spoken and thing.head == "thing" and thing.article and not thing.plural:
            if thing.name.lower() in ("thing", "whole thing"):
                whole = "whole" in thing.name.lower()
                return Thing("it", "whole" if whole else "it", "pronoun"), i
        if thing.name.lower() in SIDES and self._moved(start, i):
            thing = replace(thing, category="cover")
        if self.spoken and thing.head in _SHORT_SCREWS and isinstance(thing.count, int):
            name = f"{thing.name} screws" if thing.count > 1 else f"{thing.name} screw"
            drive = thing.drive or self.lexicon.drives.get(thing.head, "")
            thing = replace(
                thing,
                name=name,
                head="screw",
                category="fastener",
                plural=thing.count > 1,
                drive=drive,
            )
        if (
            self.low(i) == "of"
            and self.starts_phrase(i + 1)
            and (
                thing.category not in ("fastener", "cable", "connector")
                or not draft.lows
                or self._amount_of(thing, i)
            )
        ):
            return self._with_of(thing, draft, i)
        return thing, i

    def _shared_plug(self, i: int) -> Thing | None:
        """As in "the 24-pin | and the 4-pin plug": the noun stands behind the last of them."""
        j = i + 1
        while self.low(j) in (",", "and", "or", "&"):
            j += 1
        if j == i + 1:
            return None
        later, _ = self.phrase(j)
        if later is None or later.category not in ("cable", "connector"):
            return None
        head = later.name.split()[-1]
        return replace(later, name=f"{self.tokens[i].text} {head}")

    def _amount_of(self, thing: Thing, i: int) -> bool:
        """As in "a line of paste": an amount of it, no cable."""
        if thing.head not in _OF_HEADS:
            return False
        whole, _ = self.phrase(i + 1)
        return whole is not None and whole.category in ("residue", "supply")

    def _opening(self, i: int, draft: Draft) -> int:
        """[("all" | "both" | …) ["of"]] [article] [count]."""
        for _ in range(8):
            low, kind = self.low(i), self.kind(i)
            if low in ("all", "every") and draft.count is None:
                draft.count = "all"
            elif low == "both":
                draft.count = 2
            elif low in ("each", "any", "either"):
                draft.optional = draft.optional or low == "any"
            elif (
                low == "of"
                and (draft.count is not None)
                and self.low(i + 1) in ("the", "these", "those", "your", "them", "our")
            ):
                if self.low(i + 1) == "them" or (
                    self.spoken
                    and self.low(i + 1) in ("these", "those")
                    and not self._more_words(i + 2)
                ):
                    return i + 2
            elif low == "that" and draft.count is not None and self._holds(i + 1):
                return i  # "the three that hold the wires"
            elif low in self.lexicon.words["determiners"] or low in (
                "several",
                "few",
                "many",
                "most",
                "another",
                "more",
                "other",
            ):
                draft.article = draft.article or low
            elif kind == "number" or (low in self.lexicon.numbers and kind == "word"):
                value = self._number(i, draft)
                if value is None:
                    return i
                draft.count = value
                i = self._second_number(i, value, draft)
                if self.low(i + 1) in _PIECES and self._more_words(
                    i + 2 + (self.low(i + 2) in ("of", "."))
                ):
                    i += 1 + (self.low(i + 2) in ("of", "."))
            elif low in ("totally", "total", "altogether") and (
                self.kind(i + 1) == "number" or self.low(i + 1) in self.lexicon.numbers
            ):
                pass
            elif kind == "times":
                draft.count = int(re.sub(r"\D", "", low))
            elif low in ("couple", "pair") and self.low(i + 1) == "of":
                draft.count = 2
                i += 1
            elif low == "couple" and draft.article:
                draft.count = 2
            elif low in (
                "remaining",
                "last",
                "same",
                "first",
                "next",
                "outer",
                "inner",
                "other",
                "rest",
                "following",
                "total",
                "set",
                "bunch",
                "handful",
            ) and (
                self.kind(i + 1) == "number"
                or self.low(i + 1) in self.lexicon.numbers
                or self.low(i + 1) == "of"
            ):
                if self.low(i + 1) == "of":
                    i += 1
            elif self._slip(i, draft):
                draft.count = self.lexicon.number_slips[low]
            else:
                return i
            i += 1
        return i

    def _words(self, i: int, draft: Draft) -> int:
        """{modifier} head: every word up to one that cannot stand inside a noun phrase."""
        first = i
        while i < len(self.tokens):
            token = self.tokens[i]
            low = token.low
            reach = self._range_at(i, draft.lows)
            if reach:
                draft.words += [token.text, "through", self.tokens[i + 2].text]
                draft.count = reach if draft.count is None else draft.count
                return i + 3
            if token.kind == "size":
                draft.size = draft.size or re.sub(r"\s+", "", token.text)
                i += 1
                continue
            if token.kind in ("ways", "ordinal", "measure") and self._more_words(i + 1):
                if token.kind != "measure":
                    draft.words.append(token.text)
                i += 1
                continue
            if token.kind in ("figure", "callout"):
                inside = (
                    self._more_words(i + 1)
                    and draft.lows
                    and self.low(i + 1) not in self.lexicon.forms
                )
                if inside and token.kind == "figure":
                    i += 1
                    continue
                break
            if token.kind == "number":
                if draft.lows and draft.lows[-1] in ("number", "no"):
                    draft.words[-1] = token.text
                    draft.lows.pop()
                    i += 1
                    continue
                if (
                    draft.lows
                    and draft.lows[-1] != "step"
                    and self._more_words(i + 1)
                    and not self.lexicon.is_noun(draft.lows[-1])
                ):
                    draft.words.append(token.text)
                    i += 1
                    continue
                if draft.lows and draft.count is None and self._names_with_number(i, draft):
                    draft.words.append(token.text)
                    i += 1
                break
            if token.kind == "word" and self._paired(i):
                draft.words += [token.text, "and", self.tokens[i + 2].text]
                draft.lows += [low, self.low(i + 2)]
                i += 3
                continue
            if token.kind != "word" or self._ends_phrase(i, draft, first):
                break
            i = self._take(i, draft)
        return i

    def _take(self, i: int, draft: Draft) -> int:
        token = self.tokens[i]
        low = token.low
        lexicon = self.lexicon
        follows = self.kind(i + 1) in ("word", "size", "ways")
        number = _DRIVE_NUMBER.match(low)
        if low in ("whole", "entire") and follows:
            return i + 1
        if low in ("old", "existing", "new", "defective", "failed", "faulty"):
            draft.new = draft.new or low == "new"
        if (
            low in lexicon.words["head_forms"]
            and follows
            and self._fastener_ahead(i)
            and low not in ("hex-head", "socket")
            and not (self.low(i + 1) in ("head", "heads") and not self._more_words(i + 2))
        ):
            draft.head_form = draft.head_form or low
            return i + (2 if self.low(i + 1) == "head" else 1)
        if (low in lexicon.drives and follows) or (
            number and (follows or low.startswith(("t", "#", "ph", "pz"))) and len(low) > 1
        ):
            self._drive(low, draft)
            size = self.lexicon.numbers.get(self.low(i + 1))
            if (
                size is not None
                and size < 4
                and self.lexicon.category((self.low(i + 2),)) in ("tool", "fastener")
            ):
                draft.drive += f" #{size}"
                draft.words += [token.text, f"#{size}"]
                return i + 2
            if self._drop_from_name(i):
                return i + 1
        elif low == "size" and self.low(i + 1).startswith("#"):
            return i + 1
        elif low in lexicon.words["captive"] and follows:
            draft.captive = True
        elif low in lexicon.words["colours"] and follows:
            draft.colour = low
        draft.words.append(token.text)
        draft.lows.append(low)
        return i + 1

    def _drop_from_name(self, i: int) -> bool:
        return self._fastener_ahead(i)

    def _drive(self, low: str, draft: Draft) -> None:
        name = self.lexicon.drives.get(low, "")
        number = _DRIVE_NUMBER.match(low)
        if number and low.upper() not in draft.drive.split():
            draft.drive = f"{draft.drive} {low.upper()}".strip()
        elif name and name not in draft.drive:
            draft.drive = f"{name} {draft.drive}".strip()

    def _closing(self, i: int, draft: Draft) -> int:
        """["(" count ")"] ["(" ["if"] … ")"] [figure]: what may stand behind the head."""
        while True:
            kind, low = self.kind(i), self.low(i)
            if kind == "figure":
                i += 1
            elif kind == "callout":
                draft.label = draft.label or low
                i += 1
            elif (
                len(low) == 1
                and low in "abcdefgh"
                and (
                    self.low(i + 1) in self.lexicon.words["prepositions"]
                    or self.low(i + 1) in ("that", "which", "securing", "holding", "fixing")
                    or self.kind(i + 1) in ("", "mark")
                    or self.low(i + 1) in ("and", "or")
                    or self.low(i + 1) in self.lexicon.words["adverbs"]
                )
            ):
                draft.label = draft.label or f"({low})"
                i += 1
            elif kind == "times" and draft.count is None:
                draft.count = int(re.sub(r"\D", "", low))
                i += 1
            elif (
                kind == "number"
                and self.low(i + 1) in _PIECES
                and low.isdigit()
                and draft.count is None
                and not self._more_words(i + 2)
            ):
                draft.count = int(low)
                i += 2
            elif kind == "size" and not draft.size:
                draft.size = re.sub(r"\s+", "", self.tokens[i].text)
                i += 1
            elif low == "(" and (self._names_place(i, draft) or self._names_screws(i, draft)):
                return i
            elif low == "(" and self._close(i) is not None:
                i = self._bracket(i, draft)
            else:
                return i

    def _bracket(self, i: int, draft: Draft) -> int:
        end = self._close(i)
        assert end is not None
        inside = self.tokens[i + 1 : end]
        text = " ".join(token.low for token in inside)
        for token in inside:
            if token.kind == "size" and not draft.size:
                draft.size = re.sub(r"\s+", "", token.text)
            if token.kind == "times" and draft.count is None:
                draft.count = int(re.sub(r"\D", "", token.low))
            if token.low in self.lexicon.drives or (
                _DRIVE_NUMBER.match(token.low) and len(token.low) > 1
            ):
                self._drive(token.low, draft)
            if token.low == "captive":
                draft.captive = True
        if any(phrase in text for phrase in self.lexicon.phrases["optional_phrases"]):
            draft.optional = True
        quantity = re.match(r"^(?:qty\.?|quantity|x|×)\s*:?\s*(?:\. )?(\d{1,3})$", text)
        if quantity and draft.count is None:
            draft.count = int(quantity[1])
        if (
            len(inside) >= 2
            and inside[0].kind == "number"
            and inside[1].low in ("pieces", "pcs", "places", "screws", "total", "of", "each", "ea")
        ):
            draft.count = int(inside[0].low) if draft.count is None else draft.count
        elif (
            len(inside) >= 1
            and inside[0].low in self.lexicon.numbers
            and draft.count is None
            and len(inside) <= 4
        ):
            draft.count = self.lexicon.numbers[inside[0].low]
        return end + 1

    def _thing(self, draft: Draft) -> Thing:
        if draft.size and all(low in self.lexicon.words["head_forms"] for low in draft.lows):
            return counted_only(draft)  # "M3x6 countersunk"
        last = noun_of(draft.lows, self.lexicon)
        category = self.lexicon.category(tuple(draft.lows))
        head = noun_singular(last)
        head = "screw" if head == "head" and category == "fastener" else head  # "button heads"
        return Thing(
            name=" ".join(draft.words),
            head=head,
            category=category,
            count=draft.count,
            plural=is_plural(last),
            article=draft.article,
            size=draft.size,
            drive=draft.drive,
            head_form=draft.head_form,
            colour=draft.colour,
            captive=draft.captive,
            optional=draft.optional,
            label=draft.label,
        )

    def _with_of(self, thing: Thing, draft: Draft, i: int) -> tuple[Thing, int]:
        """Phrase "of" phrase: "set of screws" is screws, "top of the holder" is a top."""
        whole, j = self.phrase(i + 1)
        if whole is None:
            return thing, i
        heads = whole.category == "fastener" and thing.head in ("head", "shank", "tip")
        piece = thing.category == "film" and whole.category not in _SPREAD  # "the film of the lens"
        measured = thing.head in _OF_HEADS and not piece
        if heads or not draft.lows or measured or thing.head in _GENERIC_LIST:
            count = whole.count
            if thing.head == "pair":
                count = 2
            elif draft.count is not None and not (
                draft.lows
                and thing.head in ("side", "end", "set", "row", "edge", "corner", "piece", "length")
            ):
                count = draft.count
            return replace(whole, count=count, optional=whole.optional or draft.optional), j
        category = "place" if thing.head in _SURFACES and len(draft.lows) == 1 else thing.category
        if whole.category == "connector" and thing.head in (
            "collar",
            "frame",
            "slide",
            "lip",
            "tongue",
            "ear",
        ):
            category = "lock"
        told = whole.count if whole.category in ("fastener", "clip") else None
        return replace(
            thing,
            of=whole.name,
            category=category,
            name=f"{thing.name} of {whole.name}",
            count=thing.count or told,
        ), j
