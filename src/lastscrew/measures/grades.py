"""How fasteners and tools are graded, as the EU repairability index does it.

Grades of fasteners follow from what the device file says about re-use, renewal and what comes with a
spare. Which tools count as basic is a closed list of the regulation (after EN 45554); it was not at
hand, the words below are from memory of it. Whoever knows better says so for each tool.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from lastscrew.device.model import Device, Joint
from lastscrew.measures.index import FASTENER_SCORES, TOOL_SCORES

RENEWED_KINDS = ("adhesive", "tape", "tie", "rivet", "solder")
"""Kinds of joint that are used up when they are opened, unless the device file says otherwise: what
a joint of another kind renews (compound under a heat sink) is no fastener."""

BASIC_DRIVES = ("SL", "PH", "PZ", "TX", "T", "H", "HEX")
"""Drives whose drivers and keys are basic tools: slotted, cross-recess, hexalobular, hexagon socket."""

BASIC_WORDS = (
    r"screwdrivers?", r"hex(agon)?( socket)? keys?", r"allen keys?", r"spanners?", r"wrench(es)?",
    r"pliers", r"(diagonal |side )?cutters?", r"tweezers", r"spudgers?", r"levers?", r"prying \w+",
    r"(opening )?picks?", r"hammers?", r"magnif\w+", r"knife", r"nut drivers?",
)  # fmt: skip
"""Words in a tool's name that stand for a basic tool (from memory of the list)."""

SPECIAL_WORDS = (
    r"heat\w*", r"hot air", r"iron", r"press", r"suction", r"cup", r"clamp", r"jig", r"solder\w*",
    r"electric", r"powered", r"puller", r"extractor", r"torque",
)  # fmt: skip
"""Words that keep a tool from being taken for basic."""


@dataclass(frozen=True, slots=True)
class Graded:
    """One fastener (a joint) or one tool with its grade.

    Attributes:
        id: Joint or tool id; "" for the bare hand.
        grade: ``reusable``, ``resupplied``, ``removable``; or ``none``, ``basic``, ``with spare
            part``, ``with product``, ``commercial``.
        score: 1 to 5.
        why: One phrase: what the grade rests on.
        assumed: True when it rests on a guess.
    """

    id: str
    grade: str
    score: int
    why: str
    assumed: bool = False


def grade_fastener(device: Device, joint: Joint, piece: Collection[str]) -> Graded:
    """Grade what a joint is held with, when ``piece`` (part ids) is what is exchanged."""
    used_up = set(joint.renew) if joint.kind in RENEWED_KINDS else set()
    if joint.reuse == "single_use":
        used_up |= {joint.fastener} if joint.fastener else set(joint.renew)
    elif not used_up:
        if joint.kind not in RENEWED_KINDS:
            return _fastener(joint, "reusable", "goes back as it came out")
        why = f"{joint.kind}, and the device file does not say what renews it"
        return _fastener(joint, "removable", why, assumed=True)
    with_spare = _comes_with_spare(device, piece)
    if used_up and used_up <= with_spare:
        return _fastener(
            joint, "resupplied", f"{_listed(device, used_up)}: comes with the spare part"
        )
    wanting = _listed(device, used_up - with_spare) or joint.kind
    return _fastener(joint, "removable", f"to be renewed, and not with the spare part: {wanting}")


def _fastener(joint: Joint, grade: str, why: str, *, assumed: bool = False) -> Graded:
    return Graded(joint.id, grade, FASTENER_SCORES[grade], why, assumed)


def _comes_with_spare(device: Device, piece: Collection[str]) -> set[str]:
    """Supplies and fasteners that come with any spare that holds a part of the piece."""
    return {
        included
        for spare in device.spares.values()
        if set(spare.contains) & set(piece)
        for included in spare.includes
    }


def _listed(device: Device, ids: Collection[str]) -> str:
    return ", ".join(device.supplies[i].name if i in device.supplies else i for i in sorted(ids))


def grade_tool(device: Device, tool_id: str | None, known: Mapping[str, str]) -> Graded:
    """Grade a tool: as ``known`` says (tool id to grade), else by its drives and its name."""
    if tool_id is None:
        return Graded("", "none", TOOL_SCORES["none"], "by hand")
    if tool_id in known:
        grade = known[tool_id]
        return Graded(tool_id, grade, TOOL_SCORES[grade], "as you said")
    tool = device.tools.get(tool_id)
    name = (tool.name if tool else tool_id).lower()
    if _has(name, SPECIAL_WORDS):
        why = "by its name; taken as sold in shops only"
        return Graded(tool_id, "commercial", TOOL_SCORES["commercial"], why, assumed=True)
    drives = [drive for drive in (tool.fits if tool else ()) if _is_basic_drive(drive)]
    if drives:
        return Graded(tool_id, "basic", TOOL_SCORES["basic"], f"fits {drives[0]}", assumed=True)
    if _has(name, BASIC_WORDS):
        return Graded(tool_id, "basic", TOOL_SCORES["basic"], "by its name", assumed=True)
    why = "on no list of basic tools; taken as sold in shops"
    return Graded(tool_id, "commercial", TOOL_SCORES["commercial"], why, assumed=True)


def _is_basic_drive(drive: str) -> bool:
    match = re.fullmatch(r"([A-Z]+)\s*[\d./]*", drive.strip().upper())
    return match is not None and match[1] in BASIC_DRIVES


def _has(name: str, words: Collection[str]) -> bool:
    return re.search(rf"\b({'|'.join(words)})\b", name) is not None
