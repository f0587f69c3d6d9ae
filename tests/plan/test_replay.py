"""Every plan is walked step by step by an independent replay: values, printed JSON, large machines, demos.

A replay that finds nothing wrong proves something only if it finds what is wrong: plans are spoilt
one way after the other and each is told.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

import pytest
from click.testing import CliRunner

from benchmarks.generate import generate, requests
from lastscrew.cli.main import main
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device, read_device
from lastscrew.device.writing import write_device
from lastscrew.plan.model import Plan, Request, Step, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.times.work import work_times
from tests.oracle.brute import solve
from tests.oracle.devices import MIDDLE, Case, case_from_seed
from tests.oracle.replay import milliseconds, violations, violations_of_json
from tests.oracle.rules import Times, ask

DEMOS = sorted((Path(__file__).parents[2] / "src" / "lastscrew" / "demo").glob("*.device.yaml"))


def times_of(device: Device) -> Times:
    """What the time tables say, in the shape that the judges take it."""
    return {
        (joint, index): (times.open_ms, times.close_ms)
        for joint, of_access in work_times(device).items()
        for index, times in enumerate(of_access)
    }


# --- plans as values --------------------------------------------------------------------------


@pytest.mark.parametrize("modules", [18, 30, 60])
@pytest.mark.parametrize("varied", [False, True])
def test_plans_of_large_machines_are_sound(modules: int, varied: bool) -> None:
    for seed in range(4):
        device = generate(modules, seed, varied=varied)
        for name, request in requests(device).items():
            found = plan(device, request, StopRule(work=3_000))
            assert violations(device, request, found) == [], (seed, name)


def test_plans_that_begin_anywhere_are_sound_on_large_machines() -> None:
    """A job that is half done, lying on its other side, with a joint that may not be opened."""
    for seed in range(12):
        device = generate(18, seed, varied=True)
        begun = plan(device, requests(device)["board"], StopRule(work=3_000))
        half = tuple(step.joint for step in begun.way_in[: len(begun.way_in) // 2])
        for name, request in requests(device).items():
            later = replace(request, opened=half, side="top", without=(f"m{1 + seed}_screws",))
            try:
                found = plan(device, later, StopRule(work=3_000))
            except InputError:
                continue
            assert violations(device, later, found) == [], (seed, name)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.name.split(".")[0])
def test_every_part_of_the_demos_has_a_sound_plan(path: Path) -> None:
    device = load_device(path.read_bytes(), path.name)
    times = times_of(device)
    for part in sorted(device.parts):
        request = Request(replace=(part,))
        try:
            found = plan(device, request, StopRule(work=20_000))
        except InputError:
            assert device.parts[part].if_fitted is not None, part
            continue
        assert violations(device, request, found, times) == [], part


# --- plans as printed --------------------------------------------------------------------------


def printed(tmp_path: Path, device: Device, request: Request) -> tuple[int, Any]:
    """Exit code and JSON of the command for a device file with this content."""
    path = tmp_path / "machine.device.yaml"
    path.write_text(write_device(device), encoding="utf-8")
    options = [
        *(word for piece in request.replace for word in ("--replace", piece)),
        *(word for joint in request.reach for word in ("--reach", joint)),
        *(word for joint in request.opened for word in ("--open", joint)),
        *(word for name in request.not_fitted for word in ("--not-fitted", name)),
        *(word for name in request.fitted for word in ("--fitted", name)),
        *(word for joint in request.without for word in ("--without", joint)),
        *(() if request.side is None else ("--side", request.side)),
        *("--objective", request.objective, "--rate", str(request.rate_per_h), "--json"),
    ]
    done = CliRunner().invoke(main, ["plan", str(path), *options], catch_exceptions=False)
    return done.exit_code, json.loads(done.stdout)


@pytest.mark.parametrize("chunk", range(4))
def test_what_the_command_prints_can_be_replayed_and_is_the_optimum(
    chunk: int, tmp_path: Path
) -> None:
    """From a written file through reading, planning and printing, against the brute force."""
    replayed = 0
    for seed in range(chunk * 30, chunk * 30 + 30):
        device, request = case_from_seed(seed)
        if not read_device(write_device(device)).device:
            continue  # a file that is in error, such as a joint that nobody can ever reach
        code, answer = printed(tmp_path, device, request)
        best = solve(ask(device, request))
        if best is None:
            assert code == 2, seed
            assert answer["errors"], seed
            assert all(
                {"file", "line", "column", "path", "message", "remedy"} <= set(e)
                for e in answer["errors"]
            ), seed
            continue
        assert code == 0, (seed, answer)
        assert violations_of_json(device, request, answer) == [], seed
        assert milliseconds(answer["total_s"]) == best.total_ms, seed
        assert answer["proven"] is True, seed
        assert {step["joint"] for step in answer["way_out"]} == best.turning, seed
        replayed += 1
    assert replayed > 15


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.name.split(".")[0])
def test_what_the_command_prints_for_the_demos_can_be_replayed(path: Path) -> None:
    device = load_device(path.read_bytes(), path.name)
    for part in sorted(p.id for p in device.parts.values() if p.order_code)[:6]:
        done = CliRunner().invoke(main, ["plan", str(path), "--replace", part, "--json"])
        if done.exit_code == 0:
            answer = json.loads(done.stdout)
            request = Request(replace=(part,))
            assert violations_of_json(device, request, answer, times_of(device)) == [], part


# --- spoilt plans: the replay finds each -------------------------------------------------------


class Spoil(Protocol):
    """Changes one thing in a plan; None where the plan has no such thing."""

    def __call__(self, found: Plan) -> Plan | None: ...


def _step(limb: str, change: Callable[[Step], Step | None]) -> Spoil:
    def spoil(found: Plan) -> Plan | None:
        steps = found.way_in if limb == "in" else found.way_out
        for index, step in enumerate(steps):
            changed = change(step)
            if changed is not None:
                after = (*steps[:index], changed, *steps[index + 1 :])
                return _with(found, limb, after)
        return None

    return spoil


def _with(found: Plan, limb: str, steps: tuple[Step, ...]) -> Plan:
    return replace(found, way_in=steps) if limb == "in" else replace(found, way_out=steps)


def _dropped(limb: str) -> Spoil:
    def spoil(found: Plan) -> Plan | None:
        steps = found.way_in if limb == "in" else found.way_out
        return _with(found, limb, steps[:-1]) if steps else None

    return spoil


def _doubled(found: Plan) -> Plan | None:
    return replace(found, way_in=(*found.way_in, *found.way_in[-1:])) if found.way_in else None


def _turned_round(limb: str) -> Spoil:
    """Last opening first: sums and setups made again, so that only the order is wrong."""

    def spoil(found: Plan) -> Plan | None:
        steps = found.way_in if limb == "in" else found.way_out
        return _with(found, limb, steps[::-1]) if len(steps) > 1 else None

    return spoil


SPOILS: Mapping[str, Spoil] = {
    "an opening is left out": _dropped("in"),
    "a closing is left out": _dropped("out"),
    "a joint is opened twice": _doubled,
    "openings in the wrong order": _turned_round("in"),
    "closings in the wrong order": _turned_round("out"),
    "work too short": _step("in", lambda s: replace(s, work_ms=s.work_ms - 1)),
    "work too long on the way out": _step("out", lambda s: replace(s, work_ms=s.work_ms + 1)),
    "a turn that was forgotten": _step("in", lambda s: replace(s, turn_ms=0) if s.turn_ms else None),
    "a swap that was forgotten": _step("out", lambda s: replace(s, swap_ms=0) if s.swap_ms else None),
    "a swap that is none": _step("in", lambda s: None if s.swap_ms else replace(s, swap_ms=1)),
    "another tool": _step("in", lambda s: replace(s, tool="hammer")),
    "another side": _step("in", lambda s: replace(s, side="nowhere")),
    "another access": _step("in", lambda s: replace(s, access=s.access + 7)),
    "an act that is not done": _step("in", lambda s: replace(s, act_ids=(*s.act_ids, "act9"))),
    "an act that takes longer": _step("out", lambda s: replace(s, act_ms=s.act_ms + 5)),
    "the wrong limb": _step("in", lambda s: replace(s, limb="out")),
    "the final turn": lambda f: replace(f, final_turn_ms=f.final_turn_ms + 1),
    "the sum of the way in": lambda f: replace(f, way_in_ms=f.way_in_ms + 1),
    "the sum of the way out": lambda f: replace(f, way_out_ms=f.way_out_ms - 1),
    "the total": lambda f: replace(f, total_ms=f.total_ms - 1),
    "the objective": lambda f: replace(f, objective_value=f.objective_value - 1),
    "a bound above the value": lambda f: replace(f, lower_bound=f.objective_value + 1),
    "proven with a bound below": lambda f: replace(f, lower_bound=f.objective_value - 1),
    "not proven with a bound that is met": lambda f: replace(f, proven=False),
    "the start side": lambda f: replace(f, start_side="nowhere"),
    "an act at the end": lambda f: replace(f, end_acts=(*f.end_acts, "act9")),
    "an act at the start": lambda f: replace(f, start_acts=(*f.start_acts, "act9")),
    "said to be missing": lambda f: replace(f, missing_first=("j99",)),
}  # fmt: skip


@dataclass(frozen=True)
class Sound:
    """A case with a plan that the replay finds nothing wrong with."""

    case: Case
    plan: Plan


@pytest.fixture(scope="module")
def sound() -> list[Sound]:
    made = []
    for seed in range(60):
        case = case_from_seed(seed)
        try:
            found = plan(*case)
        except InputError:
            continue
        assert violations(*case, found) == []
        made.append(Sound(case, found))
    return made


@pytest.mark.parametrize("name", SPOILS)
def test_the_replay_finds_a_plan_that_was_spoilt(name: str, sound: list[Sound]) -> None:
    spoilt = 0
    for one in sound:
        worse = SPOILS[name](one.plan)
        if worse is None or worse == one.plan:
            continue
        spoilt += 1
        found = violations(*one.case, worse)
        if "order" not in name:  # turned round, a plan may by chance be another sound one
            assert found, one
    assert spoilt > 3
    if "order" in name:
        orders = [SPOILS[name](one.plan) for one in sound]
        told = [
            any("not allowed" in v for v in violations(*one.case, worse))
            for one, worse in zip(sound, orders, strict=True)
            if worse is not None
        ]
        assert sum(told) > len(told) / 3


def test_the_replay_of_what_is_printed_finds_it_spoilt(tmp_path: Path) -> None:
    device = generate(3, 0)
    request = requests(device)["board"]
    code, answer = printed(tmp_path, device, request)
    assert code == 0
    assert violations_of_json(device, request, answer) == []
    for key in ("total_s", "way_in_s", "way_out_s", "final_turn_s", "lower_bound_s"):
        assert violations_of_json(device, request, {**answer, key: answer[key] + 0.001}), key
    for limb in ("way_in", "way_out"):
        for key in ("setup_s", "work_s"):
            steps = [{**answer[limb][0], key: answer[limb][0][key] + 0.001}, *answer[limb][1:]]
            assert violations_of_json(device, request, {**answer, limb: steps}), key
        assert violations_of_json(device, request, {**answer, limb: answer[limb][1:]}), limb
    assert violations_of_json(device, request, {**answer, "proven": False})
    silent = [{**answer["way_in"][0], "why": ""}, *answer["way_in"][1:]]
    assert violations_of_json(device, request, {**answer, "way_in": silent})


def test_a_plan_that_opens_what_it_may_not_is_found_out(sound: list[Sound]) -> None:
    for one in sound:
        device, request = one.case
        if one.plan.way_in:
            barred = replace(request, without=(one.plan.way_in[0].joint,))
            assert any("forbidden" in v for v in violations(device, barred, one.plan))


def test_a_plan_that_leaves_out_a_target_is_found_out() -> None:
    """Planned for less, judged for more."""
    found_out = 0
    for seed in range(40):
        device, request = case_from_seed(seed, MIDDLE)
        try:
            found = plan(device, request)
        except InputError:
            continue
        question = ask(device, request)
        for joint in sorted(set(question.bonds) - found.open_at_turning)[:1]:
            more = replace(request, reach=(*request.reach, joint))
            assert any(
                "not open at the turning point" in v for v in violations(device, more, found)
            )
            found_out += 1
    assert found_out > 10
