"""Random machines and requests for the judges: small ones with every feature, and middle ones.

Everything is drawn from a ``random.Random``, so that a seed repeats a machine; hypothesis hands in
its own and can then shrink it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from random import Random

from hypothesis import strategies as st

from lastscrew.device.model import (
    FLEXIBLE_KINDS,
    POWERED_KINDS,
    RIGID_KINDS,
    Access,
    Act,
    ActTime,
    Device,
    Joint,
    Option,
    Part,
    Spare,
    Tool,
)
from lastscrew.plan.model import Objective, Request
from tests.oracle.rules import Question, ask, openable_by

Case = tuple[Device, Request]


@dataclass(frozen=True)
class Taste:
    """How a random machine is drawn.

    Attributes:
        joints: Least and greatest number of joints.
        parts: Least and greatest number of parts.
        under: Chance of each part that lies further out to be in an access's ``under``.
        extras: False leaves out acts, options, spares and odd times.
        accesses: Numbers of accesses of a joint, drawn from evenly.
        sides: Numbers of sides, likewise.
    """

    joints: tuple[int, int] = (3, 9)
    parts: tuple[int, int] = (2, 6)
    under: float = 0.45
    extras: bool = True
    accesses: tuple[int, ...] = (1, 1, 1, 2, 2, 3)
    sides: tuple[int, ...] = (1, 2, 2, 2, 3)


SMALL = Taste()
TINY = Taste(joints=(1, 5), parts=(2, 4), under=0.5)
LARGER = Taste(joints=(10, 11), parts=(4, 8), under=0.4)
MANY_WAYS = Taste(joints=(6, 10), parts=(3, 6), under=0.5, accesses=(1, 2, 3, 4), sides=(2, 3))
MIDDLE = Taste(joints=(12, 18), parts=(6, 12), under=0.35)


def case_from_seed(seed: int, taste: Taste = SMALL) -> Case:
    """The machine and the request of one seed."""
    return draw_case(Random(seed), taste)


def cases(taste: Taste = SMALL) -> st.SearchStrategy[Case]:
    """Machines with requests, for hypothesis."""
    return st.randoms(use_true_random=False).map(lambda rng: draw_case(rng, taste))


def draw_case(rng: Random, taste: Taste = SMALL) -> Case:
    """One machine and one request for it."""
    device = draw_device(rng, taste)
    return device, draw_request(rng, device)


# --- machines ---------------------------------------------------------------------------------


def draw_device(rng: Random, taste: Taste = SMALL) -> Device:
    """A random machine: parts by depth, joints between them, outer parts over inner joints."""
    sides = ("bottom", "top", "edge")[: rng.choice(taste.sides)]
    tools = _tools(rng)
    parts = _parts(rng, rng.randint(*taste.parts), extras=taste.extras)
    options = {}
    if taste.extras and rng.random() < 0.3:
        option = rng.choice(("cell", "cell", "p1", "j00"))  # ids of other kinds may be the same
        options[option] = Option(option, "Cellular module", fitted=rng.random() < 0.5)
        name = rng.choice(list(parts))
        if not parts[name].fixed:
            parts[name] = replace(parts[name], if_fitted=option)
    clock = _clock(rng)
    joints: dict[str, Joint] = {}
    names = [f"j{number:02}" for number in range(rng.randint(*taste.joints))]
    rng.shuffle(names)  # the order of ids is not the order of opening
    for name in names:
        joints[name] = _joint(rng, name, joints, _Stock(sides, tuple(tools), parts, clock, taste))
    for option in options:
        if rng.random() < 0.4:
            name = rng.choice(names)
            joints[name] = replace(joints[name], if_fitted=option)
    spares = _spares(rng, parts) if taste.extras else {}
    device = Device(
        id="random",
        name="Random machine",
        sides=sides,
        turn_ms=rng.choice((0, 1_000, 3_000, 5_000, clock(), 20_000)),
        turn_given=True,
        tools=tools,
        parts=parts,
        joints=joints,
        options=options,
        spares=spares,
        acts=_acts(rng, joints, parts, spares) if taste.extras else {},
    )
    return device if rng.random() < 0.1 else _mended(rng, device)


def _mended(rng: Random, device: Device) -> Device:
    """The machine with fewer obstacles, so that every joint can be opened somehow."""
    while True:
        question = ask(device, Request())
        opened = _all_openable(question)
        isolated = question.isolators <= opened
        stuck = [
            bond.id
            for bond in question.bonds.values()
            if bond.id not in opened and (isolated or bond.isolates or not bond.live)
        ]
        if not stuck:
            return device
        joint = device.joints[rng.choice(stuck)]
        index = rng.randrange(len(joint.accesses))
        bare = replace(joint.accesses[index], under=())
        mended = replace(
            joint,
            accesses=(*joint.accesses[:index], bare, *joint.accesses[index + 1 :]),
            after=tuple(other for other in joint.after if other in opened),
        )
        device = replace(device, joints={**device.joints, joint.id: mended})


def _all_openable(question: Question) -> frozenset[str]:
    """Every joint that can be opened if one wants to."""
    opened: frozenset[str] = frozenset()
    while further := [
        joint
        for joint in question.bonds
        if joint not in opened and openable_by(question, joint, opened)
    ]:
        opened |= set(further)
    return opened


@dataclass(frozen=True)
class _Stock:
    sides: tuple[str, ...]
    tools: tuple[str, ...]
    parts: dict[str, Part]
    clock: Callable[[], int]
    taste: Taste


def _clock(rng: Random) -> Callable[[], int]:
    """Times of one machine: few values (many ties), whole seconds, or milliseconds."""
    manner = rng.random()
    if manner < 0.4:
        return lambda: rng.choice((1_000, 2_000))
    if manner < 0.7:
        return lambda: 1_000 * rng.randint(0, 30)
    return lambda: rng.randint(1, 20_000)


def _tools(rng: Random) -> dict[str, Tool]:
    names = ("driver", "pick", "tweezers")[: rng.choice((0, 1, 2, 2, 3, 3))]
    swaps = [rng.choice((0, 500, 1_000, 3_000, 4_001, 15_000)) for _ in names]
    return {
        name: Tool(name, name, (), swap, swap_given=True)
        for name, swap in zip(names, swaps, strict=True)
    }


def _parts(rng: Random, count: int, *, extras: bool) -> dict[str, Part]:
    """Parts by depth, outermost first; one of them is fixed, as a rule not the outermost."""
    fixed = rng.choice((0, *range(1, count), count - 1))
    made = {}
    for index in range(count):
        price = float(rng.randint(1, 200)) if extras and rng.random() < 0.5 else None
        made[f"p{index}"] = Part(
            f"p{index}", f"Part {index}", fixed=index == fixed, price=price,
            energy=rng.random() < 0.12,
        )  # fmt: skip
    return made


def _joint(rng: Random, name: str, earlier: dict[str, Joint], stock: _Stock) -> Joint:
    """A joint between neighbours; the first ones made lie outermost and are tied to the fixed part."""
    parts = list(stock.parts)
    depth = len(earlier) * len(parts) // max(stock.taste.joints)
    first = parts[min(depth, len(parts) - 1)] if rng.random() < 0.7 else rng.choice(parts)
    count = 3 if len(parts) > 2 and rng.random() < 0.15 else 2
    joins = [first, *rng.sample([p for p in parts if p != first], count - 1)]
    kind = rng.choice((*RIGID_KINDS, *FLEXIBLE_KINDS, "other"))
    rigid = rng.random() < 0.5 if kind == "other" else kind in RIGID_KINDS or rng.random() < 0.1
    open_ms, close_ms = stock.clock(), stock.clock()
    if rng.random() < 0.3:
        close_ms = open_ms
    own_times = rng.random() < 0.5
    accesses: list[Access] = []
    for _ in range(rng.choice(stock.taste.accesses)):
        access = _access(rng, joins, stock)
        if own_times and accesses:
            access = replace(access, open_ms=stock.clock(), close_ms=stock.clock())
        else:
            access = replace(access, open_ms=open_ms, close_ms=close_ms)
        accesses.append(access)
    shutdown = rng.random() < 0.05
    damaged = rng.sample(parts, 1) if stock.taste.extras and rng.random() < 0.3 else []
    return Joint(
        id=name,
        kind=kind,
        joins=tuple(joins),
        accesses=tuple(accesses),
        rigid=rigid,
        after=tuple(other for other in earlier if rng.random() < 1.0 / (2 + len(earlier))),
        powered=not shutdown and rng.random() < (0.5 if kind in POWERED_KINDS else 0.05),
        shutdown=shutdown,
        isolates=rng.random() < 1.2 / max(stock.taste.joints),
        damage={part: rng.choice((0.01, 0.05, 0.25)) for part in damaged},
    )


def _access(rng: Random, joins: list[str], stock: _Stock) -> Access:
    parts = list(stock.parts)
    inner = max(parts.index(part) for part in joins)
    under = [part for part in parts[:inner] if rng.random() < stock.taste.under]
    if rng.random() < 0.04:
        under.append(rng.choice(parts))
    tool = rng.choice((None, *stock.tools))
    close_tool = tool if rng.random() < 0.75 else rng.choice((None, *stock.tools))
    return Access(rng.choice(stock.sides), tool, tuple(dict.fromkeys(under)), close_tool=close_tool)


def _spares(rng: Random, parts: dict[str, Part]) -> dict[str, Spare]:
    if len(parts) < 3 or rng.random() < 0.5:
        return {}
    contains = tuple(sorted(rng.sample(list(parts), rng.randint(1, 2))))
    return {"kit": Spare("kit", "Kit", contains)}


_AT_A_STEP: tuple[ActTime, ...] = ("before_open", "after_open", "before_close", "after_close")


def _acts(
    rng: Random, joints: dict[str, Joint], parts: dict[str, Part], spares: dict[str, Spare]
) -> dict[str, Act]:
    made: dict[str, Act] = {}
    while rng.random() < 0.4 and len(made) < 4:
        name = f"act{len(made)}"
        tied = rng.random() < 0.6
        times: tuple[ActTime, ...] = _AT_A_STEP if tied else ("start", "turning", "end")
        when = rng.random()
        names = [*parts, *spares]
        made[name] = Act(
            name,
            "Do it.",
            rng.choice(times),
            joint=rng.choice(list(joints)) if tied else None,
            when_replaced=tuple(rng.sample(names, rng.randint(1, 2))) if when < 0.25 else (),
            when_opened=(
                tuple(rng.sample(list(joints), min(len(joints), rng.randint(1, 2))))
                if 0.25 <= when < 0.6
                else ()
            ),
            ms=rng.choice((0, 500, 2_000, 7_001)),
            wait_ms=rng.choice((0, 60_000)),
            tool=rng.choice((None, "pick")),
        )
    return made


# --- requests ---------------------------------------------------------------------------------


def draw_request(rng: Random, device: Device) -> Request:
    """A request; most of them are possible, some are not."""
    not_fitted, fitted = _fitting(rng, device)
    bare = Request(not_fitted=not_fitted, fitted=fitted)
    question = ask(device, bare)
    joints = sorted(question.bonds)
    parts = sorted(p for p in device.parts if any(p in b.parts for b in question.bonds.values()))
    opened = _opened(rng, device, bare) if rng.random() < 0.3 else ()
    closed = [joint for joint in joints if joint not in opened]
    request = replace(
        bare,
        replace=tuple(_piece(rng, parts, device) for _ in range(rng.choice((0, 1, 1, 1, 2)))),
        reach=tuple(rng.sample(joints, min(len(joints), rng.choice((0, 0, 0, 1, 2))))),
        opened=opened,
        side=rng.choice(device.sides) if rng.random() < 0.4 else None,
        without=tuple(rng.sample(closed, 1)) if closed and rng.random() < 0.25 else (),
        objective=_objective(rng),
        rate_per_h=rng.choice((45.0, 36.0)),
    )
    if not (request.replace or request.reach or request.opened):
        return replace(request, replace=(_piece(rng, parts, device),))
    return request


def _objective(rng: Random) -> Objective:
    objectives: tuple[Objective, ...] = ("time", "time", "time", "risk", "steps")
    return rng.choice(objectives)


def _fitting(rng: Random, device: Device) -> tuple[tuple[str, ...], tuple[str, ...]]:
    not_fitted: list[str] = []
    fitted: tuple[str, ...] = ()
    for option in device.options.values():
        if rng.random() < 0.5:
            if not option.fitted:
                fitted = (option.id,)
            elif option.id != device.fixed_part:
                not_fitted.append(option.id)
    if rng.random() < 0.08:
        not_fitted.append(rng.choice([p.id for p in device.parts.values() if not p.fixed]))
    if rng.random() < 0.08:
        not_fitted.append(rng.choice(list(device.joints)))
    return tuple(name for name in not_fitted if name not in fitted), fitted


def _opened(rng: Random, device: Device, bare: Request) -> tuple[str, ...]:
    """Joints open at the start: as a rule some that somebody could have opened, sometimes any."""
    question = ask(device, bare)
    joints = sorted(question.bonds)
    if rng.random() < 0.3:
        return tuple(rng.sample(joints, min(len(joints), rng.randint(1, 3))))
    opened: list[str] = []
    for _ in range(rng.randint(1, max(1, len(joints) // 2))):
        further = [
            joint
            for joint in joints
            if joint not in opened and openable_by(question, joint, opened)
        ]
        if further:
            opened.append(rng.choice(further))
    return tuple(opened)


def _piece(rng: Random, parts: list[str], device: Device) -> str:
    gone = (
        {"kit"}
        if not any(p in parts for s in device.spares.values() for p in s.contains)
        else set()
    )
    names = [*parts, *(spare for spare in device.spares if spare not in gone)]
    if not names:
        return device.fixed_part
    return "+".join(rng.sample(names, min(len(names), rng.choice((1, 1, 1, 2)))))


# --- smaller machines that still show a fault --------------------------------------------------


def shrink(case: Case, fails: Callable[[Case], bool]) -> Case:
    """The least machine and request, by leaving things out, for which ``fails`` still holds."""
    while True:
        for smaller in _smaller(case):
            if _still_fails(smaller, fails):
                case = smaller
                break
        else:
            return case


def _still_fails(case: Case, fails: Callable[[Case], bool]) -> bool:
    try:
        ask(*case)
        return fails(case)
    except Exception:  # noqa: BLE001 -- a case that cannot even be asked is no smaller example
        return False


def _smaller(case: Case) -> Iterator[Case]:
    device, request = case
    yield from ((smaller, request) for smaller in _smaller_device(device))
    for key in ("replace", "reach", "opened", "without", "not_fitted", "fitted"):
        values = getattr(request, key)
        for index in range(len(values)):
            fewer = replace(request, **{key: values[:index] + values[index + 1 :]})
            if fewer.replace or fewer.reach or fewer.opened:
                yield device, fewer
    for plain in (replace(request, side=None), replace(request, objective="time")):
        if plain != request:
            yield device, plain


def _smaller_device(device: Device) -> Iterator[Device]:
    for name in device.joints:
        joints = {k: _without(j, name) for k, j in device.joints.items() if k != name}
        yield replace(device, joints=joints)
    for act in device.acts:
        yield replace(device, acts={k: a for k, a in device.acts.items() if k != act})
    plain = replace(device, options={}, spares={}, turn_ms=0)
    for bare in (replace(device, options={}), replace(device, spares={}), plain):
        if bare != device:
            yield bare
    yield from _smaller_parts(device)
    for joint in device.joints.values():
        for simpler in _simpler(joint):
            yield replace(device, joints={**device.joints, joint.id: simpler})


def _smaller_parts(device: Device) -> Iterator[Device]:
    used = {p for j in device.joints.values() for p in j.joins}
    used |= {p for j in device.joints.values() for a in j.accesses for p in a.under}
    for part in device.parts.values():
        if part.id not in used and not part.fixed:
            yield replace(device, parts={k: p for k, p in device.parts.items() if k != part.id})
        for plain in (replace(part, energy=False), replace(part, price=None)):
            if plain != part:
                yield replace(device, parts={**device.parts, part.id: plain})


def _without(joint: Joint, name: str) -> Joint:
    return replace(joint, after=tuple(other for other in joint.after if other != name))


def _simpler(joint: Joint) -> Iterator[Joint]:
    for other in joint.after:
        yield _without(joint, other)
    for changed in (
        replace(joint, powered=False),
        replace(joint, isolates=False),
        replace(joint, shutdown=False),
        replace(joint, damage={}),
        replace(joint, if_fitted=None),
    ):
        if changed != joint:
            yield changed
    if len(joint.joins) > 2:
        for part in joint.joins:
            yield replace(joint, joins=tuple(p for p in joint.joins if p != part))
    for index, access in enumerate(joint.accesses):
        before, after = joint.accesses[:index], joint.accesses[index + 1 :]
        if before or after:
            yield replace(joint, accesses=before + after)
        for simpler in _simpler_access(access):
            yield replace(joint, accesses=(*before, simpler, *after))


def _simpler_access(access: Access) -> Iterator[Access]:
    for part in access.under:
        yield replace(access, under=tuple(p for p in access.under if p != part))
    for changed in (
        replace(access, open_ms=0),
        replace(access, close_ms=0),
        replace(access, tool=None),
        replace(access, close_tool=None),
    ):
        if changed != access:
            yield changed
