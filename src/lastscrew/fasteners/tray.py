"""The tray map: what lies in which compartment while the machine is open.

One compartment holds what one joint lets go. Groups lie in the order in which they go back, so that
the tray is emptied in order, and kinds that look alike are kept apart (see
:mod:`lastscrew.fasteners.arranging` for what *apart* means and what gives way to what).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device, Joint
from lastscrew.fasteners.arranging import Arrangement, Tray, arrange
from lastscrew.fasteners.lookalikes import RULE_DOUBT_MM, look_alike
from lastscrew.fasteners.pieces import Kind, has_fasteners, loose_pieces
from lastscrew.plan.model import Plan
from lastscrew.problems import InputError, Problem

MAX_SIDE = 20
MAX_TRAYS = 50
LETTERS = "ABCDEFGHIJKLMNOPQRST"


@dataclass(frozen=True, slots=True)
class TrayGroup:
    """What one joint lets go.

    Attributes:
        joint: The joint.
        step: The step of the plan that puts the pieces back, counted from 1 over both limbs.
        pieces: Kind and number of pieces, fasteners first.
        compartment: Its compartment: row letter and column number (``B3``), led by the number of
            the tray where there are several (``2-B3``).
        tray, row, column: The same as numbers, from 0.
        not_the_same_as: Compartments with pieces that look alike.
    """

    joint: str
    step: int
    pieces: tuple[tuple[Kind, int], ...]
    compartment: str
    tray: int
    row: int
    column: int
    not_the_same_as: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrayMap:
    """The map of all trays.

    Attributes:
        rows, columns, trays: The compartments.
        groups: In the order in which they go back.
        beside: Compartments side by side that hold look-alikes and could not be kept apart.
        out_of_order: Pairs of groups that do not lie in order; 0: the tray is emptied in order.
        proven: No arrangement keeps more apart, or the order better.
        one_more_tray_helps: With one tray more all look-alikes could be kept apart.
        thrown_away: Joints whose pieces are used once and do not go back.
    """

    rows: int
    columns: int
    trays: int
    groups: tuple[TrayGroup, ...]
    beside: tuple[tuple[str, str], ...]
    out_of_order: int
    proven: bool
    one_more_tray_helps: bool
    thrown_away: tuple[str, ...]

    def compartment_of(self, joint_id: str) -> str | None:
        """The compartment of a joint's pieces."""
        return next((g.compartment for g in self.groups if g.joint == joint_id), None)


