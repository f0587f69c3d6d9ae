"""Why each step is there: chains that end at what was asked for, and needs that the plain rule confirms."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.device.opening import accesses_that_allow
from lastscrew.plan.explaining import chain_as_json, opening_text, why_texts
from lastscrew.plan.model import Plan, Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.plan.reasons import reasons_of
from lastscrew.problems import InputError
from tests.oracle.devices import MIDDLE, SMALL, case_from_seed
from tests.plan_support.greedy import plan_naively
from tests.plan_support.machines import box, ladder, machine

SEEDS = st.integers(0, 100_000)


def _planned(seed: int, *, naively: bool, middle: bool = False) -> tuple[Device, Plan]:
    """A random machine as its unit has it, and a plan for it."""
    device, request = case_from_seed(seed, MIDDLE if middle else SMALL)
    try:
        found = plan_naively(device, request) if naively else plan(device, request)
    except InputError:
        assume(False)
        raise
    return fit(device, request.not_fitted, request.fitted), found


@given(SEEDS, st.booleans(), st.booleans())
def test_every_chain_ends_at_what_was_asked_for_or_was_open(
    seed: int, naively: bool, middle: bool
) -> None:
    """Link leads to link, no joint comes twice, the last one is a target or was open at the start."""
    device, found = _planned(seed, naively=naively, middle=middle)
    reasons = reasons_of(device, found)
    assert set(reasons.opening) == found.open_at_turning
    start = found.open_at_turning - {step.joint for step in found.way_in}
    for joint, chain in reasons.opening.items():
        assert chain[0].joint == joint
        assert len({link.joint for link in chain}) == len(chain)
        for link, following in pairwise(chain):
            assert link.leads_to == following.joint
            assert link.kind in ("after", "isolation", "cover")
        last = chain[-1]
        assert last.leads_to is None
        if last.kind == "open":
            assert last.joint in start
        elif last.kind == "reach":
            assert last.joint in found.request.reach
        elif last.kind == "piece":
            parts = dict(zip(found.request.replace, found.pieces, strict=True))[last.piece or ""]
            joins = device.joints[last.joint].joins
            assert last.held in parts
            assert last.held_to in joins
            assert last.held_to not in parts
        else:
            assert last.kind == "unneeded"
            assert naively


@given(SEEDS, st.booleans())
def test_a_proven_plan_opens_nothing_that_nobody_needs(seed: int, middle: bool) -> None:
    """What the optimum opens is what the chains reach."""
    device, found = _planned(seed, naively=False, middle=middle)
    assert found.proven
    assert reasons_of(device, found).unneeded == ()


@given(SEEDS, st.booleans(), st.booleans())
def test_needs_are_enough_and_none_can_be_left_out(seed: int, naively: bool, middle: bool) -> None:
    """By the plain rule: with just its needs open a joint opens by the plan's access, with one fewer not."""
    device, found = _planned(seed, naively=naively, middle=middle)
    reasons = reasons_of(device, found)
    for step in found.way_in:
        needs = set(reasons.needs[step.joint])
        assert step.access in accesses_that_allow(device, needs, step.joint)
        for left_out in needs:
            assert step.access not in accesses_that_allow(device, needs - {left_out}, step.joint)


@given(SEEDS, st.booleans())
def test_the_place_of_a_closing_is_what_the_plain_rule_says(seed: int, naively: bool) -> None:
    """A joint that must go back before another can't be closed by its access once that one is closed."""
    device, found = _planned(seed, naively=naively)
    reasons = reasons_of(device, found)
    opened = set(found.open_at_turning)
    position = {step.joint: number for number, step in enumerate(found.way_out)}
    for step in found.way_out:
        opened.discard(step.joint)
        place = reasons.closing[step.joint]
        if place.before is not None:
            assert position[place.before.joint] > position[step.joint]
            assert place.before.leads_to == step.joint
        if place.after is not None:
            assert place.after.joint == step.joint
            assert position[place.after.leads_to or ""] < position[step.joint]


@given(SEEDS)
def test_reasons_do_not_depend_on_the_order_of_the_file(seed: int) -> None:
    """Joints and parts in another order give the same chains, word for word."""
    device, found = _planned(seed, naively=True)
    rng = Random(seed)
    joints, parts = list(device.joints.items()), list(device.parts.items())
    rng.shuffle(joints)
    rng.shuffle(parts)
    shuffled = replace(device, joints=dict(joints), parts=dict(parts))
    one, other = reasons_of(device, found), reasons_of(shuffled, found)
    assert one == other
    assert why_texts(device, found, one) == why_texts(shuffled, found, other)


