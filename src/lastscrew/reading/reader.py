"""The reader as one function: a text in, a :class:`Reading` out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from lastscrew.reading import clipped, narrated
from lastscrew.reading.cable_ends import follow_cables
from lastscrew.reading.described import Chapter, find_chapter
from lastscrew.reading.document import walk
from lastscrew.reading.inferences import infer
from lastscrew.reading.lexicon import Lexicon, load_lexicon
from lastscrew.reading.model import (
    Finding,
    LineState,
    Procedure,
    ProcedureKind,
    Reading,
    Source,
    State,
)
from lastscrew.reading.owners import name_owners
from lastscrew.reading.recited import is_recited
from lastscrew.reading.refine import refine
from lastscrew.reading.scanned import mended
from lastscrew.reading.shorthand import written_out
from lastscrew.reading.table_marks import with_marks_named
from lastscrew.reading.threads import as_thread
from lastscrew.reading.torques_said import with_torque
from lastscrew.reading.walk_state import Builder, Document


def read(
    source: Source,
    lexicon: Lexicon | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Reading:
    """Read a written or spoken procedure.

    Args:
        source: The extracted text (``lastscrew.reading.sources.open_source``).
        lexicon: Word lists; those of the package where None.
        progress: Told (blocks done, blocks in all) now and then.

    Returns:
        Procedures, the state of every line, statements, findings of the reader itself. The same text
        and words give the same reading every time.
    """
    chapter = find_chapter(source)
    told = chapter.outside(source) if chapter else source
    words = lexicon or load_lexicon()
    told = with_marks_named(told)
    if is_recited(told):
        told = replace(told, spoken=False, recited=True)
    else:
        told = written_out(as_thread(mended(told, words), words), words)
        told = clipped.as_orders(narrated.as_orders(told, words), words)
    document = walk(told, words, progress)
    refine(document)
    infer(document)
    follow_cables(document)
    name_owners(document.builders)
    procedures = tuple(
        _procedure(builder)
        for builder in document.builders
        if builder.steps or (builder.prerequisites and builder.kind)
    )
    return Reading(
        source=source,
        procedures=procedures,
        lines=_line_states(document, chapter),
        facts=tuple(document.facts),
        findings=_findings(document, procedures, chapter),
        tools=tuple(document.tools),
        cautions=tuple(document.cautions),
        title=document.title,
    )


def _procedure(builder: Builder) -> Procedure:
    kind: ProcedureKind = (
        "refit" if builder.kind == "refit" else "both" if builder.kind == "both" else "removal"
    )
    return Procedure(
        part=builder.part,
        kind=kind,
        line=builder.line,
        heading=builder.heading,
        steps=tuple(map(with_torque, builder.steps)),
        prerequisites=tuple(builder.prerequisites),
        tools=tuple(dict.fromkeys(builder.tools)),
        cautions=tuple(builder.cautions),
    )


def _line_states(document: Document, chapter: Chapter | None) -> tuple[LineState, ...]:
    rows = []
    for line in document.source.lines:
        if chapter and line.number in chapter.states:
            rows.append(chapter.states[line.number])
            continue
        state, reason = document.states[line.number]
        rows.append(LineState(line.number, _state(state), reason))
    return tuple(rows)


def _state(name: str) -> State:
    states: dict[str, State] = {
        "used": "used",
        "caution": "caution",
        "heading": "heading",
        "not_understood": "not_understood",
    }
    return states.get(name, "other")


def _findings(
    document: Document, procedures: tuple[Procedure, ...], chapter: Chapter | None
) -> tuple[Finding, ...]:
    findings = chapter.all_findings() if chapter else []
    if chapter is None and not any(procedure.steps for procedure in procedures):
        findings.append(
            Finding(
                "no_procedure",
                "error",
                1,
                "No instruction was found in this text.",
                "Give a text with steps such as 'Remove the four screws'.",
            )
        )
    findings += [
        Finding(
            "not_understood",
            "warning",
            line.number,
            line.text.strip()[:160],
            "Say it as an order: verb, thing, from where. Or add the word with --words.",
        )
        for line in document.source.lines
        if document.states[line.number][0] == "not_understood"
    ]
    return tuple(findings)
