"""Markdown, line by line, so that line numbers stay those of the file."""

from __future__ import annotations

import re

from lastscrew.reading.model import Line, LineKind
from lastscrew.reading.sources.plain import check_lines

_IMAGE = re.compile(r"!\[[^\]]*\]\([^)]*\)|!\[[^\]]*\]\[[^\]]*\]|<img\b[^>]*>", re.IGNORECASE)
_LINK = re.compile(r"\[([^\]]+)\]\(([^)\s]*)(?:\s+\"[^\"]*\")?\)|\[([^\]]+)\]\[[^\]]*\]")
_STRONG = re.compile(r"(\*\*\*|\*\*|__)(?=\S)(.+?)(?<=\S)\1")
_EMPHASIS = re.compile(
    r"(?<![\w*])\*(?=[^\s*])([^*]+?)(?<=[^\s*])\*(?![\w*])|(?<!\w)_(?=\S)([^_]+?)(?<=\S)_(?!\w)"
)
_TAG = re.compile(r"</?[a-zA-Z][^<>]*>")
_WIKI_TITLE = re.compile(r"^(={2,5})([^=\n]+)\1\s*$", re.MULTILINE)
_ESCAPED = re.compile(r"\\([!-/:-@\[-`{-~])")
"""A sign that a backslash makes plain, as CommonMark lists them."""
_ASIDE = 0xE000
_SET_ASIDE = re.compile("[\ue021-\ue07e]")
_ORDER = re.compile(
    r"^(?:remove|disconnect|open|take|detach|removing|opening|uninstall|unplug|pull|lift)\b",
    re.IGNORECASE,
)


def looks_like_markdown(text: str) -> bool:
    """True where a text without a telling name is written in Markdown."""
    return (
        len(re.findall(r"(?m)^#{2,6}\s+\S", text)) >= 1
        or _is_wiki(text)
        or len(re.findall(r"\]\([^)\s]+\)", text)) >= 3
    )


def markdown_lines(text: str, name: str) -> tuple[Line, ...]:
    """Lines of a Markdown text, marks of emphasis, links and pictures taken away."""
    rows = text.rstrip("\n").split("\n")
    check_lines(rows, name)
    wiki = _is_wiki(text)
    lines = []
    fence = ""
    front = rows[0].strip() == "---" if rows else False
    for number, row in enumerate(rows, 1):
        stripped = row.strip()
        if front:
            lines.append(Line(number, row, "furniture", reason="front matter"))
            front = not (number > 1 and stripped in ("---", "..."))
            continue
        if fence or re.match(r"^(?:```|~~~)", stripped):
            lines.append(Line(number, row, "furniture", reason="code"))
            fence = "" if fence and stripped.startswith(fence) else fence or stripped[:3]
            continue
        lines.append(_line(number, row) if not wiki else _wiki_line(number, row))
    return tuple(lines)


def _is_wiki(text: str) -> bool:
    """As in "== Changing the fan ==": marked up as wikis do, where "#" opens a numbered step."""
    return len(_WIKI_TITLE.findall(text)) >= 2


def _wiki_line(number: int, row: str) -> Line:
    plain = re.sub(r"'{2,3}", "", row)
    plain = re.sub(r"\[\[(?:[^\]|]*\|)?([^\]|]+)\]\]", r"\1", plain)
    title = _WIKI_TITLE.match(plain)
    if title:
        return Line(number, title[2].strip(), "heading", level=len(title[1]))
    step = re.match(r"^(#+)\s*(.+)$", plain)
    if step:
        mark = "1." if len(step[1]) == 1 else "a."
        return Line(number, "  " * (len(step[1]) - 1) + inline(step[2]), "item", mark=mark)
    return _line(number, plain)


def _line(number: int, row: str) -> Line:
    text = inline(row)
    if not text.strip():
        reason = "picture" if row.strip() else ""
        return Line(number, text.strip(), "furniture" if reason else "blank", reason=reason)
    heading = re.match(r"^\s{0,3}(#{1,6})\s+(.+?)\s*#*\s*$", text)
    if heading:
        return Line(number, heading[2], "heading", level=len(heading[1]))
    if re.match(r"^\s*\|.*\|\s*$", text) and text.count("|") > 1:
        return Line(number, text.strip(), "table")
    kind: LineKind = "text"
    whole = re.match(r"^\s*(?:\*\*|__)(.+?)(?:\*\*|__)\s*:?\s*$", row)
    if whole and len(whole[1].split()) <= 9 and not whole[1].rstrip().endswith((".", "!")):
        return Line(number, inline(whole[1]).strip(), "text")
    return Line(number, text.rstrip(), kind)


def inline(row: str) -> str:
    """One line without pictures, emphasis, tags; a link to another procedure keeps "(see link)"."""
    row = _ESCAPED.sub(lambda match: chr(_ASIDE + ord(match[1])), row)
    row = _IMAGE.sub("", row)
    row = _LINK.sub(_link, row)
    row = _TAG.sub("", row)
    for _ in range(3):
        row = _STRONG.sub(r"\2", row)
    row = _EMPHASIS.sub(lambda match: match[1] or match[2], row)
    row = row.replace("`", "")
    return _SET_ASIDE.sub(lambda match: chr(ord(match[0]) - _ASIDE), row)


def _link(match: re.Match[str]) -> str:
    text, target = match[1] or match[3], match[2] or ""
    inner = not re.match(r"^(?:https?:|mailto:)", target) and not re.search(
        r"\.(?:png|jpe?g|gif|svg|webp|pdf|stl|step)$", target, re.IGNORECASE
    )
    return f"{text} (see link)" if inner and _ORDER.match(text.strip()) else text
