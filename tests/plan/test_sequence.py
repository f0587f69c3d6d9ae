"""The sequencing core against an enumeration of all orders, and that the planner uses it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations, product
from random import Random

import pytest

from lastscrew.plan import ordering
from lastscrew.plan.sequence import Attribute, Setups, Task, Way, hasty, sequence


def cheapest_by_enumeration(task: Task) -> int | None:
    """Least cost over all orders and all choices of ways."""
    ops = [op for op, ways in enumerate(task.ways) if ways]
    costs = [
        cost
        for order in permutations(ops)
        for chosen in product(*(range(len(task.ways[op])) for op in order))
        if (cost := cost_of(task, tuple(zip(order, chosen, strict=True)))) is not None
    ]
    return min(costs, default=None)


def cost_of(task: Task, order: tuple[tuple[int, int], ...]) -> int | None:
    """Cost of an order; None when it breaks a precedence."""
    done, at, total = 0, task.start, 0
    for op, number in order:
        way = task.ways[op][number]
        if way.needs & ~done or any(not clause & done for clause in way.clauses):
            return None
        total += task.setups.matrix[at][way.kind] + way.extra
        at = way.kind
        done |= 1 << op
    return total + task.end[at]


def side_and_tool_setups(rng: Random) -> Setups:
    """Classes of two sides and three tools (one of them the bare hand)."""
    kinds = [(side, tool) for side in range(2) for tool in range(3)]
    turn, swaps = rng.randint(0, 6), (0, rng.randint(0, 5), rng.randint(0, 5))
    matrix = [[turn * (a[0] != b[0]) + swaps[b[1]] * (a[1] != b[1]) for b in kinds] for a in kinds]
    return Setups.of(
        matrix,
        (
            Attribute(tuple(side for side, _ in kinds), (turn, turn)),
            Attribute(tuple(tool for _, tool in kinds), swaps),
        ),
    )


def any_setups(rng: Random, kinds: int) -> Setups:
    """A matrix without any order in it: no triangle inequality."""
    return Setups.of(
        [[0 if a == b else rng.randint(0, 9) for b in range(kinds)] for a in range(kinds)]
    )


def random_task(rng: Random, setups: Setups) -> Task:
    kinds, count = len(setups.matrix), rng.randint(1, 5)
    ways = []
    for op in range(count):
        earlier = [other for other in range(op) if rng.random() < 0.3]
        others = [other for other in range(count) if other != op]
        options = []
        for extra in [0, *(rng.randint(0, 6) for _ in range(rng.choice((0, 0, 1, 2))))]:
            clauses = []
            if others and rng.random() < 0.3:
                clauses.append(sum(1 << o for o in rng.sample(others, min(2, len(others)))))
            needs = sum(1 << other for other in earlier if rng.random() < 0.8)
            options.append(Way(rng.randrange(kinds), extra, needs, tuple(clauses)))
        ways.append(tuple(options))
    return Task(
        tuple(ways), setups, rng.randrange(kinds), tuple(rng.randint(0, 4) for _ in range(kinds))
    )


def tasks() -> Iterator[Task]:
    rng = Random(20_11)
    for number in range(600):
        setups = side_and_tool_setups(rng) if number % 3 else any_setups(rng, rng.randint(2, 5))
        yield random_task(rng, setups)


def test_every_small_task_is_solved_as_enumeration_solves_it() -> None:
    impossible = 0
    for task in tasks():
        answer, expected = sequence(task), cheapest_by_enumeration(task)
        assert answer.cost == expected
        if expected is None:
            impossible += 1
            assert not answer.possible
            continue
        assert answer.proven
        assert cost_of(task, answer.order) == expected
    assert 0 < impossible < 200


def test_a_hasty_order_is_allowed_and_costs_what_it_says() -> None:
    for task in tasks():
        quick, best = hasty(task, width=3), sequence(task)
        assert quick.possible == best.possible
        if best.cost is not None:
            assert quick.cost is not None
            assert quick.cost >= best.cost
            assert cost_of(task, quick.order) == quick.cost


def test_a_stopped_search_gives_a_true_bound_and_no_cost() -> None:
    stopped = 0
    for task in tasks():
        best, cut = sequence(task), sequence(task, work=1)
        if best.cost is None:
            continue
        assert cut.bound <= best.cost
        if cut.cost is None:
            stopped += 1
            assert not cut.proven
        else:
            assert cut.cost == best.cost
    assert stopped > 100


def test_what_several_have_in_common_counts_before_the_first_state() -> None:
    """Either of two comes before the last, another class before both: the bound sees the first class entered again."""
    setups = Setups.of([[0, 5], [3, 0]], [Attribute((0, 1), (3, 5))])
    either = (Way(1, needs=0b10),)
    last = (Way(0, clauses=(0b1100,)),)
    task = Task(((Way(0),), (Way(1, needs=0b1),), either, either, last), setups, 0, (0, 0))
    assert sequence(task, work=0).bound == sequence(task).cost == 5 + 3


def test_operations_that_are_each_a_class_of_their_own_are_solved_as_enumeration_solves_them() -> (
    None
):
    rng = Random(7)
    for _ in range(150):
        count = rng.randint(2, 6)
        setups = any_setups(rng, count + 1)
        ways: list[tuple[Way, ...]] = [()]
        for op in range(1, count + 1):
            needs = sum(1 << other for other in range(1, op) if rng.random() < 0.3)
            ways.append((Way(op, needs=needs),))
        task = Task(tuple(ways), setups, 0, tuple(rng.randint(0, 9) for _ in range(count + 1)))
        assert sequence(task).cost == cheapest_by_enumeration(task)


def test_a_detour_that_is_cheaper_than_the_direct_way_switches_the_closure_off() -> None:
    matrix = [[0, 9, 1], [9, 0, 1], [1, 1, 0]]
    assert not Setups.of(matrix).triangle
    assert Setups.of([[0, 2, 1], [2, 0, 1], [1, 1, 0]]).triangle


def test_the_planner_asks_the_sequencing_core(monkeypatch: pytest.MonkeyPatch) -> None:
    from benchmarks.generate import generate, requests
    from lastscrew.plan.planner import plan

    asked: list[Task] = []
    real = sequence

    def noted(task: Task, **options: object) -> object:
        asked.append(task)
        return real(task, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(ordering, "sequence", noted)
    device = generate(6, 1)
    found = plan(device, requests(device)["board"])
    assert asked
    assert {op for op, ways in enumerate(asked[-1].ways) if ways} <= set(range(len(device.joints)))
    assert found.proven
