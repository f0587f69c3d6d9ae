"""How joints, parts and amounts are called where people read them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from lastscrew.device.model import Device, Fastener, Joint
from lastscrew.saying import changed, joined, say

_SIDES: Mapping[str, str] = {
    name: name
    for name in (
        say("bottom", context="side"),
        say("top", context="side"),
        say("left", context="side"),
        say("right", context="side"),
        say("front", context="side"),
        say("back", context="side"),
        say("rear", context="side"),
        say("edge", context="side"),
        say("upright", context="side"),
        say("tipped", context="side"),
    )
}
_SINGULAR_IN_S = ("ss", "us", "is", "lens", "gas")


def joint_name(device: Device, joint_id: str) -> str:
    """The joint's name, made from its id where the file gives none (``pack_plug``: Pack plug)."""
    joint = device.joints.get(joint_id)
    return (joint.name if joint is not None else None) or _from_id(joint_id)


def part_name(device: Device, part_id: str) -> str:
    """The name of a part or spare."""
    part = device.parts.get(part_id)
    if part is not None:
        return part.name
    spare = device.spares.get(part_id)
    return spare.name if spare is not None else _from_id(part_id)


def piece_name(device: Device, piece: str) -> str:
    """A piece that is exchanged: ``Fan``, or ``Screen + Frame in one piece`` for several parts."""
    names = [part_name(device, word.strip()) for word in piece.split("+")]
    return names[0] if len(names) == 1 else say("{parts} in one piece", parts=" + ".join(names))


def tool_name(device: Device, tool_id: str | None) -> str:
    """The name of a tool; ``hand`` for none."""
    if tool_id is None:
        return say("hand", context="tool")
    tool = device.tools.get(tool_id)
    return tool.name if tool is not None else _from_id(tool_id)


def side_name(side: str) -> str:
    """A side as people call it: the usual ones in their own language, any other as the device file has it."""
    return _SIDES.get(side, side)


def unit_name(unit: str) -> str:
    """A unit as people write it; only ``piece`` is a word of our own."""
    return say("piece", context="unit") if unit == "piece" else unit


def _from_id(key: str) -> str:
    return key.replace("_", " ").capitalize()


def marked(name: str) -> str:
    """A name set off from the sentence around it, as in ``*Pack plug*``."""
    return joined("", ("*", name, "*"))


def plain(text: str) -> str:
    """Words without the stars that set names off."""
    return changed(text, lambda name: name.replace("*", ""))


def is_plural(name: str) -> bool:
    """True when a verb after this English name has no s (screws tie, a screw ties)."""
    last = name.lower().split()[-1:] or [""]
    return last[0].endswith("s") and not last[0].endswith(_SINGULAR_IN_S)


def how_many(name: str) -> int:
    """2 for an English name that takes a verb without s, else 1: what ``n`` is to :func:`say`."""
    return 2 if is_plural(name) else 1


def verb(name: str, plural: str, singular: str) -> str:
    """The form of a verb that goes with a name."""
    return plural if is_plural(name) else singular


def listed(
    names: Sequence[str], *, word: Literal["and", "or"] = "and", limit: int | None = None
) -> str:
    """Names as a sentence lists them: ``a``, ``a and b``, ``a, b and c``; a long list is cut short."""
    shown = list(names)
    if len(shown) < 2 and (limit is None or limit > 0):
        return shown[0] if shown else ""
    cut = limit is not None and len(shown) > limit
    kept = shown[:limit] if cut else shown[:-1]
    last = say("{count} more", count=len(shown) - len(kept)) if cut else shown[-1]
    first = joined(", ", kept)
    if word == "or":
        return say("{names} or {last}", names=first, last=last)
    return say("{names} and {last}", names=first, last=last)


def fastener_text(fastener: Fastener) -> str:
    """A fastener as the trade writes it: ``M2 × 5 mm pan PH1``; its id where the file says nothing."""
    size = fastener.thread or ""
    if fastener.length_mm is not None:
        size = f"{size} × {fastener.length_mm:g} mm" if size else f"{fastener.length_mm:g} mm"
    words = [word for word in (size, fastener.head, fastener.drive, fastener.finish) if word]
    return " ".join(words) or fastener.id


def pieces_text(device: Device, joint: Joint) -> str:
    """How many of what make up a joint (``9 M2×5``, ``× 12``); empty for one without a fastener."""
    fastener = device.fasteners.get(joint.fastener) if joint.fastener else None
    if fastener is None:
        return f"× {joint.count}" if joint.count > 1 else ""
    short = fastener.thread or fastener.id
    if fastener.length_mm is not None:
        short = f"{short}×{fastener.length_mm:g}"
    return f"{joint.count} {short}" if joint.count > 1 else short


def seconds(ms: int) -> int | float:
    """Milliseconds as the seconds that JSON shows: exact, with at most three decimals."""
    return ms // 1000 if ms % 1000 == 0 else ms / 1000


def clock(ms: int) -> str:
    """A point in time as people read it: ``4:05``, ``1:02:30``."""
    whole = (ms + 500) // 1000
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{secs:02d}" if hours else f"{minutes}:{secs:02d}"
