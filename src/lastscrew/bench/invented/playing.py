"""A job as it might go at the bench: a plan played step by step into run events. Pure; chance comes from outside."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from random import Random

from lastscrew.device.model import Device, Joint
from lastscrew.fasteners.tray import TrayMap, tray_map
from lastscrew.plan.cautions import Hold, holds_of
from lastscrew.plan.model import Plan, Step
from lastscrew.proof.checks import disturbed_by, identities_of
from lastscrew.run import events as e

TRAY = (4, 6)
"""Rows and columns of the tray on the invented benches."""

CHECK_S = 45
"""Seconds for a check that says nothing of its own (our own figure)."""


@dataclass(slots=True)
class Playing:
    """How a job is played.

    Attributes:
        run: Key of the job; ids of events begin with it.
        client: Key of the screen.
        start_ms: When it begins.
        chance: Draws how long things take.
        pace: Factor on all times; hands differ.
        unit: Serial number of the machine.
    """

    run: str
    client: str
    start_ms: int
    chance: Random
    pace: float = 1.0
    unit: str | None = None
    number: int = field(default=0, init=False)
    now_ms: int = field(default=0, init=False)

    def event(self, what: e.Happening, after_ms: float = 0) -> e.Event:
        """The next event, so long after the one before."""
        # Times of human work spread to the right: a log-normal with a tenth's to a third's spread (common
        # practice, no source).
        self.now_ms += int(after_ms * self.pace * self.chance.lognormvariate(0, 0.25))
        made = e.Event(
            id=f"{self.run}-{self.number}",
            what=what,
            at_ms=self.now_ms,
            run=self.run,
            client=self.client,
            sequence=self.number,
            base=self.number,
        )
        self.number += 1
        return made


def play(device: Device, plan: Plan, playing: Playing) -> Iterator[e.Event]:
    """Every event of a job that goes as planned, from ``started`` to the last check; without ``finished``.

    Args:
        device: The whole device.
        plan: From all closed.
        playing: How it is played.
    """
    playing.now_ms = playing.start_ms
    request = plan.request
    yield playing.event(
        e.Started(
            device=device.id,
            revision=device.revision_hash,
            unit=playing.unit,
            replace=request.replace,
            reach=request.reach,
            not_fitted=request.not_fitted,
        )
    )
    holds = holds_of(device, plan)
    tray = tray_map(device, plan, *TRAY)
    for act in plan.start_acts:
        yield from _act(device, playing, act)
    for step in plan.way_in:
        yield from _step(device, playing, step, holds, tray)
    for act in plan.turning_acts:
        yield from _act(device, playing, act)
    for piece, parts in zip(request.replace, plan.pieces, strict=True):
        yield from _exchange(device, playing, piece, parts)
    for step in plan.way_out:
        yield from _step(device, playing, step, holds, tray)
    for act in plan.end_acts:
        yield from _act(device, playing, act)
    yield from _prove(device, plan, playing)


def _step(
    device: Device, playing: Playing, step: Step, holds: tuple[Hold, ...], tray: TrayMap
) -> Iterator[e.Event]:
    joint = device.joints[step.joint]
    mine = [h for h in holds if (h.joint, h.limb) == (step.joint, step.limb) and h.kind != "prove"]
    yield from _confirm(playing, [hold for hold in mine if hold.when == "before"])
    before, after = _acts_around(device, step)
    for act in before:
        yield from _act(device, playing, act)
    took_ms = step.setup_ms + step.work_ms - step.act_ms
    if step.limb == "in":
        place = tray.compartment_of(step.joint)
        yield playing.event(
            e.Opened(joint=step.joint, side=step.side, tool=step.tool, compartment=place), took_ms
        )
    else:
        for supply, amount in joint.renew.items():
            yield playing.event(e.Renewed(supply=supply, amount=amount, joint=step.joint), 3_000)
        for function in joint.prove_before_close:
            yield playing.event(_checked(device, function, "during"), CHECK_S * 1_000)
        yield playing.event(e.Closed(joint=step.joint, side=step.side, tool=step.tool), took_ms)
        yield from _counted(playing, joint)
    yield from _confirm(playing, [hold for hold in mine if hold.when == "after"])
    for act in after:
        yield from _act(device, playing, act)


def _acts_around(device: Device, step: Step) -> tuple[list[str], list[str]]:
    """The acts of a step: what is done before it, and after."""
    first = [act for act in step.act_ids if device.acts[act].at.startswith("before")]
    return first, [act for act in step.act_ids if act not in first]


def _confirm(playing: Playing, holds: list[Hold]) -> Iterator[e.Event]:
    """Hold points of a step: a person confirms each."""
    for hold in holds:
        if hold.act is None and hold.joint is not None:
            yield playing.event(
                e.Confirmed(joint=hold.joint, limb=hold.limb, text=hold.text), 2_000
            )


def _counted(playing: Playing, joint: Joint) -> Iterator[e.Event]:
    """Now and then somebody notes something."""
    if joint.count >= 6 and playing.chance.random() < 0.15:
        yield playing.event(e.Noted(text="All in, counted twice.", joint=joint.id), 4_000)


def _act(device: Device, playing: Playing, act_id: str) -> Iterator[e.Event]:
    act = device.acts[act_id]
    if act.hold:
        yield playing.event(e.Confirmed(act=act_id, text=act.hold), 2_000)
    for supply, amount in act.renew.items():
        yield playing.event(e.Renewed(supply=supply, amount=amount, act=act_id), 3_000)
    yield playing.event(e.ActDone(act=act_id), act.ms or 10_000)


def _exchange(
    device: Device, playing: Playing, piece: str, parts: tuple[str, ...]
) -> Iterator[e.Event]:
    old, new = (f"{playing.chance.randrange(36**6):06d}" for _ in range(2))
    yield playing.event(
        e.Exchanged(part=piece, old_serial=f"OLD-{old}", new_serial=f"NEW-{new}"), 20_000
    )
    for identity in identities_of(device, parts):
        if identity.carry_over:
            what = e.CarriedOver(part=identity.part, what="serial number", value=playing.unit)
            yield playing.event(what, 60_000)


def _prove(device: Device, plan: Plan, playing: Playing) -> Iterator[e.Event]:
    exchanged = [part for piece in plan.pieces for part in piece]
    opened = [step.joint for step in plan.way_out]
    for disturbed in disturbed_by(device, opened, exchanged):
        function = device.functions[disturbed.function]
        took_ms = function.check_ms or CHECK_S * 1_000
        yield playing.event(_checked(device, function.id, "after"), took_ms)
    for check in device.checks.values():
        if check.final:
            what = e.FinalCheck(check=check.id, outcome="works")
            yield playing.event(what, check.check_ms or CHECK_S * 1_000)


def _checked(device: Device, function_id: str, phase: str) -> e.Checked:
    """A check that works, with a value in the middle of its limits where it has some."""
    measure = device.functions[function_id].measure if function_id in device.functions else None
    if measure is None:
        return e.Checked(function=function_id, outcome="works", phase=phase)
    ends = [end for end in (measure.low, measure.high) if end is not None]
    value = round(sum(ends) / len(ends), 2) if ends else 1.0
    return e.Checked(
        function=function_id, outcome="works", phase=phase, value=value, unit=measure.unit
    )
