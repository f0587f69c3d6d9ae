"""Field cards and other telegraphic notes: abbreviations written out, verbless lines said as orders.

"Top cvr: 6 scr T8, out" becomes "Remove the 6 T8 screws that hold the top cover." so that the one grammar
reads it. Only a text that is telegraphic throughout is touched, and every line keeps its number.
"""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.card_lines import CardLine, before_line, is_terse_piece
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import table_group
from lastscrew.reading.model import Line, Source

_MARK = re.compile(
    r"^\s*(?:(?:step\s+)?\d{1,2}[.)]?\s+|[-*•]\s+|\([a-z\d]\)\s+|[a-z][.)]\s+)?", re.IGNORECASE
)
_REFIT_LINE = re.compile(
    r"^\W*(?:refit(?:ting)?|reassembly|reassemble|assembly|installation|install|fitting|build up|closing|close up)\b",
    re.IGNORECASE,
)
_HALF = re.compile(
    r"^\W*(?P<half>out|off|strip|removal|open|in|on|build|refit|fit|close|back)\s*:?\s*$",
    re.IGNORECASE,
)
"""A line that only says which half follows: "OUT", "In:"."""
_TELEGRAPHIC_SHARE = 0.3
_UNTOUCHED = re.compile(
    r"(?:note|warning|caution|danger|notice|tools?|kit|after|do not|never|see)\b", re.IGNORECASE
)


def written_out(source: Source, lexicon: Lexicon) -> Source:
    """The source with its telegraphic lines said as orders; unchanged where it is not telegraphic."""
    if source.spoken or not _is_telegraphic(source, lexicon):
        return source
    refit, topic = False, ""
    rows = []
    for line in source.lines:
        if line.kind in ("furniture", "blank", "table") or not line.text.strip():
            rows.append(line)
            continue
        text = _long_words(line.text)
        half = _HALF.match(text)
        if half:
            refit = half["half"].lower() in ("in", "on", "build", "refit", "fit", "close", "back")
            rows.append(replace(line, text="Refitting" if refit else "Removal"))
            continue
        if _is_title(text) and not _mark(text).strip() and not before_line(text.strip(), lexicon):
            side = re.search(r"\s[-–—]\s*(in|on)$", text.strip(), re.IGNORECASE)
            refit = bool(_REFIT_LINE.match(text)) or bool(side)
            topic = "" if _REFIT_LINE.match(text) else _topic(text, lexicon)
            rows.append(_title(line, text))
            continue
        told = _line(text, lexicon, refit=refit, topic=topic)
        own = line.kind if _mark(told).strip() or told == text else "item"
        rows.append(replace(line, text=told, kind=own) if told != line.text else line)
    return replace(source, lines=tuple(rows))


def _title(line: Line, text: str) -> Line:
    """As in "FAN ASSY - R/R": both halves; the number of a card is no name."""
    bare = re.sub(r"[-–—:, ]+remove$", " replacement", text, flags=re.IGNORECASE)
    needs = re.search(r"\((?:[^()]+) (?:removed|off|out)\)\s*$", bare)
    return replace(line, text=bare, kind="heading", level=2) if needs else replace(line, text=bare)


def _is_telegraphic(source: Source, lexicon: Lexicon) -> bool:
    """Where three in ten lines are abbreviated or end in a bare "out", "off", "x4" without an article."""
    rows = [
        line.text
        for line in source.lines
        if len(line.text.split()) >= 2 and line.kind not in ("furniture", "heading")
    ]
    if len(rows) < 4:
        return False
    terse = sum(_is_terse(row, lexicon) for row in rows)
    return terse >= _TELEGRAPHIC_SHARE * len(rows) and terse >= 4


def _is_terse(row: str, lexicon: Lexicon) -> bool:
    bare = _bare(row)
    if re.search(r"\b(?:the|a|an|you|your|we|is|are)\b", bare, re.IGNORECASE):
        return False
    if _long_words(bare) != bare:
        return True
    return is_terse_piece(bare) and not lexicon.verb_of(
        bare.split()[0].lower().strip(",.:"), "base"
    )


def _mark(text: str) -> str:
    match = _MARK.match(text)
    return match.group() if match else ""


def _bare(text: str) -> str:
    return text[len(_mark(text)) :]


def _long_words(text: str) -> str:
    """Abbreviations of the lexicon written out, their full stops dropped."""
    for short, full in _shorthands():
        text = short.sub(lambda match, full=full: _cased(match.group(), full), text)  # type: ignore[misc]
    return text


def _cased(short: str, full: str) -> str:
    return full.capitalize() if short[:1].isupper() and not full.isupper() else full


_CACHE: list[tuple[re.Pattern[str], str]] = []


def _shorthands() -> list[tuple[re.Pattern[str], str]]:
    if not _CACHE:
        for short, full in sorted(
            table_group("shorthands").items(), key=lambda row: (-len(row[0]), row[0])
        ):
            stop = r"\." if short.endswith(".") else r"\.?"
            end = "" if short.endswith(".") else r"\b"
            _CACHE.append(
                (
                    re.compile(
                        rf"(?<![\w/]){re.escape(short.rstrip('.'))}{end}{stop}(?![\w/])",
                        re.IGNORECASE,
                    ),
                    full,
                )
            )
    return _CACHE


def _is_title(text: str) -> bool:
    bare = re.sub(r"\s*\([^()]+ (?:removed|off|out)\)\s*$", "", text.strip())
    if (
        bare.isupper()
        and len(bare.split()) <= 9
        and not re.search(r":\s+\S|\d\s?[x×]|[x×]\s?\d", bare)
    ):
        return True
    return (
        len(bare.split()) <= 6
        and bare[-1:] not in ".;,"
        and not re.search(r"\b(?:out|off|in|on|up|down)$|:\s+\S|\d\s?[x×]|[x×]\s?\d", bare)
    )


def _topic(title: str, lexicon: Lexicon) -> str:
    """The part that a title names, whose screws the lines below it mean."""
    words = re.sub(
        r"\([^)]*\)|\s[-–—]\s*(?:in|out|on|off|replacement|removal)$|[-–—:, ]+remove$|^\W*(?:(?:field|job|task|quick|service)\s+)*(?:card|job|sheet|task|fru)\s+[\w.-]*\d\w*\s+",  # noqa: E501
        "",
        title,
        flags=re.IGNORECASE,
    ).strip(" -–—:,")
    known = lexicon.category(tuple(words.lower().split()))
    return words.lower() if known in ("cover", "part", "board", "card", "drawer") else ""


def _line(text: str, lexicon: Lexicon, *, refit: bool, topic: str = "") -> str:
    """A line as orders; as it stands where nothing in it is telegraphic."""
    mark = _mark(text)
    bare = text[len(mark) :].strip()
    needed = before_line(bare, lexicon)
    if needed:
        return needed
    if _UNTOUCHED.match(bare) or not re.match(r"[A-Za-z\d]", bare):
        return text
    bare = re.sub(r"^(?:access|fixings?)\s*:\s*", "", bare, flags=re.IGNORECASE)
    if re.match(
        r"(?:refit\w*|reassembly|install\w*|assembly)\s*[:=-]\s*(?:in )?revers", bare, re.IGNORECASE
    ):
        return f"{mark}Refitting is the reverse of removal."
    told = CardLine(
        lexicon, refit=refit or bool(_REFIT_LINE.match(bare) and ":" in bare), topic=topic
    ).read(bare)
    return mark + told if told else text
