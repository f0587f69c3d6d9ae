"""What a disassembly step is, on sets of open joints: removals, tool changes, bounds.

A step ends when an opening takes something off (the closed joints, rigid or not, fall apart into
more pieces than before) or when the next opening takes another tool; the bare hand counts as a
tool. Written as runs, stretches of openings with one tool: a run costs as many steps as it takes
things off, and one more where its last opening takes nothing off.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lastscrew.device.model import Device
from lastscrew.measures.ways import Path, Way, Ways
from lastscrew.plan.compiled import bits, mask_of


class Frame:
    """One fitted device: which joints may be opened by which tool, and what falls apart.

    Joints are bits in id order, parts likewise; a set is one integer. Tools are indices, 0 for the
    bare hand.
    """

    def __init__(self, device: Device) -> None:
        """Compile the rules; nothing is searched yet."""
        self.device = device
        self.joint_ids = tuple(sorted(device.joints))
        self.part_ids = tuple(sorted(device.parts))
        self.tool_ids: tuple[str | None, ...] = (None, *sorted(device.tools))
        self.all_joints = (1 << len(self.joint_ids)) - 1
        self._index = {joint: index for index, joint in enumerate(self.joint_ids)}
        part_index = {part: index for index, part in enumerate(self.part_ids)}
        tool_index = {tool: index for index, tool in enumerate(self.tool_ids)}
        joints = [device.joints[joint] for joint in self.joint_ids]
        self.joins = tuple(mask_of(part_index[part] for part in joint.joins) for joint in joints)
        ways = Ways(device, self._index, part_index, tool_index)
        self.ways: tuple[tuple[Way, ...], ...] = tuple(ways.of(joint) for joint in joints)
        self._focus = self.all_joints
        self._all_runs: dict[int, tuple[tuple[int, tuple[int, ...]], ...]] = {}
        self._rigid = mask_of(i for i, joint in enumerate(joints) if joint.rigid)
        self._closed_joins: dict[int, tuple[int, ...]] = {}
        self._falls_into: dict[tuple[int, int], int] = {}
        self._apart: dict[int, int] = {}
        self._pieces: dict[int, tuple[int, ...]] = {}
        self._openable: dict[int, tuple[int, ...]] = {}

    def mask(self, joint_ids: Iterable[str]) -> int:
        """The set of these joints."""
        return mask_of(self._index[joint] for joint in joint_ids)

    def focus(self, joints: int) -> None:
        """Look at these joints only when asked what can be opened; forget what was known before."""
        self._focus = joints
        self._openable.clear()
        self._closed_joins.clear()
        self._falls_into.clear()
        self._apart.clear()
        self._pieces.clear()

    # --- what may be opened ---------------------------------------------------------------------

    def allows(self, joint: int, way: Way, opened: int) -> bool:
        """True when the joint can be opened this way while ``opened`` are open."""
        if way.units & ~opened:
            return False
        for path in way.paths:
            for link in path:
                if not link & ~opened:
                    break
            else:
                return False
        return way.complete or self.uncut_path(joint, way, opened) is None

    def uncut_path(self, joint: int, way: Way, opened: int) -> Path | None:
        """A path by which a cover still hangs on a part of the joint; None where there is none.

        Listed or not; for accesses with too many paths to list.
        """
        closed = self._rigid & ~opened & ~(1 << joint)
        for cover, part in way.covers:
            came: dict[int, tuple[int, int]] = {cover: (-1, -1)}
            front = [cover]
            while front and part not in came:
                here = front.pop(0)
                for index in bits(closed):
                    if self.joins[index] >> here & 1:
                        for other in bits(self.joins[index]):
                            if other not in came:
                                came[other] = (here, self._link(here, other) & ~(1 << joint))
                                front.append(other)
            if part in came:
                return tuple(sorted(_links_back(came, part)))
        return None

    def _link(self, one: int, other: int) -> int:
        both = 1 << one | 1 << other
        return mask_of(i for i in bits(self._rigid) if not both & ~self.joins[i])

    def openable(self, opened: int) -> tuple[int, ...]:
        """For each tool the closed joints (in focus) that it can open while ``opened`` are open."""
        found = self._openable.get(opened)
        if found is None:
            masks = [0] * len(self.tool_ids)
            for joint in bits(self._focus & ~opened):
                for way in self.ways[joint]:
                    if not masks[way.tool] >> joint & 1 and self.allows(joint, way, opened):
                        masks[way.tool] |= 1 << joint
            found = self._openable[opened] = tuple(masks)
        return found

    def closure(self, opened: int, tool: int, among: int) -> int:
        """``opened`` with all of ``among`` that one run of ``tool`` can open."""
        while True:
            new = self.openable(opened)[tool] & among
            if not new:
                return opened
            opened |= new

    def reachable(self, among: int) -> int:
        """All of ``among`` that can be opened with nothing else, by whatever tools."""
        opened = 0
        while True:
            new = 0
            for mask in self.openable(opened):
                new |= mask & among
            if not new:
                return opened
            opened |= new

    def all_runs(self, forbidden: int) -> tuple[tuple[int, tuple[int, ...]], ...]:
        """Everything that can be opened, run after run as much as the tool can: (tool, joints)."""
        found = self._all_runs.get(forbidden)
        if found is None:
            focus = self._focus
            self.focus(self.all_joints)
            found = self._all_runs[forbidden] = tuple(self._greedy_runs(~forbidden))
            self.focus(focus)
        return found

    def _greedy_runs(self, among: int) -> Iterator[tuple[int, tuple[int, ...]]]:
        opened = 0
        tools = range(len(self.tool_ids))
        while True:
            after = {tool: self.closure(opened, tool, among) for tool in tools}
            tool = max(tools, key=lambda t: after[t].bit_count())
            if after[tool] == opened:
                return
            order: list[int] = []
            while new := self.openable(opened)[tool] & among:
                order.extend(bits(new))
                opened |= new
            yield tool, tuple(order)

    # --- what comes off -------------------------------------------------------------------------

    def _joins_closed(self, opened: int) -> tuple[int, ...]:
        found = self._closed_joins.get(opened)
        if found is None:
            closed = self.all_joints & ~opened
            found = self._closed_joins[opened] = tuple(
                {self.joins[joint]: None for joint in bits(closed)}
            )
        return found

    def piece_with(self, parts: int, opened: int) -> int:
        """The parts that still hang together, in any way, with these."""
        joins = self._joins_closed(opened)
        while True:
            grown = parts
            for mask in joins:
                if mask & grown:
                    grown |= mask
            if grown == parts:
                return parts
            parts = grown

    def pieces(self, opened: int) -> tuple[int, ...]:
        """All pieces into which the device has fallen, as sets of parts, by least part."""
        found = self._pieces.get(opened)
        if found is None:
            left = (1 << len(self.part_ids)) - 1
            listed: list[int] = []
            while left:
                piece = self.piece_with(left & -left, opened)
                listed.append(piece)
                left &= ~piece
            found = self._pieces[opened] = tuple(listed)
        return found

    def falls_into(self, joint: int, opened: int) -> int:
        """Pieces over which the parts of ``joint`` are spread when it is open besides ``opened``."""
        key = (joint, opened | 1 << joint)
        found = self._falls_into.get(key)
        if found is None:
            found = 0
            left = self.joins[joint]
            while left:
                left &= ~self.piece_with(left & -left, key[1])
                found += 1
            self._falls_into[key] = found
        return found

    def apart(self, opened: int) -> int:
        """Open joints whose parts no longer hang together in any way."""
        found = self._apart.get(opened)
        if found is None:
            pieces = self.pieces(opened)
            found = 0
            for joint in bits(opened):
                joins = self.joins[joint]
                if not any(joins & ~piece == 0 for piece in pieces):
                    found |= 1 << joint
            self._apart[opened] = found
        return found

    def takes_off(self, joint: int, opened: int) -> bool:
        """True when opening ``joint`` now takes something off."""
        return self.falls_into(joint, opened) > 1

    def taken_off(self, joint: int, opened: int) -> tuple[tuple[str, ...], ...]:
        """What opening ``joint`` now takes off: pieces as part ids, the one on the bench left out.

        Where none of the pieces is the one with the fixed part (a sub-assembly that already lies aside
        falls apart), the one with the most parts stays.
        """
        after = opened | 1 << joint
        whole = self.piece_with(self.joins[joint], opened)
        pieces = [piece for piece in self.pieces(after) if piece & whole]
        if len(pieces) < 2:
            return ()
        fixed = 1 << self.part_ids.index(self.device.fixed_part)
        stays = max(pieces, key=lambda p: (bool(p & fixed), p.bit_count(), -p))
        return tuple(tuple(self.parts_of(piece)) for piece in pieces if piece != stays)

    def parts_of(self, piece: int) -> Iterator[str]:
        """Part ids of a set of parts, in id order."""
        return (self.part_ids[index] for index in bits(piece))


def _links_back(came: dict[int, tuple[int, int]], part: int) -> Iterator[int]:
    here, link = came[part]
    while here >= 0:
        yield link
        here, link = came[here]
