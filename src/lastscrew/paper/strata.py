"""What lies over what: every part gets a side of the machine and a layer, counted from outside.

Side: the one from which most of the rigid joints that name the part are reached by their first access.
Layer: one deeper than the deepest part that lies over it on that side. A part that lies over another which
in turn lies over it (seen by different joints) does not hold this up: of such a circle the one
under the fewest is placed first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from lastscrew.device.model import Device, Joint

SWEEPS = 6
"""How often the order within layers is improved; more changes nothing to be seen."""


@dataclass(frozen=True, slots=True)
class Stratum:
    """The parts of one layer on one side, in the order in which they are drawn."""

    side: str
    layer: int
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Strata:
    """A device in layers.

    Attributes:
        layers: For every side that has parts its layers from outside inwards.
        over: For every part the parts that lie directly over it, in id order.
        side_of: Side of every part but the fixed one.
    """

    layers: Mapping[str, tuple[Stratum, ...]]
    over: Mapping[str, tuple[str, ...]]
    side_of: Mapping[str, str]


def strata_of(device: Device) -> Strata:
    """Sort the parts of a device into sides and layers."""
    side_of = {part: _home(device, part) for part in device.parts if part != device.fixed_part}
    covers = _covers(device, side_of)
    layer_of = _layers(covers)
    direct = {part: _direct(part, covers) for part in side_of}
    layers: dict[str, tuple[Stratum, ...]] = {}
    for side in device.sides:
        mine = [part for part in side_of if side_of[part] == side]
        rows = [
            [part for part in mine if layer_of[part] == layer]
            for layer in range(1, 1 + max((layer_of[part] for part in mine), default=0))
        ]
        ordered = _ordered([row for row in rows if row], _neighbours(device, direct))
        if ordered:
            layers[side] = tuple(
                Stratum(side, number, tuple(row)) for number, row in enumerate(ordered, 1)
            )
    return Strata(layers, direct, side_of)


def _home(device: Device, part: str) -> str:
    mine = [joint for joint in device.joints.values() if part in joint.joins]
    asked = [joint for joint in mine if joint.rigid] or mine
    counts = Counter(joint.accesses[0].side for joint in asked)
    return max(device.sides, key=lambda side: (counts[side], -device.sides.index(side)))


def _covers(device: Device, side_of: Mapping[str, str]) -> dict[str, set[str]]:
    """Parts over each part, on the part's own side, by any joint of its that is reached from there."""
    covers: dict[str, set[str]] = {part: set() for part in side_of}
    for joint in device.joints.values():
        for access in joint.accesses:
            for part in joint.joins:
                if part in side_of and side_of[part] == access.side:
                    covers[part].update(
                        cover
                        for cover in access.under
                        if cover != part and side_of.get(cover) == access.side
                    )
    return covers


def _layers(covers: Mapping[str, set[str]]) -> dict[str, int]:
    layer_of: dict[str, int] = {}
    waiting = {part: set(over) for part, over in covers.items()}
    while waiting:
        ready = sorted(part for part, over in waiting.items() if not over)
        for part in ready or [_first_of_a_circle(waiting)]:
            placed = (layer_of[over] for over in covers[part] if over in layer_of)
            layer_of[part] = 1 + max(placed, default=0)
            del waiting[part]
        for over in waiting.values():
            over.difference_update(layer_of)
    return layer_of


def _first_of_a_circle(waiting: Mapping[str, set[str]]) -> str:
    """Of parts that lie over each other, and under nothing else, the one under the fewest."""
    outermost = [
        part
        for part in waiting
        if all(part in _all_over(over, waiting) for over in _all_over(part, waiting))
    ]
    return min(outermost, key=lambda part: (len(waiting[part]), part))


def _direct(part: str, covers: Mapping[str, set[str]]) -> tuple[str, ...]:
    """Covers of a part less those that also cover another cover of it."""
    mine = covers[part]
    above = {
        over for cover in mine for over in _all_over(cover, covers) if cover not in covers[over]
    }
    return tuple(sorted(mine - above or mine))


def _all_over(part: str, covers: Mapping[str, set[str]]) -> set[str]:
    found: set[str] = set()
    ask = [part]
    while ask:
        for over in covers.get(ask.pop(), ()):
            if over not in found:
                found.add(over)
                ask.append(over)
    return found - {part}


def _neighbours(device: Device, direct: Mapping[str, Iterable[str]]) -> dict[str, list[str]]:
    near: dict[str, list[str]] = {part: [] for part in direct}
    for part, covers in direct.items():
        for cover in covers:
            near[part].append(cover)
            near[cover].append(part)
    for joint in device.joints.values():
        loose = [part for part in joint.joins if part in near]
        for part in loose:
            near[part].extend(other for other in loose if other != part)
    return near


def _ordered(rows: list[list[str]], near: Mapping[str, list[str]]) -> list[list[str]]:
    """Order parts within their rows so that what belongs together stands together (barycentres)."""
    place = {part: _share(index, row) for row in rows for index, part in enumerate(row)}
    for sweep in range(SWEEPS):
        for row in rows if sweep % 2 == 0 else reversed(rows):
            weights = {part: _mean(part, near, place) for part in row}
            row.sort(key=lambda part, weights=weights: (weights[part], part))  # type: ignore[misc]
            place.update({part: _share(index, row) for index, part in enumerate(row)})
    return rows


def _share(index: int, row: list[str]) -> float:
    return (index + 0.5) / len(row)


def _mean(part: str, near: Mapping[str, list[str]], place: Mapping[str, float]) -> float:
    known = [place[other] for other in near[part] if other in place]
    return round(sum(known) / len(known), 9) if known else place[part]


def keeper_of(device: Device, strata: Strata, joint: Joint) -> str:
    """The part in whose box a joint is written: the outermost that it joins."""
    depth = {
        part: stratum.layer
        for layers in strata.layers.values()
        for stratum in layers
        for part in stratum.parts
    }
    parts = [part for part in joint.joins if part in depth]
    if not parts:
        return joint.joins[0]
    return min(
        parts, key=lambda part: (depth[part], device.sides.index(strata.side_of[part]), part)
    )
