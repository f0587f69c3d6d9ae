"""Grades of fasteners and tools, priority parts, and the index put together with what is not known."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import Access, Act, Device, Joint, Part, Spare, Supply, Tool
from lastscrew.measures.grades import grade_fastener, grade_tool
from lastscrew.measures.index import LEAST, MOST, class_of, index_of, part_weights, weighted
from lastscrew.measures.priority import applies, propose
from lastscrew.measures.report import measure_piece, report_index

TOOLS = {
    "driver": Tool("driver", "cross-recess screwdriver", ("PH1",)),
    "star": Tool("star", "star driver", ("P5",)),
    "mat": Tool("mat", "heat mat"),
    "card": Tool("card", "thin plastic card"),
    "lever": Tool("lever", "nylon lever"),
    "strange": Tool("strange", "electric screwdriver", ("PH1",)),
}


def joint(
    name: str, joins: str, kind: str = "screw", tool: str | None = None, **keys: object
) -> Joint:
    made = Joint(name, kind, tuple(joins.split()), (Access("back", tool),), rigid=True)
    return replace(made, **keys)  # type: ignore[arg-type]


GLUE = joint("glue", "pack housing", "adhesive", "card", renew={"strip": 2.0})
LID = joint("lid_screws", "lid housing", tool="driver")


def phone(**changes: object) -> Device:
    under_lid = replace(GLUE, accesses=(Access("back", "card", ("lid",)),))
    device = Device(
        "p",
        "Phone",
        ("back",),
        {
            "housing": Part("housing", "Housing", fixed=True),
            "lid": Part("lid", "Back cover"),
            "pack": Part("pack", "Battery pack", energy=True),
            "board": Part("board", "Main board"),
            "speaker": Part("speaker", "Loudspeaker"),
        },
        {
            "lid_screws": LID,
            "glue": under_lid,
            "plug": joint("plug", "pack board", "plug", isolates=True, rigid=False),
            "board_screws": joint("board_screws", "board housing", tool="star"),
            "speaker_clip": joint("speaker_clip", "speaker housing", "clip"),
        },
        kind="smartphone",
        tools=TOOLS,
        supplies={"strip": Supply("strip", "adhesive strip")},
    )
    return replace(device, **changes)  # type: ignore[arg-type]


# --- fasteners ----------------------------------------------------------------------------------


def test_what_goes_back_is_reusable() -> None:
    """Screws, clips and plugs that are used again: 5; compound under a heat sink does not change that."""
    device = phone()
    assert grade_fastener(device, LID, ["lid"]).grade == "reusable"
    with_compound = replace(LID, renew={"compound": 0.3})
    assert grade_fastener(device, with_compound, ["lid"]).score == 5
    assert grade_fastener(device, replace(LID, reuse="inspect"), ["lid"]).score == 5


def test_what_comes_with_the_spare_is_resupplied() -> None:
    """Strips that a spare of this part brings: 3. With a spare of another part, or not at all: 1."""
    kit = {"kit": Spare("kit", "Pack with strips", ("pack",), includes=("strip",))}
    device = phone(spares=kit)
    assert grade_fastener(device, GLUE, ["pack"]).grade == "resupplied"
    assert grade_fastener(device, GLUE, ["speaker"]).grade == "removable"
    assert grade_fastener(phone(), GLUE, ["pack"]).grade == "removable"


def test_single_use_screws() -> None:
    """New screws every time: 1, or 3 where the spare brings them."""
    once = replace(LID, reuse="single_use", fastener="m2")
    assert grade_fastener(phone(), once, ["lid"]).score == 1
    kit = {"kit": Spare("kit", "Lid with screws", ("lid",), includes=("m2",))}
    assert grade_fastener(phone(spares=kit), once, ["lid"]).score == 3


@pytest.mark.parametrize("kind", ["adhesive", "tape", "tie", "rivet", "solder"])
def test_what_is_used_up_by_its_kind_is_not_taken_for_reusable(kind: str) -> None:
    """Where the file says nothing of renewal, glue and rivets are graded 1, marked as assumed."""
    graded = grade_fastener(phone(), joint("x", "lid housing", kind), ["lid"])
    assert (graded.score, graded.assumed) == (1, True)


# --- tools --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tool", "grade", "assumed"),
    [
        (None, "none", False),
        ("driver", "basic", True),
        ("lever", "basic", True),
        ("star", "commercial", True),
        ("mat", "commercial", True),
        ("card", "commercial", True),
        ("strange", "commercial", True),
        ("gone", "commercial", True),
    ],
)
def test_tools_by_drive_and_name(tool: str | None, grade: str, assumed: bool) -> None:
    """The hand is no tool; known drives and words are basic; all else is taken as sold in shops."""
    graded = grade_tool(phone(), tool, {})
    assert (graded.grade, graded.assumed) == (grade, assumed)


def test_what_is_said_of_a_tool_counts() -> None:
    """A grade that a person gives is no guess."""
    graded = grade_tool(phone(), "mat", {"mat": "with product"})
    assert (graded.grade, graded.score, graded.assumed) == ("with product", 2, False)


# --- a part on its way --------------------------------------------------------------------------


def test_the_worst_on_the_way_counts() -> None:
    """Pack: lid screws and plug go back, the strip does not; card and driver, of which the card is worse."""
    measure = measure_piece(phone(), "pack")
    assert measure.depth.count == 3
    assert measure.worst_fastener is not None
    assert measure.worst_fastener.id == "glue"
    assert measure.worst_tool is not None
    assert measure.worst_tool.id == "card"
    assert [t.id for t in measure.tools] == ["driver", "card"] or len(measure.tools) == 2


def test_acts_on_the_way_bring_their_tools() -> None:
    """Heat before the glue is opened: the mat counts; heat before it is closed does not."""
    before = {"heat": Act("heat", "Warm it.", "before_open", joint="glue", tool="mat")}
    after = {"heat": Act("heat", "Warm it.", "before_close", joint="glue", tool="mat")}
    assert "mat" in [t.id for t in measure_piece(phone(acts=before), "pack").tools]
    assert "mat" not in [t.id for t in measure_piece(phone(acts=after), "pack").tools]


# --- priority parts -----------------------------------------------------------------------------


def test_proposals_rest_on_names() -> None:
    """Battery, back cover and loudspeaker by name; the fixed part and what is not named so never."""
    assert propose(phone()) == {"BAT": ("pack",), "BC": ("lid",), "SPK": ("speaker",)}


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("Display with glass", "DA"), ("Screen cable", None), ("Rear camera", "RFC"), ("Front-facing camera", "FFC"),
        ("Camera", None), ("Camera window", None), ("Socket board with ribbon", "EC"), ("Battery plug", None),
        ("Power button board", "BUT"), ("Keyboard", None), ("Microphone", "MIC"), ("Pair of loudspeakers", "SPK"),
        ("Speaker gasket", None), ("Clock battery", None), ("Left hinge", None),
    ],
)  # fmt: skip
def test_names_that_are_proposed(name: str, code: str | None) -> None:
    """Whole names only: what belongs to a part is not that part."""
    device = phone(
        parts={"base": Part("base", "Base", fixed=True), "x": Part("x", name)}, joints={}
    )
    assert list(propose(device)) == ([code] if code else [])


def test_where_the_index_applies() -> None:
    """Smartphones and slates; nothing else, and nothing of an unknown kind."""
    assert applies(phone())
    assert applies(phone(kind="Slate"))
    assert not applies(phone(kind="notebook"))
    assert not applies(phone(kind=""))


# --- the index put together ---------------------------------------------------------------------


def test_a_whole_report_by_hand() -> None:
    """All parts named or absent, all parameters given: the figures of a hand calculation."""
    device = phone()
    pieces = {"BAT": [measure_piece(device, "pack")], "BC": [measure_piece(device, "lid")]}
    absent = [code for code in part_weights() if code not in pieces]
    given_by_hand = {"SSP": 4, "SSU": 5, "SRI": 3}
    report = report_index(device, pieces, absent, given=given_by_hand)
    # Pack: 3 steps = 4, strip = 1, card = 1. Lid: 1 step = 5, screws = 5, driver = 4. Absent: 5.
    sdd = Fraction(3, 10) * 4 + Fraction(7, 10) * 5
    sf = Fraction(3, 10) * 1 + Fraction(7, 10) * 5
    st_ = Fraction(3, 10) * 1 + Fraction(1, 10) * 4 + Fraction(6, 10) * 5
    assert report.parameters["SDD"] == (sdd, sdd)
    assert report.parameters["SF"] == (sf, sf)
    assert report.parameters["ST"] == (st_, st_)
    whole = Fraction(25, 100) * sdd + Fraction(15, 100) * (sf + st_ + 12)
    assert report.index == (whole, whole)
    assert report.classes == (class_of(whole), class_of(whole))
    assert report.given == ("SSP", "SSU", "SRI")


def test_what_is_not_known_widens_the_span() -> None:
    """Nothing named, nothing given: everything from 1 to 5, every class possible."""
    report = report_index(phone(), {})
    assert report.index == (Fraction(LEAST), Fraction(MOST))
    assert report.classes == ("E", "A")
    assert not any(part.is_known for part in report.parts)


def test_of_several_the_lowest_counts_and_authorisation_costs() -> None:
    """Two microphones: the deeper one; a new battery that must be authorised: 3 steps count as 8."""
    device = phone()
    both = [measure_piece(device, "lid"), measure_piece(device, "pack")]
    report = report_index(device, {"MIC": both, "BAT": both[1:]}, authorised=["BAT"])
    by_code = {part.code: part for part in report.parts}
    assert by_code["MIC"].scores["SDD"] == (4, 4)
    assert by_code["MIC"].scores["SF"] == (1, 1)
    assert by_code["BAT"].scores["SDD"] == (3, 3)


def test_a_part_without_a_way_out_scores_the_least() -> None:
    """No way out of this device: 1 for depth, fasteners and tools."""
    stuck = {
        "a": replace(LID, id="a", accesses=(Access("back", None, ("pack",)),)),
        "b": replace(
            LID, id="b", joins=("pack", "housing"), accesses=(Access("back", None, ("lid",)),)
        ),
    }
    device = phone(joints=stuck)
    report = report_index(device, {"BC": [measure_piece(device, "lid")]})
    scores = next(part for part in report.parts if part.code == "BC").scores
    assert set(scores.values()) == {(1, 1)}


scores = st.integers(1, 5)


@given(st.fixed_dictionaries(dict.fromkeys(part_weights(), scores)))
def test_weighted_scores_stay_within_their_parts(by_part: dict[str, int]) -> None:
    """A weighted score lies between the least and the greatest of its parts."""
    assert min(by_part.values()) <= weighted(by_part) <= max(by_part.values())


@given(
    st.fixed_dictionaries(dict.fromkeys(("SDD", "SF", "ST", "SSP", "SSU", "SRI"), scores)),
    st.data(),
)
def test_a_better_parameter_never_lowers_the_index(
    values: dict[str, int], data: st.DataObject
) -> None:
    """Raising any one parameter raises the index and never worsens the class."""
    name = data.draw(st.sampled_from(sorted(values)))
    better = {**values, name: min(5, values[name] + 1)}
    assert index_of(better) >= index_of(values)
    assert class_of(index_of(better)) <= class_of(index_of(values))


def test_bad_scores_are_refused() -> None:
    """Missing parts, scores off the scale and an index below every class are errors, not numbers."""
    with pytest.raises(ValueError, match="no score for"):
        weighted({"BAT": 5})
    with pytest.raises(ValueError, match="from 1 to 5"):
        weighted(dict.fromkeys(part_weights(), 6))
    with pytest.raises(ValueError, match="no value for"):
        index_of({"SDD": 5})
    with pytest.raises(ValueError, match="1 or more"):
        class_of(Fraction(1, 2))
