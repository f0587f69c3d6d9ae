"""One addition after the other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction

LOCK = 0x4C53
"""Number of the advisory lock that additions hold on PostgreSQL (our own choice)."""


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """A transaction that no other addition runs beside."""
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK])
        yield
