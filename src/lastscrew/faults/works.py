"""The checks and mends of a device as work that can be done: what each needs open, what it costs.

Everything that the device file leaves out is filled in here, and marked as assumed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Final, Literal

from lastscrew.device.diagnosis import BAD, GOOD, Check, Fault, Limits, Mend, MendKind, Power
from lastscrew.device.fitting import device_parts_in, hung_joints, joints_around
from lastscrew.device.model import Device, Function
from lastscrew.device.names import to_identifier
from lastscrew.device.opening import is_live
from lastscrew.plan.acts import may_apply
from lastscrew.plan.wording import joint_name, part_name
from lastscrew.saying import say

WorkKind = Literal["check", "swap", "mend", "reseat", "final"]

MEND_MS: Final[dict[MendKind, int]] = {
    "exchange": 30_000, "reseat": 5_000, "clean": 60_000, "update": 300_000, "adjust": 60_000,
}  # fmt: skip
MEND_SUCCESS: Final[dict[MendKind, float]] = {
    "exchange": 0.98, "reseat": 0.9, "clean": 0.7, "update": 0.7, "adjust": 0.7,
}  # fmt: skip
FINAL_MS: Final = 60_000
"""Time of the device's own check where the file names neither one nor a function. Our own figures, no source."""
ALL_FUNCTIONS: Final = "all_functions"
"""Id of the device's own check where the file has none."""
WORKS: Final = "works"
FAULTY: Final = "faulty"

