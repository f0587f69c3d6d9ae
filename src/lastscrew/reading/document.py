"""A whole text: which procedures it holds, what each line gave."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from lastscrew.reading import prerequisites as before
from lastscrew.reading.blocks import Block, blocks_of, signal_of
from lastscrew.reading.clauses import Parsed, parse_sentence
from lastscrew.reading.headings import Heading
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.meaning import Memory, actions_from
from lastscrew.reading.model import Action, Caution, Fact, Line, Prerequisite, Source, Step, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.predicates import Found, Stated
from lastscrew.reading.speech import (
    ANNOUNCEMENTS,
    REFIT_TURN,
    mend_speech,
    speech_blocks,
    speech_spans,
)
from lastscrew.reading.tokens import sentence_spans, tokenise

REFIT_VERBS = frozenset(
    [
        "install",
        "reinstall",
        "refit",
        "reattach",
        "reconnect",
        "replace",
        "insert",
        "tighten",
        "attach",
        "connect",
        "secure",
        "fasten",
        "mount",
        "seat",
        "reseat",
        "retighten",
        "restore",
        "remount",
        "apply",
        "reinsert",
        "plug",
    ]
)
REMOVE_VERBS = frozenset(
    [
        "remove",
        "unscrew",
        "disconnect",
        "unplug",
        "detach",
        "uninstall",
        "desolder",
        "unfasten",
        "loosen",
    ]
)
_ASIDE = re.compile(
    r",?\s*\(?\bbut (?:do not|don't|not|do not yet) (?:completely |fully |yet )?(?:remov\w+|detach|disconnect|pull|lift|take out|loosen)\b(?: (?:it|them))?(?: yet| completely| fully)?[,)]",
    re.IGNORECASE,
)
_CAPTIVE = re.compile(
    r"\b(?:screws?|bolts?|they|these|thumbscrews?)\b[^.]{0,20}\b(?:are|is|remain|stay|will remain|will stay)\s+(?:all\s+)?(?:captive|attached to|in the (?:cover|panel|lid|enclosure|shroud))\b",
    re.IGNORECASE,
)
_BULLETS = "-*•+–—▪▫■□●○◦‣►▶➤✓✔·o"
_TIGHT = re.compile(r"\b(finger|hand) tight\b", re.IGNORECASE)
_INTRODUCTION = re.compile(
    r"\btoday\b.*\b(?:going to|gonna|will|we're|i'm|show|how|be)\b|\bin this (?:video|guide|tutorial|clip|episode|chapter|section|document|procedure|article|manual|lesson)\b|\b(?:show|showing|shows|teach|guide|guides|tell|walk) (?:you |us )?(?:through )?how\b|\bwelcome (?:back|to)\b|^\W*this (?:section|chapter|document|guide|procedure|topic|manual|tutorial|page|article|video) (?:describes|explains|shows|covers|provides|contains|documents|details|will)\b|\bthe following (?:tutorial|procedure|section|guide|steps?) (?:will |describes?|explains?|shows?|outlines?|guides?)|\b(?:describes?|explains?) how\b",
    re.IGNORECASE,
)
_TOOLS_SAID = re.compile(
    r"^\W*(?:you(?:'ll| will)? (?:also )?need|(?:required |recommended |necessary )?tools?(?: required| needed| and materials| recommended)?|what you(?:'ll| will)? need)\s*:\s*(?=\S)",
    re.IGNORECASE,
)
_SUBJECT = re.compile(
    r"\b(?:replac(?:e|ing)|fix(?:ing)?|swap(?:ping)?(?: out)?|remov(?:e|ing)|install(?:ing)?|chang(?:e|ing)|tak(?:e|ing) apart|disassembl\w+|tear(?:ing)? down|teardown of|open(?:ing)? up|dismantl\w+|repair\w*|inside)\s+",
    re.IGNORECASE,
)
_FOLLOWING = re.compile(r"\b(?:following|these|listed|below)\b[^.]*:\s*$|:\s*$", re.IGNORECASE)
_GOAL = re.compile(
    r"^\W*(?:use the following|follow these|perform the following|do the following|complete (?:these|the following))?[^:]{0,40}?\b(?:to|for)\s+(?P<verb>remov\w+|install\w*|replac\w+|refit\w*|reinstall\w*|disassembl\w*|reassembl\w*|open|detach|disconnect|access|uninstall|exchange|change|swap|take off|take out|dismantle|put back)\s+(?P<rest>[^:.,]{2,60})(?:, (?:follow|perform|do|complete|proceed|use|carry)[^.:]*)?\s*[:.]?\s*$",
    re.IGNORECASE,
)
_PREPARE_LINE = re.compile(
    r"^\W*(?:before (?:removing|you remove|installing|replacing|you replace|working|servicing|removal|starting|beginning|you begin|you start|disassembl|opening)[^.:]*[:.,]?\s*(?:follow these steps|do the following|complete the following|perform the following|complete these steps|remove the following|you must remove|remove)?[^.]*:|(?:first,? )?remove (?:the following|these)(?: parts| components| items)?(?: first| in this order| in the order listed| in order)?\s*:|(?:prerequisites?|pre-requisites?|required removals?|remove first|preliminary (?:steps|removals?)|requirements?|depends on|preparation)\s*[:–-])",
    re.IGNORECASE,
)


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
    pending: list[Prerequisite] = field(default_factory=list)
    pending_cautions: list[Caution] = field(default_factory=list)


_RANK = {"used": 5, "heading": 4, "caution": 3, "not_understood": 2, "other": 1}


class Walker:
    """Goes through the blocks of a text from top to bottom."""

    def __init__(self, source: Source, lexicon: Lexicon) -> None:
        """Start at the first block with nothing known."""
        self.document = Document(source, lexicon)
        self.lexicon = lexicon
        self.memory = Memory(lexicon)
        self.mode = "steps"
        self.mode_level = 9
        self.context: list[tuple[int, Heading, Block]] = []
        self.current: Builder | None = None
        self.lead = ""
        self.list_prepares = False
        self.prepare_first: Block | None = None
        self.open_signal = ""
        self.pending_heading: tuple[Block, Heading] | None = None
        self.step_heading: Block | None = None
        self.reasons: list[str] = []
        self.stated = False

    # -- the walk -----------------------------------------------------------------------------

    def walk(self, progress: Callable[[int, int], None] | None = None) -> Document:
        """Read every block."""
        spoken = self.document.source.spoken
        blocks = (
            speech_blocks(self.document.source, self.lexicon)
            if spoken
            else blocks_of(self.document.source, self.lexicon)
        )
        total = len(blocks)
        for index, block in enumerate(blocks):
            self.block(block, blocks[index + 1] if index + 1 < total else None)
            if progress is not None and index % 200 == 0:
                progress(index, total)
        self._flush_step_heading()
        for line in self.document.source.lines:
            if line.number not in self.document.states:
                self.document.states[line.number] = (
                    "other",
                    "blank" if not line.text.strip() else "markup",
                )
        return self.document

    def block(self, block: Block, following: Block | None) -> None:
        """One block by its kind."""
        if block.kind != "item":
            self.list_prepares = self.list_prepares and block.kind == "table"
        if self.open_signal and block.kind in ("para", "item") and not block.signal:
            signal, self.open_signal = self.open_signal, ""
            self._caution(block, signal, block.text)
            return
        if block.kind == "furniture":
            self.mark(block, "other", block.reason or "page furniture")
        elif block.kind == "caption":
            self.mark(block, "other", "caption")
        elif block.kind == "heading":
            self.heading(block, following)
        elif block.signal:
            self.signal(block)
        elif block.kind == "legend":
            self.legend(block)
        elif block.kind == "table":
            self.table(block)
        else:
            self.text(block, following)

    def mark(self, block: Block, state: str, reason: str = "") -> None:
        """Give all lines of a block a state, unless a better one is there."""
        for number in block.numbers:
            self.mark_line(number, state, reason)

    def mark_line(self, number: int, state: str, reason: str = "") -> None:
        """Give one line a state; ``used`` beats ``caution`` beats ``not_understood`` beats ``other``."""
        old = self.document.states.get(number)
        if old is None or _RANK[state] > _RANK[old[0]]:
            self.document.states[number] = (state, reason)

    # -- headings -----------------------------------------------------------------------------

    def heading(self, block: Block, following: Block | None) -> None:
        """A heading opens a procedure, a mode, or names the part for those beneath it."""
        heading = block.heading
        assert heading is not None
        self.mark(block, "heading")
        self.lead = ""
        self.open_signal = ""
        if block.text.rstrip().endswith(":") and self._opens_preparation(block):
            return
        if not self.document.title and heading.kind not in ("prepare", "tools", "none"):
            self.document.title = heading.words or block.text
        if heading.kind == "step":
            self._flush_step_heading()
            if self.current is None or self.mode != "steps":
                self.mode = "steps"
                if self.current is None:
                    self._open(
                        self._context_part() or self.document.title, "removal", block, guessed=True
                    )
            self.step_heading = block
            if heading.half in ("refit", "removal"):
                self.memory.refitting = heading.half == "refit"
            return
        self._flush_step_heading()
        level = self._fold(heading, block.level or 3)
        if heading.kind in ("prepare", "tools", "none"):
            self.mode = heading.kind
            self.prepare_first = None
            self.mode_level = level
            if heading.kind == "none":
                if self.current is not None and (self.current.steps or level < self.current.level):
                    self.current = None
                if not heading.words.lower().startswith("about"):
                    self.context.append((level, heading, block))
            elif (
                heading.kind == "prepare"
                and self.current is not None
                and self.current.steps
                and level <= self.current.level
            ):
                self.current = None
            return
        self.mode = "steps"
        self._procedure_heading(block, heading, level)
        self.context.append((level, heading, block))

    def _fold(self, heading: Heading, level: int) -> int:
        """Close the headings that this one ends; "Removal" without a part stays below the part's own heading."""
        keeps_part = not heading.part and heading.kind in ("removal", "refit", "both", "steps")
        while self.context and self.context[-1][0] >= level:
            top = self.context[-1]
            if keeps_part and top[0] == level and top[1].kind == "neutral":
                return level + 1
            self.context.pop()
        return level

    def _procedure_heading(self, block: Block, heading: Heading, level: int) -> None:
        part = heading.part or self._context_part()
        if heading.kind == "steps":
            kind = self._context_kind() or "removal"
            if self.context and self.context[-1][1].kind == "none" and self.current is None:
                self.mode = "none"
                return
            if self.current is not None and not self.current.steps and not self.current.guessed:
                return
            if self.current is not None and self.current.steps and self.current.level < level:
                return
            self._open(
                part or self.document.title,
                kind,
                block,
                level=level,
                guessed=not self._context_kind(),
            )
        elif heading.kind in ("removal", "refit", "both"):
            kind = self._half_of(heading, part)
            current = self.current
            if (
                current is not None
                and _only_other(current)
                and level > current.level
                and (not part or _overlaps(part, current.part))
            ):
                current.kind, current.line, current.heading, current.steps = (
                    kind,
                    block.line,
                    block.text,
                    [],
                )
                self.memory.refitting = kind == "refit"
                return
            self._open(part or self.document.title, kind, block, level=level)
        else:
            self.current = None

    def _half_of(self, heading: Heading, part: str) -> str:
        """ "Replacement" below or beside the removal of the same part is its other half."""
        if heading.kind != "both":
            return heading.kind
        first = heading.words.lower()
        if not re.match(r"^(?:replac|re-plac)", first) and not first.endswith("replacement"):
            return "both"
        for builder in reversed(self.document.builders):
            if builder.steps and builder.kind == "removal" and builder.part.lower() == part.lower():
                return "refit"
        return "both"

    def _context_part(self) -> str:
        for _level, heading, _block in reversed(self.context):
            if heading.part and heading.kind in ("neutral", "removal", "refit", "both", "steps"):
                return heading.part
        return ""

    def _context_kind(self) -> str:
        for _level, heading, _block in reversed(self.context):
            if heading.kind in ("removal", "refit", "both"):
                return heading.kind
        return ""

    def _flush_step_heading(self) -> None:
        """A heading such as "Step 2: Remove the lid" is the step itself where nothing beneath it is."""
        block = self.step_heading
        self.step_heading = None
        if block is None:
            return
        used = self.current is not None and any(
            step.line > block.line for step in self.current.steps
        )
        if not used:
            self._sentences(block, item=True)

    def _open(
        self, part: str, kind: str, block: Block, *, level: int = 3, guessed: bool = False
    ) -> Builder:
        builder = Builder(part, kind, block.line, block.text, level=level, guessed=guessed)
        builder.prerequisites += self.document.pending
        builder.cautions += self.document.pending_cautions
        self.document.pending = []
        self.document.pending_cautions = []
        self.document.builders.append(builder)
        self.current = builder
        self.memory.refitting = kind == "refit"
        self.memory.part = part
        return builder

    def builder(self, block: Block) -> Builder:
        """The procedure that a step belongs to; one is opened where none is."""
        if self.current is None:
            part = self._context_part() or self.document.title
            if self.document.source.spoken and " of " in part:
                part = part.split(" of ")[0]
            self._open(part, self._context_kind() or "removal", block, guessed=True)
            if self.context:
                heading_block = self.context[-1][2]
                assert self.current is not None
                self.current.line = heading_block.line
                self.current.heading = heading_block.text
        assert self.current is not None
        return self.current

    # -- notes and lists ------------------------------------------------------------------------

    def signal(self, block: Block) -> None:
        """A caution or note: kept beside the step that it concerns."""
        _signal, rest = signal_of(block.text, self.lexicon)
        if not rest.strip():
            self.open_signal = block.signal
            self.mark(block, "caution")
            return
        self._caution(block, block.signal, rest)

    def _caution(self, block: Block, signal: str, text: str) -> None:
        self.mark(block, "caution")
        caution = Caution(signal, text.strip(), block.line)
        self.document.cautions.append(caution)
        if self.current is None:
            self.document.pending_cautions.append(caution)
        elif self.current.steps:
            last = self.current.steps[-1]
            self.current.steps[-1] = replace(last, cautions=(*last.cautions, caution))
        else:
            self.current.cautions.append(caution)
        self._facts_of(block, text)
        self._prerequisites_in_note(block, text)

    def _prerequisites_in_note(self, block: Block, text: str) -> None:
        """ "Note: the fan must be removed first": a prerequisite in a note's clothes."""
        if self.current is not None and self.current.steps:
            return
        for low, high in sentence_spans(text):
            for required in before.of_sentence(
                text[low:high], text[high:], self.lexicon, first=False, ahead=True
            ):
                self._require(required, block.line)

    def _facts_of(self, block: Block, text: str) -> None:
        for low, high in sentence_spans(text):
            parsed = parse_sentence(tokenise(text[low:high], self.lexicon), self.lexicon)
            for stated in parsed.stated:
                self._state(stated, block.line)

    def legend(self, block: Block) -> None:
        """ "(1) screw (10)": a name and how many, read off a drawing that is gone."""
        thing = self._legend_thing(block.text)
        if thing is not None and thing.category == "fastener" and thing.count is not None:
            self.document.legends.append((block.line, thing, thing.label))
            if self.current is not None:
                self.current.facts.append(Fact((), (thing,), block.line, "legend"))
            self.mark(block, "used")
        elif self.mode == "prepare" or self.list_prepares:
            self._prepare_line(block)
        else:
            self.mark(block, "other", "legend")

    def _legend_thing(self, text: str) -> Thing | None:
        bare = re.sub(r"^\s*(?:\(\d+\)|\[\d+\]|\d+)\s*", "", text)
        trailing = re.search(
            r"\((?:x|×|qty:?\s*)?\s*(\d{1,3})(?:x|×)?\)\s*$|[x×]\s?(\d{1,3})\s*$", bare
        )
        thing, _ = Phrases(
            tokenise(re.sub(r"\([^)]*\)\s*$", "", bare), self.lexicon), self.lexicon
        ).phrase(0)
        if thing is None:
            return None
        mark = re.match(r"^\s*[(\[]?(\d+)", text)
        label = f"({mark[1]})" if mark else ""
        if trailing:
            return replace(thing, count=int(trailing[1] or trailing[2]), label=label)
        return replace(thing, label=label)

    def table(self, block: Block) -> None:
        """A table row: a count and size of screws, a step, a prerequisite, or nothing that is understood."""
        cells = [cell for cell in block.cells if cell]
        joined = ". ".join(cells)
        joined.lower()
        if not cells or set(joined) <= set("-: .|="):
            self.mark(block, "other", "rule")
            return
        if (
            re.match(
                r"^(?:prerequisites?|pre-requisites?|remove first|required removals?|before you begin|depends on|first remove)\b",
                cells[0].lower(),
            )
            and len(cells) > 1
        ):
            for piece in re.split(r"[;•]|,(?![^(]*\))|\band\b", " , ".join(cells[1:])):
                for required in before.listed(piece.strip(), self.lexicon):
                    self._require(required, block.line)
            self.mark(block, "used")
            return
        if self.mode == "prepare":
            self._prepare_line(
                Block(
                    "item",
                    cells[0] if not cells[0].isdigit() or len(cells) < 2 else cells[1],
                    block.numbers,
                )
            )
            return
        if self.mode == "steps" and self._row_of_steps(block, cells):
            return
        if self._row_of_screws(block, cells):
            return
        self.mark(block, "other", "table")

    def _row_of_steps(self, block: Block, cells: list[str]) -> bool:
        texts = [cell for cell in cells if len(cell.split()) > 2]
        for text in texts:
            tokens = tokenise(text, self.lexicon)
            if tokens and (
                Phrases(tokens, self.lexicon).is_command(0)
                or tokens[0].low in ("using", "with", "use")
            ):
                row = Block("item", text, [block.line] * 1)
                self._sentences(row, item=True)
                return True
        return False

    def _row_of_screws(self, block: Block, cells: list[str]) -> bool:
        things = [
            Phrases(tokenise(cell, self.lexicon), self.lexicon).phrase(0)[0] for cell in cells
        ]
        screw = next(
            (thing for thing in things if thing is not None and thing.category == "fastener"), None
        )
        size = next((thing.size for thing in things if thing is not None and thing.size), "")
        inner = [
            int(match[1])
            for cell in cells
            if (
                match := re.search(
                    r"M\d[^()]*\(\s*(?:x|×|qty\.?:?)?\s*(\d{1,3})\s*(?:x|×|pcs?|screws?)?\s*\)",
                    cell,
                    re.IGNORECASE,
                )
            )
        ]
        numbers = inner or [
            int(match[1])
            for cell in cells
            if (
                match := re.fullmatch(
                    r"\(?(?:x|×)?\s*(\d{1,3})\s*(?:x|×|pcs?\.?|pieces)?\)?",
                    cell.strip(),
                    re.IGNORECASE,
                )
            )
        ]
        if (not size and screw is None) or (not numbers and (screw is None or screw.count is None)):
            return False
        count = numbers[-1] if numbers else screw.count if screw is not None else None
        owner = next(
            (
                cell
                for cell, thing in zip(cells, things, strict=True)
                if thing is not None
                and thing.category not in ("fastener", "pronoun")
                and not thing.size
                and thing.name
                and not thing.drive
            ),
            "",
        )
        thing = screw or Thing("screws", "screw", "fastener", plural=True)
        thing = replace(
            thing,
            count=count,
            size=thing.size or size,
            drive=thing.drive or next((t.drive for t in things if t is not None and t.drive), ""),
        )
        fact = Fact((owner,) if owner else (), (thing,), block.line, "table")
        self.document.facts.append(fact)
        if self.current is not None:
            self.current.facts.append(fact)
        self.mark(block, "used")
        return True

    # -- running text ---------------------------------------------------------------------------

    def text(self, block: Block, following: Block | None) -> None:
        """A paragraph or list item by the mode in which it stands."""
        if self.mode == "tools":
            self._tool_line(block)
            return
        if self.mode == "none":
            self._no_procedure(block)
            return
        if self._opens_preparation(block):
            return
        if self._tools_said(block):
            return
        if block.kind == "item" and (self.list_prepares or self.mode == "prepare"):
            self._end_of_preparation(block)
        if self.mode == "prepare" or (self.list_prepares and block.kind == "item"):
            if not (self.mode == "prepare" and block.kind == "para" and self._goal(block)):
                self._prepare_line(block)
                return
        if self._goal(block):
            return
        self._sentences(block, item=block.kind == "item")
        if block.kind == "para" and block.text.rstrip().endswith(":") and self.mode == "prepare":
            self.mode = "steps"

    def _tools_said(self, block: Block) -> bool:
        """ "You will need: a hex key and side cutters.", "Tools: Phillips screwdriver"."""
        match = _TOOLS_SAID.match(block.text)
        if match is None:
            return False
        things, _ = Phrases(
            tokenise(block.text[match.end() :], self.lexicon), self.lexicon
        ).list_of(0)
        self._keep_tools(block, [thing for thing in things if thing.name])
        self.mark(block, "used", "tool list")
        return True

    def _end_of_preparation(self, block: Block) -> None:
        """A list of what comes off first ends where its indent ends, or where the numbers begin anew."""
        first = self.prepare_first
        if first is None:
            self.prepare_first = block
            return
        counted = block.mark[:1] not in _BULLETS
        begins_anew = counted and (
            block.mark == first.mark or first.mark[:1] in _BULLETS and block.mark[:1] in "1aA(Ss"
        )
        if block.indent < first.indent or begins_anew:
            self.list_prepares = False
            self.mode = "steps"

    def _opens_preparation(self, block: Block) -> bool:
        match = _PREPARE_LINE.match(block.text)
        if not match or (
            self.current is not None and len(self.current.steps) > 2 and block.kind == "item"
        ):
            return False
        if re.match(
            r"^\W*(?:first,? )?remove (?:the following|these)", block.text, re.IGNORECASE
        ) and re.search(r"screw|bolt|cable|nut|fastener", block.text):
            return False
        if (
            re.match(r"^\W*(?:first,? )?remove (?:the following|these)", block.text, re.IGNORECASE)
            and self.current is not None
            and self.current.steps
        ):
            return False
        rest = block.text[match.end() :].strip()
        self.mark(block, "used" if rest else "heading")
        if rest:
            for piece in re.split(r"[;•]|,(?![^(]*\))|\s+and\s+(?=the\b)", rest):
                for required in before.listed(piece.strip(), self.lexicon):
                    self._require(required, block.line)
        else:
            self.list_prepares = True
            self.prepare_first = None
        return True

    def _goal(self, block: Block) -> bool:
        """ "To remove the fan:", "Follow these steps to install the lid:": opens a procedure like a heading."""
        match = _GOAL.match(block.text) if len(block.text) < 140 else None
        if not match or (
            not block.text.rstrip().endswith(":")
            and not re.match(r"^\W*to\s", block.text, re.IGNORECASE)
        ):
            return False
        if (
            not block.text.rstrip().endswith(":")
            and len(block.text.split()) > 8
            and "follow" not in block.text.lower()
        ):
            return False
        thing, _ = Phrases(tokenise(match["rest"], self.lexicon), self.lexicon).phrase(0)
        part = thing.name if thing is not None and not thing.is_pronoun else ""
        verb = match["verb"].lower()
        kind = (
            "both"
            if verb.startswith(("replac", "exchang", "chang", "swap"))
            else "refit"
            if verb.startswith(("install", "refit", "reinst", "reass", "put"))
            else "removal"
        )
        self.mark(block, "heading")
        self.mode = "steps"
        current = self.current
        if (
            current is not None
            and not current.steps
            and (not part or _overlaps(part, current.part) or not current.part)
        ):
            if current.guessed or (current.kind == "both" and kind != "both"):
                current.kind = kind
                self.memory.refitting = kind == "refit"
            return True
        self._open(
            part or (current.part if current is not None else self._context_part()), kind, block
        )
        return True

    def _tool_line(self, block: Block) -> None:
        if block.kind == "item" or len(block.text.split()) < 14:
            tokens = tokenise(block.text, self.lexicon)
            phrases = Phrases(tokens, self.lexicon)
            things, _ = phrases.list_of(0)
            named = [thing for thing in things if thing.name]
            if not phrases.is_command(0) or tokens[0].low in ("tap", "drill"):
                self._keep_tools(block, named)
                self.mark(block, "used" if named else "other", "tool list")
                return
        if block.kind == "item" or self._has_command(block.text):
            self.mode = "steps"
            self.text(block, None)
            return
        self.mark(block, "other", "tool list")

    def _keep_tools(self, block: Block, named: list[Thing]) -> None:
        for thing in named:
            name = " ".join(
                part
                for part in (
                    thing.drive
                    if thing.drive and thing.drive.split()[0].lower() not in thing.name.lower()
                    else "",
                    thing.name,
                )
                if part
            )
            (self.current.tools if self.current is not None else self.document.tools).append(name)
            if thing.drive:
                self.memory.default_drive = (
                    thing.drive
                    if not self.memory.default_drive
                    or (
                        len(thing.drive) > len(self.memory.default_drive)
                        and thing.drive.startswith(self.memory.default_drive.split()[0])
                    )
                    else self.memory.default_drive
                )

    def _has_command(self, text: str) -> bool:
        for low, high in sentence_spans(text):
            tokens = tokenise(text[low:high], self.lexicon)
            if tokens and Phrases(tokens, self.lexicon).is_command(0):
                return True
        return False

    def _no_procedure(self, block: Block) -> None:
        self._facts_of(block, block.text)
        heading = self.context[-1][1].words if self.context else ""
        self.mark(block, "other", f"under '{heading}', no procedure" if heading else "no procedure")

    def _prepare_line(self, block: Block) -> None:
        any_found = False
        for low, high in sentence_spans(block.text):
            sentence = block.text[low:high]
            if re.match(r"^\W*(?:see|refer to|for more)\b", sentence, re.IGNORECASE):
                continue
            for required in before.listed(sentence, self.lexicon):
                any_found = True
                self._require(required, block.line_at(low))
        self.mark(block, "used" if any_found else "other", "" if any_found else "preparation")

    def _require(self, required: before.Required, line: int) -> None:
        item = Prerequisite(required.kind, required.text, line)
        target = (
            self.current.prerequisites
            if self.current is not None and self.mode != "none"
            else self.document.pending
        )
        if not any(
            old.kind == item.kind and old.text.lower() == item.text.lower() for old in target
        ):
            target.append(item)

    # -- sentences --------------------------------------------------------------------------------

    def _sentences(self, block: Block, *, item: bool) -> None:
        """Every sentence of a block: caution, prerequisite, reversal, or orders and statements."""
        actions: list[Action] = []
        spoken = self.document.source.spoken
        spans = speech_spans(block.text, self.lexicon) if spoken else sentence_spans(block.text)
        short = len(block.text.split()) <= 7 and not block.text.rstrip().endswith(".")
        lead, self.lead = (self.lead if item or short else ""), self.lead if item or short else ""
        for index, (low, high) in enumerate(spans):
            sentence = block.text[low:high]
            signal, rest = signal_of(sentence, self.lexicon)
            if signal and rest.strip():
                self._caution(
                    Block("para", block.text[low:], [block.line_at(low)]), signal, block.text[low:]
                )
                break
            line = block.line_at(low)
            if spoken:
                sentence = mend_speech(sentence, self.lexicon)
                self._announced(sentence, block, low)
            if item and actions and self._is_reversal(sentence):
                self._add_steps(block, actions)
                actions = []
            if self._introduces(sentence):
                self._mark_span(block, low, high, "other", "introduction")
                continue
            if self._reversal(sentence, block, line):
                self._mark_span(block, low, high, "used")
                continue
            if self._required(sentence, block.text[high:], block, line):
                self._mark_span(block, low, high, "used")
                continue
            found = self._orders(sentence, block, low, item=item and index == 0, lead=lead)
            if _CAPTIVE.search(sentence) and any(action.fastener for action in actions):
                actions = [replace(a, captive=True) if a.fastener else a for a in actions]
            elif not found:
                self._captive_said(sentence)
            self._mark_sentence(block, low, high, sentence, found)
            if item:
                actions += found
            else:
                self._add_steps(block, found)
        if item and actions:
            self._add_steps(block, actions)

    def _introduces(self, sentence: str) -> bool:
        """ "Today we're going to replace the fan": says what will come, orders nothing."""
        if not _INTRODUCTION.search(sentence):
            return False
        subject = _SUBJECT.search(sentence)
        if subject and not self.document.title:
            thing, _ = Phrases(
                tokenise(sentence[subject.end() :], self.lexicon), self.lexicon
            ).phrase(0)
            if thing is not None and not thing.is_pronoun:
                self.document.title = thing.name
                self.memory.mention(thing)
        return True

    def _announced(self, sentence: str, block: Block, low: int) -> None:
        """ "Next up is the fan": a spoken heading. "Now to put it back together": the other half begins."""
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
        if match is None:
            return
        thing, _ = Phrases(tokenise(match["part"], self.lexicon), self.lexicon).phrase(0)
        if (
            thing is None
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
                "device",
                "body",
            )
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

    def _add_steps(self, block: Block, actions: list[Action]) -> None:
        """One step for a list item; one for each line of a sentence in running text."""
        if not actions:
            return
        builder = self.builder(block)
        text = block.text
        if block.kind in ("item", "heading", "table") and len(block.numbers) <= 10:
            builder.steps.append(Step(block.line, tuple(actions), text=text, mark=block.mark))
            return
        for action in actions:
            last = builder.steps[-1] if builder.steps else None
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
        sentence = _TIGHT.sub(r"\1-tight", sentence)
        sentence = _ASIDE.sub(lambda match: " " * len(match.group()), sentence)
        tokens = tokenise(sentence, self.lexicon)
        if not tokens:
            return []
        parsed = parse_sentence(tokens, self.lexicon, spoken=self.document.source.spoken, item=item)
        line = block.line_at(low)
        actions: list[Action] = []
        if lead and not parsed.actions and not parsed.reasons:
            self._drop_lead_action()
            parsed = parse_sentence(
                tokenise(f"{lead} {sentence}", self.lexicon), self.lexicon, item=True
            )
            offset = len(lead) + 1
        else:
            offset = 0
        positions = tokens if not offset else tokenise(f"{lead} {sentence}", self.lexicon)
        self.memory.mention(*parsed.mentioned)
        self._fill_elided(parsed.actions)
        stated = sorted(parsed.stated, key=lambda item: item.position)
        for found in parsed.actions:
            while stated and stated[0].position < found.position:
                self._state(stated.pop(0), line)
            self._turn(found.lemma, found.particle, sentence)
            place = max(0, positions[found.position].start - offset)
            actions += actions_from(found, self.memory, block.line_at(low + place), sentence)
        for item in stated:
            self._state(item, line)
        self._lead_in(sentence, parsed)
        self.reasons = parsed.reasons
        self.stated = bool(parsed.stated)
        actions = [action for action in actions if action.object or action.klass != "other"]
        return _one_each(_share_objects(actions))

    def _fill_elided(self, founds: list[Found]) -> None:
        """ "unlock and unplug the cable", "slide the tool onto the plug and pull away": who is meant."""
        for index, found in enumerate(founds):
            if found.things or (
                self.lexicon.verbs[found.key].klass == "other"
                and found.lemma
                not in ("push", "press", "pull", "rotate", "turn", "flip", "swing", "fold")
            ):
                continue
            following = founds[index + 1] if index + 1 < len(founds) else None
            previous = founds[index - 1] if index else None
            if (
                following is not None
                and following.things
                and following.position - found.position <= 4
                and not following.weak
            ):
                found.things = list(following.things)
            elif previous is not None and previous.things:
                tools = all(thing.category in ("tool", "body") for thing in previous.things)
                found.things = (
                    list(previous.to)
                    if tools and previous.to
                    else []
                    if tools
                    else list(previous.things)
                )

    def _drop_lead_action(self) -> None:
        """The items of a list take the place of "the following connectors"."""
        builder = self.current
        if builder is None or not builder.steps:
            return
        last = builder.steps[-1]
        actions = tuple(
            a for a in last.actions if not (a.things and a.things[-1].name.startswith("following "))
        )
        if len(actions) < len(last.actions):
            self.lead_from = last.actions[-1].from_
            builder.steps[-1] = replace(last, actions=actions)

    def _captive_said(self, sentence: str) -> None:
        """ "The screws are captive": says it of the screws that were named last."""
        builder = self.current
        if builder is None or not _CAPTIVE.search(sentence):
            return
        for s in range(len(builder.steps) - 1, max(-1, len(builder.steps) - 3), -1):
            actions = [
                replace(a, captive=True) if a.fastener else a for a in builder.steps[s].actions
            ]
            if any(a.fastener for a in actions):
                builder.steps[s] = replace(builder.steps[s], actions=tuple(actions))
                return

    def _lead_in(self, sentence: str, parsed: Parsed) -> None:
        """ "Remove the following screws:" lends its verb to the bare items beneath it."""
        if sentence.rstrip().endswith(":") and parsed.actions:
            found = parsed.actions[-1]
            self.lead = found.lemma + (f" {found.particle}" if found.particle else "") + " the"

    def _turn(self, lemma: str, particle: str, sentence: str) -> None:
        """From taking apart to putting together, by the verbs that say so."""
        builder = self.current
        if builder is not None and builder.kind == "refit":
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
                and lemma in ("put", "place", "slide", "screw", "plug", "snap", "set")
            )
            or (
                " new " in f" {sentence.lower()} "
                and lemma in ("place", "put", "slide", "take", "position", "fit")
            )
        ):
            self.memory.refitting = True
        elif lemma in REMOVE_VERBS and lemma != "remove":
            self.memory.refitting = False

    def _state(self, stated: Stated, line: int) -> None:
        """Keep what a sentence states, as facts."""
        things = [self._known(thing) for thing in stated.things]
        subjects = [self._known(thing) for thing in stated.subjects]
        named = [
            t.name
            for t in [*subjects, *stated.others]
            if t.name and t.category not in ("fastener", "place", "text") and not t.is_pronoun
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
        self.memory.mention(*subjects, *stated.others, *[thing for thing in things if thing.name])

    def _keep_fact(self, fact: Fact) -> None:
        self.document.facts.append(fact)
        self.memory.facts.append(fact)
        if self.current is not None:
            self.current.facts.append(fact)

    def _known(self, thing: Thing) -> Thing:
        if not thing.is_pronoun:
            return thing
        other = (
            self.memory.resolve(thing)
            if thing.name
            else next((t for t in reversed(self.memory.mentioned) if t.plural), None)
        )
        return (
            replace(other, count=thing.count or other.count, size=thing.size or other.size)
            if other is not None
            else thing
        )

    def _required(self, sentence: str, after: str, block: Block, line: int) -> bool:
        """True where the sentence is a prerequisite and no step."""
        steps = self.current.steps if self.current is not None else []
        first = not steps
        ahead = first and block.kind == "para"
        found = before.of_sentence(sentence, after, self.lexicon, first=first, ahead=ahead)
        early = len(steps) <= 4 or all("prerequisite" in step.mark for step in steps)
        if not found or (not early and not re.search(r"\bmust\b", sentence)):
            return False
        if self.current is None and found:
            self.builder(block)
        for required in found:
            self._require(required, line)
        return not any(required.also_step for required in found)

    def _reversal(self, sentence: str, block: Block, line: int) -> bool:
        """ "Refit in reverse order": the other half is the first one backwards."""
        if not self._is_reversal(sentence):
            return False
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
        if index >= 0 and not any(item.inferred for item in current.prerequisites):
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
        return True

    def _is_reversal(self, sentence: str) -> bool:
        low = sentence.lower()
        if not any(
            phrase in low for phrase in self.lexicon.phrases["reverse_phrases"]
        ) or re.search(
            r"\breverse numer|\breverse order \(|\breverse sequence \(|^\W*(?:then |next,? )?(?:loosen|tighten|unscrew|remove the \w+ (?:screws|bolts))\b|\breverse (?:side|polarity|thread|face)|installed in reverse",
            low,
        ):
            return False
        return bool(
            re.search(
                r"\b(?:order|steps?|procedure|removal|disassembly|install\w*|assembl\w*|reassembl\w*|refit\w*|sequence|instructions|process|tutorial|put|reversing|manner)\b",
                low,
            )
        )

    def _reverse_target(self) -> int:
        builders = self.document.builders
        for index in range(len(builders) - 1, -1, -1):
            if builders[index].steps and builders[index].kind in ("removal", "both"):
                return index
        return -1

    def _reverse_part(self, index: int) -> str:
        if index >= 0:
            return self.document.builders[index].part
        return self._context_part() or self.document.title

    # -- line states --------------------------------------------------------------------------------

    def _mark_span(self, block: Block, low: int, high: int, state: str, reason: str = "") -> None:
        first, last = block.line_at(low), block.line_at(max(low, high - 1))
        for number in block.numbers:
            if first <= number <= last:
                self.mark_line(number, state, reason)

    def _mark_sentence(
        self, block: Block, low: int, high: int, sentence: str, actions: list[Action]
    ) -> None:
        if actions or self.stated:
            self._mark_span(block, low, high, "used")
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
                r"^\W*(?:the|this|these|it|there|a|an|your|each|some|that|its|they|you|most)\b",
                sentence,
                re.IGNORECASE,
            )
            self._mark_span(
                block,
                low,
                high,
                "other" if described else "not_understood",
                "description" if described else "",
            )
        else:
            self._mark_span(block, low, high, "other", "no instruction")

    def _speaks_of_work(self, sentence: str) -> bool:
        tokens = tokenise(sentence, self.lexicon)
        phrases = Phrases(tokens, self.lexicon)
        for index, token in enumerate(tokens):
            if phrases.is_command(index):
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


