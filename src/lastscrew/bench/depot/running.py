"""A job with everything that follows from its events: state, lines of the order, stock moves, times.

Pure, and taken in event by event: the same steps lead to the same values when they are made for the
first time and when everything derived is made anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from lastscrew.bench.depot.clocks import Clock, Estimates, TimedStep, advance, advanced
from lastscrew.bench.depot.receiving import BESIDE_THE_WORK
from lastscrew.bench.depot.stocking import Line, Move, line_after, moves_at, moves_of_job
from lastscrew.device.model import Device
from lastscrew.fasteners.ledger import hindrances, ledger_of
from lastscrew.proof.checks import open_proofs
from lastscrew.run.events import Closed, Event, Opened, PartLine, TakenBack
from lastscrew.run.folding import fold, in_force
from lastscrew.run.state import JobState, request_from
from lastscrew.times.work import work_times


@dataclass(frozen=True, slots=True)
class Screen:
    """What a screen added to a job.

    Attributes:
        next_number: The number that its next event has.
        last_work: Version of the job at its last event that touches the work; 0 for none.
    """

    next_number: int = 0
    last_work: int = 0


@dataclass(frozen=True, slots=True)
class RunFold:
    """A job as its events leave it.

    Attributes:
        state: How it stands.
        clock: Its time.
        lines: Lines of its order, by key, in the order in which they came up.
        moves: What each event in force moved in stock, by the event's id.
        screens: What each screen added, by its key; empty for events that name none.
    """

    state: JobState = field(default_factory=JobState)
    clock: Clock = field(default_factory=Clock)
    lines: Mapping[str, Line] = field(default_factory=dict)
    moves: Mapping[str, tuple[Move, ...]] = field(default_factory=dict)
    screens: Mapping[str, Screen] = field(default_factory=dict)

    def last_by_others(self, client: str) -> int:
        """Version at the last event of another screen that touches the work; 0 for none."""
        others = (screen.last_work for key, screen in self.screens.items() if key != client)
        return max(others, default=0)


@dataclass(frozen=True, slots=True)
class Taken:
    """What one event did.

    Attributes:
        fold: The job afterwards.
        moves: By event id, how stock changes on its account: as a rule one entry, the event's own. Taking
            back changes what earlier events moved.
        times: Times of steps that are new or that changed.
        is_anew: Something was taken back: lines and times are the whole list, not what was added.
    """

    fold: RunFold
    moves: Mapping[str, tuple[Move, ...]]
    times: tuple[TimedStep, ...]
    is_anew: bool


def estimates_of(device: Device) -> Estimates:
    """What opening or closing each joint should take, by its first access."""
    times = work_times(device)

    def estimate(joint: str, limb: str) -> int | None:
        if joint not in times:
            return None
        time = times[joint][0]
        return time.open_ms if limb == "in" else time.close_ms

    return estimate


def take(device: Device, before: RunFold, event: Event, estimate: Estimates) -> Taken:
    """Take one event in.

    Args:
        device: The device, of the revision that the job keeps.
        before: The job before; an event that it knows changes nothing.
        event: The event.
        estimate: From :func:`estimates_of`.
    """
    state = fold(device, [event], before.state)
    screens = _screens(before, event, state.version)
    if isinstance(event.what, TakenBack):
        return _taken_anew(device, before, RunFold(state, screens=screens), estimate)
    moves = moves_at(device, before.state, event, before.lines)
    lines = before.lines
    if isinstance(event.what, PartLine):
        line = line_after(device, lines.get(event.what.line), event.what, moment_of(event))
        lines = {**lines, line.line: line}
    clock = advance(before.clock, event, estimate)
    all_moves = {**before.moves, event.id: moves} if moves else before.moves
    changes = {event.id: moves} if moves else {}
    after = RunFold(state, clock, lines, all_moves, screens)
    return Taken(after, changes, clock.times(), is_anew=False)


def _screens(before: RunFold, event: Event, version: int) -> Mapping[str, Screen]:
    key = event.client or ""
    known = before.screens.get(key, Screen())
    number = known.next_number if event.sequence is None else event.sequence + 1
    work = known.last_work if isinstance(event.what, BESIDE_THE_WORK) else version
    return {**before.screens, key: Screen(max(known.next_number, number), work)}


def _taken_anew(device: Device, before: RunFold, after: RunFold, estimate: Estimates) -> Taken:
    events = in_force(after.state.log)
    moves = moves_of_job(device, events)
    clock, times = advanced(events, estimate)
    fresh = replace(after, clock=clock, lines=_lines(device, events), moves=moves)
    return Taken(fresh, _difference(before.moves, moves), times, is_anew=True)


def _lines(device: Device, events: Iterable[Event]) -> dict[str, Line]:
    lines: dict[str, Line] = {}
    for event in events:
        if isinstance(event.what, PartLine):
            key = event.what.line
            lines[key] = line_after(device, lines.get(key), event.what, moment_of(event))
    return lines


def _difference(
    before: Mapping[str, tuple[Move, ...]], after: Mapping[str, tuple[Move, ...]]
) -> dict[str, tuple[Move, ...]]:
    """By event, what has to be moved so that ``after`` holds where ``before`` held."""
    found: dict[str, tuple[Move, ...]] = {}
    for event in dict.fromkeys((*before, *after)):
        old, new = dict(before.get(event, ())), dict(after.get(event, ()))
        codes = sorted({*old, *new})
        changes = [(code, new.get(code, 0.0) - old.get(code, 0.0)) for code in codes]
        if moved := tuple((code, change) for code, change in changes if change):
            found[event] = moved
    return found


def moment_of(event: Event) -> int:
    """When it happened: as its screen says, but never later than it was stored. 0 where nobody knows."""
    stored = event.stored_ms or 0
    return stored if event.at_ms is None else min(event.at_ms, stored or event.at_ms)


def last_limb(state: JobState, event: Event, before: str) -> str:
    """Which way the last step went, after an event: ``in``, ``out``, empty where there was none.

    Args:
        state: The job after the event.
        event: The event.
        before: The answer before it.
    """
    if isinstance(event.what, Opened | Closed):
        return _limb_of(event)
    if not isinstance(event.what, TakenBack):
        return before
    steps = (e for e in reversed(in_force(state.log)) if isinstance(e.what, Opened | Closed))
    last = next(steps, None)
    return _limb_of(last) if last is not None else ""


def _limb_of(step: Event) -> str:
    return "in" if isinstance(step.what, Opened) else "out"


def is_work_done(state: JobState, device: Device) -> bool:
    """True when something was done, nothing is left to do, and no joint is open (but for waived ones)."""
    if state.check_on or not (state.opened or state.exchanged):
        return False
    if any(joint not in state.waived_joints for joint in state.open):
        return False
    left = request_from(device, state)
    return not left.replace and not left.reach


def is_proven(device: Device, state: JobState) -> bool:
    """True when the record could be closed: every check done, nothing unexplained."""
    if open_proofs(device, state):
        return False
    return not hindrances(device, state, ledger_of(device, state.log))
