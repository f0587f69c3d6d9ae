"""Timed transcripts: SRT, VTT and lines that begin with ``[m:ss]``."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

from lastscrew.reading.model import Line
from lastscrew.reading.sources.plain import check_lines

_ARROW = re.compile(
    r"^\s*(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{1,3})\s*-->\s*(?:\d+:)?\d{1,2}:\d{2}[.,]\d{1,3}"
)
_STAMP = re.compile(
    r"^\s*[\[(]?\s*(?:(\d{1,2}):)?(\d{1,3}):(\d{2})(?:[.,]\d+)?\s*[\])]?\s*[-–:|]?\s+(?=\S)|^\s*[\[(](?:(\d{1,2}):)?(\d{1,3}):(\d{2})(?:[.,]\d+)?[\])]\s*"
)
_TAG = re.compile(
    r"<[^>]*>|\{\\[^}]*\}|♪|\[(?:music|applause|laughter|inaudible|silence|noise|clears throat|sighs?|foreign)\]|\((?:music|applause|laughter|inaudible|silence)\)",  # noqa: E501
    re.IGNORECASE,
)
_ROLE = r"(?:speaker|voice|person|host|guest|narrator|technician|tech|trainer|trainee|interviewer|interviewee|presenter|instructor|student|moderator|question|answer)"  # noqa: E501
_SPEAKER = re.compile(
    rf"^\s*(?:>>+\s*|[-–]\s+)?(?P<who>(?i:{_ROLE}\s*\w?\d*)|[A-Z][\w.'’-]*(?: [A-Z0-9][\w.'’-]*){{0,2}})\s*:(?:\s+(?=\S)|$)"  # noqa: E501
)
_VOICE = re.compile(r"^\s*<v(?:\.[^ >]*)?\s+(?P<who>[^>]+)>")
_NEXT_VOICE = re.compile(r"^\s*(?:>>+|[-–](?=\s))\s*")
_NO_VOICE = frozenset(["caution", "warning", "danger", "notice", "note", "tip", "important", "step", "next", "first", "part", "stop"])  # fmt: skip  # noqa: E501
_ASKS = re.compile(
    r"^\W*(?:(?:and|so|but|okay|ok|oh|right|wait|well|now|yeah)\b[,\s]*)*"
    r"(?:(?:what|where|how|why|which|who|when)\b|(?:is|are|was|were|does|did|can|could|shall|should|will|would|have|has) (?:it|that|this|there|these|those|they|we|i|you|the|all)\b|do (?:i|we|you|they|these|those)\b)",  # noqa: E501
    re.IGNORECASE,
)
_STOPPED = (".", "?", "!", ":", ";", ",", "-", "–", "—", "…")


def looks_like_transcript(text: str) -> bool:
    """True where captions are timed: an arrow line, or most lines begin with a time."""
    if (
        text.lstrip().startswith("WEBVTT")
        or len(re.findall(_ARROW.pattern, text, re.MULTILINE)) >= 2
    ):
        return True
    rows = [row for row in text.split("\n") if row.strip()][:200]
    stamped = sum(1 for row in rows if _STAMP.match(row))
    return len(rows) >= 2 and stamped >= max(2, len(rows) * 0.4)


def transcript_lines(text: str, name: str) -> tuple[Line, ...]:
    """Lines of a transcript; cue numbers, times and the head of a VTT file are furniture."""
    rows = text.rstrip("\n").split("\n")
    check_lines(rows, name)
    voices = _Voices(rows)
    lines: list[Line] = []
    seconds: float | None = None
    header = rows[0].lstrip("﻿").startswith("WEBVTT") if rows else False
    block = ""
    for index, row in enumerate(rows):
        number = index + 1
        following = rows[index + 1] if index + 1 < len(rows) else ""
        arrow = _ARROW.match(row)
        if arrow:
            seconds = _seconds(arrow[1], arrow[2], arrow[3])
            lines.append(Line(number, row, "furniture", time_s=seconds, reason="time of a caption"))
            header, block = False, ""
        elif header or block:
            lines.append(
                Line(number, row, "furniture", reason="head of the transcript")
                if row.strip()
                else Line(number, "", "blank")
            )
            block = block if row.strip() else ""
            header = header and bool(row.strip())
        elif re.match(r"^(?:NOTE|STYLE|REGION)\b", row) and not following.startswith("["):
            block = row
            lines.append(Line(number, row, "furniture", reason="note of the transcript"))
        elif re.fullmatch(r"\s*\d+\s*", row) and (_ARROW.match(following) or not following.strip()):
            lines.append(Line(number, row, "furniture", reason="number of a caption"))
        elif (
            _ARROW.match(following)
            and row.strip()
            and len(row.split()) < 6
            and not row.rstrip().endswith((".", "?", "!"))
        ):
            lines.append(Line(number, row, "furniture", reason="name of a caption"))
        else:
            stamp = _STAMP.match(row)
            if stamp:
                seconds = _seconds(stamp[1] or stamp[4], stamp[2] or stamp[5], stamp[3] or stamp[6])
            said, turns = voices.part(row[stamp.end() :] if stamp else row)
            if turns:
                _close_turn(lines)
            lines.append(_spoken(number, said, seconds))
    return tuple(lines)


def _is_sign(who: str) -> bool:
    """As in "Caution:", "Step 2:": no name of a speaker."""
    return who.split(maxsplit=1)[0].lower().rstrip(".") in _NO_VOICE


class _Voices:
    """Who speaks: names before a colon that stand on several lines, voice tags, marks of the next voice."""

    def __init__(self, rows: list[str]) -> None:
        named = (_SPEAKER.match(_STAMP.sub("", row, count=1)) for row in rows)
        self.times = Counter(match["who"] for match in named if match)
        self.last = ""

    def part(self, said: str) -> tuple[str, bool]:
        """What a row says without the name of its speaker, and whether another one speaks than before."""
        voice = _VOICE.match(said)
        name = voice or _SPEAKER.match(said)
        if name is not None and (voice or self._speaks(name["who"])):
            who = name["who"].strip()
            turns, self.last = who != self.last, who
            return said[name.end() :], turns
        mark = _NEXT_VOICE.match(said)
        return (said[mark.end() :], True) if mark else (said, False)

    def _speaks(self, who: str) -> bool:
        if _is_sign(who):
            return False
        known = re.fullmatch(rf"(?i:{_ROLE}\b.*)|[A-Z][a-z]+", who) is not None
        others = who.isupper() and max(self.times.values()) > 1
        return known or others or self.times[who] > 1


def _close_turn(lines: list[Line]) -> None:
    """What one voice says ends where another begins, with a stop or, of a question, with its mark."""
    k = next((k for k in range(len(lines) - 1, -1, -1) if lines[k].kind == "text"), -1)
    if k < 0 or lines[k].text.rstrip().endswith(_STOPPED):
        return
    turn = re.split(r"[.?!]\s", lines[k].text)[-1]
    lines[k] = replace(lines[k], text=f"{lines[k].text}{'?' if _ASKS.match(turn) else '.'}")


def _seconds(hours: str | None, minutes: str, seconds: str) -> float:
    return int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)


def _spoken(number: int, row: str, seconds: float | None) -> Line:
    text = _TAG.sub("", row).strip().lstrip("-> ").strip()
    return Line(number, text, "text" if text else "blank", time_s=seconds)
