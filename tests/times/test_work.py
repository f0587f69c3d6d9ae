"""Default open and close times: what influences them, which way, and what they say about themselves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import KINDS, RIGID_KINDS, Access, Device, Fastener, Joint, Part, Tool
from lastscrew.times.most import sequence_tmu
from lastscrew.times.sequences import BUILDERS
from lastscrew.times.work import (
    ASSUMED_SPREAD,
    FILE_SPREAD,
    TABLE_SPREAD,
    JointTime,
    grip_of,
    joint_motions,
    work_times,
)

TOOLS = {
    "driver": Tool("driver", "cross-recess screwdriver", ("PH1",)),
    "electric": Tool("electric", "electric driver"),
    "key": Tool("key", "hex key 2.5"),
    "spanner": Tool("spanner", "open spanner"),
    "pick": Tool("pick", "plastic opening pick"),
}
PARTS = {"base": Part("base", "Base", fixed=True), "lid": Part("lid", "Lid")}


def device_of(
    kind: str,
    access: Access | None = None,
    fastener: Fastener | None = None,
    **keys: Any,  # noqa: ANN401 (keys of a joint)
) -> Device:
    joint = Joint(
        "j",
        kind,
        ("base", "lid"),
        (access or Access("bottom", "driver", close_tool="driver"),),
        keys.pop("rigid", kind in RIGID_KINDS),
        fastener=fastener.id if fastener else None,
        **keys,
    )
    fasteners: Mapping[str, Fastener] = {fastener.id: fastener} if fastener else {}
    return Device("d", "D", ("bottom",), PARTS, {"j": joint}, tools=TOOLS, fasteners=fasteners)


def time_of(kind: str, access: Access | None = None, **keys: Any) -> JointTime:  # noqa: ANN401 (keys of a joint)
    (time,) = work_times(device_of(kind, access, **keys))["j"]
    return time


def by(tool: str | None) -> Access:
    return Access("bottom", tool, close_tool=tool)


M2X5 = Fastener("m2x5", "M2", 5.0, "PH1")


def test_every_kind_has_sequences() -> None:
    """No kind of the device file is without a way to open and a way to close."""
    assert set(BUILDERS) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("tool", [None, *TOOLS])
@pytest.mark.parametrize("count", [1, 7])
def test_sequences_keep_to_the_card_and_give_reasons(
    kind: str, tool: str | None, count: int
) -> None:
    """Every index is on the card, every motion has a reason, the time is the sum of what is written."""
    device = device_of(kind, by(tool), count=count)
    joint = device.joints["j"]
    time = work_times(device)["j"][0]
    for closing, ms, source in (
        (False, time.open_ms, time.open_source),
        (True, time.close_ms, time.close_source),
    ):
        motions = joint_motions(device, joint, joint.accesses[0], closing=closing)
        assert all(motion.why and motion.times >= 1 for motion in motions)
        tmu = sum(sequence_tmu(motion.sequence) * motion.times for motion in motions)
        assert ms == tmu * 36 > 0
        assert source.endswith(f"= {tmu} TMU")


def test_one_screw_written_out() -> None:
    """M2×5 by a driver: 4 mm and half of the last one at 0.4 mm pitch are 11.25 turns, index 16."""
    time = time_of("screw", fastener=M2X5)
    assert time.open_source == "table, basic MOST: [A1 P3 L16] + [A1 G3 A1 P1] = 260 TMU"
    assert time.open_ms == 9_360
    assert time.close_source == "table, basic MOST: [A1 G3 A1 P3] + [A1 P3 F16] = 280 TMU"
    assert time.close_ms == 10_080
    assert time.assumed == ()


def test_times_of_the_device_file_are_taken_as_they_are() -> None:
    """Given seconds win over the table, name the file as source, and feel neither pace nor allowance."""
    access = Access("bottom", "driver", close_tool="driver", open_ms=1_234, close_ms=None)
    device = device_of("screw", access, M2X5)
    plain = work_times(device)["j"][0]
    slow = work_times(device, pace=1.5, allowance=0.2)["j"][0]
    assert (plain.open_ms, plain.open_source, plain.open_spread) == (
        1_234,
        "device file",
        FILE_SPREAD,
    )
    assert slow.open_ms == 1_234
    assert plain.close_source.startswith("table")
    assert slow.close_ms == round(plain.close_ms * 1.5 * 1.2)


def test_a_given_time_of_nothing_is_nothing() -> None:
    """0 s in the file is a time, not a gap."""
    assert time_of("plug", Access("bottom", open_ms=0, close_ms=0)).open_ms == 0


@pytest.mark.parametrize("word", ["count", "tool", "fastener", "open_s"])
def test_unknown_is_assumed_and_said(word: str) -> None:
    """What the file calls unknown is taken by default, named as assumed, and less sure."""
    time = time_of("screw", fastener=M2X5, unknown=(word,))
    assert time.assumed
    assert time.open_source.startswith("assumed (")
    assert time.open_spread == ASSUMED_SPREAD > TABLE_SPREAD
    if word == "open_s":
        assert time.close_spread == TABLE_SPREAD


def test_unknown_in_one_access_touches_only_that_access() -> None:
    """An access whose tool is unknown is assumed, its neighbour is not."""
    joint = Joint(
        "j",
        "clip",
        ("base", "lid"),
        (by("pick"), Access("bottom", unknown=("tool",))),
        rigid=True,
    )
    device = Device("d", "D", ("bottom",), PARTS, {"j": joint}, tools=TOOLS)
    known, guessed = work_times(device)["j"]
    assert not known.assumed
    assert guessed.assumed == ("no tool",)


def test_a_screw_without_a_fastener_says_what_it_took() -> None:
    """No thread, no length: both are named with their figures."""
    time = time_of("screw")
    assert time.assumed == ("thread 2 mm with pitch 0.4 mm", "length 4 mm")
    assert time.open_spread == ASSUMED_SPREAD


@pytest.mark.parametrize("kind", KINDS)
@given(count=st.integers(1, 998))
def test_more_pieces_take_longer_but_no_more_than_in_proportion(kind: str, count: int) -> None:
    """Time grows with the count, at most in proportion to it."""
    one, more = time_of(kind, count=count), time_of(kind, count=count + 1)
    assert one.open_ms <= more.open_ms
    assert one.close_ms <= more.close_ms
    assert more.open_ms * count <= one.open_ms * (count + 1)


@given(
    length=st.floats(1, 60),
    longer=st.floats(0, 40),
    size=st.sampled_from(["M1.2", "M1.6", "M2", "M3", "M5", "ST2.9", "6-32 UNC", "PT 3"]),
    tool=st.sampled_from(sorted(TOOLS)),
)
def test_a_longer_screw_never_takes_less(
    length: float, longer: float, size: str, tool: str
) -> None:
    """Length counts, one way only."""
    short = time_of("screw", by(tool), fastener=Fastener("f", size, length))
    long = time_of("screw", by(tool), fastener=Fastener("f", size, length + longer))
    assert short.open_ms <= long.open_ms
    assert short.close_ms <= long.close_ms


def test_length_pitch_and_drive_matter() -> None:
    """A long one takes longer than a short one, a fine pitch than a coarse one, a slot than a cross."""

    def opening(thread: str, length: float, drive: str) -> int:
        return time_of("screw", fastener=Fastener("f", thread, length, drive)).open_ms

    assert opening("M3", 4, "PH1") < opening("M3", 8, "PH1") < opening("M3", 25, "PH1")
    assert opening("M3x0.35", 6, "PH1") > opening("M3", 6, "PH1")
    assert opening("M3", 6, "SL3") > opening("M3", 6, "PH1")


def test_tools_matter() -> None:
    """For one M4 × 12: power tool, driver in the fingers, spanner, key that stays on."""
    m4 = Fastener("m4", "M4", 12.0, "H3")
    times = [
        time_of("screw", by(t), fastener=m4).open_ms
        for t in ("electric", "driver", "spanner", "key")
    ]
    assert times == sorted(times)
    assert len(set(times)) == 4


def test_captive_and_loosened_only() -> None:
    """A captive screw saves the way to the tray; one that is only loosened saves most turns too."""
    loose = time_of("screw", fastener=M2X5)
    captive = time_of("screw", fastener=M2X5, captive=True)
    loosened = time_of("screw", fastener=M2X5, loosen_only=True)
    assert loosened.open_ms < captive.open_ms < loose.open_ms
    assert loosened.close_ms < captive.close_ms < loose.close_ms


def test_a_torque_asks_for_a_second_round() -> None:
    """Four screws with a torque are gone round once more (position and one turn of the wrist each)."""
    plain = time_of("screw", fastener=M2X5, count=4)
    tight = time_of("screw", fastener=M2X5, count=4, torque_ncm=17.0)
    assert tight.close_ms - plain.close_ms == 4 * sequence_tmu("A1 P3 F3") * 36
    from_fastener = time_of(
        "screw", fastener=Fastener("m2x5", "M2", 5.0, "PH1", torque_ncm=17.0), count=4
    )
    assert from_fastener == tight


def test_crosswise_breaks_loose_first_and_starts_all_by_hand() -> None:
    """An order costs a first round in both directions."""
    any_order = time_of("screw", fastener=M2X5, count=4)
    crosswise = time_of("screw", fastener=M2X5, count=4, order="crosswise")
    assert crosswise.open_ms - any_order.open_ms == 4 * sequence_tmu("A1 P3 L3") * 36
    assert crosswise.close_ms > any_order.close_ms


def test_washers_and_renewed_supplies_take_time() -> None:
    """Loose washers go to the tray and back; what is renewed is laid on."""
    plain = time_of("screw", fastener=M2X5, count=4)
    washers = time_of("screw", fastener=M2X5, count=4, washers={"washer": 4})
    compound = time_of("screw", fastener=M2X5, count=4, renew={"compound": 0.3})
    assert washers.open_ms > plain.open_ms
    assert washers.close_ms > plain.close_ms
    assert compound.open_ms == plain.open_ms
    assert compound.close_ms > plain.close_ms


def test_heat_is_laid_on_but_waited_for_apart() -> None:
    """A wait in the file adds laying the heat on, never the wait itself."""
    cold = time_of("adhesive", by("pick"))
    hot = time_of("adhesive", by("pick"), wait_open_ms=300_000)
    assert 0 < hot.open_ms - cold.open_ms < 10_000


def test_closing_by_another_tool() -> None:
    """Opening by a pick and closing by hand are timed by their own tools."""
    mixed = time_of("clip", Access("bottom", "pick", close_tool=None), count=12)
    assert mixed.open_ms == time_of("clip", by("pick"), count=12).open_ms
    assert mixed.close_ms == time_of("clip", by(None), count=12).close_ms


@pytest.mark.parametrize(
    ("name", "grip"),
    [
        ("cross-recess screwdriver", "driver"),
        ("torque driver", "driver"),
        ("Electric screwdriver", "power"),
        ("hex key 3 mm", "crank"),
        ("ratchet with 5.5 mm socket", "crank"),
        ("open spanner 7", "spanner"),
        ("plastic opening pick", "other"),
    ],
)
def test_how_a_tool_turns_is_read_from_its_name(name: str, grip: str) -> None:
    """Words in the tool's name say how it turns a screw."""
    assert grip_of({"t": Tool("t", name)}, "t") == grip
    assert grip_of({}, None) == "hand"


@pytest.mark.parametrize(
    ("pace", "allowance"), [(0.0, 0.0), (-1.0, 0.0), (float("nan"), 0.0), (1.0, -0.1)]
)
def test_impossible_paces_are_refused(pace: float, allowance: float) -> None:
    """Pace above 0, allowance from 0 on."""
    with pytest.raises(ValueError, match=r"pace|allowance"):
        work_times(device_of("clip"), pace, allowance)


def test_times_asked_for_again_are_the_same_and_nobody_else_s_to_change() -> None:
    """The second answer is the first one's copy; another pace has times of its own."""
    device = device_of("screw")
    first = work_times(device)
    kept = dict(first)
    first.clear()
    assert work_times(device) == kept
    assert work_times(device, pace=2.0) != kept
