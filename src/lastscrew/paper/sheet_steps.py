"""The steps of both ways on the job sheet, stage by stage, with all that belongs to each step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from lastscrew.device.model import Act, Device
from lastscrew.device.opening import parts_off
from lastscrew.fasteners.lookalikes import LengthCaution
from lastscrew.fasteners.tightening import tightening_of
from lastscrew.paper.html import Child, el, figure, prose
from lastscrew.paper.look import severity
from lastscrew.paper.order_map import draw_order_map
from lastscrew.paper.rows import Course, Stage, TimedStep, stages_of
from lastscrew.paper.sheet_pieces import (
    fill,
    hazard_panel,
    hold_panel,
    signal_panel,
    signal_word,
    tick,
)
from lastscrew.paper.svg import Element
from lastscrew.paper.words import count_words, step_verb, tool_words, torque_ncm
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.handling import Loose, TurnNote
from lastscrew.plan.materials import FASTENED_KINDS
from lastscrew.plan.model import Limb
from lastscrew.plan.wording import (
    joint_name,
    listed,
    marked,
    part_name,
    side_name,
    tool_name,
    unit_name,
)
from lastscrew.proof.checks import Proof
from lastscrew.saying import joined, say


@dataclass(frozen=True, slots=True)
class StepWriter:
    """Writes steps of one plan."""

    briefing: Briefing
    course: Course
    proof: Proof
    compartments: Mapping[str, str]
    length_cautions: tuple[LengthCaution, ...]
    texts_as_html: bool

    @property
    def device(self) -> Device:
        """The device as fitted."""
        return self.briefing.device

    # -- ways and stages --------------------------------------------------------------------------

    def way(self, limb: Limb) -> Iterator[Element]:
        """All stages of one way."""
        steps = self.course.way_in if limb == "in" else self.course.way_out
        last: str | None = None
        for number, stage in enumerate(stages_of(steps), 1):
            yield from self._turn_notes(limb, stage)
            yield self._stage(number, stage, turned=last != stage.side)
            last = stage.side

    def _turn_notes(self, limb: Limb, stage: Stage) -> Iterator[Element]:
        first = stage.steps[0].step.joint
        for note in self.briefing.turns:
            if note.limb == limb and note.before == first:
                yield from self.turn_note(note)

    def turn_note(self, note: TurnNote) -> Iterator[Element]:
        """What is loose when the machine is turned."""
        if not note.loose:
            return
        off = self._off_at(note)
        said = [self._loose(loose) for loose in note.loose if not set(loose.parts) <= off]
        away = [part for loose in note.loose if set(loose.parts) <= off for part in loose.parts]
        if away:
            names = listed([f"*{part_name(self.device, part)}*" for part in away])
            said.append(say("Nothing of what came off lies inside any more: {parts}.", parts=names))
        head = el("b", say("Before you turn to {side}:", side=side_name(note.side)), " ")
        yield el("p", head, *prose(joined(" ", said)), class_="loose")

    def _off_at(self, note: TurnNote) -> set[str]:
        """Parts of which every joint is open when the machine is turned."""
        opened = set(self.briefing.opened_before)
        for timed in (*self.course.way_in, *self.course.way_out):
            step = timed.step
            if (step.limb, step.joint) == (note.limb, note.before):
                break
            opened = opened | {step.joint} if step.limb == "in" else opened - {step.joint}
        return set(parts_off(self.device, opened))

    def _loose(self, loose: Loose) -> str:
        parts = listed([f"*{part_name(self.device, part)}*" for part in loose.parts])
        count = len(loose.parts)
        if not loose.hangs_on:
            return say(
                "{parts} is loose and can fall.",
                "{parts} are loose and can fall.",
                parts=parts,
                n=count,
            )
        ties = listed([joint_name(self.device, joint) for joint in loose.hangs_on])
        return say(
            "{parts} hangs on {joints} only: hold or lay aside.",
            "{parts} hang on {joints} only: hold or lay aside.",
            parts=parts,
            joints=ties,
            n=count,
        )

    def _stage(self, number: int, stage: Stage, *, turned: bool) -> Element:
        device = self.device
        first = stage.steps[0].step
        side = side_name(stage.side)
        if first.turn_ms:
            side = say("turn to {side}", side=side)
        where = el("b", side) if turned else side
        head = el(
            "th",
            say("Stage {number}", number=number),
            " · ",
            where,
            " · ",
            el("b", tool_words(device, stage.tool)),
            colspan="4",
        )
        shared = self._shared_hazards(stage)
        body = el("tbody", *(self._step(timed, shared) for timed in stage.steps))
        return el(
            "table",
            el("thead", el("tr", head), *self._at_stage(stage, shared)),
            body,
            class_="steps",
        )

    def _hazards_at(self, timed: TimedStep) -> list[str]:
        """Hazards of a step, most severe first."""
        key = (timed.step.limb, timed.step.joint)
        here = {at.hazard for at in self.briefing.hazards if (at.limb, at.joint) == key}
        hazards = self.device.hazards
        return sorted(here, key=lambda hazard: (severity(hazards[hazard].signal), hazard))

    def _shared_hazards(self, stage: Stage) -> list[str]:
        """Cautions and notices of more than one step of a stage: written out once, at its head."""
        counted = Counter(hazard for timed in stage.steps for hazard in self._hazards_at(timed))
        hazards = self.device.hazards
        shared = [
            hazard
            for hazard, count in counted.items()
            if count > 1 and hazards[hazard].signal in ("caution", "notice")
        ]
        return sorted(shared, key=lambda hazard: (severity(hazards[hazard].signal), hazard))

    def _at_stage(self, stage: Stage, shared: list[str]) -> Iterator[Element]:
        """One row for what holds for several steps; in the head, so that it is repeated on the next page."""
        for hazard in shared:
            found = self.device.hazards[hazard]
            steps = [str(t.number) for t in stage.steps if hazard in self._hazards_at(t)]
            words = say("{hazard} (steps {numbers})", hazard=found.text, numbers=listed(steps))
            panel = signal_panel(found.signal, words)
            yield el("tr", el("td", panel, colspan="4"), class_="all")

    # -- one step ---------------------------------------------------------------------------------

    def _step(self, timed: TimedStep, shared: list[str]) -> Element:
        limb, joint = timed.step.limb, timed.step.joint
        here = self._hazards_at(timed)
        what = el("td", *(hazard_panel(self.device, h) for h in here if h not in shared))
        what.extend(self._before(limb, joint))
        what.append(self._instruction(timed, [h for h in here if h in shared]))
        what.extend(self._after(limb, joint))
        return el(
            "tr",
            el("td", tick(), class_="t"),
            el("td", str(timed.number), class_="n"),
            what,
            el("td", *self._count(limb, joint), class_="c"),
        )

    def _before(self, limb: Limb, joint: str) -> Iterator[Element]:
        """What has to be known, confirmed or done before the work."""
        if limb == "out":
            for caution in self.length_cautions:
                if caution.joint == joint:
                    yield signal_panel(caution.signal, *prose(caution.text))
        if (limb, joint) in self.briefing.still_live:
            words = say("still live") if limb == "in" else say("live again")
            why = say("the power is not taken away here")
            yield el("p", el("span", words, class_="live"), "\u2002", why)
        for end in self.briefing.cable_ends:
            if limb == "out" and end.joint == joint:
                parts = listed([part_name(self.device, part) for part in end.parts])
                cable = marked(joint_name(self.device, end.cable))
                words = say(
                    "Bring out the cable end of {cable} before {parts} is seated.",
                    cable=cable,
                    parts=parts,
                )
                yield el("p", tick(), " ", *prose(words))
        yield from self._holds_and_acts(limb, joint, "before")
        if limb == "out":
            yield from self._renewals(joint)

    def _after(self, limb: Limb, joint: str) -> Iterator[Element]:
        found = self.device.joints[joint]
        note = found.note_open if limb == "in" else found.note_close
        if note:
            yield el("p", note, class_="note")
        if limb == "out":
            yield from self._tightening(joint)
        wait = found.wait_open_ms if limb == "in" else found.wait_close_ms
        if wait:
            yield el("p", tick(), " ", _wait_before(wait), class_="note")
        yield from self._holds_and_acts(limb, joint, "after")

    def _instruction(self, timed: TimedStep, shared: list[str]) -> Element:
        device, joint = self.device, timed.step.joint
        found = device.joints[joint]
        parts = listed([part_name(device, part) for part in found.joins])
        verb = step_verb(device, joint, timed.step.limb)
        signals = dict.fromkeys(device.hazards[hazard].signal for hazard in shared)
        chips = [el("span", signal_word(signal), class_="chip") for signal in signals]
        return el(
            "p",
            *chips,
            el(
                "span",
                say("{verb}: {name}", verb=verb, name=joint_name(device, joint)),
                class_="do",
            ),
            el("span", " (", parts, ")", class_="with"),
        )

    def _count(self, limb: Limb, joint: str) -> list[Child]:
        """How many of what; loose fasteners with room to write the number down."""
        found = self.device.joints[joint]
        torque = torque_ncm(self.device, joint) if limb == "out" else None
        said = [count_words(self.device, joint), _torque_words(torque)]
        if found.captive and limb == "in":
            said.append(say("captive"))
        words: list[Child] = [joined(", ", filter(None, said)) or None]
        if found.kind in FASTENED_KINDS and not (found.captive or found.loosen_only):
            way = say("out", context="count") if limb == "in" else say("in", context="count")
            words += [el("br"), way, " ", fill(), " ", say("of {count}", count=found.count)]
        compartment = self.compartments.get(joint)
        if compartment is not None:
            way = say("to", context="place") if limb == "in" else say("from", context="place")
            words += [" ", way, " ", el("b", compartment)]
        if limb == "in":
            words += [
                child
                for name, count in found.washers.items()
                for child in (
                    el("br"),
                    say("with {count} {name}", count=count, name=name.replace("_", " ")),
                )
            ]
        return words

    # -- what belongs to a step ---------------------------------------------------------------------

    def _holds_and_acts(self, limb: Limb, joint: str, when: str) -> Iterator[Element]:
        steps = self.briefing.plan.way_in if limb == "in" else self.briefing.plan.way_out
        acts = next(step.act_ids for step in steps if step.joint == joint)
        for act in acts:
            if self.device.acts[act].at.startswith(when):
                yield from self.act(act)
        for hold in self.briefing.holds:
            if (hold.limb, hold.joint, hold.when) == (limb, joint, when) and hold.kind != "act":
                yield hold_panel(hold.text)
        if limb == "out" and when == "before":
            yield from self._gates(joint)

    def _gates(self, joint: str) -> Iterator[Element]:
        """A check with the power on while the machine is open: what is live then."""
        for gate in self.proof.gates:
            if gate.joint != joint:
                continue
            if gate.power is not None:
                yield hold_panel(gate.power.text)
                for hazard in gate.power.hazards:
                    yield hazard_panel(self.device, hazard)
            for function, needed in gate.in_vain:
                name = self.device.functions[function].name
                open_still = joint_name(self.device, needed)
                words = say(
                    "{function} needs {joint} closed, which is still open here.",
                    function=name,
                    joint=open_still,
                )
                yield el("p", words, class_="loose")

    def act(self, act_id: str) -> Iterator[Element]:
        """An act with its box; where it is a hold point, with room for initials."""
        act = self.device.acts[act_id]
        if act.hold != act.text:
            yield self._act_line(act_id)
        if act.hold:
            yield hold_panel(act.hold, ticked=act.hold == act.text, after=self._evidence(act))

    def _act_line(self, act_id: str) -> Element:
        act = self.device.acts[act_id]
        words: list[str] = [act.text]
        if act.tool is not None:
            words.append(f"({tool_name(self.device, act.tool)})")
        if act.wait_ms:
            words.append(say("Wait {wait}.", wait=_wait_words(act.wait_ms)))
        evidence = () if act.hold else self._evidence(act)
        return el("p", tick(), " ", joined(" ", words), *evidence, class_="act")

    def _evidence(self, act: Act) -> list[Child]:
        """Room for what has to be kept of an act."""
        room: list[Child] = []
        if "photo" in act.evidence:
            room += ["\u2003", say("photo taken"), "\u00a0", tick()]
        if "value" in act.evidence:
            room += ["\u2003", say("value"), "\u00a0", fill(22)]
        return room

    def _tightening(self, joint: str) -> Iterator[Element]:
        found = tightening_of(self.device, joint)
        if found is None:
            return
        members = [step.joint for step in self.briefing.plan.way_out if step.joint in found.joints]
        if members and members[-1] != joint:
            last = marked(joint_name(self.device, members[-1]))
            text = say("Start by hand only; tightened together with {joint}.", joint=last)
            yield el("p", *prose(text), class_="note")
            return
        words = [el("p", each.text, class_="note") for each in found.rounds]
        words.append(el("p", say("Order: {basis}.", basis=found.basis), class_="small"))
        drawing = draw_order_map(self.device, found, prefix=f"order-{joint}")
        if drawing is None:
            yield from words
            return
        made = figure(drawing, texts_as_html=self.texts_as_html)
        row = el("tr", el("td", made, class_="map"), el("td", *words))
        yield el("table", row, class_="order")

    def _renewals(self, joint: str) -> Iterator[Element]:
        for use in self.briefing.uses:
            if use.joint != joint:
                continue
            supply = self.device.supplies.get(use.id)
            if use.kind == "supply" and supply is not None:
                words = say(
                    "Apply {amount} {unit} {supply}, new.",
                    amount=float(use.amount),
                    unit=unit_name(supply.unit),
                    supply=supply.name,
                )
            elif use.kind == "fastener":
                amount = float(use.amount)
                words = say("Use new ones ({amount}). The old ones are scrap.", amount=amount)
            else:
                words = say("Use a new one ({amount}).", amount=float(use.amount))
            yield el("p", tick(), " ", words, class_="note")


def _wait_words(ms: int) -> str:
    minutes = ms / 60_000
    if minutes < 2:
        return say("{number} s", number=ms / 1000)
    return say("{number} min", number=minutes)


def _wait_before(ms: int) -> str:
    return say("Wait {wait} before going on.", wait=_wait_words(ms))


def _torque_words(torque: float | None) -> str:
    return "" if torque is None else say("{torque} N·cm", torque=float(torque))
