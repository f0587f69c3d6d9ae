"""What each access of a joint asks for, as cuts between parts.

A part covers an access while it hangs together, by closed rigid joints, with a part that the joint
joins. Every path from part to part between the two must then be cut: at one of its *links*, with
all joints open that hold the two parts of that link together. A path of one link asks for all joints of
that link.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from lastscrew.device.model import Access, Device, Joint
from lastscrew.plan.compiled import mask_of, must_be_open

MAX_PATHS = 300
"""Paths listed for one pair of parts before the list is called incomplete."""

Path = tuple[int, ...]
"""The links of one path, each a set of joints; one of them has to be open as a whole."""


@dataclass(frozen=True, slots=True)
class Way:
    """One access of a joint.

    Attributes:
        tool: Index of the tool, 0 for the bare hand.
        units: Joints that must all be open.
        paths: Paths that must be cut.
        complete: False when ``paths`` lists only some.
        covers: (part over the access, part that the joint joins) of each pair, by part index.
    """

    tool: int
    units: int
    paths: tuple[Path, ...]
    complete: bool
    covers: tuple[tuple[int, int], ...]


class Ways:
    """Compiles the accesses of one fitted device."""

    def __init__(
        self,
        device: Device,
        joint_index: Mapping[str, int],
        part_index: Mapping[str, int],
        tool_index: Mapping[str | None, int],
    ) -> None:
        """Draw the graph of parts that rigid joints hold together."""
        self._device = device
        self._joint_index = joint_index
        self._part_index = part_index
        self._tool_index = tool_index
        self._isolators = sorted(j.id for j in device.joints.values() if j.isolates)
        self._links: dict[int, dict[int, int]] = {index: {} for index in part_index.values()}
        for joint in device.joints.values():
            if joint.rigid:
                self._add_links(joint)
        self._paths: dict[tuple[int, int], tuple[list[Path], bool]] = {}

    def _add_links(self, joint: Joint) -> None:
        bit = 1 << self._joint_index[joint.id]
        for one in joint.joins:
            for other in joint.joins:
                if one != other:
                    links = self._links[self._part_index[one]]
                    index = self._part_index[other]
                    links[index] = links.get(index, 0) | bit

    def of(self, joint: Joint) -> tuple[Way, ...]:
        """One way for each access."""
        earlier = must_be_open(self._device, joint, self._isolators)
        own = 1 << self._joint_index[joint.id]
        base = mask_of(self._joint_index[j] for j in earlier) & ~own
        return tuple(self._way(joint, access, own, base) for access in joint.accesses)

    def _way(self, joint: Joint, access: Access, own: int, units: int) -> Way:
        covers = tuple(
            (self._part_index[cover], self._part_index[part])
            for cover in access.under
            for part in joint.joins
            if part != cover
        )
        paths: set[Path] = set()
        complete = True
        for one, other in covers:
            found, all_listed = self._between(min(one, other), max(one, other))
            complete &= all_listed
            for path in found:
                # Without the joint itself; a link that only this joint makes is no link.
                links = tuple(sorted(link & ~own for link in path))
                if links[0]:
                    paths.add(links)
        for path in [p for p in paths if len(p) == 1]:
            units |= path[0]
        longer = (p for p in paths if not any(link & ~units == 0 for link in p))
        listed = tuple(sorted(longer, key=lambda p: (len(p), p)))
        return Way(self._tool_index[access.tool], units, listed, complete, covers)

    def _between(self, one: int, other: int) -> tuple[list[Path], bool]:
        found = self._paths.get((one, other))
        if found is None:
            found = self._paths[one, other] = self._simple_paths(one, other)
        return found

    def _simple_paths(self, one: int, other: int) -> tuple[list[Path], bool]:
        found: list[Path] = []
        for tried, path in enumerate(self._walk(one, other)):
            if path is not None:
                found.append(path)
            if len(found) > MAX_PATHS or tried > 40 * MAX_PATHS:
                return found, False
        return found, True

    def _walk(self, one: int, other: int) -> Iterator[Path | None]:
        """Every simple path, and None now and then so that a long walk can be stopped."""
        stack: list[tuple[int, frozenset[int], Path]] = [(one, frozenset((one,)), ())]
        while stack:
            part, seen, links = stack.pop()
            yield None
            for neighbour, link in sorted(self._links[part].items()):
                if neighbour == other:
                    yield (*links, link)
                elif neighbour not in seen:
                    stack.append((neighbour, seen | {neighbour}, (*links, link)))


def least_masks(masks: Sequence[int]) -> tuple[int, ...]:
    """The sets that hold no other of them, smallest first."""
    kept: list[int] = []
    for mask in sorted(set(masks), key=lambda m: (m.bit_count(), m)):
        if not any(small & ~mask == 0 for small in kept):
            kept.append(mask)
    return tuple(kept)
