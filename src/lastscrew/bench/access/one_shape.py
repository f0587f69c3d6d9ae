"""Errors below /api/ in the one shape that they have, also those that nobody of the interface has seen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, JsonResponse
from django.http.response import HttpResponseBase

from lastscrew.problems import Problem

BELOW: Final = "/api/"
WORDS: Final = {
    400: "this request can't be read",
    404: "there is no such address",
    405: "this method is not for this address",
    500: "something went wrong here",
}


class OneShape:
    """Middleware: an error page on its way to another system becomes a list of problems."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        """Keep what comes after this one."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Shape what is no JSON yet."""
        response = self.get_response(request)
        if response.status_code < 400 or not request.path_info.startswith(BELOW):
            return response
        if response.headers.get("Content-Type", "").startswith("application/json"):
            return response
        words = WORDS.get(response.status_code, "this is refused")
        wrong = Problem(words, "Look into the description at /api/openapi.json.")
        shaped = JsonResponse({"problems": [wrong.as_json()]}, status=response.status_code)
        if allowed := response.headers.get("Allow"):
            shaped.headers["Allow"] = allowed
        return shaped
