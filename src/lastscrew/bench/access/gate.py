"""The one place where a request is let in or not. Denied unless the route allows it."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

from lastscrew.bench.access.rights import Role, Route, may
from lastscrew.bench.models import Person
from lastscrew.problems import Problem

BENCH_NAME = "bench"
"""The account that works where no login is asked: on this machine alone."""

DESCRIPTION = "api:openapi-json"
"""The description of the interface: for everybody who may look."""
READABLE = Route("", lambda _request: HttpResponse(), DESCRIPTION, "guest", "lead")

READING = frozenset({"GET", "HEAD", "OPTIONS"})


def person_at_this_machine() -> Person:
    """The account of the loopback default, made at first use; it has no password that anyone could use."""
    person, made = Person.objects.get_or_create(
        username=BENCH_NAME, defaults={"role": Person.Role.LEAD, "shown_name": "Bench"}
    )
    if made:
        person.set_unusable_password()
        person.save()
    return person


def role_of(request: HttpRequest) -> Role:
    """The role of whoever asks."""
    # A request that was refused before anybody looked who asks has no user at all.
    user = getattr(request, "user", None)
    if user is None or not request.user.is_authenticated:
        return "anybody"
    return cast("Role", request.user.role)


def _shaped(response: HttpResponseBase) -> HttpResponseBase:
    """A refusal of the framework's in the shape that all errors of the interface have."""
    if response.headers.get("Content-Type", "").startswith("application/json"):
        return response
    wrong = Problem(
        "there is no such address"
        if response.status_code == 404
        else "this method is not for this address",
        "Look into the description at /api/openapi.json.",
    )
    shaped = JsonResponse({"problems": [wrong.as_json()]}, status=response.status_code)
    if allowed := response.headers.get("Allow"):
        shaped.headers["Allow"] = allowed
    return shaped


class Gate:
    """Middleware: who asks, and may they?"""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        """Keep what comes after this one."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass it on; the decision is in :meth:`process_view`, where the route is known."""
        if settings.CONFIG.is_local and not request.user.is_authenticated:
            request.user = person_at_this_machine()
        response = self.get_response(request)
        if request.path.startswith("/api/") and response.status_code in {404, 405}:
            return _shaped(response)
        return response

    def process_view(
        self, request: HttpRequest, _view: object, _args: object, _kwargs: object
    ) -> HttpResponse | None:
        """Refuse, or let the view answer."""
        # Loaded here: the routes' views import this module.
        from lastscrew.bench.urls import RIGHTS  # noqa: PLC0415

        match = request.resolver_match
        name = (match.view_name if match else None) or ""
        if name.startswith("api:") and name != DESCRIPTION:
            return None  # the API asks for itself: it takes tokens too
        route = RIGHTS.get(name, READABLE if name == DESCRIPTION else None)
        role = role_of(request)
        if route is not None:
            least = route.reads if request.method in READING else route.writes
            if may(role, least):
                return None
            if role == "anybody":
                return redirect_to_login(request.get_full_path())
        return render(request, "bench/refused.html", status=403)
