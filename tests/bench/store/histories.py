"""Random histories of a depot: what people might do, sensible or not, drawn from a seed."""

from __future__ import annotations

import random
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from lastscrew.bench.depot import events as d
from lastscrew.bench.models import Branch, Unit
from lastscrew.bench.store.adding import add_depot_event, add_run_events, take_in
from lastscrew.bench.store.branches import decide_branch
from lastscrew.device.model import Device
from lastscrew.problems import InputError
from lastscrew.run import events as e
from tests.bench.store import making

PEOPLE = ("Ada", "Ben", "Lea")


@dataclass
class Depot:
    """A depot in which one thing after another happens."""

    seed: int
    device: Device = field(default_factory=making.demo)
    at_ms: int = 1_700_000_000_000
    count: int = 0
    refused: int = 0

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)
        self.runs: dict[str, list[str]] = {}
        self.sequences: dict[tuple[str, str], int] = {}
        self.units: list[str] = []
        making.publish()

    def key(self) -> str:
        """A new key."""
        self.count += 1
        return f"k{self.count}"

    def live(self, steps: int) -> None:
        """Let so many things happen; what is refused is refused whole."""
        for _ in range(steps):
            what = self.random.choices(
                (self.take_in, self.tell, self.work, self.decide), (2, 4, 14, 1)
            )[0]
            try:
                what()
            except InputError:
                self.refused += 1

    def take_in(self) -> None:
        key = self.key()
        pack = self.random.choice(("sound", "sound", "sound", "swollen"))
        what = d.TakenIn(
            number=1, device=self.device.id, serial=f"SN{key}", pack=pack, condition="worn"
        )
        take_in(key, what, by=self.person(), key=self.key())
        self.units.append(key)

    def person(self) -> str:
        return self.random.choice(PEOPLE)

    def tell(self) -> None:
        if not self.units:
            return
        unit = self.random.choice(self.units)
        pick = self.random.choice
        codes = (
            "supply:compound",
            "code:LK-13",
            *(f"fastener:{name}" for name in self.device.fasteners),
        )
        what = pick(
            (
                d.Placed(place=pick(("bench 1", "shelf 2"))),
                d.Described(asset_tag=f"T{self.count}", checks={"starts": "works"}),
                d.Described(liquid=True),
                d.HazardMet(what="liquid", told="Lea", place="sand box", power_off=True),
                d.HazardCleared(person="Lea", reason="dry"),
                d.Custody(item="disk 7", state=pick(("held", "moved", "returned")), person="Ada"),
                d.HandedBack(outcome="repaired", to="owner"),
                d.StockCounted(item=pick(codes), count=self.random.randrange(40) / 4),
                d.StockMoved(
                    item=pick(codes), change=self.random.uniform(-3, 9), reason="received"
                ),
            )
        )
        add_depot_event(unit, what, by=self.person(), at_ms=self.tick())

    def tick(self) -> int:
        self.at_ms += self.random.choice((200, 900, 4_000, 15_000, 60_000, 2_000_000))
        return self.at_ms

    def work(self) -> None:
        if not self.units:
            return
        unit = self.random.choice(self.units)
        row = Unit.objects.get(pk=unit)
        if not row.run or (row.run in self.runs and self.random.random() < 0.02):
            run = self.key()
            what = making.started(
                self.device, replace=tuple(self.random.sample(sorted(self.device.parts), 1))
            )
            add_run_events(
                run,
                [e.Event(id=self.key(), what=what, at_ms=self.tick())],
                by=self.person(),
                unit=unit,
            )
            self.runs[run] = []
            return
        client = self.random.choice(("screen1", "screen1", "screen1", "screen2"))
        job = self.runs[row.run]
        number = self.sequences.get((row.run, client), 0)
        batch = []
        for _ in range(self.random.choice((1, 1, 1, 2, 5))):
            base = (
                None
                if self.random.random() < 0.3
                else len(job) + 1 - self.random.choice((0, 0, 0, 2))
            )
            event = e.Event(
                id=self.key(),
                what=self.happening(job),
                at_ms=self.tick(),
                client=client,
                sequence=number,
                base=max(0, base) if base is not None else None,
            )
            number += 1
            batch.append(event)
        if self.random.random() < 0.1:
            self.random.shuffle(batch)
        add_run_events(row.run, batch, by=self.person())
        self.sequences[row.run, client] = number
        job += [event.id for event in batch]

    def happening(self, job: list[str]) -> e.Happening:
        """Something that may happen in a job, now and then against all sense."""
        pick, device = self.random.choice, self.device
        joint, part = pick(sorted(device.joints)), pick(sorted(device.parts))
        supply = pick(sorted(device.supplies))
        makers: tuple[tuple[int, Callable[[], e.Happening]], ...] = (
            (20, lambda: e.Opened(joint=joint)),
            (16, lambda: e.Closed(joint=joint, new=pick((None, None, 1, 3)))),
            (3, lambda: e.Renewed(supply=supply, amount=self.random.randrange(1, 9) / 10)),
            (3, lambda: e.Exchanged(part=part, order_code=pick((None, "LK-13")))),
            (3, lambda: e.CountCorrected(joint=joint, count=pick((1, 2, 7)))),
            (4, lambda: e.PartLine(line=pick(("l1", "l2")), part=part, state=pick(
                ("to_order", "ordered", "received", "received", "dead_on_arrival", "fitted")
            ), count=pick((1, 2)))),
            (4, lambda: e.TakenBack(about=pick([*job, "nothing"]))),
            (1, e.Paused),
            (2, e.Resumed),
            (1, lambda: e.Parked(place="shelf 9", waiting_for="a part")),
            (1, lambda: e.PowerOn(names=())),
            (1, e.PowerOff),
            (2, lambda: e.Checked(function=pick(sorted(device.functions)), outcome="works")),
            (2, lambda: e.Waived(joint=joint, person="Lea", reason="so be it")),
            (1, lambda: e.HandedOver(to="Ben")),
            (1, lambda: e.Noted(text="hm")),
            (1, lambda: e.Lost(joint=joint, count=1)),
            (1, lambda: e.Finished(outcome="repaired")),
        )  # fmt: skip
        return self.random.choices([maker for _, maker in makers], [w for w, _ in makers])[0]()

    def decide(self) -> None:
        for branch in Branch.objects.filter(state=Branch.State.OPEN)[:1]:
            with suppress(InputError):
                decide_branch(branch.key, self.random.random() < 0.6, self.person(), "seen both")
