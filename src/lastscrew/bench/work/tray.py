"""Which compartment for what: the tray map, with what lies in the tray already left where it is."""

from __future__ import annotations

from collections.abc import Mapping

from lastscrew.bench.work.course import Course
from lastscrew.fasteners.ledger import Ledger
from lastscrew.fasteners.tray import LETTERS, tray_map
from lastscrew.problems import InputError

ROWS, COLUMNS = 4, 6
"""Compartments of a tray where the depot says nothing else (our own choice)."""


def places_of(
    course: Course, ledger: Ledger, rows: int = ROWS, columns: int = COLUMNS
) -> Mapping[str, str]:
    """Joint to compartment: where its pieces lie, or are to be laid.

    A plan that was made anew gives other compartments to what is still in the machine, never to what
    lies in one already.
    """
    lying = {lot.joint: lot.compartment for lot in ledger.out if lot.compartment is not None}
    if course.plan is None:
        return lying
    try:
        arranged = tray_map(course.device, course.plan, rows, columns)
    except InputError:
        return lying
    used = set(lying.values())
    places = dict(lying)
    for group in arranged.groups:
        if group.joint in places:
            continue
        place = group.compartment
        if place in used:
            place = _free(used, rows, columns)
        places[group.joint] = place
        used.add(place)
    return places


def _free(used: set[str], rows: int, columns: int) -> str:
    """The first compartment that holds nothing; beyond the tray, bags by number."""
    for row in range(rows):
        for column in range(columns):
            name = f"{LETTERS[row]}{column + 1}"
            if name not in used:
                return name
    number = 1
    while f"bag {number}" in used:
        number += 1
    return f"bag {number}"
