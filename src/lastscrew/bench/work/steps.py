"""Steps of a plan as items of the work page: what to do, what to know, what is confirmed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from lastscrew.bench.work.course import Course
from lastscrew.bench.work.due import ActsDue
from lastscrew.bench.work.items import Caution, Happened, Item, Line, Pieces, Tap, TapKind
from lastscrew.device.fitting import joints_within
from lastscrew.device.model import Act, Device, Joint, Supply
from lastscrew.device.opening import parts_loose, parts_off
from lastscrew.fasteners.ledger import Loss, ledger_of
from lastscrew.fasteners.lookalikes import LengthCaution, length_cautions
from lastscrew.fasteners.pieces import kind_short, loose_pieces
from lastscrew.fasteners.tightening import tightening_of
from lastscrew.paper.look import severity
from lastscrew.paper.words import count_words, step_verb, tool_words, torque_ncm
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.cautions import Hold
from lastscrew.plan.materials import Use
from lastscrew.plan.model import Limb, Step
from lastscrew.plan.wording import joint_name, listed, part_name, plain, tool_name, unit_name
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState, is_isolated, parts_of
from lastscrew.saying import joined, say


def cautions_of(device: Device, hazards: Iterator[str] | tuple[str, ...]) -> tuple[Caution, ...]:
    """Hazards by their ids, each once, most severe first."""
    known = [device.hazards[each] for each in dict.fromkeys(hazards) if each in device.hazards]
    known.sort(key=lambda hazard: severity(hazard.signal))
    return tuple(Caution(hazard.signal, hazard.text) for hazard in known)


def wait_words(ms: int) -> str:
    """A wait in seconds or minutes."""
    if ms < 120_000:
        return say("{number} s", number=ms / 1000)
    return say("{number} min", number=ms / 60_000)


@dataclass(frozen=True, slots=True)
class StepWriter:
    """Makes items out of the steps of one plan."""

    course: Course
    briefing: Briefing
    state: JobState
    places: Mapping[str, str]
    acts: Mapping[tuple[str, Limb, bool], tuple[Act, ...]]
    said: Confirmations
    lengths: tuple[LengthCaution, ...] = field(default=())
    inside: frozenset[str] = frozenset()
    """Joints inside a piece that was exchanged since they were opened."""
    due: ActsDue = field(default_factory=lambda: ActsDue({}, {}, {}))
    astray: tuple[Loss, ...] = ()
    """Pieces that lie, or may lie, somewhere in the machine."""

    @classmethod
    def of(
        cls,
        course: Course,
        briefing: Briefing,
        state: JobState,
        places: Mapping[str, str],
        acts: Mapping[tuple[str, Limb, bool], tuple[Act, ...]],
    ) -> StepWriter:
        """A writer; ``acts`` by joint, limb and whether before the work, ``places``: joint to compartment."""
        lengths = length_cautions(briefing.device, briefing.plan)
        said, inside = Confirmations.of(state), inside_the_new(course.device, state)
        due, astray = ActsDue.of(state), astray_inside(course.device, state)
        return cls(
            course, briefing, state, places, acts, said, lengths, inside, due=due, astray=astray
        )

    @property
    def device(self) -> Device:
        """The device as fitted and found."""
        return self.course.device

    def item(self, step: Step, number: int, opened: frozenset[str]) -> Item:
        """One step; ``opened`` are the joints that are open before it."""
        device, joint = self.device, self.device.joints[step.joint]
        pieces = self._pieces(joint)
        key = (step.limb, step.joint)
        hazards = tuple(at.hazard for at in self.briefing.hazards if (at.limb, at.joint) == key)
        # What is put back is in the hand when its first joint is closed: it is drawn where it goes.
        in_hand = set(joint.joins) if step.limb == "out" else set()
        off = parts_off(device, opened)
        return Item(
            id=f"{step.limb}:{step.joint}",
            kind="open" if step.limb == "in" else "close",
            limb=step.limb,
            joint=step.joint,
            number=number,
            verb=step_verb(device, step.joint, step.limb),
            name=joint_name(device, step.joint),
            parts=listed([part_name(device, part) for part in joint.joins]),
            side=step.side,
            tool=tool_words(device, step.tool),
            count=self._count(step, joint),
            pieces=pieces,
            compartment=self.places.get(step.joint) if pieces else None,
            live=self._live(step, opened),
            cautions=(*self._pieces_astray(step), *cautions_of(device, hazards)),
            lines=tuple(self._before(step, joint)),
            after=tuple(self._after(step, joint)),
            taps=tuple(self._taps(step, joint, pieces)),
            gone=tuple(part for part in off if part not in in_hand),
            loose=parts_loose(device, opened),
            opened=tuple(sorted(opened)),
        )

    # --- what stands at it ------------------------------------------------------------------------

    def _pieces(self, joint: Joint) -> tuple[Pieces, ...]:
        return tuple(
            Pieces(kind.key, kind_short(self.device, kind), count)
            for kind, count in loose_pieces(self.device, joint).items()
        )

    def _count(self, step: Step, joint: Joint) -> str:
        torque = torque_ncm(self.device, joint.id) if step.limb == "out" else None
        words = [
            count_words(self.device, joint.id),
            "" if torque is None else say("{torque} N·cm", torque=float(torque)),
            say("captive") if joint.captive and step.limb == "in" else "",
        ]
        return joined(", ", filter(None, words))

    def _live(self, step: Step, opened: frozenset[str]) -> str:
        if (step.limb, step.joint) in self.briefing.still_live:
            return "live"
        isolators = [joint.id for joint in self.device.joints.values() if joint.isolates]
        if isolators and opened.issuperset(isolators):
            return "isolated"
        joint = self.device.joints[step.joint]
        # The hand that takes the power away inside the machine is in it while the power is on.
        is_inside = all(access.under for access in joint.accesses)
        return "live" if joint.isolates and step.limb == "in" and is_inside else ""

    def _pieces_astray(self, step: Step) -> Iterator[Caution]:
        """A loose piece is looked for while the machine is open, not once it is closed and live."""
        if step.limb == "in" or (step.joint, "out") in self.course.done:
            return
        # As severe as what it can do: a pierced pack catches fire, a board without one is spoilt.
        signal = "warning" if any(p.energy for p in self.device.parts.values()) else "notice"
        for loss in self.astray:
            text = say(
                "{count} × {piece} may lie in the machine. Search before you close it: a loose piece can"
                " pierce what it lies on and short it out. Then say at the checks what came of it.",
                count=loss.count,
                piece=kind_short(self.device, loss.kind),
            )
            yield Caution(signal, text)

    def _before(self, step: Step, joint: Joint) -> Iterator[Line]:
        if step.limb == "out":
            yield from self._cable_ends(joint)
            for each in self.lengths:
                if each.joint == joint.id:
                    yield Line("length", plain(each.text))
            yield from self._renewals(joint)
        yield from self._act_lines(step, before=True)
        if step.limb == "in" and (note := joint.note_open):
            yield Line("note", note)

    def _cable_ends(self, joint: Joint) -> Iterator[Line]:
        ends = [end for end in self.briefing.cable_ends if end.joint == joint.id]
        for parts in dict.fromkeys(end.parts for end in ends):
            cables = [joint_name(self.device, end.cable) for end in ends if end.parts == parts]
            names = listed([part_name(self.device, part) for part in parts])
            text = say(
                "First bring out the cable end of {cables}: {parts} would trap it.",
                "First bring out the cable ends of {cables}: {parts} would trap them.",
                cables=listed(cables),
                parts=names,
                n=len(cables),
            )
            yield Line("cable", text)

    def _after(self, step: Step, joint: Joint) -> Iterator[Line]:
        if step.limb == "out":
            if joint.note_close:
                yield Line("note", joint.note_close)
            yield from self._tightening(joint)
        wait = joint.wait_open_ms if step.limb == "in" else joint.wait_close_ms
        if wait:
            yield Line("wait", say("Wait {wait} before going on.", wait=wait_words(wait)))
        yield from self._act_lines(step, before=False)

    def _act_lines(self, step: Step, *, before: bool) -> Iterator[Line]:
        """What the tap of an act does not say: the work itself where its hold point has words of its own."""
        for act in self.acts.get((step.joint, step.limb, before), ()):
            if act.hold and act.hold != act.text:
                yield Line("act", act_words(self.device, act))
            if "photo" in act.evidence:
                yield Line("act", say("Take a photo of it."))

    def _renewals(self, joint: Joint) -> Iterator[Line]:
        for use in self.briefing.uses:
            if use.joint != joint.id:
                continue
            supply = self.device.supplies.get(use.id)
            if use.kind == "supply" and supply is not None:
                yield Line("renew", _new_supply(use, supply))
            elif use.kind == "fastener":
                text = say(
                    "Use {amount} new ones; the old ones are scrap.", amount=float(use.amount)
                )
                yield Line("renew", text)
            else:
                yield Line("renew", say("Use a new one ({amount}).", amount=float(use.amount)))

    def _tightening(self, joint: Joint) -> Iterator[Line]:
        found = tightening_of(self.device, joint.id)
        if found is None:
            return
        members = [step.joint for step in self.briefing.plan.way_out if step.joint in found.joints]
        if members and members[-1] != joint.id:
            last = joint_name(self.device, members[-1])
            yield Line(
                "tighten", say("Start by hand only; tightened together with {joint}.", joint=last)
            )
            return
        for each in found.rounds:
            yield Line("tighten", each.text)
        basis = say("The numbers on the drawing are the order: {basis}.", basis=found.basis)
        yield Line("tighten", basis)

    # --- what is confirmed ------------------------------------------------------------------------

    def _taps(self, step: Step, joint: Joint, pieces: tuple[Pieces, ...]) -> Iterator[Tap]:
        holds = [h for h in self.briefing.holds if (h.limb, h.joint) == (step.limb, joint.id)]
        is_done = (joint.id, step.limb) in self.course.done
        # What was not confirmed on the way in is not asked for once the joint is closed again.
        is_past = is_done and (joint.id, "out") in self.course.done
        yield from self._act_taps(step, before=True, is_past=is_past)
        for hold in holds:
            if hold.when == "before" and hold.kind not in ("act", "prove"):
                yield self._hold_tap(hold, is_past=is_past)
        yield self._main_tap(step, joint, pieces, is_done=is_done)
        for hold in holds:
            if hold.when == "after" and hold.kind != "act":
                yield self._hold_tap(hold, is_past=is_past)
        yield from self._act_taps(step, before=False, is_past=is_past)

    def _hold_tap(self, hold: Hold, *, is_past: bool) -> Tap:
        text = plain(hold.text)
        said: Happened = {
            "event": "confirmed",
            "joint": hold.joint,
            "limb": hold.limb,
            "text": str(text),
        }
        confirmed = self.said.is_confirmed(hold)
        return Tap("hold", text, (said,), is_done=is_past or confirmed)

    def _main_tap(
        self, step: Step, joint: Joint, pieces: tuple[Pieces, ...], *, is_done: bool
    ) -> Tap:
        setup: dict[str, object] = {"joint": joint.id, "side": step.side}
        if step.tool is not None:
            setup["tool"] = step.tool
        kind: TapKind = "count" if pieces else "do"
        words = self._main_words(step, pieces)
        if step.limb == "in":
            place = self.places.get(joint.id) if pieces else None
            where: dict[str, object] = {"compartment": place} if place else {}
            opened: Happened = {"event": "opened", **setup, **where}
            return Tap(kind, words, (opened,), is_done=is_done)
        closed: Happened = {"event": "closed", **setup}
        renewed = [
            {"event": "renewed", "supply": supply, "amount": amount, "joint": joint.id}
            for supply, amount in joint.renew.items()
        ]
        otherwise = None
        if pieces and joint.id in self.inside:
            came: Happened = {"event": "closed", "joint": joint.id, "came_closed": True}
            otherwise = (_("It came closed with the new part"), (came,))
        return Tap(kind, words, (closed, *renewed), is_done=is_done, otherwise=otherwise)

    def _main_words(self, step: Step, pieces: tuple[Pieces, ...]) -> str:
        name = joint_name(self.device, step.joint)
        if not pieces:
            return say(
                "{verb}: {name}", verb=step_verb(self.device, step.joint, step.limb), name=name
            )
        said = listed([joined(" ", (str(each.count), each.text)) for each in pieces])
        place = self.places.get(step.joint)
        if step.limb == "in":
            return (
                say("{pieces} out, in {place}", pieces=said, place=place)
                if place
                else say("{pieces} out", pieces=said)
            )
        return (
            say("{pieces} in, {place} is empty", pieces=said, place=place)
            if place
            else say("{pieces} in", pieces=said)
        )

    def _act_taps(self, step: Step, *, before: bool, is_past: bool) -> Iterator[Tap]:
        for act in self.acts.get((step.joint, step.limb, before), ()):
            done = self.due.is_done_at(act.id, step.joint, step.limb, before=before)
            yield act_tap(self.device, act, is_done=is_past or done)


def astray_inside(device: Device, state: JobState) -> tuple[Loss, ...]:
    """Pieces that are lost in the machine, or nobody knows where and nobody searched."""
    losses = ledger_of(device, state.log).losses
    return tuple(x for x in losses if x.inside or (x.inside is None and not x.searched))


def inside_the_new(device: Device, state: JobState) -> frozenset[str]:
    """Joints inside a piece that was exchanged since they were opened: the new one may have come closed there."""
    inside: set[str] = set()
    for event in in_force(state.log):
        if isinstance(event.what, e.Opened):
            inside.discard(event.what.joint)
        elif isinstance(event.what, e.Exchanged):
            inside.update(joints_within(device, parts_of(device, event.what.part)))
    return frozenset(inside)


@dataclass(frozen=True, slots=True)
class Confirmations:
    """What was confirmed at joints, and when they were last opened and closed."""

    confirmed: Mapping[tuple[str, str, str], int]
    opened: Mapping[str, int]
    closed: Mapping[str, int]

    @classmethod
    def of(cls, state: JobState) -> Confirmations:
        """From the events of a job that count."""
        confirmed: dict[tuple[str, str, str], int] = {}
        opened: dict[str, int] = {}
        closed: dict[str, int] = {}
        for number, event in enumerate(in_force(state.log)):
            what = event.what
            if isinstance(what, e.Confirmed) and what.joint:
                for limb in (what.limb,) if what.limb else ("in", "out"):
                    # The words may be those of another screen, with names set off.
                    confirmed[what.joint, limb, plain(what.text or "")] = number
            elif isinstance(what, e.Opened):
                opened[what.joint] = number
            elif isinstance(what, e.Closed):
                closed[what.joint] = number
        return cls(confirmed, opened, closed)

    def is_confirmed(self, hold: Hold) -> bool:
        """True when it was confirmed since the joint last moved the way before.

        A confirmation without words counts for every hold point of its joint and limb. How isolation is
        put into words depends on what else is open: there the words do not count.
        """
        joint = hold.joint or ""
        here, there = self.opened, self.closed
        if hold.limb == "out":
            here, there = there, here
        # What comes after a move counts for that move alone: a joint that was closed since waits for the next.
        moved = there.get(joint, -1)
        since = moved if hold.when == "before" else max(moved, here.get(joint, -1))
        own = {plain(hold.text), ""}
        return any(
            number > since and (words in own or hold.kind == "isolation")
            for (about, limb, words), number in self.confirmed.items()
            if (about, limb) == (joint, hold.limb)
        )


def act_words(device: Device, act: Act) -> str:
    """An act with its tool and its wait."""
    words: list[str] = [act.text]
    if act.tool is not None:
        words.append(f"({tool_name(device, act.tool)})")
    if act.wait_ms:
        words.append(say("Wait {wait}.", wait=wait_words(act.wait_ms)))
    return joined(" ", words)


def _new_supply(use: Use, supply: Supply) -> str:
    return say(
        "New: {amount} {unit} {supply}.",
        amount=float(use.amount),
        unit=unit_name(supply.unit),
        supply=supply.name,
    )


def act_tap(device: Device, act: Act, *, is_done: bool) -> Tap:
    """What is confirmed of an act: its hold point, if it has one, or that it is done."""
    renewed: list[Happened] = [
        {"event": "renewed", "supply": supply, "amount": amount, "act": act.id}
        for supply, amount in act.renew.items()
    ]
    done: Happened = {"event": "act_done", "act": act.id}
    fields: dict[str, str] = {"note": say("Value")} if "value" in act.evidence else {}
    if act.hold:
        said: Happened = {"event": "confirmed", "act": act.id, "text": act.hold}
        return Tap("hold", act.hold, (said, done, *renewed), fields=fields, is_done=is_done)
    return Tap("act", act_words(device, act), (done, *renewed), fields=fields, is_done=is_done)


def isolation_now(course: Course, state: JobState) -> str:
    """``isolated``, ``live`` or ``check``: how the machine lies at this moment; empty without a power source."""
    if state.check_on:
        return "check"
    if not any(joint.isolates for joint in course.device.joints.values()):
        return ""
    return "isolated" if is_isolated(course.device, state) else "live"
