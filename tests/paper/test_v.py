"""The V: complete, legible, true to time, the same every time."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.device.model import Device
from lastscrew.paper.look import (
    DARK_GREY,
    DARK_INK,
    DARK_PALE,
    DARK_PAPER,
    DARK_WASH,
    GREY,
    INK,
    PALE,
    PAPER,
    SAFETY_COLOURS,
    WASH,
)
from lastscrew.paper.marks import StepMarks, fitting_tags, marks_of, tags_of, tags_width
from lastscrew.paper.rows import course_of, isolated_span
from lastscrew.paper.svg import Element, to_text
from lastscrew.paper.v import VExtras, draw_v, tick_ms, tick_word
from lastscrew.paper.v_layout import cut_rows, lay_out
from lastscrew.plan.briefing import Briefing, brief
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.plan.wording import joint_name
from lastscrew.problems import InputError
from tests.oracle.devices import SMALL, case_from_seed
from tests.paper.drawings import colours, overlaps, reread, said, texts
from tests.paper.machines import FOREIGN, LONG, SCRIPT, greedy, notebook, renamed, tower
from tests.plan_support.machines import machine

ALONE = VExtras("Alder 13: exchange of the board", "revision B", legend=True)
SHAPES = {"rect", "line", "polyline", "polygon", "circle", "path"}
FIELD_LEFT, FIELD_WIDTH = 186 * 0.32, 186 * 0.36
"""Where the V's own field lies on a drawing of the usual width."""


@cache
def the_case(name: str) -> Briefing:
    """A plan of one of the machines, drawn from several tests."""
    device: Device = notebook()
    board = Request(replace=("board",))
    if name == "mirror":
        return brief(device, greedy(device, board))
    if name == "other order":
        return brief(device, greedy(device, board, shuffled=True))
    if name == "open at start":
        request = Request(replace=("board",), opened=("cover_screws", "cover_clips"))
        return brief(device, greedy(device, request))
    if name == "smallest":
        return brief(device, greedy(device, Request(replace=("fan",))))
    if name == "largest":
        stack = tower(50)
        return brief(stack, greedy(stack, Request(reach=tuple(stack.joints))))
    names = {"long names": LONG, "hostile names": SCRIPT, "foreign names": FOREIGN}
    odd = renamed(device, names[name])
    return brief(odd, greedy(odd, board))


CASES = [
    "mirror", "other order", "open at start", "smallest", "largest", "long names", "hostile names", "foreign names",
]  # fmt: skip


@cache
def the_v(name: str) -> Element:
    return draw_v(the_case(name), extras=ALONE, pad_mm=5)


@pytest.mark.parametrize("name", CASES)
def test_it_is_well_formed_and_says_what_it_is(name: str) -> None:
    """Title and description come first and say how to get in and out; nothing in it is active."""
    root = reread(the_v(name))
    assert [child.tag.rpartition("}")[2] for child in root[:2]] == ["title", "desc"]
    assert "Way in" in (root[1].text or "")
    assert "Way out" in (root[1].text or "")
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags <= {
        "svg",
        "title",
        "desc",
        "style",
        "g",
        "rect",
        "line",
        "polyline",
        "polygon",
        "circle",
        "text",
        "path",
    }
    assert not any(
        key.startswith("on") or key.endswith("href") for e in root.iter() for key in e.attrib
    )


@pytest.mark.parametrize("name", CASES)
def test_every_step_is_there(name: str) -> None:
    """Each step has its number and its name on its side, and a stroke of the limb."""
    briefing = the_case(name)
    course = course_of(briefing.device, briefing.plan)
    root = the_v(name)
    titles = {title.text for title in root.iter("title")}
    strokes = {e.get("data-step") for e in root.iter("polyline")}
    for timed in (*course.way_in, *course.way_out):
        verb = "open" if timed.step.limb == "in" else "close"
        title = f"Step {timed.number}: {verb} {joint_name(briefing.device, timed.step.joint)}"
        assert title.replace("\x00", "\ufffd").replace("\x1b", "\ufffd") in titles
        assert str(timed.number) in strokes


@pytest.mark.parametrize("name", CASES)
def test_no_text_runs_into_another(name: str) -> None:
    """Checked by boxes that are rather too wide than too narrow."""
    assert list(overlaps(the_v(name))) == []


@pytest.mark.parametrize("name", CASES)
def test_all_text_stays_on_the_paper(name: str) -> None:
    """Nothing is cut off at the edges."""
    left, top, width, height = (float(v) for v in (the_v(name).get("viewBox") or "").split())
    for words in texts(the_v(name)):
        assert left <= words.left, words
        assert words.right <= left + width, words
        assert top <= words.top <= words.bottom <= top + height, words


