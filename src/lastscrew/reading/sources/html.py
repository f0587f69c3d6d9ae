"""HTML: the visible blocks, each on the physical line where it starts where that is possible."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

from lastscrew.reading.model import Line, LineKind
from lastscrew.reading.sources.limits import MAX_LINES, refuse

_SKIPPED = frozenset(
    [
        "script",
        "style",
        "head",
        "nav",
        "noscript",
        "template",
        "svg",
        "form",
        "button",
        "select",
        "iframe",
        "object",
        "aside-menu",
    ]
)
_BLOCKS = frozenset(
    [
        "p",
        "div",
        "section",
        "article",
        "main",
        "header",
        "footer",
        "h1",
        "h2",
        "h3",
        "h4",
        "h5",
        "h6",
        "li",
        "ul",
        "ol",
        "dl",
        "dt",
        "dd",
        "table",
        "tr",
        "blockquote",
        "pre",
        "figure",
        "figcaption",
        "aside",
        "br",
        "hr",
        "td",
        "th",
        "caption",
        "address",
        "details",
        "summary",
        "tbody",
        "thead",
    ]
)
_ORDER = re.compile(
    r"^(?:remove|disconnect|open|take|detach|removing|opening|uninstall|unplug)\b", re.IGNORECASE
)
_VOID = frozenset(
    [
        "br",
        "hr",
        "img",
        "input",
        "meta",
        "link",
        "source",
        "wbr",
        "area",
        "base",
        "col",
        "embed",
        "track",
        "param",
    ]
)


@dataclass
class _Open:
    """A block under way."""

    line: int
    kind: LineKind = "text"
    level: int = 0
    mark: str = ""
    pieces: list[str] = field(default_factory=list)
    indent: int = 0


class _Extractor(HTMLParser):
    """Collects blocks of visible text with the line where each begins."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.rows: list[Line] = []
        self.skipping: list[str] = []
        self.open = _Open(1)
        self.lists: list[list[int | str]] = []
        self.cells: list[str] | None = None
        self.row_line = 1
        self.link: tuple[str, int] | None = None
        self.caption = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open a block, a list, a row or a link."""
        if tag in _SKIPPED:
            self.skipping.append(tag)
            return
        if self.skipping:
            return
        line = self.getpos()[0]
        if tag in ("td", "th"):
            self._cell_start()
        elif tag in _BLOCKS and self.cells is None:
            self._flush()
            self.open = _Open(line, indent=2 * max(0, len(self.lists) - 1))
        if tag == "tr":
            self.cells, self.row_line = [], line
        elif tag in ("ul", "ol"):
            start = dict(attrs).get("start") or "1"
            kind = (dict(attrs).get("type") or "1").lower()
            self.lists.append(
                [int(start) if start.isdigit() else 1, tag if tag == "ul" else f"ol{kind}"]
            )
        elif tag == "li":
            self.open.kind, self.open.mark = "item", self._next_mark()
        elif re.fullmatch(r"h[1-6]", tag):
            self.open.kind, self.open.level = "heading", int(tag[1])
        elif tag == "dt":
            self.open.kind, self.open.level = "heading", 6
        elif tag in ("figcaption", "caption"):
            self.open.kind = "caption"
        elif tag == "a":
            self.link = (dict(attrs).get("href") or "", len(self.open.pieces))

    def handle_endtag(self, tag: str) -> None:
        """Close what was opened."""
        if self.skipping:
            if tag == self.skipping[-1]:
                self.skipping.pop()
            return
        if tag == "a" and self.link is not None:
            self._end_link()
        elif tag in ("td", "th"):
            self._cell_end()
        elif tag == "tr" and self.cells is not None:
            row = " | ".join(self.cells)
            if row.strip(" |"):
                self.rows.append(Line(self.row_line, row, "table"))
            self.cells = None
            self.open = _Open(self.getpos()[0])
        elif tag in ("ul", "ol") and self.lists:
            self._flush()
            self.lists.pop()
        elif tag in _BLOCKS and tag not in _VOID and self.cells is None:
            self._flush()

    def handle_data(self, data: str) -> None:
        """Text of the open block."""
        if self.skipping:
            return
        if not self.open.pieces and data.strip():
            leading = len(data) - len(data.lstrip())
            self.open.line = self.getpos()[0] + data[:leading].count("\n")
        if data.strip() or self.open.pieces:
            self.open.pieces.append(data)

    def _next_mark(self) -> str:
        if not self.lists or self.lists[-1][1] == "ul":
            return "-"
        number = self.lists[-1][0]
        assert isinstance(number, int)
        self.lists[-1][0] = number + 1
        return (
            f"{chr(96 + number)}." if self.lists[-1][1] == "ola" and number < 27 else f"{number}."
        )

    def _end_link(self) -> None:
        assert self.link is not None
        target, start = self.link
        text = "".join(self.open.pieces[start:]).strip()
        if target and not re.match(r"^(?:https?:|mailto:)", target) and _ORDER.match(text):
            self.open.pieces.append(" (see link)")
        self.link = None

    def _cell_start(self) -> None:
        self.open = _Open(self.getpos()[0])

    def _cell_end(self) -> None:
        if self.cells is not None:
            self.cells.append(_squeeze("".join(self.open.pieces)).replace("|", "/"))
        self.open = _Open(self.getpos()[0])

    def _flush(self) -> None:
        text = _squeeze("".join(self.open.pieces))
        if text:
            block = self.open
            self.rows.append(
                Line(
                    block.line,
                    " " * block.indent + text if block.kind == "item" else text,
                    block.kind,
                    level=block.level,
                    mark=block.mark,
                )
            )
        if len(self.rows) > MAX_LINES:
            raise refuse("The page has too many blocks.", "Split it.", "too_large")
        self.open = _Open(self.getpos()[0])

    def close(self) -> None:
        """End of input: keep what is still open."""
        super().close()
        if self.cells:
            self.rows.append(Line(self.row_line, " | ".join(self.cells), "table"))
        self._flush()


def _squeeze(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def html_lines(text: str, name: str) -> tuple[Line, ...]:
    """Visible lines of a page.

    Where every block begins on a physical line of its own, lines keep the numbers of the file, with blank lines
    between; else (a page on one line) the blocks are numbered one after another.
    """
    extractor = _Extractor()
    extractor.feed(text)
    extractor.close()
    rows = extractor.rows
    if not rows:
        raise refuse(
            "The page shows no text.",
            "Save the page as it is shown, not only its program.",
            "no_text",
            name,
        )
    numbers = [row.number for row in rows]
    physical = (
        all(left < right for left, right in itertools.pairwise(numbers))
        and numbers[-1] <= MAX_LINES
    )
    lines: list[Line] = []
    for row in rows:
        while physical and len(lines) + 1 < row.number:
            lines.append(Line(len(lines) + 1, "", "blank"))
        lines.append(Line(len(lines) + 1, row.text, row.kind, row.level, row.mark))
        if not physical:
            lines.append(Line(len(lines) + 1, "", "blank"))
    return tuple(lines)


def looks_like_html(text: str) -> bool:
    """True where a text begins like a page or is full of tags."""
    head = text[:2000].lower()
    return (
        "<!doctype html" in head
        or "<html" in head
        or len(re.findall(r"<(?:p|li|h[1-6]|div|td)\b[^>]*>", text[:20_000], re.IGNORECASE)) >= 5
    )
