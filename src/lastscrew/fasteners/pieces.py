"""Kinds of loose pieces, and which of them a joint lets go when it is opened.

A captive fastener and one that is only loosened stay where they are: they are no loose pieces. The
amounts under ``with`` in a device file are those of the whole joint, not of one screw.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from lastscrew.device.model import Device, Joint
from lastscrew.plan.wording import fastener_text, joint_name
from lastscrew.saying import say

Sort = Literal["fastener", "washer", "unlisted", "measured"]
SORTS: tuple[Sort, ...] = ("fastener", "unlisted", "measured", "washer")

COUNTED_WITHOUT_FASTENER = ("screw", "nut")
"""Kinds of joint whose pieces are counted although the file names no fastener."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of loose piece.

    Attributes:
        sort: ``fastener`` (listed in the device file), ``unlisted`` (of a screw or nut joint whose fastener
            the file does not give), ``washer`` (named under ``with``), ``measured`` (known by a length only).
        name: Id of the fastener, id of the joint, name of the washer, or the measure.
    """

    sort: Sort
    name: str

    @property
    def key(self) -> str:
        """As run events and JSON name it: ``m2x5``, ``washer:spring``, ``unlisted:cover_screws``."""
        return self.name if self.sort == "fastener" else f"{self.sort}:{self.name}"

    @property
    def rank(self) -> tuple[int, str]:
        """Place in a list of kinds: fasteners first, washers last, then by name."""
        return SORTS.index(self.sort), self.name


def kind_from_key(key: str) -> Kind:
    """The kind that :attr:`Kind.key` names."""
    sort, colon, name = key.partition(":")
    for known in SORTS:
        if colon and sort == known:
            return Kind(known, name)
    return Kind("fastener", key)


def measured_kind(length_mm: float, thread: str | None) -> Kind:
    """The kind of a piece of which only length and perhaps thread are known."""
    return Kind("measured", f"{thread + ' x ' if thread else ''}{length_mm:g} mm")


def own_kind(joint: Joint) -> Kind:
    """The kind of the fasteners of a joint."""
    if joint.fastener is not None:
        return Kind("fastener", joint.fastener)
    return Kind("unlisted", joint.id)


def washer_kind(device: Device, name: str) -> Kind:
    """A washer; one that is listed among the fasteners (a nut, say) counts as such."""
    return Kind("fastener", name) if name in device.fasteners else Kind("washer", name)


def lets_go(joint: Joint) -> bool:
    """True when opening the joint frees pieces."""
    if joint.captive or joint.loosen_only:
        return False
    counted = joint.fastener is not None or joint.kind in COUNTED_WITHOUT_FASTENER
    return counted or bool(joint.washers)


def has_fasteners(joint: Joint) -> bool:
    """True when opening the joint frees fasteners of its own (not only washers)."""
    return lets_go(joint) and (joint.fastener is not None or joint.kind in COUNTED_WITHOUT_FASTENER)


def loose_pieces(device: Device, joint: Joint) -> Mapping[Kind, int]:
    """What comes loose when the joint is opened: kind to number of pieces, its own kind first."""
    found: dict[Kind, int] = {}
    if has_fasteners(joint):
        found[own_kind(joint)] = joint.count
    if lets_go(joint):
        for name, count in sorted(joint.washers.items()):
            if count > 0:
                kind = washer_kind(device, name)
                found[kind] = found.get(kind, 0) + count
    return found


def kind_text(device: Device, kind: Kind) -> str:
    """How people call it: ``M2 × 5 mm pan PH1``; ``piece of Cover screws``."""
    if kind.sort == "fastener":
        fastener = device.fasteners.get(kind.name)
        return fastener_text(fastener) if fastener is not None else kind.name
    if kind.sort == "unlisted":
        return say("fastener of {joint} (kind not given)", joint=joint_name(device, kind.name))
    if kind.sort == "measured":
        return say("unknown piece, {name}", name=kind.name)
    return kind.name


def kind_short(device: Device, kind: Kind) -> str:
    """The same for tables, where room is short: ``M2×5 pan PH1``."""
    fastener = device.fasteners.get(kind.name) if kind.sort == "fastener" else None
    if fastener is None or not fastener.thread:
        return kind_text(device, kind)
    length = "" if fastener.length_mm is None else f"×{fastener.length_mm:g}"
    words = (fastener.thread + length, fastener.head, fastener.drive, fastener.finish)
    return " ".join(word for word in words if word)
