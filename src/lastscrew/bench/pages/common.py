"""What all pages share: what the frame of a page needs to know."""

from __future__ import annotations

from typing import cast

from django.conf import settings
from django.http import HttpRequest

from lastscrew.bench import assets
from lastscrew.bench.access.gate import role_of
from lastscrew.bench.models import Person


def who(request: HttpRequest) -> str:
    """The name under which what is done now is recorded."""
    return str(cast("Person", request.user))[:200]


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
