"""Lists that are read out, as in "the screws of the case, one by one. Number one: the one by the handle".

A teacher says once what is to be done with all of them, or says only what they are, and names them then one by one, by
number or by the place where each sits. Every name that is read out is the work that things of its kind ask for: screws
are undone, plugs pulled; on the way back they go in. Common practice in spoken instruction, no source.
"""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.meaning import actions_from
from lastscrew.reading.model import Action, Thing
from lastscrew.reading.note_form import note_verb
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.predicates import Found
from lastscrew.reading.spoken_told import answered_number
from lastscrew.reading.tokens import tokenise
from lastscrew.reading.walk_fragments import FragmentWalk

_NUMBER = r"(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\d{1,2})"
_NUMBERS = rf"{_NUMBER}(?:(?:,? and|,| to) {_NUMBER})*"
_ORDINAL = r"(?:the )?(?:first|second|third|fourth|fifth|sixth|seventh|eighth|next|last|final)"
_AND = r"^\W*(?:(?:and|now|so|then|okay|right|finally)\b[,\s]*)*"
_IS = r"(?:'s| is| are| comes| goes| go)?"
_BY_NUMBER = re.compile(
    rf"{_AND}(?:(?:number|no\.?|position|screw|item)s? (?P<numbers>{_NUMBERS}){_IS}\s*[:,]?\s+"
    rf"|{_ORDINAL}(?: one| of (?:them|all|these))?{_IS}\s*[:,]\s*"
    rf"|at (?:about )?(?:{_NUMBER}|half past {_NUMBER}) o['’]clock,?\s+)",
    re.IGNORECASE,
)
_PLACE_ALONE = re.compile(
    rf"{_AND}at (?:about )?(?:{_NUMBER}|half past {_NUMBER}) o['’]clock\W*$", re.IGNORECASE
)
_CLOCK = re.compile(
    rf"\b(?:(?:at|to|from) (?:about )?)?(?:{_NUMBER}|half past {_NUMBER}) o['’]clock\b",
    re.IGNORECASE,
)
_BARE_NUMBERS = re.compile(rf"{_AND}(?P<numbers>{_NUMBERS})\s*[:,]\s*", re.IGNORECASE)
_THERE = re.compile(
    r"^(?:there(?:['’]s| is| are)|you(?:['’]ll)? (?:will )?(?:have|find|see)|we (?:have|find)|comes?|is|are|sits?)\b\s*",  # noqa: E501
    re.IGNORECASE,
)
_READS = re.compile(
    r"\b(?:read|call|name|list)(?:ing)? (?:them|these|those|you|it|each)\b|\b(?:go|run|work|went) (?:\w+ )?(?:through|round|around) (?:them|these|those|it)\b"  # noqa: E501
    r"|\bone (?:after|by) (?:the )?(?:other|one|another)\b|\b(?:anti|counter)?clockwise\b|\bin a circle\b|\bas follows\b|\bhere they are\b"  # noqa: E501
    r"|\bin (?:the )?(?:reverse|same order|opposite)\b|\bby number\b|\bas I (?:name|read|call)\b",
    re.IGNORECASE,
)
_MANY = re.compile(
    r"\b(?:(?P<screws>screws|bolts|nuts|fasteners|thumbscrews)|cables|plugs|connectors|connections|leads|wires|ribbons|flexes)\b",
    re.IGNORECASE,
)
_PLACE = re.compile(
    r"\b(?:at|in|on|beside|under|underneath|near|by|next to|behind|below|above|between)(?! (?:all|once|first|last|least|any)\b) [^,.;:]*\w",  # noqa: E501
    re.IGNORECASE,
)
_STANDS_FOR_ONE = re.compile(
    rf"^(?:the |its |their |a )?(?:(?P<many>{_NUMBER})(?: of them)?|ones?|partner|twin|(?:long|short|small|big|flat|little|black|silver|countersunk) ones?)\b",  # noqa: E501
    re.IGNORECASE,
)
_TELLS = re.compile(r"\b(?:is|are|was|were|has|have|will|can)\b", re.IGNORECASE)
_BESIDE = re.compile(r"\bside by side\b|\bin a row\b|\bnext to each other\b", re.IGNORECASE)
_OWNER = re.compile(
    r"^(?:for|of|from) the (?P<owner>[a-z][\w-]*(?: [a-z][\w-]*)?)\s*(?:$|[,.;:])", re.IGNORECASE
)
_SITS = re.compile(r"(?:down |up )?(?:at|in|on|by|beside)\b", re.IGNORECASE)
_TOLD_NEXT = re.compile(
    r"(?:^|[.,;]\s*|\b(?:and|then|so|please)\s+)(?:(?:only|just|then|now|please|you|can|simply)\s+)*"
    r"(?:take|pull|unplug|withdraw|draw|undo|remove|unscrew|disconnect|lift|slide|put|screw|connect|plug|push|tighten|turn)\b[^.;]{0,25}\b"
    r"(?:it|them|that|those|the (?:plug|cable|ribbon|lead|screw|connector|flex|wire)s?)\b",
    re.IGNORECASE,
)
_REACH = 14
"""Lines between two names of one list."""
_LOOK = 110
"""Letters within which the work is told in words of its own."""
_LINKS = frozenset(["cable", "connector", "antenna"])
_OTHER_WORK = frozenset(["remove", "lift", "slide", "replace"])
_NO_OWNERS = frozenset(["fastener", "tool", "place", "text", "body", "force", "film", "supply", "residue", "lock", "clip", "pronoun"])  # fmt: skip  # noqa: E501


