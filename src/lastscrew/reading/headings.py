"""What a heading says: which half of the work, on which part, or that no procedure follows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from lastscrew.reading.lexicon import Lexicon

HeadingKind = Literal[
    "removal", "refit", "both", "prepare", "tools", "none", "steps", "step", "neutral"
]

_NUMBERING = re.compile(
    r"^\s*(?:(?:step|section|chapter|procedure|part|appendix|task|stage|phase|exercise|lesson|unit|job|activity|lab|session)\s+[\dA-Z]+(?:[.-]\d+)*\s*[:.\-–—)]*\s*|\(?\d+(?:[.-]\d+)*[.)]?\s+|[A-Z][.)]\s+)",
    re.IGNORECASE,
)


OUT_OR_IN = re.compile(r"^(?P<part>[^:.]*?\w)\s+[-–—]+\s*(?P<half>out|off|in|on)$", re.IGNORECASE)
"""Headings of cards: ``FAN - OUT`` and ``FAN - IN``."""


GUIDE_TITLE = re.compile(
    r"^(?P<name>[A-Z0-9][\w /.-]{2,50}?)\s*(?:[:,–—-]+\s*)?(?:service|repair|maintenance|workshop|teardown|(?:dis|re)?assembly|build|field|technical|hardware)[\w ]{0,12}\b(?:manual|guide|notes?|instructions?|procedures?|handbook|card|document)\b[\w .,-]{0,20}$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Alder 13: service manual": the name of a machine and what kind of text follows."""
_OUT_SHOUTED = re.compile(r"^(?P<part>[A-Z][A-Z &/-]*?\w)\s+(?:BACK\s+)?(?P<half>OUT|OFF|IN|ON)$")
"""As in "FLYER AND BOBBIN OFF"."""
_UNIT_NUMBER = re.compile(
    r"^\s*(?:fru|cru|unit|job|item|task|card|sheet|op(?:eration)?)\s+[\w.]*\d[\w.]*\s*[:\-–—]+\s*(?=[A-Za-z])",
    re.IGNORECASE,
)
"""As in "FRU 1050 - Fan removal": the number is no name."""
_PUT_BACK = re.compile(
    r"^(?:put|fit|place|screw)\s+(?:back\s+(?P<part>\S.*)|(?P<part2>\S.*?)\s+back(?:\s+(?:on|in))?)$",
    re.IGNORECASE,
)
_BOTH_WAYS = re.compile(r"\bR\s?[/&]\s?R\b", re.IGNORECASE)
"""Remove and refit, as workshops write it."""


@dataclass(frozen=True, slots=True)
class Heading:
    """``kind`` and ``part`` of a heading; ``half`` is the kind of a "Step 2: …" heading.

    ``words``: the heading without its numbering. ``imperative``: it opens with a verb like an order.
    ``strong``: a word of the word lists decided, not its shape alone.
    """

    kind: HeadingKind
    part: str
    half: str = ""
    words: str = ""
    imperative: bool = False
    strong: bool = False


_PREPARES = re.compile(r"^preparing (?:the|a|an|your) (?P<what>.+)$")
_WHOLE = frozenset(["machine", "device", "unit", "system", "instrument", "appliance", "equipment", "work", "workplace", "bench", "tool", "tools"])  # fmt: skip  # noqa: E501


def _prepares_a_piece(low: str, lexicon: Lexicon) -> bool:
    """As in "Preparing the base plate": work on a piece, not what comes before the work."""
    match = _PREPARES.match(low)
    words = tuple(match["what"].split()) if match else ()
    return bool(words) and not (
        words[-1] in _WHOLE or lexicon.category(words) in ("device", "unknown", "place", "tool")
    )


def classify(text: str, lexicon: Lexicon) -> Heading:
    """Kind and part of a heading."""
    return _classify(text.strip(), lexicon)


