"""How a job stands, and what may be done next. The state comes from :mod:`lastscrew.run.folding`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from lastscrew.device.fitting import device_parts_in, fit
from lastscrew.device.model import Device
from lastscrew.device.opening import isolating_joints
from lastscrew.plan.model import Request
from lastscrew.run.events import CarriedOver, Checked, Event, Exchanged, Parked, Waived
from lastscrew.run.rules import PowerHold, powered_check, ways


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that does not fit, at one event.

    Attributes:
        event: Id of the event.
        code: Short stable name, such as ``not_allowed``.
        text: One sentence.
    """

    event: str
    code: str
    text: str


@dataclass(frozen=True, slots=True)
class JobState:
    """How a job stands.

    Attributes:
        started: An event ``started`` has been seen.
        device, revision, unit: As the job began.
        replace, reach: Targets now, in the order in which they were named.
        not_fitted, fitted, without: As the job began.
        open: Open joints, in the order of their opening.
        opened: Every joint that was opened, in the order of first opening (those open at the start first).
        renewed_joints: Joints that were opened and then came closed inside an exchanged piece.
        side: Side that faces up, None if not known.
        tool: Tool in hand, None for none or not known.
        check_on: A powered check is on: nothing is opened or closed, the next step isolates again.
        check_isolators: Isolating joints that the check closed.
        check_functions: What it is to try.
        confirmed: (joint or act, limb) of every hold point that was confirmed.
        acts_done: Acts done, in order.
        exchanged: Exchanges, in order.
        carried_over: Identities carried over, in order.
        judged: Part to its last judgement (``good``, ``bad``, ``damaged``, ``dead_on_arrival``).
        counts: Joint to its corrected count.
        waivers: What named persons let stand.
        checks: (function, phase) to its last result.
        worker: Who works on it, None if not known.
        paused: Nobody works on it.
        parked: Where it waits, None if it does not.
        outcome: How it ended, None while it has not.
        remarks: What does not fit, in order.
        log: Every event taken in, resends left out, what was taken back included.
    """

    started: bool = False
    device: str = ""
    revision: str = ""
    unit: str | None = None
    replace: tuple[str, ...] = ()
    reach: tuple[str, ...] = ()
    not_fitted: tuple[str, ...] = ()
    fitted: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    open: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()
    renewed_joints: tuple[str, ...] = ()
    side: str | None = None
    tool: str | None = None
    check_on: bool = False
    check_isolators: tuple[str, ...] = ()
    check_functions: tuple[str, ...] = ()
    confirmed: frozenset[tuple[str, str]] = frozenset()
    acts_done: tuple[str, ...] = ()
    exchanged: tuple[Exchanged, ...] = ()
    carried_over: tuple[CarriedOver, ...] = ()
    judged: Mapping[str, str] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)
    waivers: tuple[Waived, ...] = ()
    checks: Mapping[tuple[str, str], Checked] = field(default_factory=dict)
    worker: str | None = None
    paused: bool = False
    parked: Parked | None = None
    outcome: str | None = None
    remarks: tuple[Remark, ...] = ()
    log: tuple[Event, ...] = ()

    @property
    def version(self) -> int:
        """How many events were taken in."""
        return len(self.log)

    @property
    def waived_joints(self) -> frozenset[str]:
        """Joints that a named person lets stand as they are."""
        return frozenset(w.joint for w in self.waivers if w.joint is not None)


@dataclass(frozen=True, slots=True)
class Allowed:
    """What may be done next.

    Attributes:
        to_open: Closed joint to the accesses by which it can be opened now, in id order.
        to_close: Open joint to the accesses by which it can be closed now, in id order.
        must_isolate: A powered check is on: only trying, measuring and isolating again are allowed.
        power: The hold point of a powered check from here; None while one is on, or where no
            isolating joint is open and can be closed.
    """

    to_open: Mapping[str, tuple[int, ...]]
    to_close: Mapping[str, tuple[int, ...]]
    must_isolate: bool
    power: PowerHold | None


def allowed(device: Device, state: JobState) -> Allowed:
    """What may be done next.

    Args:
        device: The whole device.
        state: How the job stands.
    """
    fitted = fit(device, state.not_fitted, state.fitted)
    if state.check_on:
        return Allowed({}, {}, must_isolate=True, power=None)
    to_open: dict[str, tuple[int, ...]] = {}
    to_close: dict[str, tuple[int, ...]] = {}
    for joint_id in sorted(fitted.joints):
        found = ways(fitted, state.open, joint_id)
        if joint_id in state.open:
            to_close[joint_id] = found
        elif joint_id not in state.without:
            to_open[joint_id] = found
    return Allowed(
        {joint: found for joint, found in to_open.items() if found},
        {joint: found for joint, found in to_close.items() if found},
        must_isolate=False,
        power=_power(fitted, state, to_close),
    )


def _power(
    fitted: Device, state: JobState, to_close: Mapping[str, tuple[int, ...]]
) -> PowerHold | None:
    isolators = [j for j in isolating_joints(fitted) if j in state.open]
    if not isolators or not all(to_close.get(joint_id) for joint_id in isolators):
        return None
    return powered_check(fitted, state.open)


def is_isolated(device: Device, state: JobState) -> bool:
    """True when every isolating joint is open (False also where the device has none)."""
    isolators = isolating_joints(fit(device, state.not_fitted, state.fitted))
    return bool(isolators) and all(joint in state.open for joint in isolators)


def request_from(device: Device, state: JobState, request: Request | None = None) -> Request:
    """What to plan from here: what is still to be exchanged or reached, from the joints open now.

    Args:
        device: The whole device.
        state: How the job stands.
        request: Gives objective, rate and pace; None for the defaults.
    """
    return replace(
        request or Request(),
        replace=tuple(piece for piece in state.replace if not _is_done(device, state, piece)),
        reach=tuple(joint for joint in state.reach if joint not in state.opened),
        opened=state.open,
        side=state.side if state.side in device.sides else None,
        not_fitted=state.not_fitted,
        fitted=state.fitted,
        without=state.without,
    )


def _is_done(device: Device, state: JobState, piece: str) -> bool:
    """True when every part of a target was exchanged and none of the new ones was dead on arrival."""
    parts = set(parts_of(device, piece))
    fresh = {part for exchange in state.exchanged for part in parts_of(device, exchange.part)}
    dead = {part for part, verdict in state.judged.items() if verdict == "dead_on_arrival"}
    return bool(parts) and parts <= fresh and not parts & dead


def parts_of(device: Device, piece: str) -> tuple[str, ...]:
    """Parts of a piece; empty when the device does not know it."""
    try:
        return device_parts_in(device, piece)
    except KeyError:
        return ()
