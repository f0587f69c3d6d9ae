"""What has to be there for the job to go on: what the plan asks for, and what went wrong since."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from lastscrew.bench.work.course import Course
from lastscrew.bench.work.items import Happened
from lastscrew.device.model import Device, Joint
from lastscrew.fasteners.ledger import Ledger
from lastscrew.fasteners.pieces import kind_text, own_kind
from lastscrew.plan.wording import joint_name, part_name, piece_name
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState, parts_of
from lastscrew.saying import joined, say

STATES: tuple[str, ...] = (
    "to_order", "ordered", "received", "dead_on_arrival", "fitted", "old_kept", "returned", "scrapped",
)  # fmt: skip
MOST_KEY = 100
"""Longest key that an event may carry."""
WHYS: Mapping[str, str] = {
    "stripped": say("stripped"),
    "missing": say("missing"),
    "lost": say("lost"),
    "bad": say("bad"),
    "damaged": say("damaged"),
}
"""Why something is needed, in a word."""
OLD_STATES: tuple[str, ...] = ("old_kept", "returned", "scrapped")


@dataclass(frozen=True, slots=True)
class NeedLine:
    """One line of what is needed, and how far it is.

    Attributes:
        line: Key of the line in the job.
        what: Its name.
        count: How many.
        unit: Unit of ``count``.
        why: Why it is needed, in a few words; empty where the plan asks for it.
        state: As its last event says, empty where nothing was said.
        order_code: Order code, if the device file has one.
        names: What names it in an event: exactly one of ``part``, ``supply``, ``piece``, ``order_code``.
        is_old: The old part that came out, not the new one.
    """

    line: str
    what: str
    count: float
    unit: str
    why: str
    state: str
    order_code: str
    names: Mapping[str, str]
    is_old: bool = False


def order_key(word: str) -> str:
    """Key of the line of the order for a part or a spare."""
    return f"part:{word}"


def ordered_as(device: Device, piece: str, part: str) -> str:
    """What is ordered to have a part of a piece new: the part itself, or the spare that brings it."""
    words = piece.split("+")
    if part in words:
        return part
    return next((word for word in words if part in parts_of(device, word)), part)


def order_event(device: Device, word: str, state: str) -> Happened:
    """The line of the order for a part or a spare stands otherwise now, as a run event."""
    said: dict[str, object] = {"event": "part_line", "line": order_key(word), "part": word}
    entry = device.parts.get(word) or device.spares.get(word)
    if entry is not None and entry.order_code:
        said["order_code"] = entry.order_code
    return {**said, "state": state}


def lines_of_job(
    device: Device, course: Course, state: JobState, ledger: Ledger
) -> tuple[NeedLine, ...]:
    """All lines: needed by the plan, needed by what went wrong, told by events, and the old parts.

    Args:
        device: The whole device.
        course: What the job follows.
        state: How it stands.
        ledger: Its ledger.
    """
    told = _told(state.log)
    found: dict[str, NeedLine] = {}
    for line in (
        *_planned(course, told),
        *_wrong(device, state, ledger, told),
        *_old(device, state, told),
    ):
        found.setdefault(line.line, line)
    for key, event in told.items():
        if key not in found:
            found[key] = _from_event(device, event)
    return tuple(found.values())


def _told(log: Sequence[e.Event]) -> dict[str, e.PartLine]:
    found: dict[str, e.PartLine] = {}
    for event in in_force(log):
        if isinstance(event.what, e.PartLine):
            found[event.what.line] = event.what
    return found


def _state(told: Mapping[str, e.PartLine], key: str) -> str:
    return told[key].state if key in told else ""


def _planned(course: Course, told: Mapping[str, e.PartLine]) -> Iterator[NeedLine]:
    if course.briefing is None:
        return
    for line in course.briefing.order:
        named = {"part": "part", "spare": "part", "supply": "supply", "fastener": "piece"}
        names = {named[line.kind]: line.id} if line.kind in named else {"order_code": line.name}
        key = order_key(line.id) if named.get(line.kind) == "part" else f"{line.kind}:{line.id}"
        yield NeedLine(
            key,
            line.name,
            line.amount,
            line.unit,
            "",
            _state(told, key),
            line.order_code or "",
            names,
        )


def _wrong(
    device: Device, state: JobState, ledger: Ledger, told: Mapping[str, e.PartLine]
) -> Iterator[NeedLine]:
    for event in in_force(state.log):
        what = event.what
        joint = device.joints.get(getattr(what, "joint", None) or "")
        if isinstance(what, e.Stripped) and what.what == "seat" and joint is not None:
            yield _thread_line(device, told, event.id, joint, what.count)
        elif isinstance(what, e.Stripped | e.Missing) and joint is not None:
            yield _piece_line(device, told, event.id, joint.id, what.count, WHYS[what.name])
        elif isinstance(what, e.Broken) and joint is not None:
            key = f"broken:{event.id}"[:MOST_KEY]
            why = what.text or say("broke")
            name = joint_name(device, joint.id)
            names = {"order_code": name[:200]}
            yield NeedLine(key, name, what.count, "piece", why, _state(told, key), "", names)
    for loss in ledger.losses:
        if loss.joint is not None and loss.joint in device.joints:
            yield _piece_line(device, told, loss.event, loss.joint, loss.count, WHYS["lost"])
    asked = {part for piece in state.replace for part in parts_of(device, piece)}
    for part, verdict in state.judged.items():
        if verdict in ("bad", "damaged") and part not in asked and part in device.parts:
            key = order_key(part)
            code = device.parts[part].order_code or ""
            yield NeedLine(
                key,
                part_name(device, part),
                1,
                "piece",
                WHYS[verdict],
                _state(told, key),
                code,
                {"part": part},
            )


def _piece_line(
    device: Device, told: Mapping[str, e.PartLine], event: str, joint_id: str, count: int, why: str
) -> NeedLine:
    joint = device.joints[joint_id]
    kind = own_kind(joint)
    fastener = device.fasteners.get(joint.fastener or "")
    key = f"piece:{event}"[:MOST_KEY]
    reason = joined(": ", (why, joint_name(device, joint_id)))
    code = (fastener.order_code if fastener else None) or ""
    names = {"piece": kind.key}
    return NeedLine(
        key, kind_text(device, kind), count, "piece", reason, _state(told, key), code, names
    )


def _thread_line(
    device: Device, told: Mapping[str, e.PartLine], event: str, joint: Joint, count: int
) -> NeedLine:
    """A thread in a part is worn out: the screw is sound, what it went into is not."""
    key = f"thread:{event}"[:MOST_KEY]
    fastener = device.fasteners.get(joint.fastener or "")
    thread = (fastener.thread if fastener else None) or ""
    what = say("repair of the thread {thread}, or the part that has it", thread=thread)
    if joint.into == "insert":
        what = say("threaded insert {thread}", thread=thread)
    reason = joined(": ", (say("thread in the part worn out"), joint_name(device, joint.id)))
    names = {"order_code": joined(", ", (what, joint_name(device, joint.id)))[:200]}
    return NeedLine(key, what, count, "piece", reason, _state(told, key), "", names)


def _old(device: Device, state: JobState, told: Mapping[str, e.PartLine]) -> Iterator[NeedLine]:
    for number, exchange in enumerate(state.exchanged):
        key = f"old:{exchange.part.replace('+', '.')}" + (
            f".{number}" if _again(state, number) else ""
        )
        serial = f" {exchange.old_serial}" if exchange.old_serial else ""
        yield NeedLine(
            key,
            joined("", (piece_name(device, exchange.part), serial)),
            1,
            "piece",
            "",
            _state(told, key),
            "",
            {"part": exchange.part},
            is_old=True,
        )


def _again(state: JobState, number: int) -> bool:
    part = state.exchanged[number].part
    return any(each.part == part for each in state.exchanged[:number])


def _from_event(device: Device, what: e.PartLine) -> NeedLine:
    names = {
        key: value
        for key in ("part", "supply", "piece")
        if (value := getattr(what, key)) is not None
    }
    shown = what.order_code or ""
    if what.part is not None:
        shown = piece_name(device, what.part)
    elif what.supply is not None and what.supply in device.supplies:
        shown = device.supplies[what.supply].name
    elif names:
        shown = next(iter(names.values()))
    if not names:
        names = {"order_code": what.order_code or ""}
    return NeedLine(
        what.line, shown, what.count, "piece", "", what.state, what.order_code or "", names
    )


def closing_of(row: NeedLine) -> e.PartLine:
    """The event that calls a line off: what is on its way goes into the store, or back."""
    return e.PartLine(
        line=row.line,
        state="returned",
        count=max(1, round(row.count)),
        part=row.names.get("part"),
        supply=row.names.get("supply"),
        piece=row.names.get("piece"),
        order_code=row.order_code or row.names.get("order_code"),
    )


def waiting_lines(lines: Iterable[NeedLine]) -> tuple[NeedLine, ...]:
    """Lines for which the job waits: to be ordered, or ordered and not yet here."""
    return tuple(line for line in lines if line.state in ("to_order", "ordered", "dead_on_arrival"))
