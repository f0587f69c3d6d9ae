"""One addition after the other."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from django.db import connection, transaction

LOCK = 0x4C53
"""Number of the advisory lock that additions hold on PostgreSQL (our own choice)."""

_turn = threading.Lock()
"""Whose turn it is among the threads of this process. SQLite lets them wait too, but asleep, and wakes the next
one up to a tenth of a second late."""


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """A transaction that no other addition runs beside.

    Whoever writes rows that events change too, beside adding events, holds this around all of it rather than a
    transaction of its own: two that hold one lock each and want the other's wait until one is refused.
    """
    with ExitStack() as held:
        # Within another transaction the database's own lock is held already: waiting for a turn could wait for ever.
        if connection.vendor == "sqlite" and not connection.in_atomic_block:
            held.enter_context(_turn)
        held.enter_context(transaction.atomic())
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK])
        yield
