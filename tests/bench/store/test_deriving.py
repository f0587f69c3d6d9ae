"""What follows from events: where a unit stands, its job, order lines, stock; at a bounded price."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import Item, PartLineState, Revision, Run, StageTime, StoredEvent, Unit
from lastscrew.bench.store import jobs
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.jobs import load_job
from lastscrew.bench.store.rebuilding import rebuild
from lastscrew.device.reading import load_device
from lastscrew.problems import InputError
from lastscrew.run import events as e
from tests.bench.store import making
from tests.bench.store.making import BY, event

if TYPE_CHECKING:
    from tests.bench.conftest import Bench

FILE = """
format: 1
device: {id: box, name: Box}
sides: [top]
fasteners: {m2: {thread: M2, length_mm: 4, drive: PH1}}
functions: {turns: {name: Fan turns, check: "Listen.", check_s: 10}}
parts:
  base: {name: Base, fixed: true}
  lid: {name: Lid}
  fan: {name: Fan, order_code: FA-9, functions: [turns]}
joints:
  lid_screws: {kind: screw, joins: [lid, base], fastener: m2, count: 4, side: top}
  fan_screws: {kind: screw, joins: [fan, base], fastener: m2, count: 2, side: top, under: [lid]}
"""


class Job:
    """A job on the box, told in one word a step."""

    def __init__(self, **started: object) -> None:
        self.device = load_device(FILE)
        Revision.objects.create(
            revision=self.device.revision_hash,
            device="box",
            name="Box",
            text=FILE,
            made_ms=now_ms(),
        )
        self.count = 0
        making.unit("u1", device="box")
        first = making.started(self.device, replace=("fan",), **started)
        add_run_events("r1", [event("s", first)], by=BY, unit="u1")

    def tell(self, *happenings: e.Happening, by: str = BY) -> str:
        """Add and say which stage the unit has then."""
        for what in happenings:
            self.count += 1
            add_run_events("r1", [event(f"e{self.count}", what)], by=by)
        return self.stage

    @property
    def stage(self) -> str:
        return Unit.objects.get().stage


WAY_IN = (e.Opened(joint="lid_screws"), e.Opened(joint="fan_screws"))
WAY_OUT = (e.Closed(joint="fan_screws"), e.Closed(joint="lid_screws"))


def test_a_unit_goes_from_taken_in_to_gone(both: Bench) -> None:
    job = Job()
    assert job.stage == "at_work"
    assert job.tell(*WAY_IN) == "at_work"
    assert Run.objects.get().open_joints == ["lid_screws", "fan_screws"]
    assert job.tell(e.Parked(place="shelf 3", waiting_for="a fan")) == "parked"
    unit = Unit.objects.get()
    assert (unit.place, unit.waiting_for, unit.worker) == ("shelf 3", "a fan", BY)
    assert job.tell(e.Resumed()) == "at_work"
    assert Unit.objects.get().waiting_for == ""
    assert job.tell(e.Exchanged(part="fan")) == "at_work"
    assert job.tell(*WAY_OUT) == "to_prove"
    assert job.tell(e.Checked(function="turns", outcome="works")) == "proven"
    assert job.tell(e.Lost(joint="lid_screws", count=1, inside=True)) == "to_prove"
    assert job.tell(e.TakenBack(about=f"e{job.count}")) == "proven"
    with pytest.raises(InputError, match="in hand"):
        add_depot_event("u1", d.HandedBack(outcome="repaired"), by=BY)
    assert job.tell(e.Finished(outcome="repaired")) == "proven"
    assert (Unit.objects.get().worker, Run.objects.get().outcome) == ("", "repaired")
    add_depot_event("u1", d.HandedBack(outcome="repaired", to="owner"), by=BY)
    assert job.stage == "gone"
    assert rebuild().changed == ()
    for what in (d.Placed(place="x"), d.HandedBack(outcome="repaired")):
        with pytest.raises(InputError, match="U000001 has left"):
            add_depot_event("u1", what, by=BY)


def test_a_joint_that_was_opened_without_a_target_is_proven_too(both: Bench) -> None:
    job = Job()
    assert job.tell(e.TargetDropped(replace="fan")) == "at_work"
    assert job.tell(WAY_IN[0], WAY_OUT[1]) == "proven"


def test_a_hazard_goes_before_the_job_and_only_a_person_clears_it(both: Bench) -> None:
    job = Job()
    met = d.HazardMet(what="swollen_pack", told="Lea", place="sand box", power_off=True)
    add_depot_event("u1", met, by=BY)
    assert job.stage == "set_apart"
    assert job.tell(WAY_IN[0]) == "set_apart"
    add_depot_event("u1", d.Described(pack="sound"), by=BY)
    assert job.stage == "set_apart"
    add_depot_event("u1", d.HazardCleared(person="Lea", reason="the pack is out"), by="Lea")
    assert job.stage == "at_work"
    with pytest.raises(InputError, match="not set apart"):
        add_depot_event("u1", d.HazardCleared(person="Lea", reason="again"), by="Lea")
    add_depot_event("u1", d.Described(liquid=True), by=BY)
    assert Unit.objects.get().hazard == "liquid"


def test_custody_says_where_a_disk_is_and_was(both: Bench) -> None:
    making.unit("u1")
    held = d.Custody(item="disk 7", state="held", place="safe", person="Ada")
    add_depot_event("u1", held, by=BY)
    add_depot_event(
        "u1", d.Custody(item="disk 7", state="moved", place="vault", person="Ben"), by=BY
    )
    with pytest.raises(InputError, match="“disk 8” was not taken into custody"):
        add_depot_event("u1", d.Custody(item="disk 8", state="returned", person="Ben"), by=BY)
    add_depot_event("u1", d.Custody(item="disk 7", state="destroyed", person="Lea"), by="Lea")
    (entry,) = Unit.objects.get().custody
    assert (entry["state"], entry["person"]) == ("destroyed", "Lea")
    assert [(each["state"], each["place"]) for each in entry["history"]] == [
        ("held", "safe"),
        ("moved", "vault"),
    ]
    with pytest.raises(InputError, match="destroyed already"):
        add_depot_event("u1", held.__class__(item="disk 7", state="moved", person="Ben"), by=BY)


def test_an_order_line_stands_as_its_last_event_says(both: Bench) -> None:
    job = Job()
    job.tell(e.PartLine(line="l1", state="ordered", part="fan", count=2))
    job.tell(e.PartLine(line="l1", state="received", part="fan", count=2))
    row = PartLineState.objects.get()
    assert (row.state, row.count, row.order_code, row.what) == ("received", 2, "FA-9", "fan")
    assert Item.objects.get(pk="code:FA-9").count == 2
    job.tell(e.TakenBack(about="e2"))
    assert PartLineState.objects.get().state == "ordered"
    job.tell(e.TakenBack(about="e1"))
    assert not PartLineState.objects.exists()
    assert Item.objects.get(pk="code:FA-9").count == 0


def test_what_is_taken_back_changes_no_stock_that_was_counted_since(both: Bench) -> None:
    job = Job()
    job.tell(e.Exchanged(part="fan"))
    add_depot_event("", d.StockCounted(item="code:FA-9", count=7, place="drawer 2"), by=BY)
    job.tell(e.Exchanged(part="fan"))
    job.tell(e.TakenBack(about="e1"))
    item = Item.objects.get(pk="code:FA-9")
    assert (item.count, item.place) == (6, "drawer 2")
    job.tell(e.TakenBack(about="e2"))
    assert Item.objects.get(pk="code:FA-9").count == 7
    assert rebuild().changed == ()


def test_search_words_are_in_small_letters_and_follow_what_is_told(both: Bench) -> None:
    making.unit("u1", serial="AB-9", asset_tag=None, device="larkmoor_13")
    add_depot_event("u1", d.Described(asset_tag="INV 44"), by=BY)
    add_depot_event("u1", d.Placed(place="Shelf É2"), by=BY)
    assert Unit.objects.get().search.split("\n") == [
        "u000001", "ab-9", "inv 44", "larkmoor 13", "shelf é2",
    ]  # fmt: skip


def test_one_step_costs_a_bounded_number_of_queries_however_long_the_job(both: Bench) -> None:
    making.begin()
    joints = sorted(making.demo().joints)

    def step(number: int) -> int:
        what = (e.Opened if number % 2 else e.Closed)(joint=joints[number // 2 % len(joints)])
        one = event(f"n{number}", what, client="c", sequence=number, base=1, at_ms=number * 4_000)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            add_run_events("r1", [one], by=BY)
        return len(queries)

    costs = [step(number) for number in range(120)]
    assert max(costs[5:]) <= 14
    assert costs[-1] <= costs[5]
    assert StageTime.objects.count() > 50
    with CaptureQueriesContext(connection) as queries:
        assert load_job("r1").state.version == 121
    assert len(queries) == 1  # the row; what was folded is at hand
    jobs.forget_everything()
    with CaptureQueriesContext(connection) as queries:
        assert load_job("r1").state.version == 121
    assert len(queries) == 3  # the row, the device file, all events at once


def test_a_batch_costs_hardly_more_than_one_event(both: Bench) -> None:
    making.begin()
    batch = [event(f"n{n}", e.Noted(text="x"), client="c", sequence=n, base=1) for n in range(100)]
    with CaptureQueriesContext(connection) as queries:
        add_run_events("r1", batch, by=BY)
    assert len(queries) <= 14


def test_a_depot_event_costs_a_bounded_number_of_queries(both: Bench) -> None:
    making.begin()
    for number in range(30):
        making.unit(f"other{number}")
    with CaptureQueriesContext(connection) as queries:
        add_depot_event("u1", d.Placed(place="shelf"), by=BY)
    assert len(queries) <= 9


def test_what_was_folded_is_forgotten_with_what_was_not_kept(both: Bench) -> None:
    from django.db import transaction

    making.begin()
    note = [event("n", e.Noted(text="x"), client="c", sequence=0, base=1)]
    with pytest.raises(RuntimeError), transaction.atomic():  # noqa: PT012 (both belong inside)
        add_run_events("r1", note, by=BY)
        assert load_job("r1").state.version == 2
        raise RuntimeError
    assert load_job("r1").state.version == 1
    assert StoredEvent.objects.filter(run="r1").count() == 1
    other = [event("m", e.Noted(text="y"), client="c", sequence=0, base=1)]
    add_run_events("r1", other, by=BY)
    assert [one.id for one in load_job("r1").events] == ["r1-s", "m"]


@pytest.mark.parametrize("key", ["", "\x00", "x" * 101, "a/../b", "ü"])
def test_what_can_be_no_key_is_no_unit_and_no_job(both: Bench, key: str) -> None:
    with pytest.raises(InputError):
        add_depot_event(key, d.Placed(place="x"), by=BY)
    with pytest.raises(InputError):
        making.unit(key)
    with pytest.raises(InputError):
        add_run_events(key, [event("n", e.Noted(text="x"))], by=BY)
    with pytest.raises(KeyError):
        load_job(key)
