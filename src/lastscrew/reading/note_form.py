"""Instructions in note form, without a verb: "4 screws out", "bar up", "lid on"."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lastscrew.reading.phrase_words import PhraseWords

NOTE_WORDS = frozenset(
    [
        "off",
        "out",
        "away",
        "in",
        "on",
        "back",
        "up",
        "down",
        "open",
        "closed",
        "shut",
        "loose",
        "apart",
    ]
)


def note_verb(category: str, word: str) -> str:
    """Verb that a note leaves out: "4 screws out" removes them, "bar up" opens it."""
    if category in (
        "software",
        "device",
        "text",
        "body",
        "power",
        "power_button",
        "place",
        "force",
    ):
        return ""
    if category in ("lock", "clip", "button"):
        return {
            "up": "release",
            "open": "release",
            "loose": "release",
            "off": "release",
            "out": "release",
        }.get(word, "close")
    if category in ("film", "supply", "residue"):
        if word in ("up", "down"):
            return ""  # "label up": which way it lies
        return "apply" if word in ("in", "on", "back") else "remove"
    linked = category in ("cable", "connector", "antenna")
    if word in ("off", "out", "away"):
        return "unplug" if linked else "remove"
    if category == "card" and word == "in":
        return "insert"
    if word in ("in", "on", "back"):
        return "tighten" if category == "fastener" else "connect" if linked else "replace"
    if word in ("open", "apart", "loose"):
        return "loosen" if category == "fastener" else "unplug" if linked else "open"
    if word in ("closed", "shut"):
        return "close"
    return ""


def noted_at(phrases: PhraseWords, i: int) -> bool:
    """As in "plug out, tap off", "spring on", "flex first": a thing and what becomes of it, where no verb is known."""
    low, follow = phrases.low(i), phrases.low(i + 1)
    if not phrases.lexicon.is_noun(low) or phrases.kind(i + 2) not in ("", "mark"):
        return False
    opens = phrases.kind(i - 1) in ("", "mark")
    if phrases.spoken:
        return opens and follow in ("out", "off")
    opens = opens or phrases.low(i - 1) in ("and", "then")
    known = f"{low} {follow}" in phrases.lexicon.verbs
    return opens and follow in NOTE_WORDS | {"first", "last"} and not known


def past_aside(phrases: PhraseWords, j: int) -> int:
    """As in "and the two screws – M4, short – taken out": behind what is said aside at ``j``."""
    close = {"–": "–", "—": "—", "-": "-", "(": ")"}.get(phrases.low(j), "")
    ends = (k + 1 for k in range(j + 1, j + 9) if phrases.low(k) == close)
    return next(ends, j) if close and not phrases.spoken else j
