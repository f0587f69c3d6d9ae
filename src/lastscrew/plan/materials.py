"""What has to be there before the work begins, and what lies on the table while it lasts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from lastscrew.device.model import Act, Device, Joint
from lastscrew.plan.model import Plan
from lastscrew.plan.walking import open_at_start
from lastscrew.plan.wording import fastener_text, joint_name, part_name
from lastscrew.saying import say

OrderKind = Literal["part", "spare", "supply", "fastener", "joint"]

_Totals = Mapping[tuple[OrderKind, str], float]

FASTENED_KINDS = ("screw", "nut", "rivet", "pin")
"""Kinds whose pieces come out even where the device file names no fastener."""


@dataclass(frozen=True, slots=True)
class FastenerOut:
    """Fasteners of one joint that lie outside the machine at the turning point.

    Attributes:
        joint: The joint.
        fastener: Their kind, None where the device file names none.
        count: How many.
        washers: Washers and sleeves that come out with them, by name.
    """

    joint: str
    fastener: str | None
    count: int
    washers: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Use:
    """Something that is used up.

    Attributes:
        id: Supply, fastener, or joint that is itself renewed (a strip of tape).
        kind: Which of these.
        amount: How much, in the supply's unit, or how many.
        joint, act: Where.
        included_with: The spare that it comes with, None when it has to be there besides.
    """

    id: str
    kind: OrderKind
    amount: float
    joint: str | None = None
    act: str | None = None
    included_with: str | None = None


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One line of what has to be there.

    Attributes:
        id, kind, name: What.
        amount: How much.
        unit: Unit of the amount; ``piece`` where things are counted.
        order_code, price: As far as the device file says; the price of one unit.
    """

    id: str
    kind: OrderKind
    name: str
    amount: float
    unit: str
    order_code: str | None
    price: float | None

    @property
    def cost(self) -> float | None:
        """Price of the whole line, None where no price is given."""
        return None if self.price is None else self.price * self.amount


@dataclass(frozen=True, slots=True)
class Loss:
    """What would be lost: clock, keys, settings.

    Attributes:
        text: What.
        joint: The joint whose opening loses it, or None.
        part: The part whose exchange or removal loses it, or None.
        exchanged: For a part: True when it is exchanged, False when it only comes off.
    """

    text: str
    joint: str | None = None
    part: str | None = None
    exchanged: bool = False


def fasteners_out(device: Device, plan: Plan) -> tuple[FastenerOut, ...]:
    """Fasteners that lie outside at the turning point, those of joints open at the start first.

    Captive ones stay in their part, and those that are only loosened stay where they are.
    """
    order = (*open_at_start(plan), *(step.joint for step in plan.way_in))
    joints = (device.joints[joint_id] for joint_id in order)
    return tuple(
        FastenerOut(joint.id, joint.fastener, joint.count, joint.washers)
        for joint in joints
        if (joint.fastener or joint.kind in FASTENED_KINDS)
        and not joint.captive
        and not joint.loosen_only
    )


def tools_in_order(plan: Plan) -> tuple[str, ...]:
    """Tools of the steps in the order of first use."""
    steps = (*plan.way_in, *plan.way_out)
    return tuple(dict.fromkeys(step.tool for step in steps if step.tool is not None))


def acts_in_order(plan: Plan) -> tuple[str, ...]:
    """Acts in the order in which they are done."""
    tied_in = (act for step in plan.way_in for act in step.act_ids)
    tied_out = (act for step in plan.way_out for act in step.act_ids)
    return (*plan.start_acts, *tied_in, *plan.turning_acts, *tied_out, *plan.end_acts)


def act_tools(device: Device, plan: Plan) -> tuple[str, ...]:
    """Tools that only acts need, in the order of first use."""
    tools = (device.acts[act].tool for act in acts_in_order(plan))
    known = set(tools_in_order(plan))
    return tuple(dict.fromkeys(tool for tool in tools if tool is not None and tool not in known))


def uses_of(device: Device, plan: Plan) -> tuple[Use, ...]:
    """Everything that is used up, joint by joint on the way out, then act by act."""
    spares = _spares_fitted(device, plan)
    found: list[Use] = []
    for step in plan.way_out:
        found.extend(_uses_of_joint(device, device.joints[step.joint], spares))
    for act_id in acts_in_order(plan):
        found.extend(_uses_of_act(device, device.acts[act_id], spares))
    return tuple(found)


def _spares_fitted(device: Device, plan: Plan) -> tuple[str, ...]:
    words = (word.strip() for piece in plan.request.replace for word in piece.split("+"))
    return tuple(dict.fromkeys(word for word in words if word in device.spares))


def _uses_of_joint(device: Device, joint: Joint, spares: tuple[str, ...]) -> Iterator[Use]:
    for supply, amount in joint.renew.items():
        spare = _spare_with(device, supply, spares, joint)
        yield Use(supply, "supply", amount, joint=joint.id, included_with=spare)
    if joint.reuse != "single_use":
        return
    if joint.fastener:
        spare = _spare_with(device, joint.fastener, spares, joint)
        yield Use(joint.fastener, "fastener", joint.count, joint=joint.id, included_with=spare)
    elif not joint.renew:
        yield Use(joint.id, "joint", joint.count, joint=joint.id)