def test_the_chain_of_the_cover_runs_over_the_power_to_the_ribbon() -> None:
    """The sentence that a technician reads for the cover of a keyboard exchange."""
    device = box()
    found = plan(device, Request(replace=("keys",)))
    reasons = reasons_of(device, found)
    assert opening_text(device, found, reasons.opening["cover_clips"]) == (
        "because *Cover clips* tie *Bottom cover* to *Chassis*, "
        "and *Bottom cover* lies over *Pack plug*, "
        "and *Pack plug* takes the power away before *Keys ribbon*, "
        "and *Keys ribbon* connects *Keyboard* to *Main board*, "
        "and *Keyboard* is to be exchanged"
    )
    assert chain_as_json(reasons.opening["pack_plug"]) == [
        {"joint": "pack_plug", "kind": "isolation", "leads_to": "keys_ribbon", "limb": "in"},
        {
            "joint": "keys_ribbon",
            "kind": "piece",
            "piece": "keys",
            "held": "keys",
            "held_to": "board",
        },
    ]


def test_a_cover_that_hangs_on_another_part_is_said_to_be_tied_with_it() -> None:
    """The tray is loosened with the lid on it: the screws still tie the tray, with the lid over the motor."""
    device = ladder()
    found = plan(device, Request(replace=("motor",), without=("lid_screws",)))
    reasons = reasons_of(device, found)
    assert opening_text(device, found, reasons.opening["tray_screws"]) == (
        "because *Tray screws* still tie *Tray* to *Frame*, with *Lid* over *Motor screws*, "
        "and *Motor screws* tie *Motor* to *Frame*, and *Motor* is to be exchanged"
    )


def test_the_chosen_way_is_named_where_there_are_several() -> None:
    """With the keyboard's own clips forbidden, the ribbon is reached from the bottom, under the pack."""
    device = box()
    found = plan(device, Request(reach=("keys_ribbon",), without=("keys_clips",)))
    text = opening_text(device, found, reasons_of(device, found).opening["pack_screws"])
    assert "lies over *Keys ribbon* as reached with the bottom side up" in text


def test_a_way_that_is_taken_only_because_it_is_cheaper_is_called_so() -> None:
    """The ribbon can be reached at once, slowly; the plan lifts the clip because that is cheaper on the whole."""
    device = machine("""\
format: 1
device: {name: Two ways}
parts: {base: {name: Base, fixed: true}, flap: {name: Flap}, strip: {name: Strip}}
joints:
  flap_clip: {kind: clip, joins: [flap, base], open_s: 2, close_s: 2}
  ribbon:
    kind: ribbon
    joins: [strip, base]
    powered: false
    access:
      - {tool: unknown, open_s: 90, close_s: 90}
      - {under: [flap], open_s: 5, close_s: 5}
""")
    found = plan(device, Request(reach=("ribbon",)))
    chain = reasons_of(device, found).opening["flap_clip"]
    assert chain[0].by_choice
    assert "over *Ribbon* as reached with the top side up (cheaper on the whole)" in opening_text(
        device, found, chain
    )


def test_a_joint_that_nothing_needs_is_called_so() -> None:
    """A plan that opens more than the request asks for says of the rest that nothing needs it."""
    device = box()
    found = plan(device, Request(reach=("keys_clips", "cover_screws")))
    asked_less = replace(found, request=Request(reach=("keys_clips",)), proven=False)
    reasons = reasons_of(device, asked_less)
    assert reasons.unneeded == ("cover_screws",)
    text = opening_text(device, asked_less, reasons.opening["cover_screws"])
    assert "nothing that was asked for needs it open" in text


def test_joints_opened_for_those_that_were_open_lead_to_them() -> None:
    """Where the plug was found open under a closed cover, the cover is opened so that the plug can go back."""
    device = box()
    found = plan(device, Request(opened=("pack_plug",)))
    reasons = reasons_of(device, found)
    chain = reasons.opening["cover_clips"]
    assert [(link.kind, link.limb) for link in chain] == [("cover", "out"), ("open", "in")]
    text = opening_text(device, found, chain)
    assert text.endswith("and *Pack plug* is open already")
    assert "on the way out *Bottom cover* lies over *Pack plug*" in text


@pytest.mark.parametrize("work", [0, 1, 3])
def test_a_stopped_search_still_gives_every_step_a_reason(work: int) -> None:
    """Whatever the planner hands back early has a chain for each joint."""
    device = box()
    found = plan(device, Request(replace=("board", "keys")), StopRule(work=work))
    reasons = reasons_of(device, found)
    assert set(reasons.opening) == found.open_at_turning
