"""A plan held against the plain rule: chains that an incomplete list had missed.

Only machines that are tied together very densely have accesses whose chains could not all be
listed. Their plan is replayed by the plain rule; where a step is not allowed after all, the chain
of closed rigid joints that forbids it is found and the search goes on with it. With fewer chains known
the search only ever underestimates, so that a plan that passes is optimal.
"""

from __future__ import annotations

from lastscrew.device.model import Device
from lastscrew.plan.compiled import Rules, bits
from lastscrew.plan.search import Found


def missed_chains(device: Device, rules: Rules, found: Found) -> list[tuple[int, int, int]]:
    """(joint, access, chain) of every step that the plain rule forbids; empty for a sound plan."""
    order_in = [(op, access) for op, access in found.way_in]
    order_out = [(op, access) for op, access in reversed(found.way_out)]
    missed: list[tuple[int, int, int]] = []
    for order in (order_in, order_out):
        opened = found.turning & ~sum(1 << op for op, _ in order)
        for op, access in order:
            option = next(o for o in rules.options(op) if o.access == access)
            if not option.complete:
                chain = _closed_chain(device, rules, op, access, opened)
                if chain:
                    missed.append((op, access, chain))
            opened |= 1 << op
    return sorted(set(missed))


def _closed_chain(device: Device, rules: Rules, op: int, access: int, opened: int) -> int:
    """A shortest chain of closed rigid joints from a cover to what it must be free of; 0 for none."""
    joint = device.joints[rules.joint_ids[op]]
    closed = [
        (1 << index, device.joints[rules.joint_ids[index]].joins)
        for index in bits(~opened & ((1 << len(rules.joint_ids)) - 1) & ~(1 << op))
        if device.joints[rules.joint_ids[index]].rigid
    ]
    for cover in joint.accesses[access].under:
        chains = {cover: 0}
        front = [cover]
        while front:
            following: list[str] = []
            for part in front:
                for bit, joins in closed:
                    if part in joins:
                        for other in joins:
                            if other not in chains:
                                chains[other] = chains[part] | bit
                                following.append(other)
            front = following
        for part in joint.joins:
            if part != cover and part in chains:
                return chains[part]
    return 0
