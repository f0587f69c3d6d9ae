"""A small machine of our own for what happens at the bench: screws, washers, power, hold points."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import count
from typing import Any

from lastscrew.device.model import (
    Access,
    Act,
    Device,
    Fastener,
    Function,
    Hazard,
    Joint,
    Option,
    Part,
    Spare,
    Tool,
)
from lastscrew.run.events import Event, Happening, Started

RIGID = ("screw", "nut", "clip", "seat", "adhesive")


def joint(key: str, kind: str, joins: str, **rest: Any) -> Joint:  # noqa: ANN401 - any field
    """A joint in one line; side, tool, under and times make its only access."""
    access = Access(
        rest.pop("side", "bottom"),
        rest.get("tool"),
        tuple(rest.pop("under", "").split()),
        rest.pop("close_tool", rest.pop("tool", None)),
        open_ms=rest.pop("open_ms", 5_000),
        close_ms=rest.pop("close_ms", 6_000),
    )
    made = Joint(key, kind, tuple(joins.split()), (access,), rigid=kind in RIGID)
    return replace(made, powered=kind in ("plug", "ribbon"), **rest)


def device_of(
    parts: Iterable[Part],
    joints: Iterable[Joint],
    **rest: Any,  # noqa: ANN401 - any field
) -> Device:
    """A device from lists."""
    values: dict[str, Any] = {"sides": ("bottom", "top"), "revision_hash": "ab" * 32, **rest}
    for key in ("tools", "fasteners", "hazards", "functions", "options", "spares", "acts"):
        values[key] = {entry.id: entry for entry in values.get(key, ())}
    return Device(
        id=values.pop("id", "elm"), name="Elm", parts={p.id: p for p in parts},
        joints={j.id: j for j in joints}, **values,
    )  # fmt: skip


def radio() -> Device:
    """Cover, pack, board with fan and panel; look-alike screws, washers, single use, captive ones."""
    return device_of(
        parts=[
            Part("chassis", "Chassis", fixed=True),
            Part("cover", "Cover", order_code="E-1"),
            Part("pack", "Pack", energy=True, hazards=("pack",)),
            Part("board", "Board", functions=("boots",), identity=True, serial=True),
            Part("fan", "Fan", functions=("cooling",)),
            Part("panel", "Panel", functions=("shows",), serial=True),
            Part("modem", "Modem", if_fitted="cell"),
        ],
        joints=[
            joint("cover_screws", "screw", "cover chassis", fastener="m2x5", count=8, tool="driver",
                  torque_ncm=17),
            joint("cover_clips", "clip", "cover chassis", count=6, tool="pick", after=("cover_screws",)),
            joint("pack_plug", "plug", "pack board", under="cover", isolates=True),
            joint("pack_screws", "screw", "pack chassis", fastener="m2x3", count=4, under="cover",
                  tool="driver", max_length_mm=3.5, hold="Is the pack flat?"),
            joint("fan_plug", "plug", "fan board", under="cover", functions=("cooling",)),
            joint("fan_screws", "screw", "fan chassis", fastener="m2x3", count=3, under="cover",
                  tool="driver", captive=True),
            joint("board_screws", "screw", "board chassis", fastener="m2x5", count=6, under="cover",
                  tool="driver", washers={"spring": 2}),
            joint("board_nuts", "nut", "board chassis", count=2, under="cover", tool="driver"),
            joint("panel_screws", "screw", "panel chassis", fastener="m2x5_lock", count=2, side="top",
                  tool="driver", reuse="single_use"),
            joint("panel_ribbon", "ribbon", "panel board", under="cover",
                  prove_before_close=("shows",)),
            joint("panel_glue", "adhesive", "panel chassis", side="top", reuse="inspect"),
            joint("modem_plug", "plug", "modem board", under="cover"),
            joint("modem_screw", "screw", "modem chassis", fastener="m2x3", under="cover", tool="driver"),
        ],
        tools=[Tool("driver", "screwdriver", ("PH1",)), Tool("pick", "pick")],
        fasteners=[
            Fastener("m2x3", "M2", 3, "PH1", "pan"),
            Fastener("m2x5", "M2", 5, "PH1", "pan"),
            Fastener("m2x5_lock", "M2", 5, "PH1", "pan", finish="blue patch"),
        ],
        hazards=[Hazard("pack", "warning", "Lithium pack: do not pierce.")],
        functions=[
            Function("boots", "Starts", "Switch it on", 30_000),
            Function("cooling", "Cooling", "Listen to the fan", 20_000),
            Function("shows", "Shows", "Look at the panel", 10_000, needs=("pack_plug",)),
        ],
        options=[Option("cell", "Modem", fitted=False)],
        spares=[Spare("front", "Front", ("panel",))],
        acts=[Act("clean", "Wipe the board.", "turning", hold="Is it dry?")],
    )  # fmt: skip


def events_of(*happenings: Happening, by: str | None = None, first: int = 1) -> tuple[Event, ...]:
    """Events with ids e1, e2 … in order."""
    number = count(first)
    return tuple(Event(id=f"e{next(number)}", what=what, by=by) for what in happenings)


def start(device: Device, **rest: Any) -> Started:  # noqa: ANN401 - any field
    """The event that a job on this device begins with."""
    return Started(device=device.id, revision=device.revision_hash, **rest)
