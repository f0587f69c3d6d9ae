"""A job in stages: the same side up, the same tool in hand, all that belongs to each step."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from lastscrew.bench.work.course import Course
from lastscrew.bench.work.due import ActsDue
from lastscrew.bench.work.items import Happened, Item, ItemKind, Line, Stage, StageKind, Tap
from lastscrew.bench.work.needs import order_event
from lastscrew.bench.work.steps import StepWriter, act_tap, act_words, cautions_of
from lastscrew.device.fitting import fit
from lastscrew.device.model import Act, Device
from lastscrew.device.opening import parts_loose, parts_off
from lastscrew.paper.words import tool_words
from lastscrew.plan.acts import ActsDone, acts_done, replaced_ids
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.handling import Loose, TurnNote
from lastscrew.plan.model import Limb, Request, Step
from lastscrew.plan.walking import open_at_start
from lastscrew.plan.wording import joint_name, listed, part_name, piece_name, plain
from lastscrew.proof.checks import Gate, Proof, proof_of
from lastscrew.run.state import JobState, parts_of
from lastscrew.saying import say


def acts_of_job(device: Device, course: Course, state: JobState) -> ActsDone:
    """Acts of the whole job: what was exchanged before the plan was made anew still asks for its acts."""
    fitted = fit(device, state.not_fitted, state.fitted)
    pieces = dict.fromkeys((*state.replace, *(x.part for x in state.exchanged)))
    known = tuple(piece for piece in pieces if parts_of(fitted, piece))
    plan = course.plan
    opened = {*state.opened, *(step.joint for step in plan.way_in)} if plan else set(state.opened)
    turning = opened | set(plan.open_at_turning if plan else ())
    return acts_done(fitted, replaced_ids(fitted, Request(replace=known)), opened, turning)


def stages_of(
    device: Device, course: Course, state: JobState, places: Mapping[str, str]
) -> tuple[Stage, ...]:
    """The stages of a job, those that are done included.

    Args:
        device: The whole device.
        course: What the job follows.
        state: How it stands.
        places: Joint to compartment of the tray.
    """
    return _Stages(device, course, state, places).all()


class _Stages:
    """Puts the stages of one job together."""

    def __init__(
        self, device: Device, course: Course, state: JobState, places: Mapping[str, str]
    ) -> None:
        self.course, self.state = course, state
        self.device = course.device
        self.acts = acts_of_job(device, course, state)
        self.due = ActsDue.of(state)
        self.writer: StepWriter | None = None
        self.proof: Proof | None = None
        if course.briefing is not None and course.plan is not None:
            self.writer = StepWriter.of(course, course.briefing, state, places, self.acts.at_step)
            self.proof = proof_of(self.device, course.plan)
        self.side = course.plan.start_side if course.plan else (state.side or self.device.sides[0])
        self.number = 0

    def all(self) -> tuple[Stage, ...]:
        """Every stage in the order of the work."""
        found: list[Stage] = []
        found.extend(self._acts("before", self.acts.start))
        plan, briefing = self.course.plan, self.course.briefing
        if plan is not None and briefing is not None:
            opened = frozenset(open_at_start(plan))
            found.extend(self._way("in", plan.way_in, opened, briefing))
            found.extend(self._turning(briefing))
            found.extend(self._way("out", plan.way_out, plan.open_at_turning, briefing))
        else:
            found.extend(self._acts("turning", self.acts.turning))
        found.extend(self._acts("after", self.acts.end))
        return tuple(found)

    # --- acts tied to no joint --------------------------------------------------------------------

    def _acts(self, kind: StageKind, acts: Sequence[Act]) -> Iterator[Stage]:
        items = tuple(self._act_item(kind, act) for act in acts)
        turn_to = self.device.sides[0] if kind == "after" and self._must_turn_back() else ""
        lines = tuple(self._end_turn_lines()) if turn_to else ()
        if items:
            side = turn_to or self.side
            yield Stage(kind, kind, side, "", turn_to, lines, items)

    def _must_turn_back(self) -> bool:
        plan = self.course.plan
        return bool(plan and plan.way_out and self.side != self.device.sides[0])

    def _end_turn_lines(self) -> Iterator[Line]:
        briefing = self.course.briefing
        for note in briefing.turns if briefing else ():
            if note.limb == "out" and note.before is None:
                yield from _loose_lines(self.device, note)

    def _act_item(self, kind: StageKind, act: Act) -> Item:
        return Item(
            id=f"act:{act.id}",
            kind="act",
            limb="out" if kind == "after" else "in",
            joint=None,
            number=None,
            verb="",
            name=act_words(self.device, act),
            parts="",
            side=self.side,
            tool=tool_words(self.device, act.tool) if act.tool else "",
            taps=(act_tap(self.device, act, is_done=self._is_done(kind, act)),),
            lines=(Line("value", say("Take a photo of it.")),) if "photo" in act.evidence else (),
        )

    def _is_done(self, kind: StageKind, act: Act) -> bool:
        if kind == "before":
            steps = self.course.plan.way_in if self.course.plan else ()
            opens_more = any((step.joint, "in") not in self.course.done for step in steps)
            return self.due.is_done_first(act.id, opens_more=opens_more)
        if kind == "after":
            return self.due.is_done_last(act.id)
        return act.id in self.state.acts_done

    # --- the two ways -----------------------------------------------------------------------------

    def _way(
        self, limb: Limb, steps: Sequence[Step], opened: frozenset[str], briefing: Briefing
    ) -> Iterator[Stage]:
        for number, (_, group) in enumerate(groupby(steps, key=lambda s: (s.side, s.tool)), 1):
            of_stage = list(group)
            first = of_stage[0]
            items: list[Item] = []
            for step in of_stage:
                self.number += 1
                items.extend(self._items(step, opened))
                opened = opened | {step.joint} if step.limb == "in" else opened - {step.joint}
            turn_to = first.side if first.side != self.side else ""
            self.side = first.side
            yield Stage(
                id=f"{limb}:{number}:{first.joint}",
                kind=limb,
                side=first.side,
                tool=tool_words(self.device, first.tool),
                turn_to=turn_to,
                lines=tuple(self._turn_lines(briefing, first)) if turn_to else (),
                items=tuple(items),
            )

    def _turn_lines(self, briefing: Briefing, step: Step) -> Iterator[Line]:
        for note in briefing.turns:
            if (note.limb, note.before) == (step.limb, step.joint):
                yield from _loose_lines(self.device, note)

    def _items(self, step: Step, opened: frozenset[str]) -> Iterator[Item]:
        assert self.writer is not None
        item = self.writer.item(step, self.number, opened)
        if step.limb == "out" and self.proof is not None:
            for gate in self.proof.gates:
                if gate.joint == step.joint:
                    yield from self._gate(gate, item)
        yield item

    # --- what is shown to work before a joint is closed ----------------------------------------------

    def _gate(self, gate: Gate, before: Item) -> Iterator[Item]:
        proven = {name for name in gate.functions if self._is_proven(name)}
        is_closed = (gate.joint, "out") in self.course.done
        is_past = is_closed or proven.issuperset(gate.functions)
        if gate.power is not None:
            yield self._power_on(gate, before, is_done=is_past or self.state.check_on)
        for name in gate.functions:
            if name in self.device.functions:
                yield self._prove(gate, name, before, is_done=is_closed or name in proven)
        if gate.power is not None:
            yield self._power_off(gate, before, is_done=is_past and not self.state.check_on)

    def _is_proven(self, function: str) -> bool:
        checks = self.state.checks
        found = (checks.get((function, phase)) for phase in ("during", "after"))
        waived = any(waiver.function == function for waiver in self.state.waivers)
        return waived or any(check is not None and check.outcome == "works" for check in found)

    def _power_on(self, gate: Gate, before: Item, *, is_done: bool) -> Item:
        assert gate.power is not None
        said: Happened = {
            "event": "power_on",
            "functions": list(gate.functions),
            "names": list(gate.power.names),
        }
        text = plain(gate.power.text)
        cautions = cautions_of(self.device, gate.power.hazards)
        tap = Tap("power", text, (said,), cautions=cautions, is_done=is_done)
        return _beside(
            before,
            f"power_on:{gate.joint}",
            "power_on",
            say("Power on for a check"),
            (tap,),
        )

    def _power_off(self, gate: Gate, before: Item, *, is_done: bool) -> Item:
        off: Happened = {"event": "power_off"}
        tap = Tap("power", say("The power is taken away again"), (off,), is_done=is_done)
        return _beside(
            before,
            f"power_off:{gate.joint}",
            "power_off",
            say("Take the power away"),
            (tap,),
        )

    def _prove(self, gate: Gate, name: str, before: Item, *, is_done: bool) -> Item:
        function = self.device.functions[name]
        works: Happened = {
            "event": "checked",
            "function": name,
            "outcome": "works",
            "phase": "during",
        }
        measure = function.measure
        fields: dict[str, str] = {}
        if measure:
            fields["value"] = say("Value in {unit}", unit=measure.unit)
            works = {**works, "unit": measure.unit}
        fails: Happened = {**works, "outcome": "fails"}
        tap = Tap(
            "prove",
            say("{function}: works", function=function.name),
            (works,),
            fields=fields,
            otherwise=(say("fails"), (fails,)),
            is_done=is_done,
        )
        item = _beside(
            before,
            f"prove:{gate.joint}:{name}",
            "prove",
            say("Prove: {function}", function=function.name),
            (tap,),
        )
        lines = [Line("note", function.check)] if function.check else []
        lines += [
            Line("note", _needs_closed(joint_name(self.device, needed)))
            for which, needed in gate.in_vain
            if which == name
        ]
        return replace(item, lines=tuple(lines))

    # --- the turning point ------------------------------------------------------------------------

    def _turning(self, briefing: Briefing) -> Iterator[Stage]:
        items = [self._exchange(briefing, piece) for piece in briefing.plan.request.replace]
        items += [self._act_item("turning", act) for act in self.acts.turning]
        lines = []
        if briefing.plan.request.reach:
            names = listed([joint_name(self.device, j) for j in briefing.plan.request.reach])
            lines.append(
                Line("note", say("What was to be reached is open: {joints}.", joints=names))
            )
        if items or lines:
            yield Stage("turning", "turning", self.side, "", "", tuple(lines), tuple(items))

    def _exchange(self, briefing: Briefing, piece: str) -> Item:
        device = self.device
        parts = parts_of(device, piece)
        fields: dict[str, str] = {}
        if any(device.parts[part].serial for part in parts):
            fields = {
                "old_serial": say("Old serial number"),
                "new_serial": say("New serial number"),
            }
        said: dict[str, object] = {"event": "exchanged", "part": piece}
        code = _order_code(device, piece)
        if code:
            said["order_code"] = code
        fitted = [order_event(device, word, "fitted") for word in piece.split("+")]
        name = piece_name(device, piece)
        lines = [
            Line(
                "move",
                say("Move across to the new one: {parts}.", parts=_names(device, across.parts)),
            )
            for across in briefing.moves_across
            if across.piece == piece
        ]
        for part in parts:
            if device.parts[part].identity:
                text = say(
                    "The machine's identity lies in {part}: it is carried over at the checks.",
                    part=part_name(device, part),
                )
                lines.append(Line("note", text))
        opened = briefing.plan.open_at_turning
        return Item(
            id=f"exchange:{piece}",
            kind="exchange",
            limb="in",
            joint=None,
            number=None,
            verb=say("Exchange"),
            name=name,
            parts=_names(device, parts),
            side=self.side,
            tool="",
            taps=(
                Tap(
                    "exchange",
                    say("{piece}: exchanged", piece=name),
                    (said, *fitted),
                    fields=fields,
                    is_done=piece in self.course.exchanged,
                ),
            ),
            cautions=cautions_of(
                device, tuple(h for part in parts for h in device.parts[part].hazards)
            ),
            lines=tuple(lines),
            gone=tuple(p for p in parts_off(device, opened) if p not in parts),
            loose=parts_loose(device, opened),
            opened=tuple(sorted(opened)),
        )


def _needs_closed(joint: str) -> str:
    return say("It needs {joint} closed, which is still open.", joint=joint)


def _order_code(device: Device, piece: str) -> str | None:
    if piece in device.parts:
        return device.parts[piece].order_code
    return device.spares[piece].order_code if piece in device.spares else None


def _names(device: Device, parts: Iterable[str]) -> str:
    return listed([part_name(device, part) for part in parts])


def _beside(item: Item, key: str, kind: ItemKind, name: str, taps: tuple[Tap, ...]) -> Item:
    """An item that stands before another one and shares its place."""
    return replace(
        item,
        id=key,
        kind=kind,
        number=None,
        verb="",
        name=name,
        parts="",
        count="",
        pieces=(),
        compartment=None,
        cautions=(),
        lines=(),
        after=(),
        taps=taps,
    )


def _loose_lines(device: Device, note: TurnNote) -> Iterator[Line]:
    for loose in note.loose:
        yield Line("loose", _loose_words(device, loose))


def _loose_words(device: Device, loose: Loose) -> str:
    values: dict[str, object] = {"parts": _names(device, loose.parts), "n": len(loose.parts)}
    if not loose.hangs_on:
        return say(
            "{parts} is loose and can fall: lay it aside.",
            "{parts} are loose and can fall: lay them aside.",
            **values,
        )
    ties = listed([joint_name(device, joint) for joint in loose.hangs_on])
    return say(
        "{parts} hangs on {joints} only: hold or lay aside.",
        "{parts} hang on {joints} only: hold or lay aside.",
        joints=ties,
        **values,
    )
