"""Rules between keys of ``faults``, ``symptoms`` and ``checks``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from lastscrew.device.diagnosis import Check, Fault, Likelihood, Mend
from lastscrew.device.model import Device
from lastscrew.device.names import Path, nearest
from lastscrew.device.notes import Notes
from lastscrew.saying import say

FUNCTION_OUTCOMES: Final = ("good", "bad")
"""What can come of trying a function."""
_ROUNDING: Final = 1e-9


def check_diagnosis(device: Device, notes: Notes) -> None:
    """Note every broken rule."""
    for check in device.checks.values():
        for rule in _CHECK_RULES:
            rule(device, check, notes)
    _one_final(device, notes)
    for fault in device.faults.values():
        _one_culprit(fault, notes)
        _outcomes_of_fault(device, fault, notes)
        for index, mend in enumerate(fault.mends):
            _mend_fits(device, fault, index, mend, notes)
    _mends_agree(device, notes)
    _ids_apart(device, notes)


def _ids_apart(device: Device, notes: Notes) -> None:
    for check in device.checks:
        if check in device.functions:
            notes.add(
                ("checks", check),
                say("{check} is the id of a function, too", check=check),
                say("Faults name checks and functions alike: choose another id."),
                code="id_twice",
            )


def _measure_has_limits(_device: Device, check: Check, notes: Notes) -> None:
    path: Path = ("checks", check.id, "measure")
    limits = check.limits
    if limits is None or notes.node(path) is None:
        return
    if limits.low is None and limits.high is None and not _bad_below(notes, path):
        notes.add(
            path,
            say("a measured value needs a limit"),
            say("Add low, high or both."),
            code="missing",
        )
    elif limits.low is not None and limits.high is not None and limits.low > limits.high:
        notes.add(
            (*path, "low"),
            say("low ({low}) is above high ({high})", low=limits.low, high=limits.high),
            say("Exchange them."),
            code="out_of_range",
        )
    if notes.node(("checks", check.id, "outcomes")) is not None:
        notes.add(
            ("checks", check.id, "outcomes"),
            say("outcomes stand beside measure"),
            say("Leave one of them out: a measure has the outcomes good, low and high."),
            code="outcomes_twice",
        )


def _bad_below(notes: Notes, path: Path) -> bool:
    """True when a value below ``path`` is written, but could not be read."""
    return any(notes.node((*path, key)) is not None for key in ("low", "high"))


def _leak_names_outcomes(_device: Device, check: Check, notes: Notes) -> None:
    _outcomes_known(check.outcomes, check.leak, ("checks", check.id, "leak"), notes)


def _outcomes_known(
    outcomes: tuple[str, ...], chances: Mapping[str, Likelihood], path: Path, notes: Notes
) -> None:
    """Names are outcomes, and the chances leave room for one another."""
    for name in chances:
        if name not in outcomes:
            meant = nearest(name, outcomes)
            notes.add(
                (*path, name),
                say('"{name}" is no outcome of this check', name=name),
                say("Did you mean {name}?", name=meant)
                if meant
                else say("It has {outcomes}.", outcomes=", ".join(outcomes)),
                code="unknown_name",
            )
    total = sum(chance.value for chance in chances.values())
    if total > 1 + _ROUNDING:
        notes.add(
            path,
            say("the chances of the outcomes sum to {total}", total=f"{total:.3g}"),
            say("Together they are at most 1; what is left goes to the first outcome."),
            code="chances_above_one",
        )
    elif set(outcomes) == set(chances) and total < 1 - 1e-3:
        notes.add(
            path,
            say("the chances of all outcomes sum to {total}, not to 1", total=f"{total:.3g}"),
            say("Leave one of them out (the rest goes to the first outcome), or correct them."),
            code="chances_below_one",
        )


def _open_and_closed(device: Device, check: Check, notes: Notes) -> None:
    path: Path = ("checks", check.id)
    _not_both(check.open, check.closed, path, notes)
    powered = check.power == "on"
    for key, joints in (("open", check.open), ("may_be_open", check.may_be_open)):
        for index, joint in enumerate(joints):
            if powered and joint in device.joints and device.joints[joint].isolates:
                notes.add(
                    (*path, key, index),
                    say("{joint} takes the power away, but power is to be on", joint=joint),
                    say("Leave it out, or say power: off."),
                    code="power",
                )
    if check.may_be_open and not powered:
        notes.add(
            (*path, "may_be_open"),
            say("may_be_open is only of use with power: on"),
            say("Say power: on, or leave it out."),
            code="power",
        )
    part = device.parts.get(check.swap_test or "")
    if check.swap_test is not None and not powered:
        notes.add(
            (*path, "power"), say("a swap test needs power"), say("Say power: on."), code="power"
        )
    if part is not None and part.fixed:
        notes.add(
            (*path, "swap_test"),
            say("{id} is fixed: no other can be hung in its place", id=part.id),
            say("Name a part that comes off."),
            code="fixed_part",
        )


def _not_both(opened: tuple[str, ...], closed: tuple[str, ...], path: Path, notes: Notes) -> None:
    for index, joint in enumerate(closed):
        if joint in opened:
            notes.add(
                (*path, "closed", index),
                say("{joint} can't be open and closed at once", joint=joint),
                say("Keep it in one of the two."),
                code="open_and_closed",
            )


_CHECK_RULES: Final[tuple[Callable[[Device, Check, Notes], None], ...]] = (
    _measure_has_limits,
    _leak_names_outcomes,
    _open_and_closed,
)


def _one_final(device: Device, notes: Notes) -> None:
    finals = [check.id for check in device.checks.values() if check.final]
    for extra in finals[1:]:
        notes.add(
            ("checks", extra, "final"),
            say("{extra} is final, but {finals} is already", extra=extra, finals=finals[0]),
            say("A device has one check of its own; let it try everything that matters."),
            code="final_twice",
        )
    for check in device.checks.values():
        if check.final and check.swap_test is not None:
            notes.add(
                ("checks", check.id, "final"),
                say("a swap test can't prove that the device itself works"),
                say("Make another check final."),
                code="final_swap",
            )


def _one_culprit(fault: Fault, notes: Notes) -> None:
    path: Path = ("faults", fault.id)
    written = [key for key in ("part", "joint") if notes.node((*path, key)) is not None]
    if not written:
        notes.add(
            path,
            say("a fault names a part or a joint"),
            say("Add part: or joint:."),
            code="missing",
        )
    elif len(written) == 2:
        notes.add(
            (*path, "joint"),
            say("a fault names a part or a joint, not both"),
            say("Keep what is at fault; a mend may name something else."),
            code="part_and_joint",
        )


def outcomes_of(device: Device, check: str) -> tuple[str, ...]:
    """Outcomes of a check or function, by its id."""
    return device.checks[check].outcomes if check in device.checks else FUNCTION_OUTCOMES


def _outcomes_of_fault(device: Device, fault: Fault, notes: Notes) -> None:
    for check, chances in fault.checks.items():
        path: Path = ("faults", fault.id, "checks", check)
        outcomes = outcomes_of(device, check)
        final = device.checks.get(check)
        if final is not None and final.final:
            notes.add(
                path,
                say(
                    "{check} is the device's own check: it always tells whether it works",
                    check=check,
                ),
                say("Leave it out here."),
                code="final_chance",
            )
        elif "" in chances and len(outcomes) > 2:
            notes.add(
                path,
                say("{check} has more than two outcomes", check=check),
                say(
                    "Write a chance for each: {example}.",
                    example="{" + ", ".join(f"{o}: …" for o in outcomes[1:]) + "}",
                ),
                code="which_outcome",
            )
        elif "" not in chances:
            _outcomes_known(outcomes, chances, path, notes)


def _mend_fits(device: Device, fault: Fault, index: int, mend: Mend, notes: Notes) -> None:
    path: Path = ("faults", fault.id, "mends", index)
    written = {key for key in ("part", "joint") if notes.node((*path, key)) is not None}
    if len(written) == 2:
        notes.add(
            (*path, "joint"),
            say("a mend is done to a part or to a joint"),
            say("Keep one."),
            code="part_and_joint",
        )
    needed = {"exchange": "part", "reseat": "joint"}.get(mend.do)
    if needed is not None and getattr(mend, needed) is None and needed not in written:
        if fault.part is not None or fault.joint is not None:
            notes.add(
                path,
                say("exchange needs a part") if needed == "part" else say("reseat needs a joint"),
                say("Add part: what is to be exchanged.")
                if needed == "part"
                else say("Add joint: what is to be seated again."),
                code="missing",
            )
    part = device.parts.get(mend.part or "")
    if mend.do == "exchange" and part is not None and part.fixed:
        notes.add(
            (*path, "part" if "part" in written else "do"),
            say("{id} is fixed: it stays on the bench", id=part.id),
            say("Name a part that comes off."),
            code="fixed_part",
        )
    _not_both(mend.open, mend.closed, path, notes)


def _mends_agree(device: Device, notes: Notes) -> None:
    """The same mend of several faults is one action: what it costs can't differ."""
    first: dict[tuple[str, str], tuple[str, int, Mend]] = {}
    for fault in device.faults.values():
        for index, mend in enumerate(fault.mends):
            key = (mend.do, mend.name or mend.part or mend.joint or "")
            if key not in first:
                first[key] = (fault.id, index, mend)
                continue
            other, at, known = first[key]
            for name, here, there in (
                ("seconds", mend.ms, known.ms),
                ("price", mend.price, known.price),
                ("power", mend.power, known.power),
            ):
                if here is not None and there is not None and here != there:
                    notes.add(
                        ("faults", fault.id, "mends", index, name),
                        say(
                            "the same mend has another value at faults.{other}.mends[{at}]",
                            other=other,
                            at=at,
                        ),
                        say("One mend has one cost, whatever it cures: make them alike."),
                        code="mends_differ",
                    )
