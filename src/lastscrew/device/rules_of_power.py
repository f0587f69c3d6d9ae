"""Rules about work with power on: it may leave open only those live joints that it names.

What lies open on the way to a check, a swap test, a mend or a function that is tried before a joint is closed
is asked of a unit with every option fitted. These are warnings: a plan can still be made, and only the work
that they are about is refused until they are heeded.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from lastscrew.device.diagnosis import Check, Mend
from lastscrew.device.fitting import device_parts_in, fit, hung_joints, joints_around
from lastscrew.device.model import Device, Joint
from lastscrew.device.names import Path
from lastscrew.device.notes import Notes
from lastscrew.device.opening import is_live, isolating_joints
from lastscrew.device.reaching import TooTangledError
from lastscrew.device.ways import Ways
from lastscrew.saying import say

_MOST_STEPS: Final = 1_000_000
"""Steps spent on all of it; real devices need some thousands."""


def check_power(device: Device, notes: Notes) -> None:
    """Warn of live joints that lie open with power on and are not named, and of needs that can't be met.

    Nothing is said of a file with errors, in which what is bad could make it false.
    """
    if notes.touched:
        return
    try:
        _Power(device, notes).check()
    except TooTangledError:
        return


class _Power:
    """The rules for one device file."""

    def __init__(self, device: Device, notes: Notes) -> None:
        self.written, self.notes = device, notes
        self.device = fit(device, fitted=device.options)
        self.ways = Ways(self.device, _MOST_STEPS)
        self.isolators = isolating_joints(self.device)
        self.live = {
            joint.id
            for joint in self.device.joints.values()
            if is_live(self.device, joint) and not joint.isolates
        }

    def check(self) -> None:
        for check in self.written.checks.values():
            self._of_check(check)
        for fault in self.written.faults.values():
            for index, mend in enumerate(fault.mends):
                self._of_mend(mend, ("faults", fault.id, "mends", index))
        for joint in self.device.joints.values():
            for index, function in enumerate(joint.prove_before_close):
                self._of_function(function, joint, index)

    def _of_check(self, check: Check) -> None:
        hung = hung_joints(self.device, check.swap_test) if check.swap_test is not None else ()
        needed = {*check.open, *hung}
        key = "swap_test" if hung and not check.open else "open"
        path: Path = ("checks", check.id, key)
        powered = (check.power or ("on" if check.final else None)) == "on"
        if not self._in_reach(needed, check.closed, path, powered=powered) or not powered:
            return
        named = {*needed, *check.may_be_open}
        joints = self._not_named(needed, check.closed, named)
        if joints and check.swap_test is not None:
            remedy = say(
                "Name {joints} under may_be_open, so that a person can confirm it.", joints=joints
            )
        else:
            remedy = say(
                "Name {joints} under may_be_open or open, so that a person can confirm it; or say power: off.",
                joints=joints,
            )  # fmt: skip
        if joints:
            self._warn_not_named(path, joints, remedy)

    def _of_mend(self, mend: Mend, path: Path) -> None:
        handled: tuple[str, ...] = ()
        if mend.do == "exchange" and mend.part is not None:
            handled = joints_around(self.device, device_parts_in(self.device, mend.part))
        elif mend.joint in self.device.joints:
            handled = (mend.joint or "",)
        needed = {*mend.open, *handled}
        key: Path = (*path, "open") if self.notes.node((*path, "open")) is not None else path
        powered = (mend.power or ("on" if mend.do == "update" else None)) == "on"
        if not self._in_reach(needed, mend.closed, key, powered=powered) or not powered:
            return
        at_work = [joint for joint in handled if joint in self.live]
        if at_work:
            self.notes.warn(
                (*path, "power"),
                say("{joints} are live, and would be worked on with power on", joints=", ".join(at_work)),
                say("Say power: off, or leave it out."),
                code="live_worked_on",
            )  # fmt: skip
            return
        joints = self._not_named(needed, mend.closed, needed)
        if joints:
            remedy = say(
                "Name {joints} under open, so that a person can confirm it; or say power: off.",
                joints=joints,
            )
            self._warn_not_named(key, joints, remedy)

    def _in_reach(
        self, needed: Collection[str], closed: Collection[str], path: Path, *, powered: bool
    ) -> bool:
        """Whether what must be open can be, with what must be closed."""
        kept = self._kept_closed(closed, powered=powered)
        if self.ways.reached(kept).issuperset(needed):
            return True
        if self.ways.reached().issuperset(needed):  # else the joints themselves are at fault
            self.notes.warn(
                path,
                say("there is no way to it while {joints} must be closed", joints=", ".join(closed)),
                say("Correct open and closed."),
                code="out_of_reach",
            )  # fmt: skip
        return False

    def _kept_closed(self, closed: Collection[str], *, powered: bool) -> set[str]:
        """What stays closed all the way: with power on, what isolates is opened and closed again."""
        return {*closed}.difference(self.isolators) if powered else {*closed}

    def _not_named(
        self, needed: Collection[str], closed: Collection[str], named: Collection[str]
    ) -> str:
        kept = self._kept_closed(closed, powered=True)
        return ", ".join(self.ways.least_of(self.live.difference(named), needed, kept))

    def _warn_not_named(self, path: Path, joints: str, remedy: str) -> None:
        self.notes.warn(
            path,
            say("power is to be on, and {joints}, live and not named, must be open for it", joints=joints),
            remedy,
            code="live_not_named",
        )  # fmt: skip

    def _of_function(self, name: str, joint: Joint, index: int) -> None:
        """A function that is tried before a joint is closed, the power given back for it."""
        if joint.id not in self.live and not any(
            self.ways.must_open(isolator, (joint.id,)) for isolator in self.isolators
        ):
            return
        function = self.device.functions[name]
        entry = self.device.checks.get(function.entry or "")
        named = {joint.id}
        named |= {
            other.id for other in self.device.joints.values() if name in other.prove_before_close
        }
        if entry is not None:
            named |= {*entry.open, *entry.may_be_open}
        still_open = [
            other
            for other in sorted(self.live - named)
            if self.ways.must_open(other, (joint.id,))
        ]  # fmt: skip
        if still_open:
            joints = ", ".join(still_open)
            self.notes.warn(
                ("joints", joint.id, "prove_before_close", index),
                say(
                    "{function} is tried with power on before {joint} is closed, and {joints}, live and not named, "
                    "must be open then",
                    function=name,
                    joint=joint.id,
                    joints=joints,
                ),
                say(
                    "Let check: of {function} name an entry of checks with may_be_open: [{joints}], so that a person "
                    "can confirm it; or prove it before another joint is closed.",
                    function=name,
                    joints=joints,
                ),
                code="live_not_named",
            )
