"""When two things, screws or names are the same one, as far as their words say it."""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.model import Action, Fact, Thing
from lastscrew.reading.walk_state import Builder

OPENING = frozenset(["remove", "lift", "release", "disconnect", "slide", "peel", "loosen"])
NEARBY = 6
"""Lines within which the same word means the same screws."""


def flat(builder: Builder) -> list[tuple[int, int, Action]]:
    """Every action of a procedure with its step and its place in the step."""
    return [
        (s, a, action)
        for s, step in enumerate(builder.steps)
        for a, action in enumerate(step.actions)
    ]


def put(builder: Builder, s: int, a: int, action: Action | None) -> None:
    """Put an action in the place of another one; None takes it away."""
    actions = list(builder.steps[s].actions)
    if action is None:
        del actions[a]
    else:
        actions[a] = action
    builder.steps[s] = replace(builder.steps[s], actions=tuple(actions))


def spot_of(item: Action | Fact) -> int:
    """Where a step or statement stands, for distances: its line, or its sentence in a paragraph on one line."""
    return item.spot or item.line


def shares(left: str, right: str) -> bool:
    """True where two names end in the same noun, or one holds all the words of the other."""
    one, two = left.lower().split(), right.lower().split()
    return bool(one and two) and (
        one[-1].rstrip("s") == two[-1].rstrip("s") or set(one) <= set(two) or set(two) <= set(one)
    )


def same_kind(stated: Thing, named: Thing) -> bool:
    """True where a statement and a step may name the same screws: equal noun, no contradicting words."""
    if stated.head != named.head:
        return False
    stated_words = {word.lower().rstrip("s") for word in stated.name.split()[:-1]}
    named_words = {word.lower().rstrip("s") for word in named.name.split()[:-1]}
    return not stated_words or not named_words or bool(stated_words & named_words)
