"""What all pages share: what the frame of a page needs to know."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast
from urllib.parse import quote

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect

from lastscrew.bench import assets
from lastscrew.bench.access.gate import role_of
from lastscrew.bench.models import Person


def who(request: HttpRequest) -> str:
    """The name under which what is done now is recorded."""
    return str(cast("Person", request.user))[:200]


Given = ParamSpec("Given")
View = Callable[Concatenate[HttpRequest, Given], HttpResponse]


def sent_only(page: str) -> Callable[[View[Given]], View[Given]]:
    """A view that only takes what is sent by a form; whoever comes to its address otherwise is led to the page.

    A reload, a bookmark, the way back after signing in, or a change of the language behind a form that was refused
    ask for the address of the form itself.

    Args:
        page: Address of the page that the form stands on; names of the view's arguments in braces.
    """

    def sent(view: View[Given]) -> View[Given]:
        @wraps(view)
        def answer(
            request: HttpRequest, /, *args: Given.args, **kwargs: Given.kwargs
        ) -> HttpResponse:
            if request.method in ("GET", "HEAD"):
                known = {name: quote(str(value), safe="") for name, value in kwargs.items()}
                return redirect(page.format(**known))
            if request.method != "POST":
                return HttpResponseNotAllowed(["GET", "HEAD", "POST"])
            return view(request, *args, **kwargs)

        return answer

    return sent


def page_context(request: HttpRequest) -> dict[str, object]:
    """For every template: where files lie, who is there, whether they may sign out."""
    return {
        "static": assets.static_url() + "bench/",
        "role": role_of(request),
        "is_local": settings.CONFIG.is_local,
        # Whoever has signed in: the name that forms offer. On this machine alone nobody has said who they are, and a
        # request that was refused before anybody looked has no user at all.
        "user": None if settings.CONFIG.is_local else getattr(request, "user", None),
    }
