"""What a job takes out of stock and brings into it. Expected moves by hand, from the device file in the test."""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.bench.depot.clocks import Estimates
from lastscrew.bench.depot.running import RunFold, estimates_of, take
from lastscrew.bench.depot.stocking import moves_of_job, piece_codes, rounded
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState

FILE = """
format: 1
device: {id: box, name: Box}
sides: [top]
tools: {driver: {name: driver, fits: [PH1]}}
fasteners:
  m2: {thread: M2, length_mm: 4, drive: PH1}
  m3: {thread: M3, length_mm: 6, drive: PH1, order_code: FA-3}
supplies:
  compound: {name: thermal compound, unit: g}
  pad: {name: pad, order_code: SU-1}
parts:
  base: {name: Base, fixed: true}
  lid: {name: Lid, order_code: LI-1}
  fan: {name: Fan, order_code: FA-9}
  board: {name: Board}
  plug: {name: Plug, order_code: PL-1}
spares:
  fan_set: {name: Fan with pad, contains: [fan], order_code: FS-1, includes: [pad, m2]}
  board_set: {name: Board with plug, contains: [board, plug]}
joints:
  lid_screws: {kind: screw, joins: [lid, base], fastener: m2, count: 4, side: top, tool: driver, reuse: single_use}
  fan_screws: {kind: screw, joins: [fan, base], fastener: m3, count: 2, side: top, tool: driver, under: [lid]}
  board_screws: {kind: screw, joins: [board, base], fastener: m2, count: 3, side: top, tool: driver, under: [lid]}
  plug_screw: {kind: screw, joins: [plug, board], fastener: m2, side: top, tool: driver, under: [lid]}
"""


@cache
def box() -> Device:
    return load_device(FILE)


@cache
def estimate() -> Estimates:
    return estimates_of(box())


def events_of(*happenings: e.Happening) -> list[e.Event]:
    first = e.Started(device="box", revision=box().revision_hash)
    return [e.Event(id=f"e{n}", what=what) for n, what in enumerate((first, *happenings))]


def stock(*happenings: e.Happening) -> dict[str, float]:
    """What all of it came to."""
    found: dict[str, float] = {}
    fold = RunFold()
    for event in events_of(*happenings):
        taken = take(box(), fold, event, estimate())
        fold = taken.fold
        for moves in taken.moves.values():
            for code, change in moves:
                found[code] = rounded(found.get(code, 0) + change)
    return {code: count for code, count in found.items() if count}


def line(state: str, count: int = 1, **what: str) -> e.PartLine:
    return e.PartLine(line="l1", state=state, count=count, **(what or {"part": "fan"}))


OPEN, CLOSE = e.Opened(joint="lid_screws"), e.Closed(joint="lid_screws")


