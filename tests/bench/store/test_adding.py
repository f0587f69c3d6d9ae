"""Adding events: once each, in order, nothing lost, all or nothing."""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING

import pytest
from django.db import connection, transaction

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import Branch, Draft, Run, StoredEvent, Unit, WaitingEvent
from lastscrew.bench.store.adding import add_depot_event, add_run_events, take_in
from lastscrew.bench.store.jobs import current_revision, device_of, load_job
from lastscrew.problems import InputError
from lastscrew.run.events import Noted, Opened
from tests.bench.store import making
from tests.bench.store.making import BY, event

if TYPE_CHECKING:
    from tests.bench.conftest import Bench


def test_what_was_added_is_there_and_is_folded(both: Bench) -> None:
    making.begin(replace=("fan",))
    first = min(making.demo().joints)
    added = add_run_events(
        "r1", [event("a", Opened(joint=first), client="c", sequence=0, base=1)], by=BY
    )
    assert (added.version, added.accepted, added.waiting, added.branch) == (2, ("a",), (), None)
    job = load_job("r1")
    assert job.state.open == (first,)
    assert [one.id for one in job.events] == ["r1-s", "a"]
    assert job.run.open_joints == [first]
    assert Unit.objects.get(pk="u1").stage == Unit.Stage.AT_WORK
    assert job.device is device_of(job.run.revision)
    assert current_revision(job.device.id) is not None


def test_a_resend_changes_nothing(both: Bench) -> None:
    making.begin()
    batch = [event("a", Noted(text="hm"), client="c", sequence=0, base=1)]
    one = add_run_events("r1", batch, by=BY)
    two = add_run_events("r1", [*batch, *batch], by="Ben")
    assert one == two
    assert StoredEvent.objects.filter(run="r1").count() == 2


def test_an_id_or_a_number_that_was_used_is_refused_and_nothing_is_stored(both: Bench) -> None:
    making.begin()
    add_run_events("r1", [event("a", Noted(text="hm"), client="c", sequence=0)], by=BY)
    batch = [
        event("b", Noted(text="new"), client="c", sequence=1),
        event("a", Noted(text="other"), client="c", sequence=2),
        event("x", Noted(text="other"), client="c", sequence=0),
    ]
    with pytest.raises(InputError) as caught:
        add_run_events("r1", batch, by=BY)
    assert [problem.code for problem in caught.value.problems] == ["id_twice", "sequence_twice"]
    assert StoredEvent.objects.filter(run="r1").count() == 2


def test_a_gap_waits_and_is_filled_in_order(both: Bench) -> None:
    making.begin()
    added = add_run_events("r1", [event("c", Noted(text="3"), client="c", sequence=2)], by=BY)
    assert added.waiting == ("c",)
    added = add_run_events("r1", [event("b", Noted(text="2"), client="c", sequence=1)], by=BY)
    assert (added.version, added.waiting) == (1, ("b",))
    added = add_run_events("r1", [event("a", Noted(text="1"), client="c", sequence=0)], by=BY)
    assert (added.version, added.accepted) == (4, ("a",))
    assert [one.id for one in load_job("r1").events] == ["r1-s", "a", "b", "c"]
    assert not WaitingEvent.objects.exists()


def test_what_another_screen_did_meanwhile_makes_a_branch(both: Bench) -> None:
    making.begin()
    joints = sorted(making.demo().joints)
    add_run_events(
        "r1", [event("a", Opened(joint=joints[0]), client="c", sequence=0, base=1)], by=BY
    )
    batch = [
        event("b", Opened(joint=joints[1]), client="d", sequence=0, base=1),
        event("b2", Opened(joint=joints[2]), client="d", sequence=1, base=1),
    ]
    added = add_run_events("r1", batch, by="Ben")
    assert added.branch is not None
    assert (added.version, added.accepted, added.waiting) == (2, (), ())
    assert [each["id"] for each in Branch.objects.get().events] == ["b", "b2"]
    assert Run.objects.get().is_split
    assert add_run_events("r1", batch, by="Ben") == added


def test_a_job_begins_with_started_on_a_unit_that_is_here_and_free(both: Bench) -> None:
    device = making.publish()
    first = event("s", making.started(device))
    with pytest.raises(InputError, match="no job r9"):
        add_run_events("r9", [event("n", Noted(text="hm"))], by=BY, unit="u1")
    with pytest.raises(InputError, match="no unit u1"):
        add_run_events("r9", [first], by=BY, unit="u1")
    making.unit("u1", pack="swollen")
    with pytest.raises(InputError, match="set apart: swollen pack"):
        add_run_events("r9", [first], by=BY, unit="u1")
    add_depot_event("u1", d.HazardCleared(person="Lea", reason="pack is out"), by=BY)
    assert add_run_events("r9", [first], by=BY, unit="u1").version == 1
    with pytest.raises(InputError, match="in hand already"):
        add_run_events("r10", [event("s2", making.started(device))], by=BY, unit="u1")


def test_units_are_numbered_and_a_resend_takes_no_number(both: Bench) -> None:
    what = d.TakenIn(number=1, serial="X")
    one = take_in("u1", what, by=BY, key="t1")
    again = take_in("u1", what, by=BY, key="t1")
    two = take_in("u2", what, by=BY, key="t2")
    assert one.pk == again.pk
    assert two.body["number"] == 2
    assert str(Unit.objects.get(pk="u2")) == "U000002"


def test_adding_within_another_transaction_and_beside_one_waits_for_neither_for_ever(
    both: Bench,
) -> None:
    making.unit("u1")
    inside, problems = threading.Event(), []

    def beside() -> None:
        try:
            inside.wait(10)
            add_depot_event("u1", d.Placed(place="beside"), by=BY)
        except BaseException as error:  # noqa: BLE001 (a thread's error is told by the test)
            problems.append(error)
        finally:
            connection.close()

    other = threading.Thread(target=beside)
    other.start()
    with transaction.atomic():
        # SQLite's lock of the whole database is held from here on.
        Draft.objects.create(title="A draft", origin="file", changed_ms=1)
        inside.set()
        time.sleep(0.1)
        add_depot_event("u1", d.Placed(place="inside"), by=BY)
    other.join(20)
    assert not other.is_alive()
    assert problems == []
    assert StoredEvent.objects.filter(name="placed").count() == 2
