"""What follows from a plan besides its steps: hazards, holds, orders, losses, cables, assumptions."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.device.opening import access_is_free, clusters
from lastscrew.plan.briefing import Briefing, brief
from lastscrew.plan.cautions import Hold
from lastscrew.plan.handling import CableEnd, Loose, MovesAcross
from lastscrew.plan.materials import FastenerOut, Loss
from lastscrew.plan.model import Plan, Request
from lastscrew.plan.planner import plan
from lastscrew.plan.walking import moments_in, moments_out
from lastscrew.problems import InputError
from tests.oracle.devices import SMALL, case_from_seed
from tests.plan_support.greedy import plan_naively
from tests.plan_support.machines import BOX, box, ladder, machine

SEEDS = st.integers(0, 100_000)


def _briefed(device: Device, **asked: tuple[str, ...]) -> Briefing:
    return brief(device, plan(device, Request(**asked)))  # type: ignore[arg-type]


def _naive(seed: int) -> tuple[Device, Plan]:
    device, request = case_from_seed(seed, SMALL)
    try:
        return device, plan_naively(device, request)
    except InputError:
        assume(False)
        raise


# --- laws on random machines ------------------------------------------------------------------


@given(SEEDS)
def test_tools_are_those_of_the_steps_in_order_of_first_use(seed: int) -> None:
    """No tool is missing, none comes twice, each stands where it is first taken up."""
    device, found = _naive(seed)
    used = [step.tool for step in (*found.way_in, *found.way_out) if step.tool]
    tools = brief(device, found).tools
    assert sorted(tools) == sorted(set(used))
    assert [used.index(tool) for tool in tools] == sorted(used.index(tool) for tool in tools)


@given(SEEDS)
def test_acts_appear_once_each_with_the_step_that_does_them(seed: int) -> None:
    """Acts of the briefing are those of the plan, and acts tied to no joint make up the rest of each limb."""
    device, found = _naive(seed)
    acts = brief(device, found).acts
    tied = [act for step in (*found.way_in, *found.way_out) for act in step.act_ids]
    loose = [*found.start_acts, *found.turning_acts, *found.end_acts]
    assert sorted(at.act for at in acts) == sorted([*tied, *loose])
    for limb, total in (("in", found.way_in_ms), ("out", found.way_out_ms)):
        steps = [s for s in (*found.way_in, *found.way_out) if s.limb == limb]
        work = sum(step.setup_ms + step.work_ms for step in steps)
        untied = sum(device.acts[a.act].ms for a in acts if a.limb == limb and a.joint is None)
        turn = found.final_turn_ms if limb == "out" else 0
        assert work + untied + turn == total


@given(SEEDS)
def test_live_steps_are_marked_while_an_isolating_joint_is_closed(seed: int) -> None:
    """A step is marked only with the power on, and always when it opens or closes something live then."""
    device, found = _naive(seed)
    briefing = brief(device, found)
    fitted = briefing.device
    isolators = {j.id for j in fitted.joints.values() if j.isolates}
    for moment in (*moments_in(found), *moments_out(found)):
        step = moment.step
        opened = moment.after if step.limb == "in" else moment.before
        away = bool(isolators) and isolators <= opened
        if away:
            assert (step.limb, step.joint) not in briefing.still_live
        joint = fitted.joints[step.joint]
        energy = any(fitted.parts[part].energy for part in joint.joins)
        if not away and (joint.powered or energy):
            assert (step.limb, step.joint) in briefing.still_live


@given(SEEDS)
def test_a_parts_hazard_bites_wherever_its_joints_are_worked_on_and_where_it_is_uncovered(
    seed: int,
) -> None:
    """Every step that names the part is marked; of the others at most the first that lays it bare."""
    device, found = _naive(seed)
    part_id = sorted(device.parts)[seed % len(device.parts)]
    part = replace(device.parts[part_id], hazards=("h",))
    device = replace(device, parts={**device.parts, part_id: part})
    fitted = fit(device, found.request.not_fitted, found.request.fitted)
    assume(part_id in fitted.parts)
    marked = {(at.limb, at.joint) for at in brief(device, found).hazards}
    naming = {
        (s.limb, s.joint)
        for s in (*found.way_in, *found.way_out)
        if part_id in fitted.joints[s.joint].joins
    }
    assert naming <= marked
    uncovering = [
        ("in", m.step.joint)
        for m in moments_in(found)
        if _bare(fitted, part_id, m.after) and not _bare(fitted, part_id, m.before)
    ]
    assert len(uncovering) <= 1
    assert marked == naming | set(uncovering)


def _bare(device: Device, part: str, opened: frozenset[str]) -> bool:
    """By the plain rule: some joint of the part that can only be reached under something is uncovered."""
    for joint in device.joints.values():
        if part in joint.joins and all(access.under for access in joint.accesses):
            tied = clusters(device, (j for j in device.joints if j not in opened | {joint.id}))
            if any(access_is_free(joint, access, tied) for access in joint.accesses):
                return True
    return False


@given(SEEDS)
def test_a_range_holds_its_time(seed: int) -> None:
    """The exact time lies inside the range that people see, on both limbs and in all."""
    device, found = _naive(seed)
    timing = brief(device, found).timing
    for spread, exact in (
        (timing.total, found.total_ms),
        (timing.way_in, found.way_in_ms),
        (timing.way_out, found.way_out_ms),
    ):
        assert spread.low_ms <= exact <= spread.high_ms
    steps = len(found.way_in) + len(found.way_out)
    assert timing.from_file + timing.from_table + timing.from_assumption == steps


# --- the box ----------------------------------------------------------------------------------


def test_fasteners_out_leave_captive_ones_in_and_keep_the_order_of_opening() -> None:
    """The sink's captive screws stay in it; nine, four and six others lie in the tray."""
    out = _briefed(box(), replace=("board",)).fasteners
    assert FastenerOut("cover_screws", "m2x5", 9, {}) in out
    assert FastenerOut("board_screws", "m2x5", 6, {}) in out
    assert "sink_screws" not in {x.joint for x in out}
    assert "cover_clips" not in {x.joint for x in out}


