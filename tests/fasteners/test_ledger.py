"""The ledger: balances that hold whatever happens, and what each happening does to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.fasteners.books import Books
from lastscrew.fasteners.ledger import (
    Hindrance,
    KindAccount,
    Ledger,
    fasteners_out,
    hindrances,
    ledger_of,
    ledger_of_plan,
)
from lastscrew.fasteners.pieces import Kind, kind_from_key, loose_pieces
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run import events as e
from lastscrew.run.folding import fold, in_force
from tests.run.machines import events_of, radio, start

RADIO = radio()
JOINTS = sorted(RADIO.joints)
SCREWED = [
    "cover_screws",
    "pack_screws",
    "board_screws",
    "board_nuts",
    "panel_screws",
    "fan_screws",
]
KEYS = ["m2x3", "m2x5", "m2x5_lock", "washer:spring", "unlisted:board_nuts"]
ALL_IN = [e.Opened(joint=j) for j in ("cover_screws", "cover_clips", "pack_plug", "board_screws")]
ALL_OUT = [e.Closed(joint=what.joint) for what in reversed(ALL_IN)]

_few = st.none() | st.integers(0, 9)
_maybe_joint = st.none() | st.sampled_from(SCREWED)
_COUNTED = st.builds(e.Opened, joint=st.sampled_from(JOINTS), taken_out=_few)
_MOVES = st.one_of(
    st.builds(e.Opened, joint=st.sampled_from(JOINTS)),
    st.builds(e.Closed, joint=st.sampled_from(JOINTS)),
    st.builds(
        e.Closed, joint=st.sampled_from(JOINTS), put_back=_few, new=_few, left_empty=_few,
        piece=st.none() | st.sampled_from(KEYS[:3]), washers_new=st.sampled_from([{}, {"spring": 1}]),
    ),
    st.builds(e.Closed, joint=st.sampled_from(JOINTS), came_closed=st.just(True)),
    st.builds(e.Scrapped, count=st.integers(1, 3), joint=st.sampled_from(SCREWED)),
    st.builds(e.Scrapped, count=st.integers(1, 3), joint=_maybe_joint, piece=st.sampled_from(KEYS)),
    st.builds(e.Lost, count=st.integers(1, 3), joint=st.sampled_from(SCREWED)),
    st.builds(e.Lost, count=st.integers(1, 3), joint=_maybe_joint, piece=st.sampled_from(KEYS)),
    st.builds(e.Found, count=st.integers(1, 3), joint=_maybe_joint, piece=st.sampled_from(KEYS)),
    st.just(e.Found(count=1, length_mm=4.8)),
    st.just(e.PowerOn()),
    st.just(e.PowerOff()),
    st.builds(e.Recounted, counts=st.dictionaries(st.sampled_from(KEYS), st.integers(0, 9))),
    st.integers(0, 30).map(lambda n: e.TakenBack(about=f"e{n}")),
)  # fmt: skip
_CORRECTIONS = st.one_of(
    st.builds(e.Missing, joint=st.sampled_from(JOINTS), count=st.integers(1, 4)),
    st.builds(e.CountCorrected, joint=st.sampled_from(JOINTS), count=st.integers(1, 12)),
    st.builds(e.OtherKind, joint=st.sampled_from(JOINTS), count=st.integers(1, 9), piece=st.sampled_from(KEYS[:3])),
    st.builds(e.OtherKind, joint=st.sampled_from(JOINTS), count=st.integers(1, 9), length_mm=st.just(4.8)),
    st.sampled_from(["front", "board+fan", "cover+chassis"]).map(lambda p: e.Exchanged(part=p)),
)  # fmt: skip


def logs(moves: st.SearchStrategy[e.Happening]) -> st.SearchStrategy[tuple[e.Event, ...]]:
    """Any events in any order, sensible or not."""
    return st.lists(moves, max_size=30).map(lambda some: events_of(start(RADIO), *some))


def book(*happenings: e.Happening) -> Ledger:
    """The ledger after a start and these happenings."""
    return ledger_of(RADIO, events_of(start(RADIO), *happenings))


def account(ledger: Ledger, key: str) -> KindAccount:
    """The account of one kind."""
    return next(found for found in ledger.kinds if found.kind.key == key)


def stand_in_the_way(*happenings: e.Happening) -> list[Hindrance]:
    """What keeps the record open after a start and these happenings."""
    log = events_of(start(RADIO), *happenings)
    return list(hindrances(RADIO, fold(RADIO, log), ledger_of(RADIO, log)))


def codes(*happenings: e.Happening) -> list[str]:
    """Their codes."""
    return [hindrance.code for hindrance in stand_in_the_way(*happenings)]


@given(logs(_MOVES | _COUNTED | _CORRECTIONS))
def test_every_kind_balances_whatever_happens(log: Sequence[e.Event]) -> None:
    """Taken out + surplus used + unexplained = put back + scrapped + lost + still out."""
    ledger = ledger_of(RADIO, log)
    for found in ledger.kinds:
        assert found.balances, found
        amounts = (found.put_back, found.new, found.scrapped, found.lost, found.out, found.surplus)
        assert min(amounts) >= 0
    assert all(lot.count > 0 for lot in ledger.out)
    assert sum(lot.count for lot in ledger.out) == sum(found.out for found in ledger.kinds)


@given(logs(_MOVES))
def test_no_piece_comes_from_nothing_or_vanishes(log: Sequence[e.Event]) -> None:
    """Pieces in the joints, counted apart from all accounts, agree with what the accounts say moved."""
    books = Books(RADIO)
    for event in in_force(log):
        books.take(event)
    before: dict[Kind, int] = {}
    now: dict[Kind, int] = {}
    for joint in RADIO.joints.values():
        for kind, count in loose_pieces(RADIO, joint).items():
            before[kind] = before.get(kind, 0) + count
        for kind, count in books.held(joint).items():
            now[kind] = now.get(kind, 0) + count
    for kind, totals in books.totals.items():
        came = before.get(kind, 0) + totals.new + totals.surplus_used + totals.unexplained
        gone = now.get(kind, 0) + books.out_of(kind) + totals.scrapped + totals.lost
        assert came == gone, kind


@given(logs(_MOVES | _CORRECTIONS), st.randoms(use_true_random=False))
def test_resends_change_nothing(log: Sequence[e.Event], rng: Random) -> None:
    assert ledger_of(RADIO, [*log, *rng.sample(log, len(log))]) == ledger_of(RADIO, log)


@given(
    st.sampled_from([("fan",), ("pack",), ("board",), ("front",), ("board", "panel"), ("cover",)])
)
def test_a_plan_carried_out_leaves_nothing_out(pieces: tuple[str, ...]) -> None:
    found = plan(RADIO, Request(replace=pieces))
    ledger = ledger_of_plan(RADIO, found)
    assert ledger.at_end.out == ()
    assert all(joint.balances for joint in ledger.at_end.joints)
    for kind in ledger.at_end.kinds:
        assert kind.taken_out == kind.put_back + kind.scrapped
    assert sum(move.change for move in ledger.movements) == 0
    most = sum(lot.count for lot in ledger.at_turning.out)
    assert max((move.loose for move in ledger.movements), default=0) == most


def test_a_plan_says_what_is_out_at_each_moment() -> None:
    found = plan(RADIO, Request(reach=("board_screws",)))
    moves = ledger_of_plan(RADIO, found).movements
    shown = [(m.limb, m.joint, m.kind.key, m.change, m.out, m.loose) for m in moves]
    assert shown == [
        ("in", "cover_screws", "m2x5", 8, 8, 8),
        ("in", "board_screws", "m2x5", 6, 14, 16),
        ("in", "board_screws", "washer:spring", 2, 2, 16),
        ("out", "board_screws", "m2x5", -6, 8, 8),
        ("out", "board_screws", "washer:spring", -2, 0, 8),
        ("out", "cover_screws", "m2x5", -8, 0, 0),
    ]
    assert fasteners_out(RADIO, found) == (
        ("cover_screws", Kind("fastener", "m2x5"), 8),
        ("board_screws", Kind("fastener", "m2x5"), 6),
    )


def test_captive_screws_are_not_loose() -> None:
    assert book(e.Opened(joint="fan_screws")).kinds == ()
    assert (
        fasteners_out(RADIO, plan(RADIO, Request(reach=("fan_screws",))))[-1][0] == "cover_screws"
    )


def test_screws_that_are_only_loosened_are_not_loose() -> None:
    kept = replace(RADIO.joints["board_screws"], loosen_only=True)
    device = replace(RADIO, joints={**RADIO.joints, "board_screws": kept})
    assert ledger_of(device, events_of(start(device), e.Opened(joint="board_screws"))).kinds == ()


def test_single_use_screws_are_scrapped_and_new_ones_go_in() -> None:
    ledger = book(e.Opened(joint="panel_screws"), e.Closed(joint="panel_screws"))
    found = account(ledger, "m2x5_lock")
    assert (found.taken_out, found.put_back, found.new, found.scrapped, found.out) == (
        2,
        0,
        2,
        2,
        0,
    )
    assert codes(e.Opened(joint="panel_screws"), e.Closed(joint="panel_screws")) == []
    again = book(e.Opened(joint="panel_screws"), e.Closed(joint="panel_screws", put_back=2))
    assert [note.code for note in again.notes] == ["single_use_put_back"]
    assert account(again, "m2x5_lock").put_back == 2


def test_screws_without_a_listed_fastener_are_counted_all_the_same() -> None:
    ledger = book(e.Opened(joint="board_nuts"))
    assert account(ledger, "unlisted:board_nuts").out == 2
    assert kind_from_key("unlisted:board_nuts") == Kind("unlisted", "board_nuts")


def test_an_orderly_job_may_be_closed_and_a_half_done_one_may_not() -> None:
    assert codes(*ALL_IN, *ALL_OUT) == []
    half = stand_in_the_way(*ALL_IN, *ALL_OUT[:2])
    assert [(h.code, h.joint) for h in half] == [
        ("open_joint", "cover_screws"),
        ("open_joint", "cover_clips"),
        ("still_out", "cover_screws"),
    ]


def test_a_joint_closed_with_fewer_screws_is_not_settled_until_it_is_said_why() -> None:
    lost = e.Lost(count=1, joint="board_screws", inside=True)
    assert codes(*ALL_IN, lost, *ALL_OUT) == ["unbalanced_joint", "lost_unsearched"]
    new = [e.Closed(joint="board_screws", new=1), *ALL_OUT[1:]]
    assert codes(*ALL_IN, lost, *new) == ["lost_unsearched"]
    left = [e.Closed(joint="board_screws", left_empty=1), *ALL_OUT[1:]]
    assert codes(*ALL_IN, lost, e.Searched(about="e6"), *left) == []
    outside = e.Lost(count=1, joint="board_screws", inside=False)
    assert codes(*ALL_IN, outside, *new) == []
    not_known = e.Lost(count=1, joint="board_screws")
    assert codes(*ALL_IN, not_known, *new) == ["lost_unsearched"]


def test_a_lost_screw_that_is_found_lies_out_again() -> None:
    lost = e.Lost(count=2, joint="board_screws", inside=True)
    found = e.Found(count=2, piece="m2x5", where="under the fan")
    ledger = book(*ALL_IN, lost, found)
    assert (account(ledger, "m2x5").lost, account(ledger, "m2x5").out) == (0, 14)
    assert ledger.surplus == ()
    assert codes(*ALL_IN, lost, found, *ALL_OUT) == []


def test_a_piece_that_belongs_nowhere_is_surplus_until_somebody_answers_for_it() -> None:
    found = e.Found(count=1, length_mm=4.8, thread="M2")
    assert codes(*ALL_IN, found, *ALL_OUT) == ["surplus"]
    waived = e.Waived(person="Ada", reason="it lay on the bench before", about="e6")
    assert codes(*ALL_IN, found, *ALL_OUT, waived) == []
    thrown_away = e.Scrapped(count=1, piece="measured:M2 x 4.8 mm")
    assert codes(*ALL_IN, found, *ALL_OUT, thrown_away) == []


def test_a_surplus_screw_may_fill_the_hole_of_a_lost_one() -> None:
    lost = e.Lost(count=1, joint="board_screws", inside=False)
    lying_there = e.Found(count=1, piece="m2x5")
    ledger = book(
        *ALL_IN, e.Found(count=1, piece="m2x5"), lost, *ALL_OUT[:1], e.Closed(joint="cover_clips")
    )
    assert account(ledger, "m2x5").surplus == 1
    filled = book(
        *ALL_IN, lying_there, lost, e.Closed(joint="board_screws", put_back=6), *ALL_OUT[1:]
    )
    assert account(filled, "m2x5").surplus_used == 1
    assert account(filled, "m2x5").surplus == 0
    assert account(filled, "m2x5").balances


def test_a_screw_missing_on_opening_has_to_be_made_good() -> None:
    opened, counted = e.Opened(joint="cover_screws"), e.Opened(joint="cover_screws", taken_out=7)
    missing = e.Missing(joint="cover_screws", count=1)
    for told in ([counted], [opened, missing], [missing, opened], [counted, missing]):
        ledger = book(*told)
        row = ledger.joints[0]
        assert (row.taken_out, row.missing, account(ledger, "m2x5").out) == (7, 1, 7)
        assert codes(*told, e.Closed(joint="cover_screws")) == ["unbalanced_joint"]
        assert codes(*told, e.Closed(joint="cover_screws", new=1)) == []
        assert codes(*told, e.Closed(joint="cover_screws", left_empty=1)) == []
        turned_up = e.Found(count=1, joint="cover_screws")
        assert codes(*told, turned_up, e.Closed(joint="cover_screws")) == []


@pytest.mark.parametrize(
    "told",
    [
        [e.CountCorrected(joint="cover_screws", count=10), e.Opened(joint="cover_screws")],
        [e.Opened(joint="cover_screws"), e.CountCorrected(joint="cover_screws", count=10)],
        [
            e.Opened(joint="cover_screws", taken_out=10),
            e.CountCorrected(joint="cover_screws", count=10),
        ],
    ],
)
def test_there_are_ten(told: list[e.Happening]) -> None:
    assert account(book(*told), "m2x5").out == 10
    assert codes(*told, e.Closed(joint="cover_screws")) == []
    assert codes(*told, e.Closed(joint="cover_screws", put_back=8)) == [
        "unbalanced_joint",
        "still_out",
    ]


def test_screws_of_another_length_are_kept_apart_and_go_back_where_they_were() -> None:
    wrong = e.OtherKind(joint="board_screws", count=2, piece="m2x3")
    ledger = book(*ALL_IN, wrong)
    assert (account(ledger, "m2x5").out, account(ledger, "m2x3").out) == (12, 2)
    assert codes(*ALL_IN, wrong, *ALL_OUT) == []
    again = book(*ALL_IN, wrong, *ALL_OUT, *ALL_IN)
    assert (account(again, "m2x5").out, account(again, "m2x3").out) == (12, 2)


def test_pieces_of_another_joint_may_be_used_and_are_noted() -> None:
    ledger = book(
        *ALL_IN,
        e.Lost(count=2, joint="board_screws", inside=False),
        e.Closed(joint="board_screws", put_back=6),
    )
    assert [note.code for note in ledger.notes] == ["borrowed"]
    assert account(ledger, "m2x5").unexplained == 0
    assert codes(
        *ALL_IN, e.Lost(count=2, joint="board_screws", inside=False),
        e.Closed(joint="board_screws", put_back=6), *ALL_OUT[1:],
    ) == ["unbalanced_joint"]  # fmt: skip


def test_what_went_in_and_had_come_from_nowhere_is_unexplained() -> None:
    told = [e.Opened(joint="pack_screws", taken_out=3), e.Closed(joint="pack_screws", put_back=4)]
    assert codes(*told) == ["unexplained"]
    assert codes(*told, e.Waived(person="Ada", reason="from the drawer", piece="m2x3")) == []


def test_a_recount_that_disagrees_keeps_the_record_open_until_it_is_explained() -> None:
    agrees = e.Recounted(counts={"m2x5": 14, "washer:spring": 2})
    assert codes(*ALL_IN, agrees, *ALL_OUT) == []
    one_short = e.Recounted(counts={"m2x5": 13})
    assert codes(*ALL_IN, one_short, *ALL_OUT) == ["recount"]
    lost = e.Lost(count=1, joint="cover_screws", inside=False)
    end = [*ALL_OUT[:-1], e.Closed(joint="cover_screws", new=1)]
    assert codes(*ALL_IN, one_short, lost, *end) == []
    one_more = e.Recounted(counts={"m2x5": 15})
    assert codes(*ALL_IN, one_more, *ALL_OUT) == ["recount"]
    turned_up = e.Found(count=1, piece="m2x5")
    waived = e.Waived(person="Ada", reason="out of the drawer", about="e7")
    assert codes(*ALL_IN, one_more, turned_up, *ALL_OUT) == ["surplus"]
    assert codes(*ALL_IN, one_more, turned_up, *ALL_OUT, waived) == []


def test_washers_are_accounted_for_too() -> None:
    assert account(book(*ALL_IN), "washer:spring").out == 2
    lost = e.Lost(count=1, joint="board_screws", piece="washer:spring", inside=False)
    assert codes(*ALL_IN, lost, *ALL_OUT) == ["unbalanced_joint"]
    new = e.Closed(joint="board_screws", washers_new={"spring": 1})
    assert codes(*ALL_IN, lost, new, *ALL_OUT[1:]) == []
    without = e.Closed(joint="board_screws", washers_left_out={"spring": 1})
    assert codes(*ALL_IN, lost, without, *ALL_OUT[1:]) == []


def test_a_waiver_of_a_joint_covers_it_and_what_lies_out_of_it() -> None:
    waived = [e.Waived(person="Ada", reason="goes to scrap", joint=j.joint) for j in ALL_IN]
    assert codes(*ALL_IN, *waived) == []


def test_what_lies_out_of_a_joint_that_came_closed_went_away_with_the_old_part() -> None:
    opened = [*ALL_IN, e.Opened(joint="board_nuts"), e.Exchanged(part="board+chassis")]
    waiting = stand_in_the_way(*opened, *ALL_OUT)
    assert [(h.code, h.joint) for h in waiting] == [
        ("open_joint", "board_nuts"),
        ("still_out", "board_nuts"),
    ]
    came = [
        e.Closed(joint=j, came_closed=True) for j in ("cover_screws", "board_screws", "board_nuts")
    ]
    books = book(*opened, *came)
    assert account(books, "unlisted:board_nuts").scrapped == 2
    assert {row.state for row in books.joints if row.joint == "board_nuts"} == {"renewed"}
    assert stand_in_the_way(*opened, *came[1:], *ALL_OUT) == []
    again = book(*opened, *came, e.Opened(joint="board_nuts"), e.Closed(joint="board_nuts"))
    assert account(again, "unlisted:board_nuts").put_back == 2


def test_a_powered_check_that_is_on_keeps_the_record_open() -> None:
    names = ("cover_screws", "cover_clips", "board_screws")
    assert codes(*ALL_IN, e.PowerOn(names=names))[0] == "check_on"


def test_the_pieces_of_an_isolating_joint_follow_a_powered_check() -> None:
    lead = replace(RADIO.joints["pack_plug"], kind="screw", fastener="m2x3", count=2)
    device = replace(RADIO, joints={**RADIO.joints, "pack_plug": lead})
    before = [*ALL_IN, e.PowerOn()]
    for told, out in ((ALL_IN, 2), (before, 0), ([*before, e.PowerOn(), e.PowerOff()], 2)):
        ledger = ledger_of(device, events_of(start(device), *told))
        assert account(ledger, "m2x3").out == out


def test_an_account_that_does_not_balance_says_so() -> None:
    found = account(book(*ALL_IN), "m2x5")
    assert found.balances
    for key in ("taken_out", "put_back", "scrapped", "lost", "out", "unexplained"):
        changed: dict[str, int] = {key: getattr(found, key) + 1}
        assert not replace(found, **changed).balances  # type: ignore[arg-type]


def test_compartments_are_told_and_follow_when_pieces_are_laid_elsewhere() -> None:
    told = [
        e.Opened(joint="cover_screws", compartment="A1"),
        e.Laid(joint="cover_screws", compartment="bag 2"),
    ]
    assert book(told[0]).out[0].compartment == "A1"
    assert book(*told).out[0].compartment == "bag 2"
    assert "in bag 2" in stand_in_the_way(*told)[1].text


def test_joints_open_at_the_start_have_their_pieces_out() -> None:
    log = events_of(start(RADIO, opened=("cover_screws",)))
    assert account(ledger_of(RADIO, log), "m2x5").out == 8
    found = plan(RADIO, Request(opened=("cover_screws",)))
    assert ledger_of_plan(RADIO, found).at_turning.out[0].count == 8


def test_what_was_taken_back_does_not_count() -> None:
    assert book(e.Opened(joint="cover_screws"), e.TakenBack(about="e2")).kinds == ()


def test_unknown_joints_do_not_disturb_the_books() -> None:
    ledger = book(
        e.Opened(joint="nothing"), e.Closed(joint="nothing"), e.Lost(count=1, joint="nothing")
    )
    assert ledger.kinds == ()
    assert [note.code for note in ledger.notes] == ["unknown_joint"]
