"""Zero bytes in addresses and forms are no way to break a page, on either database."""

from __future__ import annotations

from tests.bench.conftest import Bench
from tests.bench.store.making import publish, unit

GETS = [
    "/units/a%00/", "/units/a%00/record/", "/units/a%00/hand-back/", "/runs/a%00/hand-back/", "/photos/a%00",
    "/find/?q=a%00b", "/?place=a%00", "/?words=%00", "/?after=1~%00", "/stock/?item=%00&words=%00&after=%00",
    "/labels/?unit=%00&batch=%00&places=%00", "/take-in/?device=%00&serial=a%00", "/take-in/batch/%00/",
    "/devices/%00/history/",
]  # fmt: skip


def test_a_zero_byte_in_an_address_is_not_found_or_left_out(both: Bench) -> None:
    client = both.client("lead")
    for address in GETS:
        assert client.get(address).status_code in (200, 302, 400, 404), address


def test_a_zero_byte_in_a_form_is_refused_or_left_out(both: Bench) -> None:
    publish()
    unit("u1")
    client = both.client("lead")
    evil = "a\0b"
    forms = {
        "/take-in/": {
            "device": evil,
            "serial": evil,
            "complaint": evil,
            "key": evil,
            "place": evil,
        },
        "/take-in/batch/": {
            "text": f"device,serial\nlarkmoor_13,{evil}\n",
            "key": evil,
            "store": "1",
        },
        "/units/u1/tell/": {"tell": "placed", "place": evil, "event": evil},
        "/units/u1/hand-back/": {
            "do": "hand_back",
            "outcome": "no_fault_found",
            "evidence": evil,
            "key": evil,
        },
        "/stock/tell/": {"tell": "counted", "item": evil, "amount": "1", "event": evil},
    }
    for address, form in forms.items():
        assert client.post(address, form).status_code in (302, 400, 404, 422), address
