"""State of the walk through a text: procedures under way, states of lines, what was named."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from lastscrew.reading import prerequisites as before
from lastscrew.reading.blocks import Block
from lastscrew.reading.clauses import parse_sentence
from lastscrew.reading.headings import Heading
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.memory import Memory
from lastscrew.reading.model import Action, Caution, Fact, Prerequisite, Source, Step, Thing
from lastscrew.reading.predicates import Stated
from lastscrew.reading.prerequisite_forms import made_safe
from lastscrew.reading.refers_to import referred
from lastscrew.reading.required import Required
from lastscrew.reading.said_once import (
    as_another,
    asks_all_previous,
    list_of_all,
    said_for_all,
)
from lastscrew.reading.states_said import plain_states
from lastscrew.reading.tokens import sentence_spans, tokenise

_COUNTED = ("fastener", "clip", "lock", "connector", "cable", "tie")
_RANK = {"used": 5, "heading": 4, "caution": 3, "not_understood": 2, "other": 1}


_ASIDE_BEHIND = re.compile(
    r",\s+(?:like|i|you|we|never|because|otherwise|or|so|it|that|don't|always|no|really|please|not)\b",
    re.IGNORECASE,
)
"""What a speaker says on behind a state: "it's switched off, like properly off"."""


@dataclass
class Builder:
    """A procedure under way."""

    part: str
    kind: str
    line: int
    heading: str
    level: int = 0
    steps: list[Step] = field(default_factory=list)
    prerequisites: list[Prerequisite] = field(default_factory=list)
    tools: list[str] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    numbered: bool = False
    guessed: bool = False
    reverse_of: int = -1


@dataclass
class Document:
    """What the walk through the text has gathered."""

    source: Source
    lexicon: Lexicon
    builders: list[Builder] = field(default_factory=list)
    states: dict[int, tuple[str, str]] = field(default_factory=dict)
    tools: list[str] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    legends: list[tuple[int, Thing, str]] = field(default_factory=list)
    title: str = ""
    title_part: str = ""
    """What the title names, without "Removing the" and the like."""
    pending: list[Prerequisite] = field(default_factory=list)
    pending_cautions: list[Caution] = field(default_factory=list)
    standing: list[Prerequisite] = field(default_factory=list)
    """Parts that the text asks to be off before every procedure that follows."""


def _of_place(thing: Thing) -> Thing:
    """As in "two screws on each side of the tray": they are in the tray."""
    if thing.category != "place" or not thing.of:
        return thing
    return Thing(thing.of, thing.of.split()[-1].lower(), "part")


_BUILDS = re.compile(
    r"^(?!.*\b(?:dis-?assembl|removal|remov|tear-?down|repair|service|take apart|taking apart)).*"
    r"\b(?:(?:build(?:ing)?|assembly|assembling|mounting|construction) (?:instructions?|guide|manual|steps|notes)|how to (?:build|assemble)|(?:building|assembling) (?:the|your|a|an)\b)",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Building instructions": a page that puts together."""


