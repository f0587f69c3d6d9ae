"""Fasteners that are easily taken for one another, and where that does harm.

Two kinds look alike when thread and drive are the same and something else differs: length, head,
finish, or only the part number. Where a thread or drive is not given, they look alike unless their
heads tell them apart (a rivet is no screw).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device, Fastener, Joint, Signal
from lastscrew.fasteners.ledger import fasteners_out
from lastscrew.plan.model import Plan
from lastscrew.plan.wording import fastener_text, how_many, joint_name, listed, marked, part_name
from lastscrew.saying import joined, say

RULE_DOUBT_MM = 0.5
"""Doubt of a length read off a ruler (our own figure; a ruler is divided into millimetres)."""

CALLIPER_DOUBT_MM = 0.1
"""Doubt of a length read off a calliper, screws made to tolerance included: half a step (our own figure)."""


@dataclass(frozen=True, slots=True)
class LookAlike:
    """Two kinds of fastener that are easily taken for one another.

    Attributes:
        one, other: Ids of the fasteners, in id order.
        differs: What does differ: of ``length``, ``head``, ``finish``, ``only_by_name``.
        apart_mm: Difference in length, None where a length is not given.
        within_doubt: They differ at most in length, and by less than a ruler tells: measuring with one
            does not tell them apart.
        assumed: What the device file does not give and was therefore taken to be the same.
    """

    one: str
    other: str
    differs: tuple[str, ...]
    apart_mm: float | None
    within_doubt: bool
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LengthCaution:
    """A screw of the same thread that lies in the same tray would be too long for a joint.

    Attributes:
        joint: The joint that takes short screws only.
        signal: ``caution`` where a part that stores energy could be pierced, else ``notice``.
        text: What could happen and how to avoid it.
        too_long: Joints whose screws are too long for it, in the order of opening.
    """

    joint: str
    signal: Signal
    text: str
    too_long: tuple[str, ...]


def look_alike(one: Fastener, other: Fastener, doubt_mm: float = RULE_DOUBT_MM) -> LookAlike | None:
    """How two kinds could be confused, None if they can't.

    Args:
        one: One kind.
        other: The other kind.
        doubt_mm: Doubt of a measured length in mm.
    """
    if one.id == other.id or _tells_apart(one.thread, other.thread):
        return None
    if _tells_apart(one.drive, other.drive):
        return None
    given = None not in (one.thread, other.thread, one.drive, other.drive)
    if not given and _tells_apart(one.head, other.head):
        return None
    differs = [
        key for key in ("head", "finish") if _tells_apart(getattr(one, key), getattr(other, key))
    ]
    apart = None
    if one.length_mm is not None and other.length_mm is not None:
        apart = round(abs(one.length_mm - other.length_mm), 6)
        if apart:
            differs.insert(0, "length")
    assumed = [
        key
        for key in ("thread", "drive", "length_mm")
        if None in (getattr(one, key), getattr(other, key))
    ]
    by_length_only = not set(differs) - {"length"}
    low, high = sorted((one.id, other.id))
    return LookAlike(
        one=low,
        other=high,
        differs=tuple(differs) or ("only_by_name",),
        apart_mm=apart,
        within_doubt=by_length_only and (apart is None or apart <= doubt_mm),
        assumed=tuple(assumed),
    )


def _tells_apart(one: str | None, other: str | None) -> bool:
    """True when both are given and differ, letters and spaces aside."""
    if one is None or other is None:
        return False
    return "".join(one.split()).casefold() != "".join(other.split()).casefold()


def look_alikes(
    device: Device, kinds: Iterable[str], doubt_mm: float = RULE_DOUBT_MM
) -> tuple[LookAlike, ...]:
    """All pairs among ``kinds`` (fastener ids) that look alike, in id order."""
    known = [device.fasteners[kind] for kind in sorted(set(kinds)) if kind in device.fasteners]
    found = [
        look_alike(one, other, doubt_mm)
        for number, one in enumerate(known)
        for other in known[number + 1 :]
    ]
    return tuple(pair for pair in found if pair is not None)


def look_alike_text(device: Device, pair: LookAlike) -> str:
    """The pair in a sentence."""
    names = [fastener_text(device.fasteners[kind]) for kind in (pair.one, pair.other)]
    length = say("length")
    if pair.apart_mm is not None:
        length = say("length (by {difference} mm)", difference=pair.apart_mm)
    how = {"length": length, "head": say("head"), "finish": say("finish")}
    pair_names = {"one": names[0], "other": names[1]}
    if what := listed([how[key] for key in pair.differs if key in how]):
        text = say("{one} and {other} look alike: they differ in {what}.", what=what, **pair_names)
    else:
        text = say(
            "{one} and {other} look alike: nothing that the device file gives tells them apart.",
            **pair_names,
        )
    sentences = [text]
    if pair.within_doubt:
        sentences.append(
            say("A ruler does not tell them apart; keep them by the place they came from.")
        )
    if pair.assumed:
        lacking = listed([_KEYS.get(key, key.removesuffix("_mm")) for key in pair.assumed])
        sentences.append(say("Not given: {names}.", names=lacking))
    return joined(" ", sentences)


_KEYS: Mapping[str, str] = {
    "thread": say("thread"),
    "length_mm": say("length"),
    "drive": say("drive"),
    "head": say("head"),
    "finish": say("finish"),
}


def look_alikes_of_plan(
    device: Device, plan: Plan, doubt_mm: float = RULE_DOUBT_MM
) -> tuple[LookAlike, ...]:
    """Pairs among the fasteners that a plan takes out."""
    kinds = [kind.name for _, kind, _ in fasteners_out(device, plan) if kind.sort == "fastener"]
    return look_alikes(device, kinds, doubt_mm)


def length_cautions(device: Device, plan: Plan) -> tuple[LengthCaution, ...]:
    """Joints with ``max_length_mm`` for which a look-alike of their screws in this plan is too long.

    The joint's own screws are named too if the device file contradicts itself. Screws of another
    drive are not: they are seen to be others. In the order of closing.
    """
    fitted = fit(device, plan.request.not_fitted, plan.request.fitted)
    out = [joint_id for joint_id, _, _ in fasteners_out(device, plan)]
    found: list[LengthCaution] = []
    for step in plan.way_out:
        joint = fitted.joints[step.joint]
        if joint.max_length_mm is not None and joint.id in out:
            too_long = tuple(j for j in out if _is_too_long(fitted, fitted.joints[j], joint))
            if too_long:
                found.append(_length_caution(fitted, joint, too_long))
    return tuple(found)


def _is_too_long(device: Device, other: Joint, joint: Joint) -> bool:
    mine = device.fasteners.get(joint.fastener or "")
    its = device.fasteners.get(other.fastener or "")
    if its is None or its.length_mm is None or joint.max_length_mm is None:
        return False
    confused = mine is None or mine.id == its.id or look_alike(mine, its) is not None
    return confused and its.length_mm > joint.max_length_mm


def _length_caution(device: Device, joint: Joint, too_long: tuple[str, ...]) -> LengthCaution:
    energy = [part for part in joint.joins if device.parts[part].energy]
    harmed = energy or [part for part in joint.joins if part != device.fixed_part] or [*joint.joins]
    names = listed([marked(part_name(device, part)) for part in harmed], word="or")
    name = joint_name(device, joint.id)
    text = say(
        "{joint} takes at most {most} mm. A screw of {lengths} is too long: it can pierce {names}. "
        "Measure before you turn it in.",
        "{joint} take at most {most} mm. A screw of {lengths} is too long: it can pierce {names}. "
        "Measure before you turn it in.",
        joint=marked(name),
        most=joint.max_length_mm,
        lengths=_lengths(device, too_long),
        names=names,
        n=how_many(name),
    )
    return LengthCaution(joint.id, "caution" if energy else "notice", text, too_long)


def _lengths(device: Device, joints: tuple[str, ...]) -> str:
    """Lengths with the joints that have them: ``4 mm (from *Fan screws*) or 8 mm (from …)``."""
    by_length: dict[float, list[str]] = {}
    for joint_id in joints:
        length = device.fasteners[device.joints[joint_id].fastener or ""].length_mm
        assert length is not None
        by_length.setdefault(length, []).append(marked(joint_name(device, joint_id)))
    shown = [
        say("{length} mm (from {names})", length=length, names=listed(names, limit=4))
        for length, names in sorted(by_length.items())
    ]
    return listed(shown, word="or")