@lru_cache(maxsize=4096)
def _classify(text: str, lexicon: Lexicon) -> Heading:
    bare = _UNIT_NUMBER.sub("", _NUMBERING.sub("", text)).strip(' *_#"“”:.')
    bare = _BOTH_WAYS.sub("replacement", bare)
    bare = _PUT_BACK.sub(lambda match: f"Refit {match['part'] or match['part2']}", bare)
    if bare.endswith("?"):
        return _question(bare, lexicon)
    card = OUT_OR_IN.match(bare) or (_OUT_SHOUTED.match(bare) if bare.isupper() else None)
    if card:
        half: HeadingKind = "removal" if card["half"].lower() in ("out", "off") else "refit"
        return Heading(half, card["part"].strip(" :–—-"), words=bare, strong=True)
    low = re.sub(r"\s+", " ", bare.lower().replace("’", "'")).strip()
    goal = re.match(r"^to (.+?)(?:,? (?:follow|perform|do|complete|use|proceed|carry)\b.*)?$", low)
    if goal:
        bare = bare[goal.start(1) : goal.end(1)]
        low = goal[1]
    words = re.findall(r"[a-z0-9&/'+.-]+", low)
    if not words:
        return Heading("neutral", "", words=bare)
    lists = lexicon.headings
    if _any_phrase(low, lists["prepare"], start=True) and not _prepares_a_piece(low, lexicon):
        return Heading("prepare", "", words=bare, strong=True)
    if low in ("disassembly", "teardown"):
        return Heading("removal", "", words=bare, strong=True)
    if low in lists["steps"]:
        return Heading("steps", "", words=bare, strong=True)
    if (_any_phrase(low, lists["tools"], start=True) and not words[0].endswith("ing")) or re.match(
        r"^(?:required |recommended |necessary )?(?:tools?|equipment|materials|supplies)\b", low
    ):
        return Heading("tools", "", words=bare, strong=True)
    work = _after_device(bare, lexicon)
    if work:
        heading = _classify(work, lexicon)
        if heading.part:
            return replace(heading, words=bare)
    kind = _half(words, lists)
    imperative = bool(lexicon.verb_of(words[0], "base")) and not (
        lexicon.verbs[lexicon.verb_of(words[0], "base")].noun
    )
    if kind is not None:
        part = _part(bare, lists)
        negative = _any_phrase(low, lists["none"], start=True) and kind != "both"
        if not negative:
            return Heading(kind, part, words=bare, imperative=imperative, strong=True)
    if _any_phrase(low, lists["none"], start=False):
        return Heading("none", "", words=bare, strong=True)
    if any(low.endswith(" " + word) for word in ("procedure", "steps", "instructions")):
        return Heading("steps", _part(bare, lists), words=bare, strong=True)
    ordered = imperative or (
        words[1:2] in (["the"], ["a"], ["an"], ["your"]) and lexicon.verb_of(words[0], "base")
    )
    way = _half_of_verb(words[0], lexicon) if ordered and 1 < len(words) <= 7 else ""
    named = re.match(
        r"^\w+ (?:up |back )?(?:on |in )?(?:the |an? |your )?(?P<part>[\w/ -]+)$", bare
    )
    if way and named:
        part = re.split(r"\s(?:to|into|onto|from|on|in|with|of|at)\s", named["part"])[0]
        return Heading(way, part.strip(), words=bare, imperative=True)
    guide = GUIDE_TITLE.match(bare)
    part = guide["name"].strip(" -–—:,") if guide else re.sub(r"\s*\([^)]*\)\s*$", "", bare)
    part = re.sub(r"^(?:On|Of|About|Concerning|Regarding)\s+(?:the\s+)?(?=\w)", "", part)
    return Heading("neutral", part, words=bare, imperative=imperative)


def _half_of_verb(word: str, lexicon: Lexicon) -> HeadingKind | Literal[""]:
    """As in "Fit the display", "Unplug the fan": which half a verb that no list of headings names belongs to."""
    klass = lexicon.verbs[lexicon.verb_of(word, "base")].klass
    if klass in ("replace", "connect", "tighten", "insert"):
        return "refit"
    return "removal" if klass in ("remove", "disconnect", "lift", "loosen") else ""


