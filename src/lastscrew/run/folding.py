"""From events to the state of a job.

Folding never refuses an event: what was done was done. What contradicts the rules, the device file
or itself is kept as a remark beside it. Folding a prefix and then the rest gives the same state as
folding all at once, and an event that comes twice counts once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, replace
from typing import Any

from lastscrew.device.fitting import fit, joints_around, joints_within
from lastscrew.device.model import Device
from lastscrew.device.opening import isolating_joints
from lastscrew.plan.model import Limb
from lastscrew.plan.wording import joint_name, listed, marked
from lastscrew.run import events as e
from lastscrew.run.rules import hold_texts, powered_check, ways, what_hinders
from lastscrew.run.state import JobState, Remark, parts_of
from lastscrew.saying import say


def without_resends(events: Iterable[e.Event]) -> tuple[e.Event, ...]:
    """The events in order, each id once (the first counts)."""
    kept: dict[str, e.Event] = {}
    for event in events:
        kept.setdefault(event.id, event)
    return tuple(kept.values())


def in_force(events: Sequence[e.Event]) -> tuple[e.Event, ...]:
    """Events that count: resends and what was taken back left out, taking back itself too.

    A taking back that was itself taken back has no effect. It reaches earlier events only.
    """
    log = without_resends(events)
    place = {event.id: number for number, event in enumerate(log)}
    gone: set[str] = set()
    for number in range(len(log) - 1, -1, -1):
        what = log[number].what
        if isinstance(what, e.TakenBack) and log[number].id not in gone:
            if place.get(what.about, number) < number:
                gone.add(what.about)
    return tuple(
        event for event in log if event.id not in gone and not isinstance(event.what, e.TakenBack)
    )


def fold(device: Device, events: Iterable[e.Event], state: JobState | None = None) -> JobState:
    """The state after more events.

    Args:
        device: The whole device, of the revision that the job keeps.
        events: What happened, in order. Ids that ``state`` knows already are skipped.
        state: The state before; None for a new job.
    """
    before = state or JobState()
    known = {event.id for event in before.log}
    fresh = [event for event in without_resends(events) if event.id not in known]
    log = (*before.log, *fresh)
    if any(isinstance(event.what, e.TakenBack) for event in fresh):
        # What was taken back may lie before the state that we were given: begin again.
        return _folded(device, JobState(), log, log)
    return _folded(device, before, fresh, log)


def objections(device: Device, state: JobState, event: e.Event) -> tuple[Remark, ...]:
    """What speaks against an event before it is taken in: the remarks that it would leave."""
    after = fold(device, [event], state)
    return tuple(remark for remark in after.remarks if remark.event == event.id)


def _folded(
    device: Device, before: JobState, fresh: Sequence[e.Event], log: tuple[e.Event, ...]
) -> JobState:
    job = _Job(device, before)
    taken = {event.id for event in in_force(fresh)}
    place = {event.id: number for number, event in enumerate(log)}
    for event in fresh:
        what = event.what
        if event.id in taken:
            job.take(event)
        elif isinstance(what, e.TakenBack) and place.get(what.about, len(log)) >= place[event.id]:
            job.remarks.append(
                Remark(
                    event.id,
                    "unknown_event",
                    say("there is no earlier event {about}", about=what.about),
                )
            )
    return job.state(log)


class _Job:
    """The state while events are being taken in."""

    def __init__(self, device: Device, before: JobState) -> None:
        self.whole = device
        self.values: dict[str, Any] = {
            spec.name: getattr(before, spec.name) for spec in fields(before)
        }
        self.open = list(before.open)
        self.opened = list(before.opened)
        self.remarks = list(before.remarks)
        self.check_on = before.check_on
        self.fitted = fit(device, before.not_fitted, before.fitted)
        self.event_id = ""

    def state(self, log: tuple[e.Event, ...]) -> JobState:
        """The state as a value."""
        changed: dict[str, Any] = {
            "open": tuple(self.open),
            "opened": tuple(self.opened),
            "remarks": tuple(self.remarks),
            "check_on": self.check_on,
            "log": log,
        }
        return replace(JobState(), **{**self.values, **changed})

    def take(self, event: e.Event) -> None:
        """Take one event in."""
        self.event_id = event.id
        what = event.what
        if event.by is not None:
            self.values["worker"] = event.by
        if not self.values["started"] and not isinstance(what, e.Started):
            self._remark_once("not_started", say("the job has no event started before this one"))
        if self.values["outcome"] is not None and isinstance(what, _WORK):
            self.remark("after_end", say("the job had ended"))
        if isinstance(what, e.PowerOn) and event.by is None:
            self.remark("nobody_confirmed", say("a powered check needs a person who confirms it"))
        handler = _HANDLERS.get(type(what))
        if handler is not None:
            handler(self, what)

    def remark(self, code: str, text: str) -> None:
        """Keep what does not fit at the event at hand."""
        self.remarks.append(Remark(self.event_id, code, text))

    def _remark_once(self, code: str, text: str) -> None:
        if not any(remark.code == code for remark in self.remarks):
            self.remark(code, text)

    def named(self, joint_id: str) -> str:
        """The joint's name, set off."""
        return marked(joint_name(self.whole, joint_id))

    def append(self, key: str, value: object) -> None:
        """Add to one of the tuples of the state."""
        self.values[key] = (*self.values[key], value)

    # --- the job --------------------------------------------------------------------------------

    def started(self, what: e.Started) -> None:
        if self.values["started"]:
            self.remark("started_twice", say("the job had begun already"))
            return
        self.values["started"] = True
        if what.device != self.whole.id:
            text = say(
                "the job is about the device {device}, the file is about {id}",
                device=what.device,
                id=self.whole.id,
            )
            self.remark("other_device", text)
        elif what.revision != self.whole.revision_hash:
            text = say(
                "the job began with revision {revision} of the device file, this one is {revision_hash}",
                revision=what.revision[:12],
                revision_hash=self.whole.revision_hash[:12],
            )
            self.remark("other_revision", text)
        for key in (
            "device",
            "revision",
            "unit",
            "replace",
            "reach",
            "not_fitted",
            "fitted",
            "without",
        ):
            self.values[key] = getattr(what, key)
        self.fitted = fit(self.whole, what.not_fitted, what.fitted)
        self.values["side"] = what.side or self.whole.sides[0]
        self._know_sides(what.side)
        for piece in what.replace:
            self._know_piece(piece)
        for joint_id in (*what.reach, *what.without):
            self._know_joint(joint_id)
        for joint_id in dict.fromkeys(what.opened):
            if self._know_joint(joint_id):
                self.open.append(joint_id)
                self.opened.append(joint_id)

    def target_added(self, what: e.TargetAdded) -> None:
        key, value = ("replace", what.replace) if what.replace else ("reach", what.reach)
        known = self._know_piece(value) if key == "replace" else self._know_joint(value)
        if known and value not in self.values[key]:
            self.append(key, value)

    def target_dropped(self, what: e.TargetDropped) -> None:
        key, value = ("replace", what.replace) if what.replace else ("reach", what.reach)
        if value not in self.values[key]:
            self.remark("no_target", say("{value} was no target", value=value))
        self.values[key] = tuple(target for target in self.values[key] if target != value)

    def finished(self, what: e.Finished) -> None:
        self.values["outcome"] = what.outcome
        waived = {w.joint for w in self.values["waivers"]}
        if left := [joint_id for joint_id in self.open if joint_id not in waived]:
            names = listed([self.named(joint_id) for joint_id in left], limit=5)
            self.remark("open_joints", say("it ended with {names} open", names=names))

    def paused(self, _what: e.Paused) -> None:
        self.values["paused"] = True

    def resumed(self, _what: e.Resumed) -> None:
        self.values["paused"] = False
        self.values["parked"] = None

    def handed_over(self, what: e.HandedOver) -> None:
        self.values["worker"] = what.to

    def parked(self, what: e.Parked) -> None:
        self.values["parked"] = what
        isolators = isolating_joints(self.fitted)
        if what.isolated and any(joint_id not in self.open for joint_id in isolators):
            self.remark(
                "not_isolated", say("it was parked as isolated, but an isolating joint is closed")
            )

    # --- joints ---------------------------------------------------------------------------------

    def opening(self, what: e.Opened) -> None:
        if not self._know_joint(what.joint):
            return
        if what.joint in self.open:
            self.remark(
                "already_open", say("{joint} was open already", joint=self.named(what.joint))
            )
            return
        self._judge_opening(what)
        self._move(what.joint, what.side, what.tool)
        self.open.append(what.joint)
        if what.joint not in self.opened:
            self.opened.append(what.joint)
        self._forget_renewed(what.joint)
        isolators = isolating_joints(self.fitted)
        if self.check_on and all(joint_id in self.open for joint_id in isolators):
            self._end_check()

    def _judge_opening(self, what: e.Opened) -> None:
        joint = self.whole.joints[what.joint]
        name = self.named(what.joint)
        if self.check_on and not joint.isolates:
            self.remark(
                "power_on", say("{name} was opened while power was on for a check", name=name)
            )
        if what.joint in self.values["without"]:
            self.remark("forbidden", say("{name} was not to be opened", name=name))
        self._judge_step(what.joint, "in")

    def closing(self, what: e.Closed) -> None:
        if not self._know_joint(what.joint):
            return
        name = self.named(what.joint)
        if what.joint not in self.open:
            self.remark("not_open", say("{name} was not open", name=name))
            return
        if what.came_closed:
            self._came_closed(what.joint)
            return
        if self.check_on:
            self.remark(
                "power_on", say("{name} was closed while power was on for a check", name=name)
            )
        self._judge_step(what.joint, "out")
        for function in self.whole.joints[what.joint].prove_before_close:
            if not self._was_proven(function):
                self.remark(
                    "not_proven",
                    say(
                        "{name} was closed before {function} was shown to work",
                        name=name,
                        function=function,
                    ),
                )
        self._move(what.joint, what.side, what.tool)
        self.open.remove(what.joint)

    def _came_closed(self, joint_id: str) -> None:
        """Nobody closed it at this machine: what a closing is judged by does not count."""
        self.open.remove(joint_id)
        pieces = [parts_of(self.whole, each.part) for each in self.values["exchanged"]]
        if not any(joint_id in joints_within(self.fitted, parts) for parts in pieces):
            text = say("{joint} lies in nothing that was exchanged", joint=self.named(joint_id))
            self.remark("not_exchanged", text)
        self.append("renewed_joints", joint_id)

    def _forget_renewed(self, joint_id: str) -> None:
        renewed = self.values["renewed_joints"]
        self.values["renewed_joints"] = tuple(each for each in renewed if each != joint_id)

    def _was_proven(self, function: str) -> bool:
        checks = self.values["checks"]
        found = [
            checks[function, phase] for phase in ("during", "after") if (function, phase) in checks
        ]
        waived = any(waiver.function == function for waiver in self.values["waivers"])
        return waived or any(check.outcome == "works" for check in found)

    def _judge_step(self, joint_id: str, limb: Limb) -> None:
        """Remark on a step that the rules did not allow, or whose hold point nobody confirmed."""
        joint = self.fitted.joints.get(joint_id)
        if joint is None:
            self.remark(
                "not_fitted", say("{joint} is not fitted in this unit", joint=self.named(joint_id))
            )
            return
        if hindrance := what_hinders(self.fitted, self.open, joint_id):
            self.remark("not_allowed", _done_although(self.named(joint_id), limb, hindrance))
        if (
            hold_texts(self.fitted, joint, limb)
            and (joint_id, limb) not in self.values["confirmed"]
        ):
            self.remark("hold_not_confirmed", _done_unconfirmed(self.named(joint_id), limb))

    def _move(self, joint_id: str, side: str | None, tool: str | None) -> None:
        """Side and tool after a step: as told, else as the only access that allowed it has them."""
        self._know_sides(side)
        joint = self.whole.joints[joint_id]
        fitted = joint_id in self.fitted.joints
        found = ways(self.fitted, self.open, joint_id) if fitted else ()
        access = joint.accesses[found[0]] if len(found) == 1 else None
        self.values["side"] = side or (access.side if access else self.values["side"])
        expected = (access.close_tool if joint_id in self.open else access.tool) if access else None
        self.values["tool"] = tool or expected

    def turned(self, what: e.Turned) -> None:
        self._know_sides(what.side)
        self.values["side"] = what.side

    def act_done(self, what: e.ActDone) -> None:
        act = self.whole.acts.get(what.act)
        if act is None:
            self.remark("unknown_act", say("the device has no act {act}", act=what.act))
            return
        if act.hold and not any(key == act.id for key, _ in self.values["confirmed"]):
            self.remark(
                "hold_not_confirmed",
                say("{id} was done before its hold point was confirmed", id=act.id),
            )
        self.append("acts_done", what.act)

    def confirmed(self, what: e.Confirmed) -> None:
        key = what.joint or what.act or ""
        limbs = (what.limb,) if what.limb else ("in", "out")
        self.values["confirmed"] = self.values["confirmed"] | {(key, limb) for limb in limbs}

    def waived(self, what: e.Waived) -> None:
        self.append("waivers", what)

    def count_corrected(self, what: e.CountCorrected) -> None:
        if self._know_joint(what.joint):
            self.values["counts"] = {**self.values["counts"], what.joint: what.count}

    # --- parts ----------------------------------------------------------------------------------

    def exchanging(self, what: e.Exchanged) -> None:
        parts = parts_of(self.whole, what.part)
        if not parts:
            self._know_piece(what.part)
            return
        around = joints_around(self.fitted, parts)
        if tied := [joint_id for joint_id in around if joint_id not in self.open]:
            names = listed([self.named(joint_id) for joint_id in tied], limit=5)
            self.remark(
                "still_tied",
                say("{part} was exchanged while {names} held it", part=what.part, names=names),
            )
        self.append("exchanged", what)
        self.values["judged"] = {
            part: verdict for part, verdict in self.values["judged"].items() if part not in parts
        }

    def carried_over(self, what: e.CarriedOver) -> None:
        self._know_part(what.part)
        self.append("carried_over", what)

    def part_judged(self, what: e.PartJudged) -> None:
        if self._know_part(what.part):
            self.values["judged"] = {**self.values["judged"], what.part: what.state}

    # --- power and proof ------------------------------------------------------------------------

    def power_on(self, what: e.PowerOn) -> None:
        if self.check_on:
            self.remark("check_twice", say("a powered check was on already"))
            return
        hold = powered_check(self.fitted, self.open)
        if not hold.isolators:
            self.remark(
                "not_isolated", say("no isolating joint was open before this powered check")
            )
        for joint_id in hold.names:
            if joint_id not in what.names:
                self.remark(
                    "not_named",
                    say("{joint} stayed open and was not named", joint=self.named(joint_id)),
                )
        for joint_id in what.names:
            if joint_id not in hold.names:
                self.remark(
                    "named_in_vain",
                    say("{joint} was named and was not open", joint=self.named(joint_id)),
                )
        for joint_id in hold.isolators:
            if hindrance := what_hinders(self.fitted, self.open, joint_id):
                text = _done_although(self.named(joint_id), "out", hindrance)
                self.remark("not_allowed", text)
        self.open = [joint_id for joint_id in self.open if joint_id not in hold.isolators]
        self.check_on = True
        self.values["check_isolators"] = hold.isolators
        self.values["check_functions"] = what.functions

    def power_off(self, _what: e.PowerOff) -> None:
        if not self.check_on:
            self.remark("no_check", say("no powered check was on"))
            return
        self.open.extend(j for j in self.values["check_isolators"] if j not in self.open)
        self._end_check()

    def _end_check(self) -> None:
        self.check_on = False
        self.values["check_isolators"] = ()
        self.values["check_functions"] = ()

    def checked(self, what: e.Checked) -> None:
        if what.function not in self.whole.functions:
            self.remark(
                "unknown_function",
                say("the device has no function {function}", function=what.function),
            )
            return
        self.values["checks"] = {**self.values["checks"], (what.function, what.phase): what}

    def final_check(self, what: e.FinalCheck) -> None:
        check = self.whole.checks.get(what.check)
        if check is None or not check.final:
            self.remark(
                "unknown_check", say("the device has no final check {check}", check=what.check)
            )

    # --- what the device knows ------------------------------------------------------------------

    def _know_joint(self, joint_id: str | None) -> bool:
        if joint_id in self.whole.joints:
            return True
        self.remark("unknown_joint", say("the device has no joint {joint_id}", joint_id=joint_id))
        return False

    def _know_part(self, part_id: str) -> bool:
        if part_id in self.whole.parts:
            return True
        self.remark("unknown_part", say("the device has no part {part_id}", part_id=part_id))
        return False

    def _know_piece(self, piece: str | None) -> bool:
        if piece and parts_of(self.whole, piece):
            return True
        self.remark("unknown_part", say("the device has no part or spare {piece}", piece=piece))
        return False

    def _know_sides(self, side: str | None) -> None:
        if side is not None and side not in self.whole.sides:
            self.remark("unknown_side", say("the device has no side {side}", side=side))


