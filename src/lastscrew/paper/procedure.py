"""Removal and refitting of every part as a written procedure: what is said, before it is set on a page.

The steps are those of the planner. What other procedures of the same text take off first stands in a list
before the steps; the joints that are left are the steps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device, Signal
from lastscrew.paper.procedure_words import (
    act_sentences,
    closing,
    first_part,
    in_sentence,
    note_of,
    opening,
    side_up,
)
from lastscrew.plan.cautions import Hold, hazards_at_steps, holds_of
from lastscrew.plan.model import Limb, Plan, Request, Step, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError

MOST_STATES = 3_000
"""States that the search for one part may expand; a way that is good but not proven is written all the same.

Nearly every part is proven within a few hundred. The one that everything hangs on is not within 200,000 either, and
its way is no shorter then (machines of 105 and 200 parts: `benchmarks/generate.py`, 100 and 195 modules).
"""


@dataclass(frozen=True, slots=True)
class Caution:
    """A signal word and what it says."""

    signal: Signal
    text: str


@dataclass(frozen=True, slots=True)
class WrittenStep:
    """One numbered step: cautions and notes that come before it, its sentences, one instruction in each."""

    sentences: tuple[str, ...]
    cautions: tuple[Caution, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Half:
    """Taking off, or putting back.

    Attributes:
        heading: Its title.
        before: What must be done first, in order.
        steps: The steps in order.
        tests: What to try afterwards: name and instruction.
    """

    heading: str
    before: tuple[str, ...]
    steps: tuple[WrittenStep, ...]
    tests: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WrittenProcedure:
    """Both halves for one part; ``refused`` says why there are none.

    Attributes:
        part: The part.
        removal, refit: What is written.
        refused: Why nothing can be written.
        before: Parts that come off first, by procedures of their own.
        opens, closes: Joints that its own steps open and close, in order.
    """

    part: str
    removal: Half | None = None
    refit: Half | None = None
    refused: str = ""
    before: tuple[str, ...] = ()
    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Way:
    """The plan for one part, and the joints open at its turning point."""

    part: str
    device: Device
    plan: Plan
    opened: frozenset[str] = field(default_factory=frozenset)


def procedures_of(
    device: Device,
    parts: Iterable[str] = (),
    progress: Callable[[int, int], None] | None = None,
) -> tuple[WrittenProcedure, ...]:
    """Procedures for parts, in the order of the device file.

    Args:
        device: The device.
        parts: Part ids; every part that is not fixed where there are none. What must come off before a part
            is written as well.
        progress: Told (parts planned, parts in all); every part is planned, because any may come off before another.
    """
    ways, refused = _ways(device, progress)
    wanted = set(parts) or {part.id for part in device.parts.values() if not part.fixed}
    before = {part: _before(way, ways) for part, way in ways.items()}
    todo = list(wanted)
    while todo:
        for other in before.get(todo.pop(), ()):
            if other not in wanted:
                wanted.add(other)
                todo.append(other)
    written = []
    for part in device.parts:
        if part not in wanted or device.parts[part].fixed:
            continue
        if part in ways:
            written.append(_written(ways[part], [ways[other] for other in before[part]]))
        else:
            written.append(WrittenProcedure(part, refused=refused[part]))
    return tuple(written)


def _ways(
    device: Device, progress: Callable[[int, int], None] | None
) -> tuple[dict[str, _Way], dict[str, str]]:
    ways: dict[str, _Way] = {}
    refused: dict[str, str] = {}
    for done, part in enumerate(device.parts.values()):
        if progress is not None:
            progress(done, len(device.parts))
        if part.fixed:
            continue
        option = part.if_fitted
        fitted = (option,) if option and not device.options[option].fitted else ()
        request = Request(replace=(part.id,), fitted=fitted)
        try:
            found = plan(device, request, StopRule(work=MOST_STATES))
        except InputError as error:
            refused[part.id] = " ".join(problem.message for problem in error.problems[:1])
            continue
        ways[part.id] = _Way(part.id, fit(device, (), fitted), found, found.open_at_turning)
    return ways, refused


def _before(way: _Way, ways: Mapping[str, _Way]) -> tuple[str, ...]:
    """Parts that come off first by procedures of their own: the fewest that cover the most."""
    inside = [
        other
        for other in ways.values()
        if other.opened and other.opened < way.opened and other.part in way.device.parts
    ]
    largest = [w for w in inside if not any(w.opened < other.opened for other in inside)]
    place = {step.joint: index for index, step in enumerate(way.plan.way_in)}
    largest.sort(key=lambda w: (max(place.get(j, 0) for j in w.opened), w.part))
    kept: list[_Way] = []
    for candidate in largest:
        if not any(candidate.opened == other.opened for other in kept):
            kept.append(candidate)
    return tuple(w.part for w in kept)


def _written(way: _Way, before: list[_Way]) -> WrittenProcedure:
    done = frozenset[str]().union(*(other.opened for other in before))
    name = in_sentence(way.device, way.part)
    names = [in_sentence(way.device, other.part) for other in before]
    writer = _Writer(way, done, frozenset(a for w in before for a in w.plan.start_acts))
    return WrittenProcedure(
        way.part,
        Half(
            f"Removing the {name}",
            (*_FIRST, *writer.lost(), *(f"Remove the {other}." for other in names)),
            (
                *writer.way_in(),
                *(() if writer.is_lifted("in") else (WrittenStep((f"Remove the {name}.",)),)),
                *writer.when_off(),
            ),
        ),
        Half(
            f"Refitting the {name}",
            (),
            (
                *writer.lies_first(),
                *(() if writer.is_lifted("out") else (WrittenStep((f"Install the {name}.",)),)),
                *writer.way_out(),
                *(WrittenStep((f"Install the {other}.",)) for other in reversed(names)),
                WrittenStep(_LAST),
            ),
            writer.tests(),
        ),
        before=tuple(other.part for other in before),
        opens=tuple(step.joint for step in way.plan.way_in if step.joint not in done),
        closes=tuple(step.joint for step in way.plan.way_out if step.joint not in done),
    )


_FIRST = ("Switch off the machine.", "Disconnect all external cables from the machine.")
_LAST = ("Connect all external cables to the machine.",)


class _Writer:
    """Writes the steps of one way that other procedures leave to do."""

    def __init__(self, way: _Way, done: frozenset[str], acts_done: frozenset[str]) -> None:
        self.way = way
        self.acts_done = acts_done
        self.device = way.device
        self.done = done
        self.holds = holds_of(way.device, way.plan)
        self.hazards: dict[tuple[Limb, str], list[Caution]] = {}
        for at in hazards_at_steps(way.device, way.plan):
            hazard = way.device.hazards[at.hazard]
            self.hazards.setdefault((at.limb, at.joint), []).append(
                Caution(hazard.signal, one_line(hazard.text))
            )

    def way_in(self) -> tuple[WrittenStep, ...]:
        """Steps of the removal."""
        first = [act for act in self.way.plan.start_acts if act not in self.acts_done]
        steps = self._steps(self._left(self.way.plan.way_in), self.device.sides[0])
        return (*map(self._act, first), *steps)

    def when_off(self) -> tuple[WrittenStep, ...]:
        """Work that is done when everything is open."""
        return tuple(map(self._act, self.way.plan.turning_acts))

    def is_lifted(self, limb: Limb) -> bool:
        """The step beside the turning point lifts the part out of its seat, or sets it in; nothing more is to do."""
        way = self.way.plan.way_in if limb == "in" else self.way.plan.way_out
        left = self._left(way)
        if not left:
            return False
        joint = self.device.joints[left[-1 if limb == "in" else 0].joint]
        return joint.kind == "seat" and first_part(self.device, joint) == self.way.part

    def way_out(self) -> tuple[WrittenStep, ...]:
        """Steps of the refitting."""
        left = self._left(self.way.plan.way_out)
        written = self._steps(left, left[0].side if left else "")
        if left and left[-1].side != self.device.sides[0]:
            written.append(WrittenStep((side_up(self.device.sides[0]),)))
        return (*written, *map(self._act, self.way.plan.end_acts))

    def lies_first(self) -> tuple[WrittenStep, ...]:
        """How the machine must lie before the part goes back."""
        left = self._left(self.way.plan.way_out)
        if len(self.device.sides) < 2 or not left:
            return ()
        return (WrittenStep((side_up(left[0].side),)),)

    def _left(self, steps: tuple[Step, ...]) -> list[Step]:
        return [step for step in steps if step.joint not in self.done]

    def lost(self) -> tuple[str, ...]:
        """What is lost unless it is saved first."""
        opened = [self.device.joints[j] for j in sorted(self.way.opened)]
        texts = [text for joint in opened for text in joint.loses]
        texts += self.device.parts[self.way.part].loses
        return tuple(f"This will be lost: {one_line(text)}." for text in dict.fromkeys(texts))

    def tests(self) -> tuple[str, ...]:
        """Checks of what was disturbed."""
        joints = [self.device.joints[j] for j in sorted(self.way.opened)]
        ids = [f for joint in joints for f in joint.functions]
        ids += self.device.parts[self.way.part].functions
        told = []
        for function in (self.device.functions[f] for f in dict.fromkeys(ids)):
            check = one_line(function.check)
            told.append(f"{one_line(function.name)}: {check}" if check else one_line(function.name))
        return tuple(told)

    def _steps(self, steps: list[Step], side: str) -> list[WrittenStep]:
        written: list[WrittenStep] = []
        for step in steps:
            if len(self.device.sides) > 1 and step.side != side:
                written.append(WrittenStep((side_up(step.side),)))
                side = step.side
            written += self._step(step)
        return written

    def _step(self, step: Step) -> list[WrittenStep]:
        joint = self.device.joints[step.joint]
        acts = [self.device.acts[act] for act in step.act_ids]
        before = [act for act in acts if act.at.startswith("before")]
        after = [act for act in acts if act not in before]
        cautions = tuple(dict.fromkeys(self.hazards.get((step.limb, joint.id), ())))
        opens = step.limb == "in"
        notes = [_hold_note(hold.text) for hold in self._holds(step, "before")]
        notes += filter(None, [note_of(joint, opens=opens)])
        say = opening if opens else closing
        main = WrittenStep(say(self.device, joint, step.tool), cautions, tuple(notes))
        proofs = [WrittenStep(_POWER_IS_OFF) for _ in self._holds(step, "after")]
        return [
            *map(self._act, (a.id for a in before)),
            main,
            *proofs,
            *map(self._act, (a.id for a in after)),
        ]

    def _holds(self, step: Step, when: str) -> list[Hold]:
        """Hold points of a joint itself; those of acts stand with the act, a second person in the sentences."""
        return [
            hold
            for hold in self.holds
            if (hold.joint, hold.limb, hold.when) == (step.joint, step.limb, when)
            and hold.kind not in ("act", "second_person")
        ]

    def _act(self, act: str) -> WrittenStep:
        entry = self.device.acts[act]
        hold = entry.hold or ""
        notes = ("Hold point. A person confirms the next step.",) if hold else ()
        if hold and one_line(hold) != one_line(entry.text):
            notes = (_hold_note(hold),)
        if entry.when_replaced:
            what = in_sentence(self.device, self.way.part)
            notes = (f"Do the next step only when the {what} is exchanged.", *notes)
        return WrittenStep(act_sentences(self.device, entry), notes=notes)


_POWER_IS_OFF = ("Make sure that the power is off.", "Do not continue before that.")


def _hold_note(text: str) -> str:
    return f"Hold point. A person confirms this: {one_line(text.replace('*', ''))}"


def one_line(text: str) -> str:
    """A text of the device file as running words."""
    return " ".join(text.split())
