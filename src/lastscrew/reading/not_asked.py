"""Lines under "Before you begin" that ask for nothing: reading, keeping a copy, getting things ready, what goes on by itself.

"Read the whole procedure", "Back up the settings", "Obtain a spare", "The other fan keeps running", "The swap must be
done within two minutes": none of them takes a part off or brings the machine into a state.
"""  # noqa: E501

from __future__ import annotations

import re

_LEAD = (
    r"^\W*(?:(?:please|first|then|also|always|you (?:should|must|need to|will need to))\b,?\s*)*"
)
_DESK_WORK = re.compile(
    rf"{_LEAD}(?:read|study|familiari[sz]e|review|consult|understand|back(?:ing)? up|save|export|copy|make (?:a |an )?(?:\w+ )?(?:copy|backup|note|photo|sketch|list)|"  # noqa: E501
    r"note(?: down)?|record|write|print|photograph|take (?:a |some )?(?:photos?|pictures?)|inform|tell|notify|obtain|get hold|gather|collect|order|buy|have (?!(?:the|all|both|your) [\w -]{2,30}? (?:removed|off|out|unplugged|disconnected))|"  # noqa: E501
    r"get (?:an?|the|some|your|two|all)\b(?!.*\b(?:out|off|down|unplugged)\W*$)|prepare (?:an?|the|some|your) [\w -]*(?:tools?|mat|surface|workplace|parts?|bench)|plan|allow (?:about |at least |for )?\d+|allow yourself|keep|work|wear|put on (?:safety|gloves|your glasses)|use)\b",  # noqa: E501
    re.IGNORECASE,
)
_STRAP = re.compile(r"\bstrap\b|\bgrounded\b|\banti-?static\b", re.IGNORECASE)
_GOES_ON = re.compile(
    r"^\W*(?:(?:the|its|your|all|both|any|each|every|this|that|these|other|remaining|its|it|they)\b\s*)(?:[\w-]+\s+){0,5}?"
    r"(?:(?:will|can|may)\s+)?(?:stays?|keeps?|remains?|continues?|goes|runs?|rises?|increases?|drops?|starts?|stops?|blinks?|beeps?|takes?|weighs?|holds?)\b",
    re.IGNORECASE,
)
"""As in "The other fan keeps running": told of the machine."""
_IS_STATE = re.compile(
    r"\b(?:must|should|has to|have to|needs? to|make sure|ensure)\b", re.IGNORECASE
)
_LIMIT = re.compile(
    r"\b(?:must|should|can|may|is to|are to|has to|have to)\b.*\b(?:within|in less than|in under|no longer than|(?:for )?(?:not )?more than|up to)\s+(?:\d+|one|two|three|five|ten)\s*(?:s|sec\w*|min\w*|hours?)\b",  # noqa: E501
    re.IGNORECASE,
)
_AT_HAND = re.compile(
    r"^\W*(?:you(?:'ve| will| should)? (?:have|need)|have)\b(?: (?:got|ready|at hand))? (?=(?:an?|the|some|your|two|one)\b)"  # noqa: E501
    r"(?!.*\b(?:removed|off|out|open|unplugged|disconnected|drained)\b)",
    re.IGNORECASE,
)
"""As in "You have a No. 1 screwdriver": what lies ready."""
_NORMAL = re.compile(
    r"^\W*(?:this|that|it)\s+is\s+(?:normal|expected|ok|fine|intended)\b", re.IGNORECASE
)


def is_not_asked(text: str) -> bool:
    """True where a line of preparation is advice, desk work, a limit of time, or tells what goes on by itself."""
    if _AT_HAND.match(text):
        return True
    if _DESK_WORK.match(text):
        worn = re.match(rf"{_LEAD}(?:wear|use|put on)\b", text, re.IGNORECASE)
        return worn is None or _STRAP.search(text) is None
    told = _GOES_ON.match(text) is not None and _IS_STATE.search(text) is None
    return told or bool(_LIMIT.search(text) or _NORMAL.match(text))
