"""The names of an account: whose a thing is comes first, and each name is remembered."""

from __future__ import annotations

from dataclasses import dataclass, field

from lastscrew.reading.naming import Names


@dataclass
class OwnersFirst(Names):
    """Names in which "shield of the board" is the board shield: the last word says what a thing is.

    They are settled when an account is taken, and a long text asks for the same ones over and over.
    """

    known: dict[str, str] = field(default_factory=dict)

    def of(self, name: str) -> str:
        """The one name that stands for ``name``, its owner first."""
        found = self.known.get(name)
        if found is None:
            found = self.known[name] = _turned(super().of(name))
        return found


def _turned(name: str) -> str:
    thing, of, owner = name.partition(" of ")
    owner = owner.removeprefix("the ")
    return f"{owner} {thing}" if of and owner and thing else name
