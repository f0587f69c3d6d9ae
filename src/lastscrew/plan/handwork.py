"""Among orders of the same cost, the one that hands would follow.

Within a run (the same side, the same tool) the order costs nothing. It is chosen so that the power
goes first, that the work stays at one part until that part is loose, and, on the way out, that it mirrors
the way in. Setups and accesses stay as they were found.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from itertools import groupby

from lastscrew.device.model import Device
from lastscrew.plan.compiled import Option, Rules
from lastscrew.plan.ordering import Order

Setup = tuple[int, int]
"""(side, tool) as indices."""


def natural_way_in(device: Device, rules: Rules, order: Order, opened: int) -> Order:
    """The way in with each run in a natural order.

    Args:
        device: The fitted device.
        rules: Its compiled rules.
        order: (joint, access) as found.
        opened: Joints open at the start.
    """
    parts_of = [device.joints[joint].joins for joint in rules.joint_ids]
    left = Counter(part for op, _ in order for part in dict.fromkeys(parts_of[op]))
    last: list[str] = []

    def wanted(op: int) -> tuple[object, ...]:
        joint = device.joints[rules.joint_ids[op]]
        parts = [part for part in joint.joins if not device.parts[part].fixed]
        nearby = not set(parts) & set(last)
        fewest = min((left[part] for part in parts), default=0)
        return (not joint.isolates, nearby, fewest, op)

    def done(op: int) -> None:
        left.subtract(dict.fromkeys(parts_of[op], 1))
        joint = device.joints[rules.joint_ids[op]]
        last[:] = [part for part in joint.joins if not device.parts[part].fixed]

    return _by_runs(rules, order, opened, _opening_setup, wanted, done)


def natural_way_out(rules: Rules, order: Order, way_in: Order) -> Order:
    """The way out with each run as much a mirror of the way in as its setups allow."""
    place = {op: number for number, (op, _) in enumerate(way_in)}
    backwards = tuple(reversed(order))

    def wanted(op: int) -> tuple[object, ...]:
        return (place.get(op, -1), op)

    found = _by_runs(rules, backwards, 0, _closing_setup, wanted, lambda _: None)
    return tuple(reversed(found))


def _opening_setup(option: Option) -> Setup:
    return option.side, option.tool


def _closing_setup(option: Option) -> Setup:
    return option.side, option.close_tool


def _by_runs(
    rules: Rules,
    order: Order,
    opened: int,
    setup_of: Callable[[Option], Setup],
    wanted: Callable[[int], tuple[object, ...]],
    done: Callable[[int], None],
) -> Order:
    """Reorder each run; what is allowed stays allowed, since opening more never hinders."""
    options = {op: next(o for o in rules.options(op) if o.access == a) for op, a in order}
    if not all(option.complete for option in options.values()):
        return order
    found: list[tuple[int, int]] = []
    for _, run in groupby(order, key=lambda step: setup_of(options[step[0]])):
        waiting = dict(run)
        while waiting:
            ready = [op for op in waiting if options[op].is_open(opened)]
            op = min(ready, key=wanted)
            found.append((op, waiting.pop(op)))
            opened |= 1 << op
            done(op)
    return tuple(found)
