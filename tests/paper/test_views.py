"""The device from its sides: places true to scale, a step lit, the state of that moment."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lastscrew.device.model import Device, Fastener
from lastscrew.device.reading import load_device
from lastscrew.fasteners.tightening import tightening_of
from lastscrew.paper.heads import head_radius_mm, recess_of
from lastscrew.paper.sides import crosses, draw_sides
from lastscrew.paper.svg import Element, to_text
from lastscrew.paper.views import WIDTH_MM, Lit, lit_step, views_of
from lastscrew.plan.model import Request
from tests.paper.drawings import overlaps, reread, said
from tests.paper.machines import FOREIGN, LONG, SCRIPT, greedy, notebook, renamed, tower

BOARD = Request(replace=("board",))
DEMO = Path(__file__).parents[2] / "src/lastscrew/demo/notebook.device.yaml"


def joints_drawn(root: Element) -> dict[str, Element]:
    """Groups of joints by their title."""
    return {
        g.findtext("title") or "": g
        for g in root.iter("g")
        if (g.get("class") or "").startswith("joint")
    }


@pytest.mark.parametrize("name", [None, LONG, SCRIPT, FOREIGN])
def test_it_is_well_formed_and_legible(name: str | None) -> None:
    """Whatever things are called."""
    device = notebook() if name is None else renamed(notebook(), name)
    for lit in (None, lit_step(device, greedy(device, BOARD), 1)):
        root = draw_sides(device, lit)
        reread(root)
        assert list(overlaps(root)) == []


def test_every_place_is_where_the_device_file_puts_it() -> None:
    """Positions count from the lower left of the frame; the drawing is to scale."""
    device = notebook()
    view = views_of(device)[0]
    assert (view.low, view.high) == ((0, 0), (300, 210))
    scale = WIDTH_MM / 300
    heads = list(joints_drawn(draw_sides(device))["Cover screws"].iter("circle"))[::2]
    top = 12 + 8
    for head, (x, y) in zip(heads, device.joints["cover_screws"].positions_mm, strict=True):
        assert float(head.get("cx", "")) == pytest.approx(x * scale, abs=0.01)
        assert float(head.get("cy", "")) == pytest.approx(top + (210 - y) * scale, abs=0.01)


def test_joints_without_a_place_are_named() -> None:
    """Nothing is left out silently."""
    device = notebook()
    words = said(draw_sides(device))
    assert "Without a place in the device file" in words
    for name in ("Pack plug", "Keys ribbon", "Cover clips", "Keys clips"):
        assert name in words


def test_a_machine_without_places_says_so() -> None:
    """No positions, no outlines: still a drawing, with the joints by name."""
    words = said(draw_sides(tower(3)))
    assert "Module 1 screws" in words
    assert "Without a place" in words


def test_a_step_shows_the_machine_of_that_moment() -> None:
    """Parts that are off are gone, open joints too; the lit one is strong."""
    device = notebook()
    found = greedy(device, BOARD)
    numbers = {step.joint: number for number, step in enumerate(found.way_in, 1)}
    first = draw_sides(device, lit_step(device, found, 1))
    assert {g.findtext("title") for g in first.iter("g") if g.get("class") == "part"} >= {
        "Bottom cover"
    }
    later = draw_sides(device, lit_step(device, found, numbers["sink_screws"]))
    assert "Bottom cover" not in {
        g.findtext("title") for g in later.iter("g") if g.get("class") == "part"
    }
    drawn = joints_drawn(later)
    assert "Cover screws" not in drawn
    assert drawn["Sink screws"].get("class") == "joint lit"


def test_steps_run_through_both_ways() -> None:
    """The first closing comes after the last opening; no step 0, none behind the last."""
    device = notebook()
    found = greedy(device, BOARD)
    count = len(found.way_in) + len(found.way_out)
    last = lit_step(device, found, count)
    assert last is not None
    assert (last.joint, last.limb) == (found.way_out[-1].joint, "out")
    assert last.opened == {last.joint}
    first_out = lit_step(device, found, len(found.way_in) + 1)
    assert first_out is not None
    assert first_out.opened == found.open_at_turning
    assert lit_step(device, found, 0) is None
    assert lit_step(device, found, count + 1) is None


@pytest.mark.parametrize("limb", ["in", "out"])
def test_numbers_are_the_order_of_turning(limb: str) -> None:
    """Tightening order when closed, backwards when opened, at the places that they mean."""
    device = notebook()
    order = tightening_of(device, "sink_screws")
    assert order is not None
    places = order.loosening if limb == "in" else order.order
    lit = Lit("sink_screws", "in" if limb == "in" else "out", 1, "bottom", frozenset())
    group = joints_drawn(draw_sides(device, lit))["Sink screws"]
    written = [e.text for e in group.iter("text")]
    by_place = {place.number: str(n) for n, place in enumerate(places, 1)}
    assert written == [by_place[number] for number in range(4)]


@pytest.mark.parametrize(
    ("drive", "recess"),
    [("PH1", "cross"), ("PZ2", "cross"), ("JIS 0", "cross"), ("T5", "star"), ("IP6", "star"), ("H2.5", "hexagon"),
     ("HEX13", "hex_head"), ("SL3", "slot"), ("S1", "square"), ("odd", ""), ("", "")],
)  # fmt: skip
def test_recesses_are_told_by_the_mark_of_the_drive(drive: str, recess: str) -> None:
    """The usual marks, and nothing for others."""
    device = notebook()
    fasteners = {"m2x5": replace(device.fasteners["m2x5"], drive=drive)}
    odd = replace(device, fasteners=fasteners)
    assert recess_of(odd, odd.joints["cover_screws"]) == recess


def test_heads_grow_with_the_thread() -> None:
    """M2 about 4 mm wide, M3 about 5.6 mm; no thread, a usual size."""

    def radius(thread: str | None) -> float:
        device: Device = replace(notebook(), fasteners={"m2x5": Fastener("m2x5", thread)})
        return head_radius_mm(device, device.joints["cover_screws"])

    assert radius("M2") == pytest.approx(2.0, abs=0.15)
    assert radius("M3") == pytest.approx(2.8, abs=0.15)
    assert radius(None) == radius("M2")
    assert radius("M1.6") < radius("M2.5")


@pytest.mark.parametrize(
    ("one", "other", "crossing"),
    [((-1, 5), (11, 5), True), ((-1, 11), (11, 11), False), ((5, 5), (6, 6), True), ((-5, 0), (0, 20), False),
     ((0, 12), (12, 0), True), ((20, 5), (30, 5), False)],
)  # fmt: skip
def test_lines_through_a_box_are_found(
    one: tuple[float, float], other: tuple[float, float], crossing: bool
) -> None:
    """Through, past, inside, beside."""
    assert crosses(one, other, (0, 0, 10, 10)) is crossing


def test_the_same_device_gives_the_same_bytes() -> None:
    """Drawn twice."""
    assert to_text(draw_sides(notebook())) == to_text(draw_sides(notebook()))


def test_the_frame_is_drawn_where_no_outline_says_where_the_machine_ends() -> None:
    """Screws without outlines stand in their frame, not in empty paper."""
    device = notebook()
    bare = replace(
        device,
        frame_mm=dict.fromkeys(device.sides, (500.0, 400.0)),
        parts={key: replace(part, outline_mm=()) for key, part in device.parts.items()},
    )
    root = draw_sides(bare)
    frames = [g for g in root.iter("g") if g.get("class") == "frame"]
    drawn = [view for view in views_of(bare) if view.joints]
    assert [f.findtext("title") for f in frames] == [f"{v.side}, 500 × 400 mm" for v in drawn]
    assert drawn
    assert all(f.find("polygon") is not None for f in frames)
    assert list(overlaps(root)) == []


def test_parts_and_joints_can_be_told_apart_on_a_page_and_thought_away() -> None:
    """Groups carry ids; what is thought away is gone with its joints, and nothing else moves."""
    device = load_device(DEMO.read_bytes(), DEMO.name)
    whole, opened = draw_sides(device), draw_sides(device, away=("bottom_cover",))
    named = {g.get("data-part"): g for g in whole.iter("g") if g.get("data-part")}
    rest = {g.get("data-part"): g for g in opened.iter("g") if g.get("data-part")}
    assert set(rest) == set(named) - {"bottom_cover"}
    assert "bottom_cover" in named
    joints = [j for g in opened.iter("g") if (j := g.get("data-joint"))]
    assert joints
    assert not any("bottom_cover" in device.joints[j].joins for j in joints)
    one = drawn_sizes(whole)
    assert all(one[part] == size for part, size in drawn_sizes(opened).items())


def drawn_sizes(root: Element) -> dict[str, float]:
    """Width on paper of each part's outline."""
    found = {}
    for group in root.iter("g"):
        outline = group.find("polygon")
        if group.get("data-part") and outline is not None:
            xs = [float(pair.split(",")[0]) for pair in outline.get("points", "").split()]
            found[group.get("data-part", "")] = max(xs) - min(xs)
    return found
