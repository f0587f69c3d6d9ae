"""Field cards and other telegraphic notes: abbreviations written out, verbless lines said as orders.

"Top cvr: 6 scr T8, out" becomes "Remove the 6 T8 screws that hold the top cover." so that the one grammar
reads it. Only a text that is telegraphic throughout is touched, and every line keeps its number.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from lastscrew.reading.card_before import before_line, references
from lastscrew.reading.card_lines import CardLine, is_terse_piece
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
    r"^\W*(?:(?:[a-z]|\d{1,2})[.)]\s+)?(?P<half>(?:strip|take|pull)[ -]?(?:down|apart)?|out|off|removal|remove|disassembly|dismantl\w+|open(?:ing)?(?: up)?|way out|"  # noqa: E501
    r"in|on|build(?:[ -]?up)?|re-?fit(?:ting)?|fit(?:ting)?|clos(?:e|ing)(?: ?up)?|back(?: in| on| together)?|put back|re-?assembl[ey]|re-?assy|assembly|in again|way in|back up|reinstall\w*|installation|install)\s*:?\s*$",  # noqa: E501
    re.IGNORECASE,
)
"""A line that only says which half follows: "OUT", "In:", "BACK IN"."""
_WAY_IN = ("in", "on", "bu", "re", "fi", "cl", "ba", "pu", "as", "way in", "inst")
_TELEGRAPHIC_SHARE = 0.3
_BARE_SHARE = 0.8
_BARE_WORDS = 10
_PROSE_WORDS = 14
_PROSE_SHARE = 0.6
_ARTICLE = re.compile(r"\b(?:the|a|an|you|your|we|is|are)\b", re.IGNORECASE)
_UNTOUCHED = re.compile(
    r"(?:note|warning|caution|danger|notice|tools?|kit|after|do not|never|see)\b", re.IGNORECASE
)
_BACKWARDS = re.compile(
    r"(?:refit\w*|re-?assembly|re-?assy|install\w*|assembly|in|back|build)\s*[:=–-]?\s*(?:is )?(?:in )?(?:the )?(?:revers|as (?:above )?(?:revers|backwards)|as above,? (?:in )?(?:revers|backward)|backwards|opposite)[^.;,]*(?:[.;,]|$)\s*(?:(?:except|but)(?: that)?[.:]*\s*)?",  # noqa: E501
    re.IGNORECASE,
)
_LETTERED = re.compile(
    r"^\s*(?:(?:step|sect(?:ion)?|part|job|card|task)\.?\s+)?(?P<key>[A-Z]|\d{1,2})(?:[.):]|\s[-–—]|(?=\s\s|\s(?-i:[A-Z]{2,})))\s*(?P<name>\S.*)$",
    re.IGNORECASE,
)
_WAY = re.compile(
    r"^(?P<part>.*?\w)\s*(?:\s[-–—]+\s*|[:,]\s*|\s)(?P<way>off|out|strip|removal|remove|in|on|back|refit|install|back in|back on)$",  # noqa: E501
    re.IGNORECASE,
)


def written_out(source: Source, lexicon: Lexicon) -> Source:
    """The source with its telegraphic lines said as orders; unchanged where it is not telegraphic."""
    if source.spoken or not _is_telegraphic(source, lexicon):
        return source
    refit, topic, started, titles = False, "", False, 0
    names: dict[str, str] = {}
    rows = []
    for line in source.lines:
        if line.kind in ("furniture", "blank", "table") or not line.text.strip():
            rows.append(line)
            continue
        shouted = line.text
        text = _long_words(shouted)
        if not started and not _mark(shouted).strip():
            started = True
            topic = _topic(text, lexicon) if _is_title(text) else ""
            rows.append(replace(line, text=text) if text != shouted else line)
            continue
        started = True
        half = _HALF.match(text)
        if half:
            refit = _is_way_in(half["half"])
            topic = topic if titles <= 1 else ""
            rows.append(replace(line, text="Refitting" if refit else "Removal"))
            continue
        if _is_heading(shouted, text, lexicon, names):
            titles += 1
            told, way = _title_words(text, lexicon, names)
            refit = bool(_REFIT_LINE.match(text)) or way == "refit"
            topic = "" if _REFIT_LINE.match(text) else _topic(told, lexicon)
            rows.append(_title(line, told))
            continue
        told = _line(text, lexicon, refit=refit, topic=topic, names=names)
        own = line.kind if _mark(told).strip() or told == text else "item"
        rows.append(replace(line, text=told, kind=own) if told != line.text else line)
    return replace(source, lines=tuple(rows))


def _is_way_in(half: str) -> bool:
    low = half.lower()
    return low.startswith(_WAY_IN) and not low.startswith("remov")


def _is_heading(shouted: str, text: str, lexicon: Lexicon, names: dict[str, str]) -> bool:
    bare = _bare(shouted)
    marked = bool(_mark(shouted).strip())
    if marked:
        plain = re.sub(r"\s*\([^()]*\)\s*$", "", bare).strip()
        lettered = re.match(r"^\s*(?:[A-Za-z]|\d{1,2})[.)]?\s", shouted)
        return (
            bool(lettered)
            and plain.isupper()
            and bool(re.search(r"[A-Z]{2}", plain))
            and _is_title(plain)
            and not re.match(r"^[A-Z]{1,5}-?\d+", plain)
        )
    return _is_title(re.sub(r"^\W+", "", text)) and not before_line(text.strip(), lexicon, names)


def _title_words(text: str, lexicon: Lexicon, names: dict[str, str]) -> tuple[str, str]:
    """As in "B. PSU (needs A)", "MOTOR IN": which part and which half; what it needs stands in brackets behind it."""
    bare = re.sub(r"^[^\w(]+", "", text.strip())
    bare = re.sub(r"[^\w)]+$", "", bare)
    lettered = _LETTERED.match(bare)
    key = ""
    if lettered and not re.match(r"^\w+\s+(?:card|sheet)\b", bare, re.IGNORECASE):
        key, bare = lettered["key"].upper(), lettered["name"].strip()
    needs = ""
    inside = re.search(r"\s*\((?P<inside>[^()]+)\)\s*$", bare)
    if inside:
        asked = before_line(inside["inside"], lexicon, names)
        if not asked and references(inside["inside"], names) != inside["inside"].strip():
            asked = references(inside["inside"], names)
        plain = re.fullmatch(
            r"(?P<parts>.+?)\s+(?:is |are |already )*(?:removed|off|out|taken off|detached|away|first)",
            inside["inside"],
            re.IGNORECASE,
        )
        if asked:
            needs = asked.removeprefix("Remove first: ").rstrip(".")
        elif plain:
            needs = plain["parts"]
        if re.fullmatch(r"[\d\s]*(?:off|x)?", inside["inside"]):
            needs = ""
            bare = bare[: inside.start()]
        elif needs:
            bare = bare[: inside.start()]
    way = ""
    told = _WAY.match(bare)
    if told and not re.search(r"\d$", told["part"]):
        way = "refit" if _is_way_in(told["way"]) else "removal"
        part = told["part"].strip(" -–—:,")
        bare = f"{'Installing' if way == 'refit' else 'Removing'} the {part.lower() if part.isupper() else part}"
        name = part
    else:
        name = bare
    name = re.sub(
        r"\s*\([^()]*\)|^.*\b(?:card|sheet)\s+[\w./-]*\d[\w./-]*\s*[-–—:]*\s*",
        "",
        name,
        flags=re.IGNORECASE,
    )
    if key:
        names[key] = name.lower().strip()
    return (f"{bare} ({needs} removed)" if needs else bare), way


def _title(line: Line, text: str) -> Line:
    """As in "FAN ASSY - R/R": both halves; the number of a card is no name."""
    bare = re.sub(r"[-–—:, ]+remove$", " replacement", text, flags=re.IGNORECASE)
    needs = re.search(r"\((?:[^()]+) (?:removed|off|out)\)\s*$", bare)
    told = bool(re.match(r"^(?:Removing|Installing) the ", bare))
    return (
        replace(line, text=bare, kind="heading", level=2)
        if needs or told
        else replace(line, text=bare)
    )


def _is_telegraphic(source: Source, lexicon: Lexicon) -> bool:
    """Where three in ten lines are abbreviated or end in a bare "out", "off", "x4" without an article.

    Fewer are enough where hardly a line of the text is long or has an article: its orders are bare too.
    """
    rows = [
        line.text
        for line in source.lines
        if len(line.text.split()) >= 2 and line.kind not in ("furniture", "heading")
    ]
    if len(rows) < 4 or _is_prose(rows):
        return False
    terse = sum(_is_terse(row, lexicon) for row in rows)
    bare = sum(len(row.split()) <= _BARE_WORDS and not _ARTICLE.search(row) for row in rows)
    return terse >= 4 and (
        terse >= _TELEGRAPHIC_SHARE * len(rows) or bare >= _BARE_SHARE * len(rows)
    )


def _is_prose(rows: list[str]) -> bool:
    """True where most words stand in long lines with articles: letters between short heads, no card."""
    long_ones = [
        row for row in rows if len(row.split()) > _PROSE_WORDS and len(_ARTICLE.findall(row)) > 1
    ]
    words = sum(len(row.split()) for row in rows)
    return sum(len(row.split()) for row in long_ones) > _PROSE_SHARE * words


def _is_terse(row: str, lexicon: Lexicon) -> bool:
    bare = _bare(row)
    if _ARTICLE.search(bare):
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
    return _shorthands().sub(_in_full, text)


def _in_full(match: re.Match[str]) -> str:
    table = table_group("shorthands")
    word = match.group().lower()
    return _written(match, table.get(word) or table[word.rstrip(".")])


def _written(match: re.Match[str], full: str) -> str:
    """The full word; a full stop that ends a sentence ("Off first: front cvr. Paper out.") stays."""
    word = match.group()
    behind = match.string[match.end() :]
    stops = (
        word.endswith(".")
        and word.lower().rstrip(".") in table_group("shorthands")
        and match.start() > 0
        and re.match(r"\s+(?![A-Z]{1,4}-?\d)[A-Z]|\s*$", behind)
    )
    return _cased(word, full) + ("." if stops else "")


def _cased(short: str, full: str) -> str:
    if short.isupper() and len(short.strip(".")) > 1:
        return full.upper()
    return full.capitalize() if short[:1].isupper() and not full.isupper() else full


@lru_cache(maxsize=1)
def _shorthands() -> re.Pattern[str]:
    """All abbreviations at once, longer ones first."""
    forms = []
    for short in sorted(table_group("shorthands"), key=lambda key: (-len(key), key)):
        stop = r"\." if short.endswith(".") else r"\.?"
        end = r"\b" if short[-1].isalnum() else ""
        forms.append(rf"{re.escape(short.rstrip('.'))}{end}{stop}")
    return re.compile(rf"(?<![\w/])(?:{'|'.join(forms)})(?![\w/])", re.IGNORECASE)


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
        r"\([^)]*\)|^(?:removing|installing) the\s+|\s[-–—]\s*(?:in|out|on|off|replacement|removal)$|[-–—:, ]+remove$|^\W*(?:(?:field|job|task|quick|service)\s+)*(?:card|job|sheet|task|fru)\s+[\w.-]*\d\w*\s+",  # noqa: E501
        "",
        title,
        flags=re.IGNORECASE,
    ).strip(" -–—:,")
    known = lexicon.category(tuple(words.lower().split()))
    return words.lower() if known in ("cover", "part", "board", "card", "drawer") else ""


def _line(
    text: str,
    lexicon: Lexicon,
    *,
    refit: bool,
    topic: str = "",
    names: dict[str, str] | None = None,
) -> str:
    """A line as orders; as it stands where nothing in it is telegraphic."""
    mark = _mark(text)
    bare = text[len(mark) :].strip()
    needed = before_line(bare, lexicon, names)
    if needed:
        return needed
    if len(re.findall(r"\s=\s", bare)) > 1:
        return f"Note: {bare}"
    if _UNTOUCHED.match(bare) or not re.match(r"[A-Za-z\d]", bare):
        return text
    bare = re.sub(r"^(?:access|fixings?)\s*:\s*", "", bare, flags=re.IGNORECASE)
    back = _BACKWARDS.match(bare)
    if back is not None:
        rest = bare[back.end() :].strip()
        more = CardLine(lexicon, refit=True, topic=topic).read(rest) if rest else ""
        return f"{mark}Refitting is the reverse of removal. {more}".strip()
    told = CardLine(
        lexicon, refit=refit or bool(_REFIT_LINE.match(bare) and ":" in bare), topic=topic
    ).read(bare)
    return mark + told if told else text
