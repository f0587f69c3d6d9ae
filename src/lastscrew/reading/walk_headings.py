"""Headings of a text: each opens a procedure, a mode, or names the part for those beneath it."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading import prerequisites as before
from lastscrew.reading.blocks import Block
from lastscrew.reading.headings import Heading
from lastscrew.reading.lexicon.morphology import is_plural
from lastscrew.reading.model import Thing
from lastscrew.reading.refers_to import number_of
from lastscrew.reading.run_in import run_in
from lastscrew.reading.said_once import said_for_all
from lastscrew.reading.walk_state import Builder, WalkState

_A_HALF = 2
"""Acts that make a half of the work."""


class HeadingWalk(WalkState):
    """Headings: which procedure, which half, which mode."""

    announced: Builder | None = None
    """The half that the opening words of the paragraph under way have opened."""

    def heading(self, block: Block) -> None:
        """A heading opens a procedure, a mode, or names the part for those beneath it."""
        heading = block.heading
        assert heading is not None
        self.mark(block, "heading")
        self.lead = ""
        self.open_signal = ""
        if block.text.rstrip().endswith(":") and self.opens_preparation(block):
            return
        if not self.document.title and heading.kind not in ("prepare", "tools", "none"):
            self.document.title = heading.words or block.text
            self.document.title_part = heading.part or self.document.title
        if heading.kind == "step":
            self._flush_step_heading()
            if self.current is None or self.mode != "steps":
                self.mode = "steps"
                if self.current is None:
                    self._open(
                        self._context_part() or self.document.title_part,
                        "removal",
                        block,
                        guessed=True,
                    )
            self.step_heading = block
            self._speaks_of(heading.part)
            if block.text.rstrip().endswith(":"):
                self.leads(block.text)
            if heading.half in ("refit", "removal"):
                self.memory.refitting = heading.half == "refit"
            return
        self._flush_step_heading()
        number = number_of(block.text, block.mark)
        if number and heading.part:
            self.numbered[number] = re.sub(r"^(?:[Tt]he|[Aa]n?)\s+", "", heading.part)
        level = self._fold(heading, block.level or 3)
        self.for_all = heading.kind == "prepare" and said_for_all(block.text)
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
        self._speaks_of(heading.part)
        for required in before.named_in_title(block.text, self.lexicon):
            self._require(required, block.line)
        self.context.append((level, heading, block))

    def _announces(self, block: Block) -> Block:
        """As in "When installing: hook the edge in first": the words before the colon open the other half."""
        self.announced = None
        half, start = run_in(block.text) if block.kind == "para" else ("", 0)
        if not half or self.document.source.spoken:
            return block
        current = self.current
        part = current.part if current is not None else self._context_part()
        if half == "refit" and (current is None or current.kind != "refit"):
            self._open(part, "refit", block)
        elif half == "removal" and (current is None or current.steps):
            self._open(part, "removal", block)
        self.announced = self.current if self.current is not current else None
        self.memory.refitting = half == "refit"
        self._speaks_of(part)
        return replace(block, text=" " * start + block.text[start:])

    def _settle_announced(self, before: Builder | None) -> None:
        """A hint or two ("When installing: make sure that …") are no half of their own."""
        opened, self.announced = self.announced, None
        if opened is None or before is None or self.current is not opened:
            return
        work = sum(action.klass != "other" for step in opened.steps for action in step.actions)
        if work < _A_HALF:
            before.steps += opened.steps
            before.prerequisites += opened.prerequisites
            self.document.builders.remove(opened)
            self.current = before
            self.memory.refitting = before.kind == "refit"

    def _fold(self, heading: Heading, level: int) -> int:
        """Close the headings that this one ends; "Removal" without a part stays below the part's own heading."""
        keeps_part = not heading.part and (
            heading.kind in ("removal", "refit", "both", "steps", "prepare", "tools")
        )
        while self.context and self.context[-1][0] >= level:
            top = self.context[-1]
            if keeps_part and top[0] == level and top[1].kind == "neutral":
                return level + 1
            self.context.pop()
        return level

    def _procedure_heading(self, block: Block, heading: Heading, level: int) -> None:
        part = heading.part or self._context_part() or self._part_just_removed(heading)
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
                part or self.document.title_part,
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
            self._open(part or self.document.title_part, kind, block, level=level)
        else:
            self.current = None
            self.memory.refitting = (self._context_kind() or self._usual_kind()) == "refit"

    def _speaks_of(self, part: str) -> None:
        """What a heading names is what "it" means at first: "The arm" is a part, whatever else an arm may be."""
        name = re.sub(r"^(?:[Tt]he|[Aa]n?)\s+", "", part)
        words = tuple(name.lower().split())
        generic = (
            words[-1:] in (("unit",), ("assembly",), ("part",), ("component",), ("module",))
            and len(words) < 2
        )
        several = bool(re.search(r",|\band\b|&|/", name))
        if self.document.source.spoken or not words or len(words) > 4 or generic or several:
            return
        category = self.lexicon.category(words)
        named_like = ("lock", "clip", "button", "tool")
        if category in ("part", "cover", "board", "card", "drawer", *named_like):
            kind = "part" if category in named_like else category
            self.memory.titled.add(name.lower())
            self.memory.mention(
                Thing(name, words[-1], kind, article="the", plural=is_plural(words[-1]))
            )

    def _part_just_removed(self, heading: Heading) -> str:
        """As in "Reassembly" right behind the removal of a part puts that part back."""
        last = self.document.builders[-1] if self.document.builders else None
        if heading.kind == "refit" and last is not None and last.kind == "removal" and last.steps:
            return last.part
        return ""

    def _half_of(self, heading: Heading, part: str) -> str:
        """As in "Replacement" below or beside the removal of the same part is its other half."""
        if heading.kind != "both":
            return heading.kind
        first = heading.words.lower()
        if not re.match(r"^(?:replac|re-plac)", first) and not first.endswith("replacement"):
            return "both"
        for builder in reversed(self.document.builders):
            if builder.steps and builder.kind == "removal" and builder.part.lower() == part.lower():
                return "refit"
        return "both"

    def _flush_step_heading(self) -> None:
        """A heading such as "Step 2: Remove the lid" is the step itself where nothing beneath it is."""
        block = self.step_heading
        self.step_heading = None
        if block is None:
            return
        used = self.current is not None and any(
            step.line > block.line and any(action.klass != "other" for action in step.actions)
            for step in self.current.steps
        )
        if not used:
            self.sentences(block, item=True)


def _only_other(builder: Builder) -> bool:
    """True where nothing was opened or closed yet."""
    return all(action.klass == "other" for step in builder.steps for action in step.actions)


def _overlaps(left: str, right: str) -> bool:
    return bool({w.lower() for w in left.split()} & {w.lower() for w in right.split()})