def _done_although(joint: str, limb: Limb, hindrance: str) -> str:
    if limb == "in":
        return say("{joint} was opened although {hindrance}", joint=joint, hindrance=hindrance)
    return say("{joint} was closed although {hindrance}", joint=joint, hindrance=hindrance)


def _done_unconfirmed(joint: str, limb: Limb) -> str:
    if limb == "in":
        return say("{joint} was opened before its hold point was confirmed", joint=joint)
    return say("{joint} was closed before its hold point was confirmed", joint=joint)


_WORK = (e.Opened, e.Closed, e.Exchanged, e.PowerOn, e.ActDone)

_HANDLERS: dict[type[e.Happening], Callable[[_Job, Any], None]] = {
    e.Started: _Job.started,
    e.TargetAdded: _Job.target_added,
    e.TargetDropped: _Job.target_dropped,
    e.Finished: _Job.finished,
    e.Paused: _Job.paused,
    e.Resumed: _Job.resumed,
    e.HandedOver: _Job.handed_over,
    e.Parked: _Job.parked,
    e.Opened: _Job.opening,
    e.Closed: _Job.closing,
    e.Turned: _Job.turned,
    e.ActDone: _Job.act_done,
    e.Confirmed: _Job.confirmed,
    e.Waived: _Job.waived,
    e.CountCorrected: _Job.count_corrected,
    e.Exchanged: _Job.exchanging,
    e.CarriedOver: _Job.carried_over,
    e.PartJudged: _Job.part_judged,
    e.PowerOn: _Job.power_on,
    e.PowerOff: _Job.power_off,
    e.Checked: _Job.checked,
    e.FinalCheck: _Job.final_check,
}
"""Happenings that change the state; the others speak to the ledger, or to people."""
