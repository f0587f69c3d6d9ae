"""Which checks a plan asks for after the work."""

from __future__ import annotations

from lastscrew.cli.plan_json import CheckToDo
from lastscrew.device.model import Device
from lastscrew.plan.model import Plan
from lastscrew.plan.wording import joint_name, part_name


def checks_to_do(device: Device, plan: Plan) -> tuple[CheckToDo, ...]:
    """Functions that the work disturbed, in the order of the device file, each with its first reason."""
    why: dict[str, str] = {}
    for parts in plan.pieces:
        for part in parts:
            for function in device.parts[part].functions:
                why.setdefault(function, f"{part_name(device, part)} was exchanged")
    for step in plan.way_out:
        joint = device.joints[step.joint]
        named = list(joint.functions)
        if joint.powered:
            named += [f for part in joint.joins for f in device.parts[part].functions]
        for function in named:
            why.setdefault(function, f"{joint_name(device, joint.id)} was opened")
    return tuple(
        CheckToDo(function.id, why[function.id], function.check_ms)
        for function in device.functions.values()
        if function.id in why
    )
