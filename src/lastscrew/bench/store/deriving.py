"""What the derived tables say, from one event at a time: when it is added, and when all is made anew."""

from __future__ import annotations

from typing import cast

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.clocks import TimedStep
from lastscrew.bench.depot.folded import folded_key
from lastscrew.bench.depot.folding import (
    PLACES_APART,
    changes_by,
    search_text,
    stage_of,
    tray_keys_of,
    trays_told,
)
from lastscrew.bench.depot.running import (
    RunFold,
    Taken,
    is_proven,
    is_work_done,
    last_limb,
    moment_of,
    take,
)
from lastscrew.bench.depot.stocking import Line, rounded
from lastscrew.bench.models import PartLineState, Run, StageTime, Unit
from lastscrew.bench.store.desk import Desk
from lastscrew.bench.store.jobs import KnownDevice
from lastscrew.device.model import Device
from lastscrew.run.events import Event, Finished, Parked, Started, TakenBack
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState

# --- events of a job ------------------------------------------------------------------------------


def take_run_event(
    desk: Desk,
    run: str,
    unit: str,
    event: Event,
    position: int,
    before: RunFold,
    known: KnownDevice,
) -> RunFold:
    """Take an event of a job into the derived tables.

    Args:
        desk: Where the rows lie.
        run: Key of the job.
        unit: Key of its unit, which is there.
        event: The event as it was stored.
        position: Its position among all events.
        before: The job before it.
        known: The device file that the job keeps.

    Returns:
        The job after it.
    """
    taken = take(known.device, before, event, known.estimate)
    row = desk.run(run) or _new_run(desk, run, unit, event)
    _set_run(row, taken.fold, event, known)
    desk.touch(row)
    _set_lines(desk, row, before, taken)
    desk.set_times(run, (_time_row(row, timed) for timed in taken.times))
    for about, moves in taken.moves.items():
        at = position if about == event.id else desk.position_of(about)
        for code, change in moves:
            move_stock(desk, code, change, at, event.stored_ms or 0)
    owner = desk.unit(unit)
    assert owner is not None
    _set_unit_by_run(desk, owner, row, taken.fold.state, event, position)
    desk.touch(owner)
    return taken.fold


def _new_run(desk: Desk, run: str, unit: str, event: Event) -> Run:
    what = event.what
    assert isinstance(what, Started)
    row = Run(
        key=run,
        unit_id=unit,
        device=what.device,
        revision=what.revision,
        started_ms=moment_of(event),
        changed_ms=event.stored_ms or 0,
    )
    desk.add_run(row)
    owner = desk.unit(unit)
    assert owner is not None
    owner.run = run
    _set_trays(owner, None, 0)
    return row


def _set_run(row: Run, fold: RunFold, event: Event, known: KnownDevice) -> None:
    state = fold.state
    row.version = state.version
    row.targets = [*state.replace, *state.reach]
    row.open_joints = list(state.open)
    row.opened_count = len(state.opened)
    row.last_limb = last_limb(state, event, row.last_limb)
    row.is_paused = state.paused
    row.is_parked = state.parked is not None
    row.outcome = state.outcome or ""
    row.worker = (state.worker or "")[:200]
    row.changed_ms = event.stored_ms or 0
    if state.outcome is None:
        row.finished_ms = None
    elif row.finished_ms is None or isinstance(event.what, Finished):
        row.finished_ms = moment_of(event)
    row.stage = _stage_of_job(known.device, state)
    row.hands_on_ms = fold.clock.hands_on_ms
    row.set_apart_ms = fold.clock.apart_ms


def _set_lines(desk: Desk, row: Run, before: RunFold, taken: Taken) -> None:
    if taken.is_anew:
        desk.forget_run(row.key)
    known = {} if taken.is_anew else before.lines
    desk.set_lines(
        row.key,
        (
            _line_row(row, line)
            for line in taken.fold.lines.values()
            if known.get(line.line) is not line
        ),
    )


def _time_row(row: Run, timed: TimedStep) -> StageTime:
    return StageTime(
        event=timed.event,
        run=row,
        device=row.device,
        limb=timed.limb,
        joint=timed.joint,
        taken_ms=timed.taken_ms,
        person=timed.person[:200],
        is_outlier=timed.is_outlier,
        at_ms=timed.at_ms,
    )


def _line_row(row: Run, line: Line) -> PartLineState:
    return PartLineState(
        run=row,
        line=line.line,
        state=line.state,
        count=line.count,
        order_code=line.order_code[:200],
        what=line.what[:200],
        changed_ms=line.at_ms,
    )


