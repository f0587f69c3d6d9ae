"""The sequencing core against a plain search over (what is done, class), on tasks too large to enumerate."""

from __future__ import annotations

import heapq
from random import Random

import pytest

from lastscrew.plan.sequence import Attribute, Setups, Task, Way, hasty, sequence


def cheapest(task: Task) -> int | None:
    """Least cost by Dijkstra's algorithm over (set done, class): no bound, no closure, no dominance."""
    everything = sum(1 << op for op, ways in enumerate(task.ways) if ways)
    best = {(0, task.start): 0}
    heap = [(0, 0, task.start)]
    found: int | None = None
    while heap:
        cost, done, kind = heapq.heappop(heap)
        if cost > best[done, kind]:
            continue
        if done == everything:
            total = cost + task.end[kind]
            found = total if found is None else min(found, total)
            continue
        for op, ways in enumerate(task.ways):
            if done >> op & 1:
                continue
            for way in ways:
                if way.needs & ~done or not all(clause & done for clause in way.clauses):
                    continue
                state = (done | 1 << op, way.kind)
                reached = cost + task.setups.matrix[kind][way.kind] + way.extra
                if reached < best.get(state, reached + 1):
                    best[state] = reached
                    heapq.heappush(heap, (reached, *state))
    return found


def setups_of(rng: Random, sides: int, tools: int) -> Setups:
    """Classes of sides and tools (tool 0: the bare hand), as the planner makes them."""
    kinds = [(side, tool) for side in range(sides) for tool in range(tools)]
    turn = rng.choice((0, 1, 3, 6))
    swaps = (0, *(rng.choice((0, 1, 2, 5)) for _ in range(tools - 1)))
    matrix = [[turn * (a[0] != b[0]) + swaps[b[1]] * (a[1] != b[1]) for b in kinds] for a in kinds]
    return Setups.of(
        matrix,
        (
            Attribute(tuple(side for side, _ in kinds), (turn,) * sides),
            Attribute(tuple(tool for _, tool in kinds), swaps),
        ),
    )


def draw_task(rng: Random) -> Task:
    """Up to nine operations with up to four ways, each with clauses of its own."""
    setups = setups_of(rng, rng.randint(1, 3), rng.randint(1, 4))
    kinds, count = len(setups.matrix), rng.randint(5, 9)
    ways: list[tuple[Way, ...]] = []
    for op in range(count):
        earlier = sum(1 << other for other in range(op) if rng.random() < 0.15)
        extras = [0, *(rng.choice((0, 0, 1, 4)) for _ in range(rng.choice((0, 1, 2, 3))))]
        ways.append(tuple(_way(rng, op, count, kinds, earlier, extra) for extra in extras))
    end = tuple(rng.choice((0, 0, 2)) for _ in range(kinds))
    return Task(
        tuple(ways), setups, rng.randrange(kinds), end if rng.random() < 0.5 else (0,) * kinds
    )


def _way(rng: Random, op: int, count: int, kinds: int, earlier: int, extra: int) -> Way:
    needs = earlier | sum(1 << other for other in range(op) if rng.random() < 0.1)
    others = [other for other in range(count) if other != op]
    clauses = tuple(
        sum(1 << other for other in rng.sample(others, rng.randint(2, 3)))
        for _ in range(rng.choice((0, 0, 1, 2)))
    )
    return Way(rng.randrange(kinds), extra, needs, clauses)


@pytest.mark.parametrize("chunk", range(4))
def test_orders_are_as_cheap_as_a_plain_search_finds(chunk: int) -> None:
    possible = 0
    for seed in range(chunk * 500, chunk * 500 + 500):
        task = draw_task(Random(seed))
        answer, expected = sequence(task), cheapest(task)
        assert answer.cost == expected, seed
        assert answer.possible == (expected is not None), seed
        possible += answer.possible
    assert possible > 250


def test_bounds_of_stopped_orders_are_never_above_the_least_cost() -> None:
    for seed in range(400):
        task = draw_task(Random(seed))
        expected = cheapest(task)
        if expected is None:
            continue
        for work in (1, 2, 5):
            assert sequence(task, work=work).bound <= expected, seed
        enough = sequence(task, enough=expected - 1)
        assert enough.cost is None or enough.cost == expected, seed
        assert enough.bound <= expected, seed
        assert sequence(task, enough=expected).cost == expected, seed
        quick = hasty(task)
        assert quick.cost is not None, seed
        assert quick.cost >= expected, seed
