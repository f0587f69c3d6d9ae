"""Torques as texts give them: ``0.6 N m``, ``12 Ncm``, ``5 kgf·cm``, ``4 in-lb``."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from lastscrew.reading.model import Step

_TURNED_IN: Final = ("tighten", "replace", "insert")

NCM: Final[dict[str, float]] = {
    "nm": 100.0, "ncm": 1.0, "cnm": 1.0, "mnm": 0.1, "kgfcm": 9.80665, "kgcm": 9.80665,
    "inlb": 11.2985, "inlbs": 11.2985, "lbin": 11.2985, "lbfin": 11.2985, "inlbf": 11.2985,
}  # fmt: skip
"""Newton-centimetres of one unit: 1 kgf = 9.80665 N by definition, 1 lbf·in = 0.112985 N·m (both from memory)."""

_SAID: Final = re.compile(
    r"(?<![\w.,])(?P<low>\d+(?:[.,]\d+)?)(?:\s*(?:-|–|to|\.\.\.)\s*(?P<high>\d+(?:[.,]\d+)?))?\s*"
    r"(?P<unit>(?:m|c)?N[\s·.∙*-]?c?m|kgf?[\s·.∙*-]?cm|in[\s·.-]{0,2}lbf?s?|lbf?[\s·.-]?in)\b",
    re.IGNORECASE,
)
_MOST_NCM: Final = 100_000.0


def with_torque(step: Step) -> Step:
    """The step whose screws are turned in with the one torque that its text gives, as the text writes it."""
    turned = [a for a in step.actions if a.fastener and a.klass in _TURNED_IN and not a.torque]
    if not turned or torque_in(step.text) is None:
        return step
    match = _SAID.search(step.text)
    said = match[0].strip() if match is not None else ""
    actions = tuple(
        replace(action, torque=said) if any(action is one for one in turned) else action
        for action in step.actions
    )
    return replace(step, actions=actions)


def torque_in(text: str) -> float | None:
    """The one torque that a text gives, in newton-centimetres; the middle of a span.

    None where it gives none, or several that differ.
    """
    found = set()
    for match in _SAID.finditer(text):
        factor = NCM.get(re.sub(r"[^a-z]", "", match["unit"].lower()))
        if factor is None:
            continue
        values = [
            float(piece.replace(",", ".")) for piece in (match["low"], match["high"]) if piece
        ]
        found.add(round(sum(values) / len(values) * factor, 1))
    if len(found) != 1:
        return None
    torque = found.pop()
    return torque if 0 < torque <= _MOST_NCM else None
