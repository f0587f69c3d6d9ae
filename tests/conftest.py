"""What all tests share: random examples that repeat, and no network."""

from __future__ import annotations

import gc
import os
import socket
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

# A slow or busy machine is no failure of what is tested; the examples are the same every time.
settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=100,
    print_blob=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
# For a developer who looks for more: HYPOTHESIS_PROFILE=search pytest tests/plan
settings.register_profile("search", deadline=None, max_examples=2_000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


def pytest_collection_finish() -> None:
    """What was loaded to find the tests stays until the end: the collector need not look through it again.

    Nor need it look so often for cycles, of which little is left behind: it took every fifth second
    of the searches and of the reader.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def _is_this_machine(address: Any) -> bool:  # noqa: ANN401 (an address is whatever its family says)
    if not isinstance(address, tuple):
        return True  # a Unix socket
    host = str(address[0])
    return host in {"localhost", "::1", ""} or host.startswith("127.")


@pytest.fixture(autouse=True, scope="session")
def _no_network() -> Any:  # noqa: ANN401 (a generator of nothing)
    """Tests that reach for another machine fail at once."""
    connect = socket.socket.connect

    def connect_here_only(self: socket.socket, address: Any) -> None:  # noqa: ANN401
        if not _is_this_machine(address):
            message = f"a test reached for the network: {address}"
            raise AssertionError(message)
        connect(self, address)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", connect_here_only)
        yield
