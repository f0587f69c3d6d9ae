"""Cables of a draft: what kind they are, whose they are by their names."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.model import Action
from lastscrew.reading.naming import plain

_TWO_ENDS = 3
"""What a cable with two ends joins: itself and two others."""

CABLE_NOUN = r"\b(?:cables?|wires?|leads?|harness(?:es)?|flex(?:es)?|ribbons?|plugs?|connectors?)\b"


def cable_kind(action: Action) -> str:
    """The kind of joint that a cable is, by its name."""
    low = f"{action.object} {' '.join(thing.name for thing in action.things)}".lower()
    if re.search(r"\b(?:fpc|ffc|ribbon|flex|flat)\b", low):
        return "ribbon"
    if re.search(r"\b(?:coax|antenna|u\.fl|ipex|aerial)\b", low):
        return "coax"
    if re.search(r"\bboard[- ](?:to[- ]board|link)\b", low):
        return "board_link"
    return "plug"


def one_by_one(action: Action) -> list[Action]:
    """As in "the SATA cable and the power cable from the drive": each cable with its own end and the end they share.

    As in "the board link from the USB board and the main board": one joint at each end.
    """
    if (
        len(action.things) == 1
        and len(action.joins) == _TWO_ENDS
        and " and " not in action.joins[0]
    ):
        far = [name for name in action.joins[1:] if name.lower() in action.from_.lower()]
        if len(far) == _TWO_ENDS - 1:
            return [replace(action, joins=(action.joins[0], host), from_=host) for host in far]
    if len(action.things) < 2 or len(action.joins) != len(action.things) + 1:
        return [action]
    host = action.joins[-1]
    return [
        replace(
            action,
            object=thing.name,
            things=(thing,),
            joins=(near, host),
            count=thing.count or 1,
        )
        for thing, near in zip(action.things, action.joins, strict=False)
    ]


def before_the_cable(name: str) -> str:
    """As in "power button" of the power button cable."""
    return re.sub(rf"\s*{CABLE_NOUN}\s*$", "", name, flags=re.IGNORECASE).strip()


def is_board(name: str) -> bool:
    """True for the name of a board."""
    return plain(name).split()[-1:] in (["board"], ["motherboard"], ["mainboard"], ["pcb"])
