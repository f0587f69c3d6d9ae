"""Random devices that use every key, all of whose joints can be reached.

Drawn with Python's own generator from a seed: hypothesis takes a quarter of a second for a value of this size.
"""

# ruff: noqa: E501 (tables and constructors with many keys)
from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from random import Random
from typing import Any, TypeVar

from hypothesis import strategies as st

from lastscrew.device.fitting import fit
from lastscrew.device.model import (
    FLEXIBLE_KINDS,
    POWERED_KINDS,
    RIGID_KINDS,
    SIGNALS,
    Access,
    Act,
    ActTime,
    Device,
    Fastener,
    Function,
    Hazard,
    Joint,
    Measure,
    Option,
    Part,
    Point,
    Spare,
    Supply,
    Tool,
)
from lastscrew.device.names import device_id_from_name
from lastscrew.device.reaching import Openings
from lastscrew.device.writing import revision_of

T = TypeVar("T")

AWKWARD = [
    "null", "true", "No", "12", "1e3", "0x1F", "~", "- a", "a: b", "# c", "{", "'", '"', "2026-01-01", "=", "<<", "a b",
    "Bottom cover", "5 × 5", "größer", "カバー", "🔩", "e\u0301", "\u200e", "\ufeff", "a #b", "%", "@", "`", "!x", "&y", "*z",
    "[", "]", "}", ",", "?", "? a", ": ", "a:", "\\n", "c\\", " lead", "trail ", "a\u00a0b", "a\u2028b", "x" * 150, ".inf", "0o7",
]  # fmt: skip
"""Texts that YAML readers like to take for something else."""
LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789_"
ACT_TIMES: list[ActTime] = [
    "start",
    "before_open",
    "after_open",
    "before_close",
    "after_close",
    "turning",
    "end",
]


def devices() -> st.SearchStrategy[Device]:
    """Devices that can be written and read back."""
    return st.integers(0, 2**40).map(lambda seed: Maker(Random(seed)).device())


