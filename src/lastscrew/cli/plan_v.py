"""The V in a terminal: way in down the left limb, way out up the right one, a row for each joint.

Time runs along the limbs. On the left it runs downwards: what is done before a step stands above
it. On the right it runs upwards: what is done before a closing stands *below* it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, groupby, pairwise, zip_longest

from lastscrew.cli.columns import Line, clean, coloured, cut, pad, width_of, wrap
from lastscrew.device.model import SIGNALS, Act, Device, Signal
from lastscrew.fasteners.lookalikes import length_cautions
from lastscrew.fasteners.tightening import order_text, tightening_of
from lastscrew.paper.rows import Course, Row, TimedStep, course_of
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.handling import TurnNote
from lastscrew.plan.model import Limb, Step
from lastscrew.plan.wording import (
    clock,
    joint_name,
    listed,
    part_name,
    piece_name,
    pieces_text,
    tool_name,
)
from lastscrew.proof.checks import Proof
from lastscrew.run.rules import PowerHold

TWO_COLUMNS_FROM = 56
"""Narrower than this the two limbs stand one below the other."""

HEAD_WIDTH = 11
"""Columns of number and time before the name."""

WIDE_LIMB = 46
"""From this width on a limb shows count and size on the line of the step."""


@dataclass(slots=True)
class Cell:
    """One limb of one row: lines above the step's own, the step, lines below it."""

    above: list[Line] = field(default_factory=list)
    step: Line | None = None
    below: list[Line] = field(default_factory=list)


def v_lines(briefing: Briefing, proof: Proof, width: int, *, colour: bool) -> list[str]:
    """The whole V."""
    return _Drawing(briefing, proof, width).lines(colour=colour)


def limb_list(briefing: Briefing, proof: Proof, limb: Limb, width: int) -> list[str]:
    """One limb as a plain list in the order of work: number, time, joint, changes of side and tool."""
    return _Drawing(briefing, proof, width).in_order(limb)


def out_of_mirror(course: Course) -> frozenset[str]:
    """Joints whose closing stands out of the mirrored order: the fewest that explain the difference.

    They are what is left when the longest run of closings in mirrored order is taken away.
    """
    numbered = [(row.joint, row.closing.number) for row in reversed(course.rows) if row.closing]
    best: list[int] = []
    before: list[int | None] = []
    for index, (_, number) in enumerate(numbered):
        earlier = [i for i in range(index) if numbered[i][1] < number]
        link = max(earlier, key=lambda i: (best[i], -i), default=None)
        before.append(link)
        best.append(1 if link is None else best[link] + 1)
    kept: set[str] = set()
    at = max(range(len(best)), key=lambda i: (best[i], -i), default=None)
    while at is not None:
        kept.add(numbered[at][0])
        at = before[at]
    return frozenset(joint for joint, _ in numbered if joint not in kept)


