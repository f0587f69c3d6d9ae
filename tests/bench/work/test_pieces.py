"""Pieces exchanged as one whose inner joints had to be opened: plan, page, events and ledger agree."""

from __future__ import annotations

from random import Random

import pytest

from lastscrew.bench.invented.playing import Playing, play
from lastscrew.device.fitting import joints_within
from lastscrew.fasteners.ledger import hindrances, ledger_of
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.run.folding import fold
from lastscrew.run.state import parts_of
from tests.bench.work.conftest import Screen, demo

OPENED_INSIDE = [
    ("notebook", "cooler"),
    ("notebook", "screw_set"),
    ("notebook", "clock_cell+board"),
    ("notebook", "pack+board"),
    ("slate", "plug_shield+board"),
    ("slate", "display+board"),
    ("extractor", "motor_set"),
    ("extractor", "hose+scroll_front"),
]
"""Pieces of the invented machines that can't be got out without opening a joint inside them."""


@pytest.mark.parametrize(("name", "piece"), OPENED_INSIDE)
def test_a_piece_that_was_opened_inside_is_closed_as_planned_without_a_remark(
    name: str, piece: str
) -> None:
    device = demo(name)
    screen = Screen.at(device, piece)
    screen.tap_until()
    inside = set(joints_within(device, parts_of(device, piece)))
    assert inside & set(screen.state.opened)
    assert screen.state.remarks == ()
    assert screen.state.open == ()
    assert all(item.is_done for item in screen.items())
    books = ledger_of(device, screen.events)
    assert hindrances(device, screen.state, books) == ()


@pytest.mark.parametrize(("name", "piece"), OPENED_INSIDE)
def test_the_plan_for_such_a_piece_played_by_itself_leaves_no_remark(name: str, piece: str) -> None:
    device = demo(name)
    made = plan(device, Request(replace=(piece,)))
    state = fold(device, play(device, made, Playing("r", "c", 0, Random(1))))
    assert state.remarks == ()
    assert state.open == ()


def test_a_new_part_that_came_closed_takes_no_screws_and_the_old_ones_go_away() -> None:
    device = demo("extractor")
    screen = Screen.at(device, "motor_set")
    screen.tap_until("exchange:motor_set")
    before = screen.item("out:terminal_screws").taps[-1]
    assert before.otherwise is None
    screen.tap(screen.item("exchange:motor_set"))
    screen.tap_until("out:terminal_screws")
    tap = screen.item("out:terminal_screws").taps[-1]
    assert tap.otherwise is not None
    for event in tap.otherwise[1]:
        screen.happen(event)
    assert screen.item("out:terminal_screws").is_done
    screen.tap_until()
    assert screen.state.remarks == ()
    books = ledger_of(device, screen.events)
    assert hindrances(device, screen.state, books) == ()
    (row,) = (row for row in books.joints if row.joint == "terminal_screws")
    assert (row.state, row.put_back, row.new) == ("renewed", 0, 0)
    account = next(account for account in books.kinds if account.kind == row.kind)
    assert (account.scrapped, account.out) == (4, 0)
