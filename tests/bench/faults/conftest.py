"""Pages of the search for a fault, on a machine that may be busy: they wait for what is worked out."""

from __future__ import annotations

import pytest

from lastscrew.bench.workshop.fault_desk import DESK


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page waits for its proposal as long as it takes, unless a test says otherwise."""
    monkeypatch.setattr(DESK, "wait_s", 60.0)
