"""The shortest re-opening that finds what is astray.

Places are looked into one after the other until every piece is found; then all is closed again. To
look at a joint, whatever lies over it has to be opened, the joint itself not (unless its screws have to
be taken out and compared). What it takes comes from the planner: each place becomes a joint of its own
that is opened by looking. Which order has the least expected time is found exactly for up to
``MOST_PLACES`` places at ``MOST_LEVELS`` depths, taking as the cost of a set of places the best plan that
reaches them all; beyond that, the best ratio of chance to cost is taken next. The times that are
shown are those of the chosen order itself, planned step after step.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from lastscrew.device.model import Device, Joint
from lastscrew.fasteners.forgetting import together
from lastscrew.plan.model import Plan, Request
from lastscrew.problems import InputError

MOST_PLACES = 12
MOST_LEVELS = 6

Solve = Callable[[Device, Request], Plan]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place that can be looked into.

    Attributes:
        key: Its name in the answer.
        joint: The joint there, None for a place outside the machine.
        take_out: The joint itself has to be opened: its pieces are taken out and compared.
        look_ms: Time to look, count or compare, without opening.
        chances: Relative chances that 0, 1, … pieces are there.
    """

    key: str
    joint: str | None
    take_out: bool
    look_ms: int
    chances: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class SearchStep:
    """One step of the search.

    Attributes:
        key: The place.
        opens: Joints opened for it, in order.
        in_ms: Opening and looking, from the step before.
        settled_ms: All time if the search ends here, closing included.
        settled_by_here: Chance that everything has been found by then.
    """

    key: str
    opens: tuple[str, ...]
    in_ms: int
    settled_ms: int
    settled_by_here: float


@dataclass(frozen=True, slots=True)
class Search:
    """The order in which to look.

    Attributes:
        steps: One for each place that can be reached.
        expected_ms: Mean time until all is closed again; where nothing is found, after the last step.
        worst_ms: Time when everything has been looked into.
        exact: No other order of these places has a lower expected cost, under the model above.
        out_of_reach: Places that no allowed opening reaches.
    """

    steps: tuple[SearchStep, ...]
    expected_ms: int
    worst_ms: int
    exact: bool
    out_of_reach: tuple[str, ...]


def search(
    device: Device,
    spots: Sequence[Spot],
    elsewhere: Sequence[float],
    request: Request,
    solve: Solve,
) -> Search:
    """Find the order of looking with the least expected time.

    Args:
        device: The device, reduced to what is fitted.
        spots: Where the pieces can be.
        elsewhere: Relative chances that 0, 1, … pieces are at no place at all; as long as the
            chances of the spots, so that the number of pieces is its length less one.
        request: Gives the joints open now, the side that faces up, and what may not be opened.
        solve: The planner.

    Raises:
        InputError: The planner was stopped before it had any plan.
    """
    reopening = _Reopening(device, spots, request, solve)
    reachable = [spot for spot in spots if reopening.can_reach(spot)]
    total = tuple(elsewhere)
    for spot in spots:
        total = together(total, spot.chances)
    levels = reopening.levels(reachable)
    small = len(reachable) <= MOST_PLACES and len(set(levels)) <= MOST_LEVELS
    order = (
        _exact(reopening, reachable, levels) if small else _by_ratio(reopening, reachable, levels)
    )
    steps = _walked(reopening, order, total[-1])
    return Search(
        steps=steps,
        expected_ms=_expected(steps),
        worst_ms=steps[-1].settled_ms if steps else 0,
        exact=small,
        out_of_reach=tuple(spot.key for spot in spots if spot not in reachable),
    )


def _expected(steps: Sequence[SearchStep]) -> int:
    """Mean over where the search ends; what is never settled ends after the last step."""
    mean, before = 0.0, 0.0
    for step in steps:
        mean += (step.settled_by_here - before) * step.settled_ms
        before = step.settled_by_here
    return round(mean + (1 - before) * (steps[-1].settled_ms if steps else 0))


