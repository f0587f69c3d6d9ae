"""What only speech does: parts announced in place of headings, things named and then spoken of, "same thing again"."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.asked_by_rule import by_rule, namely, power_states, surely_asked
from lastscrew.reading.blocks import Block
from lastscrew.reading.meaning import actions_from
from lastscrew.reading.model import Action, Fact, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.required import Required
from lastscrew.reading.speech import (
    speech_spans,
)
from lastscrew.reading.spoken_counts import counted_out
from lastscrew.reading.spoken_links import links
from lastscrew.reading.spoken_notes import Done, scraps
from lastscrew.reading.spoken_parts import MEANT, behind_a_turn
from lastscrew.reading.spoken_told import (
    answered_number,
    asked_and_told,
    asked_number,
    bare_screws,
    counted_behind,
    films_beside,
    introduced,
    number_by_sides,
    number_kept,
    number_of_those,
)
from lastscrew.reading.taken_out import recent_actions
from lastscrew.reading.thoughts import thoughts
from lastscrew.reading.tokens import sentence_spans, tokenise
from lastscrew.reading.walk_read_out import ReadOutWalk
from lastscrew.reading.walk_state import Builder
from lastscrew.reading.walk_turns import LINKED

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


_REMINDED = re.compile(
    r"^\W*(?:(?:and|so|now|please|first|just|always|again|as always)\b[,\s]*)*(?:make sure|be sure|make certain|ensure|check|double check|remember)\b",  # noqa: E501
    re.IGNORECASE,
)


def _done_here(row: Required, builder: Builder | None) -> bool:
    """True where the same procedure has just taken off what it seems to ask for."""
    words = row.text.lower().split()
    if row.kind == "state":
        words = words[:-1]
    return builder is not None and any(
        action.klass not in ("other", "release")
        and action.things
        and set(words[-1:]) & set(action.object.lower().split())
        for action in recent_actions(builder)
    )


_SHOWN = re.compile(
    r"^\W*(?:(?:so|and|now|well|okay|right|yeah|oh|yes|no)\b[,\s]*)*(?:that's|that is|this is|here's|here is|this here is|they're|those are|these are|it's|we call (?:it|that))\s+(?=(?:the|your|our|a|an)\b)",  # noqa: E501
    re.IGNORECASE,
)
_REMEMBER = re.compile(
    r"^\W*(?:(?:and|so|now|but|then|okay)\b[,\s]*)*(?:don't|do not|never) (?:you )?forget\s+(?=(?:the|your|our|that|this)\b)",  # noqa: E501
    re.IGNORECASE,
)
_LINKS = frozenset(["cable", "connector", "antenna"])
_THEY_ARE = re.compile(
    r"^\W*(?:.{0,40}[,;] )?(?:they're|they are|these are|those are)\b", re.IGNORECASE
)
_NOTED_OFF = re.compile(
    r"^\W*(?:(?:then|and|now|so|okay)\b[,\s]*)*(?P<part>(?:the |your )?[a-z][\w -]{1,30}?),? (?:all |both )?(?:off|out|away)\W*$",  # noqa: E501
    re.IGNORECASE,
)
_OF_WHAT_KIND = re.compile(
    r"^\W*(?:(?:so|and|now|well|okay|right|but|because)\b[,\s]*)*it(?:'s| is)(?: just| only| really)? (?:like )?an?\b",
    re.IGNORECASE,
)
_IS_OFF = re.compile(
    r"^\W*(?:(?:so|and|now|then|okay|ok|right|yeah|there|that's it|once that's done)\b[,\s]*)*"
    r"(?:(?:that's|there's|here's|that is|there is) (?P<shown>(?:the|our|your) [\w -]{2,30}?)|(?P<thing>(?:the|our|your|that) [\w -]{2,30}?|it|that)(?:'s| is| are)(?: now| then| all)?)"  # noqa: E501
    r" (?:off|out|free|away|loose and out)\W*$",
    re.IGNORECASE,
)
_PIECES = frozenset(["part", "cover", "board", "card", "drawer"])
_SEAM = re.compile(r"\b(?P<seam>seam|gap|adhesive|glue line|join|glue)\b", re.IGNORECASE)
_ROUND = re.compile(r"\b(?:round|around|along|all the way|edges?|sides?)\b", re.IGNORECASE)
_DRAWN = re.compile(r"^(?:run|work|slide|drag|move|go|guide|sweep|walk|take|push|wiggle)\b")
_SAME_WAY = re.compile(
    r"^\W*(?:(?:and|so|now|then|okay|again)\b[,\s]*)*(?:it|they|that|(?:the|this) [\w -]{2,30}?)(?: just| all)? (?:goes?|comes?) (?:back )?(?:in |on |together )?(?:exactly |in )?the (?:exact )?same way\b(?: (?:it|they) (?:came|comes?) (?:off|out))?",  # noqa: E501
    re.IGNORECASE,
)
_IS_IN = re.compile(
    r"(?<!\bit)(?<!\bthat)(?<!\bthere)(?<!\bhere)(?<!\bwhat)(?<!\bwho)(?<!\bhe)(?<!\bshe)(?<!\bpower)(?<!\bwater)(?<!\bgas)(?<!\bmains)"
    r"['’]s(?= (?:all |now )?(?:back|on|in|down|home|tight)\b)",
    re.IGNORECASE,
)
"""As in "fan's back in, plug's in": on the way back a scrap."""
_COMES_ON = re.compile(
    r"\bcomes(?= (?:back )?(?:in|on|into|onto|over) (?:the|its)\b)", re.IGNORECASE
)
"""As in "the lid comes on the hinges": on the way back it goes there."""
_LATER = re.compile(
    r"\b(?:i'll|i will|we'll|we will|i'm going to|we're going to)\b.*\b(?:later(?: on)?|in a (?:minute|second|moment|bit)|some other time|another (?:day|time|video))\W*$",  # noqa: E501
    re.IGNORECASE,
)
_SHOWN_FIRST = re.compile(
    r"\bthe one (?:that|you|with|we|which|everybody|everyone)\b|^\W*(?:so |and |okay |today |right )*(?:we've got|we have|here's|this is|here we have) (?:a|an|the|our) (?-i:[A-Z]\w+)",  # noqa: E501
    re.IGNORECASE,
)
_SHUT_DOWN = re.compile(
    r"\b(?:shut|power|switch|turn) (?:it|everything|the machine|the whole thing) (?:all the way |completely )?(?:down|off)\b"  # noqa: E501
    r"|\bfirst\b.*\b(?:electricity|current|power|mains)\b.*\boff\b|\balready (?:out|down) (?:of|from) the\b"
    r"|\bbefore (?:any(?:body|one|thing)|you|we|i)\b(?: \w+){0,3} (?:touch\w*|do(?:es)?|starts?|opens?|goes|go)\b.*\b(?:plug|off|unplug\w*|mains|wall)\b",  # noqa: E501
    re.IGNORECASE,
)
_LAST_ONE = re.compile(
    r"^\W*(?:(?:and|so|now|then|finally|okay)\b[,\s]*)*the last one\W*$", re.IGNORECASE
)
_WITH_OFF = re.compile(
    r"^\W*(?:(?:so|now|and|okay|right|then)\b[,\s]*)*(?:with|once|now that|now)\b.*\b(?:off|out|removed|unplugged|disconnected|away|gone)\W*$",  # noqa: E501
    re.IGNORECASE,
)
_COLON = re.compile(r":\s*|,\s+(?:so|that is|that's|meaning|namely|i mean)\s+")
_OTHERS = re.compile(r"\b(?:the others?(?: one| ones| two| three)?|the rest)\W*$", re.IGNORECASE)
"""The others of the same: told once is enough."""
_COUNTED = frozenset(["fastener", "clip", "lock", "connector", "cable", "tie"])
_UNTOPICAL = frozenset(["text", "place", "tool", "body", "device", "software", "force"])
_OFF_ITS_PLACE = re.compile(
    r"\b(?:has|have|needs?|need) to come (?:off|out)(?: of)? (?:the|its|their)\b"
    r"|^\W*(?:so |and |now )*if (?:you|we)(?: just| only)? (?:want|need)\b",
    re.IGNORECASE,
)
"""As in "the plug has to come off the board", a step; "if you want the fan out", a wish: nothing is asked for."""


class SpokenWalk(ReadOutWalk):
    """Announcements, introductions, repeated work and things that are only named."""

    thought_before = ""
    """The thought before, where the sentence goes on."""
    named_screws: tuple[Thing, int] | None = None
    """Screws that were only counted, and the line: they come out before the part that they hold."""
    asked_for: Thing | None = None
    """What the question before asked the number of."""
    asked_last = ""
    """The sentence before, where it may have announced a list of what must be out."""

    def _spans(self, text: str, mended: str) -> list[tuple[int, int]]:
        """Places of the sentences of a text, of the thoughts of a speech."""
        if not self.document.source.spoken:
            return sentence_spans(text)
        spans: list[tuple[int, int]] = []
        for low, high in speech_spans(text):
            turns = behind_a_turn(mended, low, high, self.lexicon)
            rest = turns[-1]
            spans += turns[:-1]
            for thought in thoughts(mended, *rest, self.lexicon):
                spans += behind_a_turn(mended, *thought, self.lexicon)
        return spans

    def _introduces(self, sentence: str) -> bool:
        """As in "Today we're going to replace the fan": says what will come, orders nothing."""
        early = self.document.source.spoken and not any(b.steps for b in self.document.builders)
        if self.document.source.spoken and _LATER.search(sentence):
            return True
        shown = early and _SHOWN_FIRST.search(sentence)
        if not (shown or _INTRODUCTION.search(sentence) or (early and _PLAN.match(sentence))):
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

    def _turned(self, sentence: str, block: Block, low: int) -> None:
        """A part that is turned to, unless the name is the next of a list that is read out."""
        if not self._amid_list(sentence, block.line_at(low)):
            self._announced(sentence, block, low)

    def _asks_aside(self, sentence: str, after: str, line: int) -> str:
        """Keep what a sentence says must be off or unplugged before; what is left of the sentence, same length."""
        builder = self.current
        first = not self.memory.refitting and not self._has_begun(builder)
        told, self.asked_last = self.asked_last, sentence
        if self.memory.refitting:
            return sentence
        for before, behind in ((told, sentence), _COLON.split(f"{sentence}:", maxsplit=1)):
            rest = namely(behind.rstrip(": "), before, self.lexicon) if first else []
            if rest:
                for row in rest:
                    self._require(row, line)
                return " " * len(sentence)
        part = builder.part if builder is not None else ""
        opened = builder is not None and not builder.steps and builder.heading == sentence.strip()
        if opened and _WITH_OFF.match(told):
            # "With the knobs off and the back off, | we can take the chassis out": said of what is announced.
            for item in by_rule(told, self.lexicon, first=True, part=part, gone=self._gone()):
                for row in item.required:
                    self._require(row, line)
        gone = self._gone()
        begins = first and not gone and MEANT.match(sentence) is not None
        asked = (
            []  # "first off we've got to get the cover off": the work that begins
            if begins
            else by_rule(sentence, self.lexicon, first=first, part=part, after=after, gone=gone)
        )
        if not first and _SHUT_DOWN.search(sentence):
            asked += power_states(sentence, later=True)
        if first:
            later = any(b.steps for b in self.document.builders if b is not builder)
            asked += power_states(sentence, later=later)
        reminded = bool(asked) and bool(_REMINDED.match(sentence))
        for item in asked:
            rows = [
                row
                for row in item.required
                if not _done_here(row, builder)
                and not self._just_brought_in(row, f"{told} {sentence}")
            ]
            for row in rows:
                self._require(row, line)
            if rows:
                blank = " " * (item.high - item.low)
                sentence = sentence[: item.low] + blank + sentence[item.high :]
        return " " * len(sentence) if reminded else sentence

    def _plain_order(self, sentence: str) -> bool:
        """As in "disconnect all the cables that are still on it": an order of a talk asks for nothing before."""
        if _OFF_ITS_PLACE.search(sentence):
            return True
        tokens = tokenise(sentence, self.lexicon)
        noted = _NOTED_OFF.match(sentence)
        if noted is not None:
            named = tokenise(noted["part"], self.lexicon)
            thing, end = Phrases(named, self.lexicon, spoken=True).phrase(0)
            if thing is not None and end == len(named) and not thing.is_pronoun:
                # "cover off": where it was not off before, the work itself
                return not surely_asked(thing.name, self._gone())
        ordered = bool(tokens) and Phrases(tokens, self.lexicon).is_command(0)
        return ordered and not re.search(
            r"\b(?:first|before|beforehand|already|sure|see|refer|follow|steps?|section|procedure|check|as)\b",
            sentence,
            re.IGNORECASE,
        )

    def _just_brought_in(self, row: Required, told: str) -> bool:
        """As in "it's on a thin cable with a plug, so pull that plug off first": work that begins here."""
        head = next(
            (t.head for t in self.memory.mentioned[-3:] if t.head in row.text.lower().split()), ""
        )
        new = rf"\b(?:an?|another) (?:[\w-]+ ){{0,3}}{re.escape(head)}\b"
        return (
            row.kind == "state" and bool(head) and re.search(new, told, re.IGNORECASE) is not None
        )

    def _has_begun(self, builder: Builder | None) -> bool:
        """True where the procedure has a step that opens or closes something."""
        return builder is not None and any(
            action.klass not in ("other", "release")
            for step in builder.steps
            for action in step.actions
        )

    def _in_scraps(self, sentence: str, block: Block, low: int) -> tuple[list[Action], str]:
        """As in "fan back in, three screws": on the way back, with what is left of the sentence (same length)."""
        same = _SAME_WAY.match(sentence)
        if same is not None:
            sentence = " " * same.end() + sentence[same.end() :]
        if not self.memory.refitting:
            return [], sentence
        sentence = _COMES_ON.sub("goes ", sentence)
        sentence = _IS_IN.sub(lambda match: " " * len(match.group()), sentence)
        actions: list[Action] = []
        self.taken.look(self.document.builders, self.current)
        done = Done(self.taken.worked, self.taken.removed, self.taken.unplugged, self.taken.pairs)
        self.memory.removed = self.taken.removed
        for scrap in scraps(sentence, self.lexicon, done):
            line = block.line_at(low + scrap.low)
            told = sentence[: scrap.low]
            if re.search(r"\w+ \w+ *\w", told):
                actions += self._orders(told, block, low, item=False, lead="")
            actions += actions_from(scrap.found, self.memory, line, sentence[scrap.low :])
            sentence = " " * scrap.high + sentence[scrap.high :]
        if actions:
            self.last_action = actions[-1]
        return actions, sentence

    def _gone_now(self, sentence: str, line: int) -> list[Action]:
        """As in "and the lid is off", "and it's out": done by now, where no order says it."""
        match = _IS_OFF.match(sentence)
        if match is None or self.memory.refitting or self.current is None:
            return []
        thing, _ = Phrases(
            tokenise(match["thing"] or match["shown"], self.lexicon), self.lexicon
        ).phrase(0)
        part = self.current.part
        if thing is not None and thing.is_pronoun:
            thing = self.memory.resolve(thing, "take off")
            plain = thing is None or thing.category in ("clip", "lock", "fastener", "unknown")
            if plain and part and self._has_begun(self.current):
                thing = Thing(part, part.split()[-1].lower(), "part", article="the")
        own = thing is not None and thing.head == part.lower().split(" ")[-1]
        if thing is None or (thing.head in self._gone() and not (own and match["shown"])):
            return []
        name = self.memory.full_name(thing)
        if thing.category in ("cable", "connector"):
            return [Action("disconnect", "be off", name, things=(thing,), line=line, weak="result")]
        if thing.category == "fastener":
            out = replace(self._tightened(thing, line, ()), klass="remove", verb="be out")
            return [replace(out, weak="result")]
        if thing.category not in _PIECES and not own:
            return []
        return [Action("remove", "be off", name, things=(thing,), line=line, weak="result")]

    def _along_the_seam(self, sentence: str, found: list[Action]) -> list[Action]:
        """As in "get a card into the seam and run it all the way round": what is stuck or clipped lets go there."""
        seam = _SEAM.search(f"{self.asked_last} {sentence}")
        moved = [a for a in found if a.klass in ("other", "route") and _DRAWN.match(a.verb)]
        drawn = moved[-1] if moved else None
        if seam is None or drawn is None or self.memory.refitting:
            return found
        told = any(action.klass == "release" for action in found)
        if told or not drawn.things or not _ROUND.search(sentence):
            return found
        tools = any(a.things and a.things[-1].category in ("tool", "card") for a in moved)
        if not tools and drawn.things[-1].category not in ("tool", "card", "pronoun", "unknown"):
            return found
        thing = Thing(seam["seam"].lower(), seam["seam"].lower(), "part", article="the")
        let_go = Action("release", drawn.verb, thing.name, things=(thing,), line=drawn.line)
        return [let_go if action is drawn else action for action in found]

    def _counts_out(self, sentence: str, line: int) -> None:
        """As in "one screw here, one here and two at the back": from here on there are four."""
        thing = counted_out(sentence, self.lexicon)
        if thing is None:
            return
        builder = self.current
        for facts in (self.document.facts, builder.facts if builder is not None else []):
            for k in range(len(facts) - 1, max(-1, len(facts) - 3), -1):
                if facts[k].line >= line and any(t.head == thing.head for t in facts[k].things):
                    facts[k] = replace(
                        facts[k],
                        things=tuple(
                            replace(t, count=thing.count, name=thing.name, plural=True)
                            if t.head == thing.head
                            else t
                            for t in facts[k].things
                        ),
                    )
        self.memory.mention(thing)

    def _brought_in(self, sentence: str) -> None:
        """As in "the cover's on clips": the clips are what "them" stands for."""
        self.memory.mention_place(*films_beside(sentence, self.lexicon))
        last = self.memory.mentioned[-1] if self.memory.mentioned else None
        for thing in introduced(sentence, self.lexicon):
            kind = _THEY_ARE.match(sentence) and last is not None and last.plural
            if kind and last is not None and {last.category, thing.category} <= _LINKS:
                # "they're bullet connectors, three of them": of what kind the wires are
                number = thing.count or counted_behind(sentence)
                self.memory.mention(replace(last, count=number or last.count))
                continue
            if not any(
                t.head == thing.head and t.plural == thing.plural
                for t in self.memory.mentioned[-2:]
            ):
                self.memory.mention(thing)

    def _numbers_said(self, sentence: str, line: int) -> None:
        """As in "so six of those", "How many screws? Five, with washers": a number for what was named before."""
        at_once = asked_and_told(sentence, self.lexicon)
        if at_once is not None:
            self.memory.mention(at_once)
            self._keep_fact(Fact((), (at_once,), line))
            return
        asked = self.asked_for
        self.asked_for = asked_number(sentence, self.lexicon) or asked
        number = answered_number(sentence) if asked is not None else None
        if number is not None or (
            self.memory.acted and asked is not None and self.memory.acted == asked.name
        ):
            self.asked_for = None
        thing = asked
        if number is None:
            number = number_of_those(sentence)
            thing = next(
                (
                    t
                    for t in reversed(self.memory.mentioned[-4:])
                    if t.plural and t.category in _COUNTED
                ),
                None,
            )
        kept = number_kept(sentence)
        if kept is not None:
            word = "screws" if kept > 1 else "screw"
            self.memory.mention(Thing(word, "screw", "fastener", count=kept, plural=kept > 1))
            return
        counted = number_by_sides(sentence, self.lexicon)
        if counted is None and number is not None and thing is not None:
            counted = replace(thing, count=number, plural=number > 1)
        if counted is None:
            return
        self.memory.mention(counted)
        self._keep_fact(Fact((), (counted,), line))

    def _bare_screws(self, sentence: str, found: list[Action], line: int) -> list[Action]:
        """As in "So, two screws, and lift the bracket away": screws that are only named come out before the part."""
        told = bare_screws(sentence, self.lexicon) if not self.memory.refitting else None
        if told is not None:
            self.named_screws = (told, line)
        if any(action.fastener for action in found) or self.named_screws is None:
            self.named_screws = None if found else self.named_screws
            return found
        thing, said = self.named_screws
        off = [a for a in found if a.klass in ("remove", "lift", "slide") and a.things]
        if not off or self.memory.refitting:
            return found
        self.named_screws = None
        if line - said > 2:
            return found
        out = replace(
            self._tightened(thing, said, (off[0].object,)), klass="remove", verb="take out"
        )
        return [
            replace(out, weak="result", inferred=(("class", "named alone before the part"),)),
            *found,
        ]

    def _linked(self, sentence: str, line: int) -> None:
        """Keep what the sentence tells in passing of screws, cables and tapes; they are what "those" stands for."""
        part = self.current.part if self.current is not None else ""
        told = f"{self.thought_before} {sentence}"
        self.thought_before = "" if sentence.rstrip().endswith((".", "!", "?")) else sentence
        for link in links(told, self.lexicon, part):
            known = any(
                fact.line >= line - 1
                and len(fact.joins) > 1
                and any(t.head == link.thing.head for t in fact.things)
                for fact in self.document.facts[-3:]
            )
            if not known:
                self._keep_fact(Fact(link.joins, (link.thing,), line))
                if not any(t.name == link.thing.name for t in self.memory.mentioned[-2:]):
                    self.memory.mention(link.thing)

    def _topic_said(self, sentence: str) -> None:
        """As in "and then the power jack, just unplug it", "that's the spider": "it" is what was named so."""
        shown = _SHOWN.search(sentence) or _REMEMBER.match(sentence)
        start = shown.end() if shown is not None else 0
        opener = None if shown is not None else LINKED.match(sentence)
        if opener is not None:
            start = opener.end()
        tokens = tokenise(sentence[start:], self.lexicon)
        phrases = Phrases(tokens, self.lexicon, spoken=True)
        thing, end = phrases.phrase(0)
        if phrases.low(end) in ("at", "on", "in") and thing is not None and thing.article:
            end = max(end, phrases.phrase(end + 1)[1])  # "this little board at the end, …"
        bare = thing is not None and thing.category in _LINKS and phrases.low(end) == "you"
        if thing is None or thing.is_pronoun or thing.category in _UNTOPICAL:
            return
        if not (thing.article or bare or thing.name.lower().startswith(("old ", "new "))):
            return
        if shown is not None and thing.category == "unknown" and thing.article == "your":
            return  # "that's your earth"
        if _OF_WHAT_KIND.match(sentence) and thing.category in _PIECES and self.memory.mentioned:
            return  # "it's a sort of rubber frame": says of what kind it is
        alone = all(token.kind == "mark" for token in tokens[end:])
        moves = phrases.low(end).endswith("s") and not self.lexicon.is_noun(phrases.low(end))
        goes_on = moves or phrases.low(end) in (
            ",",
            "just",
            "you",
            "we",
            "i",
            "simply",
            "that",
            "those",
            "this",
            "these",
            "it",
            "it's",
            "there",
            "there's",
            "i'm",
            "we're",
        )
        if alone or (goes_on and shown is None):
            self.memory.mention(thing)

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
        last = self.memory.mentioned[-1] if self.memory.mentioned else None
        beside = self.document.source.spoken and rest.rstrip(" .,").endswith(
            ("side", "end", "left", "right")
        )
        if (
            beside
            and last is not None
            and last.category == "fastener"
            and (isinstance(last.count, int) or not last.plural)
            and last.name != self.memory.acted
        ):
            once = last.count if isinstance(last.count, int) else 1
            name = last.name if last.plural else f"{last.name}s"
            self.memory.mention(replace(last, name=name, count=2 * once, plural=True))
            return []
        if self.document.source.spoken and _OTHERS.search(rest):
            return []
        if thing.category in ("place", "text") or thing.is_pronoun or thing.name.endswith("side"):
            return [replace(action, line=line, weak="again") for action in done]
        self.memory.mention(thing)
        alike = [a for a in done if a.things and a.things[-1].category == thing.category]
        if alike:
            return [self._on(alike[-1], thing, line)]
        return [self._on(done[-1], thing, line)]

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
        done = self.last_action
        if _LAST_ONE.match(sentence) and done is not None and done.fastener and done.things:
            # "undo five, leave one in … and now the last one"
            return [replace(self._on(done, done.things[-1], line), count=1)]
        while end < len(tokens) and (
            tokens[end].kind == "mark"
            or tokens[end].low in self.lexicon.words["adverbs"]
            or tokens[end].low in ("and", "too")
        ):
            end += 1
        counted = bool(things) and things[0].category == "fastener" and self.memory.refitting
        if counted and isinstance(things[0].count, int):
            told = any(t.low in self.lexicon.words["be"] for t in tokens[end:])
            things, end = things[:1], end if told else len(tokens)
        if not things or end < len(tokens) or any(not t.name or t.is_pronoun for t in things):
            return []
        if sentence.rstrip().endswith(":"):
            self.memory.mention(*things)
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
            and last.klass not in ("release", "route")
            and thing.category in ("cable", "connector", "antenna", "fastener")
        ):
            self.memory.mention(*things)
            again = self._on(last, thing, line)
            return [replace(again, weak="meant") if re.search(r"\bfirst\W*$", sentence) else again]
        if thing.category == "fastener":
            self.memory.mention(thing)
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
