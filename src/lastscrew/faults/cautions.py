"""What has to be said before a check or mend: hazards, hold points with power on, and when to leave it to others."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from lastscrew.device.model import SIGNALS, Device, Hazard
from lastscrew.device.opening import is_live
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.puzzle import State
from lastscrew.faults.works import Work, works_on
from lastscrew.plan.cautions import hazards_laid_bare
from lastscrew.plan.wording import joint_name, listed, part_name
from lastscrew.saying import say

TRAINED: Final = say(
    "Work on mains or high voltage, and on a damaged, swollen or leaking pack, is for people trained for it, by "
    "the maker's instructions and local rules."
)
"""Common practice; the rules of a country say more."""
_MAINS: Final = re.compile(
    r"\b(mains|high[- ]voltage|line voltage|\d{3,} ?v(olts?)?|inverter|power supply|transformer)\b",
    re.IGNORECASE,
)
_PACK: Final = re.compile(r"\b(lithium|pack|batter(y|ies)|accumulator)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Cautions:
    """What to say before a piece of work.

    Attributes:
        hold: Text of the hold point with power on, "" where there is none.
        live: Live joints that are open while power is on.
        hazards: Hazards, most severe first.
        trained: Sentence that refers to trained people, "" where there is no need.
    """

    hold: str = ""
    live: tuple[str, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    trained: str = ""


def cautions_for(
    device: Device,
    openings: DeviceOpenings,
    work: Work,
    during: State,
    moved: Collection[str] = (),
) -> Cautions:
    """What to say before a piece of work.

    Args:
        device: The fitted device.
        openings: Its openings.
        work: What is to be done.
        during: Joints open while it is done.
        moved: Joints that are opened or closed on the way to it.
    """
    opened = openings.joints(during)
    powered = work.power == "on"
    live = tuple(j for j in opened if is_live(device, device.joints[j])) if powered else ()
    live = tuple(dict.fromkeys((*live, *work.hung))) if powered else ()
    hazards = _hazards(device, work, (*moved, *(opened if powered else work.open)), opened)
    hold = _hold(device, live, work) if powered and opened else ""
    return Cautions(hold, live, hazards, TRAINED if _needs_training(device, work, hazards) else "")


def _hazards(
    device: Device, work: Work, handled: Collection[str], opened: Collection[str]
) -> tuple[Hazard, ...]:
    """Hazards of the work, of the joints handled for it with the parts that these name, of parts that lie bare."""
    names = dict.fromkeys((*work.hazards, *hazards_laid_bare(device, opened)))
    for joint_id in handled:
        joint = device.joints[joint_id]
        names.update(dict.fromkeys(joint.hazards))
        for part in joint.joins:
            names.update(dict.fromkeys(device.parts[part].hazards))
    for part in works_on(device, work):
        names.update(dict.fromkeys(device.parts[part].hazards))
    found = [device.hazards[name] for name in names if name in device.hazards]
    return tuple(sorted(found, key=lambda hazard: (SIGNALS.index(hazard.signal), hazard.id)))


def _hold(device: Device, live: tuple[str, ...], work: Work) -> str:
    if not live:
        return say(
            "Power is to be put on while the machine is open. Nobody touches the inside until it is off again."
        )
    named = listed([joint_name(device, joint) for joint in live])
    if work.hung:
        hung = part_name(device, work.part or "")
        return say(
            "Power is to be put on with a known-good {part} hung on {joints}, the machine open. Make sure that "
            "nothing bare touches metal. Nobody touches the inside until power is off and isolated again.",
            part=hung,
            joints=named,
        )
    return say(
        "Power is to be put on while these live joints are open: {joints}. Make sure that no bare end touches "
        "metal. Nobody touches the inside until power is off and isolated again.",
        joints=named,
    )


def _needs_training(device: Device, work: Work, hazards: tuple[Hazard, ...]) -> bool:
    texts = " . ".join((work.name, work.text, *(hazard.text for hazard in hazards)))
    if _MAINS.search(texts):
        return True
    handled = {*work.pieces, work.part or ""}
    stores = any(part.energy for part in device.parts.values() if part.id in handled)
    near_pack = work.power == "on" and bool(work.open) and bool(_PACK.search(texts))
    return stores or near_pack or bool(_PACK.search(work.name))
