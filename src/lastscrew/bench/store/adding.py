"""Adding events: the one way in which anything changes. Stored before it is acknowledged; a resend is harmless.

All additions of an installation are made one after the other (SQLite has one writer anyway; on PostgreSQL an
advisory lock is held until the commit): so the position of an event tells the order in which everything was
derived, and ``lastscrew rebuild`` comes to the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from django.db.models import Q

from lastscrew.bench.depot.receiving import BESIDE_THE_WORK, has_split, in_sequence, is_same
from lastscrew.bench.depot.running import RunFold
from lastscrew.bench.models import Branch, Run, StoredEvent, Unit, WaitingEvent
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.depot_events import add_depot_event, take_in
from lastscrew.bench.store.deriving import take_run_event
from lastscrew.bench.store.desk import Desk
from lastscrew.bench.store.jobs import fold_of, keep_fold, known_device
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Event, Started
from lastscrew.run.lines import event_as_json, event_from_json
from lastscrew.saying import say

MAX_BATCH = 1_000
MAX_WAITING = 5_000
MAX_VERSION = 200_000
"""Bounds on one batch, on what may wait in a job, and on a job (as :mod:`lastscrew.run.lines` has it)."""


@dataclass(frozen=True, slots=True)
class Added:
    """What became of a batch. Whatever it held is kept when this is returned.

    Attributes:
        version: Version of the job now.
        accepted: Ids of the batch that count, now or since an earlier sending, in the order of the batch.
        waiting: Ids that wait until the gap before them is filled.
        branch: Key of the branch that holds the others, None where there are none.
    """

    version: int
    accepted: tuple[str, ...]
    waiting: tuple[str, ...]
    branch: str | None


def add_run_events(run: str, events: Sequence[Event], *, by: str, unit: str | None = None) -> Added:
    """Add what happened in a job.

    Each event counts once, by its id. Events of a screen count in the order of their numbers; what comes
    before an earlier one waits for it. What was entered without knowing what another screen had done
    (an old ``base``) goes on a branch with everything that this screen sent with it and, as long as nobody has decided,
    sends after it. Notes, photos and order lines stand beside the work: they neither make a branch nor
    land on one alone. Events without ``client`` count as they come.

    Args:
        run: Key of the job. The first event of a new one is ``started``.
        events: What a screen sends; ``run``, ``by`` and ``stored`` are set here.
        by: Who sends it. An event is by whoever sent it, whatever it says itself.
        unit: Key of the unit, needed when the job begins.

    Returns:
        What became of each event, once all of it is stored.

    Raises:
        InputError: Nothing was stored; with every problem of the batch.
    """
    stored_ms = now_ms()
    batch = _read_batch(run, events, by, stored_ms)
    with one_at_a_time():
        return _Batch(run, unit, by, stored_ms).add(batch)


def _read_batch(run: str, events: Sequence[Event], by: str, stored_ms: int) -> list[Event]:
    """The batch with its envelope filled in, each id once, read as strictly as if it came from a file."""
    if len(events) > MAX_BATCH:
        text = say("a batch of {n} events is too large", n=len(events))
        raise InputError(
            [
                Problem(
                    text,
                    say("Send at most {most} at a time.", most=MAX_BATCH),
                    code="too_many_events",
                )
            ]
        )
    problems: list[Problem] = []
    found: dict[str, Event] = {}
    for number, event in enumerate(events):
        try:
            read = event_from_json(
                event_as_json(replace(event, run=run, by=by, stored_ms=stored_ms))
            )
        except InputError as error:
            problems += [
                replace(problem, path=f"events.{number}.{problem.path}".rstrip("."))
                for problem in error.problems
            ]
            continue
        if not is_same(found.setdefault(read.id, read), read):
            problems.append(_id_used(read.id, f"events.{number}"))
    if problems:
        raise InputError(problems)
    return list(found.values())


def _id_used(event_id: str, path: str = "") -> Problem:
    return Problem(
        say("the id {id} was used for another event", id=event_id),
        say("Give each event an id of its own; send the same event again only as it was."),
        path,
        code="id_twice",
    )


@dataclass(slots=True)
class _Batch:
    """One batch while it is added, inside its transaction."""

    run: str
    unit: str | None
    by: str
    stored_ms: int
    desk: Desk = field(default_factory=Desk)
    row: Run | None = None
    fold: RunFold = field(default_factory=RunFold)
    branches: list[Branch] = field(default_factory=list)
    stored: set[str] = field(default_factory=set)
    """Ids of the batch that count."""
    branch: str | None = None

    def add(self, batch: list[Event]) -> Added:
        """Sort the batch, store it, derive what follows."""
        self.row = self.desk.run(self.run)
        self.branches = list(Branch.objects.filter(run=self.run).order_by("made_ms", "key"))
        ids = [event.id for event in batch]
        found = list(WaitingEvent.objects.filter(Q(run=self.run) | Q(key__in=ids)))
        waiting = [row for row in found if row.run == self.run]
        if self.row is not None:
            self.fold = fold_of(self.row)
        fresh = self._without_known(batch, found)
        if fresh and self.row is None:
            first = self._checked_beginning(fresh)
            self._store([first])
            fresh.remove(first)
        if fresh:
            self._add_fresh(fresh, waiting)
        self.desk.save()
        return self._answer(batch)

    # --- what is known already ------------------------------------------------------------------

    def _without_known(self, batch: list[Event], waiting: list[WaitingEvent]) -> list[Event]:
        """The events that are new.

        Raises:
            InputError: An id or a number was used for another event.
        """
        ids = [event.id for event in batch]
        bodies: dict[str, object] = dict(
            StoredEvent.objects.filter(key__in=ids).values_list("key", "body")
        )
        self.stored = set(bodies)
        bodies.update((row.key, row.body) for row in waiting)
        on_branch = {
            str(body["id"]): (body, branch.key)
            for branch in self.branches
            for body in branch.events
        }
        problems = []
        fresh = []
        for event in batch:
            if event.id in bodies:
                known = bodies[event.id]
            elif event.id in on_branch:
                known, self.branch = on_branch[event.id]
            else:
                fresh.append(event)
                continue
            if not _is_resend(event, known):
                problems.append(_id_used(event.id))
        problems += self._used_numbers(fresh, waiting)
        if problems:
            raise InputError(problems)
        return fresh

    def _used_numbers(self, fresh: list[Event], waiting: list[WaitingEvent]) -> list[Problem]:
        used = {(row.client, row.sequence) for row in waiting if row.run == self.run}
        used |= {
            (str(body.get("client", "")), int(body["sequence"]))
            for branch in self.branches
            for body in branch.events
            if "sequence" in body
        }
        if any((event.sequence or 0) < self._next_number(event.client or "") for event in fresh):
            used |= {(one.client or "", one.sequence or 0) for one in self.fold.state.log}
        problems = []
        for event in fresh:
            if event.sequence is None or not event.client:
                continue
            if (event.client or "", event.sequence) in used:
                text = say(
                    "the number {sequence} of this screen was used for another event",
                    sequence=event.sequence,
                )
                remedy = say(
                    "Give each screen a key of its own and count its events of a job from 0."
                )
                problems.append(Problem(text, remedy, "sequence", code="sequence_twice"))
            used.add((event.client or "", event.sequence))
        return problems

    # --- the beginning of a job -----------------------------------------------------------------

    def _checked_beginning(self, fresh: list[Event]) -> Event:
        """The first event of a new job: ``started``, on a unit that is here and free, by a known revision.

        Raises:
            InputError: It is not.
        """
        first = next((event for event in fresh if not event.sequence), fresh[0])
        if not isinstance(first.what, Started) or (first.client and first.sequence):
            text = say("there is no job {run}, and its first event is not started", run=self.run)
            raise InputError(
                [Problem(text, say("Begin the job first."), "run", code="unknown_run")]
            )
        problems = [*_problems_of_unit(self.desk, self.unit), *_problems_of_device(first.what)]
        if problems:
            raise InputError(problems)
        return first

    # --- sorting and storing --------------------------------------------------------------------

    def _add_fresh(self, fresh: list[Event], waiting: list[WaitingEvent]) -> None:
        clients = dict.fromkeys(event.client or "" for event in fresh)
        for client in clients:
            own = [event for event in fresh if (event.client or "") == client]
            held = [row for row in waiting if row.client == client]
            self._add_of_client(client, own, held)

    def _add_of_client(self, client: str, own: list[Event], held: list[WaitingEvent]) -> None:
        if not client:
            self._store(own)
            return
        expected = self._next_number(client)
        released = [event_from_json(row.body) for row in held]
        late = [e for e in own if e.sequence is not None and e.sequence < expected]
        rest = [event for event in own if event not in late]
        ready, later = in_sequence([*released, *rest], expected)
        if late:  # their numbers were passed over when a person gave up waiting for them
            self._put_on_branch(client, late)
        if ready:
            self._add_ready(client, ready)
        ready_ids = {event.id for event in ready}
        WaitingEvent.objects.filter(
            key__in=[row.key for row in held if row.key in ready_ids]
        ).delete()
        held_ids = {row.key for row in held}
        self._have_wait([event for event in later if event.id not in held_ids], len(held))

    def _next_number(self, client: str) -> int:
        on_branch = [
            int(body["sequence"])
            for branch in self.branches
            for body in branch.events
            if branch.client == client and "sequence" in body
        ]
        screen = self.fold.screens.get(client)
        stored = screen.next_number if screen is not None else 0
        return max([stored, *(number + 1 for number in on_branch)])

    def _add_ready(self, client: str, ready: list[Event]) -> None:
        undecided = any(
            branch.client == client and branch.state == Branch.State.OPEN
            for branch in self.branches
        )
        only_beside = all(isinstance(event.what, BESIDE_THE_WORK) for event in ready)
        if (undecided and not only_beside) or has_split(ready, self.fold.last_by_others(client)):
            self._put_on_branch(client, ready)
        else:
            self._store(ready)

    def _put_on_branch(self, client: str, events: list[Event]) -> None:
        bodies = [event_as_json(event) for event in events]
        branch = next(
            (b for b in self.branches if b.client == client and b.state == Branch.State.OPEN), None
        )
        if branch is None:
            bases = [event.base for event in events if event.base is not None]
            branch = Branch(
                key=new_key(),
                run=self.run,
                client=client,
                base=min(bases, default=0),
                made_ms=self.stored_ms,
                events=bodies,
            )
            self.branches.append(branch)
        else:
            branch.events = [*branch.events, *bodies]
        if len(branch.events) > MAX_WAITING:
            text = say("more than {most} events wait for a decision", most=MAX_WAITING)
            raise InputError(
                [Problem(text, say("Decide first what counts."), code="too_many_waiting")]
            )
        branch.save()
        self.branch = branch.key
        assert self.row is not None
        self.row.is_split = True
        self.desk.touch(self.row)

    def _have_wait(self, events: list[Event], before: int) -> None:
        if before + len(events) > MAX_WAITING:
            text = say("more than {most} events wait for an earlier one", most=MAX_WAITING)
            raise InputError(
                [Problem(text, say("Send the earlier ones first."), code="too_many_waiting")]
            )
        WaitingEvent.objects.bulk_create(
            WaitingEvent(
                key=event.id,
                run=self.run,
                client=event.client or "",
                sequence=event.sequence or 0,
                by=self.by,
                stored_ms=self.stored_ms,
                body=event_as_json(event),
            )
            for event in events
        )

    def _store(self, events: Iterable[Event]) -> None:
        every = list(events)
        self.row, self.fold = store_run_events(self.desk, self.run, self.unit, every, self.fold)
        self.stored.update(event.id for event in every)

    def _answer(self, batch: list[Event]) -> Added:
        version = self.row.version if self.row is not None else 0
        accepted = tuple(event.id for event in batch if event.id in self.stored)
        on_branch = {str(body["id"]) for branch in self.branches for body in branch.events}
        rest = [event.id for event in batch if event.id not in self.stored]
        waiting = tuple(each for each in rest if each not in on_branch)
        return Added(version, accepted, waiting, self.branch if len(rest) > len(waiting) else None)


def _is_resend(event: Event, body: object) -> bool:
    if not isinstance(body, Mapping) or body.get("run") != event.run:
        return False
    try:
        return is_same(event_from_json(dict(body)), event)
    except InputError:
        return False  # a depot event has this id


HAZARDS = {
    "swollen_pack": say("swollen pack"),
    "damaged_pack": say("damaged pack"),
    "liquid": say("liquid"),
}


def _problems_of_unit(desk: Desk, unit: str | None) -> list[Problem]:
    row: Unit | None = desk.unit(unit) if unit else None
    if row is None:
        text = (
            say("a job begins on a unit") if not unit else say("there is no unit {unit}", unit=unit)
        )
        return [Problem(text, say("Take the unit in first."), "unit", code="unknown_unit")]
    if row.gone_ms is not None:
        return [
            Problem(
                say("{unit} has left", unit=row), say("Take it in again."), "unit", code="unit_gone"
            )
        ]
    if row.hazard:
        hazard = HAZARDS.get(row.hazard, row.hazard.replace("_", " "))
        text = say("{unit} is set apart: {hazard}", unit=row, hazard=hazard)
        remedy = say("A named person says first that it may go the normal way again.")
        return [Problem(text, remedy, "unit", code="set_apart")]
    job = desk.run(row.run) if row.run else None
    if job is not None and not job.outcome:
        text = say("a job on {unit} is in hand already", unit=row)
        return [Problem(text, say("Go on with that one, or end it."), "unit", code="job_in_hand")]
    return []


def _problems_of_device(what: Started) -> list[Problem]:
    try:
        known = known_device(what.revision)
    except KeyError:
        text = say("there is no revision {revision} of a device file", revision=what.revision[:12])
        return [Problem(text, say("Publish it first."), "revision", code="unknown_revision")]
    if known.device.id != what.device:
        text = say(
            "the revision {revision} is of {id}, not of {device}",
            revision=what.revision[:12],
            id=known.device.id,
            device=what.device,
        )
        return [
            Problem(text, say("Name the device of that revision."), "device", code="other_device")
        ]
    return []


# --- storing --------------------------------------------------------------------------------------


def store_run_events(
    desk: Desk, run: str, unit: str | None, events: Sequence[Event], fold: RunFold
) -> tuple[Run, RunFold]:
    """Store events behind what is there and derive what follows. Within :func:`one_at_a_time`.

    Args:
        desk: Where the rows lie; the caller saves it.
        run: Key of the job.
        unit: Key of its unit; only needed where the job begins.
        events: What comes next, in order.
        fold: The job before.

    Returns:
        The job's row, and the job after.
    """
    row = desk.run(run)
    key = row.unit_id if row is not None else unit
    assert key is not None
    version = row.version if row is not None else 0
    if version + len(events) > MAX_VERSION:
        text = say("a job has at most {most} events", most=MAX_VERSION)
        raise InputError([Problem(text, say("End it and begin another."), code="too_many_events")])
    known = known_device(_revision_of(row, events[0]))
    rows = [
        StoredEvent(
            key=event.id,
            name=event.what.name,
            run=run,
            number=version + number,
            unit=key,
            client=event.client or "",
            sequence=event.sequence,
            stored_ms=event.stored_ms or 0,
            by=event.by or "",
            body=event_as_json(event),
        )
        for number, event in enumerate(events, 1)
    ]
    StoredEvent.objects.bulk_create(rows)
    for stored, event in zip(rows, events, strict=True):
        fold = take_run_event(desk, run, key, event, stored.position, fold, known)
    keep_fold(run, fold)
    row = desk.run(run)
    assert row is not None
    return row, fold


def _revision_of(row: Run | None, first: Event) -> str:
    if row is not None:
        return row.revision
    assert isinstance(first.what, Started)
    return first.what.revision


__all__ = [
    "Added",
    "add_depot_event",
    "add_run_events",
    "one_at_a_time",
    "store_run_events",
    "take_in",
]
