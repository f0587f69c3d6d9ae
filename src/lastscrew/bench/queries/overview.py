"""What is here: numbers by stage and place, and a page of units in one of four orders.

Every page costs the same few questions, however many units there are: pages follow each other by the place
in the order where the last one ended, not by counting through all before it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from django.db.models import BigIntegerField, Count, F, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from lastscrew.bench.depot.folded import folded
from lastscrew.bench.depot.small_v import SmallV, standing_of
from lastscrew.bench.models import PartLineState, Run, Unit
from lastscrew.bench.queries.stays import device_names
from lastscrew.bench.store.jobs import device_of
from lastscrew.plan.wording import joint_name, piece_name

Order = Literal["place", "due", "waiting", "changed"]
ORDERS: tuple[Order, ...] = get_args(Order)

PAGE = 50
MOST_PLACES = 60
NEVER_MS = 253_402_300_799_999
"""Stands for “no date” where dates are ordered; the last moment that an event may have."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the overview is asked for.

    Attributes:
        order: By place, by due date, by what it waits for, by latest change.
        stage: Only this stage; empty for all that are here; ``gone`` for what has left.
        place, worker, device: Only these.
        words: Words that the unit's number, serial, tag, device or place have.
        after: Where the page before ended.
        late: Only what is due or should have come by now.
    """

    order: Order = "place"
    stage: str = ""
    place: str = ""
    worker: str = ""
    device: str = ""
    words: str = ""
    after: str = ""
    late: bool = False

    @property
    def is_narrowed(self) -> bool:
        """True when not all that is here is shown."""
        return bool(
            self.stage or self.place or self.worker or self.device or self.words or self.late
        )


@dataclass(frozen=True, slots=True)
class Line:
    """A unit as the overview shows it.

    Attributes:
        unit: The unit.
        v: Its small V.
        device: Name of its device.
        targets: What is to be exchanged or reached.
        waits_for: What it waits for: a reason, or parts that have not come.
        is_due: It was to be ready by now.
        is_waited_out: What it waits for was to be there by now.
        group: The heading that it stands under.
    """

    unit: Unit
    v: SmallV
    device: str
    targets: tuple[str, ...]
    waits_for: tuple[str, ...]
    is_due: bool
    is_waited_out: bool
    group: str

    @property
    def is_late(self) -> bool:
        """Whether it is late in either way."""
        return self.is_due or self.is_waited_out


@dataclass(frozen=True, slots=True)
class Overview:
    """A page of the overview: its lines, how many there are in all, where the next page begins."""

    lines: tuple[Line, ...]
    total: int
    next: str


@dataclass(frozen=True, slots=True)
class Numbers:
    """How much is here.

    Attributes:
        stages: Units by stage, of what is here.
        places: (place, units), by name; the fullest sixty.
        more_places: How many places are not among them.
        late: Units that are due by now.
        workers: Who has something in hand: name, units.
    """

    stages: Mapping[str, int]
    places: tuple[tuple[str, int], ...]
    more_places: int
    late: int
    workers: tuple[tuple[str, int], ...]


def numbers(now_ms: int) -> Numbers:
    """How much is here, by stage, place and person."""
    here = Unit.objects.exclude(stage=Unit.Stage.GONE).order_by()
    stages = dict(here.values_list("stage").annotate(n=Count("pk")))
    places = list(
        here.exclude(place="").values_list("place").annotate(n=Count("pk")).order_by("-n", "place")
    )
    workers = here.exclude(worker="").values_list("worker").annotate(n=Count("pk"))
    return Numbers(
        stages,
        tuple(sorted(places[:MOST_PLACES])),
        max(0, len(places) - MOST_PLACES),
        here.filter(_late(now_ms)).count(),
        tuple(workers.order_by("-n", "worker")[:MOST_PLACES]),
    )


def overview(asked: Asked, now_ms: int) -> Overview:
    """A page of units.

    Args:
        asked: What is asked for.
        now_ms: What time it is.
    """
    units = _filtered(asked, now_ms)
    total = units.count()
    page = _after(_ordered(units, asked.order), asked.order, asked.after)
    found = list(page[: PAGE + 1])
    end = _place_of(found[PAGE - 1], asked.order) if len(found) > PAGE else ""
    return Overview(_lines(found[:PAGE], asked.order, now_ms), total, end)


def _late(now_ms: int) -> Q:
    waits = Q(stage=Unit.Stage.PARKED, waiting_until_ms__lt=now_ms)
    return Q(due_ms__lt=now_ms) | waits


def _filtered(asked: Asked, now_ms: int) -> QuerySet[Unit]:
    every = Unit.objects.all()
    is_here = ~Q(stage=Unit.Stage.GONE)
    units = every.filter(stage=asked.stage) if asked.stage else every.filter(is_here)
    if asked.order == "waiting" and not asked.stage:
        units = units.filter(stage=Unit.Stage.PARKED)
    for name in ("place", "worker", "device"):
        if value := getattr(asked, name):
            units = units.filter(**{name: value})
    if asked.late:
        units = units.filter(_late(now_ms))
    for word in folded(asked.words).split()[:8]:
        units = units.filter(search__contains=word)
    return units


def _ordered(units: QuerySet[Unit], order: Order) -> QuerySet[Unit]:
    if order == "due":
        units = units.annotate(rank=Coalesce("due_ms", _never()))
        return units.order_by("rank", "number")
    if order == "waiting":
        units = units.annotate(rank=Coalesce("waiting_until_ms", _never()))
        return units.order_by("rank", "number")
    if order == "changed":
        return units.annotate(rank=F("changed_ms")).order_by("-rank", "-number")
    return units.annotate(rank=F("place")).order_by("rank", "number")


def _never() -> Value:
    return Value(NEVER_MS, output_field=BigIntegerField())


def _place_of(unit: Unit, order: Order) -> str:
    """Where a unit stands in the order, as text that an address may carry."""
    rank: Any = {
        "due": unit.due_ms, "waiting": unit.waiting_until_ms, "changed": unit.changed_ms, "place": unit.place,
    }[order]  # fmt: skip
    return f"{unit.number}~{NEVER_MS if rank is None else rank}"


def _after(units: QuerySet[Unit], order: Order, after: str) -> QuerySet[Unit]:
    """What comes behind a place in the order; everything where the place makes no sense."""
    number, mark, rank = after.partition("~")
    if not mark or not number.isdecimal() or len(number) > 9:
        return units
    if order != "place" and not (rank.isdecimal() and len(rank) < 17):
        return units
    value: Any = rank if order == "place" else int(rank)
    sign = "lt" if order == "changed" else "gt"
    behind = Q(**{f"rank__{sign}": value}) | Q(rank=value, **{f"number__{sign}": int(number)})
    return units.filter(behind)


def _lines(units: Sequence[Unit], order: Order, now_ms: int) -> tuple[Line, ...]:
    keys = [unit.run for unit in units if unit.run]
    runs = {run.key: run for run in Run.objects.filter(pk__in=keys)}
    ordered = _not_come(runs)
    names = device_names()
    return tuple(
        _line(unit, runs.get(unit.run), ordered.get(unit.run, ()), names, order, now_ms)
        for unit in units
    )  # fmt: skip


def _not_come(runs: Mapping[str, Run]) -> dict[str, tuple[str, ...]]:
    """By job: parts that are to be ordered or have not come."""
    found: dict[str, tuple[str, ...]] = {}
    lines = PartLineState.objects.filter(run_id__in=runs, state__in=("to_order", "ordered"))
    for run, what, code in lines.values_list("run_id", "what", "order_code"):
        found[run] = (*found.get(run, ()), name_of_line(runs[run].revision, what) or code)
    return found


def name_of_line(revision: str, what: str) -> str:
    """What a line of an order is about, in the words of the device file."""
    try:
        device = device_of(revision)
    except KeyError:
        return what.replace("_", " ")
    supply = device.supplies.get(what)
    return supply.name if supply is not None else piece_name(device, what) if what else ""


def small_v_of(unit: Unit, run: Run | None) -> SmallV:
    """The small V of a unit, from its job."""
    open_now = len(run.open_joints) if run is not None else 0
    opened = run.opened_count if run is not None else 0
    last_limb = run.last_limb if run is not None else ""
    standing = standing_of(unit.stage, opened=opened, open_now=open_now, last_limb=last_limb)
    return SmallV(
        standing,
        open_now,
        max(opened, open_now),
        waits=unit.stage == Unit.Stage.PARKED,
        stopped=unit.stage == Unit.Stage.SET_APART,
    )


def v_of(unit: Unit) -> SmallV:
    """The small V of one unit."""
    run = Run.objects.filter(pk=unit.run).first() if unit.run else None
    return small_v_of(unit, run)


def _line(
    unit: Unit,
    run: Run | None,
    ordered: tuple[str, ...],
    names: Mapping[str, str],
    order: Order,
    now_ms: int,
) -> Line:
    waits = (unit.waiting_for,) if unit.waiting_for else ()
    is_due = unit.due_ms is not None and unit.due_ms < now_ms and unit.gone_ms is None
    waits_until = unit.waiting_until_ms if unit.stage == Unit.Stage.PARKED else None
    is_waited_out = waits_until is not None and waits_until < now_ms
    group = {"place": unit.place, "waiting": unit.waiting_for}.get(order, "")
    return Line(
        unit,
        small_v_of(unit, run),
        names.get(unit.device) or unit.device.replace("_", " ") or unit.device_words,
        target_names(run) if run is not None else (),
        (*waits, *(what for what in ordered if what not in waits)),
        is_due,
        is_waited_out,
        group,
    )


def target_names(run: Run) -> tuple[str, ...]:
    """What a job is for, in the words of its device file."""
    try:
        device = device_of(run.revision)
    except KeyError:
        return tuple(str(target).replace("_", " ") for target in run.targets)
    return tuple(
        joint_name(device, target) if target in device.joints else piece_name(device, target)
        for target in map(str, run.targets)
    )
