"""Notes, legends, tables and lists of a text."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading import prerequisites as before
from lastscrew.reading.blocks import Block, signal_of
from lastscrew.reading.model import Caution, Fact, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.required import Required
from lastscrew.reading.tokens import sentence_spans, tokenise
from lastscrew.reading.walk_tables import TableWalk

_BULLETS = "-*•+–—▪▫■□●○◦‣►▶➤✓✔·o"
_TOOLS_SAID = re.compile(
    r"^\W*(?:you(?:'ll| will)? (?:also )?need|(?:required |recommended |necessary )?tools?(?: required| needed| and materials| recommended)?|what you(?:'ll| will)? need)\s*:\s*(?=\S)",  # noqa: E501
    re.IGNORECASE,
)
_TOOLS_NEEDED = re.compile(
    r"^\W*(?:for this(?: \w+)?,? )?you(?:'ll| will)? (?:also |only |just )?need (?:only |just )?(?=(?:an?|the|some|two|your)\b|\d|#)",  # noqa: E501
    re.IGNORECASE,
)
"""As in "You will need a Torx driver and a spudger.", in one paragraph."""
_LEGEND_START = re.compile(r"(?:^|[\s,;]+)(?=[(\[]\d{1,2}[)\]]\s+[A-Za-z])")
_LEGEND_PIECE = re.compile(
    r"^[(\[]\d{1,2}[)\]]\s+[A-Za-z][\w /-]{1,50}(?:\(\d{1,3}\)|[x×]\s?\d{1,3})?$"
)
_BEHIND_NAME = re.compile(r"\([^)]*\)\s*$|,\s*\d{1,3} (?:pieces?|pcs?|off|times|ea(?:ch)?)\.?\s*$")
_GOAL = re.compile(
    r"^\W*(?:use the following|follow these|perform the following|do the following|complete (?:these|the following))?[^:]{0,40}?\b(?:to|for)\s+(?P<verb>remov\w+|install\w*|replac\w+|refit\w*|reinstall\w*|disassembl\w*|reassembl\w*|open|detach|disconnect|access|uninstall|exchange|change|swap|take off|take out|dismantle|put back)\s+(?P<rest>[^:.,]{2,60})(?:, (?:follow|perform|do|complete|proceed|use|carry)[^.:]*)?\s*[:.]?\s*$",  # noqa: E501
    re.IGNORECASE,
)
_PREPARE_LINE = re.compile(
    r"^\W*(?:before (?:removing|you remove|installing|replacing|you replace|working|servicing|removal|starting|beginning|you begin|you start|disassembl|opening)[^.:]*[:.,]?\s*(?:follow these steps|do the following|complete the following|perform the following|complete these steps|remove the following|you must remove|remove)?[^.]*:|(?:(?:for access|to gain access|to get access)(?: to [^.:,]{3,40})?,? )?(?:first,? )?remove (?:the following|these|this)(?: parts?| components?| items?| [CF]RUs?| units?| assembl(?:y|ies)| modules?)?(?: first| in this order| in the order listed| in (?:the )?order(?: given| shown)?)?\s*:|(?:prerequisites?|pre-requisites?|you (?:will |\'ll )?(?:need|have|must|should|ought)(?: to)? have (?:already |first )?(?:done|removed|completed|finished|taken off|gone through)[^:.]{0,20}|required removals?|remove first|needs? first|first needs?|need (?:to )?(?:remove|dismantle) first|preliminary (?:steps|removals?|conditions?|work)|pre-?conditions?|conditions?|requirements?|depends on|preparations?|preparing|prepare|preparatory work|before work|before you start|beforehand|(?:attention|notes?|cautions?) (?:before|prior to) [^:]{3,30})\s*[:–-])",  # noqa: E501
    re.IGNORECASE,
)


_REMOVE_THESE = re.compile(
    r"^\W*(?:first,? )?remove (?:the following|these)(?: \w+)?(?: first)?\s*:\s*", re.IGNORECASE
)
_LET = re.compile(r"(?:let|allow)\s+(?:it|them)\b", re.IGNORECASE)
_MADE_READY = re.compile(
    r"^\W*(?:you (?:also |then |first |must |always )*)?(?:please |also |then |first )*"
    r"(?P<state>(?:empty|drain|close|shut|lock|block|park|vent|raise|lower|clear|let|allow)\s+(?:the|your|any|all|it|both)\b[^,;.]{2,60})",
    re.IGNORECASE,
)
"""As in "You also empty the tank, otherwise …" before the work begins."""


class ListWalk(TableWalk):
    """Notes, legends, tables, tool lists and lists of what comes off first."""

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
        """As in "Note: the fan must be removed first": a prerequisite in a note's clothes."""
        if self.current is not None and self.current.steps:
            return
        for low, high in sentence_spans(text):
            words, after = text[low:high], text[high:]
            for required in before.of_sentence(words, after, self.lexicon, first=True, ahead=True):
                # "With the springs off, the lid falls" and "It gets hot, let it cool" only warn.
                if not required.also_step and not _LET.match(required.text):
                    self._require(required, block.line)

    def legend(self, block: Block) -> None:
        """As in "(1) screw (10)": a name and how many, read off a drawing that is gone."""
        if self._legend_row(block):
            return
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

    def _legend_row(self, block: Block) -> bool:
        """As in "Legend: (1) screw (4)   (2) washer (4)   (3) lid": several names of a drawing in one line."""
        bare = re.sub(
            r"^\W*(?:legend|key|callouts?|index)\s*[:.]\s*", "", block.text, flags=re.IGNORECASE
        )
        pieces = [piece.strip(" ,;.") for piece in _LEGEND_START.split(bare) if piece.strip(" ,;.")]
        if len(pieces) < 2 or not all(_LEGEND_PIECE.match(piece) for piece in pieces):
            return False
        for piece in pieces:
            thing = self._legend_thing(piece)
            if thing is not None and thing.category == "fastener" and thing.count is not None:
                self.document.legends.append((block.line, thing, thing.label))
                if self.current is not None:
                    self.current.facts.append(Fact((), (thing,), block.line, "legend"))
        self.mark(block, "used")
        return True

    def _legend_thing(self, text: str) -> Thing | None:
        bare = re.sub(r"^\s*(?:\(\d+\)|\[\d+\]|\d+)\s*", "", text)
        trailing = re.search(
            r"\((?:x|×|qty:?\s*)?\s*(\d{1,3})(?:x|×)?\)\s*$|(?<!\d )[x×]\s?(\d{1,3})\s*$"
            r"|,\s*(\d{1,3}) (?:pieces?|pcs?|off|times|ea(?:ch)?)\.?\s*$",
            bare,
        )
        thing, _ = Phrases(tokenise(_BEHIND_NAME.sub("", bare), self.lexicon), self.lexicon).phrase(
            0
        )
        if thing is None:
            return None
        mark = re.match(r"^\s*[(\[]?(\d+)", text)
        label = f"({mark[1]})" if mark else ""
        if trailing:
            counted = int(trailing[1] or trailing[2] or trailing[3])
            return replace(thing, count=counted, label=label)
        return replace(thing, label=label)

    def table(self, block: Block) -> None:
        """A table row: a count and size of screws, a step, a prerequisite, or nothing that is understood."""
        cells = [cell for cell in block.cells if cell]
        joined = ". ".join(cells)
        if self._legend_row(block):
            return
        if self.head_of_table(block):
            self.mark(block, "other", "head of a table")
            return
        if not cells or set(joined) <= set("-: .|="):
            self.mark(block, "other", "rule")
            return
        if (
            re.match(
                r"^(?:prerequisites?|pre-requisites?|remove first|required removals?|before(?: you (?:begin|start))?\W*$|depends on|first remove)\b",  # noqa: E501
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
        if self.mode == "steps" and (self.both_halves(block) or self.row_of_steps(block, cells)):
            return
        if self.row_of_screws(block, cells):
            return
        self.mark(block, "other", "table")

    def _tools_said(self, block: Block) -> bool:
        """As in "You will need: a hex key and side cutters.", "Tools: Phillips screwdriver"."""
        match = _TOOLS_SAID.match(block.text) or _TOOLS_NEEDED.match(block.text)
        if match is None:
            return False
        things, _ = Phrases(
            tokenise(block.text[match.end() :], self.lexicon), self.lexicon
        ).list_of(0)
        if match.re is _TOOLS_NEEDED and not any(thing.category == "tool" for thing in things):
            return False
        self._keep_tools([thing for thing in things if thing.name])
        self.mark(block, "used", "tool list")
        return True

    def _end_of_preparation(self, block: Block) -> None:
        """A list of what comes off first ends where its indent ends, or where the numbers begin anew."""
        first = self.prepare_first
        if first is None and block.mark.lower().startswith("step") and self.mode == "prepare":
            if self.document.pending or (self.current is not None and self.current.prerequisites):
                self.list_prepares = False
                self.mode = "steps"
                return
        if first is None:
            self.prepare_first, self.prepare_last = block, None
            return
        last, self.prepare_last = self.prepare_last or first, block
        other_marks = (
            mark_class(block.mark) != mark_class(first.mark) and block.indent <= first.indent
        )
        restarts = mark_class(block.mark) == "number" and block.mark == first.mark != last.mark
        if block.mark.lower().startswith("step") and not first.mark.lower().startswith("step"):
            restarts = True
        apart = block.line > last.numbers[-1] + 1 and not last.text.rstrip().endswith(":")
        if mark_class(first.mark) == "bullet" and block.mark.strip("().[] ") == "1" and apart:
            restarts = True  # the steps stand indented below the bullets
        if block.indent < first.indent or other_marks or restarts:
            self.list_prepares = False
            self.mode = "steps"

    def opens_preparation(self, block: Block) -> bool:
        """True for "Before removing X, follow these steps:" and "Remove the following parts first:"."""
        match = _PREPARE_LINE.match(block.text)
        if not match or (
            self.current is not None
            and len(self.current.steps) > 2
            and block.kind == "item"
            and not block.text.startswith("Remove first:")
        ):
            return False
        if re.search(
            r"^\W*(?:[^,:]{3,60},? )?(?:first,? )?remove (?:the following|these)",
            block.text,
            re.IGNORECASE,
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
            rest = _REMOVE_THESE.sub("", self._asked_as(rest, block.line))
            for piece in re.split(
                r"[;•]|(?:^|(?<=\s))\(?[a-h1-9]\)\s|(?<=[a-z0-9)])\.\s+(?=[A-Z])|,(?![^(]*\))|\s+and\s+(?=(?:the|wait|let|turn|switch|unplug|disconnect|remove|open|take|make|allow|drain|isolate|close|head|power)\b)",
                rest,
            ):
                for required in before.listed(piece.strip(), self.lexicon):
                    self._require(required, block.line)
        else:
            self.list_prepares = True
            self.prepare_first = None
        return True

    def _goal(self, block: Block) -> bool:
        """As in "To remove the fan:", "Follow these steps to install the lid:": opens a procedure like a heading."""
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
                self._keep_tools(named, _number_of(block.text) if len(named) == 1 else "")
                self.mark(block, "used" if named else "other", "tool list")
                return
        if block.kind == "item" or self._has_command(block.text):
            self.mode = "steps"
            self.text(block)
            return
        self.mark(block, "other", "tool list")

    def _keep_tools(self, named: list[Thing], number: str = "") -> None:
        for thing in named:
            told = thing.drive.split()[0].lower() if thing.drive else ""
            is_said = told in thing.name.lower() or (
                told == "phillips" and "cross" in thing.name.lower()
            )
            number = number if told and not re.search(r"\d", f"{thing.drive}{thing.name}") else ""
            drive = "" if is_said else thing.drive
            name = " ".join(part for part in (drive, thing.name, number) if part)
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
        for low, high in sentence_spans(block.text):
            sentence = block.text[low:high]
            if ":" in sentence and self._asked_of_all(sentence, block.line_at(low)):
                self.mark(block, "used")
        heading = self.context[-1][1].words if self.context else ""
        self.mark(block, "other", f"under '{heading}', no procedure" if heading else "no procedure")

    def _prepare_paragraph(self, block: Block) -> None:
        """Running text under "Before you start": only what it asks for counts."""
        for low, high in sentence_spans(block.text):
            sentence = block.text[low:high]
            found = before.of_sentence(
                sentence, block.text[high:], self.lexicon, first=True, ahead=True
            )
            if not found and before.is_state(sentence, self.lexicon):
                found = [Required("state", sentence)]
            emptied = _MADE_READY.match(sentence) if not found else None
            if emptied:
                found = [Required("state", emptied["state"].strip(" .,;"))]
            for required in found:
                self._require(required, block.line_at(low))
        self.mark(block, "used")

    def _prepare_line(self, block: Block) -> None:
        any_found = False
        if block.kind == "para" and len(block.text.split()) > 25:
            self._prepare_paragraph(block)
            return
        for low, high in sentence_spans(block.text):
            sentence = block.text[low:high]
            if re.match(r"^\W*(?:see|refer to|for more)\b", sentence, re.IGNORECASE):
                continue
            rest = self._asked_as(sentence, block.line_at(low))
            any_found = any_found or rest != sentence
            for required in before.listed(rest, self.lexicon):
                any_found = True
                self._require(required, block.line_at(low))
        self.mark(block, "used" if any_found else "other", "" if any_found else "preparation")


def _overlaps(left: str, right: str) -> bool:
    return bool({w.lower() for w in left.split()} & {w.lower() for w in right.split()})


def _number_of(text: str) -> str:
    """As in "no. 0" of "Cross-recess screwdriver no. 0"."""
    match = re.search(r"(?:\bno\.?|\bsize|#)\s?(\d)\b(?!\s?mm)", text, re.IGNORECASE)
    return f"no. {match[1]}" if match else ""


def mark_class(mark: str) -> str:
    """Kind of a list mark: bullet, number, letter."""
    bare = mark.strip("().[] ")
    return (
        "number"
        if bare[:1].isdigit() or bare.lower().startswith("step")
        else "letter"
        if bare.isalpha() and len(bare) < 3 and bare != "o"
        else "bullet"
    )
