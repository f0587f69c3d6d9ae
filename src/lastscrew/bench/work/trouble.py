"""Things go wrong: what can be said about a joint, each in two taps, and the events that say it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from lastscrew.bench.work.items import Happened
from lastscrew.bench.work.needs import order_event, ordered_as
from lastscrew.device.model import Device, Fastener, Joint
from lastscrew.device.opening import parts_off
from lastscrew.fasteners.pieces import has_fasteners
from lastscrew.plan.wording import fastener_text, joint_name, part_name, piece_name
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState, parts_of
from lastscrew.saying import say

MOST_KINDS = 8
CLIPPED = ("clip", "latch", "hook")
CABLES = ("plug", "ribbon", "coax", "route")

Field = tuple[str, str, str]
"""Key in the first event, label, and what it holds: ``whole``, ``number`` or ``text``."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The second tap: what exactly, and what then happened.

    Attributes:
        text: What the button says.
        events: What happened.
        asks: Values that the person fills in; they are put into the first event.
        parts: One button for each of these parts instead; ``{part}`` in the text is its name, and
            its id is put into the first event.
        counted: How many it can be at most: the person chooses from 1 on, the number is put into the first
            event and stands in the text for ``{count}``. 0: nothing is counted.
    """

    text: str
    events: tuple[Happened, ...]
    asks: tuple[Field, ...] = field(default=())
    parts: tuple[str, ...] = field(default=())
    counted: int = 0


@dataclass(frozen=True, slots=True)
class Trouble:
    """The first tap: what kind of thing went wrong.

    Attributes:
        id: Short stable name.
        text: What the button says.
        limbs: Where it can be met: way in, way out, or both.
        choices: The second tap.
    """

    id: str
    text: str
    limbs: tuple[str, ...]
    choices: tuple[Choice, ...]


BREAKS = {
    "clip": say("A clip breaks"),
    "latch": say("A latch breaks"),
    "hook": say("A hook breaks"),
}
MISSING = {"screw": say("A screw is missing"), "nut": say("A nut is missing")}
LOST = {"screw": say("A screw is lost"), "nut": say("A nut is lost")}
STRIPPED = {"screw": say("A screw is stripped"), "nut": say("A nut is stripped")}
BOTH = ("in", "out")


def troubles_at(device: Device, joint_id: str, state: JobState) -> tuple[Trouble, ...]:
    """What can be said about one joint.

    Args:
        device: The device as fitted.
        joint_id: The joint.
        state: How the job stands: parts that are off are in nobody's way.
    """
    joint = device.joints[joint_id]
    found = [
        *_about_pieces(device, joint),
        *_about_holding(joint),
        *_about_way(device, joint, state),
        *_about_parts(device, joint.joins, state),
    ]
    return tuple(trouble for trouble in found if trouble.choices)


def troubles_with(device: Device, parts: tuple[str, ...], state: JobState) -> tuple[Trouble, ...]:
    """What can be said about parts where no joint is at work: while they are exchanged."""
    found = [*_about_parts(device, parts, state)]
    # Seen as it is unpacked: the old one is still in the machine, nothing has to come out again.
    to_come = [_as_ordered(device, p, state) for p in parts if _is_to_come(device, p, state)]
    unpacked = tuple(_dead_in_its_box(device, piece) for piece in dict.fromkeys(to_come))
    found.append(Trouble("dead_new", say("The new one is of no use"), BOTH, unpacked))
    return tuple(trouble for trouble in found if trouble.choices)


def _is_to_come(device: Device, part: str, state: JobState) -> bool:
    """Whether a new one is asked for and not yet fitted."""
    fresh = {p for x in state.exchanged for p in parts_of(device, x.part)}
    asked = {p for piece in state.replace for p in parts_of(device, piece)}
    return part in asked - fresh


def _about_pieces(device: Device, joint: Joint) -> Iterator[Trouble]:
    if not has_fasteners(joint):
        return
    one: Happened = {"joint": joint.id}
    missing: Happened = {"event": "missing", **one, "count": 1}
    choices = (Choice(say("{count} missing"), (missing,), counted=joint.count),)
    yield Trouble("missing", MISSING.get(joint.kind, say("A piece is missing")), ("in",), choices)
    yield from _stripped(joint)
    lost = LOST.get(joint.kind, say("A piece is lost"))
    yield Trouble("lost", lost, BOTH, _losses(joint))
    own = device.fasteners.get(joint.fastener or "")
    other = say("Another length or kind") if _has_length(own, joint) else say("Another kind")
    yield Trouble("other_kind", other, BOTH, _kinds(device, joint))
    yield Trouble("count", say("There are not {count}", count=joint.count), BOTH, _counts(joint))


def _stripped(joint: Joint) -> Iterator[Trouble]:
    """Only what has a thread wears out like that."""
    if joint.kind not in STRIPPED:
        return
    stripped = tuple(
        Choice(
            text,
            ({"event": "stripped", "joint": joint.id, "count": 1, "what": what},),
            counted=joint.count,
        )
        for what, text in (
            ("drive", say("{count} stripped: the drive is worn out")),
            ("thread", say("{count} stripped: the thread is worn out")),
            ("seat", say("{count} stripped: the thread in the part is worn out")),
        )
    )
    yield Trouble("stripped", STRIPPED[joint.kind], BOTH, stripped)


def _losses(joint: Joint) -> tuple[Choice, ...]:
    base: Happened = {"event": "lost", "joint": joint.id, "count": 1}
    return tuple(
        Choice(text, ({**base, **said},), counted=joint.count)
        for text, said in (
            (say("{count} lost, searched for in the machine"), {"searched": True}),
            (say("{count} lost, not searched for yet"), {}),
            (say("{count} lost in the machine, can't be got out"), {"inside": True}),
            (say("{count} lost outside of the machine"), {"inside": False}),
        )
    )


def _kinds(device: Device, joint: Joint) -> tuple[Choice, ...]:
    own = device.fasteners.get(joint.fastener or "")
    others = [each for each in device.fasteners.values() if _can_stand_in(device, joint, each)]
    others.sort(key=lambda each: (_unlike(own, each), each.length_mm or 0, each.id))
    found: list[Choice] = []
    for other in others[:MOST_KINDS]:
        said: Happened = {"event": "other_kind", "joint": joint.id, "piece": other.id}
        text = fastener_text(other)
        if joint.count > 1:
            found.append(Choice(say("1 is {text}", text=text), ({**said, "count": 1},)))
            found.append(
                Choice(
                    say("all {count} are {text}", count=joint.count, text=text),
                    ({**said, "count": joint.count},),
                )
            )
        else:
            found.append(Choice(say("it is {text}", text=text), ({**said, "count": 1},)))
    if _has_length(own, joint):
        measured: Happened = {"event": "other_kind", "joint": joint.id, "count": joint.count}
        asks: tuple[Field, ...] = (
            ("count", say("How many"), "whole"),
            ("length_mm", say("Length in mm"), "number"),
        )
        found.append(Choice(say("Another length, measured"), (measured,), asks))
    return tuple(found)


def _has_length(own: Fastener | None, joint: Joint) -> bool:
    """Whether its pieces have a length that is measured: screws and bolts, no nuts and rings."""
    return joint.kind == "screw" or (own is not None and own.length_mm is not None)


def _can_stand_in(device: Device, joint: Joint, other: Fastener) -> bool:
    """Whether such a piece can sit where a joint's own ones belong: no sleeve or washer instead of a screw.

    What a file lists for joints of this kind can. What it lists for none can where it has a thread like them, or
    none like them, and is not what comes along with others.
    """
    if other.id == joint.fastener:
        return False
    used = [each for each in device.joints.values() if each.fastener == other.id]
    if used:
        return any(each.kind == joint.kind for each in used)
    if any(other.id in each.washers for each in device.joints.values()):
        return False
    own = device.fasteners.get(joint.fastener or "")
    has_thread = bool(own.thread) if own is not None else joint.kind in STRIPPED
    return bool(other.thread) == has_thread


def _unlike(own: Fastener | None, other: Fastener) -> int:
    """How many of thread, drive and head differ: what is most like the joint's own stands first."""
    if own is None:
        return 0
    pairs = ((own.thread, other.thread), (own.drive, other.drive), (own.head, other.head))
    return sum(one != two for one, two in pairs)


