"""Whatever happened in a job, its pages answer: what was stored can be worked on, parked, proven."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lastscrew.bench.store.adding import add_run_events
from lastscrew.run import events as e
from tests.bench.conftest import Bench
from tests.bench.depot.test_running import likely
from tests.bench.store import making
from tests.bench.store.making import BY, event


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(told=st.lists(likely(), min_size=1, max_size=12))
def test_every_page_answers_after_any_history(bench: Bench, told: list[e.Happening]) -> None:
    making.empty()
    making.begin(replace=("fan",))
    batch = [event(f"e{number}", what, at_ms=number * 3_000) for number, what in enumerate(told)]
    add_run_events("r1", batch, by=BY)
    client = bench.client("lead")
    bundle = client.get("/runs/r1/bundle.json").json()["bundle"]
    assert bundle["version"] == len(told) + 1
    for page in ("work", "park", "prove", "histories"):
        assert client.get(f"/runs/r1/{page}/").status_code == 200


def test_the_longest_texts_are_shown(bench: Bench) -> None:
    making.begin(replace=("fan",))
    text, name, long = "w" * 4_000, "j" + "o" * 79, "W" * 200
    told: list[e.Happening] = [
        e.Opened(joint=name, compartment=long),
        e.Exchanged(part="+".join([name] * 9), order_code=long),
        e.PartLine(line="L" * 100, state="received", order_code=long),
        e.Lost(count=999, joint="fan_screws"),
        e.Missing(joint="fan_screws", count=999),
        e.Stripped(joint="fan_screws", count=999, what="seat"),
        e.Noted(text=text),
        e.Unreachable(joint="fan_screws", reason="other", text=text),
        e.OtherKind(joint="fan_screws", count=999, length_mm=9_999.0, thread=long),
        e.CountCorrected(joint="fan_screws", count=999),
        e.TargetAdded(replace="+".join([name] * 9)),
        e.Parked(place=long, waiting_for=text),
    ]
    add_run_events("r1", [event(f"{'k' * 90}{n}", w) for n, w in enumerate(told)], by=long)
    client = bench.client("lead")
    assert client.get("/runs/r1/bundle.json").json()["bundle"]["version"] == len(told) + 1
    for page in ("work", "park", "prove", "histories"):
        assert client.get(f"/runs/r1/{page}/").status_code == 200
