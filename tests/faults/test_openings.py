"""What opening and closing between actions costs, held to a brute force over all orders by the judges' own rules.

The rules are those of the format, stated a second time in ``tests.oracle.rules``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from random import Random

import pytest

from benchmarks.generate_faults import Sizes, generate_faults
from lastscrew.device.diagnosis import Power
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.faults.changing import Changes
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.works import Work
from lastscrew.plan.compiled import Rules
from lastscrew.problems import InputError
from tests.faults.walking import (
    Open,
    is_powered,
    question_of,
    sets_that_can_be_open,
    walk_ms,
)
from tests.oracle.devices import Taste, draw_device
from tests.oracle.rules import Question

TASTE = Taste(joints=(3, 6), parts=(2, 5), extras=False)


def devices(
    name: str, count: int, *, isolators: int = 9
) -> Iterator[tuple[Random, Device, Question]]:
    """Random machines, the same every time."""
    for seed in range(count):
        rng = Random(f"{name}-{seed}")
        device = draw_device(rng, TASTE)
        question = question_of(device)
        if len(question.isolators) <= isolators:
            yield rng, device, question


def changes_of(device: Device) -> Changes:
    """The ways of the program, with the times of the device file."""
    costs = {
        joint.id: tuple((access.open_ms or 0, access.close_ms or 0) for access in joint.accesses)
        for joint in device.joints.values()
    }
    return Changes(device, Rules(device, costs))


@pytest.mark.parametrize("part", range(4))
def test_between_two_open_sets_the_least_way_is_found(part: int) -> None:
    """Opening of B without A, closing of A without B, fewest setups: as the brute force has it, powered sets too."""
    powered = 0
    for rng, device, question in devices(f"between-{part}", 80):
        changes = changes_of(device)
        mask = changes.rules.mask
        sets = sets_that_can_be_open(question)
        shut_over = [s - question.isolators for s in sets if question.isolators <= s]
        one = (
            len(question.isolators) == 1
        )  # with more, one may take the power away while another does not
        live = [s for s in shut_over if one and is_powered(question, s)]
        for _ in range(5):
            start, end = rng.choice(sets + 2 * live), rng.choice(sets + 2 * live)
            assert changes.between(mask(start), mask(end)).ms == walk_ms(question, start, end)
            powered += start in live or end in live
    assert powered > 20


def test_a_way_is_the_same_whatever_was_asked_before() -> None:
    """On a machine of fifty joints: ways among some open sets, asked of one that knows others and of new ones."""
    rng = Random("shared")
    device = generate_faults(Sizes(12, 12), 3)
    shared = changes_of(device)
    joints = len(device.joints)
    nearly_all = [
        ~(rng.getrandbits(joints) & rng.getrandbits(joints) & rng.getrandbits(joints))
        for _ in range(4)
    ]
    sets = [0, *(shared.largest_within(most & ((1 << joints) - 1)) for most in nearly_all)]
    ways = {pair: shared.between(*pair) for pair in product(sets, repeat=2)}
    assert max(len(way.steps) for way in ways.values()) > 20
    for pair in rng.sample(sorted(ways), 8):
        assert changes_of(device).between(*pair) == ways[pair]


@pytest.mark.parametrize("part", range(2))
def test_a_joint_that_is_reseated_is_opened_and_closed_on_the_way(part: int) -> None:
    """A joint, closed before and after, is undone and done up again in the cheapest order."""
    seen = 0
    for rng, device, question in devices(f"again-{part}", 60):
        changes = changes_of(device)
        mask = changes.rules.mask
        sets = sets_that_can_be_open(question)
        wider = rng.choice(sets)
        for joint in sorted(wider):
            end = wider - {joint}
            if end in sets:
                again = frozenset((joint,))
                found = changes.between(mask(frozenset()), mask(end), mask(again)).ms
                assert found == walk_ms(question, frozenset(), end, again)
                seen += 1
    assert seen > 30


def random_works(rng: Random, device: Device, question: Question) -> tuple[Work, ...]:
    """Checks that need joints open or closed, with power on or off; those that can't be had are left out."""
    works = []
    for number in range(5):
        needed = tuple(j for j in sorted(question.bonds) if rng.random() < 0.3)
        closed = tuple(j for j in sorted(question.bonds) if rng.random() < 0.15 and j not in needed)
        powers: tuple[Power | None, ...] = (None, "off", "on", "on")
        power = rng.choice(powers)
        named = tuple(j for j in sorted(question.bonds) if rng.random() < 0.5)
        work = Work(
            "check", f"w{number}", "Look", open=needed, closed=closed, power=power,
            may_be_open=named if power == "on" else (),
        )  # fmt: skip
        try:
            DeviceOpenings(device, (work,))
        except InputError:
            continue
        works.append(work)
    return tuple(works)


