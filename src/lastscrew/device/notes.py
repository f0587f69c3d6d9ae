"""Problems with their places, collected while a device file is read."""

from __future__ import annotations

from typing import Final

from lastscrew.device.names import Path, path_text
from lastscrew.device.nodes import Node
from lastscrew.device.source import Source
from lastscrew.problems import Problem, Severity
from lastscrew.saying import say

MAX_PROBLEMS: Final = 1_000
"""Most problems that are listed for one file; a last one says how many more there are."""


class Notes:
    """Collects problems with their places."""

    def __init__(self, source: Source, root: Node | None = None) -> None:
        """Problems of ``source``; ``root`` is its tree, for places of paths."""
        self.source = source
        self.root = root
        self.problems: list[Problem] = []
        self.touched: set[str] = set()
        """Last key of the path of every error; ``*`` where a whole entry or section is bad."""
        self.left_out = 0

    def add(
        self,
        path: Path,
        message: str,
        remedy: str = "",
        *,
        code: str,
        at: Node | None = None,
        severity: Severity = "error",
    ) -> None:
        """Note a problem with the value at ``path``; ``at`` is its node where that is known."""
        if severity == "error":
            keys = [step for step in path if isinstance(step, str)]
            self.touched.add(keys[-1] if len(keys) > 2 else "*")
        if self.full:
            self.left_out += 1
            return
        node = at if at is not None and at.end > at.start else self.find(path)
        line, column = self.source.place(node.start if node is not None else 0)
        self.problems.append(
            Problem(
                message, remedy, path_text(path), self.source.name, line, column, severity, code
            )
        )

    @property
    def full(self) -> bool:
        """True when further problems are only counted: nobody need work out what to say about them."""
        return len(self.problems) >= MAX_PROBLEMS

    def warn(self, path: Path, message: str, remedy: str = "", *, code: str) -> None:
        """Note a warning."""
        self.add(path, message, remedy, code=code, severity="warning")

    def find(self, path: Path) -> Node | None:
        """Where ``path`` stands: its value if that is on the line of its key or a list item, else its key.

        Falls back to the nearest ancestor that is there.
        """
        node = self.root
        best = self.root
        for depth, step in enumerate(path, 1):
            if node is None:
                break
            if isinstance(step, int):
                node = node.items[step] if step < len(node.items) else None
                best = node or best
                continue
            pair = next((pair for pair in node.pairs if pair[0].text == step), None)
            if pair is None:
                break
            key, node = pair
            beside = node.flow if node.shape != "scalar" else node.end > node.start
            best = node if beside and depth == len(path) else key
        return best

    def node(self, path: Path) -> Node | None:
        """The value that is written at ``path``, None where there is none."""
        node = self.root
        for step in path:
            if node is None:
                return None
            if isinstance(step, int):
                node = node.items[step] if step < len(node.items) else None
            else:
                node = next((value for key, value in node.pairs if key.text == step), None)
        return node

    def in_file_order(self) -> tuple[Problem, ...]:
        """All problems, by line and column."""
        ordered = sorted(self.problems, key=lambda p: (p.line or 0, p.column or 0))
        if self.left_out:
            ordered.append(
                Problem(
                    say("{n} more problems are not listed", n=self.left_out),
                    say("Correct these first."),
                    file=self.source.name,
                    code="more",
                )
            )
        return tuple(ordered)
