"""Sentences of a text: what each orders, states, forbids or requires."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.action_rows import (
    as_captive,
    as_optional,
    one_each,
    said_twice,
    share_objects,
    with_total,
)
from lastscrew.reading.blocks import Block, signal_of
from lastscrew.reading.clauses import parse_sentence
from lastscrew.reading.elided import fill_elided
from lastscrew.reading.gapped import verbs_repeated
from lastscrew.reading.halves_told import half_of_paragraph, half_told
from lastscrew.reading.left_out import (
    clips_run_along,
    counted_behind,
    counted_since,
    lets_go,
    pressed_shut,
    screws_behind,
    screws_meant,
    screws_of_last,
    strips_pulled,
)
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.meaning import actions_from
from lastscrew.reading.model import Action, Prerequisite, Step, Thing
from lastscrew.reading.narrative import as_ordered
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.placed_again import is_placed_again
from lastscrew.reading.plain_order import in_plain_order
from lastscrew.reading.plain_words import in_plain_words, without_asides
from lastscrew.reading.predicates import Found
from lastscrew.reading.reversal import exception_behind, is_reversal
from lastscrew.reading.speech import PUTTING_NEW, mended_text
from lastscrew.reading.spoken_order import in_spoken_order
from lastscrew.reading.spoken_parts import GERUND, MEANT
from lastscrew.reading.tokens import Token, tokenise
from lastscrew.reading.walk_leads import LeadWalk
from lastscrew.reading.walk_read_out import without_clock
from lastscrew.reading.walk_speech import SpokenWalk
from lastscrew.reading.walk_state import Builder

REFIT_VERBS = word_group("document_refit_verbs")
REMOVE_VERBS = word_group("document_remove_verbs")
_TAKEN_APART = REMOVE_VERBS | {"undo", "unhook", "unclip", "unbolt"}
_TAKEN_OUT = frozenset(["take", "pull", "lift", "slide", "get", "pop", "peel", "pry", "slip"])
_PIECES = frozenset(["fastener", "part", "cover", "board", "card", "cable", "connector", "film"])
_ASIDE = re.compile(
    r",?\s*\(?\bbut (?:do not|don't|not|do not yet) (?:completely |fully |yet )?(?:remov\w+|detach|disconnect|pull|lift|take out|loosen)\b(?: (?:it|them))?(?: yet| completely| fully)?[,)]",  # noqa: E501
    re.IGNORECASE,
)
_BETWEEN = re.compile(
    r"(?P<verb>^\W*\w+)(?P<aside>,\s{3,},)(?= (?:the|all|both|each|\d|two|three|four|five|six|eight|ten)\b)"
    r"|(?P<with>, (?:together|along|complete) with (?:its|the|their|all) [^,]{3,40},)"
    r"(?= (?:off|out|from|away|up|down)\b)",
    re.IGNORECASE,
)
"""What is left of "Unscrew, in the order 1-2-3-4, the four screws"; "lift the head, together with its cap, off"."""
_BEFORE_PART = re.compile(
    r"^\W*(?:before|prior to)\s+(?:you\s+)?(?:remov|replac|install)\w*\s+(?:the|a|an)\s+(?P<part>[\w/-]+(?:\s[\w/-]+){0,3}?)\s*[,:]",  # noqa: E501
    re.IGNORECASE,
)
_SPOKEN_OPENING = re.compile(
    r"^\W*(?:(?:so|okay|ok|alright|all right|right|now|and|well|then|yeah|um|uh|first of all|first things first|first off|first|before (?:we|you) (?:start|begin)|as always|obviously|please)\b[,:\s]*)+",  # noqa: E501
    re.IGNORECASE,
)
_PARENTHESIS = re.compile(
    r"^(\W*(?:\w+ly\s+)?[a-z]+),\s+(?:in|with|by|using|one|two|from|at|as|if|where|on)\b[^,]{2,60},(?=\s+(?:the|all|any|both|each|every|these|those|its)\b)",
    re.IGNORECASE,
)
"""As in "Remove, in numerical order, the screws": the object follows behind the commas."""
_CAPTIVE = re.compile(
    r"\b(?:screws?|bolts?|they|these|thumbscrews?)\b[^.]{0,20}\b(?:are|is|remain|stay|will remain|will stay)\s+(?:all\s+)?(?:captive|attached|(?:in|on) (?:the|its|their) \w+)\b|\b(?:they|these|those) (?:don't|do not|won't|will not|cannot|can't) (?:come|fall|drop|pull) (?:all the way |right |completely |fully )?(?:out|off)\b|\bit stays (?:captive|attached|in (?:the|its) \w+)\b",  # noqa: E501
    re.IGNORECASE,
)
_WAITING = re.compile(
    r"^\W*(?:then |now |first |please )*(?:wait\b|allow (?:the |it\b|at least|some)|let (?:the [\w -]{2,40}|it) (?:cool|dry|cure|stop|run down|stand|drain|settle))",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Wait until the blower stands still.": an instruction that moves nothing."""
