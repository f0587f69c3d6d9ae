"""The audit of one device file: what `check` does not refuse and a careful colleague would raise."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from lastscrew.audit.device_entries import entry_findings
from lastscrew.audit.device_fasteners import fastener_findings
from lastscrew.audit.device_faults import fault_findings
from lastscrew.audit.device_proof import proof_findings
from lastscrew.audit.device_ways import way_findings
from lastscrew.audit.findings import Finding, ordered
from lastscrew.audit.noting import Notebook
from lastscrew.device.reading import ReadResult
from lastscrew.problems import InputError
from lastscrew.saying import joined

_RULES: Final[tuple[Callable[[Notebook], Iterator[Finding]], ...]] = (
    entry_findings,
    fastener_findings,
    proof_findings,
    way_findings,
    fault_findings,
)


_TOLD_HERE: Final = frozenset(("fastener_too_long",))
"""Warnings of `check` that a finding of the audit tells with more around it."""


def audit_device(result: ReadResult, file: str = "") -> tuple[Finding, ...]:
    """All findings about a device file.

    Args:
        result: What reading the file gave (:func:`lastscrew.device.reading.read_device`).
        file: Name of the file in the findings; that of the source where it is empty.

    Returns:
        The findings by line, the warnings of `check` among them; the same file gives the same
        findings every time.

    Raises:
        InputError: The file has errors, so that there is no device to speak of.
    """
    if result.device is None:
        raise InputError(result.problems)
    name = file or (result.source.name if result.source is not None else "")
    notebook = Notebook(result.device, result, name)
    found = [
        Finding(
            "check_warning",
            "warning",
            problem.line or 0,
            joined("", (problem.path, ": " if problem.path else "", problem.message, ".")),
            problem.remedy,
            name,
            problem.column or 0,
            problem.path,
        )
        for problem in result.warnings
        if problem.code not in _TOLD_HERE
    ]
    for rule in _RULES:
        found.extend(rule(notebook))
    return ordered(found)
