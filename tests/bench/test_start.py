"""The way in: it says whether it can serve, and lets nobody in where nobody may."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lastscrew.bench.config import Config, config_from, environment_of

if TYPE_CHECKING:
    from pathlib import Path

    from tests.bench.conftest import Bench


def test_it_says_that_it_can_serve_on_both_databases(both: Bench) -> None:
    answer = both.client().get("/healthz")
    assert answer.status_code == 200
    assert answer.json()["serves"] is True


def test_the_environment_says_the_whole_configuration(tmp_path: Path) -> None:
    config = Config(tmp_path, "postgresql://a:b@h:1/d", "0.0.0.0", 9, secure=True, names=("a", "b"))
    assert config_from(environment_of(config)) == config


def test_on_this_machine_alone_no_login_is_asked(bench: Bench) -> None:
    assert bench.client().get("/").status_code == 200


def test_a_wrong_address_is_answered_in_our_own_words(bench: Bench) -> None:
    answer = bench.client().get("/no-such-page")
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.content.decode()


def test_a_name_that_the_server_does_not_have_is_refused_with_the_remedy(bench: Bench) -> None:
    from django.test import Client

    answer = Client(HTTP_HOST="bench.example").get("/")
    assert answer.status_code == 400
    assert "lastscrew serve --name" in answer.content.decode()
