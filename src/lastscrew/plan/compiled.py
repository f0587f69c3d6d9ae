"""The rules of opening as masks of joints: what each access asks for, ready for the search.

Joints are numbered in id order and a set of joints is one integer with a bit for each. "No part of
the access's ``under`` hangs together with a part that the joint joins" becomes a list of *clauses*:
for every chain of rigid joints between the two, at least one joint of that chain is open. The
chains are listed once for each pair of parts; where there are too many of them (a densely tied
machine) the shortest are listed, the access says that it is not complete, and the planner checks
its result and adds the chain that was missed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from lastscrew.device.model import Access, Device, Joint

_Rigid = tuple[int, tuple[str, ...]]
"""Number of a joint that holds, and the parts that it joins."""
EVERYTHING = -1
"""The set of all: what can never be reached needs everything."""
MAX_CHAINS = 64
"""Chains listed for one pair of parts before the list is called incomplete."""


@dataclass(frozen=True, slots=True)
class Option:
    """One access of a joint in the planner's own terms.

    Attributes:
        access: Index into the joint's accesses.
        side: Index into the device's sides.
        tool, close_tool: Index of the tool, 0 for none.
        open_cost, close_cost: Work in units of the objective, acts that are always done included.
        units: Joints that must all be open.
        clauses: Sets of joints of which at least one must be open.
        complete: False when ``clauses`` lists only some of the chains.
    """

    access: int
    side: int
    tool: int
    close_tool: int
    open_cost: int
    close_cost: int
    units: int
    clauses: tuple[int, ...]
    complete: bool = True

    def is_open(self, opened: int) -> bool:
        """True when the access can be used while these joints are open."""
        if self.units & ~opened:
            return False
        return all(clause & opened for clause in self.clauses)


def bits(mask: int) -> Iterator[int]:
    """Indices of the bits that are set, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def mask_of(indices: Iterable[int]) -> int:
    """The set of these indices."""
    mask = 0
    for index in indices:
        mask |= 1 << index
    return mask


def needed_by(lm: Sequence[int], units: int, clauses: Iterable[int]) -> int:
    """Everything that doing all ``units`` and one joint of each clause certainly asks for."""
    needs = units
    for u in bits(units):
        needs |= lm[u]
    for clause in clauses:
        shared = EVERYTHING
        for k in bits(clause):
            shared &= lm[k]
        needs |= shared
    return needs


def minimal(masks: Iterable[int]) -> list[int]:
    """The masks that hold no other of them, smallest first (equal sizes by value)."""
    kept: list[int] = []
    for mask in sorted(set(masks), key=lambda m: (m.bit_count(), m)):
        if not any(small & mask == small for small in kept):
            kept.append(mask)
    return kept


