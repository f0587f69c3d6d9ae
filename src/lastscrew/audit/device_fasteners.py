"""Fasteners of a device file: look-alikes that do harm, lengths, torques, numbers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from lastscrew.audit.findings import Finding, Severity
from lastscrew.audit.noting import Notebook
from lastscrew.audit.torques import RECESS_SOURCE, torque_span, usual_recess
from lastscrew.device.model import Device, Fastener, Joint
from lastscrew.fasteners.lookalikes import look_alike
from lastscrew.plan.wording import fastener_text, joint_name, listed, marked, part_name
from lastscrew.saying import say

MANY_PIECES: Final = 60
"""More pieces than this in one joint are most likely a slip of the keyboard (our own figure)."""

RECESS_OFF: Final = 2
"""Numbers by which a cross recess must differ from the usual one to be worth a word: makers differ by one."""

_CROSS: Final = re.compile(r"(?:PH|PZ)\s?(?P<number>[0-4])", re.IGNORECASE)

FEWEST_CROSSWISE: Final = 3
"""Fewer pieces than this have no crosswise order (two have no opposite pairs to choose from)."""


def fastener_findings(notebook: Notebook) -> Iterator[Finding]:
    """Findings about fasteners."""
    for joint in notebook.device.joints.values():
        yield from _length(notebook, joint)
        yield from _torque(notebook, joint)
        yield from _number(notebook, joint)
    for fastener in notebook.device.fasteners.values():
        yield from _drive(notebook, fastener)
    yield from _same_kinds(notebook)
    yield from _look_alikes(notebook)


def fastener_of(device: Device, joint: Joint) -> Fastener | None:
    """The kind of fastener of a joint, None where it has none or none is known."""
    return device.fasteners.get(joint.fastener) if joint.fastener else None


def _length(notebook: Notebook, joint: Joint) -> Iterator[Finding]:
    fastener = fastener_of(notebook.device, joint)
    most = joint.max_length_mm
    if fastener is None or fastener.length_mm is None or most is None or fastener.length_mm <= most:
        return
    yield notebook.note(
        "screw_too_long",
        "error",
        ("joints", joint.id, "max_length_mm"),
        say(
            "{joint}: the screw is {length_mm} mm long, and the joint takes {most} mm at most. It "
            "would press on what lies below.",
            joint=marked(joint_name(notebook.device, joint.id)),
            length_mm=fastener.length_mm,
            most=most,
        ),
        say("Put right the length of the fastener or the most that the joint takes."),
        also=(("fasteners", fastener.id),),
    )


# --- look-alikes ------------------------------------------------------------------------------------


def _look_alikes(notebook: Notebook) -> Iterator[Finding]:
    """For each joint that takes short screws only: the longer look-alikes of the device.

    A warning where the wrong screw can pierce a part that stores energy and no note says so.
    """
    device = notebook.device
    for joint in device.joints.values():
        own = fastener_of(device, joint)
        if own is None or joint.max_length_mm is None or joint.captive or joint.loosen_only:
            continue
        longer = [other for other in device.joints.values() if _too_long(device, other, joint, own)]
        if not longer:
            continue
        energy = [part for part in joint.joins if device.parts[part].energy]
        told = any((joint.note_close, joint.note_open, joint.hold, joint.hazards)) or any(
            device.parts[part].hazards for part in energy
        )
        if not energy and (_says_which(joint) or all(_says_which(other) for other in longer)):
            continue
        grade: Severity = "warning" if energy and not told else "note"
        kinds = dict.fromkeys(other.fastener or "" for other in longer)
        names = [f"{fastener_text(device.fasteners[kind])}" for kind in kinds]
        where = listed([marked(joint_name(device, other.id)) for other in longer], limit=3)
        values: dict[str, object] = {
            "joint": marked(joint_name(device, joint.id)),
            "most": joint.max_length_mm,
            "kinds": listed(names, word="or"),
            "others": where,
        }
        if energy:
            text = say(
                "{joint} takes {most} mm at most. {kinds} (from {others}) looks the same but for its length, "
                "and it can pierce {parts}.",
                parts=listed([part_name(device, p) for p in energy]),
                **values,
            )
        else:
            text = say(
                "{joint} takes {most} mm at most. {kinds} (from {others}) looks the same but for its length.",
                **values,
            )
        yield notebook.note(
            "look_alike",
            grade,
            ("joints", joint.id),
            text,
            say(
                "Give the two kinds another head or finish, or say in note_close which one belongs here."
            ),
            also=tuple(("joints", other.id) for other in longer[:6]),
        )


def _says_which(joint: Joint) -> bool:
    """A note of the joint says which screws belong to it."""
    words = f"{joint.note_open or ''} {joint.note_close or ''}".lower()
    return re.search(r"\b(?:screws?|long|short|longer|shorter|mm)\b", words) is not None


def _too_long(device: Device, other: Joint, joint: Joint, own: Fastener) -> bool:
    kind = fastener_of(device, other)
    if kind is None or kind.id == own.id or kind.length_mm is None or joint.max_length_mm is None:
        return False
    if other.captive or other.loosen_only or kind.length_mm <= joint.max_length_mm:
        return False
    alike = look_alike(own, kind)
    return alike is not None and set(alike.differs) <= {"length", "only_by_name"}


# --- torques ----------------------------------------------------------------------------------------


def _torque(notebook: Notebook, joint: Joint) -> Iterator[Finding]:
    device = notebook.device
    fastener = fastener_of(device, joint)
    if fastener is None or joint.kind not in ("screw", "nut"):
        return
    torque = joint.torque_ncm if joint.torque_ncm is not None else fastener.torque_ncm
    span = torque_span(fastener.thread)
    if torque is None or span is None:
        return
    path = (
        ("joints", joint.id, "torque_ncm")
        if joint.torque_ncm is not None
        else ("fasteners", fastener.id, "torque_ncm")
    )
    span_text = say(
        "{low_ncm} to {high_ncm} N cm for {thread} in steel ({sources} and others)",
        low_ncm=span.low_ncm,
        high_ncm=span.high_ncm,
        thread=span.thread,
        sources=span.source,
    )
    if torque > span.high_ncm:
        yield notebook.note(
            "torque_high",
            "warning",
            path,
            say(
                "{torque} N cm is more than {thread} bears in the highest property class: {span_text}.",
                torque=torque,
                thread=span.thread,
                span_text=span_text,
            ),
            say("Put the figure right (N m × 100 = N cm)."),
        )
    elif torque < span.low_ncm and joint.into not in ("plastic", "insert"):
        yield notebook.note(
            "torque_low",
            "note",
            path,
            say(
                "{torque} N cm is less than the lowest property class asks for: {span_text}.",
                torque=torque,
                span_text=span_text,
            ),
            say("Put the figure right, or say with `into` that it goes into plastic or an insert."),
        )


# --- kinds ------------------------------------------------------------------------------------------


def _drive(notebook: Notebook, fastener: Fastener) -> Iterator[Finding]:
    """A cross recess two numbers off: pan heads of that thread would hardly have room for it, or need it."""
    own = _CROSS.fullmatch((fastener.drive or "").strip())
    usual = usual_recess(fastener.thread)
    if own is None or usual is None or abs(int(own["number"]) - usual) < RECESS_OFF:
        return
    yield notebook.note(
        "odd_drive",
        "note",
        ("fasteners", fastener.id, "drive"),
        say(
            "{drive} in {thread}: pan heads of that thread have recess No. {usual} ({recess_source}).",
            drive=fastener.drive,
            thread=fastener.thread,
            usual=usual,
            recess_source=RECESS_SOURCE,
        ),
        say("Put the thread or the drive right; a driver that does not fit spoils the screw."),
    )


def _same_kinds(notebook: Notebook) -> Iterator[Finding]:
    """Two ids for screws that are alike in everything: the ledger would count them apart."""
    first: dict[tuple[object, ...], str] = {}
    for fastener in notebook.device.fasteners.values():
        key = (
            fastener.thread, fastener.length_mm, fastener.drive, fastener.head, fastener.finish, fastener.order_code,
        )  # fmt: skip
        if fastener.thread is None or fastener.length_mm is None:
            continue
        other = first.setdefault(key, fastener.id)
        if other != fastener.id:
            yield notebook.note(
                "same_fastener",
                "note",
                ("fasteners", fastener.id),
                say(
                    "{id} and {other} are alike in thread, length, drive, head and finish: one kind under "
                    "two ids is counted and laid out as two.",
                    id=fastener.id,
                    other=other,
                ),
                say("Make one of them, or say what tells them apart."),
                also=(("fasteners", other),),
            )


# --- numbers ----------------------------------------------------------------------------------------


def _number(notebook: Notebook, joint: Joint) -> Iterator[Finding]:
    path = ("joints", joint.id, "count")
    name = marked(joint_name(notebook.device, joint.id))
    if joint.count > MANY_PIECES:
        yield notebook.note(
            "unusual_count", "note", path,
            say("{name}: {count} pieces in one joint are unusual.", name=name, count=joint.count),
            say("Count again, or make several joints of it."),
        )  # fmt: skip
    if (
        joint.order == "crosswise"
        and joint.count < FEWEST_CROSSWISE
        and not _group_makes_up(notebook.device, joint)
    ):
        yield notebook.note(
            "unusual_count",
            "warning",
            ("joints", joint.id, "order"),
            say(
                "{joint} is to be tightened crosswise, but has {n} piece only.",
                "{joint} is to be tightened crosswise, but has {n} pieces only.",
                joint=name,
                n=joint.count,
            ),
            say("Put right the count or the order."),
        )
    if joint.order == "numbered" and (joint.count < 2 or not joint.positions_mm):
        yield notebook.note(
            "unusual_count",
            "note",
            ("joints", joint.id, "order"),
            say(
                "{joint} is to be tightened by number, but nothing says which is number 1, "
                "and there is one piece only.",
                joint=name,
            )
            if joint.count < 2
            else say(
                "{joint} is to be tightened by number, but nothing says which is number 1.",
                joint=name,
            ),
            say("Give positions_mm in the order of the numbers."),
        )
    for washer, number in joint.washers.items():
        if number % joint.count and joint.count % number:
            yield notebook.note(
                "unusual_count",
                "warning",
                ("joints", joint.id, "with"),
                say(
                    "{name}: {number} {washer} for {n} piece do not go up.",
                    "{name}: {number} {washer} for {n} pieces do not go up.",
                    name=name,
                    number=number,
                    washer=washer,
                    n=joint.count,
                ),
                say("Count both again."),
            )


def _group_makes_up(device: Device, joint: Joint) -> bool:
    """Joints of one group are tightened together: their pieces count together."""
    if not joint.group:
        return False
    together = sum(j.count for j in device.joints.values() if j.group == joint.group)
    return together >= FEWEST_CROSSWISE
