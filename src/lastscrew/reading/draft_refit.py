"""What the refitting half adds to the joints of a draft: supplies, sizes, order, torque, bonds that are made anew."""

from __future__ import annotations

import re

from lastscrew.device.model import RIGID_KINDS
from lastscrew.device.names import to_identifier
from lastscrew.reading.draft_workshop import JointDraft, Workshop, free_id
from lastscrew.reading.model import Action, Procedure, Step
from lastscrew.reading.naming import plain
from lastscrew.reading.torques_said import torque_in

_STICKS = re.compile(r"\b(?:adhesive|tape|glue|stretch|strips?|gasket)\b", re.IGNORECASE)


def say_what_refitting_adds(
    workshop: Workshop, joints: list[JointDraft], procedure: Procedure
) -> None:
    """The refitting half adds what only it says: supplies, sizes, order, torque."""
    if procedure.kind == "removal":
        return
    for step, action in [(one, action) for one in procedure.steps for action in one.actions]:
        if (
            action.klass == "apply"
            and action.things
            and (
                action.things[-1].category in ("residue", "supply")
                or (_STICKS.search(action.object) and re.match(r"(?:new|fresh)\b", action.object))
            )
        ):
            _renew(workshop, joints, procedure, (step, action))
        elif action.fastener and action.klass in ("tighten", "replace", "insert"):
            _screws_again(workshop, joints, action)
    for step in procedure.steps:
        _torque(workshop, joints, step)


def _torque(workshop: Workshop, joints: list[JointDraft], step: Step) -> None:
    """As in "Install the four screws that hold the lid. Tighten them to 0.6 N m"."""
    doing = [a for a in step.actions if a.fastener and a.klass in ("tighten", "replace", "insert")]
    torque = torque_in(step.text) if doing and not workshop.reading.source.spoken else None
    held = {to_identifier(workshop.names.of(name)) for a in doing for name in a.joins[:1]}
    fitting = [j for j in joints if j.kind in ("screw", "nut") and held & set(j.joins[:1])]
    if torque is None or len(held) > 1:
        return
    for joint in fitting:
        if joint.torque_ncm is None:
            joint.torque_ncm = torque
            joint.why["torque_ncm"] = f"line {step.line}"


def _renew(
    workshop: Workshop, joints: list[JointDraft], procedure: Procedure, said: tuple[Step, Action]
) -> None:
    step, action = said
    target = workshop.names.of(action.to) if action.to else ""
    identity = to_identifier(target) or ""
    name = re.sub(r"^.*\bof (?:new |fresh )?|^(?:new|fresh) ", "", action.object)
    if _STICKS.search(name):
        fitting = _stuck(workshop, joints, procedure, identity)
    else:
        fitting = [
            joint
            for joint in joints
            if identity in joint.joins
            or any("sink" in part or "cooler" in part for part in joint.joins)
        ]
    if not fitting:
        fitting = _where_it_goes(workshop, joints, procedure, step)
    if fitting and name not in fitting[-1].renew:
        fitting[-1].renew.append(name)
        fitting[-1].why["renew"] = f"line {action.line}; the amount is not said"


def _where_it_goes(
    workshop: Workshop, joints: list[JointDraft], procedure: Procedure, step: Step
) -> list[JointDraft]:
    """As in "Use new paste under the control board": what the step names, else the part that goes back."""
    text = plain(step.text)
    named = [
        identity
        for identity, (name, _why) in workshop.parts.items()
        if identity != workshop.fixed and re.search(rf"\b{re.escape(plain(name))}\b", text)
    ]
    # The longest name is the one that is meant: "control board", not "board".
    named.sort(key=lambda identity: (-len(identity), identity))
    for part in [*named[:1], *workshop.known(procedure.part)]:
        held = [joint for joint in joints if joint.joins[0] == part and joint.kind in RIGID_KINDS]
        if held:
            return held
    return []


def _stuck(
    workshop: Workshop, joints: list[JointDraft], procedure: Procedure, identity: str
) -> list[JointDraft]:
    """What new adhesive or tape is for: the bond of the part, or its seat, which is a bond if it is glued anew."""
    own = {identity, *workshop.known(procedure.part)}
    held = [joint for joint in joints if own & set(joint.joins[:1])]
    bonds = [joint for joint in held if joint.kind in ("adhesive", "tape")]
    for joint in bonds[-1:]:
        joint.single_use = True
        joint.why["reuse"] = "inferred: refitting asks for a new one"
    seats = [joint for joint in held if joint.kind == "seat"]
    if bonds or not seats:
        return bonds
    seat, old = seats[-1], seats[-1].id
    seat.kind, seat.single_use = "adhesive", True
    seat.id = free_id(joints, f"{seat.joins[0]}_adhesive")
    seat.why[""] = f"line {seat.line}; inferred: refitting asks for new adhesive"
    seat.why["reuse"] = "inferred: refitting asks for a new one"
    for joint in joints:
        joint.after = [seat.id if other == old else other for other in joint.after]
    return [seat]


def _screws_again(workshop: Workshop, joints: list[JointDraft], action: Action) -> None:
    ids = {to_identifier(workshop.names.of(name)) for name in action.joins[:1]}
    for joint in joints:
        if joint.kind in ("screw", "nut") and ids & set(joint.joins[:1]):
            if not joint.size and action.size:
                joint.size = action.size
                joint.why["fastener"] = f"line {action.line} (refitting)"
            if not joint.order and action.order:
                joint.order = action.order
                joint.why["order"] = f"line {action.line} (refitting)"
            if joint.count is None and isinstance(action.count, int):
                joint.count = action.count
                joint.why["count"] = f"line {action.line} (refitting)"
