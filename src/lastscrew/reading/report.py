"""The reading report: the source line by line beside what was made of it."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lastscrew.reading.model import Action, Question, Reading

STATE_WORDS = {
    "used": "used",
    "caution": "caution",
    "heading": "heading",
    "other": "not an instruction",
    "not_understood": "NOT UNDERSTOOD",
}
"""What a reader of the report sees for each state of a line."""

_CSS = """
:root { color-scheme: light dark; --ink: #14161a; --paper: #fff; --faint: #5c6169; --line: #c9ccd1; --soft: #f2f3f5 }
@media (prefers-color-scheme: dark) {
  :root { --ink: #eceef1; --paper: #16181c; --faint: #a3a9b2; --line: #3d4148; --soft: #22252a } }
body { font: 15px/1.45 system-ui, sans-serif; color: var(--ink); background: var(--paper); margin: 2rem auto;
  max-width: 82rem; padding: 0 1rem }
h1, h2, li, td.s { overflow-wrap: anywhere }
table { border-collapse: collapse; width: 100% }
td, th { text-align: left; vertical-align: top; padding: .15rem .6rem; border-bottom: 1px solid var(--line) }
td.n { text-align: right; color: var(--faint); font-variant-numeric: tabular-nums }
td.s { white-space: pre-wrap; width: 48% }
td.w { color: var(--faint); white-space: nowrap }
tr.heading td.s { font-weight: 700 }
tr.other td.s { color: var(--faint) }
tr.not_understood td { background: var(--soft) }
tr.not_understood td.w { color: var(--ink); font-weight: 700; text-decoration: underline }
ul.made { margin: 0; padding-left: 1.1rem }
.sum { color: var(--faint) }
@media screen and (max-width: 40rem) {
  body { margin: 1rem auto; padding: 0 .7rem }
  thead { display: none } tr { display: block; border-bottom: 1px solid var(--line); padding: .3rem 0 }
  td { border: 0; padding: 0 .4rem 0 0 } td.n, td.w { display: inline; text-align: left; white-space: normal }
  td.s, td:last-child { display: block; width: auto } }
@media print {
  :root { --ink: #000; --paper: #fff; --faint: #333 }
  body { margin: 0; max-width: none; font-size: 9.5pt } tr { break-inside: avoid } h2 { break-after: avoid } }
"""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the source: its state, why, and what was made of it in words."""

    line: int
    text: str
    state: str
    reason: str
    made: tuple[str, ...]


def rows_of(reading: Reading) -> tuple[Row, ...]:
    """One row for every line of the source, blank ones left out."""
    made: dict[int, list[str]] = {}
    for procedure in reading.procedures:
        made.setdefault(procedure.line, []).append(
            f"{_KINDS[procedure.kind]}: {procedure.part or 'the whole machine'}"
        )
        for item in procedure.prerequisites:
            why = f" (inferred: {item.inferred})" if item.inferred else ""
            made.setdefault(item.line, []).append(f"before: {item.text}{why}")
        for step in procedure.steps:
            for action in step.actions:
                made.setdefault(action.line or step.line, []).append(describe(action))
            for caution in step.cautions:
                made.setdefault(caution.line, []).append(f"{caution.signal}, at line {step.line}")
    return tuple(
        Row(line.number, line.text, state.state, state.reason, tuple(made.get(line.number, ())))
        for line, state in zip(reading.source.lines, reading.lines, strict=True)
        if line.text.strip()
    )


_KINDS = {"removal": "taking off", "refit": "putting back", "both": "taking off and putting back"}


def describe(action: Action) -> str:
    """An action in one line: class, object, count, what it joins, from where, what is inferred."""
    pieces = [f"{action.klass} {action.object}".strip()]
    if action.count is not None:
        pieces.append(f"×{action.count}" if action.count != "all" else "all of them")
    pieces += [piece for piece in (action.size, action.drive) if piece]
    if action.captive:
        pieces.append("captive")
    if len(action.joins) > 1:
        pieces.append("joins " + " – ".join(action.joins))
    for word, value in (("from", action.from_), ("to", action.to), ("with", action.tool)):
        if value:
            pieces.append(f"{word} {value}")
    if action.order:
        pieces.append(f"order {action.order}")
    if action.optional:
        pieces.append("if fitted")
    if action.inferred:
        pieces.append("inferred: " + ", ".join(f"{key} ({why})" for key, why in action.inferred))
    return ", ".join(pieces)


def shares(reading: Reading) -> dict[str, int]:
    """Number of lines in each state, blank ones left out."""
    counts = dict.fromkeys(STATE_WORDS, 0)
    for state, line in zip(reading.lines, reading.source.lines, strict=True):
        if line.text.strip():
            counts[state.state] += 1
    return counts


def html_report(reading: Reading) -> str:
    """A page of its own: no script, nothing from elsewhere."""
    body = "".join(_html_row(row) for row in rows_of(reading))
    counts = ", ".join(f"{STATE_WORDS[name]}: {n}" for name, n in shares(reading).items())
    questions = "".join(map(_html_question, asked_together(reading.questions)))
    asked = f"<h2>What the text leaves open</h2><ol>{questions}</ol>" if questions else ""
    pairs = "".join(f"<li>{html.escape(text)}</li>" for text in merges_of(reading))
    merged = f"<h2>Read as one thing</h2><ul>{pairs}</ul>" if pairs else ""
    circles = "".join(f"<li>{html.escape(text)}</li>" for text in left_out_of(reading))
    left_out = f"<h2>Left out of the draft</h2><ul>{circles}</ul>" if circles else ""
    repairs = "".join(f"<li>{html.escape(text)}</li>" for text in reading.source.repairs)
    mended = f"<h2>Mended on the way</h2><ul>{repairs}</ul>" if repairs else ""
    name = html.escape(reading.source.name or "text")
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Reading of {name}</title>'
        f'<meta name="viewport" content="width=device-width"><style>{_CSS}</style></head><body>'
        f"<h1>Reading of {name}</h1><p class=sum>{html.escape(counts)}</p>{asked}{left_out}{merged}{mended}"
        '<table><thead><tr><th scope="col">Line</th><th scope="col">Source</th><th scope="col">State</th>'
        f'<th scope="col">What was made of it</th></tr></thead><tbody>{body}</tbody></table></body></html>\n'
    )


def _html_question(asked: Asked) -> str:
    names = ", ".join(f"<code>{html.escape(name)}</code>" for name in asked.ids)
    return f"<li>{html.escape(asked.text)} <span class=sum>{names}</span></li>"


@dataclass(frozen=True, slots=True)
class Asked:
    """Questions that are shown as one, because they are alike and the same is assumed for all of them."""

    ids: tuple[str, ...]
    text: str


def asked_together(questions: Sequence[Question]) -> tuple[Asked, ...]:
    """Questions in their order; "what lies over it?" with the same answer assumed is shown once, at the first of them.

    Each keeps its own name, by which it is answered.
    """
    groups: dict[tuple[str, str], list[Question]] = {}
    for question in questions:
        kind = question.id.partition(".")[0]
        alike = kind if kind in _TOGETHER else question.id
        groups.setdefault((alike, question.assumed), []).append(question)
    return tuple(Asked(tuple(q.id for q in group), _words_of(group)) for group in groups.values())


_TOGETHER: Final = {
    "under": "What lies over these {n} joints?",
    "fastener": "Which size and drive have the screws of these {n} joints?",
    "tool": "Which tool opens these {n} joints?",
}


def _words_of(group: Sequence[Question]) -> str:
    first = group[0]
    assumed = f" Assumed: {first.assumed}." if first.assumed else ""
    if len(group) == 1:
        where = f" (line {first.line})" if first.line else ""
        return f"{first.text}{where}{assumed}"
    asked = _TOGETHER[first.id.partition(".")[0]].format(n=len(group))
    lines = ", ".join(dict.fromkeys(str(question.line) for question in group if question.line))
    return f"{asked} (lines {lines}){assumed}" if lines else f"{asked}{assumed}"


def merges_of(reading: Reading) -> tuple[str, ...]:
    """Names that were read as one thing, with the option that refuses it."""
    return tuple(
        f'"{one}" and "{other}" ({why}). If not: --keep-apart "{one}={other}"'
        for one, other, why in reading.merges
    )


def left_out_of(reading: Reading) -> tuple[str, ...]:
    """What the draft could not keep of the order of the text, each with what to do about it."""
    return tuple(
        f"{finding.text} {finding.remedy} (line {finding.line})"
        for finding in reading.findings
        if finding.code == "order_left_out"
    )


def _html_row(row: Row) -> str:
    made = "".join(f"<li>{html.escape(text)}</li>" for text in row.made)
    made = f'<ul class="made">{made}</ul>' if made else html.escape(row.reason)
    return (
        f'<tr class="{row.state}"><td class="n">{row.line}</td><td class="s">{html.escape(row.text)}</td>'
        f'<td class="w">{STATE_WORDS[row.state]}</td><td>{made}</td></tr>'
    )
