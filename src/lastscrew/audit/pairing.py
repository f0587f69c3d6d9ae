"""Which entry of one revision of a device file is which of the other, and the old file in the new one's ids."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import fields, is_dataclass, replace
from types import MappingProxyType
from typing import Any, Final, TypeAlias

from lastscrew.device.model import Device

Entry: TypeAlias = Any
"""A dataclass of the model."""
Entries: TypeAlias = Mapping[str, Entry]
Renames: TypeAlias = Mapping[str, Mapping[str, str]]
"""For every section: old id to new id, of every entry that both revisions have."""

SECTIONS: Final = (
    "tools", "fasteners", "supplies", "hazards", "functions", "options", "parts", "spares", "joints", "acts",
    "symptoms", "checks", "faults",
)  # fmt: skip
"""Sections in the order in which they are paired: none refers to a later one but to find out what is wrong."""

REFERENCES: Final[Mapping[str, tuple[str, ...]]] = {
    "after": ("joints",), "joins": ("parts",), "under": ("parts",), "tool": ("tools",), "close_tool": ("tools",),
    "fastener": ("fasteners",), "renew": ("supplies",), "damage": ("parts",), "functions": ("functions",),
    "hazards": ("hazards",), "prove_before_close": ("functions",), "if_fitted": ("options",),
    "contains": ("parts",), "includes": ("supplies", "fasteners"), "needs": ("joints",), "entry": ("checks",),
    "joint": ("joints",), "when_replaced": ("parts", "spares"), "when_opened": ("joints",), "open": ("joints",),
    "closed": ("joints",), "may_be_open": ("joints",), "swap_test": ("parts",), "part": ("parts", "spares"),
    "symptoms": ("symptoms",), "checks": ("checks", "functions"),
}  # fmt: skip
"""Fields that hold ids (one, several, or as keys), and the sections that these name."""

_LABELS: Final = frozenset(("id", "was", "sources", "name", "order_code", "price", "note"))


def in_new_ids(one: Device, other: Device) -> tuple[Device, Renames]:
    """The old revision with every entry that the new one has under the new one's id.

    Entries are the same where their ids are, where one of the two says ``was``, where their names are, or where
    all else that they say is; parts also where the same joints hold them. All but the first two hold only where one
    entry alone can be meant.

    Returns:
        The old device, and for every section old id to new id.
    """
    pairs: dict[str, dict[str, str]] = {}
    for section in SECTIONS:
        old, new = getattr(one, section), getattr(other, section)
        pairs[section] = _pairs(old, new)
        # What an entry says can be compared only when what it refers to has its new id: joints name joints.
        more: Mapping[str, str] = {"": ""}
        while more and len(pairs[section]) < min(len(old), len(new)):
            more = _only_ones(
                {k: _moved(e, pairs) for k, e in old.items() if k not in pairs[section]},
                {k: e for k, e in new.items() if k not in pairs[section].values()},
                _content,
            )
            pairs[section] |= more
        if section == "parts":
            pairs[section] |= _held_alike(one, other, pairs[section])
    moved: dict[str, Any] = {
        section: _renamed(getattr(one, section), section, pairs)
        for section in SECTIONS
        if getattr(one, section)
    }
    return replace(one, **moved), pairs


def _held_alike(one: Device, other: Device, known: Mapping[str, str]) -> dict[str, str]:
    """Parts that neither id nor name pairs, but that the same joints hold."""

    def holds(device: Device, taken: Collection[str]) -> dict[tuple[str, ...], list[str]]:
        found: dict[tuple[str, ...], list[str]] = {}
        for part in device.parts:
            joints = tuple(sorted(j.id for j in device.joints.values() if part in j.joins))
            if part not in taken and joints:
                found.setdefault(joints, []).append(part)
        return found

    old, new = holds(one, known), holds(other, set(known.values()))
    return {
        parts[0]: new[joints][0]
        for joints, parts in old.items()
        if len(parts) == 1 and len(new.get(joints, ())) == 1
    }


def _renamed(entries: Entries, section: str, pairs: Renames) -> Entries:
    ids = pairs[section]
    return MappingProxyType(
        {
            ids.get(key, key): replace(_moved(entry, pairs), id=ids.get(key, key))
            for key, entry in entries.items()
        }
    )


def _pairs(old: Entries, new: Entries) -> dict[str, str]:
    pairs = {key: key for key in old if key in new}
    for key, entry in new.items():
        before = getattr(entry, "was", None) or ""
        if key not in pairs and before in old and before not in pairs:
            pairs[before] = key
    taken = set(pairs.values())
    for key, entry in old.items():
        after = getattr(entry, "was", None) or ""
        if key not in pairs and after in new and after not in taken:
            pairs[key] = after
            taken.add(after)
    return pairs | _only_ones(
        {key: entry for key, entry in old.items() if key not in pairs},
        {key: entry for key, entry in new.items() if key not in pairs.values()},
        _name,
    )


def _only_ones(old: Entries, new: Entries, mark: Callable[[Entry], object]) -> dict[str, str]:
    """Entries with the same mark, where one entry of each side bears it; twins in all that they say as they stand."""
    sides: list[dict[object, list[str]]] = [{}, {}]
    for side, entries in zip(sides, (old, new), strict=True):
        for key, entry in entries.items():
            found = mark(entry)
            if found:
                side.setdefault(found, []).append(key)
    first, second = sides
    most = len(old) if mark is _content else 1
    return {
        key: mate
        for found, keys in first.items()
        if len(keys) == len(second.get(found, ())) <= most
        for key, mate in zip(keys, second[found], strict=True)
    }


def _name(entry: Entry) -> object:
    """A name or sentence that people know it by; nothing for an entry that has none."""
    name = getattr(entry, "name", None) or getattr(entry, "text", None)
    return " ".join(name.casefold().split()) if name else None


def _content(entry: Entry) -> object:
    """All that it says but how it is called and what it costs; nothing where it says nothing else."""
    said = {
        f.name: getattr(entry, f.name)
        for f in fields(entry)
        if f.name not in _LABELS and getattr(entry, f.name) != _default(f)
    }
    return repr(sorted(said.items())) if said else None


def _default(field: Any) -> object:  # noqa: ANN401 (a dataclass field of any type)
    return field.default_factory() if callable(field.default_factory) else field.default


# --- references -------------------------------------------------------------------------------------


def _moved(entry: Entry, pairs: Renames) -> Entry:
    """An entry with the ids that it refers to exchanged for the new ones."""
    changed: dict[str, Any] = {}
    for field in fields(entry):
        value = getattr(entry, field.name)
        if isinstance(value, tuple) and value and is_dataclass(value[0]):
            changed[field.name] = tuple(_moved(item, pairs) for item in value)
        elif field.name in REFERENCES and value:
            changed[field.name] = _ids(value, [pairs.get(s, {}) for s in REFERENCES[field.name]])
    return replace(entry, **changed) if changed else entry


def _ids(value: object, pairs: Iterable[Mapping[str, str]]) -> object:
    def one(key: str) -> str:
        return next((table[key] for table in pairs if key in table), key)

    if isinstance(value, str):
        return one(value)
    if isinstance(value, Mapping):
        return {one(key): item for key, item in value.items()}
    assert isinstance(value, tuple)
    return tuple(one(key) for key in value)
