"""The quick ways of the planner's inner loops against what they stand for, said plainly."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from lastscrew.device.reading import read_device
from lastscrew.plan.compiled import Rules
from lastscrew.plan.selection import Question, Selection
from lastscrew.plan.sequence import _run_levels
from lastscrew.times.work import work_times

DEVICES = sorted((Path(__file__).parents[1] / "devices").glob("*.device.yaml"))


def longest(op: int, after: list[list[int]], values: list[int | None], value: int) -> int:
    """Most separate runs of the value on any chain that starts at an operation."""

    def runs(at: int, inside: bool) -> int:
        own = values[at] == value
        here = int(own and not inside)
        later = [runs(b, inside=own) for b in after[at] if values[b] is not None]
        return here + max(later, default=0)

    return runs(op, inside=False)


def test_runs_on_the_longest_chains_are_those_of_every_chain_tried() -> None:
    """For 300 random orders: of how many runs a chain starts where, as trying all chains finds."""
    rng = Random(11)
    for _ in range(300):
        n = rng.randint(1, 8)
        before = [0] * n
        for op in range(n):
            for earlier in range(op):
                if rng.random() < 0.35:
                    before[op] |= 1 << earlier | before[earlier]
        values = [rng.choice((0, 1, 1, None)) for _ in range(n)]
        after = [[b for b in range(n) if before[b] >> op & 1] for op in range(n)]
        order = sorted(range(n), key=lambda op: (-before[op].bit_count(), op))
        levels = _run_levels(order, before, values, 1)
        for op in (op for op in range(n) if values[op] is not None):
            found = max((r for r, (own, other) in levels if (own | other) >> op & 1), default=0)
            assert found == longest(op, after, values, 1)


@pytest.mark.parametrize("path", DEVICES, ids=lambda path: path.name.split(".")[0])
def test_joints_come_free_in_the_order_of_plain_turns(path: Path) -> None:
    """Turn after turn through all joints gives the same order as looking only where something came free."""
    device = read_device(path.read_bytes(), path.name).device
    assert device is not None
    times = work_times(device)
    costs = {j: tuple((t.open_ms, t.close_ms) for t in of) for j, of in times.items()}
    rules = Rules(device, costs)
    every = rules.mask(device.joints)
    selection = Selection(
        Question(
            rules=rules, required=every, opened=0, banned=0, start_side=0, turn_cost=0,
            swap_cost=tuple(0 for _ in rules.tool_ids), acts=(),
        )
    )  # fmt: skip
    for out in (0, *(1 << j for j in range(len(device.joints)))):
        opened, order = 0, []
        while fresh := [
            j
            for j in selection.options
            if not (opened | out) >> j & 1 and _opens(selection, j, opened)
        ]:
            for j in selection.options:
                if not (opened | out) >> j & 1 and _opens(selection, j, opened):
                    opened |= 1 << j
                    order.append(j)
            assert set(fresh) <= set(order)
        assert selection.reach(out, 0) == (order, opened)


def _opens(selection: Selection, j: int, opened: int) -> bool:
    return any(option.is_open(opened) for option in selection.options[j])
