"""Middle-sized machines that look like machines: those that the planner is measured on, made odder.

A cover, a pack, a board, a panel and some modules (15 to 30 joints), with what the measured ones
lack: a second isolating plug, a joint of three parts, acts, damage, work that has begun, a job that
starts on its other side.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from benchmarks.generate import generate, requests
from lastscrew.device.model import Access, Act, Device, Joint
from lastscrew.plan.model import Objective, Request
from tests.oracle.devices import Case
from tests.oracle.rules import ask, openable_by


def machine_case(seed: int) -> Case:
    """A machine of 2 to 5 modules and one request."""
    rng = Random(seed)
    device = _odder(rng, generate(rng.randint(2, 5), seed, varied=rng.random() < 0.7))
    asked = requests(device)
    request = asked[rng.choice(sorted(asked))]
    objectives: tuple[Objective, ...] = ("time", "time", "time", "risk", "steps")
    return device, replace(
        request,
        opened=_begun(rng, device) if rng.random() < 0.3 else (),
        side=rng.choice((None, None, "bottom", "top")),
        objective=rng.choice(objectives),
        reach=(rng.choice(sorted(device.joints)),) if rng.random() < 0.2 else (),
    )


def _odder(rng: Random, device: Device) -> Device:
    joints = dict(device.joints)
    if rng.random() < 0.3:
        joints["coin_plug"] = _with_times(
            Joint("coin_plug", "plug", ("board", "chassis"), (Access("bottom", None, ("cover",)),),
                  rigid=False, powered=True, isolates=True), 3_000, 4_000)  # fmt: skip
    if rng.random() < 0.4:
        joints["brace"] = _with_times(
            Joint("brace", "screw", ("m1", "m2", "chassis"),
                  (Access("bottom", "driver", ("cover",), "driver"),), rigid=True), 9_000, 11_000)  # fmt: skip
    for name, joint in joints.items():
        if rng.random() < 0.1:
            joints[name] = replace(joint, damage={"board": 0.01})
    parts = {**device.parts, "board": replace(device.parts["board"], price=310.0)}
    return replace(device, parts=parts, joints=joints, acts=_acts(rng, joints))


def _with_times(joint: Joint, open_ms: int, close_ms: int) -> Joint:
    accesses = tuple(replace(a, open_ms=open_ms, close_ms=close_ms) for a in joint.accesses)
    return replace(joint, accesses=accesses)


def _acts(rng: Random, joints: dict[str, Joint]) -> dict[str, Act]:
    made = [
        Act("discharge", "Discharge.", "after_open", joint="pack_plug", ms=12_000),
        Act("paste", "New compound.", "turning", when_replaced=("board",), ms=30_000),
        Act("clean", "Wipe it off.", "before_close", joint=rng.choice(sorted(joints)), ms=8_000,
            when_opened=tuple(rng.sample(sorted(joints), 2))),
        Act("note", "Write it down.", "end", when_opened=(rng.choice(sorted(joints)),), ms=4_500),
    ]  # fmt: skip
    return {act.id: act for act in made if rng.random() < 0.5}


def _begun(rng: Random, device: Device) -> tuple[str, ...]:
    """Some joints that somebody has opened already."""
    question = ask(device, Request())
    opened: list[str] = []
    for _ in range(rng.randint(1, 8)):
        further = [
            j for j in question.bonds if j not in opened and openable_by(question, j, opened)
        ]
        opened.append(rng.choice(further))
    return tuple(opened)
