"""Proof and safety: what is disturbed and never tried, what may be used once, what can hurt."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from lastscrew.audit.findings import Finding
from lastscrew.audit.noting import Notebook
from lastscrew.device.model import Device, Joint
from lastscrew.plan.wording import joint_name, listed, marked, part_name
from lastscrew.saying import say

_HEAT: Final = re.compile(r"\b(?:heat ?sink|cooler|heat spreader|heat pipe)\b", re.IGNORECASE)
HUB_CONTACTS: Final = 2
"""Parts that hang on one by contacts, from which on it is taken for the board of the machine (our own figure)."""
_HOLDS: Final = ("screw", "clip", "latch", "nut", "adhesive")


def proof_findings(notebook: Notebook) -> Iterator[Finding]:
    """Findings about checks, supplies and hazards."""
    device = notebook.device
    contacts = [joint.id for joint in device.joints.values() if _parts_a_contact(joint)]
    if not device.functions and len(contacts) > 1:
        yield _no_function(notebook, contacts)
    for joint in device.joints.values():
        if device.functions or len(contacts) == 1:
            yield from _nothing_proves(notebook, joint)
        yield from _renewal(notebook, joint)
    yield from _glued(notebook)
    yield from _functions(notebook)
    yield from _energy(notebook)
    yield from _heat_sinks(notebook)


def _parts_a_contact(joint: Joint) -> bool:
    """A contact that carries power or signals is parted; what isolates is tried with everything else."""
    contact = joint.kind in ("plug", "ribbon", "coax", "board_link", "solder")
    return contact and not joint.isolates and (joint.powered or joint.shutdown)


def _no_function(notebook: Notebook, contacts: list[str]) -> Finding:
    """One finding for a file that names no function at all."""
    names = listed([marked(joint_name(notebook.device, joint)) for joint in contacts], limit=4)
    return notebook.note(
        "nothing_proves",
        "warning",
        ("joints", contacts[0]),
        say(
            "{names} part a contact each, and the file names no function that would show that it is in again.",
            names=names,
        ),
        say("Add `functions` with a check, and name them on the parts or joints."),
        also=tuple(("joints", joint) for joint in contacts[1:]),
    )


def _nothing_proves(notebook: Notebook, joint: Joint) -> Iterator[Finding]:
    """A contact is parted, and neither it nor its parts have a function that would show a fault.

    A joint that isolates is tried with everything else: nothing works without it.
    """
    device = notebook.device
    if not _parts_a_contact(joint):
        return
    if joint.functions or any(device.parts[part].functions for part in joint.joins):
        served = {f for part in joint.joins for f in device.parts[part].functions} | set(
            joint.functions
        )
        ends = [part for part in joint.joins if not device.parts[part].functions]
        needed = {f.id for f in device.functions.values() if joint.id in f.needs}
        if (
            ends
            and not joint.functions
            and not needed
            and len(served)
            and _only_host(device, joint)
        ):
            yield notebook.note(
                "nothing_proves",
                "note",
                ("joints", joint.id),
                say(
                    "{joint}: only the functions of {others} are tried after it; nothing shows that {parts} works.",
                    joint=marked(joint_name(device, joint.id)),
                    others=listed([part_name(device, p) for p in joint.joins if p not in ends]),
                    parts=listed([part_name(device, p) for p in ends]),
                ),
                say("Give the part at its end a function, or name one on the joint."),
            )
        return
    yield notebook.note(
        "nothing_proves",
        "warning",
        ("joints", joint.id),
        say(
            "{joint} parts a contact, and no function of its parts would show that it is in again.",
            joint=marked(joint_name(device, joint.id)),
        ),
        say("Give the joint or a part of it a function with a check."),
    )


def _only_host(device: Device, joint: Joint) -> bool:
    """The functions all belong to a board: it carries the machine's identity, or many contacts lead to it."""
    having = [part for part in joint.joins if device.parts[part].functions]
    return all(device.parts[part].identity or _is_hub(device, part) for part in having)


