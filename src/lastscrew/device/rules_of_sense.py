"""Warnings: what can be used as it is, but is most likely not what was meant."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, TypeAlias

from lastscrew.device.model import Device, Joint
from lastscrew.device.names import Path
from lastscrew.device.notes import Notes
from lastscrew.device.opening import is_live, isolating_joints
from lastscrew.saying import say

Top: TypeAlias = Mapping[str, Any]
Rule: TypeAlias = Callable[[Device, Top, Notes], None]

THREADED_KINDS: Final = ("screw", "nut")


def _part_without_joint(device: Device, _top: Top, notes: Notes) -> None:
    if notes.touched & {"*", "joins", "kind"}:
        return
    joined = {part for joint in device.joints.values() for part in joint.joins}
    for part in device.parts:
        if part not in joined:
            notes.warn(
                ("parts", part),
                say("no joint joins {part}", part=part),
                say("Add the joint that holds it, or take the part out."),
                code="part_without_joint",
            )


def _drive_without_tool(device: Device, _top: Top, notes: Notes) -> None:
    if notes.touched & {"*", "fits"}:
        return
    fitting = {_drive(drive) for tool in device.tools.values() for drive in tool.fits}
    for fastener in device.fasteners.values():
        if fastener.drive and _drive(fastener.drive) not in fitting:
            notes.warn(
                ("fasteners", fastener.id, "drive"),
                say("no listed tool fits {drive}", drive=fastener.drive),
                say("Add {drive} to the fits of a tool.", drive=fastener.drive),
                code="drive_without_tool",
            )


def _drive(written: str) -> str:
    return written.replace(" ", "").casefold()


def _tool_does_not_fit(device: Device, top: Top, notes: Notes) -> None:
    for joint in device.joints.values():
        fastener = device.fasteners.get(joint.fastener or "")
        drive = fastener.drive if fastener is not None else None
        for index, access in enumerate(joint.accesses):
            tool = device.tools.get(access.tool or "")
            if (
                not drive
                or tool is None
                or not tool.fits
                or _drive(drive) in map(_drive, tool.fits)
            ):
                continue
            notes.warn(
                access_path(top, joint, index, "tool"),
                say(
                    "{id} fits {drives}, but {fastener} has {drive}",
                    id=tool.id,
                    drives=", ".join(tool.fits),
                    fastener=joint.fastener,
                    drive=drive,
                ),
                say(
                    "Name a tool that fits {drive}, or add it to the fits of {id}.",
                    drive=drive,
                    id=tool.id,
                ),
                code="tool_does_not_fit",
            )


def access_path(top: Top, joint: Joint, index: int, *rest: str | int) -> Path:
    """Path of a key of an access, whether it stands in a list or on the joint itself."""
    if "access" in top.get("joints", {}).get(joint.id, {}):
        return ("joints", joint.id, "access", index, *rest)
    return ("joints", joint.id, *rest)


def _nothing_isolates(device: Device, _top: Top, notes: Notes) -> None:
    if isolating_joints(device) or notes.touched & {"*", "isolates"}:
        return
    live = [joint.id for joint in device.joints.values() if is_live(device, joint)]
    if live:
        names = ", ".join(live[:4])
        if len(live) > 4:
            names = say("{names} and {count} more", names=names, count=len(live) - 4)
        notes.warn(
            ("joints",),
            say("{joints} carry power, but no joint isolates", joints=names),
            say(
                "Say `isolates: true` for the joint that takes the power away, or `powered: false` where there is none."
            ),
            code="nothing_isolates",
        )


def _screw_without_fastener(device: Device, _top: Top, notes: Notes) -> None:
    for joint in device.joints.values():
        if joint.kind == "screw" and joint.fastener is None and "fastener" not in joint.unknown:
            if notes.node(("joints", joint.id, "fastener")) is None:
                notes.warn(
                    ("joints", joint.id, "fastener"),
                    say("a screw without a fastener"),
                    say("Say which kind of fastener it is, or fastener: unknown."),
                    code="screw_without_fastener",
                )


def _cover_without_rigid_joint(device: Device, top: Top, notes: Notes) -> None:
    if notes.touched & {"*", "joins", "kind", "rigid"}:
        return
    held = {part for joint in device.joints.values() if joint.rigid for part in joint.joins}
    told: set[str] = set()
    for joint in device.joints.values():
        for index, access in enumerate(joint.accesses):
            for place, part in enumerate(access.under):
                if part not in held and part not in told:
                    told.add(part)
                    notes.warn(
                        access_path(top, joint, index, "under", place),
                        say("no rigid joint names {part}, so it covers nothing", part=part),
                        say("Say `after` the joint that holds it, or give it a rigid joint."),
                        code="covers_nothing",
                    )


def _screws_alone_under_cover(device: Device, _top: Top, notes: Notes) -> None:
    if notes.touched & {"*", "joins", "kind", "rigid", "under"}:
        return
    holding: dict[str, list[Joint]] = {part: [] for part in device.parts}
    for joint in device.joints.values():
        if joint.rigid:
            for part in joint.joins:
                holding.setdefault(part, []).append(joint)
    for part, joints in holding.items():
        if device.parts[part].fixed or any(joint.kind not in THREADED_KINDS for joint in joints):
            continue
        over = dict.fromkeys(
            u for joint in joints for access in joint.accesses for u in access.under if u != part
        )
        if over:
            screws = ", ".join(joint.id for joint in joints)
            covers = ", ".join(over)
            notes.warn(
                ("parts", part),
                say(
                    "screws alone hold {part} under {covers}: with {screws} open it counts as taken out",
                    part=part,
                    covers=covers,
                    screws=screws,
                ),
                say(
                    "Give it a joint {example} with what lies over it.",
                    example=f"{{kind: seat, joins: [{part}, …], under: [{covers}]}}",
                ),
                code="screws_alone",
            )


def _fastener_too_long(device: Device, _top: Top, notes: Notes) -> None:
    for joint in device.joints.values():
        fastener = device.fasteners.get(joint.fastener or "")
        if fastener is None or fastener.length_mm is None or joint.max_length_mm is None:
            continue
        if fastener.length_mm > joint.max_length_mm:
            notes.warn(
                ("joints", joint.id, "max_length_mm"),
                say(
                    "{id} is {length_mm} mm long, but {joint} takes at most {max_length_mm} mm",
                    id=fastener.id,
                    length_mm=fastener.length_mm,
                    joint=joint.id,
                    max_length_mm=joint.max_length_mm,
                ),
                say("Correct max_length_mm, the fastener or its length."),
                code="fastener_too_long",
            )


def _group_on_several_sides(device: Device, _top: Top, notes: Notes) -> None:
    if notes.touched & {"*", "side", "access", "group"}:
        return
    groups: dict[str, list[Joint]] = {}
    for joint in device.joints.values():
        if joint.group is not None:
            groups.setdefault(joint.group, []).append(joint)
    for joints in groups.values():
        common = set.intersection(*({a.side for a in joint.accesses} for joint in joints))
        if not common:
            names = ", ".join(joint.id for joint in joints)
            notes.warn(
                ("joints", joints[-1].id, "group"),
                say(
                    "{names} are tightened in one order, but no side gives access to all of them",
                    names=names,
                ),
                say("Give those of another side a group of their own."),
                code="group_on_several_sides",
            )


def _spare_named_like_a_part(device: Device, _top: Top, notes: Notes) -> None:
    for spare in device.spares:
        if spare in device.parts:
            notes.warn(
                ("spares", spare),
                say(
                    "there is also a part {spare}; asked for {spare}, a plan takes the part",
                    spare=spare,
                ),
                say("Give the spare an id of its own."),
                code="same_id",
            )


WARNINGS: Final[tuple[Rule, ...]] = (
    _part_without_joint,
    _drive_without_tool,
    _tool_does_not_fit,
    _nothing_isolates,
    _screw_without_fastener,
    _cover_without_rigid_joint,
    _screws_alone_under_cover,
    _fastener_too_long,
    _group_on_several_sides,
    _spare_named_like_a_part,
)
