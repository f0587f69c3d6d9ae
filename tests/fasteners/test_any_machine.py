"""Laws that hold for any machine and any plan: ledger, tray, order, search, proof."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from xml.etree import ElementTree as ET

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device, Fastener
from lastscrew.device.opening import accesses_that_allow
from lastscrew.fasteners.ledger import fasteners_out, hindrances, ledger_of, ledger_of_plan
from lastscrew.fasteners.leftover import Query, find_leftover
from lastscrew.fasteners.lookalikes import length_cautions, look_alikes_of_plan
from lastscrew.fasteners.pieces import loose_pieces
from lastscrew.fasteners.tray import tray_map
from lastscrew.fasteners.tray_drawing import tray_drawing
from lastscrew.plan.model import Plan, Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.proof.checks import proof_of
from lastscrew.run import events as e
from lastscrew.run.folding import fold
from tests.oracle.devices import SMALL, case_from_seed
from tests.run.machines import events_of, start

SEEDS = st.integers(0, 100_000)
KINDS = [
    Fastener("a", "M2", 3, "PH1", "pan"), Fastener("b", "M2", 5, "PH1", "pan"), Fastener("c", "M2", 5.3, "PH1", "pan"),
    Fastener("d", "M2", 5, "PH1", "flat"), Fastener("e", "M3", 8, "T8", "socket"), Fastener("f"),
]  # fmt: skip


def with_screws(device: Device, rng: Random) -> Device:
    """The machine with screws, washers, captive and single-use ones on some of its joints."""
    joints = {}
    for key, joint in device.joints.items():
        joints[key] = joint
        if rng.random() < 0.7:
            joints[key] = replace(
                joint,
                kind=rng.choice(("screw", "screw", "nut", "clip")),
                fastener=rng.choice([*(kind.id for kind in KINDS), None]),
                count=rng.randint(1, 9),
                captive=rng.random() < 0.1,
                reuse=rng.choice(("reusable", "reusable", "reusable", "single_use")),
                washers={"spring": rng.randint(1, 3)} if rng.random() < 0.2 else {},
                max_length_mm=4.0 if rng.random() < 0.2 else None,
            )
    return replace(device, joints=joints, fasteners={kind.id: kind for kind in KINDS})


def worked(seed: int) -> tuple[Device, Plan]:
    """A machine and a plan for it."""
    device, request = case_from_seed(seed, SMALL)
    device = with_screws(device, Random(seed))
    try:
        return device, plan(device, replace(request, objective="time"))
    except InputError:
        assume(condition=False)
        raise


@given(SEEDS)
def test_a_plan_carried_out_step_by_step_balances_and_may_be_closed(seed: int) -> None:
    """The ledger of the plan and the ledger of a job that follows it agree at every moment."""
    device, work = worked(seed)
    request = work.request
    first = start(
        device, opened=request.opened, not_fitted=request.not_fitted, fitted=request.fitted
    )
    steps = [
        (e.Opened if step.limb == "in" else e.Closed)(joint=step.joint)
        for step in (*work.way_in, *work.way_out)
    ]
    log = events_of(first, *steps)
    foreseen = ledger_of_plan(device, work)
    for number in range(len(log)):
        out = sum(lot.count for lot in ledger_of(device, log[: number + 1]).out)
        moves = [move for move in foreseen.movements if move.number <= number]
        at_start = sum(sum(loose_pieces(device, device.joints[j]).values()) for j in request.opened)
        assert out == (moves[-1].loose if moves else at_start)
    done = ledger_of(device, log)
    assert done.kinds == foreseen.at_end.kinds
    assert hindrances(device, fold(device, log), done) == ()


@given(SEEDS)
def test_what_comes_out_is_what_lies_in_the_tray_and_goes_back(seed: int) -> None:
    device, work = worked(seed)
    out = {(joint, kind): count for joint, kind, count in fasteners_out(device, work)}
    turning = ledger_of_plan(device, work).at_turning.out
    assert out.items() <= {(lot.joint, lot.kind): lot.count for lot in turning}.items()
    found = tray_map(device, work, 3, 4)
    lying = {(g.joint, kind): count for g in found.groups for kind, count in g.pieces}
    once = {j for j in device.joints if device.joints[j].reuse == "single_use"}
    assert lying == {(lot.joint, lot.kind): lot.count for lot in turning if lot.joint not in once}
    places = [(group.tray, group.row, group.column) for group in found.groups]
    assert len(set(places)) == len(places)
    assert ET.fromstring(tray_drawing(device, found)) is not None


@given(SEEDS)
def test_cautions_are_about_screws_of_the_plan_that_can_be_confused(seed: int) -> None:
    device, work = worked(seed)
    kinds = {kind.name for _, kind, _ in fasteners_out(device, work)}
    for pair in look_alikes_of_plan(device, work):
        assert {pair.one, pair.other} <= kinds
    for caution in length_cautions(device, work):
        limit = device.joints[caution.joint].max_length_mm
        for joint in caution.too_long:
            length = device.fasteners[device.joints[joint].fastener or ""].length_mm
            assert limit is not None
            assert length is not None
            assert length > limit


@settings(max_examples=60)
@given(SEEDS, st.sampled_from([kind.id for kind in KINDS]), st.booleans(), st.integers(1, 2))
def test_a_search_opens_only_what_may_be_opened_and_its_chances_add_up(
    seed: int, kind: str, missing: bool, count: int
) -> None:
    from lastscrew.fasteners.pieces import Kind

    device, work = worked(seed)
    request = work.request
    assume(request.opened == ())
    now = Request(not_fitted=request.not_fitted, fitted=request.fitted, without=request.without)
    closed = [step.joint for step in work.way_out]
    answer = find_leftover(
        device, closed, Query(count, missing, Kind("fastener", kind)), plan, now=now
    )
    if count == 1:
        assert sum(p.chance for p in answer.places) + answer.elsewhere == pytest.approx(1)
    fitted = fit(device, request.not_fitted, request.fitted)
    opened: list[str] = []
    for step in answer.search.steps:
        for joint in step.opens:
            assert accesses_that_allow(fitted, opened, joint)
            assert joint not in request.without
            opened.append(joint)
    settled = [step.settled_by_here for step in answer.search.steps]
    assert settled == sorted(settled)
    if settled and not answer.search.out_of_reach:
        assert settled[-1] == pytest.approx(1 - answer.elsewhere)
    assert answer.search.expected_ms <= answer.search.worst_ms


@given(SEEDS)
def test_gates_name_every_joint_that_is_open_at_their_moment(seed: int) -> None:
    device, work = worked(seed)
    joints = {
        key: replace(joint, prove_before_close=("works",)) for key, joint in device.joints.items()
    }
    device = replace(device, joints=joints)
    gates = proof_of(device, work).gates
    assert [gate.joint for gate in gates] == [step.joint for step in work.way_out]
    for number, gate in enumerate(gates):
        still_open = {step.joint for step in work.way_out[number:]}
        if gate.power is not None:
            assert set(gate.power.names) | set(gate.power.isolators) == still_open
            assert not any(device.joints[j].isolates for j in gate.power.names)
