"""The judges are judged: against each other, against literal enumeration, against hand-made cases."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from hypothesis import given

from lastscrew.device.model import Access, Device, Joint, Part, Tool
from lastscrew.plan.model import Request
from tests.oracle import brute, cpsat
from tests.oracle.brute import solve
from tests.oracle.devices import SMALL, TINY, Case, case_from_seed, cases, draw_case
from tests.oracle.replay import milliseconds
from tests.oracle.rules import ask, closable_by, openable_by, reachable
from tests.oracle.sequences import best_value


def machine(
    joints: list[Joint], *, sides: tuple[str, ...] = ("bottom",), energy: tuple[str, ...] = ()
) -> Device:
    """A machine from its joints; parts are those that they name, ``base`` is fixed."""
    names = sorted({part for joint in joints for part in joint.joins} | {"base"})
    return Device(
        id="hand_made",
        name="Hand made",
        sides=sides,
        turn_ms=6_000,
        parts={n: Part(n, n, fixed=n == "base", energy=n in energy) for n in names},
        joints={joint.id: joint for joint in joints},
        tools={
            "driver": Tool("driver", "Driver", (), 4_000),
            "pick": Tool("pick", "Pick", (), 3_000),
        },
    )


def tie(
    name: str,
    joins: str,
    *accesses: Access,
    rigid: bool = True,
    after: tuple[str, ...] = (),
    powered: bool = False,
    isolates: bool = False,
) -> Joint:
    """A joint; every access takes 10 s to open and 20 s to close unless it says otherwise."""
    ways = tuple(
        replace(a, open_ms=a.open_ms or 10_000, close_ms=a.close_ms or 20_000)
        for a in accesses or (Access("bottom"),)
    )
    kind = "screw" if rigid else "plug"
    return Joint(
        name,
        kind,
        tuple(joins.split()),
        ways,
        rigid=rigid,
        after=after,
        powered=powered,
        isolates=isolates,
    )


def under(*parts: str, side: str = "bottom") -> Access:
    """An access by hand under some parts."""
    return Access(side, None, parts)


# --- hand-made cases: each follows from one sentence of the rule -----------------------------


def test_a_cover_that_is_tied_covers_and_one_that_is_laid_aside_does_not() -> None:
    question = ask(
        machine([tie("lid", "cover base"), tie("inner", "board base", under("cover"))]), Request()
    )
    assert not openable_by(question, "inner", set())
    assert openable_by(question, "inner", {"lid"})


def test_a_board_taken_out_with_its_module_on_it_has_left_its_cover_behind() -> None:
    device = machine([
        tie("board_screws", "board base", under("module")),
        tie("module_screws", "module board", under("lid")),
        tie("lid_screws", "lid base"),
    ])  # fmt: skip
    question = ask(device, Request())
    assert not openable_by(question, "board_screws", {"lid_screws"}), (
        "the module holds on the board"
    )
    assert openable_by(question, "module_screws", {"lid_screws"})
    assert openable_by(question, "module_screws", set()) == ()
    device = machine([
        tie("board_screws", "board base"),
        tie("module_screws", "module board", under("lid")),
        tie("lid_screws", "lid base"),
    ])  # fmt: skip
    assert openable_by(ask(device, Request()), "module_screws", {"board_screws"})


def test_a_ribbon_under_its_own_panel_is_reached_once_nothing_else_holds_the_panel() -> None:
    device = machine([
        tie("clips", "panel base"),
        tie("ribbon", "panel board", under("panel"), rigid=False),
        tie("board_screws", "board base"),
    ])  # fmt: skip
    question = ask(device, Request())
    assert not openable_by(question, "ribbon", set())
    assert openable_by(question, "ribbon", {"clips"})
    assert openable_by(question, "ribbon", {"board_screws"}), (
        "the board hangs on nothing of the panel"
    )


def test_a_flexible_joint_does_not_hold_a_cover() -> None:
    device = machine([
        tie("cable", "cover base", rigid=False),
        tie("inner", "board base", under("cover")),
    ])  # fmt: skip
    assert openable_by(ask(device, Request()), "inner", set())


def test_a_joint_of_three_parts_ties_all_three() -> None:
    device = machine([
        tie("plate", "cover bracket base"),
        tie("inner", "board base", under("cover")),
        tie("other", "board bracket"),
    ])  # fmt: skip
    question = ask(device, Request())
    assert not openable_by(question, "inner", {"other"})
    assert openable_by(question, "inner", {"plate"})


def test_a_live_joint_waits_for_every_isolating_one_and_an_isolating_one_for_none() -> None:
    device = machine(
        [
            tie("mains", "cord base", rigid=False, powered=True, isolates=True),
            tie("pack_plug", "pack base", rigid=False, powered=True, isolates=True),
            tie("ribbon", "screen base", rigid=False, powered=True),
            tie("pack_screws", "pack base"),
        ],
        energy=("pack",),
    )
    question = ask(device, Request())
    assert not openable_by(question, "ribbon", {"mains"})
    assert openable_by(question, "ribbon", {"mains", "pack_plug"})
    assert openable_by(question, "pack_plug", set())
    assert not openable_by(question, "pack_screws", {"pack_plug"}), (
        "a part with energy makes it live"
    )
    assert not closable_by(question, "ribbon", {"mains", "ribbon"})
    assert closable_by(question, "mains", {"mains", "ribbon"}), "its own closing is what is exempt"


def test_the_fixed_part_may_cover_and_a_missing_part_covers_nothing() -> None:
    device = machine([
        tie("inner", "board tray", under("base")),
        tie("slide", "tray base"),
        tie("deep", "card board", under("lid")),
        tie("lid_screws", "lid base"),
    ])  # fmt: skip
    question = ask(device, Request(not_fitted=("lid",)))
    assert not openable_by(question, "inner", set())
    assert openable_by(question, "inner", {"slide"})
    assert openable_by(question, "deep", set())
    assert "lid_screws" not in question.bonds


def test_cost_by_hand_of_turns_swaps_and_an_emptied_hand() -> None:
    """Way in: driver 4 + 10, by hand 10, turn 6 + driver 4 + 10 = 44 s.

    Way out: driver 4 + 20, turn 6 + 20 by hand, driver 4 + 20, no final turn = 74 s.
    """
    driver = Access("bottom", "driver", close_tool="driver")
    top = Access("top", "driver", close_tool="driver")
    device = machine(
        [
            tie("a", "one base", driver),
            tie("b", "two base", after=("a",)),
            tie("c", "three base", top, after=("b",)),
        ],
        sides=("bottom", "top"),
    )
    best = solve(ask(device, Request(reach=("c",))))
    assert best is not None
    assert best.value == 44_000 + 74_000


def test_the_last_turn_brings_the_first_side_up_again() -> None:
    """10 s opening, 20 s closing, both on top: one turn before, one after; without the first when it lies so."""
    device = machine([tie("a", "one base", Access("top"))], sides=("bottom", "top"))
    best = solve(ask(device, Request(reach=("a",))))
    assert best is not None
    assert best.value == 42_000
    best = solve(ask(device, Request(reach=("a",), side="top")))
    assert best is not None
    assert best.value == 36_000


def test_open_joints_cost_nothing_on_the_way_in_and_what_was_missed_is_opened_first() -> None:
    device = machine([tie("lid", "cover base"), tie("inner", "board base", under("cover"))])
    best = solve(ask(device, Request(opened=("lid", "inner"))))
    assert best is not None
    assert best.value == 40_000
    best = solve(ask(device, Request(opened=("inner",))))
    assert best is not None
    assert best.value == 10_000 + 40_000
    assert best.turning == {"lid", "inner"}


def test_a_piece_is_cut_from_the_rest_and_holds_together_inside() -> None:
    device = machine(
        [tie("a", "board base"), tie("b", "sink board"), tie("c", "sink base", rigid=False)]
    )
    assert ask(device, Request(replace=("board+sink",))).required == {"a", "c"}
    assert ask(device, Request(replace=("board", "sink"))).required == {"a", "b", "c"}


def test_what_is_impossible_is_said_to_be() -> None:
    device = machine([tie("lid", "cover base"), tie("inner", "board base", under("cover"))])
    assert solve(ask(device, Request(reach=("inner",), without=("lid",)))) is None
    assert cpsat.optimum(device, Request(reach=("inner",), without=("lid",))).status == "impossible"


# --- the judges against each other -------------------------------------------------------------


@pytest.mark.parametrize("seed", range(150))
def test_brute_force_agrees_with_trying_literally_every_order(seed: int) -> None:
    question = ask(*case_from_seed(seed, TINY))
    best = solve(question)
    assert best_value(question) == (best and (best.value, sorted(best.turning)))


@given(cases(SMALL))
def test_the_rule_by_masks_is_the_rule_by_names(case: Case) -> None:
    question = ask(*case)
    names = sorted(question.bonds)
    ways = brute._Ways(question, names)
    rng = Random(len(names))
    for _ in range(30):
        opened = {name for name in names if rng.random() < 0.5}
        for index, name in enumerate(names):
            if name not in opened:
                assert ways(index, brute._mask(names, frozenset(opened))) == openable_by(
                    question, name, opened
                )


@given(cases(SMALL))
def test_opening_more_never_makes_another_joint_harder_to_reach(case: Case) -> None:
    """The law of the model, and with it: the union of two reachable sets is reachable."""
    question = ask(*case)
    rng = Random(1)
    first, second = _some_reachable(rng, case), _some_reachable(rng, case)
    assert reachable(question, first | second, frozenset())
    for joint in set(question.bonds) - first - second:
        fewer = set(openable_by(question, joint, first))
        assert fewer <= set(openable_by(question, joint, first | second))


def _some_reachable(rng: Random, case: Case) -> frozenset[str]:
    question = ask(*case)
    opened: frozenset[str] = frozenset()
    for _ in range(rng.randint(0, len(question.bonds))):
        further = [
            j for j in question.bonds if j not in opened and openable_by(question, j, opened)
        ]
        if further:
            opened |= {rng.choice(sorted(further))}
    return opened


@pytest.mark.parametrize("seed", range(80))
def test_the_constraint_model_agrees_with_the_brute_force(seed: int) -> None:
    question = ask(*case_from_seed(seed))
    best = solve(question)
    verdict = cpsat.solve(question, cpsat.Effort(work=5.0))
    if best is None:
        assert verdict.status == "impossible"
    else:
        assert (verdict.status, verdict.value) == ("optimal", best.value)


def test_random_cases_show_every_feature_and_are_mostly_possible() -> None:
    drawn = [draw_case(Random(seed)) for seed in range(600)]
    possible = sum(solve(ask(*case)) is not None for case in drawn)
    assert 0.7 < possible / len(drawn) < 0.97
    features: dict[str, Callable[[Device, Request], bool]] = {
        "several accesses": lambda d, r: any(len(j.accesses) > 1 for j in d.joints.values()),
        "three parts": lambda d, r: any(len(j.joins) > 2 for j in d.joints.values()),
        "a step without a tool": lambda d, r: any(
            a.tool is None for j in d.joints.values() for a in j.accesses
        ),
        "two isolators": lambda d, r: sum(j.isolates for j in d.joints.values()) > 1,
        "three sides": lambda d, r: len(d.sides) == 3,
        "another tool for closing": lambda d, r: any(
            a.tool != a.close_tool for j in d.joints.values() for a in j.accesses
        ),
        "other times at another access": lambda d, r: any(
            len({a.open_ms for a in j.accesses}) > 1 for j in d.joints.values()
        ),
        "energy": lambda d, r: any(p.energy for p in d.parts.values()),
        "shutdown": lambda d, r: any(j.shutdown for j in d.joints.values()),
        "its own part over it": lambda d, r: any(
            set(a.under) & set(j.joins) for j in d.joints.values() for a in j.accesses
        ),
        "a start": lambda d, r: bool(r.opened),
        "a start that is not reachable": lambda d, r: (
            not reachable(ask(d, r), frozenset(r.opened), frozenset())
        ),
        "a start side": lambda d, r: r.side not in (None, d.sides[0]),
        "a piece": lambda d, r: any("+" in name for name in r.replace),
        "a spare": lambda d, r: any("kit" in name for name in r.replace),
        "a forbidden joint": lambda d, r: bool(r.without),
        "something not fitted": lambda d, r: bool(r.not_fitted),
        "something fitted": lambda d, r: bool(r.fitted),
        "a tied act": lambda d, r: any(a.joint for a in d.acts.values()),
        "an act at the end": lambda d, r: any(a.at == "end" for a in d.acts.values()),
        "an act when replaced": lambda d, r: any(a.when_replaced for a in d.acts.values()),
        "an act when opened": lambda d, r: any(a.when_opened for a in d.acts.values()),
        "damage": lambda d, r: any(j.damage for j in d.joints.values()),
        "risk": lambda d, r: r.objective == "risk",
        "steps": lambda d, r: r.objective == "steps",
    }
    for name, shows in features.items():
        assert sum(shows(*case) for case in drawn) >= 5, name


def test_printed_seconds_are_whole_milliseconds() -> None:
    assert milliseconds(1.234) == 1234
    with pytest.raises(ValueError, match="no whole number"):
        milliseconds(1.2345)


def test_no_judge_imports_what_it_judges() -> None:
    """Of the product only values may be used: the device, the request, the plan, the problems."""
    allowed = {"lastscrew.device.model", "lastscrew.plan.model", "lastscrew.problems"}
    for path in Path(__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            assert not [n for n in names if n.startswith("lastscrew") and n not in allowed], (
                path.name
            )
