"""The way back told by what is done to what: "Place the battery in its holder", where the battery was taken out.

In a text whose heading names both halves, or none, no word says where the way back begins. The first thing that is
put where it belongs, after it was taken out in the same procedure, does.
"""

from __future__ import annotations

from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.predicates import Found
from lastscrew.reading.taken_out import recent_actions
from lastscrew.reading.walk_state import Builder

_PLACING = frozenset(["place", "put", "position", "set", "lay", "seat", "insert", "fit", "mount", "install", "press", "push", "slide", "hang", "lower", "drop", "feed", "plug", "hook", "clip", "snap"])  # fmt: skip  # noqa: E501
_INTO = frozenset(["in", "into", "onto", "on", "over", "through"])
_OUT = frozenset(["remove", "lift", "slide", "disconnect"])
_IN = frozenset(["replace", "insert", "connect"])
_ASIDE = word_group("meaning_bench") | frozenset(["cup", "box", "pot", "tin", "drawer", "workplace", "paper", "towel", "packaging", "solvent", "water", "bath", "cleaner"])  # fmt: skip  # noqa: E501


def is_placed_again(found: Found, builder: Builder | None) -> bool:
    """True where the verb puts into its place a thing that the procedure under way has taken out of it."""
    if builder is None or builder.kind == "refit" or found.lemma not in _PLACING or found.weak:
        return False
    seats = found.to or found.at
    if found.to_word not in _INTO or not seats or found.particle in ("out", "off", "aside"):
        return False
    if any(thing.head in _ASIDE or thing.category in ("body", "tool") for thing in seats):
        return False
    heads = {t.head for t in found.things if not t.is_pronoun and t.category != "fastener"}
    for action in reversed(list(recent_actions(builder))):
        if action.fastener or not action.things or action.things[-1].head not in heads:
            continue
        if action.klass in _IN:
            return False
        if action.klass in _OUT:
            return True
    return False
