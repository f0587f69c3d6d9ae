"""What a list of screws says of the screws of a draft: by their mark, by what they hold, or by their size alone."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from lastscrew.device.names import to_identifier
from lastscrew.reading.draft_workshop import JointDraft, Workshop
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import tokenise


@dataclass(frozen=True, slots=True)
class _Row:
    """One row: the screws as its cells describe them, and the part beside them."""

    screws: Thing
    owners: tuple[str, ...]
    line: int


def sizes_of_tables(workshop: Workshop, joints: list[JointDraft]) -> None:
    """Give screws the size, drive, head and number that a list of screws gives."""
    rows = _rows(workshop)
    if not rows:
        return
    for joint in joints:
        if joint.kind in ("screw", "nut"):
            row, why = _row_of(workshop, joint, rows)
            if row is not None:
                _take(joint, row, why)


def _rows(workshop: Workshop) -> list[_Row]:
    lines = {line.number: line.text for line in workshop.reading.source.lines}
    rows = []
    for fact in workshop.reading.facts:
        if fact.kind != "table" or not fact.things:
            continue
        screws = fact.things[0]
        told = [
            _described(cell, workshop) for cell in re.split(r"\s*\|\s*", lines.get(fact.line, ""))
        ]
        cells = [thing for thing in told if thing is not None]
        rows.append(_Row(_joined(screws, cells), fact.joins, fact.line))
    return rows


def _described(cell: str, workshop: Workshop) -> Thing | None:
    """A cell such as "M2 × 3 mm, pan head, PH0", read as a screw."""
    if not re.search(r"[A-Za-z]", cell) or len(cell) > 80:
        return None
    words = re.sub(r"[,;]", " ", cell).strip()
    thing = Phrases(tokenise(f"{words} screw", workshop.lexicon), workshop.lexicon).phrase(0)[0]
    return thing if thing is not None and thing.category == "fastener" else None


def _joined(screws: Thing, cells: list[Thing]) -> Thing:
    def first(key: str) -> str:
        return next(
            (value for thing in (screws, *cells) if (value := str(getattr(thing, key) or ""))), ""
        )

    return replace(
        screws,
        size=first("size"),
        drive=first("drive"),
        head_form=first("head_form"),
        captive=screws.captive or any(thing.captive for thing in cells),
    )


def _row_of(workshop: Workshop, joint: JointDraft, rows: list[_Row]) -> tuple[_Row | None, str]:
    """The row that speaks of a joint: by its mark, else by the part, else where no other screw has that size."""
    if joint.label:
        marked = [row for row in rows if row.screws.label == joint.label]
        return (marked[0], "") if len(marked) == 1 else (None, "")
    fitting = [row for row in rows if not joint.size or _flat(row.screws.size) == _flat(joint.size)]
    held = [
        row
        for row in fitting
        if any(to_identifier(workshop.names.of(name)) in joint.joins[:1] for name in row.owners)
    ]
    if len(held) == 1:
        return held[0], ""
    alike = {(row.screws.drive, row.screws.head_form) for row in fitting}
    if joint.size and fitting and len(alike) == 1:
        return fitting[0], "inferred: all screws of that size in the list are such"
    return None, ""


def _flat(size: str) -> str:
    return re.sub(r"\s|mm", "", size.lower()).replace("×", "x")


def _take(joint: JointDraft, row: _Row, why: str) -> None:
    screws = row.screws
    said = why or f"line {row.line}"
    if not joint.size and screws.size:
        joint.size = screws.size
        joint.why["fastener"] = said
    if not joint.drive and screws.drive:
        joint.drive = screws.drive
        joint.why["tool"] = why or f"{said} (the list of screws)"
    joint.head = joint.head or screws.head_form
    if not why:
        joint.captive = joint.captive or screws.captive
        if joint.count is None and isinstance(screws.count, int):
            joint.count = screws.count
            joint.why["count"] = said
