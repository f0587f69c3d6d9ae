"""However batches of several screens arrive: nothing lost, nothing twice, each screen in its order."""

from __future__ import annotations

import random
import threading
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lastscrew.bench.models import Branch, Run, StoredEvent, WaitingEvent
from lastscrew.bench.store.adding import add_run_events
from lastscrew.bench.store.branches import decide_branch, give_up_waiting
from lastscrew.bench.store.jobs import load_job
from lastscrew.bench.store.rebuilding import rebuild
from lastscrew.problems import InputError
from lastscrew.run.events import Event, Noted, Opened, Turned
from tests.bench.store import making
from tests.bench.store.making import BY, event

if TYPE_CHECKING:
    from tests.bench.conftest import Bench

Batches = list[list[Event]]


def of_screens(screens: int, each: int, rng: random.Random, *, based: bool) -> list[Batches]:
    """What each screen sends: numbered events, cut into batches."""
    found = []
    for screen in range(screens):
        events = [
            event(
                f"s{screen}-{number}",
                rng.choice((Noted(text="hm"), Turned(side="bottom"), Turned(side="top"))),
                client=f"screen{screen}",
                sequence=number,
                base=rng.randrange(1, 5) if based else None,
            )
            for number in range(each)
        ]
        cuts = sorted(rng.sample(range(1, each), k=min(3, each - 1)))
        found.append([events[a:b] for a, b in pairwise([0, *cuts, each])])
    return found


def deliver(batches: Batches) -> None:
    for batch in batches:
        added = add_run_events("r1", batch, by=BY)
        told = {*added.accepted, *added.waiting}
        assert {one.id for one in batch} - told == set() or added.branch is not None


def kept() -> tuple[list[StoredEvent], list[str], list[str]]:
    """The main line without its first event, ids on branches, ids that wait."""
    main = list(StoredEvent.objects.filter(run="r1", number__gt=1).order_by("number"))
    branched = [str(body["id"]) for branch in Branch.objects.all() for body in branch.events]
    return main, branched, list(WaitingEvent.objects.values_list("key", flat=True))


@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32), screens=st.integers(1, 3), based=st.booleans())
def test_any_interleaving_and_resend_keeps_the_same_events(
    both: Bench, seed: int, screens: int, based: bool
) -> None:
    making.empty()
    making.begin()
    rng = random.Random(seed)
    sent = of_screens(screens, 5, rng, based=based)
    batches = [batch for screen in sent for batch in screen]
    everything = {one.id for batch in batches for one in batch}
    chaos = [*batches, *rng.choices(batches, k=4)]
    rng.shuffle(chaos)
    deliver(chaos)
    deliver(rng.sample(batches, k=len(batches)))

    main, branched, waiting = kept()
    ids = [row.key for row in main]
    assert waiting == []
    assert sorted(ids + branched) == sorted(everything)
    assert [row.number for row in main] == list(range(2, len(main) + 2))
    assert Run.objects.get().version == len(main) + 1
    assert Run.objects.get().is_split == bool(branched)
    for screen in range(screens):
        numbers = [row.sequence for row in main if row.client == f"screen{screen}"]
        if not branched:
            assert numbers == list(range(5))
    if not based:
        assert branched == []


@settings(max_examples=6, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32))
def test_after_all_branches_are_decided_what_was_taken_counts_once(both: Bench, seed: int) -> None:
    making.empty()
    making.begin()
    rng = random.Random(seed)
    batches = [b for screen in of_screens(3, 5, rng, based=True) for b in screen]
    everything = {one.id for batch in batches for one in batch}
    deliver(rng.sample(batches, k=len(batches)))
    aside = set()
    for branch in Branch.objects.all():
        take = rng.random() < 0.5
        decide_branch(branch.key, take, "Lea", "seen both")
        if not take:
            aside |= {str(body["id"]) for body in branch.events}
    deliver(batches)
    main, branched, waiting = kept()
    ids = {row.key for row in main}
    assert len(ids) == len(main)
    assert ids | aside == everything
    assert not ids & aside
    assert aside <= set(branched)
    assert not waiting
    assert not Run.objects.get().is_split
    assert [row.number for row in main] == list(range(2, len(main) + 2))
    before = making.derived()
    rebuild()
    assert making.derived() == before


