"""The rules of opening and of cost, stated a second time, plainly and slowly.

A ``Question`` is a device and a request reduced to what one unit has. Sets of open joints are
frozensets of joint ids; nothing is precomputed, so that every rule can be read next to its words.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from lastscrew.device.model import Act, Device, Joint
from lastscrew.plan.model import Request

Times = Mapping[tuple[str, int], tuple[int, int]]
"""Milliseconds to open and to close, by joint id and index of the access, where the device gives none."""

MS_PER_H = 3_600_000
STEP_WEIGHT = 1_000_000_000_000


class BadQuestionError(Exception):
    """The request names something that this unit does not have."""


class NoTimeError(Exception):
    """Neither the device nor the caller says how long an access takes."""


@dataclass(frozen=True)
class Way:
    """One access of a joint, with what it costs."""

    index: int
    side: str
    tool: str | None
    close_tool: str | None
    under: frozenset[str]
    open_ms: int
    close_ms: int


@dataclass(frozen=True)
class Bond:
    """One joint, as the rules see it."""

    id: str
    parts: frozenset[str]
    rigid: bool
    after: frozenset[str]
    live: bool
    isolates: bool
    ways: tuple[Way, ...]
    damage_ms: int


@dataclass(frozen=True)
class Question:
    """A device and a request, reduced to one unit.

    Attributes:
        bonds: Joints by id, in id order.
        required: Joints that must be open at the turning point.
        start: Joints that are open at the start.
        forbidden: Joints that may not be opened.
        acts: Acts that this unit can ever need.
        replaced: Parts and spares that count as replaced.
    """

    bonds: Mapping[str, Bond]
    required: frozenset[str]
    start: frozenset[str]
    forbidden: frozenset[str]
    start_side: str
    first_side: str
    turn_ms: int
    swap_ms: Mapping[str, int]
    acts: tuple[Act, ...]
    replaced: frozenset[str]
    objective: str

    @property
    def isolators(self) -> frozenset[str]:
        """Every joint that isolates."""
        return frozenset(bond.id for bond in self.bonds.values() if bond.isolates)


# --- reading the question ---------------------------------------------------------------------


def ask(device: Device, request: Request, times: Times | None = None) -> Question:
    """Reduce a device and a request to one unit.

    Raises:
        BadQuestionError: The request names something that the device or this unit lacks.
        NoTimeError: A time is given neither by the device nor by ``times``.
    """
    gone = _absent(device, request)
    bonds: dict[str, Bond] = {}
    for joint_id in sorted(device.joints):
        if joint_id not in gone.joints:
            bonds[joint_id] = _bond(device, device.joints[joint_id], gone, request, times or {})
    pieces = [_piece(device, name, gone.parts) for name in request.replace]
    for joint_id in (*request.reach, *request.opened, *request.without):
        if joint_id not in device.joints:
            raise BadQuestionError(joint_id)
    for joint_id in (*request.reach, *request.opened):
        if joint_id in gone.joints:
            raise BadQuestionError(joint_id)
    return Question(
        bonds=bonds,
        required=frozenset(request.reach) | _cut_loose(bonds.values(), pieces),
        start=frozenset(request.opened),
        forbidden=frozenset(request.without) & frozenset(bonds),
        start_side=_side(device, request),
        first_side=device.sides[0],
        turn_ms=device.turn_ms,
        swap_ms={tool.id: tool.swap_ms for tool in device.tools.values()},
        acts=tuple(act for _, act in sorted(device.acts.items()) if act.joint not in gone.joints),
        replaced=_replaced(device, request, pieces, gone.parts),
        objective=request.objective,
    )


def _side(device: Device, request: Request) -> str:
    side = device.sides[0] if request.side is None else request.side
    if side not in device.sides:
        raise BadQuestionError(side)
    return side


@dataclass(frozen=True)
class _Gone:
    """What this unit lacks. An option, a part and a joint may have the same id."""

    parts: frozenset[str]
    joints: frozenset[str]


def _absent(device: Device, request: Request) -> _Gone:
    """What is not fitted is absent everywhere; a joint that is left with one part joins nothing.

    A name stands for an option or a part that is called so; only else for a joint.
    """
    for name in (*request.not_fitted, *request.fitted):
        if not (name in device.options or name in device.parts or name in device.joints):
            raise BadQuestionError(name)
    lacking: set[str] = set()
    for option in device.options.values():
        if option.id in request.not_fitted or not (option.fitted or option.id in request.fitted):
            lacking.add(option.id)
    parts = {part.id for part in device.parts.values() if part.if_fitted in lacking}
    parts |= {name for name in request.not_fitted if name in device.parts}
    joints: set[str] = set()
    for joint in device.joints.values():
        left = [part for part in joint.joins if part not in parts]
        if len(left) < 2 or joint.if_fitted in lacking:
            joints.add(joint.id)
        elif joint.id in request.not_fitted:
            if joint.id not in device.options and joint.id not in device.parts:
                joints.add(joint.id)
    return _Gone(frozenset(parts), frozenset(joints))


def _bond(device: Device, joint: Joint, gone: _Gone, request: Request, times: Times) -> Bond:
    parts = frozenset(joint.joins) - gone.parts
    ways: list[Way] = []
    for index, access in enumerate(joint.accesses):
        given = times.get((joint.id, index), (None, None))
        open_ms = given[0] if access.open_ms is None else access.open_ms
        close_ms = given[1] if access.close_ms is None else access.close_ms
        if open_ms is None or close_ms is None:
            raise NoTimeError(f"{joint.id}, access {index}")
        under = frozenset(access.under) - gone.parts
        ways.append(
            Way(index, access.side, access.tool, access.close_tool, under, open_ms, close_ms)
        )
    price_at_risk = sum(
        chance * (device.parts[part].price or 0.0)
        for part, chance in joint.damage.items()
        if part not in gone.parts
    )
    return Bond(
        id=joint.id,
        parts=parts,
        rigid=joint.rigid,
        after=frozenset(joint.after) - gone.joints,
        live=joint.powered or any(device.parts[part].energy for part in parts),
        isolates=joint.isolates,
        ways=tuple(ways),
        damage_ms=round(price_at_risk * MS_PER_H / request.rate_per_h),
    )


def _piece(device: Device, name: str, gone: frozenset[str]) -> frozenset[str]:
    """The parts of one piece: a part, a spare, or several of them joined by ``+``."""
    parts: set[str] = set()
    for word in (word.strip() for word in name.split("+")):
        if word in gone:
            raise BadQuestionError(word)
        if word in device.parts:
            parts.add(word)
        elif word in device.spares:
            there = frozenset(device.spares[word].contains) - gone
            if not there:
                raise BadQuestionError(word)
            parts |= there
        else:
            raise BadQuestionError(word)
    return frozenset(parts)


def _cut_loose(bonds: Iterable[Bond], pieces: list[frozenset[str]]) -> frozenset[str]:
    """Joints that name a part of a piece and a part outside it."""
    return frozenset(
        bond.id for bond in bonds for piece in pieces if bond.parts & piece and bond.parts - piece
    )


def _replaced(
    device: Device, request: Request, pieces: list[frozenset[str]], gone: frozenset[str]
) -> frozenset[str]:
    """Parts in any piece; spares asked for by name, or with everything they contain in the pieces."""
    parts: frozenset[str] = frozenset().union(*pieces)
    words = {word.strip() for name in request.replace for word in name.split("+")}
    spares: set[str] = set()
    for spare in device.spares.values():
        there = frozenset(spare.contains) - gone
        if spare.id in words or (there and there <= parts):
            spares.add(spare.id)
    return parts | spares


# --- when a joint can be opened ---------------------------------------------------------------


def openable_by(question: Question, joint_id: str, opened: Collection[str]) -> tuple[Way, ...]:
    """Accesses by which a closed joint can be opened while ``opened`` are open; empty for none."""
    bond = question.bonds[joint_id]
    if not bond.after <= frozenset(opened):
        return ()
    if bond.live and not bond.isolates and not question.isolators <= frozenset(opened):
        return ()
    holding = [
        other.parts
        for other in question.bonds.values()
        if other.id != joint_id and other.rigid and other.id not in opened
    ]
    return tuple(way for way in bond.ways if _is_clear(bond, way, holding))


def closable_by(question: Question, joint_id: str, opened: Collection[str]) -> tuple[Way, ...]:
    """Accesses by which an open joint can be closed: those that could open it, once closed."""
    return openable_by(question, joint_id, frozenset(opened) - {joint_id})


def _is_clear(bond: Bond, way: Way, holding: list[frozenset[str]]) -> bool:
    """No part over this access holds rigidly on any part, other than itself, that the joint joins."""
    return not any(_cluster(part, holding) & (bond.parts - {part}) for part in way.under)


def _cluster(part: str, holding: list[frozenset[str]]) -> frozenset[str]:
    """All parts that hang together with ``part`` by the joints that hold."""
    cluster = frozenset({part})
    while True:
        grown = cluster.union(*(parts for parts in holding if parts & cluster))
        if grown == cluster:
            return cluster
        cluster = grown


def reachable(question: Question, wanted: frozenset[str], start: frozenset[str]) -> bool:
    """True when ``wanted`` can be opened one after the other from ``start``."""
    opened = start
    while opened != wanted:
        further = [j for j in sorted(wanted - opened) if openable_by(question, j, opened)]
        if not further:
            return False
        opened |= {further[0]}
    return True


# --- what it costs ----------------------------------------------------------------------------


def turn_ms(question: Question, from_side: str, to_side: str) -> int:
    """A step on another side than the one before costs a turn."""
    return 0 if from_side == to_side else question.turn_ms


def swap_ms(question: Question, in_hand: str | None, tool: str | None) -> int:
    """Another tool than the one in hand costs its swap; no tool costs nothing."""
    return 0 if tool is None or tool == in_hand else question.swap_ms[tool]


def act_counts(question: Question, act: Act, turning: Collection[str]) -> bool:
    """True when an act is done in a plan that has ``turning`` open at the turning point."""
    opened = frozenset(turning) - question.start
    if act.joint is not None:
        there = opened if act.at in ("before_open", "after_open") else frozenset(turning)
        if act.joint not in there:
            return False
    if not act.when_replaced and not act.when_opened:
        return True
    replaced = any(name in question.replaced for name in act.when_replaced)
    return replaced or any(joint in opened for joint in act.when_opened)


def acts_at(
    question: Question, turning: Collection[str], at: str, joint_id: str | None = None
) -> tuple[Act, ...]:
    """Acts that are done at one moment (of one joint, or tied to none), in id order."""
    return tuple(
        act
        for act in question.acts
        if act.at == at and act.joint == joint_id and act_counts(question, act, turning)
    )


def acts_total_ms(question: Question, turning: Collection[str]) -> int:
    """All hands-on time of acts in a plan with this turning point."""
    return sum(act.ms for act in question.acts if act_counts(question, act, turning))


def objective_value(question: Question, turning: Collection[str], total_ms: int) -> int:
    """What is minimised, from the whole time of a plan and the set open at its turning point."""
    opened = frozenset(turning) - question.start
    if question.objective == "risk":
        return total_ms + sum(question.bonds[joint].damage_ms for joint in opened)
    if question.objective == "steps":
        return (len(opened) + len(turning)) * STEP_WEIGHT + total_ms
    return total_ms