def test_the_same_plan_gives_the_same_bytes() -> None:
    """Drawn twice, and from a device whose keys stand in another order."""
    briefing = the_case("mirror")
    again = brief(notebook(), greedy(notebook(), Request(replace=("board",))))
    assert to_text(draw_v(briefing)) == to_text(draw_v(again))
    swapped = replace(
        briefing.device,
        hazards=dict(reversed(list(briefing.device.hazards.items()))),
        tools=dict(reversed(list(briefing.device.tools.items()))),
    )
    assert to_text(draw_v(brief(swapped, briefing.plan), extras=ALONE)) == to_text(
        draw_v(briefing, extras=ALONE)
    )


def test_colour_is_for_safety_only() -> None:
    """Ink, greys, paper, and the four grounds of signal words: nothing else."""
    inks = {
        INK,
        GREY,
        PALE,
        WASH,
        PAPER,
        DARK_INK,
        DARK_GREY,
        DARK_PALE,
        DARK_WASH,
        DARK_PAPER,
        "#000",
        "#fff",
        "#000000",
    }
    assert colours(to_text(the_v("mirror"))) <= inks | set(SAFETY_COLOURS)
    assert all(len({c[1:3], c[3:5], c[5:7]}) == 1 or c in ("#000", "#fff") for c in inks)


def test_time_is_true_to_scale_across() -> None:
    """The ends of every stroke lie where its begin and end lie in the whole time."""
    briefing = the_case("other order")
    course = course_of(briefing.device, briefing.plan)
    strokes = {
        e.get("data-step"): e.get("points", "") for e in the_v("other order").iter("polyline")
    }
    for timed in (*course.way_in, *course.way_out):
        begin, end = (float(p.split(",")[0]) for p in strokes[str(timed.number)].split())
        assert begin == pytest.approx(
            FIELD_LEFT + FIELD_WIDTH * timed.start_ms / course.total_ms, abs=0.01
        )
        assert end == pytest.approx(
            FIELD_LEFT + FIELD_WIDTH * timed.end_ms / course.total_ms, abs=0.01
        )


def test_the_limbs_fall_and_rise() -> None:
    """On the way in strokes run down, on the way out up."""
    briefing = the_case("mirror")
    count = len(briefing.plan.way_in)
    for element in the_v("mirror").iter("polyline"):
        number = element.get("data-step")
        if number is not None:
            top, bottom = (float(p.split(",")[1]) for p in element.get("points", "").split())
            assert (top < bottom) == (int(number) <= count)


def test_opening_and_closing_of_a_joint_stand_at_one_height() -> None:
    """The two names of a row share their baseline."""
    heights: dict[str, set[str]] = {}
    for group in the_v("mirror").iter("g"):
        if group.get("class") == "step":
            name = (group.findtext("title") or "").split(" ", 3)[3]
            number = group.find("text")
            assert number is not None
            heights.setdefault(name, set()).add(number.get("y", ""))
    assert len(heights) == len(the_case("mirror").plan.way_in)
    assert all(len(found) == 1 for found in heights.values())


def test_a_step_without_its_partner_is_seen() -> None:
    """A joint open at the start has a ring where its opening would be, and words that say so."""

    def rings(root: Element) -> int:
        return sum(e.get("class") == "ring" and e.get("r") == "1.3" for e in root.iter("circle"))

    assert rings(draw_v(the_case("mirror"))) == 0
    assert rings(draw_v(the_case("open at start"))) == 2
    assert said(the_v("open at start")).count("open at the start") >= 2


def test_a_closing_out_of_order_leaves_the_limb() -> None:
    """Jumps are drawn where, and only where, the way out is not the way in backwards."""

    def jumps(name: str) -> int:
        return sum(e.get("class") == "jump" for e in the_v(name).iter("polyline"))

    assert jumps("mirror") == 0
    assert jumps("other order") > 0


def test_the_time_without_power_is_a_band() -> None:
    """It reaches from the end of isolation to the return of the power."""
    briefing = the_case("mirror")
    course = course_of(briefing.device, briefing.plan)
    span = isolated_span(briefing.device, course)
    assert span is not None
    band = next(
        g for g in the_v("mirror").iter("g") if g.findtext("title") == "While the power is away"
    )
    rect = band.find("rect")
    assert rect is not None
    scale = FIELD_WIDTH / course.total_ms
    assert float(rect.get("x", "")) == pytest.approx(FIELD_LEFT + span[0] * scale, abs=0.01)
    assert float(rect.get("width", "")) == pytest.approx((span[1] - span[0]) * scale, abs=0.01)


def test_marks_say_the_words_of_the_standard() -> None:
    """Signal words in words, so that nothing depends on colour; hold points too."""
    words = {e.text for e in the_v("mirror").iter("text")}
    assert {"DANGER", "WARNING", "CAUTION", "NOTICE", "HOLD"} <= words


