"""What a plan had to assume, where its times come from and how sure they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from lastscrew.device.model import Device, Joint
from lastscrew.plan.model import Limb, Plan, Step
from lastscrew.plan.wording import seconds
from lastscrew.saying import joined, say
from lastscrew.times.elapsed import Waits
from lastscrew.times.ranges import TimeRange, time_range
from lastscrew.times.work import DEVICE_FILE, FILE_SPREAD, JointTime, work_times

AssumedKind = Literal["unknown", "default", "table"]


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value that the plan rests on and that nobody has said.

    Attributes:
        path: Where the device file would say it, such as ``joints.cover_screws.count``.
        value: What was taken.
        kind: ``unknown``: the file says ``unknown``. ``default``: it says nothing and our own figure
            was taken. ``table``: the table of times had to assume it.
        joint: The joint, None for a value of the whole device.
        why: One phrase.
    """

    path: str
    value: str | int | float | None
    kind: AssumedKind
    why: str
    joint: str | None = None

    @property
    def words(self) -> str:
        """As people read it: ``joints.lid.count = 1 (unknown in the device file)``."""
        if self.kind == "table":
            return joined("", (self.path, " (", self.why, ")"))
        if self.value is None:
            key = self.path.rpartition(".")[2]
            nothing = _NOTHING.get(key, say("not known"))
            return joined("", (self.path, ": ", nothing, " (", self.why, ")"))
        return joined("", (self.path, " = ", str(self.value), " (", self.why, ")"))


_NOTHING = {"tool": say("no tool"), "fastener": say("fastener not known")}
"""What is taken where the device file says ``unknown`` and nothing stands in its place."""


@dataclass(frozen=True, slots=True)
class Timing:
    """Times of a plan with how sure they are.

    Attributes:
        way_in, way_out, total: Ranges of hands-on time that hold eight of ten jobs.
        waiting: Range of all waiting; ``elapsed``: of hands-on time and waiting together.
        from_file, from_table, from_assumption: Steps by where their time comes from.
        sources: Where the time of each step comes from, by limb and joint.
    """

    way_in: TimeRange
    way_out: TimeRange
    total: TimeRange
    waiting: TimeRange
    elapsed: TimeRange
    from_file: int
    from_table: int
    from_assumption: int
    sources: Mapping[tuple[Limb, str], str]


def timing_of(device: Device, plan: Plan, waits: Waits) -> Timing:
    """Ranges of a plan's times, and where the times of its steps come from."""
    times = work_times(device, plan.request.pace)
    spread_in = [_spread(times, step) for step in plan.way_in]
    spread_out = [_spread(times, step) for step in plan.way_out]
    spread_waits = [(ms, FILE_SPREAD) for _, ms in waits.because]
    elapsed_ms = plan.total_ms + waits.total_ms
    steps = (*plan.way_in, *plan.way_out)
    source_of = {(step.limb, step.joint): _source(times, step) for step in steps}
    sources = list(source_of.values())
    return Timing(
        way_in=time_range(plan.way_in_ms, spread_in),
        way_out=time_range(plan.way_out_ms, spread_out),
        total=time_range(plan.total_ms, [*spread_in, *spread_out]),
        waiting=time_range(waits.total_ms, spread_waits),
        elapsed=time_range(elapsed_ms, [*spread_in, *spread_out, *spread_waits]),
        from_file=sum(source == DEVICE_FILE for source in sources),
        from_table=sum(source.startswith("table") for source in sources),
        from_assumption=sum(source.startswith("assumed") for source in sources),
        sources=source_of,
    )


def _time(times: dict[str, tuple[JointTime, ...]], step: Step) -> JointTime:
    return times[step.joint][step.access]


def _spread(times: dict[str, tuple[JointTime, ...]], step: Step) -> tuple[int, float]:
    time = _time(times, step)
    if step.limb == "in":
        return time.open_ms, time.open_spread
    return time.close_ms, time.close_spread


def _source(times: dict[str, tuple[JointTime, ...]], step: Step) -> str:
    time = _time(times, step)
    return time.open_source if step.limb == "in" else time.close_source


def assumed_values(device: Device, plan: Plan) -> tuple[Assumed, ...]:
    """What the plan assumes: for its joints in the order of the steps, then for the device."""
    times = work_times(device, plan.request.pace)
    found: dict[tuple[str, str], Assumed] = {}
    for step in (*plan.way_in, *plan.way_out):
        for assumed in _assumed_at(device, step, _time(times, step)):
            found.setdefault((assumed.path, assumed.why), assumed)
    for assumed in _assumed_setups(device, plan):
        found.setdefault((assumed.path, assumed.why), assumed)
    return tuple(found.values())


def _assumed_at(device: Device, step: Step, time: JointTime) -> Iterator[Assumed]:
    joint = device.joints[step.joint]
    access = joint.accesses[step.access]
    path = f"joints.{joint.id}"
    for key in joint.unknown:
        value = _value(joint, key, time, step)
        yield Assumed(
            f"{path}.{key}", value, "unknown", say("unknown in the device file"), joint.id
        )
    where = path if len(joint.accesses) == 1 else f"{path}.access[{step.access}]"
    for key in access.unknown:
        if key not in joint.unknown:
            value = _value(joint, key, time, step)
            yield Assumed(
                f"{where}.{key}", value, "unknown", say("unknown in the device file"), joint.id
            )
    for words in time.assumed:
        if not _is_said(words, joint, access.unknown):
            why = _TABLE_WHY.get(words, say("the table of times assumes {what}", what=words))
            yield Assumed(path, words, "table", why, joint.id)


_TABLE_WHY = {
    "kind not described": say(
        "the table of times takes a plain move: it does not know what this is"
    ),
    "fastener not known": say("the table of times does not know the fastener"),
    "time not known": say("its time is not known"),
    "tool": say("the table of times assumes some tool"),
}
"""Phrases for what the table says in one word."""


def _is_said(words: str, joint: Joint, unknown: tuple[str, ...]) -> bool:
    """True when what the table assumed is one of the values that the file calls unknown."""
    keys = {*joint.unknown, *unknown}
    starts = {
        "count": ("count",),
        "tool": ("tool", "no tool"),
        "fastener": ("fastener",),
        "open_s": ("time not known",),
        "close_s": ("time not known",),
    }
    return any(words.startswith(start) for key in keys for start in starts.get(key, ()))


def _value(joint: Joint, key: str, time: JointTime, step: Step) -> str | int | float | None:
    access = joint.accesses[step.access]
    values: dict[str, str | int | float | None] = {
        "count": joint.count,
        "fastener": joint.fastener,
        "side": access.side,
        "tool": access.tool,
        "open_s": seconds(time.open_ms),
        "close_s": seconds(time.close_ms),
    }
    return values.get(key)


def _assumed_setups(device: Device, plan: Plan) -> Iterator[Assumed]:
    """Turns and tool changes at our own figures."""
    why = say("our own figure: the device file gives none")
    steps = (*plan.way_in, *plan.way_out)
    if not device.turn_given and (plan.final_turn_ms or any(step.turn_ms for step in steps)):
        yield Assumed("turn_s", seconds(device.turn_ms), "default", why)
    swapped = dict.fromkeys(step.tool for step in steps if step.tool is not None and step.swap_ms)
    for tool_id in swapped:
        tool = device.tools[tool_id]
        if not tool.swap_given:
            yield Assumed(f"tools.{tool_id}.swap_s", seconds(tool.swap_ms), "default", why)
