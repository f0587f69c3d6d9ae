"""Outcomes of checks and mends in words: our own few, all others as the device file names them."""

from __future__ import annotations

from collections.abc import Mapping

from lastscrew.saying import say

OWN: Mapping[str, str] = {
    "works": say("works"),
    "faulty": say("faulty"),
    "done": say("done"),
    "good": say("good"),
    "bad": say("bad"),
    "low": say("low"),
    "high": say("high"),
}


def outcome_words(name: str) -> str:
    """An outcome as people read it."""
    return OWN.get(name, name.replace("_", " "))
