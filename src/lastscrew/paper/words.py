"""Short phrases that pictures and sheets use, on top of the names that a plan uses."""

from __future__ import annotations

from lastscrew.device.model import Device
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.model import Limb, Plan, Step
from lastscrew.plan.wording import (
    joint_name,
    listed,
    piece_name,
    pieces_text,
    side_name,
    tool_name,
)
from lastscrew.saying import joined, say


def piece_names(device: Device, plan: Plan) -> str:
    """What is exchanged, in words; empty when nothing is."""
    return joined(", ", (piece_name(device, wanted) for wanted in plan.request.replace))


def tool_words(device: Device, tool: str | None) -> str:
    """The name of a tool, or ``by hand``."""
    return say("by hand") if tool is None else tool_name(device, tool)


def stage_words(device: Device, step: Step, *, first: bool) -> str:
    """Side and tool of a stage; the side only where it is turned to or at the beginning."""
    tool = tool_words(device, step.tool)
    if step.turn_ms:
        return say("turn to {side}, {tool}", side=side_name(step.side), tool=tool)
    return joined(", ", (side_name(step.side), tool)) if first else tool


def count_words(device: Device, joint: str) -> str:
    """How many of what: ``9 M2×5 PH1``, ``12 clips``; empty for a single thing without a fastener."""
    found = device.joints[joint]
    fastener = device.fasteners.get(found.fastener) if found.fastener else None
    if fastener is not None:
        return " ".join(filter(None, (pieces_text(device, found), fastener.drive)))
    if found.count == 1:
        return ""
    if found.kind == "other":
        return f"{found.count} ×"
    return joined(" ", (str(found.count), plural(found.kind)))


def plural(kind: str) -> str:
    """Several joints of a kind: ``latches``, ``board links``."""
    return SEVERAL.get(kind, f"{kind.replace('_', ' ')}s")


SEVERAL: dict[str, str] = {
    "screw": say("screws"),
    "nut": say("nuts"),
    "clip": say("clips"),
    "latch": say("latches"),
    "hook": say("hooks"),
    "magnet": say("magnets"),
    "adhesive": say("beads of adhesive"),
    "rivet": say("rivets"),
    "solder": say("solder points"),
    "pin": say("pins"),
    "seat": say("seats"),
    "board_link": say("board links"),
    "plug": say("plugs"),
    "ribbon": say("ribbons"),
    "coax": say("coax leads"),
    "tape": say("tapes"),
    "tie": say("ties"),
    "route": say("routes"),
}
"""Several joints of each kind."""


def torque_ncm(device: Device, joint: str) -> float | None:
    """Torque of a joint: its own, else its fastener's."""
    found = device.joints[joint]
    if found.torque_ncm is not None:
        return found.torque_ncm
    fastener = device.fasteners.get(found.fastener) if found.fastener else None
    return fastener.torque_ncm if fastener else None


def joint_details(device: Device, joint: str, limb: Limb) -> str:
    """Count, size and drive; on the way out torque and order as well."""
    found = device.joints[joint]
    words = [count_words(device, joint)]
    if limb == "in":
        words.append(say("captive") if found.captive else "")
        words.append(say("loosen only") if found.loosen_only else "")
    else:
        torque = torque_ncm(device, joint)
        words.append("" if torque is None else say("{torque} N·cm", torque=float(torque)))
        words.append(ORDERS.get(found.order, found.order))
    return joined(", ", (word for word in words if word))


ORDERS: dict[str, str] = {"any": "", "numbered": say("numbered"), "crosswise": say("crosswise")}
"""In which order the pieces of a joint are tightened, in a word."""

VERBS: dict[str, tuple[str, str]] = {
    "screw": (say("Take out", context="open"), say("Fit", context="close")),
    "nut": (say("Take off", context="open"), say("Fit", context="close")),
    "clip": (say("Release", context="open clip"), say("Press in", context="close")),
    "latch": (say("Unlatch", context="open"), say("Latch", context="close")),
    "hook": (say("Unhook", context="open"), say("Hook in", context="close")),
    "magnet": (say("Pull off", context="open"), say("Set", context="close")),
    "adhesive": (say("Detach", context="open"), say("Bond", context="close")),
    "rivet": (say("Remove", context="open"), say("Set", context="close")),
    "solder": (say("Unsolder", context="open"), say("Solder", context="close")),
    "pin": (say("Draw out", context="open"), say("Put in", context="close")),
    "seat": (say("Free", context="open"), say("Seat", context="close")),
    "board_link": (say("Separate", context="open"), say("Join", context="close")),
    "plug": (say("Unplug", context="open"), say("Plug in", context="close")),
    "ribbon": (say("Disconnect", context="open"), say("Connect", context="close")),
    "coax": (say("Pull off", context="open"), say("Press on", context="close")),
    "tape": (say("Peel off", context="open"), say("Stick on", context="close")),
    "tie": (say("Undo", context="open"), say("Tie", context="close")),
    "route": (say("Free", context="open"), say("Lay", context="close")),
}
"""How each kind of joint is opened and closed, in a word or two."""


def step_verb(device: Device, joint: str, limb: Limb) -> str:
    """What is done to a joint: ``Take out``, ``Plug in``."""
    found = device.joints[joint]
    if found.loosen_only or (found.captive and found.kind in ("screw", "nut")):
        return say("Loosen") if limb == "in" else say("Tighten")
    opening, closing = VERBS.get(
        found.kind, (say("Open", context="open"), say("Close", context="close"))
    )
    return opening if limb == "in" else closing


def asked_words(briefing: Briefing) -> str:
    """What the job is, in one phrase."""
    device, plan = briefing.device, briefing.plan
    phrase = _wanted_words(device, plan)
    without = [joint_name(device, j) for j in plan.request.without if j in device.joints]
    if without:
        names = listed(without, limit=MOST_NAMED)
        return say("{job}, without opening {joints}", job=phrase, joints=names)
    return phrase


def _wanted_words(device: Device, plan: Plan) -> str:
    pieces = piece_names(device, plan)
    reached = listed([joint_name(device, j) for j in plan.request.reach], limit=MOST_NAMED)
    if pieces and reached:
        return say("Exchange {pieces}, reach {joints}", pieces=pieces, joints=reached)
    if pieces:
        return say("Exchange {pieces}", pieces=pieces)
    return say("Reach {joints}", joints=reached) if reached else say("Close what is open")


def revision_words(device: Device) -> str:
    """Name and short hash of the revision."""
    named = say("revision")
    if device.revision:
        named = say("revision {revision}", revision=device.revision)
    if not device.revision_hash:
        return named
    return joined(" ", (named, f"({device.revision_hash[:SHORT_HASH]})"))


MOST_NAMED = 6
"""Names in one phrase before the rest are only counted."""

SHORT_HASH = 10
"""Characters of the hash that are printed; the code has all of it."""
