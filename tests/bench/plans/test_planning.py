"""Plans for a page: asked by its address, kept on a shelf, with variants and what lies in stock beside them."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from urllib.parse import parse_qs

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.bench.workshop.asking import (
    address_of,
    asks_nothing,
    parts_asked,
    request_from,
    toggled,
)
from lastscrew.bench.workshop.planning import (
    Planner,
    codes_of,
    comes_out,
    expected_damage,
    hazards_of,
    measured_here,
    tray_of,
    variants_of,
    with_stock,
)
from lastscrew.device.model import SIGNALS, Device
from lastscrew.device.reading import load_device
from lastscrew.plan.materials import OrderLine
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def device() -> Device:
    """The notebook."""
    file = ROOT / "src/lastscrew/demo/notebook.device.yaml"
    return load_device(file.read_bytes(), file.name)


words = st.from_regex(r"[a-z][a-z0-9_]{0,8}(\+[a-z]{1,4})?", fullmatch=True)
several = st.lists(words, max_size=4, unique=True).map(tuple)


@given(
    st.builds(
        Request,
        replace=several,
        reach=several,
        opened=several,
        without=several,
        fitted=several,
        not_fitted=several,
        side=st.none() | words,
        objective=st.sampled_from(["time", "risk", "steps"]),
    )
)
def test_an_address_says_a_request_and_is_read_back(request_: Request) -> None:
    """Whatever is asked: the page can be kept, sent and gone back to."""
    assert request_from(parse_qs(address_of(request_))) == request_


def test_an_address_of_someone_else_is_bounded_and_asks_at_most_what_it_names() -> None:
    """Ten thousand values, endless ones, an objective that is none, blanks."""
    read = request_from({"replace": [str(n) for n in range(10_000)], "reach": ["x" * 10_000, " ", ""],
                         "objective": ["luck"], "other": ["a"]})  # fmt: skip
    assert len(read.replace) == 60
    assert [len(name) for name in read.reach] == [400]
    assert read.objective == "time"
    assert asks_nothing(request_from({}))


def test_choosing_a_part_again_drops_it(device: Device) -> None:
    """On the drawing, once and once more; the parts of a spare are marked with it."""
    asked = toggled(Request(replace=("fan",)), "pack")
    assert asked.replace == ("fan", "pack")
    assert toggled(asked, "fan").replace == ("pack",)
    spare = next(spare for spare in device.spares.values() if len(spare.contains) > 1)
    assert parts_asked(device, Request(replace=(spare.id, "fan+sink", "nothing"))) >= {
        *spare.contains, "fan", "sink",
    }  # fmt: skip


def test_a_plan_is_searched_once_and_another_revision_is_searched_again(device: Device) -> None:
    """The very same value from the shelf; the shelf is no longer than it may be."""
    planner = Planner(most=2)
    first = planner.plan(device, Request(replace=("fan",)))
    assert planner.plan(device, Request(replace=("fan",))) is first
    assert first.plan == plan(device, Request(replace=("fan",)))
    other = replace(device, revision_hash="other")
    assert planner.plan(other, Request(replace=("fan",))) is not first
    planner.plan(device, Request(replace=("pack",)))
    assert planner.plan(device, Request(replace=("fan",))) is not first


def test_a_search_without_time_says_so_and_keeps_nothing(device: Device) -> None:
    """Stopped at once: a plan that is not proven, or none and a message; the next search is whole."""
    planner = Planner()
    with suppress(InputError):
        assert not planner.plan(device, Request(replace=("board",)), limit_s=0.0).plan.proven
    assert planner.plan(device, Request(replace=("board",))).plan.proven


def test_variants_are_plans_of_their_own_and_the_same_way_is_told_once(device: Device) -> None:
    """Each is what the planner says to its request; a name for each objective stands somewhere."""
    planner = Planner()
    for part in ("board", "fan", "panel", "keys"):
        if part not in device.parts:
            continue
        request = Request(replace=(part,))
        asked = planner.plan(device, request)
        found = variants_of(planner, device, request, asked)
        assert found[0].is_asked
        assert sum(v.is_asked for v in found) == 1
        told = ", ".join(variant.name for variant in found)
        assert all(
            name in told for name in ("least time", "least time and damage", "fewest joints")
        )
        plans = [(v.request.replace, v.planned.plan) for v in found]
        ways = [(pieces, p.open_at_turning, p.total_ms) for pieces, p in plans]
        assert len(ways) == len(set(ways))
        for variant in found:
            assert variant.planned.plan.request == variant.request
            assert variant.planned.plan.total_ms == plan(device, variant.request).total_ms


def test_a_spare_that_holds_the_part_is_a_variant(device: Device) -> None:
    """With the spare, and from the spare back to its parts where they are few."""
    planner = Planner()
    spare = next(spare for spare in device.spares.values() if len(spare.contains) > 1)
    part = spare.contains[0]
    request = Request(replace=(part,))
    names = [
        v.request.replace
        for v in variants_of(planner, device, request, planner.plan(device, request))
    ]
    assert (spare.id,) in names


TWO_WAYS = """format: 1
device: {name: Two ways}
sides: [bottom, top]
tools: {pick: {}, driver: {fits: [PH1]}}
parts:
  case: {fixed: true}
  lid: {price: 40}
  hood: {}
  fan: {}
