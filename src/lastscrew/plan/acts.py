"""Which acts a plan does, at which step, and what they cost there."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from lastscrew.device.fitting import device_parts_in
from lastscrew.device.model import Act, Device
from lastscrew.plan.model import Limb, Request

OPENING_TIMES = ("before_open", "after_open")
CLOSING_TIMES = ("before_close", "after_close")


def replaced_ids(device: Device, request: Request) -> frozenset[str]:
    """Parts in any piece of the request, and spares that are asked for by name or wholly replaced."""
    parts = {part for piece in request.replace for part in device_parts_in(device, piece)}
    words = {word.strip() for piece in request.replace for word in piece.split("+")}
    spares = {s.id for s in device.spares.values() if s.id in words or set(s.contains) <= parts}
    return frozenset(parts | spares)


def may_apply(act: Act, replaced: Collection[str]) -> bool:
    """True when the act is done whenever its joint is worked on, whatever else is opened."""
    if not act.when_replaced and not act.when_opened:
        return True
    return any(name in replaced for name in act.when_replaced)


@dataclass(frozen=True, slots=True)
class ActsDone:
    """The acts of one plan by where they are done; ids in id order."""

    at_step: dict[tuple[str, Limb, bool], tuple[Act, ...]]
    """By joint, limb and whether before (True) or after the work."""
    start: tuple[Act, ...]
    turning: tuple[Act, ...]
    end: tuple[Act, ...]


def acts_done(
    device: Device, replaced: Collection[str], opened: Collection[str], turning: Collection[str]
) -> ActsDone:
    """The acts of a plan.

    Args:
        device: The fitted device.
        replaced: See :func:`replaced_ids`.
        opened: Joints opened on the way in.
        turning: Joints open at the turning point.
    """
    at_step: dict[tuple[str, Limb, bool], tuple[Act, ...]] = {}
    loose: dict[str, list[Act]] = {"start": [], "turning": [], "end": []}
    for act in sorted(device.acts.values(), key=lambda a: a.id):
        if not (may_apply(act, replaced) or any(j in opened for j in act.when_opened)):
            continue
        if act.joint is not None and act.joint not in (
            opened if act.at in OPENING_TIMES else turning
        ):
            continue
        if act.joint is not None and act.at in (*OPENING_TIMES, *CLOSING_TIMES):
            limb: Limb = "in" if act.at in OPENING_TIMES else "out"
            key = (act.joint, limb, act.at.startswith("before"))
            at_step[key] = (*at_step.get(key, ()), act)
        else:
            loose[_loose_moment(act)].append(act)
    return ActsDone(at_step, tuple(loose["start"]), tuple(loose["turning"]), tuple(loose["end"]))


def _loose_moment(act: Act) -> str:
    """When an act that no joint is named for is done."""
    if act.at in OPENING_TIMES:
        return "start" if act.at == "before_open" else "turning"
    if act.at in CLOSING_TIMES:
        return "turning" if act.at == "before_close" else "end"
    return act.at
