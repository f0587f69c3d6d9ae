"""Which words can stand in a noun phrase, open it or end it, and which are orders."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.lexicon.morphology import is_designator, is_plural, noun_singular
from lastscrew.reading.model import Count
from lastscrew.reading.note_form import noted_at
from lastscrew.reading.tokens import Token

_UNIT_LIKE = word_group("phrases_unit_like")
_DRIVE_NUMBER = re.compile(r"^(?:ph|pz|t|tx|jis|p|h|torx-?t?|#)(\d+(?:\.\d+)?h?)$|^#(\d+)$")
_OF_HEADS = word_group("phrases_of_heads")
_ONE_ADJECTIVES = word_group("phrases_one_adjectives")
_PAIRED = word_group("phrases_paired")
_SURFACES = word_group("phrases_surfaces")
_PLAIN_VERBS = word_group("phrases_plain_verbs")
_RESULT_ALONE = word_group("results_bare")
_LY_NOUNS = word_group("phrases_ly_nouns")
_RESULTING = word_group("results_verbs")
_ORDERS_BARE = word_group("phrases_orders_bare")
"""Verbs that may be nouns or adverbs, but hardly at the head of a clause: "Close white lock"."""
_GENERIC_LIST = frozenset(["following", "rest"])
FELLOWS = frozenset(["guy", "fella", "fellow", "chap", "sucker", "bugger", "boy", "baby"])
"""Said for what lies there: "this guy comes off too"."""
ONE_OF_THEM = frozenset(["outer", "inner", "middle", "top", "bottom", "left", "right", "front", "back", "rear", "long", "short", "big", "small", "little", "large", "silver", "black", "red", "blue", "white", "green", "yellow", "brass", "gold", "third", "fourth", "longer", "shorter", "tiny"])  # fmt: skip  # noqa: E501
"""As in "the two outer ones", "the middle one": which of those that were named."""
SIDES = frozenset(["face", "front", "back", "top", "bottom", "side"])
_CARRIED = frozenset(["hang", "hook", "offer", "bring", "tip", "take", "get", "pull", "lift", "pop", "prise", "pry", "ease", "slide", "snap", "unclip", "remove", "put", "press", "push", "clip", "drop", "set", "fit"])  # fmt: skip  # noqa: E501
_AT_THE_END = frozenset(["last", "shut", "closed", "tight", "flush", "taut", "loose", "flat"])
"""Said behind a thing of how it is moved: "Snap the door shut."."""
_PUT_ON = frozenset(["fitted", "refitted", "reconnected"])
_GOING = frozenset(["off", "out", "away", "up", "down", "in", "on", "open", "shut"])
_COUNTABLE = frozenset(["fastener", "clip", "connector", "cable", "lock", "tie"])
_HOLDING_PLACES = frozenset(["on", "from", "to", "in", "into", "through", "between", "under", "beneath", "against", "over", "at"])  # fmt: skip  # noqa: E501


@dataclass
class Draft:
    """A noun phrase under way."""

    words: list[str] = field(default_factory=list)
    lows: list[str] = field(default_factory=list)
    count: Count = None
    article: str = ""
    size: str = ""
    drive: str = ""
    head_form: str = ""
    colour: str = ""
    captive: bool = False
    optional: bool = False
    label: str = ""
    new: bool = False


class PhraseWords:
    """Questions about single tokens of one sentence."""

    def __init__(self, tokens: list[Token], lexicon: Lexicon, *, spoken: bool = False) -> None:
        """Keep the tokens of one sentence."""
        self.tokens = tokens
        self.lexicon = lexicon
        self.spoken = spoken

    def low(self, i: int) -> str:
        """Lower-case text of token ``i``, ``""`` beyond the end."""
        return self.tokens[i].low if 0 <= i < len(self.tokens) else ""

    def kind(self, i: int) -> str:
        """Kind of token ``i``, ``""`` beyond the end."""
        return self.tokens[i].kind if 0 <= i < len(self.tokens) else ""

    def is_det(self, i: int) -> bool:
        """True where token ``i`` opens a noun phrase: article, quantifier, number."""
        low = self.low(i)
        return (
            low in self.lexicon.words["determiners"]
            or low in self.lexicon.words["quantifiers"]
            or self.kind(i) in ("number", "times", "size")
            or low in self.lexicon.numbers
        )

    def starts_phrase(self, i: int) -> bool:
        """True where a noun phrase can start at ``i``."""
        low = self.low(i)
        if self.is_det(i) or low in self.lexicon.words["pronouns"]:
            return True
        if self.kind(i) not in ("word", "ways", "size", "ordinal", "measure"):
            return False
        if self.spoken and low in self.lexicon.number_slips and self._slip(i, Draft()):
            return True
        if low in ("totally", "total", "altogether") and self.is_det(i + 1):
            return True
        blocked = (
            "stops",
            "prepositions",
            "conjunctions",
            "subordinators",
            "negations",
            "subjects",
        )
        return not any(low in self.lexicon.words[group] for group in blocked)

    def is_command(self, i: int) -> bool:
        """True where token ``i`` is a verb in the form of an order, by itself and what follows it."""
        low = self.low(i)
        lemma = self.lexicon.verb_of(low, "base")
        if not lemma or self.kind(i) != "word":
            return False
        verb = self.lexicon.verbs[lemma]
        follow = self.low(i + 1)
        certain = (
            self.is_det(i + 1)
            or follow in self.lexicon.words["pronouns"]
            or self._particle_before_object(i + 1)
            or follow in ("new", "fresh")
            or (follow in self.lexicon.words["adverbs"] and follow not in ("right", "nice"))
        )
        if low == "lock" and self.low(i - 1) == "thread":
            return False
        kind = self.low(i - 1) in self.lexicon.drives or self.low(i - 1) in self.lexicon.numbers
        screw = self.lexicon.category((low,)) == "fastener"
        if self.spoken and screw and kind and follow not in ("it", "them", "the"):
            return False  # "a phillips screw in the middle", "one screw back that out"
        if noted_at(self, i):
            return False
        if low in ("screw", "bolt") and self.kind(i + 1) == "size":
            return False  # "screw M4 x 12" in a table
        if low == "torque" and follow in ("to", "at") and self.kind(i + 2) in ("measure", "number"):
            return True
        if follow in self.lexicon.words["be"] or follow in self.lexicon.words["modals"]:
            return False
        if follow in ("that", "which") and self._relative_noun(i):
            return False
        if self.low(i - 1) in ("please", "kindly"):
            return True
        if verb.noun or self.lexicon.is_noun(low):
            if self.low(i - 1) in ("a", "an", "the", "this", "that", "of"):
                return False
            if certain:
                return True
            if not self.spoken and self._telegram(i):
                return True
            if verb.noun:
                first = self.kind(i - 1) in ("", "mark")
                if first and lemma in _ORDERS_BARE and self._more_words(i + 1):
                    return not self.lexicon.verb_of(follow, "base", "ing", "past")
                return follow in ("to", "into", "onto") and self.kind(i - 1) == ""
            return (
                bool(follow)
                and self.starts_phrase(i + 1)
                and not self.lexicon.verb_of(follow, "base")
            )
        return True

    def _moved(self, start: int, end: int) -> bool:
        """As in "the front comes off", "take the back off", "lift the top": a side that moves is a cover."""
        if self.low(start) not in ("the", "that", "our", "your"):
            return False
        while self.low(end) in ("just", "then", "now", "also", "simply"):
            end += 1
        verb = self.lexicon.verb_of(self.low(end), "s", "base")
        if verb in _RESULTING and self.low(end) != "back":
            return True
        lets = self.low(end) in ("can", "will", "should", "is", "just") and bool(
            self.lexicon.verb_of(self.low(end + 1 + (self.low(end + 1) == "be")), "base", "past")
        )
        before = self.lexicon.verb_of(self.low(start - 1), "base", "ing") in _CARRIED
        gone = self.low(end) in ("off", "away", "out", "on", "back", "up")
        apart = before and (
            gone or self.kind(end) in ("", "mark") or self.low(end) in ("and", "straight")
        )
        return lets or apart

    def _telegram(self, i: int) -> bool:
        """As in "Torque locknuts to 12 Nm", "Position top cover (2) on case": an order without articles."""
        if self.kind(i - 1) != "" and not (self.low(i - 1) in (",", "and") and i > 1):
            return False
        j = i + 1
        while j < i + 5 and self.kind(j) == "word" and self._more_words(j):
            j += 1
        words = [self.low(k) for k in range(i + 1, j)]
        known = bool(words) and self.lexicon.category(tuple(words)) != "unknown"
        if not known or len(words) > 3:
            return False
        lemmas = [self.lexicon.verb_of(word, "base") for word in words]
        if any(lemma and not self.lexicon.verbs[lemma].noun for lemma in lemmas):
            return False  # "Wind wheel insert on the shaft", translated
        if f"{self.low(i)} {noun_singular(words[0])}" in self.lexicon.compounds:
            return False
        placed = self.low(j) in ("to", "into", "onto", "from", "on") and self.low(i - 1) != "and"
        counted = self.kind(j) == "number" and self.low(j + 1) in ("through", "thru", "to", "and")
        behind = self.low(j + 1) in ("to", "into", "onto", "from", "on", "and", "with")
        if self.low(j) == "," and self.kind(i - 1) == "":
            return self.low(j + 1) in ("ensuring", "making", "taking", "checking")
        ends = behind or self.kind(j + 1) in ("mark", "")
        return placed or counted or (self.kind(j) == "callout" and ends)

    def _relative_noun(self, i: int) -> bool:
        """As in "the flex that crosses the pack": a noun with a clause behind it, no order."""
        return self.lexicon.is_noun(self.low(i)) and bool(
            self.lexicon.verb_of(self.low(i + 2), "s", "base")
            or self.low(i + 2) in self.lexicon.words["be"]
        )

    def _particle_before_object(self, i: int) -> bool:
        if self.low(i) not in self.lexicon.words["particles"]:
            return False
        return (
            self.is_det(i + 1)
            or self.low(i + 1) in (*self.lexicon.words["pronouns"], "on", "from", "of", "")
            or self.kind(i + 1) in ("mark", "word")
        )

    def _is_pronoun(self, i: int) -> bool:
        low = self.low(i)
        if low not in self.lexicon.words["pronouns"]:
            return False
        if low in ("it", "them", "they", "itself", "themselves", "everything"):
            return True
        follow = self.low(i + 1)
        if low in ("one", "ones"):
            return not (low == "one" and (self.starts_phrase(i + 1) or follow == "of"))
        if follow == "of" or (
            low in ("all", "both", "each")
            and (follow in self.lexicon.words["determiners"] or follow in self.lexicon.numbers)
        ):
            return False
        if follow in ("a", "an", "the"):
            return True
        if follow == "back" and self.lexicon.is_noun(self.low(i + 2)):
            return False
        after_noun = (
            self.starts_phrase(i + 1)
            and not self.is_command(i + 1)
            and follow not in self.lexicon.words["adverbs"]
            and follow not in self.lexicon.words["particles"]
            and not self._is_manner(follow)
        )
        return not after_noun

    def _slip(self, i: int, draft: Draft) -> bool:
        """A number misheard: "for screws", "the to screws", before a fastener or cable only."""
        low = self.low(i)
        if low not in self.lexicon.number_slips or draft.count is not None:
            return False
        if low in ("for", "to", "free", "too") and not (self.spoken or draft.article):
            return False
        for j in range(i + 1, min(i + 5, len(self.tokens))):
            if (
                self.is_det(j)
                or self.low(j) in self.lexicon.words["stops"]
                or self.low(j) in self.lexicon.words["prepositions"]
            ):
                return False
            head = noun_singular(self.low(j))
            if self.lexicon.categories.get(head) in ("fastener", "clip", "connector", "cable"):
                return is_plural(self.low(j))
        return False

    def _number(self, i: int, draft: Draft) -> int | None:
        low = self.low(i)
        value = int(low) if low.isdigit() else self.lexicon.numbers.get(low)
        follow = self.low(i + 1)
        if value is None or follow in _UNIT_LIKE or (value > 400) or (low == "0"):
            return None
        if low == "single" and draft.count is not None:
            return None
        return value

    def _second_number(self, i: int, value: int, draft: Draft) -> int:
        """Number = word ["(" digits ")"] | word "-" word | digits ["x"] | "six to eight"."""
        if self.kind(i + 1) == "callout" and self.tokens[i + 1].text[1:-1] == str(value):
            return i + 1
        if self.low(i + 1) == "x" and self.kind(i) == "number":
            return i + 1
        if (
            20 <= value <= 40
            and self.low(i + 1) in self.lexicon.numbers
            and self.lexicon.numbers[self.low(i + 1)] < 10
        ):
            draft.count = value + self.lexicon.numbers[self.low(i + 1)]
            return i + 1
        return i

    def _paired(self, i: int) -> bool:
        """As in "red and black wires", "left and right brackets": one phrase."""
        both = all(
            self.low(k) in _PAIRED or self.low(k) in self.lexicon.words["colours"]
            for k in (i, i + 2)
        )
        return both and self.low(i + 1) in ("and", "or", "&") and self._more_words(i + 3)

    def _holds(self, i: int) -> bool:
        """True where a verb of holding stands at ``i``."""
        return self.lexicon.verb_of(self.low(i), "base", "s") in self.lexicon.words["holding"]

    def _range_at(self, i: int, lows: list[str]) -> int:
        """As in "connectors P1 through P4", "leads 1 to 6": how many they are; 0 where no range stands here."""
        if not lows or not is_plural(lows[-1]) or self.low(i + 1) not in ("through", "thru", "to"):
            return 0
        if self.lexicon.category((lows[-1],)) == "fastener":
            return 0
        first, last = (re.fullmatch(r"([a-z]{0,3}-?)(\d{1,2})", self.low(k)) for k in (i, i + 2))
        if first is None or last is None or first[1] != last[1] or lows[-1] in ("steps", "pages"):
            return 0
        return max(0, int(last[2]) - int(first[2]) + 1) if int(last[2]) > int(first[2]) else 0

    def _names_with_number(self, i: int, draft: Draft) -> bool:
        """Part numbers after a noun: "fan 2", "slot 1", never after a fastener."""
        return (
            draft.lows[-1]
            in (
                "fan",
                "slot",
                "bay",
                "module",
                "drive",
                "dimm",
                "port",
                "riser",
                "psu",
                "ssd",
                "card",
                "connector",
                "board",
                "axis",
                "unit",
            )
            and self.kind(i) == "number"
        )

    def _more_words(self, i: int) -> bool:
        return (
            self.kind(i) in ("word", "ways", "size", "measure", "ordinal")
            and self.starts_phrase(i)
            and self.low(i) not in self.lexicon.words["pronouns"]
        )

    def _ends_phrase(self, i: int, draft: Draft, first: int) -> bool:
        low = self.low(i)
        words = self.lexicon.words
        if low == "right" and not draft.lows and draft.article and self._more_words(i + 1):
            return False
        if low in words["stops"] or low in words["conjunctions"] or low in words["subordinators"]:
            return True
        held = low in words["holding"] and self.lexicon.category((low,)) != "fastener"
        if self.kind(i - 1) == "size" and held and self.is_det(i + 1):
            return i > first  # "2x M2.5x6 hold the board", but "the M8 bolt that"
        if low == "flat" and draft.lows and self.lexicon.category((draft.lows[-1],)) == "body":
            return True  # "your hand flat on the cover"
        if low in words["prepositions"]:
            return not (
                (not draft.lows and low in ("inside", "outside", "back", "top"))
                or (low in ("inside", "outside") and self._more_words(i + 1) and not draft.lows)
            )
        if draft.lows and low in self.lexicon.numbers and low not in ("one", "single", "zero"):
            return True
        if low in words["negations"] or low in words["subjects"] or low in words["modals"]:
            return True
        if draft.lows and (low in words["pronouns"] or low in words["determiners"]):
            return True
        if (draft.lows or draft.size) and (low in words["adverbs"] or low in words["particles"]):
            return True
        if draft.size and not draft.lows and self._gapped_at(i):
            return True
        if self.spoken and draft.lows and draft.lows[-1] in FELLOWS:
            return True
        if self.spoken and draft.count is not None and draft.lows and is_plural(draft.lows[-1]):
            screws = self.lexicon.category((draft.lows[-1],)) == "fastener"
            if screws and self.is_command(i):
                return True  # "two screws plug everything back in"
        if draft.lows and low in _AT_THE_END and self.kind(i + 1) in ("mark", ""):
            return True  # "Plug in the batteries last."
        if draft.lows and len(low) == 1 and low in "bcdefgh" and not self._more_words(i + 1):
            return True
        named = draft.lows and not (
            all(word in _ONE_ADJECTIVES for word in draft.lows) and self.lexicon.is_noun(low)
        )
        alone = self.lexicon.is_noun(low) and (
            self.kind(i + 1) in ("mark", "") or self.low(i + 1) in ("and", "or")
        )
        pair = f"{draft.lows[-1]} {noun_singular(low)}" if draft.lows else ""
        several = is_plural(low) and self.lexicon.is_noun(low)
        counted = draft.count not in (None, 1) and (several or pair in self.lexicon.compounds)
        if named and not alone and not counted and (low in _PLAIN_VERBS or low == "clean"):
            return True
        if (
            low.endswith("ing")
            and self.lexicon.verb_of(low, "ing")
            and not (low in self.lexicon.categories and not (draft.lows and self.is_det(i + 1)))
        ):
            return self._ing_ends(i, draft)
        if self.lexicon.verb_of(low, "past") and not self.lexicon.verb_of(low, "base"):
            return bool(draft.lows) and not (
                self._more_words(i + 1) and not self.lexicon.is_noun(draft.lows[-1])
            )
        if (
            draft.lows
            and self.lexicon.verb_of(low, "s")
            and not self.lexicon.is_noun(low)
            and (
                self.starts_phrase(i + 1)
                or self._goes_somewhere(i)
                or self.held_at(i)
                or (self.low(i + 1) == "from" and not self.spoken)  # "the sled disengages from"
            )
        ):
            return True
        if draft.lows and is_plural(draft.lows[-1]) and self.held_at(i):
            return True
        if draft.lows and self._moves_to(i):
            return True
        if (
            draft.lows
            and low in ("round", "around", "across")
            and self.low(i + 1) in ("it", "the", "them")
        ):
            return True
        if (
            draft.lows
            and self.low(i + 1) in ("ones", "one")
            and self.lexicon.is_noun(draft.lows[-1])
        ):
            return not self.lexicon.is_noun(low)
        if self.spoken and low == "snug" and draft.lows and self.lexicon.is_noun(draft.lows[-1]):
            return True
        if self.spoken and draft.lows and self._drops_off(i, draft):
            return True
        if (
            draft.lows
            and not self.spoken
            and low.endswith("s")
            and not is_plural(draft.lows[-1])
            and self.low(i + 1) in ("its", "their", "it", "them")
        ):
            return True
        if (
            draft.lows
            and (is_plural(draft.lows[-1]) or (low == "go" and not self.spoken))
            and not self.lexicon.is_noun(low)
            and self._goes_somewhere(i)
        ):
            return True
        if draft.lows and self._is_manner(low):
            return True
        if (
            draft.lows
            and low in ("put", "set", "cut")
            and self.low(i + 1) in self.lexicon.words["particles"]
        ):
            return True
        if (
            not draft.lows
            and (draft.count is not None or draft.article in ("these", "those", "that", "this"))
            and not self.lexicon.is_noun(low)
            and (self._goes_somewhere(i) or self.lexicon.verb_of(low, "s", "base") in _RESULT_ALONE)
        ):
            return True
        lemma = self.lexicon.verb_of(low, "base")
        if (
            draft.lows
            and lemma
            and self._orders_what_follows(i, lemma)
            and (self.lexicon.is_noun(draft.lows[-1]) or not self.spoken)
        ):
            return True
        return bool(
            not draft.lows
            and i == first
            and not draft.article
            and draft.count is None
            and low in words["adverbs"]
            and low not in ("front", "right", "first", "second")
        )

    def _drops_off(self, i: int, draft: Draft) -> bool:
        """As in "the brush drops off", "the shaft sticks out": a verb, though the word may name a thing too."""
        low = self.low(i)
        return (
            self.low(i + 1) in _GOING
            and not is_plural(draft.lows[-1])
            and self.lexicon.is_noun(draft.lows[-1])
            and self.lexicon.verb_of(low, "s") in _RESULTING
            and self.lexicon.category((low,)) not in _COUNTABLE
        )

    def held_at(self, i: int) -> bool:
        """As in "the board rests on", "two wires run from": how a thing is held or where it leads."""
        lemma = self.lexicon.verb_of(self.low(i), "s", "base")
        return (
            lemma in self.lexicon.words["holding"]
            and self.low(i + 1) in _HOLDING_PLACES
            and (
                not self.lexicon.is_noun(self.low(i))
                or (
                    lemma in ("lead", "run", "pass")
                    and self.low(i + 1) in ("to", "from", "into")
                    # "two wires lead from", not "the lamp lead from"
                    and (is_plural(self.low(i - 1)) or bool(self.lexicon.verb_of(self.low(i), "s")))
                )
            )
        )

    def _gapped_at(self, k: int) -> bool:
        """As in "is raised into position and its flange bolted up": "is" is left out before the verb."""
        low = self.low(k)
        lemma = self.lexicon.verb_of(low, "past")
        if not lemma or self.lexicon.verb_of(low, "base") or self.lexicon.is_noun(low):
            return False
        if lemma in _RESULTING and self.low(k + 1) in ("off", "away"):
            return False
        if self.low(k + 1) in ("up", "back", "home", "off", "away", "tight", "down", "out", "in"):
            return True
        ends = self.kind(k + 1) in ("", "mark") or (self.low(k + 1) == "and" and not self.spoken)
        return ends and (low in _PUT_ON or lemma not in self.lexicon.words["holding"])

    def _moves_to(self, k: int) -> bool:
        """As in "and the plate drops into your hand": a verb of movement with its goal."""
        return (
            not self.spoken
            and self.lexicon.verb_of(self.low(k), "s")
            in ("drop", "fall", "slide", "swing", "go", "come", "lift")
            and self.low(k + 1) in ("into", "onto", "to", "towards", "from", "over")
            and self.is_det(k + 2)
        )

    def _holds_at(self, k: int) -> bool:
        """As in "and four nuts hold it there": a verb with its own object, not one more thing."""
        lemma = self.lexicon.verb_of(self.low(k), "s", "base")
        return lemma in self.lexicon.words["holding"] and (
            (
                not self.lexicon.is_noun(self.low(k))
                and self.low(k + 1) in ("it", "them", "the", "this")
            )
            or self.held_at(k)
        )

    def _is_manner(self, low: str) -> bool:
        """As in "gradually": an adverb by its ending."""
        return (
            low.endswith("ly")
            and len(low) > 4
            and not self.lexicon.is_noun(low)
            and low not in _LY_NOUNS
        )

    def _goes_somewhere(self, i: int) -> bool:
        """As in "the fan lifts right up", "these two come out": a verb of movement with its particle."""
        lemma = self.lexicon.verb_of(self.low(i), "s", "base") or (
            self.lexicon.verb_of(self.low(i), "past")
            if self.low(i) in ("went", "came", "fell")
            else ""
        )
        if lemma not in _RESULTING:
            return False
        j = i + 1
        while self.low(j) in ("right", "straight", "just", "back", "easily") or self.low(
            j
        ).endswith("ly"):
            j += 1
        return self.low(j) in self.lexicon.words["particles"] or self.low(j - 1) == "back"

    def _orders_what_follows(self, i: int, lemma: str) -> bool:
        """As in "the cover lift it off" and "the ports screw in the screws", spoken without a stop."""
        object_next = self.is_det(i + 1) or self.low(i + 1) in ("it", "them")
        object_next = object_next or (not self.spoken and is_designator(self.low(i + 1)))
        if self.low(i + 1) == "that" and self._relative_noun(i):
            return False
        noun = self.lexicon.verbs[lemma].noun and self.lexicon.is_noun(self.low(i))
        after_particle = (
            self.low(i + 1) in self.lexicon.words["particles"]
            and self.is_det(i + 2)
            and f"{lemma} {self.low(i + 1)}" in self.lexicon.verbs
        )
        placed = self.low(i + 2) in ("the", "its") and self.low(i + 3) in ("middle", "centre", "center", "corner", "way")  # fmt: skip  # noqa: E501
        if self.spoken and noun and placed and self.is_det(i - 2):
            return False  # "a spring clip in the middle of it"
        if self.spoken and noun and self.low(i + 1) in ("off", "out") and self.is_det(i - 2):
            return False  # "get the display plug off the board"
        given = ("it", "them") if self.spoken else ("it", "them", "the", "both", "all")
        sure = object_next and (not noun or self.low(i + 1) in given)
        tool = (
            self.lexicon.category((self.low(i - 1),)) == "tool"
        )  # "with a pick | pry out the seal"
        return sure or ((self.spoken or tool) and after_particle)

    def _ing_ends(self, i: int, draft: Draft) -> bool:
        """As in "screws holding the lid" ends, "retaining screws" and "mounting bracket" go on."""
        if not draft.lows:
            return (
                self.is_det(i + 1)
                or not self._more_words(i + 1)
                or self.low(i + 1) in self.lexicon.words["pronouns"]
            )
        if (
            self.is_det(i + 1)
            or self.low(i + 1) in self.lexicon.words["pronouns"]
            or not self._more_words(i + 1)
        ):
            return not (
                self.kind(i + 1) in ("", "mark")
                and self.low(i)
                in ("housing", "opening", "wiring", "casing", "fitting", "bearing", "coupling")
            )
        held = self.lexicon.verb_of(self.low(i), "ing") in self.lexicon.words["holding"]
        if f"{self.low(i)} {self.low(i + 1)}" in self.lexicon.compounds:
            return False
        category = self.lexicon.category((draft.lows[-1],))
        return held and category in (
            "fastener",
            "cable",
            "connector",
            "clip",
            "lock",
            "tie",
            "film",
            "supply",
        )

    def _fastener_ahead(self, i: int) -> bool:
        for j in range(i + 1, min(i + 5, len(self.tokens))):
            if self.lexicon.category((self.low(j - 1), self.low(j))) == "fastener":
                return True
            if self.kind(j) not in ("word", "size"):
                return False
        return False

    def _close(self, i: int) -> int | None:
        for j in range(i + 1, min(i + 25, len(self.tokens))):
            if self.low(j) == ")":
                return j
        return None

    def _names_place(self, i: int, draft: Draft) -> bool:
        """As in "the fan lead (J7 on the control board)": where a cable ends, left to the verb."""
        category = self.lexicon.category(tuple(draft.lows))
        end = self._close(i)
        if end is None or category not in ("cable", "connector", "antenna"):
            return False
        return any(
            self.lexicon.category((self.low(k - 1), self.low(k))) == "board"
            for k in range(i + 1, end)
        )

    def _names_screws(self, i: int, draft: Draft) -> bool:
        """As in "the cover (six screws)": what holds it, left to the verb."""
        end = self._close(i)
        if end is None or self.lexicon.category(tuple(draft.lows)) in ("fastener", "cable"):
            return False
        counted = any(
            (self.kind(k) in ("number", "times") or self.low(k) in self.lexicon.numbers)
            and self._fastener_ahead(k)
            for k in range(i + 1, end)
        )
        sized = self.kind(i + 1) in ("times", "number") and self.kind(end - 1) == "size"
        return counted or (sized and bool(draft.lows))
