"""What opening and closing costs for each check and mend, from every state of the machine.

A state is the set of open joints. For an action the least set is chosen from the present state. Nothing is
closed that need not be: closing later costs no more, but for a turn or a tool that both might share, and
may not be needed. What must be open is opened with the least set: what every way in opens, where that is
enough, else the planner's cheapest; from an open machine the better of that and of what is missing. With
power on only the joints that the action names may stay open, and what lies on the way to them and
carries no power.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final

from lastscrew.device.model import Device
from lastscrew.device.opening import is_live
from lastscrew.faults.changing import Changes, Step
from lastscrew.faults.puzzle import State
from lastscrew.faults.works import Work, faults_of, mend_id, mends_of
from lastscrew.plan.acts import CLOSING_TIMES, OPENING_TIMES, may_apply
from lastscrew.plan.compiled import EVERYTHING, Rules, bits
from lastscrew.plan.repair import missed_chains
from lastscrew.plan.search import Search, UnreachableError
from lastscrew.plan.selection import Question, Selection
from lastscrew.plan.wording import joint_name, listed
from lastscrew.problems import InputError, Problem
from lastscrew.saying import say
from lastscrew.times.work import work_times

TABLE_FORMAT: Final = 3
"""Format of a prepared table as data."""


@dataclass(frozen=True, slots=True)
class Move:
    """Opening and closing for one action from one state.

    Attributes:
        ms, price: Time, and the price of what is renewed or may be damaged.
        during: Joints open while the action is done.
        after: Joints open after it.
    """

    ms: int
    price: float
    during: State
    after: State


@dataclass(frozen=True, slots=True)
class _Needs:
    """What an action needs, in sets of joints. ``certain``: what every way in opens for it."""

    open: int
    closed: int
    allowed: int
    power: str | None
    hung: int
    reseated: int
    certain: int


class _Sums:
    """Sums over sets of joints, a byte of the set at a time."""

    def __init__(self, values: Sequence[float]) -> None:
        self._tables: list[list[float]] = []
        for begin in range(0, len(values), 8):
            table: list[float] = [0]
            for value in values[begin : begin + 8]:
                table += [total + value for total in table]
            self._tables.append(table)

    def of(self, joints: int) -> float:
        """Sum over a set."""
        return sum(
            table[byte]
            for table, byte in zip(
                self._tables, joints.to_bytes(len(self._tables), "little"), strict=True
            )
        )


class DeviceOpenings:
    """Opening costs of the actions of one fitted device.

    Actions are numbered as in a puzzle: checks, mends, the device's own check.
    """

    def __init__(
        self,
        device: Device,
        works: tuple[Work, ...],
        *,
        pace: float = 1.0,
        rate_per_h: float | None = None,
    ) -> None:
        """Compile the rules of the device.

        Args:
            device: The fitted device.
            works: Checks, mends and the device's own check, in this order.
            pace: Factor on times from tables.
            rate_per_h: Price of an hour; None: costs are seconds, prices do not count.

        Raises:
            InputError: An action needs what can't be had; all of them at once.
        """
        self.device = device
        self.works = works
        self.rate_per_h = rate_per_h
        self.rules = Rules(device, _costs(device, pace))
        self.changes = Changes(device, self.rules)
        self._isolators = self.changes.isolators
        live = (j for j in device.joints.values() if is_live(device, j) and not j.isolates)
        self._live = self.rules.mask(joint.id for joint in live)
        self._opening_price, self._closing_price = _prices(device, self.rules)
        self._open_price_sum = _Sums(self._opening_price)
        self._close_price_sum = _Sums(self._closing_price)
        self._moves: dict[tuple[State, int], Move] = {}
        self._rough: dict[tuple[State, int], Move] = {}
        self._closings: dict[State, tuple[int, float]] = {}
        self._least: dict[tuple[int, int, int], int | None] = {}
        self._ready: set[State] = set()
        self._known_setups: dict[tuple[int, int], int] = {}
        self._floors: dict[tuple[State, int], float] = {}
        self._whole: dict[State, bool] = {}
        all_options = [self.rules.options(j) for j in range(len(self.rules.joint_ids))]
        self._least_ms = (
            [min(option.open_cost for option in options) for options in all_options],
            [min(option.close_cost for option in options) for options in all_options],
        )
        self._open_sum, self._close_sum = _Sums(self._least_ms[0]), _Sums(self._least_ms[1])
        self._without_choice: dict[tuple[int, int], int | None] = {}
        self.worked_out = 0
        self.prepared = 0
        self._preparing = False
        self._model: tuple[Device, object, Any] | None = None
        problems: list[Problem] = []
        self._needs = [self._needs_of(work, problems) for work in works]
        if problems:
            raise InputError(problems)

    # --- the protocol of a puzzle -----------------------------------------------------------------

    def go(self, state: State, action: int) -> tuple[float, State]:
        """See :class:`lastscrew.faults.puzzle.Openings`."""
        move = self.move(state, action)
        return self.cost(move.ms, move.price), move.after

    def close(self, state: State) -> float:
        """See :class:`lastscrew.faults.puzzle.Openings`."""
        return self.cost(*self.closing(state))

    def at_most(self, state: State, action: int) -> tuple[float, State]:
        """See :class:`lastscrew.faults.puzzle.Openings`: many steps are ordered in haste.

        Exact from states that were prepared, so that an answer does not depend on what was asked before.
        """
        if state in self._ready:
            return self.go(state, action)
        found = self._rough.get((state, action))
        if found is None:
            self.changes.hasty = True
            try:
                found = self._rough[state, action] = self._move(state, self._needs[action])
            finally:
                self.changes.hasty = False
        return self.cost(found.ms, found.price), found.after

    def ready(self, state: State) -> bool:
        """See :class:`lastscrew.faults.puzzle.Openings`."""
        return state in self._ready

    def floor(self, state: State, actions: int) -> float:
        """See :class:`lastscrew.faults.puzzle.Openings`.

        Every joint that all ways open, and the setups of one of the actions: its openings come before it, its
        closings after it, so that these can't share a setup. Or the setups of closing everything, if they cost more.
        """
        key = (state, actions)
        found = self._floors.get(key)
        if found is None:
            joints = 0
            for action in bits(actions):
                joints |= self._certain_from(state, action)
            opened, closed = joints & ~state, joints | state
            ms = self._open_sum.of(opened) + self._close_sum.of(closed)
            setups = [self._setups(state, action) for action in bits(actions)]
            ms += max([*setups, self.changes.setups_floor(closed, opening=False)])
            price = self._open_price_sum.of(opened) + self._close_price_sum.of(closed)
            found = self._floors[key] = self.cost(int(ms), price)
        return found

    def _certain_from(self, state: State, action: int) -> int:
        """Joints that an action has open for certain.

        What every way from a closed machine opens is on every way from here as well, unless something on the
        way here was closed again behind what still lies open, as what takes the power away is for a powered check.
        """
        found = self._whole.get(state)
        if found is None:
            found = self._whole[state] = self.changes.largest_within(state) == state
        needs = self._needs[action]
        return needs.certain if found else needs.open | needs.reseated

    def _setups(self, state: State, action: int) -> int:
        """Least setups of opening what an action needs, and of closing that again."""
        certain = self._certain_from(state, action)
        key = (certain & ~state, certain)
        found = self._known_setups.get(key)
        if found is None:
            changes = self.changes
            found = changes.setups_floor(key[0], opening=True)
            found += changes.setups_floor(certain, opening=False)
            self._known_setups[key] = found
        return found

    def keep_model(self, device: Device, asked: object, model: Any) -> None:  # noqa: ANN401  (it knows this module)
        """Keep what was made of a device for the next question; the last one alone."""
        self._model = (device, asked, model)

    def model_of(self, device: Device, asked: object) -> Any | None:  # noqa: ANN401
        """What was kept for the same device (the object itself) and the same terms; None where nothing was."""
        if self._model is not None and self._model[0] is device and self._model[1] == asked:
            return self._model[2]
        return None

    def cost(self, ms: int, price: float) -> float:
        """Time and price in the unit of costs."""
        if self.rate_per_h is None:
            return ms / 1000
        return ms / 3_600_000 * self.rate_per_h + price

    def priced(self, rate_per_h: float | None) -> DeviceOpenings:
        """The same with another price of an hour; what was worked out is shared."""
        other = copy(self)
        other.rate_per_h = rate_per_h
        other._floors, other._model = {}, None  # noqa: SLF001  (a copy of its own)
        return other

    # --- moves --------------------------------------------------------------------------------------

    def move(self, state: State, action: int) -> Move:
        """Opening and closing for an action from a state."""
        found = self._moves.get((state, action))
        if found is None:
            self.worked_out += 1
            found = self._moves[state, action] = self._move(state, self._needs[action])
        return found

    def closing(self, state: State) -> tuple[int, float]:
        """Time and price of closing everything."""
        found = self._closings.get(state)
        if found is None:
            found = self._closings[state] = self._between(state, 0)
        return found

    def steps(self, state: State, action: int) -> tuple[Step, ...]:
        """The openings and closings of a move, in order, up to the action itself."""
        needs = self._needs[action]
        during = self.move(state, action).during
        again = needs.reseated & ~state
        return self.changes.between(state, during, again).steps

    def state(self, joints: Iterable[str]) -> State:
        """The state in which these joints are open."""
        return self.rules.mask(joints)

    def joints(self, state: State) -> tuple[str, ...]:
        """Joints that are open in a state, in id order."""
        return self.rules.ids(state)

    def before(self, joints: State) -> State:
        """What every way to these joints opens, they themselves included."""
        return self._forced(0, joints, 0)

    def prepare(self, start: State = 0) -> int:
        """Work out all actions from ``start`` and from wherever one action leads.

        To be called once, before anything else is asked: with the cheapest way from there, sets are chosen
        that are chosen quickly from elsewhere.

        Returns:
            Number of moves that were not known before.
        """
        before = self.worked_out
        self._preparing = True
        actions = range(len(self.works))
        states = {start} | {self.move(start, action).after for action in actions}
        for state in sorted(states):
            self.closing(state)
            for action in actions:
                after = self.move(state, action).after
                self.closing(after)
                self.move(after, len(self.works) - 1)
        self._ready |= states
        self._preparing = False
        self.prepared = len(self._moves)
        return self.worked_out - before

    @property
    def size(self) -> int:
        """Number of moves that are known."""
        return len(self._moves) + len(self._rough)

    # --- as data, for keeping -----------------------------------------------------------------------

    def table(self) -> dict[str, Any]:
        """What was worked out, as plain data."""
        return {
            "format": TABLE_FORMAT,
            "ready": [f"{state:x}" for state in sorted(self._ready)],
            "moves": _moves_as_data(self._moves),
            "rough": _moves_as_data(self._rough),
            "closings": [
                [f"{s:x}", ms, price] for s, (ms, price) in sorted(self._closings.items())
            ],
        }

    def take(self, table: Mapping[str, Any]) -> bool:
        """Take over a table that :meth:`table` gave for the same device and actions; False if it is no such."""
        if table.get("format") != TABLE_FORMAT:
            return False
        try:
            moves, rough = _moves_of(table["moves"]), _moves_of(table["rough"])
            ready = {int(state, 16) for state in table["ready"]}
            closings = {int(s, 16): (int(ms), float(price)) for s, ms, price in table["closings"]}
        except (KeyError, TypeError, ValueError):
            return False
        self._ready |= ready
        self._moves.update(moves)
        self._rough.update(rough)
        self._closings.update(closings)
        return True

    # --- one move -------------------------------------------------------------------------------------

    def _move(self, state: State, needs: _Needs) -> Move:
        if needs.power == "on":
            return self._powered(state, needs)
        if needs.reseated:
            return self._reseated(state, needs)
        if not needs.power and not needs.open & ~state and not needs.closed & state:
            return Move(0, 0.0, state, state)
        there = self.changes.isolated(state)
        during = self._least_open(self._kept(there, needs.closed), needs.open, needs.closed)
        assert during is not None, "checked when the needs were worked out"
        return Move(*self._between(state, during), during, during)

    def _powered(self, state: State, needs: _Needs) -> Move:
        allowed = needs.allowed | self._isolators
        kept = self.changes.largest_within(self.changes.isolated(state) & allowed & ~needs.closed)
        isolated = self._least_open(kept, needs.open, needs.closed)
        assert isolated is not None, "checked when the needs were worked out"
        shut = self._isolators & ~needs.open  # with the pack unplugged it may run on mains power
        if not needs.hung:
            during = isolated & ~shut
            return Move(*self._between(state, during), during, during)
        during = isolated & ~needs.hung & ~shut
        legs = ((state, isolated), (isolated, during), (during, isolated))
        ms, price = map(sum, zip(*(self._between(*leg) for leg in legs), strict=True))
        return Move(int(ms), float(price), during, isolated)

    def _reseated(self, state: State, needs: _Needs) -> Move:
        there = self.changes.isolated(state)
        opened = self._least_open(
            self._kept(there, needs.closed), needs.open | needs.reseated, needs.closed
        )
        assert opened is not None, "checked when the needs were worked out"
        after = self.changes.largest_within(opened & ~needs.reseated)
        again = needs.reseated & ~state
        return Move(*self._between(state, after, again), after, after)

    def _kept(self, state: State, closed: int) -> int:
        """What may stay open; nothing is closed without need."""
        return self.changes.largest_within(state & ~closed) if state & closed else state

    def _between(self, start: State, end: State, again: int = 0) -> tuple[int, float]:
        change = self.changes.between(start, end, again)
        price = sum(
            (self._opening_price if step.opening else self._closing_price)[step.joint]
            for step in change.steps
        )
        return change.ms, price

    def _least_open(self, opened: int, needed: int, banned: int) -> int | None:
        """The cheapest set that holds what is open and what is needed; None where there is none."""
        if not needed & ~opened:
            return opened
        if opened:
            certain = self._certain(needed, banned)
            if certain is not None:
                return opened | certain
        key = (opened, needed, banned)
        if key not in self._least:
            self._least[key] = self._search_open(opened, needed, banned)
        return self._least[key]

    def _certain(self, needed: int, banned: int) -> int | None:
        """The cheapest set from all closed where every way opens all of it; None where there is a choice.

        Every set that holds what is needed then holds this, and the union of two sets that can be open can be
        open, so that from anywhere else just what is missing is opened.
        """
        key = (needed, banned)
        if key not in self._without_choice:
            least = self._least_open(0, needed, banned)
            forced = self._forced(0, needed, banned)
            self._without_choice[key] = least if least == forced else None
        return self._without_choice[key]

    def _forced(self, opened: int, needed: int, banned: int) -> int:
        """What every way to ``needed`` opens; only the needed itself where there is no way."""
        selection = Selection(self._question(opened, needed, banned))
        landmarks, _ = selection.landmarks(selection.banned, opened)
        forced = needed
        for j in bits(needed):
            if landmarks[j] != EVERYTHING:
                forced |= landmarks[j]
        return forced

    def _question(self, opened: int, needed: int, banned: int) -> Question:
        tools = self.rules.tool_ids
        return Question(
            rules=self.rules,
            required=needed,
            opened=opened,
            banned=banned,
            start_side=0,
            turn_cost=self.device.turn_ms,
            swap_cost=tuple(0 if t is None else self.device.tools[t].swap_ms for t in tools),
        )

    def _search_open(self, opened: int, needed: int, banned: int) -> int | None:
        question = self._question(opened, needed, banned)
        selection = Selection(question)
        landmarks, reached = selection.landmarks(selection.banned, opened)
        if needed & ~reached:
            return None
        forced = opened | needed
        for j in bits(needed):
            if landmarks[j] == EVERYTHING:
                return None
            forced |= landmarks[j]
        if self.changes.largest_within(forced) == forced:
            if self._all_ways_free(forced, opened):
                return forced
            closed = self._least_open(0, needed, banned) if opened else None
            if closed is not None:
                return min(
                    forced, closed | opened, key=lambda b: (self._there_and_back(opened, b), b)
                )
        if opened:
            return self._quick(selection, forced, opened, needed, banned)
        return self._planned(question)

    def _there_and_back(self, opened: int, joints: int) -> int:
        """Time from one open set to another, and of closing it all."""
        return self.changes.between(opened, joints).ms + self.changes.between(joints, 0).ms

    def _all_ways_free(self, joints: int, opened: int) -> bool:
        """Whether opening more would give no other access to any of these joints."""
        return all(
            option.is_open(joints & ~(1 << j))
            for j in bits(joints & ~opened)
            for option in self.rules.options(j)
        )

    def _quick(
        self, selection: Selection, forced: int, opened: int, needed: int, banned: int
    ) -> int | None:
        """A choice where something is open: the better of the planner's first plan and of the way from all closed."""
        offers = [selection.complete(forced, selection.banned) | opened]
        closed = self._least_open(0, needed, banned)
        if closed is not None:
            offers.append(closed | opened)
        costs = self._there_and_back if self._preparing else self._work_ms
        return min(offers, key=lambda joints: (costs(opened, joints), joints))

    def _work_ms(self, _opened: int, joints: int) -> int:
        return int(self._open_sum.of(joints) + self._close_sum.of(joints))

    def _planned(self, question: Question) -> int | None:
        while True:
            try:
                outcome = Search(question).run()
            except UnreachableError:
                return None
            if outcome.best is None:
                return None
            missed = missed_chains(self.device, self.rules, outcome.best)
            if not missed:
                return outcome.best.turning
            for index, access, chain in missed:
                self.rules.add_chain(index, access, chain)

    # --- needs ------------------------------------------------------------------------------------------

    def _needs_of(self, work: Work, problems: list[Problem]) -> _Needs:
        mask = self.rules.mask
        needed, closed = mask(work.open), mask(work.closed)
        reseated = mask((work.joint,)) if work.kind == "reseat" and work.joint else 0
        hung = mask(work.hung)
        if work.power == "off":
            needed |= self._isolators
        may = mask(work.may_be_open)
        named = needed | may
        not_named = self._live & ~named if work.power == "on" else 0
        around = self._least_open(0, needed | reseated, closed | not_named)
        way = self._least_open(0, needed | reseated, closed) if around is None else around
        if around is not None:
            closed |= not_named
        if way is None:
            problems.append(_out_of_reach(self.device, work))
            way = 0
        allowed = named
        if work.power == "on":
            way |= self._ways_to(may, closed)
            allowed |= way & ~self._isolators
            problems.extend(
                _not_named(self.device, work, joint) for joint in self.rules.ids(way & not_named)
            )
        certain = self._forced(0, needed | reseated, closed)
        return _Needs(needed, closed, allowed, work.power, hung, reseated, certain)

    def _ways_to(self, joints: int, closed: int) -> int:
        """What the joints that may be open can't be open without."""
        way = 0
        for j in bits(joints):
            way |= self._least_open(0, 1 << j, closed) or 0
        return way