def test_screws_that_are_only_loosened_or_have_no_kind_are_told_apart() -> None:
    """Loosened screws stay in; a screw whose kind nobody named still comes out."""
    text = BOX.replace(
        "fastener: m2x5, count: 4, under: [cover], tool: driver,",
        "count: 4, under: [cover], tool: driver,",
    )
    out = _briefed(machine(text), replace=("pack",)).fasteners
    assert FastenerOut("pack_screws", None, 4, {}) in out
    text = text.replace(
        "count: 4, under: [cover], tool: driver,",
        "count: 4, loosen_only: true, under: [cover], tool: driver,",
    )
    assert "pack_screws" not in {
        x.joint for x in _briefed(machine(text), replace=("pack",)).fasteners
    }


def test_the_order_has_parts_supplies_and_fasteners_that_may_not_be_used_twice() -> None:
    """Compound for the sink, alcohol for the act, one new screw for the single-use joint, with prices."""
    lines = {x.id: x for x in _briefed(box(), replace=("board", "keys")).order}
    assert list(lines) == ["board", "keys", "compound", "alcohol", "m2x3"]
    assert (lines["compound"].amount, lines["compound"].unit) == (0.3, "g")
    assert lines["compound"].cost == pytest.approx(0.45)
    assert (lines["alcohol"].amount, lines["alcohol"].cost) == (2.5, None)
    assert (lines["m2x3"].amount, lines["m2x3"].kind) == (1, "fastener")


def test_what_comes_with_a_spare_is_not_ordered_again() -> None:
    """The spare board brings its compound and the spare keyboard its screw; the alcohol is still ordered."""
    briefing = _briefed(box(), replace=("board_set", "keys_set"))
    assert [x.id for x in briefing.order] == ["board_set", "keys_set", "alcohol"]
    brought = {(use.id, use.included_with) for use in briefing.uses if use.included_with}
    assert brought == {("compound", "board_set"), ("m2x3", "keys_set")}


def test_a_part_inside_a_spare_that_is_asked_for_too_is_ordered_once() -> None:
    """Keyboard and keyboard set: the set alone has to be there."""
    briefing = _briefed(box(), replace=("keys", "keys_set"))
    ordered = [x.id for x in briefing.order]
    assert "keys_set" in ordered
    assert "keys" not in ordered


def test_a_spare_brings_nothing_for_joints_that_it_does_not_touch() -> None:
    """Compound that comes with the keyboard would not cover the sink's renewal."""
    text = BOX.replace("includes: [m2x3]}", "includes: [m2x3, compound]}")
    briefing = _briefed(machine(text), replace=("keys_set",), reach=("sink_screws",))
    assert "compound" in [x.id for x in briefing.order]


def test_amounts_add_up_without_the_noise_of_binary_fractions() -> None:
    """0.1 g and 0.2 g are 0.3 g."""
    text = BOX.replace("renew: {compound: 0.3}", "renew: {compound: 0.1}")
    text = text.replace("renew: {alcohol: 2.5}", "renew: {compound: 0.2}")
    lines = {x.id: x.amount for x in _briefed(machine(text), replace=("board",)).order}
    assert lines["compound"] == 0.3


