"""The ledger: where every loose piece came from, where it lies, where it went.

What must balance, per kind of piece::

    taken out + surplus used + unexplained = put back + scrapped + lost + still out

(in an orderly job nothing is surplus or unexplained, so that taken out = put back + scrapped + lost +
still out), and for every joint that was closed::

    count = put back + new + left empty

The books keep lots by addition and subtraction, the totals apart from them; a property test holds
the two together. The same books are kept over a plan, to see what will be out at each moment.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from lastscrew.device.model import Device
from lastscrew.fasteners.books import Books, JointRow, KindTotals
from lastscrew.fasteners.pieces import Kind, has_fasteners, kind_text, lets_go
from lastscrew.plan.model import Limb, Plan
from lastscrew.plan.wording import joint_name, marked
from lastscrew.run.events import Closed, Event, Opened, Started
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState, Remark
from lastscrew.saying import say


@dataclass(frozen=True, slots=True)
class KindAccount:
    """The account of one kind of piece.

    Attributes:
        kind: The kind.
        taken_out, put_back, new, scrapped, lost: Movements since the job began.
        out: Lies out of joints now.
        surplus: Turned up and belongs to no joint.
        surplus_used: Surplus pieces that were put into joints, scrapped or lost after all.
        unexplained: Went in, was scrapped or lost, and had come from nowhere.
        recount_gap: At the last recount so many more (or, negative, fewer) were there than the books
            say, as far as finds and losses since have not explained it; None without a recount.
    """

    kind: Kind
    taken_out: int
    put_back: int
    new: int
    scrapped: int
    lost: int
    out: int
    surplus: int
    surplus_used: int
    unexplained: int
    recount_gap: int | None = None

    @property
    def balances(self) -> bool:
        """True when both sides of the account are equal."""
        came = self.taken_out + self.surplus_used + self.unexplained
        return came == self.put_back + self.scrapped + self.lost + self.out


@dataclass(frozen=True, slots=True)
class JointAccount:
    """The account of one joint and kind of piece, since the joint was last opened.

    ``state`` is ``open``, ``closed``, or ``renewed`` (came closed inside an exchanged piece).
    """

    joint: str
    kind: Kind
    state: str
    count: int
    taken_out: int
    missing: int
    put_back: int
    new: int
    left_empty: int

    @property
    def balances(self) -> bool:
        """True unless the joint is closed and pieces are not accounted for."""
        if self.state != "closed":
            return True
        return self.count == self.put_back + self.new + self.left_empty


@dataclass(frozen=True, slots=True)
class OutLot:
    """What lies out of one joint, and where (None: nobody said)."""

    joint: str
    kind: Kind
    count: int
    compartment: str | None


@dataclass(frozen=True, slots=True)
class Loss:
    """Pieces still lost. ``inside`` the machine: True, False, or None for not known."""

    event: str
    joint: str | None
    kind: Kind
    count: int
    inside: bool | None
    searched: bool


@dataclass(frozen=True, slots=True)
class Surplus:
    """Pieces that turned up and belong to no joint."""

    event: str
    kind: Kind
    count: int


@dataclass(frozen=True, slots=True)
class Ledger:
    """All accounts of a job.

    Attributes:
        kinds: One account per kind, fasteners first.
        joints: One account per joint and kind, in the order of opening.
        out: What lies out, in the order of opening.
        losses: What is still lost.
        surplus: What belongs to no joint.
        notes: What is worth telling (pieces borrowed from another joint's lot …).
    """

    kinds: tuple[KindAccount, ...]
    joints: tuple[JointAccount, ...]
    out: tuple[OutLot, ...]
    losses: tuple[Loss, ...]
    surplus: tuple[Surplus, ...]
    notes: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class Movement:
    """Pieces that a step of a plan frees or uses.

    Attributes:
        number: Number of the step, from 1 over both limbs.
        limb, joint: The step.
        kind: Kind of piece.
        change: More (positive) or fewer pieces out.
        new: New pieces that go in.
        out: Pieces of the kind out afterwards.
        loose: Pieces of all kinds out afterwards.
    """

    number: int
    limb: Limb
    joint: str
    kind: Kind
    change: int
    new: int
    out: int
    loose: int


@dataclass(frozen=True, slots=True)
class PlanLedger:
    """What will move when a plan is carried out, and the accounts at its end and turning point."""

    movements: tuple[Movement, ...]
    at_turning: Ledger
    at_end: Ledger


@dataclass(frozen=True, slots=True)
class Hindrance:
    """A reason why a record may not be closed yet."""

    code: str
    text: str
    joint: str | None = None
    kind: Kind | None = None


def ledger_of(device: Device, events: Iterable[Event]) -> Ledger:
    """The ledger of a job so far.

    Args:
        device: The whole device.
        events: What happened, in order; resends and what was taken back are left out here.
    """
    books = Books(device)
    for event in in_force(tuple(events)):
        books.take(event)
    return _ledger(books)


def ledger_of_plan(device: Device, plan: Plan) -> PlanLedger:
    """The ledger that a plan leads to if all goes well.

    Args:
        device: The whole device.
        plan: The plan.
    """
    books = Books(device)
    movements: list[Movement] = []
    books.take(_event(Started(device=device.id, revision="plan", opened=plan.request.opened)))
    at_turning = _ledger(books)
    for number, step in enumerate((*plan.way_in, *plan.way_out), 1):
        before, news = dict(books.lots), _new_of(books)
        kind = Opened if step.limb == "in" else Closed
        books.take(_event(kind(joint=step.joint)))
        movements += _movements(books, before, news, (number, step.limb, step.joint))
        if step.limb == "in":
            at_turning = _ledger(books)
    return PlanLedger(tuple(movements), at_turning, _ledger(books))


def _event(what: Opened | Closed | Started) -> Event:
    return Event(id="plan", what=what)


def _new_of(books: Books) -> dict[Kind, int]:
    return {kind: totals.new for kind, totals in books.totals.items()}


def _movements(
    books: Books,
    before: Mapping[tuple[str, Kind], int],
    news: Mapping[Kind, int],
    step: tuple[int, Limb, str],
) -> list[Movement]:
    change: dict[Kind, int] = {}
    for lot, count in books.lots.items():
        change[lot[1]] = change.get(lot[1], 0) + count - before.get(lot, 0)
    found: list[Movement] = []
    for kind in sorted(change, key=lambda kind: kind.rank):
        new = books.of(kind).new - news.get(kind, 0)
        if change[kind] or new:
            loose = sum(books.lots.values())
            found.append(Movement(*step, kind, change[kind], new, books.out_of(kind), loose))
    return found


def _ledger(books: Books) -> Ledger:
    kinds = sorted(_kinds_in(books), key=lambda kind: kind.rank)
    return Ledger(
        kinds=tuple(_account(books, kind, books.of(kind)) for kind in kinds),
        joints=tuple(_joint_account(lot, row) for lot, row in books.rows.items()),
        out=tuple(
            OutLot(joint, kind, count, books.places.get(joint))
            for (joint, kind), count in books.lots.items()
            if count
        ),
        losses=tuple(
            Loss(x.event, x.joint, x.kind, x.count, x.inside, x.searched)
            for x in books.losses
            if x.count
        ),
        surplus=tuple(Surplus(x.event, x.kind, x.count) for x in books.surplus if x.count),
        notes=tuple(books.notes),
    )


def _kinds_in(books: Books) -> set[Kind]:
    moved = {kind for kind, totals in books.totals.items() if totals != KindTotals()}
    return moved | {entry.kind for entry in books.surplus} | set(books.recounts)


def _account(books: Books, kind: Kind, totals: KindTotals) -> KindAccount:
    return KindAccount(
        kind=kind,
        taken_out=totals.taken_out,
        put_back=totals.put_back,
        new=totals.new,
        scrapped=totals.scrapped,
        lost=totals.lost,
        out=books.out_of(kind),
        surplus=books.surplus_of(kind),
        surplus_used=totals.surplus_used,
        unexplained=totals.unexplained,
        recount_gap=books.recounts.get(kind),
    )


def _joint_account(lot: tuple[str, Kind], row: JointRow) -> JointAccount:
    return JointAccount(
        joint=lot[0],
        kind=lot[1],
        state=row.state,
        count=row.count,
        taken_out=row.taken_out,
        missing=row.missing,
        put_back=row.put_back,
        new=row.new,
        left_empty=row.left_empty,
    )


def hindrances(device: Device, state: JobState, ledger: Ledger) -> tuple[Hindrance, ...]:
    """What still stands in the way of closing the record; empty when it may be closed.

    Each joint that was opened must be closed, have come closed, or be waived by a named person with a
    reason; each must balance; nothing may be out, lost unsearched, surplus or unexplained unless it
    is waived. Whether the checks were done is not asked here.
    """
    waived = _Waived(state)
    return (
        *_open_joints(device, state, waived),
        *_unbalanced_joints(device, ledger, waived),
        *_unexplained(device, ledger, waived),
        *_losses(device, ledger, waived),
    )


class _Waived:
    """What named persons let stand."""

    def __init__(self, state: JobState) -> None:
        self.joints = {w.joint for w in state.waivers if w.joint}
        self.events = {w.about for w in state.waivers if w.about}
        self.pieces = {w.piece for w in state.waivers if w.piece}


def _open_joints(device: Device, state: JobState, waived: _Waived) -> list[Hindrance]:
    found = []
    if state.check_on:
        text = say("A powered check is on: take the power away again.")
        found.append(Hindrance("check_on", text))
    for joint_id in state.open:
        if joint_id not in waived.joints:
            text = say("{joint} is open.", joint=marked(joint_name(device, joint_id)))
            found.append(Hindrance("open_joint", text, joint_id))
    return found


def _unbalanced_joints(device: Device, ledger: Ledger, waived: _Waived) -> list[Hindrance]:
    found = []
    for account in ledger.joints:
        if account.balances or account.joint in waived.joints:
            continue
        text = say(
            "{joint}: {count} × {kind} belong there; {put_back} put back, {new} new, {left_empty} left empty.",
            joint=marked(joint_name(device, account.joint)),
            count=account.count,
            kind=kind_text(device, account.kind),
            put_back=account.put_back,
            new=account.new,
            left_empty=account.left_empty,
        )
        found.append(Hindrance("unbalanced_joint", text, account.joint, account.kind))
    return found


def _unexplained(device: Device, ledger: Ledger, waived: _Waived) -> list[Hindrance]:
    found = []
    for lot in ledger.out:
        if lot.joint not in waived.joints and lot.kind.key not in waived.pieces:
            text = _lies_out(device, lot)
            found.append(Hindrance("still_out", text, lot.joint, lot.kind))
    for account in ledger.kinds:
        if account.kind.key in waived.pieces:
            continue
        name = kind_text(device, account.kind)
        if account.unexplained:
            text = say(
                "{unexplained} × {name} went in or away and had come from nowhere.",
                unexplained=account.unexplained,
                name=name,
            )
            found.append(Hindrance("unexplained", text, None, account.kind))
        if account.recount_gap:
            text = _recount_text(account.recount_gap, name)
            found.append(Hindrance("recount", text, None, account.kind))
    return found


def _lies_out(device: Device, lot: OutLot) -> str:
    values: dict[str, object] = {
        "count": lot.count,
        "kind": kind_text(device, lot.kind),
        "joint": marked(joint_name(device, lot.joint)),
        "n": lot.count,
    }
    if lot.compartment:
        return say(
            "{count} × {kind} out of {joint} lies out in {place}.",
            "{count} × {kind} out of {joint} lie out in {place}.",
            place=lot.compartment,
            **values,
        )
    return say(
        "{count} × {kind} out of {joint} lies out.",
        "{count} × {kind} out of {joint} lie out.",
        **values,
    )


def _recount_text(gap: int, name: str) -> str:
    if gap > 0:
        return say(
            "The last recount found {count} × {kind} more than the books say.", count=gap, kind=name
        )
    return say(
        "The last recount found {count} × {kind} fewer than the books say.", count=-gap, kind=name
    )


def _loss_text(device: Device, loss: Loss) -> str:
    values: dict[str, object] = {"count": loss.count, "kind": kind_text(device, loss.kind)}
    if loss.inside:
        return say("{count} × {kind} lost inside the machine and not searched for.", **values)
    return say("{count} × {kind} lost perhaps inside the machine and not searched for.", **values)


def _losses(device: Device, ledger: Ledger, waived: _Waived) -> list[Hindrance]:
    found = []
    for loss in ledger.losses:
        settled = loss.inside is False or loss.searched or loss.event in waived.events
        if not settled and loss.kind.key not in waived.pieces:
            text = _loss_text(device, loss)
            found.append(Hindrance("lost_unsearched", text, loss.joint, loss.kind))
    for surplus in ledger.surplus:
        if surplus.event not in waived.events and surplus.kind.key not in waived.pieces:
            text = say(
                "{count} × {kind} belongs to no joint.",
                "{count} × {kind} belong to no joint.",
                count=surplus.count,
                n=surplus.count,
                kind=kind_text(device, surplus.kind),
            )
            found.append(Hindrance("surplus", text, None, surplus.kind))
    return found


def fasteners_out(device: Device, plan: Plan) -> tuple[tuple[str, Kind, int], ...]:
    """(joint, kind, count) of the fasteners that a plan takes out, in the order of opening.

    Joints open at the start come first. Captive and loosened ones, and washers, are left out.
    """
    joints = (*plan.request.opened, *(step.joint for step in plan.way_in))
    found = []
    for joint_id in dict.fromkeys(joints):
        joint = device.joints[joint_id]
        if lets_go(joint) and has_fasteners(joint):
            kind = (
                Kind("fastener", joint.fastener) if joint.fastener else Kind("unlisted", joint_id)
            )
            found.append((joint_id, kind, joint.count))
    return tuple(found)