_TOPIC = re.compile(
    r"^\W*(?:the )?(?P<topic>[A-Za-z][\w -]{2,40}?)\s+(?:replace|replacement|remove|removal|disassembl\w+|dismantl\w+|install|installation|assembly|exchange|change)\s*:\s+(?=\S)",  # noqa: E501
    re.IGNORECASE,
)
_LABEL = re.compile(
    r"^\W*(?P<topic>(?:The )?[A-Z][\w -]{2,40}?)(?: first| next| last| again)?:\s+(?=[a-z]\w)"
)
"""As in "Brewing unit: you hang it on the rails": what the sentence speaks of."""
_TO_REFIT = re.compile(
    r"^\W*to (?:refit|reinstall|reassemble|reattach|put (?:it|them|everything|the [\w -]{2,30}?) back(?: together)?|close (?:it|everything) up|install the (?:new|replacement)\b[\w -]{0,30}?)(?:\s+the [\w -]{2,40}?)?,\s+",  # noqa: E501
    re.IGNORECASE,
)
_BREATH = re.compile(r",(?= (?:all |both )?(?:out|off|up|in|on)\W*$)", re.IGNORECASE)
"""As in "two antennas, off"."""
_TAG = re.compile(
    r"[,;]\s*(?:and |so |but )?(?:what|which|where|how|why|who|right|okay|ok|yeah|yes|see|isn't|aren't|don't|do you|got it|alright|all right)\b[^,;]*\?\s*$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "then the door comes off, and what's that?": the work before the question is told."""
_IN_LOOSE = re.compile(r"\b(in|on) (?:loosely|loose)(?=\s*(?:[,.;]|$))", re.IGNORECASE)
"""As in "put all six bolts in loose": how far, no place."""
_HAS_ON_IT = re.compile(
    r"\b(?:(?:that|it)['’]s got|(?:that|it) has(?: got)?)(?= (?:a|an|one|another)\b[^,.;]{2,40}?\b(?:through|in|on|round|around|over|across|holding) (?:it|there)\b)",  # noqa: E501
    re.IGNORECASE,
)
"""As in "that's got a split pin through it": what is brought in is spoken of next."""
_SINCE_LINES = 2
_TIGHT = re.compile(r"\b(finger|hand) tight\b", re.IGNORECASE)


def _on_the_same_line(block: Block, spans: list[tuple[int, int]], index: int) -> bool:
    """True where a sentence of a paragraph stands on the line of the sentence before it."""
    if not index or block.kind != "para":
        return False
    return block.line_at(spans[index - 1][0]) == block.line_at(spans[index][0])


class SentenceWalk(LeadWalk, SpokenWalk):
    """Sentences: cautions, prerequisites, reversals, orders, statements."""

    labelled: Thing | None = None
    """What stood before a colon as the subject of the sentence under way."""

    def sentences(self, block: Block, *, item: bool) -> None:
        """Every sentence of a block: caution, prerequisite, reversal, or orders and statements."""
        actions: list[Action] = []
        spoken = self.document.source.spoken
        self._half_of_paragraph(block)
        mended = mended_text(block.text) if spoken else block.text
        spans = self._spans(block.text, mended)
        lead = self._lead_of(block, item=item)
        for index, (low, high) in enumerate(spans):
            sentence = block.text[low:high]
            signal, rest = signal_of(sentence, self.lexicon)
            if signal and rest.strip():
                self._caution(
                    Block("para", block.text[low:], [block.line_at(low)]), signal, block.text[low:]
                )
                break
            line = block.line_at(low)
            self.shift += _on_the_same_line(block, spans, index)
            if spoken:
                sentence = mended[low:high]
                self._turned(sentence, block, low)
            if item and actions and self._is_reversal(sentence):
                self._add_steps(block, actions)
                actions = []
            if self._introduces(sentence):
                self._mark_span(block, low, high, "other", "introduction")
                continue
            if self._reversal(sentence, block, low):
                self._mark_span(block, low, high, "used")
                continue
            if spoken:
                sentence = self._asks_aside(sentence, mended[high : high + 80], line)
            if not re.search(r"\w", sentence) or self._required(
                sentence, block.text[high:], block, line
            ):
                self._mark_span(block, low, high, "used")
                continue
            if not spoken and sentence.rstrip('*_"” ').endswith("?"):
                self._mark_span(block, low, high, "other", "question")
                continue
            found = self._what_gives(
                sentence,
                self._heard(sentence, block, low, actions)
                if spoken
                else self._same_again(sentence, line, actions)
                or self._orders(
                    sentence, block, low, item=item and (index == 0 or not spoken), lead=lead
                ),
                actions,
            )
            if _CAPTIVE.search(sentence) and any(a.fastener for a in found):
                found = [as_captive(a) for a in found]
            elif _CAPTIVE.search(sentence) and any(action.fastener for action in actions):
                actions = [as_captive(a) for a in actions]
            elif not found:
                self._captive_said(sentence)
            self._mark_sentence(block, low, high, sentence, found)
            if (item or not spoken) and not found and len(sentence.split()) <= 5:
                self._named_alone(sentence)
            if item:
                actions += found
            else:
                self._add_steps(block, found)
        if item and actions:
            self._add_steps(block, actions)

    def _told_behind(
        self, sentence: str, found: list[Action], earlier: list[Action]
    ) -> list[Action]:
        """As in "Remove the lid, it's just three screws", "Run a card round the seam. There are ten clips"."""
        refitting = self.memory.refitting
        if not found and not refitting:
            return clips_run_along(sentence, earlier, self.lexicon)
        return screws_behind(sentence, found, self.lexicon, refitting=refitting)

    def _what_gives(
        self, sentence: str, found: list[Action], earlier: list[Action]
    ) -> list[Action]:
        """What lets go where a tool is twisted, what closes where a side is pressed until it clicks."""
        found = lets_go(sentence, found, self.lexicon)
        if self.memory.refitting:
            found = pressed_shut(sentence, found, self.memory.last_piece())
        else:
            found = strips_pulled(found, self.memory.mentioned)
        return found if self.document.source.spoken else self._told_behind(sentence, found, earlier)

    def _heard(self, sentence: str, block: Block, low: int, pending: list[Action]) -> list[Action]:
        """The orders of a spoken thought, those in scraps and in passing among them."""
        line = block.line_at(low)
        sentence = _BREATH.sub(" ", sentence)
        sentence = _HAS_ON_IT.sub(lambda match: "there's".ljust(len(match.group())), sentence)
        sentence = _IN_LOOSE.sub(lambda match: match[1].ljust(len(match.group())), sentence)
        tag = _TAG.search(sentence)
        asks = block.text[low : low + len(sentence)].rstrip().endswith("?")
        if tag is not None and asks:
            sentence = sentence[: tag.start()] + " " * (len(sentence) - tag.start())
            asks = False
        self._topic_said(sentence)
        self._number_for_part(sentence)
        self._counts_out(sentence, line)
        self._numbers_said(sentence, line)
        self._since_counted(sentence, line)
        in_scraps, sentence = self._in_scraps(sentence, block, low)
        self._reads_out(sentence, line)
        heard_as, sentence = sentence, without_clock(sentence)
        found = self._same_again(sentence, line, pending) or self._orders(
            sentence, block, low, item=False, lead=""
        )
        read = self._item_read(heard_as, block.text[low + len(sentence) :], found, line)
        found = [*read, *self._without_many(found, line)]
        if not found:
            found = (
                self._more_of_them(sentence, line) * (not in_scraps)
                or self._way_alone(sentence, line)
                or self._named_only(sentence, line)
                or self._gone_now(sentence, line)
                or self._clips_heard(sentence, line)
                or screws_of_last(
                    sentence,
                    self.last_action,
                    line,
                    self.lexicon,
                    refitting=self.memory.refitting,
                )
            )
        found = counted_behind(sentence, found)
        if not in_scraps:
            found = screws_behind(sentence, found, self.lexicon, refitting=self.memory.refitting)
        self._linked(sentence, line)
        if not found and not in_scraps:
            self._brought_in(sentence)
        if MEANT.match(sentence) or GERUND.match(sentence):
            found = [replace(action, weak="meant") for action in found]
        self._counts_out(sentence, line)
        if asks:
            return []
        self._tightens_again(found, block, low)
        found = self._bare_screws(sentence, found, line)
        if PUTTING_NEW.match(sentence):
            found = [replace(action, weak="meant") for action in found]
        heard = [*in_scraps, *self._along_the_seam(sentence, found)]
        heard = self._kept_captive(heard, sentence, line)
        named = [a for a in heard if a.klass == "other" or not all(t.is_pronoun for t in a.things)]
        heard = named
        self.named_line = line
        self.last_line = line if heard else self.last_line
        return [a if a.spot else replace(a, spot=a.line + self.shift) for a in heard]

    def _since_counted(self, sentence: str, line: int) -> None:
        """The number of what was just worked on, said in a thought of its own."""
        last, builder = self.last_action, self.current
        number = counted_since(sentence, last)
        if number is None or last is None or builder is None or line - last.line > _SINCE_LINES:
            return
        for s in range(len(builder.steps) - 1, max(-1, len(builder.steps) - 3), -1):
            rows = builder.steps[s].actions
            if any(a.line == last.line and a.things == last.things for a in rows):
                actions = tuple(
                    replace(a, count=number) if a.things == last.things else a for a in rows
                )
                builder.steps[s] = replace(builder.steps[s], actions=actions)
                return

    def _named_alone(self, sentence: str) -> None:
        """As in "**Brown bar.** Push it down": the name before the order is what "it" means."""
        tokens = tokenise(sentence, self.lexicon)
        thing, end = Phrases(tokens, self.lexicon).phrase(0)
        if tokens and tokens[0].low in self.lexicon.words["openers"]:
            return
        verb = (
            bool(tokens)
            and self.lexicon.verb_of(tokens[0].low, "base")
            and not self.lexicon.is_noun(tokens[0].low)
        )
        if thing is not None and not thing.is_pronoun and end >= len(tokens) - 1 and not verb:
            self.memory.mention(thing)
            if thing.article == "the":
                self.memory.titled.add(thing.name.lower())

    def _add_steps(self, block: Block, actions: list[Action]) -> None:
        """One step for a list item; one for each line of a sentence in running text."""
        if not actions:
            return
        builder = self.builder(block)
        text = block.text
        self._keep_gone(builder, actions)
        if block.kind in ("item", "heading", "table") and len(block.numbers) <= 10:
            builder.steps.append(Step(block.line, tuple(actions), text=text, mark=block.mark))
            return
        for action in actions:
            last = builder.steps[-1] if builder.steps else None
            if self.document.source.spoken and last is not None and said_twice(last, action):
                continue
            if (
                last is not None
                and last.line == action.line
                and last.text == text
                and not last.cautions
            ):
                builder.steps[-1] = replace(last, actions=(*last.actions, action))
            else:
                builder.steps.append(Step(action.line, (action,), text=text, mark=block.mark))

    def _orders(
        self, sentence: str, block: Block, low: int, *, item: bool, lead: str
    ) -> list[Action]:
        self.reasons, self.stated = [], False
        whole = sentence
        self.memory.more_of_last(sentence)
        sentence = in_plain_words(sentence)
        sentence = _TIGHT.sub(r"\1-tight", sentence)
        sentence = without_asides(sentence)
        self.labelled = None
        sentence = self._without_topic(sentence)
        sentence = _PARENTHESIS.sub(
            lambda match: match[1] + " " * (len(match.group()) - len(match[1])), sentence
        )
        sentence = _ASIDE.sub(lambda match: " " * len(match.group()), sentence)
        sentence = _BETWEEN.sub(
            lambda match: f"{match['verb'] or ''}{' ' * len(match['aside'] or match['with'])}",
            sentence,
        )
        tokens = tokenise(sentence, self.lexicon)
        if not tokens:
            return []
        spoken = self.document.source.spoken
        tokens = self._put_plainly(tokens, sentence)
        carried = self.last_action.things if spoken and self.last_action is not None else ()
        parsed = parse_sentence(tokens, self.lexicon, spoken=spoken, item=item, carried=carried)
        line = block.line_at(low)
        actions: list[Action] = []
        lead = self._lead_for(lead, tokens, parsed, item=item)
        if lead:
            self._drop_lead_action()
            parsed = parse_sentence(
                tokenise(f"{lead} {sentence}", self.lexicon), self.lexicon, item=True
            )
        offset = len(lead) + 1 if lead else 0
        positions = tokens if not offset else tokenise(f"{lead} {sentence}", self.lexicon)
        self.memory.mention(*parsed.mentioned)
        fill_elided(parsed.actions, positions, self.lexicon)
        for found in parsed.actions:
            if self.labelled is not None and not found.things and not found.weak:
                found.things = [
                    replace(self.labelled, article="the")
                ]  # "Motor plug: squeeze, pull."
        stated = sorted(parsed.stated, key=lambda item: item.position)
        for found in parsed.actions:
            while stated and stated[0].position < found.position:
                self._state(stated.pop(0), line)
            if found.weak not in ("listed", "result", "more"):
                self._turn(found, sentence)
            place = max(0, positions[found.position].start - offset)
            actions += actions_from(found, self.memory, block.line_at(low + place), whole)
        for later in stated:
            self._state(later, line)
        if offset and self.lead_from:
            actions = [self._from_lead(action) for action in actions]
        if self._lead_in(sentence, parsed) and block.kind == "item":
            self.lead_block = block
        self.reasons = parsed.reasons
        self.stated = bool(parsed.stated)
        actions = [
            action
            for action in actions
            if (action.object or action.klass != "other") and action.verb != "do"
        ]
        actions = as_optional(
            with_total(actions, whole), whole, self.lexicon.phrases["optional_phrases"]
        )
        rows = [
            replace(action, spot=action.line + self.shift)
            for action in one_each(share_objects(actions), spoken=spoken)
        ]
        self.memory.acted = next((a.things[-1].name for a in reversed(rows) if a.fastener), "")
        freed = rows[-1] if rows and rows[-1].klass in ("peel", "disconnect") else None
        self.memory.freed = freed.things[-1].name if freed and freed.things else ""
        self.last_action = next((a for a in reversed(rows) if a.klass != "other"), self.last_action)
        return rows

    def _put_plainly(self, tokens: list[Token], sentence: str) -> list[Token]:
        """The words in the order that the one grammar reads: of a talk, of running text."""
        if not self.document.source.spoken:
            self._half_told(sentence)
            told = in_plain_order(as_ordered(tokens, self.lexicon), self.lexicon)
            return verbs_repeated(told, self.lexicon, spoken=False)
        told = verbs_repeated(in_spoken_order(tokens, self.lexicon), self.lexicon, spoken=True)
        return screws_meant(told, self.lexicon, self.memory.mentioned)

    def _half_of_paragraph(self, block: Block) -> None:
        """A paragraph of running text that speaks of nothing but taking off, or of putting back, is of that half."""
        if self.document.source.spoken or block.kind != "para":
            return
        builder = self.current
        if builder is None or (builder.kind == "removal" and builder.guessed):
            half = half_of_paragraph(block.text)
            self.memory.refitting = self.memory.refitting if half is None else half

    def _half_told(self, sentence: str) -> None:
        """As in "When the plate is refitted, …", "On reassembly …": which half a running text has turned to."""
        half = half_told(sentence)
        self.memory.refitting = self.memory.refitting if half is None else half

    def _without_topic(self, sentence: str) -> str:
        """As in "Heating tube replace: pull out …", "To refit, place …": what the sentence is about, not an order."""
        match = _TOPIC.match(sentence)
        if match is not None:
            tokens = tokenise(match["topic"], self.lexicon)
            thing, _ = Phrases(tokens, self.lexicon).phrase(0)
            if thing is not None and not thing.is_pronoun:
                self.memory.mention(thing)
            return " " * match.end() + sentence[match.end() :]
        label = None if self.document.source.spoken else _LABEL.match(sentence)
        if label is not None:
            topic = tokenise(label["topic"], self.lexicon)
            things, end = Phrases(topic, self.lexicon).list_of(0)
            pieces = all(t.category in _PIECES and t.category != "fastener" for t in things)
            if things and pieces and end == len(topic):
                self.memory.mention(*things)
                self.labelled = things[-1]
                return " " * label.end() + sentence[label.end() :]
        goal = _TO_REFIT.match(sentence)
        if goal is not None:
            self.memory.refitting = True
            return " " * goal.end() + sentence[goal.end() :]
        return sentence

    def _captive_said(self, sentence: str) -> None:
        """As in "The screws are captive": says it of the screws that were named last."""
        builder = self.current
        if builder is None or not _CAPTIVE.search(sentence):
            return
        for s in range(len(builder.steps) - 1, max(-1, len(builder.steps) - 3), -1):
            actions = [as_captive(a) for a in builder.steps[s].actions]
            if any(a.fastener for a in actions):
                builder.steps[s] = replace(builder.steps[s], actions=tuple(actions))
                return

    def _turn(self, found: Found, sentence: str) -> None:
        """From taking apart to putting together, by the verbs that say so, or by what goes where it was."""
        builder, lemma, particle = self.current, found.lemma, found.particle
        if not self.document.source.spoken and is_placed_again(found, builder):
            self.memory.refitting = True
            return
        if builder is not None and builder.kind == "refit":
            apart = lemma in _TAKEN_APART or (lemma in _TAKEN_OUT and particle in ("out", "off"))
            fresh = " new " in f" {sentence.lower()} "
            if self.document.source.spoken and not self.whole_refit and apart and not fresh:
                self.current, self.memory.refitting = None, False
                return
            self.memory.refitting = True
            return
        if (
            builder is not None
            and builder.kind == "removal"
            and not builder.guessed
            and lemma
            not in (
                "reinstall",
                "refit",
                "reconnect",
                "reattach",
                "tighten",
                "retighten",
                "remount",
                "install",
                "replace",
                "restore",
            )
            and " new " not in f" {sentence.lower()} "
        ):
            return
        if (
            lemma in REFIT_VERBS
            or (
                particle == "back"
                and (
                    lemma in ("put", "place", "screw", "plug", "snap", "set")
                    or (lemma == "slide" and not self.document.source.spoken)
                )
            )
            or (
                " new " in f" {sentence.lower()} "
                and lemma
                in (
                    "place",
                    "put",
                    "slide",
                    "take",
                    "position",
                    "fit",
                    "press",
                    "push",
                    "lay",
                    "stick",
                    "grab",
                    "get",
                    "set",
                    "drop",
                )
            )
        ):
            self.memory.refitting = True
        elif lemma in REMOVE_VERBS and lemma != "remove":
            self.memory.refitting = False

    def _required(self, sentence: str, after: str, block: Block, line: int) -> bool:
        """True where the sentence is a prerequisite and no step."""
        if self._asked_of_all(sentence, line):
            return True
        named = _BEFORE_PART.match(sentence)
        if (
            named is not None
            and block.kind == "para"
            and self.current is not None
            and self.current.steps
            and not (set(named["part"].lower().split()) & set(self.current.part.lower().split()))
        ):
            self.current = None
        steps = self.current.steps if self.current is not None else []
        amid = 0
        if not self.document.source.spoken:
            steps = [step for step in steps if any(a.klass != "other" for a in step.actions)]
            if block.kind == "para" and self.current is not None and self.current.guessed:
                amid = len(steps)
                steps = [step for step in steps if step.line >= block.line]
                amid -= len(steps)
        if self.step_heading is not None:
            steps = [step for step in steps if step.line > self.step_heading.line]
        first = not steps
        ahead = first and block.kind == "para"
        asked = _SPOKEN_OPENING.sub("", sentence) if self.document.source.spoken else sentence
        if self.document.source.spoken and (self.memory.refitting or self._plain_order(asked)):
            return False
        found = self._asked(asked, sentence, after, block, first=first, ahead=ahead)
        if amid:
            found = [
                item
                for item in found
                if self.lexicon.category(tuple(item.text.lower().split()))
                not in ("cable", "connector", "fastener", "clip", "lock")
                and not item.text.endswith((" drawn", " pulled"))
            ]
        early = len(steps) <= 4 or all("prerequisite" in step.mark for step in steps)
        if not found or (not early and not re.search(r"\bmust\b", sentence)):
            return False
        if self.current is None and found and named is None:
            self.builder(block)
        for required in found:
            self._require(required, line)
            words = tuple(required.text.lower().split())
            known = self.lexicon.category(words) if required.kind == "part" else "unknown"
            if known in _PIECES and not self.document.source.spoken:
                self.memory.mention(Thing(required.text, words[-1], known, article="the"))
        return not amid and not any(required.also_step for required in found)

    def _reversal(self, sentence: str, block: Block, low: int) -> bool:
        """As in "Refit in reverse order": the other half is the first one backwards."""
        if not self._is_reversal(sentence):
            return False
        line = block.line_at(low)
        index = self._reverse_target()
        current = self.current
        if current is not None and current.kind == "refit" and not current.steps and index >= 0:
            current.part = self.document.builders[index].part
        if (
            current is None
            or current.kind != "refit"
            or (
                current.steps
                and current.reverse_of < 0
                and current.part != self._reverse_part(index)
            )
        ):
            part = self._reverse_part(index)
            current = self._open(
                part, "refit", block, level=current.level if current is not None else 3
            )
            current.line = line
        current.reverse_of = index
        removals = [b for b in self.document.builders if b.steps and b.kind in ("removal", "both")]
        whole = len(removals) == 1
        if index >= 0 and whole and not any(item.inferred for item in current.prerequisites):
            target = self.document.builders[index]
            current.prerequisites.append(
                Prerequisite("part", _disassembly_name(target), line, inferred="done backwards")
            )
        action = Action(
            "other",
            "reverse",
            "removal" if index < 0 else f"removal of {self.document.builders[index].part}",
            line=line,
        )
        current.steps.append(Step(line, (action,), text=sentence, reverse_of=index))
        self.memory.refitting = True
        rest = "" if self.document.source.spoken else exception_behind(sentence, self.lexicon)
        self._add_steps(block, self._orders(rest, block, low, item=False, lead=""))
        return True

    def _is_reversal(self, sentence: str) -> bool:
        builder = self.current
        opens = builder is not None and builder.kind == "refit" and not builder.steps
        spoken = self.document.source.spoken
        return is_reversal(sentence, self.lexicon, spoken=spoken, opens_refit=opens)

    def _reverse_target(self) -> int:
        builders = self.document.builders
        for index in range(len(builders) - 1, -1, -1):
            if builders[index].steps and builders[index].kind in ("removal", "both"):
                return index
        return -1

    def _reverse_part(self, index: int) -> str:
        if index >= 0:
            return self.document.builders[index].part
        return self._context_part() or self.document.title_part

    def _mark_sentence(
        self, block: Block, low: int, high: int, sentence: str, actions: list[Action]
    ) -> None:
        if actions or self.stated:
            self._mark_span(block, low, high, "used")
        elif _WAITING.match(sentence):
            self._mark_span(block, low, high, "used", "waiting")
        elif "prohibition" in self.reasons:
            self._mark_span(block, low, high, "caution", "prohibition")
        elif self.reasons:
            self._mark_span(block, low, high, "other", self.reasons[0])
        elif re.search(
            r"\bcareful|\bcaution\b|\btake care\b|\bmay damage\b|\bdamage\b",
            sentence,
            re.IGNORECASE,
        ):
            self._mark_span(block, low, high, "caution", "advice to be careful")
        elif self._speaks_of_work(sentence):
            described = re.match(
                r"^\W*(?:the|this|these|it|there|a|an|your|each|some|that|its|they|you|most|nothing)\b",
                sentence,
                re.IGNORECASE,
            )
            reason = "description" if described else self._names_the_book(sentence, block)
            self._mark_span(block, low, high, "other" if reason else "not_understood", reason)
        else:
            self._mark_span(block, low, high, "other", "no instruction")

    def _speaks_of_work(self, sentence: str) -> bool:
        tokens = tokenise(sentence, self.lexicon)
        phrases = Phrases(tokens, self.lexicon)
        for index, token in enumerate(tokens):
            # "Do it." alone orders nothing that could be named.
            if token.low != "do" and phrases.is_command(index):
                return True
            if self.lexicon.category((token.low,)) in (
                "fastener",
                "part",
                "tool",
                "cable",
                "connector",
                "board",
                "cover",
            ):
                return True
        return False


def _disassembly_name(builder: Builder) -> str:
    """Name of the half that is done backwards."""
    return f"{builder.part} disassembly".strip()