def _uses_of_act(device: Device, act: Act, spares: tuple[str, ...]) -> Iterator[Use]:
    for supply, amount in act.renew.items():
        tied = [device.joints[j] for j in (act.joint, *act.when_opened) if j and j in device.joints]
        named = [
            spare
            for spare in spares
            if supply in device.spares[spare].includes
            and {spare, *device.spares[spare].contains} & set(act.when_replaced)
        ]
        around = (_spare_with(device, supply, spares, joint) for joint in tied)
        spare = next((s for s in (*named, *around) if s is not None), None)
        yield Use(supply, "supply", amount, act=act.id, included_with=spare)


def _spare_with(device: Device, item: str, spares: tuple[str, ...], joint: Joint) -> str | None:
    """The exchanged spare that brings ``item`` for this joint: it includes it and the joint touches it."""
    for spare_id in spares:
        spare = device.spares[spare_id]
        if item in spare.includes and set(spare.contains) & set(joint.joins):
            return spare_id
    return None


def supplies_needed(device: Device, plan: Plan) -> tuple[OrderLine, ...]:
    """Supplies to have ready, those that come with a spare left out, in the order of the device file."""
    return tuple(line for line in order_lines(device, plan) if line.kind == "supply")


def order_lines(device: Device, plan: Plan) -> tuple[OrderLine, ...]:
    """Parts, spares, supplies and fasteners that have to be there before the work begins."""
    amounts: dict[tuple[OrderKind, str], list[float]] = {}
    for use in uses_of(device, plan):
        if use.included_with is None:
            amounts.setdefault((use.kind, use.id), []).append(use.amount)
    totals = {key: _sum(parts) for key, parts in amounts.items()}
    return (
        *_piece_lines(device, plan),
        *_supply_lines(device, totals),
        *_fastener_lines(device, totals),
        *(
            OrderLine(joint_id, "joint", joint_name(device, joint_id), total, "piece", None, None)
            for (kind, joint_id), total in totals.items()
            if kind == "joint"
        ),
    )


def _supply_lines(device: Device, totals: _Totals) -> Iterator[OrderLine]:
    for supply in device.supplies.values():
        total = totals.get(("supply", supply.id))
        if total is not None:
            yield OrderLine(
                supply.id,
                "supply",
                supply.name,
                total,
                supply.unit,
                supply.order_code,
                supply.price,
            )


def _fastener_lines(device: Device, totals: _Totals) -> Iterator[OrderLine]:
    for kind in device.fasteners.values():
        total = totals.get(("fastener", kind.id))
        if total is not None:
            name = fastener_text(kind)
            yield OrderLine(kind.id, "fastener", name, total, "piece", kind.order_code, kind.price)


def _piece_lines(device: Device, plan: Plan) -> Iterator[OrderLine]:
    """What is asked for, once; what comes inside another spare that is asked for is not ordered too."""
    words = [word.strip() for piece in plan.request.replace for word in piece.split("+")]
    holds = {word: set(device.spares[word].contains) for word in words if word in device.spares}
    for word in dict.fromkeys(words):
        inside = holds.get(word, {word})
        if any(
            inside < parts or (word not in holds and inside <= parts) for parts in holds.values()
        ):
            continue
        if word in device.parts:
            part = device.parts[word]
            yield OrderLine(word, "part", part.name, 1, "piece", part.order_code, part.price)
        elif word in device.spares:
            spare = device.spares[word]
            yield OrderLine(word, "spare", spare.name, 1, "piece", spare.order_code, spare.price)


def _sum(amounts: list[float]) -> float:
    """The sum without the noise of binary fractions (0.1 + 0.2 is 0.3)."""
    total = round(math.fsum(amounts), 9)
    return int(total) if total == int(total) else total


def losses_of(device: Device, plan: Plan) -> tuple[Loss, ...]:
    """What would be lost, each text once for each cause.

    A joint's when it is opened. A part's when it is exchanged, or when every joint that names it is
    open (it has come off).
    """
    found: list[Loss] = []
    for step in plan.way_in:
        found.extend(Loss(text, joint=step.joint) for text in device.joints[step.joint].loses)
    exchanged = {part for parts in plan.pieces for part in parts}
    still_named = {
        part
        for joint in device.joints.values()
        if joint.id not in plan.open_at_turning
        for part in joint.joins
    }
    opened_now = {step.joint for step in plan.way_in}
    for part in device.parts.values():
        comes_off = part.id not in still_named and any(
            part.id in device.joints[joint].joins for joint in opened_now
        )
        if part.id in exchanged or (comes_off and not part.fixed):
            is_new = part.id in exchanged
            found.extend(Loss(text, part=part.id, exchanged=is_new) for text in part.loses)
    return tuple(found)


def loss_text(device: Device, loss: Loss) -> str:
    """A loss as a sentence's part: ``clock (Pack plug opened)``."""
    if loss.joint is not None:
        return say("{loss} ({joint} opened)", loss=loss.text, joint=joint_name(device, loss.joint))
    part = part_name(device, loss.part or "")
    if loss.exchanged:
        return say("{loss} ({part} exchanged)", loss=loss.text, part=part)
    return say("{loss} ({part} taken off)", loss=loss.text, part=part)
