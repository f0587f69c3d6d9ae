"""Machines and plans for the tests of pictures and paper: small, middle and large, tame and hostile.

The plans come from a plain greedy search of this file: allowed at every step, seldom the cheapest. What
is drawn from them does not depend on who planned.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

from lastscrew.device.fitting import device_parts_in, joints_around
from lastscrew.device.model import (
    Access,
    Act,
    Device,
    Fastener,
    Function,
    Hazard,
    Joint,
    Part,
    Supply,
    Tool,
)
from lastscrew.device.opening import accesses_that_allow
from lastscrew.plan.model import Limb, Plan, Request, Step

SECONDS = {
    "screw": 6,
    "clip": 3,
    "plug": 4,
    "ribbon": 9,
    "coax": 6,
    "tape": 5,
    "route": 8,
    "seat": 4,
}


def joint(
    key: str,
    kind: str,
    joins: str,
    *,
    side: str = "bottom",
    tool: str | None = None,
    close_tool: str | None = "same",
    under: str = "",
    **rest: object,
) -> Joint:
    """A joint in one line."""
    count = rest.get("count", 1)
    assert isinstance(count, int)
    each = SECONDS[kind] * 1000
    access = Access(
        side, tool, tuple(under.split()), tool if close_tool == "same" else close_tool,
        open_ms=each * count, close_ms=each * count * 3 // 2,
    )  # fmt: skip
    made = Joint(
        key, kind, tuple(joins.split()), (access,), rigid=kind in ("screw", "clip", "seat"),
        powered=kind in ("plug", "ribbon", "coax"),
    )  # fmt: skip
    return replace(made, **rest)  # type: ignore[arg-type]


def notebook() -> Device:
    """Eleven joints, hazards, a hold point, acts, a board that needs compound, two sides."""
    fasteners = {
        "m2x5": Fastener("m2x5", "M2", 5, "PH1", "pan", "black", 17),
        "m2x3": Fastener("m2x3", "M2", 3, "PH1", "flat", "black", 15),
    }
    hazards = {
        "pack": Hazard("pack", "warning", "Lithium pack: do not bend, pierce or pry under it."),
        "edge": Hazard("edge", "caution", "The frame has sharp edges."),
        "care": Hazard(
            "care", "notice", "The ribbon tears easily: pull at the tab, not at the foil."
        ),
        "arc": Hazard(
            "arc", "danger", "The supply holds a charge that kills. Wait until it is discharged."
        ),
    }
    crosswise = ((0.0, 0.0), (30.0, 0.0), (30.0, 30.0), (0.0, 30.0))
    joints = [
        joint("cover_screws", "screw", "cover chassis", tool="driver", count=9, fastener="m2x5",
              positions_mm=tuple((10.0 + 35 * (i % 5), 10.0 + 110 * (i // 5)) for i in range(9)), order="crosswise"),
        joint("cover_clips", "clip", "cover chassis", tool="pick", close_tool=None, count=12, after=("cover_screws",),
              hazards=("edge",)),
        joint("pack_plug", "plug", "pack board", under="cover", isolates=True, hazards=("arc",),
              hold="Is the charger unplugged?"),
        joint("pack_screws", "screw", "pack chassis", tool="driver", under="cover", count=4, fastener="m2x3"),
        joint("fan_plug", "plug", "fan board", under="cover"),
        joint("fan_screws", "screw", "fan chassis", tool="driver", under="cover", count=3,
              fastener="m2x3", captive=True),
        joint("sink_screws", "screw", "sink board", tool="driver", under="cover", count=4, fastener="m2x5",
              powered=True, positions_mm=crosswise, order="crosswise", renew={"compound": 0.3}),
        joint("aerial", "coax", "aerials board", under="cover"),
        joint("keys_ribbon", "ribbon", "keys board", under="cover", tool="pick", hazards=("care",)),
        joint("board_screws", "screw", "board chassis", tool="driver", under="cover sink", count=6, fastener="m2x5"),
        joint("keys_clips", "clip", "keys chassis", side="top", tool="pick", count=8),
        joint("aerial_route", "route", "aerials chassis", under="cover"),
    ]  # fmt: skip
    parts = [
        Part("chassis", "Chassis", fixed=True, outline_mm=((0, 0), (300, 0), (300, 210), (0, 210))),
        Part("cover", "Bottom cover", order_code="AL-100", outline_mm=((2, 2), (298, 2), (298, 208), (2, 208))),
        Part("pack", "Battery pack", energy=True, hazards=("pack",), order_code="AL-210",
             outline_mm=((20, 10), (280, 10), (280, 70), (20, 70))),
        Part("fan", "Fan", functions=("cooling",)),
        Part("sink", "Heat sink"),
        Part("aerials", "Aerials"),
        Part("board", "Main board", functions=("boots",), identity=True, loses=("clock",), price=240.0,
             outline_mm=((20, 90), (220, 90), (220, 190), (20, 190))),
        Part("keys", "Keyboard", functions=("typing",), order_code="AL-330"),
    ]  # fmt: skip
    functions = [
        Function("typing", "Keyboard", "Type every key once", 60_000),
        Function("boots", "Starts", "Starts and shows the start screen", 90_000),
        Function("cooling", "Cooling", "Run the fan at full speed and listen", 45_000),
    ]
    tools = [
        Tool("driver", "cross-recess screwdriver", ("PH1",), 4_000),
        Tool("pick", "plastic opening pick", (), 3_000),
    ]
    acts = [
        Act(
            "discharge",
            "Hold the power button for ten seconds.",
            "after_open",
            "pack_plug",
            ms=12_000,
        ),
        Act("backup", "Note the settings of the clock.", "start", ms=20_000),
        Act(
            "clean",
            "Clean the old compound off the board.",
            "turning",
            when_opened=("sink_screws",),
            ms=45_000,
        ),
    ]
    return Device(
        "alder_13", "Alder 13", ("bottom", "top"), {p.id: p for p in parts}, {j.id: j for j in joints},
        turn_ms=6_000, turn_given=True, kind="notebook", revision="B",
        frame_mm={"bottom": (300.0, 210.0), "top": (300.0, 210.0)},
        tools={t.id: t for t in tools}, fasteners=fasteners, hazards=hazards,
        supplies={"compound": Supply("compound", "thermal compound", "g")},
        functions={f.id: f for f in functions}, acts={a.id: a for a in acts}, revision_hash="5e" * 32,
    )  # fmt: skip


def tower(floors: int, name: str = "Module") -> Device:
    """A stack of modules, each under the one before: three joints a floor, so 50 floors make 150 rows."""
    parts = {"base": Part("base", "Base", fixed=True)}
    joints: dict[str, Joint] = {}
    for floor in range(floors):
        key = f"m{floor}"
        parts[key] = Part(key, f"{name} {floor + 1}")
        under = f"m{floor - 1}" if floor else ""
        tool = ("driver", "pick", "hex")[floor // 3 % 3]
        side = "bottom" if floor % 7 else "top"
        for each in (
            joint(f"m{floor}_screws", "screw", f"{key} base", tool=tool, side=side, under=under, count=2 + floor % 4,
                  fastener="m3x8", name=f"{name} {floor + 1} screws"),
            joint(f"m{floor}_plug", "plug", f"{key} base", under=under, name=f"{name} {floor + 1} plug"),
            joint(f"m{floor}_tape", "tape", f"{key} base", tool="pick", under=under, name=f"{name} {floor + 1} tape"),
        ):  # fmt: skip
            joints[each.id] = each
    tools = {
        "driver": Tool("driver", "screwdriver", ("PH2",)),
        "pick": Tool("pick", "pick"),
        "hex": Tool("hex", "hexagon key 3 mm"),
    }
    return Device(
        "tower", "Tower", ("bottom", "top"), parts, joints, tools=tools,
        fasteners={"m3x8": Fastener("m3x8", "M3", 8, "PH2", "pan", torque_ncm=60)}, revision_hash="a1" * 32,
    )  # fmt: skip


LONG = "Left rear upper antenna amplifier retaining bracket with integrated earth strap, second version"
SCRIPT = '<script>alert(1)</script> & "quotes" ]]> \x00\x1b'
FOREIGN = "Κάλυμμα — Крышка корпуса — 底面カバー — غطاء — ฝาครอบ"


def renamed(device: Device, name: str) -> Device:
    """The device with every name replaced by one of a stranger's."""
    return replace(
        device,
        name=name,
        parts={k: replace(p, name=f"{name} {k}") for k, p in device.parts.items()},
        joints={
            k: replace(j, name=f"{name} {k}", note_open=name, note_close=name)
            for k, j in device.joints.items()
        },
        tools={k: replace(t, name=name) for k, t in device.tools.items()},
        hazards={k: replace(h, text=name) for k, h in device.hazards.items()},
        functions={k: replace(f, name=name, check=name) for k, f in device.functions.items()},
        acts={k: replace(a, text=name) for k, a in device.acts.items()},
    )


