"""What hands do to open and close a joint of each kind, as basic MOST sequences with reasons.

Every builder takes a :class:`Task` and returns the motions of one joint, all of its pieces. What
is *not* in them, because the plan counts it apart: taking up and laying aside the tool (``swap_s``),
turning the machine (``turn_s``), waiting (``wait_open_s``, ``wait_close_s``), acts (cleaning off old
compound is one), checks. A part that is lifted out is the work of its ``seat``.

The choice of motions is ours; indices come from the card (:mod:`lastscrew.times.most`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from lastscrew.device.model import Joint
from lastscrew.times.most import (
    ARM_STROKES,
    FINGER_SPINS,
    POWER_TOOL_DIAMETER_MM,
    PROCESS_S,
    TAPS,
    WRIST_CRANKS,
    WRIST_STROKES,
    Motion,
    index_for,
)
from lastscrew.times.threads import Turns

Grip = Literal["hand", "driver", "spanner", "crank", "power", "other"]
"""How a threaded piece is turned: bare fingers, a driver spun in the fingers, an open spanner that
is put on anew for each stroke, a key or ratchet that stays on, a power tool, any other tool."""

SMALL_DIAMETER_MM = 2.5
"""Up to this size a piece is collected with care (G3) instead of simply grasped (G1)."""

FIRM_DIAMETER_MM = 3.0
FIRM_TORQUE_NCM = 50.0
"""From this size or torque on it takes a turn of the wrist to break it loose or make it tight; below,
the fingers do it (our own figures, no source)."""

LOOSEN_ONLY_TURNS = 3.0
"""Turns for a piece that is only loosened (our own figure)."""

STROKES_PER_BEAD = 10
"""Strokes of the arm to part one bead of glue, and as many to clean it off (our own figure)."""

PRESS_S, DRILL_S, SET_RIVET_S, MELT_S = 5.0, 7.0, 2.5, 4.0
"""Seconds that the hand stays: pressing a bead, drilling out a rivet, setting one, melting one solder
joint (our own figures)."""


SLOTTED_DRIVES = ("SL", "FLAT")
"""How the names of drives begin in which nothing centres the tip: it is set in with care (P6), the
others with a small adjustment (P3)."""


@dataclass(frozen=True, slots=True)
class Task:
    """One joint, one access, one direction.

    Attributes:
        joint: The joint.
        closing: False to open, True to close.
        grip: How the tool of this direction works (``hand`` for none).
        drive: Drive of the fastener, upper case, "" where not known.
        turns: Turns and thread, for threaded kinds.
        torque_ncm: Torque of the joint, else of its fastener, None where none is given.
    """

    joint: Joint
    closing: bool
    grip: Grip
    drive: str
    turns: Turns
    torque_ncm: float | None

    @property
    def count(self) -> int:
        """Pieces of the joint."""
        return self.joint.count

    @property
    def bare(self) -> bool:
        """True when it is done without a tool."""
        return self.grip == "hand"

    @property
    def collect(self) -> str:
        """The grasp of one piece: small ones are collected with care."""
        return "G3" if self.turns.thread.diameter_mm <= SMALL_DIAMETER_MM else "G1"

    @property
    def firm(self) -> bool:
        """True when it takes the wrist to break loose or to make tight."""
        if self.torque_ncm is not None:
            return self.torque_ncm >= FIRM_TORQUE_NCM
        return self.turns.thread.diameter_mm >= FIRM_DIAMETER_MM


def _words(letter: str, indices: tuple[int, ...]) -> str:
    return " ".join(f"{letter}{index}" for index in indices)


def _position(task: Task) -> str:
    """Bring the tool (or the fingers) to one piece and fit it."""
    if task.bare:
        return "A1 G1"
    return "A1 P6" if task.drive.startswith(SLOTTED_DRIVES) else "A1 P3"


def _run(task: Task, turns: float) -> str:
    """Turn one piece by ``turns``, with the letter of the direction."""
    letter = "F" if task.closing else "L"
    if task.grip == "power":
        return _words(letter, index_for(POWER_TOOL_DIAMETER_MM, task.turns.thread.diameter_mm))
    if task.grip == "crank":
        return _words(letter, index_for(WRIST_CRANKS, turns))
    if task.grip == "spanner":
        return f"{_words(letter, index_for(WRIST_STROKES, 2))} {_words(letter, index_for(FINGER_SPINS, turns))}"
    return _words(letter, index_for(FINGER_SPINS, turns))


def _threaded_open(task: Task) -> list[Motion]:
    joint, n = task.joint, task.count
    motions: list[Motion] = []
    wrist = task.firm and task.grip in ("driver", "other", "hand")
    if joint.order == "crosswise" and n > 2 and not task.bare:
        motions.append(
            Motion(
                f"{_position(task)} L3",
                n,
                "crosswise: break each loose first, so that nothing is bent",
            )
        )
        wrist = False
    turns = LOOSEN_ONLY_TURNS if joint.loosen_only else task.turns.turns
    loose = "L3 " if wrist else ""
    motions.append(
        Motion(
            f"{_position(task)} {loose}{_run(task, turns)}",
            n,
            "fit the tool, loosen only"
            if joint.loosen_only
            else f"fit the tool, {turns:.1f} turns out",
        )
    )
    if not (joint.loosen_only or joint.captive):
        motions.append(
            Motion(f"A1 {task.collect} A1 P1", n, "take the loose piece, lay it in its tray place")
        )
    motions += _washers(task)
    return motions


def _threaded_close(task: Task) -> list[Motion]:
    joint, n = task.joint, task.count
    motions = _washers(task)
    if not (joint.loosen_only or joint.captive):
        motions.append(
            Motion(f"A1 {task.collect} A1 P3", n, "take it from the tray, set it into its hole")
        )
    turns = LOOSEN_ONLY_TURNS if joint.loosen_only else task.turns.turns
    if joint.order != "any" and n > 1 and not joint.loosen_only:
        start = _words("F", index_for(FINGER_SPINS, 2))
        motions.append(Motion(f"A1 {start}", n, "start each by hand before any is run down"))
        turns = max(turns - 2, 1)
    tight = (
        " F3"
        if task.firm and task.torque_ncm is None and task.grip in ("driver", "other", "hand")
        else ""
    )
    motions.append(
        Motion(
            f"{_position(task)} {_run(task, turns)}{tight}",
            n,
            f"fit the tool, {turns:.1f} turns in",
        )
    )
    if task.torque_ncm is not None:
        if n > 1:
            motions.append(Motion(f"{_position(task)} F3", n, "second round to the torque"))
        else:
            motions.append(Motion("F3", 1, "last turn to the torque"))
    return motions


def _washers(task: Task) -> list[Motion]:
    loose = sum(task.joint.washers.values())
    if not loose or task.joint.captive or task.joint.loosen_only:
        return []
    if task.closing:
        return [Motion("A1 G3 A1 P3", loose, "washers and sleeves from the tray, over their holes")]
    return [Motion("A1 G3 A1 P1", loose, "washers and sleeves into the tray")]


def _clip_open(task: Task) -> list[Motion]:
    if task.bare:
        return [
            Motion("A1 G3", 1, "find an edge that the fingers can hold"),
            Motion(
                "A1 M3", task.count, "move along the edge, pull one clip out against resistance"
            ),
        ]
    return [
        Motion("A1 P6", 1, "find the gap, set the tip in with care"),
        Motion("A1 P1 M3", task.count, "move along the gap, lever one clip out against resistance"),
    ]


def _clip_close(task: Task) -> list[Motion]:
    each = "A1 M3" if task.bare else "A1 P1 M3"
    return [
        Motion("A1 P6", 1, "line the edge up all round"),
        Motion(each, task.count, "press one clip home against resistance"),
    ]


def _latch(task: Task) -> list[Motion]:
    reach = "A1 G1" if task.bare else "A1 P3"
    return [
        Motion(f"{reach} M3", task.count, "grip the lever or slide, swing it against its detent")
    ]


def _hook_open(task: Task) -> list[Motion]:
    return [
        Motion("A1 G1 M3", 1, "slide or tilt the part in two stages"),
        Motion("M1", task.count, "ease each hook out"),
    ]


def _hook_close(task: Task) -> list[Motion]:
    return [
        Motion("A1 G1 A1 P6", 1, "offer the part up to its hooks at the right angle"),
        Motion("M1 I1", task.count, "see one hook in, swing or slide it home"),
    ]


def _magnet_open(task: Task) -> list[Motion]:
    reach = "A1 G1" if task.bare else "A1 P3"
    return [
        Motion(f"{reach} M3", 1, "pull off against the pull"),
        Motion("M1", task.count, "each one lets go"),
    ]


def _magnet_close(task: Task) -> list[Motion]:
    return [
        Motion("A1 G1 A1 P3", 1, "offer up and line up"),
        Motion("M1", task.count, "each one draws home"),
    ]


def _adhesive_open(task: Task) -> list[Motion]:
    strokes = _words("L", index_for(ARM_STROKES, STROKES_PER_BEAD))
    motions = [
        Motion(
            f"A1 P6 {strokes}",
            task.count,
            f"set the blade in with care, {STROKES_PER_BEAD} strokes along one bead",
        )
    ]
    if task.joint.wait_open_ms:
        motions.insert(
            0,
            Motion(
                "A1 G1 A1 P3 A1 G1 A1 P1",
                1,
                "lay the heat on and take it off again (the wait is apart)",
            ),
        )
    return motions


def _adhesive_close(task: Task) -> list[Motion]:
    strokes = _words("F", index_for(ARM_STROKES, STROKES_PER_BEAD))
    press = _words("X", index_for(PROCESS_S, PRESS_S))
    return [
        Motion(f"A1 P1 {strokes}", task.count, "clean the old glue off one bead"),
        Motion("A1 G1 A1 P6 M10", task.count, "lay the new bead, peel its liner"),
        Motion(f"A1 M3 {press}", task.count, f"press it down for {PRESS_S:g} s (cure is apart)"),
    ]


def _rivet_open(task: Task) -> list[Motion]:
    return [
        Motion(
            f"A1 P6 {_words('X', index_for(PROCESS_S, DRILL_S))}",
            task.count,
            f"drill or grind out, {DRILL_S:g} s",
        ),
        Motion("A1 G3 A1 P1", task.count, "collect the remains"),
    ]


def _rivet_close(task: Task) -> list[Motion]:
    return [
        Motion("A1 G3 A1 P3", task.count, "new rivet into its hole"),
        Motion(
            f"A1 P3 M3 {_words('X', index_for(PROCESS_S, SET_RIVET_S))}",
            task.count,
            f"set it, {SET_RIVET_S:g} s",
        ),
    ]


def _solder_open(task: Task) -> list[Motion]:
    melt = _words("X", index_for(PROCESS_S, MELT_S))
    return [
        Motion(f"A1 P6 {melt}", task.count, f"tip to the joint, melt, {MELT_S:g} s"),
        Motion("A1 P3 M1", task.count, "draw the solder off or lift the wire"),
    ]


def _solder_close(task: Task) -> list[Motion]:
    melt = _words("X", index_for(PROCESS_S, MELT_S))
    return [
        Motion("A1 G1 A1 P6", task.count, "hold wire or pin in place"),
        Motion(f"A1 P6 {melt} I1", task.count, f"heat and feed solder, {MELT_S:g} s, look at it"),
    ]


def _pin_open(task: Task) -> list[Motion]:
    out = "A1 G3 M3" if task.bare else f"A1 P3 {_words('L', index_for(TAPS, 3))}"
    return [
        Motion(out, task.count, "pull it out" if task.bare else "drive it out, three taps"),
        Motion("A1 G1 A1 P1", task.count, "lay it in its tray place"),
    ]


def _pin_close(task: Task) -> list[Motion]:
    home = "M3" if task.bare else f"A1 P3 {_words('F', index_for(TAPS, 3))}"
    return [
        Motion("A1 G1 A1 P6", task.count, "line the holes up, enter the pin"),
        Motion(home, task.count, "push it home" if task.bare else "drive it home, three taps"),
    ]


def _seat_open(task: Task) -> list[Motion]:
    return [Motion("A1 G3 A1 P1", task.count, "take hold on both sides, lift out, lay aside")]


def _seat_close(task: Task) -> list[Motion]:
    return [Motion("A1 G3 A1 P6", task.count, "fetch the part, lower it into its place with care")]


def _link_open(task: Task) -> list[Motion]:
    reach = "A1 G3" if task.bare else "A1 P3"
    return [Motion(f"{reach} M3", task.count, "work it straight out against its contacts")]


def _link_close(task: Task) -> list[Motion]:
    return [Motion("A1 G3 A1 P6 M3", task.count, "line the contacts up, press home")]


def _plug_open(task: Task) -> list[Motion]:
    reach = "A1 G3" if task.bare else "A1 P3"
    return [Motion(f"{reach} M3", task.count, "grip the housing (never the wires), draw it out")]


def _plug_close(task: Task) -> list[Motion]:
    return [Motion("A1 G3 A1 P6 M3", task.count, "right way round, enter, press until it seats")]


def _ribbon_open(task: Task) -> list[Motion]:
    reach = "A1 G1" if task.bare else "A1 P3"
    return [
        Motion(f"{reach} M1", task.count, "lift the latch"),
        Motion("A1 G3 M1", task.count, "draw the ribbon straight out"),
    ]


def _ribbon_close(task: Task) -> list[Motion]:
    reach = "A1" if task.bare else "A1 P3"
    return [
        Motion("A1 G3 A1 P6", task.count, "enter the ribbon squarely to its mark"),
        Motion(f"{reach} M1 I1", task.count, "close the latch, look that the mark is parallel"),
    ]


def _coax_open(task: Task) -> list[Motion]:
    reach = "A1 G3" if task.bare else "A1 P3"
    return [Motion(f"{reach} M3", task.count, "lift straight up beside the wire")]


def _coax_close(task: Task) -> list[Motion]:
    return [
        Motion("A1 G3 A1 P6 M3", task.count, "centre it over its socket, press until it clicks")
    ]


def _tape_open(task: Task) -> list[Motion]:
    reach = "A1 G3" if task.bare else "A1 P3 G1"
    return [Motion(f"{reach} M3", task.count, "lift a corner, peel back slowly in two stages")]


def _tape_close(task: Task) -> list[Motion]:
    return [Motion("A1 G1 A1 P3 M3", task.count, "lay it without folds, rub it down")]


def _tie_open(task: Task) -> list[Motion]:
    if task.bare:
        return [Motion("A1 G1 M3", task.count, "undo the strap or twist")]
    return [
        Motion("A1 P3 M1", task.count, "set the cutter clear of the wires, cut"),
        Motion("A1 G1 A1 P1", task.count, "take the remains away"),
    ]


def _tie_close(task: Task) -> list[Motion]:
    motions = [Motion("A1 G1 A1 P3 M3", task.count, "lay it round the bundle, draw it up")]
    if not task.bare:
        motions.append(Motion("A1 P3 M1", task.count, "cut the end flush"))
    return motions


def _route_open(task: Task) -> list[Motion]:
    reach = "A1 G1" if task.bare else "A1 P3"
    return [Motion(f"{reach} M3", task.count, "lift the cable out of one guide or channel")]


def _route_close(task: Task) -> list[Motion]:
    return [
        Motion(
            "A1 G1 A1 P3 M3",
            task.count,
            "lay it into one guide or channel, press it down, nothing pinched",
        )
    ]


def _other_open(task: Task) -> list[Motion]:
    reach = "A1 G3" if task.bare else "A1 P3"
    return [
        Motion(f"{reach} M3", task.count, "not described: take hold, part it against resistance")
    ]


def _other_close(task: Task) -> list[Motion]:
    return [Motion("A1 G1 A1 P6 M3", task.count, "not described: line up with care, press home")]


Builder = Callable[[Task], list[Motion]]

BUILDERS: Mapping[str, tuple[Builder, Builder]] = MappingProxyType(
    {
        "screw": (_threaded_open, _threaded_close),
        "nut": (_threaded_open, _threaded_close),
        "clip": (_clip_open, _clip_close),
        "latch": (_latch, _latch),
        "hook": (_hook_open, _hook_close),
        "magnet": (_magnet_open, _magnet_close),
        "adhesive": (_adhesive_open, _adhesive_close),
        "rivet": (_rivet_open, _rivet_close),
        "solder": (_solder_open, _solder_close),
        "pin": (_pin_open, _pin_close),
        "seat": (_seat_open, _seat_close),
        "board_link": (_link_open, _link_close),
        "plug": (_plug_open, _plug_close),
        "ribbon": (_ribbon_open, _ribbon_close),
        "coax": (_coax_open, _coax_close),
        "tape": (_tape_open, _tape_close),
        "tie": (_tie_open, _tie_close),
        "route": (_route_open, _route_close),
        "other": (_other_open, _other_close),
    }
)
"""Kind of joint to what opens it and what closes it."""


CARRIES_ITS_SUPPLY = ("adhesive", "tape", "tie", "solder", "rivet")
"""Kinds whose own closing motions already lay on what is renewed."""


def motions_of(task: Task) -> tuple[Motion, ...]:
    """The motions of one joint in one direction."""
    joint = task.joint
    motions = BUILDERS[joint.kind][1 if task.closing else 0](task)
    if task.closing and joint.renew and joint.kind not in CARRIES_ITS_SUPPLY:
        why = "take what is renewed, lay it on with care, put its container aside"
        motions.insert(0, Motion("A1 G1 A1 P6 M10 A1 P1", len(joint.renew), why))
    return tuple(motions)
