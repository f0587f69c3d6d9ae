"""Open and close times of every joint by every access, with their source and how sure they are.

A time that the device file gives is taken as it is: neither pace nor allowance changes it, since
it is somebody's own figure for this machine. Everything else comes from the sequences of
:mod:`lastscrew.times.sequences`, scaled by pace and allowance.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from lastscrew.device.model import Access, Device, Joint, Tool
from lastscrew.saying import say
from lastscrew.times.most import MS_PER_TMU, Motion, describe, motions_tmu
from lastscrew.times.sequences import Grip, Task, motions_of
from lastscrew.times.threads import turns_of

DEFAULT_ALLOWANCE = 0.0
"""Share added for rest, personal needs and small delays. None by default: a plan says how long hands are
on this machine. Whoever plans a shift adds it (0.15 is usual in work study; common practice, no
source)."""

FILE_SPREAD, TABLE_SPREAD, ASSUMED_SPREAD = 0.15, 0.25, 0.5
"""Standard deviation of one step as a share of its time: given by the device file, from the table, from the
table with something assumed. Our own figures (no source): steps timed at a bench seldom repeat
closer than this."""

DEVICE_FILE = "device file"


@dataclass(frozen=True, slots=True)
class JointTime:
    """Times of one joint by one access.

    Attributes:
        open_ms, close_ms: Whole milliseconds of hands-on work, all pieces of the joint.
        open_source, close_source: Where the time comes from: ``device file``, or ``table`` with the
            sequences, led by ``assumed`` and what was assumed.
        open_spread, close_spread: Standard deviation as a share of the time.
        assumed: What had to be assumed, such as ``count 1`` or ``length 4 mm``; empty as a rule.
    """

    open_ms: int
    close_ms: int
    open_source: str
    close_source: str
    open_spread: float
    close_spread: float
    assumed: tuple[str, ...] = ()


def work_times(
    device: Device, pace: float = 1.0, allowance: float = DEFAULT_ALLOWANCE
) -> dict[str, tuple[JointTime, ...]]:
    """Times of every joint, one per access, in the order of ``joint.accesses``.

    Args:
        device: The device.
        pace: Factor on the times that come from the table (1.2: a fifth slower).
        allowance: Share added to the times that come from the table (0.15: 15 %).

    Raises:
        ValueError: If pace is not a positive number or allowance a negative one.
    """
    if not (math.isfinite(pace) and pace > 0):
        raise ValueError(f"pace must be a positive number, not {pace}")
    if not (math.isfinite(allowance) and allowance >= 0):
        raise ValueError(f"allowance must be 0 or more, not {allowance}")
    factor = pace * (1 + allowance)
    key = (id(device), factor)
    known = _recent.get(key)
    if known is not None and known[0] is device:
        return dict(known[1])
    if len(_recent) >= _MOST_RECENT:
        _recent.clear()
    times = {
        joint.id: tuple(joint_time(device, joint, access, factor) for access in joint.accesses)
        for joint in device.joints.values()
    }
    _recent[key] = (device, times)
    return dict(times)


# A procedure for every part asks for the same times. Devices are read-only values, so the answer stays true;
# the device is kept beside it, so that no other one can come to have its identity.
_MOST_RECENT = 16
_recent: dict[tuple[int, float], tuple[Device, dict[str, tuple[JointTime, ...]]]] = {}


def joint_time(device: Device, joint: Joint, access: Access, factor: float = 1.0) -> JointTime:
    """Time of one joint by one access; ``factor`` scales what comes from the table."""
    opening = _one_way(device, joint, access, factor, closing=False)
    closing = _one_way(device, joint, access, factor, closing=True)
    return JointTime(
        opening.ms, closing.ms, opening.source, closing.source, opening.spread, closing.spread,
        tuple(dict.fromkeys(opening.assumed + closing.assumed)),
    )  # fmt: skip


def joint_motions(
    device: Device, joint: Joint, access: Access, *, closing: bool
) -> tuple[Motion, ...]:
    """The sequences that the table has for this joint, also where the file gives a time of its own."""
    return motions_of(_task(device, joint, access, closing=closing))


@dataclass(frozen=True, slots=True)
class _OneWay:
    ms: int
    source: str
    spread: float
    assumed: tuple[str, ...]


def _one_way(
    device: Device, joint: Joint, access: Access, factor: float, *, closing: bool
) -> _OneWay:
    given = access.close_ms if closing else access.open_ms
    unknown = set(joint.unknown) | set(access.unknown)
    if given is not None:
        return _OneWay(given, DEVICE_FILE, FILE_SPREAD, ())
    task = _task(device, joint, access, closing=closing)
    motions = motions_of(task)
    assumed = _assumptions(task, unknown, closing=closing)
    table = f"table, basic MOST: {describe(motions)}"
    source = f"assumed ({'; '.join(assumed)}); {table}" if assumed else table
    ms = math.floor(motions_tmu(motions) * MS_PER_TMU * factor + 0.5)
    return _OneWay(ms, source, ASSUMED_SPREAD if assumed else TABLE_SPREAD, assumed)


def _assumptions(task: Task, unknown: set[str], *, closing: bool) -> tuple[str, ...]:
    assumed: list[str] = []
    if "close_s" in unknown if closing else "open_s" in unknown:
        assumed.append("time not known")
    if "count" in unknown:
        assumed.append(say("count {n}", n=task.count))
    if "tool" in unknown:
        assumed.append(say("no tool") if task.bare else "tool")
    if "fastener" in unknown:
        assumed.append("fastener not known")
    if task.joint.kind in ("screw", "nut") and not task.joint.loosen_only and task.grip != "power":
        assumed.extend(task.turns.assumed)
    if task.joint.kind == "other":
        assumed.append("kind not described")
    return tuple(assumed)


def _task(device: Device, joint: Joint, access: Access, *, closing: bool) -> Task:
    fastener = device.fasteners.get(joint.fastener) if joint.fastener else None
    torque = joint.torque_ncm
    if torque is None and fastener is not None:
        torque = fastener.torque_ncm
    return Task(
        joint=joint,
        closing=closing,
        grip=grip_of(device.tools, access.close_tool if closing else access.tool),
        drive=(fastener.drive or "").strip().upper() if fastener else "",
        turns=turns_of(joint, fastener),
        torque_ncm=torque,
    )


_GRIP_WORDS: tuple[tuple[Grip, str], ...] = (
    ("power", r"power(ed)?|electric|cordless|motor\w*|pneumatic|impact"),
    ("crank", r"ratchet|allen|hex(agon)? key|l-?key|crank|torque wrench|socket wrench"),
    ("spanner", r"spanner|wrench|pliers"),
    ("driver", r"\w*driver"),
)


def grip_of(tools: Mapping[str, Tool], tool_id: str | None) -> Grip:
    """How a tool turns a threaded piece, guessed from the words of its name.

    A power tool, a key or ratchet, a spanner or pliers are known by their English names; a tool
    whose name says none of these is taken as a driver that is spun in the fingers.
    """
    if tool_id is None:
        return "hand"
    name = f"{tool_id.replace('_', ' ')} {tools[tool_id].name if tool_id in tools else ''}".lower()
    for grip, words in _GRIP_WORDS:
        if re.search(rf"\b({words})\b", name):
            return grip
    return "other"