def greedy(device: Device, request: Request, *, shuffled: bool = False) -> Plan:
    """A plan in which every step is allowed at its turn.

    Args:
        device: The device.
        request: What is asked.
        shuffled: Close in another order than the mirror's where that is allowed.
    """
    targets = {
        j
        for piece in request.replace
        for j in joints_around(device, device_parts_in(device, piece))
    }
    targets |= set(request.reach)
    order = _needed(device, targets, set(request.opened))
    way_in = _steps(device, order, "in", request.side or device.sides[0], set(request.opened))
    side = way_in[-1].side if way_in else request.side or device.sides[0]
    opened = {*request.opened, *order}
    way_out = _steps(
        device,
        _closing_order(device, opened, [*request.opened, *order], shuffled),
        "out",
        side,
        opened,
    )
    start = tuple(a.id for a in device.acts.values() if a.at == "start")
    turning = tuple(
        a.id for a in device.acts.values() if a.at == "turning" and opened & set(a.when_opened)
    )
    end = tuple(a.id for a in device.acts.values() if a.at == "end" and not a.joint)
    final = device.turn_ms if way_out and way_out[-1].side != device.sides[0] else 0
    in_ms = sum(s.setup_ms + s.work_ms for s in way_in) + _act_ms(device, (*start, *turning))
    out_ms = sum(s.setup_ms + s.work_ms for s in way_out) + final + _act_ms(device, end)
    return Plan(
        request=request, pieces=tuple(device_parts_in(device, p) for p in request.replace),
        way_in=way_in, way_out=way_out, start_side=request.side or device.sides[0], final_turn_ms=final,
        start_acts=start, turning_acts=turning, end_acts=end, way_in_ms=in_ms, way_out_ms=out_ms,
        total_ms=in_ms + out_ms, objective_value=in_ms + out_ms, lower_bound=0, lower_bound_ms=0,
        proven=False, expanded=0,
    )  # fmt: skip