class _Drawing:
    def __init__(self, briefing: Briefing, proof: Proof, width: int) -> None:
        self.briefing = briefing
        self.power = {gate.joint: gate.power for gate in proof.gates if gate.power is not None}
        self.device = briefing.device
        self.plan = briefing.plan
        self.length_cautions = length_cautions(self.device, self.plan)
        self.course = course_of(briefing.device, briefing.plan)
        self.two = width >= TWO_COLUMNS_FROM
        self.width = width
        self.limb = (width - 3) // 2 if self.two else width
        self.stray = out_of_mirror(self.course)
        self.keys = hazard_letters(briefing)
        self.told: set[tuple[Limb, str]] = set()
        self.before: dict[tuple[Limb, str], Step | None] = {}
        for steps in (self.plan.way_in, self.plan.way_out):
            if steps:
                self.before[steps[0].limb, steps[0].joint] = None
            for earlier, later in pairwise(steps):
                self.before[later.limb, later.joint] = earlier

    def lines(self, *, colour: bool) -> list[str]:
        """Heading, a block for each row, the turning point."""
        # Texts of hazards are told in full at the first step in the order of work.
        cells_in = {row.joint: self._cell(row, row.opening, "in") for row in self.course.rows}
        cells_out: dict[str, Cell] = {}
        for row in sorted(self.course.rows, key=lambda r: r.closing.number if r.closing else 0):
            cells_out[row.joint] = self._cell(row, row.closing, "out")
        if not self.two:
            return self._stacked(cells_in, cells_out, colour=colour)
        lines = [self._both(Line("WAY IN ▼", "strong"), Line("WAY OUT ▲", "strong"), colour=colour)]
        lines.append(self._rule("┬"))
        lines.extend(self._block(Cell(above=self._start()), Cell(above=self._end()), colour=colour))
        for row in self.course.rows:
            lines.extend(self._block(cells_in[row.joint], cells_out[row.joint], colour=colour))
        lines.append(self._rule("┴"))
        return [*lines, *self._turning_point(colour=colour)]

    def _stacked(
        self, cells_in: dict[str, Cell], cells_out: dict[str, Cell], *, colour: bool
    ) -> list[str]:
        """One limb below the other, both in the order of work."""
        found = [Line("WAY IN", "strong"), *self._start()]
        for timed in self.course.way_in:
            found.extend(_downwards(cells_in[timed.step.joint]))
        shown = [coloured(line, colour=colour).rstrip() for line in found]
        shown.extend(self._turning_point(colour=colour))
        rest = [Line("WAY OUT", "strong")]
        for timed in self.course.way_out:
            rest.extend(_downwards(cells_out[timed.step.joint]))
        rest.extend(self._end())
        return [*shown, *(coloured(line, colour=colour).rstrip() for line in rest)]

    # --- a row ----------------------------------------------------------------------------------

    def _cell(self, row: Row, timed: TimedStep | None, limb: Limb) -> Cell:
        if timed is None:
            words = "open already" if limb == "in" else "stays open"
            return Cell(
                step=Line(self._indented(f"({words}: {joint_name(self.device, row.joint)})"))
            )
        step = timed.step
        sooner = [self._setup(step), self._cautions(step), self._first(step)]
        details = self._narrow_details(step)
        main = self._main(timed)
        later = self._afterwards(step)
        if limb == "in" or not self.two:
            return Cell(above=[*chain(*sooner)], step=main, below=[*details, *later])
        return Cell(above=later, step=main, below=[*details, *chain(*reversed(sooner))])

    def _main(self, timed: TimedStep) -> Line:
        """``number time name   details``."""
        step = timed.step
        mark = "≠" if step.limb == "out" and step.joint in self.stray else " "
        head = f"{timed.number:>3}{mark}{clock(timed.end_ms):>6} "
        name = clean(joint_name(self.device, step.joint))
        details = self._details(step)
        room = self.limb - HEAD_WIDTH
        if not details or not self._fits_on_step(name, details):
            return Line(head + cut(name, room), "strong")
        return Line(head + pad(name, room - width_of(details)) + details, "strong")

    def _details(self, step: Step) -> str:
        joint = self.device.joints[step.joint]
        words = [pieces_text(self.device, joint)]
        if step.limb == "out":
            fastener = self.device.fasteners.get(joint.fastener or "")
            torque = joint.torque_ncm or (fastener.torque_ncm if fastener else None)
            words.append("" if torque is None else f"{torque:g} N·cm")
        return clean(" ".join(word for word in words if word))

    def _setup(self, step: Step) -> list[Line]:
        """Change of side or tool before a step, and what is loose when the machine is turned."""
        before = self.before[step.limb, step.joint]
        words: list[str] = []
        side = self._side_before(step)
        if step.side != side:
            words.append(f"turn {step.side} side up")
        elif before is None:
            words.append(f"{step.side} side up")
        if before is None or step.tool != before.tool:
            words.append("by hand" if step.tool is None else tool_name(self.device, step.tool))
        lines = self._note("· " + ", ".join(words), "faint") if words else []
        for note in self.briefing.turns:
            if (note.limb, note.before) == (step.limb, step.joint):
                lines.extend(self._loose(note))
        return lines

    def _side_before(self, step: Step) -> str:
        before = self.before[step.limb, step.joint]
        if before is not None:
            return before.side
        if step.limb == "in" or not self.plan.way_in:
            return self.plan.start_side
        return self.plan.way_in[-1].side

    def _loose(self, note: TurnNote) -> list[Line]:
        """What falls at a turn, together, and what hangs, each with what it hangs on."""
        falls = [part_name(self.device, p) for x in note.loose if not x.hangs_on for p in x.parts]
        lines = self._note(f"loose, lay aside: {listed(falls)}") if falls else []
        for x in note.loose:
            if x.hangs_on:
                named = listed([part_name(self.device, part) for part in x.parts])
                cables = listed([joint_name(self.device, joint) for joint in x.hangs_on])
                lines.extend(self._note(f"loose, hold it: {named} (hangs on {cables})"))
        return lines

    def _cautions(self, step: Step) -> list[Line]:
        lines: list[Line] = []
        bites = {
            at.hazard
            for at in self.briefing.hazards
            if (at.limb, at.joint) == (step.limb, step.joint)
        }
        again: list[str] = []
        for hazard in by_severity(self.device, bites):
            if (step.limb, hazard) in self.told:
                again.append(hazard)
            else:
                self.told.add((step.limb, hazard))
                lines.extend(self._hazards([hazard], f" {self.device.hazards[hazard].text}"))
        if again:
            lines.extend(self._hazards(again))
        for caution in self.length_cautions:
            if step.limb == "out" and caution.joint == step.joint:
                words = f"{caution.signal.upper()} {caution.text}"
                lines.extend(self._note(words, signals=(caution.signal,)))
        if (step.limb, step.joint) in self.briefing.still_live:
            lines.extend(self._note("still live: the power is on"))
        return lines

    def _hazards(self, hazards: Sequence[str], text: str = "") -> list[Line]:
        """Signal words with their letters, and the text where it is told for the first time."""
        signals = tuple(self.device.hazards[hazard].signal for hazard in hazards)
        words = [
            f"{signal.upper()} ({self.keys[hazard]})"
            for signal, hazard in zip(signals, hazards, strict=True)
        ]
        return self._note("  ".join(words) + text, signals=signals)

    def _first(self, step: Step) -> list[Line]:
        """What is done before the step's own work."""
        lines: list[Line] = []
        ends = [end for end in self.briefing.cable_ends if end.joint == step.joint]
        if step.limb == "out" and ends:
            seated = listed([part_name(self.device, part) for part in ends[0].parts], limit=2)
            cables = listed([joint_name(self.device, end.cable) for end in ends])
            word = "end" if len(ends) == 1 else "ends"
            lines.extend(self._note(f"before {seated} is seated bring out the {word} of {cables}"))
        for use in self.briefing.uses:
            if step.limb == "out" and use.joint == step.joint:
                lines.extend(self._note(f"new: {self._use_words(use.id, use.amount)}"))
        lines.extend(self._acts_and_holds(step, "before"))
        joint = self.device.joints[step.joint]
        if joint.hold_by in ("hand", "jig"):
            lines.extend(self._note(f"hold it by {'hand' if joint.hold_by == 'hand' else 'a jig'}"))
        return lines

    def _use_words(self, item: str, amount: float) -> str:
        supply = self.device.supplies.get(item)
        if supply is not None:
            return f"{supply.name} {amount:g} {supply.unit}".rstrip()
        if item in self.device.fasteners:
            return f"{amount:g} {item}"
        return joint_name(self.device, item)

    def _acts_and_holds(self, step: Step, when: str) -> list[Line]:
        lines: list[Line] = []
        for act_id in step.act_ids:
            act = self.device.acts[act_id]
            if act.at.startswith(when):
                lines.extend(self._act(act_id))
        for hold in self.briefing.holds:
            is_here = (hold.limb, hold.joint, hold.when) == (step.limb, step.joint, when)
            if is_here and hold.kind != "act":
                lines.extend(self._note(f"HOLD {hold.text}", "strong"))
        if step.limb == "out" and when == "before" and step.joint in self.power:
            lines.extend(self._powered(self.power[step.joint]))
        return lines

    def _powered(self, power: PowerHold) -> list[Line]:
        """The hold point of a powered check on the open machine, with its hazards."""
        lines = self._note(f"HOLD {power.text} Isolate again before the next step.", "strong")
        again: list[str] = []
        for hazard in power.hazards:
            signal = self.device.hazards[hazard].signal
            key = self.keys.get(hazard)
            if key and ("out", hazard) in self.told:
                again.append(hazard)
                continue
            if key:
                self.told.add(("out", hazard))
            words = signal.upper() + (f" ({key})" if key else "")
            lines.extend(
                self._note(f"{words} {self.device.hazards[hazard].text}", signals=(signal,))
            )
        return [*lines, *self._hazards(again)] if again else lines

    def _act(self, act_id: str) -> list[Line]:
        """What is done; where it is a hold point, what is confirmed of it."""
        act = self.device.acts[act_id]
        lines: list[Line] = []
        if act.hold != act.text:
            lines.extend(self._note(f"do: {act_words(self.device, act)}"))
        if act.hold:
            lines.extend(self._note(f"HOLD {_confirmed(self.device, act)}", "strong"))
        return lines

    def _narrow_details(self, step: Step) -> list[Line]:
        """Count and size on a line of their own, where the line of the step has no room for them."""
        details = self._details(step)
        name = clean(joint_name(self.device, step.joint))
        if not details or self._fits_on_step(name, details):
            return []
        return self._note(details)

    def _fits_on_step(self, name: str, details: str) -> bool:
        room = self.limb - HEAD_WIDTH
        return self.limb >= WIDE_LIMB and width_of(name) + width_of(details) + 2 <= room

    def _afterwards(self, step: Step) -> list[Line]:
        joint = self.device.joints[step.joint]
        lines: list[Line] = []
        note = joint.note_open if step.limb == "in" else joint.note_close
        if note:
            lines.extend(self._note(note))
        lines.extend(self._turning_order(step))
        lines.extend(self._acts_and_holds(step, "after"))
        wait = joint.wait_open_ms if step.limb == "in" else joint.wait_close_ms
        if wait:
            lines.extend(self._note(f"wait {clock(wait)}"))
        return lines

    def _turning_order(self, step: Step) -> list[Line]:
        """In which order the screws of a joint, or of its group, are loosened or tightened."""
        found = tightening_of(self.device, step.joint)
        if found is None:
            return []
        steps = self.plan.way_in if step.limb == "in" else self.plan.way_out
        members = [each.joint for each in steps if each.joint in found.joints]
        if step.limb == "in":
            if members[0] != step.joint:
                return self._note(f"loosened together with {joint_name(self.device, members[0])}")
            order = order_text(self.device, replace(found, order=found.loosening))
            return self._note(f"loosen in the order {order}")
        if members[-1] != step.joint:
            last = joint_name(self.device, members[-1])
            return self._note(f"start by hand only; tightened together with {last}")
        rounds = "in two rounds" if len(found.rounds) > 2 else "in one round"
        order = order_text(self.device, found)
        return self._note(
            f"start all by hand, then tighten {rounds} in the order {order}; {found.basis}"
        )

    # --- the ends and the turning point ---------------------------------------------------------

    def _start(self) -> list[Line]:
        return [line for act in self.plan.start_acts for line in self._act(act)]

    def _end(self) -> list[Line]:
        lines: list[Line] = [
            line for act in reversed(self.plan.end_acts) for line in self._act(act)
        ]
        if any(note.before is None for note in self.briefing.turns):
            lines.extend(self._note(f"· turn {self.device.sides[0]} side up", "faint"))
        return lines if self.two else list(reversed(lines))

    def _turning_point(self, *, colour: bool) -> list[str]:
        words = f"TURNING POINT {clock(self.course.turn_ms)}"
        lines = [Line(pad("", max(0, (self.width - width_of(words)) // 2)) + words, "strong")]
        lines.extend(
            Line(line) for act in self.plan.turning_acts for line in self._turning_act(act)
        )
        pieces = [piece_name(self.device, piece) for piece in self.plan.request.replace]
        if pieces:
            lines.append(Line(f"Exchange {listed(pieces)}."))
        for piece in self.plan.request.replace:
            across = [x for x in self.briefing.moves_across if x.piece == piece]
            parts = [part_name(self.device, part) for moves in across for part in moves.parts]
            if parts:
                lines.append(
                    Line(f"Goes on to the new {piece_name(self.device, piece)}: {listed(parts)}.")
                )
        shown = [coloured(lines[0], colour=colour)]
        for line in lines[1:]:
            shown.extend(wrap(line.text, self.width, hang=2))
        return shown

    def _turning_act(self, act_id: str) -> Iterable[str]:
        act = self.device.acts[act_id]
        if act.hold != act.text:
            yield f"do: {act_words(self.device, act)}"
        if act.hold:
            yield f"HOLD {_confirmed(self.device, act)}"

    # --- lines and blocks -----------------------------------------------------------------------

    def _indent(self) -> int:
        return 11 if self.limb >= WIDE_LIMB else 4

    def _indented(self, text: str) -> str:
        return " " * self._indent() + cut(clean(text), self.limb - self._indent())

    def _note(self, text: str, style: str = "", signals: tuple[Signal, ...] = ()) -> list[Line]:
        indent = self._indent()
        texts = wrap(text, self.limb, indent=indent, hang=indent + 2)
        return [Line(t, style, signals) for t in texts]

    def _block(self, left: Cell, right: Cell, *, colour: bool) -> list[str]:
        """Both cells with their steps on one line."""
        above = max(len(left.above), len(right.above))
        pairs: list[tuple[Line | None, Line | None]] = [
            (_from_end(left.above, index), _from_end(right.above, index))
            for index in range(above, 0, -1)
        ]
        if left.step is not None or right.step is not None:
            pairs.append((left.step, right.step))
        pairs.extend(zip_longest(left.below, right.below))
        if len(pairs) > 1:  # so that one sees which step the lines belong to
            pairs.append((None, None))
        return [self._both(one, two, colour=colour) for one, two in pairs]

    def _both(self, left: Line | None, right: Line | None, *, colour: bool) -> str:
        one, two = left or Line(""), right or Line("")
        space = " " * max(0, self.limb - width_of(one.text))
        text = coloured(one, colour=colour) + space + " │ " + coloured(two, colour=colour)
        return text.rstrip()

    def _rule(self, crossing: str) -> str:
        return "─" * (self.limb + 1) + crossing + "─" * (self.limb + 1)

    # --- the limb as a list ---------------------------------------------------------------------

    def in_order(self, limb: Limb) -> list[str]:
        """Number, time and joint, with the changes of side and tool."""
        self.limb = self.width
        timed_steps = self.course.way_in if limb == "in" else self.course.way_out
        lines: list[str] = []
        for timed in timed_steps:
            setup = self._setup(timed.step)
            lines.extend(line.text for line in setup if line.text.lstrip().startswith("·"))
            lines.append(self._main(timed).text.replace("≠", " "))
        return lines


def hazard_letters(briefing: Briefing) -> dict[str, str]:
    """A letter for each hazard in the order in which they are told: a text is told once per limb."""
    told = dict.fromkeys(by_severity(briefing.device, briefing.bare_hazards))
    for _, at_step in groupby(briefing.hazards, key=lambda at: (at.limb, at.joint)):
        told.update(dict.fromkeys(by_severity(briefing.device, (at.hazard for at in at_step))))
    return {hazard: _letters(number) for number, hazard in enumerate(told)}


def by_severity(device: Device, hazards: Iterable[str]) -> list[str]:
    """Hazards with the most severe signal word first."""
    return sorted(hazards, key=lambda h: (SIGNALS.index(device.hazards[h].signal), h))


def act_words(device: Device, act: Act) -> str:
    """What is done, with what, how long it takes, how long to wait then and what is kept of it."""
    details = [tool_name(device, act.tool)] if act.tool is not None else []
    if act.ms:
        details.append(f"{act.ms / 1000:g} s")
    if act.wait_ms:
        details.append(f"then wait {clock(act.wait_ms)}")
    if not act.hold:
        details.extend(_kept(act))
    return f"{act.text} ({', '.join(details)})" if details else act.text


def _kept(act: Act) -> list[str]:
    words = {"photo": "take a photo", "value": "write the value down"}
    return [words[kind] for kind in act.evidence if kind in words]


def _confirmed(device: Device, act: Act) -> str:
    """The sentence of an act's hold point, and what is kept of it."""
    words = act_words(device, act) if act.hold == act.text else act.hold or ""
    kept = _kept(act)
    return f"{words} ({' and '.join(kept)})" if kept else words


def _letters(number: int) -> str:
    """Names like those of spreadsheet columns: a, b, … z, aa, ab."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters


def _from_end(lines: Sequence[Line], index: int) -> Line | None:
    """The ``index``-th line from the end (1: the last), None where there are fewer."""
    return lines[-index] if index <= len(lines) else None


def _downwards(cell: Cell) -> Iterable[Line]:
    yield from cell.above
    if cell.step is not None:
        yield cell.step
    yield from cell.below
