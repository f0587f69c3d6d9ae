"""Disassembly depth: the least number of steps, held to a plain search, and what a step is."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from random import Random

import pytest

from benchmarks.generate import generate
from lastscrew.device.fitting import fit, joints_around
from lastscrew.device.model import Access, Device, Joint, Part, Tool
from lastscrew.device.opening import accesses_that_allow
from lastscrew.device.reading import load_device
from lastscrew.measures.counting import Frame
from lastscrew.measures.depth import Depth, all_depths, disassembly_depth
from lastscrew.plan.model import Request
from tests.measures.least_steps import PlainSearch
from tests.oracle.devices import MIDDLE, SMALL, Taste, draw_device
from tests.oracle.rules import ask


def device_of(*joints: Joint, parts: str = "base lid pack board") -> Device:
    names = parts.split()
    return Device(
        "d",
        "D",
        ("bottom",),
        {n: Part(n, n.title(), fixed=n == names[0]) for n in names},
        {joint.id: joint for joint in joints},
        tools={t: Tool(t, t) for t in ("driver", "pick")},
    )


def joint(
    name: str,
    joins: str,
    tool: str | None = None,
    under: str = "",
    *,
    kind: str = "screw",
    after: str = "",
) -> Joint:
    return Joint(
        name, kind, tuple(joins.split()), (Access("bottom", tool, tuple(under.split())),),
        rigid=kind not in ("plug", "ribbon"), after=tuple(after.split()),
    )  # fmt: skip


def replay(device: Device, depth: Depth) -> int:
    """Follow the steps by the plain rule of opening; the number of steps by the definition of one."""
    opened: set[str] = set()
    count, pieces_before, tool_before, fresh = 0, _pieces(device, opened), None, True
    for step in depth.steps:
        for joint_id in step.joints:
            allowed = accesses_that_allow(device, opened, joint_id)
            tools = {device.joints[joint_id].accesses[index].tool for index in allowed}
            assert step.tool in tools, f"{joint_id} can't be opened with {step.tool} now"
            count += fresh or step.tool != tool_before
            opened.add(joint_id)
            fresh = len(_pieces(device, opened)) > len(pieces_before)
            pieces_before, tool_before = _pieces(device, opened), step.tool
    assert set(joints_around(device, depth.piece)) <= opened
    return count


def _pieces(device: Device, opened: set[str]) -> set[frozenset[str]]:
    piece_of = {part: {part} for part in device.parts}
    for closed in device.joints.values():
        if closed.id not in opened:
            whole = set().union(*(piece_of[part] for part in closed.joins))
            for part in whole:
                piece_of[part] = whole
    return {frozenset(piece) for piece in piece_of.values()}


# --- what a step is -----------------------------------------------------------------------------


def test_one_tool_one_removal_is_one_step() -> None:
    """Nine screws and a hook with the same tool, then the lid is off: one step."""
    device = device_of(
        joint("a", "lid base", "driver"), joint("b", "lid base", "driver"), parts="base lid"
    )
    depth = disassembly_depth(device, "lid")
    assert (depth.count, depth.proven) == (1, True)
    assert depth.steps[0].removed == (("lid",),)
    assert depth.steps[0].joints == ("a", "b")


def test_a_change_of_tool_ends_a_step_and_the_hand_is_a_tool() -> None:
    """Driver, pick, hand: three steps for one lid."""
    device = device_of(
        joint("a", "lid base", "driver"),
        joint("b", "lid base", "pick", after="a"),
        joint("c", "lid base", after="b"),
        parts="base lid",
    )
    assert disassembly_depth(device, "lid").count == 3


def test_a_removal_ends_a_step_though_the_tool_stays() -> None:
    """Lid, then pack below it, with one driver: two steps."""
    device = device_of(
        joint("a", "lid base", "driver"),
        joint("b", "pack base", "driver", "lid"),
        parts="base lid pack",
    )
    depth = disassembly_depth(device, "pack")
    assert [step.removed for step in depth.steps] == [(("lid",),), (("pack",),)]


def test_a_part_laid_aside_on_its_cable_is_not_removed() -> None:
    """The lid hangs on its ribbon: laying it aside ends no step, the driver goes on below it."""
    device = device_of(
        joint("a", "lid base", "driver"),
        joint("r", "lid base", kind="ribbon"),
        joint("b", "pack base", "driver", "lid"),
        parts="base lid pack",
    )
    depth = disassembly_depth(device, "pack")
    assert depth.count == 1
    assert depth.steps[0].joints == ("a", "b")


def test_a_sub_assembly_that_comes_out_whole_is_one_removal() -> None:
    """The board leaves with the module still on it; then the module comes off it: two steps."""
    device = device_of(
        joint("a", "board base", "driver"),
        joint("m", "module board", "driver", "base"),
        parts="base board module",
    )
    depth = disassembly_depth(device, "module")
    assert [step.removed for step in depth.steps] == [(("board", "module"),), (("module",),)]


def test_fewest_steps_not_least_work() -> None:
    """Unscrewing the pack as well spares nothing, but pulling the plug last spares a step."""
    device = device_of(
        joint("screws", "board base", "driver"),
        joint("plug", "board base", kind="plug"),
        joint("clip", "lid board", after="plug"),
        parts="base lid board",
    )
    # By hand: plug, clip (lid off); driver: board off. Two steps, not three.
    assert disassembly_depth(device, "board+lid").count == 2
    assert disassembly_depth(device, "lid").count == 1


def test_parts_that_nothing_holds_and_parts_that_never_come_out() -> None:
    """No joint: nothing to do. Two lids over each other's screws: said to be unreachable, not guessed."""
    device = device_of(
        joint("a", "lid base", "driver", "pack"),
        joint("b", "pack base", "driver", "lid"),
        parts="base lid pack board",
    )
    loose, never = disassembly_depth(device, "board"), disassembly_depth(device, "lid")
    assert (loose.reachable, loose.count, loose.proven) == (True, 0, True)
    assert (never.reachable, never.count, never.proven) == (False, 0, True)


