"""Timed transcripts: SRT, VTT and lines that begin with ``[m:ss]``."""

from __future__ import annotations

import re

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
_SPEAKER = re.compile(
    r"^\s*(?:>>+\s*)?(?:speaker\s*\d+|host|narrator|technician|interviewer|presenter|[A-Z][a-z]+)\s*:\s+(?=\S)"
)


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
            lines.append(_spoken(number, row[stamp.end() :] if stamp else row, seconds))
    return tuple(lines)


def _seconds(hours: str | None, minutes: str, seconds: str) -> float:
    return int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)


def _spoken(number: int, row: str, seconds: float | None) -> Line:
    text = _SPEAKER.sub("", _TAG.sub("", row)).strip().lstrip("-> ").strip()
    return Line(number, text, "text" if text else "blank", time_s=seconds)
