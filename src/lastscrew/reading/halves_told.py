"""Which half of the work a running text tells: taking apart, or putting together again."""

from __future__ import annotations

import re

_PUT_BACK = re.compile(
    r"^\W*(?:(?:finally|then|now|lastly|last of all|next)\b,?\s+)?(?:when|once|after|before|as soon as)\s+(?:the |a |an |its |all )?[\w -]{2,40}?\s+(?:is|are|has been|have been)\s+(?:\w+ )?(?:put back|refitted|reinstalled|fitted again|reassembled|fitted|replaced|back in (?:place|position))\b"  # noqa: E501
    r"|^\W*(?:on|for|during|in|upon|before|after)?\s*(?:the\s+)?(?:re-?assembly|refitting|reinstallation|re-?assembling|installation|fitting|mounting|putting (?:it|everything|the [\w ]{2,20}?) (?:back|together)|closing up)\b(?!\s+(?:screws?|holes?|bracket|plate|kit|nuts?|bolts?))"  # noqa: E501
    r"|\b(?:is|are) (?:put together|reassembled|assembled again|put back together)\b|^\W*to (?:refit|reassemble|reinstall|put (?:it|them|the [\w ]{2,30}?) back)\b",  # noqa: E501
    re.IGNORECASE,
)
_TAKEN_OFF = re.compile(
    r"^\W*(?:to (?:remove|reach|get at|gain access|take (?:out|off)|dismantle)|(?:for |on |the )?(?:removal|dismantling|disassembly) (?:of|begins|starts)|removing|dismantling)\b",  # noqa: E501
    re.IGNORECASE,
)
_SAID_OUT = re.compile(
    r"\b(?:removed|undone|unscrewed|unbolted|(?:taken|drawn|pulled|lifted|eased|prised|rolled|slid|worked|swung) (?:off|out|away|clear|from|apart)|withdrawn|unplugged|loosened|slackened|disconnected|unsoldered|unhooked|unclipped|peeled|raised out|comes? (?:off|out|away))\b",  # noqa: E501
    re.IGNORECASE,
)
_SAID_BACK = re.compile(
    r"\b(?:refitted|reinstalled|put back|put (?:on|into|together)|tightened|reconnected|(?:pushed|slid|screwed|plugged|soldered|stuck) (?:back|home|on|onto|in|into|down)|driven (?:in|home)|laid (?:in|on|round|around|over)|again|goes? (?:in|on|back)|offered up|lowered (?:into|onto|over)|set (?:on|into|down)|fastened with|pressed (?:in|into|on|home)|closed)\b",  # noqa: E501
    re.IGNORECASE,
)


def half_told(sentence: str) -> bool | None:
    """True where a sentence turns to putting together, False where it turns to taking apart, else None."""
    if _PUT_BACK.search(sentence):
        return True
    return False if _TAKEN_OFF.search(sentence) else None


def half_of_paragraph(text: str) -> bool | None:
    """The same for a whole paragraph, by the words of both halves in it; None where they are balanced."""
    out, back = len(_SAID_OUT.findall(text)), len(_SAID_BACK.findall(text))
    return back > out if abs(out - back) > 1 else None
