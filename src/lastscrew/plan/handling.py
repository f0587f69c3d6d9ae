"""What the hands must think of: what is loose at a turn, cable ends, what moves to the new part."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from lastscrew.device.model import Device, Joint
from lastscrew.plan.model import Limb, Plan
from lastscrew.plan.walking import Moment, held_together, moments_in, moments_out

CABLES = ("plug", "ribbon", "coax")


@dataclass(frozen=True, slots=True)
class Loose:
    """Parts that nothing rigid holds to what stays on the bench.

    Attributes:
        parts: Parts that hang together, in id order.
        hangs_on: Flexible joints that they still hang on; none: they fall.
    """

    parts: tuple[str, ...]
    hangs_on: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TurnNote:
    """What is loose when the machine is turned.

    Attributes:
        limb: Way in or way out.
        before: The joint whose step the turn belongs to; None for the turn at the very end.
        side: Side that faces up afterwards.
        loose: What falls or hangs.
    """

    limb: Limb
    before: str | None
    side: str
    loose: tuple[Loose, ...]


@dataclass(frozen=True, slots=True)
class CableEnd:
    """A cable end to bring out before a part is seated.

    Attributes:
        joint: The step (a closing) that seats the part.
        parts: What is seated, in id order.
        cable: The cable's joint, closed later.
    """

    joint: str
    parts: tuple[str, ...]
    cable: str


@dataclass(frozen=True, slots=True)
class MovesAcross:
    """Parts that hang on an exchanged piece only and go on to the new one.

    Attributes:
        piece: The piece as it was asked for.
        parts: Parts that stay together, in id order.
        joints: Joints between them and the piece, in id order.
    """

    piece: str
    parts: tuple[str, ...]
    joints: tuple[str, ...]


def turn_notes(device: Device, plan: Plan) -> tuple[TurnNote, ...]:
    """What is loose at each turn.

    On the way in a part that came off since the turn before is named as falling once, then it is taken
    to have been laid aside. On the way out what is not yet in the machine is not named.
    """
    notes: list[TurnNote] = []
    aside: set[str] = set()
    for moment in _turning(moments_in(plan), plan.start_side):
        loose = [
            x for x in _loose(device, moment.before) if x.hangs_on or not aside.issuperset(x.parts)
        ]
        aside.update(part for x in loose if not x.hangs_on for part in x.parts)
        notes.append(TurnNote("in", moment.step.joint, moment.step.side, tuple(loose)))
    side = plan.way_in[-1].side if plan.way_in else plan.start_side
    for moment in _turning(moments_out(plan), side):
        hanging = tuple(x for x in _loose(device, moment.before) if x.hangs_on)
        notes.append(TurnNote("out", moment.step.joint, moment.step.side, hanging))
    last = plan.way_out[-1].side if plan.way_out else side
    if last != device.sides[0]:
        notes.append(TurnNote("out", None, device.sides[0], ()))
    return tuple(notes)


def _turning(moments: tuple[Moment, ...], side: str) -> Iterator[Moment]:
    """Steps for which the machine is turned, also where a turn takes no time."""
    for moment in moments:
        if moment.step.side != side:
            yield moment
        side = moment.step.side


def _loose(device: Device, opened: frozenset[str]) -> Iterator[Loose]:
    """Groups of parts without the fixed one that some open joint names, in id order."""
    together = held_together(device, opened)
    fixed = together[device.fixed_part]
    for parts in sorted({group for group in together.values() if group != fixed}):
        naming = [j for j in device.joints.values() if any(part in parts for part in j.joins)]
        if not any(joint.id in opened for joint in naming):
            continue
        hangs = sorted(
            joint.id
            for joint in naming
            if joint.id not in opened and any(part not in parts for part in joint.joins)
        )
        yield Loose(parts, tuple(hangs))


def cable_ends(device: Device, plan: Plan) -> tuple[CableEnd, ...]:
    """Cable ends that would be trapped: closed after a part that they lead to, or that covers them, is seated.

    Only cables between the part that is seated and what is already in place, and cables of which
    one access lies under the seated part. Each cable is named once for each part that is seated.
    """
    cables = [
        (number, device.joints[step.joint])
        for number, step in enumerate(plan.way_out)
        if device.joints[step.joint].kind in CABLES and not device.joints[step.joint].rigid
    ]
    found: list[CableEnd] = []
    for number, moment in enumerate(moments_out(plan)):
        later = [cable for at, cable in cables if at > number]
        if not later or not device.joints[moment.step.joint].rigid:
            continue
        in_place = set(held_together(device, moment.before)[device.fixed_part])
        seated = set(held_together(device, moment.after)[device.fixed_part]) - in_place
        found.extend(
            CableEnd(moment.step.joint, tuple(sorted(seated)), cable.id)
            for cable in later
            if _would_be_trapped(cable, seated, in_place)
        )
    return tuple(found)


def _would_be_trapped(cable: Joint, seated: set[str], in_place: set[str]) -> bool:
    """True when the cable runs from what is seated, or from below it, to what is in place already."""
    joins = set(cable.joins)
    covered = any(seated & set(access.under) - joins for access in cable.accesses)
    return bool(in_place & joins) and (bool(seated & joins) or covered)


def moves_across(device: Device, plan: Plan) -> tuple[MovesAcross, ...]:
    """Parts that only an exchanged piece holds: they come off the old one and go on the new one."""
    found: list[MovesAcross] = []
    exchanged = {part for parts in plan.pieces for part in parts}
    joints_of: dict[str, list[Joint]] = {}
    for joint in device.joints.values():
        for part in joint.joins:
            joints_of.setdefault(part, []).append(joint)
    for piece, parts in zip(plan.request.replace, plan.pieces, strict=True):
        around = {joint.id for part in parts for joint in joints_of.get(part, ())}
        together = held_together(device, frozenset(around))
        groups = {group for part, group in together.items() if part not in parts}
        for group in sorted(groups):
            if device.fixed_part in group or exchanged & set(group):
                continue
            joints = _held_by_piece_only(joints_of, group, parts)
            if joints:
                found.append(MovesAcross(piece, group, joints))
    return tuple(found)


def _held_by_piece_only(
    joints_of: Mapping[str, list[Joint]], group: tuple[str, ...], piece: tuple[str, ...]
) -> tuple[str, ...]:
    """Joints between the group and the piece, if the piece is all that holds the group."""
    outward = [
        joint
        for part in group
        for joint in joints_of.get(part, ())
        if any(p not in group for p in joint.joins)
    ]
    to_piece = [joint for joint in outward if any(p in piece for p in joint.joins)]
    others = [joint for joint in outward if joint not in to_piece]
    if not to_piece or any(joint.rigid for joint in others):
        return ()
    if others and not any(joint.rigid for joint in to_piece):
        return ()
    return tuple(sorted({joint.id for joint in to_piece}))
