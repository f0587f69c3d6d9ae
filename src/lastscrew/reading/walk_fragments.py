"""Fragments of speech that lean on what was named before: "Out.", "and up", "Five, numbered.", "then three more"."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.action_rows import as_captive
from lastscrew.reading.left_out import clips_let_go
from lastscrew.reading.meaning import actions_from
from lastscrew.reading.model import Action, Thing
from lastscrew.reading.note_form import note_verb
from lastscrew.reading.predicates import Found
from lastscrew.reading.spoken_told import answered_number, number_alone
from lastscrew.reading.walk_turns import TurnWalk

_PIECES = frozenset(["part", "cover", "board", "card", "drawer"])
_WAY_ALONE = re.compile(
    r"^\W*(?:(?:then|and|now|so|okay|yes|yeah|all|both|straight|those|that|it|they)\b[,\s]*)*(?P<way>out|off|up|away|in|on|back in|back on)(?:,? (?:straight|gently|nicely|too|as well))?\W*$",  # noqa: E501
    re.IGNORECASE,
)
_NUMBER_OF_SCREWS = re.compile(
    r"^\W*(?:(?:so|and|just|only|it's|there's|two each|one each|three each|three a side|two a side|four a side)\b[,\s]*)*"  # noqa: E501
    r"(?P<number>\d{1,2}|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)"
    r"(?: (?:big|small|little|long|short|of them|in all)(?: ones)?)?(?:\W*$|, (?:numbered|all the same|out|off|in|come out)\W*$)",  # noqa: E501
    re.IGNORECASE,
)


_SOUND = 3
"""Lines within which a clip that is heard has been told of."""
_OWNER_WORDS = 3
_IS_CAPTIVE = re.compile(
    r"\b(?:it's|it is|they're|they are|these are|those are|that one's|all) (?:all |a )?captive\b|\b(?:stays?|remains?) (?:captive|(?:put )?(?:in|with|on) (?:the|its|their|there|that))\b(?! (?:way|middle|bench|mat))|\b(?:don't|won't|doesn't) come (?:all the way |right |fully )?out\b",  # noqa: E501
    re.IGNORECASE,
)
"""Said before the screws are undone: they are loosened, and stay in."""


class FragmentWalk(TurnWalk):
    """What a bare way, a bare number or "more" stands for."""

    captive_line = 0
    """The line that said that the screws to come are captive."""
    named_line = 0
    """The line of the sentence before."""
    last_line = 0
    """The line of the last sentence that told work."""

    def _more_of_them(self, sentence: str, line: int) -> list[Action]:
        """As in "and then three more along the bottom edge", "then the two at the top": screws like those before."""
        told = number_alone(sentence)
        last = self.last_action
        if told is None or last is None or not last.fastener or not last.things:
            return []
        number, surely = told
        near = line - last.line <= 8 and last.klass in ("remove", "tighten", "loosen")
        if not near or not (surely or self.memory.refitting):
            return []
        thing = replace(last.things[-1], count=number, plural=number > 1)
        klass = "tighten" if self.memory.refitting else last.klass
        again = self._on(last, thing, line)
        return [replace(again, klass=klass, count=number, joins=last.joins)]

    def _way_alone(self, sentence: str, line: int) -> list[Action]:
        """As in "Eight screws. Out.", "and up": what was named just before comes out, or goes in."""
        match = _WAY_ALONE.match(sentence)
        last = self.memory.mentioned[-1] if self.memory.mentioned else None
        if match is None or last is None or line - self.named_line > 12:
            return []
        way = match["way"].lower()
        if self.memory.refitting != (way in ("in", "on", "down", "back in", "back on")):
            return []
        done = self.last_action
        if way == "up" and last.category not in _PIECES:
            return []
        key = note_verb(last.category, way.split()[-1]) if way != "up" else "lift"
        twice = done is not None and done.things and done.things[-1].head == last.head
        if not key or key not in self.lexicon.verbs or (twice and line - self.last_line <= 1):
            return []
        found = Found(key, key, 0, things=[replace(last, article="the")])
        return actions_from(found, self.memory, line, sentence)

    def _number_for_part(self, sentence: str) -> None:
        """As in "Heat sink. Five, numbered.", "Speakers. Two each, so four, out.": a number alone counts screws."""
        match = _NUMBER_OF_SCREWS.match(sentence)
        last = self.memory.mentioned[-1] if self.memory.mentioned else None
        if match is None or last is None or last.category not in _PIECES | {"card", "unknown"}:
            return
        number = answered_number(match["number"])
        if number is not None:
            plural = number > 1
            name = f"{last.name} screws" if plural else f"{last.name} screw"
            self.memory.mention(Thing(name, "screw", "fastener", count=number, plural=plural))

    def _on(self, action: Action, thing: Thing, line: int) -> Action:
        """The same work on another thing."""
        several = action.count not in (None, 1)
        carried = action.count if several == thing.plural else None
        count = thing.count if thing.count is not None else carried
        return replace(
            action,
            object=thing.name,
            things=(thing,),
            count=count if not (thing.plural and count == 1) else None,
            joins=(),
            line=line,
            weak="",
        )

    def _clips_heard(self, sentence: str, line: int) -> list[Action]:
        """Clips that are heard letting go, where nothing was told to be released just before."""
        let_go = clips_let_go(sentence, line)
        builder = self.current
        if let_go is None or self.memory.refitting or builder is None:
            return []
        near = [a for step in builder.steps[-3:] for a in step.actions if line - a.line <= _SOUND]
        if any(action.klass == "release" for action in near):
            return []
        owner = builder.part if 0 < len(builder.part.split()) <= _OWNER_WORDS else ""
        return [replace(let_go, owner=owner)]

    def _kept_captive(self, heard: list[Action], sentence: str, line: int) -> list[Action]:
        """As in "it's captive, so undo it": loosened, as it stays in; said of the screws that come next too."""
        captive = _IS_CAPTIVE.search(sentence) is not None
        near = bool(self.captive_line) and line - self.captive_line <= 2
        if (captive or near) and any(action.fastener for action in heard):
            return [as_captive(action) if action.fastener else action for action in heard]
        if captive:
            self.captive_line = line
        return heard
