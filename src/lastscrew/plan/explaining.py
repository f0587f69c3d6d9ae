"""Reasons as sentences and as plain values."""

from __future__ import annotations

from lastscrew.device.model import Device
from lastscrew.plan.model import Plan
from lastscrew.plan.reasons import Closing, Link, Reasons
from lastscrew.plan.wording import joint_name, marked, part_name, verb

_CONNECTORS = ("plug", "ribbon", "coax", "board_link")


def opening_text(device: Device, plan: Plan, chain: tuple[Link, ...]) -> str:
    """Why a joint is opened: ``because …, and …``."""
    clauses = [clause for link in chain for clause in _clauses(device, plan, link)]
    return "because " + ", and ".join(dict.fromkeys(clauses))


def closing_text(device: Device, closing: Closing) -> str:
    """Why a joint is closed when it is."""
    start = "was open at the start" if closing.from_start else "was opened"
    words: list[str] = []
    if closing.after is not None:
        words.append(f"after {_after_clause(device, closing.after)}")
    if closing.before is not None:
        words.append(f"before {_before_clause(device, closing.before)}")
    if not words:
        return f"it {start}; nothing fixes its place on the way out but the least time"
    return f"it {start} and goes back {', and '.join(words)}"


def chain_as_json(chain: tuple[Link, ...]) -> list[dict[str, object]]:
    """A chain as plain values, keys without a value left out."""
    return [_link_as_json(link) for link in chain]


def closing_as_json(closing: Closing) -> dict[str, object]:
    """Why a joint is closed when it is, as plain values."""
    return {
        "from_start": closing.from_start,
        "after": None if closing.after is None else _link_as_json(closing.after),
        "before": None if closing.before is None else _link_as_json(closing.before),
    }


def why_texts(
    device: Device, plan: Plan, reasons: Reasons
) -> tuple[dict[str, str], dict[str, str]]:
    """Sentences for all openings and all closings, by joint."""
    opening = {j: opening_text(device, plan, chain) for j, chain in reasons.opening.items()}
    closing = {j: closing_text(device, why) for j, why in reasons.closing.items()}
    return opening, closing


def _link_as_json(link: Link) -> dict[str, object]:
    values: dict[str, object] = {
        "joint": link.joint,
        "kind": link.kind,
        "leads_to": link.leads_to,
        "piece": link.piece,
        "cover": link.cover,
        "held": link.held,
        "held_to": link.held_to,
    }
    found = {key: value for key, value in values.items() if value is not None}
    if link.leads_to is not None:
        found["limb"] = link.limb
    if link.by_choice:
        found["by_choice"] = True
    return found


def _joint(device: Device, joint_id: str | None) -> str:
    return marked(joint_name(device, joint_id or ""))


def _part(device: Device, part_id: str | None) -> str:
    return marked(part_name(device, part_id or ""))


def _tie(device: Device, link: Link) -> str:
    """``*Cover screws* tie *Bottom cover* to *Chassis*``."""
    name = joint_name(device, link.joint)
    connects = device.joints[link.joint].kind in _CONNECTORS
    word = verb(name, "connect", "connects") if connects else verb(name, "tie", "ties")
    return f"{marked(name)} {word} {_part(device, link.held)} to {_part(device, link.held_to)}"


def _clauses(  # noqa: PLR0911  (one for each kind of link)
    device: Device, plan: Plan, link: Link
) -> list[str]:
    way_out = "on the way out " if link.limb == "out" else ""
    if link.kind == "piece":
        return [_tie(device, link), _exchange_clause(device, plan, link)]
    if link.kind == "reach":
        return [f"{_joint(device, link.joint)} {_are(device, link.joint)} to be reached"]
    if link.kind == "after":
        return [
            f"{way_out}{_joint(device, link.joint)} must be open before {_joint(device, link.leads_to)}"
        ]
    if link.kind == "isolation":
        return [way_out + _isolation_clause(device, link)]
    if link.kind == "cover":
        return _cover_clauses(device, plan, link, way_out)
    if link.kind == "open":
        return [f"{_joint(device, link.joint)} {_are(device, link.joint)} open already"]
    return [_unneeded_clause(device, plan, link)]


def _are(device: Device, joint_id: str) -> str:
    return verb(joint_name(device, joint_id), "are", "is")


def _isolation_clause(device: Device, link: Link) -> str:
    name = joint_name(device, link.joint)
    return f"{marked(name)} {verb(name, 'take', 'takes')} the power away before {_joint(device, link.leads_to)}"


def _exchange_clause(device: Device, plan: Plan, link: Link) -> str:
    piece = link.piece or ""
    held = part_name(device, link.held or "")
    is_to_be = f"{marked(held)} {verb(held, 'are', 'is')} to be exchanged"
    if piece in device.spares:
        return f"{is_to_be} with {_part(device, piece)}"
    parts = dict(zip(plan.request.replace, plan.pieces, strict=True)).get(piece, ())
    others = [_part(device, part) for part in parts if part != link.held]
    return f"{is_to_be} together with {' and '.join(others)}" if others else is_to_be


def _cover_clauses(device: Device, plan: Plan, link: Link, way_out: str) -> list[str]:
    target = _joint(device, link.leads_to)
    reached = _reached(device, plan, link)
    cover = part_name(device, link.cover or "")
    if link.held == link.cover:
        lie = verb(cover, "lie", "lies")
        return [_tie(device, link), f"{way_out}{marked(cover)} {lie} over {target}{reached}"]
    tied = _tie(device, link).replace(" ties ", " still ties ").replace(" tie ", " still tie ")
    return [f"{way_out}{tied}, with {marked(cover)} over {target}{reached}"]


def _reached(device: Device, plan: Plan, link: Link) -> str:
    """Which way in to the joint is meant, where there are several."""
    joint = device.joints[link.leads_to or ""]
    if len(joint.accesses) == 1:
        return ""
    steps = plan.way_in if link.limb == "in" else plan.way_out
    step = next(step for step in steps if step.joint == joint.id)
    words = f" as reached with the {step.side} side up"
    if not link.by_choice:
        return words
    cheaper = "cheaper on the whole" if plan.proven else "the cheapest found"
    return f"{words} ({cheaper})"


def _unneeded_clause(device: Device, plan: Plan, link: Link) -> str:
    if plan.proven:
        return f"opening {_joint(device, link.joint)} costs nothing more"
    return (
        f"the search was stopped before it could leave {_joint(device, link.joint)} closed: "
        "nothing that was asked for needs it open"
    )


def _after_clause(device: Device, link: Link) -> str:
    """``link`` is a need of a joint that was closed before: why that one came first."""
    sooner = _joint(device, link.leads_to)
    if link.kind == "isolation":
        return f"{sooner}, for which the power has to be away"
    if link.kind == "cover":
        return f"{sooner}, which {_part(device, link.cover)} will lie over"
    return f"{sooner}, which has to be closed first"


def _before_clause(device: Device, link: Link) -> str:
    """``link`` is a need of the joint itself: what must still be open while it is closed."""
    later = _joint(device, link.joint)
    name = joint_name(device, link.joint)
    if link.kind == "isolation":
        return f"{later}, which {verb(name, 'give', 'gives')} the power back"
    if link.kind == "cover":
        holds = verb(name, "hold", "holds")
        return f"{later}, which {holds} {_part(device, link.cover)} down over it"
    return f"{later}, which {verb(name, 'go', 'goes')} on top of it"
