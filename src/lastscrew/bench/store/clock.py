"""The clock and the keys of an installation: the one place where the bench asks what time it is."""

from __future__ import annotations

import time
import uuid


def now_ms() -> int:
    """Milliseconds since 1970, UTC."""
    return time.time_ns() // 1_000_000


def new_key() -> str:
    """A key that nobody else makes: 32 hexadecimal digits."""
    return uuid.uuid4().hex
