"""Rules between keys and entries: what the table of keys alone can't say.

Errors first, then warnings. Rules run on what could be read even where other values are bad, as long
as the bad ones can't make them say something false.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, TypeAlias

from lastscrew.device.keys import ACCESS_KEYS
from lastscrew.device.model import Device, Point
from lastscrew.device.nodes import Node
from lastscrew.device.notes import Notes
from lastscrew.device.rules_of_diagnosis import check_diagnosis
from lastscrew.device.rules_of_power import check_power
from lastscrew.device.rules_of_reach import check_circles, check_reach
from lastscrew.device.rules_of_sense import WARNINGS
from lastscrew.device.values import UNKNOWN
from lastscrew.saying import say

Top: TypeAlias = Mapping[str, Any]
Rule: TypeAlias = Callable[[Device, Top, Notes], None]


def check_rules(device: Device, top: Top, notes: Notes) -> None:
    """Note every broken rule.

    Args:
        device: The device as far as it could be read.
        top: The values as they were read, before defaults.
        notes: Where problems go; already holds those of single values.
    """
    for rule in ERRORS:
        rule(device, top, notes)
    circular = check_circles(device, notes)
    check_reach(device, notes, circular)
    check_diagnosis(device, notes)
    for warning in WARNINGS:
        warning(device, top, notes)
    check_power(device, notes)


def _written(notes: Notes, section: str) -> dict[str, dict[str, Node]]:
    """What is written in each entry of a section, good or bad: nodes by key."""
    node = notes.node((section,))
    pairs = node.pairs if node is not None else []
    return {key.text: {k.text: value for k, value in entry.pairs} for key, entry in pairs}


def _one_fixed_part(device: Device, top: Top, notes: Notes) -> None:
    fixed = [part.id for part in device.parts.values() if part.fixed]
    if not fixed and "parts" in top and not notes.touched & {"fixed", "*"}:
        notes.add(
            ("parts",),
            say("no part is fixed"),
            say("Say `fixed: true` for the one part that stays on the bench."),
            code="fixed_part",
        )
    for extra in fixed[1:]:
        notes.add(
            ("parts", extra, "fixed"),
            say("{extra} is fixed, but {fixed} is already", extra=extra, fixed=fixed[0]),
            say("Exactly one part stays on the bench."),
            code="fixed_part",
        )
    for part in fixed:
        if device.parts[part].if_fitted:
            notes.add(
                ("parts", part, "if_fitted"),
                say("the fixed part must be in every unit"),
                say("Leave if_fitted out."),
                code="fixed_part",
            )


def _access_beside_its_keys(_device: Device, top: Top, notes: Notes) -> None:
    for joint, written in _written(notes, "joints").items():
        if joint in top.get("joints", {}) and "access" in written:
            for key in ACCESS_KEYS:
                if key.name in written:
                    notes.add(
                        ("joints", joint, key.name),
                        say("{name} stands beside access", name=key.name),
                        say("Write it inside each access, or leave access out."),
                        code="access_twice",
                    )


def _other_says_rigid(_device: Device, top: Top, notes: Notes) -> None:
    written = _written(notes, "joints")
    for joint, values in top.get("joints", {}).items():
        if values.get("kind") == "other" and "rigid" not in values:
            if "rigid" not in written.get(joint, ()):
                notes.add(
                    ("joints", joint, "rigid"),
                    say("a joint of kind other must say whether it is rigid"),
                    say("Add rigid: true or rigid: false."),
                    code="missing",
                )


def _count_fits_positions(_device: Device, top: Top, notes: Notes) -> None:
    every = _written(notes, "joints")
    for joint_id, values in top.get("joints", {}).items():
        written = every.get(joint_id, {})
        node = written.get("positions_mm")
        count = values.get("count", 1)
        if node is None or "positions_mm" not in values or count is UNKNOWN:
            continue
        if "count" in written and "count" not in values:
            continue
        if len(node.items) != count:
            notes.add(
                ("joints", joint_id, "count" if "count" in values else "positions_mm"),
                _count_text(count if "count" in values else None, len(node.items)),
                say("Say count: {n}, or correct the positions.", n=len(node.items)),
                code="count_positions",
            )


def _inside_frames(device: Device, _top: Top, notes: Notes) -> None:
    frames = device.frame_mm
    if not frames:
        return
    for joint in device.joints.values():
        sides = [access.side for access in joint.accesses]
        if all(side in frames for side in sides):
            _points_inside(
                notes,
                ("joints", joint.id, "positions_mm"),
                joint.positions_mm,
                [frames[s] for s in sides],
            )
    if all(side in frames for side in device.sides):
        for part in device.parts.values():
            _points_inside(
                notes, ("parts", part.id, "outline_mm"), part.outline_mm, list(frames.values())
            )


def _points_inside(
    notes: Notes, path: tuple[str, ...], points: tuple[Point, ...], frames: list[Point]
) -> None:
    for index, (x, y) in enumerate(points):
        if not any(0 <= x <= width and 0 <= y <= height for width, height in frames):
            width, height = max(frames)
            notes.add(
                (*path, index),
                say(
                    "[{x}, {y}] lies outside the frame of {width} by {height} mm",
                    x=x,
                    y=y,
                    width=width,
                    height=height,
                ),
                say("Measure from the lower left corner, or correct frame_mm."),
                code="outside_frame",
            )


def _limits_in_order(device: Device, _top: Top, notes: Notes) -> None:
    for function in device.functions.values():
        measure = function.measure
        if (
            measure
            and measure.low is not None
            and measure.high is not None
            and measure.low > measure.high
        ):
            notes.add(
                ("functions", function.id, "measure", "low"),
                say("low ({low}) is above high ({high})", low=measure.low, high=measure.high),
                say("Exchange them."),
                code="out_of_range",
            )


AT_A_STEP: Final = ("before_open", "after_open", "before_close", "after_close")


def _acts_have_their_joint(_device: Device, top: Top, notes: Notes) -> None:
    for act, values in top.get("acts", {}).items():
        if values.get("at") in AT_A_STEP and "joint" not in values:
            if notes.node(("acts", act, "joint")) is None:
                notes.add(
                    ("acts", act, "joint"),
                    say("at: {values} needs a joint", values=values["at"]),
                    say("Add joint: the joint whose step it belongs to."),
                    code="missing",
                )
        elif "joint" in values and values.get("at") not in (*AT_A_STEP, None):
            notes.warn(
                ("acts", act, "joint"),
                say(
                    "at: {values} belongs to no step of a joint; read as when_opened",
                    values=values["at"],
                ),
                say("Write when_opened: [{values}] instead.", values=values["joint"]),
                code="act_joint",
            )


def _old_ids_are_free(_device: Device, top: Top, notes: Notes) -> None:
    for section, entries in top.items():
        if not isinstance(entries, dict) or section == "device":
            continue
        for entry, values in entries.items():
            old = values.get("was") if isinstance(values, dict) else None
            if old is not None and old in entries:
                notes.add(
                    (section, entry, "was"),
                    say("{id} is its own id", id=old)
                    if old == entry
                    else say("{id} is in use", id=old),
                    say(
                        "An id keeps its meaning across revisions; name one that is no longer used."
                    ),
                    code="was_in_use",
                )


ERRORS: Final[tuple[Rule, ...]] = (
    _one_fixed_part,
    _access_beside_its_keys,
    _other_says_rigid,
    _count_fits_positions,
    _inside_frames,
    _limits_in_order,
    _acts_have_their_joint,
    _old_ids_are_free,
)


def _count_text(count: int | None, listed: int) -> str:
    if count is None:
        return say(
            "count is 1 where it is left out, but positions_mm lists {listed}", listed=listed
        )
    return say("count is {count}, but positions_mm lists {listed}", count=count, listed=listed)