class Maker:
    """Makes values of every kind from a random generator."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.known: dict[str, list[str]] = {}

    def yes(self, chance: float = 0.5) -> bool:
        return self.random.random() < chance

    def maybe(self, make: Callable[[], T]) -> T | None:
        return make() if self.yes() else None

    def line(self) -> str:
        if self.yes(0.7):
            text = self.random.choice(AWKWARD)
        else:
            text = "".join(
                self.random.choice("aZ9 .,:#'\"[]{}-é漢\\/%@!|>*&?")
                for _ in range(self.random.randint(1, 12))
            )
        return text if text.strip() else f"{text}a"

    def text(self) -> str:
        return self.random.choice(["", "\n", "\t", "two\nlines "]) + self.line()

    def id(self) -> str:
        while True:
            made = self.random.choice(LETTERS[:26]) + "".join(
                self.random.choice(LETTERS) for _ in range(self.random.randint(0, 5))
            )
            if not made.startswith("x_"):
                return made

    def ids(self, least: int, most: int) -> list[str]:
        return list(dict.fromkeys(self.id() for _ in range(self.random.randint(least, most))))

    def some(self, known: Sequence[T], most: int = 3) -> tuple[T, ...]:
        return tuple(self.random.sample(known, self.random.randint(0, min(most, len(known)))))

    def one(self, known: Sequence[str]) -> str | None:
        return self.random.choice(known) if known and self.yes() else None

    def ms(self) -> int:
        return self.random.choice(
            [0, 1, 999, 1_000, 86_400_000, self.random.randint(0, 86_400_000)]
        )

    def length(self) -> float:
        return self.random.choice([0.001, 1000.0, 5.0, round(self.random.uniform(0.01, 99), 3)])

    def price(self) -> float:
        return self.random.choice([0.0, 1e9, 0.1, self.random.uniform(0, 1e6)])

    def point(self) -> Point:
        return (float(self.random.randint(0, 99)), self.random.uniform(0, 99))

    def sources(self) -> dict[str, str]:
        return {self.random.choice(["name", "price", "note"]): self.text()} if self.yes(0.3) else {}

    def raw(self, depth: int = 0) -> Any:  # noqa: ANN401 (any plain data)
        choice = self.random.randint(0, 6 if depth < 3 else 4)
        if choice == 5:
            return [self.raw(depth + 1) for _ in range(self.random.randint(0, 3))]
        if choice == 6:
            return {self.line(): self.raw(depth + 1) for _ in range(self.random.randint(0, 3))}
        return [
            None,
            self.yes(),
            self.random.randint(-99, 99),
            self.random.random() + 0.5,
            self.text(),
        ][choice]

    def tool(self, i: str) -> Tool:
        given = self.yes()
        fits = tuple({self.line() for _ in range(self.random.randint(0, 1))})
        return Tool(i, self.line(), fits, self.ms() if given else 3_000, given, self.sources())

    def fastener(self, i: str) -> Fastener:
        return Fastener(
            i, self.maybe(self.line), self.maybe(self.length), self.maybe(self.line), self.maybe(self.line),
            self.maybe(self.line), self.maybe(self.length), self.maybe(self.line), self.maybe(self.price), self.sources(),
        )  # fmt: skip

    def part(self, i: str) -> Part:
        fixed = i == self.known["parts"][0]
        return Part(
            id=i, name=self.line(), fixed=fixed, order_code=self.maybe(self.line), price=self.maybe(self.price),
            serial=self.yes(), identity=self.yes(), energy=self.yes(0.2), functions=self.some(self.known["functions"]),
            hazards=self.some(self.known["hazards"]), loses=self.some(AWKWARD, 2),
            if_fitted=None if fixed else self.one(self.known["options"]),
            outline_mm=tuple(self.point() for _ in range(self.random.choice([0, 3, 4]))), note=self.maybe(self.text),
            was=self.maybe(lambda: "earlier_part"), sources=self.sources(),
        )  # fmt: skip

    def function(self, i: str) -> Function:
        measure = self.random.choice(
            [None, Measure("V", 3.0, 3.5), Measure("V", None, -1.25), Measure("mm")]
        )
        check = self.random.choice(["", self.text()])
        return Function(
            i,
            self.line(),
            check,
            self.ms(),
            measure,
            self.some(self.known["joints"]),
            self.sources(),
        )

    def act(self, i: str) -> Act:
        at, text = self.random.choice(ACT_TIMES), self.text()
        return Act(
            id=i, text=text, at=at, joint=self.random.choice(self.known["joints"]) if "_" in at else None,
            when_replaced=self.some([*self.known["parts"], *self.known["spares"]]),
            when_opened=self.some(self.known["joints"]), ms=self.ms(), wait_ms=self.ms(), tool=self.one(self.known["tools"]),
            renew=dict.fromkeys(self.some(self.known["supplies"]), 0.5), hold=self.random.choice([None, text, self.text()]),
            evidence=self.random.choice([(), ("photo",), ("photo", "value")]), sources=self.sources(),
        )  # fmt: skip

    def access(self, fallback: dict[str, int | None]) -> Access:
        unknown = [key for key in ("side", "tool", "open_s", "close_s") if self.yes(0.2)]
        tool = None if "tool" in unknown else self.one(self.known["tools"])
        times = {k: fallback[k] if k in unknown or self.yes() else self.ms() for k in fallback}
        return Access(
            side=self.known["sides"][0] if "side" in unknown else self.random.choice(self.known["sides"]),
            tool=tool, under=self.some(self.known["parts"], 2),
            close_tool=self.random.choice([tool, None, *self.known["tools"]]),
            open_ms=times["open_s"], close_ms=times["close_s"], unknown=tuple(unknown),
        )  # fmt: skip

    def joint(self, i: str) -> Joint:
        kind = self.random.choice([*RIGID_KINDS, *FLEXIBLE_KINDS, "other"])
        fallback = {key: self.maybe(self.ms) for key in ("open_s", "close_s")}
        powered = self.random.choice([kind in POWERED_KINDS, True, False])
        unknown = [key for key in ("fastener", "count") if self.yes(0.2)]
        positions = tuple(self.point() for _ in range(self.random.choice([0, 2])))
        count = (
            max(len(positions), 1)
            if positions or "count" in unknown
            else self.random.choice([1, 4, 999])
        )
        known, parts = self.known, self.known["parts"]
        return Joint(
            id=i, kind=kind, joins=tuple(self.random.sample(parts, min(self.random.choice([2, 2, 3]), len(parts)))),
            accesses=tuple(self.access(fallback) for _ in range(self.random.choice([1, 1, 2, 3]))),
            rigid=self.random.choice([kind in RIGID_KINDS, True, False]),
            after=self.some(known["joints"][: known["joints"].index(i)], 2), powered=powered,
            shutdown=not powered and self.yes(), isolates=self.yes(0.2),
            fastener=None if "fastener" in unknown else self.one(known["fasteners"]), count=count, captive=self.yes(),
            loosen_only=self.yes(), washers={self.line(): self.random.randint(1, 999) for _ in range(self.random.randint(0, 2))},
            positions_mm=positions, order=self.random.choice(["any", "numbered", "crosswise"]), group=self.maybe(self.line),
            torque_ncm=self.maybe(self.length), into=self.random.choice([None, "metal", "insert", "plastic"]),
            max_length_mm=self.maybe(self.length), reuse=self.random.choice(["reusable", "single_use", "inspect"]),
            renew=dict.fromkeys(self.some(known["supplies"]), 0.3), wait_open_ms=self.ms(), wait_close_ms=self.ms(),
            damage={p: self.random.choice([0.0, 1.0, 0.125]) for p in self.some(parts)},
            hold_by=self.random.choice([None, "hand", "jig", "second_person"]), functions=self.some(known["functions"]),
            hazards=self.some(known["hazards"]), loses=self.some(AWKWARD, 2), hold=self.maybe(self.text),
            prove_before_close=self.some(known["functions"]), note_open=self.maybe(self.text), note_close=self.maybe(self.text),
            if_fitted=self.one(known["options"]), was=self.maybe(lambda: "earlier_joint"), unknown=tuple(unknown),
            sources=self.sources(),
        )  # fmt: skip

    def extras(self) -> dict[str, object]:
        part, joint = self.known["parts"][0], self.known["joints"][0]
        keys = [
            "x_top", f"parts.{part}.x_mine", f"joints.{joint}.x_mine", "device.x_y.z", "parts.x_part",
        ]  # fmt: skip
        return {key: self.raw() for key in self.some(keys)}

    def device(self) -> Device:
        ranges = {
            "sides": (1, 3), "tools": (0, 3), "fasteners": (0, 3), "supplies": (0, 3), "hazards": (0, 3), "functions": (0, 3),
            "options": (0, 3), "parts": (3, 6), "joints": (1, 9), "spares": (0, 2), "acts": (0, 3),
        }  # fmt: skip
        self.known = known = {name: self.ids(*span) for name, span in ranges.items()}
        while len(known["parts"]) < 2:
            known["parts"] = self.ids(3, 6)
        known["spares"] = [s for s in known["spares"] if s not in known["parts"]]
        name = self.line()
        turn: dict[str, Any] = {"turn_ms": self.ms(), "turn_given": True} if self.yes() else {}
        device = Device(
            id=self.random.choice([self.id(), device_id_from_name(name)]), name=name, sides=tuple(known["sides"]),
            parts={i: self.part(i) for i in known["parts"]}, joints={i: self.joint(i) for i in known["joints"]},
            kind=self.maybe(self.line) or "", revision=self.maybe(self.line) or "",
            frame_mm=dict.fromkeys(known["sides"], (99.5, 100.0)) if self.yes() else {}, note=self.maybe(self.text),
            tools={i: self.tool(i) for i in known["tools"]},
            fasteners={i: self.fastener(i) for i in known["fasteners"]},
            supplies={i: Supply(i, self.line(), self.line(), self.maybe(self.line), self.maybe(self.price)) for i in known["supplies"]},
            hazards={i: Hazard(i, self.random.choice(SIGNALS), self.text(), self.sources()) for i in known["hazards"]},  # type: ignore[arg-type]
            functions={i: self.function(i) for i in known["functions"]},
            options={i: Option(i, self.line(), self.yes(), self.sources()) for i in known["options"]},
            spares={
                i: Spare(i, self.line(), tuple(known["parts"][:2]), self.maybe(self.line), includes=self.some(known["supplies"]))
                for i in known["spares"]
            },
            acts={i: self.act(i) for i in known["acts"]},
            **turn,
        )  # fmt: skip
        device = replace(_made_reachable(device), extra=self.extras())
        return replace(device, revision_hash=revision_of(device))


def _made_reachable(device: Device) -> Device:
    """Takes away what keeps joints from ever being opened."""
    whole = fit(device, fitted=device.options)
    opened = Openings(whole).opened
    if len(opened) == len(whole.joints):
        return device
    free = {
        j.id: j
        if j.id in opened
        else replace(j, after=(), accesses=tuple(replace(a, under=()) for a in j.accesses))
        for j in device.joints.values()
    }
    return replace(device, joints=free)
