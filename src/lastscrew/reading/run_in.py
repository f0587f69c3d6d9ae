"""Headings that run into their text: "When installing: hook the front edge in first", "Removal: undo both screws"."""

from __future__ import annotations

import re
from typing import Literal

_BACK = (
    r"(?:(?:when|on|for|at|upon|during|before|while) )?"
    r"(?:re-?)?(?:installing|installation|fitting|assembly|assembling|mounting|insertion|inserting)"
    r"|to (?:re-?)?(?:install|fit|assemble|mount|insert|put (?:it )?back)"
    r"|(?:when |for )?putting (?:it|everything) back(?: together)?|way back|and back(?: again)?|replacement|back"
)
_OUT = (
    r"(?:(?:when|on|for|at|upon|during) )?"
    r"(?:removing|removal|dismantling|disassembly|disassembling|dismounting|taking (?:it )?(?:off|out|apart))"
    r"|to (?:remove|dismantle|disassemble|take (?:it )?(?:off|out|apart))|way out"
)
_WHAT = r"(?: (?:of )?(?:the |a |your )?[\w-]+(?: [\w-]+){0,3})?"
_RUN_IN = re.compile(
    rf"^\W*(?:(?P<back>(?:{_BACK}){_WHAT})|(?P<out>(?:{_OUT}){_WHAT}))\s*[:–—]\s+(?=[A-Za-z]\w+ )",
    re.IGNORECASE,
)


def run_in(text: str) -> tuple[Literal["removal", "refit", ""], int]:
    """Which half the opening words of a paragraph announce, and where its text begins; ``("", 0)`` without such words."""  # noqa: E501
    match = _RUN_IN.match(text)
    if match is None:
        return "", 0
    return ("refit" if match["back"] else "removal"), match.end()
