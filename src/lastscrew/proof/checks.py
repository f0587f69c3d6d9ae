"""Checks that follow from what was disturbed, by a plan or in a job.

A function is disturbed when a joint that names it was opened, when a part that has it was
exchanged, or when a powered joint of a part that has it was opened (one that may be opened after a
shut-down counts as powered: its contacts were parted all the same).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device, Function, Joint
from lastscrew.device.opening import isolating_joints
from lastscrew.plan.model import Plan
from lastscrew.plan.wording import joint_name, listed, marked, part_name
from lastscrew.run.events import (
    CarriedOver,
    Checked,
    Closed,
    Event,
    Exchanged,
    FinalCheck,
    Opened,
    PowerOff,
    Started,
)
from lastscrew.run.folding import in_force
from lastscrew.run.rules import PowerHold, powered_check
from lastscrew.run.state import JobState, parts_of
from lastscrew.saying import joined, say
from lastscrew.times.ranges import TimeRange, time_range
from lastscrew.times.work import FILE_SPREAD

Cause = Literal["part_exchanged", "powered_joint_opened", "joint_opened"]
CAUSES: tuple[Cause, ...] = ("part_exchanged", "powered_joint_opened", "joint_opened")
"""Likeliest to have broken something first (our own order, no source)."""

Verdict = Literal["works", "fails", "open", "waived"]


@dataclass(frozen=True, slots=True)
class Because:
    """Why a function is disturbed.

    Attributes:
        cause: What was done.
        joint: The joint that was opened, None for an exchange.
        part: The part that has the function, None where the joint itself names it.
    """

    cause: Cause
    joint: str | None
    part: str | None


@dataclass(frozen=True, slots=True)
class Disturbed:
    """A function to be tried, with every reason, the weightiest first."""

    function: str
    because: tuple[Because, ...]


@dataclass(frozen=True, slots=True)
class Gate:
    """What must be shown to work before a joint may be closed.

    Attributes:
        joint: The joint that waits.
        functions: What is to be tried before, in the order of the device file.
        power: The hold point of the powered check, None where the power is on anyway at that moment.
        in_vain: (function, joint) pairs: the function needs that joint closed, and it is still open
            then; the device file asks for what can't be done.
    """

    joint: str
    functions: tuple[str, ...]
    power: PowerHold | None
    in_vain: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Identity:
    """What an exchanged part asks to be carried over or written down.

    Attributes:
        part: The part.
        carry_over: The machine's identity lies in it and goes over to the new one.
        write_serial: It has a serial number: write down the old and the new one.
    """

    part: str
    carry_over: bool
    write_serial: bool


@dataclass(frozen=True, slots=True)
class Proof:
    """All checks of a plan: on the way out, and at the end in the order in which they are done.

    ``check_ms`` is what all of them take, ``check_range`` the range that holds eight of ten jobs.
    """

    gates: tuple[Gate, ...]
    checks: tuple[Disturbed, ...]
    identities: tuple[Identity, ...]
    check_ms: int
    check_range: TimeRange


@dataclass(frozen=True, slots=True)
class CheckState:
    """How a check of a job stands.

    Attributes:
        disturbed: The function and why it is tried.
        verdict: ``works``, ``fails``, ``open`` (not tried since it was last disturbed) or ``waived``.
        before: Outcome before opening (``works``, ``fails``, ``not_tried``), None where nobody said.
        value: Measured value of the last try, None if there is none.
        outside: The value lies outside the limits of the device file.
        stale: It was tried, and disturbed again afterwards.
    """

    disturbed: Disturbed
    verdict: Verdict
    before: str | None
    value: float | None = None
    outside: bool = False
    stale: bool = False


@dataclass(frozen=True, slots=True)
class FinalState:
    """How a check stands that the device file wants after every job, whatever was disturbed.

    Attributes:
        check, name, text: The check, what it is called, what to do.
        verdict: ``works``, ``fails``, ``open`` (not tried since the last work) or ``waived``.
        stale: It was tried, and worked on afterwards.
    """

    check: str
    name: str
    text: str
    verdict: Verdict
    stale: bool = False


@dataclass(frozen=True, slots=True)
class OpenProof:
    """A reason why a job is not yet proven: a function, a final check, or what a part asks for."""

    code: str
    text: str
    function: str | None = None
    part: str | None = None
    check: str | None = None


# --- what is disturbed ----------------------------------------------------------------------------


def disturbed_by(
    device: Device, opened: Collection[str], exchanged: Collection[str]
) -> tuple[Disturbed, ...]:
    """Functions disturbed, in the order in which they are best tried.

    Args:
        device: The device, reduced to what is fitted.
        opened: Joints that were opened, those open at the start included.
        exchanged: Parts that were exchanged.

    Returns:
        First what an exchange, then what a powered joint, then what another joint disturbed; among
        these the shortest check first: what fails shows early.
    """
    reasons: dict[str, list[Because]] = {}
    for part_id in sorted(set(exchanged)):
        part = device.parts.get(part_id)
        for function in part.functions if part is not None else ():
            reasons.setdefault(function, []).append(Because("part_exchanged", None, part_id))
    for joint_id in sorted(set(opened)):
        joint = device.joints.get(joint_id)
        if joint is not None:
            for function, because in _disturbed_by_joint(device, joint):
                reasons.setdefault(function, []).append(because)
    found = [Disturbed(name, tuple(sorted(why, key=_weight))) for name, why in reasons.items()]
    return tuple(sorted(found, key=lambda each: _turn(device, each)))


def _disturbed_by_joint(device: Device, joint: Joint) -> Iterable[tuple[str, Because]]:
    for function in joint.functions:
        yield function, Because("joint_opened", joint.id, None)
    if joint.powered or joint.shutdown:
        for part in joint.joins:
            for function in device.parts[part].functions:
                yield function, Because("powered_joint_opened", joint.id, part)


def _weight(because: Because) -> tuple[int, str, str]:
    return CAUSES.index(because.cause), because.joint or "", because.part or ""


def _turn(device: Device, disturbed: Disturbed) -> tuple[int, int, str]:
    function = device.functions.get(disturbed.function)
    cause = CAUSES.index(disturbed.because[0].cause)
    return cause, function.check_ms if function else 0, disturbed.function


def because_text(device: Device, because: Because) -> str:
    """The reason in a few words: ``*Keyboard* was exchanged``."""
    part = marked(part_name(device, because.part)) if because.part else ""
    if because.cause == "part_exchanged":
        return say("{part} was exchanged", part=part)
    joint = marked(joint_name(device, because.joint or ""))
    if part:
        return say("{joint} was opened, a powered joint of {part}", joint=joint, part=part)
    return say("{joint} was opened", joint=joint)


# --- the proof of a plan --------------------------------------------------------------------------


def proof_of(device: Device, plan: Plan) -> Proof:
    """What has to be proven when a plan is carried out.

    Args:
        device: The whole device, or reduced to what is fitted.
        plan: The plan.
    """
    fitted = fit(device, plan.request.not_fitted, plan.request.fitted)
    exchanged = [part for piece in plan.pieces for part in piece]
    checks = disturbed_by(fitted, plan.open_at_turning, exchanged)
    gates = _gates(fitted, plan)
    tried = [name for gate in gates for name in gate.functions]
    tried += [check.function for check in checks]
    taken = [fitted.functions[name].check_ms for name in tried if name in fitted.functions]
    return Proof(
        gates=gates,
        checks=checks,
        identities=identities_of(fitted, exchanged),
        check_ms=sum(taken),
        check_range=time_range(sum(taken), [(ms, FILE_SPREAD) for ms in taken]),
    )


def _gates(device: Device, plan: Plan) -> tuple[Gate, ...]:
    order = [step.joint for step in plan.way_out]
    found: list[Gate] = []
    for number, joint_id in enumerate(order):
        joint = device.joints[joint_id]
        if joint.prove_before_close:
            found.append(_gate(device, joint, order[number:]))
    return tuple(found)


def _gate(device: Device, joint: Joint, still_open: list[str]) -> Gate:
    isolated = any(joint_id in still_open for joint_id in isolating_joints(device))
    power = powered_check(device, still_open) if isolated else None
    closed_by_check = power.isolators if power is not None else ()
    in_vain = [
        (name, needed)
        for name in joint.prove_before_close
        if name in device.functions
        for needed in device.functions[name].needs
        if needed in still_open and needed not in closed_by_check
    ]
    return Gate(joint.id, joint.prove_before_close, power, tuple(in_vain))


def identities_of(device: Device, exchanged: Iterable[str]) -> tuple[Identity, ...]:
    """What exchanged parts ask to be carried over or written down, in id order."""
    parts = [device.parts[part] for part in sorted(set(exchanged)) if part in device.parts]
    return tuple(
        Identity(part.id, part.identity, part.serial)
        for part in parts
        if part.identity or part.serial
    )


# --- the proof of a job ---------------------------------------------------------------------------


def checks_of_job(device: Device, state: JobState) -> tuple[CheckState, ...]:
    """How the checks of a job stand, in the order in which they are best tried.

    Args:
        device: The whole device.
        state: How the job stands.
    """
    fitted = fit(device, state.not_fitted, state.fitted)
    events = in_force(state.log)
    exchanged = [part for x in state.exchanged for part in parts_of(fitted, x.part)]
    waived = {w.function for w in state.waivers if w.function}
    found = []
    for disturbed in disturbed_by(fitted, state.opened, exchanged):
        tried, last = _last_try(disturbed.function, events)
        stale = last is not None and tried < _last_disturbance(fitted, disturbed.function, events)
        found.append(_check_state(fitted, state, disturbed, None if stale else last, waived))
        if stale:
            found[-1] = CheckState(
                disturbed,
                found[-1].verdict,
                found[-1].before,
                last.value if last else None,
                stale=True,
            )
    return tuple(found)


def _check_state(
    device: Device,
    state: JobState,
    disturbed: Disturbed,
    last: Checked | None,
    waived: Collection[str],
) -> CheckState:
    name = disturbed.function
    before = state.checks.get((name, "before"))
    outside = last is not None and is_outside(device.functions.get(name), last)
    verdict: Verdict = "open"
    if last is not None and last.outcome != "not_tried":
        verdict = "works" if last.outcome == "works" and not outside else "fails"
    if verdict != "works" and name in waived:
        verdict = "waived"
    return CheckState(
        disturbed,
        verdict,
        before.outcome if before else None,
        last.value if last else None,
        outside,
    )


def is_outside(function: Function | None, check: Checked) -> bool:
    """True when a measured value lies outside the limits of the device file."""
    measure = function.measure if function is not None else None
    if measure is None or check.value is None:
        return False
    too_low = measure.low is not None and check.value < measure.low
    return too_low or (measure.high is not None and check.value > measure.high)


def _last_try(function: str, events: tuple[Event, ...]) -> tuple[int, Checked | None]:
    for number in range(len(events) - 1, -1, -1):
        what = events[number].what
        if isinstance(what, Checked) and what.function == function and what.phase == "after":
            return number, what
    return -1, None


def _last_disturbance(device: Device, function: str, events: tuple[Event, ...]) -> int:
    for number in range(len(events) - 1, -1, -1):
        if any(each.function == function for each in _disturbed_at(device, events[number])):
            return number
    return -1


def _disturbed_at(device: Device, event: Event) -> tuple[Disturbed, ...]:
    what = event.what
    if isinstance(what, Opened):
        return disturbed_by(device, [what.joint], [])
    if isinstance(what, Started):
        return disturbed_by(device, what.opened, [])
    if isinstance(what, Exchanged):
        return disturbed_by(device, [], parts_of(device, what.part))
    if isinstance(what, PowerOff):
        return disturbed_by(device, isolating_joints(device), [])
    return ()


def open_proofs(device: Device, state: JobState) -> tuple[OpenProof, ...]:
    """What still has to be proven, carried over or written down; empty when the job is proven."""
    checks = checks_of_job(device, state)
    found = [_open_check(device, c) for c in checks if c.verdict in ("open", "fails")]
    finals = [
        _open_final(final)
        for final in final_checks_of_job(device, state)
        if final.verdict in ("open", "fails")
    ]
    return (*found, *finals, *_open_identities(device, state))


_WORK = (Opened, Closed, Exchanged)


def final_checks_of_job(device: Device, state: JobState) -> tuple[FinalState, ...]:
    """How the checks stand that a device asks for after every job, in the order of the device file.

    Args:
        device: The whole device.
        state: How the job stands.
    """
    waived = {waiver.check for waiver in state.waivers if waiver.check}
    last: dict[str, FinalCheck] = {}
    stale: set[str] = set()
    for event in in_force(state.log):
        what = event.what
        if isinstance(what, _WORK):
            stale.update(last)
            last.clear()
        elif isinstance(what, FinalCheck):
            last[what.check] = what
            stale.discard(what.check)
    return tuple(
        FinalState(
            check.id,
            check.name,
            check.check,
            _final_verdict(last.get(check.id), is_waived=check.id in waived),
            check.id in stale,
        )
        for check in device.checks.values()
        if check.final
    )


def _final_verdict(last: FinalCheck | None, *, is_waived: bool) -> Verdict:
    if last is not None and last.outcome == "works":
        return "works"
    if is_waived:
        return "waived"
    return "fails" if last is not None and last.outcome == "fails" else "open"


def _open_final(final: FinalState) -> OpenProof:
    name = marked(final.name)
    if final.verdict == "fails":
        return OpenProof("final_fails", say("{check} fails.", check=name), check=final.check)
    if final.stale:
        text = say("{check} has not been tried again: it was worked on since.", check=name)
    else:
        text = say("{check} has not been tried: it closes every job on this device.", check=name)
    return OpenProof("final_open", text, check=final.check)


def _open_identities(device: Device, state: JobState) -> list[OpenProof]:
    """What the last exchange of each part still asks for."""
    carried: dict[str, bool] = {}
    written: dict[str, bool] = {}
    for event in in_force(state.log):
        if isinstance(event.what, Exchanged):
            for part in parts_of(device, event.what.part):
                carried[part], written[part] = False, event.what.new_serial is not None
        elif isinstance(event.what, CarriedOver):
            carried[event.what.part] = True
    found: list[OpenProof] = []
    for identity in identities_of(device, written):
        name = marked(part_name(device, identity.part))
        if identity.carry_over and not carried[identity.part]:
            text = say(
                "The identity of the machine has not been carried over to the new {name}.",
                name=name,
            )
            found.append(OpenProof("identity", text, None, identity.part))
        if identity.write_serial and not written[identity.part]:
            text = say("The serial number of the new {name} has not been written down.", name=name)
            found.append(OpenProof("serial", text, None, identity.part))
    return found


def _open_check(device: Device, check: CheckState) -> OpenProof:
    function = device.functions.get(check.disturbed.function)
    name = marked(function.name if function else check.disturbed.function)
    why = listed([because_text(device, because) for because in check.disturbed.because], limit=2)
    if check.verdict == "open":
        text = _untried(name, why, again=check.stale)
        return OpenProof("check_open", text, check.disturbed.function)
    fails = say("{function} fails", function=name)
    if check.outside:
        fails = say("{function} fails (the value lies outside its limits)", function=name)
    worked = {"works": say("it worked before"), "fails": say("it failed before too")}.get(
        check.before or ""
    )
    text = (
        say("{what}; {before}.", what=fails, before=worked) if worked else joined("", (fails, "."))
    )
    return OpenProof("check_fails", text, check.disturbed.function)


def _untried(name: str, why: str, *, again: bool) -> str:
    if again:
        return say("{function} has not been tried again: {why}.", function=name, why=why)
    return say("{function} has not been tried: {why}.", function=name, why=why)
