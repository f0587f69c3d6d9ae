"""Zero bytes in what is sent: no person types one, and a database of PostgreSQL keeps none in a text."""

from __future__ import annotations

from collections.abc import Callable

from django.http import Http404, HttpRequest, QueryDict
from django.http.response import HttpResponseBase

FORMS = frozenset({"application/x-www-form-urlencoded", "multipart/form-data"})


class ZeroBytes:
    """Middleware: takes zero bytes out of addresses' questions and forms; an address with one is no address."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        """Keep what comes after this one."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Clean what was sent, then pass it on."""
        if "\0" in request.path_info:
            raise Http404
        if _has_zero_byte(request.GET):
            request.GET = _cleaned(request.GET)  # type: ignore[assignment]
        if request.content_type in FORMS and _has_zero_byte(request.POST):
            request.POST = _cleaned(request.POST)  # type: ignore[assignment]
        return self.get_response(request)


def _has_zero_byte(sent: QueryDict) -> bool:
    return any("\0" in word for key, values in sent.lists() for word in (key, *values))


def _cleaned(sent: QueryDict) -> QueryDict:
    clean = QueryDict(mutable=True, encoding=sent.encoding)
    for key, values in sent.lists():
        clean.setlist(key.replace("\0", ""), [value.replace("\0", "") for value in values])
    return clean
