"""An order that runs in a circle: as little of it is left out as makes the draft valid, and each is told."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.device.names import joint_label, part_label
from lastscrew.device.reaching import Openings, TooTangledError
from lastscrew.problems import Problem
from lastscrew.reading.draft_workshop import JointDraft
from lastscrew.reading.model import Finding

_MOST_TRIED: Final = 20_000
"""Pieces of the order times joints that are tried one by one (our own figure: a few seconds)."""

_Edge = tuple[tuple[JointDraft, ...], str, str]
"""Joints of one procedure, ``under`` or ``after``, and the part or joint that has to go before them."""


def break_circles(
    joints: list[JointDraft], device: Device, errors: Sequence[Problem]
) -> list[Finding]:
    """Leave out what can't be: the one piece of the order without which most joints can be reached.

    Args:
        joints: Joints under way; one of them is changed.
        device: The device that they gave.
        errors: What is wrong with it.

    Returns:
        What was left out; nothing where no piece of the order is to blame.
    """
    shut = _shut(device)
    edges = [edge for edge in _edges(joints) if any(joint.id in shut for joint in edge[0])]
    if not edges or len(edges) * len(joints) > _MOST_TRIED:
        return _all_of_the_named(joints, device, errors)
    # What was inferred goes before what was said; of equals the later one.
    best = min(
        edges,
        key=lambda edge: (
            len(_shut(_without(device, edge))),
            not edge[0][0].why.get(edge[1], "").startswith("inferred"),
            -edge[0][0].line,
            edge[2],
        ),
    )
    return [_leave_out(best, device)]


def _edges(joints: list[JointDraft]) -> list[_Edge]:
    """What the text says once of all joints of a procedure is one piece of the order."""
    found: dict[tuple[int, str, str], list[JointDraft]] = {}
    for joint in joints:
        for key in ("under", "after"):
            for name in getattr(joint, key):
                found.setdefault((joint.procedure, key, name), []).append(joint)
    return [(tuple(held), key, name) for (_procedure, key, name), held in found.items()]


def _shut(device: Device) -> set[str]:
    whole = fit(device, fitted=device.options)
    try:
        return set(whole.joints) - set(Openings(whole).opened)
    except TooTangledError:
        return set(whole.joints)


def _without(device: Device, edge: _Edge) -> Device:
    drafted, key, name = edge
    joints = dict(device.joints)
    for one in drafted:
        joint = joints[one.id]
        if key == "after":
            joint = replace(joint, after=tuple(other for other in joint.after if other != name))
        else:
            ways = tuple(
                replace(way, under=tuple(part for part in way.under if part != name))
                for way in joint.accesses
            )
            joint = replace(joint, accesses=ways)
        joints[one.id] = joint
    return replace(device, joints=joints)


def _leave_out(edge: _Edge, device: Device) -> Finding:
    drafted, key, name = edge
    before = part_label(device, name) if key == "under" else joint_label(device, name)
    for joint in drafted:
        getattr(joint, key).remove(name)
        told = (
            f"{before} is left out of what goes before it: the order of the text runs in a circle"
        )
        joint.why[""] = "; ".join(filter(None, [joint.why.get("", ""), told]))
    first = drafted[0]
    label = joint_label(device, first.id)
    return Finding(
        "order_left_out",
        "warning",
        first.line,
        f'"{label}" waits for "{before}", which in this text can\'t go first: the order runs in a circle. The draft '
        "leaves that out.",
        f"Look at the machine. If something lies over it all the same, answer under.{first.id}.",
    )


def _all_of_the_named(
    joints: list[JointDraft], device: Device, errors: Sequence[Problem]
) -> list[Finding]:
    """Where the one cause can't be told: all that the errors name, or all there is."""
    named = {
        match[1] for error in errors if (match := re.match(r"joints\.([a-z0-9_]+)", error.path))
    }
    edges = _edges(joints)
    chosen = [edge for edge in edges if any(joint.id in named for joint in edge[0])] or edges
    return [_leave_out(edge, device) for edge in chosen]
