"""Short phrases that pictures and sheets use, on top of the names that a plan uses."""

from __future__ import annotations

from lastscrew.device.model import Device
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.model import Limb, Plan, Step
from lastscrew.plan.wording import joint_name, listed, piece_name, pieces_text, tool_name


def piece_names(device: Device, plan: Plan) -> str:
    """What is exchanged, in words; empty when nothing is."""
    return ", ".join(piece_name(device, wanted) for wanted in plan.request.replace)


def tool_words(device: Device, tool: str | None) -> str:
    """The name of a tool, or ``by hand``."""
    return "by hand" if tool is None else tool_name(device, tool)


def stage_words(device: Device, step: Step, *, first: bool) -> str:
    """Side and tool of a stage; the side only where it is turned to or at the beginning."""
    tool = tool_words(device, step.tool)
    if step.turn_ms:
        return f"turn to {step.side}, {tool}"
    return f"{step.side}, {tool}" if first else tool


def count_words(device: Device, joint: str) -> str:
    """How many of what: ``9 M2×5 PH1``, ``12 clips``; empty for a single thing without a fastener."""
    found = device.joints[joint]
    fastener = device.fasteners.get(found.fastener) if found.fastener else None
    if fastener is not None:
        return " ".join(filter(None, (pieces_text(device, found), fastener.drive)))
    if found.count == 1:
        return ""
    return f"{found.count} ×" if found.kind == "other" else f"{found.count} {plural(found.kind)}"


def plural(kind: str) -> str:
    """Several joints of a kind: ``latches``, ``board links``."""
    word = kind.replace("_", " ")
    return {
        "latch": "latches",
        "solder": "solder points",
        "adhesive": "beads of adhesive",
        "coax": "coax leads",
    }.get(word, f"{word}s")


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
        words.append("captive" if found.captive else "")
        words.append("loosen only" if found.loosen_only else "")
    else:
        torque = torque_ncm(device, joint)
        words.append("" if torque is None else f"{torque:g} N·cm")
        words.append("" if found.order == "any" else found.order)
    return ", ".join(word for word in words if word)


VERBS: dict[str, tuple[str, str]] = {
    "screw": ("Take out", "Fit"),
    "nut": ("Take off", "Fit"),
    "clip": ("Release", "Press in"),
    "latch": ("Unlatch", "Latch"),
    "hook": ("Unhook", "Hook in"),
    "magnet": ("Pull off", "Set"),
    "adhesive": ("Detach", "Bond"),
    "rivet": ("Remove", "Set"),
    "solder": ("Unsolder", "Solder"),
    "pin": ("Draw out", "Put in"),
    "seat": ("Free", "Seat"),
    "board_link": ("Separate", "Join"),
    "plug": ("Unplug", "Plug in"),
    "ribbon": ("Disconnect", "Connect"),
    "coax": ("Pull off", "Press on"),
    "tape": ("Peel off", "Stick on"),
    "tie": ("Undo", "Tie"),
    "route": ("Free", "Lay"),
}
"""How each kind of joint is opened and closed, in a word or two."""


def step_verb(device: Device, joint: str, limb: Limb) -> str:
    """What is done to a joint: ``Take out``, ``Plug in``."""
    found = device.joints[joint]
    if found.loosen_only or (found.captive and found.kind in ("screw", "nut")):
        return "Loosen" if limb == "in" else "Tighten"
    opening, closing = VERBS.get(found.kind, ("Open", "Close"))
    return opening if limb == "in" else closing


def asked_words(briefing: Briefing) -> str:
    """What the job is, in one phrase."""
    device, plan = briefing.device, briefing.plan
    words: list[str] = []
    if plan.request.replace:
        words.append(f"Exchange {piece_names(device, plan)}")
    if plan.request.reach:
        words.append(
            f"reach {listed([joint_name(device, j) for j in plan.request.reach], limit=MOST_NAMED)}"
        )
    if not words:
        words.append("Close what is open")
    without = [joint_name(device, j) for j in plan.request.without if j in device.joints]
    if without:
        words.append(f"without opening {listed(without, limit=MOST_NAMED)}")
    phrase = ", ".join(words)
    return phrase[:1].upper() + phrase[1:]


def revision_words(device: Device) -> str:
    """Name and short hash of the revision."""
    named = f"revision {device.revision}" if device.revision else "revision"
    return f"{named} ({device.revision_hash[:SHORT_HASH]})" if device.revision_hash else named


MOST_NAMED = 6
"""Names in one phrase before the rest are only counted."""

SHORT_HASH = 10
"""Characters of the hash that are printed; the code has all of it."""