def test_losses_name_their_cause() -> None:
    """The clock goes when the pack comes off, the keys when the board is exchanged, not when it is only out."""
    briefing = _briefed(box(), replace=("board",), reach=("pack_screws",))
    assert briefing.losses == (
        Loss("clock", part="pack"),
        Loss("keys", part="board", exchanged=True),
    )
    assert _briefed(box(), replace=("keys",)).losses == ()


def test_hazards_stand_at_every_step_that_names_the_part_and_where_it_is_uncovered() -> None:
    """The cover's clips uncover the pack; its plug names it, both ways; the edge belongs to the screws."""
    found = [
        (at.hazard, at.joint, at.limb, at.cause)
        for at in _briefed(box(), replace=("keys",)).hazards
    ]
    assert found == [
        ("edge", "cover_screws", "in", "joint"),
        ("pack", "cover_clips", "in", "uncovered"),
        ("pack", "pack_plug", "in", "part"),
        ("pack", "pack_plug", "out", "part"),
        ("edge", "cover_screws", "out", "joint"),
    ]


def test_parts_that_lie_bare_already_are_named_before_the_first_step() -> None:
    """A job found with the cover off has no step that uncovers the pack."""
    briefing = _briefed(box(), replace=("board",), opened=("cover_screws", "cover_clips"))
    assert briefing.bare_hazards == ("pack",)
    assert all(at.cause != "uncovered" for at in briefing.hazards)
    assert _briefed(box(), replace=("board",)).bare_hazards == ()


def test_inner_steps_before_isolation_are_still_live() -> None:
    """With the cover off and the plug closed, work on the plate is live; the cover's own screws are not."""
    text = BOX.replace("powered: true, open_s: 20, close_s: 30}", "open_s: 20, close_s: 30}")
    text = text.replace(
        "{kind: clip, joins: [plate, sink], under: [cover], open_s: 3",
        "{kind: clip, joins: [plate, sink], under: [cover], tool: pick, open_s: 3",
    )
    briefing = _briefed(machine(text), reach=("plate_clips",))
    assert briefing.still_live == {("in", "plate_clips"), ("out", "plate_clips")}


def test_nothing_is_live_where_nothing_has_power() -> None:
    """The ladder has no power at all but the cell's, which is opened after a shut-down."""
    assert _briefed(ladder(), replace=("motor",)).still_live == frozenset()


def test_hold_points_of_the_box() -> None:
    """Isolation is confirmed after the plug is open; the act that empties the board is one too."""
    holds = _briefed(box(), replace=("keys",)).holds
    assert [(h.limb, h.joint, h.when, h.kind) for h in holds] == [
        ("in", "pack_plug", "after", "isolation"),
        ("in", "pack_plug", "after", "act"),
    ]
    assert holds[1].text == "Hold the power button for ten seconds."


def test_hold_points_of_the_ladder() -> None:
    """Shut-down, a second person, the file's own words and what has to be looked over, each in its place."""
    holds = _briefed(ladder(), replace=("motor", "cell")).holds
    found = [(h.limb, h.joint, h.when, h.kind) for h in holds]
    assert ("in", "cell_plug", "before", "shutdown") in found
    assert ("out", "cell_plug", "before", "shutdown") in found
    assert ("in", "motor_screws", "before", "second_person") in found
    assert ("out", "cell_seat", "before", "inspect") in found
    assert ("in", "cell_seat", "before", "inspect") not in found
    assert Hold("in", "cell_seat", "before", "hold", "Look at the cell.") in holds


def test_functions_are_proved_before_the_closing_that_asks_for_it() -> None:
    """The cover may go back only once the machine was shown to start."""
    text = BOX.replace(
        "after: [cover_screws], open_s: 15",
        "after: [cover_screws], prove_before_close: [boots], open_s: 15",
    )
    holds = [h for h in _briefed(machine(text), replace=("keys",)).holds if h.kind == "prove"]
    assert [(h.limb, h.joint, h.function) for h in holds] == [("out", "cover_clips", "boots")]
    assert "Starts and shows the start screen" in holds[0].text


def test_what_hangs_on_the_exchanged_board_goes_on_to_the_new_one() -> None:
    """The sink with its plate is held by the board alone; the pack and the keyboard are not."""
    assert _briefed(box(), replace=("board",)).moves_across == (
        MovesAcross("board", ("plate", "sink"), ("sink_screws",)),
    )
    assert _briefed(box(), replace=("board+sink",)).moves_across == (
        MovesAcross("board+sink", ("plate",), ("plate_clips",)),
    )
    assert _briefed(box(), replace=("keys",)).moves_across == ()


