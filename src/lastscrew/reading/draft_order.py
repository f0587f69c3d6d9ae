"""The order of a draft: what is off and what is open before each joint, and where the power is taken away."""

from __future__ import annotations

import re

from lastscrew.device.model import POWERED_KINDS, RIGID_KINDS
from lastscrew.device.names import to_identifier
from lastscrew.reading.draft_answers import isolating_answer
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
_LEAD_IN = re.compile(r"^(?:supply (?:lead|cable|cord)|(?:wall|mains) plug)$", re.IGNORECASE)
_WALL = re.compile(
    r"\b(?:from|out of|at)\s+(?:the\s+|its\s+)?(?:(?:wall|mains|power)\s+)?(?:wall|mains|outlet|socket)\b",
    re.IGNORECASE,
)
_A_LEAD = re.compile(r"\b(?:lead|cable|plug|adapt[eo]r|charger|brick)\b", re.IGNORECASE)
_INSIDE = re.compile(r"\b(?:board|connector|header|drive)\b", re.IGNORECASE)

FROM_THE_WALL = "inferred: the text unplugs it first and names no battery"
"""Why a cord takes the power away."""


def put_in_order(workshop: Workshop, joints: list[JointDraft]) -> None:
    """Say of every joint what lies over it and what is opened before it."""
    before = _Before(workshop, joints)
    before.apply()
    _tell_unmet(workshop, joints, before.unmet)
    _covers_that_cover(joints)
    _seats_under_covers(joints)
    _seats_of_what_stays(workshop, joints)


def _tell_unmet(
    workshop: Workshop, joints: list[JointDraft], unmet: list[tuple[int, str, int]]
) -> None:
    """What is to be off before, and of which the text does not say how: it is told where its joints are opened."""
    for index, name, line in unmet:
        procedure = workshop.reading.procedures[index]
        opened = tuple(
            joint.id for joint in joints if joint.procedure == index or index in joint.also
        )
        if procedure.kind != "refit" and opened and plain(name):
            text = f"Take off first: {name.strip()} (the text does not say how)."
            known = workshop.unmet.get((text, line), ())
            workshop.unmet[text, line] = tuple(dict.fromkeys([*known, *opened]))


def joint_of_state(workshop: Workshop, joints: list[JointDraft], text: str) -> JointDraft | None:
    """As in "Disconnect the battery cable": the joint that a state speaks of, where the text opens it."""
    if text in workshop.outer:
        return None
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


def tell_outer_ends(workshop: Workshop, joints: list[JointDraft]) -> None:
    """A lead that is pulled before a part comes off, and whose inner end that part still covers, has two ends.

    What is said before the work is the outer one: it stays work at the start.
    """
    before = _Before(workshop, joints)
    for index, opened in enumerate(before.open):
        own = workshop.known(workshop.reading.procedures[index].part)
        for target, item in opened.items():
            joint = next(joint for joint in joints if joint.id == target)
            if joint.procedure >= 0 and before.all_off(joint.procedure) & set(own):
                workshop.outer.add(item.text)


def _pieces(workshop: Workshop, text: str) -> list[str]:
    """As in "keyboard / palm rest", "top cover and print head": the parts of one line, each by itself."""
    found = []
    for piece in re.split(r"\s*/\s*", text):
        each = re.split(r"\s*,\s*(?:and\s+)?|\s+and\s+(?:the\s+)?", piece)
        apart = len(each) > 1 and not workshop.known(piece) and any(map(workshop.known, each))
        found += each if apart else [piece]
    return found


class _Before:
    """What is off and what is open before each procedure, with all that this asks for in turn."""

    def __init__(self, workshop: Workshop, joints: list[JointDraft]) -> None:
        self.workshop = workshop
        self.joints = joints
        self.procedures = workshop.reading.procedures
        self.parts: list[dict[str, Prerequisite]] = []
        self.open: list[dict[str, Prerequisite]] = []
        self.of_part: dict[str, list[int]] = {}
        self.unmet: list[tuple[int, str, int]] = []
        self._off: dict[int, frozenset[str]] = {}
        for index, procedure in enumerate(self.procedures):
            if procedure.kind != "refit":
                for identity in workshop.known(procedure.part):
                    self.of_part.setdefault(identity, []).append(index)
            parts: dict[str, Prerequisite] = {}
            opened: dict[str, Prerequisite] = {}
            for item in procedure.prerequisites:
                if item.kind == "part":
                    for piece in _pieces(workshop, item.text):
                        for identity in workshop.known(piece):
                            if identity != workshop.fixed:
                                parts.setdefault(identity, item)
                        if not workshop.known(piece) and not item.inferred:
                            self.unmet.append((index, piece, item.line))
                elif joint := joint_of_state(workshop, joints, item.text):
                    opened.setdefault(joint.id, item)
            self.parts.append(parts)
            self.open.append(opened)

    def apply(self) -> None:
        """Order every joint that a removal opens."""
        off = [self.all_off(index) for index in range(len(self.procedures))]
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

    def all_off(self, index: int) -> frozenset[str]:
        """Ids of the parts that are off, and of the joints that are open, before a procedure."""
        if index in self._off:
            return self._off[index]
        found: set[str] = set()
        todo, seen = [index], {index}
        while todo:
            number = todo.pop()
            asked = self.parts[number].keys() - found
            found |= {*asked, *self.open[number]}
            # Each part is followed once: a long text has many procedures of one name.
            more = {n for part in asked for n in self.of_part.get(part, ())} - seen
            seen |= more
            todo += sorted(more)
        self._off[index] = frozenset(found)
        return self._off[index]

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
            if all(target in self.all_off(other) for other in joint.also):
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


