"""An independent model of the same problem for a constraint solver, for middle-sized machines.

Each limb is a row of *stages*; in a stage one side faces up and one tool is in hand. Joints are
assigned to stages; inside a stage they are ordered by a rank. That two parts do not hang together
is shown by a *cut*: labels 0 and 1 on the parts, such that every rigid joint whose parts differ in
label is open before.

The row has a fixed number of stages and one more after them, where setups are free; only a limb
that has filled all stages may enter it. The optimum with that free stage is a lower bound of the
true one; when the solution does not use the free stage it is the true one. Otherwise more stages
are given.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from ortools.sat.python import cp_model

from lastscrew.device.model import Device
from lastscrew.plan.model import Request
from tests.oracle.rules import (
    STEP_WEIGHT,
    Bond,
    Question,
    Times,
    Way,
    act_counts,
    ask,
    openable_by,
    swap_ms,
    turn_ms,
)

Setup = tuple[str, str | None]
Term: TypeAlias = Any
"""A variable, literal or sum of the solver."""

SEED = 7


@dataclass(frozen=True)
class Verdict:
    """What the solver found out.

    Attributes:
        status: ``optimal``, ``impossible``, ``feasible`` (a value that is not proven) or ``unknown``.
        value: The objective as in ``Plan.objective_value``; None without a solution.
        bound: Proven lower bound of the objective; None where nothing is known.
        turning: Joints open at the turning point of the solution found.
        seconds: Wall time in the solver.
    """

    status: str
    value: int | None
    bound: int | None
    turning: frozenset[str]
    seconds: float


@dataclass(frozen=True)
class Effort:
    """How hard to try.

    Attributes:
        seconds: Limit of wall time in the solver.
        work: Limit in the solver's own measure (about seconds of a free machine), which repeats.
        workers: Threads of the solver.
        stages: Stages that each limb has at first.
        ceiling: A value (not of the objective ``steps``) that the optimum is known not to exceed,
            None where nothing is known.
    """

    seconds: float = 60.0
    work: float = 1e9
    workers: int = 1
    stages: int = 6
    ceiling: int | None = None


def optimum(
    device: Device, request: Request, times: Times | None = None, effort: Effort | None = None
) -> Verdict:
    """Solve a request by the constraint solver; every objective is understood."""
    return solve(ask(device, request, times), effort)


def solve(question: Question, effort: Effort | None = None) -> Verdict:
    """Solve a question."""
    effort = effort or Effort()
    if question.objective == "steps":
        return _fewest_steps(question, effort)
    return _staged(question, effort, _Aim())


def _fewest_steps(question: Question, effort: Effort) -> Verdict:
    """First the least number of steps, then among those the least time."""
    few = _staged(question, replace(effort, stages=0, ceiling=None), _Aim(count_steps=True))
    if few.status != "optimal":
        return replace(few, value=None, bound=None)
    assert few.value is not None
    left = replace(effort, seconds=max(1.0, effort.seconds - few.seconds), ceiling=None)
    quick = _staged(question, left, _Aim(steps=few.value))
    base = few.value * STEP_WEIGHT
    return replace(
        quick,
        value=None if quick.value is None else base + quick.value,
        bound=base if quick.bound is None else base + quick.bound,
        seconds=few.seconds + quick.seconds,
    )


@dataclass(frozen=True)
class _Aim:
    """What to minimise: steps, or time (with a fixed number of steps where one is given)."""

    count_steps: bool = False
    steps: int | None = None


def _staged(question: Question, effort: Effort, aim: _Aim) -> Verdict:
    """Give the limbs more stages as long as the solution wants them."""
    spent = 0.0
    bound: int | None = None
    stages = {"in": effort.stages, "out": effort.stages}
    while True:
        left = replace(effort, seconds=max(0.5, effort.seconds - spent))
        verdict, wanting = _Model(question, stages, aim, effort.ceiling).solve(left)
        spent += verdict.seconds
        if verdict.bound is not None:
            bound = verdict.bound if bound is None else max(bound, verdict.bound)
        verdict = replace(verdict, bound=bound, seconds=spent)
        if wanting and (verdict.status == "feasible" or spent >= effort.seconds):
            return replace(verdict, status="unknown", value=None)
        if not wanting:
            return verdict
        for limb in wanting:
            stages[limb] += 2


class _Limb:
    """One limb of the model: which joint in which stage by which access."""

    def __init__(self, model: _Model, name: str, stages: int) -> None:
        self.model = model
        self.name = name
        self.stages = stages
        self.question = model.question
        self.cp = model.cp
        self.opening = name == "in"
        joints = [b for b in self.question.bonds.values() if self._may_move(b)]
        self.joints: dict[str, Bond] = {bond.id: bond for bond in joints}
        self.uses: dict[tuple[str, int], Term] = {}
        self.by: dict[str, list[Term]] = {}
        self.rank: dict[str, Term] = {}
        self.before: dict[tuple[str, str], Term] = {}
        self.placed: dict[tuple[str, int, int], Term] = {}
        self.certain = _certain(self.question, self.question.start if self.opening else frozenset())
        self._place()
        self._precede()
        for first, second in sorted(self.certain):
            if second in self.joints:
                self._need(first, second, self.moved(second))

    def _may_move(self, bond: Bond) -> bool:
        if self.opening:
            return bond.id not in self.question.start | self.question.forbidden
        return bond.id not in self.question.forbidden - self.question.start

    def moved(self, joint: str) -> Term:
        """Literal: this limb moves the joint."""
        return self.model.open[joint]

    def setup_of(self, way: Way) -> Setup:
        """Side and tool of an access on this limb."""
        return way.side, way.tool if self.opening else way.close_tool

    def work_of(self, way: Way) -> int:
        """Milliseconds of an access on this limb."""
        return way.open_ms if self.opening else way.close_ms

    def _place(self) -> None:
        """``by[joint][s]``: moved in stage ``s`` or an earlier one; the last stage is the free one."""
        last = self.stages
        for joint, bond in self.joints.items():
            self.rank[joint] = self.cp.new_int_var(0, len(self.joints), f"{self.name} rank {joint}")
            by = [self.cp.new_bool_var(f"{self.name} {joint} by {n}") for n in range(last)]
            by.append(self.moved(joint))
            for early, late in itertools.pairwise(by):
                self.cp.add_implication(early, late)
            self.by[joint] = by
            for way in bond.ways:
                use = self.cp.new_bool_var(f"{self.name} {joint} through {way.index}")
                self.uses[joint, way.index] = use
                spots = [
                    self.cp.new_bool_var(f"{self.name} {joint} through {way.index} in {number}")
                    for number in range(last + 1)
                ]
                self.placed.update({(joint, way.index, n): spot for n, spot in enumerate(spots)})
                self.cp.add(sum(spots) == use)
            for number in range(last + 1):
                here = sum(self.placed[joint, way.index, number] for way in bond.ways)
                earlier = by[number - 1] if number else 0
                self.cp.add(here == by[number] - earlier)
            self.cp.add(sum(self.uses[joint, way.index] for way in bond.ways) == self.moved(joint))

    def is_before(self, first: str, second: str) -> Term:
        """Literal that implies: on this limb ``first`` is open while ``second`` is moved.

        On the way in that means opened earlier (or open at the start), on the way out closed later.
        """
        key = (first, second)
        if key not in self.before:
            literal = self.cp.new_bool_var(f"{self.name} {first} open at {second}")
            self.before[key] = literal
            self.cp.add_implication(literal, self.model.open[first])
            if first in self.joints and second in self.joints:
                early, late = (first, second) if self.opening else (second, first)
                self.cp.add(self.rank[early] + 1 <= self.rank[late]).only_enforce_if(literal)
                for early_by, late_by in zip(self.by[early], self.by[late], strict=True):
                    self.cp.add_bool_or(literal.negated(), late_by.negated(), early_by)
            if (first, second) in self.certain:
                self.cp.add_implication(self.moved(second), literal)
        return self.before[key]

    def _need(self, first: str, second: str, when: Term) -> None:
        """When ``when`` holds, ``first`` must be open while ``second`` is moved."""
        if first not in self.question.bonds:
            self.cp.add(when == 0)
        elif self.opening and first in self.question.start:
            return
        else:
            self.cp.add_implication(when, self.is_before(first, second))

    def _precede(self) -> None:
        for joint, bond in self.joints.items():
            needed = set(bond.after)
            if bond.live and not bond.isolates:
                needed |= self.question.isolators
            for first in sorted(needed):
                self._need(first, joint, self.moved(joint))
            for way in bond.ways:
                for cover in sorted(way.under):
                    self._cut(bond, way, cover)

    def _cut(self, bond: Bond, way: Way, cover: str) -> None:
        """Labels that part ``cover`` from everything else that the joint joins."""
        use = self.uses[bond.id, way.index]
        away = bond.parts - {cover}
        label: dict[str, Term] = {}
        for part in sorted(self.model.parts):
            label[part] = self.cp.new_bool_var("")
        self.cp.add_implication(use, label[cover])
        for part in sorted(away):
            self.cp.add_implication(use, label[part].negated())
        for other in self.question.bonds.values():
            if other.id == bond.id or not other.rigid:
                continue
            if self.opening and other.id in self.question.start:
                continue
            members = sorted(other.parts)
            for one, two in zip(members, [*members[1:], members[0]], strict=True):
                broken = self.is_before(other.id, bond.id)
                # One label here, the other there, and the access used: then the joint is open.
                self.cp.add_bool_or(use.negated(), label[one].negated(), label[two], broken)

    def setup_cost(self, begin: dict[str, Term]) -> tuple[list[Term], dict[str, Term]]:
        """Setups of the row of stages.

        Args:
            begin: Literal for each side that may face up at the beginning; the hand is empty.

        Returns:
            Terms of the cost, and a literal for each side that may face up at the end.
        """
        setups = sorted(
            {self.setup_of(way) for bond in self.joints.values() for way in bond.ways},
            key=str,
        )
        terms: list[Term] = []
        current: dict[Setup, Term] = {(side, None): literal for side, literal in begin.items()}
        ended: dict[str, list[Term]] = {}
        for number in range(self.stages):
            arriving: dict[Setup, list[Term]] = {setup: [] for setup in setups}
            for here, literal in current.items():
                leaving = [self.cp.new_bool_var("")]
                ended.setdefault(here[0], []).append(leaving[0])
                for there in setups:
                    if there == here and number:
                        continue  # two equal stages in a row are one
                    arc = self.cp.new_bool_var("")
                    cost = turn_ms(self.question, here[0], there[0])
                    cost += swap_ms(self.question, here[1], there[1])
                    terms.append(cost * arc)
                    leaving.append(arc)
                    arriving[there].append(arc)
                self.cp.add(sum(leaving) == literal)
            current = {}
            for setup, arcs in arriving.items():
                stage = self.cp.new_bool_var("")
                self.cp.add(sum(arcs) == stage)
                current[setup] = stage
                self._fill(number, setup, stage)
        for spot in self.free_spots():
            self.cp.add_bool_or(spot.negated(), *current.values())
        for (side, _), literal in current.items():
            ended.setdefault(side, []).append(literal)
        final: dict[str, Term] = {}
        for side, literals in sorted(ended.items()):
            final[side] = self.cp.new_bool_var("")
            self.cp.add(sum(literals) == final[side])
        return terms, final

    def _fill(self, number: int, setup: Setup, literal: Term) -> None:
        """A joint stands in a stage only with the side and tool of that stage; no stage is empty."""
        inside = [
            self.placed[joint, way.index, number]
            for joint, bond in self.joints.items()
            for way in bond.ways
            if self.setup_of(way) == setup
        ]
        for spot in inside:
            self.cp.add_implication(spot, literal)
        self.cp.add_bool_or(literal.negated(), *inside)

    def work_terms(self) -> list[Term]:
        """Work of every joint moved, by the access used."""
        return [
            self.work_of(way) * self.uses[joint, way.index]
            for joint, bond in self.joints.items()
            for way in bond.ways
        ]

    def free_spots(self) -> list[Term]:
        """Literals: a joint stands in the last stage, where setups are free."""
        return [spot for (_, _, n), spot in self.placed.items() if n == self.stages]


def _certain(question: Question, start: frozenset[str]) -> set[tuple[str, str]]:
    """Pairs (first, second): without ``first`` open, nothing ever lets ``second`` be opened.

    Follows from the rules and saves the solver from finding it out.
    """
    pairs: set[tuple[str, str]] = set()
    for first in sorted(question.bonds):
        if first in start:
            continue
        open_now = start
        while True:
            further = {
                joint
                for joint in question.bonds
                if joint not in open_now
                and joint != first
                and openable_by(question, joint, open_now)
            }
            if not further:
                break
            open_now |= further
        pairs |= {(first, second) for second in question.bonds if second not in open_now | {first}}
    return pairs


class _Model:
    """The whole model for one number of stages."""

    def __init__(
        self, question: Question, stages: Mapping[str, int], aim: _Aim, ceiling: int | None
    ) -> None:
        self.question = question
        self.cp = cp_model.CpModel()
        self.parts = {part for bond in question.bonds.values() for part in bond.parts}
        self.parts |= {p for b in question.bonds.values() for w in b.ways for p in w.under}
        self.open = {joint: self.cp.new_bool_var(f"open {joint}") for joint in question.bonds}
        for joint, literal in self.open.items():
            if joint in question.required | question.start:
                self.cp.add(literal == 1)
            if joint in question.forbidden - question.start:
                self.cp.add(literal == 0)
        self.limbs = [_Limb(self, name, stages[name]) for name in ("in", "out")]
        moves = sum(literal for limb in self.limbs for literal in map(limb.moved, limb.joints))
        if aim.steps is not None:
            self.cp.add(moves == aim.steps)
        if aim.count_steps:
            self.cp.minimize(moves)
            return
        cost = sum(self._cost())
        if ceiling is not None:
            self.cp.add(cost <= ceiling)
        self.cp.minimize(cost)

    def _cost(self) -> list[Term]:
        question = self.question
        begin = {question.start_side: self._true()}
        terms: list[Term] = [0]
        side = begin
        # A limb that ends in the free stage may end on any side: that only lowers the bound.
        for limb in self.limbs:
            setups, end = limb.setup_cost(side)
            terms += setups + limb.work_terms()
            side = self._freed(limb, end)
        for name, literal in side.items():
            terms.append(turn_ms(question, name, question.first_side) * literal)
        return terms + self._act_terms() + self._damage_terms()

    def _freed(self, limb: _Limb, end: dict[str, Term]) -> dict[str, Term]:
        spots = limb.free_spots()
        names = {way.side for b in limb.joints.values() for way in b.ways} | set(end)
        names.add(self.question.first_side)
        free = self.cp.new_bool_var("")
        for spot in spots:
            self.cp.add_implication(spot, free)
        self.cp.add_bool_or(free.negated(), *spots)
        after: dict[str, Term] = {}
        for name in sorted(names):
            after[name] = self.cp.new_bool_var("")
            if name in end:
                self.cp.add_bool_or(after[name], end[name].negated(), free)
        self.cp.add_exactly_one(after.values())
        return after

    def _true(self) -> Term:
        literal = self.cp.new_bool_var("")
        self.cp.add(literal == 1)
        return literal

    def _act_terms(self) -> list[Term]:
        """Acts: those that depend on what is opened hang on those literals."""
        question = self.question
        everything = frozenset(question.bonds) | question.start
        terms: list[Term] = []
        for act in question.acts:
            if not act_counts(question, act, everything):
                continue
            literals = []
            if act.joint is not None:
                literals.append(self.open[act.joint])
            if not act_counts(question, act, question.start | {act.joint or ""}):
                literals.append(self._any_opened(act.when_opened))
            if not literals:
                terms.append(act.ms * self._true())
                continue
            done = self.cp.new_bool_var("")
            self.cp.add_bool_or(done, *[literal.negated() for literal in literals])
            terms.append(act.ms * done)
        return terms

    def _any_opened(self, joints: tuple[str, ...]) -> Term:
        opened = self.cp.new_bool_var("")
        for joint in joints:
            if joint in self.open and joint not in self.question.start:
                self.cp.add_implication(self.open[joint], opened)
        return opened

    def _damage_terms(self) -> list[Term]:
        if self.question.objective != "risk":
            return []
        return [
            bond.damage_ms * self.open[bond.id]
            for bond in self.question.bonds.values()
            if bond.id not in self.question.start
        ]

    def solve(self, effort: Effort) -> tuple[Verdict, tuple[str, ...]]:
        """The verdict, and the limbs whose solution stands in the stage where setups are free."""
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = effort.seconds
        solver.parameters.max_deterministic_time = effort.work
        solver.parameters.num_workers = effort.workers
        solver.parameters.random_seed = SEED
        # The rows of stages are flows: their linear relaxation is what bounds the setups.
        solver.parameters.linearization_level = 2
        status = solver.solve(self.cp)
        name = _STATUS.get(status, "unknown")
        if name == "impossible":
            return Verdict(name, None, None, frozenset(), solver.wall_time), ()
        bound = math.ceil(solver.best_objective_bound - 1e-6)
        if name == "unknown":
            return Verdict(name, None, max(0, bound), frozenset(), solver.wall_time), ()
        turning = frozenset(j for j, literal in self.open.items() if solver.boolean_value(literal))
        wanting = tuple(
            limb.name
            for limb in self.limbs
            if limb.stages and any(solver.boolean_value(spot) for spot in limb.free_spots())
        )
        value = round(solver.objective_value)
        return Verdict(name, value, min(value, bound), turning, solver.wall_time), wanting


_STATUS = {
    cp_model.OPTIMAL: "optimal",
    cp_model.FEASIBLE: "feasible",
    cp_model.INFEASIBLE: "impossible",
}
