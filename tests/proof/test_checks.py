"""What was disturbed, in what order it is tried, what waits for a check, and when a job is proven."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.diagnosis import Check
from lastscrew.device.model import Function, Measure
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.proof.checks import (
    because_text,
    checks_of_job,
    disturbed_by,
    final_checks_of_job,
    identities_of,
    open_proofs,
    proof_of,
)
from lastscrew.run import events as e
from lastscrew.run.folding import fold
from lastscrew.run.state import JobState
from tests.run.machines import events_of, radio, start

RADIO = radio()
INNER = [e.Opened(joint=j) for j in ("cover_screws", "cover_clips", "pack_plug")]


def job(*happenings: e.Happening) -> JobState:
    """The state after a start and these happenings."""
    return fold(RADIO, events_of(start(RADIO), *happenings, by="Ada"))


def verdicts(*happenings: e.Happening) -> dict[str, str]:
    """Function to verdict."""
    return {c.disturbed.function: c.verdict for c in checks_of_job(RADIO, job(*happenings))}


def open_codes(*happenings: e.Happening) -> list[tuple[str, str | None]]:
    """What is not yet proven: code with function or part."""
    return [(o.code, o.function or o.part) for o in open_proofs(RADIO, job(*happenings))]


def test_an_exchanged_part_disturbs_its_functions() -> None:
    found = disturbed_by(RADIO, [], ["fan"])
    assert [each.function for each in found] == ["cooling"]
    assert because_text(RADIO, found[0].because[0]) == "*Fan* was exchanged"


def test_a_joint_disturbs_the_functions_that_it_names_and_a_powered_one_those_of_its_parts() -> (
    None
):
    found = {each.function: each.because for each in disturbed_by(RADIO, ["fan_plug"], [])}
    assert set(found) == {"cooling", "boots"}
    assert {because.cause for because in found["cooling"]} == {
        "joint_opened",
        "powered_joint_opened",
    }
    assert found["boots"][0].part == "board"
    assert disturbed_by(RADIO, ["board_screws", "cover_screws"], []) == ()


def test_a_joint_opened_after_a_shut_down_counts_as_powered() -> None:
    quiet = replace(RADIO.joints["fan_plug"], powered=False, shutdown=True, functions=())
    device = replace(RADIO, joints={**RADIO.joints, "fan_plug": quiet})
    assert {each.function for each in disturbed_by(device, ["fan_plug"], [])} == {
        "cooling",
        "boots",
    }


def test_exchanges_are_tried_first_and_short_checks_before_long_ones() -> None:
    found = disturbed_by(RADIO, ["fan_plug", "panel_ribbon"], ["board"])
    assert [each.function for each in found] == ["boots", "shows", "cooling"]


@given(
    st.sets(st.sampled_from(sorted(RADIO.joints))), st.sets(st.sampled_from(sorted(RADIO.parts)))
)
def test_disturbance_is_just_what_the_rules_say(opened: set[str], exchanged: set[str]) -> None:
    """Written out once more, in one line per rule."""
    expected = {f for j in opened for f in RADIO.joints[j].functions}
    expected |= {f for p in exchanged for f in RADIO.parts[p].functions}
    expected |= {
        f
        for j in opened
        if RADIO.joints[j].powered
        for p in RADIO.joints[j].joins
        for f in RADIO.parts[p].functions
    }
    assert {each.function for each in disturbed_by(RADIO, opened, exchanged)} == expected


@given(st.sets(st.sampled_from(sorted(RADIO.joints))), st.randoms(use_true_random=False))
def test_opening_more_never_disturbs_less(opened: set[str], rng: Random) -> None:
    fewer = set(rng.sample(sorted(opened), rng.randint(0, len(opened))))
    less = {each.function for each in disturbed_by(RADIO, fewer, [])}
    assert less <= {each.function for each in disturbed_by(RADIO, opened, [])}


def test_a_plan_has_its_checks_gates_and_identities() -> None:
    found = proof_of(RADIO, plan(RADIO, Request(replace=("board",))))
    assert [each.function for each in found.checks] == ["boots", "shows", "cooling"]
    assert [(i.part, i.carry_over, i.write_serial) for i in found.identities] == [
        ("board", True, True)
    ]
    assert found.check_ms == 30_000 + 10_000 + 20_000 + 10_000
    gate = found.gates[0]
    assert (gate.joint, gate.functions, gate.in_vain) == ("panel_ribbon", ("shows",), ())
    assert gate.power is not None
    assert gate.power.isolators == ("pack_plug",)
    assert "panel_ribbon" in gate.power.names
    assert "*Panel ribbon*" in gate.power.text


def test_a_gate_that_can_never_be_passed_is_pointed_out() -> None:
    shows = replace(RADIO.functions["shows"], needs=("panel_ribbon", "cover_screws"))
    device = replace(RADIO, functions={**RADIO.functions, "shows": shows})
    gate = proof_of(device, plan(device, Request(reach=("panel_ribbon",)))).gates[0]
    assert gate.in_vain == (("shows", "panel_ribbon"), ("shows", "cover_screws"))


def test_a_gate_with_the_power_on_anyway_needs_no_powered_check() -> None:
    clips = replace(RADIO.joints["cover_clips"], prove_before_close=("boots",))
    device = replace(RADIO, joints={**RADIO.joints, "cover_clips": clips})
    gates = proof_of(device, plan(device, Request(reach=("pack_plug",)))).gates
    assert [(gate.joint, gate.power) for gate in gates] == [("cover_clips", None)]


def test_parts_of_an_absent_option_are_not_asked_about() -> None:
    modem = replace(RADIO.parts["modem"], functions=("boots",))
    device = replace(RADIO, parts={**RADIO.parts, "modem": modem})
    assert proof_of(device, plan(device, Request(reach=("cover_screws",)))).checks == ()
    assert identities_of(device, ["modem", "fan"]) == ()


def test_a_job_is_proven_when_everything_disturbed_works() -> None:
    work = [*INNER, e.Opened(joint="fan_plug")]
    assert verdicts(*work) == {"cooling": "open", "boots": "open"}
    tried = [e.Checked(function=f, outcome="works") for f in ("cooling", "boots")]
    assert verdicts(*work, *tried) == {"cooling": "works", "boots": "works"}
    assert open_codes(*work, *tried) == []


def test_a_check_before_opening_does_not_count_as_proof_but_is_compared() -> None:
    before = e.Checked(function="cooling", outcome="fails", phase="before")
    work = [
        before,
        *INNER,
        e.Opened(joint="fan_plug"),
        e.Checked(function="boots", outcome="works"),
    ]
    assert open_codes(*work) == [("check_open", "cooling")]
    failed = open_proofs(RADIO, job(*work, e.Checked(function="cooling", outcome="fails")))
    assert failed[0].code == "check_fails"
    assert "it failed before too" in failed[0].text


def test_a_powered_check_on_the_way_does_not_stand_for_the_check_at_the_end() -> None:
    tried = e.Checked(function="cooling", outcome="works", phase="during")
    assert verdicts(*INNER, e.Opened(joint="fan_plug"), tried)["cooling"] == "open"


def test_what_was_tried_and_then_disturbed_again_is_open_again() -> None:
    work = [*INNER, e.Opened(joint="fan_plug"), e.Checked(function="cooling", outcome="works")]
    again = [e.Closed(joint="fan_plug"), e.Opened(joint="fan_plug")]
    assert verdicts(*work)["cooling"] == "works"
    assert verdicts(*work, *again)["cooling"] == "open"
    stale = [o for o in open_proofs(RADIO, job(*work, *again)) if o.function == "cooling"]
    assert "not been tried again" in stale[0].text


def test_not_tried_is_open_and_a_waiver_by_a_named_person_settles_it() -> None:
    work = [*INNER, e.Opened(joint="fan_plug"), e.Checked(function="boots", outcome="works")]
    not_tried = e.Checked(function="cooling", outcome="not_tried")
    assert verdicts(*work, not_tried)["cooling"] == "open"
    waived = e.Waived(person="Ada", reason="no fan in this test rig", function="cooling")
    assert verdicts(*work, not_tried, waived)["cooling"] == "waived"
    assert open_codes(*work, waived) == []


def test_a_value_outside_its_limits_fails_whatever_was_tapped() -> None:
    measured = Function("cooling", "Cooling", measure=Measure("rpm", 2_000, 5_000))
    device = replace(RADIO, functions={**RADIO.functions, "cooling": measured})
    for value, verdict in (
        (1_999.0, "fails"),
        (2_000.0, "works"),
        (5_000.0, "works"),
        (5_001.0, "fails"),
    ):
        check = e.Checked(function="cooling", outcome="works", value=value, unit="rpm")
        state = fold(device, events_of(start(device), *INNER, e.Opened(joint="fan_plug"), check))
        found = {c.disturbed.function: c.verdict for c in checks_of_job(device, state)}
        assert found["cooling"] == verdict


def test_a_new_board_wants_its_serial_number_and_the_machines_identity() -> None:
    swapped = e.Exchanged(part="board")
    assert open_codes(swapped) == [
        ("check_open", "boots"),
        ("identity", "board"),
        ("serial", "board"),
    ]
    told = [
        e.Exchanged(part="board", new_serial="B-2"),
        e.CarriedOver(part="board", what="serial number"),
    ]
    works = e.Checked(function="boots", outcome="works")
    assert open_codes(*told, works) == []
    assert open_codes(*told, works, swapped) == [
        ("check_open", "boots"), ("identity", "board"), ("serial", "board"),
    ]  # fmt: skip


def test_a_final_check_is_open_until_it_was_made_after_the_last_work() -> None:
    check = Check("whole", "All of it", "Try all.", final=True)
    device = replace(RADIO, checks={"whole": check, "other": Check("other", "Other")})

    def codes(*happenings: e.Happening) -> list[str]:
        state = fold(device, events_of(start(device), *happenings))
        assert [remark.code for remark in state.remarks] == []
        return [proof.code for proof in open_proofs(device, state)]

    works = e.FinalCheck(check="whole", outcome="works")
    assert codes() == ["final_open"]
    assert codes(works) == []
    assert codes(works, e.FinalCheck(check="whole", outcome="fails")) == ["final_fails"]
    assert codes(e.FinalCheck(check="whole", outcome="not_tried")) == ["final_open"]
    again = [works, e.Opened(joint="cover_screws"), e.Closed(joint="cover_screws")]
    assert codes(*again) == ["final_open"]
    assert codes(*again, works) == []
    waived = e.Waived(person="Lea", reason="no mains", check="whole")
    assert codes(waived) == []
    (final,) = final_checks_of_job(device, fold(device, events_of(start(device), *again)))
    assert (final.check, final.verdict, final.stale) == ("whole", "open", True)


def test_only_final_checks_of_the_device_can_be_made_at_the_end() -> None:
    device = replace(RADIO, checks={"other": Check("other", "Other")})
    for name in ("other", "nothing"):
        state = fold(device, events_of(start(device), e.FinalCheck(check=name, outcome="works")))
        assert [remark.code for remark in state.remarks] == ["unknown_check"]