VERBS: Final[dict[MendKind, str]] = {
    "exchange": say("Exchange"), "reseat": say("Reseat"), "clean": say("Clean"), "update": say("Update"),
    "adjust": say("Adjust"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Work:
    """Something that can be done next.

    Attributes:
        kind: What it is: a check, a swap test, a mend, a reseating, the device's own check.
        id: Unique among all of them.
        name: What people call it.
        text: Instruction.
        ms: Time, without opening and closing.
        price: What it uses or may spoil, in the currency of the device file.
        outcomes: Names of its outcomes; the first is the good one (mends: ``done``).
        open, closed: Joints that must be open and closed.
        may_be_open: Joints that may be open while power is on.
        power: ``on``, ``off``, or None where it does not matter.
        part, joint: What it is done to.
        pieces: Parts that are exchanged.
        hung: Joints in which a known-good part is plugged for the time of a swap test.
        limits: A value to measure.
        tool, instrument: What it needs.
        hazards: Hazards that it names itself.
        assumed: What the file leaves out.
    """

    kind: WorkKind
    id: str
    name: str
    text: str = ""
    ms: int = 0
    price: float = 0.0
    outcomes: tuple[str, ...] = (GOOD, BAD)
    open: tuple[str, ...] = ()
    closed: tuple[str, ...] = ()
    may_be_open: tuple[str, ...] = ()
    power: Power | None = None
    part: str | None = None
    joint: str | None = None
    pieces: tuple[str, ...] = ()
    hung: tuple[str, ...] = ()
    limits: Limits | None = None
    tool: str | None = None
    instrument: str = ""
    hazards: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()

    def read(self, said: str) -> str | None:
        """The outcome that is meant, see :func:`outcome_read`."""
        return outcome_read(said, self.outcomes, self.limits)


def outcome_read(said: str, outcomes: tuple[str, ...], limits: Limits | None) -> str | None:
    """The outcome that is meant: its name, or a measured value that is read by the limits.

    Where the outcomes have no names for too low and too high (a function, the device's own check) a value
    outside the limits is the bad one. None where it is neither, as with a value that is not finite.
    """
    if said in outcomes or limits is None:
        return said if said in outcomes else None
    try:
        value = float(said)
    except ValueError:
        return None
    if not isfinite(value):
        return None
    found = limits.outcome(value)
    return found if found in outcomes else outcomes[0 if found == GOOD else 1]


def mend_id(mend: Mend) -> str:
    """Id of a mend: what is done and to what. The same mend of several faults is one."""
    named = to_identifier(mend.name) if mend.name else None
    return named or f"{mend.do}_{mend.part or mend.joint or 'device'}"


def mends_of(device: Device, fault: Fault) -> tuple[Mend, ...]:
    """What can cure a fault, what the file leaves out filled in; what the unit lacks left out."""
    mends = fault.mends
    if not mends:
        if fault.joint is not None:
            mends = (Mend("reseat", joint=fault.joint),)
        elif fault.part is not None and not device.parts[fault.part].fixed:
            mends = (Mend("exchange", part=fault.part),)
    return tuple(mend for mend in mends if _is_there(device, mend))


def _is_there(device: Device, mend: Mend) -> bool:
    """Whether the unit has what a mend is done to."""
    if mend.joint is not None:
        return mend.joint in device.joints
    return mend.part is None or mend.part in device.parts or mend.part in device.spares


def success_of(mend: Mend) -> float:
    """Chance that a mend cures."""
    return MEND_SUCCESS[mend.do] if mend.success is None else mend.success.value


def cures_of(
    device: Device, faults: Sequence[Fault], mends: Sequence[Work]
) -> tuple[dict[int, float], ...]:
    """For each mend the faults that it can cure, by number, with the chance that they are gone after it.

    What a fault names itself has the chance that is given there. A fault that is cured by seating a joint again is
    cured as well by every other mend that takes that joint apart by itself: surely by the exchange of a part on it,
    which is put in with its own half of the plug; with the same chance by what is done to the joint or names it under
    ``open``. Joints on the way (covers, isolation) do not count: nearly every mend would else be left to try, however
    far it lies from the fault.
    """
    found: list[dict[int, float]] = [{} for _ in mends]
    number = {work.id: index for index, work in enumerate(mends)}
    seated: list[tuple[int, str, float]] = []
    for f, fault in enumerate(faults):
        for mend in mends_of(device, fault):
            cured = found[number[mend_id(mend)]]
            cured[f] = max(cured.get(f, 0.0), success_of(mend))
            if mend.do == "reseat" and mend.joint is not None:
                seated.append((f, mend.joint, success_of(mend)))
    named = [frozenset(cured) for cured in found]
    for f, joint, chance in seated:
        for work, cured, own in zip(mends, found, named, strict=True):
            apart = joint in work.open or (work.kind == "reseat" and work.joint == joint)
            if apart and f not in own:
                cured[f] = 1.0 if work.pieces else max(cured.get(f, 0.0), chance)
    return tuple(found)


def faults_of(device: Device) -> tuple[Fault, ...]:
    """Faults that the (fitted) device can have, in id order."""
    return tuple(
        fault
        for _, fault in sorted(device.faults.items())
        if fault.part in device.parts or fault.joint in device.joints
    )


def checks_of(device: Device, stock: Collection[str] = ()) -> tuple[Work, ...]:
    """Checks in id order: those of the file but the device's own, and functions that a fault names.

    Args:
        device: The fitted device.
        stock: Parts of which a known-good one is at hand; other swap tests are left out.
    """
    found = [
        _check_work(device, check)
        for check in device.checks.values()
        if not check.final
        and (check.swap_test is None or check.swap_test in stock)
        and _check_fits(device, check)
    ]
    named = {check for fault in device.faults.values() for check in fault.checks}
    for function in device.functions.values():
        if function.id in named and function.entry is None:
            limits = function_limits(function)
            found.append(
                Work(
                    "check", function.id, function.name, function.check, function.check_ms,
                    power="on", limits=limits,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda work: work.id))


def function_limits(function: Function) -> Limits | None:
    """What a value that is measured at a function is read by; None where it names no limit."""
    measure = function.measure
    if measure is None or (measure.low is None and measure.high is None):
        return None
    return Limits(measure.unit, measure.low, measure.high)


def is_about(device: Device, name: str, work: Work) -> bool:
    """Whether a check or function, named in a fault, is this work."""
    function = device.functions.get(name)
    return (function.entry if function is not None and function.entry else name) == work.id


def swap_tests_without_stock(device: Device, stock: Collection[str]) -> tuple[Check, ...]:
    """Swap tests for which no known-good part is at hand."""
    return tuple(
        check
        for _, check in sorted(device.checks.items())
        if check.swap_test in device.parts and check.swap_test not in stock
    )


def _check_fits(device: Device, check: Check) -> bool:
    """Whether the unit has everything that a check works on."""
    joints = (*check.open, *check.closed)
    return all(j in device.joints for j in joints) and (
        check.swap_test is None or check.swap_test in device.parts
    )


def _check_work(device: Device, check: Check) -> Work:
    hung = hung_joints(device, check.swap_test) if check.swap_test is not None else ()
    harm = check.harm
    assumed = () if check.check_ms or check.check == "" else ("check_s",)
    return Work(
        kind="swap" if check.swap_test is not None else "check",
        id=check.id,
        name=check.name,
        text=check.check or _swap_text(device, check),
        ms=check.check_ms + (round(harm.chance * harm.ms) if harm else 0),
        price=harm.chance * harm.price if harm else 0.0,
        outcomes=check.outcomes,
        open=tuple(dict.fromkeys((*check.open, *hung))),
        closed=_kept_closed(device, check.closed, check.power),
        may_be_open=tuple(j for j in check.may_be_open if j in device.joints),
        power=check.power,
        part=check.swap_test,
        hung=hung,
        limits=check.limits,
        tool=check.tool,
        instrument=check.instrument,
        hazards=check.hazards,
        assumed=assumed,
    )


def _kept_closed(device: Device, closed: Collection[str], power: Power | None) -> tuple[str, ...]:
    """What must be closed: with power on what isolates is so in any case, and is opened on the way all the same."""
    there = tuple(j for j in closed if j in device.joints)
    return tuple(j for j in there if not device.joints[j].isolates) if power == "on" else there


def _swap_text(device: Device, check: Check) -> str:
    if check.swap_test is None:
        return ""
    return say(
        "Hang a known-good {part} on its cable. Power up and try.",
        part=part_name(device, check.swap_test),
    )


def final_of(device: Device) -> Work:
    """The device's own check: the one that the file calls final, or all functions tried in turn."""
    for check in device.checks.values():
        if check.final:
            work = _check_work(device, replace(check, power=check.power or "on"))
            return replace(work, kind="final", outcomes=(WORKS, FAULTY))
    tried = [function for function in device.functions.values() if function.check_ms]
    ms = sum(function.check_ms for function in tried)
    names = ", ".join(function.name for function in tried)
    return Work(
        kind="final",
        id=ALL_FUNCTIONS,
        name=say("All functions"),
        text=say("Try all functions: {names}.", names=names) if names else say("Try the device."),
        ms=ms or FINAL_MS,
        outcomes=(WORKS, FAULTY),
        power="on",
        assumed=("final",),
    )


def mend_works(device: Device) -> tuple[Work, ...]:
    """All mends of all faults in id order; the same mend of several faults once."""
    found: dict[str, Work] = {}
    for fault in faults_of(device):
        for mend in mends_of(device, fault):
            work = _mend_work(device, mend)
            known = found.get(work.id)
            found[work.id] = work if known is None else _merged(known, work, mend)
    return tuple(found[key] for key in sorted(found))


def _merged(known: Work, work: Work, mend: Mend) -> Work:
    """The same mend named by two faults: what one of them leaves out the other may give."""
    return replace(
        known,
        ms=work.ms if mend.ms is not None else known.ms,
        price=work.price if mend.price is not None else known.price,
        text=known.text or work.text,
        open=tuple(dict.fromkeys((*known.open, *work.open))),
        closed=tuple(dict.fromkeys((*known.closed, *work.closed))),
        power=known.power or work.power,
        assumed=tuple(key for key in known.assumed if key in work.assumed),
    )


def _mend_work(device: Device, mend: Mend) -> Work:
    """One mend as work, with acts that its exchange brings with it."""
    pieces: tuple[str, ...] = ()
    if mend.do == "exchange" and mend.part is not None:
        pieces = device_parts_in(device, mend.part)
    needed = tuple(j for j in mend.open if j in device.joints)
    if pieces:
        needed = (*joints_around(device, pieces), *needed)
    elif mend.joint is not None and mend.do != "reseat":
        needed = (mend.joint, *needed)
    ms = MEND_MS[mend.do] if mend.ms is None else mend.ms
    assumed = [
        key for key, value in (("seconds", mend.ms), ("success", mend.success)) if value is None
    ]
    target = part_name(device, mend.part) if mend.part else joint_name(device, mend.joint or "")
    power = mend.power
    if mend.do == "reseat" and mend.joint is not None:
        off = power == "off" or _any_live(device, (mend.joint,))
        power = "off" if off else None  # nothing is seated under power
    elif power is None:
        power = "on" if mend.do == "update" else "off" if _any_live(device, needed) else None
    return Work(
        kind="reseat" if mend.do == "reseat" else "mend",
        id=mend_id(mend),
        name=mend.name
        or (say("{verb} {what}", verb=VERBS[mend.do], what=target) if target else VERBS[mend.do]),
        text=mend.text,
        ms=ms + _acts_ms(device, mend, pieces),
        price=_price(device, mend, pieces),
        outcomes=("done",),
        open=tuple(dict.fromkeys(needed)),
        closed=_kept_closed(device, mend.closed, power),
        power=power,
        part=mend.part,
        joint=mend.joint,
        pieces=pieces,
        assumed=tuple(assumed),
    )


def _any_live(device: Device, joints: Collection[str]) -> bool:
    return any(is_live(device, device.joints[j]) for j in joints)


def _acts_ms(device: Device, mend: Mend, pieces: tuple[str, ...]) -> int:
    """Acts that are done because of the exchange alone (identity, disposal, a clock to set)."""
    names = {*pieces, mend.part or ""} if pieces else set()
    return sum(
        act.ms for act in device.acts.values() if act.when_replaced and may_apply(act, names)
    )


def _price(device: Device, mend: Mend, pieces: tuple[str, ...]) -> float:
    if mend.price is not None:
        return mend.price
    spare = device.spares.get(mend.part or "")
    if spare is not None and spare.price is not None:
        return spare.price
    return sum(device.parts[part].price or 0.0 for part in pieces)


def works_on(device: Device, work: Work) -> Iterator[str]:
    """Parts that a piece of work handles: what is exchanged, hung, or joined by what must be open."""
    yield from work.pieces
    if work.part in device.parts:
        yield work.part or ""
    for joint in (*work.open, *((work.joint,) if work.joint else ())):
        yield from device.joints[joint].joins
