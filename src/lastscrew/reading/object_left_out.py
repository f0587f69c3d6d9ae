"""Verbs without an object in running text: what was spoken of just before is meant."""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.memory import Memory
from lastscrew.reading.model import Thing
from lastscrew.reading.predicates import Found

_ON_SOMETHING = frozenset(["remove", "lift", "disconnect", "peel", "loosen"])
_SPOKEN_OF = frozenset(["part", "cover", "board", "card", "drawer", "cable", "connector", "fastener", "film"])  # fmt: skip  # noqa: E501

_SHORT = 5
"""Words of a sentence that may leave its object out; a longer one names it somewhere."""


def object_left_out(found: Found, memory: Memory, sentence: str) -> list[Thing]:
    """As in "Two M3x6 hold the fan. Remove.", "The lid is clipped on. Lift off.": what was spoken of just before."""
    klass = memory.lexicon.verbs[found.key].klass
    plugged = found.lemma == "plug" and found.to and not found.at
    if plugged and not memory.spoken and not found.weak and not found.position:
        cables = [t for t in memory.mentioned[-4:] if t.category in ("cable", "connector")]
        return [replace(cables[-1], article="the")] if cables else []  # "Plug into J4."
    if found.weak or memory.spoken or klass not in _ON_SOMETHING or not memory.mentioned:
        return []
    opens = sentence.lower().lstrip(" *_-").startswith(found.lemma)
    if (
        found.position
        or not opens
        or len(sentence.split()) > _SHORT
        or sentence.rstrip(" *_").endswith(":")
    ):
        return []
    if found.lemma == "pull" and not found.particle:
        return []  # "Pull, do not twist" tells how
    if found.tool or found.at or found.means or found.manner or found.by:
        return []
    last = memory.mentioned[-1]
    return [replace(last, article="the")] if last.category in _SPOKEN_OF else []
