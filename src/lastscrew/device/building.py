"""From values to the device: defaults filled in, accesses resolved, what the model lacks put aside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from lastscrew.device.building_diagnosis import (
    build_check,
    build_fault,
    build_symptom,
    with_named_checks,
)
from lastscrew.device.keys import ACCESS_KEYS, DEFAULT_SIDES
from lastscrew.device.model import (
    DEFAULT_SWAP_MS,
    DEFAULT_TURN_MS,
    POWERED_KINDS,
    RIGID_KINDS,
    Access,
    Act,
    Device,
    Fastener,
    Function,
    Hazard,
    Joint,
    Measure,
    Option,
    Part,
    Point,
    Spare,
    Supply,
    Tool,
)
from lastscrew.device.names import device_id_from_name, name_from_id
from lastscrew.device.values import UNKNOWN

Values = Mapping[str, Any]

_WAS_SECTIONS: Final = frozenset(("parts", "joints", "symptoms", "checks", "faults"))
"""Sections whose entries have a place for ``was`` in the model."""


def build_device(top: Values, extras: Mapping[str, object]) -> Device:
    """The device of a file whose values were read; missing entries of bad ones are tolerated.

    Args:
        top: Values of the top level; sections map ids to values of entries.
        extras: Extensions by path, as they are.
    """
    header: Values = top.get("device", {})
    sides = tuple(top.get("sides") or DEFAULT_SIDES)
    name = header.get("name", "")
    section = {key: top.get(key, {}) for key in _BUILDERS}
    entries: dict[str, Any] = {
        key: {i: _BUILDERS[key](i, values, sides[0]) for i, values in found.items()}
        for key, found in section.items()
        if key != "joints"
    }
    joints = {i: build_joint(i, values, sides[0]) for i, values in section["joints"].items()}
    entries["functions"] = with_named_checks(entries["functions"], entries["checks"])
    kept = dict(extras)
    kept.update(_without_place(header, section))
    return Device(
        id=header.get("id") or device_id_from_name(name),
        name=name,
        sides=sides,
        joints=joints,
        turn_ms=top.get("turn_s", DEFAULT_TURN_MS),
        turn_given="turn_s" in top,
        kind=header.get("kind", ""),
        revision=header.get("revision", ""),
        frame_mm=_frames(header.get("frame_mm"), sides),
        note=header.get("note"),
        extra=kept,
        **entries,
    )


def with_stand_ins(top: Values, parts: Iterable[str]) -> dict[str, Any]:
    """What can be asked whether its joints can be reached, although some entries could not be used.

    Parts whose own entry is bad become plain ones; joints without kind or parts to join are left out,
    and so is an ``after`` that leads to one.
    """
    joints = {
        i: v
        for i, v in top.get("joints", {}).items()
        if "kind" in v and len(v.get("joins", ())) > 1
    }
    usable = {
        i: {**v, "after": [j for j in v.get("after", ()) if j in joints]} for i, v in joints.items()
    }
    named = [
        part
        for v in joints.values()
        for place in (v, *v.get("access", ()))
        for part in place.get("under", ())
    ]
    named += [part for v in joints.values() for part in v["joins"]]
    stand_ins: dict[str, Values] = {part: {} for part in (*parts, *named)}
    return {**top, "parts": {**stand_ins, **top.get("parts", {})}, "joints": usable}


def _without_place(header: Values, section: Mapping[str, Values]) -> dict[str, object]:
    """``was`` and ``sources`` of entries that have no field for them."""
    kept: dict[str, object] = {
        f"device.{key}": header[key] for key in ("was", "sources") if key in header
    }
    for key, found in section.items():
        if key not in _WAS_SECTIONS:
            kept.update({f"{key}.{i}.was": v["was"] for i, v in found.items() if "was" in v})
    return kept


def _frames(given: Values | Point | None, sides: tuple[str, ...]) -> dict[str, Point]:
    """Frame of each side; one pair serves all."""
    if given is None:
        return {}
    return dict(given) if isinstance(given, Mapping) else dict.fromkeys(sides, given)


def _picked(v: Values, plain: tuple[str, ...], lists: tuple[str, ...] = ()) -> dict[str, Any]:
    """The values that are there, by the names that keys and fields share; lists as tuples."""
    return {key: v[key] for key in plain if key in v} | {
        key: tuple(v[key]) for key in lists if key in v
    }


_FASTENER_PLAIN = (
    "thread", "length_mm", "drive", "head", "finish", "torque_ncm", "order_code", "price", "sources",
)  # fmt: skip
_PART_PLAIN = (
    "fixed", "order_code", "price", "serial", "identity", "energy", "if_fitted", "note", "was", "sources",
)  # fmt: skip
_PART_LISTS = ("functions", "hazards", "loses", "outline_mm")


def _build_tool(i: str, v: Values, _side: str) -> Tool:
    return Tool(
        i,
        v.get("name") or name_from_id(i),
        tuple(v.get("fits", ())),
        v.get("swap_s", DEFAULT_SWAP_MS),
        "swap_s" in v,
        v.get("sources", {}),
    )


def _build_fastener(i: str, v: Values, _side: str) -> Fastener:
    return Fastener(id=i, **_picked(v, _FASTENER_PLAIN))


def _build_supply(i: str, v: Values, _side: str) -> Supply:
    return Supply(
        i,
        v.get("name") or name_from_id(i),
        v.get("unit", ""),
        v.get("order_code"),
        v.get("price"),
        v.get("sources", {}),
    )


def _build_hazard(i: str, v: Values, _side: str) -> Hazard:
    return Hazard(i, v.get("signal", "caution"), v.get("text", ""), v.get("sources", {}))


def _build_function(i: str, v: Values, _side: str) -> Function:
    m = v.get("measure")
    measure = None if m is None else Measure(m.get("unit", ""), m.get("low"), m.get("high"))
    return Function(
        i,
        v.get("name") or name_from_id(i),
        v.get("check", ""),
        v.get("check_s", 0),
        measure,
        tuple(v.get("needs", ())),
        v.get("sources", {}),
    )


def _build_option(i: str, v: Values, _side: str) -> Option:
    return Option(i, v.get("name") or name_from_id(i), v.get("fitted", True), v.get("sources", {}))


def _build_part(i: str, v: Values, _side: str) -> Part:
    return Part(id=i, name=v.get("name") or name_from_id(i), **_picked(v, _PART_PLAIN, _PART_LISTS))


def _build_spare(i: str, v: Values, _side: str) -> Spare:
    return Spare(
        i,
        v.get("name") or name_from_id(i),
        tuple(v.get("contains", ())),
        v.get("order_code"),
        v.get("price"),
        tuple(v.get("includes", ())),
        v.get("sources", {}),
    )


def _build_act(i: str, v: Values, _side: str) -> Act:
    hold = v.get("hold")
    joint, when_opened = v.get("joint"), v.get("when_opened", ())
    if joint is not None and v.get("at") in ("start", "turning", "end"):
        joint, when_opened = None, when_opened or (joint,)
    return Act(
        id=i,
        text=v.get("text", ""),
        at=v.get("at", "start"),
        joint=joint,
        when_replaced=tuple(v.get("when_replaced", ())),
        when_opened=tuple(when_opened),
        ms=v.get("seconds", 0),
        wait_ms=v.get("wait_s", 0),
        tool=v.get("tool"),
        renew=v.get("renew", {}),
        hold=v.get("text", "") if hold is True else hold,
        evidence=tuple(v.get("evidence", ())),
        sources=v.get("sources", {}),
    )


_JOINT_PLAIN = (
    "isolates", "captive", "loosen_only", "order", "group", "torque_ncm", "into", "max_length_mm", "reuse",
    "renew", "damage", "hold_by", "hold", "note_open", "note_close", "if_fitted", "was",
)  # fmt: skip
_JOINT_LISTS = ("after", "positions_mm", "functions", "hazards", "loses", "prove_before_close")


def build_joint(i: str, v: Values, first_side: str) -> Joint:
    """A joint with kind-dependent defaults filled in and its accesses resolved."""
    kind = v["kind"]
    powered = v.get("powered", kind in POWERED_KINDS)
    count, unknown = (
        v.get("count", 1),
        tuple(k for k in ("fastener", "count") if v.get(k) is UNKNOWN),
    )
    if count is UNKNOWN:
        count = max(len(v.get("positions_mm", ())), 1)
    fastener = v.get("fastener")
    given: list[Values] = list(v.get("access", ())) or [
        {k.name: v[k.name] for k in ACCESS_KEYS if k.name in v}
    ]
    sources: dict[str, str] = dict(v.get("sources", {}))
    for index, access in enumerate(given):
        prefix = f"access[{index}]." if len(given) > 1 else ""
        sources.update({f"{prefix}{key}": text for key, text in access.get("sources", {}).items()})
    return Joint(
        id=i,
        kind=kind,
        joins=tuple(v["joins"]),
        accesses=tuple(_build_access(access, v, first_side) for access in given),
        rigid=v.get("rigid", kind in RIGID_KINDS),
        powered=powered is True,
        shutdown=powered == "shutdown",
        fastener=None if fastener is UNKNOWN else fastener,
        count=count,
        washers=v.get("with", {}),
        wait_open_ms=v.get("wait_open_s", 0),
        wait_close_ms=v.get("wait_close_s", 0),
        unknown=unknown,
        sources=sources,
        **_picked(v, _JOINT_PLAIN, _JOINT_LISTS),
    )


def _build_access(a: Values, joint: Values, first_side: str) -> Access:
    """One way to reach a joint; its times are the joint's where it gives none of its own."""
    unknown = [k for k in ("side", "tool") if a.get(k) is UNKNOWN]
    times: dict[str, int | None] = {}
    for key in ("open_s", "close_s"):
        own, general = a.get(key), joint.get(key)
        if own is UNKNOWN or (own is None and general is UNKNOWN):
            unknown.append(key)
        value = general if own is None or own is UNKNOWN else own
        times[key] = None if value is UNKNOWN else value
    tool = None if a.get("tool") is UNKNOWN else a.get("tool")
    side = a.get("side")
    return Access(
        side=first_side if side is None or side is UNKNOWN else side,
        tool=tool,
        under=tuple(a.get("under", ())),
        close_tool=a.get("close_tool", tool),
        open_ms=times["open_s"],
        close_ms=times["close_s"],
        unknown=tuple(unknown),
    )


_BUILDERS: Final[dict[str, Any]] = {
    "tools": _build_tool,
    "fasteners": _build_fastener,
    "supplies": _build_supply,
    "hazards": _build_hazard,
    "functions": _build_function,
    "options": _build_option,
    "parts": _build_part,
    "spares": _build_spare,
    "joints": build_joint,
    "acts": _build_act,
    "symptoms": build_symptom,
    "checks": build_check,
    "faults": build_fault,
}
