"""A machine is given up: scrapped, kept for parts, or exchanged for another one, as it stands, open or not.

Nothing has to be closed and nothing proven. What is asked instead is where everything is: the machine, its pack, the
pieces that lie out; what of it goes into the store; what becomes of what was ordered for it and of its identity.
Pure: how the job stands and what a person says in, what is missing and what follows out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from django.utils.translation import gettext as _

from lastscrew.bench.depot.events import StockMoved
from lastscrew.bench.depot.stocking import stock_code
from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.device.opening import isolating_joints, parts_off
from lastscrew.fasteners.ledger import Ledger
from lastscrew.fasteners.pieces import kind_text
from lastscrew.plan.wording import joint_name, listed, part_name
from lastscrew.problems import Problem
from lastscrew.run import events as e
from lastscrew.run.state import JobState, is_isolated, parts_of

GIVEN_UP: Final = frozenset({"scrapped", "kept_for_parts", "exchanged"})
"""Endings after which the machine goes to nobody who would use it as it is."""

Pack = Literal["out", "unplugged", "connected", "none"]
PACKS: Final[tuple[Pack, ...]] = ("out", "unplugged", "connected", "none")
PIECES: Final = ("thrown_away", "with_it")
OPEN_LINES: Final = frozenset({"to_order", "ordered", "received"})
OF_NO_USE: Final = frozenset({"bad", "damaged", "dead_on_arrival"})


@dataclass(frozen=True, slots=True)
class Loose:
    """Pieces that lie out: where, how many, of what kind, out of which joint."""

    place: str
    count: int
    what: str
    joint: str
    joint_id: str
    kind: str


@dataclass(frozen=True, slots=True)
class LinePart:
    """A line of the order that is neither fitted nor sent back: its words, and the event that closes it."""

    what: str
    state: str
    closing: e.PartLine


@dataclass(frozen=True, slots=True)
class Spare:
    """A part that is out of the machine, its order code (empty for none), and whether the job was to exchange it."""

    part: str
    name: str
    order_code: str
    is_suspect: bool


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of a machine that is given up.

    Attributes:
        is_open: A joint is open or a piece lies out.
        loose: Pieces that lie out.
        out: Parts that are out of it and of use.
        within: Names of parts of use that are still in it.
        bad: Names of parts that were found to be of no use.
        packs: Names of the parts that hold energy.
        pack_is: How the pack is as far as the steps say; empty where they do not say it.
        lines: Lines of the order that are open.
        identity: Names of parts that carry the machine's identity or a serial number of their own.
    """

    is_open: bool = False
    loose: tuple[Loose, ...] = ()
    out: tuple[Spare, ...] = ()
    within: tuple[str, ...] = ()
    bad: tuple[str, ...] = ()
    packs: tuple[str, ...] = ()
    pack_is: str = ""
    lines: tuple[LinePart, ...] = ()
    identity: tuple[str, ...] = ()

    @property
    def within_words(self) -> str:
        """The parts that are still in it, in words."""
        return listed(list(self.within))


@dataclass(frozen=True, slots=True)
class Told:
    """What a person says about a machine that is given up.

    Attributes:
        place: Where it is now.
        pack: How its pack is (:data:`PACKS`), empty for not said.
        pieces: What becomes of the pieces that lie out (:data:`PIECES`), empty for not said.
        kept: Parts that go into the store.
        closes_lines: What was ordered for it is called off, or goes into the store.
        identity: What becomes of its identity.
    """

    place: str = ""
    pack: str = ""
    pieces: str = ""
    kept: tuple[str, ...] = ()
    closes_lines: bool = False
    identity: str = ""


