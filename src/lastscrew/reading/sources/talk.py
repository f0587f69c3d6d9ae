"""Speech that was written down without times: told from a written text by how its sentences open."""

from __future__ import annotations

import re

_TURN_OF_TALK = re.compile(
    r"(?:^|[.!?…]['\"’”]?\s+)(?:okay|ok|so|right|now|and|but|yeah|yes|no|good|alright|all right|well|sorry|um+|uh+|er+m*|oh|ah|like i said|basically|anyway)\b[,.\s]",  # noqa: E501
    re.IGNORECASE | re.MULTILINE,
)
_TALKY = 110
"""One sentence in so many words opens like talk ("Okay, …", "So …", "And …"); running text has one in 200 at most."""
_LISTED = re.compile(
    r"^\s*(?:[-*•#|]|\(?\d{1,2}[.):]\s|step \d|[a-z][.)]\s)", re.IGNORECASE | re.MULTILINE
)
_ENOUGH_WORDS = 120


def looks_like_talk(text: str) -> bool:
    """True for speech written down without times: sentences that open like talk, in paragraphs, without lists.

    Measured on labelled texts of ours: talk opens a sentence so once in 25 to 100 words, written texts, forum answers
    and essays once in 160 words or less often (no source; the limit lies between).
    """
    words = len(text.split())
    if words < _ENOUGH_WORDS or len(_LISTED.findall(text)) > 1:
        return False
    return len(_TURN_OF_TALK.findall(text)) * _TALKY >= words