def _moves_as_data(moves: Mapping[tuple[State, int], Move]) -> list[list[Any]]:
    return [
        [f"{state:x}", action, m.ms, m.price, f"{m.during:x}", f"{m.after:x}"]
        for (state, action), m in sorted(moves.items())
    ]


def _moves_of(rows: Iterable[Sequence[Any]]) -> dict[tuple[State, int], Move]:
    return {
        (int(state, 16), int(action)): Move(int(ms), float(price), int(during, 16), int(after, 16))
        for state, action, ms, price, during, after in rows
    }


def _out_of_reach(device: Device, work: Work) -> Problem:
    needed = listed(
        [joint_name(device, j) for j in (*work.open, *((work.joint,) if work.joint else ()))]
    )
    shut = listed([joint_name(device, j) for j in work.closed])
    text = say(
        "{work} needs {joints} open, and there is no way to that.", work=work.name, joints=needed
    )
    if shut:
        text = say(
            "{work} needs {joints} open while {others} must be closed, and there is no way to that.",
            work=work.name,
            joints=needed,
            others=shut,
        )
    return Problem(
        text,
        say("Correct open and closed."),
        path=_path_of(device, work),
        code="out_of_reach",
    )


def _not_named(device: Device, work: Work, joint: str) -> Problem:
    return Problem(
        say(
            "{work} needs power on, but {joint} is live and lies open on the way.",
            work=work.name,
            joint=joint_name(device, joint),
        ),
        _naming(work, joint),
        path=_path_of(device, work),
        code="live_not_named",
    )