def _looking(joints: dict[str, Joint], joint_id: str) -> str:
    """Add a joint that is opened by looking at another: same parts, same accesses, nothing held."""
    name = f"look_{joint_id}"
    while name in joints:
        name += "_"
    joint = joints[joint_id]
    accesses = tuple(
        replace(a, tool=None, close_tool=None, open_ms=0, close_ms=0, unknown=())
        for a in joint.accesses
    )
    joints[name] = Joint(
        name, "other", joint.joins, accesses, rigid=False, after=joint.after, powered=joint.powered
    )
    return name


class _Reopening:
    """Asks the planner what it takes to look at places."""

    def __init__(
        self, device: Device, spots: Sequence[Spot], request: Request, solve: Solve
    ) -> None:
        self.solve = solve
        self.target: dict[str, str] = {}
        self.looks: set[str] = set()
        joints = dict(device.joints)
        for spot in spots:
            if spot.joint is not None and spot.take_out:
                self.target[spot.key] = spot.joint
            elif spot.joint is not None:
                self.target[spot.key] = _looking(joints, spot.joint)
                self.looks.add(self.target[spot.key])
        # Acts that no joint is tied to (saving data, handing over) belong to the job, not to this.
        acts = {key: act for key, act in device.acts.items() if act.joint is not None}
        self.device = replace(device, joints=joints, acts=acts)
        self.base = replace(
            request,
            replace=(),
            reach=(),
            not_fitted=(),
            fitted=(),
            without=tuple(joint_id for joint_id in request.without if joint_id in joints),
            objective="time",
        )
        self.totals: dict[frozenset[str], int | None] = {}
        self.idle_ms = self._total(frozenset()) or 0

    def _total(self, targets: frozenset[str]) -> int | None:
        """Best plan that reaches all targets and closes everything, ms; None where there is none."""
        if targets not in self.totals:
            if not targets and not self.base.opened:
                self.totals[targets] = 0
            else:
                try:
                    found = self.solve(
                        self.device, replace(self.base, reach=tuple(sorted(targets)))
                    )
                    self.totals[targets] = found.total_ms
                except InputError as error:
                    if any(problem.code == "stopped" for problem in error.problems):
                        raise
                    self.totals[targets] = None
        return self.totals[targets]

    def can_reach(self, spot: Spot) -> bool:
        """True when there is a way to look there; where only opening the joint helps, that is taken."""
        if spot.joint is None:
            return True
        if self._total(frozenset([self.target[spot.key]])) is not None:
            return True
        self.looks.discard(self.target[spot.key])
        self.target[spot.key] = spot.joint
        return self._total(frozenset([spot.joint])) is not None

    def levels(self, spots: Sequence[Spot]) -> list[str]:
        """For each spot a name of its depth: spots at one depth are reached by the same openings."""
        by_opening: dict[tuple[str, ...], str] = {}
        found = []
        for spot in spots:
            if spot.key not in self.target:
                found.append("")
                continue
            target = self.target[spot.key]
            done = self.solve(self.device, replace(self.base, reach=(target,)))
            opened = sorted(step.joint for step in done.way_in if step.joint != target)
            sides = [step.side for step in done.way_in if step.joint == target]
            key = (*opened, *sides, "" if target in self.looks else target)
            found.append(by_opening.setdefault(key, target))
        return found

    def cost(self, levels: frozenset[str]) -> int:
        """What it takes to have been at all these depths, over and above closing what is open, ms."""
        total = self._total(levels - {""})
        if total is None:  # each can be reached, but a joint that may not be opened parts them
            return sum(
                (self._total(frozenset([level])) or 0) - self.idle_ms for level in levels - {""}
            )
        return total - self.idle_ms

    def walk(
        self, spot: Spot, opened: list[str], side: str | None
    ) -> tuple[Plan | None, str | None]:
        """Plan the way on to a spot from the joints that are open."""
        if spot.key not in self.target:
            return None, side
        reach = (self.target[spot.key],)
        found = self.solve(
            self.device, replace(self.base, opened=tuple(opened), side=side, reach=reach)
        )
        return found, found.way_in[-1].side if found.way_in else side


