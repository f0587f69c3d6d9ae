"""How long steps really take: taps, pauses, outliers, screens. Expected times worked out by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.bench.depot.clocks import Clock, TimedStep, advance, advanced
from lastscrew.run import events as e

ESTIMATES = {"a": 10_000, "b": 30_000, "c": 2_000}


def estimate(joint: str, limb: str) -> int | None:
    return ESTIMATES.get(joint)


def at(seconds: float, what: e.Happening, client: str = "c") -> e.Event:
    number = f"{type(what).__name__}-{seconds}-{getattr(what, 'joint', '')}"
    return e.Event(id=number, what=what, at_ms=round(seconds * 1000), client=client, by="Ada")


START = e.Started(device="d", revision="r")


def times(*events: e.Event) -> tuple[Clock, dict[str, tuple[int, bool]]]:
    clock, found = advanced(events, estimate)
    return clock, {step.joint: (step.taken_ms, step.is_outlier) for step in found}


def test_a_step_takes_from_the_tap_before_to_its_own() -> None:
    clock, found = times(at(0, START), at(12, e.Opened(joint="a")), at(52, e.Opened(joint="b")))
    assert found == {"a": (12_000, False), "b": (40_000, False)}
    assert (clock.hands_on_ms, clock.apart_ms) == (52_000, 0)


def test_one_tap_for_a_stage_is_shared_out_by_estimate() -> None:
    _, found = times(
        at(0, START),
        at(80, e.Opened(joint="a")),
        at(80.2, e.Opened(joint="b")),
        at(80.4, e.Noted(text="x")),
    )
    # 80.4 s for 10 s and 30 s of estimate: a quarter and three quarters.
    assert found == {"a": (20_100, False), "b": (60_300, False)}


def test_a_note_between_two_steps_ends_a_tap() -> None:
    clock, found = times(at(0, START), at(5, e.Noted(text="x")), at(15, e.Opened(joint="a")))
    assert found == {"a": (10_000, False)}
    assert clock.hands_on_ms == 15_000


@pytest.mark.parametrize("stop", [e.Paused(), e.Parked(place="shelf")])
def test_pauses_and_parking_do_not_count(stop: e.Happening) -> None:
    clock, found = times(
        at(0, START), at(10, stop), at(900, e.Resumed()), at(912, e.Opened(joint="a"))
    )
    assert found == {"a": (12_000, False)}
    assert (clock.hands_on_ms, clock.apart_ms) == (22_000, 0)


def test_a_long_gap_that_nobody_called_a_pause_is_set_apart() -> None:
    clock, found = times(at(0, START), at(301, e.Opened(joint="a")), at(306, e.Opened(joint="c")))
    assert found == {"a": (301_000, True), "c": (5_000, False)}
    assert (clock.hands_on_ms, clock.apart_ms) == (5_000, 301_000)
    _, found = times(at(0, START), at(299, e.Opened(joint="a")))
    assert found == {"a": (299_000, False)}
    # Longer than five minutes and yet not ten times the 40 s of estimate.
    _, found = times(at(0, START), at(350, e.Opened(joint="a")), at(350.1, e.Opened(joint="b")))
    assert not any(outlier for _, outlier in found.values())


def test_what_was_entered_afterwards_is_too_quick_to_be_true() -> None:
    clock, found = times(at(0, START), at(2, e.Opened(joint="b")))
    assert found == {"b": (2_000, True)}
    assert clock.hands_on_ms == 2_000


def test_between_two_screens_and_after_a_clock_was_set_back_nothing_is_known() -> None:
    clock, found = times(
        at(0, START), at(500, e.Opened(joint="a"), "other"), at(510, e.Opened(joint="c"), "other")
    )
    assert found == {"c": (10_000, False)}
    assert clock.hands_on_ms == 10_000
    clock, found = times(at(100, START), at(50, e.Opened(joint="a")), at(60, e.Opened(joint="c")))
    assert found == {"c": (10_000, False)}


def test_events_without_a_moment_or_of_an_unknown_joint_are_no_steps() -> None:
    silent = e.Event(id="x", what=e.Opened(joint="a"), client="c")
    clock, found = times(at(0, START), silent, at(10, e.Opened(joint="nobody_knows_it")))
    assert found == {}
    assert clock.hands_on_ms == 10_000


MOMENTS = st.lists(
    st.tuples(
        st.integers(0, 2_000_000),
        st.sampled_from(
            (START, e.Paused(), e.Resumed(), e.Noted(text="x"), e.Finished(outcome="repaired"),
             *(e.Opened(joint=j) for j in ESTIMATES), *(e.Closed(joint=j) for j in ESTIMATES))
        ),
        st.sampled_from(("c", "d")),
    ),
    max_size=30,
)  # fmt: skip


@given(MOMENTS)
def test_no_time_is_counted_twice(moments: list[tuple[int, e.Happening, str]]) -> None:
    events = [
        e.Event(id=f"e{number}", what=what, at_ms=moment, client=client, by="Ada")
        for number, (moment, what, client) in enumerate(sorted(moments, key=lambda m: m[0]))
    ]
    clock, found = advanced(events, estimate)
    stretch = events[-1].at_ms - events[0].at_ms if events else 0  # type: ignore[operator]
    assert clock.hands_on_ms + clock.apart_ms <= stretch
    assert sum(step.taken_ms for step in found) <= clock.hands_on_ms + clock.apart_ms
    assert all(step.taken_ms >= 0 for step in found)


@given(MOMENTS)
def test_one_event_at_a_time_gives_the_same_as_all_at_once(
    moments: list[tuple[int, e.Happening, str]],
) -> None:
    clock = Clock()
    kept: dict[str, TimedStep] = {}
    events = [
        e.Event(id=f"e{number}", what=what, at_ms=moment, client=client)
        for number, (moment, what, client) in enumerate(moments)
    ]
    for event in events:
        clock = advance(clock, event, estimate)
        kept.update((step.event, step) for step in clock.times())
    assert (clock, tuple(kept.values())) == advanced(events, estimate)
