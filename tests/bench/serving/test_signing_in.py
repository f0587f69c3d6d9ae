"""Signing in: the first account needs the code, guessing is slowed down, nobody is led elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
import time_machine
from django.conf import settings

from lastscrew.bench.access.signing_in import MOST_FOR_NAME, first_code
from lastscrew.bench.models import LoginTry, Person
from tests.bench.conftest import PASSWORD, Bench


@pytest.fixture
def open_bench(bench: Bench) -> Iterator[Bench]:
    """An installation that other machines reach."""
    config = replace(bench.config, host="0.0.0.0")
    settings.CONFIG = config
    yield Bench(config)
    settings.CONFIG = bench.config


def test_where_others_reach_it_nobody_is_let_in_without_an_account(open_bench: Bench) -> None:
    answer = open_bench.client().get("/")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/login/?next=/")


def test_the_first_account_is_a_leads_and_needs_the_code_of_the_terminal(open_bench: Bench) -> None:
    client = open_bench.client()
    form = {"name": "ada", "password": PASSWORD, "code": "AAAA-BBBB-CCCC"}
    assert client.post("/first/", form).status_code == 400
    assert not Person.objects.exists()
    form["code"] = first_code(open_bench.config).lower().replace("-", " ")
    assert client.post("/first/", form).status_code == 302
    assert Person.objects.get().role == "lead"
    assert client.get("/").status_code == 200
    trail = client.get("/depot/").content.decode()
    assert "ada: account made (lead)" in trail
    other = open_bench.client()
    assert other.get("/first/").status_code == 302
    assert other.post("/first/", form).status_code == 302
    assert Person.objects.count() == 1


def test_a_weak_password_is_refused(open_bench: Bench) -> None:
    form = {"name": "ada", "password": "password12", "code": first_code(open_bench.config)}
    assert open_bench.client().post("/first/", form).status_code == 400


def test_passwords_are_kept_as_argon2(open_bench: Bench) -> None:
    assert open_bench.person("technician").password.startswith("argon2$argon2id$")


def test_after_some_failed_tries_even_the_right_password_waits(open_bench: Bench) -> None:
    person = open_bench.person("technician")
    client = open_bench.client()
    right = {"name": person.username, "password": PASSWORD}
    with time_machine.travel("2026-03-02T09:30:00Z", tick=False) as clock:
        for _ in range(MOST_FOR_NAME):
            wrong = client.post("/login/", {"name": person.username, "password": "guess"})
            assert wrong.status_code == 403
        assert client.post("/login/", right).status_code == 403
        clock.shift(16 * 60)
        assert client.post("/login/", right).status_code == 302


@pytest.mark.parametrize(
    ("wanted", "leads_to"),
    [("/stock/", "/stock/"), ("https://elsewhere.example/", "/"), ("//elsewhere.example", "/")],
)
def test_signing_in_leads_to_a_page_of_ours_only(
    open_bench: Bench, wanted: str, leads_to: str
) -> None:
    person = open_bench.person("technician")
    form = {"name": person.username, "password": PASSWORD, "next": wanted}
    assert open_bench.client().post("/login/", form).headers["Location"] == leads_to


def test_a_form_without_its_token_is_refused(open_bench: Bench) -> None:
    from django.test import Client

    strict = Client(enforce_csrf_checks=True, HTTP_HOST="localhost")
    assert strict.post("/login/", {"name": "a", "password": "b"}).status_code == 403


def test_every_answer_keeps_its_page_to_itself(open_bench: Bench) -> None:
    headers = open_bench.client().get("/login/", follow=True).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"


@pytest.mark.parametrize("behind_proxy", [True, False])
def test_whose_tries_are_counted_is_told_by_the_proxy_alone(
    bench: Bench, *, behind_proxy: bool
) -> None:
    config = replace(bench.config, host="0.0.0.0", behind_proxy=behind_proxy)
    settings.CONFIG = config
    try:
        bench.person("technician")
        client = bench.client()
        for number in range(3):
            form = {"name": f"nobody{number}", "password": "guess"}
            header = f"10.0.0.{number}, 203.0.113.9"
            client.post("/login/", form, headers={"X-Forwarded-For": header})
    finally:
        settings.CONFIG = bench.config
    known = {"203.0.113.9"} if behind_proxy else {"127.0.0.1"}
    assert set(LoginTry.objects.values_list("address", flat=True)) == known
