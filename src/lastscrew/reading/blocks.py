"""From physical lines to blocks: headings, list items, paragraphs, notes, table rows, captions."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from typing import Literal

from lastscrew.reading.headings import Heading, classify, says_work_behind
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Line, Source

BlockKind = Literal["heading", "item", "para", "table", "legend", "furniture", "caption"]

MARK = re.compile(
    r"^(?P<indent>\s*)(?P<mark>"
    r"(?:step|STEP|Step)\s+\d+[a-z]?\s*(?:[.:)\-–—]+|(?=\s))"
    r"|\d{1,3}(?:\.\d{1,3}){1,3}\.?(?=\s)|\d{1,2}-\d{1,2}[.)]?(?=\s+[A-Z][A-Za-z])(?!\s+[A-Z]\d)"
    r"|\d{1,2}\s?、|[一二三四五六七八九十]{1,3}\s?[、.．](?=\s*\S)|[①-⑳]"  # noqa: RUF001
    r"|\d{1,3}\s?[.)](?=\s)|\d{1,3}[.)](?=[A-Z])|\(\d{1,3}\)(?=\s)|\[\d{1,3}\](?=\s)|\d{1,2}(?=\s{1,4}[A-Z][a-z]+)"
    r"|[a-zA-Z][.)](?=\s)|\([a-z]\)(?=\s)|(?:[ivx]{1,4})[.)](?=\s)"
    r"|#\.(?=\s)|[-*+•–—▪▫■□◆★☆●○◦‣►▶➤✓✔·§o](?=\s)|[•▪■●►▶➤✓✔·](?=\S)|→\s|>>\s"
    r")\s*",
)
_LEGEND = re.compile(
    r"^\s*(?:\(\d{1,3}\)|\[\d{1,3}\]|\d{1,2}\s)\s*(?P<name>(?:[^.;:]|(?<=\d)\.(?=\d)){2,60}?)\s*(?:\((?P<count>\d{1,3})\)|[x×]\s?(?P<times>\d{1,3})|,\s*\d{1,3} (?:pieces?|pcs?|off|times|ea(?:ch)?)\.?)?\s*$"  # noqa: E501
)
_CAPTION = re.compile(
    r"^\s*(?:figure|fig\.|image|photo|picture|table|illustration)\s*\d+[\w.-]*[.:\s–-]",
    re.IGNORECASE,
)
_RULE = re.compile(r"^\s*(?:[-=_*~+#|]\s?){3,}$")


MAX_BLOCK_LINES = 200
"""A longer run of lines is parted, so that the time stays in proportion."""


@dataclass
class Block:
    """A run of lines that belong together.

    ``starts`` are offsets in ``text`` where each of ``numbers`` begins.
    """

    kind: BlockKind
    text: str
    numbers: list[int]
    starts: list[int] = field(default_factory=lambda: [0])
    level: int = 0
    mark: str = ""
    indent: int = 0
    signal: str = ""
    heading: Heading | None = None
    reason: str = ""
    cells: tuple[str, ...] = ()

    def line_at(self, offset: int) -> int:
        """Physical line of a character of ``text``."""
        return self.numbers[max(0, bisect_right(self.starts, offset) - 1)]

    @property
    def line(self) -> int:
        """First physical line."""
        return self.numbers[0]


def blocks_of(source: Source, lexicon: Lexicon) -> list[Block]:
    """Blocks of a written text, headings classified, a table of contents set aside."""
    blocks = _first_pass(source, lexicon)
    with_headings(blocks, lexicon)
    _find_contents(blocks)
    return blocks


def _find_contents(blocks: list[Block]) -> None:
    """Lines that only repeat a heading that comes later are a table of contents."""
    titles = {
        _title_key(block.text): index
        for index, block in enumerate(blocks)
        if block.kind == "heading"
    }
    for index, block in enumerate(blocks):
        if (
            block.kind in ("item", "para", "heading", "table")
            and titles.get(_title_key(block.text), -1) > index
            and (block.kind != "heading" or re.search(r"\.{3,}\s*\d+$|\s\d{1,3}$", block.text))
        ):
            block.kind, block.reason, block.signal = "furniture", "contents", ""


def _title_key(text: str) -> str:
    text = re.sub(r"\(see link\)|[.\s·…_]{3,}\s*[\divxA-Z-]+\s*$|^\s*[\d.]+\s+", "", text)
    return re.sub(r"[^a-z0-9]+", " ", text.lower()).strip() or text


def _first_pass(source: Source, lexicon: Lexicon) -> list[Block]:
    blocks: list[Block] = []
    open_block: Block | None = None
    width = _usual_width(source)
    for line in source.lines:
        if line.kind == "blank" or not line.text.strip():
            open_block = None
            continue
        block = _own_block(line, lexicon) or _columns(line)
        if block is None and _RULE.match(line.text):
            _underline(blocks, line)
            open_block = None
            continue
        if block is not None:
            blocks.append(block)
            open_block = block if block.kind in ("item", "para") else None
            continue
        if open_block is not None and _continues(open_block, line, lexicon, width):
            _append(open_block, line)
            continue
        open_block = _paragraph(line)
        blocks.append(open_block)
    return blocks


def _usual_width(source: Source) -> int:
    widths = sorted(len(line.text) for line in source.lines if line.text.strip())
    return widths[int(len(widths) * 0.9)] if widths else 80


def _own_block(line: Line, lexicon: Lexicon) -> Block | None:
    """A block where the line alone says what it is; None for running text."""
    text = line.text
    if line.kind == "furniture":
        return Block("furniture", text, [line.number], reason=line.reason)
    if line.kind == "heading":
        return Block("heading", text.strip(), [line.number], level=line.level or 2)
    if line.kind == "caption" or (_CAPTION.match(text) and len(text.split()) < 16):
        return Block("caption", text.strip(), [line.number], reason="caption")
    if line.kind == "table":
        cells = tuple(cell.strip() for cell in text.strip().strip("|").split("|"))
        return Block("table", text.strip(), [line.number], cells=cells)
    if line.kind == "item":
        return Block(
            "item",
            text.strip(),
            [line.number],
            mark=line.mark or "-",
            indent=len(text) - len(text.lstrip()),
        )
    if _RULE.match(text):
        return None
    return _marked(line, lexicon)


_GAPS = re.compile(r"\s{3,}|\t+")


def _columns(line: Line) -> Block | None:
    """A row of a table that is laid out with spaces or tabs."""
    cells = [cell.strip() for cell in _GAPS.split(line.text.strip()) if cell.strip()]
    if (
        len(cells) < 3
        or (MARK.match(line.text) and not cells[0].isdigit())
        or sum(len(cell.split()) for cell in cells) > 8 * len(cells)
    ):
        return None
    return Block("table", line.text.strip(), [line.number], cells=tuple(cells))


def _marked(line: Line, lexicon: Lexicon) -> Block | None:
    match = MARK.match(line.text)
    if not match:
        return None
    rest = line.text[match.end() :]
    mark = match["mark"].strip()
    if not rest.strip():
        return Block("item", "", [line.number], mark=mark, indent=len(match["indent"]))
    if mark.isdigit() and not (rest[:1].isupper() and _starts_like_step(rest, lexicon)):
        return None
    if mark == "o" and not rest[:1].isupper():
        return None
    legend = _LEGEND.match(line.text)
    listed = re.search(r",\s*\d{1,3} (?:pieces?|pcs?)\.?\s*$", rest)
    step = not listed and _starts_like_step(rest, lexicon)
    if legend and mark.startswith(("(", "[")) and not step:
        return Block(
            "legend", line.text.strip(), [line.number], mark=mark, indent=len(match["indent"])
        )
    return Block("item", rest.rstrip(), [line.number], mark=mark, indent=len(match["indent"]))


def _starts_like_step(rest: str, lexicon: Lexicon) -> bool:
    words = re.findall(r"[A-Za-z'-]+", rest.lower())[:4]
    if not words:
        return False
    return any(
        lexicon.verb_of(word, "base", "ing")
        and not (lexicon.verbs[lexicon.verb_of(word, "base", "ing")].noun and len(words) < 3)
        for word in words[:2]
    ) or words[0] in (
        "using",
        "use",
        "with",
        "if",
        "when",
        "to",
        "on",
        "from",
        "the",
        "for",
        "at",
        "after",
        "before",
        "once",
        "do",
        "be",
        "carefully",
        "gently",
        "while",
        "repeat",
    )


def _underline(blocks: list[Block], line: Line) -> None:
    last = blocks[-1] if blocks else None
    char = line.text.strip()[:1]
    if (
        last is not None
        and last.kind == "para"
        and last.numbers[-1] == line.number - 1
        and len(last.numbers) == 1
        and char in "=-~^*"
        and len(last.text) < 90
    ):
        last.kind = "heading"
        last.level = 1 if char == "=" else 2
        last.numbers.append(line.number)
        last.starts.append(len(last.text))
    else:
        blocks.append(Block("furniture", line.text, [line.number], reason="rule"))


def _paragraph(line: Line) -> Block:
    text = line.text.strip()
    indent = len(line.text) - len(line.text.lstrip())
    return Block("para", text, [line.number], indent=indent)


def _continues(block: Block, line: Line, lexicon: Lexicon, width: int) -> bool:
    """True where a line goes on with the block above it rather than opening a new one."""
    if len(block.numbers) >= MAX_BLOCK_LINES:
        return False
    text = line.text.strip()
    last_start = block.starts[-1]
    last = block.text[last_start:].rstrip()
    if (
        text[:1].islower()
        or text[:1] in "(,;"
        or last.endswith((",", "-", " and", " the", " or", " to", " of", " a"))
    ):
        return True
    if _signal_of(text, lexicon)[0]:
        return False
    indent = len(line.text) - len(line.text.lstrip())
    if block.kind == "item" and indent <= block.indent and last.endswith((".", "!", ":", "?", ")")):
        return False
    if last.endswith(":"):
        return False
    if last.endswith((".", "!", "?")):
        return len(last) > width * 0.5 or indent > block.indent
    first = re.match(r"[A-Za-z'-]+", text)
    if first and lexicon.verb_of(first.group().lower(), "base") and len(last) < width * 0.75:
        return False
    return len(last) > width * 0.6 or (block.kind == "item" and indent > block.indent)


def _append(block: Block, line: Line) -> None:
    text = line.text.strip()
    if block.text.endswith("-") and text[:1].islower() and not block.text.endswith(" -"):
        block.text = block.text[:-1]
        joint = ""
    else:
        joint = " " if block.text else ""
    block.starts.append(len(block.text) + len(joint))
    block.numbers.append(line.number)
    block.text += joint + text


_QUOTE = re.compile(
    r"^\s*(?:>\s*)+|^\s*\.\.\s+|^\s*:::?\s*|^\s*!!!\s+|^[\s⚠️❗⛔✋🛑ℹ️⚡△▲✎✏!]+(?=[A-Z*])"  # noqa: RUF001
)
_SIGNAL = re.compile(
    r"^\W*(?P<word>[A-Za-z.]+(?:\s[A-Za-z]+)?)(?P<mark>\s*\]|\s*\*{0,2}\s*(?:[:!—–]|::|\s-\s)\*{0,2}|\s*$|\s*\d*\s*[:.]|\s+(?=[A-Z]))"
)


def _signal_of(text: str, lexicon: Lexicon) -> tuple[str, str]:
    """Signal word that opens a text, and the text behind it; ``("", text)`` where there is none."""
    quoted = _QUOTE.match(text)
    bare = text[quoted.end() :] if quoted else text
    bare = bare.lstrip("*_[]! ")
    match = _SIGNAL.match(bare)
    if not match:
        return "", text
    words = match["word"].lower().split()
    for length in (2, 1):
        key = " ".join(words[:length])
        signal = lexicon.cautions.get(key)
        if signal is None or len(words[:length]) < length:
            continue
        rest = bare[match.start("word") + len(" ".join(match["word"].split()[:length])) :]
        shouted = match["word"].split()[0].isupper() and len(key) > 2
        opened = re.match(r"^\s*(?:\]|\*{0,2}\s*(?:[:!—–]|::|-\s)|$|\d{1,2}\s*[:.])", rest)
        admonition = bool(quoted) and text.strip().startswith(("..", "!!!", ":::"))
        if opened or (shouted and rest[:1].isspace()) or admonition:
            return signal, rest.lstrip("]:!—–-*. \t")
    return "", text


def signal_of(text: str, lexicon: Lexicon) -> tuple[str, str]:
    """Public face of the test for a signal word."""
    return _signal_of(text, lexicon)


def with_headings(blocks: list[Block], lexicon: Lexicon) -> None:
    """Which of the blocks are headings and what these say, and which open with a signal word."""
    last_number = 0
    for index, block in enumerate(blocks):
        if block.kind not in ("para", "item", "heading"):
            continue
        block.signal = _signal_word(block, lexicon)
        if block.signal:
            block.kind = "para" if block.kind == "heading" else block.kind
            continue
        number = _plain_number(block)
        if block.kind != "heading":
            follows = number == last_number + 1 > 1 and _is_short_title(blocks, index, lexicon)
            if not follows and not _looks_like_heading(blocks, index, lexicon):
                continue
            block.kind, block.level = "heading", _level_of_mark(block.mark)
        last_number = number or last_number
        block.heading = classify(block.text, lexicon)
        stepwise = block.mark.lower().startswith("step") or re.match(
            r"^\W*step\s+\d", block.text, re.IGNORECASE
        )
        if stepwise and block.heading.kind not in ("prepare", "tools"):
            told = block.heading
            block.heading = Heading("step", told.part, told.kind, told.words)


def _signal_word(block: Block, lexicon: Lexicon) -> str:
    signal, _ = _signal_of(block.text, lexicon)
    preparing = block.kind == "heading" and classify(block.text, lexicon).kind in (
        "prepare",
        "tools",
    )
    return "" if preparing else signal


def _plain_number(block: Block) -> int:
    match = re.match(r"^(\d{1,2})[.)]?$", block.mark)
    return int(match[1]) if match else 0


def _is_short_title(blocks: list[Block], index: int, lexicon: Lexicon) -> bool:
    """As in "2. Hard disk module" after the heading "1. Disassembly of the keyboard"."""
    text = blocks[index].text.strip()
    following = blocks[index + 1] if index + 1 < len(blocks) else None
    return (
        following is not None
        and len(text.split()) <= 7
        and text[:1].isupper()
        and text[-1] not in ".:;,!"
        and not classify(text, lexicon).imperative
        and not _has_verb(text, lexicon)
        and (following.kind != "item" or _opens_list(following.mark))
    )


_FIGURE_BEHIND = re.compile(r"\s*\((?:see )?(?:fig|figure|table)\b[^()]*\)(?=\.?$)", re.IGNORECASE)
"""As in "TOP COVER REPLACEMENT (fig. 4-6)."."""


def _level_of_mark(mark: str) -> int:
    if re.match(r"^\(?[a-z][.)]", mark):
        return 5  # "a. Removal." below "4-12. COVER REPLACEMENT."
    if re.match(r"^\d+([.-]\d+)+", mark):
        return len(re.findall(r"[.-]", mark.rstrip(".)"))) + 2
    return 3


def _looks_like_heading(blocks: list[Block], index: int, lexicon: Lexicon) -> bool:
    block = blocks[index]
    text = _FIGURE_BEHIND.sub("", block.text.strip().rstrip("*_"))
    if text.isupper() and text.endswith(".") and len(text.split()) <= 9:
        text = text[:-1]
    words = text.split()
    asks = text.endswith("?") and block.kind == "para" and len(block.numbers) == 1
    if (
        asks
        and 2 < len(words) <= 20
        and re.match(
            r"(?i)^\W*(?:q\w*\s*\d*\s*[:.]|[^.]*\bhow (?:do|can|should|to|is|are)\b)", text
        )
    ):
        return True
    if _names_a_half(blocks, index, lexicon):
        return True
    if not words or len(words) > 11 or len(block.numbers) > 1 or text[-1] in ".;,!":
        return False
    following = blocks[index + 1] if index + 1 < len(blocks) else None
    if _is_told_title(blocks, index):
        return True
    if (
        re.search(r":\s+\S", text)
        and not re.match(
            r"(?i)^\W*(?:step|chapter|section|part|task|procedure|phase|stage|appendix)\b", text
        )
        and not re.match(r"^\d+(?:\.\d+)*\s*:", text)
        and not re.match(
            r"(?i)^\W*(?:\d+(?:\.\d+)*\s+)?(?:r\s?[/&]\s?r|remov(?:e|al)|removal\s?(?:and|/|&)\s?(?:installation|refitting|replacement)|replace(?:ment)?|refit(?:ting)?|installation|(?:dis|re)assembly|exchange)\s*:\s+(?:the )?[A-Za-z][\w /-]{1,40}$",  # noqa: E501
            text,
        )
        and not (text.endswith("?") and re.match(r"(?i)^\W*q(?:uestion)?\s*\d*\s*[:.]", text))
        and not (block.kind == "para" and says_work_behind(text, lexicon))
    ):
        return False
    if block.kind == "item":
        return _item_is_heading(blocks, index, lexicon)
    if not re.match(r"[\"'“*_]*[A-Z0-9]", text):
        return False
    if following is None:
        return False
    gap = following.line - block.numbers[-1] > 1
    before = (
        index == 0
        or block.line - blocks[index - 1].numbers[-1] > 1
        or blocks[index - 1].kind == "heading"
    )
    kind = classify(text, lexicon)
    if (
        text.isupper()
        and len(text) > 3
        and (kind.kind != "neutral" or (not index and len(words) > 2))
    ):
        return True
    if _is_capital_title(text, lexicon) and before and not gap:
        return True
    if text.endswith(":"):
        # "First take off the lid. Then:" and "Using a hex key, remove these screws:" are orders.
        told = re.search(r"(?i)[.;!?]\s+\S|^\W*(?:using|use|with)\s", text)
        return kind.kind != "neutral" and kind.strong and len(words) <= 9 and not told
    title_case = (
        sum(1 for word in words if word[:1].isupper() or not word[:1].isalpha() or len(word) < 4)
        >= len(words) * 0.75
    )
    if (
        kind.kind != "neutral"
        and kind.strong
        and (following.kind in ("item", "para", "table", "heading") or following.signal)
    ):
        if kind.imperative:
            anew = (
                before and gap and following.kind == "item" and following.mark[:2] in ("1.", "1)")
            )
            alone = len(words) == 1 and before and following.kind == "item"
            if alone or (anew and len(words) <= 8 and not text.endswith((".", ":"))):
                return True  # "Remove the power supply", "Refit" between two lists
            return (
                following.kind == "item"
                and following.mark[:1] in ("1", "a", "-", "•", "*", "(", "S", "s", "#")
                and not (blocks[index - 1].kind == "item" if index else False)
            ) or (title_case and len(words) <= 7 and before and gap)
        return before or following.kind == "item"
    if following.kind == "item" and re.match(r"^(?:[2-9]|\d\d)\b", following.mark):
        return False
    opens_text = (
        gap
        and before
        and len(following.text.split()) > 25
        and text[:4] in ("The ", "A fe", "Of t", "On t")
    )
    shape = title_case or (
        len(words) <= (9 if opens_text else 5)
        and not any(_is_plain_verb(word.lower(), lexicon) for word in words)
    )
    return (
        before
        and (
            gap or following.kind == "item" or (len(words) <= 5 and len(following.text.split()) > 8)
        )
        and shape
        and len(words) <= 8
        and not kind.imperative
        and not text.endswith(("?",))
        and not _has_verb(text, lexicon)
    )


def _names_a_half(blocks: list[Block], index: int, lexicon: Lexicon) -> bool:
    """As in "a. Removal." above "(1) …": the halves of an old manual."""
    block, following = blocks[index], blocks[index + 1 : index + 2]
    if not (following and re.match(r"^\(?[a-z][.)]", block.mark)):
        return False
    title = classify(block.text.strip(".: "), lexicon)
    halves = title.strong and title.kind in ("removal", "refit", "both")
    return (
        halves and len(block.text.split()) <= 3 and bool(re.match(r"^\(?1[.)]", following[0].mark))
    )


def _is_told_title(blocks: list[Block], index: int) -> bool:
    """As in "What you are going to do", "Before you touch anything" between two empty lines."""
    block, following = blocks[index], blocks[index + 1 : index + 2]
    return (
        block.kind == "para"
        and bool(re.match(r"(?:What|How|Where|Why|Before|After) (?:you|we)\b", block.text))
        and len(block.text.split()) <= 8
        and block.text.rstrip()[-1] not in ".,;:!?"
        and bool(following)
        and following[0].line > block.numbers[-1] + 1
        and (not index or block.line > blocks[index - 1].numbers[-1] + 1)
    )


def _is_capital_title(text: str, lexicon: Lexicon) -> bool:
    """As in "FAN" right above what is said of it: a part in capitals, on a line of its own."""
    words = re.findall(r"[A-Z]+", text)
    return (
        text.isupper()
        and bool(words)
        and len(text.split()) <= 4
        and not re.search(r"\d", text)
        and lexicon.is_noun(words[-1].lower())
    )


def _is_plain_verb(word: str, lexicon: Lexicon) -> bool:
    """A verb that is hardly ever a noun."""
    lemma = lexicon.verb_of(word, "base")
    return bool(lemma) and not lexicon.verbs[lemma].noun and not lexicon.is_noun(word)


def _has_verb(text: str, lexicon: Lexicon) -> bool:
    words = re.findall(r"[a-z']+", text.lower())
    return any(word in lexicon.words["be"] or word in lexicon.words["modals"] for word in words)


_WORK_LAST = re.compile(
    r"^[A-Z][\w/-]*(?: [\w/-]+){0,3} (?:dismantl(?:e|ing)|disassembl[ey]|exchange|replace(?:ment)?|change|assembl[ey]|install(?:ation)?|remov(?:e|al)|refit(?:ting)?)$"  # noqa: E501
)
"""As in "2. Control board dismantle", translated: a title that ends in its work."""


def _item_is_heading(blocks: list[Block], index: int, lexicon: Lexicon) -> bool:
    """As in "5.3.1 Removing the fan", "2. Removal" with its own list beneath, "Step 2: Bottom cover" with bullets."""
    block = blocks[index]
    text = _FIGURE_BEHIND.sub("", block.text.strip())
    if text.isupper() and text.endswith("."):
        text = text[:-1]
    following = blocks[index + 1] if index + 1 < len(blocks) else None
    if following is None or block.mark[:1] in "-*•+–—▪■●○◦‣►▶➤✓✔·o→>":
        return False
    kind = classify(text, lexicon)
    if re.match(r"^[一二三四五六七八九十]", block.mark):
        return len(text.split()) <= 6 and text[-1] not in ".;:,!"
    if _WORK_LAST.match(text) and re.match(r"^\(?\d{1,2}[.)]?$", block.mark) and kind.strong:
        return True
    multi = bool(re.match(r"^\d+[.-]\d+", block.mark))
    own_list = (
        following.kind == "item" and _opens_list(following.mark) and following.mark != block.mark
    ) or (
        following.kind == "para"
        and following.line > block.numbers[-1] + 1
        and not text.endswith(":")
    )
    if (
        multi
        and text[:1].isupper()
        and not (kind.imperative and not _next_is_inner(block, following))
    ):
        return True
    if (
        block.mark.lower().startswith("step")
        and not kind.imperative
        and not text.endswith((".", ":"))
        and len(text.split()) <= 8
        and not _has_verb(text, lexicon)
        and not _starts_like_step(text, lexicon)
    ):
        return True
    if (
        block.mark.lower().startswith("step")
        and kind.strong
        and not kind.imperative
        and not text.endswith((".", ":"))
        and following.kind != "heading"
        and not following.mark.lower().startswith("step")
    ):
        return True
    if block.mark.lower().startswith("step"):
        further = following.mark.lower().startswith("step")
        if following.kind == "item":
            return own_list and not further
        told = following.kind == "para" and len(following.text.split()) > len(text.split())
        return (
            told
            and (kind.strong or kind.imperative)
            and text[-1] not in ".:;,!"
            and len(text.split()) <= 8
        )
    inner = re.match(r"^\d{1,2}\.?$", block.mark) and following.kind == "item"
    if (
        inner
        and following.mark.startswith(block.mark.rstrip(".") + ".")
        and text[-1] not in ".:;,!"
    ):
        return text[:1].isupper() and len(text.split()) <= 8  # "3. Assembly process" above "3.1 …"
    if kind.imperative and not text.istitle():
        counted = bool(re.match(r"[\da-zA-Z(①]", following.mark))
        told = block.mark.startswith("(") and kind.kind == "both" and following.kind == "para"
        listed = own_list and counted
        return (listed or told) and kind.strong and _one_of_several_lists(blocks, index)
    return own_list and kind.kind != "neutral" and kind.strong and text[:1].isupper()


def _one_of_several_lists(blocks: list[Block], index: int) -> bool:
    """As in "1. Fix the display" above "1) … 2) …", and "2. Fix the board" above its own "1) … 2) …"."""
    block = blocks[index]
    mark = re.fullmatch(r"(\(?)(\d{1,2})([.):]?)", block.mark)
    if (
        mark is None
        or block.text.rstrip()[-1:] in ".;:,!"
        or len(block.text.split()) > _TITLE_WORDS
    ):
        return False
    for other, number in ((-1, int(mark[2]) - 1), (1, int(mark[2]) + 1)):
        at = index + other
        while 0 <= at < len(blocks) and blocks[at].mark != f"{mark[1]}{number}{mark[3]}":
            at += other
        if 0 < at < len(blocks) - 1 and blocks[at].indent <= block.indent:
            inner = blocks[at + 1]
            if inner.kind == "item" and _opens_list(inner.mark) and inner.mark != block.mark:
                return True
            if inner.kind == "para" and mark[1]:
                return True
    return False


_TITLE_WORDS = 7
"""A title has no more words than these."""


def _next_is_inner(block: Block, following: Block) -> bool:
    return (
        following.mark.startswith(block.mark.rstrip(".") + ".")
        or _opens_list(following.mark)
        or following.kind == "para"
    )


def _opens_list(mark: str) -> bool:
    return bool(
        re.match(
            r"^(?:1[.)、]?|①|a[.)]|A[.)]|\(1\)|\(a\)|i[.)]|[-*•▪■●○◦‣►▶➤·]|[Ss][Tt][Ee][Pp]\s1\b.*|#\.)$",
            mark,
        )
    )