def test_at_a_turn_loose_parts_fall_and_the_board_hangs_on_its_ribbon() -> None:
    """Before the top side comes up the cover is off and the board hangs on the keyboard's ribbon."""
    notes = _briefed(box(), replace=("board",)).turns
    assert [(note.limb, note.before, note.side) for note in notes] == [
        ("in", "keys_ribbon", "top"),
        ("out", "board_screws", "bottom"),
    ]
    assert Loose(("board",), ("keys_ribbon",)) in notes[0].loose
    assert Loose(("cover",), ()) in notes[0].loose
    assert notes[1].loose == (Loose(("board",), ("keys_ribbon",)),)


def test_the_packs_plug_is_brought_out_before_the_pack_is_seated() -> None:
    """Its cable is closed after the screws that seat it: the end would lie under it."""
    ends = _briefed(box(), replace=("pack",)).cable_ends
    assert ends == (CableEnd("pack_screws", ("pack",), "pack_plug"),)


def test_unknown_values_and_our_own_figures_are_listed_as_assumed() -> None:
    """The unknown count is 1, the tool's change takes our 3 s; nothing is turned, so no turn is assumed."""
    assumed = {x.path: (x.value, x.kind) for x in _briefed(ladder(), replace=("motor",)).assumed}
    assert assumed["joints.lid_screws.count"] == (1, "unknown")
    assert assumed["tools.driver.swap_s"] == (3, "default")
    assert "turn_s" not in assumed
    assert _briefed(box(), replace=("keys",)).assumed == ()


def test_waiting_is_apart_from_hands_on_time() -> None:
    """The wiped cover dries for half a minute: elapsed, not worked."""
    briefing = _briefed(box(), replace=("keys",))
    assert briefing.waits.total_ms == 30_000
    assert briefing.elapsed_ms == briefing.plan.total_ms + 30_000


TWO_ISOLATORS = """\
format: 1
device: {name: Rack}
parts: {tub: {fixed: true}, board: {}, one: {energy: true}, two: {energy: true}, fan: {}}
joints:
  plug_one: {kind: plug, joins: [one, tub], isolates: true}
  plug_two: {kind: plug, joins: [two, tub], isolates: true}
  board_plug: {kind: plug, joins: [board, tub]}
  fan_clip: {kind: clip, joins: [fan, tub]}
"""


def test_with_two_isolating_joints_the_power_is_called_off_only_after_the_last() -> None:
    """The first one's hold point says that the power is still on, and where."""
    holds = _briefed(machine(TWO_ISOLATORS), reach=("board_plug",)).holds
    texts = [hold.text for hold in holds if hold.kind == "isolation"]
    assert texts == [
        "*Plug one* takes the power away only together with *Plug two*: it is still on.",
        "The power is taken away at *Plug one* and *Plug two*: make sure that it is off before going on.",
    ]


def test_a_single_isolating_joint_of_two_is_not_said_to_take_the_power_away() -> None:
    """Where the other one stays closed for the whole job, no text says that the power is off."""
    holds = _briefed(machine(TWO_ISOLATORS), reach=("plug_one",)).holds
    assert [hold.text for hold in holds] == [
        "*Plug one* takes the power away only together with *Plug two*: it is still on."
    ]


NOT_KNOWN = """\
format: 1
device: {name: Lamp}
parts: {foot: {fixed: true}, shade: {}}
joints:
  screws: {kind: screw, joins: [shade, foot], fastener: unknown, tool: unknown, count: unknown}
  knot: {kind: other, rigid: false, joins: [shade, foot], wait_close_s: 600}
"""


def test_what_is_assumed_is_said_in_words() -> None:
    """Nothing is called None: no tool, a fastener that is not known, a value with its figure."""
    words = [x.words for x in _briefed(machine(NOT_KNOWN), replace=("shade",)).assumed]
    assert "joints.screws.tool: no tool (unknown in the device file)" in words
    assert "joints.screws.fastener: fastener not known (unknown in the device file)" in words
    assert "joints.screws.count = 1 (unknown in the device file)" in words
    assert not any("None" in text for text in words)


def test_with_waiting_it_never_takes_less_than_hands_on_time_alone() -> None:
    """The range of both together lies above the range of the hands-on time, by about the waiting."""
    timing = _briefed(machine(NOT_KNOWN), replace=("shade",)).timing
    assert timing.waiting.low_ms <= 600_000 <= timing.waiting.high_ms
    assert timing.elapsed.low_ms >= timing.total.low_ms + 0.7 * 600_000
    assert timing.elapsed.high_ms >= timing.total.high_ms + 600_000
