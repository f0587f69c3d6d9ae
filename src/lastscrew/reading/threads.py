"""Threads of a forum: who asks, who answers, what is quoted.

A question tells what was tried and is no instruction; what it asks for names the work of the answers behind it. Heads
of posts and quotations are set aside, and the line of a question becomes the title of what follows: "So the baffle's
off. How do I get the socket out?" reads as "Removing the socket (baffle removed)". Every line keeps its number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Line, Source
from lastscrew.reading.tokens import sentence_spans

_NAME = r"[\w.'-]+(?: [\w.'-]+){0,2}"
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_DATE = (
    rf"(?:\d{{1,2}}(?:st|nd|rd|th)?[. -]+{_MONTH}|{_MONTH} \d{{1,2}}\b|\d{{4}}-\d\d-\d\d|\d{{1,2}}[./]\d{{1,2}}[./]\d{{2,4}}"  # noqa: E501
    r"|yesterday|today|\d+ (?:minute|hour|day|week|month|year)s? ago)"
)
_HEADS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"^\W*\[?#\d+\]?\W*(?P<who>{_NAME})\s*(?:$|[,(|–-]\s*(?:on )?{_DATE})",
        rf"^\W*(?P<who>{_NAME})\W*\s+(?:wrote|writes|said|says|asked|asks|replied|replies|answered|answers|posted)\b[^:]{{0,40}}:\W*$",
        rf"^\W*(?:posted|written|asked|answered)\s+by\s+(?P<who>{_NAME})\s*(?:$|[,(|–-]|on\b|at\b)",
        rf"^\W*(?P<who>{_NAME})\s*(?:[,|·•(–-]|on\b)\s*{_DATE}[^.?!]{{0,25}}$",
    )
)
_QUOTED = re.compile(r"^\s*(?:>|quote(?:d)?\b(?: from| by)?[^:]{0,30}:|\[quote)", re.IGNORECASE)
_POSTS = 3
_HEAD_WORDS = 9
_ORDERS = 3

_BACK = re.compile(
    r"\b(?:go|goes|put|putting|fit|fitting|get|getting|screw)\b[^.?!]{0,30}\b(?:back|together)\b|\breassembl\w+",
    re.IGNORECASE,
)
_PART = r"(?:the|my|that|this|its|a|an)\s+(?P<part>[\w-]+(?: [\w-]+){0,2}?)"
_SWAP = re.compile(
    rf"\b(?:swap|replace|change|exchange|renew|upgrade)(?:ing)?\s+{_PART}(?=\s*(?:[.,;:?!]|$|\b(?:out|with|for|in|on|too|as|myself|itself)\b))"
    rf"|\bis\s+the\s+(?P<part2>[\w-]+(?: [\w-]+)?)\s+(?:replaceable|removable|exchangeable)",
    re.IGNORECASE,
)
_OUT = re.compile(
    rf"\b(?:get (?:at|to)|take (?:out|off)|remove|open|reach|get|take)\s+{_PART}(?=\s*(?:[.,;:?!]|$|\b(?:out|off|itself|first|too|open|from)\b))",  # noqa: E501
    re.IGNORECASE,
)
_IT_OUT = re.compile(
    r"\b(?:get|take|pull|reach)\s+(?:at\s+)?(?:it|them|that)\b(?:\s+(?:out|off))?", re.IGNORECASE
)
_WHERE = re.compile(
    r"\b(?:where(?:'s| is| are)|looking (?:at|for)|what about)\s+(?:the|my)\s+(?P<part>[\w-]+(?: [\w-]+){0,2}?)\s*[.?!,]",  # noqa: E501
    re.IGNORECASE,
)
_IS_OFF = re.compile(
    r"\b(?:the|my)\s+(?P<part>[\w-]+(?: [\w-]+)?)(?:'s|\s+is|\s+are|\s+came)\s+(?:now\s+)?(?:off|out)\b",
    re.IGNORECASE,
)


@dataclass
class Post:
    """One post: who wrote it, and the places of its lines among the lines of the source."""

    who: str
    lines: list[int] = field(default_factory=list)


def as_thread(source: Source, lexicon: Lexicon) -> Source:
    """The source with heads, quotations and questions told as such; unchanged where it is no thread."""
    if source.spoken:
        return source
    rows = list(source.lines)
    posts = _posts(rows)
    if len(posts) < _POSTS or len({post.who for post in posts}) < 2:
        return source
    asker = posts[0].who
    for post in posts:
        own = [k for k in post.lines if rows[k].text.strip() and rows[k].kind != "furniture"]
        for k in own:
            if _QUOTED.match(rows[k].text):
                rows[k] = replace(rows[k], kind="furniture", reason="quotation")
        own = [k for k in own if rows[k].kind != "furniture" and re.search(r"\w", rows[k].text)]
        text = " ".join(rows[k].text.strip() for k in own)
        if not _asks(text, lexicon, by_asker=post.who == asker):
            continue
        title = title_of(text)
        for k in own:
            rows[k] = replace(rows[k], kind="furniture", reason="told by the one who asks")
        if title and own:
            last = own[-1]
            rows[last] = Line(rows[last].number, title, "heading", level=3)
    return replace(source, lines=tuple(rows))


def _posts(rows: list[Line]) -> list[Post]:
    """The posts, their heads set aside in ``rows``; none where fewer heads stand than a thread has."""
    heads = {k: who for k, row in enumerate(rows) if (who := _head(row))}
    if len(heads) < _POSTS:
        return []
    posts: list[Post] = []
    for k, row in enumerate(rows):
        if k in heads:
            posts.append(Post(heads[k]))
            rows[k] = replace(row, kind="furniture", reason="head of a post")
        elif posts:
            posts[-1].lines.append(k)
    return posts


def _head(row: Line) -> str:
    """Name in the head of a post; ``""`` for other lines."""
    text = row.text.strip(" *_")
    if not text or len(text.split()) > _HEAD_WORDS or row.kind in ("item", "table", "furniture"):
        return ""
    for pattern in _HEADS:
        match = pattern.match(text)
        if match:
            return match["who"].strip(" *_").lower()
    return ""


def _asks(text: str, lexicon: Lexicon, *, by_asker: bool) -> bool:
    """True for a post that asks or reports and does not tell how: by who wrote it, and by its last sentences."""
    sentences = [text[low:high].strip() for low, high in sentence_spans(text)]
    orders = sum(_orders(sentence, lexicon) for sentence in sentences)
    if orders >= _ORDERS:
        return False
    return by_asker or any(sentence.endswith("?") for sentence in sentences[-2:])


def _orders(sentence: str, lexicon: Lexicon) -> bool:
    words = re.findall(r"[a-z']+", sentence.lower())
    words = words[1:] if words[:1] in (["then"], ["now"], ["first"], ["next"]) else words
    return bool(words) and bool(lexicon.verb_of(words[0], "base")) and not sentence.endswith("?")


def title_of(text: str) -> str:
    """As in "The baffle's off. How do I get the socket out?": "Removing the socket (baffle removed)"; "" for no such question."""  # noqa: E501
    asked = " ".join(text[low:high] for low, high in sentence_spans(text) if "?" in text[low:high])
    off = _IS_OFF.search(text)
    needs = f" ({off['part']} removed)" if off else ""
    if _BACK.search(asked):
        return "Reassembly"
    for words in (asked, text):
        swap = _SWAP.search(words)
        if swap:
            return f"{(swap['part'] or swap['part2']).capitalize()} replacement{needs}"
        out = _OUT.search(words)
        if out and out["part"].lower() not in ("lot", "bit", "look", "hand", "feeling", "trick"):
            return f"Removing the {out['part']}{needs}"
        if not asked:
            break
    where = _WHERE.search(text)
    if where and (_IT_OUT.search(asked) or asked):
        return f"Removing the {where['part']}{needs}"
    return ""