def _split(bench: Bench) -> Branch:
    making.begin()
    one, two, three = sorted(making.demo().joints)[:3]
    add_run_events("r1", [event("a", Opened(joint=one), client="c", sequence=0, base=1)], by=BY)
    batch = [
        event("b", Opened(joint=two), client="d", sequence=0, base=1),
        event("b2", Opened(joint=three), client="d", sequence=1, base=1),
    ]
    add_run_events("r1", batch, by="Ben")
    return Branch.objects.get()


def test_a_branch_that_is_taken_over_counts_behind_what_is_there(both: Bench) -> None:
    branch = _split(both)
    decide_branch(branch.key, True, "Lea", "Ben was at the machine")
    events = load_job("r1").events
    assert [(one.id, one.base, one.by) for one in events[2:]] == [("b", 2, "Ben"), ("b2", 3, "Ben")]
    told = StoredEvent.objects.get(name="branch_decided")
    assert (told.unit, told.by, told.body["reason"]) == ("u1", "Lea", "Ben was at the machine")
    assert not Run.objects.get().is_split
    decide_branch(branch.key, True, "Lea", "once more")
    with pytest.raises(InputError, match="taken over already"):
        decide_branch(branch.key, False, "Lea", "no")


def test_a_branch_that_is_set_aside_stays_and_does_not_count(both: Bench) -> None:
    branch = _split(both)
    decide_branch(branch.key, False, "Lea", "that was another machine")
    assert [one.id for one in load_job("r1").events] == ["r1-s", "a"]
    branch.refresh_from_db()
    assert [body["id"] for body in branch.events] == ["b", "b2"]
    more = [event("b3", Noted(text="next"), client="d", sequence=2, base=2)]
    assert add_run_events("r1", more, by="Ben").accepted == ("b3",)


def test_what_a_screen_sends_while_nobody_has_decided_stays_together(both: Bench) -> None:
    branch = _split(both)
    side = making.demo().sides[0]
    batch = [event("b3", Turned(side=side), client="d", sequence=2, base=2)]
    assert add_run_events("r1", batch, by="Ben").branch == branch.key
    branch.refresh_from_db()
    assert [body["id"] for body in branch.events] == ["b", "b2", "b3"]


def test_a_note_or_an_order_line_makes_no_branch(both: Bench) -> None:
    making.begin()
    side = making.demo().sides[0]
    add_run_events(
        "r1", [event("n", Noted(text="the owner called"), client="c", sequence=0)], by=BY
    )
    turned = [event("t", Turned(side=side), client="d", sequence=0, base=1)]
    assert add_run_events("r1", turned, by="Ben").accepted == ("t",)
    note = [event("n2", Noted(text="again"), client="c", sequence=1, base=1)]
    assert add_run_events("r1", note, by=BY).accepted == ("n2",)


def test_what_waits_in_vain_goes_on_a_branch_and_so_does_what_comes_late(both: Bench) -> None:
    making.begin()
    late = event("l", Noted(text="late"), client="c", sequence=0)
    add_run_events("r1", [event("w", Noted(text="waits"), client="c", sequence=1)], by=BY)
    key = give_up_waiting("r1", "c", "Lea")
    told = StoredEvent.objects.get(name="waiting_given_up")
    assert (told.unit, told.by, told.stored_ms > 0) == ("u1", "Lea", True)
    body = {name: told.body[name] for name in ("job", "client", "branch")}
    assert body == {"job": "r1", "client": "c", "branch": key}
    assert [body["id"] for body in Branch.objects.get(key=key).events] == ["w"]
    assert not WaitingEvent.objects.exists()
    assert add_run_events("r1", [late], by=BY).branch == key
    decide_branch(key, True, "Lea", "both are true")
    assert [one.id for one in load_job("r1").events] == ["r1-s", "w", "l"]
    follows = [event("f", Noted(text="follows"), client="c", sequence=2)]
    assert add_run_events("r1", follows, by=BY).accepted == ("f",)


def test_screens_that_send_at_the_same_moment_get_numbers_one_after_the_other(both: Bench) -> None:
    making.begin()
    problems: list[BaseException] = []

    def send(screen: int) -> None:
        try:
            for number in range(8):
                one = event(
                    f"s{screen}-{number}", Noted(text="x"), client=f"s{screen}", sequence=number
                )
                add_run_events("r1", [one], by=BY)
        except BaseException as error:  # noqa: BLE001 (a thread's error is told by the test)
            problems.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=send, args=(screen,)) for screen in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    rows = StoredEvent.objects.filter(run="r1").order_by("position")
    assert [row.number for row in rows] == list(range(1, 34))
    assert load_job("r1").state.version == 33
    assert rebuild().changed == ()
