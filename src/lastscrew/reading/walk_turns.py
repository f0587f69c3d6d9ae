"""Where a talk turns: to the next part, which it announces in place of a heading, or to the way back."""

from __future__ import annotations

import re

from lastscrew.reading.blocks import Block
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Action, Source, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.speech import (
    ANNOUNCEMENTS,
    COMES_NEXT,
    NAMED_ALONE,
    NEW_GOES,
    REACHED,
    REFIT_TURN,
    WHOLE_REFIT,
)
from lastscrew.reading.spoken_parts import GERUND, MEANT, Turn, only_a_lead, turned_to
from lastscrew.reading.spoken_told import shown_part
from lastscrew.reading.taken_out import TakenOut, recent_actions
from lastscrew.reading.tokens import tokenise
from lastscrew.reading.walk_lists import ListWalk
from lastscrew.reading.walk_state import Builder
from lastscrew.reading.way_back import put_in_again, says_way_back

LINKED = re.compile(
    r"^\W*(?:(?:so|and|now|well|okay|ok|right|yeah|oh|then|next|also|plus|alright|but|first off|first of all|first)\b[,\s]*)+",  # noqa: E501
    re.IGNORECASE,
)
"""Words that only lead to what is said."""
_BACK_IN = re.compile(
    r"^\W*(?:(?:so|okay|ok|right|then|now|alright|and|good)\b[,\s]*)*(?P<part>(?:the |our |your )?[a-z][\w ]{2,24}?) (?:goes |go )?back (?:in|on|onto|into)\b",  # noqa: E501
    re.IGNORECASE,
)
_NO_PART = frozenset(
    [
        "cable",
        "connector",
        "film",
        "fastener",
        "text",
        "place",
        "tool",
        "unknown",
        "lock",
        "clip",
        "button",
        "body",
    ]
)


def _named(match: re.Match[str]) -> str:
    groups = match.groupdict()
    return groups.get("part") or groups.get("part2") or groups.get("topic") or ""


_PLACED = re.compile(
    r"^\W*(?:(?:now|okay|ok|right|alright|so|then)\b[,.\s]*)+(?:for )?(?P<part>the [a-z][\w /-]{1,30}?) "
    r"(?:(?:on|at|in|over|down|up) (?:the|here|there)|here|the one)\b(?!.*\b(?:back|screws?|goes?|plug|tight)\b)",
    re.IGNORECASE,
)

_MUST_GO = re.compile(
    r"^\W*(?:(?:has|have|needs?) to|must|should) (?:first |also )?(?:come|be|go) (?:off|out|away|removed|gone)\b",
    re.IGNORECASE,
)


