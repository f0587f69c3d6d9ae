"""How entries of a device file and what they say are put into words where two revisions are compared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, TypeAlias

from lastscrew.audit.pairing import REFERENCES
from lastscrew.device.diagnosis import Harm, Likelihood, Limits, Mend
from lastscrew.device.model import Device, Measure
from lastscrew.plan.wording import fastener_text, joint_name, listed, part_name, seconds

Entry: TypeAlias = Any
"""A dataclass of the model."""
MOST_SHOWN: Final = 90
"""Letters of a sentence that are shown where it only names an entry."""

_WORDS: Final = {
    "count": "number of pieces", "order": "order of tightening", "torque_ncm": "torque (N cm)",
    "positions_mm": "positions", "outline_mm": "outline", "after": "joints that must be open before",
    "max_length_mm": "greatest length (mm)", "reuse": "reuse", "renew": "supplies renewed",
    "isolates": "takes the power away", "energy": "stores energy", "order_code": "order code",
    "check_ms": "time of the check (s)", "ms": "time (s)", "wait_ms": "waiting (s)",
    "wait_open_ms": "waiting on opening (s)", "wait_close_ms": "waiting on closing (s)",
    "length_mm": "length (mm)", "swap_ms": "time to take it up (s)", "turn_ms": "time to turn it (s)",
    "frame_mm": "width and height (mm)", "fixed": "stays on the bench", "captive": "stays in the part",
    "loosen_only": "only loosened", "washers": "loose pieces with it", "into": "screwed into",
    "damage": "chance of damage", "hold_by": "held by", "hold": "hold point", "loses": "what is lost",
    "prove_before_close": "tried before closing", "note_open": "note on opening", "note_close": "note on closing",
    "if_fitted": "only where fitted", "serial": "has a serial number to record", "identity": "carries the identity",
    "contains": "exchanged as one piece", "includes": "comes with", "needs": "joints closed to try it",
    "check": "how to try it", "measure": "value to measure", "entry": "entry of its check", "at": "when",
    "when_replaced": "only when replaced", "when_opened": "only when opened", "evidence": "to be kept",
    "fits": "drives that it fits", "signal": "signal word", "leak": "shows without a fault",
    "event": "what happened before", "words": "words of owners", "limits": "value to measure",
    "open": "joints open", "closed": "joints closed", "may_be_open": "joints that may be open",
    "swap_test": "part exchanged to try", "harm": "what it can spoil", "final": "proves that the machine works",
    "prior": "how often", "mends": "ways to mend it", "fitted": "most units have it",
}  # fmt: skip
_KEYS: Final = {
    "washers": "with", "ms": "seconds", "limits": "measure", "mends": "mend", "entry": "check",
}  # fmt: skip
_TITLES: Final = {
    "tools": "Tool", "supplies": "Supply", "functions": "Function", "options": "Option", "spares": "Spare",
    "symptoms": "Symptom", "checks": "Check", "faults": "Fault",
}  # fmt: skip
_NO_ORDER: Final = frozenset(REFERENCES) | {"loses", "evidence", "fits", "words"}
"""Fields whose values mean the same in any order."""


def key_of(field: str) -> str:
    """The key of the file for a field of the model: ``open_s`` for ``open_ms``."""
    return _KEYS.get(field, f"{field.removesuffix('_ms')}_s" if field.endswith("_ms") else field)


def words_for(field: str) -> str:
    """What a field is about, as people say it."""
    return _WORDS.get(field, field.replace("_", " "))


def is_same(field: str, before: object, now: object) -> bool:
    """True where two values of a field mean the same."""
    if field in _NO_ORDER and isinstance(before, tuple) and isinstance(now, tuple):
        return sorted(map(str, before)) == sorted(map(str, now))
    return before == now


def without_equal(before: object, now: object) -> tuple[object, object]:
    """Two tables without the rows that both have; anything else as it is."""
    if not isinstance(before, Mapping) or not isinstance(now, Mapping):
        return before, now
    old, new = dict(before), dict(now)
    for key in before.keys() & now.keys():
        if old[key] == new[key]:
            del old[key], new[key]
        else:
            old[key], new[key] = without_equal(old[key], new[key])
    return old, new


def entry_name(device: Device, section: str, entry: Entry, *, whole: bool = False) -> str:
    """What people call an entry of any section; ``whole``: a fastener with its size, a hazard with its signal word."""
    if section == "joints":
        return joint_name(device, entry.id)
    if section == "parts":
        return str(entry.name)
    if section == "fasteners":
        size = fastener_text(entry)
        return f"Fastener {entry.id}" + (f" ({size})" if whole and size != entry.id else "")
    if section == "hazards":
        word = entry.signal.capitalize() if whole else "Hazard"
        return f"{word} “{_cut(entry.text)}”"
    if section == "acts":
        return f"Work “{_cut(entry.text)}”"
    return f"{_TITLES[section]} {entry.name}"


def _cut(text: str) -> str:
    line = " ".join(text.split()).rstrip(".")
    return line if len(line) <= MOST_SHOWN else f"{line[:MOST_SHOWN].rsplit(' ', 1)[0]} …"


def value_of(device: Device, field: str, value: object) -> str:
    """A value in words: names for ids, seconds for milliseconds; empty for none."""
    if value is None or value in ((), {}, ""):
        return ""
    if field.endswith("ms") and isinstance(value, int):
        return str(seconds(value))
    if field in REFERENCES:
        return _names(device, REFERENCES[field], value)
    if field in ("positions_mm", "outline_mm") and isinstance(value, tuple):
        return "1 place" if len(value) == 1 else f"{len(value)} places"
    if field == "mends" and isinstance(value, tuple):
        return listed([_mend(device, mend) for mend in value])
    return shown(value)


def _names(device: Device, sections: tuple[str, ...], value: object) -> str:
    def one(key: str) -> str:
        for section in sections:
            entry = getattr(device, section).get(key)
            if entry is None:
                continue
            if section == "joints":
                return joint_name(device, key)
            if section == "hazards":
                return f"{entry.signal} “{_cut(entry.text)}”"
            return str(getattr(entry, "name", key))
        return key

    if isinstance(value, Mapping):
        return listed([f"{one(key)} {shown(item)}" for key, item in value.items()])
    if isinstance(value, tuple):
        return listed([one(key) for key in value])
    return one(str(value))


def _mend(device: Device, mend: Mend) -> str:
    thing = ""
    if mend.part is not None:
        thing = part_name(device, mend.part)
    elif mend.joint is not None:
        thing = joint_name(device, mend.joint)
    chance = f" ({shown(mend.success)})" if mend.success is not None else ""
    return (mend.name or f"{mend.do} {thing}".strip()) + chance


def shown(value: object) -> str:  # noqa: PLR0911 (one way out for each kind of value)
    """A plain value in words: ``yes``, ``4.8 to 5.2 V``, ``single use``."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Likelihood):
        return value.word.replace("_", " ") or f"{value.value:g}"
    if isinstance(value, Measure | Limits):
        return _limits(value)
    if isinstance(value, Harm):
        return f"chance {value.chance:g}"
    if isinstance(value, Mapping):
        return listed([f"{key} {shown(item)}" for key, item in value.items()])
    if isinstance(value, tuple):
        if all(isinstance(item, int | float) for item in value):
            return " × ".join(shown(item) for item in value)
        return listed([shown(item) for item in value])
    if isinstance(value, float):
        return f"{value:g}"
    text = str(value)
    return text.replace("_", " ") if text.islower() and " " not in text else text


def _limits(value: Measure | Limits) -> str:
    if value.low is None:
        return f"at most {value.high:g} {value.unit}" if value.high is not None else value.unit
    if value.high is None:
        return f"at least {value.low:g} {value.unit}"
    return f"{value.low:g} to {value.high:g} {value.unit}"
