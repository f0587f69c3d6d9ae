"""Plans for a page: quickly, from a shelf where possible, with what else could be done beside them."""

from __future__ import annotations

import statistics
import threading
import time
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from lastscrew.device.model import Device, Hazard
from lastscrew.fasteners.tray import TrayMap, tray_map
from lastscrew.paper.look import severity
from lastscrew.plan.briefing import Briefing, brief
from lastscrew.plan.materials import OrderLine
from lastscrew.plan.model import Objective, Plan, Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.plan.wording import joint_name, piece_name
from lastscrew.problems import InputError
from lastscrew.proof.checks import Proof, proof_of
from lastscrew.saying import joined, say
from lastscrew.times.ranges import TimeRange

LIMIT_S: Final = 3.0
"""So long a page may search for its plan; real machines need hundredths (our own figure)."""
VARIANTS_S: Final = 2.0
"""So long for all variants together; those that are not ready are left out and named."""
MOST_PLANS: Final = 200
MOST_VARIANTS: Final = 8
MOST_TRAY: Final = 12
"""Compartments in a row and in a column of the tray on the page."""

OBJECTIVE_NAMES: Final[Mapping[Objective, str | Promise]] = {
    "time": gettext_lazy("least time"), "risk": gettext_lazy("least time and damage"),
    "steps": gettext_lazy("fewest joints"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan with everything that follows from it.

    Attributes:
        briefing: The plan and what a technician has to know besides.
        proof: What has to be proven afterwards.
    """

    briefing: Briefing
    proof: Proof

    @property
    def plan(self) -> Plan:
        """The plan itself."""
        return self.briefing.plan

    @property
    def total(self) -> TimeRange:
        """Hands-on time."""
        return self.briefing.timing.total


class Planner:
    """Plans, and keeps what is proven by device and request. Safe between threads."""

    def __init__(self, most: int = MOST_PLANS) -> None:
        """Keep at most ``most`` plans."""
        self._most = most
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[str, int, Request], Planned] = OrderedDict()

    def plan(self, device: Device, request: Request, limit_s: float = LIMIT_S) -> Planned:
        """The plan for a request.

        Args:
            device: The whole device; its ``revision_hash`` names it, with what a job found otherwise.
            request: What is asked.
            limit_s: Seconds after which the best plan so far is taken.

        Raises:
            InputError: The request names something unknown, can't be met, or found no plan in time.
        """
        key = (device.revision_hash, _as_found(device), request)
        with self._lock:
            kept = self._kept.get(key)
            if kept is not None:
                self._kept.move_to_end(key)
                return kept
        ends = time.monotonic() + limit_s
        found = plan(device, request, StopRule(expired=lambda: time.monotonic() >= ends))
        briefing = brief(device, found)
        made = Planned(briefing, proof_of(briefing.device, found))
        if found.proven and device.revision_hash:
            with self._lock:
                self._kept[key] = made
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        return made


def _as_found(device: Device) -> int:
    """A number for what a job may have found otherwise than the file says: counts, what is rigid, what covers what."""
    return hash(tuple(
        (joint.count, joint.rigid, tuple(access.under for access in joint.accesses))
        for joint in device.joints.values()
    ))  # fmt: skip


PLANNER: Final = Planner()
"""The one that all pages share."""


# --- variants -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Variant:
    """Another way to do the same job.

    Attributes:
        name: What is different, in words; several where they come to the same.
        request: What was asked.
        planned: The plan.
        is_asked: It is the plan of the page.
    """

    name: str
    request: Request
    planned: Planned
    is_asked: bool = False

    @property
    def joints(self) -> int:
        """Joints that are worked on."""
        return len(self.planned.plan.open_at_turning)

    @property
    def to_buy(self) -> float | None:
        """What everything that is needed costs; None where a price is missing."""
        costs = [line.cost for line in self.planned.briefing.order]
        return (
            None if any(cost is None for cost in costs) else sum(c for c in costs if c is not None)
        )

    @property
    def damage(self) -> float:
        """Price of the damage to be expected, in the currency of the device file."""
        return expected_damage(self.planned)


def expected_damage(planned: Planned) -> float:
    """Chance times price of what the joints that are opened can spoil."""
    device = planned.briefing.device
    return sum(
        chance * (device.parts[part].price or 0.0)
        for step in planned.plan.way_in
        for part, chance in device.joints[step.joint].damage.items()
        if part in device.parts
    )


def other_requests(
    device: Device, request: Request, asked: Planned
) -> Iterator[tuple[str, Request]]:
    """What else could be asked, with what is different in words: objectives, spares, without a joint."""
    for objective, name in OBJECTIVE_NAMES.items():
        if objective != request.objective:
            yield str(name), replace(request, objective=objective)
    for piece in request.replace:
        for other in _other_pieces(device, piece):
            swapped = tuple(
                dict.fromkeys(other if one == piece else one for one in request.replace)
            )
            yield (
                say(
                    "{piece} instead of {other}",
                    piece=piece_name(device, other),
                    other=piece_name(device, piece),
                ),
                replace(request, replace=swapped),
            )
    if request.without:
        yield _("every joint allowed"), replace(request, without=())
    for joint in _risky_joints(asked):
        yield (
            _("without %(joint)s") % {"joint": joint_name(device, joint)},
            replace(request, without=(*request.without, joint)),
        )


def _other_pieces(device: Device, piece: str) -> list[str]:
    """Spares that hold a part; the parts of a spare (where they are few), alone."""
    if piece in device.spares:
        inside = device.spares[piece].contains
        return [part for part in inside if part in device.parts] if 1 < len(inside) <= 3 else []
    return [
        spare.id
        for spare in device.spares.values()
        if piece in spare.contains and spare.contains != (piece,)
    ]


def _risky_joints(asked: Planned) -> list[str]:
    """The joints of the plan with the most damage to expect, at most two."""
    device = asked.briefing.device
    risks = []
    for step in asked.plan.way_in:
        joint = device.joints[step.joint]
        risk = sum(
            chance * (device.parts[part].price or 0.0)
            for part, chance in joint.damage.items()
            if part in device.parts
        )
        if risk > 0 and not joint.isolates:
            risks.append((-risk, joint.id))
    return [joint for _, joint in sorted(risks)[:2]]


def variants_of(
    planner: Planner, device: Device, request: Request, asked: Planned, limit_s: float = VARIANTS_S
) -> tuple[Variant, ...]:
    """The plan of the page and what else could be done, side by side; the same way is told once.

    Args:
        planner: Plans them.
        device: The whole device.
        request: What is asked.
        asked: Its plan.
        limit_s: Seconds for all of them.
    """
    ends = time.monotonic() + limit_s
    first = Variant(str(OBJECTIVE_NAMES[request.objective]), request, asked, is_asked=True)
    found = [first]
    for name, other in other_requests(device, request, asked):
        left = ends - time.monotonic()
        if len(found) >= MOST_VARIANTS or left <= 0:
            break
        try:
            planned = planner.plan(device, other, left)
        except InputError:
            continue  # that can't be done: then it is no other way
        same = next((i for i, v in enumerate(found) if _is_same_way(v, planned, other)), None)
        if same is None:
            found.append(Variant(name, other, planned))
        elif name not in found[same].name:
            found[same] = replace(found[same], name=joined(", ", (found[same].name, name)))
    return tuple(found)


def _is_same_way(variant: Variant, planned: Planned, request: Request) -> bool:
    if variant.request.replace != request.replace:
        return False
    mine, other = variant.planned.plan, planned.plan
    return mine.open_at_turning == other.open_at_turning and mine.total_ms == other.total_ms


# --- what has to be there --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ToHave:
    """A line of what has to be there, with what lies in stock.

    Attributes:
        line: What is needed.
        at_hand: How much lies there, None where it was never counted.
        place: Where.
    """

    line: OrderLine
    at_hand: float | None
    place: str = ""

    @property
    def is_short(self) -> bool:
        """Too little lies there, or nobody knows."""
        return self.at_hand is None or self.at_hand < self.line.amount


def codes_of(line: OrderLine) -> tuple[str, ...]:
    """Under which names a line may lie in stock, the order code first."""
    own = () if line.order_code is None else (f"code:{line.order_code}",)
    if line.kind in ("fastener", "supply"):
        return (*own, f"{line.kind}:{line.id}")
    return own


def with_stock(
    order: Sequence[OrderLine], stock: Mapping[str, tuple[float, str]]
) -> tuple[ToHave, ...]:
    """Lines with what lies there.

    Args:
        order: What is needed.
        stock: Count and place by code.
    """
    found = []
    for line in order:
        code = next((code for code in codes_of(line) if code in stock), None)
        count, place = stock[code] if code is not None else (None, "")
        found.append(ToHave(line, count, place))
    return tuple(found)


# --- what is told ----------------------------------------------------------------------------------


def hazards_of(briefing: Briefing) -> tuple[Hazard, ...]:
    """Everything that can hurt in a job, most severe first, each once."""
    ids = dict.fromkeys((*briefing.bare_hazards, *(at.hazard for at in briefing.hazards)))
    hazards = [briefing.device.hazards[key] for key in ids]
    return tuple(sorted(hazards, key=lambda hazard: (severity(hazard.signal), hazard.id)))


@dataclass(frozen=True, slots=True)
class MeasuredHere:
    """How long the steps of a plan took at this depot.

    Attributes:
        steps: How many steps of the plan have been measured.
        of: How many it has.
        total_ms: Sum of their medians, where all have been measured; else None.
        least: Fewest measurements of one step.
    """

    steps: int
    of: int
    total_ms: int | None
    least: int


def measured_here(planned: Plan, times: Mapping[tuple[str, str], Sequence[int]]) -> MeasuredHere:
    """What this depot has measured of a plan's steps.

    Args:
        planned: The plan.
        times: Milliseconds by limb and joint.
    """
    steps = [(step.limb, step.joint) for step in (*planned.way_in, *planned.way_out)]
    known = [times[step] for step in steps if times.get(step)]
    complete = bool(steps) and len(known) == len(steps)
    total = round(sum(statistics.median(ms) for ms in known)) if complete else None
    return MeasuredHere(len(known), len(steps), total, min((len(ms) for ms in known), default=0))


def comes_out(briefing: Briefing) -> bool:
    """True where something loose comes out that goes back, so that a tray is of use."""
    joints = briefing.device.joints
    return any(joints[out.joint].reuse != "single_use" for out in briefing.fasteners)


def tray_of(briefing: Briefing) -> TrayMap | None:
    """Where the pieces lie: as near to a square as they need, None where nothing comes out."""
    groups = len(tray_map(briefing.device, briefing.plan, MOST_TRAY, MOST_TRAY).groups)
    if not groups:
        return None
    columns = min(MOST_TRAY, max(2, round(groups**0.5)))
    rows = min(MOST_TRAY, -(-groups // columns))
    return tray_map(briefing.device, briefing.plan, rows, columns)