def test_joints_that_may_not_be_opened() -> None:
    """Another way is taken, or none is left."""
    short = Joint(
        "b", "screw", ("pack", "base"),
        (Access("bottom", "driver", ("lid",)), Access("bottom", "pick")), rigid=True,
    )  # fmt: skip
    device = device_of(joint("a", "lid base", "driver"), short, parts="base lid pack")
    assert disassembly_depth(device, "pack", without=["a"]).steps[0].tool == "pick"
    assert not disassembly_depth(device, "pack", without=["b"]).reachable


# --- held to the plain search -------------------------------------------------------------------


def _random_devices(taste: Taste, seeds: range) -> Iterator[tuple[int, Device]]:
    for seed in seeds:
        yield seed, fit(draw_device(Random(seed), taste))


def _check(device: Device, seed: int) -> int:
    no_matter = {(j.id, i): (1, 1) for j in device.joints.values() for i in range(len(j.accesses))}
    plainly = PlainSearch(device, ask(device, Request(), no_matter))
    checked = 0
    for part in device.parts.values():
        if part.fixed:
            continue
        least = plainly.least_steps(frozenset(joints_around(device, (part.id,))))
        depth = disassembly_depth(device, part.id, work=None)
        assert depth.proven, f"seed {seed}, {part.id}"
        assert (depth.count if depth.reachable else None) == least, f"seed {seed}, {part.id}"
        if depth.reachable:
            assert replay(device, depth) == depth.count, f"seed {seed}, {part.id}"
        checked += 1
    return checked


TASTES = {
    "small": SMALL,
    "nine joints, few parts": Taste(joints=(7, 10), parts=(3, 6), under=0.3),
    "ten joints, many parts, few covers": Taste(joints=(8, 10), parts=(5, 8), under=0.15),
}


@pytest.mark.parametrize("name", TASTES)
def test_the_depth_is_what_a_plain_search_finds(name: str) -> None:
    """Several accesses, joints of three parts, isolators, cables, sub-assemblies: never more, never fewer steps."""
    checked = sum(
        _check(device, seed) for seed, device in _random_devices(TASTES[name], range(5000, 5160))
    )
    assert checked > 450


@pytest.mark.parametrize("size", [1, 0, -1])
def test_too_many_paths_to_list_change_nothing(size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With room for hardly any path the unlisted ones are found when they matter."""
    monkeypatch.setattr("lastscrew.measures.ways.MAX_PATHS", size)
    for seed, device in _random_devices(TASTES["ten joints, many parts, few covers"], range(60)):
        _check(device, seed)


def test_more_work_never_says_something_else() -> None:
    """Stopped early: at most so many, at least so many, and the truth lies between."""
    for seed, device in _random_devices(MIDDLE, range(8)):
        frame = Frame(device)
        for part in device.parts.values():
            if part.fixed:
                continue
            known = disassembly_depth(device, part.id, work=20_000, frame=frame)
            for work in (0, 1, 5, 20):
                early = disassembly_depth(device, part.id, work=work, frame=frame)
                assert early.reachable == known.reachable, f"seed {seed}, {part.id}"
                assert early.at_least <= known.count <= early.count or not known.reachable
                assert early == disassembly_depth(device, part.id, work=work)
                if early.reachable:
                    assert replay(device, early) == early.count


# --- machines of real size ----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["notebook", "slate", "extractor"])
def test_demo_machines_are_proven_and_replayed(name: str) -> None:
    """Every part of every demo: a proven depth, with a way that the plain rule allows."""
    device = fit(load_device((files("lastscrew.demo") / f"{name}.device.yaml").read_bytes()))
    depths = all_depths(device)
    assert len(depths) == len(device.parts) - 1
    for part, depth in depths.items():
        assert depth.reachable, part
        assert depth.proven, part
        assert replay(device, depth) == depth.count, part


def test_random_machines_of_fifty_joints() -> None:
    """Four machines of about 50 joints: 98 of 100 depths proven within the default work, all replayed."""
    depths = []
    for seed in range(4):
        device = fit(generate(18, seed))
        for part, depth in all_depths(device).items():
            assert replay(device, depth) == depth.count, f"seed {seed}, {part}"
            assert depth.at_least <= depth.count
            depths.append(depth)
    assert sum(depth.proven for depth in depths) >= 0.98 * len(depths)


def test_the_order_of_keys_in_the_file_does_not_matter() -> None:
    """Parts and joints the other way round: the same steps."""
    device = fit(generate(6, 1))
    turned = Device(
        device.id, device.name, device.sides,
        dict(reversed(list(device.parts.items()))), dict(reversed(list(device.joints.items()))), tools=device.tools,
    )  # fmt: skip
    assert all_depths(turned) == all_depths(device)