def left_of(
    device: Device,
    state: JobState,
    ledger: Ledger,
    lines: Sequence[LinePart],
    *,
    hazard: bool = False,
) -> Left:
    """What is left of a machine.

    Args:
        device: The whole device.
        state: How its job stands.
        ledger: Its ledger.
        lines: Lines of its order that are open.
        hazard: It is set apart because of a hazard: its pack is nothing for the store.
    """
    fitted = fit(device, state.not_fitted, state.fitted)
    off = frozenset(parts_off(fitted, [joint for joint in state.open if joint in fitted.joints]))
    loose = tuple(
        Loose(
            lot.compartment or "",
            lot.count,
            kind_text(device, lot.kind),
            joint_name(device, lot.joint),
            lot.joint,
            lot.kind.key,
        )
        for lot in ledger.out
    )
    movable = [part for part in fitted.parts.values() if not part.fixed]
    of_no_use = {part for part, verdict in state.judged.items() if verdict in OF_NO_USE}
    packs = [part for part in movable if part.energy]
    fresh = {part for x in state.exchanged for part in parts_of(device, x.part)}
    to_exchange = {part for piece in state.replace for part in parts_of(device, piece)} - fresh
    return Left(
        is_open=bool(state.open or loose),
        loose=loose,
        out=tuple(
            Spare(
                part.id, part_name(device, part.id), part.order_code or "", part.id in to_exchange
            )
            for part in movable
            if part.id in off and part.id not in of_no_use and not (hazard and part.energy)
        ),
        within=tuple(
            part_name(device, part.id)
            for part in movable
            if part.id not in off and part.id not in of_no_use
        ),
        bad=tuple(part_name(device, part.id) for part in movable if part.id in of_no_use),
        packs=tuple(part_name(device, part.id) for part in packs),
        pack_is=_pack_is(fitted, state, [part.id for part in packs], off),
        lines=tuple(lines),
        identity=tuple(
            part_name(device, part.id)
            for part in fitted.parts.values()
            if part.identity or part.serial
        ),
    )


def _pack_is(device: Device, state: JobState, packs: Sequence[str], off: frozenset[str]) -> str:
    if not packs:
        return "none"
    if off.issuperset(packs):
        return "out"
    if isolating_joints(device):
        return "unplugged" if is_isolated(device, state) else "connected"
    return ""


def missing(left: Left, told: Told) -> list[Problem]:
    """What still has to be said; of a machine that was never opened nothing has to."""
    found = []
    if left.is_open and not told.place:
        text = _("Nothing says where the machine is now.")
        found.append(Problem(text, _("Name shelf, box or bin."), "place", code="no_place"))
    if left.is_open and not told.pack:
        text = _("Nothing says how its pack is.")
        found.append(Problem(text, _("Choose one."), "pack", code="no_pack"))
    if left.loose and not told.pieces:
        text = _("Nothing says what becomes of the pieces that lie out.")
        found.append(Problem(text, _("Choose one."), "pieces", code="no_pieces"))
    if left.lines and not told.closes_lines:
        text = _("What was ordered for it is neither fitted nor called off.")
        found.append(Problem(text, _("Call it off, then tick that."), "lines", code="lines_open"))
    if left.is_open and left.identity and not told.identity:
        text = _("Nothing says what becomes of its identity.")
        remedy = _(
            "Write down serial numbers, accounts and tags: erased, signed off, or kept where."
        )
        found.append(Problem(text, remedy, "identity", code="no_identity"))
    return found


def job_ends(left: Left, told: Told, *, is_parked: bool) -> Iterator[e.Happening]:
    """What has to be told to the job before it ends."""
    if is_parked:
        yield e.Resumed()
    for line in left.lines:
        yield line.closing
    if told.pieces == "thrown_away":
        for lot in left.loose:
            yield e.Scrapped(
                count=lot.count,
                joint=lot.joint_id,
                piece=lot.kind,
                reason=_("given up with the machine"),
            )


def into_store(left: Left, told: Told) -> Iterator[StockMoved]:
    """What comes into the store."""
    for spare in kept_of(left, told):
        yield StockMoved(item=stock_code(spare.order_code), change=1, reason="harvested")


def kept_of(left: Left, told: Told) -> tuple[Spare, ...]:
    """The parts that go into the store: of those that are out and have an order code, what was chosen."""
    return tuple(one for one in left.out if one.part in told.kept and one.order_code)