def _counts(joint: Joint) -> tuple[Choice, ...]:
    near = (joint.count + 1, joint.count - 1, joint.count + 2)
    found = [
        Choice(
            say("There are {n}", n=n),
            ({"event": "count_corrected", "joint": joint.id, "count": n},),
        )
        for n in near
        if n > 0
    ]
    return (*found, _asked(say("Another number"), "count_corrected", joint, "count"))


def _asked(text: str, event: str, joint: Joint, key: str) -> Choice:
    return Choice(text, ({"event": event, "joint": joint.id},), ((key, say("How many"), "whole"),))


def _about_holding(joint: Joint) -> Iterator[Trouble]:
    if joint.kind in CLIPPED:
        broke: Happened = {"event": "broken", "joint": joint.id, "count": 1}
        broken = (Choice(say("{count} broke"), (broke,), counted=joint.count),)
        yield Trouble("broken", BREAKS[joint.kind], BOTH, broken)
    elif joint.kind in CABLES:
        said: Happened = {"event": "broken", "joint": joint.id}
        choices = (
            Choice(say("The plug or its lock broke"), ({**said, "text": say("plug or lock")},)),
            Choice(say("The cable is torn"), ({**said, "text": say("cable torn")},)),
        )
        yield Trouble("broken", say("A plug or cable breaks"), BOTH, choices)