def _only_other(builder: Builder) -> bool:
    """True where nothing was opened or closed yet."""
    return all(action.klass == "other" for step in builder.steps for action in step.actions)


def _disassembly_name(builder: Builder) -> str:
    """Name of the half that is done backwards."""
    return (
        builder.part
        if re.search(r"disassembly|removal|tutorial", builder.part, re.IGNORECASE) and False
        else f"{builder.part} disassembly".strip()
    )


def _overlaps(left: str, right: str) -> bool:
    return bool({w.lower() for w in left.split()} & {w.lower() for w in right.split()})


def _one_each(actions: list[Action]) -> list[Action]:
    """ "unscrew and remove the bolts" is one action, not two of the same class on the same thing."""
    rows: list[Action] = []
    for action in actions:
        last = rows[-1] if rows else None
        if (
            last is not None
            and last.klass == action.klass
            and last.things
            and action.things
            and last.things[-1] == action.things[-1]
            and last.verb != action.verb
            and action.klass != "other"
        ):
            rows[-1] = action if len(action.joins) >= len(last.joins) else last
        else:
            rows.append(action)
    return rows


def _share_objects(actions: list[Action]) -> list[Action]:
    """ "unlock and unplug the cable": a verb without an object shares the next one's, else the last one's."""
    rows = list(actions)
    for index in range(len(rows) - 1, -1, -1):
        row = rows[index]
        if row.object or row.klass == "other":
            continue
        donor = (
            rows[index + 1]
            if index + 1 < len(rows) and rows[index + 1].object
            else rows[index - 1]
            if index and rows[index - 1].object
            else None
        )
        if donor is not None:
            rows[index] = replace(row, object=donor.object, things=donor.things)
    return [row for row in rows if row.object]


def walk(
    source: Source, lexicon: Lexicon, progress: Callable[[int, int], None] | None = None
) -> Document:
    """Read a source from top to bottom."""
    return Walker(source, lexicon).walk(progress)


def numbered(lines: list[str]) -> tuple[Line, ...]:
    """Plain physical lines as :class:`Line` values."""
    return tuple(
        Line(i, text, "blank" if not text.strip() else "text") for i, text in enumerate(lines, 1)
    )
