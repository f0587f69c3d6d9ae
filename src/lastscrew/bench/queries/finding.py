"""From what was scanned or typed to the unit that is meant."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import unquote

from django.db.models import Q

from lastscrew.bench.depot.folded import folded, folded_key
from lastscrew.bench.models import Unit

MOST_FOUND = 50
_NUMBER = re.compile(r"[uU]\s*0*([0-9]{1,9})|0*([0-9]{1,9})")
_ADDRESS = re.compile(r"/units/([A-Za-z0-9._:%-]{1,300})/")


@dataclass(frozen=True, slots=True)
class Found:
    """What was found.

    Attributes:
        unit: The one unit that is meant, None where it is not clear.
        place: A place of this name has units.
        units: What it may be, at most fifty.
    """

    unit: Unit | None
    place: str = ""
    units: tuple[Unit, ...] = ()


def find(text: str) -> Found:
    """Find what was scanned or typed: a label, a serial number, an asset tag, a place, a piece of one.

    A machine that was here several times is the one that is here now.
    """
    asked = " ".join(text.split())
    if not asked:
        return Found(None)
    exact = _exactly(asked)
    if (held := _whose_tray(asked)) is not None and not _is_label_of_unit(asked):
        return _of_tray(asked, held, exact)
    one = _the_one(exact)
    if one is not None:
        return Found(one)
    if exact:
        return Found(None, units=tuple(exact))
    return _at_a_place(asked) or _by_words(asked)


def _is_label_of_unit(asked: str) -> bool:
    match = _NUMBER.fullmatch(asked)
    return match is not None and match[1] is not None


def _whose_tray(asked: str) -> Unit | None:
    """The unit that has this tray or bag: of those that were told so, the last one."""
    key = folded_key(asked)
    if not key:
        return None
    here = Unit.objects.exclude(stage=Unit.Stage.GONE).filter(tray_keys__contains=f"\n{key}\n")
    return here.order_by("-trays_position").first()


def trays_of_others(labels: Iterable[str], but: str) -> tuple[tuple[str, Unit], ...]:
    """Labels that are told to be the tray or a bag of another unit now, with that unit.

    Args:
        labels: What is on them.
        but: Key of the unit that does not count.
    """
    told = ((label, _whose_tray(label)) for label in labels)
    return tuple((label, unit) for label, unit in told if unit is not None and unit.pk != but)


def _of_tray(asked: str, held: Unit, exact: list[Unit]) -> Found:
    """The unit that has it, unless something else has the very same name: then both are shown."""
    key = folded_key(asked)
    # A plain number may be the number of a unit; but what is printed on a unit begins with a U.
    named = [unit for unit in exact if key in (unit.serial_key, unit.asset_key)]
    there = Unit.objects.exclude(stage=Unit.Stage.GONE).filter(place_key=key)
    others = dict.fromkeys([*named, *there.order_by("-changed_ms", "key")[:MOST_FOUND]])
    others.pop(held, None)
    if not others:
        return Found(held)
    return Found(None, units=(held, *others)[:MOST_FOUND])


def _at_a_place(asked: str) -> Found | None:
    """What lies at the place of this name; the units themselves where its name is spelt in two ways."""
    here = Unit.objects.exclude(stage=Unit.Stage.GONE)
    there = here.filter(place_key=folded_key(asked)).exclude(place="")
    spellings = list(there.order_by("place").values_list("place", flat=True).distinct()[:2])
    if len(spellings) == 1:
        return Found(None, spellings[0])
    if spellings:
        return Found(None, units=tuple(there.order_by("-changed_ms", "key")[:MOST_FOUND]))
    return None


def _by_words(asked: str) -> Found:
    """Units of which the number, serial, tag, device or place has all the words, or pieces of them."""
    words = Q()
    for word in folded(asked).split()[:8]:
        words &= Q(search__contains=word)
    if not words:
        return Found(None)  # nothing but signs that nobody sees
    loose = list(Unit.objects.filter(words).order_by("-changed_ms", "key")[: MOST_FOUND + 1])
    return Found(loose[0] if len(loose) == 1 else None, units=tuple(loose[:MOST_FOUND]))


def _exactly(asked: str) -> list[Unit]:
    key = folded_key(asked)
    meant = Q(serial_key=key) | Q(asset_key=key) if key else Q(pk=asked[:100])
    if match := _NUMBER.fullmatch(asked):
        meant |= Q(number=int(match[1] or match[2]))
        if match[1]:
            # A label says its number and nothing else.
            labelled = list(Unit.objects.filter(number=int(match[1])))
            if labelled:
                return labelled
    if match := _ADDRESS.search(asked):
        meant |= Q(pk=unquote(match[1]))
    if len(asked) <= 100:
        meant |= Q(pk=asked)
    return list(Unit.objects.filter(meant).order_by("-taken_in_ms")[:MOST_FOUND])


def _the_one(units: list[Unit]) -> Unit | None:
    if len(units) == 1:
        return units[0]
    here = [unit for unit in units if unit.stage != Unit.Stage.GONE]
    if len(here) == 1:
        return here[0]
    same = {(unit.device, unit.serial_key) for unit in units}
    # The same machine, gone each time: its last stay.
    return units[0] if units and not here and len(same) == 1 else None
