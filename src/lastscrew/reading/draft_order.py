"""The order of a draft: what is off and what is open before each joint, and where the power is taken away."""

from __future__ import annotations

import re
from collections.abc import Mapping

from lastscrew.device.model import POWERED_KINDS, RIGID_KINDS
from lastscrew.device.names import to_identifier
from lastscrew.reading.draft_workshop import JointDraft, Workshop, free_id
from lastscrew.reading.model import Prerequisite
from lastscrew.reading.naming import plain

_STATE = re.compile(
    r"^(?:disconnect|unplug|detach|unhook|pull)(?:ed|ing)?\s+(?:the\s+|all\s+)?(?P<thing>.+?)"
    r"(?:\s+(?:from|off|out of|on|at)\b.*)?[.!]?$|"
    r"^(?:the\s+)?(?P<told>.+?)\s+(?:is|are|must be|has to be|should be)?\s*(?:disconnected|unplugged|detached)[.!]?$",
    re.IGNORECASE,
)
_CORD = re.compile(r"\b(?:cord|mains|power (?:cable|lead|plug))\b", re.IGNORECASE)


def put_in_order(workshop: Workshop, joints: list[JointDraft]) -> None:
    """Say of every joint what lies over it and what is opened before it."""
    _Before(workshop, joints).apply()
    _covers_that_cover(joints)
    _seats_under_covers(joints)


def joint_of_state(workshop: Workshop, joints: list[JointDraft], text: str) -> JointDraft | None:
    """As in "Disconnect the battery cable": the joint that a state speaks of, where the text opens it."""
    match = _STATE.match(text.strip())
    name = (match["thing"] or match["told"] or "") if match else ""
    if not name:
        return None
    cables = [joint for joint in joints if joint.kind not in RIGID_KINDS]
    said = plain(name)
    for joint in cables:
        if said in (joint.said, workshop.names.of(joint.said)):
            return joint
    owner = to_identifier(workshop.names.of(name)) or ""
    own = [joint for joint in cables if owner and joint.joins[:1] == [owner]]
    return own[0] if len(own) == 1 else None


class _Before:
    """What is off and what is open before each procedure, with all that this asks for in turn."""

    def __init__(self, workshop: Workshop, joints: list[JointDraft]) -> None:
        self.workshop = workshop
        self.joints = joints
        self.procedures = workshop.reading.procedures
        self.parts: list[dict[str, Prerequisite]] = []
        self.open: list[dict[str, Prerequisite]] = []
        self.of_part: dict[str, list[int]] = {}
        for index, procedure in enumerate(self.procedures):
            if procedure.kind != "refit":
                for identity in workshop.known(procedure.part):
                    self.of_part.setdefault(identity, []).append(index)
            parts: dict[str, Prerequisite] = {}
            opened: dict[str, Prerequisite] = {}
            for item in procedure.prerequisites:
                if item.kind == "part":
                    for piece in re.split(r"\s*/\s*", item.text):
                        for identity in workshop.known(piece):
                            if identity != workshop.fixed:
                                parts.setdefault(identity, item)
                elif joint := joint_of_state(workshop, joints, item.text):
                    opened.setdefault(joint.id, item)
            self.parts.append(parts)
            self.open.append(opened)

    def apply(self) -> None:
        """Order every joint that a removal opens."""
        off = [self._all_off(index) for index in range(len(self.procedures))]
        for joint in self.joints:
            if joint.procedure < 0:
                continue
            self._after_states(joint)
            if joint.why.get("under") == "answered":
                continue
            elsewhere = [off[other] | gone for other, gone in joint.also.items()]
            joint.under = [p for p in joint.under if all(p in there for there in elsewhere)]
            for identity, item in self.parts[joint.procedure].items():
                if all(identity in there for there in elsewhere):
                    self._after_part(joint, identity, item)

    def _all_off(self, index: int) -> frozenset[str]:
        """Ids of the parts that are off, and of the joints that are open, before a procedure."""
        found: set[str] = set()
        todo, seen = [index], set()
        while todo:
            number = todo.pop()
            if number in seen:
                continue
            seen.add(number)
            found |= {*self.parts[number], *self.open[number]}
            todo += [n for part in self.parts[number] for n in self.of_part.get(part, ())]
        return frozenset(found)

    def _after_part(self, joint: JointDraft, identity: str, item: Prerequisite) -> None:
        if identity in joint.under:
            return
        why = item.inferred or f"stated as done before, line {item.line}"
        if identity not in joint.joins:
            joint.under.append(identity)
            joint.why["under"] = f"inferred: {why}"
        elif joint.kind in RIGID_KINDS and joint.joins[0] != identity and not item.inferred:
            # The part that holds it has to be out: it is opened on the bench.
            seats = [
                other.id
                for other in self.joints
                if other.kind in ("seat", "adhesive")
                and other.joins[0] == identity
                and other is not joint
                and other.procedure != joint.procedure
            ]
            _follow(joint, seats, f"inferred: {why}")

    def _after_states(self, joint: JointDraft) -> None:
        for target, item in self.open[joint.procedure].items():
            there = next(other for other in self.joints if other.id == target)
            if there is joint or target in joint.after or joint.id in there.after:
                continue
            if there.isolates and joint.kind in POWERED_KINDS:
                continue  # the plan takes the power away before them anyway
            if set(there.joins) & {joint.joins[0]} and there.procedure == joint.procedure:
                continue
            followed = [other for other in self.joints if other.id in joint.after]
            if any(target in other.after for other in followed):
                continue
            if all(target in self._all_off(other) for other in joint.also):
                _follow(joint, [target], f"stated as done before, line {item.line}")


