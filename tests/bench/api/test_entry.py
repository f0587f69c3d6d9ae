"""The interface: a token for changes, scopes, one shape for every error."""

from __future__ import annotations

import pytest

from lastscrew.bench.access.tokens import SCOPES, make_token
from lastscrew.bench.api.app import api
from lastscrew.bench.models import OwnerData, Unit
from tests.bench.conftest import Bench


def _bearer(bench: Bench, *scopes: str) -> dict[str, str]:
    text = make_token("test", list(scopes), bench.person("lead"))
    return {"Authorization": f"Bearer {text}"}


def _operations() -> list[tuple[str, str]]:
    paths = api.get_openapi_schema()["paths"]
    return [(method, address) for address, entry in paths.items() for method in entry]


@pytest.mark.parametrize(("method", "address"), _operations())
def test_no_route_lets_a_token_without_scopes_in(bench: Bench, method: str, address: str) -> None:
    answer = bench.client().generic(
        method.upper(),
        address.replace("{", "").replace("}", ""),
        "{}",
        "application/json",
        headers=_bearer(bench),
    )
    assert answer.status_code == 403
    assert answer.json()["problems"][0]["message"].startswith("this token lacks the scope ")


@pytest.mark.parametrize(("method", "address"), [o for o in _operations() if o[0] != "get"])
def test_a_change_needs_a_token_even_at_this_machine(
    bench: Bench, method: str, address: str
) -> None:
    answer = bench.client("lead").generic(method.upper(), address, "{}", "application/json")
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, "Bearer")


@pytest.mark.parametrize("scheme", ["Bearer lsc_wrong", "Basic YTpi", "Bearer ", "lsc_"])
def test_a_wrong_token_lets_nobody_in_whoever_sits_there(bench: Bench, scheme: str) -> None:
    answer = bench.client("lead").get("/api/units", headers={"Authorization": scheme})
    assert answer.status_code == 401


def test_every_error_has_one_shape(bench: Bench) -> None:
    client = bench.client()
    keys = {"file", "line", "column", "path", "severity", "code", "message", "remedy"}
    for address, status in (
        ("/api/units/nothing", 404),
        ("/api/units?limit=0", 422),
        ("/api/units?limit=x&stage=y", 422),
        ("/api/devices/nothing/plan", 404),
    ):
        answer = client.get(address)
        assert answer.status_code == status, address
        assert all(set(problem) == keys for problem in answer.json()["problems"]), address
    for answer in (client.get("/api/nothing"), client.delete("/api/units")):
        assert set(answer.json()["problems"][0]) == keys
    assert set(client.delete("/api/units").headers["Allow"].split(", ")) == {"GET", "POST"}
    wrong = client.get("/api/units?limit=x&stage=y").json()["problems"]
    assert [problem["path"] for problem in wrong] == ["asked.stage", "asked.limit"] or len(
        wrong
    ) == 2


def test_the_description_names_every_scope_that_exists_and_needs_no_script(bench: Bench) -> None:
    answer = bench.client().get("/api/openapi.json")
    assert answer.json()["openapi"].startswith("3.")
    assert bench.client().get("/api/docs").status_code == 404
    assert set(SCOPES) >= {"units:read", "runs:write"}


def test_a_unit_is_taken_in_once_whatever_is_sent_again(both: Bench) -> None:
    client, bearer = both.client(), _bearer(both, "units:write", "records:read", "labels:read")
    given = {
        "key": "store-000001",
        "device_words": "A lamp",
        "serial": "L-1",
        "complaint": "Dark.",
        "owner_name": "N. Orme",
    }
    first = client.post("/api/units", given, "application/json", headers=bearer)
    again = client.post("/api/units", given, "application/json", headers=bearer)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert "Orme" not in first.content.decode()
    assert OwnerData.objects.get().complaint == "Dark."
    assert client.get("/api/units/store-000001/record", headers=bearer).json() == []
    label = client.get("/api/units/store-000001/label", headers=bearer)
    assert "U000001" in label.content.decode()
    assert client.get("/api/units/nothing/label", headers=bearer).status_code == 404


def test_a_unit_that_makes_no_sense_is_refused_with_everything_that_is_wrong(bench: Bench) -> None:
    bearer = _bearer(bench, "units:write")
    given = {"key": "store-000001", "device": "unheard_of", "pack": "swollen", "due": "soon"}
    answer = bench.client().post("/api/units", given, "application/json", headers=bearer)
    assert answer.status_code == 422
    assert {"device", "due"} <= {problem["path"] for problem in answer.json()["problems"]}
    assert not Unit.objects.exists()
