"""Zero bytes in addresses and forms never reach a database that can't keep them."""

from __future__ import annotations

from lastscrew.bench.models import Draft
from tests.bench.conftest import Bench


def test_zero_bytes_are_taken_out_of_questions_and_forms(both: Bench) -> None:
    """A name with one is kept without it, on both databases; in an address there is nothing to find."""
    client = both.client("lead")
    answer = client.post(
        "/devices/new-teardown/", {"name": "Ri\x00ll", "fixed\x00": "x", "fixed": "Ca\x00se"}
    )
    assert answer.status_code == 302
    assert Draft.objects.get().title == "Rill"
    assert client.get("/devices/?q=%00Ri%00").status_code == 200
    assert client.get("/units/%00/").status_code == 404
    assert client.get("/devices/a%00b/plan/?replace=%00").status_code == 404
