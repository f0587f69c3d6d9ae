"""A screw left over or missing: the chances held to enumeration, the search to trying all orders."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import permutations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.fitting import fit
from lastscrew.device.model import Act, Device
from lastscrew.device.opening import accesses_that_allow
from lastscrew.fasteners.forgetting import all_together, chances, length_match, together
from lastscrew.fasteners.ledger import ledger_of
from lastscrew.fasteners.leftover import (
    Leftover,
    Place,
    Query,
    check_query,
    find_leftover,
    query_from_text,
)
from lastscrew.fasteners.pieces import Kind, kind_from_key
from lastscrew.fasteners.searching import Spot, search
from lastscrew.plan.model import Plan, Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.run import events as e
from tests.run.machines import events_of, radio, start

RADIO = radio()
FITTED = fit(RADIO)
WORK = Request(replace=("board", "panel"), reach=("pack_screws",))


def closed_by(request: Request = WORK, device: Device = RADIO) -> list[str]:
    """Joints that a plan closes, in order."""
    return [step.joint for step in plan(device, request).way_out]


def ask(query: Query, device: Device = RADIO, **rest: object) -> Leftover:
    """The answer after that work."""
    return find_leftover(device, closed_by(device=device), query, plan, **rest)  # type: ignore[arg-type]


def found(key: str, count: int = 1) -> Query:
    """A query for pieces left over."""
    return Query(count, kind=kind_from_key(key))


def by_key(answer: Leftover) -> dict[str, Place]:
    """Places by name."""
    return {place.key: place for place in answer.places}


# --- chances --------------------------------------------------------------------------------------


@given(st.integers(0, 6), st.floats(0.001, 0.5), st.integers(0, 4))
def test_chances_of_a_joint_are_those_of_its_single_screws(
    count: int, each: float, most: int
) -> None:
    """Up to the common factor of all the screws that are not concerned."""
    expected = [0.0] * (most + 1)
    for which in product((False, True), repeat=count):
        if sum(which) <= most:
            expected[sum(which)] += each ** sum(which)
    assert chances(count, each, 0.0, most) == pytest.approx(tuple(expected))


@given(st.lists(st.lists(st.floats(0, 1), min_size=3, max_size=3), max_size=4))
def test_numbers_from_several_places_add_up_as_enumerated(some: list[list[float]]) -> None:
    expected = [0.0] * 3
    for numbers in product(range(3), repeat=len(some)):
        if sum(numbers) < 3:
            expected[sum(numbers)] += math.prod(
                one[n] for one, n in zip(some, numbers, strict=True)
            )
    assert all_together(some, 2) == pytest.approx(tuple(expected))


def test_adding_places_in_any_order_is_the_same() -> None:
    one, other = (1.0, 0.2, 0.1), (1.0, 0.5, 0.0)
    assert together(one, other) == pytest.approx(together(other, one))


@pytest.mark.parametrize(
    "key", ["m2x5", "m2x3", "m2x5_lock", "washer:spring", "unlisted:board_nuts"]
)
def test_the_chances_of_one_piece_add_up_to_one(key: str) -> None:
    answer = ask(found(key))
    assert sum(place.chance for place in answer.places) + answer.elsewhere == pytest.approx(1)
    assert answer.places == tuple(sorted(answer.places, key=lambda p: (-p.chance, p.key)))


@given(st.integers(1, 4), st.booleans())
def test_chances_are_chances_for_several_pieces_and_for_missing_ones(
    count: int, missing: bool
) -> None:
    answer = ask(Query(count, missing, Kind("fastener", "m2x5")))
    assert all(0 <= place.chance <= 1 for place in answer.places)
    assert 0 <= answer.elsewhere <= 1
    last = answer.search.steps[-1].settled_by_here
    assert last == pytest.approx(1 - answer.elsewhere)


def test_more_screws_are_more_easily_one_short_and_a_hole_in_sight_is_seen() -> None:
    places = by_key(ask(found("m2x5")))
    assert places["board_screws"].chance > places["cover_screws"].chance  # 6 hidden, 8 in sight
    inside = {**RADIO.joints, "board_screws": replace(RADIO.joints["board_screws"], count=1)}
    fewer = by_key(ask(found("m2x5"), replace(RADIO, joints=inside)))
    assert fewer["board_screws"].chance < places["board_screws"].chance


def test_one_of_a_group_that_is_closed_together_is_more_easily_passed_over() -> None:
    names = ("cover_screws", "board_screws")
    joints = {key: replace(RADIO.joints[key], group="rim") for key in names}
    device = replace(RADIO, joints={**RADIO.joints, **joints})
    place = by_key(ask(found("m2x5"), device))["board_screws"]
    assert any("*Cover screws*" in reason.text and reason.factor > 1 for reason in place.reasons)


def test_captive_screws_and_other_kinds_are_no_places() -> None:
    places = by_key(ask(found("m2x3")))
    assert "fan_screws" not in places
    assert places["pack_screws"].how == "left_out"
    assert "board_nuts" not in places


def test_a_look_alike_may_lack_the_piece_that_went_into_the_wrong_place() -> None:
    place = by_key(ask(found("m2x5")))["pack_screws"]
    assert place.how == "left_out_for_look_alike"
    assert any(
        reason.source == "assumed" and "look like" in reason.text for reason in place.reasons
    )
    assert place.chance < by_key(ask(found("m2x3")))["pack_screws"].chance


def test_two_left_over_point_to_a_joint_of_two_and_one_to_a_joint_of_many() -> None:
    """A joint of two that was passed over explains both at once."""
    pair = replace(RADIO.joints["modem_screw"], count=2, if_fitted=None, fastener="m2x5")
    parts = {**RADIO.parts, "modem": replace(RADIO.parts["modem"], if_fitted=None)}
    device = replace(RADIO, joints={**RADIO.joints, "modem_screw": pair}, parts=parts)
    closed = closed_by(Request(reach=("board_screws", "modem_screw")), device)
    one = find_leftover(device, closed, found("m2x5"), plan)
    two = find_leftover(device, closed, found("m2x5", 2), plan)
    assert one.places[0].key == "board_screws"
    assert two.places[0].key == "modem_screw"


def test_old_pieces_that_do_not_go_back_are_thought_of_first() -> None:
    answer = ask(found("m2x5_lock"))
    first = answer.places[0]
    assert (first.key, first.how, first.joint) == ("panel_screws:old", "old_piece", None)
    assert answer.search.steps[0].opens == ()


def test_washers_are_looked_for_under_the_heads() -> None:
    place = by_key(ask(found("washer:spring")))["board_screws:washers"]
    assert place.count == 2
    answer = ask(found("washer:spring"))
    assert "board_screws" in answer.search.steps[0].opens


@pytest.mark.parametrize(
    ("length", "thread", "expected"),
    [
        (4.8, None, {"cover_screws", "board_screws", "board_nuts", "panel_screws:old"}),
        (3.1, None, {"pack_screws", "board_nuts"}),
        (4.8, "M2.5", {"board_nuts"}),
        (4.8, "m2", {"cover_screws", "board_screws", "board_nuts", "panel_screws:old"}),
        (40.0, None, {"board_nuts"}),
    ],
)
def test_a_measured_piece_fits_what_is_as_long_within_the_doubt(
    length: float, thread: str | None, expected: set[str]
) -> None:
    answer = ask(Query(length_mm=length, thread=thread))
    assert {place.key for place in answer.places} == expected


@given(st.floats(0.5, 50), st.floats(0.5, 50), st.floats(0.05, 2))
def test_the_nearer_the_length_the_better_it_fits(
    nominal: float, measured: float, doubt: float
) -> None:
    fits = length_match(nominal, measured, doubt)
    assert 0 <= fits <= length_match(nominal, nominal, doubt) == 1
    assert length_match(nominal, nominal + 3.01 * doubt, doubt) == 0


def test_what_the_record_says_weighs_more_than_guesses() -> None:
    joints = ("cover_screws", "cover_clips", "pack_plug", "board_screws")
    log = [e.Opened(joint=j) for j in joints]
    short = [*log, e.Closed(joint="board_screws", put_back=5), e.Closed(joint="cover_screws")]
    whole = [*log, e.Closed(joint="board_screws"), e.Closed(joint="cover_screws")]
    closed = ["board_screws", "cover_screws"]
    plain = by_key(find_leftover(RADIO, closed, found("m2x5"), plan))
    for happened, more in ((short, True), (whole, False)):
        ledger = ledger_of(RADIO, events_of(start(RADIO), *happened))
        place = by_key(find_leftover(RADIO, closed, found("m2x5"), plan, ledger=ledger))[
            "board_screws"
        ]
        assert any(reason.source == "run" for reason in place.reasons)
        if more:
            assert place.chance > plain["board_screws"].chance


def test_a_missing_screw_is_looked_for_outside_first_and_then_where_it_was_handled() -> None:
    answer = ask(Query(missing=True, kind=Kind("fastener", "m2x5")))
    places = by_key(answer)
    assert answer.search.steps[0].key == "outside"
    assert places["board_screws:inside"].how == "fell_inside"
    assert places["pack_screws:compare"].how == "used_for_look_alike"
    compare = next(s for s in answer.search.steps if s.key == "pack_screws:compare")
    assert "pack_screws" in compare.opens


def test_queries_that_make_no_sense_are_refused_with_the_nearest_name() -> None:
    problems = check_query(RADIO, found("m2x55"))
    assert "Did you mean m2x5?" in problems[0].remedy
    assert [p.code for p in check_query(RADIO, Query(10, kind=Kind("fastener", "m2x5")))] == [
        "leftover_count"
    ]
    assert [p.code for p in check_query(RADIO, Query(length_mm=float("nan")))] == [
        "leftover_length"
    ]
    assert [p.code for p in check_query(RADIO, Query(length_mm=5, doubt_mm=0))] == [
        "leftover_doubt"
    ]
    with pytest.raises(InputError):
        ask(found("nothing"))


def test_a_kind_that_this_work_never_touched_has_no_place() -> None:
    answer = find_leftover(
        RADIO, closed_by(Request(reach=("cover_clips",))), found("unlisted:board_nuts"), plan
    )
    assert answer.places == ()
    assert answer.elsewhere == 1
    assert answer.search.steps == ()


@pytest.mark.parametrize(
    ("text", "key", "count"),
    [("m2x5", "m2x5", 1), ("m2x5:2", "m2x5", 2), ("washer:spring", "washer:spring", 1),
     ("washer:lock nut M8:4", "washer:lock nut M8", 4), ("unlisted:board_nuts:2", "unlisted:board_nuts", 2)],
)  # fmt: skip
def test_pieces_and_numbers_are_read_from_the_command_line(text: str, key: str, count: int) -> None:
    query = query_from_text(text, missing=False)
    assert query.kind is not None
    assert (query.kind.key, query.count) == (key, count)


# --- the search -----------------------------------------------------------------------------------


def spots_of(*joints: str, chance: float = 0.1) -> list[Spot]:
    """Places with different chances."""
    return [
        Spot(joint, joint, take_out=False, look_ms=2_000, chances=(1.0, chance / (number + 1)))
        for number, joint in enumerate(joints)
    ]


def expected_cost(order: tuple[Spot, ...], device: Device) -> float:
    """Expected cost of an order, written out: each place adds what the set with it costs more."""
    total = 0.01 + sum(spot.chances[1] for spot in order)
    cost, before, done = 0.0, 0.0, 0.0
    for number in range(1, len(order) + 1):
        found_by = search(device, order[:number], (1.0, 0.01), Request(), plan)
        now = _set_cost(order[:number], device)
        assert found_by.steps
        cost += (1 - done / total) * (now - before)
        before, done = now, done + order[number - 1].chances[1]
    return cost


def _set_cost(spots: tuple[Spot, ...], device: Device) -> float:
    """Cheapest plan that uncovers all these joints, by a joint of our own that looking opens."""
    joints = dict(device.joints)
    for spot in spots:
        assert spot.joint is not None
        old = joints[spot.joint]
        bare = tuple(
            replace(a, tool=None, close_tool=None, open_ms=0, close_ms=0) for a in old.accesses
        )
        joints[f"see_{spot.key}"] = replace(
            old,
            id=f"see_{spot.key}",
            kind="other",
            rigid=False,
            accesses=bare,
            fastener=None,
            isolates=False,
        )
    reach = tuple(f"see_{spot.key}" for spot in spots)
    work = plan(replace(device, joints=joints, acts={}), Request(reach=reach))
    return work.total_ms + sum(spot.look_ms for spot in spots)


@pytest.mark.parametrize(
    "joints",
    [
        ("cover_screws", "board_screws", "panel_screws"),
        ("board_screws", "cover_screws", "pack_screws", "panel_screws"),
        ("panel_screws", "pack_screws", "board_nuts", "cover_screws"),
    ],
)
@pytest.mark.parametrize("chance", [0.02, 0.4])
def test_no_other_order_has_a_lower_expected_cost(joints: tuple[str, ...], chance: float) -> None:
    spots = spots_of(*joints, chance=chance)
    answer = search(FITTED, spots, (1.0, 0.01), Request(), plan)
    assert answer.exact
    chosen = tuple(next(s for s in spots if s.key == step.key) for step in answer.steps)
    best = min(expected_cost(order, FITTED) for order in permutations(spots))
    assert expected_cost(chosen, FITTED) == pytest.approx(best)


def test_what_the_search_opens_is_allowed_and_lays_each_place_bare() -> None:
    answer = ask(found("m2x5"))
    opened: list[str] = []
    for step in answer.search.steps:
        for joint in step.opens:
            assert accesses_that_allow(FITTED, opened, joint)
            opened.append(joint)
        place = by_key(answer)[step.key]
        assert place.joint is not None
        assert place.joint in opened or accesses_that_allow(FITTED, opened, place.joint)


def test_no_joint_is_opened_twice() -> None:
    opens = [joint for step in ask(found("m2x5")).search.steps for joint in step.opens]
    assert opens
    assert len(set(opens)) == len(opens)


def test_a_joint_that_comes_after_another_is_looked_at_after_it() -> None:
    late = replace(RADIO.joints["board_screws"], after=("panel_screws",))
    device = replace(RADIO, joints={**RADIO.joints, "board_screws": late})
    answer = find_leftover(device, ["board_screws"], found("m2x5"), plan)
    assert "panel_screws" in answer.search.steps[0].opens


def test_the_power_is_taken_away_before_looking_at_powered_screws() -> None:
    plain = find_leftover(RADIO, ["board_screws"], found("m2x5"), plan)
    assert "pack_plug" not in plain.search.steps[0].opens
    powered = replace(RADIO.joints["board_screws"], powered=True)
    device = replace(RADIO, joints={**RADIO.joints, "board_screws": powered})
    answer = find_leftover(device, ["board_screws"], found("m2x5"), plan)
    assert "pack_plug" in answer.search.steps[0].opens


def test_acts_of_the_job_are_not_done_again_for_a_look() -> None:
    saving = Act("save", "Save the data.", "start", ms=600_000)
    device = replace(RADIO, acts={**RADIO.acts, "save": saving})
    assert (
        by_key(ask(found("m2x5"), device))["board_screws"].alone_ms
        == by_key(ask(found("m2x5")))["board_screws"].alone_ms
    )


def test_times_grow_along_the_search_and_a_place_alone_takes_no_longer_than_all() -> None:
    answer = ask(found("m2x5"))
    settled = [step.settled_ms for step in answer.search.steps]
    assert settled == sorted(settled)
    assert answer.search.worst_ms == settled[-1]
    assert settled[0] <= answer.search.expected_ms <= settled[-1]
    assert all(p.alone_ms is not None and p.alone_ms <= settled[-1] for p in answer.places)


def test_a_place_in_sight_costs_only_a_look() -> None:
    place = by_key(ask(found("m2x5")))["cover_screws"]
    assert place.alone_ms == 2_000 + 8 * 500


def test_joints_that_are_open_already_cost_nothing_more() -> None:
    now = Request(opened=("cover_screws", "cover_clips", "pack_plug"))
    closed = ["board_screws", "pack_screws"]
    shut = find_leftover(RADIO, closed, found("m2x5"), plan)
    bare = find_leftover(RADIO, closed, found("m2x5"), plan, now=now)
    assert bare.search.steps[0].opens == ()
    assert bare.search.worst_ms < shut.search.worst_ms
    assert bare.search.worst_ms == sum(step.in_ms for step in bare.search.steps)


def test_places_behind_a_joint_that_may_not_be_opened_are_said_to_be_out_of_reach() -> None:
    answer = find_leftover(
        RADIO, closed_by(), found("m2x5"), plan, now=Request(without=("cover_clips",))
    )
    assert set(answer.search.out_of_reach) == {"board_screws", "pack_screws"}
    assert [step.key for step in answer.search.steps] == ["cover_screws"]
    assert by_key(answer)["board_screws"].alone_ms is None


def test_many_places_are_searched_by_the_best_ratio_and_not_called_exact() -> None:
    copies = {
        f"x{n}": replace(RADIO.joints["board_screws"], id=f"x{n}", count=n) for n in range(1, 15)
    }
    device = replace(RADIO, joints={**RADIO.joints, **copies})
    closed = closed_by(Request(reach=("board_screws",)), device) + list(copies)
    answer = find_leftover(device, closed, found("m2x5"), plan)
    assert not answer.search.exact
    assert len(answer.search.steps) == len(answer.places)
    assert sum(p.chance for p in answer.places) + answer.elsewhere == pytest.approx(1)


def test_a_planner_that_was_stopped_is_told_and_not_taken_for_a_closed_door() -> None:
    def stopped(_device: Device, _request: Request) -> Plan:
        from lastscrew.problems import Problem

        raise InputError([Problem("stopped", code="stopped")])

    with pytest.raises(InputError, match="stopped"):
        find_leftover(RADIO, closed_by(), found("m2x5"), stopped)


def test_a_joint_under_its_own_part_is_looked_at_by_opening_it() -> None:
    """Its screws hold the very panel that hides them from one side, and are open from none."""
    board = RADIO.joints["board_screws"]
    access = replace(board.accesses[0], under=("cover", "board"))
    device = replace(
        RADIO, joints={**RADIO.joints, "board_screws": replace(board, accesses=(access,))}
    )
    answer = find_leftover(device, ["board_screws"], found("m2x5"), plan)
    assert (
        "board_screws" in answer.search.out_of_reach
        or "board_screws" in answer.search.steps[0].opens
    )
