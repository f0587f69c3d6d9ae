"""Findings about a device file with the places of their values."""

from __future__ import annotations

from dataclasses import dataclass

from lastscrew.audit.findings import Finding, Severity
from lastscrew.device.model import Device
from lastscrew.device.names import path_text
from lastscrew.device.notes import Notes
from lastscrew.device.reading import ReadResult


@dataclass(frozen=True)
class Notebook:
    """A device, the file that it stands in, and how findings about it are made."""

    device: Device
    result: ReadResult
    file: str

    def note(
        self,
        code: str,
        severity: Severity,
        path: tuple[str | int, ...],
        text: str,
        remedy: str,
        also: tuple[tuple[str | int, ...], ...] = (),
    ) -> Finding:
        """A finding about the value at ``path``; ``also`` are paths of what belongs to it."""
        line, column = self.result.place(*path) or (0, 0)
        others = {(self.result.place(*other) or (0, 0))[0] for other in also} - {line, 0}
        return Finding(
            code, severity, line, text, remedy, self.file, column, path_text(path),
            tuple(sorted(others)),
        )  # fmt: skip

    def access_path(self, joint: str, index: int, key: str) -> tuple[str | int, ...]:
        """Path of a key of an access, whether it stands in a list, on the joint's access or on the joint itself."""
        if self.result.source is None or self.result.root is None:
            return ("joints", joint, key)
        notes = Notes(self.result.source, self.result.root)
        if notes.node(("joints", joint, "access", index, key)) is not None:
            return ("joints", joint, "access", index, key)
        if notes.node(("joints", joint, "access", key)) is not None:
            return ("joints", joint, "access", key)
        return ("joints", joint, key)
