"""The invented machines are whole: every screw accounted for, and work on them looks like work.

What a careful technician would object to is written down here as tests.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from ruamel.yaml import YAML

from lastscrew.cli.demo import demo_names, demo_text
from lastscrew.device import keys
from lastscrew.device.model import KINDS, SIGNALS, Device
from lastscrew.device.opening import is_live, isolating_joints
from lastscrew.device.reading import read_device
from lastscrew.device.types import Record
from lastscrew.plan.model import Plan, Request
from lastscrew.plan.planner import plan

SCREW_KINDS = ("screw", "nut")
LONGEST_SENTENCE = 20
"""Words of a procedural sentence: ASD-STE100, rule 5.1, as quoted by secondary sources."""


@cache
def device(name: str) -> Device:
    """A demo, read once."""
    read = read_device(demo_text(name), name)
    assert read.device is not None, read.errors
    return read.device


@cache
def tree(name: str) -> Any:  # noqa: ANN401 (plain YAML)
    """The same file as plain values."""
    return YAML(typ="safe").load(demo_text(name))


@cache
def best(name: str, target: str, fitted: tuple[str, ...] = ()) -> Plan:
    """The best plan for one piece."""
    return plan(device(name), Request(replace=(target,), fitted=fitted))


def pieces() -> list[tuple[str, str]]:
    """Every part that can be exchanged and every spare, of all demos."""
    return [
        (name, piece)
        for name in demo_names()
        for piece in [*device(name).parts, *device(name).spares]
        if piece != device(name).fixed_part
    ]


def options_of(name: str) -> tuple[str, ...]:
    """All options: a unit that has everything."""
    return tuple(device(name).options)


def sentences(value: object, key: str = "") -> Iterator[str]:
    """Sentences of all texts that tell a person what to do."""
    if isinstance(value, dict):
        for name, below in value.items():
            yield from sentences(below, name)
    elif isinstance(value, list):
        for below in value:
            yield from sentences(below, key)
    elif isinstance(value, str) and key in {"text", "check", "hold", "note_open", "note_close"}:
        yield from re.split(r"(?<=[.!?])\s+", value)


def test_there_are_the_three_that_were_promised() -> None:
    """A notebook, a slate and one thing that is no computer."""
    assert demo_names() == ["extractor", "notebook", "slate"]


@pytest.mark.parametrize(("name", "least"), [("notebook", 45), ("slate", 25), ("extractor", 20)])
def test_has_joints_enough_with_the_least_options(name: str, least: int) -> None:
    """They are as large as real machines, options left out."""
    joints = [j for j in device(name).joints.values() if not j.if_fitted]
    assert len(joints) >= least


@pytest.mark.parametrize("name", demo_names())
def test_reads_without_error_or_warning(name: str) -> None:
    """Nothing is wrong and nothing needs to be explained away."""
    assert [(p.code, p.path, p.message) for p in read_device(demo_text(name), name).problems] == []


def test_together_they_use_the_whole_format() -> None:
    """Every key of the format and every kind of joint and signal word occurs in one of them."""
    used: dict[str, set[str]] = {}
    for name in demo_names():
        for section, entries in tree(name).items():
            if section == "device":
                used.setdefault(section, set()).update(entries)
            elif isinstance(entries, dict):
                for entry in entries.values():
                    used.setdefault(section, set()).update(entry)
    records: dict[str, Record] = {"device": keys.DEVICE, "parts": keys.PART, "joints": keys.JOINT}
    records |= {"functions": keys.FUNCTION, "acts": keys.ACT, "spares": keys.SPARE}
    records |= {"fasteners": keys.FASTENER, "tools": keys.TOOL, "supplies": keys.SUPPLY}
    missing = {
        f"{section}.{key.name}"
        for section, record in records.items()
        for key in record.keys
        if key.name not in used[section] and key.name not in {"was", "sources"}
    }
    assert missing == set()
    joints = [joint for name in demo_names() for joint in device(name).joints.values()]
    assert {joint.kind for joint in joints} >= set(KINDS) - {"other"}
    hazards = {h.signal for name in demo_names() for h in device(name).hazards.values()}
    assert hazards == set(SIGNALS)


@pytest.mark.parametrize("name", demo_names())
def test_everything_that_is_declared_is_used(name: str) -> None:
    """No tool, fastener, supply, hazard, function or option stands there for show."""
    text = demo_text(name)
    for section in ("tools", "fasteners", "supplies", "hazards", "functions", "options"):
        for entry in tree(name)[section]:
            mentions = re.findall(rf"(?<![\w]){entry}(?![\w])", text)
            assert len(mentions) >= 2, f"{section}.{entry} is never used"


@pytest.mark.parametrize("name", demo_names())
def test_every_screw_is_known_to_the_last(name: str) -> None:
    """Each screw and nut has its kind, and each threaded kind its thread and its torque."""
    machine = device(name)
    for joint in machine.joints.values():
        if joint.kind in SCREW_KINDS:
            assert joint.fastener or "fastener" in joint.unknown, joint.id
    for fastener in machine.fasteners.values():
        if fastener.thread and fastener.drive:
            assert fastener.torque_ncm or fastener.head == "cable gland", fastener.id


@pytest.mark.parametrize("name", demo_names())
def test_positions_lie_where_the_machine_is(name: str) -> None:
    """Every position and outline lies in the frame of its side."""
    machine = device(name)
    for joint in machine.joints.values():
        width, height = machine.frame_mm.get(joint.accesses[0].side, (0, 0))
        for x, y in joint.positions_mm:
            assert 0 <= x <= width, joint.id
            assert 0 <= y <= height, joint.id
    widest = max(width for width, _ in machine.frame_mm.values())
    highest = max(height for _, height in machine.frame_mm.values())
    for part in machine.parts.values():
        assert all(0 <= x <= widest and 0 <= y <= highest for x, y in part.outline_mm), part.id


@pytest.mark.parametrize("name", demo_names())
def test_no_two_screws_share_a_hole(name: str) -> None:
    """Positions on one side are at least three millimetres apart (less than any two heads)."""
    placed: dict[str, list[tuple[str, float, float]]] = {}
    for joint in device(name).joints.values():
        for x, y in joint.positions_mm:
            placed.setdefault(joint.accesses[0].side, []).append((joint.id, x, y))
    for holes in placed.values():
        for index, (one, x1, y1) in enumerate(holes):
            for other, x2, y2 in holes[index + 1 :]:
                assert (x1 - x2) ** 2 + (y1 - y2) ** 2 >= 9, f"{one} and {other} at {x1}, {y1}"


@pytest.mark.parametrize("name", demo_names())
def test_wrong_screws_are_possible_and_said(name: str) -> None:
    """Somewhere a look-alike screw of the same machine is too long for a hole: the trap is real."""
    machine = device(name)
    traps = [
        (joint.id, other.id)
        for joint in machine.joints.values()
        if joint.fastener and joint.max_length_mm
        for kind in [machine.fasteners[joint.fastener]]
        for other in machine.fasteners.values()
        if other.thread == kind.thread and other.drive == kind.drive
        if other.length_mm and other.length_mm > joint.max_length_mm
    ]
    assert traps


@pytest.mark.parametrize("name", demo_names())
def test_instructions_are_short_and_clear(name: str) -> None:
    """Whole sentences of at most twenty words, no semicolons, no contractions."""
    for sentence in sentences(tree(name)):
        assert len(sentence.split()) <= LONGEST_SENTENCE, sentence
        assert sentence.endswith("."), sentence
        assert not re.search(r";|n't\b|\bit's\b", sentence), sentence


@pytest.mark.parametrize(("name", "piece"), pieces())
def test_every_piece_can_be_exchanged(name: str, piece: str) -> None:
    """For every part and spare of a unit that has everything, a proven plan is found."""
    found = best(name, piece, options_of(name))
    assert found.proven
    assert found.way_in


@pytest.mark.parametrize(("name", "piece"), pieces())
def test_the_power_goes_first(name: str, piece: str) -> None:
    """Every isolating joint is open before the first live one."""
    machine = device(name)
    order = [step.joint for step in best(name, piece, options_of(name)).way_in]
    isolators = set(isolating_joints(machine))
    for index, joint in enumerate(order):
        if is_live(machine, machine.joints[joint]) and joint not in isolators:
            assert isolators <= set(order[:index])
            break


def test_the_notebook_is_not_touched_inside_before_its_pack_is_unplugged() -> None:
    """No joint below the bottom cover but the pack's plug can be opened with power on."""
    machine = device("notebook")
    for joint in machine.joints.values():
        inside = all("bottom_cover" in access.under for access in joint.accesses)
        if inside and not joint.isolates:
            assert is_live(machine, joint), joint.id