def _naming(work: Work, joint: str) -> str:
    """Where a live joint can be named: a mend has no ``may_be_open``, a swap test is always done with power on."""
    if work.kind in ("mend", "reseat"):
        return say(
            "Name {joints} under open, so that a person can confirm it; or say power: off.",
            joints=joint,
        )
    if work.kind == "swap":
        return say(
            "Name {joints} under may_be_open, so that a person can confirm it.", joints=joint
        )
    return say(
        "Name {joints} under may_be_open or open, so that a person can confirm it; or say power: off.",
        joints=joint,
    )


def _path_of(device: Device, work: Work) -> str:
    """Where a check, or the first fault with a mend, stands in the file."""
    if work.kind in ("check", "swap", "final"):
        return f"checks.{work.id}"
    of = (f.id for f in faults_of(device) if work.id in map(mend_id, mends_of(device, f)))
    return ".".join(["faults", *islice(of, 1)])


def _costs(device: Device, pace: float) -> dict[str, tuple[tuple[int, int], ...]]:
    """(opening, closing) ms of every access, with the acts that are always tied to that step."""
    opening, closing = dict.fromkeys(device.joints, 0), dict.fromkeys(device.joints, 0)
    for act in device.acts.values():
        if act.joint is not None and may_apply(act, ()):
            if act.at in OPENING_TIMES:
                opening[act.joint] += act.ms
            elif act.at in CLOSING_TIMES:
                closing[act.joint] += act.ms
    return {
        joint: tuple((t.open_ms + opening[joint], t.close_ms + closing[joint]) for t in times)
        for joint, times in work_times(device, pace).items()
    }


def _prices(device: Device, rules: Rules) -> tuple[list[float], list[float]]:
    """By joint: expected damage of opening it, and what is renewed when it is closed."""
    opening, closing = [], []
    for joint_id in rules.joint_ids:
        joint = device.joints[joint_id]
        opening.append(
            sum(
                c * (device.parts[p].price or 0.0)
                for p, c in joint.damage.items()
                if p in device.parts
            )
        )
        renewed = sum(
            amount * (device.supplies[name].price or 0.0)
            for name, amount in joint.renew.items()
            if name in device.supplies
        )
        fastener = device.fasteners.get(joint.fastener or "")
        if joint.reuse == "single_use" and fastener is not None:
            renewed += joint.count * (fastener.price or 0.0)
        closing.append(renewed)
    return opening, closing