def _set_unit_by_run(
    desk: Desk, unit: Unit, row: Run, state: JobState, event: Event, position: int
) -> None:
    unit.changed_ms = max(unit.changed_ms, event.stored_ms or 0)
    if unit.run != row.key:
        return  # an older job: something that was waiting came in late
    if isinstance(event.what, Parked) and event.what.place:
        # Tray and bags are told behind the machine's own place.
        unit.place = event.what.place.split(PLACES_APART)[0]
        set_search(unit)
    _follow_trays(desk, unit, state, event, position)
    parked = state.parked
    unit.waiting_for = (parked.waiting_for or "")[:400] if parked else ""
    unit.waiting_until_ms = parked.until_ms if parked else None
    unit.worker = "" if state.outcome else row.worker
    _set_stage(desk, unit)


def _follow_trays(desk: Desk, unit: Unit, state: JobState, event: Event, position: int) -> None:
    """Whose tray and bags are whose: as it was told when the job was put aside last, until the job ends."""
    what = event.what
    if state.outcome is not None:
        _set_trays(unit, None, 0)
    elif isinstance(what, Parked):
        _set_trays(unit, what, position)
    elif isinstance(what, TakenBack):
        told = [each for each in in_force(state.log) if isinstance(each.what, Parked)]
        last = told[-1] if told else None
        parked = last.what if last is not None else None
        assert parked is None or isinstance(parked, Parked)
        _set_trays(unit, parked, desk.position_of(last.id) if last is not None else 0)


def _set_trays(unit: Unit, parked: Parked | None, position: int) -> None:
    labels = trays_told(parked) if parked is not None else ()
    unit.trays = list(labels)
    unit.tray_keys = tray_keys_of(labels)
    unit.trays_position = position if labels else 0


def _set_stage(desk: Desk, unit: Unit) -> None:
    row = desk.run(unit.run) if unit.run else None
    unit.stage = stage_of(
        is_gone=unit.gone_ms is not None, hazard=unit.hazard, of_job=row.stage if row else ""
    )


def _stage_of_job(device: Device, state: JobState) -> str:
    if state.outcome is not None:
        return "proven"
    if state.parked is not None:
        return "parked"
    if is_work_done(state, device):
        return "proven" if is_proven(device, state) else "to_prove"
    return "at_work"


# --- depot events ---------------------------------------------------------------------------------


def take_depot_event(desk: Desk, unit: str, event: Event, position: int) -> None:
    """Take a depot event into the derived tables.

    Args:
        desk: Where the rows lie.
        unit: Key of its unit, empty for none.
        event: The event as it was stored.
        position: Its position among all events.
    """
    what, moment_ms = event.what, moment_of(event)
    stored_ms = event.stored_ms or 0
    if isinstance(what, d.StockCounted):
        _count_stock(desk, what, position, stored_ms)
    elif isinstance(what, d.StockMoved):
        move_stock(desk, what.item, what.change, position, stored_ms)
    elif isinstance(what, d.RevisionPublished):
        desk.publish(what.device, what.revision)
    row = desk.unit(unit) if unit else None
    if isinstance(what, d.TakenIn):
        row = Unit(key=unit, taken_in_ms=moment_ms, changed_ms=stored_ms)
        desk.add_unit(row)
    if row is None:
        return
    _change_unit(desk, row, event)
    desk.touch(row)


def _change_unit(desk: Desk, row: Unit, event: Event) -> None:
    what = event.what
    custody = cast("list[dict[str, object]]", row.custody)
    changes = changes_by(what, moment_of(event), custody)
    if isinstance(what, d.Described) and what.checks:
        changes["checks_before"] = {**row.checks_before, **what.checks}
    for name, value in changes.items():
        setattr(row, name, value)
    row.changed_ms = max(row.changed_ms, event.stored_ms or 0)
    if row.gone_ms is not None:
        row.worker, row.waiting_for, row.waiting_until_ms = "", "", None
    _set_stage(desk, row)
    set_search(row)


def set_search(row: Unit) -> None:
    """What units are found by: exactly, and by pieces of words."""
    row.serial_key = folded_key(row.serial)
    row.asset_key = folded_key(row.asset_tag)
    row.place_key = folded_key(row.place)
    row.search = search_text(
        row.number,
        row.serial,
        row.asset_tag,
        row.device.replace("_", " "),
        row.device_words,
        row.place,
    )


# --- stock ----------------------------------------------------------------------------------------


def move_stock(desk: Desk, code: str, change: float, position: int, stored_ms: int) -> None:
    """Change what lies there, unless it was counted after the event that moved it."""
    item = desk.item(code, stored_ms)
    if position < item.counted_position:
        return
    item.count = rounded(item.count + change)
    item.changed_ms = stored_ms
    desk.touch(item)


def _count_stock(desk: Desk, what: d.StockCounted, position: int, stored_ms: int) -> None:
    item = desk.item(what.item, stored_ms)
    item.count = rounded(what.count)
    item.place = what.place or item.place
    item.counted_position = position
    item.changed_ms = stored_ms
    desk.touch(item)
