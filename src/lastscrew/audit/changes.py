"""What differs between two revisions, as values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ChangeKind = Literal["added", "removed", "renamed", "changed", "order", "time"]


@dataclass(frozen=True, slots=True)
class Change:
    """One difference.

    Attributes:
        about: Heading under which it is told, such as ``Joints``.
        kind: What happened.
        id: Id or name of what it is about; the new one where it was renamed.
        text: The difference in the trade's words, one sentence.
        key: Key or quantity that changed, such as ``count``; empty where the whole came or went.
        old, new: The two values as text; empty where there is none.
        line: Line in the new revision, where one is known.
    """

    about: str
    kind: ChangeKind
    id: str
    text: str
    key: str = ""
    old: str = ""
    new: str = ""
    line: int = 0

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``; what is empty is left out."""
        row: dict[str, object] = {
            "about": self.about, "kind": self.kind, "id": self.id, "key": self.key, "old": self.old,
            "new": self.new, "line": self.line, "text": self.text,
        }  # fmt: skip
        return {key: value for key, value in row.items() if value not in ("", 0)}
