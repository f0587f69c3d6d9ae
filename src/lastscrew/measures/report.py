"""What of the repairability index follows from a device file, and what does not."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from lastscrew.device.model import Device
from lastscrew.measures.counting import Frame
from lastscrew.measures.depth import DEFAULT_WORK, Depth, disassembly_depth
from lastscrew.measures.grades import Graded, grade_fastener, grade_tool
from lastscrew.measures.index import (
    LEAST,
    MOST,
    PARAMETERS,
    class_of,
    depth_score,
    index_of,
    part_weights,
)
from lastscrew.measures.priority import applies

FROM_A_DEVICE_FILE = ("SDD", "SF", "ST")
NOT_FROM_A_DEVICE_FILE: Mapping[str, str] = {
    "SSP": "for how long, to whom and how fast spare parts are to be had",
    "SSU": "for how many years the operating system is updated",
    "SRI": "to whom repair information is given, and at what price",
}
"""Parameter to what it asks for: nothing that is in a device file."""

ABSENT_SCORE = MOST
"""A priority part that the device does not have counts as the best."""

Span = tuple[Fraction, Fraction]
"""Least and greatest value; equal where it is known."""


@dataclass(frozen=True, slots=True)
class PartMeasure:
    """How one piece comes out: depth, fasteners and tools on the way with the fewest steps.

    Attributes:
        piece: As it was named: a part, a spare, or several joined by ``+``.
        depth: The depth with its steps.
        fasteners: Every joint opened, graded, in the order of opening.
        tools: Every tool used, graded, in the order of first use (the bare hand only where no tool is
            used at all).
    """

    piece: str
    depth: Depth
    fasteners: tuple[Graded, ...]
    tools: tuple[Graded, ...]

    @property
    def worst_fastener(self) -> Graded | None:
        """The fastener with the least score, the first of several; None where nothing is opened."""
        return min(self.fasteners, key=lambda graded: graded.score, default=None)

    @property
    def worst_tool(self) -> Graded | None:
        """The tool with the least score, the first of several; None where nothing is opened."""
        return min(self.tools, key=lambda graded: graded.score, default=None)


@dataclass(frozen=True, slots=True)
class PriorityScore:
    """Scores of one priority part.

    Attributes:
        code: Its code.
        measures: The pieces that stand for it; empty for one that is absent or not said.
        absent: True when the device has none.
        proposed: True when the pieces were proposed by name.
        SDD, SF, ST: (least, greatest) score by parameter: 1 to 5 where it is not known.
    """

    code: str
    measures: tuple[PartMeasure, ...]
    absent: bool
    proposed: bool
    scores: Mapping[str, tuple[int, int]]

    @property
    def is_known(self) -> bool:
        """False where nobody said which part it is."""
        return self.absent or bool(self.measures)


@dataclass(frozen=True, slots=True)
class IndexReport:
    """The index as far as it goes.

    Attributes:
        applies: True when the index is made for this kind of device.
        foldable: True when the weights of foldable devices are used.
        parts: One for each priority part.
        parameters: Span of each of the six parameters; (1, 5) where nothing is known.
        index: Span of R.
        classes: Class of the least and of the greatest R.
        given: Parameters that were given by hand.
    """

    applies: bool
    foldable: bool
    parts: tuple[PriorityScore, ...]
    parameters: Mapping[str, Span]
    index: Span
    classes: tuple[str, str]
    given: tuple[str, ...]


def measure_piece(
    device: Device,
    piece: str,
    tool_grades: Mapping[str, str] | None = None,
    work: int | None = DEFAULT_WORK,
    frame: Frame | None = None,
    expired: Callable[[], bool] | None = None,
) -> PartMeasure:
    """Measure how one piece comes out.

    Args:
        device: The device, reduced to what is fitted.
        piece: A part, a spare, or several joined by ``+``.
        tool_grades: Grades of tools that are known.
        work: Limit of the search for the depth.
        frame: The compiled device, where several pieces are measured.
        expired: Asked now and then; True stops the search as the limit does.
    """
    depth = disassembly_depth(device, piece, work, frame=frame, expired=expired)
    joints = [device.joints[j] for step in depth.steps for j in step.joints]
    fasteners = tuple(grade_fastener(device, joint, depth.piece) for joint in joints)
    used: dict[str | None, None] = dict.fromkeys(step.tool for step in depth.steps)
    used.update(dict.fromkeys(_tools_of_acts(device, {joint.id for joint in joints})))
    tools: list[str | None] = [tool for tool in used if tool is not None]
    tools = tools or list(used)
    graded = tuple(grade_tool(device, tool, tool_grades or {}) for tool in tools)
    return PartMeasure(piece, depth, fasteners, graded)


def _tools_of_acts(device: Device, opened: Collection[str]) -> Iterable[str]:
    for act in device.acts.values():
        at_opening = act.at in ("before_open", "after_open") and act.joint in opened
        always = not act.when_replaced and not act.when_opened
        if act.tool and at_opening and (always or set(act.when_opened) & set(opened)):
            yield act.tool


def report_index(
    device: Device,
    pieces: Mapping[str, Sequence[PartMeasure]],
    absent: Collection[str] = (),
    proposed: Collection[str] = (),
    authorised: Collection[str] = (),
    given: Mapping[str, int] | None = None,
    *,
    foldable: bool = False,
) -> IndexReport:
    """Score the priority parts and put the index together, with spans where something is not known.

    Args:
        device: The device.
        pieces: Priority part code to the pieces that stand for it (of several the lowest score counts).
        absent: Codes of which the device has none.
        proposed: Codes whose pieces are only proposed.
        authorised: Codes whose new part must be authorised from afar.
        given: SSP, SSU and SRI, as far as they are known.
        foldable: Use the weights of foldable devices.
    """
    weights = part_weights(foldable=foldable)
    parts = tuple(
        _priority_score(
            code,
            tuple(pieces.get(code, ())),
            absent=code in absent,
            proposed=code in proposed,
            authorised=code in authorised,
        )
        for code in weights
    )
    parameters: dict[str, Span] = {}
    for name in PARAMETERS:
        if name in FROM_A_DEVICE_FILE:
            low = sum((weights[p.code] * p.scores[name][0] for p in parts), Fraction(0))
            high = sum((weights[p.code] * p.scores[name][1] for p in parts), Fraction(0))
            parameters[name] = (low, high)
        elif given and name in given:
            parameters[name] = (Fraction(given[name]), Fraction(given[name]))
        else:
            parameters[name] = (Fraction(LEAST), Fraction(MOST))
    low = index_of({name: span[0] for name, span in parameters.items()})
    high = index_of({name: span[1] for name, span in parameters.items()})
    return IndexReport(
        applies(device),
        foldable,
        parts,
        parameters,
        (low, high),
        (class_of(low), class_of(high)),
        tuple(name for name in PARAMETERS if given and name in given),
    )


def _priority_score(
    code: str, measures: tuple[PartMeasure, ...], *, absent: bool, proposed: bool, authorised: bool
) -> PriorityScore:
    best = dict.fromkeys(FROM_A_DEVICE_FILE, (ABSENT_SCORE, ABSENT_SCORE))
    if absent:
        return PriorityScore(code, (), absent=True, proposed=False, scores=best)
    if not measures:
        unknown = dict.fromkeys(FROM_A_DEVICE_FILE, (LEAST, MOST))
        return PriorityScore(code, (), absent=False, proposed=False, scores=unknown)
    scores = [_scores(measure, authorised=authorised) for measure in measures]
    lowest = {
        name: (min(s[name][0] for s in scores), min(s[name][1] for s in scores))
        for name in FROM_A_DEVICE_FILE
    }
    return PriorityScore(code, measures, absent=False, proposed=proposed, scores=lowest)


def _scores(measure: PartMeasure, *, authorised: bool) -> dict[str, tuple[int, int]]:
    depth = measure.depth
    if not depth.reachable:  # what can't be taken out scores the least there is
        return dict.fromkeys(FROM_A_DEVICE_FILE, (LEAST, LEAST))
    fastener, tool = measure.worst_fastener, measure.worst_tool
    fastener_score = fastener.score if fastener else MOST
    tool_score = tool.score if tool else MOST
    return {
        "SDD": (
            depth_score(depth.count, authorisation=authorised),
            depth_score(depth.at_least, authorisation=authorised),
        ),
        "SF": (fastener_score, fastener_score),
        "ST": (tool_score, tool_score),
    }
