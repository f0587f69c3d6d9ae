"""From depot events to how a unit stands: pure, one event at a time.

A unit's own fields are changed by depot events here; where it stands (:func:`stage_of`) follows from
them and from its last job.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.folded import folded, folded_key
from lastscrew.run import events as r
from lastscrew.run.events import Happening

Changes = dict[str, object]

HAZARDS_OF_PACKS = {"swollen": "swollen_pack", "damaged": "damaged_pack"}

AFTER_IT_WENT = (
    d.Described, d.OwnerErased, d.OwnerPhoto, d.Custody, d.BranchDecided, d.WaitingGivenUp,
)  # fmt: skip
"""What may still be told about a unit that has left."""


def stage_of(*, is_gone: bool, hazard: str, of_job: str) -> str:
    """How far a unit is.

    Args:
        is_gone: It was handed back.
        hazard: A hazard that nobody has cleared, or an empty text.
        of_job: The stage that its last job gives it, empty where there was none.
    """
    if is_gone:
        return "gone"
    if hazard:
        return "set_apart"
    return of_job or "taken_in"


def changes_by(what: Happening, moment_ms: int, custody: Sequence[Mapping[str, object]]) -> Changes:
    """What a depot event changes about its unit.

    Args:
        what: The happening.
        moment_ms: When.
        custody: What is kept of the owner's carriers of data so far.
    """
    match what:
        case d.TakenIn():
            return {**_taken_in(what), "taken_in_ms": moment_ms}
        case d.Described():
            return _described(what)
        case d.Custody():
            return {"custody": custody_after(custody, what, moment_ms)}
        case d.HandedBack():
            gone: Changes = {"outcome": what.outcome, "gone_ms": moment_ms}
            return {**gone, "place": what.place} if what.place else gone
        case _:
            return _placed(what)


def _placed(what: Happening) -> Changes:
    match what:
        case d.HazardMet():
            return {"hazard": what.what, "place": what.place}
        case d.HazardCleared():
            return {"hazard": ""}
        case d.Placed():
            return {"place": what.place}
        case _:
            return {}


def _taken_in(what: d.TakenIn) -> Changes:
    return {
        "number": what.number,
        "device": what.device or "",
        "device_words": what.device_words or "",
        "serial": what.serial or "",
        "asset_tag": what.asset_tag or "",
        "accessories": list(what.accessories),
        "seals": what.seals or "",
        "condition": what.condition or "",
        "may_be_lost": what.may_be_lost or "",
        "agreed_by": what.agreed_by or "",
        "way_to_test": what.way_to_test or "",
        "pack": what.pack,
        "liquid": what.liquid,
        "dropped": what.dropped,
        "due_ms": what.due_ms,
        "checks_before": dict(what.checks),
        "hazard": hazard_of(what.pack, liquid=what.liquid),
    }


def _described(what: d.Described) -> Changes:
    given: Changes = {
        name: value
        for name in ("device", "serial", "asset_tag", "condition", "pack", "liquid", "due_ms")
        if (value := getattr(what, name)) is not None
    }
    if what.accessories is not None:
        given["accessories"] = list(what.accessories)
    if what.checks:
        given["checks_before"] = dict(what.checks)
    # A hazard is only ever cleared by a named person; a new one bites at once.
    if hazard := hazard_of(what.pack or "", liquid=bool(what.liquid)):
        given["hazard"] = hazard
    return given


def hazard_of(pack: str, *, liquid: bool) -> str:
    """The hazard that sets a unit apart, the pack's before that of liquid; empty for none."""
    return HAZARDS_OF_PACKS.get(pack, "liquid" if liquid else "")


def custody_after(
    custody: Sequence[Mapping[str, object]], what: d.Custody, moment_ms: int
) -> list[dict[str, object]]:
    """Every carrier of data with all that was done with it, in order.

    Each entry: ``item``, ``state`` (held, moved, returned, destroyed), ``place``, ``person``, ``at_ms`` as
    they are now, and ``history``, the earlier ones.
    """
    entry: dict[str, object] = {
        "item": what.item,
        "state": what.state,
        "place": what.place or "",
        "person": what.person,
        "at_ms": moment_ms,
        "history": [],
    }
    found: list[dict[str, object]] = []
    is_known = False
    for old in custody:
        if old["item"] == what.item:
            is_known = True
            earlier = old["history"]
            assert isinstance(earlier, list)
            told = {key: value for key, value in old.items() if key != "history"}
            place = what.place or (old["place"] if what.state == "held" else "")
            found.append({**entry, "place": place, "history": [*earlier, told]})
        else:
            found.append(dict(old))
    return found if is_known else [*found, entry]


PLACES_APART = "; "
"""Between the places of machine, tray and bags, in the one text that a parked job has for them."""

_BAGS_APART = re.compile(r"[,;]")


def trays_told(what: r.Parked) -> tuple[str, ...]:
    """Labels of the tray and the bags that a job was parked with, each once.

    Where only the place is told, what stands behind the machine's own place, each behind a word of its own, are they.
    """
    if what.tray is not None or what.bags:
        told = [what.tray or "", *what.bags]
    else:
        _machine, *others = (what.place or "").split(PLACES_APART)
        told = [other.partition(": ")[2] or other for other in others]
    return tuple(dict.fromkeys(label for each in told if (label := " ".join(each.split()))))


def tray_keys_of(labels: Sequence[str]) -> str:
    """The labels as they are compared, each in a line of its own with an end on both sides.

    Several bags may stand in one text; a label that has a comma itself is found by the whole of it.
    """
    every = [one for label in labels for one in (label, *_BAGS_APART.split(label))]
    keys = dict.fromkeys(key for key in map(folded_key, every) if key)
    return "\n".join(["", *keys, ""]) if keys else ""


def search_text(number: int, *words: str) -> str:
    """What the search field looks in: the number as printed, then the words, folded."""
    told = [f"U{number:06d}", *(word for word in words if word)]
    return "\n".join(dict.fromkeys(map(folded, told)))