def test_turns_and_swaps_are_marked_at_the_limb() -> None:
    """As many marks as the plan has setups, on the limb and beside the stage."""
    briefing = the_case("largest")
    steps = (*briefing.plan.way_in, *briefing.plan.way_out)
    turns = sum(step.turn_ms > 0 for step in steps)
    swaps = sum(step.swap_ms > 0 and not step.turn_ms for step in steps)
    titles = [g.findtext("title") for g in draw_v(briefing).iter("g")]
    assert titles.count("turn the machine") == 2 * turns
    assert titles.count("another tool") == 2 * swaps


def test_many_rows_are_cut_for_pages_and_none_is_lost() -> None:
    """Pieces follow one another, fit, and together hold every step once."""
    briefing = the_case("largest")
    course = course_of(briefing.device, briefing.plan)
    pieces = cut_rows(course, 240)
    assert pieces[0][0] == 0
    assert pieces[-1][1] == len(course.rows) == 150
    assert all(one[1] == other[0] for one, other in pairwise(pieces))
    assert all(lay_out(course, 186, piece).height <= 240 for piece in pieces)
    strokes = [
        int(e.get("data-step", "0"))
        for piece in pieces
        for e in draw_v(briefing, rows=piece).iter("polyline")
        if e.get("data-step")
    ]
    assert sorted(strokes) == list(range(1, 301))


@given(st.integers(1, 10**9), st.floats(20, 200))
def test_time_marks_are_round_and_apart(total: int, width: float) -> None:
    """Their labels have room, or there are only a few days' worth of them."""
    step = tick_ms(total, width)
    assert step * width / total >= 10.5 or step == 86_400_000
    assert step % 5_000 == 0


@pytest.mark.parametrize(
    ("ms", "word"), [(0, "0:00"), (65_000, "1:05"), (3_600_000, "1 h 00"), (5_430_000, "1 h 30")]
)
def test_moments_are_read_as_minutes(ms: int, word: str) -> None:
    """Minutes and seconds, then hours and minutes."""
    assert tick_word(ms) == word


def test_tags_that_do_not_fit_are_counted() -> None:
    """What gives way is the least severe, and its number is shown."""
    device = notebook()
    tags = tags_of(device, StepMarks(("care", "edge", "pack", "arc"), hold=True, live=True))
    assert [tag.kind for tag in tags] == ["hold", "live", "danger", "warning", "caution", "notice"]
    shown = fitting_tags(tags, 50)
    assert tags_width(shown) <= 50
    assert shown[-1].word == f"+{len(tags) - len(shown) + 1}"
    assert [tag.kind for tag in shown[:3]] == ["hold", "live", "danger"]


def test_marks_come_from_the_briefing() -> None:
    """Hold points, hazards and live steps of a plan reach their steps."""
    briefing = the_case("mirror")
    marks = marks_of(briefing)
    assert marks["in", "pack_plug"].hold
    assert "arc" in marks["in", "pack_plug"].hazards
    assert {key for key, found in marks.items() if found.live} == set(briefing.still_live)


@settings(max_examples=40)
@given(st.integers(0, 10_000))
def test_any_plan_can_be_drawn(seed: int) -> None:
    """Random machines: well formed, complete, no text in another's way."""
    device, request = case_from_seed(seed, SMALL)
    try:
        found = plan(device, request)
    except InputError:
        return  # an impossible request is no matter of drawing
    root = draw_v(brief(device, found), extras=ALONE, pad_mm=5)
    reread(root)
    assert list(overlaps(root)) == []
    strokes = [e for e in root.iter("polyline") if e.get("data-step")]
    assert len(strokes) == len(found.way_in) + len(found.way_out)


TWO_ISOLATORS = """\
format: 1
device: {name: Rack}
parts: {tub: {fixed: true}, board: {}, one: {energy: true}, two: {energy: true}}
joints:
  plug_one: {kind: plug, joins: [one, tub], isolates: true}
  plug_two: {kind: plug, joins: [two, tub], isolates: true}
  board_plug: {kind: plug, joins: [board, tub], open_s: 90, close_s: 90}
"""


@pytest.mark.parametrize(("reach", "times"), [("board_plug", 1), ("plug_one", 0)])
def test_power_is_called_away_once_and_only_when_every_isolating_joint_is_open(
    reach: str, times: int
) -> None:
    """With one of two plugs still in, the machine is live and the V must not say otherwise."""
    device = machine(TWO_ISOLATORS)
    briefing = brief(device, plan(device, Request(reach=(reach,))))
    drawing = draw_v(briefing, extras=VExtras("Rack", "", legend=False))
    assert said(drawing).splitlines().count("power away") == times
