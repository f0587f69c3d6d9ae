"""Routes and rights in one: the address, the view, the name, and the least role that may read or write.

A route without rights can't be written down, and an address that is no such route is refused to everybody.
A test asks every route with a guest, a technician, a lead and nobody.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from django.http.response import HttpResponseBase
from django.urls import URLPattern, path

Role = Literal["anybody", "guest", "technician", "lead"]
ORDER: Final[tuple[Role, ...]] = ("anybody", "guest", "technician", "lead")


@dataclass(frozen=True, slots=True)
class Route:
    """One address of the application.

    Attributes:
        address: As Django writes it, such as ``units/<str:key>/``.
        view: What answers.
        name: Unique name.
        reads: The least role that may look.
        writes: The least role that may change something (every method but GET, HEAD, OPTIONS).
    """

    address: str
    view: Callable[..., HttpResponseBase]
    name: str
    reads: Role = "guest"
    writes: Role = "technician"


def patterns(routes: Iterable[Route]) -> list[URLPattern]:
    """The routes as Django takes them."""
    return [path(route.address, route.view, name=route.name) for route in routes]


def rights(routes: Iterable[Route]) -> Mapping[str, Route]:
    """Route by name.

    Raises:
        ValueError: Two routes have one name.
    """
    found: dict[str, Route] = {}
    for route in routes:
        if route.name in found:
            raise ValueError(f"two routes are called {route.name}")
        found[route.name] = route
    return found


def may(role: Role, least: Role) -> bool:
    """True when ``role`` is at least ``least``."""
    return ORDER.index(role) >= ORDER.index(least)