class WalkState:
    """What all parts of the walk share: where it stands and what it has gathered."""

    def sentences(self, block: Block, *, item: bool) -> None:
        """Read the sentences of a block (the sentence walk does)."""
        raise NotImplementedError

    def _orders(
        self, sentence: str, block: Block, low: int, *, item: bool, lead: str
    ) -> list[Action]:
        """What a sentence orders (the sentence walk reads it)."""
        raise NotImplementedError

    def leads(self, text: str) -> None:
        """Keep the verb that opens a list (the sentence walk does)."""
        raise NotImplementedError

    def text(self, block: Block) -> None:
        """Read a paragraph or list item (the walker does)."""
        raise NotImplementedError

    def opens_preparation(self, block: Block) -> bool:
        """True where a block opens a list of what comes off first (the list walk knows)."""
        raise NotImplementedError

    def __init__(self, source: Source, lexicon: Lexicon) -> None:
        """Start at the first block with nothing known."""
        self.document = Document(source, lexicon)
        self.lexicon = lexicon
        self.memory = Memory(lexicon, spoken=source.spoken)
        self.mode = "steps"
        self.mode_level = 9
        self.context: list[tuple[int, Heading, Block]] = []
        self.current: Builder | None = None
        self.lead = ""
        self.lead_from = ""
        self.lead_block: Block | None = None
        """The list item that lends its verb to the items beneath it."""
        self.list_prepares = False
        self.prepare_first: Block | None = None
        self.prepare_last: Block | None = None
        self.open_signal = ""
        self.pending_heading: tuple[Block, Heading] | None = None
        self.step_heading: Block | None = None
        self.reasons: list[str] = []
        self.stated = False
        self.shift = 0
        """How many sentences so far stood on the line of the one before: distances count them."""
        self.for_all = False
        """What is asked for now holds before every procedure that follows."""
        self.numbered: dict[str, str] = {}
        """Parts that the headings name, by the headings' numbers."""

    def mark(self, block: Block, state: str, reason: str = "") -> None:
        """Give all lines of a block a state, unless a better one is there."""
        for number in block.numbers:
            self.mark_line(number, state, reason)

    def mark_line(self, number: int, state: str, reason: str = "") -> None:
        """Give one line a state; ``used`` beats ``caution`` beats ``not_understood`` beats ``other``."""
        old = self.document.states.get(number)
        if old is None or _RANK[state] > _RANK[old[0]]:
            self.document.states[number] = (state, reason)

    def _mark_span(self, block: Block, low: int, high: int, state: str, reason: str = "") -> None:
        first, last = block.line_at(low), block.line_at(max(low, high - 1))
        for number in block.numbers:
            if first <= number <= last:
                self.mark_line(number, state, reason)

    def _context_part(self) -> str:
        for _level, heading, _block in reversed(self.context):
            if heading.part and heading.kind in ("neutral", "removal", "refit", "both", "steps"):
                return re.sub(r"^(?:The|the|A|An)\s+(?=\w)", "", heading.part)
        return ""

    def _context_kind(self) -> str:
        for _level, heading, _block in reversed(self.context):
            if heading.kind in ("removal", "refit", "both"):
                return heading.kind
        return ""

    def _usual_kind(self) -> str:
        """The half that a text without telling headings is about: what it calls itself, else the way in."""
        called = [self.document.title, *(block.text for _, _, block in self.context[:1])]
        return "refit" if any(_BUILDS.search(text or "") for text in called) else "removal"

    def _open(
        self, part: str, kind: str, block: Block, *, level: int = 3, guessed: bool = False
    ) -> Builder:
        builder = Builder(part, kind, block.line, block.text, level=level, guessed=guessed)
        builder.prerequisites += self.document.pending
        if kind != "refit":
            own = part.lower().split()[-1:]
            builder.prerequisites += [
                item for item in self.document.standing if item.text.lower().split()[-1:] != own
            ]
        builder.cautions += self.document.pending_cautions
        self.document.pending = []
        self.document.pending_cautions = []
        self.document.builders.append(builder)
        self.current = builder
        self.memory.refitting = kind == "refit"
        self.memory.part = part
        self.memory.headed.add(part.lower())
        return builder

    def builder(self, block: Block) -> Builder:
        """The procedure that a step belongs to; one is opened where none is."""
        if self.current is None:
            part = self._context_part() or self.document.title_part
            if self.document.source.spoken and " of " in part:
                part = part.split(" of ")[0]
            kind = self._context_kind() or self._usual_kind()
            self._open(part, kind, block, guessed=True)
            if self.context:
                heading_block = self.context[-1][2]
                assert self.current is not None
                self.current.line = heading_block.line
                self.current.heading = heading_block.text
            assert self.current is not None
            self.current.facts += self._said_since(min(self.current.line, block.line))
        assert self.current is not None
        return self.current

    def _said_since(self, line: int) -> list[Fact]:
        """Statements since the heading: they speak of the work that only now begins."""
        facts = self.document.facts
        start = len(facts)
        while start and facts[start - 1].line >= line:
            start -= 1
        return [fact for fact in facts[start:] if fact.kind != "table"]

    def _require(self, required: Required, line: int) -> None:
        if required.kind == "state":
            for said in before.single_states(required.text):
                for text in plain_states(said, self.lexicon):
                    self._require_one(Required("state", text), line)
        else:
            self._require_one(required, line)

    def _require_one(self, required: Required, line: int) -> None:
        text = re.sub(r"\s+having$", "", required.text)
        if self.document.source.spoken and required.kind == "state":
            text = _ASIDE_BEHIND.split(text, maxsplit=1)[0]
        own = self.current.part.lower() if self.current is not None else ""
        begun = self.current is not None and self.current.line == line
        if (
            required.kind == "part"
            and own == text.lower()
            and (begun or not self.document.source.spoken)
        ):
            return  # the part that the procedure itself takes off
        item = Prerequisite(required.kind, text, line)
        target = self.document.standing if item.kind == "part" else self.document.pending
        if not self.for_all:
            target = (
                self.current.prerequisites
                if self.current is not None and self.mode != "none"
                else self.document.pending
            )
        if not any(old.kind == item.kind and _plain(old.text) == _plain(text) for old in target):
            target.append(item)

    def _asked_of_all(self, sentence: str, line: int) -> bool:
        """As in "Unless stated otherwise, main switch off holds for every section": kept for what follows."""
        if self.current is not None and (self.current.steps or not self.current.guessed):
            return False
        if not said_for_all(sentence):
            return False
        pieces = list_of_all(sentence)
        rows = [
            row
            for piece in pieces
            for row in before.listed(piece, self.lexicon) or [Required("state", piece)]
        ]
        if not rows:
            rows = before.of_sentence(sentence, "", self.lexicon, first=True, ahead=True)
        self.for_all = True
        for required in rows:
            self._require(required, line)
        self.for_all = False
        return bool(rows)

    def _asked_as(self, text: str, line: int) -> str:
        """As in "as 5.5 a) and b)": what another procedure asks for; gives the text that is left."""
        match = as_another(text)
        if match is None:
            return text
        name, chosen, rest = match
        words = self.numbered.get(name, name).lower()
        other = next(
            (
                builder
                for builder in reversed(self.document.builders)
                if builder is not self.current
                and builder.kind != "refit"
                and builder.part.lower() == words
            ),
            None,
        )
        if other is None:
            return text
        rows = [row for k, row in enumerate(other.prerequisites) if not chosen or k in chosen]
        for row in rows:
            self._require_one(Required(row.kind, row.text), line)
        return rest

    def _asked(
        self, asked: str, sentence: str, after: str, block: Block, *, first: bool, ahead: bool
    ) -> list[Required]:
        """What a sentence asks for before the work, by its own words or by what it refers to."""
        found = before.of_sentence(asked, after, self.lexicon, first=first, ahead=ahead)
        if first and not found:
            names = referred(sentence, self.numbered, self.lexicon)
            found = [Required("part", name) for name in names] or self._all_previous(sentence)
        if ahead and not found:
            found = self._goes_on_safe(sentence, block)
        if self.memory.refitting and block.kind == "item":
            return [row for row in found if not before.is_check(sentence, row, self.lexicon)]
        return found

    def _goes_on_safe(self, sentence: str, block: Block) -> list[Required]:
        """As in "Switch off. | Let the heater cool for half an hour.": the second makes safe as the first did."""
        begun = self.current is not None and any(
            row.kind == "state" and row.line in block.numbers for row in self.current.prerequisites
        )
        return [Required("state", act) for act in made_safe(sentence, begun=True)] if begun else []

    def _all_previous(self, sentence: str) -> list[Required]:
        """As in "All previous steps must have been carried out": what the earlier procedures take off."""
        if not asks_all_previous(sentence):
            return []
        return [
            Required("part", builder.part)
            for builder in self.document.builders
            if builder is not self.current
            and builder.part
            and builder.steps
            and builder.kind != "refit"
        ]

    def _keep_fact(self, fact: Fact) -> None:
        fact = replace(fact, spot=fact.line + self.shift)
        self.document.facts.append(fact)
        self.memory.facts.append(fact)
        if self.current is not None:
            self.current.facts.append(fact)

    def _one_each(self, stated: Stated) -> list[Thing]:
        """As in "the four feet … there is a screw under each": four screws."""
        each = any(t.is_pronoun and t.head == "each" for t in [*stated.subjects, *stated.others])
        several = next(
            (t.count for t in reversed(self.memory.mentioned[-4:]) if t.plural or t.count), None
        )
        if not each or not isinstance(several, int) or several < 2:
            return stated.things
        return [
            replace(thing, count=several, plural=True, article="", name=f"{thing.name}s")
            if thing.article in ("a", "an", "one") and not thing.plural
            else thing
            for thing in stated.things
        ]

    def _known(self, thing: Thing) -> Thing:
        if not thing.is_pronoun:
            return thing
        other = (
            self.memory.resolve(thing)
            if thing.name and (thing.count is None or thing.head != "them")
            else next(
                (
                    t
                    for t in reversed(self.memory.mentioned[-4:])
                    if t.plural and t.category in _COUNTED
                ),
                None,
            )
            or next((t for t in reversed(self.memory.mentioned) if t.plural), None)
        )
        return (
            replace(other, count=thing.count or other.count, size=thing.size or other.size)
            if other is not None
            else thing
        )

    def _meant(self, thing: Thing, things: list[Thing]) -> Thing:
        """As in "okay the fan … it's three screws": "it" is the part that is spoken of."""
        builder = self.current
        if (
            not self.document.source.spoken
            or thing.name not in ("it", "that", "this")
            or builder is None
            or not builder.part
            or not any(other.category == "fastener" for other in things)
        ):
            return thing
        taken = any(
            action.klass in ("remove", "lift", "slide") and not action.fastener
            for step in builder.steps[-80:]
            for action in step.actions
        )
        words = tuple(builder.part.lower().split())
        if taken or self.lexicon.category(words) not in (
            "part",
            "cover",
            "board",
            "card",
            "drawer",
        ):
            return thing
        return Thing(builder.part, words[-1], self.lexicon.category(words), article="the")

    def _state(self, stated: Stated, line: int) -> None:
        """Keep what a sentence states, as facts."""
        stated = _with_screws_apart(stated)
        things = [self._known(thing) for thing in self._one_each(stated)]
        subjects = [self._known(self._meant(thing, things)) for thing in stated.subjects]
        others = [self._known(thing) for thing in stated.others]
        named = [
            t.name
            for t in map(_of_place, [*subjects, *others])
            if t.name
            and t.category not in ("fastener", "place", "text")
            and not t.is_pronoun
            and t.name.lower() not in self.lexicon.words["colours"]
        ]
        fact = Fact(
            tuple(dict.fromkeys(named)),
            tuple(thing for thing in things if thing.name or thing.count is not None),
            line,
        )
        if stated.respectively and len(subjects) == len(things) > 1:
            for subject, thing in zip(subjects, things, strict=True):
                self._keep_fact(
                    Fact((subject.name, *(other.name for other in stated.others)), (thing,), line)
                )
        elif fact.joins or fact.things:
            self._keep_fact(fact)
        linked = [_with_count(thing, subjects) for thing in things if thing.name]
        spread = [t for t in linked if t.category in ("film", "supply", "residue")]
        if spread and not self.document.source.spoken:
            # "The pack is stuck down with tape. Pry it loose": it is the pack.
            linked = [thing for thing in linked if thing not in spread]
            self.memory.mention(*spread)
        self.memory.mention(*stated.others, *subjects, *linked)

    def _facts_of(self, block: Block, text: str) -> None:
        for low, high in sentence_spans(text):
            parsed = parse_sentence(tokenise(text[low:high], self.lexicon), self.lexicon)
            for stated in parsed.stated:
                self._state(stated, block.line)


def _with_count(thing: Thing, subjects: list[Thing]) -> Thing:
    """As in "four screws. These are M2x2": the four of the size that is told behind."""
    same = [t for t in subjects if t.category == "fastener" and isinstance(t.count, int)]
    if thing.category != "fastener" or thing.count is not None or not thing.size or not same:
        return thing
    return replace(same[-1], size=thing.size, drive=thing.drive or same[-1].drive)


def _with_screws_apart(stated: Stated) -> Stated:
    """As in "The supply sits on the base plate with three screws": the screws join the two."""
    screws = [thing for thing in stated.others if thing.category == "fastener"]
    rest = [thing for thing in stated.others if thing.category != "fastener"]
    if stated.things or not screws or not rest:
        return stated
    return replace(stated, things=screws, others=rest)


def _plain(text: str) -> str:
    """Two ways to say the same: "the power is off", "power's off", "power off"."""
    bare = re.sub(r"\b(?:the|is|are|has been|have been)\b|'s\b", " ", text.lower())
    return " ".join(bare.split())
