"""Reasons as sentences and as plain values."""

from __future__ import annotations

from collections.abc import Sequence

from lastscrew.device.model import Device
from lastscrew.plan.model import Plan
from lastscrew.plan.reasons import Closing, Link, Reasons
from lastscrew.plan.wording import how_many, joint_name, marked, part_name, side_name
from lastscrew.saying import joined, say

_CONNECTORS = ("plug", "ribbon", "coax", "board_link")


def opening_text(device: Device, plan: Plan, chain: tuple[Link, ...]) -> str:
    """Why a joint is opened: ``because …, and …``."""
    clauses = [clause for link in chain for clause in _clauses(device, plan, link)]
    return say("because {clauses}", clauses=_and_so_on(list(dict.fromkeys(clauses))))


def closing_text(device: Device, closing: Closing) -> str:
    """Why a joint is closed when it is."""
    words: list[str] = []
    if closing.after is not None:
        words.append(say("after {clause}", clause=_after_clause(device, closing.after)))
    if closing.before is not None:
        words.append(say("before {clause}", clause=_before_clause(device, closing.before)))
    if closing.from_start and words:
        return say("it was open at the start and goes back {when}", when=_and_so_on(words))
    if closing.from_start:
        return say(
            "it was open at the start; nothing fixes its place on the way out but the least time"
        )
    if words:
        return say("it was opened and goes back {when}", when=_and_so_on(words))
    return say("it was opened; nothing fixes its place on the way out but the least time")


def _and_so_on(clauses: Sequence[str]) -> str:
    """Clauses that are sentences of their own: ``…, and …``."""
    told = clauses[0]
    for clause in clauses[1:]:
        told = say("{before}, and {clause}", before=told, clause=clause)
    return told


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


def _tie(device: Device, link: Link, *, still: bool = False) -> str:
    """``*Cover screws* tie *Bottom cover* to *Chassis*``."""
    name = joint_name(device, link.joint)
    values: dict[str, object] = {
        "joint": marked(name),
        "part": _part(device, link.held),
        "other": _part(device, link.held_to),
        "n": how_many(name),
    }
    if device.joints[link.joint].kind in _CONNECTORS:
        return say(
            "{joint} connects {part} to {other}", "{joint} connect {part} to {other}", **values
        )
    if still:
        return say(
            "{joint} still ties {part} to {other}", "{joint} still tie {part} to {other}", **values
        )
    return say("{joint} ties {part} to {other}", "{joint} tie {part} to {other}", **values)


def _clauses(  # noqa: PLR0911  (one for each kind of link)
    device: Device, plan: Plan, link: Link
) -> list[str]:
    if link.kind == "piece":
        return [_tie(device, link), _exchange_clause(device, plan, link)]
    name = joint_name(device, link.joint)
    if link.kind == "reach":
        return [
            say(
                "{joint} is to be reached",
                "{joint} are to be reached",
                joint=marked(name),
                n=how_many(name),
            )
        ]
    if link.kind == "after":
        clause = say(
            "{joint} must be open before {other}",
            joint=marked(name),
            other=_joint(device, link.leads_to),
        )
        return [_on_the_way(link, clause)]
    if link.kind == "isolation":
        return [_on_the_way(link, _isolation_clause(device, link))]
    if link.kind == "cover":
        return _cover_clauses(device, plan, link)
    if link.kind == "open":
        return [
            say(
                "{joint} is open already",
                "{joint} are open already",
                joint=marked(name),
                n=how_many(name),
            )
        ]
    return [_unneeded_clause(device, plan, link)]


def _on_the_way(link: Link, clause: str) -> str:
    return say("on the way out {clause}", clause=clause) if link.limb == "out" else clause


def _isolation_clause(device: Device, link: Link) -> str:
    name = joint_name(device, link.joint)
    return say(
        "{joint} takes the power away before {other}",
        "{joint} take the power away before {other}",
        joint=marked(name),
        other=_joint(device, link.leads_to),
        n=how_many(name),
    )


def _exchange_clause(device: Device, plan: Plan, link: Link) -> str:
    piece = link.piece or ""
    held = part_name(device, link.held or "")
    values: dict[str, object] = {"part": marked(held), "n": how_many(held)}
    if piece in device.spares:
        return say(
            "{part} is to be exchanged with {spare}",
            "{part} are to be exchanged with {spare}",
            spare=_part(device, piece),
            **values,
        )
    parts = dict(zip(plan.request.replace, plan.pieces, strict=True)).get(piece, ())
    others = [_part(device, part) for part in parts if part != link.held]
    if not others:
        return say("{part} is to be exchanged", "{part} are to be exchanged", **values)
    together = others[0]
    for other in others[1:]:
        together = say("{names} and {last}", names=together, last=other)
    return say(
        "{part} is to be exchanged together with {others}",
        "{part} are to be exchanged together with {others}",
        others=together,
        **values,
    )


def _cover_clauses(device: Device, plan: Plan, link: Link) -> list[str]:
    target = joined("", (_joint(device, link.leads_to), _reached(device, plan, link)))
    cover = part_name(device, link.cover or "")
    if link.held == link.cover:
        lies = say(
            "{part} lies over {joint}",
            "{part} lie over {joint}",
            part=marked(cover),
            joint=target,
            n=how_many(cover),
        )
        return [_tie(device, link), _on_the_way(link, lies)]
    tied = say(
        "{tie}, with {part} over {joint}",
        tie=_tie(device, link, still=True),
        part=marked(cover),
        joint=target,
    )
    return [_on_the_way(link, tied)]


def _reached(device: Device, plan: Plan, link: Link) -> str:
    """Which way in to the joint is meant, where there are several."""
    joint = device.joints[link.leads_to or ""]
    if len(joint.accesses) == 1:
        return ""
    steps = plan.way_in if link.limb == "in" else plan.way_out
    side = side_name(next(step for step in steps if step.joint == joint.id).side)
    if not link.by_choice:
        return say(" as reached with the {side} side up", side=side)
    if plan.proven:
        return say(" as reached with the {side} side up (cheaper on the whole)", side=side)
    return say(" as reached with the {side} side up (the cheapest found)", side=side)


def _unneeded_clause(device: Device, plan: Plan, link: Link) -> str:
    if plan.proven:
        return say("opening {joint} costs nothing more", joint=_joint(device, link.joint))
    return say(
        "the search was stopped before it could leave {joint} closed: "
        "nothing that was asked for needs it open",
        joint=_joint(device, link.joint),
    )


def _after_clause(device: Device, link: Link) -> str:
    """``link`` is a need of a joint that was closed before: why that one came first."""
    sooner = _joint(device, link.leads_to)
    if link.kind == "isolation":
        return say("{joint}, for which the power has to be away", joint=sooner)
    if link.kind == "cover":
        cover = _part(device, link.cover)
        return say("{joint}, which {part} will lie over", joint=sooner, part=cover)
    return say("{joint}, which has to be closed first", joint=sooner)


def _before_clause(device: Device, link: Link) -> str:
    """``link`` is a need of the joint itself: what must still be open while it is closed."""
    name = joint_name(device, link.joint)
    values: dict[str, object] = {"joint": marked(name), "n": how_many(name)}
    if link.kind == "isolation":
        return say(
            "{joint}, which gives the power back", "{joint}, which give the power back", **values
        )
    if link.kind == "cover":
        return say(
            "{joint}, which holds {part} down over it",
            "{joint}, which hold {part} down over it",
            part=_part(device, link.cover),
            **values,
        )
    return say("{joint}, which goes on top of it", "{joint}, which go on top of it", **values)
