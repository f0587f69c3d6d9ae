"""Checks that a device always asks for at the end, whatever was disturbed.

The device file marks them (``final: true``). They are no functions of parts, so that what came out is kept as a
note in fixed words; the last note since the last work on the machine counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device
from lastscrew.run import events as e
from lastscrew.run.folding import in_force

WORK = (e.Opened, e.Closed, e.Exchanged)
OUTCOMES = ("works", "fails")


@dataclass(frozen=True, slots=True)
class Standing:
    """A standing check: what to do, and what came out (empty: not tried since the last work)."""

    check: str
    name: str
    text: str
    outcome: str


def note_of(device: Device, check: str, outcome: str) -> e.Noted:
    """The note that keeps what came out."""
    return e.Noted(text=f"{device.checks[check].name}: {outcome}")


def standing_checks(device: Device, events: Sequence[e.Event]) -> tuple[Standing, ...]:
    """The standing checks of a device, and how they stand in a job."""
    last: dict[str, str] = {}
    for event in in_force(events):
        what = event.what
        if isinstance(what, WORK):
            last.clear()
        elif isinstance(what, e.Noted):
            name, _, outcome = what.text.rpartition(": ")
            if outcome in OUTCOMES:
                last[name] = outcome
    return tuple(
        Standing(check.id, check.name, check.check, last.get(check.name, ""))
        for check in device.checks.values()
        if check.final
    )
