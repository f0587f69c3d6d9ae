"""What ``lastscrew measure`` finds out and how it is shown, as text and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from lastscrew.cli.columns import Line, coloured, wrap
from lastscrew.cli.tables import Column, table
from lastscrew.device.model import Device
from lastscrew.measures.counting import Frame
from lastscrew.measures.depth import Depth, DepthStep
from lastscrew.measures.grades import Graded
from lastscrew.measures.index import PARAMETERS, PRIORITY_PARTS, part_weights
from lastscrew.measures.priority import propose
from lastscrew.measures.report import (
    FROM_A_DEVICE_FILE,
    NOT_FROM_A_DEVICE_FILE,
    IndexReport,
    PartMeasure,
    PriorityScore,
    Span,
    measure_piece,
    report_index,
)
from lastscrew.plan.wording import joint_name, listed, part_name, tool_name

if TYPE_CHECKING:
    from lastscrew.cli.measure import Asked

Json = dict[str, object]

PARAMETER_NAMES = {
    "SDD": "disassembly depth",
    "SF": "fasteners",
    "ST": "tools",
    "SSP": "spare parts",
    "SSU": "updates",
    "SRI": "repair information",
}


@dataclass(frozen=True, slots=True)
class Measured:
    """Everything that the command shows.

    Attributes:
        device: The device, reduced to what is fitted.
        parts: Every part but the fixed one, by id.
        ways: The pieces whose steps are shown.
        report: The index as far as it goes.
        proposals: Priority part code to the part ids that were proposed, for codes that nobody named.
    """

    device: Device
    parts: Mapping[str, PartMeasure]
    ways: Mapping[str, PartMeasure]
    report: IndexReport
    proposals: Mapping[str, tuple[str, ...]]


def measure(device: Device, asked: Asked, work: int, expired: Callable[[], bool]) -> Measured:
    """Measure every part of a fitted device and what was asked for besides."""
    frame = Frame(device)
    known: dict[str, PartMeasure] = {}

    def of(piece: str) -> PartMeasure:
        if piece not in known:
            known[piece] = measure_piece(device, piece, asked.tool_grades, work, frame, expired)
        return known[piece]

    parts = {part.id: of(part.id) for part in device.parts.values() if not part.fixed}
    settled = {*asked.pieces, *asked.absent}
    proposed = propose(device, foldable=asked.foldable)
    proposals = {code: found for code, found in proposed.items() if code not in settled}
    pieces = {**asked.pieces, **proposals}
    report = report_index(
        device,
        {code: [of(piece) for piece in named] for code, named in pieces.items()},
        asked.absent,
        tuple(proposals),
        asked.authorised,
        asked.given,
        foldable=asked.foldable,
    )
    ways = [*(parts if asked.every_way else ()), *asked.ways]
    return Measured(device, parts, {way: of(way) for way in ways}, report, proposals)


# --- text ---------------------------------------------------------------------------------------

DEPTH_COLUMNS = (
    Column("part", flexible=True), Column("steps", number=True), Column("fasteners", flexible=True),
    Column("tools", flexible=True),
)  # fmt: skip
INDEX_COLUMNS = (
    Column("code"), Column("part", flexible=True), Column("weight", number=True), Column("depth", number=True),
    Column("SDD", number=True), Column("SF", number=True), Column("ST", number=True), Column("note", flexible=True),
)  # fmt: skip


def as_text(measured: Measured, width: int, *, colour: bool) -> list[str]:
    """The measures for a terminal."""
    device = measured.device

    def heading(text: str) -> str:
        return coloured(Line(text, "strong"), colour=colour)

    rows = [_depth_row(device, measure) for measure in measured.parts.values()]
    lines = [heading(f"{device.name}: how deep each part lies"), ""]
    lines += table(DEPTH_COLUMNS, rows, width, colour=colour) if rows else ["No part comes off."]
    lines += ["", *wrap(_about_depth(measured), width)]
    for measure in measured.ways.values():
        lines += ["", heading(f"{_piece_name(device, measure.piece)}: {depth_text(measure.depth)}")]
        lines += _way_lines(device, measure, width)
    lines += ["", heading("Repairability index, Regulation (EU) 2023/1669"), ""]
    lines += table(INDEX_COLUMNS, list(_index_rows(measured)), width, colour=colour)
    lines += ["", *_index_lines(measured, width)]
    return lines


def depth_text(depth: Depth) -> str:
    """``6 steps``, ``at most 9 steps, at least 7``, ``never``."""
    if not depth.reachable:
        return "no way out"
    steps = f"{depth.count} step{'' if depth.count == 1 else 's'}"
    return steps if depth.proven else f"at most {steps}, at least {depth.at_least} (not proven)"


def _count(depth: Depth) -> str:
    if not depth.reachable:
        return "never"
    return str(depth.count) if depth.proven else f"{depth.at_least}–{depth.count}"


def _depth_row(device: Device, measure: PartMeasure) -> tuple[str, ...]:
    tools = [graded.id or "hand" for graded in measure.tools]
    fastener = measure.worst_fastener
    held = "" if fastener is None else fastener.grade
    if fastener is not None and fastener.grade != "reusable":
        held += f": {joint_name(device, fastener.id)}"
    return (_piece_name(device, measure.piece), _count(measure.depth), held, ", ".join(tools))


def _about_depth(measured: Measured) -> str:
    said = (
        "A step ends when something comes off or when the tool changes (the bare hand counts as one). "
        "Steps are the fewest over all ways in; --way PART shows them. Fasteners: the worst on that way."
    )
    if any(not m.depth.proven for m in measured.parts.values()):
        said += (
            " Not proven, where two numbers stand: more --work or a longer --limit may settle it."
        )
    return said


def _way_lines(device: Device, measure: PartMeasure, width: int) -> Iterator[str]:
    for number, step in enumerate(measure.depth.steps, 1):
        yield from _numbered(f"{number:>3}  ", _step_text(device, step), width)
    for graded in (*measure.fasteners, *measure.tools):
        if graded.score < 4:
            name = _graded_name(device, graded, measure)
            yield from wrap(f"{name}: {graded.grade}, {graded.why}", width, indent=5, hang=7)


def _numbered(mark: str, text: str, width: int) -> Iterator[str]:
    """A text with a mark before it, the rest set in below it."""
    for number, line in enumerate(wrap(text, width, indent=len(mark))):
        yield line if number else mark + line[len(mark) :]


def _graded_name(device: Device, graded: Graded, measure: PartMeasure) -> str:
    if graded in measure.fasteners:
        return joint_name(device, graded.id)
    return tool_name(device, graded.id or None)


def _step_text(device: Device, step: DepthStep) -> str:
    joints = listed([joint_name(device, joint) for joint in step.joints])
    off = "; then ".join(
        listed([part_name(device, part) for part in piece])
        + (" come off together" if len(piece) > 1 else " off")
        for piece in step.removed
    )
    return f"{tool_name(device, step.tool)}: {joints}{f' → {off}' if off else ''}"


def _piece_name(device: Device, piece: str) -> str:
    return " + ".join(part_name(device, word.strip()) for word in piece.split("+"))


def _index_rows(measured: Measured) -> Iterator[tuple[str, ...]]:
    device, report = measured.device, measured.report
    weights = part_weights(foldable=report.foldable)
    for part in report.parts:
        names = ", ".join(_piece_name(device, m.piece) for m in part.measures)
        depth = ", ".join(_count(m.depth) for m in part.measures)
        scores = [
            _span_text(part.scores[name]) if part.is_known else "?" for name in FROM_A_DEVICE_FILE
        ]
        yield (
            part.code, names or PRIORITY_PARTS[part.code], f"{float(weights[part.code]):g}", depth, *scores,
            _part_note(part),
        )  # fmt: skip


def _part_note(part: PriorityScore) -> str:
    if part.absent:
        return "none in this device"
    if not part.is_known:
        return "not named"
    return "proposed by its name" if part.proposed else ""


def _span_text(span: tuple[int, int]) -> str:
    return str(span[0]) if span[0] == span[1] else f"{span[0]}–{span[1]}"


def _index_lines(measured: Measured, width: int) -> Iterator[str]:
    report = measured.report
    for name in PARAMETERS:
        span, weight = report.parameters[name], float(PARAMETERS[name])
        if name in NOT_FROM_A_DEVICE_FILE and name not in report.given:
            said = f"can't be had from a device file: {NOT_FROM_A_DEVICE_FILE[name]} (--score {name}=1..5)"
        else:
            said = _decimal_span(span) + (" (given)" if name in report.given else "")
        yield from wrap(
            f"{name:<3}  {PARAMETER_NAMES[name]}, weight {weight:g}: {said}", width, hang=5
        )
    low, high = report.classes
    classes = f"class {low}" if low == high else f"class {low} to {high}"
    yield from _numbered("R    ", f"{_decimal_span(report.index)}, {classes}", width)
    yield ""
    for sentence in _cautions(measured):
        yield from wrap(sentence, width)


def _cautions(measured: Measured) -> Iterator[str]:
    report, device = measured.report, measured.device
    if not report.applies:
        kind = f"a {device.kind}" if device.kind else "this device"
        yield (
            f"The index is made for smartphones and slates; for {kind} these figures are the same "
            "arithmetic, not a declaration."
        )
    if not all(part.is_known for part in report.parts):
        yield (
            "A part that is not named counts as anything from 1 to 5: name it (--part CODE=PART), or say that "
            "the device has none (--part CODE=none)."
        )
    if any(part.proposed for part in report.parts):
        said = " ".join(
            f"--part {code}={p}" for code, found in measured.proposals.items() for p in found
        )
        yield f"Parts marked as proposed rest on their names only. To settle them: {said}"
    if any(graded.assumed for m in _index_measures(report) for graded in (*m.fasteners, *m.tools)):
        yield (
            "Which tools count as basic is taken from names and drives, from memory of the list; "
            "--tool TOOL=GRADE says it for one. --way PART tells what each grade rests on."
        )
    yield (
        "Where a new part works only after its serial number is authorised from afar, five steps are "
        "added (--authorised CODE); a device file does not say. Weights, bands and classes are as secondary "
        "sources give them; whoever declares an index works from the legal text."
    )


def _index_measures(report: IndexReport) -> Iterator[PartMeasure]:
    for part in report.parts:
        yield from part.measures


def _decimal_span(span: Span) -> str:
    low, high = (f"{float(value):.2f}" for value in span)
    return low if low == high else f"{low} to {high}"


# --- JSON ---------------------------------------------------------------------------------------


def as_json_object(measured: Measured) -> Json:
    """The measures as one JSON object."""
    device, report = measured.device, measured.report
    extra = {w: m for w, m in measured.ways.items() if w not in measured.parts}
    return {
        "device": {"id": device.id, "name": device.name, "revision_hash": device.revision_hash},
        "parts": [_measure_json(m) for m in measured.parts.values()],
        "pieces": [_measure_json(m) for m in extra.values()],
        "index": {
            "regulation": "(EU) 2023/1669, as given by secondary sources",
            "applies": report.applies,
            "foldable": report.foldable,
            "priority_parts": [_priority_json(part, report) for part in report.parts],
            "parameters": {
                name: {
                    "weight": float(PARAMETERS[name]),
                    **_span_json(report.parameters[name]),
                    "from": _origin(name, report),
                }
                for name in PARAMETERS
            },
            "R": _span_json(report.index),
            "class": {"low": report.classes[0], "high": report.classes[1]},
            "not_from_a_device_file": [
                {"name": name, "asks_for": what}
                for name, what in NOT_FROM_A_DEVICE_FILE.items()
                if name not in report.given
            ],
        },
    }


def _origin(name: str, report: IndexReport) -> str:
    if name in FROM_A_DEVICE_FILE:
        return "device file"
    return "given" if name in report.given else "not known"


def _span_json(span: tuple[int, int] | tuple[Fraction, Fraction]) -> Json:
    return {"low": float(span[0]), "high": float(span[1])}


def _measure_json(measure: PartMeasure) -> Json:
    depth = measure.depth
    return {
        "piece": measure.piece,
        "parts": list(depth.piece),
        "reachable": depth.reachable,
        "depth": depth.count if depth.reachable else None,
        "at_least": depth.at_least if depth.reachable else None,
        "proven": depth.proven,
        "steps": [
            {
                "tool": step.tool,
                "joints": list(step.joints),
                "removed": [list(p) for p in step.removed],
            }
            for step in depth.steps
        ],
        "fasteners": [_graded_json(graded, "joint") for graded in measure.fasteners],
        "tools": [_graded_json(graded, "tool") for graded in measure.tools],
    }


def _graded_json(graded: Graded, what: str) -> Json:
    return {
        what: graded.id or None,
        "grade": graded.grade,
        "score": graded.score,
        "why": graded.why,
        "assumed": graded.assumed,
    }


def _priority_json(part: PriorityScore, report: IndexReport) -> Json:
    scores: Mapping[str, Sequence[int]] = part.scores
    return {
        "code": part.code,
        "name": PRIORITY_PARTS[part.code],
        "weight": float(part_weights(foldable=report.foldable)[part.code]),
        "pieces": [measure.piece for measure in part.measures],
        "absent": part.absent,
        "proposed": part.proposed,
        "known": part.is_known,
        **{name: {"low": scores[name][0], "high": scores[name][1]} for name in FROM_A_DEVICE_FILE},
    }
