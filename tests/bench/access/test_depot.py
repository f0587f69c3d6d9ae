"""What leads look after: people, tokens, rules; each change leaves a trace."""

from __future__ import annotations

import re
from pathlib import Path

from lastscrew.bench.access.tokens import SCOPES
from lastscrew.bench.models import Person, StoredEvent, Token
from lastscrew.bench.store.rules import DepotRules, depot_rules
from lastscrew.plan.model import DEFAULT_RATE_PER_H
from tests.bench.conftest import PASSWORD, Bench

PERSON = {
    "person-name": "ben",
    "person-shown_name": "Ben at bench 2",
    "person-role": "technician",
    "person-is_beginner": "on",
    "person-password": PASSWORD,
}


def test_a_lead_makes_an_account_and_the_trail_says_so(both: Bench) -> None:
    client = both.client("lead")
    assert client.post("/depot/people/", PERSON).status_code == 302
    made = Person.objects.get(username="ben")
    assert (made.role, made.is_beginner, str(made)) == ("technician", True, "Ben at bench 2")
    event = StoredEvent.objects.get(name="account_changed")
    assert event.body["account"] == "ben"
    assert event.by == "some_lead"
    assert "ben" in client.get("/depot/").content.decode()


def test_what_is_wrong_with_a_new_account_stands_at_its_field(bench: Bench) -> None:
    client = bench.client("lead")
    answer = client.post("/depot/people/", {**PERSON, "person-password": "short"})
    assert answer.status_code == 400
    assert "too short" in answer.content.decode()
    assert not Person.objects.filter(username="ben").exists()
    client.post("/depot/people/", PERSON)
    again = client.post("/depot/people/", {**PERSON, "person-name": "BEN"})
    assert "This name is taken" in again.content.decode()


def test_the_last_lead_can_not_shut_themself_out(bench: Bench) -> None:
    client = bench.client("lead")
    lead = bench.person("lead")
    change = {"role": "guest", "is_active": "on", "shown_name": ""}
    assert client.post(f"/depot/people/{lead.pk}/", change).status_code == 400
    lead.refresh_from_db()
    assert lead.role == "lead"
    bench.person("lead", "second")
    assert client.post(f"/depot/people/{lead.pk}/", change).status_code == 302


def test_a_token_is_shown_once_and_kept_as_a_hash(bench: Bench) -> None:
    client = bench.client("lead")
    form = {"token-name": "Store room", "token-scopes": ["units:read"]}
    page = client.post("/depot/tokens/", form).content.decode()
    text = re.search(r"lsc_[\w-]+", page)
    assert text is not None
    token = Token.objects.get()
    assert text[0] not in f"{token.sha256} {token.name}"
    assert text[0] not in client.get("/depot/").content.decode()
    asking = bench.client()
    bearer = {"Authorization": f"Bearer {text[0]}"}
    assert asking.get("/api/units", headers=bearer).status_code == 200
    assert asking.get("/api/stock", headers=bearer).status_code == 403
    client.post(f"/depot/tokens/{token.pk}/shut/")
    assert asking.get("/api/units", headers=bearer).status_code == 401


def test_a_rule_that_was_changed_is_an_event(both: Bench) -> None:
    client = both.client("lead")
    assert depot_rules() == DepotRules()
    form = {
        "rules-second_check_share": "0.25",
        "rules-erase_after_days": "90",
        "rules-labour_rate": "0",
    }
    assert client.post("/depot/rules/", form).status_code == 302
    assert depot_rules() == DepotRules(second_check_share=0.25, erase_after_days=90)
    assert StoredEvent.objects.filter(name="rule_changed").count() == 2
    form["rules-second_check_share"] = "1.5"
    assert client.post("/depot/rules/", form).status_code == 400


def test_every_scope_stands_in_the_documents() -> None:
    page = (Path(__file__).parents[3] / "docs" / "bench.md").read_text("utf-8")
    assert set(re.findall(r"^\| `(\w+:\w+)` \|", page, re.MULTILINE)) == set(SCOPES)


def test_the_rule_for_money_names_what_is_assumed_without_it(bench: Bench) -> None:
    page = bench.client("lead").get("/depot/").content.decode()
    assert f"0: none is set, {DEFAULT_RATE_PER_H:g} is assumed" in page
