"""Transcripts that were written before they were spoken: the calm voice over a maker's film.

Its sentences are whole and say no "it's" or "okay"; only the captions cut them. Put together again they are running
text with spoken titles ("Removing the fan."), and the grammar of written texts reads them.
"""

from __future__ import annotations

import re
from itertools import pairwise

from lastscrew.reading.blocks import Block, with_headings
from lastscrew.reading.headings import classify
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Line, Source
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import sentence_spans, tokenise

_CHATTY = re.compile(
    r"\b(?:[a-z]+['’](?:s(?=\s+(?:a|the|an|not|out|off|in|on|all|it|been|got)\b)|re|ve|ll|d|m)|[a-z]+n['’]t|(?:it|that|there|what|here|let)['’]s|okay|ok|gonna|wanna|gotta|yeah|um+|uh+|er+m*|i)\b",
    re.IGNORECASE,
)
_FEW_CHATTY = 200
"""One such word in so many is a slip; talk has one in forty."""
_LONG_ENOUGH = 60
_TITLE_WORDS = 8
_NUMBERED = re.compile(
    r"^\W*(?:step|chapter|part|section|stage)\s+(?:\d{1,2}|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)\s*[.:,–-]\s*(?=\w)",
    re.IGNORECASE,
)
_PARTS = frozenset(["part", "cover", "board", "card", "drawer"])


def is_recited(source: Source) -> bool:
    """True for a transcript of whole sentences without any turn of talk."""
    if not source.spoken:
        return False
    text = " ".join(line.text for line in source.lines if line.kind != "furniture")
    words = len(text.split())
    stops = re.findall(r"[a-z0-9)]{2}[.!?](?:\s+(.)|\s*$)", text)
    capitals = sum(1 for letter in stops if not letter or letter.isupper() or letter.isdigit())
    return (
        words >= _LONG_ENOUGH
        and len(stops) * 30 > words > len(stops) * 6
        and capitals * 10 >= len(stops) * 9
        and len(_CHATTY.findall(text)) * _FEW_CHATTY < words
    )


def recited_blocks(source: Source, lexicon: Lexicon) -> list[Block]:
    """Paragraphs that end where a sentence and a caption end together; spoken titles are headings."""
    blocks = [
        Block("furniture", line.text, [line.number], reason=line.reason)
        for line in source.lines
        if line.kind == "furniture"
    ]
    spoken = [line for line in source.lines if line.kind != "furniture" and line.text.strip()]
    run: list[Line] = []
    for line, following in pairwise([*spoken, None]):
        if line is None:
            break
        run.append(line)
        caption_ends = following is None or following.time_s != line.time_s
        if caption_ends and line.text.rstrip().endswith((".", "!", "?")):
            blocks.append(_block(run, lexicon))
            run = []
    if run:
        blocks.append(_block(run, lexicon))
    blocks.sort(key=lambda block: block.line)
    with_headings(blocks, lexicon)
    return blocks


def _block(run: list[Line], lexicon: Lexicon) -> Block:
    block = Block("para", run[0].text.strip(), [run[0].number])
    for line in run[1:]:
        block.starts.append(len(block.text) + 1)
        block.numbers.append(line.number)
        block.text += " " + line.text.strip()
    if _is_title(block.text, lexicon):
        block.kind, block.level = "heading", 2
    return block


def _is_title(text: str, lexicon: Lexicon) -> bool:
    """As in "Removing the fan.", "Removal of the drum.", "Before you begin.": spoken alone, orders nothing."""
    numbered = _NUMBERED.match(text)
    rest = text[numbered.end() :] if numbered is not None else text
    if len(rest.split()) > _TITLE_WORDS or len(sentence_spans(rest)) > 1 or "," in rest:
        return False
    heading = classify(rest, lexicon)
    if heading.strong and heading.kind != "none" and not heading.imperative:
        return True
    tokens = tokenise(rest, lexicon)
    thing, end = Phrases(tokens, lexicon).phrase(0)
    kinds = _PARTS | {"unknown"} if numbered is not None else _PARTS
    named = thing is not None and thing.category in kinds and thing.article in ("", "the")
    return named and all(token.kind == "mark" for token in tokens[end:])
