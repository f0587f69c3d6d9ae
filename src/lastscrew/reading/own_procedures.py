"""Steps that only name another procedure of the same text: "Remove the cover." above the work on the fan.

Where a text says elsewhere how the cover comes off, a procedure that begins with "Remove the cover." asks for that
procedure; it is no step of its own.
"""

from __future__ import annotations

from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.model import Action, Prerequisite, Step
from lastscrew.reading.walk_state import Builder, Document

_TAKEN = frozenset(["remove", "lift", "release", "slide"])
_VERBS = frozenset(
    [
        "remove",
        "open",
        "take off",
        "take out",
        "detach",
        "dismount",
        "dismantle",
        "uninstall",
        "lift off",
        "open up",
    ]
)
_SMALL = frozenset(["the", "a", "an", "of", "and", "assembly", "unit", "module"])


def set_apart(document: Document) -> None:
    """Turn such steps into prerequisites, in place."""
    owners = [builder for builder in document.builders if builder.kind != "refit"]
    known = [
        (words_of(builder.part), builder)
        for builder in owners
        if builder.part and _is_told(builder)
    ]
    if len(known) < 2:
        return
    for builder in owners:
        _lead(builder, [(words, other) for words, other in known if other is not builder])


def _is_told(builder: Builder) -> bool:
    """True where the procedure says how: more than the removal of the part itself."""
    return sum(len(step.actions) for step in builder.steps) > 1


def words_of(name: str) -> frozenset[str]:
    """Words of a name, singular, without small words."""
    return frozenset(noun_singular(word) for word in name.lower().split() if word not in _SMALL)


def _lead(builder: Builder, known: list[tuple[frozenset[str], Builder]]) -> None:
    own = words_of(builder.part)
    while builder.steps:
        step = builder.steps[0]
        named = _named(step, own, known)
        if not named or len(builder.steps) < 2:
            return
        for action in named:
            if not any(
                item.kind == "part" and words_of(item.text) == words_of(action.object)
                for item in builder.prerequisites
            ):
                builder.prerequisites.append(Prerequisite("part", action.object, action.line))
        builder.steps.pop(0)


def _named(
    step: Step, own: frozenset[str], known: list[tuple[frozenset[str], Builder]]
) -> list[Action]:
    """The actions of a step that does nothing but take off parts with a procedure of their own."""
    found = []
    for action in step.actions:
        words = words_of(action.object)
        bare = (
            action.klass in _TAKEN
            and action.verb in _VERBS
            and not action.fastener
            and not action.from_
            and not action.tool
            and not action.weak
            and bool(words)
        )
        if not bare or words == own or not _is_one_of(words, known):
            return []
        found.append(action)
    return found


def _is_one_of(words: frozenset[str], known: list[tuple[frozenset[str], Builder]]) -> bool:
    if any(words == other for other, _ in known):
        return True
    return sum(words < other for other, _ in known) == 1
