"""A full disk is told as one: whoever sent something learns that none of it was stored, and what helps."""

from __future__ import annotations

import errno
import logging
from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

STATUS: Final = 507
"""Insufficient Storage (RFC 4918, 11.5)."""

_ERRNOS: Final = frozenset({errno.ENOSPC, errno.EDQUOT})
_WORDS: Final = ("disk is full", "no space left")
"""What SQLite and PostgreSQL say."""


def has_no_room(error: BaseException | None) -> bool:
    """True where the error, or one that it came from, says that the disk is full."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in _ERRNOS:
            return True
        if type(error).__name__ in {"OperationalError", "DiskFull"} and any(
            words in str(error).lower() for words in _WORDS
        ):
            return True
        error = error.__cause__
    return False


def note(request: HttpRequest) -> None:
    """One line for the terminal of the server."""
    logging.getLogger(__name__).error(
        "%s %s: the disk is full, nothing of it was stored", request.method, request.path
    )


class NoRoom:
    """Middleware: a page that says that the disk is full."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        """Keep what comes after this one."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass it on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """The page, where that is what went wrong."""
        if not has_no_room(error):
            return None
        note(request)
        return render(request, "bench/no_room.html", status=STATUS)
