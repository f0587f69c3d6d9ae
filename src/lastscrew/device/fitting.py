"""A device reduced to what a unit has: what is not fitted is absent everywhere."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from lastscrew.device.model import Access, Act, Device, Joint, Spare


def absent_ids(
    device: Device, not_fitted: Collection[str] = (), fitted: Collection[str] = ()
) -> frozenset[str]:
    """Ids of options, parts and joints that a unit lacks.

    Args:
        device: The whole device.
        not_fitted: Options, parts or joints that this unit lacks.
        fitted: Options that this unit has although the device file says that most lack them.

    Returns:
        The ids, with what follows: parts and joints of an option that is not fitted, and joints
        that are left with fewer than two parts to join.
    """
    gone = set(not_fitted)
    gone |= {o.id for o in device.options.values() if not o.fitted and o.id not in fitted}
    gone |= {p.id for p in device.parts.values() if p.if_fitted in gone}
    gone |= {j.id for j in device.joints.values() if j.if_fitted in gone}
    gone |= {
        j.id for j in device.joints.values() if sum(part not in gone for part in j.joins) < 2
    }
    return frozenset(gone)


def fit(
    device: Device, not_fitted: Collection[str] = (), fitted: Collection[str] = ()
) -> Device:
    """The device as this unit has it.

    A joint that names an absent part holds the others that it joins, as long as two are left. An
    absent part covers nothing, an absent joint is waited for by nothing.
    """
    gone = absent_ids(device, not_fitted, fitted)
    if not gone:
        return device
    return replace(
        device,
        parts={k: p for k, p in device.parts.items() if k not in gone},
        joints={k: _fit_joint(j, gone) for k, j in device.joints.items() if k not in gone},
        functions={
            k: replace(f, needs=_kept(f.needs, gone)) for k, f in device.functions.items()
        },
        options={k: o for k, o in device.options.items() if k not in gone},
        spares=_fit_spares(device.spares, gone),
        acts=_fit_acts(device.acts, gone),
    )


def _kept(ids: tuple[str, ...], gone: frozenset[str]) -> tuple[str, ...]:
    return tuple(i for i in ids if i not in gone)


def _fit_joint(joint: Joint, gone: frozenset[str]) -> Joint:
    return replace(
        joint,
        joins=_kept(joint.joins, gone),
        after=_kept(joint.after, gone),
        accesses=tuple(_fit_access(access, gone) for access in joint.accesses),
        damage={part: chance for part, chance in joint.damage.items() if part not in gone},
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


def _fit_acts(acts: Mapping[str, Act], gone: frozenset[str]) -> dict[str, Act]:
    kept: dict[str, Act] = {}
    for key, act in acts.items():
        if act.joint in gone:
            continue
        replaced = _kept(act.when_replaced, gone)
        opened = _kept(act.when_opened, gone)
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