@pytest.mark.parametrize("piece", [p for n, p in pieces() if n == "slate"])
def test_the_slate_is_never_turned_while_its_display_hangs_on_ribbons(piece: str) -> None:
    """Between glass and ribbons, on both limbs, no step lies on another side."""
    found = best("slate", piece, options_of("slate"))
    for limb in (found.way_in, found.way_out):
        places = {step.joint: index for index, step in enumerate(limb)}
        if not {"glass_bond", "display_ribbon"} <= places.keys():
            continue
        low, high = sorted((places["glass_bond"], places["display_ribbon"]))
        assert {step.side for step in limb[low : high + 1]} == {"front"}


def test_the_keyboard_is_unplugged_from_above_or_below_as_it_suits() -> None:
    """Two ways to the same ribbon: from above to exchange the keyboard, from below for the board."""
    by_keyboard = {s.joint: s.side for s in best("notebook", "keyboard").way_in}
    by_board = {s.joint: s.side for s in best("notebook", "board").way_in}
    assert by_keyboard["keyboard_ribbon"] == "top"
    assert by_board["keyboard_ribbon"] == "bottom"


def test_the_screen_comes_out_whole() -> None:
    """The complete lid leaves with everything in it: nothing inside it is opened."""
    opened = best("notebook", "display").open_at_turning
    assert "lid_seat" in opened
    assert opened.isdisjoint({"bezel_clips", "panel_screws", "camera_bond", "left_hinge_lid"})


def test_the_motor_keeps_what_sits_on_it_when_it_is_exchanged_complete() -> None:
    """The motor set leaves with fan, cowl and terminal cover; a bare motor has to be stripped."""
    whole = best("extractor", "motor_set").open_at_turning
    bare = best("extractor", "motor").open_at_turning
    assert "fan_ring" not in whole
    assert {"fan_ring", "cowl_screws"} <= bare