@pytest.mark.parametrize("part", range(2))
def test_no_walk_costs_less_than_the_floor(part: int) -> None:
    """A few actions one after the other, then all closed: never cheaper than the floor of any of them."""
    seen = 0
    for rng, device, question in devices(f"floor-{part}", 60):
        works = random_works(rng, device, question)
        if not works:
            continue
        openings = DeviceOpenings(device, works)
        for _ in range(8):
            start = openings.go(0, rng.randrange(len(works)))[1]
            walk = [rng.randrange(len(works)) for _ in range(3)]
            walked, state = 0.0, start
            for action in walk:
                cost, state = openings.go(state, action)
                walked += cost
            walked += openings.close(state)
            floor = openings.floor(start, sum(1 << action for action in set(walk)))
            assert floor <= walked + 1e-9
            assert openings.floor(start, 0) <= openings.close(start) + 1e-9
            seen += floor > 0
    assert seen > 100


@pytest.mark.parametrize("seed", ["floor-0-530", "floor-1-109"])
def test_two_things_that_isolate_one_under_the_other_stop_no_walk(seed: str) -> None:
    """Where one thing that isolates lies under what comes off after the other, there is still a way to every action."""
    rng = Random(seed)
    device = draw_device(rng, TASTE)
    works = random_works(rng, device, question_of(device))
    openings = DeviceOpenings(device, works)
    for first, second, third in product(range(len(works)), repeat=3):
        state = 0
        for action in (first, second, third):
            _, state = openings.go(state, action)
        assert openings.close(state) >= 0


def is_live(question: Question, joint: str) -> bool:
    """Live, and not itself what isolates."""
    return question.bonds[joint].live and not question.bonds[joint].isolates


def largest_within(sets: list[Open], joints: Open) -> Open:
    """The largest set that can be open within these joints."""
    return frozenset().union(*(s for s in sets if s <= joints))


@pytest.mark.parametrize("part", range(3))
def test_an_action_has_open_what_it_needs_and_keeps_what_may_stay(part: int) -> None:
    """From state to state of a walk: needs are met, nothing is closed without need, the time is the least.

    The set that an action opens is the cheapest of all that will do, but for two turns: a plan goes on from the side
    to which it has come, and may choose otherwise for that.
    """
    seen = {"on": 0, "off": 0, None: 0}
    for rng, device, question in devices(f"moves-{part}", 45, isolators=1):
        works = random_works(rng, device, question)
        if not works:
            continue
        openings = DeviceOpenings(device, works)
        openings.prepare()
        sets = sets_that_can_be_open(question)
        state: Open = frozenset()
        for _ in range(3):
            number = rng.randrange(len(works))
            work = works[number]
            move = openings.move(openings.state(state), number)
            during = frozenset(openings.joints(move.during))
            assert move.ms == walk_ms(question, state, during)
            assert frozenset(work.open) <= during
            assert not during & frozenset(work.closed)
            if work.power == "on":
                holds_with_power_on(question, work, during)
            else:
                holds_with_power_off(question, sets, work, state, during)
            seen[work.power] += 1
            state = frozenset(openings.joints(move.after))
    assert min(seen.values()) > 20


def holds_with_power_on(question: Question, work: Work, during: Open) -> None:
    """What isolates is closed if it is not named; what is live and open is named."""
    assert during & question.isolators <= frozenset(work.open)
    named = frozenset((*work.open, *work.may_be_open))
    assert all(joint in named for joint in during if is_live(question, joint))


def holds_with_power_off(
    question: Question, sets: list[Open], work: Work, state: Open, during: Open
) -> None:
    """What may stay open does, what isolates is open, and no other set would do for less."""
    needed = frozenset(work.open)
    if work.power == "off":
        needed |= question.isolators
    elif needed <= state and not frozenset(work.closed) & state:
        assert during == state
        return
    assert not is_powered(question, during)
    there = state | question.isolators if is_powered(question, state) else state
    kept = largest_within(sets, there - frozenset(work.closed))
    assert kept | needed <= during
    costs = [
        (walk_ms(question, state, s) or 0) + (walk_ms(question, s, frozenset()) or 0)
        for s in sets
        if kept | needed <= s and not s & frozenset(work.closed)
    ]
    own = (walk_ms(question, state, during) or 0) + (walk_ms(question, during, frozenset()) or 0)
    assert own <= min(costs) + 2 * question.turn_ms


LAMP = """
format: 1
device: {name: Lamp}
turn_s: 5
tools: {driver: {name: screwdriver, fits: [PH1], swap_s: 4}}
functions: {lights: {name: Lights, check: Switch it on., check_s: 20}}
parts:
  base: {name: Base, fixed: true}
  lid: {name: Lid}
  cell: {name: Cell, energy: true}
  board: {name: Board}
joints:
  lid_screws: {kind: screw, joins: [lid, base], count: 4, tool: driver, open_s: 20, close_s: 30}
  cell_plug: {kind: plug, joins: [cell, board], under: [lid], isolates: true, open_s: 3, close_s: 4}
  board_ribbon: {kind: ribbon, joins: [board, base], under: [lid], open_s: 6, close_s: 9}
  cell_seat: {kind: seat, joins: [cell, base], under: [lid], open_s: 1, close_s: 1}
  board_seat: {kind: seat, joins: [board, base], under: [lid], open_s: 1, close_s: 1}
"""


