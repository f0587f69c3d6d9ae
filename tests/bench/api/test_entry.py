"""The interface: a token for changes, scopes, one shape for every error."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import jsonschema
import pytest
from django.conf import settings
from django.db import OperationalError

from lastscrew.bench.access.tokens import SCOPES, make_token
from lastscrew.bench.api.app import api
from lastscrew.bench.models import OwnerData, StoredEvent, Token, Unit
from lastscrew.bench.serving.chunked import MOST_BYTES, Chunked
from lastscrew.bench.serving.press import PRESS
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
    assert [problem["path"] for problem in wrong] == ["stage", "limit"]


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


def test_what_is_wrong_before_anybody_looks_has_the_one_shape_too(bench: Bench) -> None:
    client, bearer = bench.client(), _bearer(bench, "runs:write")
    client.raise_request_exception = False
    events = "/api/runs/none/events"
    answers = [
        (404, client.get("/api/units/%00")),
        (400, client.get("/api/units?" + "a=1&" * 5_001)),
        (400, client.post(events, b"--x", "multipart/form-data; boundary=x", headers=bearer)),
        (400, client.post(events, b"{brok", "application/json", headers=bearer)),
        (
            400,
            client.post(events, b'{"events": 1, "events": 2}', "application/json", headers=bearer),
        ),
        (400, client.post(events, b'{"events": NaN}', "application/json", headers=bearer)),
        (422, client.post(events, b'{"events": []}', "application/json", headers=bearer)),
    ]
    for status, answer in answers:
        assert (answer.status_code, set(answer.json())) == (status, {"problems"})
    assert answers[-1][1].json()["problems"][0]["path"] == "events"


def test_a_key_used_for_another_machine_is_refused(bench: Bench) -> None:
    client, bearer = bench.client(), _bearer(bench, "units:write")
    given = {"key": "store-000001", "device_words": "A lamp", "serial": " L-1 "}
    assert client.post("/api/units", given, "application/json", headers=bearer).status_code == 201
    again = client.post("/api/units", given, "application/json", headers=bearer)
    other = client.post(
        "/api/units", {**given, "serial": "L-2"}, "application/json", headers=bearer
    )
    assert (again.status_code, other.status_code) == (200, 422)
    assert other.json()["problems"][0]["path"] == "key"


def test_the_description_says_how_a_token_is_sent_and_what_each_address_answers(
    bench: Bench,
) -> None:
    told = bench.client().get("/api/openapi.json").json()
    assert told["components"]["securitySchemes"]["token"]["scheme"] == "bearer"
    for address, entry in told["paths"].items():
        for method, operation in entry.items():
            (needs,) = operation["security"]
            assert set(needs["token"]) < set(SCOPES), (method, address)
            assert {"401", "403", "413", "500"} < set(operation["responses"])
            assert {"200", "201"} & set(operation["responses"]), (method, address)
    bearer = _bearer(bench, "labels:read", "records:read", "runs:read", "units:write")
    given = {"key": "store-000001", "device_words": "A lamp", "serial": "L-1"}
    client = bench.client()
    taken = client.post("/api/units", given, "application/json", headers=bearer)
    shape = told["paths"]["/api/units"]["post"]["responses"]["201"]["content"]["application/json"]
    jsonschema.validate(taken.json(), {**shape["schema"], "components": told["components"]})
    for name in ("label", "record.pdf"):
        answer = client.get(f"/api/units/store-000001/{name}", headers=bearer)
        described = told["paths"][f"/api/units/{{key}}/{name}"]["get"]["responses"]["200"]
        assert answer.headers["Content-Type"].split(";")[0] in described["content"]


def test_paper_that_takes_longer_is_asked_for_again(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bearer = _bearer(bench, "records:read", "units:write")
    given = {"key": "store-000001", "device_words": "A lamp", "serial": "L-1"}
    bench.client().post("/api/units", given, "application/json", headers=bearer)
    monkeypatch.setattr(type(PRESS), "soon", lambda *_: None)
    answer = bench.client().get("/api/units/store-000001/record.pdf", headers=bearer)
    assert (answer.status_code, answer.headers["Retry-After"]) == (202, "2")
    assert answer.json()["problems"][0]["code"] == "being_set"


def test_from_elsewhere_a_token_reads_the_description_and_nobody_without_one(bench: Bench) -> None:
    bearer = _bearer(bench, "units:read")
    settings.CONFIG = replace(bench.config, host="0.0.0.0")
    client = bench.client()
    assert client.get("/api/openapi.json").status_code == 401
    assert client.get("/api/openapi.json", headers=bearer).status_code == 200
    Token.objects.update(shut=True)
    assert client.get("/api/openapi.json", headers=bearer).json()["problems"]


def test_order_lines_of_a_state_that_there_is_not_are_refused(bench: Bench) -> None:
    assert bench.client().get("/api/part-lines?state=lying_about").status_code == 422
    assert bench.client().get("/api/part-lines?state=ordered&offset=3").json() == []


def test_a_full_disk_is_told_as_one(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OperationalError("database or disk is full")

    monkeypatch.setattr(StoredEvent, "save", full)
    given = {"key": "store-000001", "device_words": "A lamp", "serial": "L-1"}
    bearer = _bearer(bench, "units:write")
    answer = bench.client().post("/api/units", given, "application/json", headers=bearer)
    assert (answer.status_code, answer.json()["problems"][0]["code"]) == (507, "no_room")
    rules = {f"rules-{name}": "1" for name in ("second_check_share", "erase_after_days")}
    page = bench.client("lead").post("/depot/rules/", {**rules, "rules-labour_rate": "44"})
    assert page.status_code == 507
    assert "disk of the server is full" in page.content.decode()


@pytest.mark.parametrize(
    ("size", "status"), [(10, "200 OK"), (MOST_BYTES + 1, "413 Content Too Large")]
)
def test_a_body_without_a_length_is_read_to_its_end(size: int, status: str) -> None:
    seen = []

    def answers(request: dict[str, Any], start: Callable[..., Any]) -> list[bytes]:
        seen.append(len(request["wsgi.input"].read(int(request["CONTENT_LENGTH"]))))
        start("200 OK", [])
        return []

    said: list[str] = []
    request = {"wsgi.input": io.BytesIO(bytes(size)), "wsgi.input_terminated": True}
    body = b"".join(Chunked(answers)(request, lambda status, _headers: said.append(status)))
    assert said == [status]
    assert seen == ([size] if status == "200 OK" else [])
    assert not body or json.loads(body)["problems"]
