"""Filling an empty installation with the invented depot: forty units of three devices, in every stage.

Everything goes in as at the bench, as events through the store; only the moments lie in the past. The same
moment gives the same depot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from importlib import resources
from random import Random

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.stocking import fastener_code, stock_code, supply_code
from lastscrew.bench.invented.cast import (
    COUNTS,
    OWNERS,
    PEOPLE,
    PLACES,
    STORIES,
    WAITS,
    State,
    Story,
)
from lastscrew.bench.invented.playing import Playing, play
from lastscrew.bench.models import OwnerData, StoredEvent
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.clock import now_ms
from lastscrew.bench.store.depot_events import take_in
from lastscrew.bench.store.locking import one_at_a_time
from lastscrew.bench.store.revisions import publish
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.plan.model import Plan, Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError, Problem
from lastscrew.run import events as e

DAY_MS = int(timedelta(days=1).total_seconds() * 1000)
MINUTE_MS = 60_000
MARK = "demo-notebook"
"""Key of an event that only the invented depot has."""
PLANNING = StopRule(work=50_000)


@dataclass(frozen=True, slots=True)
class _Machine:
    """One unit of the depot before it is stored."""

    number: int
    state: State
    device: Device
    story: Story
    plan: Plan
    in_ms: int

    @property
    def key(self) -> str:
        return f"demo-unit-{self.number:02d}"

    @property
    def run(self) -> str:
        return f"demo-run-{self.number:02d}"

    @property
    def serial(self) -> str:
        return f"{self.device.id[:3].upper()}{7_340_000 + self.number * 1_379}"

    @property
    def person(self) -> str:
        return PEOPLE[self.number % len(PEOPLE)]


def fill() -> int:
    """Fill an empty installation.

    Returns:
        How many units were made; 0 where the invented depot is there already.

    Raises:
        InputError: It is not empty: nothing of anybody's is mixed with invented things.
    """
    if StoredEvent.objects.filter(key=MARK).exists():
        return 0
    if StoredEvent.objects.exists():
        raise InputError(
            [
                Problem(
                    "this installation is not empty: the invented depot is not mixed with what is there",
                    "Give an empty folder with --data, or leave --demo out.",
                    path="--demo",
                )
            ]
        )
    with one_at_a_time():
        chance = Random(13)  # noqa: S311 (an invented depot, the same every time)
        devices = {name: _publish(name) for name in STORIES}
        machines = list(_machines(devices, chance, now_ms()))
        for machine in machines:
            _bring_in(machine, chance)
            _work(machine, chance)
        # Counted at last: the work above took from it.
        for device in devices.values():
            _stock(device, chance)
    return len(machines)


def _publish(name: str) -> Device:
    text = resources.files("lastscrew.demo").joinpath(f"{name}.device.yaml").read_text("utf-8")
    device = load_device(text, f"{name}.device.yaml")
    publish(
        device, text, by=PEOPLE[0], note="First revision of the invented depot.", key=f"demo-{name}"
    )
    return device


def _stock(device: Device, chance: Random) -> None:
    """Some of everything that can be ordered; now and then nothing."""
    codes = {stock_code(part.order_code) for part in device.parts.values() if part.order_code}
    codes |= {stock_code(spare.order_code) for spare in device.spares.values() if spare.order_code}
    few = {code: float(chance.choice((0, 0, 1, 2, 3))) for code in sorted(codes)}
    many = {fastener_code(device, key): float(chance.randrange(8, 60)) for key in device.fasteners}
    some = {supply_code(device, key): float(chance.randrange(2, 40)) for key in device.supplies}
    for code, count in {**few, **many, **some}.items():
        what = d.StockCounted(item=code, count=count, place=chance.choice(("Drawer 1", "Drawer 2")))
        add_depot_event(
            "", what, by=PEOPLE[1], key=f"demo-stock-{device.id}-{code}"[:100].replace(" ", "_")
        )


def _machines(devices: dict[str, Device], chance: Random, now: int) -> Iterator[_Machine]:
    states = [state for state, count in COUNTS.items() for _ in range(count)]
    chance.shuffle(states)
    names = list(devices)
    plans: dict[tuple[str, tuple[str, ...]], Plan] = {}
    for number, state in enumerate(states, 1):
        # A pack swells in what has one.
        name = names[number % 2] if state == "set_apart" else names[number % len(names)]
        device = devices[name]
        story = STORIES[name][number // len(names) % len(STORIES[name])]
        key = (name, story.pieces)
        if key not in plans:
            plans[key] = plan(device, Request(replace=story.pieces), PLANNING)
        age = chance.uniform(12, 30) if state == "gone" else chance.uniform(0.3, 9)
        yield _Machine(number, state, device, story, plans[key], now - int(age * DAY_MS))


def _bring_in(machine: _Machine, chance: Random) -> None:
    apart = machine.state == "set_apart"
    swollen = apart and any(part.energy for part in machine.device.parts.values())
    exchanged = {part for piece in machine.plan.pieces for part in piece}
    broken = {function for part in exchanged for function in machine.device.parts[part].functions}
    checks = {
        key: "fails" if key in broken else "works" for key in list(machine.device.functions)[:6]
    }
    what = d.TakenIn(
        number=machine.number,
        device=machine.device.id,
        serial=machine.serial,
        asset_tag=f"INV-{1000 + machine.number}" if machine.number % 3 == 0 else None,
        accessories=("charger",) if machine.number % 2 else (),
        seals="whole" if machine.number % 4 else "broken before",
        condition="Scratches on the cover, one corner dented." if machine.number % 5 == 0 else None,
        may_be_lost="Settings and the clock." if exchanged else None,
        agreed_by="owner",
        way_to_test="guest_account",
        pack="swollen" if swollen else "sound",
        liquid=apart and not swollen,
        due_ms=machine.in_ms + int(chance.uniform(5, 12)) * DAY_MS,
        checks=checks,
    )
    take_in(machine.key, what, by=machine.person, key=f"{machine.key}.in", at_ms=machine.in_ms)
    OwnerData.objects.create(
        unit=machine.key,
        name=OWNERS[machine.number % len(OWNERS)],
        contact=f"owner{machine.number:02d}@mail.example",
        complaint=machine.story.complaint,
    )
    if apart:
        met = d.HazardMet(
            what="swollen_pack" if swollen else "liquid",
            told=PEOPLE[0],
            place="Sand box by the door" if swollen else "Shelf C",
            power_off=True,
        )
        _tell(machine, met, "met", machine.in_ms + 5 * MINUTE_MS)
    elif machine.state == "taken_in":
        _tell(
            machine, d.Placed(place=chance.choice(PLACES[3:6])), "place", machine.in_ms + MINUTE_MS
        )


def _tell(machine: _Machine, what: e.Happening, name: str, at_ms: int) -> None:
    key = f"{machine.key}.{name}"
    add_depot_event(machine.key, what, by=machine.person, key=key, at_ms=at_ms)


def _work(machine: _Machine, chance: Random) -> None:
    if machine.state in {"taken_in", "set_apart"}:
        return
    start_ms = machine.in_ms + int(chance.uniform(0.1, 0.25) * DAY_MS)
    playing = Playing(
        machine.run,
        f"screen-{machine.number % 3 + 1}",
        start_ms,
        chance,
        chance.uniform(0.85, 1.3),
        machine.serial,
    )
    played = list(play(machine.device, machine.plan, playing))
    place = PLACES[machine.number % 3]
    events = _so_far(machine, played, playing, chance)
    add_run_events(machine.run, events, by=machine.person, unit=machine.key)
    if machine.state != "parked":
        _tell(machine, d.Placed(place=place), "place", start_ms)
    if machine.state == "gone":
        back = d.HandedBack(outcome="repaired", to="owner")
        _tell(machine, back, "back", playing.now_ms + DAY_MS)


def _so_far(
    machine: _Machine, played: Sequence[e.Event], playing: Playing, chance: Random
) -> list[e.Event]:
    """The events of the job up to where it stands now."""
    checks = [
        at
        for at, event in enumerate(played)
        if isinstance(event.what, e.Checked) and event.what.phase == "after"
    ]
    end = checks[0] if checks else len(played)
    match machine.state:
        case "at_work" | "parked":
            steps = [at for at in range(1, end) if isinstance(played[at].what, e.Opened | e.Closed)]
            cut = steps[int(len(steps) * chance.uniform(0.15, 0.85))] + 1
        case "to_prove":
            cut = end + len(checks) // 2
        case _:
            cut = len(played)
    events = list(played[:cut])
    # What was not played is given its numbers back.
    playing.number, playing.now_ms = cut, events[-1].at_ms or playing.now_ms
    if machine.state == "parked":
        events += _parked(machine, playing)
    if machine.state == "gone":
        events.append(playing.event(e.Finished(outcome="repaired"), 30_000))
    return events


def _parked(machine: _Machine, playing: Playing) -> Iterator[e.Event]:
    waiting_for, days = WAITS[machine.number % len(WAITS)]
    if "part" in waiting_for:
        piece = machine.story.pieces[0]
        part = machine.device.parts.get(piece)
        line = e.PartLine(
            line=f"{machine.run}-l1",
            state="ordered",
            part=piece,
            order_code=part.order_code if part else None,
        )
        yield playing.event(line, 20_000)
    yield playing.event(
        e.Parked(
            place=PLACES[3 + machine.number % 3],
            waiting_for=waiting_for,
            until_ms=now_ms() + days * DAY_MS,
            isolated=True,
            cover_laid_on=True,
        ),
        30_000,
    )
