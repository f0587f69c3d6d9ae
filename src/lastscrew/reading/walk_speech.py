"""What only speech does: parts announced in place of headings, things named and then spoken of, "same thing again"."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.blocks import Block
from lastscrew.reading.model import Action, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.prerequisites import Required
from lastscrew.reading.speech import ANNOUNCEMENTS, COMES_NEXT, NAMED_ALONE, REFIT_TURN, WHOLE_REFIT
from lastscrew.reading.spoken_before import asked_before, namely, power_states
from lastscrew.reading.spoken_parts import Turn, only_a_lead, turned_to
from lastscrew.reading.tokens import tokenise
from lastscrew.reading.walk_lists import ListWalk

_INTRODUCTION = re.compile(
    r"\btoday\b.*\b(?:going to|gonna|will|we're|we are|we'll|you'll|i'm|i am|show|how|be)\b|\bin this (?:video|guide|tutorial|clip|episode|chapter|section|document|procedure|article|manual|lesson)\b|\b(?:show|showing|shows|teach|guide|guides|tell|walk) (?:you |us )?(?:through )?how\b|\bwelcome (?:back|to)\b|^\W*this (?:section|chapter|document|guide|procedure|topic|manual|tutorial|page|article|video) (?:describes|explains|shows|covers|provides|contains|documents|details|will)\b|\bthe following (?:tutorial|procedure|section|guide|steps?) (?:will |describes?|explains?|shows?|outlines?|guides?)|\b(?:describes?|explains?) how\b",  # noqa: E501
    re.IGNORECASE,
)
_PLAN = re.compile(
    r"^\W*(?:(?:so|okay|ok|alright|and|now|well|hey|hi)\b[,\s]*)*(?:what (?:we're|we are|i'm|i am|we) (?:going to|gonna|will) (?:do|be doing) (?:today |here |now )?is"  # noqa: E501
    r"|(?:the )?(?:plan|goal|job|task|idea)(?: today| here)? is|(?:we're|we are|i'm|i am|we'll be|i'll be) (?:going to be |gonna be |today )?(?:swapping|replacing|changing|fixing|tearing|taking apart|repairing|opening up|doing a)|(?:we're|we are|i'm|i am|we'll|i'll) (?:going to |gonna |just )?(?:replace|swap|change|fix|repair|upgrade|(?:take|tear) [\w ]{0,40}?(?:apart|down)))\b"  # noqa: E501
    r"|\b(?:going to|gonna|will)\b.*\btoday\b",
    re.IGNORECASE,
)
"""As in "what we're going to do is replace the motor", said before anything is done."""
_SUBJECT = re.compile(
    r"\b(?:replac(?:e|ing)|fix(?:ing)?|swap(?:ping)?(?: out)?|remov(?:e|ing)|install(?:ing)?|chang(?:e|ing)|tak(?:e|ing) apart|disassembl\w+|tear(?:ing)? down|teardown of|open(?:ing)? up|dismantl\w+|repair\w*|inside)\s+",  # noqa: E501
    re.IGNORECASE,
)
_LINK = r"(?:(?:and|then|now|so|okay|ok|it's|that's|just|again|do|it is)\b[,\s]*)*"
_AGAIN = r"(?: thing| again| procedure| way| deal| story| goes| steps?| is done| applies)*"
_SAME = re.compile(
    rf"^\W*{_LINK}(?:exactly )?(?:the )?same{_AGAIN}\s+(?:with|for|on|to|at)\s+(?P<rest>.+)$"
    rf"|^\W*{_LINK}(?:repeat|likewise|ditto)\b(?: this| that| it)?{_AGAIN},?\s+(?:with|for|on|to|at)\s+(?P<rest2>.+)$",
    re.IGNORECASE,
)
"""As in "and then the same thing with the keyboard ribbon", "Do the same on the other side"."""


def _named(match: re.Match[str]) -> str:
    groups = match.groupdict()
    return groups.get("part") or groups.get("topic") or ""


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


_REMINDED = re.compile(
    r"^\W*(?:(?:and|so|now|please|first|just|always|again|as always)\b[,\s]*)*(?:make sure|be sure|make certain|ensure|check|double check|remember)\b",  # noqa: E501
    re.IGNORECASE,
)


def _done_here(row: Required, done: list[Action]) -> bool:
    """True where the same procedure has just taken off what it seems to ask for."""
    words = row.text.lower().split()
    if row.kind == "state":
        words = words[:-1]
    return any(
        action.things and set(words[-1:]) & set(action.object.lower().split()) for action in done
    )


class SpokenWalk(ListWalk):
    """Announcements, introductions, repeated work and things that are only named."""

    last_action: Action | None = None
    lead_alone = False
    """The sentence before said that something new comes and did not name it."""
    whole_refit = False
    """The whole machine goes together again, not the part alone that was taken out."""
    asked_last = ""
    """The sentence before, where it may have announced a list of what must be out."""

    def _introduces(self, sentence: str) -> bool:
        """As in "Today we're going to replace the fan": says what will come, orders nothing."""
        early = self.document.source.spoken and not any(b.steps for b in self.document.builders)
        if not _INTRODUCTION.search(sentence) and not (early and _PLAN.match(sentence)):
            return False
        subject = _SUBJECT.search(sentence)
        if subject and not self.document.title:
            thing, _ = Phrases(
                tokenise(sentence[subject.end() :], self.lexicon), self.lexicon
            ).phrase(0)
            if thing is not None and not thing.is_pronoun:
                self.document.title = self.document.title_part = thing.name
                self.memory.mention(thing)
        return True

    def _announced(self, sentence: str, block: Block, low: int) -> None:
        """As in "Next up is the fan": a spoken heading. "Now to put it back together": the other half begins."""
        self._turns_back(sentence, block, low)
        turn = turned_to(sentence, self.lexicon, led_before=self.lead_alone)
        self.lead_alone = only_a_lead(sentence)
        thing, end = (turn.thing, turn.high) if turn is not None else self._named_part(sentence)
        if thing is None or self._asks_for_it(sentence, turn):
            return
        current = self.current
        if current is not None and current.kind == "refit" and self.whole_refit:
            if turn is not None and not turn.led:
                return
            kind = "refit"
        else:
            kind = "removal"
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

    def _turns_back(self, sentence: str, block: Block, low: int) -> None:
        """As in "putting the new one in", "back together with it": from here on things go in."""
        turn = REFIT_TURN.search(sentence)
        current = self.current
        if turn is None or not any(builder.steps for builder in self.document.builders):
            return
        if re.search(
            r"\b(?:later|when you|before you|once you|remember|eventually|until)\b",
            sentence[: turn.end()],
            re.IGNORECASE,
        ):
            return
        self.whole_refit = self.whole_refit or bool(WHOLE_REFIT.search(sentence))
        if current is not None and current.kind == "refit":
            return
        builder = self._open(
            self.document.builders[0].part if current is None else "", "refit", block
        )
        builder.line = block.line_at(low + turn.start())
        builder.heading = sentence.strip()
        self._mark_span(block, low + turn.start(), low + turn.end(), "heading")

    def _named_part(self, sentence: str) -> tuple[Thing | None, int]:
        """A part that one of the patterns of announcements names, and where the pattern ends."""
        match = ANNOUNCEMENTS.search(sentence)
        if match is None and not self.memory.refitting:
            match = NAMED_ALONE.match(sentence) or COMES_NEXT.match(sentence)
        if match is None:
            return None, 0
        tokens = tokenise(_named(match), self.lexicon)
        thing, end = Phrases(tokens, self.lexicon).phrase(0)
        if (
            thing is None
            or (match.re is NAMED_ALONE and end < len(tokens))
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
        return (
            turn is not None
            and not turn.led
            and current is not None
            and bool(current.part)
            and not current.steps
            and bool(re.search(r"\bfirst\W*$", sentence))
        )

    def _asks_aside(self, sentence: str, after: str, line: int) -> str:
        """Keep what a sentence says must be off or unplugged before; what is left of the sentence, same length."""
        builder = self.current
        done = [
            action
            for step in (builder.steps if builder is not None else [])
            for action in step.actions
            if action.klass not in ("other", "release")
        ]
        first = not done and not self.memory.refitting
        told, self.asked_last = self.asked_last, sentence
        if self.memory.refitting:
            return sentence
        rest = namely(sentence, told, self.lexicon) if first else []
        if rest:
            for row in rest:
                self._require(row, line)
            return " " * len(sentence)
        part = builder.part if builder is not None else ""
        asked = asked_before(
            sentence, self.lexicon, first=first, part=part, after=after, gone=self._gone()
        )
        if not done:
            later = any(b.steps for b in self.document.builders[:-1])
            asked += power_states(sentence, later=later)
        reminded = bool(asked) and bool(_REMINDED.match(sentence))
        for item in asked:
            rows = [row for row in item.required if not _done_here(row, done)]
            for row in rows:
                self._require(row, line)
            if rows:
                blank = " " * (item.high - item.low)
                sentence = sentence[: item.low] + blank + sentence[item.high :]
        return " " * len(sentence) if reminded else sentence

    def _gone(self) -> frozenset[str]:
        """Last nouns of the parts that earlier procedures took off or unplugged."""
        return frozenset(
            thing.head
            for builder in self.document.builders
            if builder is not self.current and builder.kind != "refit"
            for step in builder.steps
            for action in step.actions
            if action.klass in ("remove", "lift", "slide", "disconnect") and not action.fastener
            for thing in action.things
            if thing.category in ("part", "cover", "board", "card", "drawer", "connector")
        )

    def _same_again(self, sentence: str, line: int, pending: list[Action]) -> list[Action]:
        """As in "Same thing with the keyboard ribbon": the last work once more, on another thing or side."""
        match = _SAME.match(sentence)
        if match is None:
            return []
        rest = match["rest"] or match["rest2"] or ""
        thing, _ = Phrases(tokenise(rest, self.lexicon), self.lexicon).phrase(0)
        before = pending or self._last_step()
        done = [action for action in before if action.klass != "other"]
        if thing is None or not done:
            return []
        self.reasons, self.stated = [], False
        if thing.category in ("place", "text") or thing.is_pronoun or thing.name.endswith("side"):
            return [replace(action, line=line, weak="again") for action in done]
        self.memory.mention(thing)
        alike = [a for a in done if a.things and a.things[-1].category == thing.category]
        own = alike[-1] if alike else done[-1]
        return [
            replace(a, line=line, weak="again") if a is not own else self._on(own, thing, line)
            for a in (done if alike else [own])
        ]

    def _on(self, action: Action, thing: Thing, line: int) -> Action:
        """The same work on another thing."""
        count = thing.count if thing.count is not None else action.count
        return replace(
            action,
            object=thing.name,
            things=(thing,),
            count=count if not (thing.plural and count == 1) else None,
            joins=(),
            line=line,
            weak="",
        )

    def _last_step(self) -> list[Action]:
        """The actions of the line of the last step, where the text was cut into lines."""
        steps = self.current.steps if self.current is not None else []
        if not steps:
            return []
        last = steps[-1]
        if not self.document.source.spoken:
            return list(last.actions)
        return [a for step in steps[-3:] for a in step.actions if a.line >= last.line - 1]

    def _named_only(self, sentence: str, line: int) -> list[Action]:
        """As in "and then the two ribbons", "five screws": named without a verb, right behind what was done."""
        tokens = tokenise(sentence, self.lexicon)
        phrases = Phrases(tokens, self.lexicon, spoken=True)
        i = 0
        while i < len(tokens) and (
            tokens[i].low in self.lexicon.words["openers"] or tokens[i].low in ("last", ",")
        ):
            i += 1
        things, end = phrases.list_of(i)
        while end < len(tokens) and (
            tokens[end].kind == "mark"
            or tokens[end].low in self.lexicon.words["adverbs"]
            or tokens[end].low in ("and", "too")
        ):
            end += 1
        if not things or end < len(tokens) or any(not t.name or t.is_pronoun for t in things):
            return []
        last = self.last_action
        thing = things[-1]
        if thing.category == "fastener" and thing.count is not None and self.memory.refitting:
            self.memory.mention(thing)
            joins = (last.object,) if last is not None and not last.fastener else ()
            return [self._tightened(thing, line, joins)]
        alike = last is not None and last.things and last.things[-1].category == thing.category
        if (
            alike
            and last is not None
            and thing.category in ("cable", "connector", "antenna", "fastener")
        ):
            self.memory.mention(*things)
            return [self._on(last, thing, line)]
        if thing.category in ("unknown", "fastener", "text", "place", "tool", "body", "device"):
            return []
        self.memory.mention(*things)
        put_back = last is not None and last.klass in (
            "replace",
            "insert",
            "connect",
            "tighten",
            "close",
        )
        if self.memory.refitting and put_back and tokens[0].low in ("and", "then"):
            return [
                Action(
                    "replace",
                    "replace",
                    t.name,
                    things=(t,),
                    count=t.count,
                    line=line,
                    weak="again",
                )
                for t in things
            ]
        return []

    def _tightened(self, thing: Thing, line: int, joins: tuple[str, ...]) -> Action:
        """Screws named alone on the way back: they go in."""
        return Action(
            "tighten",
            "tighten",
            thing.name,
            things=(thing,),
            count=thing.count,
            fastener=thing.head,
            size=thing.size,
            drive=thing.drive,
            joins=joins,
            line=line,
            inferred=(("class", "named alone on the way back"),),
        )