class ReadOutWalk(FragmentWalk):
    """Names of a list that is read out."""

    read_kind = ""
    """What is read out: ``fastener``, ``link`` or ``""``."""
    read_line = 0
    place_line = 0
    """The line of a place that a thought of its own told."""
    many_kind = ""
    many_line = 0

    def _without_many(self, found: list[Action], line: int) -> list[Action]:
        """As in "as I name them you disconnect them": the names that follow take the place of "them"."""
        if not self.read_kind or self.read_line != line:
            return found
        return [
            action
            for action in found
            if not (
                action.klass in ("disconnect", "connect", "remove", "tighten")
                and action.things
                and action.things[-1].plural
                and action.count in (None, "all")
                and _MANY.fullmatch(action.things[-1].name)
            )
        ]

    def _reads_out(self, sentence: str, line: int) -> None:
        """Keeps what is read out: told by "I will name them", or by nothing but the name of the many."""
        many = _MANY.search(sentence)
        if many is not None:
            self.many_kind = "fastener" if many["screws"] else "link"
            self.many_line = line
        reads = _READS.search(sentence) is not None
        alone = many is not None and re.match(
            _AND
            + r"(?:the |all the )?(?:screws|bolts|nuts|plugs|connections|connectors|cables|leads)\b(?: of the [\w -]+)?\s*[,.:]?\s*(?:$|in |and )",  # noqa: E501
            sentence,
            re.IGNORECASE,
        )
        if (reads or alone) and line - self.many_line <= 2:
            self.read_kind, self.read_line = self.many_kind, line
        if self.read_kind and line - self.read_line > _REACH:
            self.read_kind = ""

    def _amid_list(self, sentence: str, line: int) -> bool:
        """True where a list is read out and the sentence is the next name of it, no part that is turned to."""
        under_way = self.read_kind and line - self.read_line <= _REACH
        return bool(under_way) and self._name_of_item(sentence) is not None

    def _item_read(
        self, sentence: str, behind: str, found: list[Action], line: int
    ) -> list[Action]:
        """The work on a name that is read out, unless the words behind it tell the work themselves."""
        if _PLACE_ALONE.match(sentence):
            self.place_line = line  # "At three o'clock | there are two plugs"
            return []
        placed = bool(self.place_line) and line - self.place_line <= 1
        self.place_line = 0
        named = self._name_of_item(f"At one o'clock, {sentence}" if placed else sentence)
        if named is None:
            if any(a.klass in _OTHER_WORK and not a.fastener for a in found):
                self.read_kind = ""
            return []
        thing, rest = named
        self.read_line = line
        told = _TOLD_NEXT.search(rest) or _TOLD_NEXT.search(behind.lstrip()[:_LOOK])
        if any(
            a.things and a.things[-1].head == thing.head and a.klass != "release" for a in found
        ):
            return []
        self.memory.mention(thing)
        if told is not None:
            return []
        key = note_verb(thing.category, "in" if self.memory.refitting else "out")
        if not key or key not in self.lexicon.verbs:
            return []
        return actions_from(Found(key, key, 0, things=[thing]), self.memory, line, sentence)

    def _name_of_item(self, sentence: str) -> tuple[Thing, str] | None:
        """The name that is read out and the words behind it."""
        lead = _BY_NUMBER.match(sentence)
        if lead is None and self.read_kind:
            lead = _BARE_NUMBERS.match(sentence) or re.match(_AND, sentence, re.IGNORECASE)
        if lead is None:
            return None
        rest = sentence[lead.end() :]
        there = _THERE.match(rest)
        strong = lead.re is _BY_NUMBER
        if there and not strong:
            return None
        rest = rest[there.end() :] if there else rest
        numbers = lead.groupdict().get("numbers")
        if self.read_kind == "fastener" and (_STANDS_FOR_ONE.match(rest) or numbers):
            thing = self._one_of_the_screws(rest, numbers)
            if thing is not None:
                return thing, rest
        rest = _BESIDE.sub(lambda match: " " * len(match.group()), rest)
        tokens = tokenise(rest, self.lexicon)
        thing, end = Phrases(tokens, self.lexicon, spoken=True).phrase(0)
        if thing is None or thing.is_pronoun or not (thing.article or thing.count is not None):
            return None
        if end < len(tokens) and not self._ends_name(tokens[end].low):
            return None
        behind = rest[tokens[end].start :] if end < len(tokens) else ""
        if thing.category == "film" and thing.head in ("foil", "flex"):
            thing = replace(thing, category="cable")
        if thing.category in ("fastener", *_LINKS) and thing.plural and thing.count is None:
            return None  # "Now the screws.": all of them are announced
        if thing.category == "fastener" and (strong or self.read_kind == "fastener"):
            return self._placed(replace(thing, article="a"), behind), behind
        if thing.category in _LINKS and (strong or self.read_kind == "link"):
            return replace(thing, name=_owned(thing, behind), article="a"), behind
        if thing.category not in _NO_OWNERS and self.read_kind == "link" and not thing.plural:
            return Thing(f"{thing.name} plug", "plug", "connector", count=1, article="a"), behind
        return None

    def _ends_name(self, word: str) -> bool:
        """A stop, or words that tell where the named thing sits."""
        return not word.isalpha() or word in (
            *("at", "in", "on", "beside", "under", "near", "by", "behind", "below", "above"),
            *("for", "of", "to", "from", "with", "which", "that", "and", "next", "left", "right"),
            *("between", "side", "quite", "red", "black", "white", "blue", "again", "too"),
        )

    def _one_of_the_screws(self, rest: str, numbers: str | None) -> Thing | None:
        """As in "two at the bottom", "the one by the socket", "its partner at the top right"."""
        match = _STANDS_FOR_ONE.match(rest)
        if _TELLS.search(rest) or (match is None and not _SITS.match(rest)):
            return None
        told = len(re.findall(rf"\b{_NUMBER}\b", (numbers or "").lower()))
        many = answered_number(match["many"]) if match is not None and match["many"] else None
        count = many or told or 1
        return self._placed(
            Thing("screws" if count > 1 else "screw", "screw", "fastener", count, count > 1, "a"),
            rest,
        )

    def _placed(self, thing: Thing, behind: str) -> Thing:
        """A screw that is told apart from the others by where it sits bears that in its name."""
        place = _PLACE.search(behind)
        count = thing.count if thing.count is not None else (None if thing.plural else 1)
        name = f"{thing.name} {place.group().strip().lower()}" if place else thing.name
        return replace(thing, name=name, count=count)


def _owned(thing: Thing, behind: str) -> str:
    """As in "the plug for the alarm lamp": a plug bears the name of what it belongs to."""
    match = _OWNER.match(behind.strip()) if thing.category == "connector" else None
    return f"{match['owner'].lower()} {thing.name}" if match else thing.name


def without_clock(sentence: str) -> str:
    """The sentence, same length, without the places that are told by the hands of a clock."""
    return _CLOCK.sub(lambda match: " " * len(match.group()), sentence)
