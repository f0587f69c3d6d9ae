"""Writing a device as a device file, and the revision that its content has.

What is written is the shortest way to say the same: defaults are left out, one access stands on its
joint. Reading it gives back an equal device.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import fields
from hashlib import sha256
from typing import Any, Final, TypeAlias

from lastscrew.device.building_diagnosis import without_named_check
from lastscrew.device.emitting import Comments, Data, block_lines
from lastscrew.device.keys import DEFAULT_SIDES, FORMAT, SECTIONS
from lastscrew.device.model import (
    POWERED_KINDS,
    RIGID_KINDS,
    Access,
    Act,
    Device,
    Function,
    Joint,
    Option,
    Part,
    Spare,
    Supply,
    Tool,
)
from lastscrew.device.names import device_id_from_name, extra_steps, name_from_id
from lastscrew.device.writing_diagnosis import check_tree, fault_tree, seconds, symptom_tree

Tree: TypeAlias = dict[str, Any]
Entry: TypeAlias = Any
"""A dataclass of the model."""


def write_device(device: Device, comments: Mapping[str, str] | None = None) -> str:
    """The device as the text of a device file.

    Args:
        device: The device; its ids and references are taken as they are.
        comments: Comments by path (``joints.lid.count``; empty path: above everything), one or more
            lines each, without ``#``.

    Returns:
        YAML 1.2; reading it gives an equal device.
    """
    told = Comments(comments or {})
    lines = told.lines("", "")
    sections = {section.name for section in SECTIONS}
    for key, value in device_tree(device).items():
        if key in sections and lines:
            lines.append("")
        lines.extend(block_lines({key: value}, 0, told, "", open_up=key in sections))
    return "\n".join(lines) + "\n"


def revision_of(device: Device) -> str:
    """SHA-256 (hex) of what the file says, whatever its formatting, comments, order of keys and defaults."""
    tree = json.dumps(device_tree(device), sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return sha256(tree.encode("ascii")).hexdigest()


def device_tree(device: Device) -> Tree:
    """The device as plain data in the shape of the file, defaults left out."""
    tree: Tree = {"format": FORMAT, "device": _header(device)}
    if device.sides != DEFAULT_SIDES:
        tree["sides"] = list(device.sides)
    if device.turn_given:
        tree["turn_s"] = seconds(device.turn_ms)
    for section in SECTIONS:
        entries: Mapping[str, Any] = getattr(device, section.name)
        if entries or section.required:
            write = _ENTRIES.get(section.name, _plain_entry)
            tree[section.name] = {i: write(entry, device) for i, entry in entries.items()}
    _put_extras(tree, device.extra)
    return tree


def _header(device: Device) -> Tree:
    header: Tree = {} if device.id == device_id_from_name(device.name) else {"id": device.id}
    header["name"] = device.name
    header.update(_given({"kind": device.kind, "revision": device.revision, "note": device.note}))
    if device.frame_mm:
        header["frame_mm"] = {side: list(size) for side, size in device.frame_mm.items()}
    return header


def _given(values: Mapping[str, Any]) -> Tree:
    """Without what says nothing: None, False, empty text, lists and mappings."""
    return {
        key: _plain(value)
        for key, value in values.items()
        if value is not None and value is not False and value not in ("", (), {}, [])
    }


def _plain(value: Data) -> Data:
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value


def _plain_entry(entry: Entry, _device: Device) -> Tree:
    """An entry whose fields are its keys."""
    return _given({f.name: getattr(entry, f.name) for f in fields(entry) if f.name != "id"})


def _named(entry: Entry) -> Tree:
    return {} if entry.name == name_from_id(entry.id) else {"name": entry.name}


def _tool(tool: Tool, _device: Device) -> Tree:
    tree = _named(tool) | _given({"fits": tool.fits})
    if tool.swap_given:
        tree["swap_s"] = seconds(tool.swap_ms)
    return tree | _given({"sources": tool.sources})


def _named_entry(entry: Part | Spare | Supply, device: Device) -> Tree:
    tree = _plain_entry(entry, device)
    tree.pop("name", None)
    return _named(entry) | tree


def _function(function: Function, device: Device) -> Tree:
    """A function that names an entry of ``checks`` says only what differs from that."""
    tree = _named(function) | _given({"check": function.entry or function.check})
    if function.entry is not None and function.entry in device.checks:
        function = without_named_check(function, device.checks[function.entry])
    if function.check_ms:
        tree["check_s"] = seconds(function.check_ms)
    if function.measure is not None:
        measure = function.measure
        limits = {"low": measure.low, "high": measure.high}
        tree["measure"] = {"unit": measure.unit} | {
            k: _plain(v) for k, v in limits.items() if v is not None
        }
    return tree | _given({"needs": function.needs, "sources": function.sources})


def _option(option: Option, _device: Device) -> Tree:
    return (
        _named(option)
        | ({} if option.fitted else {"fitted": False})
        | _given({"sources": option.sources})
    )


def _act(act: Act, _device: Device) -> Tree:
    tree: Tree = {"text": act.text, "at": act.at}
    tree |= _given(
        {"joint": act.joint, "when_replaced": act.when_replaced, "when_opened": act.when_opened}
    )
    if act.ms:
        tree["seconds"] = seconds(act.ms)
    if act.wait_ms:
        tree["wait_s"] = seconds(act.wait_ms)
    tree |= _given({"tool": act.tool, "renew": act.renew})
    if act.hold is not None:
        tree["hold"] = True if act.hold == act.text else act.hold
    return tree | _given({"evidence": act.evidence, "sources": act.sources})


_BEFORE_TIMES: Final = (
    "after",
    "isolates",
    "fastener",
    "count",
    "captive",
    "loosen_only",
    "washers",
    "positions_mm",
    "order",
    "group",
    "torque_ncm",
    "into",
    "max_length_mm",
    "reuse",
    "renew",
)
_AFTER_TIMES: Final = (
    "damage",
    "hold_by",
    "functions",
    "hazards",
    "loses",
    "hold",
    "prove_before_close",
    "note_open",
    "note_close",
    "if_fitted",
    "was",
)
_DEFAULTS: Final[Mapping[str, object]] = {"count": 1, "order": "any", "reuse": "reusable"}


def _joint(joint: Joint, device: Device) -> Tree:
    tree: Tree = {"kind": joint.kind, "joins": list(joint.joins)}
    if joint.kind == "other" or joint.rigid != (joint.kind in RIGID_KINDS):
        tree["rigid"] = joint.rigid
    if joint.shutdown:
        tree["powered"] = "shutdown"
    elif joint.powered != (joint.kind in POWERED_KINDS):
        tree["powered"] = joint.powered
    sources = dict(joint.sources)
    if not _needs_list(joint, device):
        tree |= _access(joint.accesses[0], device)
    else:
        tree |= _times_of_unknown(joint)
        tree["access"] = [
            _access(access, device) | _given({"sources": _sources_of_access(sources, index)})
            for index, access in enumerate(joint.accesses)
        ]
    for name in (*_BEFORE_TIMES, *_AFTER_TIMES):
        value = getattr(joint, name)
        if value != _DEFAULTS.get(name):
            tree |= _given({"with" if name == "washers" else name: value})
        if name == "renew":
            waits = {"wait_open_s": joint.wait_open_ms, "wait_close_s": joint.wait_close_ms}
            tree |= {key: seconds(ms) for key, ms in waits.items() if ms}
    tree |= dict.fromkeys(joint.unknown, "unknown")
    return tree | _given({"sources": sources})


def _needs_list(joint: Joint, device: Device) -> bool:
    """False when the one access can stand on the joint itself without losing anything."""
    if len(joint.accesses) != 1:
        return True
    prefix = f"joints.{joint.id}.access["
    return bool(_times_of_unknown(joint)) or any(path.startswith(prefix) for path in device.extra)


def _times_of_unknown(joint: Joint) -> Tree:
    """The joint's own time where an access says ``unknown`` and so falls back on it."""
    tree: Tree = {}
    for access in joint.accesses:
        for key, ms in (("open_s", access.open_ms), ("close_s", access.close_ms)):
            if key in access.unknown and ms is not None:
                tree[key] = seconds(ms)
    return tree