def _follow(joint: JointDraft, before: list[str], why: str) -> None:
    new = [other for other in before if other not in joint.after and other != joint.id]
    if new:
        joint.after += new
        joint.why["after"] = "; ".join(filter(None, [joint.why.get("after", ""), why]))


def _covers_that_cover(joints: list[JointDraft]) -> None:
    """Only what a rigid joint holds can cover; what hangs on a cable alone is said by the order instead."""
    held = {part for joint in joints if joint.kind in RIGID_KINDS for part in joint.joins}
    for joint in joints:
        for part in [part for part in joint.under if part not in held]:
            joint.under.remove(part)
            for other in joints:
                if (
                    part in other.joins
                    and other is not joint
                    and other.line < joint.line
                    and other.id not in joint.after
                ):
                    joint.after.append(other.id)
                    joint.why["after"] = "inferred: opened before in the text"
                    break


def _seats_under_covers(joints: list[JointDraft]) -> None:
    """A part that screws alone hold under a cover lies in a seat under the same cover."""
    for part in dict.fromkeys(part for joint in joints for part in joint.joins[:1]):
        holding = [joint for joint in joints if part in joint.joins and joint.kind in RIGID_KINDS]
        covered = next((joint for joint in holding if joint.under), None)
        if covered is None or any(joint.kind not in ("screw", "nut") for joint in holding):
            continue
        other = next(name for name in covered.joins if name != part)
        seat = JointDraft(
            free_id(joints, f"{part}_seat"),
            "seat",
            [part, other],
            covered.line,
            procedure=covered.procedure,
        )
        seat.under, seat.after = list(covered.under), [joint.id for joint in holding]
        seat.why = {
            "": "inferred: screws alone would let it go while it is still covered",
            "under": covered.why.get("under", ""),
        }
        joints.append(seat)


def take_power_away(workshop: Workshop, joints: list[JointDraft]) -> None:
    """The battery's plug takes the power away; where the text names none, the cord from the wall does."""
    answer = workshop.answer("isolates")
    for joint in joints:
        if isinstance(answer, str):
            joint.isolates = joint.id == answer
            continue
        if joint.kind in ("plug", "ribbon") and any(
            re.search(r"(?:^|_)(?:battery|pack|accumulator|cell)(?:_|$)", part)
            and not re.search(r"(?:^|_)(?:coin|button|cmos|rtc|backup)(?:_|$)", part)
            for part in joint.joins
        ):
            joint.isolates = True
            joint.why["isolates"] = "inferred: it is the battery's plug"
    if not isinstance(answer, str) and not any(joint.isolates for joint in joints):
        _from_the_wall(workshop, joints, workshop.cords)


def _from_the_wall(
    workshop: Workshop, joints: list[JointDraft], cords: Mapping[str, tuple[str, int]]
) -> None:
    """As in "Unplug the power cord": in a machine without a battery that is what takes the power away."""
    live = any(joint.kind in POWERED_KINDS for joint in joints)
    text, (name, line) = next(
        ((text, cord) for text, cord in cords.items() if _CORD.search(cord[0])), ("", ("", 0))
    )
    if not live or not name:
        return
    part = workshop.part(name, f"line {line}")
    joint = JointDraft(free_id(joints, f"{part}_plug"), "plug", [part, workshop.fixed], line)
    joint.why = {
        "": f"line {line}",
        "joins": f"line {line}; the other side is not said",
        "isolates": "inferred: the text unplugs it first and names no battery",
    }
    joint.isolates = True
    joints.insert(0, joint)
    workshop.states = [state for state in workshop.states if state[0] != text]
