"""Random portable machines for measuring the planner, the same for the same size and seed.

A cover (screws and clips) lies over a pack, a board and a number of modules; a panel closes the
other side, from which every fourth module is reached. Most cables lead to the board.

Each module adds about 2.4 joints: its screws always, a plug, ribbon or coax, a cable route and a
tape by chance. Seven or eight joints belong to the frame, so 18 modules make about 50 joints, 30
about 80, 60 about 150 and 115 about 285.

Times are our own plausible figures (no source); they are given in the device, so that the planner
is measured apart from the time tables.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from lastscrew.device.model import Access, Device, Fastener, Joint, Part, Tool
from lastscrew.plan.model import Request

SIZES: dict[int, str] = {18: "about 50", 30: "about 80", 60: "about 150", 115: "about 300"}
"""Modules, and the number of joints that they make."""

_TOOLS = {
    "driver": Tool("driver", "cross-recess screwdriver", ("PH1",), 4_000, swap_given=True),
    "star": Tool("star", "six-lobe screwdriver", ("T5",), 4_000, swap_given=True),
    "hexagon": Tool("hexagon", "hexagon key", ("H1.5",), 5_000, swap_given=True),
    "pick": Tool("pick", "plastic opening pick", (), 3_000, swap_given=True),
    "tweezers": Tool("tweezers", "tweezers", (), 3_000, swap_given=True),
}
_FASTENERS = {
    "m2x5": Fastener("m2x5", "M2", 5.0, "PH1", "pan", torque_ncm=17.0),
    "m16x3": Fastener("m16x3", "M1.6", 3.0, "T5", "flat", torque_ncm=9.0),
    "m25x6": Fastener("m25x6", "M2.5", 6.0, "H1.5", "cylinder", torque_ncm=35.0),
}
_SCREW = {"driver": "m2x5", "star": "m16x3", "hexagon": "m25x6"}
_LID = {"bottom": "cover", "top": "panel"}
_OTHER_SIDE = {"bottom": "top", "top": "bottom"}
_CONNECTOR_TOOLS: dict[str, tuple[str | None, ...]] = {
    "plug": (None, "pick"),
    "ribbon": ("pick", "tweezers"),
    "coax": ("pick", "tweezers"),
}


def generate(modules: int, seed: int, *, varied: bool = False) -> Device:
    """One random machine.

    Args:
        modules: Number of modules, at least 1.
        seed: Seed of the random numbers; the same machine every time.
        varied: True makes it harder: clips and tapes are closed by hand and second accesses take
            longer, so that the way out is no longer the way in read backwards.

    Returns:
        The device. Sides ``bottom`` and ``top``, five tools, one isolating joint, all times given.
    """
    rng = Random(seed)
    names = [f"m{number}" for number in range(1, modules + 1)]
    joints: dict[str, Joint] = {}
    for joint in _frame(rng, names):
        joints[joint.id] = joint
    for index in range(modules):
        for joint in _module(rng, names, index):
            joints[joint.id] = joint
    if varied:
        joints = {key: _harder(rng, joint) for key, joint in joints.items()}
    return Device(
        id=f"bench_{modules}_{seed}",
        name=f"Bench machine, {modules} modules, seed {seed}",
        kind="notebook",
        sides=("bottom", "top"),
        turn_ms=6_000,
        turn_given=True,
        tools=_TOOLS,
        fasteners=_FASTENERS,
        parts=_parts(names),
        joints=joints,
    )


def requests(device: Device) -> dict[str, Request]:
    """The three requests that are measured, by name: the board, the last module, a middle one with the panel."""
    count = sum(1 for part in device.parts if part.startswith("m"))
    return {
        "board": Request(replace=("board",)),
        "last": Request(replace=(f"m{count}",)),
        "middle_and_panel": Request(replace=(f"m{(count + 1) // 2}", "panel")),
    }


def _parts(modules: list[str]) -> dict[str, Part]:
    frame = {
        "chassis": Part("chassis", "Chassis", fixed=True),
        "cover": Part("cover", "Bottom cover"),
        "pack": Part("pack", "Battery pack", energy=True),
        "board": Part("board", "Main board", identity=True),
        "panel": Part("panel", "Keyboard panel"),
    }
    return frame | {name: Part(name, f"Module {name[1:]}") for name in modules}


def _frame(rng: Random, modules: list[str]) -> list[Joint]:
    """Cover, pack, board and panel; the board lies under a sixth of the modules.

    In every second machine the panel is also screwed from inside, so that the cover comes off first.
    """
    over_board = sorted(rng.sample(range(len(modules)), max(1, len(modules) // 6)))
    under_modules = tuple(modules[index] for index in over_board)
    count = rng.randint(2, 5)
    inside = _screws(rng, "panel_screws", ("panel", "chassis"), "star", ("cover",), count)
    made = [inside] if rng.random() < 0.5 else []
    made += [
        _screws(rng, "cover_screws", ("cover", "chassis"), "driver", (), rng.randint(6, 10)),
        _joint("cover_clips", "clip", ("cover", "chassis"), [Access("bottom", "pick")],
               _tenths(rng, 10, 20), _tenths(rng, 6, 12), count=rng.randint(8, 14),
               after=("cover_screws",)),
        _joint("pack_plug", "plug", ("pack", "board"), [Access("bottom", None, ("cover",))],
               _tenths(rng, 2, 4), _tenths(rng, 2, 5), isolates=True),
        _screws(rng, "pack_screws", ("pack", "chassis"), "driver", ("cover",), rng.randint(3, 6)),
        _screws(rng, "board_screws", ("board", "chassis"), "driver", ("cover", *under_modules),
                rng.randint(4, 8), powered=True),
        _joint("panel_clips", "clip", ("panel", "chassis"), [Access("top", "pick")],
               _tenths(rng, 8, 16), _tenths(rng, 6, 10), count=rng.randint(6, 10)),
        _joint("panel_ribbon", "ribbon", ("panel", "board"),
               [Access("bottom", "pick", ("cover", "pack")), Access("top", "pick", ("panel",))],
               _tenths(rng, 3, 6), _tenths(rng, 5, 10)),
    ]  # fmt: skip
    return made


def _module(rng: Random, names: list[str], index: int) -> list[Joint]:
    """The joints of one module: screws, and by chance a connector, a route and a tape."""
    name, earlier = names[index], names[:index]
    base = "board" if rng.random() < 1 / 3 else "chassis"
    side = "top" if rng.random() < 0.25 else "bottom"
    over = rng.sample(earlier, min(len(earlier), rng.randint(0, 2)))
    if rng.random() < 0.3:
        over.append("pack")
    tool = rng.choice(tuple(_SCREW))
    accesses = [Access(side, tool, (_LID[side], *over))]
    if rng.random() < 0.15:
        around = _OTHER_SIDE[side]
        accesses.append(Access(around, tool, (_LID[around], *over[:1])))
    screws = _screws(rng, f"{name}_screws", (name, base), tool, (), rng.randint(1, 5))
    made = [replace(screws, accesses=_timed(accesses, screws))]
    place = _Place(name, side, names, earlier)
    plug: Joint | None = None
    if rng.random() < 0.8:
        kind = rng.choice(("plug", "ribbon", "coax"))
        plug = place.tie(rng, kind, _CONNECTOR_TOOLS[kind], (2, 5), (3, 8))
    route = None
    if rng.random() < 0.35:
        route = place.tie(rng, "route", (None, "tweezers"), (3, 8), (5, 12))
    if rng.random() < 0.25:
        tape = place.tie(rng, "tape", (None, "tweezers"), (3, 7), (4, 8))
        made.append(tape)
        if plug is not None and rng.random() < 0.5:
            plug = replace(plug, after=(tape.id,))
    if route is not None and plug is not None and rng.random() < 0.5:
        route = replace(route, after=(plug.id,))
    return made + [joint for joint in (plug, route) if joint is not None]


@dataclass(frozen=True)
class _Place:
    """Where a module sits, for the cables that lead from it."""

    name: str
    side: str
    names: list[str]
    earlier: list[str]

    def tie(
        self,
        rng: Random,
        kind: str,
        tools: tuple[str | None, ...],
        open_s: tuple[int, int],
        close_s: tuple[int, int],
    ) -> Joint:
        """A flexible joint to something else, as a rule the board, reached from the module's side."""
        others = ["chassis", "panel", "pack", *(name for name in self.names if name != self.name)]
        other = "board" if rng.random() < 0.5 else rng.choice(others)
        side = self.side if rng.random() < 0.75 else _OTHER_SIDE[self.side]
        over = [rng.choice(self.earlier)] if self.earlier and rng.random() < 0.5 else []
        return _joint(
            f"{self.name}_{kind}",
            kind,
            (self.name, other),
            [Access(side, rng.choice(tools), (_LID[side], *over))],
            _tenths(rng, *open_s),
            _tenths(rng, *close_s),
        )