def _about_way(device: Device, joint: Joint, state: JobState) -> Iterator[Trouble]:
    said: Happened = {"event": "unreachable", "joint": joint.id}
    gone = {*parts_off(device, [j for j in state.open if j in device.joints]), *joint.joins}
    around = _neighbours(device, joint)
    parts = [p.id for p in device.parts.values() if p.id not in gone and not p.fixed]
    parts.sort(key=lambda part: (part not in around, device.parts[part].name))
    there: Happened = {**said, "reason": "in_the_way"}
    way = [Choice(say("{part} is in the way"), (there,), parts=tuple(parts))] if parts else []
    words: tuple[Field, ...] = (("text", say("What is the matter"), "text"),)
    way.append(Choice(say("Something else is the matter"), ({**said, "reason": "other"},), words))
    yield Trouble("in_the_way", say("It can't be reached"), BOTH, tuple(way))
    if joint.kind in CABLES and not joint.rigid:
        short = Choice(
            say("{joint}: too short to lay the part aside", joint=joint_name(device, joint.id)),
            ({**said, "reason": "too_short"},),
        )
        yield Trouble("too_short", say("The cable is too short"), BOTH, (short,))


def _neighbours(device: Device, joint: Joint) -> set[str]:
    """Parts that share a joint with those of this one."""
    mine = set(joint.joins)
    return {
        part for other in device.joints.values() if mine & set(other.joins) for part in other.joins
    }


def _about_parts(device: Device, parts: tuple[str, ...], state: JobState) -> Iterator[Trouble]:
    fresh = {part: x.part for x in state.exchanged for part in parts_of(device, x.part)}
    asked = {part for piece in state.replace for part in parts_of(device, piece)}
    bad: list[Choice] = []
    dead: list[Choice] = []
    for part in parts:
        if device.parts[part].fixed:
            continue
        name = part_name(device, part)
        judged: Happened = {"event": "part_judged", "part": part}
        if part in fresh:
            # What was ordered comes again: the spare that brought the part, not the part alone.
            word = ordered_as(device, fresh[part], part)
            events = ({**judged, "state": "dead_on_arrival"}, _dead_line(device, word))
            text = say("{part}: dead on arrival", part=name)
            if word != part:
                came = piece_name(device, word)
                text = say("{part}: dead on arrival, came with {piece}", part=name, piece=came)
            dead.append(Choice(text, events))
        elif part not in asked:
            added = {"event": "target_added", "replace": part}
            bad.append(
                Choice(
                    say("{name} is bad: exchange it too", name=name),
                    ({**judged, "state": "bad"}, added),
                )
            )
            bad.append(
                Choice(say("{name} is bad: only say so", name=name), ({**judged, "state": "bad"},))
            )
            bad.append(
                Choice(
                    say("{name} is damaged: only say so", name=name),
                    ({**judged, "state": "damaged"},),
                )
            )
    yield Trouble("bad", say("A part turns out bad"), BOTH, tuple(bad))
    yield Trouble("dead", say("The new part is dead on arrival"), BOTH, tuple(dead))


def _as_ordered(device: Device, part: str, state: JobState) -> str:
    """What is ordered of a target to have a part new."""
    piece = next(each for each in state.replace if part in parts_of(device, each))
    return ordered_as(device, piece, part)


def _dead_in_its_box(device: Device, word: str) -> Choice:
    """The new one is of no use before it was fitted: its line of the order says so, and it still has to come."""
    text = say("{piece}: dead on arrival, not fitted", piece=piece_name(device, word))
    return Choice(text, (_dead_line(device, word),))


def _dead_line(device: Device, word: str) -> Happened:
    return order_event(device, word, "dead_on_arrival")


def worn_pieces(state: JobState) -> dict[str, int]:
    """Pieces by joint that were said to be worn out and have not been thrown away since."""
    worn: dict[str, int] = {}
    for event in in_force(state.log):
        what = event.what
        if isinstance(what, e.Stripped) and what.what != "seat":
            worn[what.joint] = worn.get(what.joint, 0) + what.count
        elif isinstance(what, e.Scrapped) and what.joint in worn:
            worn[what.joint] -= what.count
    return {joint: count for joint, count in worn.items() if count > 0}


def missing_pieces(state: JobState) -> dict[str, int]:
    """Pieces by joint that were said to be missing from it, of joints that have not been opened since.

    Of an open joint the ledger says it already.
    """
    missing: dict[str, int] = {}
    for event in in_force(state.log):
        what = event.what
        if isinstance(what, e.Missing):
            missing[what.joint] = missing.get(what.joint, 0) + what.count
        elif isinstance(what, e.Opened | e.Closed):
            missing.pop(what.joint, None)
    return {joint: n for joint, n in missing.items() if n > 0 and joint not in state.open}
