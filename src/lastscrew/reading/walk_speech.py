"""What only speech does: parts announced in place of headings, things named and then spoken of, "same thing again"."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.blocks import Block
from lastscrew.reading.model import Action, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.speech import ANNOUNCEMENTS, COMES_NEXT, NAMED_ALONE, REFIT_TURN
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


class SpokenWalk(ListWalk):
    """Announcements, introductions, repeated work and things that are only named."""

    last_action: Action | None = None

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
        turn = REFIT_TURN.search(sentence)
        current = self.current
        if (
            turn is not None
            and (current is None or current.kind != "refit")
            and not re.search(
                r"\b(?:later|when you|before you|once you|remember|eventually|until)\b",
                sentence[: turn.end()],
                re.IGNORECASE,
            )
        ):
            if self.document.builders and any(builder.steps for builder in self.document.builders):
                builder = self._open(
                    self.document.builders[0].part if current is None else "", "refit", block
                )
                builder.line = block.line_at(low + turn.start())
                builder.heading = sentence.strip()
                self._mark_span(block, low + turn.start(), low + turn.end(), "heading")
        match = ANNOUNCEMENTS.search(sentence)
        if match is None and not self.memory.refitting:
            match = NAMED_ALONE.match(sentence) or COMES_NEXT.match(sentence)
        if match is None:
            return
        tokens = tokenise(_named(match), self.lexicon)
        thing, end = Phrases(tokens, self.lexicon).phrase(0)
        if (
            thing is None
            or (match.re is NAMED_ALONE and end < len(tokens))
            or thing.is_pronoun
            or thing.category
            in (
                "fastener",
                "text",
                "place",
                "tool",
                "unknown",
                "lock",
                "clip",
                "button",
                "body",
            )
            or (thing.category == "device" and " " not in thing.name)
            or not thing.name
        ):
            return
        kind = self.current.kind if self.current is not None else "removal"
        self.memory.mention(thing)
        if self.current is not None and not self.current.steps and not self.current.part:
            self.current.part = thing.name
        else:
            builder = self._open(thing.name, kind, block)
            builder.line = block.line_at(low + match.start())
            builder.heading = match.group().strip()
        self._mark_span(block, low + match.start(), low + match.end(), "heading")

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
