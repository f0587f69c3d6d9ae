"""Joints of a draft: what each removal opens, in the order of the text."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from lastscrew.device.model import RIGID_KINDS
from lastscrew.device.names import to_identifier
from lastscrew.problems import Problem
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.model import Action, Caution, Procedure, Reading, Step
from lastscrew.reading.naming import Names, plain
from lastscrew.reading.torques_said import torque_in

_HOUSINGS = phrase_group("draft_joints_housings")
_MOVES = frozenset(["remove", "lift", "slide", "release", "peel"])
_PIECE = word_group("draft_joints_piece")
_PARTLESS = word_group("draft_joints_partless")


@dataclass
class JointDraft:
    """One joint under way. ``why`` holds a comment for each key that is set."""

    id: str
    kind: str
    joins: list[str]
    line: int
    why: dict[str, str] = field(default_factory=dict)
    under: list[str] = field(default_factory=list)
    after: list[str] = field(default_factory=list)
    count: int | str | None = None
    size: str = ""
    drive: str = ""
    head: str = ""
    colour: str = ""
    captive: bool = False
    loosen_only: bool = False
    order: str = ""
    tool: str = ""
    isolates: bool = False
    single_use: bool = False
    optional: str = ""
    note_open: list[str] = field(default_factory=list)
    note_close: list[str] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    torque_ncm: float | None = None
    renew: list[str] = field(default_factory=list)
    procedure: int = -1


@dataclass
class Workshop:
    """What all functions of a draft share."""

    reading: Reading
    lexicon: Lexicon
    names: Names
    answers: Mapping[str, object]
    answered: set[str] = field(default_factory=set)
    parts: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Id of a part to (name, comment)."""
    fixed: str = ""
    fixed_why: str = ""
    states: list[tuple[str, int]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    """Answers that fit no question of their kind."""

    def answer(self, question: str) -> object | None:
        """The answer to a question, noted as used."""
        if question in self.answers:
            self.answered.add(question)
            return self.answers[question]
        return None

    def part(self, name: str, comment: str) -> str:
        """Id of the part with this name, made where there is none."""
        canonical = self.names.of(name)
        identity = to_identifier(canonical) or "part"
        if identity not in self.parts:
            self.parts[identity] = (canonical[:1].upper() + canonical[1:], comment)
        return identity


def gather_joints(workshop: Workshop) -> list[JointDraft]:
    """All joints that the removals of the text open."""
    _choose_fixed(workshop)
    joints: list[JointDraft] = []
    procedures = workshop.reading.procedures
    for index, procedure in enumerate(procedures):
        if procedure.kind == "refit":
            continue
        _Removal(workshop, joints, index, procedure).run()
    for procedure in procedures:
        _from_refit(workshop, joints, procedure)
        for item in procedure.prerequisites:
            if item.kind == "state":
                workshop.states.append((item.text, item.line))
    _apply_answers(workshop, joints)
    _under_prerequisites(workshop, joints)
    _covers_that_cover(joints)
    _seats_under_covers(joints)
    _isolation(workshop, joints)
    return joints


def _choose_fixed(workshop: Workshop) -> None:
    """What stays on the bench: what the text says things are fixed to most often and never takes off."""
    answer = workshop.answer("fixed")
    if isinstance(answer, str):
        workshop.fixed = workshop.part(answer, "answered")
        workshop.fixed_why = "answered"
        return
    taken = {
        plain(thing.name)
        for procedure in workshop.reading.procedures
        if procedure.kind != "refit"
        for action in procedure.actions()
        if action.klass in ("remove", "lift", "slide", "peel")
        for thing in action.things
    }
    counts: Counter[str] = Counter()
    for procedure in workshop.reading.procedures:
        for action in procedure.actions():
            for name in action.joins[1:]:
                canonical = workshop.names.of(name)
                if canonical and canonical not in taken and name not in taken:
                    counts[canonical] += 1 + 3 * any(
                        word in canonical.split() for word in _HOUSINGS
                    )
    if counts:
        best = min(counts, key=lambda name: (-counts[name], name))
        workshop.fixed = workshop.part(
            best, "what most joints lead to and the text never takes off"
        )
        workshop.fixed_why = "inferred: most joints lead to it and the text never takes it off"
        return
    workshop.fixed = workshop.part("chassis", "not named in the text")
    workshop.fixed_why = "inferred: the text does not name what stays on the bench"


class _Removal:
    """Joints of one removal, step by step."""

    def __init__(
        self, workshop: Workshop, joints: list[JointDraft], index: int, procedure: Procedure
    ) -> None:
        self.workshop = workshop
        self.joints = joints
        self.index = index
        self.procedure = procedure
        self.own: list[JointDraft] = []
        self.off: list[str] = []
        self.locks: list[tuple[str, int]] = []
        self.refitting = False

    def run(self) -> None:
        """Every action that opens something becomes a joint, or says more about one."""
        for step in self.procedure.steps:
            for position, action in enumerate(step.actions):
                if self._closes(action):
                    continue
                self._action(step, position, action)
            if step.cautions and self.own:
                self.own[-1].cautions += [
                    caution for caution in step.cautions if caution not in self.own[-1].cautions
                ]
        if self.own:
            self.own[0].cautions += list(self.procedure.cautions)

    def _closes(self, action: Action) -> bool:
        """In a text that runs from removal to refitting without a heading, the second half opens nothing."""
        if self.procedure.kind == "both" and action.klass in (
            "tighten",
            "replace",
            "insert",
            "connect",
        ):
            self.refitting = True
        elif action.klass in ("remove", "disconnect") and not action.weak:
            self.refitting = False
        return self.refitting

    def _action(self, step: Step, position: int, action: Action) -> None:
        if action.fastener and action.klass in ("remove", "loosen"):
            self._fastener(action)
        elif action.klass == "disconnect":
            self._cable(action)
        elif action.klass == "peel" and action.things:
            self._film(step, action)
        elif (
            action.klass == "release"
            and action.things
            and action.things[-1].category in ("lock", "clip", "button", "connector", "tie")
        ):
            self._lock(step, position, action)
        elif action.klass == "route" and action.things:
            self._route(action)
        elif (
            action.klass in _MOVES
            or action.verb in ("set aside", "put aside", "lay aside", "move aside")
            or (
                action.klass == "other"
                and action.verb.split()[0] in ("set", "lay", "put")
                and action.to.lower() in ("side", "the side")
            )
        ):
            self._move(action)
        elif action.klass == "clean" and self.own:
            self.own[-1].note_open.append(f"Clean off {action.object}.")

    def _add(self, kind: str, joins: list[str], action: Action, base: str, why: str) -> JointDraft:
        identity = _free_id(self.joints, to_identifier(base) or kind)
        joint = JointDraft(identity, kind, joins, action.line, procedure=self.index)
        joint.why[""] = f"line {action.line}"
        joint.why["joins"] = why
        joint.under = [part for part in self.off if part not in joins]
        if joint.under:
            joint.why["under"] = "inferred: taken off before in the same procedure"
        if action.optional:
            joint.optional = action.object
        joint.tool = action.tool
        self.joints.append(joint)
        self.own.append(joint)
        return joint

    def _two(self, action: Action, default: str) -> tuple[list[str], str]:
        """Ids of what a joint joins, and where that came from."""
        named = [name for name in action.joins if plain(name)]
        said = dict(action.inferred).get("joins", "")
        ids = list(dict.fromkeys(self.workshop.part(name, f"line {action.line}") for name in named))
        why = f"line {action.line}" if not said else f"inferred: {said}"
        if not ids:
            ids = [self.workshop.part(default, f"heading, line {self.procedure.line}")]
            why = "inferred: the part of the procedure"
        if len(ids) < 2:
            other = self.workshop.fixed
            if ids[0] == other:
                other = self.workshop.part(
                    self._part_name(), f"heading, line {self.procedure.line}"
                )
            if ids[0] != other:
                ids.append(other)
                why += "; the other side is not said"
        return ids[:2] if len(ids) > 2 and action.fastener else ids, why

    def _part_name(self) -> str:
        part = self.procedure.part
        return part if part and len(part.split()) <= 6 else "main part"

    def _fastener(self, action: Action) -> None:
        ids, why = self._two(action, self._part_name())
        if len(ids) < 2:
            return
        known = self._same(ids, action)
        if known is not None:
            return
        kind = {
            "nut": "nut",
            "rivet": "rivet",
            "clip": "clip",
            "pushpin": "pin",
            "push-pin": "pin",
        }.get(action.fastener, "screw")
        if action.fastener == "washer":
            return
        joint = self._add(kind, ids, action, f"{ids[0]}_{action.fastener}s", why)
        joint.count = action.count
        inferred = dict(action.inferred).get("count")
        joint.why["count"] = f"from {inferred}" if inferred else f"line {action.line}"
        joint.size, joint.drive, joint.head, joint.colour = (
            action.size,
            action.drive,
            action.head_form,
            action.colour,
        )
        joint.captive, joint.order = action.captive, action.order
        joint.loosen_only = action.klass == "loosen"
        joint.under = [part for part in joint.under if part not in ids]

    def _same(self, ids: list[str], action: Action) -> JointDraft | None:
        """The same screws told again in another procedure (a cover that comes off first each time)."""
        for joint in self.joints:
            if (
                joint.procedure != self.index
                and joint.kind in ("screw", "nut")
                and set(joint.joins) == set(ids)
                and (joint.count == action.count or action.count is None)
                and joint.size in ("", action.size)
            ):
                return joint
        return None

    def _cable(self, action: Action) -> None:
        if (action.things and action.things[-1].category == "power") or re.search(
            r"power (?:cord|cable)|mains|ac adapter|wall|outlet",
            f"{action.object} {action.from_}".lower(),
        ):
            self.workshop.states.append((f"Disconnect the {action.object}.", action.line))
            return
        kind = _cable_kind(action)
        ids, why = self._two(action, action.object or self._part_name())
        board = next(
            (
                part
                for part in self.workshop.parts
                if "board" in part.split("_") and part not in ids
            ),
            "",
        )
        if len(action.joins) < 2 and board and self.workshop.fixed in ids and len(ids) == 2:
            ids = [part if part != self.workshop.fixed else board for part in ids]
            why = "inferred: a cable of this text leads to the board"
        if len(ids) < 2 or any(
            set(joint.joins) == set(ids) and joint.kind == kind and joint.procedure != self.index
            for joint in self.joints
        ):
            return
        joint = self._add(kind, ids, action, f"{ids[0]}_{kind}", why)
        if isinstance(action.count, int) and action.count > 1:
            joint.count = action.count
            joint.why["count"] = f"line {action.line}"
        for text, line in self.locks:
            joint.note_open.append(f"Open the {text} first (line {line}).")
            joint.note_close.append(f"Close the {text}.")
        self.locks = []
        joint.isolates = False

    def _film(self, step: Step, action: Action) -> None:
        thing = action.things[-1]
        name = f"{thing.name} {action.from_}".lower()
        if "protective" in name or "backing" in name or "liner" in name or " new " in f" {name} ":
            return
        is_part = thing.category not in ("film", "supply")
        joined = [
            self.workshop.part(name, f"line {action.line}")
            for name in action.joins
            if plain(name) and (is_part or plain(name) != plain(thing.name))
        ]
        ids = list(dict.fromkeys(joined))
        if is_part and self.workshop.part(thing.name, f"line {action.line}") not in ids:
            ids.insert(0, self.workshop.part(thing.name, f"line {action.line}"))
        if not ids:
            ids = [self.workshop.part(self._part_name(), f"heading, line {self.procedure.line}")]
        if len(ids) < 2 and self.workshop.fixed not in ids:
            ids.append(self.workshop.fixed)
        if len(ids) < 2:
            return
        joint = self._add(
            "adhesive" if is_part else "tape",
            ids,
            action,
            f"{ids[0]}_{'adhesive' if is_part else 'tape'}",
            f"line {action.line}",
        )
        if re.search(
            r"cannot be (?:saved|reused)|discard|not be reused|single use|new (?:tape|adhesive)",
            step.text.lower(),
        ):
            joint.single_use = True
            joint.why["reuse"] = f"line {action.line}"

    def _lock(self, step: Step, position: int, action: Action) -> None:
        following = next(
            (
                other
                for other in step.actions[position + 1 :]
                if other.klass in ("disconnect", *_MOVES)
            ),
            None,
        )
        if following is None:
            later = [a for s in self.procedure.steps if s.line > step.line for a in s.actions]
            following = next(
                (other for other in later[:2] if other.klass in ("disconnect", *_MOVES)), None
            )
        if action.things[-1].category == "connector" or (
            following is not None and following.klass == "disconnect"
        ):
            self.locks.append((action.object, action.line))
            return
        held = (
            following.things[-1].name
            if following is not None
            and following.things
            and following.things[-1].category in _PIECE
            else self._part_name()
        )
        part = self.workshop.part(held, f"line {action.line}")
        other = self.workshop.fixed
        if part == other:
            return
        kind = "clip" if action.things[-1].category == "clip" else "latch"
        if any(
            joint.kind == kind and set(joint.joins) == {part, other}
            for joint in self.joints
            if joint.procedure != self.index
        ):
            return
        joint = self._add(
            kind, [part, other], action, f"{part}_{kind}", "inferred: what is moved next"
        )
        if isinstance(action.count, int):
            joint.count = action.count
            joint.why["count"] = f"line {action.line}"

    def _route(self, action: Action) -> None:
        owner = self.workshop.part(
            re.sub(r"\b(?:cables?|wires?|leads?|harness)\b", "", action.object).strip()
            or action.object,
            f"line {action.line}",
        )
        if owner != self.workshop.fixed:
            self._add(
                "route",
                [owner, self.workshop.fixed],
                action,
                f"{owner}_route",
                f"line {action.line}; the other side is not said",
            )

    def _move(self, action: Action) -> None:
        """A part that is taken off: what held it is open; where nothing was said to hold it, it has a seat."""
        for thing in action.things:
            if (
                thing.category in _PARTLESS
                or thing.category not in _PIECE
                or thing.name.startswith("new ")
            ):
                continue
            part = self.workshop.part(thing.name, f"line {action.line}")
            if part == self.workshop.fixed or part in self.off:
                continue
            self._seat(part, action)
            self.off.append(part)

    def _seat(self, part: str, action: Action) -> None:
        if any(joint.kind == "seat" and part in joint.joins for joint in self.joints):
            return
        others = [
            self.workshop.part(name, f"line {action.line}") for name in action.joins if plain(name)
        ]
        other = next((name for name in others if name != part), "")
        if not other:
            holding = [
                joint
                for joint in self.own
                if part in joint.joins and joint.kind in ("screw", "nut", "latch", "clip")
            ]
            other = next(
                (p for joint in holding for p in joint.joins if p != part), self.workshop.fixed
            )
        if other == part:
            return
        holders = [
            joint.id
            for joint in self.own
            if part in joint.joins
            and joint.kind in ("screw", "nut", "clip", "latch", "pin", "rivet", "adhesive")
        ]
        covers = list(self.off)
        joint = self._add(
            "seat",
            [part, other],
            action,
            f"{part}_seat",
            "inferred: where it lies until it is taken out",
        )
        joint.after = holders
        joint.under = [cover for cover in covers if cover not in joint.joins]
        joint.why[""] = f"line {action.line}; inferred: a part that is lifted out sat somewhere"


def _cable_kind(action: Action) -> str:
    low = f"{action.object} {' '.join(thing.name for thing in action.things)}".lower()
    if re.search(r"\b(?:fpc|ffc|ribbon|flex|flat)\b", low):
        return "ribbon"
    if re.search(r"\b(?:coax|antenna|u\.fl|ipex|aerial)\b", low):
        return "coax"
    if re.search(r"\bboard[- ]to[- ]board\b", low):
        return "board_link"
    return "plug"


def _free_id(joints: list[JointDraft], base: str) -> str:
    base = base[:54].rstrip("_")
    taken = {joint.id for joint in joints}
    if base not in taken:
        return base
    number = 2
    while f"{base}_{number}" in taken:
        number += 1
    return f"{base}_{number}"


def _from_refit(workshop: Workshop, joints: list[JointDraft], procedure: Procedure) -> None:
    """The refitting half adds what only it says: supplies, sizes, order, torque."""
    if procedure.kind == "removal":
        return
    for action in procedure.actions():
        if (
            action.klass == "apply"
            and action.things
            and action.things[-1].category in ("residue", "supply")
        ):
            _renew(workshop, joints, action)
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


def _renew(workshop: Workshop, joints: list[JointDraft], action: Action) -> None:
    target = workshop.names.of(action.to) if action.to else ""
    identity = to_identifier(target) or ""
    fitting = [
        joint
        for joint in joints
        if identity in joint.joins
        or any("sink" in part or "cooler" in part for part in joint.joins)
    ]
    if fitting:
        fitting[-1].renew.append(re.sub(r"^.*\bof (?:new )?|^new ", "", action.object))
        fitting[-1].why["renew"] = f"line {action.line}; the amount is not said"


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


def _under_prerequisites(workshop: Workshop, joints: list[JointDraft]) -> None:
    """What must be off before a procedure lies over all that it opens."""
    for index, procedure in enumerate(workshop.reading.procedures):
        required = []
        for item in procedure.prerequisites:
            if item.kind != "part":
                continue
            for piece in re.split(r"\s*/\s*", item.text):
                identity = to_identifier(workshop.names.of(piece)) or ""
                if identity in workshop.parts and identity != workshop.fixed:
                    required.append((identity, item))
        for joint in joints:
            if joint.procedure != index:
                continue
            for identity, item in required:
                if (
                    identity not in joint.under
                    and identity not in joint.joins
                    and joint.why.get("under") != "answered"
                ):
                    joint.under.append(identity)
                    joint.why["under"] = (
                        f"inferred: {'stated as done before, line ' + str(item.line) if not item.inferred else item.inferred}"  # noqa: E501
                    )


def _apply_answers(workshop: Workshop, joints: list[JointDraft]) -> None:
    """What a person answered about single joints."""
    for joint in joints:
        fastener = workshop.answer(f"fastener.{joint.id}")
        if isinstance(fastener, str):
            words = fastener.split()
            sizes = [word for word in words if re.match(r"^#?M?\d", word)]
            joint.size = sizes[0] if sizes else joint.size
            joint.drive = " ".join(word for word in words if word not in sizes) or joint.drive
            joint.why["fastener"] = "answered"
        tool = workshop.answer(f"tool.{joint.id}")
        if isinstance(tool, str):
            joint.tool = tool
            joint.why["tool"] = "answered"
        joins = workshop.answer(f"joins.{joint.id}")
        if isinstance(joins, list) and len(joins) >= 2:
            joint.joins = list(dict.fromkeys(workshop.part(name, "answered") for name in joins))
            joint.why["joins"] = "answered"
        under = workshop.answer(f"under.{joint.id}")
        if isinstance(under, list):
            joint.under = [workshop.part(name, "answered") for name in under]
            joint.why["under"] = "answered"


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
            _free_id(joints, f"{part}_seat"),
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


def _isolation(workshop: Workshop, joints: list[JointDraft]) -> None:
    """The battery's plug takes the power away."""
    answer = workshop.answer("isolates")
    for joint in joints:
        if isinstance(answer, str):
            joint.isolates = joint.id == answer
            continue
        if joint.kind in ("plug", "ribbon") and any(
            re.search(r"(?:^|_)(?:battery|pack|accumulator|cell)(?:_|$)", part)
            for part in joint.joins
        ):
            joint.isolates = True
            joint.why["isolates"] = "inferred: it is the battery's plug"
