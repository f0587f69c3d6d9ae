"""What the finished procedures of a talk took out, kept as they are finished: each is looked at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice, pairwise

from lastscrew.reading.model import Action
from lastscrew.reading.walk_state import Builder

_TAKEN = frozenset(["remove", "lift", "slide"])
_OFF = _TAKEN | {"disconnect"}
_KINDS = frozenset(["part", "cover", "board", "card", "drawer", "connector"])
_RECENT = 80
"""Steps of the procedure under way that are looked at again."""


@dataclass
class TakenOut:
    """Heads (last nouns) of what was taken off or unplugged; names by each of their words."""

    heads: set[str] = field(default_factory=set)
    names: dict[str, set[frozenset[str]]] = field(default_factory=dict)
    removed: set[str] = field(default_factory=set)
    """Last nouns of what came off as a whole, small pieces too."""
    unplugged: set[str] = field(default_factory=set)
    """Last nouns of what was disconnected, hoses and ports too."""
    worked: set[str] = field(default_factory=set)
    """Last nouns of all that was worked on, screws, cables and locks too."""
    pairs: set[tuple[str, str]] = field(default_factory=set)
    """Neighbouring words of its names: "rain sensor" is one thing."""
    finished: int = 0

    def look(self, builders: list[Builder], current: Builder | None) -> None:
        """Take in the procedures that were finished since the last look."""
        while self.finished < len(builders) and builders[self.finished] is not current:
            builder = builders[self.finished]
            self.finished += 1
            if builder.kind == "refit" or not builder.steps:
                continue
            self._keep(builder.part)
            self._name(builder.part)
            for step in builder.steps:
                for action in step.actions:
                    self._take_in(action)

    def _take_in(self, action: Action) -> None:
        self.worked.update(thing.head for thing in action.things if thing.head)
        self._name(action.object)
        if action.klass in _TAKEN and not action.fastener:
            self.removed.update(thing.head for thing in action.things if thing.head)
        if action.klass not in _OFF or action.fastener:
            return
        if action.klass == "disconnect":
            self.unplugged.update(thing.head for thing in action.things if thing.head)
        self.heads.update(thing.head for thing in action.things if thing.category in _KINDS)
        if action.klass in _TAKEN:
            self._keep(action.object)

    def _name(self, name: str) -> None:
        words = name.lower().split()
        self.pairs.update(pairwise(words))
        self.worked.update(words[-1:])

    def _keep(self, name: str) -> None:
        words = frozenset(name.lower().split())
        for word in words:
            self.names.setdefault(word, set()).add(words)

    def has(self, name: str, current: Builder | None) -> bool:
        """True where something of that name, or with these words in its name, was taken out."""
        words = frozenset(name.lower().split())
        if not words:
            return False
        rarest = min((self.names.get(word, set()) for word in words), key=len)
        if any(words <= other for other in rarest):
            return True
        if current is None or current.kind == "refit" or not current.steps:
            return False
        return words <= frozenset(current.part.lower().split()) or any(
            words <= frozenset(action.object.lower().split())
            for action in recent_actions(current)
            if action.klass in _TAKEN and not action.fastener
        )


def recent_actions(builder: Builder) -> Iterable[Action]:
    """The last actions of a procedure under way, newest first."""
    return (action for step in islice(reversed(builder.steps), _RECENT) for action in step.actions)