class TurnWalk(ListWalk):
    """Announcements of parts, and turns to the way back."""

    last_action: Action | None = None
    taken: TakenOut
    gone_from: Builder | None = None
    just_gone: frozenset[str] = frozenset()
    """What the last sentence took off: "it comes off" may still be said of it."""
    lead_alone = False
    """The sentence before said that something new comes and did not name it."""
    whole_refit = False
    """The whole machine goes together again, not the part alone that was taken out."""

    def __init__(self, source: Source, lexicon: Lexicon) -> None:
        """Start at the first block with nothing taken out."""
        super().__init__(source, lexicon)
        self.taken = TakenOut()

    def _announced(self, sentence: str, block: Block, low: int) -> None:
        """As in "Next up is the fan": a spoken heading. "Now to put it back together": the other half begins."""
        turned = self._turns_back(sentence, block, low)
        turn = turned_to(sentence, self.lexicon, led_before=self.lead_alone)
        # "… leave one in, and now the last one": one more screw, no part.
        screws = self.last_action is not None and bool(self.last_action.fastener)
        self.lead_alone = only_a_lead(sentence) and not screws
        thing, end = (turn.thing, turn.high) if turn is not None else self._named_part(sentence)
        if thing is None:
            thing, end = self._comes_into_view(sentence)
        if thing is None:
            thing, end = self._where_it_is(sentence)
        if thing is None or self._asks_for_it(sentence, turn):
            return
        current = self.current
        kind = "removal"
        meant = turn is None and MEANT.match(sentence) is not None
        waits = current is not None and bool(current.part) and not current.steps
        if not self.memory.refitting and self._taken_before(thing):
            asked = turn is not None and _MUST_GO.match(sentence[turn.high :]) is not None
            if meant or ((turn is None or asked) and waits):
                return  # "the battery has to come out as well": asked for, no part of its own
        if turned:
            kind = "refit"
        elif self.memory.refitting and (
            self.whole_refit or self._taken_before(thing) or self._is_open(thing)
        ):
            kind = "refit"
            if turn is not None and not turn.led:
                self.memory.mention(thing)
                return
        self.memory.mention(thing)
        if current is not None and not current.steps and not current.part:
            current.part, current.kind = thing.name, kind
            self.memory.refitting = kind == "refit"
        elif (
            current is not None
            and current.part.lower() == thing.name.lower()
            and current.kind == kind
        ):
            return
        else:
            builder = self._open(thing.name, kind, block)
            builder.line = block.line_at(low)
            builder.heading = sentence.strip()
        self._mark_span(block, low, low + end, "heading")

    def _comes_into_view(self, sentence: str) -> tuple[Thing | None, int]:
        """As in "so underneath that is the inner lid", where what was spoken of before is off."""
        thing, end = shown_part(sentence, self.lexicon)
        builder = self.current
        if thing is None or builder is None or self.memory.refitting or self._taken_before(thing):
            return None, 0
        own = builder.part.lower().split()
        off = any(
            action.klass in ("remove", "lift", "slide")
            and not action.fastener
            and set(own[-1:]) & set(action.object.lower().split())
            for action in recent_actions(builder)
        )
        return (thing, end) if off else (None, 0)

    def _where_it_is(self, sentence: str) -> tuple[Thing | None, int]:
        """As in "now the little board on the right, the one with the socket": another part, behind a way back."""
        match = _PLACED.match(sentence)
        if match is None or not self.memory.refitting:
            return None, 0
        tokens = tokenise(match["part"], self.lexicon)
        thing, end = Phrases(tokens, self.lexicon, spoken=True).phrase(0)
        known = thing is not None and thing.category in ("part", "cover", "board", "card", "drawer")
        if thing is None or not known or end < len(tokens) or self._taken_before(thing):
            return None, 0
        return thing, match.end("part")

    def _put_back(self, sentence: str) -> re.Match[str] | None:
        """As in "right then, backplane back on its pegs": what was taken out goes in, said in a scrap."""
        match = _BACK_IN.match(sentence)
        if match is None or self.memory.refitting:
            return None
        tokens = tokenise(match["part"], self.lexicon)
        thing, end = Phrases(tokens, self.lexicon, spoken=True).phrase(0)
        if thing is None or end < len(tokens) or not thing.name:
            return None
        own = self.current
        taken = own is not None and (
            thing.name.lower() == own.part.lower()
            or any(thing.head == t.head for a in recent_actions(own) for t in a.things)
        )
        return match if taken or self._taken_before(thing) else None

    def _new_goes(self, sentence: str) -> re.Match[str] | None:
        """As in "new motor up from below", where the old one is out."""
        match = NEW_GOES.match(sentence)
        if match is None or self.memory.refitting:
            return None
        named = match["part"] or match["part2"]
        words = named.lower().split()
        if words in (["one"], ["replacement"]):
            return match
        thing = Thing(named, words[-1], self.lexicon.category(tuple(words)))
        own = self.current.part.lower().split() if self.current is not None else []
        return match if words[-1] in own or self._taken_before(thing) else None

    def _tightens_again(self, found: list[Action], block: Block, low: int) -> None:
        """As in "nip the three bolts up tight", "plug it back in": the way back has begun."""
        builder = self.current
        if builder is None or self.memory.refitting or not builder.steps:
            return
        undone = {
            a.things[-1].head
            for a in recent_actions(builder)
            if a.klass in ("remove", "loosen", "disconnect", "lift") and a.things
        }
        turned = any(
            a.things
            and a.things[-1].head in undone
            and not a.weak
            and (
                (a.klass == "tighten" and a.fastener)
                or (a.klass in ("connect", "replace", "insert") and a.verb.endswith(" back"))
            )
            for a in found
        )
        if turned:
            refit = self._open(builder.part, "refit", block)
            refit.line = block.line_at(low)

    def _keep_gone(self, builder: Builder, actions: list[Action]) -> None:
        """What the procedure under way took off."""
        if self.gone_from is not builder:
            self.gone_from, self.just_gone, self.memory.gone = builder, frozenset(), frozenset()
            self.memory.handled = frozenset()
        self.memory.handled |= frozenset(
            a.things[-1].head
            for a in actions
            if a.klass in ("disconnect", "release", "peel")
            and a.things
            and a.things[-1].category != "part"
        )
        self.memory.gone |= self.just_gone
        self.just_gone = frozenset(
            a.things[-1].head
            for a in actions
            if a.klass in ("remove", "lift", "slide") and not a.fastener and a.things
        )

    def _is_open(self, thing: Thing) -> bool:
        """True where the thing was opened, unplugged or lifted, and has not been put back."""
        for builder in reversed(self.document.builders):
            for action in recent_actions(builder):
                if not action.things or action.things[-1].head != thing.head or action.fastener:
                    continue
                if action.klass in ("remove", "lift", "slide", "disconnect", "peel"):
                    return builder.kind != "refit"
                if action.klass in ("replace", "insert", "connect", "close", "apply"):
                    return False
        return False

    def _taken_before(self, thing: Thing) -> bool:
        """True where the text took the thing out before: it is spoken of again because it goes in."""
        self.taken.look(self.document.builders, self.current)
        return self.taken.has(thing.name, self.current)

    def _turns_back(self, sentence: str, block: Block, low: int) -> bool:
        """As in "putting the new one in", "back together with it": from here on things go in."""
        match = REFIT_TURN.search(sentence) or self._put_back(sentence) or self._new_goes(sentence)
        span = match.span() if match is not None else self._goes_in_again(sentence)
        current = self.current
        if span is None or not any(builder.steps for builder in self.document.builders):
            return False
        if re.search(
            r"\b(?:later|when you|before you|once you|remember|eventually|until|if)\b",
            sentence[: span[1]],
            re.IGNORECASE,
        ):
            return False
        self.whole_refit = self.whole_refit or bool(WHOLE_REFIT.search(sentence))
        if current is not None and current.kind == "refit":
            return False
        builder = self._open(
            self.document.builders[0].part if current is None else "", "refit", block
        )
        builder.line = block.line_at(low + span[0])
        builder.heading = sentence.strip()
        self._mark_span(block, low + span[0], low + span[1], "heading")
        return True

    def _goes_in_again(self, sentence: str) -> tuple[int, int] | None:
        """As in "new one", "pop the switch back in", "hose on, clamp on", where these are out."""
        builder = self.current
        if self.memory.refitting or builder is None or not self._has_taken(builder):
            return None
        told = says_way_back(sentence)
        if told is not None:
            return told
        out = {
            action.things[-1].head
            for action in recent_actions(builder)
            if action.klass in ("remove", "lift", "slide", "disconnect", "peel") and action.things
        }
        for thing in put_in_again(sentence, self.lexicon):
            fresh = thing.name.lower().startswith(("new ", "replacement "))
            if thing.head in out or (fresh and (thing.is_pronoun or self._taken_before(thing))):
                return 0, len(sentence)
        return None

    def _has_taken(self, builder: Builder) -> bool:
        """True where something has come off or out."""
        return any(
            action.klass in ("remove", "lift", "slide", "disconnect")
            for action in recent_actions(builder)
        )

    def _named_part(self, sentence: str) -> tuple[Thing | None, int]:
        """A part that one of the patterns of announcements names, and where the pattern ends."""
        match = (
            ANNOUNCEMENTS.search(sentence)
            or REACHED.search(sentence)
            or MEANT.match(sentence)
            or GERUND.match(sentence)
        )
        if match is None and not self.memory.refitting:
            match = NAMED_ALONE.match(sentence) or COMES_NEXT.match(sentence)
        if match is None:
            return None, 0
        tokens = tokenise(_named(match), self.lexicon)
        thing, end = Phrases(tokens, self.lexicon).phrase(0)
        if (
            thing is None
            or (match.re in (NAMED_ALONE, MEANT, GERUND) and end < len(tokens))
            or thing.is_pronoun
            or thing.category in _NO_PART
            or (thing.category == "device" and " " not in thing.name)
            or not thing.name
        ):
            return None, 0
        return thing, match.end()

    def _asks_for_it(self, sentence: str, turn: Turn | None) -> bool:
        """As in "okay the fan. battery first": right behind a part that is announced another "first" is asked for."""
        current = self.current
        if turn is None or turn.led or current is None or not current.part or current.steps:
            return False
        return not LINKED.match(sentence) or bool(re.search(r"\bfirst\W*$", sentence))

    def _gone(self) -> set[str]:
        """Last nouns of the parts that earlier procedures took off or unplugged."""
        self.taken.look(self.document.builders, self.current)
        return self.taken.heads
