"""A device reduced to what a unit has: what is not fitted is absent everywhere."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from lastscrew.device.model import POWERED_KINDS, Access, Act, Device, Joint, Spare


@dataclass(frozen=True, slots=True)
class Absent:
    """Ids of what a unit lacks, by kind: an option, a part and a joint may share an id."""

    options: frozenset[str]
    parts: frozenset[str]
    joints: frozenset[str]

    def __bool__(self) -> bool:
        """True when anything is absent."""
        return bool(self.options or self.parts or self.joints)


def absent(
    device: Device, not_fitted: Collection[str] = (), fitted: Collection[str] = ()
) -> Absent:
    """What a unit lacks, with what follows from it.

    Args:
        device: The whole device.
        not_fitted: Options, parts or joints that this unit lacks; a name that an option or a part
            has does not mean a joint of the same name.
        fitted: Options that this unit has although the device file says that most lack them.

    Returns:
        Options, their parts and joints, and the joints that are left with fewer than two parts.
    """
    named = set(not_fitted) - device.lacks
    options = {
        o.id
        for o in device.options.values()
        if o.id in named or (not o.fitted and o.id not in fitted)
    }
    parts = {p.id for p in device.parts.values() if p.id in named or p.if_fitted in options}
    named -= {*device.options, *device.parts}
    joints = {
        j.id
        for j in device.joints.values()
        if j.id in named or j.if_fitted in options or sum(p not in parts for p in j.joins) < 2
    }
    return Absent(frozenset(options), frozenset(parts), frozenset(joints))


def absent_ids(
    device: Device, not_fitted: Collection[str] = (), fitted: Collection[str] = ()
) -> frozenset[str]:
    """All ids of :func:`absent` together."""
    lacking = absent(device, not_fitted, fitted)
    return lacking.options | lacking.parts | lacking.joints


def fit(device: Device, not_fitted: Collection[str] = (), fitted: Collection[str] = ()) -> Device:
    """The device as this unit has it.

    A joint that names an absent part holds the others that it joins, as long as two are left. An
    absent part covers nothing, an absent joint is waited for by nothing. Fitting twice is fitting once.
    """
    key = (id(device), tuple(not_fitted), tuple(fitted))
    found = _recent.get(key)
    if found is not None and found[0] is device:
        return found[1]
    if len(_recent) >= _MOST_RECENT:
        _recent.clear()
    gone = absent(device, not_fitted, fitted)
    result = _without(device, gone, not_fitted) if gone else device
    _recent[key] = (device, result)
    return result


# A job asks for the same unit at each of its events. Devices are read-only values, so the answer stays true;
# the device is kept beside it, so that no other one can come to have its identity.
_MOST_RECENT = 64
_recent: dict[tuple[int, tuple[str, ...], tuple[str, ...]], tuple[Device, Device]] = {}


def _without(device: Device, gone: Absent, not_fitted: Collection[str]) -> Device:
    return replace(
        device,
        parts={k: p for k, p in device.parts.items() if k not in gone.parts},
        joints={k: _fit_joint(j, gone) for k, j in device.joints.items() if k not in gone.joints},
        functions={
            k: replace(f, needs=_kept(f.needs, gone.joints)) for k, f in device.functions.items()
        },
        options={k: o for k, o in device.options.items() if k not in gone.options},
        lacks=device.lacks | set(not_fitted),
        spares=_fit_spares(device.spares, gone.parts),
        acts=_fit_acts(device.acts, gone),
    )


def _kept(ids: tuple[str, ...], gone: frozenset[str]) -> tuple[str, ...]:
    return tuple(i for i in ids if i not in gone)


def _fit_joint(joint: Joint, gone: Absent) -> Joint:
    return replace(
        joint,
        joins=_kept(joint.joins, gone.parts),
        after=_kept(joint.after, gone.joints),
        accesses=tuple(_fit_access(access, gone.parts) for access in joint.accesses),
        damage={part: chance for part, chance in joint.damage.items() if part not in gone.parts},
    )


def _fit_access(access: Access, gone: frozenset[str]) -> Access:
    return replace(access, under=_kept(access.under, gone))


def _fit_spares(spares: Mapping[str, Spare], gone: frozenset[str]) -> dict[str, Spare]:
    kept: dict[str, Spare] = {}
    for key, spare in spares.items():
        contains = _kept(spare.contains, gone)
        if contains:
            kept[key] = replace(spare, contains=contains)
    return kept


def _fit_acts(acts: Mapping[str, Act], gone: Absent) -> dict[str, Act]:
    kept: dict[str, Act] = {}
    for key, act in acts.items():
        if act.joint in gone.joints:
            continue
        replaced = _kept(act.when_replaced, gone.parts)
        opened = _kept(act.when_opened, gone.joints)
        if (act.when_replaced or act.when_opened) and not (replaced or opened):
            continue
        kept[key] = replace(act, when_replaced=replaced, when_opened=opened)
    return kept


def device_parts_in(device: Device, piece: str) -> tuple[str, ...]:
    """Part ids of a piece: a part, a spare, or several of them joined by ``+``.

    Raises:
        KeyError: With the unknown name.
    """
    parts: list[str] = []
    for name in (word.strip() for word in piece.split("+")):
        if name in device.parts:
            found: tuple[str, ...] = (name,)
        elif name in device.spares:
            found = device.spares[name].contains
        else:
            raise KeyError(name)
        parts.extend(part for part in found if part not in parts)
    return tuple(sorted(parts))


def joints_around(device: Device, piece: Collection[str]) -> tuple[str, ...]:
    """Joints that name a part of the piece and a part outside it, in id order."""
    inside = set(piece)
    return tuple(
        sorted(
            joint.id
            for joint in device.joints.values()
            if any(p in inside for p in joint.joins) and any(p not in inside for p in joint.joins)
        )
    )


def joints_within(device: Device, piece: Collection[str]) -> tuple[str, ...]:
    """Joints that name parts of the piece only, in id order."""
    inside = set(piece)
    return tuple(
        sorted(j.id for j in device.joints.values() if all(part in inside for part in j.joins))
    )


def hung_joints(device: Device, part: str) -> tuple[str, ...]:
    """Joints by which a part is connected: in a swap test those are opened, and a known-good one is plugged in there.

    Plugs, ribbons, coaxial leads and board links; where it has none of these, all joints around it.
    """
    around = joints_around(device, (part,))
    cables = tuple(j for j in around if device.joints[j].kind in POWERED_KINDS)
    return cables or around