def _exact(reopening: _Reopening, spots: Sequence[Spot], levels: Sequence[str]) -> list[Spot]:
    """Least expected cost over all orders, by sets of places already looked into.

    Up to a constant factor, the chance that the search goes on after a set of places is one minus the
    chance that all pieces lie in it; each further place costs what it adds to the cost of the set.
    """
    everything = 1 << len(spots)
    inside = _found_within(spots, everything)
    whole = inside[-1] or 1.0
    cost = [
        reopening.cost(frozenset(levels[n] for n in range(len(spots)) if chosen >> n & 1))
        + sum(spots[n].look_ms for n in range(len(spots)) if chosen >> n & 1)
        for chosen in range(everything)
    ]
    best: list[tuple[float, int]] = [(0.0, -1)] * everything
    for chosen in range(everything - 2, -1, -1):
        going_on = max(0.0, 1 - inside[chosen] / whole)
        best[chosen] = min(
            (going_on * (cost[chosen | 1 << n] - cost[chosen]) + best[chosen | 1 << n][0], n)
            for n in range(len(spots))
            if not chosen >> n & 1
        )
    order, chosen = [], 0
    while chosen != everything - 1:
        number = best[chosen][1]
        order.append(spots[number])
        chosen |= 1 << number
    return order


def _found_within(spots: Sequence[Spot], everything: int) -> list[float]:
    """For every set of places the relative chance that all pieces lie within it."""
    if not spots:
        return [0.0]
    empty = (1.0, *([0.0] * (len(spots[0].chances) - 1)))
    within: list[tuple[float, ...]] = [empty] * everything
    for chosen in range(1, everything):
        lowest = (chosen & -chosen).bit_length() - 1
        within[chosen] = together(within[chosen & (chosen - 1)], spots[lowest].chances)
    return [chances[-1] for chances in within]


def _by_ratio(reopening: _Reopening, spots: Sequence[Spot], levels: Sequence[str]) -> list[Spot]:
    """Next always the place with the most chance for its added cost."""
    rest = list(range(len(spots)))
    seen: frozenset[str] = frozenset()
    order: list[Spot] = []
    while rest:
        now = reopening.cost(seen)

        def worth(number: int, now: int = now, seen: frozenset[str] = seen) -> tuple[float, int]:
            added = reopening.cost(seen | {levels[number]}) - now + spots[number].look_ms
            chance = 1 - spots[number].chances[0] / sum(spots[number].chances)
            return -chance / max(1, added), number

        number = min(rest, key=worth)
        rest.remove(number)
        order.append(spots[number])
        seen |= {levels[number]}
    return order


def _walked(reopening: _Reopening, order: Sequence[Spot], total: float) -> tuple[SearchStep, ...]:
    """The chosen order, planned step after step from what is open."""
    opened, side = list(reopening.base.opened), reopening.base.side
    so_far: tuple[float, ...] = (1.0, *([0.0] * (len(order[0].chances) - 1))) if order else ()
    spent, out_ms = 0, reopening.idle_ms
    steps: list[SearchStep] = []
    for spot in order:
        so_far = together(so_far, spot.chances)
        found, side = reopening.walk(spot, opened, side)
        in_ms, opens = spot.look_ms, []
        if found is not None:
            in_ms, out_ms = in_ms + found.way_in_ms, found.way_out_ms
            opens = [step.joint for step in found.way_in if step.joint not in reopening.looks]
            opened += opens
        spent += in_ms
        settled = min(1.0, so_far[-1] / total) if total > 0 else 0.0
        steps.append(
            SearchStep(spot.key, tuple(opens), in_ms, spent + out_ms - reopening.idle_ms, settled)
        )
    return tuple(steps)