def _act_ms(device: Device, acts: Iterable[str]) -> int:
    return sum(device.acts[act].ms for act in acts)


def _reachable(device: Device, allowed: Collection[str], opened: Collection[str]) -> list[str]:
    order: list[str] = []
    now = set(opened)
    found = True
    while found:
        found = False
        for key in allowed:
            if key not in now and accesses_that_allow(device, now, key):
                order.append(key)
                now.add(key)
                found = True
    return order


def _needed(device: Device, targets: set[str], opened: set[str]) -> list[str]:
    allowed = [key for key in device.joints if key not in opened]
    if targets == set(device.joints):
        return _reachable(device, allowed, opened)
    for key in reversed(list(device.joints)):
        fewer = [other for other in allowed if other != key]
        if key not in targets and targets <= {*_reachable(device, fewer, opened), *opened}:
            allowed = fewer
    order = _reachable(device, allowed, opened)
    assert targets <= {*order, *opened}
    return order


def _closing_order(device: Device, opened: set[str], order: list[str], shuffled: bool) -> list[str]:
    """Backwards is always allowed; shuffled, whatever leaves the rest able to be closed."""
    if not shuffled:
        return order[::-1]
    now = set(opened)
    closing: list[str] = []
    while now:
        allowed = [
            k
            for k in order
            if k in now
            and accesses_that_allow(device, now - {k}, k)
            and len(_reachable(device, sorted(now - {k}), ())) == len(now) - 1
        ]
        key = allowed[len(closing) * 7 % len(allowed)]
        closing.append(key)
        now.remove(key)
    return closing


def _steps(
    device: Device, order: list[str], limb: Limb, side: str, opened: set[str]
) -> tuple[Step, ...]:
    steps: list[Step] = []
    hand: str | None = None
    now = set(opened)
    for key in order:
        if limb == "out":
            now.remove(key)
        index = accesses_that_allow(device, now, key)[0]
        if limb == "in":
            now.add(key)
        access = device.joints[key].accesses[index]
        tool = access.tool if limb == "in" else access.close_tool
        turn = device.turn_ms if access.side != side else 0
        swap = device.tools[tool].swap_ms if tool and tool != hand else 0
        when = ("before_open", "after_open") if limb == "in" else ("before_close", "after_close")
        acts = tuple(a.id for a in device.acts.values() if a.joint == key and a.at in when)
        work = (access.open_ms if limb == "in" else access.close_ms) or 0
        act_ms = _act_ms(device, acts)
        steps.append(
            Step(key, limb, index, access.side, tool, turn, swap, work + act_ms, acts, act_ms)
        )
        side, hand = access.side, tool
    return tuple(steps)
