"""Does a text look as if it told a pass code? Then it is not kept before a person has looked again.

Pass codes have no place in notes: whoever reads the record could read them for years. The rules here are our
own (no source): rather a warning too many than a code kept.
"""

from __future__ import annotations

import re

_WORD = (
    r"(?:pass[\s-]?words?|pass[\s-]?codes?|pass[\s-]?phrases?|pwd|pw|passwort|kennwort|geheimzahl|"
    r"pin[\s-]?(?:codes?|number|nummer)|(?:unlock|entry|sign-?in|log-?in|screen)[\s-]?codes?|log-?in)"
)
_LINK = r"\s*(?::|=|->|→|\bis\b|\bwas\b|\bist\b|\blautet\b)\s*"
_VALUE = r"[\"'“„‘(]?(?P<value>[^\s\"'”“’)]{3,})"
_NO_VALUES = (
    "known|unknown|not|none|needed|required|wanted|given|missing|lost|forgotten|removed|reset|off|changed|set|"
    "asked|with|there|locked|wrong|refused|accepted|protected|empty|blank|no|unbekannt|nicht|kein|keins|keine|"
    "nötig|vergessen|entfernt|aus|the|that|what|still|always|never|working|being|and|also"
)
_TOLD = re.compile(rf"\b{_WORD}\b{_LINK}(?!(?:{_NO_VALUES})\b){_VALUE}", re.IGNORECASE)
_BARE_DIGITS = re.compile(
    r"\b(?:pin|passcode|pass code|unlock code)\b(?:\s*(?:is|ist|was)\b)?[\s:=#]*[0-9]{4,8}\b",
    re.IGNORECASE,
)
_BARE_WORD = re.compile(
    rf"\b(?:pass[\s-]?word|passwort|kennwort|pass[\s-]?code|pwd)\b\s+(?=\S*[0-9])(?!(?:{_NO_VALUES})\b)\S{{4,}}",
    re.IGNORECASE,
)
_PATTERN = re.compile(
    r"\b(?:unlock|swipe|entsperr)[\s-]?(?:pattern|muster)\b\s*[:=]", re.IGNORECASE
)


def tells_pass_code(text: str) -> bool:
    """True when a text looks as if it told a pass code, a PIN or an unlock pattern."""
    return any(rule.search(text) for rule in (_TOLD, _BARE_DIGITS, _BARE_WORD, _PATTERN))
