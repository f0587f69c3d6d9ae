"""A whole text: which procedures it holds, what each line gave."""

from __future__ import annotations

import re
from collections.abc import Callable

from lastscrew.reading.blocks import Block, blocks_of
from lastscrew.reading.headings import GUIDE_TITLE
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Line, Source
from lastscrew.reading.recited import recited_blocks
from lastscrew.reading.speech import (
    speech_blocks,
)
from lastscrew.reading.walk_headings import HeadingWalk
from lastscrew.reading.walk_sentences import SentenceWalk
from lastscrew.reading.walk_state import Document


class Walker(HeadingWalk, SentenceWalk):
    """Goes through the blocks of a text from top to bottom."""

    work_begins: frozenset[int] = frozenset()
    """Lines on which numbered work begins below what is asked for, without a heading between."""

    def walk(self, progress: Callable[[int, int], None] | None = None) -> Document:
        """Read every block."""
        spoken = self.document.source.spoken
        blocks = (
            speech_blocks(self.document.source)
            if spoken
            else recited_blocks(self.document.source, self.lexicon)
            if self.document.source.recited
            else blocks_of(self.document.source, self.lexicon)
        )
        if not spoken:
            self._title_line(blocks)
            self.work_begins = work_begins(blocks)
        total = len(blocks)
        for index, block in enumerate(blocks):
            self.block(block)
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

    def _title_line(self, blocks: list[Block]) -> None:
        """As in "Alder 13: service manual" above everything else: names the machine, opens nothing."""
        first = next((block for block in blocks if block.kind != "furniture"), None)
        if first is None or first.kind != "para" or len(first.numbers) > 1 or self.document.title:
            return
        match = GUIDE_TITLE.match(first.text.strip())
        if match is not None and not first.text.rstrip().endswith((".", ",", ";")):
            self.document.title = first.text.strip()
            self.document.title_part = match["name"].strip(" -–—:,")
            self.mark(first, "heading")

    def block(self, block: Block) -> None:
        """One block by its kind."""
        if block.kind != "item":
            self.list_prepares = self.list_prepares and block.kind == "table"
        if self.open_signal and block.kind in ("para", "item") and not block.signal:
            signal, self.open_signal = self.open_signal, ""
            self._caution(block, signal, block.text)
            return
        if block.kind == "furniture":
            self.mark(block, "other", block.reason or "page furniture")
            self.shift -= self.document.source.recited  # distances go by what is said
        elif block.kind == "caption":
            self.mark(block, "other", "caption")
        elif block.kind == "heading":
            self.heading(block)
        elif block.signal:
            self.signal(block)
        elif block.kind == "legend":
            self.legend(block)
        elif block.kind == "table":
            self.table(block)
        else:
            self.text(block)

    def text(self, block: Block) -> None:
        """A paragraph or list item by the mode in which it stands."""
        if self.mode == "tools":
            self._tool_line(block)
            return
        if self._denied(block):
            self.mode = "none"
        if self.mode == "none":
            self._no_procedure(block)
            return
        if self.opens_preparation(block) or (block.kind == "para" and self._legend_row(block)):
            return
        if self._tools_said(block):
            return
        if block.line in self.work_begins and self.mode == "prepare":
            self.mode = "steps"
        if block.kind == "item" and (self.list_prepares or self.mode == "prepare"):
            self._end_of_preparation(block)
        if self.mode == "prepare" or (self.list_prepares and block.kind == "item"):
            if not (self.mode == "prepare" and block.kind == "para" and self._goal(block)):
                self._prepare_line(block)
                return
        if self._goal(block):
            return
        before = self.current
        block = self._announces(block)
        self.sentences(block, item=block.kind == "item")
        self._settle_announced(before)
        if block.kind == "para" and block.text.rstrip().endswith(":") and self.mode == "prepare":
            self.mode = "steps"

    def _denied(self, block: Block) -> bool:
        """As in "Can I replace the chip? No, it is soldered.": the answer orders nothing."""
        current = self.current
        asked = (
            current is not None
            and not current.steps
            and current.heading.rstrip('*_" ').endswith("?")
        )
        return asked and block.kind == "para" and bool(_NO.match(block.text))


_NO = re.compile(
    r"^\W*(?:no\b(?!\s+(?:tools?|screws?))|please don't|please do not|don't\b|do not\b|never\b|you can't|you cannot|better not|not (?:really|recommended|possible))",  # noqa: E501
    re.IGNORECASE,
)


def work_begins(blocks: list[Block]) -> frozenset[int]:
    """First lines of numbered lists that are work although they stand under "Before you begin".

    There a paragraph has said what must be so ("The lid is closed."), and the section has one numbered list and no
    title ("Steps") behind it that would open the work.
    """
    found: set[int] = set()
    for i, block in enumerate(blocks):
        if block.heading is None or block.kind != "heading" or block.heading.kind != "prepare":
            continue
        end = next(
            (k for k in range(i + 1, len(blocks)) if blocks[k].kind == "heading"), len(blocks)
        )
        own = [row for row in blocks[i + 1 : end] if row.kind in ("para", "item")]
        firsts = [row for row in own if row.kind == "item" and row.mark.strip("().[] ") == "1"]
        title = blocks[end].heading if end < len(blocks) else None
        opens = title is not None and (title.kind in ("steps", "step") or not title.part)
        if (
            len(firsts) == 1
            and own[0].kind == "para"
            and not own[own.index(firsts[0]) - 1].text.rstrip().endswith(":")
            and not (opens and title is not None and title.kind != "none")
        ):
            found.add(firsts[0].line)
    return frozenset(found)


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