def _screws(
    rng: Random,
    joint_id: str,
    joins: tuple[str, ...],
    tool: str,
    under: tuple[str, ...],
    count: int,
    *,
    powered: bool = False,
) -> Joint:
    """A set of like screws: a reach of 2 to 3 s, then some seconds for each screw."""
    open_ms = _tenths(rng, 2, 3) + count * _tenths(rng, 5, 8)
    close_ms = _tenths(rng, 2, 3) + count * _tenths(rng, 6, 10)
    made = _joint(joint_id, "screw", joins, [Access("bottom", tool, under)], open_ms, close_ms,
                  count=count, fastener=_SCREW[tool])  # fmt: skip
    return replace(made, powered=powered)


def _joint(  # noqa: PLR0913 -- the fields of a joint
    joint_id: str,
    kind: str,
    joins: tuple[str, ...],
    accesses: list[Access],
    open_ms: int,
    close_ms: int,
    *,
    count: int = 1,
    after: tuple[str, ...] = (),
    isolates: bool = False,
    fastener: str | None = None,
) -> Joint:
    """A joint with the same times at every access, closed with the tool that opens it."""
    return Joint(
        id=joint_id, kind=kind, joins=joins,
        accesses=tuple(replace(a, close_tool=a.tool, open_ms=open_ms, close_ms=close_ms) for a in accesses),
        rigid=kind in ("screw", "clip"),
        after=after, powered=kind in ("plug", "ribbon", "coax"), isolates=isolates,
        fastener=fastener, count=count,
    )  # fmt: skip


def _timed(accesses: list[Access], like: Joint) -> tuple[Access, ...]:
    """Give ``accesses`` the times of a joint's first access."""
    first = like.accesses[0]
    return tuple(
        replace(a, close_tool=a.tool, open_ms=first.open_ms, close_ms=first.close_ms)
        for a in accesses
    )


def _harder(rng: Random, joint: Joint) -> Joint:
    """Closed by hand where that is usual; slower by every access but the first."""
    made = []
    for index, access in enumerate(joint.accesses):
        factor = rng.choice((1.0, 1.2, 1.5)) if index else 1.0
        assert access.open_ms is not None
        assert access.close_ms is not None
        made.append(
            replace(
                access,
                close_tool=None if joint.kind in ("clip", "tape") else access.tool,
                open_ms=round(access.open_ms * factor),
                close_ms=round(access.close_ms * factor),
            )
        )
    return replace(joint, accesses=tuple(made))


def _tenths(rng: Random, low_s: int, high_s: int) -> int:
    """A random time between two numbers of seconds, in tenths of a second, as milliseconds."""
    return rng.randint(low_s * 10, high_s * 10) * 100
