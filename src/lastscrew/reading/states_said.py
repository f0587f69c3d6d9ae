"""A state of the machine as it is asked for, without what stands around it.

"The capacitors must be discharged before any part is touched" asks for "the capacitors are discharged"; "No part should
be touched until the plug has been pulled" for "the plug has been pulled".
"""

from __future__ import annotations

import re

from lastscrew.reading.lexicon import Lexicon

_SIGNAL = re.compile(
    r"^\W*(?:warn\wng|caution|danger|note|notice|important|attention|safety)\b\s*[:!.–—-]+\s*",
    re.IGNORECASE,
)
_UNTIL = re.compile(
    r"^\W*(?:no|nothing|do not|don't|never|not)\b.*?\b(?:until|unless|before)\s+(?P<state>.+)$",
    re.IGNORECASE,
)
_TAIL = re.compile(
    r",?\s+(?:before|prior to)\s+(?:any|you|the|this|work|start|begin|remov|open|touch|servic|doing|dismantl|disassembl|carry|attempt)\w*.*$",  # noqa: E501
    re.IGNORECASE,
)
_MUST = re.compile(
    r"\b(?P<many>\w+s)?\s*\b(?:must|should|shall|has to|have to|needs? to|is to|are to|ought to)\s+(?:first\s+|already\s+|always\s+)?(?:be|have been)\b",  # noqa: E501
    re.IGNORECASE,
)
_CLAUSES = re.compile(
    r"\s*;\s*|,?\s+and\s+(?=(?:the|at least|a|an|your|its|all|let|wait|allow|that)\b)|,\s+(?=(?:then|and|wait|let|allow)\b)",  # noqa: E501
    re.IGNORECASE,
)
_SEVERAL = re.compile(
    r",\s+(?:also\s+|then\s+)?(?=(?:disconnect|unplug|pull|turn|switch|shut|power|remove|discharge|drain|isolate|lock|touch|wait)\b)"
    r"|,?\s+(?:and|then)\s+(?=(?:disconnect|unplug|turn|switch|shut|power|remove|discharge|drain|isolate|lock|wait|hang)\b)",
    re.IGNORECASE,
)
"""As in "Turn it off, unplug the cord and wait …": a list of what is to be done, where a comma parts it."""
_COMMA = re.compile(
    r",\s+(?:also\s+|then\s+)?(?:disconnect|unplug|pull|turn|switch|shut|power|touch)\b",
    re.IGNORECASE,
)
_BY_MEANS = re.compile(
    r"^(?P<off>\W*(?:switch|turn|shut|power) (?:it|[\w -]{2,30}?) (?:off|down))\s+(?:with|by|using|at|on) (?:the|its) (?!wall|mains|socket|source)[^,;.]*$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Switch it off | with the key switch", "| at the side": how is no part of the state."""
_SWITCHED = re.compile(r"\b(?:turn|switch|power|shut)\b.{2,40}\b(?:off|down)\b")
_AS_WELL = re.compile(
    r"\b(?:must|should|has to|have to|needs? to|is|are)\b (?:be |have )?(?:\w+ly )?(?:stopped|run down|come to (?:a |rest)|drained|empty|emptied|closed|locked|lowered|raised|parked|cold|cool|cooled|discharged|vented|dark|out|off)\b"  # noqa: E501
    r"|^\W*(?:the )?(?:plug|lead|cord|cable|charger|supply) (?:is )?(?:out|off)\W*$"
    r"|^\W*(?:pull|take|unplug|disconnect)\w*\b.*\b(?:plug|charger|adapt[eo]r|cord|brick|battery)\b",
    re.IGNORECASE,
)
"""A state that stands beside "power off" in one sentence."""
_TOLD = re.compile(
    r"^\W*(?:the|its|all|both|your) (?:[\w-]+ ){1,4}?(?:is|are|has been|have been) (?:\w+ly )?\w+(?: aside| away| back)?(?: too| as well| already)?\W*$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "The partner controller is online": a state told in a short sentence of its own."""
_WAIT = re.compile(r"^\W*(?:and |then )*(?:at least|allow|wait|let)\b|\bminutes?\b", re.IGNORECASE)


def plain_states(text: str, lexicon: Lexicon) -> list[str]:
    """The states that a sentence asks for, each by itself; the text as it stands where it is short."""
    bare = _SIGNAL.sub("", text.strip()).strip(" .")
    until = _UNTIL.match(bare)
    bare = until["state"] if until else bare
    shorter = _TAIL.sub("", bare).strip(" ,.")
    bare = shorter if len(shorter.split()) >= 2 else bare
    bare = _BY_MEANS.sub(r"\g<off>", bare)
    if len(bare.split()) <= 5 and not _MUST.search(bare):
        return [bare or text]
    listed = _SEVERAL.split(bare) if _COMMA.search(bare) else [bare]
    clauses = [
        clause.strip(" ,.")
        for piece in listed
        for clause in _CLAUSES.split(piece)
        if clause.strip(" ,.")
    ]
    low = [clause.lower() for clause in clauses]
    powered = [
        clause
        for clause, lower in zip(clauses, low, strict=True)
        if any(phrase in lower for phrase in lexicon.phrases["power_states"])
        or _SWITCHED.search(lower)
    ]
    if powered:
        powered = [c for c in clauses if c in powered or _AS_WELL.search(c) or _TOLD.match(c)]
    kept = powered or [clause for clause in clauses if not _WAIT.search(clause)] or clauses
    return [_MUST.sub(_is, clause) for clause in kept]


def _is(match: re.Match[str]) -> str:
    many = match["many"] or ""
    said = f"{many} are" if many else "is"
    return f" {said}" if match.group()[:1].isspace() else said
