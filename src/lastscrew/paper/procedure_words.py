"""Sentences of a written procedure: one instruction in each, at most 20 words.

The limits are those of Simplified Technical English as secondary sources give them (rule 5.1: 20 words; rule
5.2: one instruction, from memory).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from lastscrew.audit.wording import PROCEDURAL_SENTENCE, words_in
from lastscrew.device.model import Act, Device, Joint
from lastscrew.plan.wording import part_name, tool_name


@dataclass(frozen=True, slots=True)
class _Manner:
    """How joints of one kind are opened and closed.

    Attributes:
        one, many: What its pieces are called; ``many`` is empty where they are not counted.
        opens, closes: The verbs.
        form: ``holds`` (the screws that hold A to B), ``end`` (the A plug to B), ``route`` (the A cable along
            B), ``pin`` (the A pin in B), ``seat`` (A from B).
    """

    one: str
    many: str
    opens: str
    closes: str
    form: str = "holds"


_MANNERS: Final = {
    "screw": _Manner("screw", "screws", "Remove", "Install"),
    "nut": _Manner("nut", "nuts", "Remove", "Install"),
    "rivet": _Manner("rivet", "rivets", "Remove", "Install"),
    "pin": _Manner("pin", "pins", "Remove", "Install", "pin"),
    "clip": _Manner("clip", "clips", "Release", "Close"),
    "latch": _Manner("latch", "latches", "Release", "Close"),
    "hook": _Manner("hook", "hooks", "Release", "Close"),
    "magnet": _Manner("magnet", "magnets", "Release", "Close"),
    "adhesive": _Manner("adhesive", "strips of adhesive", "Peel off", "Apply"),
    "tape": _Manner("tape", "strips of tape", "Peel off", "Apply"),
    "tie": _Manner("cable tie", "cable ties", "Remove", "Install"),
    "solder": _Manner("solder joint", "solder joints", "Disconnect", "Connect", "end"),
    "board_link": _Manner("board link", "board links", "Disconnect", "Connect", "end"),
    "plug": _Manner("plug", "plugs", "Disconnect", "Connect", "end"),
    "ribbon": _Manner("ribbon cable", "ribbon cables", "Disconnect", "Connect", "end"),
    "coax": _Manner("coaxial cable", "coaxial cables", "Disconnect", "Connect", "end"),
    "route": _Manner("cable", "cables", "Release", "Route", "route"),
    "seat": _Manner("seat", "", "Lift", "Install", "seat"),
    "other": _Manner("connection", "connections", "Release", "Close"),
}


def in_sentence(device: Device, part: str) -> str:
    """The name of a part inside a sentence: ``bottom cover``, but ``LCD panel`` and ``Steuerplatine`` stay."""
    return _lowered_in(device, part_name(device, part))


def _lowered_in(device: Device, name: str) -> str:
    plain = " ".join(name.split())
    names = "\n".join(part.name for part in device.parts.values())
    return plain if _keeps_capitals(names) else lowered(plain)


@lru_cache(maxsize=64)
def _keeps_capitals(names: str) -> bool:
    """Whether the names of a file, one a line, have capitals that belong to them.

    German nouns have theirs wherever they stand, and who writes "Bottom Cover" throughout means it so.
    """
    if any(letter in _GERMAN for letter in names):
        return True
    later = [word for line in names.split("\n") for word in line.split()[1:] if word.isalpha()]
    large = sum(word[0].isupper() and word[1:].islower() for word in later)
    return 2 * large > len(later) and large >= _FEWEST_LARGE


_GERMAN: Final = frozenset("äöüßÄÖÜ")
_FEWEST_LARGE: Final = 2
"""Words with a capital within names, from which on they are meant so (our own figure)."""

_NAMES: Final = frozenset(("Torx", "Phillips", "Pozidriv", "Allen"))
"""Recesses that are called after a name."""


def lowered(name: str) -> str:
    """A name with a small first letter, unless its first word is an abbreviation or has a number in it."""
    first = name.split(" ", maxsplit=1)[0]
    if first in _NAMES:
        return name
    if name.lower().startswith("the "):
        return lowered(name[4:])
    return name[:1].lower() + name[1:] if first[1:].islower() or len(first) == 1 else name


def side_up(side: str) -> str:
    """How the machine must lie."""
    return f"Turn the machine until its {side.replace('_', ' ')} side is up."


def opening(device: Device, joint: Joint, tool: str | None) -> tuple[str, ...]:
    """Sentences of one opening."""
    manner = _MANNERS[joint.kind]
    verb = "Loosen" if _only_loosened(joint) else manner.opens
    said = []
    if joint.wait_open_ms:
        said.append(f"Before you do this, wait for {_seconds(joint.wait_open_ms)}.")
    said.append(_instruction(device, joint, verb, closes=False))
    said += _told(device, joint, tool)
    return (*said, *_loose_pieces(joint))


def _loose_pieces(joint: Joint) -> list[str]:
    """Washers, sleeves and the like: both halves name them, so that none stays in the dish."""
    loose = [f"{count} × {' '.join(what.split())}" for what, count in joint.washers.items()]
    return [f"The loose pieces with it are {piece}." for piece in loose]


def closing(device: Device, joint: Joint, tool: str | None) -> tuple[str, ...]:
    """Sentences of one closing."""
    manner = _MANNERS[joint.kind]
    verb = "Tighten" if _only_loosened(joint) else manner.closes
    said = _renewals(device, joint.renew)
    said.append(_instruction(device, joint, verb, closes=True))
    said += _told(device, joint, tool)
    said += _loose_pieces(joint)
    if joint.order != "any":
        said.append(f"The order is {joint.order}.")
    torque = joint.torque_ncm
    if torque is None and joint.fastener:
        torque = device.fasteners[joint.fastener].torque_ncm
    if torque is not None:
        said.append(f"The torque is {torque:g} N·cm.")
    if joint.wait_close_ms:
        said.append(f"After this, wait for {_seconds(joint.wait_close_ms)}.")
    return tuple(said)


def act_sentences(device: Device, act: Act) -> tuple[str, ...]:
    """Sentences of work that is no joint."""
    said = [" ".join(act.text.split())]
    if act.tool:
        said.append(f"The tool is the {_tool(device, act.tool)}.")
    said += _renewals(device, act.renew)
    if act.wait_ms:
        said.append(f"After this, wait for {_seconds(act.wait_ms)}.")
    return tuple(said)


def _instruction(device: Device, joint: Joint, verb: str, *, closes: bool) -> str:
    """The instruction itself, in the fullest form that is not too long."""
    forms = _forms(device, joint, verb, closes=closes)
    limit = PROCEDURAL_SENTENCE.limit or 20
    return next((form for form in forms if words_in(form) <= limit), forms[-1])


def _forms(device: Device, joint: Joint, verb: str, *, closes: bool) -> tuple[str, ...]:
    manner = _MANNERS[joint.kind]
    first, *others = _in_order(device, joint)
    rest = _listed([f"the {other}" for other in others])
    new = "new " if closes and joint.reuse == "single_use" else ""
    if manner.form == "seat":
        # What is used only once there is the seal between them; the part itself goes back.
        way = "on" if closes else "from"
        return (f"{verb} the {first} {way} {rest}.", f"{verb} the {first}.")
    captive = "captive " if joint.captive else ""
    words = f"{new}{captive}{_size(device, joint)}"
    label = _label(joint, manner) if _has_twin(device, joint) else ""
    if manner.form in _WAYS:
        way = _WAYS[manner.form] if closes else "from"
        # "The touch ribbon cable of the display", not "the touch display ribbon cable".
        what = (
            f"{_counted(joint, manner, words + label)} of the {first}"
            if label or _LONG_NAME.search(first)
            else _counted(joint, manner, f"{words}{first} ")
        )
        return (
            f"{verb} {what} {way} {rest}.",
            f"{verb} {what} {way} the {others[0]}.",
            f"{verb} {what}.",
        )
    words += label
    what = _counted(joint, manner, words)
    holds = "hold" if _plural(joint) else "holds"
    return (
        f"{verb} {what} that {holds} the {first} to {rest}.",
        f"{verb} {what} that {holds} the {first} to the {others[0]}.",
        f"{verb} {what} of the {first}.",
    )


_LONG_NAME: Final = re.compile(r"\b(?:with|of|for|in|on|at|to|under|behind)\b")
"""A name within which a preposition stands: "the plug of the wheel with motor", not "the wheel with motor plug"."""

_WAYS: Final = {"end": "to", "route": "along", "pin": "in"}
"""Word before the other part when it is closed, for kinds that are named after their first part."""


def _has_twin(device: Device, joint: Joint) -> bool:
    """Whether another joint would be called the same."""
    named_by_part = _MANNERS[joint.kind].form in _WAYS
    first = _in_order(device, joint)[0]
    own = set(joint.joins)
    return any(
        other.kind == joint.kind
        and other.id != joint.id
        and (named_by_part or set(other.joins) == own)
        and _size(device, other) == _size(device, joint)
        and (not named_by_part or _in_order(device, other)[0] == first)
        for other in device.joints.values()
    )


def _label(joint: Joint, manner: _Manner) -> str:
    """What tells a joint from its twin: the words of its id, without the kind of thing that follows."""
    words = joint.id.split("_")
    said = {*manner.one.split(), *manner.many.split(), joint.kind, f"{joint.kind}s"}
    while words and words[-1] in said:
        words.pop()
    if manner.form in _WAYS:
        # "The route of the fan", not "the display route fan cable": the kind within the id says nothing more.
        words = [word for word in words if word not in said] or words
    return " ".join(word for word in words if word) + " " if any(words) else ""


def _in_order(device: Device, joint: Joint) -> list[str]:
    """Names of the parts of a joint, the fixed one last: the same in every procedure."""
    return [in_sentence(device, part) for part in _ids_in_order(device, joint)]


def first_part(device: Device, joint: Joint) -> str:
    """Id of the part that the sentences about a joint begin with."""
    return _ids_in_order(device, joint)[0]


def _ids_in_order(device: Device, joint: Joint) -> list[str]:
    cable = _MANNERS[joint.kind].form == "end"
    return sorted(
        joint.joins,
        key=lambda part: (
            device.parts[part].fixed,
            # A cable is called after what hangs on it: the pack's plug, not the board's.
            cable and device.parts[part].identity,
            cable and not device.parts[part].energy,
        ),
    )


def _plural(joint: Joint) -> bool:
    return joint.count > 1 or "count" in joint.unknown


def _counted(joint: Joint, manner: _Manner, words: str) -> str:
    if "count" in joint.unknown:
        return f"the {words}{manner.many}"
    return (
        f"the {joint.count} {words}{manner.many}" if joint.count > 1 else f"the {words}{manner.one}"
    )


def _size(device: Device, joint: Joint) -> str:
    fastener = device.fasteners.get(joint.fastener) if joint.fastener else None
    if fastener is None or not fastener.thread or fastener.length_mm is None:
        return ""
    thread = fastener.thread.replace(" ", "")
    return f"{thread}x{fastener.length_mm:g} "


def _told(device: Device, joint: Joint, tool: str | None) -> list[str]:
    """What is the same for both halves."""
    said = []
    fastener = device.fasteners.get(joint.fastener) if joint.fastener else None
    if fastener is not None and fastener.drive:
        said.append(f"The drive is {' '.join(fastener.drive.split())}.")
    if tool:
        said.append(f"The tool is the {_tool(device, tool)}.")
    if joint.hold_by:
        holders = {"hand": "your hand", "jig": "a jig", "second_person": "a second person"}
        said.append(f"During this, {holders[joint.hold_by]} must support the part.")
    return said


def _tool(device: Device, tool: str) -> str:
    return _lowered_in(device, tool_name(device, tool))


def _only_loosened(joint: Joint) -> bool:
    return joint.kind in ("screw", "nut") and (joint.captive or joint.loosen_only)


def _renewals(device: Device, renew: Mapping[str, float]) -> list[str]:
    said = []
    for supply, amount in renew.items():
        entry = device.supplies[supply]
        unit = " ".join(entry.unit.split())
        name = _lowered_in(device, entry.name)
        if unit in _PIECES and amount == 1:
            said.append(f"Use a new {name}.")
            continue
        said.append(f"Apply new {name}.")
        said.append(f"The amount is {amount:g} {unit}".rstrip() + ".")
    return said


_PIECES: Final = frozenset(("piece", "pieces", "pc", "pcs", "each"))
"""Units of what is counted: one of it has no amount to be told."""


def note_of(joint: Joint, *, opens: bool) -> str:
    """The note of a joint for one of its halves, on one line."""
    return " ".join(((joint.note_open if opens else joint.note_close) or "").split())


def _seconds(ms: int) -> str:
    return "1 second" if ms == 1000 else f"{ms / 1000:g} seconds"


def _listed(names: list[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + f" and {names[-1]}"
