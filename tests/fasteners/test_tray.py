"""The tray map and its drawing: what lies where, and that the print is true to scale."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from lastscrew.device.model import Device, Fastener
from lastscrew.fasteners.outlines import Outline, outline_of
from lastscrew.fasteners.tray import TrayMap, tray_map
from lastscrew.fasteners.tray_drawing import (
    DEFAULT_CELL_MM,
    draw_outline,
    sheet_size_mm,
    tray_drawing,
)
from lastscrew.plan.model import Plan, Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from tests.run.machines import radio

RADIO = radio()
SVG = "{http://www.w3.org/2000/svg}"


def board_plan(device: Device = RADIO) -> Plan:
    """Board and panel come out: five joints with loose pieces, one of them single use."""
    return plan(device, Request(replace=("board", "panel"), reach=("pack_screws",)))


def mapped(rows: int = 3, columns: int = 4, trays: int | None = None) -> TrayMap:
    """The map of that plan."""
    return tray_map(RADIO, board_plan(), rows, columns, trays=trays)


def test_groups_lie_in_the_order_of_the_way_out_and_steps_are_those_of_the_plan() -> None:
    found, work = mapped(), board_plan()
    order = [step.joint for step in (*work.way_in, *work.way_out)]
    assert [order[group.step - 1] for group in found.groups] == [g.joint for g in found.groups]
    assert [g.step for g in found.groups] == sorted(g.step for g in found.groups)
    places = [(g.tray, g.row, g.column) for g in found.groups]
    assert places == sorted(places)
    assert found.out_of_order == 0


def test_captive_and_single_use_pieces_have_no_compartment() -> None:
    found = tray_map(RADIO, plan(RADIO, Request(replace=("fan", "panel"))), 3, 4)
    joints = {group.joint for group in found.groups}
    assert joints == {"cover_screws"}
    assert found.thrown_away == ("panel_screws",)


def test_washers_lie_with_their_screws() -> None:
    pieces = {g.joint: [(k.key, n) for k, n in g.pieces] for g in mapped().groups}
    assert pieces["board_screws"] == [("m2x5", 6), ("washer:spring", 2)]
    assert pieces["board_nuts"] == [("unlisted:board_nuts", 2)]


def test_look_alikes_are_kept_apart_and_told() -> None:
    found = mapped()
    assert found.beside == ()
    by_joint = {group.joint: group for group in found.groups}
    pack = by_joint["pack_screws"]
    assert by_joint["board_screws"].compartment in pack.not_the_same_as
    assert by_joint["board_nuts"].not_the_same_as == ()
    for group in found.groups:
        for other in found.groups:
            apart = abs(group.row - other.row) + abs(group.column - other.column)
            assert apart != 1 or other.compartment not in group.not_the_same_as


def test_screws_of_an_unknown_kind_may_look_like_any_other() -> None:
    plain = replace(RADIO.joints["board_screws"], fastener=None)
    device = replace(RADIO, joints={**RADIO.joints, "board_screws": plain})
    found = tray_map(device, board_plan(device), 3, 4)
    by_joint = {group.joint: group for group in found.groups}
    assert by_joint["cover_screws"].compartment in by_joint["board_screws"].not_the_same_as


def test_a_small_tray_is_followed_by_more_of_them() -> None:
    found = mapped(1, 2)
    assert found.trays == 2
    assert {g.compartment for g in found.groups} == {"1-A1", "1-A2", "2-A1", "2-A2"}
    assert found.compartment_of("cover_screws") == "2-A2"
    assert (found.beside, found.out_of_order) == ((), 1)
    assert found.compartment_of("nothing") is None


def test_a_pair_that_lies_side_by_side_is_named_with_what_would_help() -> None:
    found = mapped(1, 4)
    assert found.beside == ()
    tight = tray_map(RADIO, plan(RADIO, Request(reach=("pack_screws",))), 1, 2)
    assert tight.beside == (("A1", "A2"),)
    assert tight.one_more_tray_helps
    drawn = tray_drawing(RADIO, tight)
    assert "A1 and A2 lie side by side and look alike" in drawn
    assert "One more tray" in drawn


@pytest.mark.parametrize(
    ("rows", "columns", "trays", "paths"),
    [
        (0, 4, None, ["--rows"]),
        (21, 0, None, ["--rows", "--columns"]),
        (3, 4, 0, ["--trays"]),
        (1, 1, 2, ["--trays"]),
        (1, 1, 51, ["--trays"]),
    ],
)
def test_trays_that_can_not_be_are_refused(
    rows: int, columns: int, trays: int | None, paths: list[str]
) -> None:
    with pytest.raises(InputError) as caught:
        mapped(rows, columns, trays)
    assert [problem.path for problem in caught.value.problems] == paths


def test_nothing_loose_is_an_empty_tray() -> None:
    found = tray_map(RADIO, plan(RADIO, Request(reach=("panel_screws",))), 2, 2)
    assert found.groups == ()
    assert ET.fromstring(tray_drawing(RADIO, found)) is not None


# --- the drawing ----------------------------------------------------------------------------------


def parsed(device: Device = RADIO, found: TrayMap | None = None) -> ET.Element:
    """The drawing of the map as a tree."""
    return ET.fromstring(tray_drawing(device, found or mapped(), title="Board"))


def test_the_drawing_says_its_size_in_millimetres_and_has_title_and_description() -> None:
    root = parsed()
    width, height = root.attrib["width"], root.attrib["height"]
    assert (width[-2:], height[-2:]) == ("mm", "mm")
    assert root.attrib["viewBox"] == f"0 0 {width[:-2]} {height[:-2]}"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert title.text == "Tray map: Elm: Board"
    assert description is not None
    assert "Cover screws" in (description.text or "")


def test_the_scale_is_fifty_millimetres_long() -> None:
    lengths = [
        float(line.attrib["x2"]) - float(line.attrib["x1"])
        for line in parsed().iter(f"{SVG}line")
        if line.attrib["y1"] == line.attrib["y2"]
    ]
    assert 50.0 in lengths


def test_compartments_are_drawn_as_large_as_they_are() -> None:
    cell = (38.5, 27.0)
    root = ET.fromstring(tray_drawing(RADIO, mapped(3, 4), cell))
    boxes = [r for r in root.iter(f"{SVG}rect") if r.attrib.get("class") in ("thin", "empty")]
    assert len(boxes) == 12
    assert {(float(b.attrib["width"]), float(b.attrib["height"])) for b in boxes} == {cell}
    outer = next(r for r in root.iter(f"{SVG}rect") if r.attrib.get("class") == "wall")
    assert (float(outer.attrib["width"]), float(outer.attrib["height"])) == (4 * 38.5, 81.0)


def test_text_stays_on_the_sheet_and_says_compartment_step_count_and_size() -> None:
    root = parsed()
    width, height = sheet_size_mm(mapped(), DEFAULT_CELL_MM, 5)
    texts = list(root.iter(f"{SVG}text"))
    for text in texts:
        assert 0 <= float(text.attrib["x"]) <= width
        assert 0 <= float(text.attrib["y"]) <= height
    words = " | ".join(text.text or "" for text in texts)
    for expected in ("A1", "step ", "6 × M2 × 5 mm pan PH1", "2 × spring", "Board screws"):
        assert expected in words


def test_a_strangers_names_are_escaped_and_do_not_break_the_drawing() -> None:
    name = '<script>alert(1)</script> & "x" ]]> \x00\x1b Κάλυμμα ' + "long " * 60
    joints = {key: replace(joint, name=name) for key, joint in RADIO.joints.items()}
    device = replace(RADIO, name=name, joints=joints)
    root = parsed(device, tray_map(device, board_plan(device), 3, 4))
    assert not list(root.iter(f"{SVG}script"))
    assert "\x00" not in ET.tostring(root, "unicode")


def outline(fastener: Fastener) -> Outline:
    """The outline of a fastener that has one."""
    found = outline_of(fastener)
    assert found is not None
    return found


def extent(found: Outline) -> tuple[float, float]:
    """Width and height that an outline takes on the sheet, in mm."""
    root = ET.Element("svg")
    draw_outline(root, found, 0.0, 0.0)
    xs: list[float] = []
    ys: list[float] = []
    for element in root.iter():
        a = element.attrib
        if element.tag == "rect":
            xs += [float(a["x"]), float(a["x"]) + float(a["width"])]
            ys += [float(a["y"]), float(a["y"]) + float(a["height"])]
        elif element.tag == "polygon":
            points = [pair.split(",") for pair in a["points"].split()]
            xs += [float(x) for x, _ in points]
            ys += [float(y) for _, y in points]
        elif element.tag == "path":
            numbers = [
                float(n)
                for n in a["d"].replace("M", " ").replace("C", " ").replace("Z", "").split()
            ]
            xs += numbers[::2]
            ys += numbers[1::2]
    return max(xs) - min(xs), max(ys) - min(ys)


@pytest.mark.parametrize(
    ("fastener", "length", "head"),
    [
        (Fastener("a", "M2", 5, "PH1", "pan"), 5 + 1.6, 4.0),
        (Fastener("b", "M3", 8, "PH1", "flat"), 8.0, 5.5),
        (Fastener("c", "M4", 12, "H3", "socket"), 12 + 4.0, 7.0),
        (Fastener("e", "M5", 12, "H4", "button"), 12 + 2.75, 9.5),
        (Fastener("f", "M8", 25, "HEX13", "hexagon"), 25 + 5.3, 13.0),
        (Fastener("d", "M2.5", 6, "T6", "grub"), 6.0, 2.5),
    ],
)
def test_outlines_are_drawn_at_one_to_one(fastener: Fastener, length: float, head: float) -> None:
    assert extent(outline(fastener)) == pytest.approx((length, head))


def test_a_nut_is_drawn_as_wide_as_its_flats_and_as_high_as_it_is() -> None:
    found = outline_of(Fastener("n", "M3"), nut=True)
    assert found is not None
    assert extent(found) == pytest.approx((2.4, 5.5))


def test_what_is_not_known_is_assumed_and_said_or_not_drawn() -> None:
    assert outline_of(None) is None
    assert outline_of(Fastener("a", length_mm=5)) is None
    assert outline_of(Fastener("a", "M2")) is None
    assert outline(Fastener("a", "M2", 5)).assumed == ("head",)
    assert outline(Fastener("a", "M2.2", 5, head="pan")).assumed == ("head size",)
    assert outline(Fastener("a", "PT 3", 5, head="wafer")).assumed == ("head", "thread")
    odd = {**RADIO.fasteners, "m2x5": Fastener("m2x5", "PT 3", 5)}
    device = replace(RADIO, fasteners=odd)
    assert "Head or thread assumed" in tray_drawing(
        device, tray_map(device, board_plan(device), 3, 4)
    )


@pytest.mark.parametrize(
    ("drive", "recess"),
    [("PH1", "cross"), ("pz2", "cross"), ("T5", "star"), ("TX10", "star"), ("H2.5", "hex"), ("SL3", "slot"),
     (None, "none"), ("key", "none")],
)  # fmt: skip
def test_the_recess_follows_the_drive(drive: str | None, recess: str) -> None:
    assert outline(Fastener("a", "M2", 5, drive, "pan")).recess == recess


def test_an_outline_that_is_larger_than_its_compartment_is_left_out_and_said() -> None:
    long_one = {**RADIO.fasteners, "m2x5": Fastener("m2x5", "M2", 80, "PH1", "pan")}
    device = replace(RADIO, fasteners=long_one)
    drawn = tray_drawing(device, tray_map(device, board_plan(device), 3, 4))
    assert "outline larger than the compartment" in drawn
