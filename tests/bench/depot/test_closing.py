"""A unit leaves only when nothing is open, by how the job ends."""

from __future__ import annotations

import pytest

from lastscrew.bench.depot.closing import OUTCOMES, Facts, settle, waivers_for, way_out
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run import events as e
from lastscrew.run.folding import fold
from lastscrew.run.state import JobState
from tests.run.machines import events_of, radio, start

RADIO = radio()
IN = ("cover_screws", "cover_clips", "pack_plug", "fan_plug", "fan_screws")
OPEN = [e.Opened(joint=joint) for joint in IN]
CLOSED = [e.Closed(joint=joint) for joint in reversed(IN)]
NEW_FAN = e.Exchanged(part="fan", new_serial="F2")


def job(*happenings: e.Happening, replace: tuple[str, ...] = ("fan",)) -> JobState:
    return fold(RADIO, events_of(start(RADIO, replace=replace), *happenings, by="Ada"))


def checks(state: JobState) -> list[e.Happening]:
    """Every check that the job asks for, done and fine."""
    from lastscrew.proof.checks import checks_of_job

    return [
        e.Checked(function=check.disturbed.function, outcome="works")
        for check in checks_of_job(RADIO, state)
    ]


DONE = [*OPEN, NEW_FAN, *CLOSED]
PROVEN = [*DONE, *checks(job(*DONE))]


def codes(facts: Facts, state: JobState | None) -> set[str]:
    settled = settle(facts, RADIO if state is not None else None, state)
    assert settled.may_leave is not bool(settled.obstacles)
    return {obstacle.code for obstacle in settled.obstacles}


def test_a_machine_that_is_closed_balanced_and_proven_may_leave() -> None:
    assert codes(Facts("repaired"), job(*PROVEN)) == set()


@pytest.mark.parametrize(
    ("happenings", "code"),
    [
        (OPEN, "open_joint"),
        ([*OPEN, NEW_FAN, *CLOSED], "check_open"),
        ([*PROVEN, e.Checked(function="cooling", outcome="fails")], "check_fails"),
        ([*OPEN, *CLOSED], "target"),
        ([*PROVEN, e.Found(count=1, piece="m2x5")], "surplus"),
        (
            [*PROVEN[:5], e.Lost(count=1, joint="cover_screws", inside=True), *PROVEN[5:]],
            "lost_unsearched",
        ),
        ([*PROVEN, e.Opened(joint="cover_screws")], "open_joint"),
    ],
    ids=[
        "open",
        "not tried",
        "fails",
        "not exchanged",
        "a screw too many",
        "lost inside",
        "open again",
    ],
)
def test_whatever_is_open_bars_the_way(happenings: list[e.Happening], code: str) -> None:
    assert code in codes(Facts("repaired"), job(*happenings))


@pytest.mark.parametrize("outcome", ["exchanged", "kept_for_parts", "scrapped"])
def test_what_stays_need_not_be_proven_but_its_pieces_are_accounted_for(outcome: str) -> None:
    assert codes(Facts(outcome), job(*DONE)) == set()
    assert codes(Facts(outcome), job(*OPEN)) == {"open_joint", "still_out"}


def test_what_failed_before_may_be_returned_unrepaired_but_nothing_that_we_broke() -> None:
    before = e.Checked(function="cooling", outcome="fails", phase="before")
    after = e.Checked(function="cooling", outcome="fails")
    boots = e.Checked(function="boots", outcome="works")
    looked = [*OPEN, *CLOSED, boots, after]
    assert codes(Facts("returned_unrepaired"), job(before, *looked)) == set()
    assert codes(Facts("returned_unrepaired"), job(*looked)) == {"check_fails"}


def test_no_fault_found_asks_for_evidence_and_nothing_exchanged() -> None:
    assert codes(Facts("no_fault_found"), None) == {"no_evidence"}
    assert codes(Facts("no_fault_found", evidence="Ran four hours."), None) == set()
    assert "exchanged" in codes(Facts("no_fault_found", evidence="Ran."), job(*PROVEN))


def test_repaired_without_work_is_refused() -> None:
    assert codes(Facts("repaired"), None) == {"no_work"}


def test_what_the_depot_knows_bars_the_way_too() -> None:
    facts = Facts(
        "repaired",
        hazard="swollen_pack",
        custody=[{"item": "Drive 7", "state": "held"}, {"item": "Drive 8", "state": "returned"}],
        is_split=True,
        waiting_events=2,
        lines=[("Fan", "ordered"), ("Cover", "fitted")],
        second_look=True,
        is_parked=True,
    )
    assert codes(facts, job(*PROVEN)) == {
        "hazard", "split", "waiting", "custody", "part_line", "second_look", "parked",
    }  # fmt: skip


def test_a_swollen_pack_may_go_to_scrap_but_not_back_to_its_owner() -> None:
    barred = {o for o in OUTCOMES if "hazard" in codes(Facts(o, hazard="swollen_pack"), None)}
    assert barred == {"repaired", "no_fault_found", "returned_unrepaired", "kept_for_parts"}


def test_one_person_may_let_everything_stand_at_once_and_then_it_may_leave() -> None:
    state = job(*OPEN)
    settled = settle(Facts("scrapped"), RADIO, state)
    waived = waivers_for(settled, "Lea Lead", "board burnt, goes to scrap")
    assert {w.joint for w in waived} == set(IN)
    state = fold(RADIO, events_of(start(RADIO, replace=("fan",)), *OPEN, *waived, by="Ada"))
    assert codes(Facts("scrapped"), state) == set()


def test_the_way_out_is_planned_and_priced_from_where_it_stands() -> None:
    """Held against the planner: nothing but closing what is open, at the labour rate."""
    state = job(*OPEN)
    way = way_out(RADIO, state, rate_per_h=60.0)
    assert way is not None
    assert {step.joint for step in way.plan.way_out} == set(IN)
    assert way.plan.way_in == ()
    assert way.plan.total_ms == plan(RADIO, Request(opened=IN)).total_ms
    assert way.time.low_ms <= way.plan.total_ms <= way.time.high_ms
    assert way.low == pytest.approx(way.time.low_ms / 60_000)
    assert way_out(RADIO, job(*PROVEN)) is None