class RigidChains:
    """Chains of rigid joints between two parts.

    Parts that hang on the rest by one neighbour only (nearly all) form trees, where the one way
    is read off by climbing; only in what is left, the core, is there anything to enumerate.
    """

    def __init__(self, parts: Iterable[tuple[str, bool]], rigid: Iterable[_Rigid]) -> None:
        """Split the parts into trees and the core.

        Args:
            parts: Ids, and whether they stay on the bench.
            rigid: Numbers of the joints that hold, and what they join.
        """
        fixed = dict(parts)
        self._ties: dict[str, dict[str, list[int]]] = {part: {} for part in fixed}
        for number, joins in rigid:
            for one in joins:
                for other in joins:
                    if one != other:
                        self._ties[one].setdefault(other, []).append(1 << number)
        self._parent: dict[str, str] = {}
        self._strip(fixed)
        self._known: dict[tuple[str, str], tuple[list[int], bool]] = {}

    def _strip(self, fixed: Mapping[str, bool]) -> None:
        """Hang every part that has one neighbour left on that neighbour."""
        neighbours = {part: set(ties) for part, ties in self._ties.items()}
        waiting = sorted(p for p, n in neighbours.items() if len(n) == 1 and not fixed[p])
        while waiting:
            part = waiting.pop()
            if len(neighbours[part]) != 1 or part in self._parent:
                continue
            (parent,) = neighbours[part]
            self._parent[part] = parent
            neighbours[parent].discard(part)
            if len(neighbours[parent]) == 1 and not fixed[parent]:
                waiting.append(parent)

    def between(self, one: str, other: str) -> tuple[list[int], bool]:
        """Minimal chains between two parts as joint sets, and whether all of them are listed."""
        key = (one, other) if one < other else (other, one)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._chains(*key)
        return found

    def _climb(self, part: str) -> list[str]:
        way = [part]
        while way[-1] in self._parent:
            way.append(self._parent[way[-1]])
        return way

    def _chains(self, one: str, other: str) -> tuple[list[int], bool]:
        up, down = self._climb(one), self._climb(other)
        while len(up) > 1 and len(down) > 1 and up[-1] == down[-1] and up[-2] == down[-2]:
            up.pop()
            down.pop()
        segments = [self._ties[a][b] for a, b in pairwise(up)]
        segments += [self._ties[a][b] for a, b in pairwise(down)]
        complete = True
        if up[-1] != down[-1]:
            core, complete = self._core_chains(up[-1], down[-1])
            segments.append(core)
        chains = [0]
        for segment in sorted(segments, key=len):
            if len(chains) * len(segment) > MAX_CHAINS:
                chains, complete = chains[: max(1, MAX_CHAINS // len(segment))], False
            chains = [chain | link for chain in chains for link in segment]
        return minimal(chains), complete

    def _core_chains(self, one: str, other: str) -> tuple[list[int], bool]:
        """Chains inside the core, shortest first (breadth first over simple paths)."""
        found: list[int] = []
        front: list[tuple[str, int, frozenset[str]]] = [(one, 0, frozenset((one,)))]
        visited = 0
        while front:
            following: list[tuple[str, int, frozenset[str]]] = []
            for part, chain, seen in front:
                for neighbour in sorted(self._ties[part]):
                    if neighbour in seen or self._parent.get(neighbour) == part:
                        continue
                    for bit in self._ties[part][neighbour]:
                        longer = chain | bit
                        if any(short & longer == short for short in found):
                            continue
                        if neighbour == other:
                            found.append(longer)
                        else:
                            following.append((neighbour, longer, seen | {neighbour}))
                        visited += 1
                        if len(found) >= MAX_CHAINS or visited > 10 * MAX_CHAINS:
                            return minimal(found), False
            front = following
        return minimal(found), True


@lru_cache(maxsize=8)
def _chains_of(parts: tuple[tuple[str, bool], ...], rigid: tuple[_Rigid, ...]) -> RigidChains:
    """The chains of a machine, found once for all plans of it: they ask for the same ones, part after part."""
    return RigidChains(parts, rigid)


def is_live(device: Device, joint: Joint) -> bool:
    """True when the joint may be opened only after isolation, unless it isolates itself."""
    return joint.powered or any(device.parts[part].energy for part in joint.joins)


def must_be_open(device: Device, joint: Joint, isolators: Sequence[str]) -> set[str]:
    """Joints that must be open before ``joint`` by whichever access: its ``after`` and isolation."""
    earlier = set(joint.after)
    if is_live(device, joint) and not joint.isolates:
        earlier.update(isolators)
    return earlier


def covering_chains(
    chains: RigidChains, joint: Joint, joint_bit: int, access: Access
) -> tuple[list[int], bool]:
    """Chains that tie something the access lies under to something the joint joins.

    The joint itself is no link of such a chain, and a part does not cover itself.
    """
    found: list[int] = []
    complete = True
    for cover in access.under:
        for part in joint.joins:
            if part == cover:
                continue
            between, all_listed = chains.between(cover, part)
            complete &= all_listed
            found.extend(chain for chain in between if not chain & joint_bit)
    return found, complete


class Rules:
    """The rules of one fitted device, compiled joint by joint as they are asked for."""

    def __init__(self, device: Device, costs: Mapping[str, Sequence[tuple[int, int]]]) -> None:
        """Number joints, sides and tools.

        Args:
            device: The device, reduced to what is fitted.
            costs: For every joint the (opening, closing) cost of each access.
        """
        self.device = device
        self.joint_ids: tuple[str, ...] = tuple(sorted(device.joints))
        self.index_of = {joint_id: i for i, joint_id in enumerate(self.joint_ids)}
        self.tool_ids: tuple[str | None, ...] = (None, *sorted(device.tools))
        self._tool_index = {tool: i for i, tool in enumerate(self.tool_ids)}
        self._side_index = {side: i for i, side in enumerate(device.sides)}
        self._isolators = sorted(j.id for j in device.joints.values() if j.isolates)
        self._chains = _chains_of(
            tuple((part.id, part.fixed) for part in device.parts.values()),
            tuple((self.index_of[j.id], j.joins) for j in device.joints.values() if j.rigid),
        )
        self._costs = costs
        self._options: dict[int, tuple[Option, ...]] = {}
        self._extra_chains: dict[tuple[int, int], list[int]] = {}

    def mask(self, joint_ids: Iterable[str]) -> int:
        """The set of these joints."""
        return mask_of(self.index_of[joint_id] for joint_id in joint_ids)

    def ids(self, mask: int) -> tuple[str, ...]:
        """Ids of the joints in a set, in id order."""
        return tuple(self.joint_ids[index] for index in bits(mask))

    def options(self, index: int) -> tuple[Option, ...]:
        """What each access of a joint asks for and costs."""
        found = self._options.get(index)
        if found is None:
            found = self._options[index] = tuple(self._compile(index))
        return found

    def add_chain(self, index: int, access: int, chain: int) -> None:
        """Add a chain that the list of an incomplete access had missed."""
        self._extra_chains.setdefault((index, access), []).append(chain)
        self._options.pop(index, None)

    def _compile(self, index: int) -> Iterator[Option]:
        joint = self.device.joints[self.joint_ids[index]]
        base = self.mask(must_be_open(self.device, joint, self._isolators)) & ~(1 << index)
        costs = self._costs[joint.id]
        for number, access in enumerate(joint.accesses):
            chains, complete = covering_chains(self._chains, joint, 1 << index, access)
            chains += self._extra_chains.get((index, number), ())
            yield self._option(number, access, base, chains, complete=complete, cost=costs[number])

    def _option(
        self,
        number: int,
        access: Access,
        base: int,
        chains: list[int],
        *,
        complete: bool,
        cost: tuple[int, int],
    ) -> Option:
        units = base
        for chain in chains:
            if chain & (chain - 1) == 0:
                units |= chain
        clauses = minimal(chain for chain in chains if not chain & units) if chains else []
        return Option(
            access=number,
            side=self._side_index[access.side],
            tool=self._tool_index[access.tool],
            close_tool=self._tool_index[access.close_tool],
            open_cost=cost[0],
            close_cost=cost[1],
            units=units,
            clauses=tuple(clauses),
            complete=complete,
        )