def _is_hub(device: Device, part: str) -> bool:
    contacts = [joint for joint in device.joints.values() if _parts_a_contact(joint)]
    others = {p for joint in contacts if part in joint.joins for p in joint.joins} - {part}
    return len(others) >= HUB_CONTACTS


def _functions(notebook: Notebook) -> Iterator[Finding]:
    for function in notebook.device.functions.values():
        if not function.check:
            yield notebook.note(
                "function_without_check",
                "warning",
                ("functions", function.id),
                say("Nobody says how to try *{name}*.", name=function.name),
                say("Add `check` with what to do and what to see."),
            )


def _renewal(notebook: Notebook, joint: Joint) -> Iterator[Finding]:
    device = notebook.device
    if joint.reuse != "single_use" or joint.renew:
        return
    if _renewed(device, joint):
        return
    fastener = device.fasteners.get(joint.fastener or "")
    path = ("joints", joint.id, "reuse")
    name = marked(joint_name(device, joint.id))
    if fastener is None:
        yield notebook.note(
            "no_renewal", "warning", path,
            say("{name} may be closed once only, and the file names nothing new for it.", name=name),
            say("Add `renew: {supply: amount}`."),
        )  # fmt: skip
    elif fastener.order_code is None:
        yield notebook.note(
            "no_renewal", "note", path,
            say("{name} needs new pieces each time, and {id} has no order code.", name=name, id=fastener.id),
            say("Add the order code, so that they are on the list of what to order."),
        )  # fmt: skip


def _glued(notebook: Notebook) -> Iterator[Finding]:
    """One note for all joints that are glued and said to hold again as they are."""
    device = notebook.device
    ids = [
        joint.id
        for joint in device.joints.values()
        if joint.kind == "adhesive" and joint.reuse == "reusable" and not _renewed(device, joint)
    ]
    if ids:
        names = listed([marked(joint_name(device, joint)) for joint in ids], limit=4)
        yield notebook.note(
            "no_renewal", "note", ("joints", ids[0]),
            say(
                "{joints} is glued, and the file neither renews the adhesive nor says what holds the second time.",
                "{joints} are glued, and the file neither renews the adhesive nor says what holds the second time.",
                joints=names,
                n=len(ids),
            ),
            say("Add `renew: {supply: amount}`, or `reuse: inspect` where it may hold again."),
            also=tuple(("joints", joint) for joint in ids[1:6]),
        )  # fmt: skip


def _renewed(device: Device, joint: Joint) -> bool:
    """Something new is put in when the joint is closed, by itself or by an act that belongs to it."""
    return bool(joint.renew) or any(
        act.renew
        and (
            act.joint == joint.id
            or joint.id in act.when_opened
            or set(joint.joins) & set(act.when_replaced)
        )
        for act in device.acts.values()
    )


def _heat_sinks(notebook: Notebook) -> Iterator[Finding]:
    """What carries heat away sits in compound or on a pad: opened, that must be new."""
    device = notebook.device
    for part in device.parts.values():
        if not _HEAT.search(part.name) or part.fixed:
            continue
        joints = [j for j in device.joints.values() if part.id in j.joins and j.kind in _HOLDS]
        acts = [a for a in device.acts.values() if a.renew and (a.joint in {j.id for j in joints} or
                part.id in a.when_replaced or any(j.id in a.when_opened for j in joints))]  # fmt: skip
        if not joints or acts or any(j.renew for j in device.joints.values() if part.id in j.joins):
            continue
        yield notebook.note(
            "no_renewal",
            "note",
            ("parts", part.id),
            say(
                "*{name}* is taken off, and no thermal compound or pad is renewed.", name=part.name
            ),
            say("Add `renew` to the joint that presses it down, or a note that it sits dry."),
        )


def _energy(notebook: Notebook) -> Iterator[Finding]:
    for part in notebook.device.parts.values():
        if part.energy and not part.hazards and not part.fixed:
            yield notebook.note(
                "energy_without_hazard",
                "warning",
                ("parts", part.id),
                say(
                    "*{name}* stores energy, and no hazard stands at the steps that touch it.",
                    name=part.name,
                ),
                say(
                    "Add a hazard with its signal word (danger, warning, caution or notice), as the maker gives it."
                ),
            )