def _seats_of_what_stays(workshop: Workshop, joints: list[JointDraft]) -> None:
    """As in "Lift the door off its hinge pins": pins that no step takes off stay on the machine, and hold the door.

    What nothing ties to the part on the bench would count as taken off already, and cover nothing.
    """
    rigid = [joint for joint in joints if joint.kind in RIGID_KINDS]
    tied = _tied_to(workshop.fixed, rigid)
    for joint in rigid:
        for part in joint.joins[1:]:
            name = workshop.names.of(workshop.parts[part][0])
            if part in tied or name in workshop.pieces:
                continue
            seat = JointDraft(
                free_id(joints, f"{part}_seat"), "seat", [part, workshop.fixed], joint.line
            )
            seat.after = [other.id for other in rigid if part in other.joins]
            seat.why = {
                "": "inferred: no step takes it off, so it stays where it is",
                "joins": "inferred: what stays on the bench",
                "after": "inferred: what it holds comes off first",
            }
            joints.append(seat)
            tied = _tied_to(workshop.fixed, [*rigid, seat]) | tied


def _tied_to(part: str, rigid: list[JointDraft]) -> set[str]:
    """Parts that hang together with one, over any number of joints."""
    tied, grown = {part}, True
    while grown:
        more = {p for joint in rigid if tied & set(joint.joins) for p in joint.joins} - tied
        tied |= more
        grown = bool(more)
    return tied


def take_power_away(workshop: Workshop, joints: list[JointDraft]) -> None:
    """The battery's plug takes the power away; where the text names none, the cord from the wall does."""
    for joint in joints:
        if joint.kind in ("plug", "ribbon") and any(
            re.search(r"(?:^|_)(?:battery|pack|accumulator|cell)(?:_|$)", part)
            and not re.search(r"(?:^|_)(?:coin|button|cmos|rtc|backup)(?:_|$)", part)
            for part in joint.joins
        ):
            joint.isolates = True
            joint.why["isolates"] = "inferred: it is the battery's plug"
    if not any(joint.isolates for joint in joints):
        _from_the_wall(workshop, joints)
    answer = isolating_answer(workshop, joints)
    if answer is not None:
        for joint in joints:
            joint.isolates = joint.id == answer
            if joint.isolates:
                joint.why["isolates"] = "answered"


def _from_the_wall(workshop: Workshop, joints: list[JointDraft]) -> None:
    """As in "Unplug the power cord": in a machine without a battery that is what takes the power away."""
    live = any(joint.kind in POWERED_KINDS for joint in joints)
    text, (name, line) = next(iter(workshop.cords.items()), ("", ("", 0)))
    if not live or not name:
        return
    part = workshop.part(name, f"line {line}")
    joint = JointDraft(free_id(joints, f"{part}_plug"), "plug", [part, workshop.fixed], line)
    answer = workshop.answers.get("isolates")
    if part == workshop.fixed or (isinstance(answer, str) and answer != joint.id):
        return  # what was answered takes the power away; the cord stays what is done first
    joint.why = {
        "": f"line {line}",
        "joins": f"line {line}; the other side is not said",
        "isolates": FROM_THE_WALL,
    }
    joint.isolates = True
    joints.insert(0, joint)
    workshop.states = [state for state in workshop.states if state[0] != text]


def note_cord(workshop: Workshop, text: str, line: int) -> None:
    """As in "unplug the supply lead", "unplug the pump from the wall outlet", said before the work: a cord."""
    match = _STATE.match(text.strip())
    thing = (match["thing"] or match["told"] or "") if match else ""
    if not thing or _INSIDE.search(text) or workshop.speaks_of_a_battery:
        return
    if _CORD.search(thing) or _LEAD_IN.search(thing):
        workshop.cords.setdefault(text, (thing, line))
    elif _WALL.search(text):
        name = thing if _A_LEAD.search(thing) else "mains lead"
        workshop.cords.setdefault(text, (name, line))


def is_cord(name: str) -> bool:
    """True for a name that a cord from the wall has."""
    return _CORD.search(name) is not None
