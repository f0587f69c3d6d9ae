"""The sequencing core on published instances.

Sequential ordering problems: the public TSPLIB collection (G. Reinelt, "TSPLIB: a traveling salesman problem
library", ORSA Journal on Computing 3, 1991), optima as listed there and proved by two independent
solvers. Each operation is a setup class of its own. The worked example of selective
disassembly comes from a teaching module (not peer reviewed); its least cost was recomputed by enumeration.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from lastscrew.plan.sequence import Attribute, Setups, Task, Way, hasty, sequence

HERE = Path(__file__).parent
SHARED = HERE.parents[2] / "shared" / "reference" / "sop"

SMALL = {"ESC07": 2125, "ESC11": 2075, "ESC12": 1675, "br17.10": 55, "br17.12": 55}
LARGER = {"ESC25": 1681, "ESC63": 62, "rbg109a": 1038}
LISTED_ONLY = {"ESC78": 18230, "ry48p.1": 15805, "ft53.1": 7531, "prob.42": 243}
"""Values that lists give without a proof that was repeated: nothing below them may be called feasible."""

FORBIDDEN = 10**7


def read_sop(path: Path) -> Task:
    """A sequential ordering instance: -1 in row i, column j says that j comes before i."""
    numbers = [int(word) for word in path.read_text().split("EDGE_WEIGHT_SECTION")[1].split()[:-1]]
    size, flat = numbers[0], numbers[1:]
    rows = [flat[i * size : (i + 1) * size] for i in range(size)]
    ways: list[tuple[Way, ...]] = [()]
    for city in range(1, size):
        earlier = sum(1 << other for other in range(1, size) if rows[city][other] == -1)
        ways.append((Way(city, needs=earlier),))
    matrix = [
        [0 if i == j else FORBIDDEN if rows[i][j] < 0 else rows[i][j] for j in range(size)]
        for i in range(size)
    ]
    return Task(tuple(ways), Setups.of(matrix), start=0, end=(0,) * size)


def cost_of(task: Task, order: tuple[tuple[int, int], ...]) -> int:
    """The cost of an order, added up here."""
    total, at = 0, task.start
    for op, way in order:
        total += task.setups.matrix[at][task.ways[op][way].kind]
        at = task.ways[op][way].kind
    return total


def in_order(task: Task, order: tuple[tuple[int, int], ...]) -> bool:
    """True when every operation is done once, after all that it needs."""
    done = 0
    for op, way in order:
        if task.ways[op][way].needs & ~done or done >> op & 1:
            return False
        done |= 1 << op
    return done == sum(1 << op for op, ways in enumerate(task.ways) if ways)


@pytest.mark.parametrize(("name", "optimum"), SMALL.items())
def test_small_published_instances_are_solved_to_their_listed_optimum(
    name: str, optimum: int
) -> None:
    task = read_sop(HERE / "sop" / f"{name}.sop")
    answer = sequence(task)
    assert answer.proven
    assert answer.cost == optimum
    assert in_order(task, answer.order)
    assert cost_of(task, answer.order) == optimum


@pytest.mark.parametrize(("name", "optimum"), LARGER.items())
def test_larger_published_instances_are_proven(name: str, optimum: int) -> None:
    path = SHARED / f"{name}.sop"
    if not path.exists():
        pytest.skip(f"{name} is not among the files at hand")
    task = read_sop(path)
    answer = sequence(task, work=400_000)
    assert (answer.cost, answer.proven) == (optimum, True)
    assert cost_of(task, answer.order) == optimum


@pytest.mark.parametrize(("name", "listed"), LISTED_ONLY.items())
def test_hard_instances_are_never_said_to_be_better_than_listed(name: str, listed: int) -> None:
    path = SHARED / f"{name}.sop"
    if not path.exists():
        pytest.skip(f"{name} is not among the files at hand")
    task = read_sop(path)
    stopped = sequence(task, work=2_000)
    quick = hasty(task, width=5)
    assert stopped.cost is None
    assert not stopped.proven
    assert quick.cost is not None
    assert in_order(task, quick.order)
    assert stopped.bound <= listed <= quick.cost == cost_of(task, quick.order)


def test_worked_example_of_selective_disassembly_costs_19_34() -> None:
    """Reach the management board and cell block A: tool change 3.00, reorientation 4.00, labour, energy."""
    seconds = {1: 25, 2: 30, 3: 40, 4: 35}
    kilojoules = {1: 15, 2: 8, 3: 25, 4: 30}
    needs = {1: [], 2: [1], 3: [1, 2], 4: [1, 3]}
    kinds = [
        ("none", "none"),
        ("T20", "+Z"),
        ("precision", "+Z"),
        ("wrench", "+Y"),
        ("gripper", "+Z"),
    ]

    def changeover(one: tuple[str, str], other: tuple[str, str]) -> int:
        if one[0] == "none":
            return 0  # nothing is charged on the first step
        return 3_000 * (one[0] != other[0]) + 4_000 * (one[1] != other[1])

    matrix = [[changeover(a, b) if a != b else 0 for b in kinds] for a in kinds]
    ways = ((), *((Way(op, needs=sum(1 << n for n in needs[op])),) for op in (1, 2, 3, 4)))
    answer = sequence(Task(ways, Setups.of(matrix), 0, (0,) * len(kinds)))
    labour = sum(15 * s for s in seconds.values())
    energy = sum(5 * kj for kj in kilojoules.values())
    assert answer.proven
    assert answer.cost is not None
    assert (answer.cost + labour + energy) / 1000 == 19.34


def test_attributes_that_promise_too_much_are_dropped() -> None:
    matrix = [[0, 5], [5, 0]]
    honest = Attribute((0, 1), (5, 5))
    boastful = Attribute((0, 1), (6, 5))
    assert Setups.of(matrix, [honest]).attributes == (honest,)
    assert Setups.of(matrix, [boastful]).attributes == ()
