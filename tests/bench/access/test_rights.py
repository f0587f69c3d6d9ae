"""Denied unless allowed: every route is asked by nobody and by one person of each role."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from django.conf import settings
from django.urls import URLPattern, get_resolver
from django.urls.resolvers import RoutePattern, URLResolver

from lastscrew.bench.access.rights import ORDER, Role, Route, may, rights
from lastscrew.bench.urls import RIGHTS, ROUTES
from tests.bench.conftest import Bench

ROLES: tuple[Role, ...] = ("anybody", "guest", "technician", "lead")


@pytest.fixture
def open_bench(bench: Bench) -> Iterator[Bench]:
    """An installation that other machines reach, with an account."""
    config = replace(bench.config, host="0.0.0.0")
    settings.CONFIG = config
    opened = Bench(config)
    opened.person("lead")
    yield opened
    settings.CONFIG = bench.config


def _address(route: Route) -> str:
    """An address of the route: every key in it is one that nothing has."""
    return "/" + re.sub(r"<(\w+):\w+>", lambda m: "1" if m[1] == "int" else "none", route.address)


def _all_patterns() -> Iterator[URLPattern]:
    for entry in get_resolver().url_patterns:
        if isinstance(entry, URLPattern):
            yield entry
        else:
            assert isinstance(entry, URLResolver)
            assert isinstance(entry.pattern, RoutePattern)
            # Only the interface hangs below; it asks for itself and has its own test.
            assert str(entry.pattern) == "api/"


def test_every_address_has_its_rights() -> None:
    assert {pattern.name for pattern in _all_patterns()} == set(RIGHTS)


def test_two_routes_can_not_have_one_name() -> None:
    with pytest.raises(ValueError, match="two routes are called home"):
        rights((*ROUTES, ROUTES[0]))


@pytest.mark.parametrize("role", ROLES)
def test_each_role_may_what_the_table_says_and_nothing_else(open_bench: Bench, role: Role) -> None:
    client = open_bench.client(None if role == "anybody" else role)
    client.raise_request_exception = False
    wrong = []
    for route in ROUTES:
        if route.name in {"sign_out", "sign_in"}:
            continue  # they end or begin the session that is tested
        for method, least in (("get", route.reads), ("post", route.writes)):
            answer = getattr(client, method)(_address(route))
            sent_to_sign_in = answer.status_code == 302 and answer.headers["Location"].startswith(
                "/login/?next="
            )
            refused = answer.status_code == 403 or sent_to_sign_in
            if may(role, least) == refused:
                wrong.append((route.name, method, role, answer.status_code))
    assert wrong == []


def test_no_address_of_a_form_is_a_dead_end_for_who_comes_to_it_by_a_link(bench: Bench) -> None:
    """A reload, a bookmark, the way back after signing in: the page is there, or one that is leads on from it."""
    client = bench.client("lead")
    client.raise_request_exception = False
    dead = {
        route.name: answer.status_code
        for route in ROUTES
        if not route.address.endswith(".json")
        and (answer := client.get(_address(route))).status_code not in {200, 302, 404}
    }
    assert dead == {}
    edit = client.get("/devices/larkmoor_13/edit/")
    assert (edit.status_code, edit.headers["Location"]) == (302, "/devices/larkmoor_13/")
    start = client.get("/units/a%20b/plan/start/?x=1")
    assert (start.status_code, start.headers["Location"]) == (302, "/units/a%20b/plan/")
    assert client.put("/devices/larkmoor_13/edit/").status_code == 405


def test_the_order_of_roles_is_total() -> None:
    assert [may(a, b) for a in ORDER for b in ORDER] == [
        i >= j for i in range(len(ORDER)) for j in range(len(ORDER))
    ]


def test_somebody_who_was_shut_out_is_out_at_once(open_bench: Bench) -> None:
    client = open_bench.client("technician")
    assert client.get("/").status_code == 200
    person = open_bench.person("technician")
    person.is_active = False
    person.save()
    assert client.get("/").status_code == 302
