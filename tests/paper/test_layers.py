"""The layered drawing: what lies over what, which joints hold what."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.device.model import Device
from lastscrew.paper import strata as strata_module
from lastscrew.paper.layers import draw_layers
from lastscrew.paper.strata import keeper_of, strata_of
from lastscrew.paper.svg import to_text
from lastscrew.plan.wording import joint_name
from tests.oracle.devices import MIDDLE, case_from_seed
from tests.paper.drawings import overlaps, reread, said
from tests.paper.machines import FOREIGN, LONG, SCRIPT, joint, notebook, renamed, tower

MACHINES = {
    "notebook": notebook(), "tower": tower(50), "long": renamed(notebook(), LONG),
    "hostile": renamed(notebook(), SCRIPT), "foreign": renamed(notebook(), FOREIGN),
}  # fmt: skip


@pytest.mark.parametrize("device", MACHINES.values(), ids=MACHINES.keys())
def test_it_is_well_formed_complete_and_legible(device: Device) -> None:
    """Every part has its box, every joint its line in one of them, and no text runs into another."""
    root = draw_layers(device)
    reread(root)
    assert list(overlaps(root)) == []
    boxes = [g for g in root.iter("g") if g.get("class") == "part"]
    assert len(boxes) == len(device.parts) - 1
    assert device.parts[device.fixed_part].name[:10].strip("\x00\x1b") in said(root)


def test_every_joint_is_written_once() -> None:
    """In the box of the outermost part that it joins."""
    device = notebook()
    written = [e.text or "" for e in draw_layers(device).iter("text")]
    for key in device.joints:
        name = joint_name(device, key)
        assert sum(words == name or words.startswith(f"{name},") for words in written) == 1, name


def test_what_lies_over_what_in_the_notebook() -> None:
    """By hand: cover over pack, fan, sink and board; sink over board; the keyboard on its own side."""
    strata = strata_of(notebook())
    bottom = {part: s.layer for s in strata.layers["bottom"] for part in s.parts}
    assert bottom == {"cover": 1, "pack": 2, "fan": 2, "sink": 2, "aerials": 2, "board": 3}
    assert strata.over["board"] == ("sink",)
    assert strata.over["pack"] == ("cover",)
    assert [s.parts for s in strata.layers["top"]] == [("keys",)]


def test_a_circle_of_covers_does_no_harm() -> None:
    """Two parts that each lie over a joint of the other are both placed."""
    device = notebook()
    joints = [
        joint("a_screws", "screw", "pack chassis", under="fan"),
        joint("b_screws", "screw", "fan chassis", under="pack"),
    ]
    strata = strata_of(Device("d", "d", ("bottom",), device.parts, {j.id: j for j in joints}))
    placed = [part for s in strata.layers["bottom"] for part in s.parts]
    assert sorted(placed) == sorted(part for part in device.parts if part != "chassis")


@settings(max_examples=60)
@given(st.integers(0, 10_000))
def test_laws_of_layers(seed: int) -> None:
    """Every part once; what lies right over a part on its side lies further out, circles aside."""
    device, _ = case_from_seed(seed, MIDDLE)
    strata = strata_of(device)
    layer = {part: s.layer for side in strata.layers.values() for s in side for part in s.parts}
    assert sorted(layer) == sorted(part for part in device.parts if part != device.fixed_part)
    every = strata_module._covers(device, strata.side_of)
    for part, covers in strata.over.items():
        for cover in covers:
            in_circle = layer[cover] >= layer[part]
            assert not in_circle or part in strata_module._all_over(cover, every)
    for each in device.joints.values():
        assert keeper_of(device, strata, each) in each.joins
    assert to_text(draw_layers(device)) == to_text(draw_layers(device))
