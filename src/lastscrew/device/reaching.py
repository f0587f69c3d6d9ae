"""Which joints can ever be opened: everything that can be opened is opened, one after the other.

Opening more never makes another joint harder to reach, so the order does not matter and the largest
set that can be reached is unique. The clusters are kept up to date while joints open: when a joint
lets go, its parts search their surroundings in lock-step until all but one of the searches have seen
everything that they still hold on to, so the larger side is never walked.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Iterator
from typing import Final

from lastscrew.device.model import Access, Device, Joint
from lastscrew.device.opening import is_live

MAX_STEPS: Final = 3_000_000
"""Most steps of one question; about five seconds. Real devices need some thousands."""


class TooTangledError(Exception):
    """The question took more than ``MAX_STEPS``."""


class Clusters:
    """Parts held together by closed rigid joints, while joints open one after the other."""

    def __init__(self, device: Device) -> None:
        """All closed."""
        self.parts_of: dict[str, tuple[str, ...]] = {j.id: j.joins for j in device.joints.values()}
        self.holding: dict[str, dict[str, None]] = {part: {} for part in device.parts}
        """For every part the closed rigid joints that name it."""
        for joint in device.joints.values():
            if joint.rigid:
                for part in joint.joins:
                    self.holding[part][joint.id] = None
        self.label: dict[str, int] = {}
        self.steps = 0
        self._labels = 0
        for part in device.parts:
            if part not in self.label:
                self._labels += 1
                self.label.update(dict.fromkeys(self._around(part), self._labels))

    def _around(self, start: str) -> list[str]:
        found = [start]
        seen = {start}
        for part in found:
            for joint in self.holding[part]:
                for other in self.parts_of[joint]:
                    if other not in seen:
                        seen.add(other)
                        found.append(other)
        return found

    def open(self, joint: str) -> list[str]:
        """Let ``joint`` go; returns the parts that are in another cluster than before."""
        parts = self.parts_of[joint]
        for part in parts:
            self.holding[part].pop(joint, None)
        moved: list[str] = []
        for group in self._split(parts)[:-1]:
            self._labels += 1
            self.label.update(dict.fromkeys(group, self._labels))
            moved.extend(group)
        return moved

    def apart_without(self, joint: str) -> dict[str, int]:
        """Groups in which the parts of a closed rigid ``joint`` would be without it, by part."""
        parts = self.parts_of[joint]
        for part in parts:
            del self.holding[part][joint]
        groups = self._split(parts)
        for part in parts:
            self.holding[part][joint] = None
        return {
            part: index for index, group in enumerate(groups) for part in group if part in parts
        }

    def _split(self, starts: tuple[str, ...]) -> list[list[str]]:
        """Groups of parts that hang together, each with one of ``starts``; the last is not walked whole."""
        owner: dict[str, _Search] = {}
        active = [_Search(part, owner, self._walk(part, owner)) for part in starts]
        done: list[list[str]] = []
        while len(active) > 1:
            for search in list(active):
                if search not in active or len(active) == 1:
                    continue
                self.steps += 1
                met = search.step()
                if met is None:
                    active.remove(search)
                    done.append(search.parts)
                elif met is not search:
                    search.take_over(met, owner)
                    active.remove(met)
            if self.steps > MAX_STEPS:
                raise TooTangledError
        return [*done, active[0].parts]

    def _walk(self, start: str, owner: dict[str, _Search]) -> Iterator[str]:
        """Parts met from ``start``, step by step; those that nobody has met yet are gone into."""
        queue = deque([start])
        seen: set[str] = set()
        while queue:
            part = queue.popleft()
            for joint in self.holding[part]:
                if joint in seen:
                    continue
                seen.add(joint)
                for other in self.parts_of[joint]:
                    if other not in owner:
                        queue.append(other)
                    yield other

    def chain(self, start: str, goals: Collection[str], without: str) -> list[str]:
        """Closed rigid joints, other than ``without``, that tie ``start`` to the nearest of ``goals``."""
        came: dict[str, tuple[str, str]] = {}
        queue = deque([start])
        while queue:
            part = queue.popleft()
            if part in goals and part != start:
                links: list[str] = []
                while part != start:
                    part, joint = came[part]
                    links.append(joint)
                return links[::-1]
            for joint in self.holding[part]:
                if joint == without:
                    continue
                for other in self.parts_of[joint]:
                    if other != start and other not in came:
                        came[other] = (part, joint)
                        queue.append(other)
        return []


class _Search:
    """One of the searches that run in lock-step."""

    __slots__ = ("owner", "parts", "walks")

    def __init__(self, start: str, owner: dict[str, _Search], walk: Iterator[str]) -> None:
        self.parts = [start]
        self.walks = [walk]
        self.owner = owner
        owner[start] = self

    def step(self) -> _Search | None:
        """Look at one more part; returns whose it is, None when nothing is left to look at."""
        while self.walks:
            part = next(self.walks[-1], None)
            if part is None:
                self.walks.pop()
                continue
            if part not in self.owner:
                self.owner[part] = self
                self.parts.append(part)
            return self.owner[part]
        return None

    def take_over(self, other: _Search, owner: dict[str, _Search]) -> None:
        """Go on with what ``other`` has seen."""
        owner.update(dict.fromkeys(other.parts, self))
        self.parts.extend(other.parts)
        self.walks.extend(other.walks)


class Openings:
    """The largest set of joints that can be opened from all closed.

    Attributes:
        opened: Ids of the joints that were opened, in order, each with the indices of the accesses
            that allowed it then.
        clusters: What still hangs together.
    """

    def __init__(
        self, device: Device, *, kept_closed: Collection[str] = (), power_rule: bool = True
    ) -> None:
        """Open everything that can be opened.

        Args:
            device: The device, reduced to what is fitted.
            kept_closed: Joints that may not be opened.
            power_rule: False leaves out that live joints wait for isolation.

        Raises:
            TooTangledError: The device needs more steps than are allowed.
        """
        self.device = device
        self.clusters = Clusters(device)
        self.opened: dict[str, tuple[int, ...]] = {}
        self._kept = frozenset(kept_closed)
        self._live = {
            j.id
            for j in device.joints.values()
            if power_rule and not j.isolates and is_live(device, j)
        }
        self._isolators = {j.id for j in device.joints.values() if j.isolates}
        self._waits = {j.id: set(j.after) for j in device.joints.values()}
        self._followers: dict[str, list[str]] = {j: [] for j in device.joints}
        self._watchers: dict[str, list[str]] = {part: [] for part in device.parts}
        self._own_cover: dict[str, None] = {}
        for joint in device.joints.values():
            for earlier in joint.after:
                self._followers[earlier].append(joint.id)
            self._watch(joint)
        self._run(device.joints)

    def _watch(self, joint: Joint) -> None:
        covers = {part for access in joint.accesses for part in access.under}
        if covers:
            for part in dict.fromkeys((*joint.joins, *sorted(covers))):
                self._watchers[part].append(joint.id)
        if joint.rigid and covers.intersection(joint.joins):
            self._own_cover[joint.id] = None

    def force(self, joint: str) -> None:
        """Open ``joint`` although it can't be, and then everything that can be opened."""
        self._run(self._open(joint, ()))

    def _run(self, first: Iterable[str]) -> None:
        todo = dict.fromkeys(first)
        while todo:
            while todo:
                joint = next(iter(todo))
                del todo[joint]
                allowed = self.allowed_by(joint)
                if allowed:
                    todo.update(dict.fromkeys(self._open(joint, allowed)))
            for joint in list(self._own_cover):
                allowed = self.allowed_by(joint)
                if allowed:
                    todo.update(dict.fromkeys(self._open(joint, allowed)))

    def _open(self, joint: str, allowed: tuple[int, ...]) -> list[str]:
        """Open ``joint``; returns the joints that may have become free."""
        self.opened[joint] = allowed
        self._own_cover.pop(joint, None)
        again = list(self._followers[joint])
        if joint in self._isolators:
            self._isolators.discard(joint)
            if not self._isolators:
                again.extend(j for j in self.device.joints if j in self._live)
        if self.device.joints[joint].rigid:
            for part in self.clusters.open(joint):
                again.extend(self._watchers[part])
        return again

    def allowed_by(self, joint_id: str) -> tuple[int, ...]:
        """Indices of the accesses by which a closed joint can be opened now."""
        if joint_id in self.opened or joint_id in self._kept or self.waits_for(joint_id):
            return ()
        if joint_id in self._live and self._isolators:
            return ()
        joint = self.device.joints[joint_id]
        return tuple(i for i, access in enumerate(joint.accesses) if not self.covers(joint, access))

    def waits_for(self, joint_id: str) -> tuple[str, ...]:
        """Joints of its ``after`` that are not open."""
        return tuple(j for j in self.device.joints[joint_id].after if j not in self.opened)

    def waits_for_power(self, joint_id: str) -> tuple[str, ...]:
        """Isolating joints that it waits for."""
        return tuple(sorted(self._isolators)) if joint_id in self._live else ()

    def covers(self, joint: Joint, access: Access) -> tuple[str, ...]:
        """Parts that still lie over this access."""
        self.clusters.steps += 1 + len(access.under)
        label = self.clusters.label
        own: dict[str, int] | None = None
        over: list[str] = []
        for cover in access.under:
            if cover in joint.joins and joint.rigid and joint.id not in self.opened:
                own = own if own is not None else self.clusters.apart_without(joint.id)
                tied = any(own[cover] == own[part] for part in joint.joins if part != cover)
            else:
                tied = any(label[cover] == label[part] for part in joint.joins if part != cover)
            if tied:
                over.append(cover)
        return tuple(over)