_DEVICE_FIRST = re.compile(
    r"^(?P<device>\w[\w /.'’-]*?)(?:\s+[-–—]+\s*|\s*[–—:,]\s+)(?P<work>\w+ing\s+\S.*|\w+\s+of\s+\S.*)$"
)
"""As in "Mixer KM 5 – replacing the belt": first the machine, then what is done to what."""


def _after_device(bare: str, lexicon: Lexicon) -> str:
    """What stands behind the name of the machine, if that says what is done; nothing where the name does."""
    found = _DEVICE_FIRST.match(bare)
    if found is None:
        return ""
    begins = found["work"].split()[0].lower()
    known = _work_words(lexicon)
    named = re.findall(r"[a-z]+", found["device"].lower())
    return found["work"] if begins in known and not known.intersection(named) else ""


def says_work_behind(text: str, lexicon: Lexicon) -> bool:
    """As in "Coffee mill: replacing the motor" and "Fan: removal and refitting": a title, for all its colon."""
    if _after_device(text, lexicon):
        return True
    before, _, behind = text.partition(":")
    words = re.findall(r"[a-z&/]+", behind.lower())
    nouns = [word for word in words if word not in ("and", "&", "/")]
    return (
        len(before.split()) <= 4
        and bool(nouns)
        and all(word in _work_words(lexicon) for word in nouns)
        and not any(lexicon.verb_of(word, "base") for word in nouns)
        and not _work_words(lexicon).intersection(before.lower().split())
    )


def _work_words(lexicon: Lexicon) -> frozenset[str]:
    lists = lexicon.headings
    return lists["removal"] | lists["refit"] | lists["both"]


_HOW = re.compile(
    r"\bhow (?:do|does|can|should|would|could|to|is|are|may|must|shall|did)\b\s*(?:(?:i|you|we|one|they|it)\b\s*)?(?P<work>.*)$",  # noqa: E501
    re.IGNORECASE,
)


def _question(bare: str, lexicon: Lexicon) -> Heading:
    """As in "How do I take the case apart?" opens a procedure; "Can I clean it?" opens none."""
    asked = re.sub(
        r"^(?:q|question|faq)\s*\d*\s*[:.)]\s*", "", bare.rstrip("? "), flags=re.IGNORECASE
    )
    how = _HOW.search(asked)
    if how is None:
        low = asked.lower()
        about = re.match(
            r"(?:and |so )?(?:what|how) about (?:the |my |a )?(?P<part>[\w -]{2,40})$", low
        )
        if about:
            return Heading("both", about["part"], words=bare, strong=True)
        can = re.match(
            r"(?:so |and )?(?:can|may|could|should|must|do|is it (?:possible|ok|okay|necessary|hard|easy|difficult) (?:for me )?to|are you able to)\s+(?:(?:i|you|we|one)\s+)?(?:have to |need to |also |just |simply )?(?P<work>(?:replac|remov|chang|swap|exchang|upgrad|open|take|fit|install|add|renew)\w*\b.*)$",  # noqa: E501
            low,
        )
        if can:
            return _question(f"how do i {can['work']}", lexicon)
        wanted = re.match(r"(?:so |and )?(?:what|which)\b.*\b(?:need|tools?)\b", low)
        return Heading("tools" if wanted else "none", "", words=bare, strong=True)
    work = how["work"]
    heading = _classify(work, lexicon)
    low = f" {work.lower()} "
    back = re.search(
        r" put (?:\w+ ){0,4}?(?:back|in|together)\b| back in\b| close\b| (?:put|mounted|fitted) ",
        low,
    )
    out = re.search(r" (?:out|off|apart|open|at|into|inside) ", low)
    kind: HeadingKind = (
        heading.kind
        if heading.kind in ("both", "refit") and not out
        else "refit"
        if back
        else "both"
        if re.search(r"\b(?:add|change|swap|replace|exchange|renew)\b", low)
        else "removal"
        if out or heading.kind == "removal"
        else heading.kind
    )
    named = re.sub(
        r"\b(?:it|them|that|one|the|a|an|my|your|new|again|back|if|installed|put|get|take|itself|board itself|is|are|in|out|off|apart|at|add|or|change|swap|open|close|remove|replace|install|,)\b",  # noqa: E501
        " ",
        work,
        flags=re.IGNORECASE,
    )
    part = " ".join(re.sub(r"[^\w' /-]", " ", named).split()[:4])
    if not part:
        before = asked[: how.start()]
        part = " ".join(
            re.findall(r"\b(?:the|my|your)\s+(\w+(?:\s\w+)?)\b(?=\s+\w+s?\b)", before)[:1]
        )
    return Heading(kind, part, words=bare, strong=kind != "neutral")


