"""What is asked of a plan, as the address of a page says it; and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final, get_args
from urllib.parse import urlencode

from lastscrew.device.model import Device
from lastscrew.plan.model import Objective, Request

MOST: Final = 60
"""So many values of one kind in an address are read; no machine is planned with more."""
LONGEST: Final = 400
FIELDS: Final[Mapping[str, str]] = {
    "replace": "replace",
    "reach": "reach",
    "open": "opened",
    "without": "without",
    "fitted": "fitted",
    "lacks": "not_fitted",
}
"""Names in an address and the fields of a request that they fill."""
OBJECTIVES: Final[tuple[Objective, ...]] = get_args(Objective)


def request_from(values: Mapping[str, Sequence[str]]) -> Request:
    """The request that an address makes. What it names may not exist: the planner says so."""
    given = {
        field: tuple(
            dict.fromkeys(
                value.strip()[:LONGEST] for value in values.get(name, ())[:MOST] if value.strip()
            )
        )
        for name, field in FIELDS.items()
    }
    wanted = values.get("objective", ())
    objective: Objective = next((one for one in OBJECTIVES if one in wanted), "time")
    side = next((side[:LONGEST] for side in values.get("side", ()) if side), None)
    return Request(
        replace=given["replace"],
        reach=given["reach"],
        opened=given["opened"],
        without=given["without"],
        fitted=given["fitted"],
        not_fitted=given["not_fitted"],
        objective=objective,
        side=side,
    )


def address_of(request: Request) -> str:
    """A request as the part of an address behind the question mark; empty for one that asks nothing."""
    pairs = [(name, value) for name, field in FIELDS.items() for value in getattr(request, field)]
    if request.side is not None:
        pairs.append(("side", request.side))
    if request.objective != "time":
        pairs.append(("objective", request.objective))
    return urlencode(pairs)


def toggled(request: Request, piece: str) -> Request:
    """With a piece to exchange more, or less where it is asked for already."""
    kept = tuple(one for one in request.replace if one != piece)
    return replace(request, replace=kept if len(kept) < len(request.replace) else (*kept, piece))


def parts_asked(device: Device, request: Request) -> frozenset[str]:
    """Parts that the pieces of a request are made of; what the device does not know is left out."""
    found: set[str] = set()
    for piece in request.replace:
        for word in piece.split("+"):
            if word in device.parts:
                found.add(word)
            elif word in device.spares:
                found.update(device.spares[word].contains)
    return frozenset(found)


def asks_nothing(request: Request) -> bool:
    """True where nothing is to be exchanged, reached or closed again."""
    return not (request.replace or request.reach or request.opened)
