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
from lastscrew.bench.access.tokens import token_of
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


def _description_refused(request: HttpRequest) -> HttpResponse | None:
    """Whoever has a token may read what it opens; all others are told so as by the interface itself."""
    scheme, _, text = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() == "bearer" and token_of(text.strip()) is not None:
        return None
    wrong = Problem("a token is needed", "Send the header Authorization: Bearer and the token.")
    headers = {"WWW-Authenticate": "Bearer"}
    return JsonResponse({"problems": [wrong.as_json()]}, status=401, headers=headers)


class Gate:
    """Middleware: who asks, and may they?"""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        """Keep what comes after this one."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass it on; the decision is in :meth:`process_view`, where the route is known."""
        if settings.CONFIG.is_local and not request.user.is_authenticated:
            request.user = person_at_this_machine()
        return self.get_response(request)

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
            if name == DESCRIPTION:
                return _description_refused(request)
            if role == "anybody":
                return redirect_to_login(request.get_full_path())
        return render(request, "bench/refused.html", status=403)
