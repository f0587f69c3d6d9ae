"""Joints of a draft: what each removal opens, in the order of the text."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

from lastscrew.device.names import to_identifier
from lastscrew.reading.draft_answers import apply_answers
from lastscrew.reading.draft_cables import (
    CABLE_NOUN,
    before_the_cable,
    cable_kind,
    is_board,
    one_by_one,
)
from lastscrew.reading.draft_order import (
    is_cord,
    joint_of_state,
    note_cord,
    put_in_order,
    take_power_away,
    tell_outer_ends,
)
from lastscrew.reading.draft_refit import say_what_refitting_adds
from lastscrew.reading.draft_tables import sizes_of_tables
from lastscrew.reading.draft_workshop import PIECE, JointDraft, Workshop, free_id
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.model import Action, Procedure, Step
from lastscrew.reading.naming import plain

_HOUSINGS = phrase_group("draft_joints_housings")
_MOVES = frozenset(["remove", "lift", "slide", "release", "peel"])
_PARTLESS = word_group("draft_joints_partless")
_PLACES = frozenset(["holder", "slot", "socket", "seat", "cradle", "recess", "pocket"])
_ASIDE = frozenset(["fold", "swing", "tilt", "flip", "pivot", "hinge"])
_OF_PARTS = frozenset(PIECE) - {"unknown"}
_CABLE_KINDS = ("plug", "ribbon", "coax", "board_link")
_UNROUTING = frozenset(["unroute", "unthread", "unclip"])
_OUT_OF_GUIDES = frozenset(
    ["remove", "release", "free", "lift", "take", "pull", "ease", "slide", "detach"]
)
_GUIDES_ALONE = re.compile(
    r"^(?:cable |routing |wire )*(?:guide|channel|clip|hook|tab|retainer)s?$"
)
_GUIDES = re.compile(
    r"\b(?:from|out of)\s+(?:its|the|their|all)\s+(?:[a-z]+ ){0,2}(?:guides?|channels?|clips?|hooks?|retainers?)\b",
    re.IGNORECASE,
)


def gather_joints(workshop: Workshop) -> list[JointDraft]:
    """All joints that the removals of the text open."""
    _choose_fixed(workshop)
    joints: list[JointDraft] = []
    procedures = workshop.reading.procedures
    for index, procedure in enumerate(procedures):
        if procedure.kind == "refit":
            continue
        _Removal(workshop, joints, index, procedure).run()
    sizes_of_tables(workshop, joints)
    for procedure in procedures:
        say_what_refitting_adds(workshop, joints, procedure)
    tell_outer_ends(workshop, joints)
    for procedure in procedures:
        for item in procedure.prerequisites:
            if item.kind == "state" and joint_of_state(workshop, joints, item.text) is None:
                workshop.states.append((item.text, item.line))
                note_cord(workshop, item.text, item.line)
    apply_answers(workshop, joints)
    take_power_away(workshop, joints)
    put_in_order(workshop, joints)
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
        self.opened: list[JointDraft] = []
        self.off: list[str] = []
        self.aside: list[str] = []
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
        if self.workshop.is_optional(self.procedure.part):
            for joint in self.own:
                if joint.joins[0] in self.workshop.known(self.procedure.part):
                    joint.optional = joint.optional or self.procedure.part
        self._fold_in()
        self._last_of_all()

    def _fold_in(self) -> None:
        """As in "screws that hold the hinges", then "lift the display off": the hinges are of what comes off."""
        for joint in self.own:
            near = joint.joins[0]
            name = self.workshop.names.of(self.workshop.parts[near][0])
            seat = next(
                (
                    other
                    for other in self.own[self.own.index(joint) + 1 :]
                    if other.kind == "seat" and set(other.joins) & set(joint.joins[1:])
                ),
                None,
            )
            if (
                joint.kind not in ("screw", "nut")
                or seat is None
                or name in self.workshop.pieces
                or near == self.workshop.fixed
                or seat.joins[0] in joint.joins
                or seat.after
            ):
                continue
            said = self.workshop.parts[near][0].lower()
            joint.joins[0] = seat.joins[0]
            joint.why["joins"] = f"inferred: {said} (line {joint.line}): of what is taken off next"
            seat.after.append(joint.id)

    def _last_of_all(self) -> None:
        """What the procedure is about comes off after all that it opens, also what only stands in its way."""
        own = self.workshop.known(self.procedure.part)
        seats = [joint for joint in self.own if joint.kind == "seat"]
        seat = next((joint for joint in seats if joint.joins[0] in own), None)
        if seat is None:
            return
        part = seat.joins[0]
        before = self.off[: self.off.index(part)] if part in self.off else self.off
        for joint in self.opened[: self.opened.index(seat)]:
            gone = joint.kind != "seat" and joint.joins[0] in before
            if part == joint.joins[0] or gone or joint.joins[0] in seat.under:
                continue
            if joint.id not in seat.after:
                seat.after.append(joint.id)
                seat.why["after"] = "inferred: opened before in the same procedure"

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
        if action.fastener and action.klass in ("remove", "loosen", "release"):
            self._fastener(action)
        elif action.klass == "disconnect":
            self._cable(step, action)
        elif action.klass == "peel" and action.things:
            self._film(step, action)
        elif (
            action.klass == "release"
            and action.things
            and action.things[-1].category in ("cable", "antenna")
        ):
            self._cable(step, action)
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
            self._move(step, action)
        elif action.klass == "clean" and self.own:
            self.own[-1].note_open.append(f"Clean off {action.object}.")

    def _add(self, kind: str, joins: list[str], action: Action, base: str, why: str) -> JointDraft:
        identity = free_id(self.joints, to_identifier(base) or kind)
        joint = JointDraft(identity, kind, joins, action.line, procedure=self.index)
        joint.why[""] = f"line {action.line}"
        joint.why["joins"] = why
        joint.under = [part for part in self.off if part not in joins]
        if joint.under:
            joint.why["under"] = "inferred: taken off before in the same procedure"
        joint.after = list(self.aside)
        if joint.after:
            joint.why["after"] = "inferred: reached when that is folded away"
        if action.optional or any(self.workshop.is_optional(t.name) for t in action.things):
            joint.optional = action.object
        joint.tool = action.tool
        self.joints.append(joint)
        self.own.append(joint)
        self.opened.append(joint)
        return joint

    def _two(self, action: Action, default: str) -> tuple[list[str], str]:
        """Ids of what a joint joins, and where that came from."""
        named = [piece for name in action.joins for piece in _each(name) if plain(piece)]
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
        several = any(len(_each(name)) > 1 for name in action.joins)
        return ids[:2] if len(ids) > 2 and action.fastener and not several else ids, why

    def _part_name(self) -> str:
        part = self.procedure.part
        return part if part and len(part.split()) <= 6 else "main part"

    def _fastener(self, action: Action) -> None:
        ids, why = self._two(action, self._part_name())
        if len(ids) < 2:
            return
        known = self._same(ids, action)
        if known is not None:
            self._again(known)
            return
        kind = {
            "nut": "nut",
            "rivet": "rivet",
            "clip": "clip",
            "pushpin": "pin",
            "push-pin": "pin",
            "fastener": "latch" if action.klass == "release" else "screw",
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
        joint.label = action.things[-1].label if action.things else ""
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

    def _cable(self, step: Step, action: Action) -> None:
        if self._from_the_wall(action):
            text = f"Disconnect the {action.object}."
            if action.from_:
                text = f"Disconnect the {action.object} from the {action.from_}."
            self.workshop.states.append((text, action.line))
            if is_cord(action.object):
                self.workshop.cords.setdefault(text, (action.object, action.line))
            else:
                note_cord(self.workshop, text, action.line)
            return
        comes_along = any(
            other is not action and other.klass in _MOVES and other.verb == action.verb
            for other in step.actions
        )
        if comes_along and action.verb.split()[0] in ("lift", "take", "raise"):
            return
        singles = one_by_one(action)
        has_ends = len(singles) > len(action.things)
        for single in singles:
            if self._is_routed(step, single):
                self._route(single)
            elif not self._all_cables(single):
                self._one_cable(single if has_ends else self._owned(single))

    def _from_the_wall(self, action: Action) -> bool:
        """True for what comes from outside; a power cable that leads to a part is one of the machine's own."""
        if action.things and action.things[-1].category == "power":
            return True
        told = f"{action.object} {action.from_}".lower()
        if re.search(r"power cord|\bmains\b|ac adapter|\bwall\b|outlet", told):
            return True
        inside = len(action.joins) > 1 or re.search(
            r"board|drive|connector|supply|header", action.from_.lower()
        )
        return bool(re.search(r"power (?:cable|lead)", told)) and not inside

    def _is_routed(self, step: Step, action: Action) -> bool:
        """As in "Remove the fan cable from its guides": it stays plugged in and leaves its channel."""
        return action.verb.split()[0] in _UNROUTING or (
            action.verb.split()[0] in _OUT_OF_GUIDES and bool(_GUIDES.search(step.text))
        )

    def _all_cables(self, action: Action) -> bool:
        """As in "Disconnect all cables from the main board": every one that the text names elsewhere."""
        if action.count != "all" or not action.things or " " in action.things[-1].name:
            return False
        hosts = {to_identifier(self.workshop.names.of(name)) for name in action.joins}
        later = [
            joint
            for joint in self.joints
            if joint.kind in _CABLE_KINDS and hosts & set(joint.joins)
        ]
        for joint in later:
            self._again(joint)
        return bool(later)

    def _one_cable(self, action: Action) -> None:
        kind = cable_kind(action)
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
        if len(ids) < 2:
            return
        said = plain(action.things[-1].name) if action.things else plain(action.object)
        known = [
            joint
            for joint in self.joints
            if set(joint.joins) == set(ids)
            and joint.kind == kind
            and joint.procedure != self.index
            and joint not in self.opened
        ]
        if known:
            self._again(next((joint for joint in known if joint.said == said), known[0]))
            return
        joint = self._add(kind, ids, action, f"{ids[0]}_{kind}", why)
        joint.said = said
        if isinstance(action.count, int) and action.count > 1:
            joint.count = action.count
            joint.why["count"] = f"line {action.line}"
        for text, line in self.locks:
            joint.note_open.append(f"Open the {text} first (line {line}).")
            joint.note_close.append(f"Close the {text}.")
        self.locks = []
        joint.isolates = False

    def _owned(self, action: Action) -> Action:
        """The action with the part that its cable belongs to."""
        if len(action.joins) != 2 or not action.things or action.fastener:
            return action
        near, host = action.joins
        named = before_the_cable(action.things[-1].name)
        exact = [near] if self.workshop.names.of(near) in self.workshop.pieces else []
        owners = self.workshop.owner(named) or exact
        owners = [name for name in owners if name != self.workshop.names.of(host)]
        own = self.workshop.names.of(self.procedure.part)
        if owners:
            near_ones = owners
        elif plain(near) not in plain(action.things[-1].name) or self._says_whose(named):
            return action
        elif own in self.workshop.moved and own != self.workshop.names.of(host) and is_board(host):
            near_ones = [self.procedure.part]
            why = (
                *action.inferred,
                ("joins", "the part of the procedure; the text does not say whose cable it is"),
            )
            action = replace(action, inferred=why)
        elif self.workshop.names.of(near) == self.workshop.names.of(host) or " " in named:
            near_ones = [action.things[-1].name]
        else:
            return action
        return replace(action, joins=(*near_ones, host))

    def _says_whose(self, named: str) -> bool:
        """True where the name of a cable is that of a part: "battery" of the battery cable, but not "24-pin power"."""
        return (
            not named or self.workshop.lexicon.category(tuple(named.lower().split())) in _OF_PARTS
        )

    def _again(self, joint: JointDraft) -> None:
        """The same joint, opened in this procedure as well."""
        if joint.procedure != self.index:
            joint.also.setdefault(self.index, frozenset(self.off))
        if joint not in self.opened:
            self.opened.append(joint)

    def _film(self, step: Step, action: Action) -> None:
        thing = action.things[-1]
        name = f"{thing.name} {action.from_}".lower()
        if "protective" in name or "backing" in name or "liner" in name or " new " in f" {name} ":
            return
        is_part = thing.category not in ("film", "supply")
        joined = [
            self.workshop.part(self._whose(name), f"line {action.line}")
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

    def _whose(self, name: str) -> str:
        """As in "tape that holds the antenna cables": the part to which the draft has given that cable."""
        near = before_the_cable(name)
        return near if near != name and self.workshop.known(near) else name

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
            if following is not None and following.things and following.things[-1].category in PIECE
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
        near = before_the_cable(action.object) or action.object
        names = self.workshop.owner(near) or [re.sub(CABLE_NOUN, "", action.object).strip() or near]
        owners = list(
            dict.fromkeys(self.workshop.part(name, f"line {action.line}") for name in names)
        )
        hosts = [
            self.workshop.part(name, f"line {action.line}")
            for name in action.joins[1:]
            if plain(name) and not _GUIDES_ALONE.search(plain(name))
        ]
        host = next((name for name in hosts if name not in owners), self.workshop.fixed)
        owners = [owner for owner in owners if owner != host]
        if not owners:
            return
        joins = [*owners, host]
        for joint in self.joints:
            if joint.kind == "route" and joint.joins == joins:
                self._again(joint)
                return
        said = "" if len(hosts) == 1 else "; the other side is not said"
        self._add("route", joins, action, f"{owners[0]}_route", f"line {action.line}{said}")

    def _move(self, step: Step, action: Action) -> None:
        """A part that is taken off: what held it is open; where nothing was said to hold it, it has a seat."""
        before = list(self.off)
        for thing in action.things:
            if (
                thing.category in _PARTLESS
                or thing.category not in PIECE
                or thing.name.startswith("new ")
            ):
                continue
            part = self.workshop.part(thing.name, f"line {action.line}")
            if part == self.workshop.fixed or part in self.off:
                continue
            self._seat(part, action, step, before)
            if action.verb.split()[0] in _ASIDE and not _is_taken_too(action, step):
                # It hangs on its cables still: what it uncovers is reached, what lies over it is not gone.
                self.aside += [
                    j.id for j in self.own[-1:] if j.kind == "seat" and j.joins[0] == part
                ]
            else:
                self.off.append(part)

    def _host(self, name: str, step: Step) -> str:
        """As in "out of its holder on the main board": the board, since the holder is a place and no part."""
        last = plain(name).split()[-1:]
        if last and last[0] in _PLACES and self.workshop.names.of(name) not in self.workshop.pieces:
            whole = re.search(
                rf"\b{last[0]}s?\s+(?:on|of|in)\s+(?:the\s+)?([\w -]+)", step.text, re.IGNORECASE
            )
            known = [
                piece
                for piece in sorted(self.workshop.pieces, key=lambda piece: (-len(piece), piece))
                if whole and plain(whole[1]).startswith(piece)
            ]
            return known[0] if known else ""
        return name

    def _seat(self, part: str, action: Action, step: Step, covers: list[str]) -> None:
        if any(joint.kind == "seat" and joint.joins[0] == part for joint in self.joints):
            return
        moved = {self.workshop.names.of(thing.name) for thing in action.things}
        others = [
            self.workshop.part(name, f"line {action.line}")
            for name in (self._host(name, step) for name in _sits_on(action, step))
            if plain(name) and self.workshop.names.of(name) not in moved
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
            for joint in self.opened
            if part in joint.joins
            and joint.kind in ("screw", "nut", "clip", "latch", "pin", "rivet", "adhesive")
        ]
        joint = self._add(
            "seat",
            [part, other],
            action,
            f"{part}_seat",
            "inferred: where it lies until it is taken out",
        )
        joint.after = list(dict.fromkeys([*holders, *joint.after]))
        joint.under = [cover for cover in covers if cover not in joint.joins]
        joint.why[""] = f"line {action.line}; inferred: a part that is lifted out sat somewhere"


def _is_taken_too(action: Action, step: Step) -> bool:
    """As in "Swing the bezel out and remove it"."""
    return any(
        other.klass in ("remove", "lift") and other.things and other.verb != action.verb
        for other in step.actions[step.actions.index(action) + 1 :]
    )


def _sits_on(action: Action, step: Step) -> list[str]:
    """As in "Slide it away from the rear panel and lift it out of the chassis": what the last of the moves names."""
    moves = [
        other
        for other in step.actions
        if other.klass in _MOVES
        and {thing.name for thing in other.things} == {thing.name for thing in action.things}
        and other.joins
    ]
    return list(moves[-1].joins if moves else action.joins)


def _each(name: str) -> list[str]:
    """As in "key bracket and side keys": the two things that one phrase names."""
    return re.split(r"\s*,\s*(?:and\s+)?|\s+and\s+", name)
