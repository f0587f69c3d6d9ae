"""From text to sentences of tokens, with their place in the text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from lastscrew.reading.lexicon import Lexicon

SIZE = re.compile(
    r"(?:PWA|PWB|PM|ST|M)\s?\d+(?:[.,]\d+)?\s?(?:mm)?\s?[x×X*]\s?(?:L)?\d+(?:[.,]\d+)?(?:\s?mm\b|'?s\b)?"
    r"|#?\d+-\d+\s?[x×X]\s?\d+(?:/\d+|[.,]\d+)?(?:\s?(?:in\b|\"))?"
    r"|(?<![\w.,])\d{1,2}(?:[.,]\d+)?\s?(?:mm\s?)?[x×]\s?\d{1,2}(?:[.,]\d+)?\s?mm\b"
    r"|\bM\d+(?:[.,]\d+)?\b(?=[\s-](?:\w+[\s-]){0,3}(?:screw|bolt|nut|standoff|washer|spacer|thumb|SHCS|BHCS|FHCS))",
    re.IGNORECASE,
)
_PIECES = re.compile(
    rf"(?P<size>{SIZE.pattern})"
    r"|(?P<times>(?-i:[x×])\s?\d{1,3}\b|(?<=\()X\s?\d{1,3}(?=\))|\b\d{1,3}\s?[x×](?=[\s),.;]|$)|\b\d{1,3}\s(?:nos?\.(?=\s\w)|off(?=\sM\d))|\b\d{1,3}(?:pcs?|pces?|pieces|nos|ea)\b(?:\.(?=\s[a-z]))?(?:\sof\b)?)"
    r"|(?P<measure>\d+(?:[.,]\d+)?\s?(?:±\s?[\d.]+\s?)?(?:mm|cm|inches|inch|in-lbs?|in\.-lbs?|lbf?-in|N[·.\s-]?m|Nm|N[·.\s-]?cm|cN[·.]?m|kgf[·.\s-]?cm|kgf?|lbs?|volts?|VDC|VAC|V|watts?|W|"
    r"degrees|°C?|°F|%|percent|minutes?|mins?|seconds?|secs?|hours?|GB|MB|TB|Hz|AWG|ohms?|Ω|g|ml)(?![\w-])\.?)"
    r"|(?P<ways>\b(?:\d{1,3}[\s-]?|(?:two|three|four|five|six|seven|eight|nine|ten|twelve|single|dual|double)-)(?:pin|way|wire|conductor|contact|pole|position|piece|slot|bay|sided|inch|digit|line|cell|core|layer|lead|point|part|step|axis|port)\b)"
    r"|(?P<ordinal>\b\d+(?:st|nd|rd|th)\b)"
    r"|(?P<figure>\[\d{1,3}[a-z]?\])"
    r"|(?P<callout>\((?:\d{1,3}|[A-Z]|[a-z])\)|(?:(?<=screw )|(?<=screws )|(?<=bolt )|(?<=bolts )|(?<=nut )|(?<=nuts ))\((?!x)[A-Z]{1,2}\d{1,2}\))"  # noqa: E501
    r"|(?P<designation>(?:\bno\.\s?|(?<=\bthe )no\s|(?<=\ba )no\s)\d{1,2}(?=\s+[a-z]))"
    r"|(?P<number>\b\d{1,4}\b(?![.,/]\d)(?![\w/#]))"
    r"|(?P<abbreviation>\b(?:[A-Z]\.){2,}(?=\s))"
    r"|(?P<word>\d#(?!\w)|[#A-Za-zÀ-ɏ][\w]*(?:[-’'/.&+][\w]+)*\+?|[\w]+(?:[-’'/.][\w]+)*)"
    r"|(?P<mark>[.,;:!?()\[\]—–\"“”‘’*/&]|-(?=\s)|->|→|…)",
    re.IGNORECASE,
)
_SIZE_ASIDE = re.compile(
    r"\b((?:screw|bolt|nut)s?), (M?\d+(?:[.,]\d+)?\s?(?:mm\s?)?[x×]\s?\d+(?:[.,]\d+)?(?:\s?mm)?),",
    re.IGNORECASE,
)
"""As in "the two screws, 1.2 x 2.0 mm, that hold it": a size set off by commas is said in brackets."""


@dataclass(frozen=True, slots=True)
class Token:
    """One token: ``kind`` is a name of a group of the pattern (word, number, mark, size …)."""

    text: str
    low: str
    kind: str
    start: int
    end: int


_SAYS = re.compile(
    r"\s+(?:a|an|the|this|that|your|one|not|held|in|on|at|out|off|up|down|over|under|behind|just|really|got|also|now|still|only|already|always|all|never|here|there"
    r"|pretty|very|quite|loose|free|stuck|built|glued|ready|gone|been|back|done|undone|hung|(?:com|go|hang|sitt|hold|look|mov|giv|stick|rubb)ing|\w+ed|attached)\b",
    re.IGNORECASE,
)
"""Behind "the cover's" these make it "the cover is"; anything else leaves it a possessive."""
_SIZES = re.compile(r"M\d{1,2}(?:\.\d)?s")
"""As in "the M3s": screws of that size."""
_CONTRACTIONS = {
    word: tuple(pair.split())
    for word, pair in {
        "it's": "it is", "that's": "that is", "there's": "there is", "here's": "here is", "they're": "they are", "what's": "what is",  # noqa: E501
        "it'll": "it will", "they'll": "they will", "that'll": "that will", "there'll": "there will", "theres": "there is", "thats": "that is", "which's": "which is",  # noqa: E501
    }.items()
}  # fmt: skip


def tokenise(text: str, lexicon: Lexicon) -> list[Token]:
    """Tokens of ``text``; quotes are dropped, misspellings of the lexicon are mended in ``low``."""
    return list(_tokens(text, lexicon))


@lru_cache(maxsize=256)
def _tokens(text: str, lexicon: Lexicon) -> tuple[Token, ...]:
    """The same sentence is asked about a dozen times in a row: the last ones are kept."""
    tokens: list[Token] = []
    for match in _PIECES.finditer(_SIZE_ASIDE.sub(r"\1 (\2)", text)):
        kind = match.lastgroup or "word"
        piece = match.group()
        if kind == "mark" and piece in '"“”*‘':
            continue
        low = piece.lower().replace("’", "'")
        kind = "word" if kind in ("abbreviation", "designation") else kind
        if (
            kind == "callout"
            and len(piece) == len("(a)")
            and not piece[1:-1].isdigit()
            and piece[1:-1].lower() not in "abcdefghijk"
        ):
            kind = "mark"
        if kind == "word" and low in lexicon.slips:
            piece = lexicon.slips[low]
        if kind == "word" and _THREAD.fullmatch(piece) and tokens and _sizes(tokens[-1], lexicon):
            kind = "size"
        low = _mend(low, lexicon) if kind == "word" else low
        if kind == "word" and _SIZES.fullmatch(piece):
            tokens.append(Token(piece[:-1], low[:-1], "size", match.start(), match.end() - 1))
            tokens.append(Token("screws", "screws", "word", match.end() - 1, match.end()))
            continue
        if low in _CONTRACTIONS:
            first, second = _CONTRACTIONS[low]
            tokens.append(Token(piece, first, "word", match.start(), match.end()))
            tokens.append(Token("", second, "word", match.end(), match.end()))
            continue
        if kind == "size" and low.endswith("s"):  # "the M3x10s"
            bare = piece.rstrip("sS'")
            tokens.append(Token(bare, bare.lower(), kind, match.start(), match.start() + len(bare)))
            tokens.append(Token("screws", "screws", "word", match.end(), match.end()))
            continue
        if low.endswith("'s") and lexicon.is_noun(low[:-2]) and _SAYS.match(text, match.end()):
            tokens.append(Token(piece[:-2], low[:-2], kind, match.start(), match.end() - 2))
            tokens.append(Token("", "is", "word", match.end(), match.end()))
            continue
        tokens.append(Token(piece, low, kind, match.start(), match.end()))
    return tuple(tokens)


_THREAD = re.compile(r"M\d{1,2}(?:\.\d)?")


def _sizes(before: Token, lexicon: Lexicon) -> bool:
    """As in "six M3", "bolts M6": a thread behind a number or a fastener."""
    counted = before.kind == "number" or before.low in lexicon.numbers
    return counted or lexicon.category((before.low,)) == "fastener"


_PREFIX = re.compile(r"^(re|un|dis|de)-(\w+)$")


def _mend(low: str, lexicon: Lexicon) -> str:
    if low in lexicon.slips:
        return lexicon.slips[low]
    prefixed = _PREFIX.match(low)
    if prefixed and (prefixed[1] + prefixed[2]) in lexicon.forms:
        return prefixed[1] + prefixed[2]
    return low


_ABBREVIATIONS = frozenset(
    [
        "no",
        "nos",
        "fig",
        "figs",
        "approx",
        "e.g",
        "i.e",
        "eg",
        "ie",
        "etc",
        "vs",
        "p",
        "pp",
        "in",
        "mm",
        "ref",
        "para",
        "paras",
        "app",
        "incl",
        "max",
        "min",
        "qty",
        "sec",
        "dia",
        "ver",
        "rev",
        "cf",
        "ca",
        "dept",
        "st",
        "dr",
        "mr",
        "ms",
        "inc",
        "co",
        "ltd",
        "corp",
        "chap",
        "ch",
        "lbs",
        "oz",
        "vol",
        "ed",
        "al",
        "opt",
        "nr",
        "art",
        "pos",
        "pcs",
        "pc",
    ]
)
_END = re.compile(r"[.!?]+[)\]\"”’']*(?=\s+|$)|;(?=\s)|…(?=\s)")


def sentence_spans(text: str) -> list[tuple[int, int]]:
    """Start and end of each sentence of ``text``.

    A full stop ends a sentence unless it follows an abbreviation or a lone figure ("No. 1", "Fig. 2"), or a lower-case
    word goes on after it.
    """
    spans = []
    start = 0
    for match in _END.finditer(text):
        if match.group()[0] == "." and not _is_stop(text, match):
            continue
        spans.append((start, match.end()))
        start = match.end()
    if text[start:].strip():
        spans.append((start, len(text)))
    trimmed = []
    for low, high in (piece for span in spans for piece in bounded(text, *span)):
        piece = text[low:high]
        if piece.strip():
            trimmed.append((low + len(piece) - len(piece.lstrip()), high))
    return trimmed


MAX_SENTENCE_CHARACTERS = 1200
"""Longer sentences are parted: no instruction is that long, and the time stays in proportion."""


def bounded(text: str, low: int, high: int) -> list[tuple[int, int]]:
    """Pieces of at most :data:`MAX_SENTENCE_CHARACTERS`, parted at "and", commas or spaces."""
    pieces = []
    while high - low > MAX_SENTENCE_CHARACTERS:
        limit = low + MAX_SENTENCE_CHARACTERS
        cut = max(text.rfind(" and ", low + 200, limit), text.rfind(", ", low + 200, limit))
        if cut < 0:
            cut = text.rfind(" ", low + 200, limit)
        cut = limit if cut < 0 else cut + 1
        pieces.append((low, cut))
        low = cut
    pieces.append((low, high))
    return pieces


def _is_stop(text: str, match: re.Match[str]) -> bool:
    before = re.search(r"([\w.]+)$", text[max(0, match.start() - 14) : match.start()])
    word = re.sub(r"^\d+(?=pcs?$)", "", before.group(1).lower()) if before else ""
    after = text[match.end() : match.end() + 40].lstrip()
    if re.fullmatch(r"(?:[a-z]\.){1,}[a-z]", word) and re.match(r"[a-z]|M\d", after):
        return False
    if word in _ABBREVIATIONS:
        if word in (
            "in",
            "etc",
            "mm",
            "no",
            "st",
            "lbs",
            "min",
            "max",
            "p",
            "co",
            "inc",
            "al",
            "pcs",
            "pc",
        ):
            return (
                bool(after)
                and after[0].isupper()
                and not (word in ("no", "p") and after[:1].isdigit())
            )
        return False
    return not (re.fullmatch(r"[a-z]|\d+", word) and after[:1].islower())
