"""What must be open for something else to be open, whatever way is taken."""

from __future__ import annotations

from collections.abc import Collection

from lastscrew.device.model import Device
from lastscrew.device.reaching import MAX_STEPS, Openings, TooTangledError


class Ways:
    """Questions about all ways into one fitted device; each is answered once."""

    def __init__(self, device: Device, most_steps: int = MAX_STEPS) -> None:
        """Ask about ``device``; all questions together take at most about ``most_steps`` steps."""
        self._device = device
        self._left = most_steps
        self._known: dict[frozenset[str], frozenset[str]] = {}

    def reached(self, kept_closed: Collection[str] = ()) -> frozenset[str]:
        """Joints that can be opened while these stay closed.

        Raises:
            TooTangledError: It takes more steps than are left.
        """
        kept = frozenset(kept_closed)
        found = self._known.get(kept)
        if found is None:
            if self._left <= 0:
                raise TooTangledError
            openings = Openings(self._device, kept_closed=kept)
            self._left -= openings.clusters.steps + len(self._device.joints)
            found = self._known[kept] = frozenset(openings.opened)
        return found

    def must_open(self, joint: str, needed: Collection[str], closed: Collection[str] = ()) -> bool:
        """Whether every way to ``needed``, with ``closed`` closed, opens ``joint``.

        Raises:
            TooTangledError: It takes more steps than are left.
        """
        return not self.reached({*closed, joint}).issuperset(needed)

    def least_of(
        self, joints: Collection[str], needed: Collection[str], closed: Collection[str] = ()
    ) -> tuple[str, ...]:
        """Which of ``joints`` have to be open for ``needed``, those in ``closed`` closed; in id order.

        What every way opens is always among them. Where there is a choice it is made so that none of them
        can be left out; empty where ``needed`` can't be reached at all.

        Raises:
            TooTangledError: It takes more steps than are left.
        """
        aside = frozenset(joints) - frozenset(needed)
        if self.reached({*closed, *aside}).issuperset(needed):
            return ()
        if not self.reached(closed).issuperset(needed):
            return ()
        kept = sorted(aside)
        for joint in tuple(kept):
            without = [other for other in kept if other != joint]
            if self.reached({*closed, *aside.difference(without)}).issuperset(needed):
                kept = without
        return tuple(kept)
