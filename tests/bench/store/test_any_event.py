"""Any event that reads well can be stored on both databases, and what follows can be made anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lastscrew.bench.depot import events as d
from lastscrew.bench.store.adding import add_depot_event, add_run_events, take_in
from lastscrew.bench.store.jobs import load_job
from lastscrew.bench.store.rebuilding import rebuild
from lastscrew.run import events as e
from tests.bench.depot.test_running import likely
from tests.bench.store import making
from tests.bench.store.making import BY, event

if TYPE_CHECKING:
    from tests.bench.conftest import Bench


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(told=st.lists(likely(), min_size=1, max_size=12))
def test_whatever_happens_in_a_job_is_stored(both: Bench, told: list[e.Happening]) -> None:
    making.empty()
    making.begin()
    batch = [
        event(f"e{number}", what, client="c", sequence=number, at_ms=number * 3_000)
        for number, what in enumerate(told)
    ]
    assert add_run_events("r1", batch, by=BY).version == len(told) + 1
    assert [one.what for one in load_job("r1").events[1:]] == told
    assert rebuild().changed == ()


LONG = "W" * 200


def test_the_longest_texts_that_may_be_told_fit(both: Bench) -> None:
    making.begin()
    text, name = "w" * 4_000, "j" + "o" * 99
    told: list[e.Happening] = [
        e.Opened(joint=name, compartment=LONG),
        e.Parked(place=LONG, waiting_for=text),
        e.HandedOver(to=LONG),
        e.Exchanged(part="+".join([name] * 9), order_code=LONG),
        e.PartLine(line="L" * 100, state="received", order_code=LONG, part="+".join([name] * 9)),
        e.Renewed(supply=name, amount=1_000_000),
        e.PartLine(line="M", state="received", piece=name, count=999),
        e.Noted(text="\U0001f529" * 4_000),
        e.TargetAdded(replace="+".join([name] * 9)),
    ]
    batch = [
        event(f"{'k' * 90}{n}", what, client="c" * 100, sequence=n) for n, what in enumerate(told)
    ]
    assert add_run_events("r1", batch, by=LONG).version == len(told) + 1
    taken = d.TakenIn(
        number=9, serial=LONG, asset_tag=LONG, device_words=LONG, seals=LONG, condition=text,
        may_be_lost=text, accessories=(LONG,) * 100, due_ms=253_402_300_799_999,
    )  # fmt: skip
    take_in("k" * 100, taken, by=LONG, at_ms=253_402_300_799_999)
    for what in (
        d.Placed(place=LONG),
        d.HazardMet(what="damaged_pack", told=LONG, place=LONG, power_off=False),
        d.Custody(item=LONG, state="held", place=LONG, person=LONG),
        d.StockCounted(item="code:" + "c" * 80, count=1_000_000, place=LONG),
        d.StockMoved(item="code:" + "c" * 80, change=-1e15, reason="lost"),
    ):
        add_depot_event("k" * 100, what, by=LONG, at_ms=0)
    assert rebuild().changed == ()
