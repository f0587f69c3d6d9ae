"""What a text says once for several procedures: "Unless stated otherwise, the following holds for every section: …".

Also the way back to what was said before: "as 5.5 a) and b)", "all previous steps must have been carried out".
"""

from __future__ import annotations

import re

_JOBS = (
    r"(?:jobs?|tasks?|procedures?|sections?|chapters?|repairs?|replacements?|removals?|operations?|exercises?|of (?:them|these|those)|"  # noqa: E501
    r"(?:kind of )?(?:work|job|repair|intervention|maintenance)|one of (?:them|these|the following))"
)
_FOR_ALL = re.compile(
    rf"\b(?:before|prior to|for|in|to|with|of)\s+(?:any|each|every|all)(?: and every| one)?(?: of)?(?: the| these| those| this)?(?: \w+)?\s+{_JOBS}\b|"  # noqa: E501
    r"\bthe following (?:conditions? |states? |precautions? )?(?:holds?|appl\w+|must|is required|are required|is assumed)\b[^:]*:|"  # noqa: E501
    r"\bunless (?:\w+ ){1,3}(?:stated|said|noted|specified|mentioned|indicated)\b",
    re.IGNORECASE,
)
_AFTER_COLON = re.compile(r"^[^:]{8,140}:\s*(?P<rest>\S.+)$", re.DOTALL)
_AS_ANOTHER = re.compile(
    r"^\W*(?:(?:the )?same )?as (?:for |in |under |with |described in )?(?:(?:section|chapter|para(?:graph)?|procedure|step)s?\.? )?"  # noqa: E501
    r"(?:(?P<number>\d+(?:[.-]\d+)*)|(?:the |your )?(?P<name>[A-Za-z][\w /-]{2,30}?))"
    r"(?P<letters>(?:\s*(?:,|and|&)?\s*\(?\b[a-h]\))*)\s*(?=[.,;:]|$|\band\b|\bplus\b)[.,;]?\s*",
    re.IGNORECASE,
)
_ALL_PREVIOUS = re.compile(
    r"\b(?:all|every one|each)(?: of)?(?: the)? (?:previous|preceding|above|earlier|foregoing)(?: \w+)? (?:steps?|procedures?|sections?|removals?|parts?|operations?|jobs?|chapters?)\b|"  # noqa: E501
    r"\b(?:everything|all (?:of )?(?:the )?(?:\w+ )?(?:steps|procedures|sections|parts|jobs|removals)(?: \w+)?|all of this) (?:above|so far|up to here|before this)\b",  # noqa: E501
    re.IGNORECASE,
)
_ASKED = re.compile(
    r"\b(?:must|first|should|have to|has to|needs?|requires?|required|carry out|carried out|complete|completed|perform|do|done|follow|off|out|removed|finished)\b",  # noqa: E501
    re.IGNORECASE,
)


def said_for_all(text: str) -> bool:
    """True where a sentence or heading speaks of all the procedures that follow."""
    return _FOR_ALL.search(text) is not None


def list_of_all(text: str) -> list[str]:
    """What stands behind the colon of such a sentence, piece by piece; nothing where there is no colon."""
    match = _AFTER_COLON.match(text)
    if match is None:
        return []
    pieces = re.split(r"\s*[;,]\s*(?:and\s+)?|\s+and\s+", match["rest"].strip(" ."))
    return [piece for piece in pieces if piece]


def as_another(text: str) -> tuple[str, tuple[int, ...], str] | None:
    """As in "as 5.5 a) and b). In addition …": number or name of the other, which of its list, and what follows."""
    match = _AS_ANOTHER.match(text)
    if match is None:
        return None
    letters = re.findall(r"\b([a-h])\)", match["letters"], re.IGNORECASE)
    chosen = tuple("abcdefgh".index(letter.lower()) for letter in letters)
    return match["number"] or match["name"], chosen, text[match.end() :]


def asks_all_previous(text: str) -> bool:
    """As in "All previous steps must have been carried out"."""
    return _ALL_PREVIOUS.search(text) is not None and _ASKED.search(text) is not None
