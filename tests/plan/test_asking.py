"""Which requests can be planned, and what is said of those that can't."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.opening import accesses_that_allow
from lastscrew.plan.asking import check_request, ever_open, nearest
from lastscrew.plan.model import Request
from tests.oracle.devices import SMALL, case_from_seed
from tests.plan_support.machines import box


@given(st.integers(0, 100_000))
def test_what_can_ever_be_opened_is_what_the_plain_rule_opens_one_by_one(seed: int) -> None:
    """Rounds of everything that opens give the same set as opening one joint after the other."""
    device, request = case_from_seed(seed, SMALL)
    forbidden = set(request.without)
    opened: set[str] = set()
    while True:
        further = [
            joint
            for joint in sorted(device.joints)
            if joint not in opened | forbidden and accesses_that_allow(device, opened, joint)
        ]
        if not further:
            break
        opened.add(further[0])
    assert ever_open(device, forbidden) == opened


@pytest.mark.parametrize(
    "request_",
    [
        Request(replace=("keys",)),
        Request(replace=("sink + board", "keys_set")),
        Request(reach=("keys_ribbon",), without=("pack_screws",)),
        Request(opened=("cover_screws",)),
        Request(replace=("chassis",)),
    ],
)
def test_sound_requests_have_no_problem(request_: Request) -> None:
    """Parts, spares, several as one, joints to reach, jobs that have begun, the fixed part too."""
    assert check_request(box(), request_) == ()


def test_a_joint_that_is_open_may_be_among_those_not_to_be_opened() -> None:
    """It need not be opened any more, and what lies below it can be reached through it."""
    request = Request(reach=("pack_plug",), opened=("cover_screws",), without=("cover_screws",))
    assert check_request(box(), request) == ()


def test_each_forbidden_joint_that_would_be_enough_alone_is_named() -> None:
    """The keyboard, the pack or the board itself has to be loose: allowing either is enough."""
    forbidden = ("keys_clips", "pack_screws", "board_screws")
    request = Request(reach=("keys_ribbon",), without=forbidden)
    (problem,) = check_request(box(), request)
    assert problem.path == "reach.keys_ribbon"
    assert problem.remedy == 'Allow "board_screws", "keys_clips" or "pack_screws".'


def test_where_no_single_one_is_enough_all_are_named() -> None:
    """Screws and clips hold the cover together: both have to be allowed."""
    request = Request(reach=("pack_plug",), without=("cover_clips", "cover_screws"))
    (problem,) = check_request(box(), request)
    assert "*Cover clips* and *Cover screws*" in problem.message
    assert "more" in problem.remedy


def test_a_forbidden_joint_of_a_part_to_exchange_is_told_first() -> None:
    """Before anything about ways: what must be open may not be."""
    (problem,) = check_request(box(), Request(replace=("keys",), without=("keys_clips",)))
    assert (problem.path, problem.code) == ("without.keys_clips", "forbidden_target")
    assert "they tie *Keyboard*, to be exchanged, to the rest" in problem.message


@pytest.mark.parametrize(
    ("word", "known", "found"),
    [
        ("keybord", ("keyboard", "board"), "keyboard"),
        ("KEYBOARD", ("keyboard", "board"), "keyboard"),
        ("zzz", ("keyboard", "board"), None),
        ("a", (), None),
    ],
)
def test_the_nearest_name_is_found_whatever_its_case(
    word: str, known: tuple[str, ...], found: str | None
) -> None:
    """Close enough, or none."""
    assert nearest(word, known) == found


@pytest.mark.parametrize("piece", ["", "+", "keys++board", "keys + "])
def test_a_plus_with_nothing_beside_it_is_named_as_such(piece: str) -> None:
    """No part is called nothing."""
    problems = check_request(box(), Request(replace=(piece,)))
    assert problems
    assert all(p.message == f'A name is missing in "{piece}".' for p in problems)