def tray_map(
    device: Device,
    plan: Plan,
    rows: int,
    columns: int,
    *,
    trays: int | None = None,
    doubt_mm: float = RULE_DOUBT_MM,
) -> TrayMap:
    """Arrange what a plan takes out.

    Args:
        device: The whole device, or reduced to what is fitted.
        plan: The plan.
        rows: Compartments one below the other, 1 to ``MAX_SIDE``.
        columns: Compartments side by side, 1 to ``MAX_SIDE``.
        trays: How many trays there are; None for as many as are needed.
        doubt_mm: Doubt of a measured length in mm.

    Raises:
        InputError: A tray of that size is none, or the trays have too few compartments.
    """
    _check_size(rows, columns, trays)
    fitted = fit(device, plan.request.not_fitted, plan.request.fitted)
    steps, thrown_away = _groups(fitted, plan)
    needed = max(1, -(-len(steps) // (rows * columns)))
    if needed > (MAX_TRAYS if trays is None else trays):
        raise InputError([_too_few(len(steps), rows * columns, needed, trays)])
    tray = Tray(rows, columns, trays or needed)
    alike = _look_alikes(fitted, [joint for _, joint in steps], doubt_mm)
    arrangement = arrange(len(steps), alike, tray)
    names = [_name(tray, cell) for cell in arrangement.cells]
    return TrayMap(
        rows=rows,
        columns=columns,
        trays=tray.trays,
        groups=tuple(_tray_groups(fitted, tray, steps, arrangement, alike)),
        beside=tuple((names[one], names[other]) for one, other in arrangement.beside),
        out_of_order=arrangement.out_of_order,
        proven=arrangement.proven,
        one_more_tray_helps=bool(arrangement.beside) and _helps(len(steps), alike, tray),
        thrown_away=thrown_away,
    )


def _check_size(rows: int, columns: int, trays: int | None) -> None:
    problems = [
        Problem(
            f"a tray has 1 to {most} {name}, not {value}",
            "Give the number of compartments of your tray.",
            path=f"--{name}",
            code="tray_size",
        )
        for name, value, most in (
            ("rows", rows, MAX_SIDE),
            ("columns", columns, MAX_SIDE),
            ("trays", 1 if trays is None else trays, MAX_TRAYS),
        )
        if not 1 <= value <= most
    ]
    if problems:
        raise InputError(problems)


def _too_few(groups: int, cells: int, needed: int, trays: int | None) -> Problem:
    have = f"{trays} × {cells}" if trays else f"{MAX_TRAYS} × {cells}"
    return Problem(
        f"{groups} groups of screws do not go into {have} compartments",
        f"Take {needed} trays of this size, or larger ones.",
        path="--trays",
        code="tray_too_small",
    )


def _groups(device: Device, plan: Plan) -> tuple[list[tuple[int, Joint]], tuple[str, ...]]:
    """Joints with loose pieces that go back, with the step that closes them; and those with none."""
    steps: list[tuple[int, Joint]] = []
    thrown_away: list[str] = []
    for number, step in enumerate(plan.way_out, len(plan.way_in) + 1):
        joint = device.joints[step.joint]
        if not loose_pieces(device, joint):
            continue
        if joint.reuse == "single_use":
            thrown_away.append(joint.id)
        else:
            steps.append((number, joint))
    return steps, tuple(thrown_away)


def _look_alikes(device: Device, joints: Sequence[Joint], doubt_mm: float) -> set[tuple[int, int]]:
    return {
        (one, other)
        for other in range(len(joints))
        for one in range(other)
        if _may_be_confused(device, joints[one], joints[other], doubt_mm)
    }


def _may_be_confused(device: Device, one: Joint, other: Joint, doubt_mm: float) -> bool:
    """Different kinds that look alike; a kind that the file does not give may look like any."""
    if not (has_fasteners(one) and has_fasteners(other)) or one.kind != other.kind:
        return False
    mine, its = device.fasteners.get(one.fastener or ""), device.fasteners.get(other.fastener or "")
    if mine is None or its is None:
        return True
    return look_alike(mine, its, doubt_mm) is not None


def _helps(groups: int, alike: set[tuple[int, int]], tray: Tray) -> bool:
    larger = Tray(tray.rows, tray.columns, tray.trays + 1)
    return not arrange(groups, alike, larger).beside


def _name(tray: Tray, cell: int) -> str:
    number, inside = divmod(cell, tray.rows * tray.columns)
    row, column = divmod(inside, tray.columns)
    name = f"{LETTERS[row]}{column + 1}"
    return name if tray.trays == 1 else f"{number + 1}-{name}"


def _tray_groups(
    device: Device,
    tray: Tray,
    steps: Sequence[tuple[int, Joint]],
    arrangement: Arrangement,
    alike: set[tuple[int, int]],
) -> Iterator[TrayGroup]:
    for number, (step, joint) in enumerate(steps):
        cell = arrangement.cells[number]
        inside = cell % (tray.rows * tray.columns)
        others = sorted(
            arrangement.cells[other]
            for other in range(len(steps))
            if (min(number, other), max(number, other)) in alike
        )
        yield TrayGroup(
            joint=joint.id,
            step=step,
            pieces=tuple(loose_pieces(device, joint).items()),
            compartment=_name(tray, cell),
            tray=cell // (tray.rows * tray.columns),
            row=inside // tray.columns,
            column=inside % tray.columns,
            not_the_same_as=tuple(_name(tray, other) for other in others),
        )