def _any_phrase(low: str, phrases: frozenset[str], *, start: bool) -> bool:
    padded = f" {low} "
    if start:
        return any(
            low == phrase or low.startswith((phrase + " ", phrase + ":")) for phrase in phrases
        )
    return any(f" {phrase} " in padded for phrase in phrases)


def _half(
    words: list[str], lists: Mapping[str, frozenset[str]]
) -> Literal["removal", "refit", "both"] | None:
    split = [piece for word in words for piece in re.split(r"[/&]", word) if piece]
    if not split:
        return None
    removal = [i for i, word in enumerate(split) if word in lists["removal"]]
    refit = [i for i, word in enumerate(split) if word in lists["refit"]]
    both = [i for i, word in enumerate(split) if word in lists["both"]]
    first = split[0]
    fixed = first == "fix" and split[1:2] == ["the"]  # "Fix the display", not a "fix"
    if (
        not fixed
        and first in ("assembly", "mount", "open", "fix", "close", "build", "take")
        and len(split) > 1
        and first not in ("open", "take", "close", "mount")
    ):
        refit = (
            [i for i in refit if i > 0]
            if split[-1] not in ("instructions", "guide", "steps", "tips")
            else refit
        )
    if split[-1] == "assembly" and len(split) > 1 and (removal or both or len(refit) > 1):
        refit = [i for i in refit if i != len(split) - 1]
    if (
        "assembly" in split
        and len(split) > 1
        and refit
        and all(split[i] == "assembly" for i in refit)
        and split[0] != "assembly"
    ):
        refit = []
    if "mount" in split[1:] and all(split[i] == "mount" for i in refit):
        refit = []
    if both and removal and not refit:
        return "both"
    if both and not removal and not refit:
        return "both"
    if removal and (refit or both):
        return "both"
    if removal:
        return "removal"
    if refit:
        return "refit"
    return None


def _part(bare: str, lists: Mapping[str, frozenset[str]]) -> str:
    kept: list[str] = []
    pieces = re.findall(r"[\w&/'’+.-]+|[(),]", bare)
    work = lists["removal"] | lists["refit"] | lists["both"]
    known = work | lists["noise"]
    for index, piece in enumerate(pieces):
        low = piece.lower().replace("’", "'")
        following = pieces[index + 1].lower() if index + 1 < len(pieces) else ""
        if (
            low in ("and", "&")
            and kept
            and following
            and (following not in known or following == "the")
        ):
            kept.append("and")
            continue
        if not piece.strip("-.") or ("/" in low and all(half in work for half in low.split("/"))):
            continue  # the dash of "Hinge - removal", the work of "Hinge removal/installation"
        if piece in "(),":
            if piece == "(":
                break
            kept.append(piece)
            continue
        if low in known and not (
            low in ("assembly", "mount", "part", "unit", "case", "open") and kept and index > 0
        ):
            if all(word.lower() in known for word in re.split(r"[/&]", low) if word):
                continue
        if low in known:
            if low in ("assembly", "mount") and kept:
                kept.append(piece)
            continue
        kept.append(piece)
    while kept and kept[-1] == "and":
        kept.pop()
    text = " ".join(kept).replace(" ,", ",").strip(" ,")
    return re.sub(r"\s+assembly$", " assembly", text)
