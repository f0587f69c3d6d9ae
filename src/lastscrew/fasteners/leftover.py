"""One screw left over, or one too few: where to look, and in which order.

A piece is left over when a joint of its kind lacks one, or when it was taken for a look-alike whose
place it should have filled. A piece is missing when it fell into the machine, went where a look-alike
belongs, or lies about outside. Chances are our own figures (see :mod:`lastscrew.fasteners.forgetting`)
on what the plan and the device file say; every answer tells which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device, Joint
from lastscrew.fasteners import forgetting as f
from lastscrew.fasteners.ledger import JointAccount, Ledger
from lastscrew.fasteners.lookalikes import RULE_DOUBT_MM
from lastscrew.fasteners.pieces import (
    Kind,
    has_fasteners,
    kind_from_key,
    kind_text,
    loose_pieces,
    own_kind,
)
from lastscrew.fasteners.searching import Search, Solve, Spot, search
from lastscrew.plan.model import Request
from lastscrew.plan.wording import joint_name, marked
from lastscrew.problems import InputError, Problem
from lastscrew.times.threads import read_thread

LOOK_MS, LOOK_PIECE_MS = 2_000, 500
"""To look at a joint, and at each of its pieces (our own figures, no source)."""
SEARCH_MS = 20_000
"""To search the inside around a joint for a piece that fell (our own figure)."""
SEARCH_OUTSIDE_MS = 60_000
"""To search bench, floor, tools and the parts laid aside (our own figure)."""
COMPARE_PIECE_MS = 4_000
"""To hold one piece that was taken out against another (our own figure)."""
COUNT_OLD_MS = 5_000
"""To count what was to be thrown away (our own figure)."""

How = Literal[
    "left_out",
    "left_out_for_look_alike",
    "old_piece",
    "fell_inside",
    "used_for_look_alike",
    "outside",
]


@dataclass(frozen=True, slots=True)
class Query:
    """What is known of the piece.

    Attributes:
        count: How many of them, 1 to 9.
        missing: They are missing; False: they are left over.
        kind: Their kind, None where only a measure is known.
        length_mm: Measured length, None where the kind is known.
        thread: Thread such as ``M2``, None where nobody could tell.
        doubt_mm: Doubt of the measured length, mm.
    """

    count: int = 1
    missing: bool = False
    kind: Kind | None = None
    length_mm: float | None = None
    thread: str | None = None
    doubt_mm: float = RULE_DOUBT_MM


MOST_COUNT = 9


@dataclass(frozen=True, slots=True)
class Place:
    """A place where a piece can come from, or be.

    Attributes:
        key: Name of the place in the search: the joint, or joint and manner.
        joint: The joint, None for outside.
        how: What would have happened.
        kind: Kind of piece that belongs there, None for outside.
        count: Pieces of that joint.
        chance: That at least one of the pieces is astray here, given that they are somewhere.
        reasons: What speaks for and against it.
        look: What to look for.
        alone_ms: Re-opening for this place alone, closing included; None where it can't be reached.
    """

    key: str
    joint: str | None
    how: How
    kind: Kind | None
    count: int
    chance: float
    reasons: tuple[f.Reason, ...]
    look: str
    alone_ms: int | None


@dataclass(frozen=True, slots=True)
class Leftover:
    """The answer.

    Attributes:
        query: What was asked.
        places: Most likely first.
        elsewhere: Chance that a piece belongs to no joint that was opened.
        search: The order in which to look.
        record: What the job's record already says of pieces of this kind: noted as lost, or lying out.
    """

    query: Query
    places: tuple[Place, ...]
    elsewhere: float
    search: Search
    record: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Draft:
    """A place before the chances are worked out."""

    spot: Spot
    how: How
    kind: Kind | None
    count: int
    reasons: tuple[f.Reason, ...]
    look: str


def check_query(device: Device, query: Query) -> tuple[Problem, ...]:
    """What is wrong with a query; empty when it can be answered."""
    problems: list[Problem] = []
    path = "--missing" if query.missing else "--measured" if query.kind is None else "--found"
    if not 1 <= query.count <= MOST_COUNT:
        problems.append(
            Problem(
                f"{query.count} pieces at once can't be looked for",
                f"Ask for 1 to {MOST_COUNT}; where more are left over, a whole joint was passed over.",
                path=path,
                code="leftover_count",
            )
        )
    if query.kind is not None and not _is_known(device, query.kind):
        known = {
            kind.key: kind
            for joint in device.joints.values()
            for kind in loose_pieces(device, joint)
        }
        close = get_close_matches(query.kind.key, [*known, *device.fasteners], n=1, cutoff=0.5)
        hint = (
            f"Did you mean {close[0]}?"
            if close
            else f"Known: {', '.join(sorted(known)) or 'none'}."
        )
        text = f"the device has no kind of piece {query.kind.key}"
        problems.append(Problem(text, hint, path=path, code="unknown_piece"))
    if query.length_mm is not None and not 0.1 <= query.length_mm <= 1_000:
        text = f"{query.length_mm:g} mm is no length of a screw"
        problems.append(Problem(text, "Give 0.1 to 1000 mm.", path=path, code="leftover_length"))
    if not 0.01 <= query.doubt_mm <= 10:
        text = f"a doubt of {query.doubt_mm:g} mm makes no sense"
        problems.append(Problem(text, "Give 0.01 to 10 mm.", path="--doubt", code="leftover_doubt"))
    return tuple(problems)


def _is_known(device: Device, kind: Kind) -> bool:
    listed = kind.sort == "fastener" and kind.name in device.fasteners
    return listed or any(kind in loose_pieces(device, joint) for joint in device.joints.values())


def find_leftover(
    device: Device,
    closed: Sequence[str],
    query: Query,
    solve: Solve,
    *,
    ledger: Ledger | None = None,
    now: Request | None = None,
) -> Leftover:
    """Where the piece can come from, and the shortest re-opening that settles it.

    Args:
        device: The whole device.
        closed: Joints that were open and are closed again, in the order of closing (of a plan: the
            joints of its way out).
        query: What is known of the piece.
        solve: The planner.
        ledger: What was written down in the job, None for nothing.
        now: What the unit has, which joints are open now, which side faces up, which may not be opened;
            None when all is closed and it lies as at the end of a job.

    Raises:
        InputError: The query makes no sense for this device, or the planner was stopped.
    """
    problems = check_query(device, query)
    if problems:
        raise InputError(problems)
    now = now or Request()
    fitted = fit(device, now.not_fitted, now.fitted)
    suspects = _Suspects(
        fitted, [fitted.joints[j] for j in closed if j in fitted.joints], query, ledger
    )
    drafts = suspects.missing() if query.missing else suspects.left_over()
    elsewhere = f.chances(query.count, f.FROM_ELSEWHERE, 0.0, query.count)
    spots = [draft.spot for draft in drafts]
    order = search(fitted, spots, elsewhere, now, solve)
    places = [
        _place(
            draft,
            _share(number, spots, elsewhere),
            search(fitted, [draft.spot], elsewhere, now, solve),
        )
        for number, draft in enumerate(drafts)
    ]
    places.sort(key=lambda place: (-place.chance, place.key))
    inside = f.all_together([spot.chances for spot in spots], query.count)
    total = f.together(inside, elsewhere)[-1]
    rest = 1 - inside[-1] / total if total else 1.0
    return Leftover(query, tuple(places), rest, order, _by_record(fitted, query, ledger))


def _by_record(device: Device, query: Query, ledger: Ledger | None) -> tuple[str, ...]:
    """Sentences about pieces of the kind asked for that the record knows to be away from their joint."""
    if ledger is None or query.kind is None:
        return ()
    name = kind_text(device, query.kind)
    found: list[str] = []
    for loss in ledger.losses:
        if loss.kind == query.kind and not query.missing:
            out_of = f" out of {marked(joint_name(device, loss.joint))}" if loss.joint else ""
            found.append(f"{loss.count} × {name}{out_of} noted as lost: it can be this one.")
    for lot in ledger.out:
        if lot.kind == query.kind:
            where = f" in {lot.compartment}" if lot.compartment else ""
            joint = marked(joint_name(device, lot.joint))
            found.append(f"{lot.count} × {name} still out of {joint}{where}.")
    return tuple(found)


def _share(number: int, spots: Sequence[Spot], elsewhere: Sequence[float]) -> float:
    """Chance that at least one piece is astray at a place, given that all are somewhere."""
    most = len(elsewhere) - 1
    others = f.all_together([s.chances for n, s in enumerate(spots) if n != number], most)
    without = f.together(others, elsewhere)[most] * spots[number].chances[0]
    total = f.together(f.together(others, spots[number].chances), elsewhere)[most]
    return 1 - without / total if total else 0.0


def _place(draft: _Draft, chance: float, alone: Search) -> Place:
    return Place(
        key=draft.spot.key,
        joint=draft.spot.joint,
        how=draft.how,
        kind=draft.kind,
        count=draft.count,
        chance=chance,
        reasons=draft.reasons,
        look=draft.look,
        alone_ms=alone.worst_ms if alone.steps else None,
    )


@dataclass(frozen=True, slots=True)
class _Suspects:
    """Where pieces can come from or be, with the reasons; ``closed`` in the order of closing."""

    device: Device
    closed: Sequence[Joint]
    query: Query
    ledger: Ledger | None

    @property
    def joints(self) -> list[Joint]:
        """Joints that let fasteners go."""
        return [joint for joint in self.closed if has_fasteners(joint)]

    # --- one too many ---------------------------------------------------------------------------

    def left_over(self) -> list[_Draft]:
        """Joints that can lack one of the pieces found, and old pieces that do not go back."""
        drafts: list[_Draft] = []
        for place, joint in enumerate(self.joints):
            if joint.reuse == "single_use":
                drafts += self._old_pieces(joint)
                continue
            reasons = self._reasons(joint, place)
            drafts += self._left_out(joint, reasons)
            drafts += self._left_out_for_look_alike(joint, reasons)
        drafts += self._washers_left_out()
        return drafts

    def _reasons(self, joint: Joint, place: int) -> tuple[f.Reason, ...]:
        row = self._row(joint)
        counted = row is not None and row.balances
        reasons = f.reasons_to_forget(
            self.device, joint, place=place, places=len(self.joints), counted=counted
        )
        if row is None or row.balances:
            return reasons
        short = row.count - row.put_back - row.new - row.left_empty
        text = f"by the record {short} of {row.count} are not accounted for"
        return (*reasons, f.Reason(text, "run", f.SHORT_BY_RECORD))

    def _row(self, joint: Joint) -> JointAccount | None:
        """What the job's record says of this joint, once it was closed."""
        rows = self.ledger.joints if self.ledger is not None else ()
        mine = (row for row in rows if (row.joint, row.kind) == (joint.id, own_kind(joint)))
        return next((row for row in mine if row.state == "closed"), None)

    def _match(self, joint: Joint) -> tuple[float, f.Reason | None]:
        """How well the piece found fits the joint's own kind."""
        query = self.query
        if query.kind is not None:
            return (1.0, None) if own_kind(joint) == query.kind else (0.0, None)
        assert query.length_mm is not None
        fastener = self.device.fasteners.get(joint.fastener or "")
        length = fastener.length_mm if fastener is not None else None
        thread = fastener.thread if fastener is not None else None
        if query.thread and thread and not _same_thread(query.thread, thread):
            return 0.0, None
        fit_of = f.length_match(length, query.length_mm, query.doubt_mm)
        said = "length not given" if length is None else f"{length:g} mm long by the device file"
        return fit_of, f.Reason(f"{query.length_mm:g} mm measured, {said}", "device file", fit_of)

    def _left_out(self, joint: Joint, reasons: tuple[f.Reason, ...]) -> list[_Draft]:
        fits, why = self._match(joint)
        if not fits:
            return []
        reasons = (*reasons, why) if why is not None else reasons
        weight = f.factor_of(reasons)
        spot = self._spot(joint, weight * f.FORGOTTEN, weight * f.JOINT_SKIPPED)
        look = f"an empty place at {self._name(joint)}"
        return [_Draft(spot, "left_out", own_kind(joint), joint.count, reasons, look)]

    def _left_out_for_look_alike(self, joint: Joint, reasons: tuple[f.Reason, ...]) -> list[_Draft]:
        """The joint lacks one of its own because that went where the piece found belongs."""
        found = self._kind_found()
        if found is None or found == own_kind(joint) or not self._is_used(found):
            return []
        chance = f.confusion(
            self.device, joint.fastener, found.name if found.sort == "fastener" else None
        )
        if not chance:
            return []
        text = f"its pieces look like {kind_text(self.device, found)}: one may fill a place of that kind"
        reasons = (*reasons, f.Reason(text, "assumed", chance))
        spot = self._spot(joint, f.factor_of(reasons) * f.FORGOTTEN, 0.0)
        look = f"an empty place at {self._name(joint)}; then one of its pieces sits where the one found belongs"
        return [
            _Draft(spot, "left_out_for_look_alike", own_kind(joint), joint.count, reasons, look)
        ]

    def _kind_found(self) -> Kind | None:
        """The kind found; of a measured piece none, since it may be any that fits."""
        return self.query.kind

    def _is_used(self, kind: Kind) -> bool:
        return any(own_kind(joint) == kind for joint in self.joints)

    def _old_pieces(self, joint: Joint) -> list[_Draft]:
        """Old pieces of a joint that takes new ones: they are left over as they should be."""
        fits, why = self._match(joint)
        if not fits:
            return []
        reasons = [f.Reason("its old pieces are used once and do not go back", "device file")]
        reasons += [why] if why is not None else []
        chances = f.chances(joint.count, f.OLD_LEFT_LYING * fits, 0.0, self.query.count)
        spot = Spot(f"{joint.id}:old", None, take_out=False, look_ms=COUNT_OLD_MS, chances=chances)
        look = f"whether all {joint.count} old pieces of {self._name(joint)} have been thrown away"
        return [_Draft(spot, "old_piece", own_kind(joint), joint.count, tuple(reasons), look)]

    def _washers_left_out(self) -> list[_Draft]:
        """Joints that take the washer found."""
        kind = self.query.kind
        drafts = []
        for place, joint in enumerate(self.closed):
            pieces = loose_pieces(self.device, joint)
            if kind is None or kind not in pieces or kind == own_kind(joint):
                continue
            reasons = f.reasons_to_forget(
                self.device, joint, place=place, places=len(self.closed), counted=False
            )
            weight = f.factor_of(reasons)
            chances = f.chances(
                pieces[kind], weight * f.FORGOTTEN, weight * f.JOINT_SKIPPED, self.query.count
            )
            # A washer sits under a head: it can only be seen when the screw is out.
            look_ms = COMPARE_PIECE_MS * pieces[kind]
            spot = Spot(
                f"{joint.id}:washers", joint.id, take_out=True, look_ms=look_ms, chances=chances
            )
            look = f"a place without {kind_text(self.device, kind)} at {self._name(joint)}"
            drafts.append(_Draft(spot, "left_out", kind, pieces[kind], reasons, look))
        return drafts

    def _spot(self, joint: Joint, each: float, all_at_once: float) -> Spot:
        chances = f.chances(joint.count, each, all_at_once, self.query.count)
        look_ms = LOOK_MS + LOOK_PIECE_MS * joint.count
        return Spot(joint.id, joint.id, take_out=False, look_ms=look_ms, chances=chances)

    # --- one too few ----------------------------------------------------------------------------

    def missing(self) -> list[_Draft]:
        """Where a missing piece can be."""
        drafts = [self._outside()]
        for joint in self.joints:
            if joint.reuse != "single_use":
                drafts += self._fell_inside(joint)
                drafts += self._used_for_look_alike(joint)
        return drafts

    def _outside(self) -> _Draft:
        chances = f.chances(self.query.count, f.FELL_OUTSIDE, 0.0, self.query.count)
        spot = Spot("outside", None, take_out=False, look_ms=SEARCH_OUTSIDE_MS, chances=chances)
        reasons = (f.Reason("most pieces that go astray never were in the machine", "assumed"),)
        look = "bench, floor, sleeves, the tool's tip, magnets, and the underside of what was laid aside"
        return _Draft(spot, "outside", None, self.query.count, reasons, look)

    def _fell_inside(self, joint: Joint) -> list[_Draft]:
        fits, _ = self._match(joint)
        if not fits or not f.covered_by(self.device, joint):
            return []
        reasons = (f.Reason(f"{joint.count} handled at {self._name(joint)}", "plan"),)
        chances = f.chances(joint.count, fits * f.FELL_INSIDE, 0.0, self.query.count)
        spot = Spot(
            f"{joint.id}:inside", joint.id, take_out=False, look_ms=SEARCH_MS, chances=chances
        )
        look = f"inside around {self._name(joint)}; shake nothing, a loose screw can short a live board"
        return [_Draft(spot, "fell_inside", own_kind(joint), joint.count, reasons, look)]

    def _used_for_look_alike(self, joint: Joint) -> list[_Draft]:
        kind = self._kind_found()
        if (
            kind is None
            or kind == own_kind(joint)
            or kind.sort != "fastener"
            or not self._is_used(kind)
        ):
            return []
        chance = f.confusion(self.device, joint.fastener, kind.name)
        if not chance:
            return []
        text = (
            f"its pieces look like {kind_text(self.device, kind)}; then one of its own is left over"
        )
        reasons = (f.Reason(text, "assumed", chance),)
        chances = f.chances(joint.count, chance * f.FORGOTTEN, 0.0, self.query.count)
        look_ms = COMPARE_PIECE_MS * joint.count
        spot = Spot(
            f"{joint.id}:compare", joint.id, take_out=True, look_ms=look_ms, chances=chances
        )
        look = (
            f"take out {self._name(joint)} and compare: one may be {kind_text(self.device, kind)}"
        )
        return [_Draft(spot, "used_for_look_alike", own_kind(joint), joint.count, reasons, look)]

    def _name(self, joint: Joint) -> str:
        return marked(joint_name(self.device, joint.id))


def _same_thread(one: str, other: str) -> bool:
    first, second = read_thread(one), read_thread(other)
    return (first.diameter_mm, first.pitch_mm) == (second.diameter_mm, second.pitch_mm)


def query_from_text(text: str, *, missing: bool, doubt_mm: float = RULE_DOUBT_MM) -> Query:
    """Read ``m2x5``, ``m2x5:2``, ``washer:spring:2``.

    Raises:
        InputError: The count is no number.
    """
    key, colon, count = text.strip().rpartition(":")
    if colon and count.strip().isascii() and count.strip().isdigit():
        return Query(int(count[:9]), missing, kind_from_key(key.strip()), doubt_mm=doubt_mm)
    return Query(1, missing, kind_from_key(text.strip()), doubt_mm=doubt_mm)