def _sources_of_access(sources: dict[str, str], index: int) -> dict[str, str]:
    """Take the sources of one access out of those of its joint."""
    prefix = f"access[{index}]."
    keys = [key for key in sources if key.startswith(prefix)]
    return {key.removeprefix(prefix): sources.pop(key) for key in keys}


def _access(access: Access, device: Device) -> Tree:
    tree: Tree = {}
    if access.side != device.sides[0]:
        tree["side"] = access.side
    tree |= _given({"under": access.under, "tool": access.tool})
    if access.close_tool != access.tool:
        tree["close_tool"] = access.close_tool or "hand"
    for key, ms in (("open_s", access.open_ms), ("close_s", access.close_ms)):
        if ms is not None:
            tree[key] = seconds(ms)
    return tree | dict.fromkeys(access.unknown, "unknown")


_ENTRIES: Final[dict[str, Callable[[Any, Device], Tree]]] = {
    "tools": _tool,
    "supplies": _named_entry,
    "functions": _function,
    "options": _option,
    "parts": _named_entry,
    "spares": _named_entry,
    "joints": _joint,
    "acts": _act,
    "symptoms": symptom_tree,
    "checks": check_tree,
    "faults": fault_tree,
}


def _put_extras(tree: Tree, extras: Mapping[str, object]) -> None:
    """Put what the model has no field for back where it was."""
    for path, value in extras.items():
        steps = extra_steps(path)
        place: Any = tree
        for step in steps[:-1]:
            if isinstance(step, int):
                place = place[step] if isinstance(place, list) and step < len(place) else None
            else:
                place = place.setdefault(step, {}) if isinstance(place, dict) else None
        if isinstance(place, dict):
            place[steps[-1]] = value
