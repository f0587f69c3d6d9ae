"""Two histories of one job: a person decides what counts, and nothing is lost either way."""

from __future__ import annotations

from dataclasses import replace

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import Branch, Run, StoredEvent, WaitingEvent
from lastscrew.bench.store.adding import store_run_events
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.depot_events import store_depot_event
from lastscrew.bench.store.desk import Desk
from lastscrew.bench.store.jobs import fold_of
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Event, Happening
from lastscrew.run.lines import event_as_json, event_from_json
from lastscrew.saying import say


def decide_branch(key: str, take: bool, by: str, reason: str) -> None:  # noqa: FBT001 (the contract)
    """Decide what becomes of a branch.

    Taken over, its events count behind what is there: each keeps its id, its screen and number, who did it and
    when; its ``base`` is the version that it now stands on. Set aside, they stay where they are and do not
    count. Deciding the same once more changes nothing.

    Args:
        key: Key of the branch.
        take: Take it over, or set it aside.
        by: Who decides.
        reason: Why.

    Raises:
        InputError: There is no such branch, it was decided otherwise, or an id in it was used elsewhere.
    """
    state = Branch.State.TAKEN if take else Branch.State.SET_ASIDE
    told = d.BranchDecided(branch=key, decision=str(state.value), reason=reason)
    stored_ms = now_ms()
    with one_at_a_time():
        branch = _open_branch(key, state)
        if branch is None:
            return
        desk = Desk()
        row = desk.run(branch.run)
        assert row is not None
        branch.state = state
        branch.save(update_fields=["state"])
        if take:
            _take_over(desk, row, branch, stored_ms)
        others = Branch.objects.filter(run=branch.run, state=Branch.State.OPEN)
        row.is_split = others.exists()
        desk.touch(row)
        _store(desk, row.unit_id, told, by)
        desk.save()


def _open_branch(key: str, state: str) -> Branch | None:
    """The branch, None where it was decided so already."""
    branch = Branch.objects.filter(key=key).first()
    if branch is None:
        raise InputError([Problem(say("there is no branch {key}", key=key), code="unknown_branch")])
    if branch.state == state:
        return None
    if branch.state != Branch.State.OPEN:
        text = say("this branch was set aside already")
        if branch.state == "taken":
            text = say("this branch was taken over already")
        remedy = say("Enter anew what is to count, or take back what is not.")
        raise InputError([Problem(text, remedy, code="decided")])
    return branch


def _take_over(desk: Desk, row: Run, branch: Branch, stored_ms: int) -> None:
    events = [event_from_json(body) for body in branch.events]
    used = StoredEvent.objects.filter(key__in=[event.id for event in events])
    if ids := sorted(used.values_list("key", flat=True)):
        text = say("ids of this branch were used for other events: {ids}", ids=", ".join(ids[:5]))
        raise InputError([Problem(text, say("Set it aside and enter it anew."), code="id_twice")])
    based = [
        replace(event, base=row.version + number, stored_ms=stored_ms)
        for number, event in enumerate(events)
    ]
    store_run_events(desk, branch.run, None, based, fold_of(row))


def give_up_waiting(run: str, client: str, by: str) -> str:
    """No longer wait for what a screen has never sent: what came after the gap goes on a branch to be decided.

    Should the missing events arrive after all, they go on a branch too. Who gave up, when, and on how much is kept
    as an event of the unit.

    Args:
        run: Key of the job.
        client: Key of the screen.
        by: Who gives up.

    Returns:
        Key of the branch.

    Raises:
        InputError: Nothing waits.
    """
    with one_at_a_time():
        rows = list(WaitingEvent.objects.filter(run=run, client=client).order_by("sequence"))
        desk = Desk()
        row = desk.run(run)
        if not rows or row is None:
            raise InputError([Problem(say("nothing of this screen waits"), code="nothing_waits")])
        bodies = [waiting.body for waiting in rows]
        branch = Branch.objects.filter(run=run, client=client, state=Branch.State.OPEN).first()
        if branch is None:
            bases = [int(body["base"]) for body in bodies if "base" in body]
            branch = Branch(
                key=new_key(),
                run=run,
                client=client,
                base=min(bases, default=0),
                made_ms=now_ms(),
            )
        branch.events = [*branch.events, *bodies]
        branch.save()
        WaitingEvent.objects.filter(pk__in=[waiting.pk for waiting in rows]).delete()
        row.is_split = True
        desk.touch(row)
        told = d.WaitingGivenUp(
            job=run,
            client=client,
            branch=branch.key,
            count=len(rows),
            missing=_first_missing(row, client),
        )
        _store(desk, row.unit_id, told, by)
        desk.save()
    return branch.key


def _first_missing(row: Run, client: str) -> int:
    """The number that a screen's next entry would have had."""
    screen = fold_of(row).screens.get(client)
    return screen.next_number if screen is not None else 0


def _store(desk: Desk, unit: str, what: Happening, by: str) -> None:
    stored_ms = now_ms()
    event = Event(id=new_key(), what=what, at_ms=stored_ms, stored_ms=stored_ms, by=by)
    store_depot_event(desk, unit, event_from_json(event_as_json(event), d.HAPPENINGS))
