"""Keeping the books of loose pieces, event by event.

A *lot* is what lies out of one joint, of one kind. Pieces of a kind are alike: where a joint takes more
than its own lot holds, the rest is drawn from found surplus, then from other lots of the kind, and only
what none of these holds is unexplained. So no lot ever falls below zero.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from lastscrew.device.fitting import joints_within
from lastscrew.device.model import Device, Joint
from lastscrew.device.opening import isolating_joints
from lastscrew.fasteners.pieces import (
    Kind,
    has_fasteners,
    kind_from_key,
    lets_go,
    loose_pieces,
    measured_kind,
    own_kind,
    washer_kind,
)
from lastscrew.run import events as e
from lastscrew.run.state import Remark, parts_of
from lastscrew.saying import say

Lot = tuple[str, Kind]


@dataclass(slots=True)
class KindTotals:
    """Movements of one kind of piece since the job began."""

    taken_out: int = 0
    put_back: int = 0
    new: int = 0
    scrapped: int = 0
    lost: int = 0
    surplus_used: int = 0
    unexplained: int = 0


@dataclass(slots=True)
class JointRow:
    """What became of one kind of piece at one joint, since its last opening."""

    count: int
    taken_out: int = 0
    missing: int = 0
    put_back: int = 0
    new: int = 0
    left_empty: int = 0
    state: str = "open"
    explicit: bool = False


Source = Literal["lot", "surplus", "unexplained"]


@dataclass(frozen=True, slots=True)
class Drawn:
    """Pieces of one kind that were taken from where they lay; ``joint`` is the home of a lot."""

    source: Source
    joint: str | None
    kind: Kind
    count: int


@dataclass(slots=True)
class LossEntry:
    """Pieces that are lost; ``count`` falls when some turn up."""

    event: str
    joint: str | None
    kind: Kind
    count: int
    inside: bool | None
    searched: bool
    source: Source


@dataclass(slots=True)
class SurplusEntry:
    """Pieces that turned up and belong to no joint."""

    event: str
    kind: Kind
    count: int


@dataclass(slots=True)
class Books:
    """The books while events are taken in."""

    device: Device
    lots: dict[Lot, int] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    holds: dict[str, dict[Kind, int]] = field(default_factory=dict)
    totals: dict[Kind, KindTotals] = field(default_factory=dict)
    rows: dict[Lot, JointRow] = field(default_factory=dict)
    losses: list[LossEntry] = field(default_factory=list)
    surplus: list[SurplusEntry] = field(default_factory=list)
    recounts: dict[Kind, int] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    open: list[str] = field(default_factory=list)
    notes: list[Remark] = field(default_factory=list)
    check_isolators: tuple[str, ...] = ()
    event_id: str = ""

    def take(self, event: e.Event) -> None:
        """Take one event in."""
        self.event_id = event.id
        handler = getattr(self, f"_on_{event.what.name}", None)
        if handler is not None:
            handler(event.what)

    def of(self, kind: Kind) -> KindTotals:
        """The totals of a kind."""
        return self.totals.setdefault(kind, KindTotals())

    def out_of(self, kind: Kind) -> int:
        """Pieces of a kind that lie out of joints."""
        return sum(count for (_, other), count in self.lots.items() if other == kind)

    def surplus_of(self, kind: Kind) -> int:
        """Found pieces of a kind that belong to no joint."""
        return sum(entry.count for entry in self.surplus if entry.kind == kind)

    def count_of(self, joint: Joint) -> int:
        """How many fasteners the joint has: corrected, else as the device file says."""
        return self.counts.get(joint.id, joint.count)

    def held(self, joint: Joint) -> dict[Kind, int]:
        """What the joint holds while it is closed."""
        if joint.id not in self.holds:
            pieces = dict(loose_pieces(self.device, joint))
            if joint.id in self.counts and has_fasteners(joint):
                pieces[own_kind(joint)] += self.counts[joint.id] - joint.count
            self.holds[joint.id] = pieces
        return self.holds[joint.id]

    def note(self, code: str, text: str) -> None:
        """Keep something worth telling about the event at hand."""
        self.notes.append(Remark(self.event_id, code, text))

    # --- opening and closing --------------------------------------------------------------------

    def _on_started(self, what: e.Started) -> None:
        for joint_id in dict.fromkeys(what.opened):
            self._on_opened(e.Opened(joint=joint_id))

    def _on_opened(self, what: e.Opened) -> None:
        joint = self.device.joints.get(what.joint)
        if joint is None or joint.id in self.open:
            return
        self.open.append(joint.id)
        if what.compartment is not None:
            self.places[joint.id] = what.compartment
        if not lets_go(joint):
            return
        held = self.held(joint)
        own = own_kind(joint)
        washers = {washer_kind(self.device, name) for name in joint.washers} - {own}
        pieces = {kind: count for kind, count in held.items() if kind not in washers}
        expected = sum(pieces.values())
        number = expected if what.taken_out is None else what.taken_out
        taken = _first(pieces, number, own)
        if number > expected:
            taken[own] = taken.get(own, 0) + number - expected
        taken |= {kind: count for kind, count in held.items() if kind in washers}
        missing = max(0, self._full(joint) - number) if has_fasteners(joint) else 0
        for kind, count in taken.items():
            self._lay(joint.id, kind, count)
        for kind in dict.fromkeys((*taken, *loose_pieces(self.device, joint))):
            self.rows[joint.id, kind] = JointRow(
                count=self.count_of(joint) if kind == own else held.get(kind, 0),
                taken_out=taken.get(kind, 0),
                missing=missing if kind == own else 0,
                explicit=what.taken_out is not None,
            )
        self.holds[joint.id] = {}

    def _full(self, joint: Joint) -> int:
        """Fasteners that the joint has when nothing is missing, its own washer-nuts included."""
        return (
            self.count_of(joint)
            + loose_pieces(self.device, joint).get(own_kind(joint), 0)
            - joint.count
        )

    def _lay(self, joint_id: str, kind: Kind, count: int) -> None:
        self.lots[joint_id, kind] = self.lots.get((joint_id, kind), 0) + count
        self.of(kind).taken_out += count

    def _on_closed(self, what: e.Closed) -> None:
        joint = self.device.joints.get(what.joint)
        if joint is None or joint.id not in self.open:
            return
        self.open.remove(joint.id)
        if what.came_closed:
            self._came_closed(joint)
            return
        if not lets_go(joint):
            return
        if has_fasteners(joint):
            self._close_fasteners(joint, what)
        for name in sorted(joint.washers):
            kind = washer_kind(self.device, name)
            if not has_fasteners(joint) or kind != own_kind(joint):
                self._close_washers(joint, kind, name, what)
        if joint.reuse == "single_use":
            self._scrap_rest(joint)

    def _came_closed(self, joint: Joint) -> None:
        """The new piece brought it, full; what lay out from it went away with the old one."""
        self.holds.pop(joint.id, None)
        self._scrap_rest(joint)
        for (other, _), row in self.rows.items():
            if other == joint.id:
                row.state = "renewed"

    def _close_fasteners(self, joint: Joint, what: e.Closed) -> None:
        own = own_kind(joint)
        full = self._full(joint)
        left = what.left_empty or 0
        by_default = full - left if joint.reuse == "single_use" and what.put_back is None else 0
        new = by_default if what.new is None else what.new
        kind = kind_from_key(what.piece) if what.piece else own
        if what.put_back is None:
            lies_there = sum(
                count for _, count in self._lots_for(joint.id, kind if what.piece else None)
            )
            back = 0 if joint.reuse == "single_use" else min(max(0, full - new - left), lies_there)
        else:
            back = what.put_back
            if joint.reuse == "single_use" and back:
                self.note(
                    "single_use_put_back",
                    say(
                        "{id} takes new pieces only; {back} old ones went back",
                        id=joint.id,
                        back=back,
                    ),
                )
        self._put_back(joint.id, self._draw(joint.id, kind if what.piece else None, kind, back))
        self.of(kind).new += new
        self._put_in(joint.id, kind, new)
        row = self.rows.setdefault((joint.id, own), JointRow(count=full))
        row.count, row.put_back, row.new, row.left_empty, row.state = (
            full,
            back,
            new,
            left,
            "closed",
        )

    def _close_washers(self, joint: Joint, kind: Kind, name: str, what: e.Closed) -> None:
        row = self.rows.setdefault((joint.id, kind), JointRow(count=joint.washers[name]))
        row.new = what.washers_new.get(name, 0)
        row.left_empty = what.washers_left_out.get(name, 0)
        wanted = max(0, row.count - row.new - row.left_empty)
        row.put_back = min(wanted, self.lots.get((joint.id, kind), 0))
        row.state = "closed"
        self._put_back(joint.id, self._draw(joint.id, kind, kind, row.put_back))
        self.of(kind).new += row.new
        self._put_in(joint.id, kind, row.new)

    def _put_back(self, joint_id: str, drawn: list[Drawn]) -> None:
        for each in drawn:
            self.of(each.kind).put_back += each.count
            self._put_in(joint_id, each.kind, each.count)
            if each.source == "lot" and each.joint != joint_id:
                text = say(
                    "{count} of {key} for {joint_id} came out of {joint}",
                    count=each.count,
                    key=each.kind.key,
                    joint_id=joint_id,
                    joint=each.joint,
                )
                self.note("borrowed", text)

    def _put_in(self, joint_id: str, kind: Kind, count: int) -> None:
        held = self.holds.setdefault(joint_id, {})
        held[kind] = held.get(kind, 0) + count

    def _scrap_rest(self, joint: Joint) -> None:
        for (joint_id, kind), count in list(self.lots.items()):
            if joint_id == joint.id and count:
                self.lots[joint_id, kind] = 0
                self.of(kind).scrapped += count

    # --- drawing from what lies out -------------------------------------------------------------

    def _lots_for(self, joint_id: str, only: Kind | None) -> Iterator[tuple[Lot, int]]:
        """Lots of a joint that may fill it: of one kind, or its own kind first and washers never."""
        joint = self.device.joints[joint_id]
        own = own_kind(joint)
        kinds = [own if only is None else only]
        if only is None:
            washers = {washer_kind(self.device, name) for name in joint.washers}
            others = {k for j, k in self.lots if j == joint_id} - washers - {own}
            kinds += sorted(others, key=lambda k: k.rank)
        for kind in kinds:
            if self.lots.get((joint_id, kind), 0):
                yield (joint_id, kind), self.lots[joint_id, kind]

    def _draw(
        self, joint_id: str | None, only: Kind | None, kind: Kind, number: int
    ) -> list[Drawn]:
        """Take pieces from where they lie; what lies nowhere is unexplained.

        Args:
            joint_id: The joint whose lot is drawn from first.
            only: A kind that must be kept to; None: the joint's own first, then what else came out of it.
            kind: Kind of what is drawn from elsewhere.
            number: How many.
        """
        drawn: list[Drawn] = []
        rest = number
        lots = [] if joint_id is None else list(self._lots_for(joint_id, only))
        for lot, count in lots:
            rest -= self._move(lot, min(count, rest), drawn)
        rest -= self._draw_surplus(kind, rest, drawn)
        for lot in sorted(self.lots, key=lambda lot: lot[0]):
            if lot[1] == kind and lot[0] != joint_id:
                rest -= self._move(lot, min(self.lots[lot], rest), drawn)
        if rest:
            self.of(kind).unexplained += rest
            drawn.append(Drawn("unexplained", None, kind, rest))
        return drawn

    def _move(self, lot: Lot, count: int, drawn: list[Drawn]) -> int:
        if count:
            self.lots[lot] -= count
            drawn.append(Drawn("lot", lot[0], lot[1], count))
        return count

    def _draw_surplus(self, kind: Kind, number: int, drawn: list[Drawn]) -> int:
        moved = 0
        for entry in self.surplus:
            if entry.kind == kind and moved < number:
                here = min(entry.count, number - moved)
                entry.count -= here
                moved += here
        if moved:
            self.of(kind).surplus_used += moved
            drawn.append(Drawn("surplus", None, kind, moved))
        return moved

    # --- scrapped, lost, found ------------------------------------------------------------------

    def _kind_named(self, joint_id: str | None, piece: str | None) -> Kind | None:
        if piece is not None:
            return kind_from_key(piece)
        joint = self.device.joints.get(joint_id or "")
        return own_kind(joint) if joint is not None else None

    def _on_scrapped(self, what: e.Scrapped) -> None:
        for each in self._take_away(what.joint, what.piece, what.count):
            self.of(each.kind).scrapped += each.count

    def _on_lost(self, what: e.Lost) -> None:
        for each in self._take_away(what.joint, what.piece, what.count):
            self.of(each.kind).lost += each.count
            home = each.joint if each.source == "lot" else what.joint
            entry = LossEntry(
                self.event_id, home, each.kind, each.count, what.inside, what.searched, each.source
            )
            self.losses.append(entry)
            self._settle_recount(each.kind, each.count)

    def _take_away(self, joint_id: str | None, piece: str | None, number: int) -> list[Drawn]:
        kind = self._kind_named(joint_id, piece)
        if kind is None:
            self.note("unknown_joint", say("the device has no joint {joint_id}", joint_id=joint_id))
            return []
        known = joint_id if joint_id in self.device.joints else None
        return self._draw(known, kind if piece else None, kind, number)

    def _on_searched(self, what: e.Searched) -> None:
        for entry in self.losses:
            if entry.event == what.about:
                entry.searched = True

    def _on_found(self, what: e.Found) -> None:
        kind = self._kind_named(what.joint, what.piece)
        if kind is None and what.length_mm is not None:
            kind = measured_kind(what.length_mm, what.thread)
        if kind is None:
            self.note("unknown_joint", say("the device has no joint {joint}", joint=what.joint))
            return
        rest = self._return_lost(kind, what.joint, what.count)
        rest = self._return_missing(kind, what.joint, rest)
        if rest:
            self.surplus.append(SurplusEntry(self.event_id, kind, rest))
        self._settle_recount(kind, -what.count)

    def _return_lost(self, kind: Kind, joint_id: str | None, number: int) -> int:
        """Lost pieces that turned up lie where they lay before; returns how many are left over."""
        rest = number
        for entry in reversed(self.losses):
            if entry.kind != kind or joint_id not in (None, entry.joint):
                continue
            back = min(entry.count, rest)
            entry.count -= back
            rest -= back
            self.of(kind).lost -= back
            if back:
                self._give_back(entry, back)
        return rest

    def _give_back(self, entry: LossEntry, count: int) -> None:
        if entry.source == "lot":
            assert entry.joint is not None
            self.lots[entry.joint, entry.kind] += count
            return
        if entry.source == "surplus":
            self.of(entry.kind).surplus_used -= count
        else:
            self.of(entry.kind).unexplained -= count
        self.surplus.append(SurplusEntry(self.event_id, entry.kind, count))

    def _return_missing(self, kind: Kind, joint_id: str | None, number: int) -> int:
        """A piece that was missing when its joint was opened; returns how many are left over."""
        row = self.rows.get((joint_id or "", kind))
        if row is None or joint_id is None or joint_id not in self.open:
            return number
        back = min(row.missing, number)
        row.missing -= back
        row.taken_out += back
        self._lay(joint_id, kind, back)
        return number - back

    def _settle_recount(self, kind: Kind, fewer: int) -> None:
        """A loss explains that fewer were counted, a find that more were."""
        gap = self.recounts.get(kind, 0)
        if gap < 0 < fewer:
            self.recounts[kind] = min(0, gap + fewer)
        elif gap > 0 > fewer:
            self.recounts[kind] = max(0, gap + fewer)

    def _on_recounted(self, what: e.Recounted) -> None:
        for key, counted in what.counts.items():
            kind = kind_from_key(key)
            self.recounts[kind] = counted - self.out_of(kind) - self.surplus_of(kind)

    # --- the device file was wrong --------------------------------------------------------------

    def _on_missing(self, what: e.Missing) -> None:
        joint = self.device.joints.get(what.joint)
        if joint is None or not has_fasteners(joint):
            return
        own = own_kind(joint)
        if joint.id not in self.open:
            held = self.held(joint)
            held[own] = max(0, held.get(own, 0) - what.count)
            return
        row = self.rows[joint.id, own]
        fewer = min(max(0, what.count - row.missing), self.lots.get((joint.id, own), 0))
        row.missing += fewer
        row.taken_out -= fewer
        self._lay(joint.id, own, -fewer)

    def _on_count_corrected(self, what: e.CountCorrected) -> None:
        joint = self.device.joints.get(what.joint)
        if joint is None or not has_fasteners(joint):
            return
        own = own_kind(joint)
        change = what.count - self.count_of(joint)
        if joint.id in self.open:
            self.counts[joint.id] = what.count
            row = self.rows[joint.id, own]
            row.count += change
            if row.explicit:
                row.missing = max(0, row.count - row.taken_out)
                return
            change = max(change, -self.lots.get((joint.id, own), 0))
            row.taken_out += change
            self._lay(joint.id, own, change)
        else:
            held = self.held(joint)
            self.counts[joint.id] = what.count
            held[own] = max(0, held.get(own, 0) + change)

    def _on_other_kind(self, what: e.OtherKind) -> None:
        joint = self.device.joints.get(what.joint)
        if joint is None or not has_fasteners(joint):
            return
        own = own_kind(joint)
        kind = (
            kind_from_key(what.piece)
            if what.piece
            else measured_kind(what.length_mm or 0, what.thread)
        )
        if joint.id not in self.open:
            held = self.held(joint)
            count = min(what.count, held.get(own, 0))
            self._put_in(joint.id, own, -count)
            self._put_in(joint.id, kind, count)
            return
        count = min(what.count, self.lots.get((joint.id, own), 0))
        self._lay(joint.id, own, -count)
        self._lay(joint.id, kind, count)

    # --- the rest -------------------------------------------------------------------------------

    def _on_laid(self, what: e.Laid) -> None:
        self.places[what.joint] = what.compartment

    def _on_exchanged(self, what: e.Exchanged) -> None:
        for joint_id in joints_within(self.device, parts_of(self.device, what.part)):
            if joint_id not in self.open:
                self.holds.pop(joint_id, None)  # the new piece brings it, full

    def _on_power_on(self, _what: e.PowerOn) -> None:
        if self.check_isolators:
            return
        isolators = isolating_joints(self.device)
        self.check_isolators = tuple(joint_id for joint_id in isolators if joint_id in self.open)
        for joint_id in self.check_isolators:
            self._on_closed(e.Closed(joint=joint_id))

    def _on_power_off(self, _what: e.PowerOff) -> None:
        for joint_id in self.check_isolators:
            self._on_opened(e.Opened(joint=joint_id))
        self.check_isolators = ()


def _first(pieces: Mapping[Kind, int], number: int, own: Kind) -> dict[Kind, int]:
    """The first ``number`` of the pieces, those of the joint's own kind before others."""
    taken: dict[Kind, int] = {}
    rest = number
    for kind in sorted(pieces, key=lambda k: (k != own, k.rank)):
        taken[kind] = min(pieces[kind], rest)
        rest -= taken[kind]
    return taken