joints:
  lid_clips: {kind: clip, joins: [lid, case], count: 6, tool: pick, open_s: 20, close_s: 20, damage: {lid: 0.1}}
  hood_screws: {kind: screw, joins: [hood, case], count: 8, side: top, tool: driver, open_s: 60, close_s: 60}
  fan_seat:
    kind: seat
    joins: [fan, case]
    access: [{side: bottom, under: [lid]}, {side: top, under: [hood]}]
"""


def test_the_joint_with_the_most_damage_to_expect_is_offered_to_be_left_alone() -> None:
    """Damage is chance times price; where there is a way around the joint, it stands beside the quick one."""
    device = load_device(TWO_WAYS)
    planner = Planner()
    request = Request(replace=("fan",))
    asked = planner.plan(device, request)
    assert asked.plan.open_at_turning == {"lid_clips", "fan_seat"}
    assert expected_damage(asked) == pytest.approx(4.0)
    found = variants_of(planner, device, request, asked)
    around = next(v for v in found if "without Lid clips" in v.name)
    assert around.name == "least time and damage, without Lid clips"
    assert around.planned.plan.open_at_turning == {"hood_screws", "fan_seat"}
    assert around.damage == 0
    shut = Request(replace=("fan",), without=("lid_clips",))
    back = variants_of(planner, device, shut, planner.plan(device, shut))
    assert "every joint allowed" in [v.name for v in back]


def test_a_way_that_is_none_is_not_offered(device: Device) -> None:
    """In the notebook nothing leads around the cover: no variant says so."""
    planner = Planner()
    request = Request(replace=("fan",))
    asked = planner.plan(device, request)
    assert expected_damage(asked) > 0
    assert not [v for v in variants_of(planner, device, request, asked) if v.request.without]


def line(kind: str, key: str, amount: float, code: str | None = None) -> OrderLine:
    """A line of an order."""
    return OrderLine(key, kind, key, amount, "piece", code, None)  # type: ignore[arg-type]


def test_stock_is_looked_up_by_order_code_then_by_kind_and_what_is_unknown_is_short() -> None:
    """A screw by its code or as a kind; a part without a code is nowhere."""
    screw = line("fastener", "m2x5", 4, "AL-1")
    assert codes_of(screw) == ("code:AL-1", "fastener:m2x5")
    assert codes_of(line("part", "fan", 1)) == ()
    stock = {
        "fastener:m2x5": (3.0, "drawer 2"),
        "supply:compound": (5.0, ""),
        "code:F-1": (1.0, "shelf"),
    }
    found = with_stock(
        [
            screw,
            line("supply", "compound", 0.3),
            line("part", "fan", 1, "F-1"),
            line("part", "lid", 1),
        ],
        stock,
    )
    assert [(have.at_hand, have.is_short, have.place) for have in found] == [
        (3.0, True, "drawer 2"), (5.0, False, ""), (1.0, False, "shelf"), (None, True, ""),
    ]  # fmt: skip


def test_hazards_are_told_once_each_most_severe_first(device: Device) -> None:
    """Of a job that meets several."""
    asked = Planner().plan(device, Request(replace=("board",)))
    hazards = hazards_of(asked.briefing)
    ranks = [SIGNALS.index(hazard.signal) for hazard in hazards]
    assert hazards
    assert ranks == sorted(ranks)
    assert len({hazard.id for hazard in hazards}) == len(hazards)


def test_measured_times_count_only_where_every_step_has_been_measured(device: Device) -> None:
    """The sum of medians, or how many are missing."""
    found = Planner().plan(device, Request(replace=("fan",))).plan
    steps = [(step.limb, step.joint) for step in (*found.way_in, *found.way_out)]
    times: dict[tuple[str, str], list[int]] = {step: [10_000, 30_000, 90_000] for step in steps}
    whole = measured_here(found, times)
    assert (whole.steps, whole.total_ms, whole.least) == (len(steps), 30_000 * len(steps), 3)
    times.pop(steps[0])
    partly = measured_here(found, times)
    assert (partly.steps, partly.of, partly.total_ms) == (len(steps) - 1, len(steps), None)


def test_the_tray_is_as_large_as_it_has_to_be(device: Device) -> None:
    """Every group has a compartment; nothing comes out, no tray."""
    planner = Planner()
    tray = tray_of(planner.plan(device, Request(replace=("board",))).briefing)
    assert tray is not None
    assert tray.trays == 1
    assert len(tray.groups) <= tray.rows * tray.columns < 2 * len(tray.groups) + tray.rows
    bare = replace(
        device, joints={k: replace(joint, captive=True) for k, joint in device.joints.items()}
    )
    for part in ("board", "fan", "rear_foot", "clock_cell"):
        briefing = planner.plan(device, Request(replace=(part,))).briefing
        assert comes_out(briefing) == (tray_of(briefing) is not None)
    assert tray_of(Planner().plan(bare, Request(replace=("board",))).briefing) is None