@pytest.mark.parametrize(
    ("happenings", "moved"),
    [
        ([e.Renewed(supply="compound", amount=0.3)], {"supply:compound": -0.3}),
        ([e.Renewed(supply="pad", amount=1)], {"code:SU-1": -1}),
        ([OPEN, CLOSE], {"fastener:m2": -4}),
        ([OPEN, e.Closed(joint="lid_screws", put_back=4)], {}),
        ([OPEN, e.CountCorrected(joint="lid_screws", count=5), CLOSE], {"fastener:m2": -5}),
        ([CLOSE], {}),
        ([OPEN, e.Opened(joint="fan_screws"), e.Closed(joint="fan_screws")], {}),
        ([OPEN, e.Opened(joint="fan_screws"), e.Closed(joint="fan_screws", new=1)], {"code:FA-3": -1}),
        ([OPEN, e.Closed(joint="lid_screws", new=4, piece="m3")], {"code:FA-3": -4}),
        ([e.Exchanged(part="fan")], {"code:FA-9": -1}),
        ([e.Exchanged(part="fan", order_code="OTHER")], {"code:OTHER": -1}),
        ([e.Exchanged(part="fan_set")], {"code:FS-1": -1}),
        ([e.Exchanged(part="board_set")], {"code:PL-1": -1}),
        ([e.Exchanged(part="lid+fan")], {"code:LI-1": -1, "code:FA-9": -1}),
        ([e.Exchanged(part="board")], {}),
        ([e.Exchanged(part="fan_set"), e.Renewed(supply="pad", amount=1), OPEN, CLOSE], {"code:FS-1": -1}),
        ([line("to_order"), line("ordered")], {}),
        ([line("ordered"), line("received", 2)], {"code:FA-9": 2}),
        ([line("received"), line("received")], {"code:FA-9": 1}),
        ([line("received"), line("received", 3)], {"code:FA-9": 3}),
        ([line("received", 2), line("ordered", 2)], {}),
        ([line("received"), e.Exchanged(part="fan"), line("fitted")], {}),
        ([line("fitted"), e.Exchanged(part="fan")], {"code:FA-9": -1}),
        ([line("received"), line("dead_on_arrival")], {}),
        ([line("received"), line("dead_on_arrival"), line("received")], {"code:FA-9": 1}),
        ([line("received"), e.Exchanged(part="fan"), line("fitted"), line("dead_on_arrival")], {}),
        ([line("received"), e.Exchanged(part="fan"), line("fitted"), line("old_kept")], {}),
        ([line("received", supply="pad")], {"code:SU-1": 1}),
        ([line("received", 9, piece="m2")], {"fastener:m2": 9}),
        ([line("received", order_code="ANY")], {"code:ANY": 1}),
        ([line("received", piece="washer:spring")], {}),
        ([e.Renewed(supply="pad", amount=2), e.TakenBack(about="e1")], {}),
        ([OPEN, CLOSE, e.TakenBack(about="e1")], {}),
        ([OPEN, CLOSE, e.TakenBack(about="e1"), e.TakenBack(about="e3")], {"fastener:m2": -4}),
        ([line("received"), line("fitted"), e.TakenBack(about="e1")], {}),
    ],
)  # fmt: skip
def test_what_moves_in_stock(happenings: list[e.Happening], moved: dict[str, float]) -> None:
    assert stock(*happenings) == moved


def test_a_spare_without_a_code_is_what_it_contains() -> None:
    assert piece_codes(box(), "board_set") == ("code:PL-1",)
    assert piece_codes(box(), "no_such_part") == ()


def _random_job(seed: int) -> list[e.Happening]:
    rng = random.Random(seed)
    joints, parts = sorted(box().joints), ["fan", "fan_set", "board_set", "lid+fan"]
    return [
        rng.choice(
            (
                e.Opened(joint=rng.choice(joints)),
                e.Closed(joint=rng.choice(joints), new=rng.choice((None, 1, 2))),
                e.CountCorrected(joint=rng.choice(joints), count=rng.randrange(1, 6)),
                e.Exchanged(part=rng.choice(parts)),
                e.Renewed(supply=rng.choice(("pad", "compound")), amount=rng.randrange(1, 30) / 10),
                line(
                    rng.choice(("ordered", "received", "fitted", "dead_on_arrival")),
                    rng.randrange(1, 4),
                ),
                e.PowerOn(),
                e.PowerOff(),
                e.TakenBack(about=f"e{rng.randrange(1, 30)}"),
            )
        )
        for _ in range(30)
    ]


@given(st.integers(0, 2**32))
def test_event_by_event_comes_to_what_the_books_of_the_whole_job_say(seed: int) -> None:
    """Two ways to the same sums: one event with the state before it, and one pass over the whole job."""
    happenings = _random_job(seed)
    whole: dict[str, float] = {}
    for moves in moves_of_job(box(), in_force(events_of(*happenings))).values():
        for code, change in moves:
            whole[code] = rounded(whole.get(code, 0) + change)
    assert stock(*happenings) == {code: count for code, count in whole.items() if count}
    assert isinstance(RunFold().state, JobState)
