"""The state of a job: folding, what contradicts the rules, powered checks, re-planning."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.opening import isolating_joints
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.run import events as e
from lastscrew.run.folding import fold, in_force, objections
from lastscrew.run.state import JobState, allowed, is_isolated, request_from
from tests.oracle.devices import SMALL, draw_device
from tests.run.machines import events_of, radio, start

RADIO = radio()
JOINTS = sorted(RADIO.joints)
PARTS = sorted(RADIO.parts)


def job(*happenings: e.Happening, by: str | None = "Ada") -> JobState:
    """The state after a start and these happenings."""
    return fold(RADIO, events_of(start(RADIO), *happenings, by=by))


def codes(state: JobState) -> list[str]:
    """Codes of all remarks."""
    return [remark.code for remark in state.remarks]


def opened(*joints: str) -> list[e.Happening]:
    """Openings in order."""
    return [e.Opened(joint=joint_id) for joint_id in joints]


def closed(*joints: str) -> list[e.Happening]:
    """Closings in order."""
    return [e.Closed(joint=joint_id) for joint_id in joints]


OPEN_COVER = opened("cover_screws", "cover_clips")
ISOLATED = [*OPEN_COVER, *opened("pack_plug")]

_HAPPENINGS = st.one_of(
    st.sampled_from([*JOINTS, "nothing"]).map(lambda j: e.Opened(joint=j)),
    st.sampled_from([*JOINTS, "nothing"]).map(lambda j: e.Closed(joint=j)),
    st.sampled_from(JOINTS).map(lambda j: e.Confirmed(joint=j)),
    st.lists(st.sampled_from(JOINTS), max_size=3).map(lambda js: e.PowerOn(names=tuple(js))),
    st.just(e.PowerOff()),
    st.sampled_from([*PARTS, "front", "board+fan", "nothing"]).map(lambda p: e.Exchanged(part=p)),
    st.sampled_from(PARTS).map(lambda p: e.PartJudged(part=p, state="dead_on_arrival")),
    st.sampled_from(["boots", "shows", "sings"]).map(
        lambda f: e.Checked(function=f, outcome="works")
    ),
    st.sampled_from(PARTS).map(lambda p: e.TargetAdded(replace=p)),
    st.sampled_from(PARTS).map(lambda p: e.TargetDropped(replace=p)),
    st.sampled_from(["bottom", "top", "left"]).map(lambda s: e.Turned(side=s)),
    st.just(e.Paused()),
    st.just(e.Resumed()),
    st.just(e.Parked(isolated=True)),
    st.just(e.Finished(outcome="repaired")),
    st.integers(0, 30).map(lambda n: e.TakenBack(about=f"e{n}")),
)


@st.composite
def logs(draw: st.DrawFn) -> tuple[e.Event, ...]:
    """Any list of events, sensible or not, as a rule begun properly."""
    first = draw(st.sampled_from([[start(RADIO)], [start(RADIO, opened=("cover_screws",))], []]))
    return events_of(*first, *draw(st.lists(_HAPPENINGS, max_size=25)), by="Ada")


@given(logs(), st.integers(0, 30))
def test_folding_a_prefix_and_then_the_rest_is_folding_all(
    log: Sequence[e.Event], cut: int
) -> None:
    assert fold(RADIO, log[cut:], fold(RADIO, log[:cut])) == fold(RADIO, log)


@given(logs(), st.randoms(use_true_random=False))
def test_resending_events_changes_nothing(log: Sequence[e.Event], rng: Random) -> None:
    state = fold(RADIO, log)
    again = rng.sample(log, len(log))
    assert fold(RADIO, [*log, *again]) == state
    assert fold(RADIO, again, state) == state


@given(logs())
def test_folding_never_refuses_and_open_joints_are_joints(log: Sequence[e.Event]) -> None:
    state = fold(RADIO, log)
    assert set(state.open) <= set(RADIO.joints)
    assert len(set(state.open)) == len(state.open)
    assert state.version == len(log)


@given(logs(), st.integers(0, 25))
def test_taking_back_is_as_if_it_had_never_been(log: Sequence[e.Event], index: int) -> None:
    """But for the log itself and for taking back events that are no longer there."""
    if index >= len(log) or isinstance(log[index].what, e.TakenBack):
        return
    gone = log[index].id
    rest = [event for event in log if event.id != gone and not isinstance(event.what, e.TakenBack)]
    without = fold(RADIO, rest)
    plain = [event for event in log if not isinstance(event.what, e.TakenBack)]
    undo = e.Event(id="undo", what=e.TakenBack(about=gone), by="Ada")
    taken_back = fold(RADIO, [*plain, undo])
    for key in ("open", "opened", "side", "tool", "check_on", "remarks", "exchanged", "replace"):
        assert getattr(taken_back, key) == getattr(without, key)


def test_taking_back_a_taking_back_brings_the_event_back() -> None:
    log = events_of(
        start(RADIO),
        e.Opened(joint="cover_screws"),
        e.TakenBack(about="e2"),
        e.TakenBack(about="e3"),
    )
    assert fold(RADIO, log[:3]).open == ()
    assert fold(RADIO, log).open == ("cover_screws",)
    assert [event.id for event in in_force(log)] == ["e1", "e2"]


def test_taking_back_something_unknown_is_remarked() -> None:
    assert codes(job(e.TakenBack(about="e99"))) == ["unknown_event"]
    too_soon = job(e.TakenBack(about="e3"), *opened("cover_screws"))
    assert codes(too_soon) == ["unknown_event"]
    assert too_soon.open == ("cover_screws",)


@given(st.integers(0, 400))
def test_a_plan_of_any_machine_replays_without_a_remark(seed: int) -> None:
    """Whatever the planner proposes is allowed by the rules of the bench, step by step."""
    device = draw_device(Random(seed), SMALL)
    reachable = sorted(device.joints)
    request = Request(reach=(reachable[seed % len(reachable)],))
    try:
        found = plan(device, request)
    except InputError:  # what can't be planned is no case for this test
        return
    state = fold(device, events_of(start(device, reach=request.reach)))
    for number, step in enumerate((*found.way_in, *found.way_out)):
        may = allowed(device, state)
        assert step.access in (may.to_open if step.limb == "in" else may.to_close)[step.joint]
        kind = e.Opened if step.limb == "in" else e.Closed
        confirmed = e.Confirmed(joint=step.joint)
        happened = kind(joint=step.joint, side=step.side, tool=step.tool)
        state = fold(device, events_of(confirmed, happened, first=10 + 2 * number), state)
    assert state.remarks == ()
    assert state.open == ()
    assert {step.joint for step in found.way_in} == set(state.opened)


def test_openings_out_of_turn_are_kept_and_say_why() -> None:
    state = job(*opened("cover_clips", "panel_ribbon"))
    assert state.open == ("cover_clips", "panel_ribbon")
    texts = [remark.text for remark in state.remarks]
    assert "*Cover screws* must be open" in texts[0]
    assert "it is live until *Pack plug* has been opened" in texts[1]
    assert "*Cover* lies over it" in texts[1]


def test_what_makes_no_sense_is_remarked_and_changes_nothing() -> None:
    state = job(*opened("nothing"), *closed("cover_screws"), *OPEN_COVER, *opened("cover_clips"))
    assert codes(state) == ["unknown_joint", "not_open", "already_open"]
    assert state.open == ("cover_screws", "cover_clips")


def test_a_joint_that_the_unit_lacks_is_remarked_and_kept_open() -> None:
    state = job(*ISOLATED, *opened("modem_plug"))
    assert codes(state) == ["not_fitted"]
    assert "modem_plug" in state.open
    fitted = fold(
        RADIO, events_of(start(RADIO, fitted=("cell",)), *ISOLATED, *opened("modem_plug"))
    )
    assert fitted.remarks == ()


def test_hold_points_want_a_confirmation_of_their_limb() -> None:
    before = [*ISOLATED, e.Confirmed(joint="pack_screws", limb="in")]
    state = job(*before, *opened("pack_screws"))
    assert state.remarks == ()
    assert codes(job(*before, *opened("pack_screws"), *closed("pack_screws"))) == [
        "hold_not_confirmed"
    ]
    assert codes(job(*ISOLATED, *opened("pack_screws"))) == ["hold_not_confirmed"]
    assert codes(job(e.ActDone(act="clean"))) == ["hold_not_confirmed"]
    assert codes(job(e.Confirmed(act="clean"), e.ActDone(act="clean"))) == []
    assert codes(job(e.ActDone(act="sing"))) == ["unknown_act"]


def test_side_and_tool_follow_the_steps() -> None:
    state = job(*OPEN_COVER)
    assert (state.side, state.tool) == ("bottom", "pick")
    state = job(*OPEN_COVER, *opened("panel_screws"))
    assert (state.side, state.tool) == ("top", "driver")
    assert job(e.Opened(joint="cover_screws", tool="pick")).tool == "pick"
    assert job(e.Turned(side="top")).side == "top"
    assert codes(job(e.Turned(side="left"))) == ["unknown_side"]


def test_while_power_is_on_nothing_may_be_opened_or_closed_and_isolating_is_next() -> None:
    before = job(*ISOLATED, *opened("fan_plug"))
    hold = allowed(RADIO, before).power
    assert hold is not None
    assert hold.isolators == ("pack_plug",)
    assert hold.names == ("cover_screws", "cover_clips", "fan_plug")
    assert hold.live == ("fan_plug",)
    assert "*Fan plug*" in hold.text
    on = fold(
        RADIO,
        events_of(e.PowerOn(functions=("shows",), names=hold.names), by="Ada", first=9),
        before,
    )
    assert on.remarks == ()
    assert (on.check_on, on.open, is_isolated(RADIO, on)) == (True, hold.names, False)
    may = allowed(RADIO, on)
    assert may.must_isolate
    assert (may.to_open, may.to_close, may.power) == ({}, {}, None)
    for what in (e.Opened(joint="board_screws"), e.Closed(joint="fan_plug")):
        event = e.Event(id="x", what=what)
        assert "power_on" in [remark.code for remark in objections(RADIO, on, event)]
    off = fold(RADIO, events_of(e.PowerOff(), first=20), on)
    assert off.remarks == ()
    assert set(off.open) == set(before.open)
    assert not off.check_on
    assert is_isolated(RADIO, off)


def test_opening_the_isolating_joint_itself_ends_a_powered_check() -> None:
    names = ("cover_screws", "cover_clips")
    state = job(*ISOLATED, e.PowerOn(names=names), *opened("pack_plug"))
    assert state.remarks == ()
    assert not state.check_on
    assert is_isolated(RADIO, state)


def test_a_powered_check_must_name_each_open_joint_and_be_confirmed_by_somebody() -> None:
    state = job(*ISOLATED, e.PowerOn(names=("cover_screws", "board_screws")), by=None)
    assert codes(state) == ["nobody_confirmed", "not_named", "named_in_vain"]
    assert codes(job(e.PowerOn())) == ["not_isolated"]
    assert codes(job(e.PowerOff())) == ["no_check"]
    twice = job(*ISOLATED, e.PowerOn(names=("cover_screws", "cover_clips")), e.PowerOn())
    assert codes(twice) == ["check_twice"]


def test_what_is_to_be_proven_before_closing_is_asked_for() -> None:
    inner = [*ISOLATED, *opened("panel_ribbon")]
    assert codes(job(*inner, *closed("panel_ribbon"))) == ["not_proven"]
    tried = e.Checked(function="shows", outcome="works", phase="during")
    assert codes(job(*inner, tried, *closed("panel_ribbon"))) == []
    failed = e.Checked(function="shows", outcome="fails", phase="during")
    assert codes(job(*inner, tried, failed, *closed("panel_ribbon"))) == ["not_proven"]
    waived = e.Waived(person="Ada", reason="no panel at hand", function="shows")
    assert codes(job(*inner, waived, *closed("panel_ribbon"))) == []


def test_a_piece_is_exchanged_only_when_nothing_holds_it() -> None:
    assert codes(job(e.Exchanged(part="fan"))) == ["still_tied"]
    free = [*ISOLATED, *opened("fan_plug", "fan_screws"), e.Exchanged(part="fan", new_serial="F-2")]
    assert codes(job(*free)) == []
    assert codes(job(e.Exchanged(part="nothing"))) == ["unknown_part"]


def test_joints_inside_an_exchanged_piece_stay_open_until_they_are_closed_or_came_closed() -> None:
    loose = [
        *ISOLATED,
        *opened("fan_plug", "fan_screws", "board_screws", "board_nuts", "panel_ribbon"),
    ]
    state = job(*loose, e.Exchanged(part="board+fan"))
    assert state.remarks == ()
    assert "fan_plug" in state.open
    swapped = [*loose, e.Exchanged(part="board+fan")]
    by_hand = job(*swapped, *closed("fan_plug"))
    assert by_hand.remarks == ()
    assert ("fan_plug" in by_hand.open, by_hand.renewed_joints) == (False, ())
    came = e.Closed(joint="fan_plug", came_closed=True)
    there = job(*swapped, came)
    assert there.remarks == ()
    assert ("fan_plug" in there.open, there.renewed_joints) == (False, ("fan_plug",))
    again = job(*swapped, came, e.Opened(joint="fan_plug"), *closed("fan_plug"))
    assert again.renewed_joints == ()


def test_a_joint_comes_closed_only_with_a_piece_that_was_exchanged() -> None:
    came = e.Closed(joint="cover_screws", came_closed=True)
    assert codes(job(e.Opened(joint="cover_screws"), came)) == ["not_exchanged"]


def test_another_device_or_another_revision_of_its_file_is_remarked() -> None:
    other = e.Started(device="oak", revision="x")
    assert codes(fold(RADIO, events_of(other))) == ["other_device"]
    older = e.Started(device="elm", revision="cd" * 32)
    state = fold(RADIO, events_of(older))
    assert codes(state) == ["other_revision"]
    assert state.revision == "cd" * 32
    assert codes(fold(RADIO, events_of(start(RADIO), start(RADIO)))) == ["started_twice"]
    assert codes(fold(RADIO, events_of(*OPEN_COVER))) == ["not_started"]
    assert codes(fold(RADIO, events_of(start(RADIO, replace=("nothing",))))) == ["unknown_part"]


def test_ending_with_open_joints_and_working_on_afterwards_are_remarked() -> None:
    end = e.Finished(outcome="repaired")
    assert codes(job(*OPEN_COVER, end)) == ["open_joints"]
    waived = [e.Waived(person="Ada", reason="r", joint=j) for j in ("cover_screws", "cover_clips")]
    assert codes(job(*OPEN_COVER, *waived, end)) == []
    assert codes(job(end, *opened("cover_screws"))) == ["after_end"]
    assert job(end, e.Noted(text="seen again")).remarks == ()


def test_pausing_parking_and_handing_over() -> None:
    state = job(e.Paused(), e.Parked(place="shelf 3", waiting_for="a panel", isolated=True))
    assert state.paused
    assert state.parked is not None
    assert codes(state) == ["not_isolated"]
    again = fold(RADIO, events_of(e.Resumed(), e.HandedOver(to="Ben"), first=9), state)
    assert (again.paused, again.parked, again.worker) == (False, None, "Ben")


def test_what_is_left_to_do_is_planned_from_the_joints_open_now() -> None:
    work = [*ISOLATED, *opened("fan_plug", "fan_screws"), e.Exchanged(part="fan")]
    state = fold(
        RADIO, events_of(start(RADIO, replace=("fan",)), *work, e.TargetAdded(replace="front"))
    )
    request = request_from(RADIO, state)
    assert request.replace == ("front",)
    assert request.opened == state.open
    found = plan(RADIO, request)
    assert {step.joint for step in found.way_in}.isdisjoint(state.open)
    assert {step.joint for step in found.way_out} >= set(state.open)
    dead = fold(
        RADIO, events_of(e.PartJudged(part="fan", state="dead_on_arrival"), first=40), state
    )
    assert request_from(RADIO, dead).replace == ("fan", "front")
    mended = fold(RADIO, events_of(e.Exchanged(part="fan"), first=50), dead)
    assert request_from(RADIO, mended).replace == ("front",)
    dropped = fold(RADIO, events_of(e.TargetDropped(replace="front"), first=60), mended)
    assert request_from(RADIO, dropped).replace == ()
    assert plan(RADIO, request_from(RADIO, dropped)).way_in == ()


def test_joints_open_at_the_start_are_open_and_count_as_opened() -> None:
    state = fold(
        RADIO, events_of(start(RADIO, opened=("cover_screws", "cover_screws"), side="top"))
    )
    assert state.open == state.opened == ("cover_screws",)
    assert state.side == "top"


def test_the_radio_has_one_isolating_joint() -> None:
    assert isolating_joints(RADIO) == ("pack_plug",)
