"""What a speaker takes back: "four screws, no, wait, three of them", "undo the strap, no, this one has latches".

A number that is corrected further on becomes the later number where it stands; a clause that is taken back is blanked.
The text keeps its length.
"""

from __future__ import annotations

import re

from lastscrew.reading.lexicon.groups import SMALL_NUMBERS

_NUMBER = r"(?:\d{1,2}|" + "|".join([*SMALL_NUMBERS, "thirteen", "fourteen", "fifteen", "sixteen", "eighteen", "twenty"]) + ")"  # fmt: skip  # noqa: E501
_MORE = {"thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "eighteen": 18, "twenty": 20}
_SORRY = (
    r"(?:no,? wait|oh,? wait|wait,? no|no,? no|no,? sorry|sorry,? no|no,? hang on|hang on,? no|no,? hold on|"
    r"hold on,? no|no,? i tell a lie|i tell a lie|no,? i'?m lying|no,? that'?s wrong|no,? actually|actually,? no|"
    r"i'?m sorry|excuse me|make that|or rather|scratch that|correction|"
    r"(?<!\bthe )(?<!\ba )(?<!\bsize )(?<!\bwith )(?<!\bnumber )no(?![.]? ?\d)|sorry|wait|actually|i mean)"
)
_HESITATION = r"(?:[\s,.;…—–-]|\b(?:erm*|um+|uh+|er|oh|it'?s|that'?s|there'?s|there are|it has|a|actually|sorry)\b)*"
_COUNT = re.compile(
    rf"\b(?P<first>{_NUMBER})\b(?P<gap>(?:[ ]+(?!(?:and|or|no)\b)[a-z][\w'/-]*){{0,5}}?)(?P<sorry>[\s,.;…—–-]+(?:oh\b[\s,]*)?{_SORRY}\b"  # noqa: E501
    rf"{_HESITATION})(?P<second>{_NUMBER})\b(?P<them>[ ]+of (?:them|those|these))?",
    re.IGNORECASE,
)
_CLAUSE = re.compile(
    r"(?:^|(?<=[.!?]\s)|(?<=[,;]\s)|(?<=\bthen\s)|(?<=\bso\s)|(?<=\band\s))"
    r"(?P<back>(?:so |then |and |you |we |i |just )*(?:undo|take|pull|lift|push|press|release|unplug|unscrew|remove|"
    r"open|flip|slide|pop|peel|loosen|unclip|unhook|turn|squeeze|put|plug|slacken|get|disconnect)\b[^,.;!?]{2,60}),?\s*"
    r"(?:no,? wait|wait,? no|no,? sorry|sorry,? no|no,? hang on|hang on,? no|scratch that|no,? that'?s wrong|"
    r"no,? i tell a lie|i tell a lie)\b[,.]?\s+(?=[a-z])(?!(?:\d|one|two|three|four|five|six|seven|eight|nine|ten)\b)",
    re.IGNORECASE,
)
_NO_NOUN = frozenset(["there's", "there", "that's", "that", "it's", "it", "they", "they're", "of", "and", "so", "but", "in", "on", "at", "to", "around", "round", "along", "which", "with", "the", "then", "you", "we", "i", "because", "here", "right", "sorry", "one"])  # fmt: skip  # noqa: E501
_OBJECT = re.compile(
    r"^(?:the|a|an|its|both|all|two|three|four)\b(?![^.,;!?]*\b(?:is|are|has|have|isn't|hasn't)\b)"
)


def without_taken_back(text: str) -> str:
    """The text with what was meant in place of what was said first."""
    text = _COUNT.sub(_last_count, text)
    return _CLAUSE.sub(_clause, text)


def _value(word: str) -> str:
    low = word.lower()
    return low if low.isdigit() else str(SMALL_NUMBERS.get(low) or _MORE[low])


def _last_count(match: re.Match[str]) -> str:
    """The later number in the place of the first, where the thing counted stands between them; else alone."""
    first, gap, second = match["first"], match["gap"], match["second"]
    behind = match.string[match.end() :]
    follows = re.match(r"[ ]+(?P<word>[a-z][\w']*)", behind, re.IGNORECASE)
    named_again = (
        not match["them"] and follows is not None and follows["word"].lower() not in _NO_NOUN
    )
    value = _value(second)
    if not gap or named_again or len(value) > len(first):
        blank = len(match.group()) - len(second) - len(match["them"] or "")
        return " " * blank + second + (match["them"] or "")
    said = value.ljust(len(first)) + gap
    tail = "." if re.match(r"\s*[.…]", match["sorry"]) and not match["them"] else ""
    return (said + tail).ljust(len(match.group()))


def _clause(match: re.Match[str]) -> str:
    """What was said first goes; "the strap, no, wait, the two latches" keeps its verb."""
    behind = match.string[match.end() :]
    back = match["back"]
    if _OBJECT.match(behind):
        verb = re.match(r"(?:(?:so|then|and|you|we|i|just) )*\w+(?: (?:up|off|out|down))?", back)
        kept = verb.group() if verb is not None else ""
        return kept + " " * (len(match.group()) - len(kept))
    return " " * len(match.group())
