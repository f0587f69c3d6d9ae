"""Fasteners that are easily confused, and screws that are too long where they might be put."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import Fastener
from lastscrew.fasteners.lookalikes import (
    length_cautions,
    look_alike,
    look_alike_text,
    look_alikes,
    look_alikes_of_plan,
)
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from tests.run.machines import radio

RADIO = radio()
A = Fastener("a", "M2", 5, "PH1", "pan", "black")

FASTENERS = st.builds(
    Fastener,
    id=st.sampled_from("abcdef"),
    thread=st.none() | st.sampled_from(["M2", "M2.5", "m 2"]),
    length_mm=st.none() | st.sampled_from([3.0, 3.4, 5.0, 8.0]),
    drive=st.none() | st.sampled_from(["PH1", "T5"]),
    head=st.none() | st.sampled_from(["pan", "flat"]),
    finish=st.none() | st.sampled_from(["black", "zinc"]),
)


@pytest.mark.parametrize(
    ("other", "differs"),
    [
        (replace(A, id="b", length_mm=6), ("length",)),
        (replace(A, id="b", head="flat"), ("head",)),
        (replace(A, id="b", length_mm=6, head="flat", finish="zinc"), ("length", "head", "finish")),
        (replace(A, id="b", finish="zinc"), ("finish",)),
        (replace(A, id="b"), ("only_by_name",)),
        (replace(A, id="b", thread="m 2", drive="ph1", length_mm=6), ("length",)),
    ],
)
def test_same_thread_and_drive_look_alike_whatever_else_differs(
    other: Fastener, differs: tuple[str, ...]
) -> None:
    pair = look_alike(A, other)
    assert pair is not None
    assert pair.differs == differs


@pytest.mark.parametrize(
    "other", [replace(A, id="b", thread="M2.5"), replace(A, id="b", drive="T5"), A]
)
def test_another_thread_or_drive_tells_apart(other: Fastener) -> None:
    assert look_alike(A, other) is None


def test_lengths_within_the_doubt_of_a_ruler_are_not_told_apart_by_one() -> None:
    near = look_alike(A, replace(A, id="b", length_mm=5.4))
    far = look_alike(A, replace(A, id="b", length_mm=6))
    other_head = look_alike(A, replace(A, id="b", length_mm=5.4, head="flat"))
    assert near is not None
    assert far is not None
    assert other_head is not None
    assert (near.within_doubt, far.within_doubt, other_head.within_doubt) == (True, False, False)
    finer = look_alike(A, replace(A, id="b", length_mm=5.4), doubt_mm=0.1)
    assert finer is not None
    assert not finer.within_doubt


def test_what_is_not_given_is_taken_to_be_the_same_and_said() -> None:
    pair = look_alike(A, Fastener("b", thread="M2", length_mm=6))
    assert pair is not None
    assert pair.assumed == ("drive",)
    blank = look_alike(A, Fastener("b"))
    assert blank is not None
    assert blank.assumed == ("thread", "drive", "length_mm")
    assert blank.within_doubt


def test_heads_tell_apart_what_has_no_thread() -> None:
    assert look_alike(A, Fastener("b", head="blind rivet")) is None
    assert look_alike(Fastener("a", head="rivet"), Fastener("b", head="ring")) is None
    assert look_alike(Fastener("a", head="pin"), Fastener("b", head="pin")) is not None


@given(FASTENERS, FASTENERS)
def test_looking_alike_goes_both_ways(one: Fastener, other: Fastener) -> None:
    assert look_alike(one, other) == look_alike(other, one)


def test_all_pairs_of_a_plan_are_told_in_words() -> None:
    found = plan(RADIO, Request(reach=("pack_screws", "panel_screws")))
    pairs = look_alikes_of_plan(RADIO, found)
    assert [(pair.one, pair.other) for pair in pairs] == [
        ("m2x3", "m2x5"), ("m2x3", "m2x5_lock"), ("m2x5", "m2x5_lock"),
    ]  # fmt: skip
    assert "length (by 2 mm)" in look_alike_text(RADIO, pairs[0])
    assert pairs[2].differs == ("only_by_name",)
    assert "A ruler does not tell them apart" in look_alike_text(RADIO, pairs[2])
    assert look_alikes(RADIO, ["m2x3", "nothing", "m2x3"]) == ()


def test_a_longer_screw_of_the_same_plan_gives_a_caution_at_the_short_joint() -> None:
    found = plan(RADIO, Request(reach=("pack_screws", "board_screws")))
    cautions = length_cautions(RADIO, found)
    assert [(c.joint, c.signal, c.too_long) for c in cautions] == [
        ("pack_screws", "caution", ("cover_screws", "board_screws"))
    ]
    assert "at most 3.5 mm" in cautions[0].text
    assert "5 mm (from *Cover screws* and *Board screws*)" in cautions[0].text
    assert "*Pack*" in cautions[0].text


@pytest.mark.parametrize("change", [{"thread": "M2.5"}, {"drive": "T5"}])
def test_what_is_seen_to_be_another_screw_is_no_danger(change: dict[str, str]) -> None:
    other = replace(RADIO.fasteners["m2x5"], **change)  # type: ignore[arg-type]
    device = replace(RADIO, fasteners={**RADIO.fasteners, "m2x5": other})
    found = plan(device, Request(reach=("pack_screws",)))
    assert length_cautions(device, found) == ()


def test_a_joint_without_a_pack_gets_a_notice() -> None:
    nuts = replace(RADIO.joints["board_nuts"], max_length_mm=4)
    device = replace(RADIO, joints={**RADIO.joints, "board_nuts": nuts})
    found = plan(device, Request(reach=("board_nuts",)))
    assert [c.signal for c in length_cautions(device, found)] == ["notice"]