def lamp_move(work: Work, *opened: str) -> tuple[float, float, tuple[str, ...], tuple[str, ...]]:
    """Cost to get to a check, cost of closing after it, joints open while it is done and after it."""
    openings = DeviceOpenings(load_device(LAMP), (work,))
    start = openings.state(opened)
    cost, after = openings.go(start, 0)
    during = openings.move(start, 0).during
    return cost, openings.close(after), openings.joints(during), openings.joints(after)


LOOK = Work("check", "look", "Look", open=("board_ribbon",), power="off")


def test_a_worked_example_with_power_off() -> None:
    """Our own arithmetic: driver 4 + screws 20 + plug 3 + ribbon 6; back 9 + 4 + driver 4 + 30."""
    opened = ("board_ribbon", "cell_plug", "lid_screws")
    assert lamp_move(LOOK) == (33.0, 47.0, opened, opened)


def test_a_worked_example_from_an_open_machine() -> None:
    """With the lid off already only plug and ribbon are opened: 3 + 6."""
    assert lamp_move(LOOK, "lid_screws")[:2] == (9.0, 47.0)


def test_a_worked_example_with_power_on_and_a_live_joint_open() -> None:
    """Unplug the suspect, power up, try: 4 + 20 + 3 + 6, and the cell's plug closed again, 4; then isolate first, 3."""
    work = replace(LOOK, power="on")
    cost, back, during, _ = lamp_move(work)
    assert (cost, during) == (37.0, ("board_ribbon", "lid_screws"))
    assert back == 3 + 9 + 4 + 4 + 30


def test_a_worked_example_with_the_cell_unplugged_and_power_on() -> None:
    """A check on mains power with the cell unplugged keeps its plug open while it is done."""
    work = Work("check", "mains", "On mains", open=("cell_plug",), power="on")
    cost, back, during, _ = lamp_move(work)
    assert (cost, back, during) == (27.0, 38.0, ("cell_plug", "lid_screws"))


def test_a_worked_example_of_a_swap_on_the_cable() -> None:
    """A known-good one is plugged in: ribbon off the suspect, on the good one, power; after it off again.

    To it 4 + 20 + 3 + 6, the good one 9, power 4; after the trial isolate 3 and pull it off again 6.
    """
    work = Work("swap", "swap", "Swap", open=("board_ribbon",), power="on", hung=("board_ribbon",))
    cost, _, during, after = lamp_move(work)
    assert cost == (4 + 20 + 3 + 6) + (9 + 4) + (3 + 6)
    assert during == ("lid_screws",)
    assert after == ("board_ribbon", "cell_plug", "lid_screws")


def test_a_worked_example_that_closes_what_it_must() -> None:
    """A check that must have the lid on closes it, with everything under it."""
    work = Work("check", "shut", "Shut", closed=("lid_screws",))
    cost, back, during, _ = lamp_move(work, "lid_screws", "cell_plug", "board_ribbon")
    assert (cost, back, during) == (47.0, 0.0, ())


KETTLE = """
format: 1
device: {name: Kettle}
parts:
  base: {name: Base, fixed: true}
  cord: {name: Cord, energy: true}
  hatch: {name: Hatch}
  lid: {name: Lid}
  cap: {name: Cap}
joints:
  mains_plug: {kind: plug, joins: [cord, base], isolates: true, open_s: 3, close_s: 4}
  hatch_clip: {kind: clip, joins: [hatch, base], powered: true, open_s: 2, close_s: 2}
  lid_screws: {kind: screw, joins: [lid, base], count: 4, open_s: 20, close_s: 30}
  cap_clip:
    kind: clip
    joins: [cap, base]
    access: [{under: [hatch], open_s: 1, close_s: 1}, {under: [lid], open_s: 1, close_s: 1}]
"""


@pytest.mark.parametrize(
    ("named", "to_it", "after_it", "opened"),
    [
        ((), 20 + 1, 30 + 1, ("cap_clip", "lid_screws")),
        (("hatch_clip",), 3 + 2 + 1 + 4, 3 + 1 + 2 + 4, ("cap_clip", "hatch_clip")),
    ],
)
def test_with_power_on_the_way_leads_round_a_live_joint_that_is_not_named(
    named: tuple[str, ...], to_it: int, after_it: int, opened: tuple[str, ...]
) -> None:
    """The live hatch is nearer, but nobody has said that it may lie open: through the lid. Our own arithmetic."""
    work = Work("check", "see", "See", open=("cap_clip",), power="on", may_be_open=named)
    openings = DeviceOpenings(load_device(KETTLE), (work,))
    cost, state = openings.go(0, 0)
    assert (cost, openings.close(state)) == (to_it, after_it)
    assert openings.joints(state) == opened
